//! The boat, her ground tackle, and the limits that her crew set: checked once, then trusted.

mod berth;
pub mod limits;
pub mod ranges;

use serde::{Deserialize, Serialize};

pub use berth::{Berth, Snubber};
pub use limits::Limits;

use super::forecast::Forecast;
use super::rode::{Engine, Weather};
use super::units::{Metres, TrueBearing};
use super::way_out::WayOut;

/// How the boat floats: one hull or more.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hull {
    /// One hull.
    #[default]
    Monohull,
    /// Two hulls.
    Catamaran,
    /// Three hulls.
    Trimaran,
}

/// The boat's measures, as far as the watch needs them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Boat {
    /// Her name, for the screen and the report.
    pub name: String,
    /// One hull or more.
    pub hull: Hull,
    /// Length overall.
    pub loa: Metres,
    /// Greatest beam.
    pub beam: Metres,
    /// Draft: waterline to the lowest point of the keel.
    pub draft: Metres,
    /// Height of the bow roller above the water.
    pub bow_height: Metres,
    /// Displacement in kilograms.
    pub displacement_kg: f64,
    /// Entered windage: drag coefficient times frontal area, square metres.
    pub windage_m2: Option<f64>,
    /// How far the position antenna stands aft of the bow roller.
    pub antenna_aft: Metres,
    /// How far the position antenna stands to starboard of the centreline; negative to port.
    pub antenna_starboard: Metres,
    /// How far the echo sounder's transducer sits below the water.
    pub sounder_below_water: Metres,
}

/// The rode and anchor she carries.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tackle {
    /// Diameter of the chain's bar in millimetres; 0 when she carries none.
    pub chain_mm: f64,
    /// Length of chain, next to the anchor.
    pub chain: Metres,
    /// Diameter of the rope in millimetres; 0 when she carries none.
    pub rope_mm: f64,
    /// Length of rope behind the chain.
    pub rope: Metres,
    /// Mass of the anchor in kilograms, if entered.
    pub anchor_kg: Option<f64>,
}

/// A mark on the rode that shows how much is out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RodeMark {
    /// Length from the anchor.
    pub at: Metres,
    /// How it looks: "two red links".
    pub look: String,
}

/// Who keeps watch, and what they look at on their rounds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Crew {
    /// Their names, in the order of their watches.
    #[serde(default)]
    pub names: Vec<String>,
    /// The rota; empty: nobody is named.
    #[serde(default)]
    pub rota: Vec<RotaTurn>,
    /// What they look at on a round beside the usual list, in their own words.
    #[serde(default)]
    pub own_checks: Vec<String>,
}

/// One turn of the rota: the same hours each day.
///
/// Hours are kept in UTC: a turn is the same moment wherever the file is read, and whatever zone the computer is set to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RotaTurn {
    /// Who.
    pub name: String,
    /// Minute of the UTC day at which it begins, `0..1440`.
    pub from_min: u16,
    /// Minute of the UTC day at which it ends, `0..1440`; not later than `from_min`: it ends the next day.
    pub to_min: u16,
}

/// A sector of the horizon, clockwise from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sector {
    /// Where the sector begins.
    pub from: TrueBearing,
    /// Where the sector ends, going clockwise.
    pub to: TrueBearing,
}

impl Sector {
    /// True if `bearing` lies in the sector, its ends included.
    #[must_use]
    pub fn contains(&self, bearing: TrueBearing) -> bool {
        let width = (self.to.degrees() - self.from.degrees()).rem_euclid(360.0);
        (bearing.degrees() - self.from.degrees()).rem_euclid(360.0) <= width
    }
}

/// A feed as the crew configured it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FeedSettings {
    /// Short name, as it stands in the log's TAG blocks: 1–15 of `a–z A–Z 0–9 - _`.
    pub name: String,
    /// 0 is believed first.
    pub priority: u8,
}

/// A first look at where a feed comes from, as the crew writes it: its kind is known and something follows. The feed
/// itself looks closer.
#[must_use]
pub fn is_source(source: &str) -> bool {
    let kinds = ["serial:", "udp:", "tcp:", "gpsd:", "signalk:", "signalk-wss:", "can:", "file:"];
    source == "-" || kinds.iter().any(|kind| source.strip_prefix(kind).is_some_and(|rest| !rest.is_empty()))
}

/// Everything that a watch needs to know before its first input.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// The boat.
    pub boat: Boat,
    /// Her rode and anchor.
    pub tackle: Tackle,
    /// The limits at the start.
    pub limits: Limits,
    /// Feeds in the order of `FeedId`; feeds not named here are added as they are heard, last in priority.
    pub feeds: Vec<FeedSettings>,
    /// Marks on the rode, the nearest to the anchor first.
    #[serde(default)]
    pub marks: Vec<RodeMark>,
    /// The crew.
    #[serde(default)]
    pub crew: Crew,
    /// The engine that sets the anchor, as far as it was entered.
    #[serde(default)]
    pub engine: Engine,
    /// Wind and stream that the stay was planned for.
    #[serde(default)]
    pub expected: Option<Weather>,
    /// What else was planned of it.
    #[serde(default)]
    pub planned: Planned,
}

/// What a plan of the stay says of the night ahead and the place.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Planned {
    /// The wind by the hour.
    #[serde(default)]
    pub forecast: Option<Forecast>,
    /// What is known of the berth.
    #[serde(flatten)]
    pub berth: Berth,
    /// The crew's way out.
    #[serde(default)]
    pub way_out: Option<WayOut>,
}

impl Default for Settings {
    /// A middling sloop, used where a log comes without a ride file.
    fn default() -> Self {
        Self {
            boat: Boat::default(),
            tackle: Tackle::default(),
            limits: Limits::default(),
            feeds: Vec::new(),
            marks: Vec::new(),
            crew: Crew::default(),
            engine: Engine::default(),
            expected: None,
            planned: Planned::default(),
        }
    }
}

impl Default for Boat {
    /// A middling sloop of 10 m: common practice, no source.
    fn default() -> Self {
        Self {
            name: "unnamed".into(),
            hull: Hull::Monohull,
            loa: Metres(10.0),
            beam: Metres(3.3),
            draft: Metres(1.8),
            bow_height: Metres(1.2),
            displacement_kg: 5000.0,
            windage_m2: None,
            antenna_aft: Metres(9.0),
            antenna_starboard: Metres(0.0),
            sounder_below_water: Metres(0.5),
        }
    }
}

impl Default for Tackle {
    /// Fifty metres of 8 mm chain: common practice, no source.
    fn default() -> Self {
        Self { chain_mm: 8.0, chain: Metres(50.0), rope_mm: 0.0, rope: Metres(0.0), anchor_kg: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sector_may_cross_north() {
        let sector = Sector { from: TrueBearing::new(330.0), to: TrueBearing::new(20.0) };
        assert!(sector.contains(TrueBearing::new(350.0)) && sector.contains(TrueBearing::new(20.0)));
        assert!(!sector.contains(TrueBearing::new(21.0)) && !sector.contains(TrueBearing::new(180.0)));
    }
}
