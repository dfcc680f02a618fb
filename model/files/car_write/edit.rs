//! Changes to the text of a car file, at the places where its numbers stand.

use std::path::{Component, Path, PathBuf};

use toml_edit::{DocumentMut, Item, Key, RawString, Table, Value};

use super::number::{belief_text, plain};
use crate::belief::parameter;
use crate::belief::sheet::{Belief, Origin, Sheet};
use crate::files::car::CarFile;
use crate::files::turbine_map;
use crate::parts;
use crate::units::Dimension;

/// Keys that would say again, in another way, what a number now says.
fn stand_for(path: &str) -> &'static [&'static str] {
    match path {
        "engine.bore" | "engine.stroke" => &["displacement"],
        "blower.leak_area" | "blower.efficiency_scale" => &["claims"],
        "blower.turbine_area" | "blower.turbine_efficiency" => &turbine_map::KEYS,
        "clutch.capacity" => &parts::CLUTCH_SIZES,
        _ => &[],
    }
}

/// The text with the numbers of `sheet`, and without its table `posterior`.
pub(super) fn numbers(text: &str, car: &CarFile, sheet: &Sheet, folder: &Path) -> String {
    // The reader has proven that it is sound.
    let mut file: DocumentMut = text.parse().unwrap_or_default();
    // Remarks at the end of the file stand above the table that an earlier fit put there.
    let below = file.remove("posterior").and_then(|item| {
        let above = item.as_table()?.decor().prefix()?.as_str()?.trim_end();
        (!above.is_empty()).then(|| format!("{above}\n"))
    });
    for belief in &sheet.beliefs {
        let before = car
            .sheet
            .beliefs
            .iter()
            .find(|b| b.parameter == belief.parameter);
        let Some(table) = table(&mut file, belief.parameter.table()) else {
            continue;
        };
        let there = table.contains_key(belief.parameter.key());
        if !(there && before.is_some_and(|before| before.prior == belief.prior)) {
            state(table, belief);
        }
    }
    if let Some(engine) = table(&mut file, "engine")
        && !engine.contains_key("reference_flow")
    {
        let flow = sheet.centre.car.intake.reference_flow_kg_s;
        let value = plain(flow, Dimension::MassFlow, "g/s");
        let meaning = "flow at which intake, exhaust and port losses are stated";
        put(engine, "reference_flow", &value, meaning);
    }
    // A peak that the fit moves must not move the machine that losses and heat are scaled from.
    if let Some(parts) = &car.parts.axle
        && let Some(axle) = table(&mut file, "electric_axle")
    {
        let power = plain(parts.rated_power_w, Dimension::Power, "kW");
        let torque = plain(parts.rated_torque_nm, Dimension::Torque, "N m");
        for (key, value, scaled) in [
            (
                "rated_power",
                power,
                "peak power that losses and heat are scaled from",
            ),
            (
                "rated_torque",
                torque,
                "peak torque that losses are scaled from",
            ),
        ] {
            if !axle.contains_key(key) {
                put(axle, key, &value, scaled);
            }
        }
    }
    if let Some(map) = file
        .get_mut("blower")
        .and_then(|blower| blower.get_mut("map"))
        && let Some(named) = map
            .as_str()
            .map(|named| path_from(named, &car.folder, folder))
    {
        replace(map, Value::from(named));
    }
    file.to_string() + &below.unwrap_or_default()
}

/// States a belief in its table.
fn state(table: &mut Table, belief: &Belief) {
    let parameter = belief.parameter;
    let value = belief_text(&belief.prior, parameter.measure);
    if let Some(there) = table.get_mut(parameter.key()) {
        replace(there, parsed(&value));
    } else {
        let origin = match belief.origin {
            Origin::Given => "given",
            Origin::Default => "default",
            Origin::Fitted => "fitted",
        };
        let meaning = format!("{origin}: {}", parameter.meaning);
        put(table, parameter.key(), &value, &meaning);
        let before = parameter::catalogue()
            .filter(|other| other.table() == parameter.table())
            .take_while(|other| *other != parameter);
        let place = before
            .filter_map(|other| position(table, other.key()))
            .max();
        if let Some(place) = place {
            shift(table, parameter.key(), place + 1);
        }
    }
    for old in stand_for(parameter.path) {
        retire(table, old, parameter.key());
    }
}

