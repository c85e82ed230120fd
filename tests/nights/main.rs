//! Whole nights: recorded watches, the small trial, coming to anchor, and whether the simulator is like the sea.

#[path = "../support/expected.rs"]
mod expected;
#[path = "../support/mod.rs"]
mod support;

mod setting;
mod simulator;
mod trial;
mod watches;
mod wires;
