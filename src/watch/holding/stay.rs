//! One anchor on the ground: what the positions say of it, step by step.

use std::collections::VecDeque;

use super::asked::Asked;
use super::cells::{Best, Cells, REACHES, Step};
use super::fixes::{Fix, Fixes, Sample};
use super::load::Load;
use super::noise::Noise;
use super::prior;
use super::reach::Rode;
use super::ready::Ready;
use super::receivers::{Lesson, Receivers};
use super::tuning::Tuning;
use super::verdict::{Belief, Moved};
use crate::watch::boat::{Boat, Tackle};
use crate::watch::geo::{Local, Plane, Position};
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};

/// While judging begins and she stays within so many metres, for so many seconds, a wrong mark is taken as it is.
const BASE_PINNED_M: f64 = 8.0;
/// See [`BASE_PINNED_M`].
const BASE_PINNED_S: f64 = 300.0;
/// The condition must have been gone this long to count as rectified.
const RECTIFIED_AFTER: Span = Span::from_mins(5);
/// While the chain straightens after a change the rode is not called taut.
const STRAIGHTENS: Span = Span::from_mins(15);
/// A swing of the mean bearing by this much bends the chain, degrees.
const BEND_DEG: f64 = 20.0;
/// After this long on a new spot that explains everything, she holds again.
const RESET_AFTER: Span = Span::from_mins(15);
/// The direction from mark to boat is taken over this long.
const SETTLE: Span = Span::from_mins(2);
/// Spacing of the anchor's possible places about a mark, metres.
const MARKED_SPACING_M: f64 = 2.0;
/// Spacing of the places when nothing is known, metres.
const UNKNOWN_SPACING_M: f64 = 10.0;
/// Without mark or rode told, a boat so far from every place that was possible is under way, metres.
const UNDER_WAY_M: f64 = 300.0;

/// The receiver's wander is learned only while the bow is within so many times the wander beyond the reach.
const LEARNS_WITHIN: f64 = 4.0;

/// What is known of a drop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Known {
    /// Its place and the rode.
    Mark,
    /// Only the rode that is out.
    Rode,
    /// Nothing: she was found lying here.
    Nothing,
}

/// One anchor on the ground.
#[derive(Clone, Debug)]
pub(super) struct Stay {
    pub known: Known,
    pub plane: Plane,
    pub at: WatchTime,
    pub veered_m: f64,
    pub depth_m: Option<f64>,
    pub tide_m: f64,
    rode: Rode,
    cells: Cells,
    fresh: Option<(WatchTime, Cells)>,
    samples: Vec<(Local, Sample)>,
    nearer_m: f64,
    /// Mean bow of the last seven steps, oldest first.
    bows: VecDeque<Local>,
    settle: Option<(Local, u32)>,
    bearing_short: Local,
    bearing_long: Local,
    slack_until: WatchTime,
    base: f64,
    /// Where the bow first was when judging began, and for how many seconds it has gone on.
    judged: Option<(Local, f64)>,
    pub evidence: f64,
    pub asked: Asked,
    pub creep_at: Option<WatchTime>,
    pub drag_at: Option<WatchTime>,
    good_since: Option<WatchTime>,
    began: Option<WatchTime>,
    bow: Option<Local>,
    limits: [(f64, f64); REACHES],
    taut: f64,
    pub ready: Ready,
    receivers: Receivers,
    heading: Option<TrueBearing>,
    axis_short: Local,
    mean_bow: Option<Local>,
    pointed_s: f64,
    longer: Option<(WatchTime, f64)>,
    /// Where she lay after two minutes, as a unit vector from the mark, and the reach then.
    lies_to: Option<(Local, f64)>,
    prior_at: Option<WatchTime>,
    /// How far off the mark may be beyond what is usual, metres.
    mark_doubt_m: f64,
}

/// What a step needs to know beside the fixes.
pub(super) struct Around<'a> {
    pub fixes: &'a Fixes,
    pub boat: &'a Boat,
    pub tuning: &'a Tuning,
    pub standing_down: bool,
}

impl Stay {
    /// An anchor let go at `mark`, which may be `doubt_m` metres off beyond what is usual.
    pub fn marked(
        at: WatchTime,
        mark: Position,
        tackle: &Tackle,
        veered_m: f64,
        depth_m: Option<f64>,
        doubt_m: f64,
    ) -> Self {
        let spacing_m = ((1.15 * veered_m + 2.0 * doubt_m) / 16.0).max(MARKED_SPACING_M);
        let cells = Cells::new(Local::default(), spacing_m, prior::scales(), |place| {
            prior::isotropic(place, doubt_m)
        });
        let stay = Self::new(Known::Mark, at, Plane::new(mark), tackle, veered_m, depth_m, cells);
        Self { mark_doubt_m: doubt_m, ..stay }
    }

