//! The world, the laws, and yesterday.

mod bad_input;
mod command_line;
mod layers;
mod shop;
mod sources;
mod tidy;
