//! What the crew knows of the berth where she lies beside its depth: the bottom, the open water, the shore; and what she rides
//! to there.

use serde::{Deserialize, Serialize};

use super::{Sector, Tackle};
use crate::watch::rode::{Fibre, Locker, OpenWater, RodeError, Seabed, fetch_in_words, rope};
use crate::watch::slope::Slope;
use crate::watch::units::Metres;

/// A snubber.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Snubber {
    /// Diameter in millimetres.
    pub size_mm: f64,
    /// Length from its hook to the bow.
    pub length: Metres,
}

impl Snubber {
    /// How one is written.
    pub const AS_WRITTEN: &'static str = "write its size in millimetres by its length in metres: 12x6";

    /// `12x6`: millimetres by metres, or by feet as in `12x20ft`. `None` for what is no such thing.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let (size, length) = text.split_once('x')?;
        let size_mm = size.trim().parse().ok().filter(|size: &f64| size.is_finite())?;
        Some(Self { size_mm, length: Metres::read(length)? })
    }
}

/// The berth.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Berth {
    /// The bottom.
    #[serde(default)]
    pub seabed: Option<Seabed>,
    /// The open water.
    #[serde(default)]
    pub open: OpenWater,
    /// Bearings from the anchor on which land or shoal water lies.
    #[serde(default)]
    pub shore: Vec<Sector>,
    /// How the bottom slopes, as the chart has it: it counts until soundings show it.
    #[serde(default)]
    pub slope: Option<Slope>,
    /// The nylon snubber that she rides to.
    #[serde(default)]
    pub snubber: Option<Snubber>,
    /// True if she rides to a bridle, which more than one hull can spread.
    #[serde(default)]
    pub bridle: bool,
}

impl Berth {
    /// The rode as she rides to it here, and the same without its snubber where there is one.
    ///
    /// # Errors
    /// If rode or snubber cannot be calculated with.
    pub fn lockers(&self, tackle: &Tackle) -> Result<(Locker, Option<Locker>), RodeError> {
        let bare = Locker::of(tackle)?;
        Ok(match self.snubber {
            Some(snubber) => {
                let soft = bare.snubbed(rope(Fibre::Nylon, snubber.size_mm, snubber.length)?);
                (soft, Some(bare))
            }
            None => (bare, None),
        })
    }

    /// In a line: `mud; open SW 2 M; snubber 12 mm, 6 m`.
    #[must_use]
    pub fn in_words(&self) -> String {
        let mut words = Vec::new();
        words.extend(self.seabed.map(|seabed| seabed.name().to_owned()));
        if !self.open.fetch.is_empty() {
            words.push(format!("open water {}", fetch_in_words(&self.open.fetch)));
        }
        if !self.shore.is_empty() {
            let sector = |s: &Sector| format!("{}-{}", s.from, s.to);
            words.push(format!("shore {}", self.shore.iter().map(sector).collect::<Vec<_>>().join(", ")));
        }
        words.extend(self.slope.map(|slope| slope.in_words()));
        words.extend(self.snubber.map(|s| format!("snubber {} mm, {} m", s.size_mm, s.length.0)));
        words.extend(self.bridle.then(|| "bridle".to_owned()));
        if words.is_empty() { "nothing known".to_owned() } else { words.join("; ") }
    }
}
