//! nightrode
pub mod config;
pub mod edge;
pub mod watch;
