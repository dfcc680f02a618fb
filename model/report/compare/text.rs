//! The text of a comparison.

use super::super::number::{Span, Units, What};
use super::super::table::{TextTable, WIDTH, bullet, paragraph};
use super::super::{Report, heading};
use super::{CompareReport, GainLine, Set, factor_share, usual_pull};

impl Report for CompareReport {
    const SCHEMA: &'static str = "pullcast/compare/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading(&format!(
            "Compare: {}, then {}",
            self.before.name, self.after.name
        ));
        out.push_str(&paragraph("", &self.verdict(units), 0, WIDTH));
        out.push('\n');
        out.push_str(&self.peaks(units));
        out.push('\n');
        out.push_str(&self.curve(units));
        out.push_str(&paragraph("", &self.ranges(units), 0, WIDTH));
        out.push_str("\nPulls\n");
        out.push_str(&self.pulls(units));
        out.push('\n');
        out.push_str(&self.basis(units));
        out
    }
}

impl CompareReport {
    /// What may be said, first of all.
    pub fn verdict(&self, units: Units) -> String {
        let least = units.show(What::Percent, self.least_told);
        let by = if self.corrected {
            format!("corrected by {}", self.standard_name)
        } else {
            "as read, with the weather still in it".to_owned()
        };
        let Some(peak) = &self.peak_power else {
            return self.verdict_without_peak(&by, &least);
        };
        if !self.distinguishable {
            return format!(
                "Not distinguishable: nothing in these pulls tells the two sets apart, neither a peak nor any engine speed ({by}). \
                 A change of peak power below {least} would not show in them."
            );
        }
        if peak.stands_out {
            // A loss is told without its sign: the word has it.
            let told = |what: What, range: Span| {
                if peak.gain > 0.0 {
                    units.told_of_change(what, &range)
                } else {
                    units.told(what, &range.turned())
                }
            };
            let (share, share_middle) = told(What::Percent, peak.range());
            let (power, _) = told(What::Power, peak.range_of_reading());
            let word = if peak.gain > 0.0 { "gained" } else { "lost" };
            let mut said = format!(
                "Peak power {word}: {share}, most likely {share_middle}, or {power}; {by}."
            );
            if self.corrected {
                add!(
                    said,
                    " The drums showed {}, of which {} are the weather's.",
                    units.show_change(What::Percent, peak.gain_as_read),
                    units.show_change(What::Percent, peak.gain_of_weather)
                );
            }
            return said;
        }
        let (share, _) = units.told_of_change(What::Percent, &peak.range());
        format!(
            "Peak power is not distinguishable ({share}, {by}; a change below {least} would not show), but the sets are: {}.",
            self.places().join(", ")
        )
    }

