//! What the page is told of the watch: the words of the screen and its swing chart, as JSON. It adds no words of its own to
//! what the screen says.

use std::time::Duration;

use ratatui::buffer::{Buffer, Cell};
use ratatui::layout::Rect;
use serde::Serialize;

use crate::edge::sound::pattern::{ALARM_EVERY, Colour, Cue, Note};
use crate::edge::watchdog::SILENCE_MAX;
use crate::tui::palette::{Ink, Palette};
use crate::tui::scene::{Scene, alert_ink, stands, waits};
use crate::tui::text::{Clock, metres};
use crate::tui::view::facts::{Fact, facts};
use crate::tui::view::swing::{self, Look};
use crate::tui::view::{alerts, band, header};
use crate::watch::alert::{Alert, Priority, Sound};
use crate::watch::rehearsal::{RehearsalView, Rehearsing, TITLE};
use crate::watch::snapshot::{Snapshot, Verdict};

/// Cells of the chart: as many as a phone of 390 pixels shows with letters that can be read.
const CHART: Rect = Rect { x: 0, y: 0, width: 46, height: 23 };
/// The facts that are of use in a bunk, in the order of the screen.
const FACTS: [&str; 8] = ["anchor", "circle", "wind", "depth", "rode", "stream", "sea", "air"];
/// A warning that nobody answers is heard again after this, as the watch's own is.
const WARNING_EVERY: Duration = Duration::from_secs(60);

/// What a page is told once.
#[derive(Serialize)]
pub(super) struct Greeting {
    /// Without news for so long the page says that nobody watches.
    stale_ms: u128,
    acknowledge: bool,
    nobody_watches: &'static str,
    alarm: Signal,
    warning: Signal,
    failure: Signal,
}

/// A sound: its notes in Hz, ms, and whether it is rough; again after so long.
#[derive(Serialize)]
struct Signal {
    notes: Vec<(u32, u32, bool)>,
    every_ms: u128,
}

/// How the watch stands.
#[derive(Serialize)]
pub(super) struct Told {
    time: String,
    day: String,
    boat: String,
    place: String,
    verdict: Words,
    since: String,
    evidence: String,
    room: Option<Words>,
    room_name: &'static str,
    head: Option<Head>,
    facts: Vec<Line>,
    alerts: Vec<Entry>,
    coming: Vec<(String, String)>,
    sound: Sound,
    /// Something waits for an answer.
    asks: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    chart: Option<Chart>,
}