/// Another value under a key, with the comments of the old one.
fn replace(there: &mut Item, value: Value) {
    let decor = there.as_value().map(|old| old.decor().clone());
    let mut value = value;
    if let Some(decor) = decor {
        *value.decor_mut() = decor;
    }
    *there = Item::Value(value);
}

/// A new key at the end of its table.
fn put(table: &mut Table, key: &str, value: &str, meaning: &str) {
    let value = parsed(value).decorated(" ", format!("  # {meaning}"));
    table.insert(key, Item::Value(value));
}

fn parsed(text: &str) -> Value {
    text.parse().unwrap_or_else(|_| Value::from(text))
}

/// Makes a comment of a key, above and at the place of the one that now says the same.
fn retire(table: &mut Table, old: &str, new: &str) {
    let Some((place, (key, item))) = position(table, old).zip(table.remove_entry(old)) else {
        return;
    };
    shift(table, new, place);
    let plain = |raw: Option<&RawString>| {
        raw.and_then(RawString::as_str)
            .unwrap_or_default()
            .to_owned()
    };
    let (above, text) = match &item {
        Item::Table(inner) => (plain(inner.decor().prefix()), format!("[{old}]\n{inner}")),
        value => {
            let around = key.leaf_decor();
            let text = format!("{old}{}={value}", plain(around.suffix()));
            (plain(around.prefix()), text)
        }
    };
    let retired: Vec<String> = text
        .trim_end()
        .lines()
        .map(|line| format!("# {line}\n"))
        .collect();
    let own = table.key(new).map(|key| plain(key.leaf_decor().prefix()));
    if let Some(mut key) = table.key_mut(new) {
        let above = above.trim_start_matches('\n');
        let (retired, own) = (retired.concat(), own.unwrap_or_default());
        key.leaf_decor_mut()
            .set_prefix(format!("{above}{retired}{own}"));
    }
}

fn position(table: &Table, key: &str) -> Option<usize> {
    table.iter().position(|(name, _)| name == key)
}

/// Moves a key to a place among the keys of its table.
fn shift(table: &mut Table, key: &str, place: usize) {
    let keys = table.iter().map(|(name, _)| name.to_owned());
    let mut order: Vec<String> = keys.filter(|name| name != key).collect();
    order.insert(place.min(order.len()), key.to_owned());
    let at = |key: &Key| order.iter().position(|name| name == key.get());
    table.sort_values_by(|one, _, other, _| at(one).cmp(&at(other)));
}

/// A table of the file; a new one follows the tables that stand before it in the catalogue. The reader has proven that nothing else
/// stands under its name.
fn table<'f>(file: &'f mut DocumentMut, name: &str) -> Option<&'f mut Table> {
    if let Some(Item::Value(Value::InlineTable(inline))) = file.get(name) {
        let table = inline.clone().into_table();
        file.insert(name, Item::Table(table));
    }
    if !file.contains_key(name) {
        let mut table = Table::new();
        table.decor_mut().set_prefix("\n");
        let earlier = parameter::catalogue()
            .map(parameter::Parameter::table)
            .take_while(|table| *table != name);
        table.set_position(earlier.filter_map(|name| last(file.get(name)?)).max());
        file.insert(name, Item::Table(table));
    }
    file.get_mut(name)?.as_table_mut()
}

/// Where a table and the tables in it end in the file.
fn last(item: &Item) -> Option<isize> {
    let table = item.as_table()?;
    let inner = table.iter().filter_map(|(_, item)| last(item));
    inner.chain(table.position()).max()
}

/// A path that is told from one folder, told from another; as it is where it does not depend on the folder or leads nowhere.
pub(super) fn path_from(named: &str, from: &Path, to: &Path) -> String {
    let folder = |path: &Path| {
        let path = if path.as_os_str().is_empty() {
            Path::new(".")
        } else {
            path
        };
        path.canonicalize()
    };
    let target =
        folder(from).and_then(|from| Ok((from.join(named).canonicalize()?, from, folder(to)?)));
    let Ok((target, from, to)) = target else {
        return named.to_owned();
    };
    if from == to || Path::new(named).is_absolute() {
        return named.to_owned();
    }
    let (target, to): (Vec<Component<'_>>, Vec<Component<'_>>) =
        (target.components().collect(), to.components().collect());
    let shared = target.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let up = to[shared..].iter().map(|_| Component::ParentDir);
    let path: PathBuf = up.chain(target[shared..].iter().copied()).collect();
    path.to_string_lossy().replace('\\', "/")
}
