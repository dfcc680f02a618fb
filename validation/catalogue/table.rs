//! Engines of open tables, each by the facts its table holds.
//!
//! Known tables are told by their file names; a folder may hold any of them. What a table does not hold stays unknown here and is
//! guessed in one place, [`crate::describe`].

pub(super) use pullcast::car::Fuelling;
use std::collections::HashMap;
use std::path::Path;

/// One engine of a table: petrol, four strokes.
#[derive(Debug, Clone)]
pub(super) struct Engine {
    pub(super) id: String,
    pub(super) table: &'static str,
    pub(super) year: f64,
    pub(super) fuelling: Fuelling,
    pub(super) turbo: bool,
    /// Inlet valves of a cylinder, where the table says so.
    pub(super) inlet_valves: Option<u32>,
    pub(super) cylinders: u32,
    pub(super) displacement_m3: f64,
    pub(super) bore_m: Option<f64>,
    pub(super) stroke_m: Option<f64>,
    pub(super) compression_ratio: Option<f64>,
    /// Rated power, W, and its speed, rpm.
    pub(super) power: (f64, f64),
    /// Peak torque, N m, and its speed, rpm.
    pub(super) torque: Option<(f64, f64)>,
    /// Whether the table agrees with itself on the size.
    pub(super) sized: bool,
}

impl Engine {
    /// Engines of one family share this: bore and stroke hardly change while an engine is made, so whoever leaves one out leaves out
    /// its relatives too.
    pub(super) fn family(&self) -> (u32, u32, u32) {
        let stroke_m = self.stroke_m.unwrap_or_default();
        (
            whole(1e6 * self.displacement_m3),
            whole(1e4 * stroke_m),
            self.cylinders,
        )
    }

    /// Two rows of the same engine: nothing that they say differs.
    fn same(&self, other: &Self) -> bool {
        self.family() == other.family()
            && self.power == other.power
            && self.torque == other.torque
            && self.compression_ratio == other.compression_ratio
    }

    /// What the rules of thumb of an engine's class go by.
    pub(super) fn group(&self) -> String {
        let aspiration = if self.turbo {
            "turbocharged"
        } else {
            "natural"
        };
        let fuelling = match self.fuelling {
            Fuelling::Carburettor => "carburettor",
            Fuelling::Injection => "injection",
        };
        format!("{} {aspiration} {fuelling}", self.table)
    }
}

type Row = HashMap<String, String>;
/// How a table's row becomes an engine; none where it is not a petrol engine with cylinders.
type Reader = fn(&Row) -> Option<Engine>;

fn rows(path: &Path) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(path).expect("the table can be read");
    reader
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("a regular table")
}

fn number(row: &Row, column: &str) -> Option<f64> {
    row.get(column)?.parse().ok()
}

fn of(row: &Row, column: &str) -> f64 {
    number(row, column).unwrap_or_else(|| panic!("{column} of {row:?}"))
}

/// A whole number, which some tables print with a decimal point.
fn whole(x: f64) -> u32 {
    let text = format!("{x:.0}");
    text.parse().unwrap_or_else(|_| panic!("{x} is no count"))
}

fn count(row: &Row) -> u32 {
    whole(of(row, "n_cyl"))
}

/// Bore and stroke that disagree with the printed displacement by more than this, per cent, are printed wrong: then the
/// displacement is taken alone.
const MISPRINT_PCT: f64 = 3.0;
/// Beyond this nobody knows the engine's size.
const UNSIZED_PCT: f64 = 10.0;

fn of_1985(row: &Row) -> Option<Engine> {
    if row["fuel"] != "gas" {
        return None;
    }
    let mismatch_pct = number(row, "displacement_mismatch_pct").map_or(f64::INFINITY, f64::abs);
    let sound = mismatch_pct <= MISPRINT_PCT;
    let length = |column| sound.then(|| 1e-3 * of(row, column));
    let carburettor = row["fuel_system"].ends_with("bbl");
    Some(Engine {
        id: row["id"].clone(),
        table: "1985",
        year: 1985.0,
        fuelling: if carburettor {
            Fuelling::Carburettor
        } else {
            Fuelling::Injection
        },
        turbo: row["aspiration"] == "turbo",
        // The table names the camshafts and not the valves: one camshaft moved two valves a cylinder in those years, and of the
        // few with two nobody knows.
        inlet_valves: (!row["valvetrain"].starts_with("dohc")).then_some(1),
        cylinders: count(row),
        displacement_m3: 1e-6 * of(row, "displacement_cc"),
        bore_m: length("bore_mm"),
        stroke_m: length("stroke_mm"),
        compression_ratio: number(row, "compression_ratio"),
        power: (1e3 * of(row, "rated_power_kW"), of(row, "rated_rpm")),
        torque: None,
        sized: mismatch_pct <= UNSIZED_PCT,
    })
}

