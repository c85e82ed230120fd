//! What may an anchor hold on this bottom?

use serde::{Deserialize, Serialize};

use super::gear::GRAVITY;
use crate::watch::units::Newtons;

/// What the chart, the lead or the last anchor's flukes say of the bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Seabed {
    /// Firm sand.
    Sand,
    /// Coarse or loose sand.
    LooseSand,
    /// Stiff, dense clay.
    StiffClay,
    /// Sticky clay or firm mud.
    Mud,
    /// Soft mud, silt.
    SoftMud,
    /// Gravel, shingle, shell.
    Gravel,
    /// Weed or kelp over anything.
    Weed,
    /// Rock.
    Rock,
}

impl Seabed {
    /// All of them, best known first.
    pub const ALL: [Self; 8] = [
        Self::Sand,
        Self::LooseSand,
        Self::StiffClay,
        Self::Mud,
        Self::SoftMud,
        Self::Gravel,
        Self::Weed,
        Self::Rock,
    ];

    /// The word for it in files and arguments.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Sand => "sand",
            Self::LooseSand => "loose-sand",
            Self::StiffClay => "stiff-clay",
            Self::Mud => "mud",
            Self::SoftMud => "soft-mud",
            Self::Gravel => "gravel",
            Self::Weed => "weed",
            Self::Rock => "rock",
        }
    }

    /// Its name in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sand => "firm sand",
            Self::LooseSand => "loose sand",
            Self::StiffClay => "stiff clay",
            Self::Mud => "mud",
            Self::SoftMud => "soft mud",
            Self::Gravel => "gravel",
            Self::Weed => "weed",
            Self::Rock => "rock",
        }
    }

    /// Resistance beside that of firm sand, after R. S. Crenshaw, *Naval Shiphandling*, as quoted by an anchoring
    /// guide. `None` where an anchor catches or does not, and nothing can be calculated.
    const fn beside_sand(self) -> Option<f64> {
        match self {
            Self::StiffClay => Some(1.5),
            Self::Sand => Some(1.0),
            Self::Mud => Some(0.66),
            Self::LooseSand | Self::SoftMud | Self::Gravel => Some(0.33),
            Self::Weed | Self::Rock => None,
        }
    }
}

/// Hold of a well set yacht anchor in firm sand, times its weight, poorest and best type: the order of magnitude of
/// published trials, from memory. Times 0.33 it gives 5–20 in soft mud, where 45 lb anchors held 17 times their weight
/// at best in a published trial (Practical Sailor, on trials of 2014).
const SAND_TIMES_WEIGHT: (f64, f64) = (15.0, 60.0);

/// What an anchor may hold: a range, never a promise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hold {
    /// A poor anchor, or a poor set.
    pub least: Newtons,
    /// A good anchor, dug in well.
    pub most: Newtons,
}

/// The range within which a well set anchor may hold, pulled along the bottom.
///
/// The same anchor on the same ground differs by half from one set to the next, and types differ fourfold. Past 8° of
/// pull it falls sharply, past 12° there is little left (as testers report). `None` on weed and rock.
#[must_use]
pub fn hold(anchor_kg: f64, seabed: Seabed) -> Option<Hold> {
    let weight_n = anchor_kg * GRAVITY;
    seabed.beside_sand().map(|share| Hold {
        least: Newtons(SAND_TIMES_WEIGHT.0 * share * weight_n),
        most: Newtons(SAND_TIMES_WEIGHT.1 * share * weight_n),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn soft_mud_holds_what_a_published_trial_measured() {
        // 45 lb anchors: 750 lbf for the best of one make, a third to a half of it for older types.
        let hold = hold(45.0 * 0.453_592_37, Seabed::SoftMud).unwrap();
        assert!(hold.least.0 < 300.0 * 4.448 && 750.0 * 4.448 < hold.most.0, "{hold:?}");
    }

    #[test]
    fn nothing_is_promised_on_rock_or_weed() {
        assert_eq!((hold(20.0, Seabed::Rock), hold(20.0, Seabed::Weed)), (None, None));
    }
}
