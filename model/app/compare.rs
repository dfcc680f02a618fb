//! `compare`: pulls before and after the work, and whether they can be told apart.
//!
//! Runs that started with another charge, or with the electric axle off against on, are refused with exit code 1: each file is sound,
//! only the comparing is not.

use crate::args::CompareArgs;
use crate::load::{Files, read};
use crate::output::{Failure, Output, write_file};
use pullcast::air::atmosphere::GaugePressure;
use pullcast::ask::compare::axle::{self, CHARGE_WINDOW, Start};
use pullcast::ask::compare::gearing::{ANOTHER_GEAR, Geared, geared};
use pullcast::ask::compare::{BOOSTED_PA, ChargePressure, Entry, Question, WeatherDoubt, share_w};
use pullcast::belief::Noise;
use pullcast::car::Car;
use pullcast::dyno::Setup;
use pullcast::dyno::correction::engine::{Charging, EngineKind};
use pullcast::dyno::correction::{Correction, Standard, Subject};
use pullcast::files::VisitFile;
use pullcast::fit::observation::MeasuredPull;
use pullcast::report::basis::subject_of;
use pullcast::report::compare::{CompareReport, Frame, SetOf, Tags};

/// Seed of the draws behind the ranges: two runs of the program agree to the digit.
const SEED: u64 = 1;

pub(crate) fn run(args: &CompareArgs, out: Output) -> Result<(), Failure> {
    let mut files = Files::default();
    files.output(args.csv.as_deref(), args.force);
    let visits = files.visits(&[args.before.clone(), args.after.clone()]);
    let car = args.car.as_deref().map(|path| files.car(path));
    let plan = args
        .plan
        .as_deref()
        .map(|path| files.plan(path, car.as_ref().and_then(Option::as_ref)));
    files.finish(out)?;
    let mut visits = visits.into_iter().map(read);
    let (Some(before), Some(after)) = (visits.next(), visits.next()) else {
        return Err(Failure::Gate(
            "two visits were named and not read".to_owned(),
        ));
    };
    let before_car = car.map(read).transpose()?.map(|file| file.sheet.centre);
    let after_car = match (plan, &before_car) {
        (Some(plan), Some(setup)) => {
            let plan = read(plan)?.plan.map(|_, _, prior| prior.centre());
            let car = plan
                .apply(&setup.car)
                .map_err(|error| Failure::Gate(error.to_string()))?;
            Some(Setup {
                car,
                drums: setup.drums,
            })
        }
        _ => before_car.clone(),
    };
    let sides = [Side::new(before?, before_car), Side::new(after?, after_car)];
    let forced = gate(&sides, args)?;
    compare(&sides, args, forced, out)
}

/// One set with the car it was made by, where that is known.
struct Side {
    file: VisitFile,
    setup: Option<Setup>,
    /// Places of the pulls compared: those with the electric axle on, or all where it never was.
    used: Vec<usize>,
}

impl Side {
    fn new(file: VisitFile, setup: Option<Setup>) -> Self {
        let pulls = file.visit.pulls.iter().enumerate();
        let on: Vec<usize> = pulls
            .filter(|(_, pull)| pull.conditions.axle.on)
            .map(|(i, _)| i)
            .collect();
        let used = if on.is_empty() {
            (0..file.visit.pulls.len()).collect()
        } else {
            on
        };
        Self { file, setup, used }
    }

    fn pulls(&self) -> impl Iterator<Item = &MeasuredPull> {
        self.used.iter().map(|&i| &self.file.visit.pulls[i])
    }

    /// Whether anything says that the car has an electric axle.
    fn electric(&self) -> bool {
        let stated = |i: &usize| {
            let recorded = &self.file.recordings[*i];
            recorded.charge.is_some() || recorded.electric_axle.is_some()
        };
        self.car().is_some_and(|car| car.electric.is_some()) || self.used.iter().any(stated)
    }

    fn car(&self) -> Option<&Car> {
        self.setup.as_ref().map(|setup| &setup.car)
    }

    fn subject(&self, mechanical_efficiency: Option<f64>) -> Subject {
        self.car().map_or(
            Subject {
                mechanical_efficiency,
                ..Subject::of(EngineKind::SPARK_UNBOOSTED)
            },
            |car| subject_of(car, mechanical_efficiency),
        )
    }

