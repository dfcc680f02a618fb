//! One recorded build, fitted and quoted, as a row of a table.

use super::closed_job::kind_of;
use crate::build::Case;
use pullcast::air::Day;
use pullcast::ask::basis::Air;
use pullcast::ask::fit;
use pullcast::ask::quote;
use pullcast::belief::{Miss, Noise};
use pullcast::dyno::{Conditions, Setup};
use std::path::Path;
use std::time::Instant;

/// Draws of a quote.
const DRAWS: usize = 200;
/// Engine speeds of a pull.
const POINTS: usize = 28;

/// What came of a case. Gains are relative, powers in W.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Row {
    pub(crate) set: String,
    pub(crate) case: String,
    pub(crate) true_gain: f64,
    pub(crate) gain: [f64; 3],
    /// The same of a model without fault.
    pub(crate) bare: [f64; 3],
    pub(crate) true_after_w: f64,
    pub(crate) after_w: [f64; 3],
    /// Root mean square of the fit's power rows.
    pub(crate) rms: f64,
    /// Why the fit or the quote was refused, without blanks; empty where neither was.
    pub(crate) refused: String,
    pub(crate) seconds: f64,
    /// Gain at the centre of all beliefs.
    pub(crate) centre_gain: f64,
    /// What goes through each mechanism at the peak, in their order.
    pub(crate) effects: [f64; 7],
}

const HEADER: &str = "set,case,true_gain,gain_p5,gain_p50,gain_p95,true_after_w,after_p5,after_p50,after_p95,rms,refused,seconds,\
    centre_gain,air,phasing,work,gas_exchange,blower,driveline,waves,bare_p5,bare_p50,bare_p95";

impl Row {
    pub(crate) fn of(set: &str, name: &str, case: &Case, noise: Noise) -> Self {
        let begun = Instant::now();
        let mut row = Self {
            set: set.to_owned(),
            case: name.to_owned(),
            true_gain: case.true_after_w / case.true_before_w - 1.0,
            true_after_w: case.true_after_w,
            ..Self::default()
        };
        if let Err(why) = row.fit_and_quote(case, noise) {
            row.refused = why;
        }
        row.seconds = begun.elapsed().as_secs_f64();
        row
    }

    fn fit_and_quote(&mut self, case: &Case, noise: Noise) -> Result<(), String> {
        let visits = std::slice::from_ref(&case.baseline);
        let question = fit::Question {
            sheet: &case.sheet,
            visits,
            noise,
            accept_misfit: false,
        };
        let (fitted, answer) = question.answer().map_err(|error| error.to_string())?;
        self.rms = fitted.power_rms();
        if let Some(gate) = answer.gate {
            self.refused = format!("{gate:?} {:?}", fitted.stop);
        }
        let first = &case.baseline.pulls[0];
        let day_after = Air::stated(case.day_after, "after");
        let mut question = quote::Question {
            draws: Some(DRAWS),
            ..quote::Question::new(&fitted.sheet, &case.plan, visits, Some(day_after))
        };
        question.before.conditions.from_rpm = first.curve.bands[0].rpm;
        question.before.conditions.axle = case.axle_after;
        question.noise = noise;
        let quote = question.answer().map_err(|error| error.to_string())?;
        for line in &quote.misjudged {
            self.effects[line.mechanism as usize] = line.effect;
        }
        self.centre_gain = centre_gain(&question).unwrap_or(f64::NAN);
        let three = |range: &quote::Range| [range.p5, range.p50, range.p95];
        self.gain = three(&quote.shown_gain);
        self.after_w = three(&quote.after.power_w);
        question.noise.miss = Miss::NONE;
        let quote = question.answer().map_err(|error| error.to_string())?;
        self.bare = three(&quote.shown_gain);
        Ok(())
    }

