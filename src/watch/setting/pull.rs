//! What the positions say of one pull of the engine.
//!
//! She lies still under a pull only if something holds her. So the question is put to the end of the pull: did the bow
//! still go away from the anchor, and if not, where did it stop? Both answers come with the receiver's own error.

use std::collections::VecDeque;

use super::{Held, PullKind, PullSeen, Taut, Transit};
use crate::watch::geo::Local;
pub(super) use crate::watch::tuning::pull::STILL_M_PER_MIN;
use crate::watch::tuning::pull::{
    AHEAD_M_PER_MIN, BEFORE, COMES_M_PER_MIN, ERROR_LASTS_S, GIVES_M, JITTER, KEPT, NOW, PLOUGHS_M_PER_MIN,
    SHORT_M, SHORT_SHARE, STRAIGHT_M, STUCK_S, STUCK_WITHIN_S, TOO_ROUGH_M_PER_MIN, UNEXPLAINED_M,
    UNEXPLAINED_WITHIN_S, WINDOW_LEAST_S, WINDOW_POINTS, WINDOW_S,
};
use crate::watch::units::{Metres, Span, WatchTime};

/// Where the bow was in one second.
#[derive(Clone, Copy, Debug)]
pub struct Spot {
    /// When.
    pub at: WatchTime,
    /// The bow, or the antenna where no heading is known.
    pub point: Local,
    /// Metres to add to the distance from the anchor to have that of the bow: 0 for the bow itself.
    pub nearer_m: f64,
    /// The antenna: what the receiver printed.
    pub antenna: Local,
    /// Its velocity as the receiver measures it, metres a second; `None` if it gives none, or none so slow.
    pub velocity: Option<Local>,
    /// Expected error of the position, one standard deviation.
    pub sigma_m: f64,
    /// Step in which the receiver prints, metres.
    pub step_m: f64,
}

impl Spot {
    fn distance_m(&self) -> f64 {
        (self.point.length_m() - self.nearer_m).max(0.0)
    }
}

/// What is known of anchor and rode beside the positions.
#[derive(Clone, Copy, Debug, Default)]
pub struct Ground {
    /// The origin of the plane is the drop point.
    pub marked: bool,
    /// How far the rode entered reaches.
    pub reach: Option<Metres>,
    /// How long ago the drop was marked, seconds: the receiver's error has wandered since.
    pub marked_for_s: f64,
}

/// One pull and the neutral after it.
#[derive(Clone, Debug)]
pub struct Pull {
    kind: PullKind,
    began: WatchTime,
    ended: Option<WatchTime>,
    spots: VecDeque<Spot>,
    before: Option<Local>,
    rpm: Option<f64>,
    /// An earlier pull has found the rode taut.
    was_taut: bool,
    at_end: Option<PullSeen>,
    nearest_after_m: Option<f64>,
    transit: Option<Transit>,
}

impl Pull {
    /// A pull begins; `recent` are the last seconds before it.
    pub fn begin(kind: PullKind, at: WatchTime, recent: &VecDeque<Spot>, was_taut: bool) -> Self {
        let before: Vec<Local> =
            recent.iter().filter(|spot| at.since(spot.at) <= BEFORE).map(|spot| spot.point).collect();
        Self {
            kind,
            began: at,
            ended: None,
            spots: VecDeque::new(),
            before: mean(&before),
            rpm: None,
            was_taut,
            at_end: None,
            nearest_after_m: None,
            transit: None,
        }
    }

    /// How hard it is.
    pub fn kind(&self) -> PullKind {
        self.kind
    }

    /// The engine still pulls.
    pub fn goes_on(&self) -> bool {
        self.ended.is_none()
    }

    /// How long the engine has pulled.
    pub fn lasted(&self, now: WatchTime) -> Span {
        self.ended.unwrap_or(now).since(self.began)
    }

    /// What the crew saw of its transit after it.
    pub fn transit(&self) -> Option<Transit> {
        self.transit
    }

    /// The crew looked at its transit.
    pub fn see_transit(&mut self, seen: Transit) {
        self.transit = Some(seen);
    }