    /// Highest boost logged above the air outside, Pa; none where the manifold was not logged.
    fn boost_pa(&self) -> Option<f64> {
        let boosts = self.pulls().flat_map(|pull| {
            let station_pa = pull.day.station().pa();
            let bands = pull.curve.bands.iter();
            bands.filter_map(move |band| band.manifold_pa.map(|pa| pa - station_pa))
        });
        boosts.max_by(f64::total_cmp)
    }

    fn charge_pressure(&self) -> ChargePressure {
        let boost_pa = self.boost_pa();
        let held = match self.car() {
            Some(car) => matches!(
                subject_of(car, None).engine.charging,
                Charging::Turbo | Charging::TurboCoolantCooled
            ),
            None => boost_pa.is_some_and(|pa| pa > BOOSTED_PA),
        };
        if held {
            ChargePressure::MayBeHeld {
                boost: boost_pa
                    .filter(|pa| *pa > BOOSTED_PA)
                    .map(GaugePressure::from_pa),
            }
        } else {
            ChargePressure::Follows
        }
    }

    fn entries(&self, standard: Standard, efficiency: Option<f64>) -> Result<Vec<Entry>, Failure> {
        let subject = self.subject(efficiency);
        self.pulls()
            .map(|pull| {
                let correction = Correction::new(standard, pull.day, &subject)
                    .map_err(|error| Failure::Usage(error.to_string()))?;
                let electric_w = match &self.setup {
                    Some(setup) => {
                        share_w(setup, pull).map_err(|error| Failure::Gate(error.to_string()))?
                    }
                    None => Vec::new(),
                };
                Ok(Entry {
                    name: pull.name.clone(),
                    curve: pull.curve.clone(),
                    correction,
                    electric_w,
                })
            })
            .collect()
    }

    fn tags(&self, electric: bool) -> Vec<Tags> {
        let tags = |i: &usize| {
            let recorded = &self.file.recordings[*i];
            Tags {
                charge: recorded.charge,
                electric_axle: electric.then(|| self.file.visit.pulls[*i].conditions.axle.on),
                undone: recorded.undone,
            }
        };
        self.used.iter().map(tags).collect()
    }
}

/// How each pull's electric axle was started.
fn starts(sides: &[Side; 2]) -> Vec<Start> {
    sides
        .iter()
        .flat_map(|side| {
            side.used.iter().map(move |&i| {
                let pull = &side.file.visit.pulls[i];
                Start {
                    name: format!("{}: {}", side.file.visit.name, pull.name),
                    on: pull.conditions.axle.on,
                    charge: side.file.recordings[i].charge,
                }
            })
        })
        .collect()
}

/// Pulls of both sets whose gearing differs.
fn gearing(sides: &[Side; 2]) -> Option<Geared> {
    geared(sides.iter().flat_map(|side| {
        side.pulls().map(move |pull| {
            (
                format!("{}: {}", side.file.visit.name, pull.name),
                &pull.curve,
            )
        })
    }))
}

/// What stands against comparing; refused unless forced, and then told.
fn gate(sides: &[Side; 2], args: &CompareArgs) -> Result<Vec<String>, Failure> {
    for side in sides {
        let stated = |i: &usize| side.file.recordings[*i].charge.is_some();
        if side.car().is_some_and(|car| car.electric.is_none()) && side.used.iter().any(stated) {
            return Err(Failure::Usage(format!(
                "pulls of '{}' state a charge, and the car of --car has no [electric_axle]: is it the car of these pulls?",
                side.file.visit.name
            )));
        }
    }
    let apart = axle::apart(&starts(sides), args.charge_window.unwrap_or(CHARGE_WINDOW));
    let mut found: Vec<String> = apart.iter().map(ToString::to_string).collect();
    let other_gear = gearing(sides).filter(|found| found.apart() > ANOTHER_GEAR);
    found.extend(other_gear.as_ref().map(ToString::to_string));
    if found.is_empty() || args.force {
        return Ok(found);
    }
    Err(Failure::Gate(format!(
        "{}. These runs are not compared; --force compares them all the same, --charge-window sets the window",
        found.join("; ")
    )))
}

