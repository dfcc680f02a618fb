//! A car held against the rules of a class, in words.

use super::number::{self, Span, Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::rules::{Answer, Boost, Figure, Held, Standing, Which};
use crate::dyno::correction::Standard;
use crate::units::{Dimension, find};

/// How a figure may stand to its limit, by id.
pub(super) const STANDINGS: &[(&str, &str)] = &[
    ("pass", "pass"),
    ("within_tolerance", "over, within the tolerance"),
    ("over", "over"),
];

/// Which pulls count, by id.
pub(super) const COUNTS: &[(&str, &str)] = &[
    ("highest", "the highest pull counts"),
    ("mean", "the mean of the pulls counts"),
];

const BALLAST: &str = "Bolt ballast down as the class and its scrutineers ask, low and within the wheelbase: loose weight injures. It loads tyres, brakes and \
     suspension; stay within what they and the body are rated for.";

/// Stretches of boost that the answer shows.
const MOST_SHOWN: usize = 4;

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/rules/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        part.title(self.headline())
            .paragraph(self.what(units))
            .space()
            .table(self.table(units))
            .space()
            .table(self.chances());
        if let Some(ballast) = &self.ballast {
            let sure = units.show(What::Mass, ballast.sure_kg);
            part.paragraph(if ballast.least_kg > 0.0 {
                format!(
                    "Ballast: {} meets power to weight by this figure, {sure} in 9 checks of 10.",
                    units.show(What::Mass, ballast.least_kg)
                )
            } else {
                format!(
                    "Ballast: none by this figure; {sure} meets power to weight in 9 checks of 10."
                )
            })
            .paragraph(BALLAST);
        }
        if let Some(boost) = &self.boost {
            part.space().paragraph(boost_words(boost, units));
            part.table(stretches(boost, units, MOST_SHOWN));
        }
        let mut part = document.at(Level::Detail);
        part.space().section("Counted").table(self.pulls(units));
        part.list(self.notes(units));
        if let Some(boost) = self.boost.as_ref().filter(|b| b.over.len() > MOST_SHOWN) {
            part.space()
                .section("Boost above what was declared")
                .table(stretches(boost, units, usize::MAX));
        }
        document
    }
}

/// Words of a standing.
fn words(standing: Standing) -> &'static str {
    // A test holds that the words stand in the order of the standings.
    STANDINGS[standing as usize].1
}

/// Power to weight the other way up, as many classes write it.
fn mass_per_power(units: Units, w_kg: f64) -> String {
    let symbol = match units {
        Units::Metric => "kg/kW",
        Units::Shop => "lb/hp",
    };
    let value =
        find(symbol, Dimension::MassPerPower).map_or(f64::NAN, |unit| unit.from_si(1.0 / w_kg));
    format!("{value:.2} {symbol}")
}

impl Answer {
    fn headline(&self) -> String {
        let of = [
            ("power", self.power.map(|held| held.standing)),
            (
                "power to weight",
                self.power_to_weight.map(|held| held.standing),
            ),
            ("boost", self.boost.as_ref().map(|boost| boost.standing)),
        ];
        let worst = self.standing();
        let what: Vec<&str> = of
            .iter()
            .filter(|(_, standing)| *standing == Some(worst) && worst > Standing::Pass)
            .map(|(what, _)| *what)
            .collect();
        match worst {
            Standing::Pass => format!("Passes {}", self.class),
            Standing::WithinTolerance => format!(
                "Above the limit of {}, within its tolerance: {}",
                self.class,
                what.join(", ")
            ),
            Standing::Over => format!("Over the limit of {}: {}", self.class, what.join(", ")),
        }
    }

    fn what(&self, units: Units) -> String {
        let how = match self.standard {
            Standard::None => "Power as read".to_owned(),
            standard => format!("Power, {}", standard.name()),
        };
        let counted = &self.counted;
        let of = if counted.measured {
            let pulls = match (counted.pulls.len(), self.which) {
                (1, _) => "one pull".to_owned(),
                (n, Which::Highest) => format!("the highest of {n} pulls"),
                (n, Which::Mean) => format!("the mean of {n} pulls"),
            };
            format!("measured, {}: {pulls}", counted.name)
        } else {
            format!("quoted, {}", counted.name)
        };
        let mass = self.mass_kg.map_or_else(String::new, |(mass, sd)| {
            let doubt = if sd > 0.0 {
                format!(" ± {}", units.cell(What::Mass, sd))
            } else {
                String::new()
            };
            let symbol = units.symbol(What::Mass);
            format!(" Mass {}{doubt} {symbol}.", units.cell(What::Mass, mass))
        });
        format!(
            "{how}, averaged over {:.0} rpm; {of}.{mass} Let pass above a limit: {}.",
            self.grid_rpm,
            units.show(What::Percent, self.tolerance)
        )
    }

