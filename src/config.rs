//! What do the crew's files say? Text to checked settings, and back.
//!
//! `boat.toml` describes the boat and how she is watched, `ride.toml` one stay at anchor, `plan.toml` one that is being
//! thought of. They are documented key by key in `docs/sailing/files.md` and `docs/sailing/plan.md`. Nothing here touches a file: text comes in, text goes out. Every fault names its key, its
//! line and what would be allowed; all faults of a file are reported at once.

mod alerts_table;
mod berth_tables;
pub mod boat_file;
pub mod checks_file;
mod crew_table;
pub mod keys;
pub mod page_table;
pub mod place_file;
pub mod plan_file;
pub mod problem;
mod reader;
pub mod ride_file;
mod settings;
mod wind_tables;

pub use alerts_table::AlertSettings;
pub use boat_file::{BoatFile, FeedSource, FirstFacts, boat_toml, read_boat};
pub use page_table::PageSettings;
pub use plan_file::{PlanFile, plan_toml, read_plan};
pub use problem::{Problem, Problems};
pub use ride_file::{DropMark, RideFile, Stands, read_ride};
pub use settings::MOST_FEEDS;

/// Something read, and what looks odd about it though it is allowed.
#[derive(Clone, Debug, PartialEq)]
pub struct Read<T> {
    /// What was read.
    pub value: T,
    /// What the crew should look at again: feet where metres belong, a missing draft.
    pub doubts: Problems,
}
