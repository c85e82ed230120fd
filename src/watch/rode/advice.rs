//! When does the last link lift, and how much must be veered?

use super::catenary::{self, shape};
use super::gear::Locker;
use super::{Line, RodeError};
use crate::watch::units::{Metres, Newtons};

/// Pull at the anchor, degrees above the bottom, at which the hold of most anchors begins to suffer, and beyond which it
/// falls sharply: as testers report it.
pub const ANGLES_DEG: [f64; 2] = [5.0, 8.0];

/// Pull past which an anchor holds little, degrees: "any angle greater than 12 degrees will greatly reduce holding power"
/// (a tester's published article on short scope).
pub const USELESS_DEG: f64 = 12.0;

/// The hardest pull that is looked at: no yacht's gear lives to see it.
const PULL_N_MOST: f64 = 1e6;

/// The pulls at which a rode stops lying on the bottom and begins to lift the anchor's shank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// The last link lifts.
    pub lifts: Option<Newtons>,
    /// The pull at the anchor rises to 5°; `None` if it never does.
    pub five_degrees: Option<Newtons>,
    /// The same for 8°.
    pub eight_degrees: Option<Newtons>,
}

/// The thresholds of a rode.
///
/// # Errors
/// As [`shape`].
pub fn thresholds(line: &Line, height: Metres) -> Result<Thresholds, RodeError> {
    Ok(Thresholds {
        lifts: pull_raising(line, height, 0.0)?,
        five_degrees: pull_raising(line, height, ANGLES_DEG[0])?,
        eight_degrees: pull_raising(line, height, ANGLES_DEG[1])?,
    })
}

/// The least horizontal pull at the bow with which the pull at the anchor points more than `angle_deg` up: with 0 the
/// pull that lifts the last link. `None` if no pull does it, as with a scope so long that even straight it lies flatter.
///
/// For one section that does not stretch and 0° it is w·(L² − h²)/(2h).
///
/// # Errors
/// As [`shape`].
pub fn pull_raising(line: &Line, height: Metres, angle_deg: f64) -> Result<Option<Newtons>, RodeError> {
    catenary::check("angle at the anchor", "°", angle_deg, 0.0, 89.0)?;
    let above = |pull: f64| shape(line, height, Newtons(pull)).map(|s| s.angle_anchor_deg > angle_deg);
    let mut low = 1e-3;
    let mut high = low;
    // Doubling first: a rope that stretches lies flatter again under an absurd pull.
    while !above(high)? {
        low = high;
        high *= 2.0;
        if high > PULL_N_MOST {
            return Ok(None);
        }
    }
    while high - low > 1e-9 * high {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if above(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    Ok(Some(Newtons(high)))
}

/// How much to veer, or why it cannot be done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Needed {
    /// This length does it.
    Veer(Metres),
    /// More than she carries. With all of it out the pull at the anchor still points up.
    NotCarried {
        /// All that she carries.
        carried: Metres,
        /// What it would take, if the last part of the rode were longer.
        would_take: Metres,
        /// Angle of the pull at the anchor with all of it out, degrees.
        angle_deg: f64,
    },
}

/// The least length with which a pull at the bow reaches the anchor no more than `angle_deg` above the bottom.
///
/// # Errors
/// As [`shape`]: [`RodeError::TooShort`] also where all of the rode does not reach the bottom.
pub fn needed(locker: &Locker, height: Metres, pull: Newtons, angle_deg: f64) -> Result<Needed, RodeError> {
    catenary::check("angle at the anchor", "°", angle_deg, 0.0, 89.0)?;
    let angle_with =
        |length: f64| shape(&locker.veer_as_if(Metres(length)), height, pull).map(|s| s.angle_anchor_deg);
    let carried = locker.carried();
    let with_all = angle_with(carried.0)?;
    if with_all <= angle_deg {
        // A hair more than the height: the shortest rode that has a shape.
        let shortest = (height.0 * (1.0 + 1e-9)).min(carried.0);
        return Ok(Needed::Veer(Metres(shortest_within(shortest, carried.0, angle_deg, angle_with)?)));
    }
    let mut most = 2.0 * carried.0;
    while most < catenary::LENGTH_M_MOST && angle_with(most)? > angle_deg {
        most = (2.0 * most).min(catenary::LENGTH_M_MOST);
    }
    let would_take = Metres(shortest_within(carried.0, most, angle_deg, angle_with)?);
    Ok(Needed::NotCarried { carried, would_take, angle_deg: with_all })
}

/// The length between `low` (too short) and `high` at which the angle comes down to `angle_deg`; to a micrometre.
fn shortest_within(
    mut low: f64,
    mut high: f64,
    angle_deg: f64,
    angle_with: impl Fn(f64) -> Result<f64, RodeError>,
) -> Result<f64, RodeError> {
    if angle_with(low)? <= angle_deg {
        return Ok(low);
    }
    while high - low > 1e-6 {
        let middle = 0.5 * (low + high);
        if angle_with(middle)? <= angle_deg {
            high = middle;
        } else {
            low = middle;
        }
    }
    Ok(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::boat::Tackle;

    fn locker() -> Locker {
        Locker::of(&Tackle::default()).unwrap()
    }

    #[test]
    fn the_last_link_lifts_where_the_textbook_says() {
        let line = Line::chain(Metres(40.0), 11.9366);
        let lifts = pull_raising(&line, Metres(8.0), 0.0).unwrap().unwrap();
        let textbook = 11.9366 * (40.0_f64.powi(2) - 8.0_f64.powi(2)) / (2.0 * 8.0);
        assert!((lifts.0 / textbook - 1.0).abs() < 1e-6, "{lifts:?} against {textbook}");
    }

    #[test]
    fn a_long_scope_never_reaches_eight_degrees() {
        // Even straight, 8 : 1 lies at asin(1/8) = 7.2°.
        let line = Line::chain(Metres(80.0), 11.9366);
        let all = thresholds(&line, Metres(10.0)).unwrap();
        assert!(all.lifts.is_some() && all.five_degrees.is_some() && all.eight_degrees.is_none(), "{all:?}");
    }

    #[test]
    fn what_is_needed_is_just_enough() {
        let Needed::Veer(length) = needed(&locker(), Metres(7.0), Newtons(800.0), 0.0).unwrap() else {
            panic!("50 m are enough");
        };
        let angle =
            |l| shape(&locker().veer(l).unwrap(), Metres(7.0), Newtons(800.0)).unwrap().angle_anchor_deg;
        assert_eq!(angle(length), 0.0);
        assert!(angle(length - Metres(0.01)) > 0.0);
    }

    #[test]
    fn a_rode_that_cannot_do_it_says_what_it_would_take() {
        let Needed::NotCarried { would_take, angle_deg, .. } =
            needed(&locker(), Metres(12.0), Newtons(4000.0), 0.0).unwrap()
        else {
            panic!("50 m are not enough");
        };
        assert!((60.0..120.0).contains(&would_take.0) && angle_deg > 0.0, "{would_take:?} {angle_deg}");
    }
}
