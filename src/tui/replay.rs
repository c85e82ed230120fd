//! A recorded night on the screen: what its time bar shows, and how it is moved through.

use std::sync::Arc;

use crate::watch::units::{Span, WatchTime};

/// How far out she lay, on the bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// From when on.
    pub at: WatchTime,
    /// Distance over the circle; `None` where nothing was watched.
    pub share: Option<f64>,
}

/// What a mark on the bar is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// An alarm was raised.
    Alarm,
    /// A warning or caution was raised.
    Warning,
    /// The wind had shifted.
    Shift,
    /// The crew did something.
    Act,
}

/// A moment worth going to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// When.
    pub at: WatchTime,
    /// What for.
    pub kind: MarkKind,
    /// In words.
    pub words: String,
}

/// A recorded night at a glance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Night {
    /// Name of the ride or log.
    pub name: String,
    /// Its beginning.
    pub from: WatchTime,
    /// Its end.
    pub to: WatchTime,
    /// How far out she lay, oldest first.
    pub heat: Vec<Heat>,
    /// Moments worth going to, oldest first.
    pub marks: Vec<Mark>,
    /// When the watch was asleep, or nothing at all was received.
    pub gaps: Vec<(WatchTime, WatchTime)>,
    /// What is supposed instead of what was, in words; empty: it is the night as it was.
    pub what_if: String,
}

/// How the replay stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Playing {
    /// The night.
    pub night: Arc<Night>,
    /// The moment shown.
    pub now: WatchTime,
    /// It runs by itself.
    pub runs: bool,
    /// So many times faster than it was.
    pub speed: f64,
}

/// Speeds that can be chosen.
pub const SPEEDS: [f64; 10] = [1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1000.0];

impl Playing {
    /// The next speed up or down.
    #[must_use]
    pub fn changed(&self, faster: bool) -> f64 {
        let next = if faster {
            SPEEDS.into_iter().find(|speed| *speed > self.speed * 1.001)
        } else {
            SPEEDS.into_iter().rev().find(|speed| *speed < self.speed * 0.999)
        };
        next.unwrap_or(self.speed)
    }
}

/// What the crew wants of the replay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Run, or stand still.
    RunOrStop,
    /// Faster, or slower.
    Speed {
        /// Faster.
        faster: bool,
    },
    /// So much on, or back.
    Step(Span),
    /// To the next mark, or the one before.
    Mark {
        /// The next.
        forward: bool,
    },
    /// To a moment.
    To(WatchTime),
}
