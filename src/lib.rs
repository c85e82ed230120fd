//! nightrode
pub mod cli;
pub mod config;
pub mod edge;
pub mod report;
pub mod sim;
pub mod tui;
pub mod watch;