    /// The verdict where one set does not show its peak.
    fn verdict_without_peak(&self, by: &str, least: &str) -> String {
        let why = self.peak_power_not_compared.as_deref().unwrap_or_default();
        let (from, to) = match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) => (first.rpm_before, last.rpm_before),
            _ => (0.0, 0.0),
        };
        let shared = if self.distinguishable {
            format!("the sets differ: {}", self.places().join(", "))
        } else {
            format!("nothing tells the sets apart; a change below {least} would not show in them")
        };
        format!(
            "Peak power is not compared: {why}. Over the speeds that all pulls hold, {from:.0} to {to:.0} rpm, {shared} ({by})."
        )
    }

    /// Where the sets differ beside peak power.
    fn places(&self) -> Vec<String> {
        let mut places: Vec<String> = self
            .stretches
            .iter()
            .map(|s| {
                let word = if s.gained { "more" } else { "less" };
                if s.from_rpm < s.to_rpm {
                    format!("{word} from {:.0} to {:.0} rpm", s.from_rpm, s.to_rpm)
                } else {
                    format!("{word} at {:.0} rpm", s.from_rpm)
                }
            })
            .collect();
        if let Some(peak) = self.peak_torque.filter(|peak| peak.stands_out) {
            let word = if peak.gain > 0.0 { "more" } else { "less" };
            places.push(format!("{word} peak torque"));
        }
        places
    }

    fn peaks(&self, units: Units) -> String {
        let mut table = TextTable::new("lr");
        let head = [
            "", "before", "after", "as read", "weather", "remains", "range",
        ];
        table.row(head);
        for (name, what, line) in [
            ("peak power", What::Power, &self.peak_power),
            ("peak torque", What::Torque, &self.peak_torque),
        ] {
            let Some(line) = line else {
                table.row([name, "not compared"]);
                continue;
            };
            let mut row = vec![
                name.to_owned(),
                units.show(what, line.before),
                units.show(what, line.after),
            ];
            row.extend(self.gains(line, units));
            table.row(row);
            if self.corrected {
                table.row([
                    "  corrected".to_owned(),
                    units.show(what, line.corrected_before),
                    units.show(what, line.corrected_after),
                ]);
            }
            table.row([
                "  at rpm".to_owned(),
                units.cell(What::PeakRpm, line.rpm_before),
                units.cell(What::PeakRpm, line.rpm_after),
            ]);
        }
        table.render()
    }

    fn gains(&self, line: &GainLine, units: Units) -> [String; 4] {
        let change = |gain| units.show_change(What::Percent, gain);
        let low = units.show_change(What::Percent, line.gain_low);
        let bare = low.trim_end_matches(" %");
        [
            change(line.gain_as_read),
            if self.corrected {
                change(line.gain_of_weather)
            } else {
                "-".to_owned()
            },
            change(line.gain),
            format!("{bare} to {}", change(line.gain_high)),
        ]
    }

    fn curve(&self, units: Units) -> String {
        let mut table = TextTable::new("r");
        let power = units.symbol(What::Power);
        table.row([
            "rpm", "before", "after", "as read", "weather", "remains", "range", "",
        ]);
        table.row(["", power, power, "", "", "", "", ""]);
        for point in &self.points {
            let mut row = vec![
                units.cell(What::Rpm, point.rpm_before),
                units.cell(What::Power, point.before),
                units.cell(What::Power, point.after),
            ];
            row.extend(self.gains(point, units));
            row.push(if point.stands_out { "*" } else { "" }.to_owned());
            table.row(row);
        }
        table.render()
    }

    /// What the ranges mean and are made of.
    fn ranges(&self, units: Units) -> String {
        let share = |value| units.show(What::Percent, value);
        let s = &self.spread;
        let seen = s.pull_scale_seen.map_or_else(
            || "no repeats to see it in".to_owned(),
            |seen| format!("{} seen in the repeats", share(seen)),
        );
        let visit = if self.same_visit {
            "nothing for the visit, which is the same".to_owned()
        } else {
            format!(
                "{} for each visit, which more pulls of one day do not average away",
                share(s.visit)
            )
        };
        let weather = if self.corrected {
            format!(
                ", {} for what the correction may miss ({} of what pressure and of what temperature changed{})",
                share(s.weather),
                share(factor_share()),
                if self.over_corrected.is_some() {
                    ", and a charge pressure that may be held"
                } else {
                    ""
                }
            )
        } else if s.weather > 0.0 {
            format!(", {} for the weather left in", share(s.weather))
        } else {
            String::new()
        };
        format!(
            "* the range leaves out zero. All ranges together hold with a chance of {} if pulls stray as believed: a pull by {} in \
             scale ({seen}; {} is usual) and {} in shape, {visit}{weather}.",
            share(self.level),
            share(s.pull_scale),
            share(usual_pull()),
            share(s.pull_bend),
        )
    }

    fn pulls(&self, units: Units) -> String {
        let sets = [("before", &self.before), ("after", &self.after)];
        let all = || sets.iter().flat_map(|(_, set)| &set.pulls);
        let axle = all().any(|p| p.electric_axle.is_some());
        let share = all().any(|p| p.electric_power_w.is_some());
        let mut table = TextTable::new("llr");
        let mut head = vec!["", "", "peak as read", "factor"];
        if axle {
            head.extend(["axle", "start charge"]);
        }
        if share {
            head.push("electric at peak");
        }
        table.row(head);
        for (word, set) in sets {
            for pull in &set.pulls {
                let mut row = vec![
                    word.to_owned(),
                    pull.name.clone(),
                    units.show(What::Power, pull.peak_power_w),
                    format!("{:.4}", pull.factor),
                ];
                if axle {
                    row.push(match pull.electric_axle {
                        Some(true) => "on".to_owned(),
                        Some(false) => "off".to_owned(),
                        None => "-".to_owned(),
                    });
                    row.push(
                        pull.charge
                            .map_or_else(|| "-".to_owned(), |c| units.show(What::Percent, c)),
                    );
                }
                if share {
                    row.push(
                        pull.electric_power_w
                            .map_or_else(|| "-".to_owned(), |w| units.show(What::Power, w)),
                    );
                }
                table.row(row);
            }
        }
        table.render()
    }

    fn basis(&self, units: Units) -> String {
        let mut out = String::new();
        // That of peak power stands in the verdict.
        if let Some(why) = self.peak_torque_not_compared.as_deref() {
            out.push_str(&bullet(&format!("peak torque is not compared: {why}")));
        }
        if self.corrected {
            add!(out, "Correction: {}\n", self.standard_name);
            for (word, Set { breaches, .. }) in [("before", &self.before), ("after", &self.after)] {
                out.extend(breaches.iter().map(|breach| {
                    bullet(&format!(
                        "{word}, outside what the standard states: {breach}"
                    ))
                }));
            }
        }
        if let Some(over) = &self.over_corrected {
            let change = |share| units.show_change(What::Percent, share);
            let gauge = over.held_gauge.map_or_else(String::new, |g| {
                format!("{} with the boost held where it was logged, ", change(g))
            });
            out.push_str(&bullet(&format!(
                "the factors take charge pressure to follow the air outside; if a regulator holds it, part of what remains is \
                 over-correction: {gauge}{} with a fixed absolute pressure. The ranges allow for it",
                change(over.held_absolute)
            )));
        }
        out.extend(self.remarks.iter().map(|remark| bullet(remark)));
        out.extend(
            self.forced
                .iter()
                .map(|forced| bullet(&format!("forced: {forced}"))),
        );
        if !self.same_visit {
            out.push_str(&bullet(
                "to tell smaller changes apart, make both sets on one day without taking the car off the drums, and say \
                 --same-visit; before and after in turn is better still",
            ));
        }
        out
    }
}