    /// Takes one second.
    pub fn second(&mut self, spot: Option<Spot>, rpm: Option<f64>) {
        if self.goes_on() {
            self.rpm = match (self.rpm, rpm) {
                (Some(most), Some(rpm)) => Some(most.max(rpm)),
                (most, rpm) => most.or(rpm),
            };
        }
        let Some(spot) = spot else { return };
        if !self.goes_on() {
            let nearest = self.nearest_after_m.unwrap_or(f64::INFINITY);
            self.nearest_after_m = Some(nearest.min(spot.distance_m()));
            return;
        }
        self.before.get_or_insert(spot.point);
        if self.spots.len() == KEPT {
            self.spots.pop_front();
        }
        self.spots.push_back(spot);
    }

    /// The engine goes into neutral.
    pub fn end(&mut self, at: WatchTime, ground: Ground) {
        if self.goes_on() {
            let mut seen = self.judge(at, ground);
            seen.ended = Some(at);
            self.at_end = Some(seen);
            self.ended = Some(at);
            self.spots = VecDeque::new();
        }
    }

    /// The drop point was moved: places of before lie on another plane, and are forgotten.
    pub fn plane_moved(&mut self) {
        self.spots.clear();
        (self.before, self.nearest_after_m) = (None, None);
    }

    /// What was seen so far.
    pub fn seen(&self, now: WatchTime, ground: Ground) -> PullSeen {
        let Some(seen) = &self.at_end else { return self.judge(now, ground) };
        let back =
            seen.distance.zip(self.nearest_after_m).map(|(at_end, nearest)| Metres(at_end.0 - nearest));
        let sprang_back = back.filter(|back| back.0 > 0.0);
        let held = with_transit(seen.held, self.transit);
        PullSeen { sprang_back, held, transit: self.transit, ..seen.clone() }.worded()
    }

    fn judge(&self, now: WatchTime, ground: Ground) -> PullSeen {
        let spots: Vec<Spot> = self.spots.iter().copied().collect();
        let last = spots.last().filter(|spot| now.since(spot.at) <= NOW);
        let mut seen = self.nothing_seen(now, ground);
        if let (Some(last), Some(before)) = (last, self.before) {
            seen.uncertainty = Metres(wander_m(last, seen.lasted.seconds()));
            let way = near_end(&spots) - before;
            let moved = way.length_m();
            seen.moved = Some(Metres(moved));
            seen.toward = (moved > 2.0 * seen.uncertainty.0).then(|| way.bearing());
            seen.distance = ground.marked.then(|| Metres(last.distance_m()));
            self.judge_end(&spots, ground, &mut seen);
        }
        seen.worded()
    }

    /// A pull of which no position shows anything.
    fn nothing_seen(&self, now: WatchTime, ground: Ground) -> PullSeen {
        PullSeen {
            kind: self.kind,
            began: self.began,
            ended: None,
            lasted: self.lasted(now),
            moved: None,
            toward: None,
            speed_m_per_min: None,
            uncertainty: Metres(0.0),
            distance: None,
            reach: ground.reach,
            taut: Taut::Unknown,
            held: Held::Unknown,
            rpm: self.rpm,
            sprang_back: None,
            transit: None,
            reason: "",
            words: String::new(),
        }
    }

    /// Did she go on or lie still at the end, and where?
    fn judge_end(&self, spots: &[Spot], ground: Ground, seen: &mut PullSeen) {
        let Some(speed) = Speed::at_end(spots).filter(|_| ground.marked) else { return };
        seen.speed_m_per_min = Some(speed.m_per_min);
        let ahead = speed.m_per_min < -AHEAD_M_PER_MIN - speed.error_m_per_min;
        let rough = speed.error_m_per_min > TOO_ROUGH_M_PER_MIN || unexplained_m(spots) > UNEXPLAINED_M;
        if rough || ahead || is_stuck(spots) {
            return;
        }
        let distance_m = seen.distance.unwrap_or_default().0;
        let reach_m = seen.reach.map_or(f64::INFINITY, |reach| reach.0);
        let mark_m = spots.last().map_or(0.0, |spot| wander_m(spot, ground.marked_for_s));
        // Beyond the reach by more than the errors explain, or fast with a straight rode: the anchor comes along.
        let beyond = distance_m > reach_m + STRAIGHT_M + 2.5 * mark_m;
        // Under a light pull she may still fall back from where the chain had drawn her in neutral.
        let straight = match self.kind {
            PullKind::Slow => distance_m > reach_m + 0.5 * mark_m,
            PullKind::HalfThrottle | PullKind::HardBurst => distance_m > reach_m - STRAIGHT_M - mark_m,
        };
        let tried = self.was_taut && self.kind > PullKind::Slow;
        let fast = if tried { STILL_M_PER_MIN + 1.0 } else { COMES_M_PER_MIN };
        let comes = straight && speed.m_per_min > fast + speed.error_m_per_min;
        let short = reach_m - distance_m > (SHORT_SHARE * reach_m).max(SHORT_M) + mark_m;
        let went = if self.was_taut { Taut::Taut } else { Taut::Not };
        (seen.taut, seen.held) = match still_since(spots) {
            None if comes || beyond => (went, Held::Moved),
            None => (Taut::Not, Held::Untried),
            Some(from) if straight && ploughs(&spots[from..], speed) => (went, Held::Moved),
            // A light pull leaves chain in a bight where it was laid: that proves nothing.
            Some(_) if short && self.kind == PullKind::Slow => (Taut::Not, Held::Untried),
            Some(_) if short => (Taut::Short, Held::Held),
            Some(_) => (Taut::Taut, Held::Held),
        };
    }
}

