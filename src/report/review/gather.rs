//! Looking on while a recorded night runs through the watch.

use std::collections::BTreeMap;

use super::circles::Circles;
use super::series::Gathering;
use super::way::Way;
use super::{Alarm, Confidence, FeedFacts, Gap, Held, ReadFacts, Review, RideFacts, Then};
use crate::watch::alert::{AlertChange, AlertKind, Change};
use crate::watch::geo::{Plane, Position};
use crate::watch::output::Output;
use crate::watch::setting::{Held as PullHeld, PullKind};
use crate::watch::snapshot::{FixQuality, Reading, Snapshot, Stage, Verdict};
use crate::watch::units::{Knots, Metres, Span, WatchTime};

/// Alerts that are kept; a broken sensor can raise thousands.
const ALARMS_MAX: usize = 1000;
/// Gaps that are kept.
const GAPS_MAX: usize = 1000;
/// Other lists that could grow.
const LIST_MAX: usize = 100;
/// A snapshot stands for at most this long.
const MINUTE: Span = Span::from_mins(1);
/// Below this share of the night judged nothing is said about it. Our choice.
const JUDGED_LEAST: f64 = 0.2;
/// Margins of the plain circles that are compared: tight, usual, wide. Our choice.
const MARGINS: [Metres; 3] = [Metres(5.0), Metres(10.0), Metres(20.0)];
/// An anchor that is known no better than this, one standard deviation, from few positions, may have moved unseen. Our
/// choice.
const ANYWHERE: Metres = Metres(30.0);
/// She must have been watched for this long. Our choice.
const WATCHED_LEAST: Span = Span::from_mins(10);

/// Gathers a [`Review`].
#[derive(Debug, Default)]
pub struct Gatherer {
    review: Review,
    open: BTreeMap<AlertKind, usize>,
    last: Option<WatchTime>,
    wind_sum: f64,
    wind_count: u32,
    sensors: Sensors,
    doubts: BTreeMap<&'static str, Span>,
    /// The best place of the anchor was known at some time.
    found: bool,
    gathering: Gathering,
    circles: Circles,
    /// Where the anchor was thought to lie before anything was called.
    stood: Option<Position>,
    way: Way,
    /// Highest water at the anchor, from the surface.
    high_water: Option<Metres>,
}

/// How long what was there, while at anchor.
#[derive(Debug, Default)]
struct Sensors {
    heading: Span,
    wind: Span,
    depth: Span,
    rode: Span,
    mark: Span,
}

impl Sensors {
    /// Somebody marked the anchor, at whatever time.
    fn mark_known(&self) -> bool {
        self.mark > Span::ZERO
    }
}

impl Gatherer {
    /// Takes what the watch put out.
    pub fn outputs(&mut self, out: &mut Vec<Output>) {
        for output in out.drain(..) {
            match output {
                Output::Alert(change) => self.alert(change),
                Output::RideBegan { at, place } => {
                    let ride = &mut self.review.ride;
                    *ride = RideFacts {
                        place,
                        began: Some(at),
                        refused: std::mem::take(&mut ride.refused),
                        ..RideFacts::default()
                    };
                }
                Output::RideEnded { at, .. } => self.review.ride.ended = Some(at),
                Output::Refused { why, .. } => {
                    let refused = &mut self.review.ride.refused;
                    if refused.len() < LIST_MAX {
                        refused.push(why.to_string());
                    }
                }
                Output::Sound { .. } | Output::Rehearsal { .. } | Output::Marked { .. } => {}
            }
        }
    }

    fn alert(&mut self, AlertChange { at, change, alert }: AlertChange) {
        let alarms = &mut self.review.alarms;
        if change == Change::Raised {
            if alarms.len() == ALARMS_MAX {
                self.open.remove(&alert.kind);
                self.review.alarms_left_out += 1;
                return;
            }
            self.open.insert(alert.kind, alarms.len());
            alarms.push(Alarm {
                kind: alert.kind,
                priority: alert.priority,
                escalated: alert.escalated,
                raised: at,
                acknowledged: None,
                rectified: None,
                ended: None,
                reason: alert.reason,
            });
            return;
        }
        let Some(alarm) = self.open.get(&alert.kind).and_then(|i| alarms.get_mut(*i)) else { return };
        alarm.priority = alarm.priority.max(alert.priority);
        alarm.escalated |= alert.escalated;
        alarm.rectified = alert.rectified;
        match change {
            Change::Acknowledged => alarm.acknowledged = Some(at),
            Change::Ended => {
                alarm.rectified = alarm.rectified.or(Some(at));
                alarm.ended = Some(at);
            }
            _ => {}
        }
    }

