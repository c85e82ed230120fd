//! Does the anchor hold?
//!
//! A circle about the mark is late when it is wide and cries wolf when it is tight. The question here is another: can
//! *any one* place of the anchor, and any one true length of rode, explain every position seen since it was let go?
//! The method, what it can do and where it must fail are told in `docs/holding.md`.
//!
//! [`Holding`] is told what the crew does, every valid fix as it arrives, and once a second how the boat lies. It has
//! no clock: every call carries its time, and the same calls give the same verdict to the last digit.

mod cells;
mod fixes;
mod load;
mod prior;
mod reach;
mod verdict;

use std::collections::VecDeque;

pub use fixes::{Fix, FixKind};
pub use verdict::{Belief, Doubt, HoldingState, Moved, Sensor, Verdict};

use self::cells::{Best, Cells, Step};
use self::fixes::{Fixes, Sample};
use self::load::Load;
use self::reach::Rode;
use super::boat::{Boat, Tackle};
use super::geo::{Local, Plane, Position};
use super::units::{Knots, Metres, TrueBearing, WatchTime};

/// How a drop was marked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct MarkedHow {
    /// The heading was known, so the mark is the bow's place and not the antenna's.
    pub heading_known: bool,
}

/// How the boat lies, once a second. Anything not known, or not fresh, is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Conditions {
    /// Heading.
    pub heading: Option<TrueBearing>,
    /// Apparent wind: angle off the bow in degrees (0–360 or ±180, clockwise positive), and its speed.
    pub apparent_wind: Option<(f64, Knots)>,
    /// True wind: where it blows from, and its speed.
    pub true_wind: Option<(TrueBearing, Knots)>,
    /// Height of tide above that at the drop.
    pub tide_since_drop: Option<Metres>,
}

/// A step of evidence every so many milliseconds.
const STEP_MS: i64 = 5000;
/// `drag` when the evidence falls below this, nats.
const DRAG_NATS: f64 = -3.5;
/// `creep` when the evidence falls below this, nats.
const CREEP_NATS: f64 = -2.0;
/// The evidence may exceed the base line by so much that a good spell does not buy a bad one, nats.
const HEADROOM_NATS: f64 = 1.5;
/// The base line sinks by this much an hour: a mark once found wrong must not use up the threshold all night.
const BASE_NATS_PER_HOUR: f64 = 1.5;
/// While judging begins and she stays within so many metres, for so many seconds, a wrong mark is taken as it is.
const BASE_PINNED_M: f64 = 8.0;
/// See [`BASE_PINNED_M`].
const BASE_PINNED_S: f64 = 300.0;
/// The condition must have been gone this long to count as rectified, milliseconds.
const RECTIFIED_AFTER_MS: i64 = 300_000;
/// While the chain straightens after a change the rode is not called taut, milliseconds.
const STRAIGHTENS_MS: i64 = 900_000;
/// A swing of the mean bearing by this much bends the chain, degrees.
const BEND_DEG: f64 = 20.0;
/// After this long on a new spot that explains everything, she holds again, milliseconds.
const RESET_MS: i64 = 900_000;
/// The direction from mark to boat is taken over this long, milliseconds.
const SETTLE_MS: i64 = 120_000;

/// Judges whether she holds.
#[derive(Clone, Debug)]
pub struct Holding {
    boat: Boat,
    tackle: Tackle,
    fixes: Fixes,
    load: Load,
    drop: Option<Drop>,
    standing_down: bool,
    last_second: Option<WatchTime>,
    had_heading_s: f64,
    watched_s: f64,
}

/// Everything that begins anew with an anchor let go.
#[derive(Clone, Debug)]
struct Drop {
    plane: Plane,
    at: WatchTime,
    veered_m: f64,
    depth_m: Option<f64>,
    tide_m: f64,
    rode: Rode,
    cells: Cells,
    fresh: Option<(WatchTime, Cells)>,
    samples: Vec<(Local, Sample)>,
    nearer_m: f64,
    bows: VecDeque<Local>,
    settle: Option<(Local, u32)>,
    bearing_short: Local,
    bearing_long: Local,
    slack_until: WatchTime,
    base: f64,
    /// Where the bow first was when judging began, and for how many seconds it has gone on.
    judged: Option<(Local, f64)>,
    evidence: f64,
    creep_at: Option<WatchTime>,
    drag_at: Option<WatchTime>,
    good_since: Option<WatchTime>,
    began: Option<WatchTime>,
    bow: Option<Local>,
    outer_m: f64,
    tested: f64,
}

