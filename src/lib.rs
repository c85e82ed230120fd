//! nightrode
pub mod edge;
pub mod watch;
