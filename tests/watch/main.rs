//! The watch by its one door: lines and crew's acts in, alerts and pictures out. Times are simulated.

#[path = "../support/mod.rs"]
mod support;

mod alerts;
mod checked;
mod crew;
mod holding;
mod rehearsed;
mod rounds;
mod watched;
