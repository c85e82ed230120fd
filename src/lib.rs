//! nightrode keeps the anchor watch on a small yacht.
//!
//! It reads what the boat's instruments say, keeps the swing circle about the anchor, judges whether the anchor still
//! stands where it was, wakes the crew when it matters, and writes the night down so that it can be read again.
//!
//! It is an aid, not a look-out: COLREG Rule 5 asks for eyes and ears at anchor too, and a receiver, a computer or a
//! sound card can fail without a word.
//!
//! # Data flow
//!
//! ```text
//! serial, UDP, TCP, gpsd, file, simulator          crew's keys and commands
//!     └─ lines, stamped on arrival ─┐                    │
//!                                   ▼                    ▼
//!                   Watch::handle(at, Input) -> Vec<Output>      pure, no clock, no IO
//!                   sentence → observation → picture → ride, holding, wind, water → alerts
//!                                   │
//!       ┌───────────┬───────────────┼──────────────┬──────────────┐
//!       ▼           ▼               ▼              ▼              ▼
//!     screen      sound         ride folder    alerts out      report
//! ```
//!
//! # Layers
//!
//! | module | job | imports |
//! | --- | --- | --- |
//! | [`watch`] | decides: the whole state of the watch behind one door | nothing of ours |
//! | [`sim`] | invents nights from a seed: lines, crew and truth | `watch` |
//! | [`report`] | turns results into text and JSON | `watch` |
//! | [`config`] | text to checked settings | `watch` |
//! | [`tui`] | draws a [`watch::snapshot::Snapshot`]; keys become requests | `watch` |
//! | [`edge`] | clock, ports, sockets, disk, sound card, terminal | everything |
//! | [`cli`] | arguments, exit codes | everything |
//!
//! `tests/layering.rs` holds this. `docs/inside/architecture.md` says more, and what is left out on purpose. The last three are
//! the feature `program`, which is on by default: without it, this is a library that watches, simulates and reports.
//!
//! # Invariants
//!
//! - **One door.** All that changes a [`watch::Watch`] goes through [`watch::Watch::handle`], with the time at which it
//!   happened. Same inputs, same outputs, to the last bit and millisecond: live, replay, review, demo and trial differ
//!   only in where the inputs come from.
//! - **Every second counts.** Whatever comes in, all whole seconds that have passed are run first, in order. How often
//!   the watch is called changes nothing.
//! - **Time comes in with the data.** A [`watch::units::WatchTime`] is stamped at the edge from a clock that never runs
//!   backwards. Time of day inside a sentence is a measurement and drives no deadline.
//! - **Bad data is a value.** A damaged sentence is a counted rejection with its reason. A doubtful fix is shown and
//!   never judged by.
//! - **Bounded.** Queues, tracks, counters, notes and logs in memory have a stated greatest size.
//!
//! # Words
//!
//! | word | meaning |
//! | --- | --- |
//! | ride | one stay at anchor, from letting go to weighing |
//! | drop point | where the anchor went down |
//! | rode | chain and rope; *veered* is the length that is out |
//! | scope | veered ÷ (depth + bow height) |
//! | reach | horizontal distance from anchor to bow that the rode allows now |
//! | swing circle | reach at the lowest tide + boat length, about the anchor |
//! | brought up | riding to an anchor that has been proved to hold |
//! | drag | the anchor moves; *creep*: slowly |
//! | sheer | the yaw from side to side that a boat does at anchor |
//! | shift | change of wind direction since brought up |
//! | stream | tidal current |
//! | under keel | depth − draft |
//! | feed | whatever brings sentences: a port, a socket, a file |

#[cfg(feature = "program")]
pub mod cli;
pub mod config;
#[cfg(feature = "program")]
pub mod edge;
pub mod report;
pub mod sim;
#[cfg(feature = "program")]
pub mod tui;
pub mod watch;