    /// A boat found lying at `place` on `plane`, with the rode out if it is told.
    pub fn found(at: WatchTime, plane: Plane, place: Local, tackle: &Tackle, veered_m: Option<f64>) -> Self {
        let cells = match veered_m {
            Some(veered_m) => {
                let spacing_m = (veered_m / 11.0).max(MARKED_SPACING_M);
                Cells::new(place, spacing_m, prior::scales(), prior::anywhere)
            }
            None => Cells::new(place, UNKNOWN_SPACING_M, prior::radii(), prior::anywhere),
        };
        let known = if veered_m.is_some() { Known::Rode } else { Known::Nothing };
        let mut stay = Self::new(known, at, plane, tackle, veered_m.unwrap_or(50.0), None, cells);
        stay.settle = None;
        stay
    }

    fn new(
        known: Known,
        at: WatchTime,
        plane: Plane,
        tackle: &Tackle,
        veered_m: f64,
        depth_m: Option<f64>,
        cells: Cells,
    ) -> Self {
        Self {
            known,
            plane,
            at,
            veered_m,
            depth_m,
            tide_m: 0.0,
            rode: Rode::new(tackle, veered_m),
            cells,
            fresh: None,
            samples: Vec::new(),
            nearer_m: 0.0,
            bows: VecDeque::new(),
            settle: Some((Local::default(), 0)),
            bearing_short: Local::default(),
            bearing_long: Local::default(),
            slack_until: at,
            base: 0.0,
            judged: None,
            evidence: 0.0,
            asked: Asked::new(),
            creep_at: None,
            drag_at: None,
            good_since: None,
            began: None,
            bow: None,
            limits: [(0.0, 0.0); REACHES],
            taut: 0.0,
            ready: Ready::default(),
            receivers: Receivers::new(),
            heading: None,
            axis_short: Local::default(),
            mean_bow: None,
            pointed_s: 0.0,
            longer: None,
            lies_to: None,
            prior_at: None,
            mark_doubt_m: 0.0,
        }
    }

    /// The rode out has changed.
    pub fn veer(&mut self, at: WatchTime, tackle: &Tackle, veered_m: f64) {
        if veered_m < self.veered_m {
            // The chain comes in slower than the word.
            self.longer = Some((at + Span::from_mins(5), self.veered_m));
        }
        self.veered_m = veered_m;
        self.rode = Rode::new(tackle, veered_m);
        self.slack_until = at + STRAIGHTENS;
        self.asked.gap();
    }

    /// After a gap the last seconds have nothing to say.
    pub fn gap(&mut self) {
        self.samples.clear();
        self.bows.clear();
        self.receivers.gap();
        self.asked.gap();
    }

    /// Without mark or rode told: she has plainly left.
    pub fn under_way(&self) -> bool {
        self.known == Known::Nothing && self.drag_at.is_some() && self.beyond_m() > UNDER_WAY_M
    }

    /// Takes the fixes of one second.
    pub fn take(&mut self, sample: Sample, heading: Option<TrueBearing>, boat: &Boat) {
        self.heading = heading;
        self.nearer_m = match heading {
            None if self.known != Known::Nothing => 0.97 * boat.antenna_aft.0,
            _ => 0.0,
        };
        self.receivers.take_believed(sample.receiver, sample.velocity);
        self.samples.push((self.bow_of(sample.antenna, boat), sample));
    }

    /// Takes a fix of a receiver beside the believed one.
    pub fn take_aside(&mut self, fix: &Fix, boat: &Boat) {
        let bow = self.bow_of(self.plane.to_local(fix.position), boat);
        self.receivers.take_aside(fix.receiver, bow, fix.velocity());
    }

    /// The antenna carried to the bow, as far as her heading is known.
    fn bow_of(&self, antenna: Local, boat: &Boat) -> Local {
        match self.heading {
            Some(heading) if self.known != Known::Nothing => {
                let ahead = Local::polar(heading, boat.antenna_aft.0);
                let to_port = Local::polar(heading.turned(-90.0), boat.antenna_starboard.0);
                antenna + ahead + to_port
            }
            _ => antenna,
        }
    }