    /// Takes how far her farthest point lies from the drop point, once a second; `None` while no anchor is watched.
    pub fn distance(&mut self, now: WatchTime, off: Option<(WatchTime, Metres)>, patience: Span) {
        self.circles.note(now, off, patience);
    }

    /// Takes a look at the watch, about once a minute. `origin` is that of the snapshot's plane.
    pub fn look(&mut self, now: &Snapshot, origin: Option<Position>) {
        let lasted = self.last.map_or(Span::ZERO, |last| now.at.since(last).min(MINUTE));
        self.last = Some(now.at);
        self.gathering.look(now, origin);
        self.look_at_fix(now, lasted);
        self.look_at_wind(now);
        self.look_at_depth(now);
        if matches!(now.stage, Stage::BroughtUp | Stage::Setting) {
            self.way.look(now);
            self.look_at_gear(now);
            self.look_at_holding(now, origin, lasted);
        }
    }

    fn look_at_fix(&mut self, now: &Snapshot, lasted: Span) {
        let fix = &mut self.review.fix;
        match &now.fix.quality {
            FixQuality::Good => fix.good = fix.good + lasted,
            FixQuality::Doubtful { why } => {
                fix.doubtful = fix.doubtful + lasted;
                let sum = self.doubts.entry(why.kind()).or_default();
                *sum = *sum + lasted;
            }
            FixQuality::Never | FixQuality::Lost => fix.none = fix.none + lasted,
        }
    }

    fn look_at_wind(&mut self, now: &Snapshot) {
        let (seen, wind) = (&now.wind, &mut self.review.wind);
        if let Some(mean) = seen.mean {
            self.wind_sum += mean.0;
            self.wind_count += 1;
        }
        keep(&mut wind.strongest_mean, seen.mean, now.at, |new, old| new > old);
        keep(&mut wind.strongest_gust, seen.gust, now.at, |new, old| new > old);
        keep(&mut wind.greatest_shift, seen.shift_deg, now.at, |new, old| new.abs() > old.abs());
        wind.from = wind.from.or(seen.reference);
        wind.to = seen.mean_direction.or(wind.to);
    }

    fn look_at_depth(&mut self, now: &Snapshot) {
        let (seen, depth) = (&now.depth, &mut self.review.depth);
        let sounded = seen.sounded.now();
        keep(&mut depth.least, sounded, now.at, |new, old| new < old);
        keep(&mut depth.greatest, sounded, now.at, |new, old| new > old);
        keep(&mut depth.least_under_keel, seen.under_keel, now.at, |new, old| new < old);
        let off = sounded.zip(seen.predicted).filter(|_| now.tide.known_until.is_some());
        keep(&mut depth.off_prediction, off.map(|(a, b)| a - b), now.at, |new, old| {
            new.0.abs() > old.0.abs()
        });
    }

    /// How she is being set, and what would have been right for her.
    fn look_at_gear(&mut self, now: &Snapshot) {
        let pulls = &now.setting.pulls;
        if let Some(last) = pulls.last() {
            self.review.set.pulls = pulls.iter().map(|pull| pull.words.clone()).collect();
            let hardest =
                pulls.iter().any(|pull| pull.kind == PullKind::HardBurst && pull.held == PullHeld::Held);
            self.review.set.proved = Some(hardest && last.held != PullHeld::Moved);
        }
        if let (Stage::BroughtUp, Some(drop)) = (now.stage, now.drop) {
            let took = now.stage_since.since(drop.let_go);
            self.review.set.took = self.review.set.took.or(Some(took));
        }
        let deepest = now.depth.predicted.or(now.depth.sounded.now());
        self.high_water = match (self.high_water, deepest) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
        let circle = &mut self.review.circle;
        circle.set = now.circle.set.or(circle.set);
        if let Some(swing) = now.circle.swings {
            circle.margins = MARGINS.map(|margin| (margin, swing + margin, None)).to_vec();
        }
        circle.rode_by_scope =
            self.high_water.map(|water| (water + now.settings.boat.bow_height) * now.limits.scope);
    }

