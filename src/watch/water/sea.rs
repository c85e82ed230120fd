//! By how much does the sea stand off the tide that was entered? What the sounder shows, less what the sounding of letting go
//! and the tide make it, is the bottom's doing, which belongs to a place, and the sea's, which is the same everywhere.
//!
//! A Kalman filter of three numbers (the sea's part and a bottom that slopes evenly) with what each square of the bottom
//! departs from that slope: R. E. Kalman, "A new approach to linear filtering and prediction problems", *Journal of Basic
//! Engineering* 82 (1960). The sea's part begins at nothing when the sounding is made and wanders from there; the bottom
//! stays. So a difference that has been there from the first is the bottom's, and one that comes while she lies over the
//! same bottom is the sea's.

use std::collections::{BTreeMap, VecDeque};

use crate::watch::geo::Local;
use crate::watch::tuning::sea::{
    BOTTOM_KNOWN_S, COUNTS_AFTER_MIN, DOUBT_LEAST_M, GROWTH_LEAST_M, GROWTH_OVER, NEW_TIDE_M, ROUGH_M, SLOPE,
    SOUNDING_M, SPELL, SPELL_LEAST_S, SQUARE_SIDE_M, SQUARES_MOST, UNSURE_M, WANDER_M, WILD_M,
};
use crate::watch::units::{Metres, Span, WatchTime};

/// What the forecast is corrected by, and how far that can be trusted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correction {
    /// The sea stands so much above what was entered; negative below.
    pub by: Metres,
    /// It is so within this, 19 times in 20.
    pub doubt: Metres,
    /// When that was last measured.
    pub at: WatchTime,
    /// How fast it grows, metres an hour; negative while the sea falls off the tide. 0 where nothing sure can be said.
    pub growth_m_per_h: f64,
    /// What measured it.
    pub by_what: CorrectedBy,
}

/// What measures how the sea stands off the tide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CorrectedBy {
    /// The sounder.
    Sounder,
    /// The barometer.
    Barometer,
}

impl CorrectedBy {
    /// In a word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sounder => "sounder",
            Self::Barometer => "barometer",
        }
    }
}

impl Correction {
    /// `The sea stands 0.3 m below the tide, within 0.1 m, by the sounder 4 min ago`.
    #[must_use]
    pub fn in_words(&self, now: WatchTime) -> String {
        let side = if self.by.0 < 0.0 { "below" } else { "above" };
        let age = now.since(self.at);
        let ago = if age >= Span::from_mins(2) { format!(" {age} ago") } else { String::new() };
        format!(
            "The sea stands {:.1} m {side} the tide, within {:.1} m, by the {}{ago}",
            self.by.0.abs(),
            (self.doubt.0 * 10.0).ceil() / 10.0,
            self.by_what.word()
        )
    }

    /// What counts where less water is the danger: less water at once, more only beyond its doubt.
    #[must_use]
    pub fn for_least(&self) -> Metres {
        if self.by.0 < 0.0 { self.by } else { (self.by - self.doubt).max(Metres(0.0)) }
    }

    /// What counts where more water is the danger: more water at once, less only beyond its doubt.
    #[must_use]
    pub fn for_greatest(&self) -> Metres {
        if self.by.0 > 0.0 { self.by } else { (self.by + self.doubt).min(Metres(0.0)) }
    }
}

/// What has been learned of the bottom and the sea since the sounding was made.
#[derive(Clone, Debug, Default)]
pub struct Sea {
    /// The sea's part in metres, and the bottom's slope to the east and to the north.
    state: [f64; 3],
    cov: [[f64; 3]; 3],
    squares: BTreeMap<(i32, i32), Square>,
    /// What was heard in the minute that runs.
    spells: BTreeMap<(i32, i32), Spell>,
    spell_began: WatchTime,
    /// Up to when the sea has wandered.
    at: WatchTime,
    heard_at: WatchTime,
    /// Minutes over a bottom that was known.
    minutes: u32,
    /// The sea's part every ten minutes, the oldest first.
    past: VecDeque<(WatchTime, f64)>,
}

/// A square of the bottom.
#[derive(Clone, Copy, Debug)]
struct Square {
    /// How it departs from the slope, and the variance of that.
    departs_m: f64,
    variance: f64,
    middle: Local,
    seconds: u32,
}

/// Sums of what was sounded over one square in one minute.
#[derive(Clone, Copy, Debug, Default)]
struct Spell {
    seconds: u32,
    off_m: f64,
    place: Local,
}

impl Sea {
    /// Nothing is known but that at `at` sounding and tide agreed.
    #[must_use]
    pub fn tied(at: WatchTime) -> Self {
        let slope = SLOPE * SLOPE;
        Self {
            cov: [[0.0, 0.0, 0.0], [0.0, slope, 0.0], [0.0, 0.0, slope]],
            at,
            spell_began: at,
            heard_at: at,
            ..Self::default()
        }
    }

    /// Another tide was entered: how the sea stands off that is not known, the bottom is.
    pub fn new_tide(&mut self) {
        self.state[0] = 0.0;
        if !self.squares.is_empty() {
            self.cov[0] = [NEW_TIDE_M * NEW_TIDE_M, 0.0, 0.0];
            (self.cov[1][0], self.cov[2][0]) = (0.0, 0.0);
        }
        self.minutes = 0;
        self.past.clear();
        self.spells.clear();
    }

