//! The world, the laws, and yesterday.

mod bad_input;
mod book;
mod capped;
mod command_line;
mod compare;
mod compare_trials;
mod diagnose;
mod driveline_laws;
mod drum_log_maker;
mod drum_logs;
mod electric_axle;
mod heat_soak;
mod laws;
mod layers;
mod machines;
mod part_laws;
mod plan_order;
mod reach;
mod scenario_maker;
mod scenarios;
mod shop;
mod sources;
mod supply_laws;
mod tidy;
mod turbo;
mod wrong_car;
