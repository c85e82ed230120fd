//! Rounds: the watchkeeper's check on deck, when it is due, and whose watch it is.

mod acts;
mod haste;
mod rota;

use std::sync::Arc;

use serde::{Deserialize, Serialize};

pub(super) use self::acts::Rounds;
use super::units::{Span, WatchTime};

/// What is looked at on a round.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RoundItem {
    /// Bearings of marks by hand, within their arcs.
    Bearings,
    /// Anchor light or ball.
    Lights,
    /// Snubber and chafe.
    Snubber,
    /// Depth, against what the tide makes it.
    Depth,
    /// Wind and sky.
    Wind,
    /// Neighbours: who came, who moved, who lies too near.
    Neighbours,
    /// Something of the crew's own list, in their words.
    Own(String),
}

impl RoundItem {
    /// The usual list, in the order in which one goes round.
    pub const USUAL: [Self; 6] =
        [Self::Bearings, Self::Lights, Self::Snubber, Self::Depth, Self::Wind, Self::Neighbours];

    /// What it is called.
    #[must_use]
    pub fn words(&self) -> &str {
        match self {
            Self::Bearings => "bearings",
            Self::Lights => "lights",
            Self::Snubber => "snubber and chafe",
            Self::Depth => "depth",
            Self::Wind => "wind",
            Self::Neighbours => "neighbours",
            Self::Own(words) => words,
        }
    }
}

/// Something that is not as it should be, or not as it was.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Differs {
    /// Which item.
    pub item: RoundItem,
    /// What is different, in the watchkeeper's words; may be empty.
    pub note: String,
}

/// A round, as the watchkeeper enters it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundMade {
    /// Who made it; `None`: whoever is on watch.
    #[serde(default)]
    pub by: Option<String>,
    /// What was looked at and found in order.
    pub checked: Vec<RoundItem>,
    /// What differs.
    #[serde(default)]
    pub differs: Vec<Differs>,
}

/// A round that was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoundDone {
    /// When.
    pub at: WatchTime,
    /// Who made it, if it is known.
    pub by: Option<String>,
    /// What was found in order.
    pub checked: Vec<RoundItem>,
    /// What was not.
    pub differs: Vec<Differs>,
}

/// How the next round stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RoundState {
    /// None is asked for.
    #[default]
    None,
    /// It is to come.
    Ahead,
    /// It is due.
    Due,
    /// It is late.
    Overdue,
}

/// An item of the next round, with what the instruments say of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoundLine {
    /// The item.
    pub item: RoundItem,
    /// What to compare with what is seen on deck: "5.1 m by the sounder, 5.0 m by the tide". Empty if nothing is known.
    pub shows: String,
}

/// A turn of the rota as it falls about now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OnWatch {
    /// Who.
    pub name: Arc<str>,
    /// From when.
    pub from: WatchTime,
    /// Until when.
    pub until: WatchTime,
}

/// Rounds and rota.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoundsView {
    /// How the next round stands.
    pub state: RoundState,
    /// The crew's interval.
    pub every: Option<Span>,
    /// The interval as it is now: weather or a creeping anchor shortens it.
    pub every_now: Option<Span>,
    /// Why it is shortened, in words; empty if it is not.
    pub shortened: Vec<String>,
    /// When the next round is due.
    pub due: Option<WatchTime>,
    /// The list of the next round.
    pub lines: Vec<RoundLine>,
    /// Rounds made in this ride, oldest first, at most 100.
    pub done: Arc<Vec<RoundDone>>,
    /// Who is on watch now by the rota.
    pub on_now: Option<OnWatch>,
    /// Who is called next.
    pub next: Option<OnWatch>,
}
