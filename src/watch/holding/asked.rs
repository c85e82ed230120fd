//! How much evidence is asked for before the crew is woken.
//!
//! Evidence is reckoned from the receiver's wander within a minute. What wanders over ten minutes (reflections, the
//! sheer of the boat, a mark or a rode told wrong) is not in that, and makes all false calls that there are. So less is
//! asked for where her distance from the anchor has hardly changed in ten minutes tonight; and evidence that stays
//! counts for more than as much of it in a burst. `docs/inside/holding.md` tells what that gains.

use std::collections::VecDeque;

use super::quantile::Quantile;

/// Evidence that is always enough for `drag`, nats.
const MOST_NATS: f64 = 11.0;
/// Evidence that is enough while she lies as still as she can, nats.
const LEAST_NATS: f64 = 9.5;
/// Changes of her distance in ten minutes up to here are those of a boat that lies still, metres.
const STILL_M: f64 = 3.5;
/// More evidence is asked for each metre beyond that, nats.
const NATS_PER_M: f64 = 2.0;
/// Changes from one minute to the tenth after it that must be known before less than the most is asked for.
const KNOWN_LEAST: u32 = 15;
/// Evidence that is enough once it has stood for so long: nats, seconds.
const LASTING: [(f64, f64); 2] = [(9.0, 180.0), (8.0, 1200.0)];
/// Minutes over which a change is taken.
const MINUTES: usize = 10;
/// Of a hundred such changes ninety are less than the one that is followed.
const QUANTILE: f64 = 0.9;
/// Before any is known it is thought to be, metres.
const CHANGE_M: f64 = 2.4;

/// What is asked for, by what was seen tonight.
#[derive(Clone, Debug)]
pub(super) struct Asked {
    /// Sum of her distance and of the time, in the minute that goes on.
    minute: (f64, f64),
    /// Mean distances of the last minutes, oldest first.
    minutes: VecDeque<f64>,
    change: Quantile,
    /// For how long the evidence has stood at each of [`LASTING`], seconds.
    stood_s: [f64; LASTING.len()],
}

impl Asked {
    pub fn new() -> Self {
        Self {
            minute: (0.0, 0.0),
            minutes: VecDeque::new(),
            change: Quantile::starting(QUANTILE, CHANGE_M),
            stood_s: [0.0; LASTING.len()],
        }
    }

    /// After a gap, or when the rode is changed, the last minutes have nothing to say.
    pub fn gap(&mut self) {
        self.minute = (0.0, 0.0);
        self.minutes.clear();
    }

    /// A step: her distance from the best place for the anchor, metres, and how long it took, seconds.
    pub fn learn(&mut self, distance_m: f64, length_s: f64) {
        self.minute.0 += distance_m * length_s;
        self.minute.1 += length_s;
        if self.minute.1 < 60.0 {
            return;
        }
        let (sum, seconds) = std::mem::take(&mut self.minute);
        self.minutes.push_back(sum / seconds);
        if self.minutes.len() <= MINUTES {
            return;
        }
        let first = self.minutes.pop_front().unwrap_or_default();
        let last = self.minutes.back().copied().unwrap_or_default();
        self.change.push((last - first).abs());
    }

    /// Evidence that is enough now, nats.
    pub fn nats(&self) -> f64 {
        if self.change.seen() < KNOWN_LEAST {
            return MOST_NATS;
        }
        (LEAST_NATS + NATS_PER_M * (self.change.value() - STILL_M).max(0.0)).min(MOST_NATS)
    }

    /// Takes the evidence of a step, nats; true if it is enough.
    pub fn is_enough(&mut self, nats: f64, length_s: f64) -> bool {
        for ((least, _), stood_s) in LASTING.iter().zip(&mut self.stood_s) {
            *stood_s = if nats > *least { *stood_s + length_s } else { 0.0 };
        }
        nats > self.nats() || self.has_lasted()
    }

    fn has_lasted(&self) -> bool {
        LASTING.iter().zip(self.stood_s).any(|((_, for_s), stood_s)| stood_s >= *for_s)
    }

    /// Evidence as a share of what is asked for, `0..=1`.
    pub fn share(&self, nats: f64) -> f64 {
        if self.has_lasted() { 1.0 } else { (nats / self.nats()).clamp(0.0, 1.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Minutes of a distance about 30 m that swings by `swing_m` in twenty minutes.
    fn seen(minutes: u32, swing_m: f64) -> Asked {
        let mut asked = Asked::new();
        for step in 0..minutes * 12 {
            let turn = f64::from(step) / 240.0 * std::f64::consts::TAU;
            asked.learn(30.0 + 0.5 * swing_m * turn.sin(), 5.0);
        }
        asked
    }

    #[test]
    fn less_is_asked_where_she_was_seen_to_lie_still() {
        assert_eq!(seen(24, 0.5).nats(), MOST_NATS, "not known for long enough");
        assert_eq!(seen(120, 0.5).nats(), LEAST_NATS);
        assert_eq!(seen(120, 12.0).nats(), MOST_NATS);
        let between = seen(240, 4.0).nats();
        assert!(between > LEAST_NATS && between < MOST_NATS, "{between}");
    }

    #[test]
    fn evidence_that_stays_is_enough_and_a_burst_of_it_is_not() {
        let mut asked = Asked::new();
        let steps = |asked: &mut Asked, nats, steps: u32| (0..steps).any(|_| asked.is_enough(nats, 5.0));
        assert!(!steps(&mut asked, 10.0, 35));
        assert!(!steps(&mut asked, 2.0, 1), "it has to stay");
        assert!(!steps(&mut asked, 8.5, 239));
        assert!(asked.share(8.5) < 1.0);
        assert!(steps(&mut asked, 8.5, 1));
        assert_eq!(asked.share(8.5), 1.0);
        assert!(Asked::new().is_enough(11.1, 5.0));
    }
}
