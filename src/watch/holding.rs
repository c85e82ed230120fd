//! Does the anchor hold?
//!
//! A circle about the mark is late when it is wide and cries wolf when it is tight. The question here is another: can
//! *any one* place of the anchor, and any one true length of rode, explain every position seen since it was let go?
//! The method, what it can do and where it must fail are told in `docs/inside/holding.md`.
//!
//! [`Holding`] is told what the crew does, every valid fix as it arrives, and once a second how the boat lies. It has
//! no clock: every call carries its time, and the same calls give the same verdict to the last digit.

mod called;
mod carried;
mod cells;
mod departure;
mod evidence;
mod excursion;
mod fixes;
mod lies;
mod load;
mod noise;
mod pointing;
mod prior;
mod quantile;
mod reach;
mod ready;
mod receivers;
mod search;
mod settling;
mod shift;
mod stay;
mod told;
mod tuning;
mod verdict;

pub use fixes::{Fix, FixKind};
pub use told::Seen;
pub use verdict::{Belief, Doubt, HoldingState, Learned, Means, Moved, Verdict};

use self::fixes::Fixes;
use self::load::Load;
use self::search::Search;
use self::stay::{Around, Stay};
use super::boat::{Boat, Tackle};
use super::geo::Position;
use super::units::{Knots, Metres, TrueBearing, WatchTime};

/// How the boat lies, once a second. Anything not known, or not fresh, is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Conditions {
    /// Heading.
    pub heading: Option<TrueBearing>,
    /// Apparent wind: angle off the bow in degrees (0–360 or ±180, clockwise positive), and its speed.
    pub apparent_wind: Option<(f64, Knots)>,
    /// Height of tide above that at the drop.
    pub tide_since_drop: Option<Metres>,
}

/// A step of evidence every so many milliseconds.
const STEP_MS: i64 = 5000;

/// Judges whether she holds.
#[derive(Clone, Debug)]
pub struct Holding {
    boat: Boat,
    tackle: Tackle,
    fixes: Fixes,
    load: Load,
    search: Search,
    stay: Option<Stay>,
    veered_m: Option<f64>,
    standing_down: bool,
    last_second: WatchTime,
    had_heading: Part,
    had_velocity: Part,
}

/// In how many of so many seconds something was there.
#[derive(Clone, Copy, Debug, Default)]
struct Part {
    there_s: f64,
    of_s: f64,
}

impl Part {
    fn note(&mut self, is_there: bool, seconds: f64) {
        self.of_s += seconds;
        self.there_s += if is_there { seconds } else { 0.0 };
    }

