//! Everything that touches the disk: reading what a shop wrote, and writing what it asked for.
//!
//! The rest of the crate takes checked SI values; this folder turns text into them and keeps, for every value, the place
//! it came from, so that a mistake is shown where it stands. It refuses to repair silently: what cannot be read one
//! way only is asked back.

mod asked;
pub mod belief;
pub mod book;
pub mod car;
pub mod car_write;
pub mod class;
pub mod compressor_map;
pub mod diagnostic;
pub mod digest;
pub mod drum_log;
pub mod encoding;
mod form;
pub mod fuel;
pub mod inputs;
mod map_csv;
pub mod plan;
pub mod posterior;
pub mod quantity;
mod rated;
pub mod run_csv;
pub mod samples;
pub mod schema;
pub mod scratch;
pub mod shelf;
pub mod shop;
pub mod shown;
pub mod spread_parts;
pub mod starter;
pub mod station;
pub mod table;
pub mod turbine_map;
pub mod visit;
pub mod weather;
pub mod write;

pub use asked::Asked;
pub use diagnostic::{Code, Excerpt, Problem, Problems, Severity};
pub use encoding::{Encoding, read_bytes};
pub use quantity::{Doubt, Quantity};

pub use car::{CarFile, Parts};
pub use drum_log::DrumLogFile;
pub use plan::PlanFile;
pub use station::Station;
pub use visit::VisitFile;
pub use weather::WeatherFile;

pub use digest::Look;
pub use run_csv::{Channel, RunFile, RunOptions};
pub use table::{Found, Table, TomlFile};
pub use write::{Overwrite, check_writable, write_atomic};
