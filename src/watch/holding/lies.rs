//! How far from her anchor the bow can lie now, and whether the rode is taut.

use super::cells::REACHES;
use super::load::Load;
use super::prior;
use super::reach::Rode;
use super::tuning::reach as tuning;
use crate::watch::boat::{Boat, Tackle};
use crate::watch::geo::Local;
use crate::watch::units::{TrueBearing, WatchTime};

/// The rode that is out and the water that it stands in.
#[derive(Clone, Debug)]
pub(super) struct Lies {
    pub veered_m: f64,
    pub depth_m: Option<f64>,
    pub tide_m: f64,
    rode: Rode,
    /// Until when a longer rode still counts, and its length.
    longer: Option<(WatchTime, f64)>,
    bend: Bend,
    loose: Loose,
    /// Outer and inner limit for each reach tried, metres.
    pub limits: [(f64, f64); REACHES],
    pub taut: f64,
}

impl Lies {
    pub fn new(at: WatchTime, tackle: &Tackle, veered_m: f64, depth_m: Option<f64>) -> Self {
        Self {
            veered_m,
            depth_m,
            tide_m: 0.0,
            rode: Rode::new(tackle, veered_m),
            longer: None,
            bend: Bend { short: Local::default(), long: Local::default(), slack_until: at },
            loose: Loose { nearer_m: 0.0, until: at },
            limits: [(0.0, 0.0); REACHES],
            taut: 0.0,
        }
    }

    /// The rode out has changed.
    pub fn veer(&mut self, at: WatchTime, tackle: &Tackle, veered_m: f64) {
        if veered_m < self.veered_m {
            self.longer = Some((at + tuning::SHORTENS, self.veered_m));
        }
        self.veered_m = veered_m;
        self.rode = Rode::new(tackle, veered_m);
        self.bend.slack_until = at + tuning::STRAIGHTENS;
    }

    /// Height of the bow roller above the bottom, metres.
    fn height_m(&self, boat: &Boat) -> f64 {
        // With the depth unknown a fifth of the rode: the usual scope, common practice, no source.
        let depth = self.depth_m.unwrap_or((self.veered_m / 5.0).max(2.0));
        (depth + self.tide_m + boat.bow_height.0).max(0.5)
    }

    /// Reach of the straight rode, metres.
    pub fn straight_m(&self, boat: &Boat) -> f64 {
        self.rode.straight_m(self.height_m(boat))
    }

    /// She lies this way, for a step of `length_s`: by her head, else towards the anchor.
    pub fn turn(&mut self, at: WatchTime, way: Local, length_s: f64) {
        self.bend.step(at, way, length_s);
    }

    /// Whatever the rode, she may lie within any of these.
    pub fn any_radius(&mut self) {
        self.limits = prior::RADII_M.map(|radius| (radius, -1.0));
    }

    /// Within which distances of the anchor the bow must lie now. `nearer_m`: how far she lies from the best place for
    /// it, and the inner limit there.
    pub fn work_out(
        &mut self,
        at: WatchTime,
        load: &Load,
        boat: &Boat,
        nearer_m: Option<(f64, f64)>,
        length_s: f64,
    ) {
        let height = self.height_m(boat);
        let straight = self.rode.straight_m(height);
        let pull = load.pull();
        if let Some((distance_m, inner_m)) = nearer_m {
            self.loose.step(at, inner_m - distance_m, length_s);
        }
        let is_loose = at < self.bend.slack_until || (!pull.measured && at < self.loose.until);
        self.taut = if is_loose { 0.0 } else { load.taut(&self.rode, height) };
        let (low, high) = if pull.measured { tuning::LOAD } else { tuning::LOAD_GUESSED };
        let sag = |factor: f64| self.rode.sag(factor * pull.minute_n, height).short_m;
        let outer_sag = if self.taut == 0.0 { 0.0 } else { (sag(high) - tuning::SAG_KEPT_M).max(0.0) };
        let stretch = (pull.minute_n / tuning::STRETCH_N_PER_M).min(tuning::STRETCH_MOST_M);
        let more = match self.longer {
            Some((until, longer)) if at < until => longer - self.veered_m,
            _ => 0.0,
        };
        let outer_short = outer_sag - tuning::OUTER_SLACK_M - stretch - more;
        let inner_short = sag(low) + tuning::INNER_SLACK_M;
        self.limits =
            prior::SCALES.map(|scale| (scale * straight - outer_short, scale * straight - inner_short));
    }
}

/// A turn of the direction in which she lies bends the chain: until it is straight again nothing is taut.
#[derive(Clone, Copy, Debug)]
struct Bend {
    short: Local,
    long: Local,
    slack_until: WatchTime,
}

impl Bend {
    fn step(&mut self, at: WatchTime, way: Local, length_s: f64) {
        let toward =
            |mean: Local, window_s: f64| mean + (way - mean).scaled(1.0 - (-length_s / window_s).exp());
        self.short = toward(self.short, tuning::BEND_S.0);
        self.long = toward(self.long, tuning::BEND_S.1);
        if self.short.bearing().turn_to(self.long.bearing()).abs() > tuning::BEND_DEG {
            self.slack_until = at + tuning::STRAIGHTENS;
        }
    }
}

/// Where no wind is measured, a boat nearer than even the best place allows is not taut, whatever was guessed.
#[derive(Clone, Copy, Debug)]
struct Loose {
    nearer_m: f64,
    until: WatchTime,
}

impl Loose {
    fn step(&mut self, at: WatchTime, nearer_m: f64, length_s: f64) {
        self.nearer_m += (nearer_m - self.nearer_m) * (length_s / tuning::LOOSE_MEAN_S).min(1.0);
        if self.nearer_m > tuning::LOOSE_M {
            self.until = at + tuning::LOOSE_FOR;
        }
    }
}

/// The direction in which she lies: by her head, which says it even while nobody knows where the anchor is.
pub(super) fn way(heading: Option<TrueBearing>, to_anchor: Local) -> Local {
    match heading {
        Some(heading) => Local::polar(heading, 1.0),
        None => to_anchor.scaled(1.0 / to_anchor.length_m().max(1e-9)),
    }
}
