//! The world, the laws, and yesterday.

mod laws;
mod layers;
mod sources;
mod tidy;
