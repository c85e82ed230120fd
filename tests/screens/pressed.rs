//! Every key that any screen names is pressed there, and what its word says must happen.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

use jiff::tz::TimeZone;
use nightrode::tui::app::App;
use nightrode::tui::first::FirstStart;
use nightrode::tui::hits::Hits;
use nightrode::tui::keys::{self, Hint, Key, TABLE, When};
use nightrode::tui::palette::Palette;
use nightrode::tui::plan_form::{PlanForm, Step};
use nightrode::tui::replay::{Act, Playing};
use nightrode::tui::request::Request;
use nightrode::tui::scene::{self, Scene};
use nightrode::tui::stands::{Place, View};
use nightrode::tui::text::Clock;
use nightrode::tui::view::keybar;
use nightrode::watch::input::Command;
use nightrode::watch::plan::Asked;
use nightrode::watch::snapshot::{Snapshot, Stage};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent};
use ratatui::layout::Rect;

use super::drawn::{Size, app, drawn, keys as typed, press, text};
use super::recorded::playing;
use super::views::SIZES;
use super::{crew, scenes};

/// A key pressed on a screen: what it was, what it is, what was asked for.
struct Pressed<'a> {
    hint: Hint,
    snap: &'a Snapshot,
    was: &'a App,
    is: App,
    requests: Vec<Request>,
    before: String,
    after: String,
}

