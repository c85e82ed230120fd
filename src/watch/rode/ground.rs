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

impl Hold {
    /// What is left of it when the pull arrives so many degrees above the bottom.
    #[must_use]
    pub fn pulled_up(&self, angle_deg: f64) -> Self {
        let left = left_at(angle_deg);
        Self { least: self.least * left, most: self.most * left }
    }
}

/// Degrees of the pull above the bottom, and the share of the hold that is left: common practice, no source, drawn below
/// the table that handbooks print by scope with a straight rode (10:1 100 %, 7:1 91 %, 5:1 77 %, 4:1 67 %, 3:1 53 %, 2:1
/// 35 %; from memory), because testers find more lost: "any greater than 12 degrees will greatly reduce holding power"
/// (a tester's published article on short scope).
const LEFT: [(f64, f64); 7] =
    [(0.0, 1.0), (5.0, 0.97), (8.0, 0.85), (12.0, 0.5), (20.0, 0.25), (30.0, 0.1), (45.0, 0.0)];

/// The share of the hold that is left when the pull arrives so many degrees above the bottom.
#[must_use]
pub fn left_at(angle_deg: f64) -> f64 {
    let angle = angle_deg.max(0.0);
    let between = LEFT.windows(2).find(|pair| angle <= pair[1].0);
    between.map_or(0.0, |pair| {
        let ((low, left), (high, less)) = (pair[0], pair[1]);
        left + (less - left) * (angle - low) / (high - low)
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

    /// The table by scope, its rode straight: sin of the angle is one over the scope.
    #[test]
    fn the_hold_left_is_never_more_than_the_printed_table() {
        for (scope, printed) in [(10.0, 1.0), (7.0, 0.91), (5.0, 0.77), (4.0, 0.67), (3.0, 0.53), (2.0, 0.35)]
        {
            let left = left_at(f64::asin(1.0 / scope).to_degrees());
            assert!(left <= printed, "{scope}:1: {left} against {printed}");
        }
        assert!(left_at(0.0) == 1.0 && left_at(8.0) > 0.8 && left_at(12.0) <= 0.5 && left_at(60.0) == 0.0);
    }
}
