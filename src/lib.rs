//! nightrode
pub mod watch;
