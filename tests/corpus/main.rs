//! The program on recordings by others: sentences, the judge of dragging, simulated receivers, tides.

#[path = "../support/recordings.rs"]
mod recordings;

mod holding;
mod receivers;
mod sentences;
mod tide;
