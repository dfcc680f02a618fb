//! Draws of a car from its beliefs.

use pullcast::ask::draws::stream;
use pullcast::belief::sheet::Sheet;
use pullcast::dyno::Setup;

/// Seed of every draw; each has its own stream.
const SEED: u64 = 7;

/// One car of the sheet.
pub(super) fn car(sheet: &Sheet, draw: u64) -> Setup {
    let mut setup = sheet.setup_at(&sheet.draw(&mut stream(SEED, draw)));
    setup.car.retabulate_knock();
    setup
}
