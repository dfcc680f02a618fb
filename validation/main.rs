//! Checks against published sources.

mod nist_strd;
