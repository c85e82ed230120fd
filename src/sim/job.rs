//! The whole job, from the first sounding to the open sea: sloop *Marram* at Hollow Ness, and what her crew does there.
//!
//! For lookers-on [`Event::Caption`] gives each step in plain words.

use std::collections::VecDeque;

use super::anchor::AnchorBehaviour;
use super::chart::Chart;
use super::crew::{Crew, Step};
use super::demo::demo;
use super::every_step::EveryStep;
use super::instruments::{Instruments, WindSensor};
use super::night::{Event, Truth};
use super::scenario::Scenario;
use super::wind::{Weather, WindChange};
use crate::watch::alert::AlertKind;
use crate::watch::boat::{Crew as Names, RodeMark, RotaTurn, Settings};
use crate::watch::geo::Local;
use crate::watch::input::{Command, Differs, RoundItem, RoundMade};
use crate::watch::place::{Day, Place, PlaceNote, PlaceRide, PlaceSounding, Season};
use crate::watch::units::{Knots, Metres, Span, WatchTime};

/// The job in progress: an iterator over its events in order of time.
#[derive(Debug)]
pub struct Job {
    entered: EveryStep,
    waiting: VecDeque<Event>,
    script: VecDeque<(Span, Cue)>,
    step: Option<Step>,
    brought_up: Option<WatchTime>,
}

/// What the crew does at a set time.
#[derive(Clone, Debug)]
enum Cue {
    Caption(&'static str),
    Round { by: &'static str, differs: Option<(RoundItem, &'static str)> },
    Acknowledge(AlertKind),
}

/// The whole job, from a seed: twelve hours from an evening in June.
///
/// | after the start | what happens |
/// | --- | --- |
/// | 0 min | sails over three spots and sounds them |
/// | about 12 min | lets go, counts the rode out, digs in, brought up |
/// | 2 h 20 after that | a round |
/// | 5 h | the wind freshens to 30 kn within a quarter of an hour: a warning, answered; rounds come sooner |
/// | 7 h 30 | the wind eases |
/// | 11 h | weighs, and leaves |
#[must_use]
pub fn job(seed: u64) -> Job {
    Job {
        entered: EveryStep::new(scenario(seed)),
        waiting: VecDeque::new(),
        script: script(),
        step: None,
        brought_up: None,
    }
}

/// By then she has been brought up.
pub const JOB_SET_BY: Span = Span::from_mins(22);
/// A little before the crew weighs.
pub const JOB_WEIGHS_FROM: Span = Span::from_mins(655);

/// Three spots, east and north of the place.
const SCOUTS: [Local; 3] = [Local::new(120.0, 10.0), Local::new(10.0, 30.0), Local::new(80.0, 80.0)];

/// The rode's marks: red at 10 m, white at 20 m, and so on.
const LOOKS: [&str; 3] = ["red", "white", "blue"];

fn scenario(seed: u64) -> Scenario {
    let mut night = demo(seed);
    for receiver in &mut night.receivers {
        receiver.faults.clear();
    }
    night.duration = Span::from_mins(680);
    night.weather = Weather {
        wind: Knots(11.0),
        changes: vec![
            WindChange {
                at: Span::from_mins(300),
                over: Span::from_mins(14),
                wind: Knots(30.0),
                turn_deg: 0.0,
            },
            WindChange {
                at: Span::from_mins(450),
                over: Span::from_mins(30),
                wind: Knots(9.0),
                turn_deg: 0.0,
            },
        ],
        squalls: Vec::new(),
        gustiness: 0.1,
        ..night.weather
    };
    night.anchor = AnchorBehaviour::default();
    night.veered = Metres(40.0);
    night.instruments = Instruments {
        wind: Some(WindSensor { factor: 1.0, bias_deg: 0.0, noise_deg: 2.0, computes_true: false }),
        damage: 0.0,
        ..night.instruments
    };
    // She comes in from leeward, north-east of the spot: across it, then back to leeward.
    night.crew = Crew { scouts: SCOUTS.to_vec(), weighs: Some(Span::from_mins(660)), ..night.crew };
    night
}

