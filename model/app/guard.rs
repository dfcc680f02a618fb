//! Recordings held against themselves and the car before anything is built on them: what is found is shown, and may stop the verb.

use crate::output::{Failure, Output};
use pullcast::belief::Sheet;
use pullcast::files::VisitFile;
use pullcast::report::guard::{Guarded, held};

/// Stops where a recording cannot be what it says, and warns where it may not be.
pub(crate) fn hold(
    sheet: &Sheet,
    visits: &[VisitFile],
    out: Output<'_>,
) -> Result<Guarded, Failure> {
    let guarded = held(sheet, visits, true, out.units);
    if guarded.problems.has_errors() {
        return Err(Failure::Files(guarded.problems));
    }
    out.problems(&guarded.problems);
    Ok(guarded)
}

/// The same without ever stopping.
pub(crate) fn warn(sheet: &Sheet, visits: &[VisitFile], out: Output<'_>) {
    out.problems(&held(sheet, visits, false, out.units).problems);
}
