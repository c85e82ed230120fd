//! Check lists: what a careful crew looks at before it lets go, leaves her, and weighs.
//!
//! Common practice, no source; the crew's own list takes the place of any of these.

/// Three short lists.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checks {
    /// Before letting go.
    pub before: Vec<String>,
    /// Before leaving her.
    pub leaving: Vec<String>,
    /// Before weighing.
    pub weighing: Vec<String>,
}

/// One of the lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CheckList {
    /// Before letting go.
    Before,
    /// On leaving her.
    Leaving,
    /// Before weighing.
    Weighing,
}

impl CheckList {
    /// All, in the order of a stay.
    pub const ALL: [Self; 3] = [Self::Before, Self::Leaving, Self::Weighing];

    /// What heads it.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Before => "BEFORE LETTING GO",
            Self::Leaving => "ON LEAVING HER",
            Self::Weighing => "BEFORE WEIGHING",
        }
    }

    /// The one after it, and after the last the first.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Before => Self::Leaving,
            Self::Leaving => Self::Weighing,
            Self::Weighing => Self::Before,
        }
    }
}

impl Checks {
    /// The lines of a list.
    #[must_use]
    pub fn of(&self, list: CheckList) -> &[String] {
        match list {
            CheckList::Before => &self.before,
            CheckList::Leaving => &self.leaving,
            CheckList::Weighing => &self.weighing,
        }
    }
}

impl Default for Checks {
    fn default() -> Self {
        let list = |lines: &[&str]| lines.iter().map(|line| (*line).to_owned()).collect();
        Self {
            before: list(&[
                "Depth at the lowest and the highest water of the stay, and the bottom.",
                "Room to swing with wind and stream turned, and what the neighbours ride to.",
                "Shelter from the wind and swell that are forecast, and a way out by night.",
                "Anchor free to run, bitter end fast, rode flaked, somebody at the roller.",
                "Hand signals agreed. No cables, pipes or forbidden ground on the chart.",
            ]),
            leaving: list(&[
                "She has held since she was brought up, through a turn of wind or stream if there was one.",
                "Marks taken, and they stand. Snubber on, chafe gear in place.",
                "Somebody can come back in time, and knows the forecast.",
                "Anchor light or ball up; cockpit light for the way home.",
                "Sea-cocks, hatches, dinghy painter, and who ashore can be called.",
            ]),
            weighing: list(&[
                "Engine warm, in neutral; somebody at the roller; a way out to leeward.",
                "Neighbours' rodes clear of hers; nothing over the side for the propeller.",
                "Motor up to the anchor, never haul her with the windlass, do not drive over it.",
                "Anchor washed and fast before she gathers way.",
            ]),
        }
    }
}