    fn look_at_holding(&mut self, now: &Snapshot, origin: Option<Position>, lasted: Span) {
        let (seen, holding) = (&now.holding, &mut self.review.holding);
        if now.stage == Stage::BroughtUp {
            let ride = &mut self.review.ride;
            ride.brought_up = ride.brought_up.or(Some(now.stage_since));
        }
        self.review.ride.veered = now.rode.veered;
        self.review.ride.drop = now.drop.map(|drop| drop.position);
        if now.drop.is_none() && seen.belief.is_none() {
            // Nobody entered where the anchor lies, and she has not shown it yet.
            return;
        }
        self.found = true;
        holding.watched = holding.watched + lasted;
        if matches!(now.verdict, Verdict::CannotJudge | Verdict::NoFix) {
            holding.unjudged = holding.unjudged + lasted;
        }
        let sensors = &mut self.sensors;
        for (there, sum) in [
            (matches!(now.heading, Reading::Now { .. }), &mut sensors.heading),
            (matches!(now.wind.apparent, Reading::Now { .. }), &mut sensors.wind),
            (now.depth.predicted.is_some() || now.depth.sounded.now().is_some(), &mut sensors.depth),
            (now.rode.veered.is_some(), &mut sensors.rode),
            (now.drop.is_some(), &mut sensors.mark),
        ] {
            if there {
                *sum = *sum + lasted;
            }
        }
        keep(&mut holding.evidence, seen.evidence_percent, now.at, |new, old| new > old);
        keep(&mut holding.load, now.rode.load, now.at, |new, old| new > old);
        holding.farthest = now.farthest.map(|(distance, point)| (distance, point.at)).or(holding.farthest);
        holding.reach = match (holding.reach, now.reach) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
        if let Some(moved) = seen.moved {
            holding.moved = Some((moved.distance, moved.bearing));
            holding.since = holding.since.or(Some(moved.since));
        }
        let is_called =
            self.review.alarms.iter().any(|a| matches!(a.kind, AlertKind::Drag | AlertKind::Creep));
        if !is_called {
            holding.allows = seen.allows.or(holding.allows);
        }
        if let (Some(belief), Some(origin)) = (seen.belief, origin) {
            let plane = Plane::new(origin);
            let centre = plane.to_position(belief.centre);
            holding.anchor = Some((centre, belief.major));
            if !is_called {
                self.stood = Some(centre);
            }
        }
    }

    /// The watch did not run, or nothing came.
    pub fn gap(&mut self, gap: Gap) {
        if self.review.gaps.len() < GAPS_MAX {
            self.review.gaps.push(gap);
        }
    }

    /// Closes the books. `last` is the watch at the end.
    #[must_use]
    pub fn finish(mut self, read: ReadFacts, last: &Snapshot, origin: Option<Position>) -> Review {
        self.look(last, origin);
        let review = &mut self.review;
        review.ride.boat = last.settings.boat.name.clone();
        review.wind.mean = (self.wind_count > 0).then(|| Knots(self.wind_sum / f64::from(self.wind_count)));
        review.fix.worst_doubt =
            self.doubts.iter().max_by_key(|(_, lasted)| **lasted).map(|(why, _)| (*why).to_owned());
        review.fix.feeds = last
            .feeds
            .iter()
            .map(|feed| FeedFacts {
                name: feed.name.to_string(),
                good: feed.good,
                unused: feed.unused,
                // The view's reasons are those of both.
                rejected: feed
                    .rejected
                    .iter()
                    .map(|(_, count)| count)
                    .sum::<u64>()
                    .saturating_sub(feed.unused),
                reasons: feed.rejected.clone(),
            })
            .collect();
        review.read = read;
        review.loa = last.settings.boat.loa;
        self.decide();
        self.decide_circle();
        (self.review.samples, self.review.track) = self.gathering.finish();
        self.review
    }

    /// Which circle would have been right: silent while she held.
    fn decide_circle(&mut self) {
        let holding = &self.review.holding;
        let moved = [holding.since, holding.called].into_iter().flatten().min();
        let circle = &mut self.review.circle;
        circle.smallest_silent = self.circles.smallest_silent(moved.unwrap_or(WatchTime(i64::MAX)));
        for (_, radius, first) in &mut circle.margins {
            *first = self.circles.first_outside(*radius);
        }
    }

