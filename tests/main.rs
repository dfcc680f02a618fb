//! The world, the laws, and yesterday.

mod layers;
mod sources;
mod tidy;
