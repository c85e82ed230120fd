//! One anchor on the ground: what the positions say of it, step by step.

use std::collections::VecDeque;

use super::called::{Called, Speaks};
use super::cells::{Best, Cells, Fast, REACHES, Slow, Step, Velocity};
use super::departure::Lay;
use super::evidence::{Beginning, Evidence};
use super::excursion::{Excursion, Geometry};
use super::fixes::{Fix, Fixes, Sample};
use super::lies::{self, Lies};
use super::load::Load;
use super::noise::Noise;
use super::pointing::Pointing;
use super::prior;
use super::ready::Ready;
use super::receivers::{Lesson, Receivers};
use super::settling::Settling;
use super::told::{Seen, Told};
use super::tuning::{call, departure, fast, grid, noise, reach, slow};
use super::verdict::{Belief, Learned, Moved};
use crate::watch::boat::{Boat, Tackle};
use crate::watch::geo::{Local, Plane, Position};
use crate::watch::units::{Knots, Metres, TrueBearing, WatchTime};

/// Mean bows that are kept: half a minute of steps.
const BOWS: usize = 7;
/// Of these, so many take most of the quick noise.
const RECENT: usize = 2;

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
    pub lies: Lies,
    pub ready: Ready,
    pub called: Called,
    pub told: Told,
    cells: Cells,
    bow: Bow,
    receivers: Receivers,
    settling: Option<Settling>,
    pointing: Pointing,
    excursion: Excursion,
    geometry: Geometry,
    /// No step was heard for long: the velocity says nothing of a departure until then.
    blind_until: WatchTime,
    heard: Option<WatchTime>,
    beginning: Beginning,
    /// By both accounts, and by the slow one alone.
    evidence: Evidence,
    slow_evidence: Evidence,
}

/// Where the bow is by the fixes.
#[derive(Clone, Debug, Default)]
struct Bow {
    /// Of this step, one a fix, with the bow by it.
    samples: Vec<(Local, Sample)>,
    heading: Option<TrueBearing>,
    /// Without a heading the bow may be so much nearer to the anchor than the antenna, metres.
    nearer_m: f64,
    /// Mean bow of the last steps, oldest first.
    means: VecDeque<Local>,
}

