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
    /// The code that opens the page on a phone is to be shown.
    PhoneCode,
    /// For the replay of a recorded night.
    Replay(replay::Act),
    /// Stop the watch and leave.
    Quit,
}
