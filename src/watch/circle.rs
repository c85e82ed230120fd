//! The circle that raises `outside` where the crew set none: about the place where the anchor is learned to lie.
//!
//! It follows the belief of an anchor that stands, never the boat: it is moved only while the judge finds that one place
//! of the anchor explains every position, and each move is logged. A receiver that wanders widens it.

use super::geo::Position;
use super::holding::Learned;
pub(super) use super::tuning::circle::STANDS;
use super::tuning::circle::{EVERY, LONGER, MOVES, STEADY, WANDERS};
use super::units::{Metres, TrueBearing, WatchTime};

/// Where the default circle is.
#[derive(Clone, Copy, Debug, Default)]
pub struct LearnedCircle {
    learned: Option<Learned>,
    looked: Option<WatchTime>,
}

/// A move of the default circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CircleMove {
    /// How far and which way its middle lies from the mark now.
    pub from_mark: (Metres, TrueBearing),
}

impl LearnedCircle {
    /// A new anchor, or a new mark: nothing is learned yet.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// Its middle, and the true length of the rode as a share of the entered one.
    #[must_use]
    pub fn learned(&self) -> Option<Learned> {
        self.learned
    }

    /// The margin beyond reach and length: what the crew's limit says, more where the receiver wanders.
    #[must_use]
    pub fn margin(&self, least: Metres) -> Metres {
        self.learned.map_or(least, |learned| margin(learned, least))
    }

    /// Follows what is learned of an anchor that stands, about `mark`; says when it moves. `least`: the margin that the
    /// crew's limit says.
    pub fn follow(
        &mut self,
        now: WatchTime,
        mark: Position,
        learned: Learned,
        least: Metres,
    ) -> Option<CircleMove> {
        if self.looked.is_some_and(|looked| now.since(looked) < EVERY) {
            return None;
        }
        self.looked = Some(now);
        let old = self.learned.unwrap_or(Learned { anchor: mark, rode_share: 1.0, wander: Metres(0.0) });
        let is_same = old.anchor.distance_to(learned.anchor) < MOVES
            && (old.rode_share - learned.rode_share).abs() < LONGER
            && (margin(old, least) - margin(learned, least)).0.abs() < MOVES.0;
        if is_same {
            return None;
        }
        self.learned = Some(learned);
        Some(CircleMove { from_mark: mark.distance_and_bearing_to(learned.anchor) })
    }
}

fn margin(learned: Learned, least: Metres) -> Metres {
    least + (learned.wander - STEADY).max(Metres(0.0)) * WANDERS
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::units::Span;

    const LEAST: Metres = Metres(25.0);

    #[test]
    fn it_moves_with_the_learned_place_and_not_for_a_metre() {
        let mark = Position::new(50.0, -4.0).expect("a place");
        let at = |minutes| WatchTime(0) + Span::from_mins(minutes);
        let east = |metres| Learned {
            anchor: mark.destination(TrueBearing::new(90.0), Metres(metres)),
            rode_share: 1.0,
            wander: Metres(0.0),
        };
        let mut circle = LearnedCircle::default();
        assert_eq!(circle.follow(at(0), mark, east(1.0), LEAST), None);
        assert_eq!(
            circle.follow(WatchTime(30_000), mark, east(9.0), LEAST),
            None,
            "looked at only now and then"
        );
        let moved = circle.follow(at(1), mark, east(9.0), LEAST).expect("moves");
        assert!((moved.from_mark.0.0 - 9.0).abs() < 0.01, "{moved:?}");
        assert_eq!(circle.follow(at(2), mark, east(10.0), LEAST), None);
        assert!(circle.follow(at(3), mark, Learned { rode_share: 1.05, ..east(9.0) }, LEAST).is_some());
    }

    #[test]
    fn a_receiver_that_wanders_widens_it() {
        let mark = Position::new(50.0, -4.0).expect("a place");
        let mut circle = LearnedCircle::default();
        assert_eq!(circle.margin(LEAST), Metres(25.0));
        let learned = |wander| Learned { anchor: mark, rode_share: 1.0, wander: Metres(wander) };
        assert!(circle.follow(WatchTime(0), mark, learned(3.0), LEAST).is_none(), "25 m are enough");
        assert_eq!(circle.margin(LEAST), Metres(25.0));
        assert!(circle.follow(WatchTime(60_000), mark, learned(8.0), LEAST).is_some());
        assert_eq!(circle.margin(LEAST), Metres(37.0));
        assert!(circle.follow(WatchTime(120_000), mark, learned(2.0), LEAST).is_some());
        assert_eq!(circle.margin(LEAST), LEAST);
    }
}