/// The crew's eyes beside the positions. A transit that opened says that she went, whatever the positions make of it; one
/// that stood speaks where they do not. Of a rode that was never taut neither says anything.
fn with_transit(held: Held, transit: Option<Transit>) -> Held {
    match (held, transit) {
        (Held::Held | Held::Unknown, Some(Transit::Opened)) => Held::Moved,
        (Held::Unknown, Some(Transit::Stood)) => Held::Held,
        (held, _) => held,
    }
}

fn mean(points: &[Local]) -> Option<Local> {
    let sum = points.iter().fold(Local::default(), |sum, point| sum + *point);
    (!points.is_empty()).then(|| sum.scaled(1.0 / points.len() as f64))
}

/// The place at the end: the mean of the last three seconds.
fn near_end(spots: &[Spot]) -> Local {
    let points: Vec<Local> = spots.iter().rev().take(3).map(|spot| spot.point).collect();
    mean(&points).unwrap_or_default()
}

/// What the receiver's wander makes of a movement over so many seconds, one standard deviation, metres.
///
/// A first-order Gauss–Markov error of deviation σ and time T differs from itself t later by σ√(2(1 − e^(−t/T))) in each
/// axis (Brown & Hwang 2012, *Introduction to Random Signals*); jitter and the step of the last figure come on top.
fn wander_m(spot: &Spot, seconds: f64) -> f64 {
    let slow = spot.sigma_m * (2.0 * (1.0 - (-seconds.max(0.0) / ERROR_LASTS_S).exp())).sqrt();
    slow.hypot(quick_m(spot))
}

fn quick_m(spot: &Spot) -> f64 {
    (JITTER * spot.sigma_m).hypot(spot.step_m / 12f64.sqrt())
}

fn span_s(spots: &[Spot]) -> f64 {
    spots.first().zip(spots.last()).map_or(0.0, |(first, last)| last.at.since(first.at).seconds())
}

/// How fast the bow goes away from the anchor, and how well that is known.
#[derive(Clone, Copy, Debug)]
struct Speed {
    m_per_min: f64,
    error_m_per_min: f64,
}

impl Speed {
    /// Over the last seconds; `None` with too few positions.
    fn at_end(spots: &[Spot]) -> Option<Self> {
        let last = spots.last()?;
        let from = spots.partition_point(|spot| last.at.since(spot.at).seconds() > WINDOW_S);
        Self::over(&spots[from..])
    }

    /// The slope of the straight line of least squares through distance over time. Its error: the slow wander over the
    /// window as if it were all one way, and quick errors q of n points over a window w, q/w·√(12/n).
    fn over(spots: &[Spot]) -> Option<Self> {
        let (window_s, count) = (span_s(spots), spots.len() as f64);
        if spots.len() < WINDOW_POINTS || window_s < WINDOW_LEAST_S {
            return None;
        }
        let first = spots[0].at;
        let points = || spots.iter().map(|spot| (spot.at.since(first).seconds(), spot.distance_m()));
        let (t_mean, d_mean) = points().fold((0.0, 0.0), |(t, d), p| (t + p.0 / count, d + p.1 / count));
        let (mixed, squares) = points().fold((0.0, 0.0), |(mixed, squares), (t, d)| {
            (mixed + (t - t_mean) * (d - d_mean), squares + (t - t_mean).powi(2))
        });
        let spot = &spots[spots.len() - 1];
        let slow = (wander_m(spot, window_s).powi(2) - quick_m(spot).powi(2)).max(0.0).sqrt() / window_s;
        let quick = quick_m(spot) / window_s * (12.0 / count).sqrt();
        Some(Self { m_per_min: 60.0 * mixed / squares, error_m_per_min: 60.0 * slow.hypot(quick) })
    }

