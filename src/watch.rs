//! The watch itself.
pub mod geo;
pub mod units;
