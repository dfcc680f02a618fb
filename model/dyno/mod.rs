//! (being written)
pub mod correction;