    fn is_still(&self) -> bool {
        self.m_per_min < STILL_M_PER_MIN + self.error_m_per_min
    }
}

/// The first of the spots from which on she lay still until the end; `None` if she did not at the end.
fn still_since(spots: &[Spot]) -> Option<usize> {
    let mut from = None;
    let mut to = spots.len();
    while let Some(start) = window_before(spots, to)
        && Speed::over(&spots[start..to]).is_some_and(|speed| speed.is_still())
    {
        from = Some(start);
        to -= 1;
    }
    from
}

/// She was as good as still, and yet went away, on and on, by more than rode and receiver explain.
fn ploughs(spots: &[Spot], at_end: Speed) -> bool {
    let (Some(first), Some(last)) = (spots.first(), spots.last()) else { return false };
    let gone_m = last.distance_m() - first.distance_m();
    gone_m > GIVES_M + 2.0 * wander_m(first, span_s(spots)) && at_end.m_per_min > PLOUGHS_M_PER_MIN
}

/// Where the window begins that ends before `to`; `None` if there is not enough for one.
fn window_before(spots: &[Spot], to: usize) -> Option<usize> {
    let last = spots.get(to.checked_sub(1)?)?;
    let start = spots[..to].partition_point(|spot| last.at.since(spot.at).seconds() > WINDOW_S);
    (span_s(&spots[start..to]) >= WINDOW_LEAST_S && to - start >= WINDOW_POINTS).then_some(start)
}

/// How far the positions wander from what the receiver's own velocity makes of the way, at most, over the last seconds: the
/// velocity hardly feels reflections (Groves 2013, *Principles of GNSS, Inertial and Multisensor Integrated Navigation*).
/// Nothing if it gives no velocity.
fn unexplained_m(spots: &[Spot]) -> f64 {
    let Some(last) = spots.last() else { return 0.0 };
    let from = spots.partition_point(|spot| last.at.since(spot.at).seconds() > UNEXPLAINED_WITHIN_S);
    let steps = spots[from..].windows(2).filter_map(|pair| {
        let length_s = pair[1].at.since(pair[0].at).seconds();
        Some(pair[1].antenna - pair[0].antenna - pair[1].velocity?.scaled(length_s))
    });
    let (_, most_m) = steps.fold((Local::default(), 0.0_f64), |(sum, most), step| {
        let sum = sum + step;
        (sum, most.max(sum.length_m()))
    });
    most_m
}

