//! The two numerical tools every device needs: a scalar root between two ends, and a table read off between its
//! points. They exist so that no device writes its own loop, and so that the two classic silent errors are answers
//! instead: a root that is not there ([`RootStop::NoSignChange`]) and a table read past its edge
//! ([`Lookup::Beyond`]). Nothing here knows a unit, allocates while evaluating, or panics.
mod root;
mod table;

pub use root::{Root, RootSettings, RootStop, find_root, find_root_near};
pub use table::{Axis, Grid, LinearTable, Lookup, PchipTable, TableError};