fn compare(
    sides: &[Side; 2],
    args: &CompareArgs,
    forced: Vec<String>,
    out: Output,
) -> Result<(), Failure> {
    let electric = sides.iter().any(Side::electric);
    let helped = sides
        .iter()
        .any(|s| s.pulls().any(|p| p.conditions.axle.on));
    // The engine's share cannot be corrected where nobody says which it is.
    let known = !(electric && helped) || sides.iter().all(|side| side.setup.is_some());
    let standard = if known {
        args.correction.standard
    } else {
        Standard::None
    };
    let efficiency = args.correction.mechanical_efficiency;
    let entries = [
        sides[0].entries(standard, efficiency)?,
        sides[1].entries(standard, efficiency)?,
    ];
    let day = |side: &Side| side.pulls().next().map(|pull| pull.day);
    let (Some(first), Some(last)) = (day(&sides[0]), day(&sides[1])) else {
        return Err(Failure::Gate("a visit holds no pull".to_owned()));
    };
    let factor = |side: &Side, day| {
        Correction::new(args.correction.standard, day, &side.subject(efficiency))
            .map(|correction| correction.factor.ln())
            .map_err(|error| Failure::Usage(error.to_string()))
    };
    let left_in = if known {
        0.0
    } else {
        factor(&sides[1], last)? - factor(&sides[0], first)?
    };
    let weather = WeatherDoubt {
        standard,
        days: (first, last),
        left_in,
        charge: (sides[0].charge_pressure(), sides[1].charge_pressure()),
    };
    let visit = (!args.same_visit).then_some(Noise::default().visit);
    let question = Question {
        before: &entries[0],
        after: &entries[1],
        visit: visit.unwrap_or(0.0),
        weather,
        seed: SEED,
    };
    let answer = question
        .answer()
        .map_err(|error| Failure::Gate(error.to_string()))?;
    let tags = sides.each_ref().map(|side| side.tags(electric));
    let of = |i: usize| SetOf {
        name: &sides[i].file.visit.name,
        entries: &entries[i],
        tags: &tags[i],
    };
    let frame = Frame {
        standard,
        visit,
        held: weather.held(),
        remarks: remarks(sides, known, args),
        forced,
    };
    let report = CompareReport::new(&answer, (&of(0), &of(1)), frame);
    if let Some(path) = &args.csv {
        write_file(path, &report.csv(), args.force)?;
        out.note(&format!(
            "gain over engine speed written to {}",
            path.display()
        ));
    }
    out.report(&report)
}

/// What the files themselves give to mind.
fn remarks(sides: &[Side; 2], known: bool, args: &CompareArgs) -> Vec<String> {
    let mut remarks = Vec::new();
    if let Some(found) = gearing(sides).filter(|found| found.apart() <= ANOTHER_GEAR) {
        remarks.push(found.to_string());
    }
    // A window asked for wider than the usual lets pass what a reader must still know.
    if args
        .charge_window
        .is_some_and(|window| window > CHARGE_WINDOW)
    {
        let apart = axle::apart(&starts(sides), CHARGE_WINDOW);
        let charges = apart
            .iter()
            .filter(|a| matches!(a, axle::Apart::Charge { .. }));
        remarks.extend(charges.map(|found| {
            format!(
                "{found} unless asked otherwise, as here: what the battery feeds at another charge passes for a gain or a loss"
            )
        }));
    }
    if !known {
        remarks.push(
            "the pulls hold electric power, which is never corrected, and drums cannot tell how much: name the car with --car to \
             have the engine's share corrected. Until then the weather is in the gain, and in the ranges as a doubt"
                .to_owned(),
        );
    }
    for side in sides {
        let left = side.file.visit.pulls.len() - side.used.len();
        if left > 0 {
            remarks.push(format!(
                "{left} of the pulls of '{}' had the electric axle off and are left out",
                side.file.visit.name
            ));
        }
    }
    let blown =
        |side: &Side| side.car().is_none() && side.boost_pa().is_some_and(|pa| pa > BOOSTED_PA);
    if sides.iter().any(blown) {
        remarks.push(
            "the manifold was above the air outside, so the engine is boosted; a blower turned by the crank with its bypass shut \
             follows the ambient, and the factor keeps its meaning. Name the car with --car, and the work with --plan, to say so"
                .to_owned(),
        );
    }
    remarks
}
