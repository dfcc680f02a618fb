//! The world, the laws, and yesterday.

mod bad_input;
mod layers;
mod sources;
mod tidy;