impl Holding {
    /// A judge for this boat and her ground tackle, before any anchor is down.
    #[must_use]
    pub fn new(boat: &Boat, tackle: &Tackle) -> Self {
        Self {
            boat: boat.clone(),
            tackle: tackle.clone(),
            fixes: Fixes::new(),
            load: Load::new(boat),
            drop: None,
            standing_down: false,
            last_second: None,
            had_heading_s: 0.0,
            watched_s: 0.0,
        }
    }

    /// The anchor is let go at `mark`, the bow's place, with `veered` of rode out or to be veered at once, in `depth`
    /// metres of water. Everything believed of an earlier drop is forgotten.
    pub fn let_go(
        &mut self,
        at: WatchTime,
        mark: Position,
        veered: Metres,
        depth: Option<Metres>,
        how: MarkedHow,
    ) {
        let _ = how;
        self.standing_down = false;
        self.fixes.restart();
        let veered_m = veered.0.max(1.0);
        self.drop = Some(Drop {
            plane: Plane::new(mark),
            at,
            veered_m,
            depth_m: depth.map(|depth| depth.0),
            tide_m: 0.0,
            rode: Rode::new(&self.tackle, veered_m),
            cells: Cells::new(Local::default()),
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
            creep_at: None,
            drag_at: None,
            good_since: None,
            began: None,
            bow: None,
            outer_m: 0.0,
            tested: 0.0,
        });
    }

    /// The rode out is now `length` in all. What is believed of the anchor's place stays.
    pub fn veered(&mut self, at: WatchTime, length: Metres) {
        if let Some(drop) = &mut self.drop {
            drop.veered_m = length.0.max(1.0);
            drop.rode = Rode::new(&self.tackle, drop.veered_m);
            drop.slack_until = at + crate::watch::units::Span(STRAIGHTENS_MS);
        }
    }

    /// The crew corrects the drop point.
    pub fn move_drop(&mut self, at: WatchTime, mark: Position) {
        if let Some(drop) = &self.drop {
            let (veered, depth) = (Metres(drop.veered_m), drop.depth_m.map(Metres));
            self.let_go(at, mark, veered, depth, MarkedHow { heading_known: true });
        }
    }

    /// The crew has proved the anchor: she is brought up.
    pub fn brought_up(&mut self, _at: WatchTime) {
        if let Some(drop) = &mut self.drop {
            drop.tested = drop.tested.max(0.5);
        }
    }

    /// The watch did not run, or heard nothing, from `from` to `to`. The anchor is taken to have stood meanwhile.
    pub fn gap(&mut self, _from: WatchTime, _to: WatchTime) {
        self.fixes.restart();
        self.load.skip();
        if let Some(drop) = &mut self.drop {
            drop.samples.clear();
            drop.bows.clear();
            drop.cells.forget_fast();
        }
    }

    /// The crew weighs: nothing is judged.
    pub fn stand_down(&mut self, _at: WatchTime) {
        self.standing_down = true;
    }

    /// The crew stays after all.
    pub fn resume(&mut self, at: WatchTime) {
        self.standing_down = false;
        self.gap(at, at);
    }

    /// A valid fix, as it arrives.
    pub fn fix(&mut self, at: WatchTime, fix: &Fix) {
        if let Some(drop) = &self.drop {
            self.fixes.push(at, fix, drop.plane.to_local(fix.position));
        }
    }

