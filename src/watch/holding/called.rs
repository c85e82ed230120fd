//! What was the crew called for? `drag` stays until they say otherwise, `creep` for as long as it lasts.

use super::tuning::call;
use crate::watch::geo::Local;
use crate::watch::units::WatchTime;

/// What the crew was called for.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Called {
    /// `drag`: from then on, until the crew says otherwise.
    pub drag: Option<WatchTime>,
    /// `creep`, while it lasts.
    pub creep: Option<WatchTime>,
    /// Since when a movement is taken to have begun.
    pub began: Option<WatchTime>,
    /// The place and the reach that explained most when `drag` was called: from there the movement counts.
    pub from: Option<(Local, usize)>,
    good_since: Option<WatchTime>,
}

/// What speaks for a moved anchor in a step.
pub(super) struct Speaks {
    /// By both accounts, with what the crew found, nats.
    pub nats: f64,
    /// By the slow account, with what the crew found, nats.
    pub slow_nats: f64,
    /// The same without what they found to speak for it: an opened transit and a jerking rode are no `drag` alone.
    pub slow_alone_nats: f64,
    /// Error over minutes of the bow's place, metres.
    pub wander_m: f64,
}

impl Speaks {
    fn calls_drag(&self) -> bool {
        let is_steady = self.wander_m < call::STEADY_M;
        // Both must say so: a mark that is far off costs the slow account what the other knows better.
        let slow_nats = self.slow_alone_nats.min(self.nats);
        self.nats > call::DRAG_NATS || is_steady && slow_nats > call::SLOW_DRAG_NATS
    }
}

impl Called {
    /// A step's evidence.
    pub fn step(&mut self, at: WatchTime, speaks: &Speaks) {
        if self.drag.is_some() {
            return;
        }
        if speaks.nats < call::BEGAN_NATS {
            self.began = None;
        } else {
            self.began.get_or_insert(at);
        }
        if speaks.calls_drag() {
            self.drag = Some(at);
        }
        if speaks.slow_nats > call::CREEP_NATS {
            self.creep.get_or_insert(at);
            self.good_since = None;
        } else {
            let since = *self.good_since.get_or_insert(at);
            if at.since(since) > call::RECTIFIED_AFTER {
                self.creep = None;
            }
        }
    }

    /// Nothing speaks against the anchor.
    pub fn is_good(&self) -> bool {
        self.drag.is_none() && self.good_since.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A step in which the slow account alone speaks, with `told` nats by what the crew found.
    fn slowly(nats: f64, told: f64, wander_m: f64) -> Called {
        let mut called = Called::default();
        let speaks = Speaks { nats, slow_nats: nats + told, slow_alone_nats: nats, wander_m };
        called.step(WatchTime(0), &speaks);
        called
    }

    #[test]
    fn what_a_steady_receiver_shows_over_minutes_is_enough() {
        assert!(slowly(3.6, 0.0, 2.0).drag.is_some());
        assert!(slowly(3.4, 0.0, 2.0).drag.is_none() && slowly(3.4, 0.0, 2.0).creep.is_some());
        let wanders = slowly(3.6, 0.0, 4.0);
        assert!(
            wanders.drag.is_none() && wanders.creep.is_some(),
            "errors that last pass for a movement: {wanders:?}"
        );
    }

    #[test]
    fn eyes_and_hands_alone_are_no_drag() {
        assert!(slowly(0.0, 4.0, 1.0).drag.is_none());
    }

    #[test]
    fn a_mark_that_is_far_off_is_no_drag() {
        let mut called = Called::default();
        let speaks = Speaks { nats: 0.0, slow_nats: 3.6, slow_alone_nats: 3.6, wander_m: 1.5 };
        called.step(WatchTime(0), &speaks);
        assert!(called.drag.is_none() && called.creep.is_some());
    }
}
