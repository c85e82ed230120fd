//! A crew that enters every step: rode counted out by its marks, each pull of the engine, the round, the
//! weighing.
//!
//! [`EveryStep`] runs through a [`Night`] and adds what such a crew would enter at each step of it.

use std::collections::VecDeque;

use super::crew::Step;
use super::night::{Event, Night, Truth};
use super::scenario::Scenario;
use crate::watch::input::{Command, PullKind, Transit};
use crate::watch::units::{Metres, Span, WatchTime};

/// The rode is marked, and entered, every so many metres.
const MARKS_M: f64 = 5.0;
/// The crew goes from slow astern to half throttle, and from a taut rode to the hard burst, after so long.
const HARDER_AFTER: Span = Span::from_secs(30);

/// A night whose crew enters every step.
#[derive(Debug)]
pub struct EveryStep {
    night: Night,
    waiting: VecDeque<Event>,
    step: Step,
    step_since: WatchTime,
    pulling: Option<PullKind>,
    let_go: bool,
    /// The rode that was last entered, metres.
    entered_m: f64,
    target: Metres,
}

impl EveryStep {
    /// The night of a scenario, its every step entered.
    #[must_use]
    pub fn new(scenario: Scenario) -> Self {
        Self {
            target: scenario.veered * scenario.crew.rode_entered,
            step_since: scenario.start,
            night: Night::new(scenario),
            waiting: VecDeque::new(),
            step: Step::Scouting,
            pulling: None,
            let_go: false,
            entered_m: 0.0,
        }
    }

    /// The scenario of the night.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        self.night.scenario()
    }

    /// Takes what the night gives, and what the crew says to it.
    fn take(&mut self, event: Event) {
        match event {
            Event::Truth(truth) => {
                self.waiting.push_back(Event::Truth(truth));
                self.follow(&truth);
            }
            // The night's own crew enters the length that will be out; this one counts it out.
            Event::Crew { at, command: Command::LetGo { depth, place, .. } } => {
                self.let_go = true;
                self.say(at, Command::VeerTo { length: self.target });
                let veered = Some(Metres(self.entered_m.max(MARKS_M)));
                self.say(at, Command::LetGo { veered, depth, place });
                // What the receivers make of a pull is to be seen by itself: no eyes beside them.
                self.say(at, Command::Transit { seen: Transit::NoneInSight });
            }
            other => self.waiting.push_back(other),
        }
    }

    fn say(&mut self, at: WatchTime, command: Command) {
        self.waiting.push_back(Event::Crew { at, command });
    }

    /// The crew sees how the boat lies, and acts.
    fn follow(&mut self, truth: &Truth) {
        let at = truth.at + Span(5);
        if truth.step != self.step {
            (self.step, self.step_since) = (truth.step, truth.at);
            self.enter(at, truth);
        }
        if self.step == Step::Veering {
            self.count_out(at, truth.veered);
        }
        if truth.at.since(self.step_since) >= HARDER_AFTER {
            match (self.step, self.pulling) {
                (Step::FirstPull, Some(PullKind::Slow)) => self.pull(at, PullKind::HalfThrottle),
                (Step::HardPull, Some(PullKind::Slow)) => self.pull(at, PullKind::HardBurst),
                _ => {}
            }
        }
    }

    fn enter(&mut self, at: WatchTime, truth: &Truth) {
        match truth.step {
            Step::FirstPull | Step::HardPull => {
                self.count_out(at, self.night.scenario().veered);
                self.pull(at, PullKind::Slow);
            }
            Step::FirstCheck | Step::LastCheck => self.neutral(at),
            _ => {}
        }
    }

    fn neutral(&mut self, at: WatchTime) {
        if self.pulling.take().is_some() {
            self.say(at, Command::Neutral);
        }
    }

    fn pull(&mut self, at: WatchTime, kind: PullKind) {
        self.pulling = Some(kind);
        self.say(at, Command::Pull { kind });
    }

    /// The marks are called as they go over the roller, and at last the whole length.
    fn count_out(&mut self, at: WatchTime, out: Metres) {
        let entered = out.0 * self.night.scenario().crew.rode_entered;
        let all = entered >= self.target.0 - 0.1;
        let mark_m = if all { self.target.0 } else { (entered / MARKS_M).floor() * MARKS_M };
        if mark_m > self.entered_m {
            self.entered_m = mark_m;
            if self.let_go {
                self.say(at, Command::Veered { length: Metres(mark_m) });
            }
        }
    }
}

impl Iterator for EveryStep {
    type Item = Event;

    fn next(&mut self) -> Option<Event> {
        while self.waiting.is_empty() {
            let event = self.night.next()?;
            self.take(event);
        }
        self.waiting.pop_front()
    }
}
