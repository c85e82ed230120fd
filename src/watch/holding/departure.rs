//! Does the receiver's velocity agree that she went? The gap between fix and carried antenna, since the departure began.

use std::collections::VecDeque;

use super::carried::Gaps;
use super::quantile::Quantile;
use super::tuning::{departure as tuning, excursion};
use crate::watch::geo::Local;
use crate::watch::units::WatchTime;

/// Steps of 5 s in the minute in which a change of the gap is taken.
const MINUTE: usize = 12;

/// What the velocity says of a departure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Says {
    /// Where the fix has gone since it began that the velocity knows nothing of, if the velocity is believed as it is
    /// printed.
    pub unknown: Local,
    /// How far, if what a velocity may hide is allowed for, metres.
    pub hidden_m: f64,
    /// Standard deviation of both, metres.
    pub sigma_m: f64,
    /// How far it is believed when it confirms a departure, `0..=1`: less once it has confirmed excursions that came back.
    pub trust: f64,
}

/// Where the bow lay in a step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lay {
    /// So far beyond the reach from the best place for the anchor, metres; negative within.
    pub beyond_m: f64,
    /// Away from that place, as a unit vector.
    pub outward: Local,
    /// Standard deviation of the fixes in quiet, metres.
    pub quiet_m: f64,
}

/// Follows the gaps of one receiver.
#[derive(Clone, Debug)]
pub(super) struct Departure {
    /// The gaps when it began.
    began: Option<Gaps>,
    heard: WatchTime,
    lasts_s: f64,
    /// Strict gaps of the last minute, oldest first.
    minute: VecDeque<Local>,
    change: Quantile,
    follows: Follows,
    says: Option<Says>,
}

/// Whether this receiver's velocity goes with its reflections: excursions that it confirmed and that came back.
#[derive(Clone, Copy, Debug, Default)]
struct Follows {
    /// The farthest of the departure that goes on: metres beyond the reach, and the share of it that the velocity knew.
    farthest: (f64, f64),
    confirmed: f64,
}

impl Follows {
    /// A step of a departure.
    fn goes(&mut self, beyond_m: f64, unknown_m: f64) {
        if beyond_m > self.farthest.0 {
            self.farthest = (beyond_m, 1.0 - unknown_m / beyond_m);
        }
    }

    /// She is back within reach.
    fn is_back(&mut self, quiet_m: f64) {
        let (beyond_m, known) = std::mem::take(&mut self.farthest);
        if beyond_m > excursion::BEYOND_M.max(excursion::BEYOND * quiet_m) {
            self.confirmed += f64::from(u8::from(known > tuning::FOLLOWED));
        }
    }

    /// How far the velocity is believed when it confirms a departure, `0..=1`.
    fn trust(self) -> f64 {
        1.0 / (1.0 + self.confirmed)
    }
}

impl Departure {
    pub fn new() -> Self {
        Self {
            began: None,
            heard: WatchTime(0),
            lasts_s: 0.0,
            minute: VecDeque::new(),
            change: Quantile::median(0.6),
            follows: Follows::default(),
            says: None,
        }
    }

    /// A step of `length_s`: the gaps, and where the bow lay.
    pub fn step(&mut self, at: WatchTime, gaps: Option<Gaps>, lay: Lay, length_s: f64) {
        self.says = None;
        let Some(gaps) = gaps else { return };
        if at.since(self.heard) > tuning::FORGOTTEN_AFTER {
            self.began = None;
            self.minute.clear();
            self.lasts_s = 0.0;
        }
        self.heard = at;
        let is_within = lay.beyond_m < tuning::BEGINS * lay.quiet_m;
        let began = self.follow(gaps, is_within, length_s);
        self.learn(gaps.strict);
        let grows = self.lasts_s.clamp(tuning::GROWS_S.0, tuning::GROWS_S.1) / tuning::GROWS_S.0;
        let change_m = self.change.value().max(tuning::CHANGE_LEAST_M);
        let unknown = gaps.strict - began.strict;
        if is_within {
            self.follows.is_back(lay.quiet_m);
        } else {
            self.follows.goes(lay.beyond_m, unknown.dot(lay.outward));
        }
        self.says = Some(Says {
            unknown,
            hidden_m: (gaps.lenient - began.lenient).length_m(),
            sigma_m: tuning::SIGMA_M + change_m * grows.sqrt(),
            trust: self.follows.trust(),
        });
    }

    /// The gaps as they were when the departure began; while there is none they are followed.
    fn follow(&mut self, gaps: Gaps, is_within: bool, length_s: f64) -> Gaps {
        let mut began = self.began.unwrap_or(gaps);
        let is_long = self.lasts_s > tuning::LONG_S;
        if is_within || is_long {
            let follows_s = if is_long { tuning::LONG_FOLLOWS_S } else { tuning::FOLLOWS_S };
            let share = (length_s / follows_s).min(1.0);
            began.strict = began.strict + (gaps.strict - began.strict).scaled(share);
            began.lenient = began.lenient + (gaps.lenient - began.lenient).scaled(share);
        }
        if is_within {
            self.lasts_s = 0.0;
        } else if !is_long {
            self.lasts_s += length_s;
        }
        self.began = Some(began);
        began
    }

    fn learn(&mut self, strict: Local) {
        if self.minute.len() >= MINUTE
            && let Some(before) = self.minute.pop_front()
        {
            self.change.push((strict - before).length_m());
        }
        self.minute.push_back(strict);
    }

    /// What the velocity says now; `None` where there is none.
    pub fn says(&self) -> Option<Says> {
        self.says
    }
}
