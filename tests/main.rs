//! The world, the laws, and yesterday.

mod bad_input;
mod book;
mod command_line;
mod laws;
mod layers;
mod shop;
mod sources;
mod tidy;
