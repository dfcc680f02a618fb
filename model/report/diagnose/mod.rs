//! Why a pull looks wrong, in the words of the trade: the causes with their chances, what each makes of the log, and the next
//! measurement.
//!
//! A chance is told only as finely as it means something, a size with the range that holds it nine times in ten. It refuses to name one
//! cause where two are left standing.

mod words;

use super::cautions::Caution;
use super::number::{Units, What};
use super::table::{WIDTH, bullet, paragraph};
use super::{Report, heading};
use crate::diagnose::SizeMeasure;
use crate::diagnose::next::NextStep;
use crate::diagnose::{Cause, Channel, Diagnosis, Form, Sign, Suspect};
use serde::Serialize;

/// What the odd pull was, beside its diagnosis.
#[derive(Debug, Clone)]
pub struct Subject {
    /// The car.
    pub car: String,
    /// Whether the car is a fitted one.
    pub fitted: bool,
    /// The pull.
    pub pull: String,
    /// Charge of the electric axle's battery stated for its start.
    pub charge: Option<f64>,
    /// Whether the car has an electric axle.
    pub electric: bool,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct DiagnoseReport {
    /// The car.
    pub car: String,
    /// Whether the car is a fitted one.
    pub fitted: bool,
    /// The pull.
    pub pull: String,
    /// One sentence.
    pub verdict: String,
    /// Good pulls it was held against.
    pub good_pulls: usize,
    /// Peak power a sound pull would have read on that day.
    pub peak_expected_w: f64,
    /// Peak power read.
    pub peak_read_w: f64,
    /// Channels of the log that were used.
    pub channels: Vec<&'static str>,
    /// That the good pulls may be another car's, if so; it stands before the verdict.
    pub another_car: Option<String>,
    /// What else is odd about the question itself.
    pub remarks: Vec<String>,
    /// Causes, likeliest first.
    pub suspects: Vec<SuspectLine>,
    /// What would tell the two likeliest apart, best first.
    pub next: Vec<NextLine>,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

/// One cause.
#[derive(Debug, Clone, Serialize)]
pub struct SuspectLine {
    /// Stable word.
    pub cause: &'static str,
    /// Name for people, with its form.
    pub name: String,
    /// Its name alone.
    #[serde(skip)]
    short: &'static str,
    /// Its chance, 0 to 1.
    pub probability: f64,
    /// Its numbers.
    pub sizes: Vec<SizeLine>,
    /// Change of the peak that the rig shows, W.
    pub peak_change_w: f64,
    /// Where it changes power most, rpm.
    pub worst_rpm: f64,
    /// By how much there, relative.
    pub worst_change: f64,
    /// What in the log speaks for it, most telling first.
    pub signs: Vec<SignLine>,
    /// What in the log it leaves unexplained, worst first; the weight is in standard deviations.
    pub left: Vec<SignLine>,
    /// What to look at.
    pub look_at: &'static str,
    /// What was seen and what the cause makes, both less a sound pull, curve by curve.
    pub traces: Vec<TraceLine>,
}

/// One number of a cause, SI.
#[derive(Debug, Clone, Serialize)]
pub struct SizeLine {
    /// What it is.
    pub name: &'static str,
    /// Its unit in this document.
    pub unit: &'static str,
    /// Likeliest value.
    pub value: f64,
    /// Lower end of the central 90 %.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether the value is the end of what was looked at, so that the log may ask for more.
    pub at_end: bool,
    #[serde(skip)]
    measure: SizeMeasure,
}

/// Something in the log.
#[derive(Debug, Clone, Serialize)]
pub struct SignLine {
    /// Channel or fact.
    pub of: &'static str,
    /// Engine speed, where it is a curve, rpm.
    pub rpm: Option<f64>,
    /// Seen less sound, SI; logarithms for ratios and power.
    pub seen: f64,
    /// What the cause makes it.
    pub explained: f64,
    /// Rise of the logarithmic likelihood.
    pub weight: f64,
    #[serde(skip)]
    sign: Sign,
}

/// A curve against that of a sound pull.
#[derive(Debug, Clone, Serialize)]
pub struct TraceLine {
    /// Channel.
    pub channel: &'static str,
    /// Engine speed, rpm; seen; explained.
    pub points: Vec<(f64, f64, f64)>,
}

/// A measurement to make.
#[derive(Debug, Clone, Serialize)]
pub struct NextLine {
    /// What to measure.
    pub measurement: &'static str,
    /// Whether it is a channel that this log lacks.
    pub absent_channel: bool,
    /// What it shows under the likeliest cause and under the next, SI.
    pub first: f64,
    /// Under the next.
    pub second: f64,
    /// Engine speed to look at, rpm.
    pub rpm: Option<f64>,
    /// Standard deviations of the measurement between the two.
    pub standard_deviations: f64,
    #[serde(skip)]
    step: NextStep,
}

/// Chances below this are not told in the text.
const LEAST_TOLD: f64 = 0.005;
/// Causes this likely are shown in full.
pub const IN_FULL: f64 = 0.05;
/// A cause this likely is named as the one.
const NAMED: f64 = 0.8;

impl DiagnoseReport {
    /// Words a diagnosis.
    pub fn new(diagnosis: &Diagnosis, subject: Subject) -> Self {
        Self {
            car: subject.car,
            fitted: subject.fitted,
            pull: subject.pull,
            verdict: verdict(&diagnosis.suspects),
            good_pulls: diagnosis.good_pulls,
            peak_expected_w: diagnosis.peak_w.0,
            peak_read_w: diagnosis.peak_w.1,
            channels: diagnosis
                .channels
                .iter()
                .map(|c| words::channel(*c))
                .collect(),
            another_car: diagnosis.remarks.iter().find_map(words::another_car),
            remarks: words::remarks(diagnosis, subject.charge),
            suspects: diagnosis.suspects.iter().map(line).collect(),
            next: diagnosis
                .next
                .iter()
                .map(|step| NextLine {
                    measurement: words::measurement(step.measurement, subject.electric),
                    absent_channel: step.absent_channel,
                    first: step.first,
                    second: step.second,
                    rpm: step.rpm,
                    standard_deviations: step.apart,
                    step: *step,
                })
                .collect(),
            cautions: subject.cautions,
        }
    }
}

fn verdict(suspects: &[Suspect]) -> String {
    let [first, rest @ ..] = suspects else {
        return String::new();
    };
    let name = full_name(first);
    match first.explained.cause {
        Cause::Nothing if first.probability >= NAMED => {
            "nothing wrong: the pull is within repeatability".to_owned()
        }
        Cause::NoneOfThese if first.probability >= NAMED => {
            "something is wrong that is none of the causes known here, or two of them at once"
                .to_owned()
        }
        _ if first.probability >= NAMED => name,
        _ => rest.first().map_or_else(
            || name.clone(),
            |second| format!("not settled: {name}, or {}", full_name(second)),
        ),
    }
}

/// Name of a cause, with its form where that says more.
fn full_name(suspect: &Suspect) -> String {
    let others: Vec<&str> = suspect
        .alike
        .iter()
        .filter_map(|form| match form {
            Form::CorrectedWith(s) | Form::AlreadyCorrected(s) => Some(s.name()),
            _ => None,
        })
        .collect();
    let own = own_name(suspect);
    if others.is_empty() {
        own
    } else {
        format!(
            "{own} (or {}, which the log bears out as well)",
            others.join(", ")
        )
    }
}

fn own_name(suspect: &Suspect) -> String {
    let name = suspect.explained.cause.name();
    match suspect.explained.form {
        Form::Plain => name.to_owned(),
        Form::CorrectedWith(standard) => {
            format!(
                "{name}: the corrected column was made with {}",
                standard.name()
            )
        }
        Form::AlreadyCorrected(standard) => format!(
            "{name}: the uncorrected column is corrected already, as with {}",
            standard.name()
        ),
        Form::Told => format!("{name}: another one was entered"),
        Form::NotAsNoted => format!("{name}: the rig worked with another one than was noted"),
        Form::Driven => format!("{name}: another one was driven"),
        Form::OpenConverter => format!("{name}: the open converter"),
        Form::SpeedSignal => format!("{name}: engine speed"),
        Form::SpeedScale => format!("{name}: engine speed is counted wrongly"),
        Form::TemperatureSignal => format!("{name}: charge temperature"),
    }
}

fn line(suspect: &Suspect) -> SuspectLine {
    let explained = &suspect.explained;
    let sizes = explained
        .sizes
        .iter()
        .zip(&explained.values)
        .zip(&explained.intervals)
        .map(|((size, value), (low, high))| SizeLine {
            name: size.name,
            unit: words::unit(size.measure),
            value: *value,
            low: *low,
            high: *high,
            at_end: words::at_end(*value, *low, *high),
            measure: size.measure,
        })
        .collect();
    let told = |signs: &[Sign]| signs.iter().map(sign_line).collect();
    SuspectLine {
        cause: explained.cause.id(),
        name: full_name(suspect),
        short: explained.cause.name(),
        probability: suspect.probability,
        sizes,
        peak_change_w: suspect.power_w,
        worst_rpm: suspect.worst.0,
        worst_change: suspect.worst.1,
        signs: told(&suspect.signs),
        left: told(&suspect.left),
        look_at: explained.cause.look_at(),
        traces: suspect
            .traces
            .iter()
            .map(|trace| TraceLine {
                channel: words::channel(trace.channel),
                points: trace.points.clone(),
            })
            .collect(),
    }
}

fn sign_line(sign: &Sign) -> SignLine {
    let (of, rpm, seen, explained) = match *sign {
        Sign::Curve {
            channel,
            rpm,
            seen,
            explained,
            ..
        } => (words::channel(channel), Some(rpm), seen, explained),
        Sign::Fact {
            fact,
            seen,
            explained,
            ..
        } => (words::fact(fact), None, seen, explained),
    };
    SignLine {
        of,
        rpm,
        seen,
        explained,
        weight: sign.weight(),
        sign: *sign,
    }
}

/// A chance as far as it can be told.
fn chance(probability: f64) -> String {
    if probability >= 0.99 {
        "over 99 %".to_owned()
    } else if probability < 0.01 {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", 100.0 * probability)
    }
}

impl Report for DiagnoseReport {
    const SCHEMA: &'static str = "pullcast/diagnose/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading(&format!("{}: what is wrong with '{}'", self.car, self.pull));
        if let Some(remark) = &self.another_car {
            out.push_str(&paragraph("", &format!("Mind: {remark}."), 0, WIDTH));
            out.push('\n');
        }
        out.push_str(&paragraph(
            "",
            &format!("{}.", capital(&self.verdict)),
            0,
            WIDTH,
        ));
        out.push('\n');
        let power = |w: f64| units.show(What::Power, w);
        let against = match self.good_pulls {
            0 => "no good pull was named, so the model alone says what to expect (--good names visits with good pulls)"
                .to_owned(),
            1 => "held against one good pull".to_owned(),
            n => format!("held against {n} good pulls"),
        };
        let text = format!(
            "Peak read: {}. A sound pull of this car in the air entered would have read {}; {against}. Channels used: {}.",
            power(self.peak_read_w),
            power(self.peak_expected_w),
            self.channels.join(", ")
        );
        out.push_str(&paragraph("", &text, 0, WIDTH));
        for remark in &self.remarks {
            out.push_str(&bullet(remark));
        }
        if !self.fitted {
            let text = "The car file is not a fitted one: what a fault changes is then known less well (see `fit --out`).";
            out.push_str(&paragraph("", text, 0, WIDTH));
        }
        for suspect in self.suspects.iter().filter(|s| s.probability >= IN_FULL) {
            out.push('\n');
            full(&mut out, suspect, units);
        }
        let rest: Vec<String> = self
            .suspects
            .iter()
            .filter(|s| (LEAST_TOLD..IN_FULL).contains(&s.probability))
            .map(|s| format!("{} ({})", s.short, chance(s.probability)))
            .collect();
        if !rest.is_empty() {
            out.push('\n');
            out.push_str(&paragraph(
                "",
                &format!("Less likely: {}.", rest.join("; ")),
                0,
                WIDTH,
            ));
        }
        self.next(&mut out, units);
        if !self.cautions.is_empty() {
            out.push('\n');
            out.push_str(&heading("Before the next pull"));
            for caution in &self.cautions {
                out.push_str(&bullet(&format!("{}: {}", caution.about, caution.text)));
            }
        }
        out
    }
}

impl DiagnoseReport {
    fn next(&self, out: &mut String, units: Units) {
        let named: Vec<&SuspectLine> = self
            .suspects
            .iter()
            .filter(|s| s.cause != Cause::NoneOfThese.id())
            .take(2)
            .collect();
        let [first, second] = named.as_slice() else {
            return;
        };
        // Where none of them is it, telling two of them apart helps nobody.
        let unknown = Cause::NoneOfThese.id();
        if self.suspects.first().is_some_and(|s| s.cause == unknown) {
            return;
        }
        out.push('\n');
        out.push_str(&heading("What would tell more"));
        if self.next.is_empty() {
            let text = format!(
                "Nothing this program can predict tells {} from {} apart; make the same pull again.",
                first.short, second.short
            );
            out.push_str(&paragraph("", &text, 0, WIDTH));
            return;
        }
        let text = format!(
            "To tell {} from {}, the likeliest two of those named:",
            first.short, second.short
        );
        out.push_str(&paragraph("", &text, 0, WIDTH));
        for line in self.next.iter().take(3) {
            out.push_str(&bullet(&words::next(&line.step, line.measurement, units)));
        }
        if let Some(absent) = self.next.iter().find(|l| l.absent_channel) {
            let text = format!(
                "Of the channels this log lacks, {} would help most.",
                absent.measurement
            );
            out.push_str(&paragraph("", &text, 0, WIDTH));
        }
    }
}

/// A cause with everything about it.
fn full(out: &mut String, suspect: &SuspectLine, units: Units) {
    add!(
        out,
        "{}, chance {}\n",
        capital(&suspect.name),
        chance(suspect.probability)
    );
    let mut rows: Vec<(&str, String)> = suspect
        .sizes
        .iter()
        .map(|size| {
            let shown = words::size(size.measure, (size.value, size.low, size.high), units);
            (size.name, shown)
        })
        .collect();
    if suspect.cause == Cause::PressureMixedUp.id() {
        let text = format!(
            "the car lost nothing: a sound pull at the pressure it had reads {} less than one at the pressure entered",
            units.show(What::Power, suspect.peak_change_w.abs())
        );
        rows.push(("power", text));
    } else if suspect.worst_change.abs() >= 0.0005 {
        let text = format!(
            "{} at the peak; most at {}, {}",
            units.show_change(What::Power, suspect.peak_change_w),
            units.show(What::Rpm, suspect.worst_rpm),
            units.show_change(What::Percent, suspect.worst_change)
        );
        rows.push(("power", text));
    }
    let none = suspect.cause == Cause::NoneOfThese.id();
    for (head, signs) in [("seen", &suspect.signs), ("not explained", &suspect.left)] {
        for (index, sign) in signs.iter().enumerate() {
            let head = if index == 0 { head } else { "" };
            rows.push((head, words::sign(&sign.sign, none, units)));
        }
    }
    if !suspect.look_at.is_empty() {
        rows.push(("look at", suspect.look_at.to_owned()));
    }
    let width = rows.iter().map(|r| r.0.chars().count()).max().unwrap_or(0) + 4;
    for (head, text) in rows {
        out.push_str(&paragraph(&format!("  {head}"), &text, width, WIDTH));
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// Whether a channel is one that a person reads off a gauge; the rest are ratios.
pub(super) const fn is_ratio(channel: Channel) -> bool {
    matches!(
        channel,
        Channel::Power | Channel::DrumRatio | Channel::BlowerRatio
    )
}