    /// Kind of work.
    pub(crate) fn kind(&self) -> &'static str {
        kind_of(&self.case)
    }

    /// Error of the middle, points of gain.
    pub(crate) fn error(&self) -> f64 {
        100.0 * (self.gain[1] - self.true_gain)
    }

    /// Width of the range of gain, points.
    pub(crate) fn width(&self) -> f64 {
        100.0 * (self.gain[2] - self.gain[0])
    }

    pub(crate) fn holds(&self) -> bool {
        (self.gain[0]..=self.gain[2]).contains(&self.true_gain)
    }

    pub(crate) fn holds_power(&self) -> bool {
        (self.after_w[0]..=self.after_w[2]).contains(&self.true_after_w)
    }

    /// Interval score of the 90 % range of gain, points: its width, and twenty times what a truth lies outside it. Source: Gneiting and
    /// Raftery, J. Am. Stat. Assoc. 102 (2007), equation 43 (from memory).
    pub(crate) fn interval_score(&self) -> f64 {
        let outside = (self.gain[0] - self.true_gain).max(self.true_gain - self.gain[2]);
        self.width() + 20.0 * 100.0 * outside.max(0.0)
    }

    /// One line for a person.
    pub(crate) fn told(&self) -> String {
        let percent = self.gain.map(|x| 100.0 * x);
        format!(
            "{:<6} {:<30} gain {:+6.1} %, quoted {:+6.1} {:+6.1} {:+6.1}, error {:+5.1}, width {:5.1}{} power{}  rms {:4.2} % {:5.1} s {}",
            self.set,
            self.case,
            100.0 * self.true_gain,
            percent[0],
            percent[1],
            percent[2],
            self.error(),
            self.width(),
            if self.holds() { "      " } else { " MISS " },
            if self.holds_power() { "     " } else { " MISS" },
            100.0 * self.rms,
            self.seconds,
            self.refused
        )
    }

    fn written(&self) -> String {
        let [a, b, c] = self.gain;
        let [d, e, f] = self.after_w;
        format!(
            "{},{},{:.5},{a:.5},{b:.5},{c:.5},{:.0},{d:.0},{e:.0},{f:.0},{:.5},{},{:.1},{:.5},{},{}",
            self.set,
            self.case,
            self.true_gain,
            self.true_after_w,
            self.rms,
            self.refused.replace(',', ";"),
            self.seconds,
            self.centre_gain,
            self.effects.map(|x| format!("{x:.5}")).join(","),
            self.bare.map(|x| format!("{x:.5}")).join(",")
        )
    }

    fn read(cells: &csv::StringRecord) -> Self {
        // The earlier program told no effects.
        let number = |i: usize| {
            cells.get(i).map_or(0.0, |cell| {
                cell.parse()
                    .unwrap_or_else(|_| panic!("{cell} is no number"))
            })
        };
        Self {
            set: cells[0].to_owned(),
            case: cells[1].to_owned(),
            true_gain: number(2),
            gain: [number(3), number(4), number(5)],
            true_after_w: number(6),
            after_w: [number(7), number(8), number(9)],
            rms: number(10),
            refused: cells[11].to_owned(),
            seconds: number(12),
            centre_gain: number(13),
            effects: std::array::from_fn(|m| number(14 + m)),
            bare: std::array::from_fn(|m| number(21 + m)),
        }
    }
}

/// Gain of peak power at the centre of all beliefs, each pull in its own air.
fn centre_gain(question: &quote::Question<'_>) -> Option<f64> {
    let plan = question.plan.map(|_, _, prior| prior.centre());
    let before = &question.sheet.centre;
    let after = Setup {
        car: plan.apply_by_cycle(&before.car, question.after.day).ok()?,
        drums: before.drums,
    };
    let peak_w = |setup: &Setup, day: &Day| {
        let conditions = Conditions {
            to_rpm: setup.car.engine.redline_rpm,
            ..question.before.conditions
        };
        let pull = setup.pull(day, &conditions, POINTS).ok()?;
        Some(pull.peak_power()?.power_w)
    };
    Some(peak_w(&after, &question.after.day)? / peak_w(before, &question.before.air.day)? - 1.0)
}

/// Reads a kept table; empty where there is none.
pub(crate) fn table(path: &Path) -> Vec<Row> {
    let Ok(mut reader) = csv::Reader::from_path(path) else {
        return Vec::new();
    };
    reader
        .records()
        .map(|record| Row::read(&record.expect("a row")))
        .collect()
}

/// Writes a table.
pub(crate) fn keep(path: &Path, rows: &[Row]) {
    let mut text = format!("{HEADER}\n");
    for row in rows {
        text.push_str(&row.written());
        text.push('\n');
    }
    std::fs::write(path, text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
}
