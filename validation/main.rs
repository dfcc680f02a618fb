//! Checks against published sources.
mod units;
