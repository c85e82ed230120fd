//! What eyes and hands found of the anchor, as evidence beside that of the positions.
//!
//! It shares nothing with the receiver. What speaks for a moved anchor adds; what speaks for one that stands takes off, and
//! only of what had gathered when it was seen: what the positions say afterwards counts in full. Both fade.

use super::tuning::told as tuning;
use crate::watch::anchor_check::Found;
use crate::watch::units::WatchTime;

/// What was found in one check.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// A transit or bearing.
    pub transit: Option<Found>,
    /// A hand on the rode.
    pub rode: Option<Found>,
}

/// So many nats at a moment, and less as time passes.
#[derive(Clone, Copy, Debug, Default)]
struct Fading {
    at: WatchTime,
    nats: f64,
}

impl Fading {
    fn left(self, now: WatchTime) -> f64 {
        let hours = now.since(self.at).seconds().max(0.0) / 3600.0;
        (self.nats - tuning::FADES_NATS_PER_HOUR * hours).max(0.0)
    }
}

/// One side of it: what is left of the checks before, and the check at hand, whose answers may still be corrected.
#[derive(Clone, Copy, Debug, Default)]
struct Side {
    before: Fading,
    now: Fading,
}

impl Side {
    /// Checks do not add up: the same eyes saw the same thing again.
    fn left(&self, now: WatchTime) -> f64 {
        self.before.left(now).max(self.now.left(now))
    }

    fn begin(&mut self, at: WatchTime) {
        *self = Self { before: Fading { at, nats: self.left(at) }, now: Fading::default() };
    }
}

/// All that was found.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Told {
    moves: Side,
    stands: Side,
}

impl Told {
    /// A check begins: the answers of the one before can no longer be corrected.
    pub fn begin(&mut self, at: WatchTime) {
        self.moves.begin(at);
        self.stands.begin(at);
    }

    /// Takes the answers of the check at hand as they are now, in place of those before. `gathered`: evidence of slow
    /// movement by the positions, nats.
    pub fn hear(&mut self, at: WatchTime, seen: Seen, gathered: f64) {
        let sum = |found, transit, rode| {
            let of = |answer, nats| if answer == Some(found) { nats } else { 0.0 };
            of(seen.transit, transit) + of(seen.rode, rode)
        };
        let moves = sum(Found::Wrong, tuning::OPENED_NATS, tuning::JERKS_NATS);
        let stands = sum(Found::Well, tuning::HOLDS_NATS, tuning::STEADY_NATS);
        self.moves.now = Fading { at, nats: moves };
        self.stands.now = Fading { at, nats: stands.min(gathered.max(0.0)) };
    }

    /// Evidence with what was found. While anything found speaks for a moved anchor nothing is taken off.
    pub fn weigh(&self, at: WatchTime, nats: f64) -> f64 {
        let moves = self.moves.left(at);
        if moves > 0.0 {
            return nats + moves;
        }
        nats - self.stands.left(at).min(nats.max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::holding::tuning::call;

    const AT: fn(f64) -> WatchTime = |hours| WatchTime((hours * 3.6e6) as i64);
    const WELL: Seen = Seen { transit: Some(Found::Well), rode: Some(Found::Well) };
    const WRONG: Seen = Seen { transit: Some(Found::Wrong), rode: Some(Found::Wrong) };

    fn told(seen: Seen, gathered: f64) -> Told {
        let mut told = Told::default();
        told.begin(AT(0.0));
        told.hear(AT(0.0), seen, gathered);
        told
    }

    #[test]
    fn each_answer_moves_the_evidence_its_way() {
        let nats = |seen| told(seen, 4.0).weigh(AT(0.0), 4.0);
        let one = |transit, rode| nats(Seen { transit, rode });
        assert_eq!(one(None, None), 4.0);
        assert_eq!(one(Some(Found::Wrong), None), 4.0 + tuning::OPENED_NATS);
        assert_eq!(one(None, Some(Found::Wrong)), 4.0 + tuning::JERKS_NATS);
        assert_eq!(one(Some(Found::Well), None), 4.0 - tuning::HOLDS_NATS);
        assert_eq!(one(None, Some(Found::Well)), 4.0 - tuning::STEADY_NATS);
        assert_eq!(one(Some(Found::Well), Some(Found::Wrong)), 4.0 + tuning::JERKS_NATS);
        assert!(nats(WRONG) > call::DRAG_NATS, "creep, an opened transit and a rode that jerks are a drag");
        assert!(told(WRONG, 0.0).weigh(AT(0.0), 0.0) < call::DRAG_NATS, "alone they are none");
    }

    #[test]
    fn what_comes_after_a_check_counts_in_full() {
        let calm = told(WELL, 0.0);
        assert_eq!(calm.weigh(AT(0.0), 7.5), 7.5, "nothing had gathered: nothing is taken off");
        let creeping = told(WELL, 3.5);
        let new = call::DRAG_NATS - creeping.weigh(AT(0.0), 3.5);
        assert!(new <= call::DRAG_NATS, "from here on no more is needed than from nothing: {new}");
        assert!(creeping.weigh(AT(0.0), 0.2) >= 0.0);
    }

    #[test]
    fn it_fades_and_repeating_it_adds_nothing() {
        let mut told = told(WELL, 5.0);
        assert!(told.weigh(AT(0.5), 5.0) > told.weigh(AT(0.0), 5.0));
        assert_eq!(told.weigh(AT(2.0), 5.0), 5.0);
        for check in 0..10 {
            let at = WatchTime(check * 1000);
            told.begin(at);
            told.hear(at, WRONG, 5.0);
        }
        assert!(told.weigh(AT(0.01), 0.0) <= tuning::OPENED_NATS + tuning::JERKS_NATS);
        assert_eq!(told.weigh(AT(4.0), 5.0), 5.0);
    }

    #[test]
    fn an_answer_of_this_check_can_be_taken_back_and_one_of_the_last_not() {
        let mut told = told(WRONG, 5.0);
        told.hear(AT(0.0), Seen::default(), 5.0);
        assert_eq!(told.weigh(AT(0.0), 1.0), 1.0);
        told.hear(AT(0.0), WRONG, 5.0);
        told.begin(AT(0.1));
        told.hear(AT(0.1), WELL, 5.0);
        assert!(told.weigh(AT(0.1), 1.0) > 1.0 + tuning::OPENED_NATS);
    }
}