    /// The mark was moved: what is known of the bottom lies elsewhere about it.
    pub fn mark_moved(&mut self) {
        *self = Self {
            state: [self.state[0], 0.0, 0.0],
            cov: self.cov,
            past: std::mem::take(&mut self.past),
            ..Self::tied(self.at)
        };
        let slope = SLOPE * SLOPE;
        self.cov = [[self.cov[0][0], 0.0, 0.0], [0.0, slope, 0.0], [0.0, 0.0, slope]];
    }

    /// The sounder shows `off_m` more than sounding and tide, at a place about the mark. `unsure` is what the tide itself may
    /// be off there because turns were assumed.
    pub fn hear(&mut self, now: WatchTime, place: Local, off_m: f64, unsure: Metres) {
        if now.since(self.spell_began) >= SPELL {
            self.take_spells(now, unsure);
        }
        let spell = self.spells.entry(place.square(SQUARE_SIDE_M)).or_default();
        spell.seconds += 1;
        spell.off_m += off_m;
        spell.place = spell.place + place;
    }

    fn take_spells(&mut self, now: WatchTime, unsure: Metres) {
        self.spell_began = now;
        self.wander(now, unsure);
        for (key, spell) in std::mem::take(&mut self.spells) {
            if spell.seconds >= SPELL_LEAST_S {
                self.take(key, &spell, now);
            }
        }
        if self.past.back().is_none_or(|(at, _)| now.since(*at) >= Span::from_mins(10)) && self.minutes > 0 {
            self.past.push_back((now, self.state[0]));
        }
        while self.past.front().is_some_and(|(at, _)| now.since(*at) > GROWTH_OVER + Span::from_mins(10)) {
            self.past.pop_front();
        }
    }

    /// Unseen, the sea wanders.
    fn wander(&mut self, now: WatchTime, unsure: Metres) {
        let hours = now.since(self.at).seconds().max(0.0) / 3600.0;
        self.cov[0][0] += (WANDER_M * WANDER_M + unsure.0 * unsure.0) * hours;
        self.at = now;
    }

    fn take(&mut self, key: (i32, i32), spell: &Spell, now: WatchTime) {
        let share = 1.0 / f64::from(spell.seconds);
        let (off_m, place) = (spell.off_m * share, spell.place.scaled(share));
        let full = self.squares.len() >= SQUARES_MOST;
        let new = Square { departs_m: 0.0, variance: ROUGH_M * ROUGH_M, middle: place, seconds: 0 };
        let mut square = match self.squares.get(&key) {
            Some(square) => *square,
            None if full => return,
            None => new,
        };
        let noise = SOUNDING_M * SOUNDING_M * 60.0 * share;
        let seen = [1.0, place.east_m, place.north_m];
        let pull: [f64; 3] = std::array::from_fn(|i| dot(&self.cov[i], &seen));
        let spread = dot(&pull, &seen) + square.variance + noise;
        let error_m = off_m - dot(&self.state, &seen) - square.departs_m;
        // What is wild teaches nothing: weed, a fish shoal, or she has moved.
        if error_m.abs() > WILD_M.max(3.0 * spread.sqrt()) {
            return;
        }
        for i in 0..3 {
            self.state[i] += pull[i] / spread * error_m;
            for j in 0..3 {
                self.cov[i][j] -= pull[i] * pull[j] / spread;
            }
        }
        if square.seconds < BOTTOM_KNOWN_S {
            let gain = square.variance / spread;
            square.departs_m += gain * error_m;
            square.variance *= 1.0 - gain;
        } else if self.heard_at < now {
            self.minutes = self.minutes.saturating_add(1);
            self.heard_at = now;
        }
        square.seconds = square.seconds.saturating_add(spell.seconds);
        square.middle = square.middle + (place - square.middle).scaled(0.1);
        self.squares.insert(key, square);
    }

    /// What the sounder corrects the tide by; `None` until it has been heard long enough over a bottom that is known.
    #[must_use]
    pub fn correction(&self, now: WatchTime) -> Option<Correction> {
        let hours = now.since(self.at).seconds().max(0.0) / 3600.0;
        let variance = self.cov[0][0].max(0.0) + DOUBT_LEAST_M * DOUBT_LEAST_M + WANDER_M * WANDER_M * hours;
        let sure = self.minutes >= COUNTS_AFTER_MIN && variance < UNSURE_M * UNSURE_M;
        sure.then(|| Correction {
            by: Metres(self.state[0]),
            doubt: Metres(2.0 * variance.sqrt()),
            at: self.heard_at,
            growth_m_per_h: self.growth(now),
            by_what: CorrectedBy::Sounder,
        })
    }

    /// Growth over the last hour, where it is plain. Both ends were measured over the same bottom, so that its doubt cancels.
    fn growth(&self, now: WatchTime) -> f64 {
        let Some((at, then_m)) = self.past.front().filter(|(at, _)| now.since(*at) >= GROWTH_OVER) else {
            return 0.0;
        };
        let grown_m = self.state[0] - then_m;
        if grown_m.abs() < GROWTH_LEAST_M { 0.0 } else { grown_m / (now.since(*at).seconds() / 3600.0) }
    }

    /// How much higher than at the anchor the highest bottom is that she has lain over; never below 0.
    #[must_use]
    pub fn shoals(&self) -> Metres {
        let known = self.squares.values().filter(|square| square.seconds >= BOTTOM_KNOWN_S);
        let lower_m = known.map(|square| {
            square.departs_m + self.state[1] * square.middle.east_m + self.state[2] * square.middle.north_m
        });
        Metres(-lower_m.fold(0.0, f64::min))
    }
}

fn dot(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
