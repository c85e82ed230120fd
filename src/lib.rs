//! nightrode
pub mod config;
pub mod edge;
pub mod report;
pub mod watch;
