//! How hard does she pull on the rode, and is it taut?
//!
//! The pull is calculated from windage alone and not by `rode::Windage`, which adds stream and an allowance for gusts to
//! be safe. Here a pull that is too high is as wrong as one too low, since it calls a slack rode taut; every number of
//! the method was measured with this one.

use super::reach::{self, Rode};
use super::ready;
use crate::watch::boat::{Boat, Hull};
use crate::watch::geo::Local;
use crate::watch::units::Knots;

/// The pull as far as it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pull {
    /// Mean over the last minute, newtons.
    pub minute_n: f64,
    /// Mean over the last ten minutes, newtons.
    pub ten_minutes_n: f64,
    /// Measured by a wind sensor, not guessed from how she sheers.
    pub measured: bool,
}

/// Follows the wind, or what betrays it.
#[derive(Clone, Debug)]
pub(super) struct Load {
    windage_m2: f64,
    /// Knots of wind for each metre a second of sheering.
    sheer_kn_per_mps: f64,
    minute_n: f64,
    ten_minutes_n: f64,
    wind_age_s: f64,
    wind_seen_s: f64,
    /// Mean of |apparent wind angle| over five minutes, degrees.
    angle_deg: f64,
    last_place: Option<Local>,
    minute_sum: f64,
    minute_count: u32,
    minutes: std::collections::VecDeque<f64>,
    sheer_n: f64,
}

/// Minutes of sheering whose median tells the wind.
const SHEER_MINUTES: usize = 15;
/// A wind older than this is not known, seconds.
const WIND_STALE_S: f64 = 60.0;

impl Load {
    pub fn new(boat: &Boat) -> Self {
        let windage_m2 =
            boat.windage_m2.unwrap_or_else(|| reach::windage_by_length_m2(boat.hull, boat.loa.0));
        let sheer_kn_per_mps = if boat.hull == Hull::Monohull { 65.0 } else { 100.0 };
        Self {
            windage_m2,
            sheer_kn_per_mps,
            minute_n: 0.0,
            ten_minutes_n: 0.0,
            wind_age_s: f64::INFINITY,
            wind_seen_s: 0.0,
            angle_deg: 0.0,
            last_place: None,
            minute_sum: 0.0,
            minute_count: 0,
            minutes: std::collections::VecDeque::new(),
            sheer_n: 0.0,
        }
    }

    /// One second with, perhaps, an apparent wind: angle off the bow in degrees, speed.
    pub fn second(&mut self, wind: Option<(f64, Knots)>) {
        let Some((angle_deg, speed)) = wind else {
            self.wind_age_s += 1.0;
            return;
        };
        let pull = reach::wind_pull_n(self.windage_m2, speed.mps());
        let off_bow = ((angle_deg + 180.0).rem_euclid(360.0) - 180.0).abs();
        if self.wind_age_s > WIND_STALE_S {
            (self.minute_n, self.ten_minutes_n, self.angle_deg) = (pull, pull, off_bow);
            self.wind_seen_s = 0.0;
        }
        (self.wind_age_s, self.wind_seen_s) = (0.0, self.wind_seen_s + 1.0);
        // A running mean that becomes an exponential one once the window is full.
        let share = |window_s: f64| 1.0 / self.wind_seen_s.min(window_s);
        let (minute, ten, five) = (share(60.0), share(600.0), share(300.0));
        self.minute_n += minute * (pull - self.minute_n);
        self.ten_minutes_n += ten * (pull - self.ten_minutes_n);
        self.angle_deg += five * (off_bow - self.angle_deg);
    }

    /// The mean place over a step of `length_s` seconds, from which sheering is seen.
    pub fn place(&mut self, bow: Local, length_s: f64) {
        if let Some(before) = self.last_place {
            let speed = (bow - before).length_m() / length_s;
            self.minute_sum += speed * speed;
            self.minute_count += 1;
        }
        self.last_place = Some(bow);
        if self.minute_count >= 12 {
            self.minutes.push_back(self.minute_sum / f64::from(self.minute_count));
            if self.minutes.len() > SHEER_MINUTES {
                self.minutes.pop_front();
            }
            (self.minute_sum, self.minute_count) = (0.0, 0);
            let mut sorted: Vec<f64> = self.minutes.iter().copied().collect();
            sorted.sort_by(f64::total_cmp);
            let u = (sorted[sorted.len() / 2] - 0.05 * 0.05).max(0.0).sqrt();
            self.sheer_n = reach::wind_pull_n(self.windage_m2, Knots(self.sheer_kn_per_mps * u).mps());
        }
    }

    /// After a hole in the fixes the next place says nothing about speed.
    pub fn skip(&mut self) {
        self.last_place = None;
    }

    pub fn pull(&self) -> Pull {
        if self.wind_age_s <= WIND_STALE_S {
            Pull { minute_n: self.minute_n, ten_minutes_n: self.ten_minutes_n, measured: true }
        } else {
            Pull { minute_n: self.sheer_n, ten_minutes_n: self.sheer_n, measured: false }
        }
    }

    /// Pull of the last ten minutes as a share of that which counts as a full test; `None` where no wind is measured.
    pub fn test_share(&self) -> Option<f64> {
        let pull = self.pull();
        let test_n = reach::wind_pull_n(self.windage_m2, Knots(ready::TEST_WIND_KN).mps());
        pull.measured.then(|| pull.ten_minutes_n / test_n.max(1.0))
    }

    /// How far she rides to the wind, `0..=1`: enough of it, and from ahead.
    pub fn riding(&self) -> f64 {
        let pull = self.pull();
        if !pull.measured {
            return 0.0;
        }
        // Pull of 7 knots of wind and more.
        let enough = pull.ten_minutes_n / reach::wind_pull_n(self.windage_m2, Knots(7.0).mps());
        ((enough - 0.5) / 0.5).clamp(0.0, 1.0) * ((45.0 - self.angle_deg) / 20.0).clamp(0.0, 1.0)
    }

    /// How far the rode is taut, `0..=1`: the load over what the grounded chain can hold by friction, 0.7 of its
    /// weight; with the wind on the beam the stream has her and the rode is slack.
    pub fn taut(&self, rode: &Rode, height_m: f64) -> f64 {
        let pull = self.pull();
        let grounded_m = rode.sag(pull.ten_minutes_n, height_m).grounded_m;
        let friction_n = 0.7 * rode.weight_n_per_m * grounded_m;
        let ratio = if friction_n > 0.0 { pull.ten_minutes_n / friction_n } else { 2.0 };
        let loaded = ((ratio - 0.8) / 0.5).clamp(0.0, 1.0);
        if pull.measured { loaded * ((50.0 - self.angle_deg) / 15.0).clamp(0.0, 1.0) } else { loaded }
    }
}