fn of_1993(row: &Row) -> Option<Engine> {
    // A rotary engine has no cylinders to count.
    let cylinders = whole(number(row, "n_cyl")?);
    Some(Engine {
        id: row["id"].clone(),
        table: "1993",
        year: 1993.0,
        fuelling: Fuelling::Injection,
        turbo: false,
        // The table does not say; of those years' engines the ones rated above 5500 rpm had four valves to a cylinder, the
        // others two (common practice, no source).
        inlet_valves: Some(if of(row, "rated_rpm") > 5500.0 { 2 } else { 1 }),
        cylinders,
        displacement_m3: 1e-3 * of(row, "displacement_L"),
        bore_m: None,
        stroke_m: None,
        compression_ratio: None,
        power: (1e3 * of(row, "rated_power_kW"), of(row, "rated_rpm")),
        torque: None,
        sized: true,
    })
}

fn of_2015(row: &Row) -> Option<Engine> {
    if row["fuel"] != "petrol" {
        return None;
    }
    Some(Engine {
        id: row["id"].clone(),
        table: "2015",
        year: 2015.0,
        fuelling: Fuelling::Injection,
        turbo: row["turbo"] == "yes",
        inlet_valves: Some(if of(row, "valves_per_cyl") >= 4.0 {
            2
        } else {
            1
        }),
        cylinders: count(row),
        displacement_m3: 1e-6 * of(row, "displacement_cc"),
        bore_m: None,
        stroke_m: number(row, "stroke_mm").map(|mm| 1e-3 * mm),
        compression_ratio: None,
        power: (1e3 * of(row, "peak_power_kW"), of(row, "peak_power_rpm")),
        torque: Some((of(row, "peak_torque_Nm"), of(row, "peak_torque_rpm"))),
        sized: true,
    })
}

/// Mean pressure at peak torque above which no engine without a blower works, Pa: such a row has the wrong word in it.
const NATURAL_LIMIT_PA: f64 = 15e5;
/// Mean pressure at rated power, Pa, above which a car of 1993 listed without a word on its aspiration is taken to have a turbocharger.
const RATED_LIMIT_PA: f64 = 11e5;

/// The engines of the known tables in a folder, each once, and the rows left out with the reason.
pub(super) fn engines(folder: &Path) -> (Vec<Engine>, Vec<String>) {
    let mut found: Vec<Engine> = Vec::new();
    let mut left_out = Vec::new();
    let tables: [(&str, Reader); 3] = [
        ("engines_1985.csv", of_1985),
        ("engines_1993.csv", of_1993),
        ("cars_2015.csv", of_2015),
    ];
    for (name, read) in tables {
        let path = folder.join(name);
        if !path.exists() {
            continue;
        }
        for engine in rows(&path).iter().filter_map(read) {
            let mean_pa =
                |torque: f64| 4.0 * std::f64::consts::PI * torque / engine.displacement_m3;
            let rated_pa = engine.power.0 * 120.0 / (engine.displacement_m3 * engine.power.1);
            let high = engine
                .torque
                .is_some_and(|t| mean_pa(t.0) > NATURAL_LIMIT_PA)
                || (engine.torque.is_none() && engine.table == "1993" && rated_pa > RATED_LIMIT_PA);
            if !engine.sized {
                left_out.push(format!(
                    "{}: displacement, bore and stroke contradict each other",
                    engine.id
                ));
            } else if !engine.turbo && high {
                left_out.push(format!(
                    "{}: too strong for an engine without a blower",
                    engine.id
                ));
            } else if let Some(twin) = found.iter().find(|e| e.same(&engine)) {
                if twin.turbo != engine.turbo {
                    left_out.push(format!(
                        "{}: word for word {}, but for the aspiration",
                        engine.id, twin.id
                    ));
                }
            } else {
                found.push(engine);
            }
        }
    }
    (found, left_out)
}