/// The receiver prints the same position again and again, in steps so fine that it cannot be by chance.
fn is_stuck(spots: &[Spot]) -> bool {
    let Some(last) = spots.last().filter(|spot| spot.step_m < 0.5) else { return false };
    let from = spots.partition_point(|spot| last.at.since(spot.at).seconds() > STUCK_WITHIN_S);
    let runs = spots[from..].chunk_by(|a, b| a.antenna == b.antenna);
    runs.map(span_s).any(|run_s| run_s >= STUCK_S)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GROUND: Ground = Ground { marked: true, reach: Some(Metres(29.0)), marked_for_s: 200.0 };

    fn spot(s: i64, distance_m: f64) -> Spot {
        // A hair of noise: no receiver prints the same twice.
        let hair = Local::new(0.01 * ((s * 7) % 5) as f64, 0.0);
        let point = Local::new(0.0, -distance_m) + hair;
        Spot {
            at: WatchTime(s * 1000),
            point,
            nearer_m: 0.0,
            antenna: point,
            velocity: None,
            sigma_m: 1.5,
            step_m: 0.02,
        }
    }

    fn pull(kind: PullKind, seconds: i64, distance_m: impl Fn(i64) -> f64) -> PullSeen {
        let before = (-5..1).map(|s| spot(s, distance_m(0))).collect();
        let mut pull = Pull::begin(kind, WatchTime(0), &before, kind != PullKind::Slow);
        for s in 1..=seconds {
            pull.second(Some(spot(s, distance_m(s))), None);
        }
        pull.end(WatchTime(seconds * 1000), GROUND);
        pull.seen(WatchTime(seconds * 1000), GROUND)
    }

    #[test]
    fn a_rode_that_comes_taut_and_holds_is_seen_with_its_way() {
        let seen = pull(PullKind::Slow, 60, |s| (20.0 + 0.3 * s as f64).min(28.5));
        assert_eq!((seen.taut, seen.held), (Taut::Taut, Held::Held), "{seen:?}");
        assert!(
            (seen.moved.unwrap().0 - 8.5).abs() < 0.3 && (seen.toward.unwrap().degrees() - 180.0).abs() < 2.0
        );
        assert!(seen.words.starts_with("Slow astern for 60 s"), "{}", seen.words);
    }

    #[test]
    fn an_anchor_torn_out_by_the_burst_is_seen() {
        let seen = pull(PullKind::HardBurst, 40, |s| 28.5 + 0.25 * (s - 20).max(0) as f64);
        assert_eq!((seen.taut, seen.held), (Taut::Taut, Held::Moved), "{seen:?}");
    }

    #[test]
    fn a_rode_that_never_comes_taut_and_one_that_is_not_taut_yet_are_told_apart() {
        let skates = pull(PullKind::Slow, 60, |s| 26.0 + 0.2 * s as f64);
        assert_eq!((skates.taut, skates.held), (Taut::Not, Held::Moved), "{skates:?}");
        let not_yet = pull(PullKind::Slow, 30, |s| 8.0 + 0.2 * s as f64);
        assert_eq!((not_yet.taut, not_yet.held), (Taut::Not, Held::Untried), "{not_yet:?}");
    }

    #[test]
    fn stopping_far_short_of_the_rode_is_told() {
        let stops = |s: i64| (15.0 + 0.2 * s as f64).min(21.0);
        assert_eq!(pull(PullKind::Slow, 60, stops).held, Held::Untried, "chain may lie in a bight");
        let seen = pull(PullKind::HalfThrottle, 60, stops);
        assert_eq!((seen.taut, seen.held), (Taut::Short, Held::Held), "{seen:?}");
        assert!(seen.words.contains("may be fouled"), "{}", seen.words);
    }

    #[test]
    fn an_anchor_that_ploughs_slowly_is_seen_over_the_whole_pull() {
        let seen = pull(PullKind::HalfThrottle, 240, |s| 28.0 + 0.045 * s as f64);
        assert_eq!(seen.held, Held::Moved, "{seen:?}");
    }

    #[test]
    fn no_position_a_stuck_one_or_a_rough_one_judge_nothing() {
        let mut blind = Pull::begin(PullKind::Slow, WatchTime(0), &VecDeque::new(), false);
        blind.second(None, Some(1400.0));
        let seen = blind.seen(WatchTime(60_000), GROUND);
        assert_eq!(
            (seen.held, seen.taut, seen.moved, seen.rpm),
            (Held::Unknown, Taut::Unknown, None, Some(1400.0))
        );
        for change in
            [(|spot: &mut Spot| spot.antenna = Local::default()) as fn(&mut Spot), |spot: &mut Spot| {
                spot.sigma_m = 12.0
            }]
        {
            let mut pull = Pull::begin(PullKind::Slow, WatchTime(0), &VecDeque::new(), false);
            for s in 1..=60 {
                let mut spot = spot(s, 28.0);
                change(&mut spot);
                pull.second(Some(spot), None);
            }
            assert_eq!(pull.seen(WatchTime(60_000), GROUND).held, Held::Unknown);
        }
    }

    #[test]
    fn the_chain_pulls_her_back_in_neutral() {
        let mut pull = Pull::begin(PullKind::Slow, WatchTime(0), &VecDeque::new(), false);
        (1..=30).for_each(|s| pull.second(Some(spot(s, 28.5)), None));
        pull.end(WatchTime(30_000), GROUND);
        (31..=60).for_each(|s| pull.second(Some(spot(s, 26.0)), None));
        let seen = pull.seen(WatchTime(60_000), GROUND);
        assert!((seen.sprang_back.unwrap().0 - 2.5).abs() < 0.1, "{seen:?}");
        assert_eq!(seen.ended, Some(WatchTime(30_000)));
    }

    #[test]
    fn a_forgotten_key_does_not_grow_memory() {
        let mut pull = Pull::begin(PullKind::Slow, WatchTime(0), &VecDeque::new(), false);
        (1..=5000).for_each(|s| pull.second(Some(spot(s, 28.5)), None));
        assert_eq!(pull.spots.len(), KEPT);
    }
}
