//! The world, the laws, and yesterday.

mod bad_input;
mod book;
mod laws;
mod layers;
mod sources;
mod tidy;
