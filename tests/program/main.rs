//! The program itself as a crew runs it: in a terminal, without a screen, on feeds, and its commands.

#[cfg(unix)]
#[path = "../support/pty.rs"]
mod pty;
#[path = "../support/mod.rs"]
mod support;

mod docs;
mod door;
mod feeds;
mod guide;
mod hooks;
mod hung;
mod job;
mod kept_watch;
#[cfg(unix)]
mod kills;
mod package;
mod page;
mod pages;
mod places;
mod plan;
mod signalk;
mod terminal;
mod whole;