    /// Ends a step of evidence.
    pub fn step(&mut self, at: WatchTime, load: &mut Load, around: &Around) {
        let samples = std::mem::take(&mut self.samples);
        let interval_s = samples.last().map_or(1.0, |(_, last)| last.interval_s);
        // A receiver that reports seldom is heard each time; one that reports each second must give three of five.
        let heard = samples.len() >= 3 || interval_s >= 2.0;
        let sum = samples.iter().fold(Local::default(), |sum, (bow, _)| sum + *bow);
        let believed = heard.then(|| sum.scaled(1.0 / samples.len() as f64));
        let length_s = interval_s.clamp(5.0, 60.0);
        let Some(bow) = self.receivers.hear(believed, self.heading) else { return };
        self.bow = Some(bow);
        load.place(bow, length_s);
        self.bows.push_back(bow);
        if self.bows.len() > 7 {
            self.bows.pop_front();
        }
        self.settle_prior(at, bow, around.boat);
        self.follow_bearing(at, bow, length_s);
        if around.fixes.doubt(at).is_some() || around.standing_down {
            return;
        }
        // What she does far beyond her reach is no noise of a receiver.
        let stands = self.beyond_m() < LEARNS_WITHIN * self.wander_m().max(1.0);
        let anchor = self.cells.best().anchor;
        if stands {
            self.asked.learn((bow - anchor).length_m(), length_s);
        } else {
            self.asked.gap();
        }
        self.receivers.learn(&Lesson { anchor, stands, length_s });
        self.reckon_limits(at, load, around.boat, around.tuning);
        let step = self.evidence_of(around.tuning, length_s);
        self.point(load, &step, around.tuning, length_s);
        self.cells.step(&step);
        self.judge(at, bow, length_s, load, around.tuning);
        self.follow_fresh(at, bow, &step);
    }

    /// Height of the bow roller above the bottom, metres.
    fn height_m(&self, boat: &Boat) -> f64 {
        // With the depth unknown a fifth of the rode: the usual scope, common practice, no source.
        let depth = self.depth_m.unwrap_or((self.veered_m / 5.0).max(2.0));
        (depth + self.tide_m + boat.bow_height.0).max(0.5)
    }

    /// Within which distances of the anchor the bow must lie now; an inner limit below zero asks nothing.
    fn reckon_limits(&mut self, at: WatchTime, load: &Load, boat: &Boat, tuning: &Tuning) {
        if self.known == Known::Nothing {
            self.limits = prior::RADII_M.map(|radius| (radius, -1.0));
            return;
        }
        let height = self.height_m(boat);
        let straight = self.rode.straight_m(height);
        let pull = load.pull();
        let (low, high) = if pull.measured { (tuning.load_low, tuning.load_high) } else { (0.4, 2.5) };
        self.taut = if at < self.slack_until { 0.0 } else { load.taut(&self.rode, height) };
        let sag = |factor: f64| self.rode.sag(factor * pull.minute_n, height).short_m;
        let outer_sag = if self.taut == 0.0 { 0.0 } else { (sag(high) - 0.3).max(0.0) };
        let outer_short = outer_sag - tuning.outer_slack_m - (pull.minute_n / 6000.0).min(1.5);
        let more = match self.longer {
            Some((until, longer)) if at < until => longer - self.veered_m,
            _ => 0.0,
        };
        let outer_short = outer_short - more;
        let inner_short = sag(low) + tuning.inner_slack_m;
        self.limits =
            prior::SCALES.map(|scale| (scale * straight - outer_short, scale * straight - inner_short));
    }

    fn evidence_of(&self, tuning: &Tuning, length_s: f64) -> Step {
        // Two steps: ten seconds take most of the quick noise.
        let recent: Vec<Local> = self.bows.iter().rev().take(2).copied().collect();
        let bow =
            recent.iter().fold(Local::default(), |sum, bow| sum + *bow).scaled(1.0 / recent.len() as f64);
        let (wander, noise) = (self.wander_m(), self.receivers.noise());
        let share_kept = noise.map_or(0.5, Noise::share_kept);
        let quiet = (wander * wander + tuning.quick_m * tuning.quick_m).sqrt();
        Step {
            bow,
            nearer_m: self.nearer_m,
            limits: self.limits,
            taut: self.taut,
            mean_share: 1.0 - (-length_s / tuning.mean_s).exp(),
            slow_sigma_m: (tuning.geometry_m * tuning.geometry_m + share_kept * wander * wander).sqrt(),
            most_m: tuning.most_m.max(3.0 * wander),
            again: length_s / (2.0 * tuning.again_s),
            back: tuning.back_nats_per_hour / 3600.0 * length_s,
            fast_sigma_m: quiet,
            burst_sigma_m: (tuning.burst_ratio * quiet).max(tuning.burst_least_m),
            burst_nats: tuning.burst_nats,
            sternway_nats: noise.map_or(0.0, Noise::sternway_nats).min(tuning.sternway_nats_most),
            fast_cap: tuning.departure_nats_most,
        }
    }