/// What a step needs to know beside the fixes.
pub(super) struct Around<'a> {
    pub fixes: &'a Fixes,
    pub boat: &'a Boat,
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
        let half = f64::from(super::cells::HALF);
        let extent_m = grid::EXTENT * veered_m + grid::DOUBTS * doubt_m;
        let cells = Cells::new(
            Local::default(),
            (extent_m / half).max(grid::MARKED_SPACING_M),
            prior::scales(),
            |place| prior::isotropic(place, doubt_m),
        );
        let lies = Lies::new(at, tackle, veered_m, depth_m);
        let stay = Self::new(Known::Mark, at, Plane::new(mark), lies, cells);
        Self { settling: Some(Settling::new(at, doubt_m)), ..stay }
    }

    /// A boat found lying at `place` on `plane`, with the rode out if it is known.
    pub fn found(at: WatchTime, plane: Plane, place: Local, tackle: &Tackle, veered_m: Option<f64>) -> Self {
        let cells = match veered_m {
            Some(veered_m) => {
                let spacing_m = (grid::RODE_SHARE * veered_m).max(grid::MARKED_SPACING_M);
                Cells::new(place, spacing_m, prior::scales(), prior::anywhere)
            }
            None => Cells::new(place, grid::UNKNOWN_SPACING_M, prior::radii(), prior::anywhere),
        };
        let known = if veered_m.is_some() { Known::Rode } else { Known::Nothing };
        Self::new(known, at, plane, Lies::new(at, tackle, veered_m.unwrap_or(50.0), None), cells)
    }

    fn new(known: Known, at: WatchTime, plane: Plane, lies: Lies, cells: Cells) -> Self {
        Self {
            known,
            plane,
            lies,
            ready: Ready::default(),
            called: Called::default(),
            told: Told::default(),
            cells,
            bow: Bow::default(),
            receivers: Receivers::new(),
            settling: None,
            pointing: Pointing::default(),
            excursion: Excursion::default(),
            geometry: Geometry::new(),
            blind_until: at + departure::BLIND_FOR,
            heard: None,
            beginning: Beginning::default(),
            evidence: Evidence::default(),
            slow_evidence: Evidence::default(),
        }
    }

    /// After a gap the last seconds have nothing to say.
    pub fn gap(&mut self) {
        self.bow.samples.clear();
        self.bow.means.clear();
        self.receivers.gap();
    }

    /// Without mark or rode known: she has plainly left.
    pub fn under_way(&self) -> bool {
        self.known == Known::Nothing && self.called.drag.is_some() && self.beyond_m() > call::UNDER_WAY_M
    }

    /// Takes the fixes of one second.
    pub fn take(&mut self, sample: Sample, heading: Option<TrueBearing>, boat: &Boat) {
        self.bow.heading = heading;
        self.bow.nearer_m = match heading {
            None if self.known != Known::Nothing => reach::AFT_SHARE * boat.antenna_aft.0,
            _ => 0.0,
        };
        self.receivers.take_believed(sample.receiver, sample.antenna, sample.way, sample.interval_s);
        self.bow.samples.push((self.bow_of(sample.antenna, boat), sample));
    }

    /// Takes a fix of a receiver beside the believed one.
    pub fn take_aside(&mut self, at: WatchTime, fix: &Fix, boat: &Boat) {
        let antenna = self.plane.to_local(fix.position);
        let bow = self.bow_of(antenna, boat);
        self.receivers.take_aside(at, fix.receiver, (antenna, bow), fix.way());
    }

    /// The antenna carried to the bow, as far as her heading is known.
    fn bow_of(&self, antenna: Local, boat: &Boat) -> Local {
        match self.bow.heading {
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
        let Some((bow, length_s)) = self.hear(at, load) else { return };
        if let Some(settling) = &mut self.settling {
            let reach_m = self.lies.straight_m(around.boat);
            let wander_m = self.receivers.wander_m();
            settling.step(at, &mut self.cells, (bow, self.bow.nearer_m), reach_m, wander_m);
        }
        self.lies.turn(at, lies::way(self.bow.heading, self.cells.best().anchor - bow), length_s);
        if around.fixes.doubt(at).is_some() || around.standing_down {
            return;
        }
        // What she does far beyond her reach is no noise of a receiver.
        let stands = self.beyond_m() < noise::LEARNS_WITHIN * self.receivers.wander_m().max(1.0);
        self.receivers.learn(&Lesson { anchor: self.cells.best().anchor, stands, length_s });
        self.limits(at, load, around.boat, length_s);
        let (step, is_excursion) = self.evidence_of(at, length_s);
        if let Some(heading) = self.bow.heading.filter(|_| self.known != Known::Nothing) {
            self.pointing.step(&mut self.cells, heading, step.bow, load, length_s);
        }
        self.cells.step(&step);
        let sinks_s = if is_excursion { 0.0 } else { length_s };
        self.judge(at, bow, sinks_s, length_s);
        self.trust(load, length_s);
    }

    /// The bow by all receivers that were heard in this step, and its length.
    fn hear(&mut self, at: WatchTime, load: &mut Load) -> Option<(Local, f64)> {
        let samples = std::mem::take(&mut self.bow.samples);
        let interval_s = samples.last().map_or(1.0, |(_, last)| last.interval_s);
        // A receiver that reports seldom is heard each time; one that reports each second must give three of five.
        let is_heard = samples.len() >= 3 || interval_s >= 2.0;
        let sum = samples.iter().fold(Local::default(), |sum, (bow, _)| sum + *bow);
        let believed = is_heard.then(|| sum.scaled(1.0 / samples.len() as f64));
        let length_s = interval_s.clamp(5.0, 60.0);
        let bow = self.receivers.hear(believed, self.bow.heading)?;
        self.geometry.step(samples.iter().filter_map(|(_, sample)| sample.hdop).reduce(f64::max));
        if self.heard.replace(at).is_none_or(|last| at.since(last) > departure::HOLE) {
            self.blind_until = at + departure::BLIND_FOR;
        }
        load.place(bow, length_s);
        self.bow.means.push_back(bow);
        if self.bow.means.len() > BOWS {
            self.bow.means.pop_front();
        }
        Some((bow, length_s))
    }

    fn limits(&mut self, at: WatchTime, load: &Load, boat: &Boat, length_s: f64) {
        if self.known == Known::Nothing {
            self.lies.any_radius();
            return;
        }
        let inner_m = self.lies.limits[self.cells.best().reach].1;
        let nearer = (inner_m != 0.0).then(|| (self.distance_m(), inner_m));
        self.lies.work_out(at, load, boat, nearer, length_s);
    }

    /// What this step says to every place, and whether the fixes may be on an excursion.
    fn evidence_of(&mut self, at: WatchTime, length_s: f64) -> (Step, bool) {
        let recent = self.bow.means.iter().rev().take(RECENT);
        let sum = recent.clone().fold(Local::default(), |sum, bow| sum + *bow);
        let bow = sum.scaled(1.0 / recent.len() as f64);
        let wander_m = self.receivers.wander_m();
        let quiet_m = wander_m.hypot(noise::QUICK_M);
        let Best { anchor, reach, .. } = self.cells.best();
        let out = bow - anchor;
        let beyond_m = out.length_m() - self.bow.nearer_m - self.lies.limits[reach].0;
        let is_excursion = self.excursion.step(beyond_m, quiet_m, length_s);
        let outward = out.scaled(1.0 / out.length_m().max(1.0));
        self.receivers.depart(at, Lay { beyond_m, outward, quiet_m }, length_s);
        let step = Step {
            bow,
            nearer_m: self.bow.nearer_m,
            limits: self.lies.limits,
            taut: self.lies.taut,
            slow: self.slow_step(wander_m, is_excursion, length_s),
            fast: self.fast_step(at, outward, quiet_m),
        };
        (step, is_excursion)
    }

    /// On an excursion the slow account stands still.
    fn slow_step(&self, wander_m: f64, is_excursion: bool, length_s: f64) -> Slow {
        let share_kept = self.receivers.noise().map_or(0.5, Noise::share_kept);
        let mean_share = (1.0 - (-length_s / slow::MEAN_S).exp()) * self.geometry.weight();
        let goes_on = if is_excursion { 0.0 } else { 1.0 };
        Slow {
            mean_share: goes_on * mean_share,
            sigma_m: (slow::GEOMETRY_M * slow::GEOMETRY_M + share_kept * wander_m * wander_m).sqrt(),
            most_m: slow::MOST_M.max(3.0 * wander_m),
            again: goes_on * length_s / (2.0 * slow::AGAIN_S),
            back: goes_on * slow::BACK_NATS_PER_HOUR / 3600.0 * length_s,
        }
    }

    fn fast_step(&self, at: WatchTime, outward: Local, quiet_m: f64) -> Fast {
        let less = if self.geometry.is_poor() { fast::BURST_HDOP_NATS } else { 0.0 };
        let says = self.receivers.says();
        let denied = says.map_or(0.0, |says| {
            let z = (says.hidden_m - departure::FREE_M).max(0.0) / says.sigma_m;
            (0.5 * z * z).min(fast::VELOCITY_NATS)
        });
        Fast {
            quiet_m,
            burst_nats: fast::BURST_NATS - less,
            velocity: says.filter(|_| at >= self.blind_until).map(|says| Velocity {
                unknown_m: says.unknown.dot(outward),
                sigma_m: says.sigma_m,
                most_nats: fast::VELOCITY_NATS * says.trust,
            }),
            denied_nats: denied,
        }
    }

    fn judge(&mut self, at: WatchTime, bow: Local, sinks_s: f64, length_s: f64) {
        let best = self.cells.best();
        let is_pinned = self.beginning.step(bow, length_s);
        let inside = self.known != Known::Nothing && self.distance_m() < self.lies.limits[best.reach].1;
        self.evidence.step(best.total, is_pinned, inside, sinks_s);
        self.slow_evidence.step(best.slow, is_pinned, inside, sinks_s);
        let told = |nats| self.told.weigh(at, nats);
        let slow = told(self.slow_evidence.nats);
        self.called.step(
            at,
            &Speaks {
                nats: told(self.evidence.nats),
                slow_nats: slow,
                slow_alone_nats: slow.min(self.slow_evidence.nats),
                wander_m: self.receivers.wander_m(),
            },
        );
        if self.called.drag.is_some() {
            self.called.from.get_or_insert((best.anchor, best.reach));
        }
    }

    fn trust(&mut self, load: &Load, length_s: f64) {
        if self.called.is_good() {
            self.ready.held(length_s, load.test_share(), self.lies.taut, self.receivers.wander_m());
        } else {
            self.ready.moved();
        }
    }

    /// The same boat at an anchor that lies ahead of her by the reach of the rode, and its place. What is known of the
    /// receivers stays.
    pub fn afresh(&self, at: WatchTime, tackle: &Tackle) -> Option<(Self, Position)> {
        let bow = *self.bow.means.back()?;
        let veered_m = self.lies.veered_m;
        let mut lies = Lies::new(at, tackle, veered_m, self.lies.depth_m);
        lies.tide_m = self.lies.tide_m;
        let (place, stay) = match self.known {
            Known::Nothing => (bow, Self::found(at, self.plane, bow, tackle, None)),
            Known::Mark | Known::Rode => {
                let way = lies::way(self.bow.heading, self.from().0 - bow);
                let reach_m = self.lies.limits[REACHES / 2].1.max(1.0);
                let plane = Plane::new(self.plane.to_position(bow + way.scaled(reach_m)));
                let cells =
                    Cells::new(Local::default(), grid::MARKED_SPACING_M, prior::scales(), prior::guessed);
                (bow + way.scaled(reach_m), Self::new(Known::Mark, at, plane, lies, cells))
            }
        };
        let mut receivers = self.receivers.clone();
        receivers.gap();
        Some((Self { receivers, ..stay }, self.plane.to_position(place)))
    }

    /// Where the anchor most likely lies if it stands, and by which of the reaches; after `drag`, from where it moved.
    fn from(&self) -> (Local, usize) {
        let Best { anchor, reach, .. } = self.cells.best();
        self.called.from.unwrap_or((anchor, reach))
    }

    /// What is learned of an anchor that stands and of the rode.
    pub fn learned(&self) -> Option<Learned> {
        let (anchor, reach) = self.from();
        let is_learned = self.known == Known::Mark && self.heard.is_some() && self.called.drag.is_none();
        is_learned.then(|| Learned {
            anchor: self.plane.to_position(anchor),
            rode_share: prior::SCALES[reach],
            wander: Metres(self.receivers.believed_wander_m()),
        })
    }

    /// Takes what eyes and hands found.
    pub fn hear_of(&mut self, at: WatchTime, seen: Seen) {
        self.told.hear(at, seen, self.slow_evidence.nats);
    }

    /// Evidence for a moved anchor now, nats.
    pub fn nats(&self) -> f64 {
        self.heard.map_or(self.evidence.nats, |at| self.told.weigh(at, self.evidence.nats))
    }

    /// The same as a share of what calls `drag`, `0..=1`; once it is called, 1.
    pub fn evidence(&self) -> f64 {
        self.share(self.nats())
    }

    /// The same with nothing taken off for what the crew found.
    pub fn evidence_of_positions(&self) -> f64 {
        self.share(self.nats().max(self.evidence.nats))
    }

    fn share(&self, nats: f64) -> f64 {
        if self.called.drag.is_some() { 1.0 } else { (nats / call::DRAG_NATS).clamp(0.0, 1.0) }
    }

    /// What the bow's place errs by over minutes.
    pub fn wander(&self) -> Metres {
        Metres(self.receivers.wander_m())
    }

    /// Distance from the best place for the anchor to the bow, metres.
    pub fn distance_m(&self) -> f64 {
        let bow = self.bow.means.back();
        bow.map_or(0.0, |bow| ((*bow - self.from().0).length_m() - self.bow.nearer_m).max(0.0))
    }

    /// How far the rode reaches now, from the best place for the anchor, metres.
    pub fn reach_m(&self) -> f64 {
        self.lies.limits[self.from().1].0.max(0.0)
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
        let called = self.called.drag.or(self.called.creep)?;
        let (bow, first) = (*self.bow.means.back()?, *self.bow.means.front()?);
        let way = bow - self.from().0;
        let out = way.scaled(1.0 / way.length_m().max(1e-9));
        let seconds = 5.0 * (self.bow.means.len().max(2) - 1) as f64;
        Some(Moved {
            distance: Metres(self.beyond_m().max(0.0)),
            bearing: way.bearing(),
            since: self.called.began.unwrap_or(called),
            speed: Knots::from_mps(((bow - first).dot(out) / seconds).max(0.0)),
        })
    }
}