    /// A whole second has passed.
    pub fn second(&mut self, at: WatchTime, now: &Conditions) {
        self.last_second = Some(at);
        self.watched_s += 1.0;
        self.had_heading_s += f64::from(u8::from(now.heading.is_some()));
        self.load.second(now.apparent_wind);
        let sample = self.fixes.second(at);
        let Some(drop) = &mut self.drop else { return };
        if let Some(tide) = now.tide_since_drop {
            drop.tide_m = tide.0;
        }
        if let Some(sample) = sample {
            drop.take(sample, now.heading, &self.boat);
        }
        if at.0.rem_euclid(STEP_MS) == 0 {
            drop.step(at, &self.fixes, &mut self.load, &self.boat, self.standing_down);
        }
    }

    /// The judgement as it stands.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let Some(drop) = &self.drop else { return nothing_set() };
        let best = drop.cells.best();
        let (centre, covariance) = drop.cells.spread();
        let bow = drop.bow.unwrap_or_default();
        let beyond = (bow - best.anchor).length_m() - drop.nearer_m - drop.outer_at(best.scale);
        Verdict {
            state: self.state(drop),
            evidence: (drop.evidence / DRAG_NATS).clamp(0.0, 1.0),
            belief: Some(ellipse(&drop.plane, centre, covariance)),
            from_mark: (centre.length_m() > 0.5).then(|| (Metres(centre.length_m()), centre.bearing())),
            moved: drop.moved(beyond, best),
            beyond_best_cell: Metres(beyond),
            distance: Metres((bow - best.anchor).length_m()),
            reach: Metres(drop.outer_at(best.scale).max(0.0)),
            ready: drop.tested.clamp(0.0, 1.0),
            would_help: self.would_help(drop),
        }
    }

    fn state(&self, drop: &Drop) -> HoldingState {
        if self.standing_down {
            return HoldingState::NotSet;
        }
        if drop.drag_at.is_some() {
            return HoldingState::Dragging;
        }
        let now = self.last_second.unwrap_or(drop.at);
        if let Some(doubt) = self.fixes.doubt(now) {
            return HoldingState::CannotJudge(doubt);
        }
        if drop.creep_at.is_some() { HoldingState::Creeping } else { HoldingState::Holding }
    }

    fn would_help(&self, drop: &Drop) -> Option<Sensor> {
        if self.fixes.doubt(self.last_second.unwrap_or(drop.at)).is_some() {
            Some(Sensor::Position)
        } else if !self.load.pull().measured {
            Some(Sensor::Wind)
        } else if self.had_heading_s < 0.5 * self.watched_s {
            Some(Sensor::Heading)
        } else if drop.depth_m.is_none() {
            Some(Sensor::Depth)
        } else {
            None
        }
    }
}

impl Drop {
    /// Height of the bow roller above the bottom, metres.
    fn height_m(&self, boat: &Boat) -> f64 {
        // With the depth unknown a fifth of the rode: the usual scope, common practice, no source.
        let depth = self.depth_m.unwrap_or((self.veered_m / 5.0).max(2.0));
        (depth + self.tide_m + boat.bow_height.0).max(0.5)
    }

    fn outer_at(&self, scale: f64) -> f64 {
        self.outer_m * scale
    }

    fn take(&mut self, sample: Sample, heading: Option<TrueBearing>, boat: &Boat) {
        let (bow, nearer_m) = match heading {
            Some(heading) => {
                let ahead = Local::polar(heading, boat.antenna_aft.0);
                let to_port = Local::polar(heading.turned(-90.0), boat.antenna_starboard.0);
                (sample.antenna + ahead + to_port, 0.0)
            }
            None => (sample.antenna, 0.97 * boat.antenna_aft.0),
        };
        self.nearer_m = nearer_m;
        self.samples.push((bow, sample));
    }

    fn step(&mut self, at: WatchTime, fixes: &Fixes, load: &mut Load, boat: &Boat, standing_down: bool) {
        let samples = std::mem::take(&mut self.samples);
        let Some((_, last)) = samples.last() else { return };
        let interval_s = last.interval_s;
        // A receiver that reports seldom is heard each time; one that reports each second must give three of five.
        if samples.len() < 3 && interval_s < 2.0 {
            return;
        }
        let count = samples.len() as f64;
        let bow = samples.iter().fold(Local::default(), |sum, (bow, _)| sum + *bow).scaled(1.0 / count);
        self.bow = Some(bow);
        let length_s = interval_s.clamp(5.0, 60.0);
        load.place(bow, length_s);
        self.bows.push_back(bow);
        if self.bows.len() > 7 {
            self.bows.pop_front();
        }
        self.settle_prior(at, bow, boat);
        self.follow_bearing(at, bow, length_s);
        if fixes.doubt(at).is_some() || standing_down {
            return;
        }
        let step = self.evidence_of(at, bow, &samples, fixes, load, boat, length_s);
        self.cells.step(&step);
        self.judge(at, bow, length_s);
        self.follow_fresh(at, bow, &step);
    }

