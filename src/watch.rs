//! The watch itself: pure, deterministic, without clock or input and output of its own.
pub mod alert;
pub mod boat;
pub mod geo;
pub mod holding;
pub mod input;
pub mod magvar;
pub mod nmea;
pub mod plan;
pub mod rode;
pub mod room;
pub mod snapshot;
pub mod tide;
pub mod units;
