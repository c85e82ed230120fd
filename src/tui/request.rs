//! What the crew wants from outside the screen.

use super::replay;
use crate::watch::input::Command;

/// What the crew wants from outside the screen.
#[derive(Clone, Debug, PartialEq)]
pub enum Request {
    /// For the watch.
    Crew(Command),
    /// Another machine is to keep the watch: this one if it stands by, else one that does.
    ChangePlaces,
    /// For the replay of a recorded night.
    Replay(replay::Act),
    /// Stop the watch and leave.
    Quit,
}