    #[allow(clippy::too_many_arguments)] // one story: everything that is known in this step
    fn evidence_of(
        &mut self,
        at: WatchTime,
        bow: Local,
        samples: &[(Local, Sample)],
        fixes: &Fixes,
        load: &Load,
        boat: &Boat,
        length_s: f64,
    ) -> Step {
        let count = samples.len() as f64;
        let height = self.height_m(boat);
        let straight = self.rode.straight_m(height);
        let pull = load.pull();
        let (low, high) = if pull.measured { (0.5, 1.5) } else { (0.4, 2.5) };
        let taut = if at < self.slack_until { 0.0 } else { load.taut(&self.rode, height) };
        let sag = |factor: f64| self.rode.sag(factor * pull.minute_n, height).short_m;
        let outer_sag = if taut == 0.0 { 0.0 } else { (sag(high) - 0.3).max(0.0) };
        let outer_short = outer_sag - 0.5 - (pull.minute_n / 6000.0).min(1.5);
        let inner_short = sag(low) + 0.5;
        self.outer_m = straight - outer_short;
        let sigma = fixes.sigma_m();
        let has_velocity = fixes.has_velocity();
        let velocity = match (has_velocity, self.bows.front()) {
            (true, Some(first)) if self.bows.len() > 1 => {
                (bow - *first).scaled(1.0 / (5.0 * (self.bows.len() - 1) as f64))
            }
            _ => Local::default(),
        };
        let cog_blanks = samples.iter().any(|(_, sample)| sample.cog_blanks);
        let hdop = samples.iter().map(|(_, sample)| sample.hdop).sum::<f64>() / count;
        let rms = (samples.iter().map(|(_, s)| s.residual_m * s.residual_m).sum::<f64>() / count).sqrt();
        let mut trust = (1.5 / hdop.max(1.5)).powi(2);
        if rms > 5.0 {
            trust *= (5.0 / rms).powi(2).max(0.2);
        }
        let length = length_s / 5.0;
        let (free, slow_share, fast_share) = if !has_velocity {
            (1.0 + 3.0 * sigma, 1.0 / 160.0, 0.5)
        } else if cog_blanks {
            (2.2 * sigma, 1.0 / 120.0, 1.0)
        } else {
            (1.0 + sigma, 1.0 / 120.0, 1.0)
        };
        Step {
            bow,
            lead: bow + velocity.scaled(15.0),
            nearer_m: self.nearer_m,
            straight_m: straight,
            outer_short_m: outer_short,
            inner_short_m: inner_short,
            taut,
            slow_sigma_m: (1.7 * 1.7 + sigma * sigma).sqrt(),
            fast_free_m: free,
            fast_sigma_m: (1.0 + 0.5 * sigma * sigma).sqrt(),
            slow_weight: trust * slow_share * length,
            fast_weight: trust * fast_share * length.min(2.0),
            length,
        }
    }

    fn judge(&mut self, at: WatchTime, bow: Local, length_s: f64) {
        let total = self.cells.best().total;
        self.base = total.max(self.base - BASE_NATS_PER_HOUR / 3600.0 * length_s);
        let (first, seconds) = self.judged.get_or_insert((bow, 0.0));
        *seconds += length_s;
        if *seconds <= BASE_PINNED_S && (bow - *first).length_m() < BASE_PINNED_M {
            // A mark that is wrong from the start is no news of a moved anchor.
            self.base = total.min(-HEADROOM_NATS);
        }
        let headroom = HEADROOM_NATS.max(-self.base);
        self.evidence = (total + headroom).min(total - self.base);
        if self.evidence > -0.5 {
            self.began = None;
        } else {
            self.began.get_or_insert(at);
        }
        if self.evidence < CREEP_NATS {
            self.creep_at.get_or_insert(at);
        }
        if self.evidence < DRAG_NATS {
            self.drag_at.get_or_insert(at);
        }
        if self.evidence < CREEP_NATS {
            self.good_since = None;
            self.tested = 0.0;
        } else {
            let since = *self.good_since.get_or_insert(at);
            if at.since(since).0 > RECTIFIED_AFTER_MS {
                (self.creep_at, self.drag_at) = (None, None);
            }
            self.tested = (self.tested + length_s / 1800.0).min(1.0);
        }
    }