    fn is_most(self) -> bool {
        self.there_s > 0.5 * self.of_s
    }
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
            search: Search::default(),
            stay: None,
            veered_m: None,
            standing_down: false,
            last_second: WatchTime(i64::MIN),
            had_heading: Part::default(),
            had_velocity: Part::default(),
        }
    }

    /// The anchor is let go at `mark`, the bow's place, with `veered` of rode out or to be veered at once, in `depth`
    /// metres of water. `doubt` is how far off the mark may be beyond a position's own error. Everything believed of an
    /// earlier drop is forgotten.
    pub fn let_go(
        &mut self,
        at: WatchTime,
        mark: Position,
        veered: Metres,
        depth: Option<Metres>,
        doubt: Metres,
    ) {
        self.standing_down = false;
        self.fixes.restart();
        let veered_m = veered.0.max(1.0);
        self.veered_m = Some(veered_m);
        let depth_m = depth.map(|depth| depth.0);
        self.stay = Some(Stay::marked(at, mark, &self.tackle, veered_m, depth_m, doubt.0));
    }

    /// The depth where the anchor went down, entered afterwards.
    pub fn drop_depth(&mut self, depth: Metres) {
        if let Some(stay) = &mut self.stay {
            stay.lies.depth_m = Some(depth.0);
        }
    }

    /// The rode out is now `length` in all. What is believed of the anchor's place stays.
    pub fn veered(&mut self, at: WatchTime, length: Metres) {
        let veered_m = length.0.max(1.0);
        self.veered_m = Some(veered_m);
        if let Some(stay) = &mut self.stay {
            stay.lies.veer(at, &self.tackle, veered_m);
        }
    }

    /// The crew says that she lies to her anchor where she is now: what was called is over, and the anchor is looked for
    /// afresh. Gives the place where it is taken to lie, the reach of the rode ahead of the bow; `None` without a position.
    pub fn lies_here(&mut self, at: WatchTime) -> Option<Position> {
        let (fresh, place) = self.stay.as_ref()?.afresh(at, &self.tackle)?;
        self.stay = Some(fresh);
        Some(place)
    }

    /// The crew has proved the anchor: she is brought up.
    pub fn brought_up(&mut self, _at: WatchTime) {
        if let Some(stay) = &mut self.stay {
            stay.ready.prove();
        }
    }

    /// The crew begins to look after the anchor: what they found before can no longer be corrected.
    pub fn begin_check(&mut self, at: WatchTime) {
        if let Some(stay) = &mut self.stay {
            stay.told.begin(at);
        }
    }

    /// What the crew has found so far in this check. What speaks for a moved anchor may be told at any time; what speaks for
    /// one that stands once it has been so for the whole check.
    pub fn told(&mut self, at: WatchTime, seen: Seen) {
        if let Some(stay) = &mut self.stay {
            stay.hear_of(at, seen);
        }
    }

    /// The watch did not run, or heard nothing, from `from` to `to`. The anchor is taken to have stood meanwhile.
    pub fn gap(&mut self, _from: WatchTime, _to: WatchTime) {
        self.fixes.restart();
        self.load.skip();
        if let Some(stay) = &mut self.stay {
            stay.gap();
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
        if self.stay.is_none()
            && let Some((plane, middle)) = self.search.fix(at, fix.position)
        {
            self.stay = Some(Stay::found(at, plane, middle, &self.tackle, self.veered_m));
            self.search = Search::default();
        }
        if let Some(stay) = &self.stay {
            self.fixes.push(at, fix, stay.plane.to_local(fix.position));
        }
    }

    /// A trusted fix of a receiver that stands beside the believed one: it has its share in where the bow is, the
    /// smaller the more its fixes have been seen to wander.
    pub fn fix_aside(&mut self, at: WatchTime, fix: &Fix) {
        if let Some(stay) = &mut self.stay {
            stay.take_aside(at, fix, &self.boat);
        }
    }

    /// A whole second has passed.
    pub fn second(&mut self, at: WatchTime, now: &Conditions) {
        self.last_second = at;
        self.had_heading.note(now.heading.is_some(), 1.0);
        self.load.second(now.apparent_wind);
        let sample = self.fixes.second(at);
        if let Some(sample) = &sample {
            self.had_velocity.note(sample.way.is_some(), sample.interval_s);
        }
        let Some(stay) = &mut self.stay else { return };
        if let Some(tide) = now.tide_since_drop {
            stay.lies.tide_m = tide.0;
        }
        if let Some(sample) = sample {
            stay.take(sample, now.heading, &self.boat);
        }
        if at.0.rem_euclid(STEP_MS) != 0 {
            return;
        }
        let around = Around { fixes: &self.fixes, boat: &self.boat, standing_down: self.standing_down };
        stay.step(at, &mut self.load, &around);
        if stay.under_way() {
            self.stay = None;
            self.fixes.restart();
        }
    }

    /// The judgement as it stands.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let Some(stay) = &self.stay else { return nothing_set() };
        let (belief, from_mark) = stay.belief();
        Verdict {
            state: self.state(),
            evidence: stay.evidence(),
            belief: Some(belief),
            from_mark,
            learned: stay.learned(),
            moved: stay.moved(),
            beyond_best_cell: Metres(stay.beyond_m()),
            distance: Metres(stay.distance_m()),
            reach: Metres(stay.reach_m()),
            ready: stay.ready.value(),
            means: Some(self.means(stay)),
        }
    }

    /// Evidence for a moved anchor now, nats; it goes on being calculated after `drag` is called.
    #[must_use]
    pub fn nats(&self) -> f64 {
        self.stay.as_ref().map_or(0.0, Stay::nats)
    }

    /// The same as a share of what calls `drag`, by the positions alone where the crew found that she holds: whatever
    /// follows an anchor that stands must not follow their word.
    #[must_use]
    pub fn evidence_of_positions(&self) -> f64 {
        self.stay.as_ref().map_or(0.0, Stay::evidence_of_positions)
    }

    /// Does she hold? The head of [`Self::verdict`], cheaper.
    #[must_use]
    pub fn state(&self) -> HoldingState {
        let Some(stay) = &self.stay else { return HoldingState::NotSet };
        if self.standing_down {
            HoldingState::NotSet
        } else if stay.called.drag.is_some() {
            HoldingState::Dragging
        } else if let Some(doubt) = self.fixes.doubt(self.last_second) {
            HoldingState::CannotJudge(doubt)
        } else if stay.called.creep.is_some() {
            HoldingState::Creeping
        } else {
            HoldingState::Holding
        }
    }

    fn means(&self, stay: &Stay) -> Means {
        Means {
            wander: stay.wander(),
            velocity: self.had_velocity.is_most(),
            wind: self.load.pull().measured,
            heading: self.had_heading.is_most(),
            depth: stay.lies.depth_m.is_some(),
            mark: stay.known == stay::Known::Mark,
        }
    }
}

fn nothing_set() -> Verdict {
    Verdict {
        state: HoldingState::NotSet,
        evidence: 0.0,
        belief: None,
        from_mark: None,
        learned: None,
        moved: None,
        beyond_best_cell: Metres(0.0),
        distance: Metres(0.0),
        reach: Metres(0.0),
        ready: 0.0,
        means: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::geo::{Local, Plane};

    const START: WatchTime = WatchTime(1_767_225_600_000);

    fn mark() -> Position {
        Position::new(50.0, -4.0).unwrap()
    }

    /// Feeds fixes of a bow that moves along `path` (metres on the plane about the mark), heading towards the mark.
    fn run(seconds: i64, path: impl Fn(f64) -> Local) -> Vec<(i64, Verdict)> {
        let boat = Boat { antenna_aft: Metres(0.0), ..Boat::default() };
        let mut holding = Holding::new(&boat, &Tackle::default());
        let plane = Plane::new(mark());
        holding.let_go(START, mark(), Metres(40.0), Some(Metres(7.0)), Metres(0.0));
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