    /// Riding to wind with her head steady, she points at her anchor.
    fn point(&mut self, load: &Load, step: &Step, tuning: &Tuning, length_s: f64) {
        let (Some(heading), true) = (self.heading, self.known != Known::Nothing) else { return };
        let share = 1.0 - (-length_s / 240.0).exp();
        self.axis_short = self.axis_short + (Local::polar(heading, 1.0) - self.axis_short).scaled(share);
        self.mean_bow = match self.mean_bow {
            Some(mean) => Some(mean + (step.bow - mean).scaled(share)),
            None => Some(step.bow),
        };
        self.pointed_s += length_s;
        if self.pointed_s < 30.0 {
            return;
        }
        let seconds = std::mem::take(&mut self.pointed_s);
        let steady = self.axis_short.length_m();
        let riding = load.riding();
        let Some(bow) = self.mean_bow else { return };
        if steady < 0.8 || riding <= 0.0 {
            return;
        }
        let ahead = self.axis_short.scaled(1.0 / steady);
        let weight = tuning.aim * riding * seconds / (2.0 * tuning.again_s);
        self.cells.point(bow, ahead, weight, tuning.back_nats_per_hour / 3600.0 * seconds, (4.0, 0.3), 12.0);
    }

    fn judge(&mut self, at: WatchTime, bow: Local, length_s: f64, load: &Load, tuning: &Tuning) {
        let total = self.cells.best().total;
        self.base = total.max(self.base - tuning.base_nats_per_hour / 3600.0 * length_s);
        let (first, seconds) = self.judged.get_or_insert((bow, 0.0));
        *seconds += length_s;
        if *seconds <= BASE_PINNED_S && (bow - *first).length_m() < BASE_PINNED_M {
            // A mark that is wrong from the start is no news of a moved anchor.
            self.base = total.min(-tuning.headroom_nats);
        }
        let headroom = tuning.headroom_nats.max(-self.base);
        self.evidence = (total + headroom).min(total - self.base);
        if self.evidence > -0.5 {
            self.began = None;
        } else {
            self.began.get_or_insert(at);
        }
        if self.asked.is_enough(-self.evidence, length_s) {
            self.drag_at.get_or_insert(at);
        }
        if self.evidence < -tuning.creep_nats {
            self.creep_at.get_or_insert(at);
            self.good_since = None;
            self.ready.moved();
        } else {
            let since = *self.good_since.get_or_insert(at);
            if at.since(since) > RECTIFIED_AFTER {
                (self.creep_at, self.drag_at) = (None, None);
            }
            self.ready.held(length_s, load.test_share(), self.taut, self.wander_m());
        }
    }

    /// Once dragging, asks whether she lies to the anchor again at a new place.
    fn follow_fresh(&mut self, at: WatchTime, bow: Local, step: &Step) {
        if self.drag_at.is_none() {
            self.fresh = None;
            return;
        }
        let start = || match self.known {
            Known::Nothing => Cells::new(bow, UNKNOWN_SPACING_M, prior::radii(), prior::anywhere),
            Known::Mark | Known::Rode => {
                let upwind = self.cells.best().anchor - bow;
                let reach = self.limits[REACHES / 2].1.max(1.0);
                let place = bow + upwind.scaled(reach / upwind.length_m().max(1.0));
                Cells::new(place, MARKED_SPACING_M, prior::scales(), prior::guessed)
            }
        };
        let (since, mut cells) = self.fresh.take().unwrap_or_else(|| (at, start()));
        cells.step(step);
        if cells.best().total < -2.0 - prior::least_doubt(self.known == Known::Nothing) {
            self.fresh = Some((at, start()));
        } else if at.since(since) > RESET_AFTER {
            self.base = cells.best().total.min(0.0);
            self.cells = cells;
            (self.drag_at, self.creep_at, self.began, self.good_since) = (None, None, None, Some(at));
        } else {
            self.fresh = Some((since, cells));
        }
    }

