//! `spread`: what the weather of a place, and everything else in doubt, does to a reading.

use crate::load::{Files, no_electric_axle, read};
use crate::output::{Failure, Output, overwrite};
use crate::spread_args::{HoursPerDrawArg, SpreadArgs};
use crate::spread_kept::Kept;
use pullcast::ask::spread::{Answer, Choice, Hour, HoursPerDraw, Question, Sample, SpreadError};
use pullcast::files::samples::{Form, Row, Samples};
use pullcast::files::station::Options;
use pullcast::report::spread::SpreadReport;

pub(crate) fn run(args: &SpreadArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("spread", out);
    files.output(args.csv.as_deref(), args.force);
    files.output(args.parquet.as_deref(), args.force);
    files.drawing(&args.draw, args.force);
    let car = files.car(&args.car);
    let plan = args
        .plan
        .as_ref()
        .map(|path| files.plan(path, car.as_ref()));
    let options = Options {
        elevation_m: args.elevation,
        utc_offset_min: args.utc_offset,
        pressure: args.pressure.map(Into::into),
    };
    let station = files.station(&args.station, &options);
    files.finish(out)?;
    if args.parquet.is_some() && !Form::Parquet.is_built() {
        return Err(Failure::Usage(NO_PARQUET.to_owned()));
    }
    let (car, station) = (read(car)?, read(station)?);
    let plan = plan.map(read).transpose()?.map(|file| file.plan);
    if args.charge.is_some() && car.sheet.centre.car.electric.is_none() {
        return Err(no_electric_axle());
    }
    let question = Question {
        choice: Choice {
            months: args.months.unwrap_or(Choice::ALL.months),
            hours: args.hours.unwrap_or(Choice::ALL.hours),
            cell_k: args.cell,
        },
        mechanical_efficiency: args.correction.mechanical_efficiency,
        noise: out.shop.noise(),
        two_days: args.two_days,
        charge: args.charge,
        promise_w: args.promise,
        chance: args.chance,
        quantiles: args.quantiles.clone(),
        draws: args.draws as usize,
        hours_per_draw: match args.hours_per_draw {
            None => HoursPerDraw::Usual,
            Some(HoursPerDrawArg::Count(count)) => HoursPerDraw::Count(count),
            Some(HoursPerDrawArg::All) => HoursPerDraw::All,
        },
        surfaces: !args.full_pulls,
        seed: args.seed,
        ..Question::new(&car.sheet, plan.as_ref(), &station.hours)
    };
    out.note(&format!("drawing {} cars, seed {}", args.draws, args.seed));
    let answer = if let Some(folder) = &args.kept.keep {
        let told = question.ready(|ready| {
            let kept = Kept::open(folder, ready)?;
            match args.kept.shard {
                Some(shard) => kept.shard(shard, out).map(|()| None),
                None if args.kept.so_far => kept.so_far().map(Some),
                None => kept.whole(out).map(Some),
            }
        })?;
        let Some(answer) = told else {
            return Ok(());
        };
        answer
    } else {
        drawn(&question, args, out)?
    };
    let report = SpreadReport {
        answer,
        file: args.station.display().to_string(),
        station: station.cleaning,
        standard: args.correction.standard(out),
    };
    out.drawing(&report, &args.draw, args.force)?;
    out.report(&report)
}

const NO_PARQUET: &str = "this program was built without Parquet; build it with `cargo build --release --features parquet`, or use --csv";

/// All draws in one run, with their tables where any is asked for.
fn drawn(question: &Question<'_>, args: &SpreadArgs, out: Output) -> Result<Answer, Failure> {
    let asked = [(&args.csv, Form::Csv), (&args.parquet, Form::Parquet)];
    let mut tables = Vec::new();
    for (path, form) in asked {
        if let Some(path) = path {
            tables.push((path, Samples::new(path, form, overwrite(args.force))?));
        }
    }
    let mut failed = None;
    let mut each = |sample: &Sample, (before, after): (&Hour, &Hour)| {
        let row = Row {
            sample,
            before,
            after,
        };
        for (path, table) in &mut tables {
            if failed.is_none()
                && let Err(error) = table.push(&row)
            {
                failed = Some(format!("{}: {error}", path.display()));
            }
        }
    };
    let answer = out.metered("cars", |progress| question.answer(&mut each, progress))?;
    if let Some(failed) = failed {
        return Err(Failure::Gate(format!(
            "the draws cannot be written: {failed}"
        )));
    }
    for (path, table) in tables {
        table.finish()?;
        out.note(&format!("draws written to {}", path.display()));
    }
    Ok(answer)
}

impl From<SpreadError> for Failure {
    fn from(error: SpreadError) -> Self {
        match error {
            SpreadError::Correction(_) | SpreadError::Cell(_) => Self::Usage(error.to_string()),
            _ => Self::Gate(error.to_string()),
        }
    }
}