    /// Once dragging, asks whether she lies to the anchor again at a new place.
    fn follow_fresh(&mut self, at: WatchTime, bow: Local, step: &Step) {
        if self.drag_at.is_none() {
            self.fresh = None;
            return;
        }
        let anchor = self.cells.best().anchor;
        let upwind = anchor - bow;
        let reach = (step.straight_m - step.inner_short_m).max(1.0);
        let place = bow + upwind.scaled(reach / upwind.length_m().max(1.0));
        let start = |at| {
            let mut cells = Cells::new(place);
            cells.set_prior(prior::guessed);
            (at, cells)
        };
        let (since, cells) = self.fresh.get_or_insert_with(|| start(at));
        cells.step(step);
        if cells.best().total < -2.0 {
            self.fresh = Some(start(at));
        } else if at.since(*since).0 > RESET_MS {
            self.cells = self.fresh.take().map_or_else(|| Cells::new(place), |(_, cells)| cells);
            (self.drag_at, self.creep_at, self.began, self.good_since) = (None, None, None, Some(at));
            self.base = self.cells.best().total.min(0.0);
        }
    }

    /// After two minutes the boat tells on which side of the mark the anchor is more likely.
    fn settle_prior(&mut self, at: WatchTime, bow: Local, boat: &Boat) {
        let Some((sum, count)) = self.settle else { return };
        let (sum, count) = (sum + bow, count + 1);
        self.settle = Some((sum, count));
        if at.since(self.at).0 < SETTLE_MS {
            return;
        }
        self.settle = None;
        let mean = sum.scaled(1.0 / f64::from(count));
        let distance = mean.length_m() - self.nearer_m;
        if distance >= 0.4 * self.rode.straight_m(self.height_m(boat)) {
            let boat_way = mean.scaled(1.0 / mean.length_m().max(1e-9));
            self.cells.set_prior(|place| prior::behind_mark(place, boat_way));
        }
    }

    /// A turn of the mean bearing bends the chain: until it is straight again nothing is taut.
    fn follow_bearing(&mut self, at: WatchTime, bow: Local, length_s: f64) {
        let way = bow - self.cells.best().anchor;
        let way = way.scaled(1.0 / way.length_m().max(1e-9));
        let toward =
            |mean: Local, window_s: f64| mean + (way - mean).scaled(1.0 - (-length_s / window_s).exp());
        self.bearing_short = toward(self.bearing_short, 300.0);
        self.bearing_long = toward(self.bearing_long, 1800.0);
        if self.bearing_short.bearing().turn_to(self.bearing_long.bearing()).abs() > BEND_DEG {
            self.slack_until = at + crate::watch::units::Span(STRAIGHTENS_MS);
        }
    }

    fn moved(&self, beyond_m: f64, best: Best) -> Option<Moved> {
        if self.drag_at.is_none() && self.creep_at.is_none() {
            return None;
        }
        let bow = self.bow?;
        let first = self.bows.front()?;
        let way = bow - best.anchor;
        let out = way.scaled(1.0 / way.length_m().max(1e-9));
        let seconds = 5.0 * (self.bows.len().max(2) - 1) as f64;
        Some(Moved {
            distance: Metres(beyond_m.max(0.0)),
            bearing: way.bearing(),
            since: self.began.or(self.creep_at).or(self.drag_at)?,
            speed: Knots::from_mps(((bow - *first).dot(out) / seconds).max(0.0)),
        })
    }
}