    /// After two minutes the boat tells on which side of the mark the anchor is more likely; later the fixes tell how
    /// well the mark was known.
    fn settle_prior(&mut self, at: WatchTime, bow: Local, boat: &Boat) {
        if self.known != Known::Mark {
            return;
        }
        if let Some((sum, count)) = self.settle {
            let (sum, count) = (sum + bow, count + 1);
            self.settle = Some((sum, count));
            if at.since(self.at) < SETTLE {
                return;
            }
            self.settle = None;
            let mean = sum.scaled(1.0 / f64::from(count));
            let reach_m = self.rode.straight_m(self.height_m(boat));
            let lies = mean.length_m() - self.nearer_m >= 0.4 * reach_m;
            self.lies_to = lies.then(|| (mean.scaled(1.0 / mean.length_m().max(1e-9)), reach_m));
            self.prior_at = None;
        }
        if self.prior_at.is_some_and(|last| at.since(last) < Span::from_mins(10)) {
            return;
        }
        self.prior_at = Some(at);
        let wander_m = (self.wander_m() - 1.5).max(0.0).hypot(self.mark_doubt_m);
        match self.lies_to {
            Some((way, reach_m)) => {
                self.cells.set_prior(|place| prior::behind_mark(place, way, reach_m, wander_m));
            }
            None => self.cells.set_prior(|place| prior::isotropic(place, wander_m)),
        }
    }

    /// Error of the fixes over minutes, metres.
    fn wander_m(&self) -> f64 {
        self.receivers.wander_m()
    }

    /// A turn of the direction in which she lies bends the chain: until it is straight again nothing is taut.
    fn follow_bearing(&mut self, at: WatchTime, bow: Local, length_s: f64) {
        let way = match self.heading {
            // The heading says how she lies even while nobody knows where the anchor is.
            Some(heading) => Local::polar(heading, 1.0),
            None => {
                let way = self.cells.best().anchor - bow;
                way.scaled(1.0 / way.length_m().max(1e-9))
            }
        };
        let toward =
            |mean: Local, window_s: f64| mean + (way - mean).scaled(1.0 - (-length_s / window_s).exp());
        self.bearing_short = toward(self.bearing_short, 300.0);
        self.bearing_long = toward(self.bearing_long, 1800.0);
        if self.bearing_short.bearing().turn_to(self.bearing_long.bearing()).abs() > BEND_DEG {
            self.slack_until = at + STRAIGHTENS;
        }
    }

    /// Distance from the best place for the anchor to the bow, metres.
    pub fn distance_m(&self) -> f64 {
        self.bow.map_or(0.0, |bow| ((bow - self.cells.best().anchor).length_m() - self.nearer_m).max(0.0))
    }

    /// How far the rode reaches now, from the best place for the anchor, metres.
    pub fn reach_m(&self) -> f64 {
        self.limits[self.cells.best().reach].0.max(0.0)
    }

    /// How far the bow lies beyond that; negative inside.
    pub fn beyond_m(&self) -> f64 {
        self.distance_m() - self.reach_m()
    }

    /// Where the anchor is thought to lie, and how far and which way that is from the mark.
    pub fn belief(&self) -> (Belief, Option<(Metres, TrueBearing)>) {
        let (centre, [ee, en, nn]) = self.cells.spread();
        let half = 0.5 * (ee + nn);
        let root = (0.25 * (ee - nn) * (ee - nn) + en * en).sqrt();
        // Angle of the longer axis from east, anticlockwise.
        let angle = 0.5 * (2.0 * en).atan2(ee - nn);
        let belief = Belief {
            centre: self.plane.to_position(centre),
            major: Metres((half + root).max(0.0).sqrt()),
            minor: Metres((half - root).max(0.0).sqrt()),
            axis: Local::new(angle.cos(), angle.sin()).bearing(),
        };
        let from_mark = (self.known == Known::Mark).then(|| (Metres(centre.length_m()), centre.bearing()));
        (belief, from_mark)
    }

    /// How the anchor has moved, once it is thought to have.
    pub fn moved(&self) -> Option<Moved> {
        let called = self.drag_at.or(self.creep_at)?;
        let (bow, first) = (self.bow?, self.bows.front()?);
        let Best { anchor, .. } = self.cells.best();
        let way = bow - anchor;
        let out = way.scaled(1.0 / way.length_m().max(1e-9));
        let seconds = 5.0 * (self.bows.len().max(2) - 1) as f64;
        Some(Moved {
            distance: Metres(self.beyond_m().max(0.0)),
            bearing: way.bearing(),
            since: self.began.unwrap_or(called),
            speed: Knots::from_mps(((bow - *first).dot(out) / seconds).max(0.0)),
        })
    }
}