/// Captions of the night.
const ROUND: &str = "A round is due. Tove goes on deck: bearings, anchor light, snubber, depth, wind, neighbours. All in \
                     order; a few keys, and it is in the log.";
const FRESHENS: &str = "The wind freshens quickly. Rounds come sooner by themselves: weather shortens the interval, and \
                        the screen says why.";
const STRONG: &str = "Strong wind: a warning. Ansel answers it, so that it does not become an alarm, and goes to look at \
                      the snubber.";
const DOWN: &str = "The wind is down again, and rounds are as far apart as before. She has held in 30 knots; that goes \
                    into the book of places.";
const MORNING: &str =
    "Morning. Before weighing: engine warm, bow clear, somebody at the roller, a way out to leeward.";

/// What the crew does when, after she was brought up.
fn script() -> VecDeque<(Span, Cue)> {
    use Cue::{Acknowledge, Caption, Round};
    let quiet = |by| Round { by, differs: None };
    let chafes =
        (RoundItem::Snubber, "chafes at the roller; new leather put on, two metres of snubber veered");
    let cues = [
        (123, Caption(ROUND)),
        (124, quiet("Tove")),
        (245, quiet("Ansel")),
        (301, Caption(FRESHENS)),
        (306, Caption(STRONG)),
        (307, Acknowledge(AlertKind::WindHigh)),
        (309, Round { by: "Ansel", differs: Some(chafes) }),
        (345, quiet("Ansel")),
        (381, quiet("Tove")),
        (417, quiet("Tove")),
        (453, quiet("Tove")),
        (490, Caption(DOWN)),
        (500, quiet("Tove")),
        (560, quiet("Ansel")),
        (635, quiet("Ansel")),
        (636, Caption(MORNING)),
    ];
    cues.map(|(minutes, cue)| (Span::from_mins(minutes), cue)).into()
}

impl Job {
    /// What the crew has in the boat's file: settings of the watch.
    #[must_use]
    pub fn settings(&self) -> Settings {
        let mut settings = self.entered.scenario().settings();
        settings.marks = (1_u8..=8)
            .zip(LOOKS.iter().cycle())
            .map(|(tens, look)| RodeMark { at: Metres(10.0 * f64::from(tens)), look: (*look).into() })
            .collect();
        // Hours in UTC.
        let turn = |name: &str, from_h: u16, to_h: u16| RotaTurn {
            name: name.into(),
            from_min: 60 * from_h,
            to_min: 60 * to_h,
        };
        settings.crew = Names {
            names: vec!["Tove".into(), "Ansel".into()],
            rota: vec![turn("Tove", 19, 22), turn("Ansel", 22, 1), turn("Tove", 1, 4), turn("Ansel", 4, 7)],
            own_checks: vec!["bilge".into()],
        };
        settings.limits.round_every = Some(Span::from_mins(120));
        settings.limits.gust_high = Knots(45.0);
        settings
    }