    fn decide(&mut self) {
        let first =
            |kind| self.review.alarms.iter().find(|alarm| alarm.kind == kind).map(|alarm| alarm.raised);
        let (drag, creep) = (first(AlertKind::Drag), first(AlertKind::Creep));
        let limits = self.limits();
        let holding = &mut self.review.holding;
        let judged = share(Span(holding.watched.0 - holding.unjudged.0), holding.watched);
        let thinned = self.review.read.point_every.is_some();
        holding.called = drag.or(creep);
        // Whoever marked her anchor knew that she had one.
        let is_marked = self.sensors.mark_known();
        holding.made_way = if is_marked { Span::ZERO } else { self.way.made() };
        holding.verdict = match (drag, creep) {
            _ if !is_marked && self.way.is_under_way() => Held::UnderWay,
            (Some(_), _) => Held::Dragged,
            (None, Some(_)) => Held::Crept,
            _ if !self.found => Held::NoAnchor,
            _ if judged < JUDGED_LEAST || holding.watched < WATCHED_LEAST => Held::CannotJudge,
            // With a receiver's own positions she shows by her way that she drags, wherever the anchor lies.
            _ if thinned && holding.anchor.is_some_and(|(_, error)| error > ANYWHERE) => Held::CannotJudge,
            _ => Held::Held,
        };
        // The judge begins anew after each call: all in all she went from where the anchor stood to where it is now.
        if let (Some(stood), Some((now, _)), Some((word, _))) = (self.stood, holding.anchor, holding.moved) {
            let all = stood.distance_and_bearing_to(now);
            if all.0 > word {
                holding.moved = Some(all);
            }
        }
        if !matches!(holding.verdict, Held::Crept | Held::Dragged) {
            (holding.moved, holding.since) = (None, None);
        }
        if holding.verdict == Held::UnderWay {
            (holding.called, holding.evidence, holding.anchor) = (None, None, None);
        }
        holding.confidence = match (judged, limits.len()) {
            _ if !holding.verdict.is_judged() => Confidence::Low,
            (0.9.., 0) => Confidence::High,
            (0.6.., 0..=2) => Confidence::Medium,
            _ => Confidence::Low,
        };
        // What limits the judgement of an anchor that was not down says nothing.
        holding.limits = if holding.verdict == Held::UnderWay { Vec::new() } else { limits };
    }

    /// What limits the judgement, in words.
    fn limits(&self) -> Vec<String> {
        let holding = &self.review.holding;
        let mut limits = Vec::new();
        if !self.found {
            limits.push("no drop point was entered, and she was never seen to swing about one place".into());
            return limits;
        }
        let missing = |lasted| share(lasted, holding.watched) < 0.5;
        let sensors = &self.sensors;
        for (lasted, words) in [
            (sensors.mark, "no drop point was entered: the anchor was looked for in her swing"),
            (sensors.rode, "the rode out was not entered: what it reaches is unknown"),
            (sensors.heading, "no heading: bow and antenna cannot be told apart"),
            (sensors.wind, "no wind: whether the rode was taut had to be guessed"),
            (sensors.depth, "no depth: the reach is less certain"),
        ] {
            if missing(lasted) {
                limits.push(words.into());
            }
        }
        if !self.sensors.mark_known() && self.way.made() >= WATCHED_LEAST {
            limits.push(format!("she made way for {}: under way, not at anchor", self.way.made()));
        }
        let unjudged = share(holding.unjudged, holding.watched);
        if unjudged > 0.1 {
            limits.push(format!("{:.0} % of the time could not be judged", unjudged * 100.0));
        }
        if let Some((_, error)) = holding.anchor.filter(|(_, error)| *error > ANYWHERE) {
            limits.push(format!("the anchor could lie anywhere within {:.0} m", 2.0 * error.0));
        }
        if holding.watched < Span::from_mins(60) {
            limits.push(format!("she was watched for {} only", holding.watched));
        }
        limits
    }
}

fn share(part: Span, of: Span) -> f64 {
    if of.0 > 0 { part.0 as f64 / of.0 as f64 } else { 0.0 }
}

fn keep<T: Copy>(kept: &mut Then<T>, new: Option<T>, at: WatchTime, better: impl Fn(T, T) -> bool) {
    if let Some(new) = new
        && kept.is_none_or(|(old, _)| better(new, old))
    {
        *kept = Some((new, at));
    }
}
