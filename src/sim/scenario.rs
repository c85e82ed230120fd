//! Everything that is decided about a night before it begins.

use serde::{Deserialize, Serialize};

use super::anchor::AnchorBehaviour;
use super::chart::Chart;
use super::crew::Crew;
use super::gnss::Receiver;
use super::hull::{AIR, Handling};
use super::instruments::Instruments;
use super::water::{Sea, Seabed, Stream, Tide};
use super::wind::Weather;
use crate::watch::boat::{Boat, FeedSettings, Limits, Settings, Tackle};
use crate::watch::geo::{Local, Position};
use crate::watch::units::{Knots, Metres, Newtons, Span, WatchTime};

/// A night at anchor, as it will be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scenario {
    /// The boat, as her crew entered her.
    pub boat: Boat,
    /// Her rode and anchor.
    pub tackle: Tackle,
    /// How she lies to the wind.
    pub handling: Handling,
    /// How much snubber and bow give, metres for each kilonewton.
    pub give_m_per_kn: f64,
    /// The anchorage's name.
    pub place_name: String,
    /// Where the crew means to let go: origin of every [`Local`] in the truth.
    pub place: Position,
    /// When the night begins, some minutes before the anchor goes.
    pub start: WatchTime,
    /// How long it lasts.
    pub duration: Span,
    /// The ground.
    pub seabed: Seabed,
    /// The tide.
    pub tide: Tide,
    /// The tidal stream.
    pub stream: Stream,
    /// The wind.
    pub weather: Weather,
    /// The sea that the wind raises.
    pub sea: Sea,
    /// Rode out in truth.
    pub veered: Metres,
    /// How the anchor holds.
    pub anchor: AnchorBehaviour,
    /// Satellite receivers; the first has feed 0, and the instruments' feed follows the last.
    pub receivers: Vec<Receiver>,
    /// Other instruments.
    pub instruments: Instruments,
    /// The crew.
    pub crew: Crew,
    /// Seed of all chance within the night.
    pub seed: u64,
}

impl Scenario {
    /// What the crew has in the boat's file for this night: the watch's settings.
    #[must_use]
    pub fn settings(&self) -> Settings {
        let feeds = self.feed_names().into_iter().zip(0u8..);
        Settings {
            boat: self.boat.clone(),
            tackle: self.tackle.clone(),
            limits: Limits::default(),
            feeds: feeds.map(|(name, priority)| FeedSettings { name, priority }).collect(),
            ..Settings::default()
        }
    }

    /// Names of the feeds in the order of their numbers: `gps`, `gps2` …, then `bus`.
    #[must_use]
    pub fn feed_names(&self) -> Vec<String> {
        let gps = |i: usize| if i == 0 { "gps".into() } else { format!("gps{}", i + 1) };
        (0..self.receivers.len()).map(gps).chain(["bus".to_string()]).collect()
    }

    /// The position of a point of the truth.
    #[must_use]
    pub fn position_of(&self, local: Local) -> Position {
        Chart::new(self.place).position(local)
    }

    /// Load of a steady wind on her when she lies head to it.
    #[must_use]
    pub fn wind_load(&self, wind: Knots) -> Newtons {
        wind_load(&self.handling, wind)
    }
}

/// Load of a steady wind from ahead: `½ρV²` times drag area.
pub(super) fn wind_load(handling: &Handling, wind: Knots) -> Newtons {
    Newtons(0.5 * AIR * wind.mps() * wind.mps() * handling.windage_m2)
}
