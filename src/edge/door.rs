//! The door of a running watch: other screens on this machine, and scripts, come in by it.
//!
//! It is a local socket in a folder for its owner alone. Nothing of it is reached from the network: from another machine
//! one comes through `ssh`. Whoever follows hears the ride so far, then every input as the watch takes it, and keeps a
//! watch of its own on that. The other way come commands, which the keeper stamps, keeps and answers.
//!
//! The keeper writes what it takes into one [`past::Past`], and every peer reads that at a place of its own: nothing is
//! queued for a peer, so a slow one costs no memory and holds nobody up.

pub mod find;
pub mod frame;
pub mod link;
pub mod past;
pub mod peer;
pub mod post;
pub mod replica;
#[cfg(unix)]
pub mod socket;
pub mod status;
pub mod tether;
