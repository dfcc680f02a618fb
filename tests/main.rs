//! The world, the laws, and yesterday.

mod bad_input;
mod book;
mod capped;
mod command_line;
mod driveline_laws;
mod laws;
mod layers;
mod scenario_maker;
mod scenarios;
mod shop;
mod sources;
mod supply_laws;
mod tidy;
mod wrong_car;