/// Words and their ink.
type Words = (String, &'static str);

/// Rows of the chart: runs of letters of one ink.
pub(super) type Chart = Vec<Vec<Words>>;

/// The worst thing that is so now.
#[derive(Serialize)]
struct Head {
    word: &'static str,
    how: String,
    why: String,
    todo: String,
    is_alarm: bool,
    waits: bool,
    /// It says what the verdict says.
    is_verdict: bool,
}

#[derive(Serialize)]
struct Line {
    label: &'static str,
    value: Words,
    notes: Vec<Words>,
}

#[derive(Serialize)]
struct Entry {
    title: Words,
    how: String,
    why: String,
}

impl Greeting {
    pub(super) fn new(acknowledge: bool) -> Self {
        Self {
            stale_ms: SILENCE_MAX.as_millis(),
            acknowledge,
            nobody_watches: band::UNWATCHED,
            alarm: signal(Cue::Alarm, ALARM_EVERY),
            warning: signal(Cue::Warning, WARNING_EVERY),
            failure: signal(Cue::Failure, ALARM_EVERY),
        }
    }
}

fn signal(cue: Cue, every: Duration) -> Signal {
    let note = |Note { hz, ms, colour }| (hz, ms, colour == Colour::Rough);
    Signal { notes: cue.notes().into_iter().map(note).collect(), every_ms: every.as_millis() }
}

impl Told {
    /// What is told of a snapshot; the chart only where it is another than `shown`, which it then becomes.
    pub(super) fn of(snap: &Snapshot, clock: &Clock, shown: &mut Chart) -> Self {
        let palette = Palette::default();
        let scene = Scene { snap, palette, clock, lit: true, cell_aspect: 0.5 };
        let drawn = chart(&scene);
        let is_new = drawn != *shown;
        if is_new {
            shown.clone_from(&drawn);
        }
        let none_down = snap.verdict == Verdict::NotSet;
        let listed = alerts::listed(snap);
        Self {
            time: clock.hms(snap.at),
            day: clock.day(snap.at),
            boat: snap.settings.boat.name.clone(),
            place: snap.place.to_string(),
            verdict: (snap.verdict.word().to_owned(), ink_word(scene.verdict_ink())),
            // Without an anchor the screen names a key there.
            since: if none_down { String::new() } else { header::since(&scene) },
            evidence: header::evidence(&scene).unwrap_or_default(),
            room: snap.room.map(|room| {
                let ink = if room.left.0 < 0.0 { Ink::Trouble } else { Ink::Strong };
                (metres(room.left), ink_word(ink))
            }),
            room_name: snap.room.map_or("", |room| room.name()),
            head: scene
                .headline()
                .map(|head| Head::of(&scene, head))
                .or_else(|| rehearsal(snap).map(Head::rehearsed)),
            facts: facts(&scene).into_iter().filter(|fact| is_wanted(snap, fact)).map(Line::of).collect(),
            alerts: listed.into_iter().map(|alert| Entry::of(&scene, alert)).collect(),
            coming: snap.coming.iter().map(|next| (clock.hm(next.at), next.text.clone())).collect(),
            // As loud as an alarm, or nobody knows whether it would be heard.
            sound: if rehearsal(snap).is_some() { snap.sound.max(Sound::Alarm) } else { snap.sound },
            asks: scene.asks().is_some(),
            chart: is_new.then_some(drawn),
        }
    }
}

/// Whether a fact is of use where no key can be pressed: without an anchor, or a length out, it only names one.
fn is_wanted(snap: &Snapshot, fact: &Fact) -> bool {
    let names_a_key = match fact.label {
        "anchor" => snap.drop.is_none(),
        "rode" => snap.rode.veered.is_none(),
        _ => false,
    };
    FACTS.contains(&fact.label) && !names_a_key
}

/// The rehearsal of the alarm while it sounds.
fn rehearsal(snap: &Snapshot) -> Option<&RehearsalView> {
    snap.rehearsal.as_ref().filter(|rehearsal| rehearsal.state == Rehearsing::Sounds)
}

impl Head {
    fn rehearsed(rehearsal: &RehearsalView) -> Self {
        let (how, todo) = (String::new(), String::new());
        let why = rehearsal.words();
        Self { word: TITLE, how, why, todo, is_alarm: false, waits: false, is_verdict: false }
    }

    fn of(scene: &Scene, head: &Alert) -> Self {
        Self {
            word: scene.word_for(head),
            how: band::standing(scene, head),
            why: scene.why(head),
            todo: head.reason.action.clone(),
            is_alarm: head.priority == Priority::Alarm,
            waits: waits(head),
            is_verdict: scene.is_verdict(head.kind),
        }
    }
}

impl Line {
    fn of(fact: Fact) -> Self {
        let notes = fact.notes.into_iter().map(|(words, ink)| (words, ink_word(ink))).collect();
        Self { label: fact.label, value: (fact.value, ink_word(fact.ink.unwrap_or(Ink::Strong))), notes }
    }
}

impl Entry {
    fn of(scene: &Scene, alert: &Alert) -> Self {
        let title = (alert.kind.title().to_owned(), ink_word(alert_ink(alert)));
        let why = if stands(alert) { scene.why(alert) } else { String::new() };
        Self { title, how: alerts::how(scene, alert), why }
    }
}

/// The screen's swing chart, letter by letter.
fn chart(scene: &Scene) -> Chart {
    let mut buf = Buffer::empty(CHART);
    swing::render(scene, Look::default(), CHART, &mut buf);
    let rows = buf.content().chunks(usize::from(CHART.width));
    rows.map(|row| runs(scene.palette, row)).collect()
}

/// A row as runs of one ink, without the blank at its end.
fn runs(palette: Palette, row: &[Cell]) -> Vec<Words> {
    let mut runs: Vec<Words> = Vec::new();
    for cell in row {
        let ink = ink_word(ink_of(palette, cell));
        match runs.last_mut() {
            Some((words, last)) if *last == ink || cell.symbol() == " " => words.push_str(cell.symbol()),
            _ => runs.push((cell.symbol().to_owned(), ink)),
        }
    }
    if let Some((words, _)) = runs.last_mut() {
        words.truncate(words.trim_end_matches(' ').len());
    }
    runs
}

/// The ink that a letter was printed in.
fn ink_of(palette: Palette, cell: &Cell) -> Ink {
    let is = |ink: &Ink| {
        let style = palette.style(*ink);
        (style.fg, style.bg) == (Some(cell.fg), Some(cell.bg))
    };
    Ink::ALL.into_iter().find(is).unwrap_or(Ink::Text)
}

/// The name of an ink in the page's style.
pub(super) const fn ink_word(ink: Ink) -> &'static str {
    match ink {
        Ink::Faint => "faint",
        Ink::Dim => "dim",
        Ink::Text => "text",
        Ink::Strong => "strong",
        Ink::Boat => "boat",
        Ink::Trouble => "trouble",
        Ink::Fill => "fill",
        Ink::Picked => "picked",
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;

    use super::*;
    use crate::sim;
    use crate::watch::Watch;
    use crate::watch::input::{Event, Input};

    /// The demo's watch after so many hours.
    fn demo(hours: i64) -> Snapshot {
        let scenario = sim::demo(1);
        let (until, settings) = (scenario.start.0 + hours * 3_600_000, scenario.settings());
        let mut watch = Watch::new(settings);
        for name in scenario.feed_names() {
            watch.feed_named(&name);
        }
        for event in sim::Night::new(scenario).take_while(|event| event.at().0 < until) {
            match event {
                sim::Event::Line { at, feed, bytes } => {
                    drop(watch.handle(at, Input::Line { feed, bytes: &bytes }))
                }
                sim::Event::Crew { at, command } => {
                    drop(watch.handle(at, Input::Event(Event::Crew(command))));
                }
                _ => {}
            }
        }
        watch.snapshot()
    }

    #[test]
    fn every_ink_of_the_chart_is_told_by_its_name() {
        let palette = Palette::default();
        for ink in Ink::ALL {
            let mut cell = Cell::default();
            cell.set_style(palette.style(ink));
            assert_eq!(ink_of(palette, &cell), ink);
        }
    }

    #[test]
    fn the_chart_comes_once_and_again_when_it_has_changed() {
        let (mut shown, clock) = (Chart::new(), Clock::new(TimeZone::UTC));
        let mut snap = demo(1);
        let first = Told::of(&snap, &clock, &mut shown);
        assert!(first.chart.is_some() && Told::of(&snap, &clock, &mut shown).chart.is_none());
        snap.bow = snap.bow.map(|bow| bow.scaled(0.5));
        assert!(Told::of(&snap, &clock, &mut shown).chart.is_some());
    }

    #[test]
    fn it_says_what_the_screen_says_and_fits_into_a_message() {
        let (snap, clock) = (demo(1), Clock::new(TimeZone::UTC));
        let told = Told::of(&snap, &clock, &mut Chart::new());
        assert_eq!(told.verdict, ("HOLDING".to_owned(), "strong"));
        assert!(told.coming.iter().any(|(_, words)| words.starts_with("low water")), "{:?}", told.coming);
        let labels: Vec<_> = told.facts.iter().map(|fact| fact.label).collect();
        assert!(labels.starts_with(&["anchor", "circle", "wind", "depth", "rode"]), "{labels:?}");
        let long = serde_json::to_string(&told).unwrap().len();
        assert!(long < 16_000, "{long} bytes");
    }

    #[test]
    fn a_rehearsal_sounds_on_it_and_says_that_it_is_one() {
        let mut snap = demo(1);
        let clock = Clock::new(TimeZone::UTC);
        let view = RehearsalView { at: snap.at, state: Rehearsing::Sounds, heard: None };
        snap.rehearsal = Some(view.clone());
        let told = Told::of(&snap, &clock, &mut Chart::new());
        assert_eq!(
            (told.sound, told.head.map(|head| (head.word, head.waits))),
            (Sound::Alarm, Some((TITLE, false)))
        );
        snap.rehearsal = Some(RehearsalView { state: Rehearsing::Sounded, ..view });
        let told = Told::of(&snap, &clock, &mut Chart::new());
        assert!(told.sound == Sound::Quiet && told.head.is_none());
    }

    #[test]
    fn hostile_words_are_told_as_they_are_and_break_no_message() {
        let mut snap = demo(1);
        snap.place = "</script><img src=x onerror=alert(1)>\n\ndata: {}\r\nevent: x".into();
        let told = Told::of(&snap, &Clock::new(TimeZone::UTC), &mut Chart::new());
        let text = serde_json::to_string(&told).unwrap();
        assert!(!text.contains(['\n', '\r']), "a message is one line");
        assert!(text.contains("onerror=alert(1)"), "the page itself shows it as text");
    }
}
