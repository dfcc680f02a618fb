//! Checks against published sources.

mod nist_strd;
mod ode_problems;