impl Pressed<'_> {
    fn opens(&self, title: &str) -> bool {
        self.after.contains(&format!("─ {title}"))
    }

    fn asks_for(&self, wanted: impl Fn(&Command) -> bool) -> bool {
        matches!(&self.requests[..], [Request::Crew(command)] if wanted(command))
    }

    fn says(&self, words: &str) -> bool {
        self.after.contains(words)
    }

    fn stands(&self) -> Place {
        self.is.place(self.snap)
    }

    fn changed(&self) -> bool {
        self.before != self.after
    }

    /// Whether what the word says has happened. A word without a line here is a word that nobody holds to anything.
    fn keeps_its_word(&self) -> bool {
        let went = self.stands() != self.was.place(self.snap);
        let waits = self.snap.alerts.iter().any(scene::waits);
        match self.hint.word {
            "view" => went,
            "swing" | "rode" | "night" | "rounds" | "all alerts" | "feeds" | "position" | "health" => {
                self.shows(self.hint.label)
            }
            "whole screen" => matches!(self.stands(), Place::View(_) | Place::SlimDeck | Place::SlimFigures),
            "tall figures" => self.stands().is_tall(),
            "help" => self.stands() == Place::Help,
            "what it means" if self.listed() == 0 => self.says("There is no alert to explain."),
            "what it means" => self.stands() == Place::Help && !self.says("─ HELP"),
            "acknowledge" if !waits => self.says("No alert waits for an answer."),
            "acknowledge" => self.asks_for(|c| matches!(c, Command::Acknowledge { kind: Some(_) })),
            "all" if !waits => self.says("No alert waits for an answer."),
            "all" => self.opens("ACKNOWLEDGE EVERY ALERT?"),
            "acknowledge all" => self.asks_for(|c| *c == Command::Acknowledge { kind: None }),
            "silence 30 s" => self.asks_for(|c| *c == Command::Silence),
            "limits" => self.opens("LIMITS"),
            "tide" => self.opens("TIDE"),
            "wind ahead" => self.opens("WIND AHEAD"),
            "way out" => self.opens("WAY OUT"),
            "berth" => self.opens("BERTH"),
            "note" => self.opens("NOTE"),
            "wake us" => self.opens("WAKE US"),
            "check list" => self.stands() == Place::CheckList,
            "round" => self.opens("ROUND"),
            "veer" | "shorten" => self.opens("VEER OR SHORTEN"),
            "mark" => self.opens("MOVE THE MARK"),
            "mark, let go" => self.opens("LET GO"),
            "brought up" if self.was.place(self.snap) == Place::Question => {
                self.asks_for(|c| *c == Command::BroughtUp)
            }
            "brought up" => self.opens("IS SHE BROUGHT UP?"),
            "weigh" if self.was.place(self.snap) == Place::Question => {
                self.asks_for(|c| *c == Command::Weigh)
            }
            "weigh" => self.opens("WEIGH?"),
            "aweigh or stay" => self.stands() == Place::StayQuestion,
            "aweigh" if self.was.place(self.snap) == Place::StayQuestion => {
                self.asks_for(|c| *c == Command::Aweigh)
            }
            "aweigh" => self.stands() == Place::StayQuestion,
            "take a transit" => self.opens("TAKE A TRANSIT"),
            "did the transit stand?" => self.opens("DID THE TRANSIT STAND?"),
            "taken" | "none in sight" | "it stood" | "it opened" | "lost it" => {
                self.asks_for(|c| matches!(c, Command::Transit { .. }))
            }
            "name the place" => self.opens("NAME OF THE PLACE"),
            // What must not be filled in may be left as it is.
            "done" => went,
            "lies here" if self.was.place(self.snap) == Place::Question => {
                self.asks_for(|c| *c == Command::LiesHere)
            }
            "lies here" => self.opens("DOES SHE LIE HERE NOW?"),
            "does it hold?" => {
                self.stands() == Place::AnchorCheck && self.asks_for(|c| *c == Command::BeginCheck)
            }
            "holds, steady" | "opened, jerks" => {
                !went && self.asks_for(|c| matches!(c, Command::CheckFound(_)))
            }
            "finish" => went,
            "rehearse alarm" => self.opens("REHEARSE THE ALARM"),
            "phone" => !went && self.requests == [Request::PhoneCode],
            "sound it" => !went && self.asks_for(|c| *c == Command::Rehearse),
            "stop" if self.was.place(self.snap) == Place::Rehearsal => went,
            "go back" => went && self.requests.is_empty(),
            "she stays" => self.asks_for(|c| *c == Command::Stay),
            "bearing mark" => self.opens("BEARING MARK"),
            "bearing by eye" => self.opens("BEARING BY EYE") || self.opens("BEARING MARK"),
            "remove mark" if self.snap.marks.is_empty() => self.says("No bearing mark is entered."),
            "remove mark" => self.opens("REMOVE A BEARING MARK"),
            "who keeps it" => self.opens("CHANGE WHO KEEPS THE WATCH?"),
            "change" => self.requests == [Request::ChangePlaces],
            "quit" => self.opens("STOP THE WATCH?"),
            "stop the watch" | "leave" => self.requests == [Request::Quit],
            "light" => self.is_lit_otherwise(),
            "cancel" | "no" | "back" => went && self.requests.is_empty(),
            // A list that ends where it stands has nothing to read on or to choose.
            "read on" | "choose" | "fit" | "now" => self.requests.is_empty() && !went,
            "look back" => self.snap.minutes.is_empty() || self.changed(),
            "turn" | "closer" | "wider" | "what if" | "less time" | "more time" | "tick" | "in order"
            | "rest in order" | "next" | "other list" => self.changed() && !went,
            "wind, rode, tide" => self.snap.rode.veered.is_none() || self.changed(),
            "event" if self.was_recorded() => self.is_replay(|act| matches!(act, Act::Mark { .. })),
            "event" => self.snap.happenings.is_empty() || self.snap.minutes.is_empty() || self.changed(),
            "next step" => went || !self.requests.is_empty(),
            "run" | "stop" => self.is_replay(|act| act == Act::RunOrStop),
            "minute" | "second" => self.is_replay(|act| matches!(act, Act::Step(_))),
            "speed" => self.is_replay(|act| matches!(act, Act::Speed { .. })),
            "differs" => went,
            "log round" => {
                self.says("Nothing is entered yet") || self.asks_for(|c| matches!(c, Command::Round(_)))
            }
            "log" => went,
            "1 m" | "5 m" => self.changed(),
            "sound the place" | "sound another place" => self.asks_for(|c| *c == Command::BeginRecon),
            "let go here" => self.opens("LET GO HERE?"),
            "let go" if self.was.place(self.snap) == Place::Question => {
                self.asks_for(|c| matches!(c, Command::LetGo { .. }))
            }
            "slow astern" | "half astern" | "hard astern" => {
                self.asks_for(|c| matches!(c, Command::Pull { .. }))
            }
            "engine in neutral" => self.asks_for(|c| *c == Command::Neutral),
            "mark out" | "mark back" | "mark in" => {
                self.asks_for(|c| matches!(c, Command::Veered { .. })) || self.is_at_an_end()
            }
            "set" | "move it" | "save" | "remove" | "let go" => {
                went != self.requests.is_empty() && (went || self.changed())
            }
            "close" => !went,
            other => panic!("what must \"{other}\" do? ({})", self.hint.label),
        }
    }

    fn listed(&self) -> usize {
        nightrode::tui::view::alerts::listed(self.snap).len()
    }

    fn shows(&self, key: &str) -> bool {
        let of = key.parse::<usize>().ok().and_then(|n| View::ALL.get(n - 1).copied());
        match of {
            Some(View::Swing) => {
                matches!(self.stands(), Place::View(View::Swing) | Place::SlimDeck | Place::SlimFigures)
            }
            Some(view) => self.stands() == Place::View(view),
            None => false,
        }
    }

    fn is_lit_otherwise(&self) -> bool {
        let ground =
            |app: &App| super::drawn::cells(&mut app.clone(), self.snap, true, (80, 24)).content()[0].bg;
        ground(self.was) != ground(&self.is)
    }

    fn was_recorded(&self) -> bool {
        matches!(&self.requests[..], [Request::Replay(_)])
    }

    fn is_replay(&self, wanted: impl Fn(Act) -> bool) -> bool {
        matches!(self.requests[..], [Request::Replay(act)] if wanted(act))
    }

    /// No more rode can go out, or come in.
    fn is_at_an_end(&self) -> bool {
        self.snap.rode.veered.is_none_or(|out| out.0 <= 5.0)
    }
}

