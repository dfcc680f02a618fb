//! `reduce`: a raw drum log to wheel curves.

use crate::args::{MethodArg, ReduceArgs};
use crate::load::{Files, read};
use crate::output::{Failure, Output, write_file};
use crate::prompt;
use pullcast::drumlog::reduction::Ask;
use pullcast::files::drum_log::SPAN_RPM;
use pullcast::report::reduce::csv;

pub(crate) fn run(args: &ReduceArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("reduce", out);
    let file = files.drum_log(&args.log);
    files.output(args.csv.as_deref(), args.force);
    files.finish(out)?;
    let mut file = read(file)?;
    let polynomial = match (args.method, file.ask) {
        (Some(method), _) => method == MethodArg::SavitzkyGolay,
        (None, asked) => asked != Ask::StateSpace,
    };
    if args.span.is_some() && !polynomial {
        return Err(Failure::Usage(
            "--span is for --method savitzky-golay; the state-space smoother needs no setting"
                .to_owned(),
        ));
    }
    file.ask = match (polynomial, args.span, file.ask) {
        (false, _, _) => Ask::StateSpace,
        (true, None, asked @ Ask::LocalPolynomial { .. }) => asked,
        (true, span, _) => Ask::LocalPolynomial {
            span_rpm: span.unwrap_or(SPAN_RPM),
        },
    };
    if let Some(band_rpm) = args.band {
        file.band_rpm = band_rpm;
    }
    let answer = loop {
        let refusal = match file.question().answer() {
            Ok(answer) => break answer,
            Err(refusal) => refusal,
        };
        let problems = file.problems(&refusal);
        if !prompt::settled_force(&problems, &mut file, &args.log, out)? {
            return Err(problems.into());
        }
    };
    if let Some(path) = &args.csv {
        if answer.pulls.is_empty() {
            return Err(Failure::Gate(
                "there is no curve to write: the log holds only a run-down; without --csv its drag is shown".to_owned(),
            ));
        }
        write_file(path, &csv(&answer, &file.extras), args.force)?;
        out.note(&format!("curves written to {}", path.display()));
    }
    out.report(&answer)
}