fn nothing_set() -> Verdict {
    Verdict {
        state: HoldingState::NotSet,
        evidence: 0.0,
        belief: None,
        from_mark: None,
        moved: None,
        beyond_best_cell: Metres(0.0),
        distance: Metres(0.0),
        reach: Metres(0.0),
        ready: 0.0,
        would_help: None,
    }
}

/// The one-sigma ellipse of a mean and covariance on the plane.
fn ellipse(plane: &Plane, centre: Local, [ee, en, nn]: [f64; 3]) -> Belief {
    let half = 0.5 * (ee + nn);
    let root = (0.25 * (ee - nn) * (ee - nn) + en * en).sqrt();
    // Angle of the longer axis from east, anticlockwise.
    let angle = 0.5 * (2.0 * en).atan2(ee - nn);
    Belief {
        centre: plane.to_position(centre),
        major: Metres((half + root).max(0.0).sqrt()),
        minor: Metres((half - root).max(0.0).sqrt()),
        axis: Local::new(angle.cos(), angle.sin()).bearing(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const START: WatchTime = WatchTime(1_767_225_600_000);

    fn mark() -> Position {
        Position::new(50.0, -4.0).unwrap()
    }

    /// Feeds fixes of a bow that moves along `path` (metres on the plane about the mark), heading towards the mark.
    fn run(seconds: i64, path: impl Fn(f64) -> Local) -> Vec<(i64, Verdict)> {
        let boat = Boat { antenna_aft: Metres(0.0), ..Boat::default() };
        let mut holding = Holding::new(&boat, &Tackle::default());
        let plane = Plane::new(mark());
        holding.let_go(START, mark(), Metres(40.0), Some(Metres(7.0)), MarkedHow { heading_known: true });
        let mut verdicts = Vec::new();
        for s in 1..=seconds {
            let at = WatchTime(START.0 + s * 1000);
            let place = path(s as f64);
            let mut fix = Fix::at(plane.to_position(place));
            let step = place - path(s as f64 - 1.0);
            fix.sog = Some(Knots::from_mps(step.length_m()));
            fix.cog = Some(step.bearing());
            holding.fix(at, &fix);
            let wind = Some((0.0, Knots(20.0)));
            let heading = Some(place.bearing().reversed());
            holding.second(at, &Conditions { heading, apparent_wind: wind, ..Conditions::default() });
            if s % 60 == 0 {
                verdicts.push((s, holding.verdict()));
            }
        }
        verdicts
    }

    #[test]
    fn swinging_through_the_whole_circle_raises_nothing() {
        let verdicts = run(6 * 3600, |s| Local::polar(TrueBearing::new(90.0 + s / 60.0), 38.0));
        for (s, verdict) in &verdicts {
            assert!(
                !matches!(verdict.state, HoldingState::Creeping | HoldingState::Dragging),
                "{s}: {verdict:?}"
            );
        }
        assert_eq!(verdicts.last().unwrap().1.state, HoldingState::Holding);
    }

    #[test]
    fn a_mark_25_m_off_and_a_full_circle_raise_nothing() {
        let off = Local::new(25.0, 0.0);
        let verdicts = run(8 * 3600, |s| Local::polar(TrueBearing::new(270.0 + s / 80.0), 38.0) - off);
        for (s, verdict) in &verdicts {
            assert_ne!(verdict.state, HoldingState::Dragging, "{s}: {verdict:?}");
        }
        let belief = verdicts.last().unwrap().1.from_mark.unwrap();
        assert!((belief.0.0 - 25.0).abs() < 4.0, "{belief:?}");
    }

    #[test]
    fn breaking_out_is_called_within_a_boats_length_or_so() {
        let start = 3600.0;
        let verdicts = run(2 * 3600, |s| {
            let drift = (s - start).max(0.0) * 0.4;
            Local::polar(TrueBearing::new(90.0 + 5.0 * (s / 30.0).sin()), 38.5 + drift.min(200.0))
        });
        let (when, verdict) =
            verdicts.iter().find(|(_, v)| v.state == HoldingState::Dragging).expect("called");
        assert!((*when as f64 - start) <= 120.0, "{when}: {verdict:?}");
    }
}
