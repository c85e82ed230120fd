//! Runs simulated nights through the watch, on all cores, and scores what it said against the truth.
//!
//! Each night is one scenario from its class and seed, and one fresh [`Watch`] that hears its lines and its crew in
//! order, as the live watch would. Nights know nothing of each other: the result is the same on one core or on many.

use std::collections::{BTreeSet, VecDeque};

use rayon::prelude::*;

use super::progress::Progress;
use crate::report::trial::{
    BARS_NATS, Call, MARGINS_M, MOVED_M, NightScore, OUTSIDE_FIXES, Trial, fix_error, path_limit,
};
use crate::sim::{self, Class, HELD_OUT, Scenario, TUNING, Truth};
use crate::watch::Watch;
use crate::watch::alert::{AlertChange, AlertKind, Change, Priority};
use crate::watch::geo::{Local, Plane};
use crate::watch::input::{Event, Input};
use crate::watch::output::Output;
use crate::watch::snapshot::{Stage, Verdict};
use crate::watch::units::{Metres, Span, WatchTime};

/// Fix errors are looked at this often: their memory is minutes.
const ERROR_EVERY: Span = Span::from_secs(30);
/// Truths that are kept until a fix of their second has come through.
const TRUTHS_KEPT: usize = 8;

/// Runs the nights `seed`, `seed + 1` … of every class.
#[must_use]
pub fn run(classes: &[&'static Class], seed: u64, nights: u64) -> Trial {
    let asked: Vec<(&'static Class, u64)> =
        classes.iter().flat_map(|class| (0..nights).map(move |i| (*class, seed.saturating_add(i)))).collect();
    let progress = Progress::new("nights", asked.len() as u64);
    let scores = asked
        .par_iter()
        .map(|&(class, seed)| {
            let score = score(class, seed);
            progress.add(1);
            score
        })
        .collect();
    Trial {
        seed,
        nights,
        seeds_are: seeds_are(seed, nights),
        classes: classes.iter().map(|class| (class.name, class.what)).collect(),
        scores,
    }
}

/// What these seeds are for, in words.
fn seeds_are(seed: u64, nights: u64) -> &'static str {
    let last = seed.saturating_add(nights.saturating_sub(1));
    let within = |range: &std::ops::Range<u64>| range.contains(&seed) && range.contains(&last);
    if within(&HELD_OUT) {
        "held out: nobody tunes the watch on them"
    } else if within(&TUNING) {
        "for tuning: a figure to quote needs seeds from 1000000 on"
    } else {
        "neither held out nor for tuning"
    }
}

/// Runs one night and scores it.
#[must_use]
pub fn score(class: &'static Class, seed: u64) -> NightScore {
    let scenario = sim::scenario(class, seed);
    let mut scorer = Scorer::new(&scenario);
    let mut watch = Watch::new(scenario.settings());
    let mut out = Vec::new();
    for event in sim::Night::new(scenario) {
        match event {
            sim::Event::Caption { .. } => {}
            sim::Event::Truth(truth) => scorer.truth(&truth, &watch),
            sim::Event::Line { at, feed, bytes } => {
                watch.handle_into(at, Input::Line { feed, bytes: &bytes }, &mut out);
            }
            sim::Event::Crew { at, command } => {
                watch.handle_into(at, Input::Event(Event::Crew(command)), &mut out);
                scorer.entered(&watch);
            }
        }
        scorer.heard(&mut out);
    }
    scorer.finish(class, seed)
}

/// Gathers one night's score.
struct Scorer {
    scenario_place: Plane,
    antenna_aft_m: f64,
    antenna_starboard_m: f64,
    truths: VecDeque<Truth>,
    brought_up: Option<WatchTime>,
    moved_at: Option<WatchTime>,
    now: WatchTime,
    last_circle_fix: Option<WatchTime>,
    outside: [u32; MARGINS_M.len()],
    errors: Vec<Local>,
    /// Way of the anchor from its first movement on, at the errors' pace.
    way: Vec<f64>,
    /// Alerts that have sounded and have not ended.
    sounded: BTreeSet<AlertKind>,
    score: NightScore,
}

impl Scorer {
    fn new(scenario: &Scenario) -> Self {
        Self {
            scenario_place: Plane::new(scenario.place),
            antenna_aft_m: scenario.boat.antenna_aft.0,
            antenna_starboard_m: scenario.boat.antenna_starboard.0,
            truths: VecDeque::new(),
            brought_up: None,
            moved_at: None,
            now: scenario.start,
            last_circle_fix: None,
            outside: [0; MARGINS_M.len()],
            errors: Vec::new(),
            way: Vec::new(),
            sounded: BTreeSet::new(),
            score: NightScore::default(),
        }
    }

    /// The crew entered something: the circle follows the rode and the mark.
    fn entered(&mut self, watch: &Watch) {
        let snapshot = watch.snapshot();
        self.score.reach = snapshot.drop.and(snapshot.reach).or(self.score.reach);
    }

    /// A second has passed in truth. The watch has heard nothing of it yet.
    fn truth(&mut self, truth: &Truth, watch: &Watch) {
        self.now = truth.at;
        self.truths.push_back(*truth);
        if self.truths.len() > TRUTHS_KEPT {
            self.truths.pop_front();
        }
        if truth.step != sim::Step::Riding {
            return;
        }
        self.brought_up.get_or_insert(truth.at);
        self.score.greatest = self.score.greatest.max(truth.moved);
        if truth.moved.0 >= MOVED_M {
            self.moved_at.get_or_insert(truth.at);
        }
        self.score.watched = self.score.watched + Span::from_secs(1);
        if matches!(watch.verdict(), Verdict::CannotJudge | Verdict::NoFix) {
            self.score.unjudged = self.score.unjudged + Span::from_secs(1);
        }
        if watch.stage() == Stage::BroughtUp {
            self.circles(watch);
            self.bars(watch);
        }
        if truth.at.0.rem_euclid(ERROR_EVERY.0) == 0 {
            self.errors.extend(self.error(watch));
            if self.moved_at.is_some() {
                self.way.push(truth.moved.0);
            }
        }
    }

    /// Counts fixes outside the plain circles.
    fn circles(&mut self, watch: &Watch) {
        let (Some((at, off)), Some(reach)) = (watch.bow_off(), self.score.reach) else { return };
        if self.last_circle_fix.replace(at) == Some(at) {
            return;
        }
        for (i, margin_m) in MARGINS_M.iter().enumerate() {
            let outside = &mut self.outside[i];
            *outside = if off.0 > reach.0 + margin_m { *outside + 1 } else { 0 };
            if *outside == OUTSIDE_FIXES && self.score.circles[i] == Call::Never {
                self.score.circles[i] = self.call();
            }
        }
    }

    /// Notes when the evidence first passes each bar.
    fn bars(&mut self, watch: &Watch) {
        let (nats, call) = (watch.evidence_nats(), self.call());
        for (bar, first) in BARS_NATS.iter().zip(&mut self.score.bars) {
            if nats > *bar && *first == Call::Never {
                *first = call;
            }
        }
    }

    /// Error of the last trusted fix against where the antenna was in that second.
    fn error(&self, watch: &Watch) -> Option<Local> {
        let (at, position) = watch.trusted_fix()?;
        let second = at.0.div_euclid(1000);
        let truth = self.truths.iter().find(|truth| truth.at.0.div_euclid(1000) == second)?;
        let starboard = truth.heading.turned(90.0);
        let antenna = truth.bow - Local::polar(truth.heading, self.antenna_aft_m)
            + Local::polar(starboard, self.antenna_starboard_m);
        Some(self.scenario_place.to_local(position) - antenna)
    }

    /// Takes note of the alerts that the watch raised.
    fn heard(&mut self, out: &mut Vec<Output>) {
        for output in out.drain(..) {
            if let Output::Alert(change) = output {
                self.note(&change);
            }
        }
    }

    fn note(&mut self, change: &AlertChange) {
        self.note_sound(change);
        if change.change != Change::Raised {
            return;
        }
        let call = self.call();
        let score = &mut self.score;
        let calls: [Option<&mut Call>; 3] = match change.alert.kind {
            AlertKind::Drag => [Some(&mut score.drag), Some(&mut score.first), Some(&mut score.gone)],
            AlertKind::Creep => [Some(&mut score.creep), Some(&mut score.first), None],
            AlertKind::Outside => [Some(&mut score.gone), None, None],
            _ => return,
        };
        for call_of in calls.into_iter().flatten().filter(|call_of| **call_of == Call::Never) {
            *call_of = call;
        }
    }

    /// Counts an alert when it first sounds, while the anchor has not moved.
    fn note_sound(&mut self, change: &AlertChange) {
        let kind = change.alert.kind;
        match change.change {
            Change::Ended => {
                self.sounded.remove(&kind);
            }
            Change::Raised | Change::Risen | Change::Returned
                if change.alert.priority >= Priority::Warning
                    && self.brought_up.is_some()
                    && self.moved_at.is_none() =>
            {
                let again = change.change == Change::Returned;
                if self.sounded.insert(kind) || again {
                    *self.score.heard.entry(kind).or_default() += 1;
                }
            }
            _ => {}
        }
    }

    /// What a call now is worth.
    fn call(&self) -> Call {
        let now = self.truths.back();
        match (self.moved_at, now) {
            (Some(moved_at), Some(now)) => Call::True { moved: now.moved, delay: now.at.since(moved_at) },
            _ => Call::False { after: self.now.since(self.brought_up.unwrap_or(self.now)) },
        }
    }

    fn finish(mut self, class: &'static Class, seed: u64) -> NightScore {
        self.score.fix_error = fix_error(&self.errors, ERROR_EVERY);
        self.score.limit = self
            .score
            .fix_error
            .and_then(|(sigma, memory)| path_limit(&self.way, ERROR_EVERY, sigma.max(Metres(0.1)), memory));
        NightScore { class: class.name, seed, drags: class.drags, ..self.score }
    }
}