/// Every key under a hint's label: a pair has two.
fn under(hint: &Hint, place: Place, stage: Stage) -> Vec<KeyEvent> {
    let rows = keys::rows(place, stage).filter(|row| row.label == hint.label);
    let named = if hint.pair { 2 } else { 1 };
    let events: Vec<KeyEvent> =
        rows.flat_map(|row| row.acts.iter().take(named)).map(|(press, _)| press.event()).collect();
    if events.is_empty() { vec![hint.press.event()] } else { events }
}

/// Presses each key that the screen names, each time from the same screen.
fn press_all(app: &App, snap: &Snapshot, size: Size, named: &[Hint], at: &str, broken: &mut Vec<String>) {
    let before = drawn(&mut app.clone(), snap, size);
    for hint in named {
        let mut any = false;
        for event in under(hint, app.place(snap), snap.stage).into_iter().take(2) {
            let mut is = app.clone();
            let requests = is.on_event(&Event::Key(event), snap);
            let after = drawn(&mut is, snap, size);
            let pressed =
                Pressed { hint: *hint, snap, was: app, is, requests, before: before.clone(), after };
            any |= pressed.keeps_its_word();
        }
        if !any {
            broken.push(format!(
                "{} {}: {at}, {size:?}
{before}",
                hint.label, hint.word
            ));
        }
    }
}

/// The hints of the bottom row that are really written there.
fn written(app: &App, snap: &Snapshot, size: Size) -> Vec<Hint> {
    let screen = drawn(&mut app.clone(), snap, size);
    let row = screen.lines().last().unwrap_or_default().to_owned();
    let hints = app.hints(snap);
    let shown: Vec<Hint> =
        hints.into_iter().filter(|hint| row.contains(&format!("{} {}", hint.label, hint.word))).collect();
    // Whatever stands there is a hint of the table, whole.
    let parts = row.split("   ").map(str::trim).filter(|part| !part.is_empty());
    for part in parts.filter(|part| !part.ends_with(": 5") && !part.contains("no alerts")) {
        assert!(
            shown.iter().any(|hint| part == format!("{} {}", hint.label, hint.word)),
            "\"{part}\" is no whole hint\n{screen}"
        );
    }
    shown
}