    fn table(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("lr");
        table.head(["", "figure", "next check, 9 in 10", "limit", "off"]);
        let mut row = |name: &str, what, figure: &Figure, held: &Option<Held>| {
            let span = Span {
                p5: figure.low,
                p50: figure.value,
                p95: figure.high,
            };
            let mut cells = vec![
                name.to_owned(),
                units.show(what, figure.value),
                units.range_and_middle(what, &span).0,
            ];
            match held {
                Some(held) => cells.extend([
                    units.show(what, held.limit),
                    units.show_change(What::Percent, held.excess),
                ]),
                None => cells.extend(["-", ""].map(str::to_owned)),
            }
            table.row(cells);
        };
        row("power", What::Power, &self.power_w, &self.power);
        if let Some(ratio) = &self.power_to_weight_w_kg {
            row(
                "to weight",
                What::PowerToWeight,
                ratio,
                &self.power_to_weight,
            );
        }
        table
    }

    /// How the next check may stand.
    fn chances(&self) -> TextTable {
        let mut table = TextTable::new("lr");
        let limited = [("power", self.power), ("to weight", self.power_to_weight)];
        for (name, held) in limited {
            let Some(Held { chance, .. }) = held else {
                continue;
            };
            if table.is_empty() {
                table.head([
                    "chance of the next check",
                    "pass",
                    "within tolerance",
                    "over",
                ]);
            }
            table.row([
                name.to_owned(),
                number::chance(chance.pass),
                number::chance(chance.within_tolerance),
                number::chance(chance.over),
            ]);
        }
        table
    }

    fn pulls(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("lr");
        table.head(["", "highest average", "about"]);
        for pull in &self.counted.pulls {
            table.row([
                pull.name.clone(),
                units.show(What::Power, pull.power_w),
                units.show(What::Rpm, pull.rpm),
            ]);
        }
        table
    }

    fn notes(&self, units: Units) -> Vec<String> {
        let mut notes = vec![
            if self.counted.measured {
                "the next check: another visit to the same drums with as many pulls. Another rig differs by its offset as well (`offset`)"
            } else {
                "the next check: the range of the quote, in which the visit to the drums is held already; the average over the grid is taken from its middle curve"
            }
            .to_owned(),
        ];
        if let Some(ratio) = &self.power_to_weight_w_kg {
            notes.push(format!(
                "power to weight the other way up: {}{}",
                mass_per_power(units, ratio.value),
                self.power_to_weight
                    .map_or_else(String::new, |held| format!(
                        ", the limit {}",
                        mass_per_power(units, held.limit)
                    ))
            ));
        }
        if let Some(share) = self.share_of_mass {
            notes.push(format!(
                "of the doubt of power to weight {} is the scales', the rest the drums'",
                number::chance(share)
            ));
        }
        if let Some(boost) = &self.boost {
            notes.push(format!(
                "a boost reading is the mean of the log over {:.0} rpm, so a shorter spike is not seen; a shop's pressure sensor is off by {} as a rule (one standard deviation)",
                boost.band_rpm,
                units.show(What::Pressure, boost.sensor_pa)
            ));
        }
        notes
    }
}

/// What the boost log says.
fn boost_words(boost: &Boost, units: Units) -> String {
    let (from, to) = boost.speeds_rpm;
    let looked = format!("looked at from {from:.0} to {to:.0} rpm");
    let let_pass = units.show(What::Pressure, boost.tolerance_pa);
    if boost.over.is_empty() {
        return format!(
            "Boost: {}, nowhere above what was declared; {} below it at the nearest, {looked}.",
            words(boost.standing),
            units.show(What::Pressure, -boost.nearest_pa)
        );
    }
    format!(
        "Boost: {}; up to {} above what was declared ({let_pass} is let pass), {looked}.",
        words(boost.standing),
        units.show(What::Pressure, boost.nearest_pa)
    )
}

/// Where boost lies above what was declared, the largest first.
fn stretches(boost: &Boost, units: Units, most: usize) -> TextTable {
    let mut table = TextTable::new("lr");
    let mut over: Vec<_> = boost.over.iter().collect();
    over.sort_by(|a, b| b.excess_pa.total_cmp(&a.excess_pa));
    if over.is_empty() {
        return table;
    }
    table.head(["", "from", "to", "for", "most above", "at", "declared"]);
    for stretch in over.into_iter().take(most) {
        table.row([
            stretch.pull.clone(),
            units.show(What::Rpm, stretch.from_rpm),
            units.show(What::Rpm, stretch.to_rpm),
            stretch
                .duration_s
                .map_or_else(|| "-".to_owned(), |s| units.show(What::Time, s)),
            units.show(What::Pressure, stretch.excess_pa),
            units.show(What::Rpm, stretch.at_rpm),
            units.show(What::Pressure, stretch.declared_pa),
        ]);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stand_in_the_order_of_the_standings() {
        for (standing, (id, _)) in Standing::ALL.into_iter().zip(STANDINGS) {
            let found = serde_json::to_value(standing).expect("an id");
            assert_eq!(found, *id);
            assert_eq!(STANDINGS[standing as usize].0, *id);
        }
    }
}