    /// The scenario beneath.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        self.entered.scenario()
    }

    fn take(&mut self, event: Event) {
        let truth = match &event {
            Event::Truth(truth) => Some(*truth),
            Event::Crew { at, command: Command::BroughtUp } => {
                self.brought_up = Some(*at);
                None
            }
            _ => None,
        };
        self.waiting.push_back(event);
        if let Some(truth) = truth {
            self.follow(&truth);
        }
    }

    /// What is said and entered at a step that begins, and what the script has for this moment.
    fn follow(&mut self, truth: &Truth) {
        let at = truth.at + Span(3);
        if self.step != Some(truth.step) {
            self.step = Some(truth.step);
            self.waiting.push_back(Event::Caption { at, text: caption(truth.step).into() });
            match truth.step {
                Step::Scouting => {
                    let place = Box::new(self.book());
                    self.say(at, Command::Near { place });
                    self.say(at, Command::BeginRecon);
                }
                Step::Veering => self.say(at, Command::EndRecon),
                _ => {}
            }
        }
        let Some(riding_for) = self.brought_up.map(|since| truth.at.since(since)) else { return };
        while self.script.front().is_some_and(|(due, _)| *due <= riding_for)
            && let Some((_, cue)) = self.script.pop_front()
        {
            self.play(at, cue);
        }
    }

    /// What Marram's book has of Hollow Ness: last year the second spot was half a metre deeper.
    fn book(&self) -> Place {
        let night = self.scenario();
        let chart = Chart::new(night.place);
        let last_year = night.start - Span::from_mins(349 * 24 * 60);
        let depth = |at: Local, silted: f64| PlaceSounding {
            position: chart.position(at),
            charted: Metres(night.seabed.charted_m(at) + silted),
            on: last_year,
        };
        let [first, second, third] = SCOUTS;
        let season = Season { from: Day { month: 4, day: 1 }, to: Day { month: 7, day: 31 } };
        let notes = vec![PlaceNote {
            text: "Keep 150 m off the west shore: terns nest.".into(),
            season: Some(season),
        }];
        Place {
            shelter: "south to west".into(),
            marks: vec![
                ("beacon".into(), chart.position(Local::new(310.0, 190.0))),
                ("chapel".into(), chart.position(Local::new(-420.0, 610.0))),
            ],
            notes,
            soundings: vec![depth(first, 0.05), depth(second, 0.5), depth(third, 0.1)],
            rides: vec![PlaceRide {
                let_go: Some(last_year),
                held: "Held for 9 h in 14 kn, gusts 19.".into(),
            }],
            ..Place::new(&night.place_name, night.place)
        }
    }

    fn play(&mut self, at: WatchTime, cue: Cue) {
        match cue {
            Cue::Caption(text) => self.waiting.push_back(Event::Caption { at, text: text.into() }),
            Cue::Acknowledge(kind) => self.say(at, Command::Acknowledge { kind: Some(kind) }),
            Cue::Round { by, differs } => {
                let own = [RoundItem::Own("bilge".into())];
                let checked = RoundItem::USUAL.into_iter().chain(own);
                let differs = differs.map(|(item, note)| Differs { item, note: note.into() });
                let checked =
                    checked.filter(|item| differs.as_ref().is_none_or(|d| d.item != *item)).collect();
                let made = RoundMade { by: Some(by.into()), checked, differs: differs.into_iter().collect() };
                self.say(at, Command::Round(made));
            }
        }
    }

    fn say(&mut self, at: WatchTime, command: Command) {
        self.waiting.push_back(Event::Crew { at, command });
    }
}

/// What the crew does in a step, and why.
const fn caption(step: Step) -> &'static str {
    match step {
        Step::Scouting => {
            "Evening. Tove and Ansel bring Marram into Hollow Ness. Before they let go they sail over three spots and \
             sound them: what counts is the depth at tonight's low water, and what the book of places found here last year."
        }
        Step::Approach => {
            "Near the second spot it is deep enough at low water and clear all round. Up to it head to wind, slower and slower."
        }
        Step::Veering => {
            "Let go, with no way on: the bow's place is marked. She falls back, and Ansel calls the chain's marks. The \
             length is for high water, not for now."
        }
        Step::FirstPull => {
            "Slow astern: the rode comes taut. Then half throttle, and hold it: does she stop?"
        }
        Step::FirstCheck => {
            "Neutral, and look: the chain sinks and draws her ahead a little. Then she should lie still."
        }
        Step::HardPull => {
            "The rode taut again, and a short hard burst astern: a gust in the night will pull as hard."
        }
        Step::LastCheck => {
            "Neutral again. The program says what it saw of each pull; the word is the crew's."
        }
        Step::Riding => {
            "Brought up. From now on the watch judges whether she holds, and counts how long she has."
        }
        Step::Weighing => {
            "Weighing. Drag is not judged any more, and the screen says so. The engine takes her up to the anchor, \
             never the windlass; the marks are called as they come in."
        }
        Step::Away => {
            "Up and down, broken out, anchor aweigh: the ride is over, its place is kept. Marram leaves Hollow Ness."
        }
    }
}

impl Iterator for Job {
    type Item = Event;

    fn next(&mut self) -> Option<Event> {
        while self.waiting.is_empty() {
            let event = self.entered.next()?;
            self.take(event);
        }
        self.waiting.pop_front()
    }
}