/// One scene for each stage and for each way in which an alert can stand.
fn scenes_all() -> [Snapshot; 9] {
    [
        scenes::quiet(),
        scenes::under_way(),
        scenes::setting(),
        scenes::alarm(),
        scenes::acknowledged(),
        crew::veering(),
        crew::held(),
        crew::up_and_down(),
        crew::rounds(),
    ]
}

/// What is typed to come to each place of a watch.
const WAYS: [&str; 22] = [
    "1", "2", "3", "4", "5", "6", "b", "d", "+", "l", "t", "n", "c", "g", "R", "r", "rx", "m", "w", "u", "q",
    "?",
];

fn drawn_app(snap: &Snapshot, way: &str, size: Size) -> App {
    let mut app = app();
    drawn(&mut app, snap, size);
    typed(&mut app, snap, way);
    drawn(&mut app, snap, size);
    app
}

#[test]
fn every_key_in_a_bottom_row_does_what_its_word_says() {
    let mut broken = Vec::new();
    for snap in scenes_all() {
        for (way, size) in
            WAYS.map(|way| (way, (80, 24))).into_iter().chain([("1", (60, 20)), ("b", (60, 20))])
        {
            let app = drawn_app(&snap, way, size);
            let named = written(&app, &snap, size);
            press_all(&app, &snap, size, &named, &format!("after {way}"), &mut broken);
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n\n"));
}

#[test]
fn every_key_that_help_names_does_what_its_word_says() {
    let mut broken = Vec::new();
    for snap in [scenes::alarm(), scenes::under_way(), crew::veering(), crew::up_and_down()] {
        for way in ["1", "2", "3", "4", "5", "6", "b"] {
            let app = drawn_app(&snap, way, (80, 24));
            let named: Vec<Hint> = keys::rows(app.place(&snap), snap.stage).map(keys::Key::hint).collect();
            press_all(&app, &snap, (80, 24), &named, &format!("after {way}"), &mut broken);
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n\n"));
}

#[test]
fn every_key_of_a_recorded_night_does_what_its_word_says() {
    for runs in [false, true] {
        for way in ["1", "2", "3", "4", "5", "6"] {
            for size in [(60, 20), (80, 24)] {
                let snap = scenes::alarm();
                let mut app = app();
                app.show_recorded(Playing { runs, night: Arc::clone(&playing().night), ..playing() });
                typed(&mut app, &snap, way);
                drawn(&mut app, &snap, size);
                let hints = app.hints(&snap);
                let row = drawn(&mut app.clone(), &snap, size);
                let row = row.lines().last().unwrap_or_default().to_owned();
                let shown: Vec<Hint> = hints.into_iter().filter(|hint| row.contains(hint.word)).collect();
                press_recorded(&app, &snap, size, &shown);
            }
        }
    }
}

fn press_recorded(app: &App, snap: &Snapshot, size: Size, named: &[Hint]) {
    let before = drawn(&mut app.clone(), snap, size);
    for hint in named {
        for event in under(hint, Place::Recorded, snap.stage) {
            let mut is = app.clone();
            let requests = is.on_event(&Event::Key(event), snap);
            let after = drawn(&mut is, snap, size);
            let pressed =
                Pressed { hint: *hint, snap, was: app, is, requests, before: before.clone(), after };
            assert!(pressed.keeps_its_word(), "{} {}: {size:?}\n{before}", hint.label, hint.word);
        }
    }
}

#[test]
fn a_bottom_row_drops_whole_keys_and_never_help_or_the_way_back() {
    let (snap, clock) = (scenes::alarm(), Clock::new(TimeZone::UTC));
    let scene =
        Scene { snap: &snap, palette: Palette::default(), clock: &clock, lit: true, cell_aspect: 0.5 };
    let stages = [Stage::NotSet, Stage::Setting, Stage::BroughtUp, Stage::Weighing];
    for (place, stage) in Place::ALL.iter().flat_map(|place| stages.map(|stage| (*place, stage))) {
        let hints = keys::hints(place, stage, true);
        for columns in 40..200 {
            let area = Rect::new(0, 0, columns, 1);
            let mut buf = Buffer::empty(area);
            keybar::render(&scene, &hints, area, &mut buf, &mut Hits::default());
            let row = text(&buf);
            let whole = |part: &str| hints.iter().any(|hint| part == format!("{} {}", hint.label, hint.word));
            let parts = row.split("   ").map(str::trim).filter(|part| !part.is_empty());
            parts.for_each(|part| assert!(whole(part), "\"{part}\" is cut at {columns}: {row}"));
            for hint in hints.iter().filter(|hint| matches!(hint.label, "?" | "Esc")) {
                assert!(
                    row.contains(&format!("{} {}", hint.label, hint.word)),
                    "{place:?} at {columns}: {row}"
                );
            }
        }
    }
}

#[test]
fn keys_in_the_band_are_those_of_the_table() {
    for scene in [scenes::alarm, scenes::warning, scenes::silenced, scenes::no_fix, scenes::outside] {
        for size in SIZES {
            let snap = scene();
            let screen = drawn(&mut app(), &snap, size);
            let line = screen.lines().find(|line| line.contains("a acknowledge")).unwrap_or_default();
            assert!(!line.contains('…'), "{screen}");
            if line.contains("all alerts") {
                let key = line.split("all alerts").next().and_then(|left| left.trim().chars().last());
                let mut app = app();
                app.on_event(&press(KeyCode::Char(key.unwrap_or(' '))), &snap);
                assert_eq!(app.place(&snap), Place::View(View::Alerts), "{line}");
            }
        }
    }
}

#[test]
fn keys_that_words_tell_to_press_have_a_meaning() {
    let snap = scenes::quiet();
    let of_alerts = nightrode::watch::alert::AlertKind::ALL.map(nightrode::tui::overlay::Topic::Alert);
    let of_places = Place::ALL.map(nightrode::tui::overlay::Topic::Place);
    for topic in of_alerts.into_iter().chain(of_places) {
        let lines = nightrode::tui::overlay::help::lines(topic, &snap, 200);
        let words = lines.into_iter().map(|(line, _)| line).collect::<Vec<_>>().join(" ");
        for after in words.split("press ").skip(1) {
            let key = after.split([' ', '.', ',', ';', ':']).next().unwrap_or_default();
            let mut letters = key.chars();
            if let (Some(letter), None) = (letters.next(), letters.next()) {
                let event = KeyEvent::from(KeyCode::Char(letter));
                assert!(keys::act(event, Place::View(View::Swing)).is_some(), "{topic:?}: press {key}");
            }
        }
    }
}

#[test]
fn the_first_start_and_the_plan_do_what_their_keys_say() {
    let area = Rect::new(0, 0, 80, 24);
    let row = |render: &mut dyn FnMut(Rect, &mut Buffer)| {
        let mut buf = Buffer::empty(area);
        render(area, &mut buf);
        text(&buf).lines().last().unwrap_or_default().to_owned()
    };
    let mut first = FirstStart::new(vec!["serial:/dev/ttyUSB0@4800".to_owned()], Palette::default());
    assert!(row(&mut |area, buf| first.render(area, buf)).contains("Enter I have read it   Esc leave"));
    first.on_event(&press(KeyCode::Enter));
    let boat = row(&mut |area, buf| first.render(area, buf));
    assert!(boat.contains("Tab next") && boat.contains("Esc back"), "{boat}");
    let mut plan = PlanForm::new(Asked::default(), "Marram", Palette::default());
    assert!(row(&mut |area, buf| plan.render(area, buf)).contains("Esc leave"));
    plan.answer(Ok("VEER 31 m"));
    let page = row(&mut |area, buf| plan.render(area, buf));
    assert!(page.contains("w write plan.toml") && page.contains("Esc change an answer"), "{page}");
    assert_eq!(plan.on_event(&press(KeyCode::Char('q'))), Some(Step::Leave));
}

#[test]
fn no_key_has_two_meanings_at_one_place_and_stage() {
    let stages = [Stage::NotSet, Stage::Setting, Stage::BroughtUp, Stage::Weighing];
    for (place, stage) in Place::ALL.iter().flat_map(|place| stages.map(|stage| (*place, stage))) {
        let mut seen = Vec::new();
        for row in keys::rows(place, stage) {
            for (press, _) in row.acts {
                assert!(!seen.contains(press), "{press:?} at {place:?}, {stage:?}");
                seen.push(*press);
            }
        }
    }
}

/// Places at which the live watch is looked at.
const LIVE: [Place; 10] = [
    Place::View(View::Swing),
    Place::View(View::Rode),
    Place::View(View::Night),
    Place::View(View::Rounds),
    Place::View(View::Alerts),
    Place::View(View::Feeds),
    Place::View(View::Position),
    Place::View(View::Health),
    Place::Figures,
    Place::Deck,
];

/// The line of a key in the documents.
fn line(row: &Key) -> String {
    let when = if row.when == When::Always { String::new() } else { format!(" ({})", row.when.words()) };
    format!("| `{}` | {} | {}{when} |\n", row.label, row.word, row.does)
}

fn lines_at(place: Place) -> Vec<String> {
    TABLE.iter().filter(|row| row.at.contains(&place)).map(line).collect()
}

/// Rows that most of the live places have; where one lacks it, the same key has another row there.
fn common() -> Vec<&'static Key> {
    let mut seen = BTreeSet::new();
    let at = |row: &Key| LIVE.iter().filter(|place| lines_at(**place).contains(&line(row))).count();
    TABLE.iter().filter(|row| at(row) * 2 > LIVE.len() && seen.insert(line(row))).collect()
}

/// The table of the keys in the documents.
fn table() -> String {
    let mut page = String::from(
        "# Keys\n\nWhat every key does, by place. The bottom row names those that matter there, `?` all of them. This page \
         is made from the program's own table.\n",
    );
    let mut section = |name: &str, lines: &[String]| {
        let lines = lines.concat();
        let _ = write!(page, "\n## {name}\n\n| key | word | what it does |\n| --- | --- | --- |\n{lines}");
    };
    let common: Vec<String> = common().into_iter().map(line).collect();
    section("In every view of the watch, unless it is given otherwise below", &common);
    let mut seen = BTreeSet::new();
    for place in Place::ALL.into_iter().filter(|place| seen.insert(place.name())) {
        let mut own = lines_at(place);
        own.retain(|line| !(LIVE.contains(&place) && common.contains(line)));
        if !own.is_empty() {
            section(&heading(place), &own);
        }
    }
    page
}

#[test]
fn a_common_key_that_a_view_lacks_does_something_else_there() {
    for (place, row) in LIVE.iter().flat_map(|place| common().into_iter().map(move |row| (*place, row))) {
        let same = lines_at(place).contains(&line(row));
        let here = || TABLE.iter().filter(|other| other.at.contains(&place)).flat_map(|other| other.acts);
        let other = row.acts.iter().all(|(key, _)| here().any(|(other, _)| other == key));
        assert!(same || other, "{} at {place:?}", row.label);
    }
}

fn heading(place: Place) -> String {
    let mut letters = place.name().chars();
    letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect()
}

#[test]
fn the_page_of_keys_is_that_of_the_table() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/sailing/keys.md");
    if std::env::var_os("NIGHTRODE_RENEW").is_some() {
        std::fs::write(&path, table()).expect("the page is written");
    }
    let page = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(page == table(), "make it anew with: NIGHTRODE_RENEW=1 cargo test --test screens page_of_keys");
}
