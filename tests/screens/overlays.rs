//! Forms, questions, explanations and lists: what they request and what they look like.

use nightrode::tui::app::App;
use nightrode::tui::first::FirstStart;
use nightrode::tui::overlay::phone::PhoneCode;
use nightrode::tui::palette::{Colours, Light, Palette};
use nightrode::tui::request::Request;
use nightrode::watch::alert::AlertKind;
use nightrode::watch::input::{CheckItem, Command, DropMove, Finding, Found, TideEntered};
use nightrode::watch::rehearsal::Rehearsing;
use nightrode::watch::snapshot::{RehearsalView, Snapshot, Stage};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers, MouseEvent, MouseEventKind};
use ratatui::layout::Rect;

use super::drawn::{app, cells, drawn, keys, options, press, text};
use super::{scenes, views};

fn asked(snap: &Snapshot, typed: &str) -> Vec<Request> {
    keys(&mut app(), snap, typed)
}

fn crew(command: Command) -> Vec<Request> {
    vec![Request::Crew(command)]
}

#[test]
fn letting_go_marks_at_once_and_asks_afterwards() {
    let snap = scenes::under_way();
    let let_go = || Command::LetGo { veered: None, depth: None, place: String::new() };
    assert_eq!(asked(&snap, "d"), crew(let_go()));
    assert_eq!(asked(&snap, "d⏎"), crew(let_go()), "nothing must be filled in");
    assert_eq!(asked(&snap, "d⎋"), crew(let_go()), "and nothing is undone");
    let [veered, depth] =
        [Command::Veered { length: Metres(35.0) }, Command::DropDepth { depth: Metres(6.5) }];
    assert_eq!(asked(&snap, "d35 m⇥6.5⏎"), [let_go(), veered, depth].map(Request::Crew));
}

#[test]
fn the_moment_of_letting_go_is_said_and_whether_it_is_marked() {
    let under_way = scenes::under_way();
    let mut app = app();
    keys(&mut app, &under_way, "d");
    let marked = Snapshot { stage: Stage::Setting, ..scenes::setting() };
    let let_go = marked.drop.expect("a drop point").let_go;
    let screen = drawn(&mut app, &marked, (80, 24));
    assert!(screen.contains("Marked "), "{screen}");
    let waits = Snapshot { drop: None, mark_awaited: Some(let_go), ..marked.clone() };
    let screen = drawn(&mut app, &waits, (80, 24));
    assert!(screen.contains("No settled position yet"), "{screen}");
}

#[test]
fn a_place_without_a_name_may_be_named_before_the_anchor_is_aweigh() {
    let weighing = Snapshot { stage: Stage::Weighing, place: "".into(), ..scenes::quiet() };
    assert_eq!(asked(&weighing, "wpNorth cove⏎"), crew(Command::NamePlace { name: "North cove".into() }));
    assert_eq!(asked(&weighing, "wp⏎"), [], "or never");
    assert_eq!(asked(&weighing, "w⏎"), crew(Command::Aweigh));
}

#[test]
fn esc_leaves_a_form_or_a_question_and_nothing_happens() {
    let snap = scenes::quiet();
    for opened in ["d", "+", "l", "t", "n", "w", "A", "q", "?"] {
        let mut app = app();
        let before = drawn(&mut app, &snap, (80, 24));
        assert_eq!(keys(&mut app, &snap, opened), []);
        assert_ne!(drawn(&mut app, &snap, (80, 24)), before, "{opened} opens something");
        assert_eq!(keys(&mut app, &snap, "⎋"), []);
        assert_eq!(drawn(&mut app, &snap, (80, 24)), before, "{opened}");
    }
}

#[test]
fn a_wrong_number_is_told_and_nothing_is_sent() {
    let snap = scenes::quiet();
    let mut app = app();
    assert_eq!(keys(&mut app, &snap, "+⌫2000⏎"), []);
    let screen = drawn(&mut app, &snap, (80, 24));
    assert!(screen.contains("2000 is out of range. Write 1 to 1000 m."), "{screen}");
    assert_eq!(keys(&mut app, &snap, "⌫45⏎"), crew(Command::Veered { length: Metres(45.0) }));
}

#[test]
fn plus_and_minus_veer_and_shorten_metre_by_metre() {
    let snap = scenes::quiet();
    assert_eq!(asked(&snap, "+++⏎"), crew(Command::Veered { length: Metres(37.0) }));
    assert_eq!(asked(&snap, "+-⏎"), crew(Command::Veered { length: Metres(34.0) }));
    let mut app = app();
    keys(&mut app, &snap, "+");
    app.on_event(&press(KeyCode::PageUp), &snap);
    assert_eq!(keys(&mut app, &snap, "⏎"), crew(Command::Veered { length: Metres(40.0) }));
}

#[test]
fn the_drop_point_moves_in_three_ways() {
    let snap = scenes::quiet();
    let from_bow = DropMove::FromBow { bearing: TrueBearing::new(47.0), distance: Metres(30.0) };
    assert_eq!(asked(&snap, "d⇥⌫047⇥⌫30⏎"), crew(Command::MoveDrop(from_bow)));
    let earlier = DropMove::BowAt { at: snap.at - Span::from_secs(150) };
    assert_eq!(asked(&snap, "d→⇥2.5⏎"), crew(Command::MoveDrop(earlier)));
    let sent = asked(&snap, "d→→⇥⌫54 12.00 N 10 24.00 E⏎");
    let [Request::Crew(Command::MoveDrop(DropMove::Position { position }))] = &sent[..] else {
        panic!("{sent:?}");
    };
    assert!((position.lat_deg() - 54.2).abs() < 1e-9 && (position.lon_deg() - 10.4).abs() < 1e-9);
}

#[test]
fn limits_begin_with_those_in_force_and_contradictions_are_told() {
    let snap = scenes::quiet();
    assert_eq!(asked(&snap, "l⏎"), crew(Command::Limits(snap.limits.clone())));
    let mut new = snap.limits.clone();
    (new.circle, new.wind_high) = (None, Knots(22.0));
    new.round_every = Some(Span::from_mins(90));
    assert_eq!(asked(&snap, "l⌫⇥90⇥⇥⇥⇥⌫22 kn⏎"), crew(Command::Limits(new)));
    let mut app = app();
    assert_eq!(keys(&mut app, &snap, "l⇥⇥⇥⇥⇥⌫40⏎"), []);
    assert!(drawn(&mut app, &snap, (80, 24)).contains("The gust must not lie below the mean wind."));
}

#[test]
fn a_typed_tide_is_read_in_the_boats_time_zone() {
    let snap = scenes::quiet();
    let sent = asked(&snap, "t⇥HW 20:10 4.8, LW 02:25 0.9⏎");
    let [Request::Crew(Command::Tide(TideEntered::Table { turns }))] = &sent[..] else { panic!("{sent:?}") };
    // From 20:10 to NOW, 02:14:07 of the next day, both two hours east of Greenwich: 6 h 4 min and 7 s.
    assert_eq!((turns.len(), turns[0].height), (2, Metres(4.8)));
    assert_eq!(scenes::NOW.since(turns[0].time), Span::from_secs(364 * 60 + 7));
    let mut app = app();
    assert_eq!(keys(&mut app, &snap, "t⇥HW 2010⏎"), []);
    assert!(drawn(&mut app, &snap, (80, 24)).contains("has no height"));
}

#[test]
fn a_tide_shows_its_curve_and_the_least_water_while_it_is_typed() {
    let snap = scenes::quiet();
    let mut app = app();
    keys(&mut app, &snap, "t⇥HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6");
    let screen = drawn(&mut app, &snap, (80, 24));
    assert!(screen.contains("under the keel at") || screen.contains("too little at"), "{screen}");
    assert!(screen.contains("keel ╌"), "{screen}");
}

#[test]
fn a_table_that_foretells_nothing_is_answered_with_a_question() {
    let snap = scenes::quiet();
    let mut app = app();
    // It is 02:14; all of that is over.
    assert_eq!(keys(&mut app, &snap, "t⇥HW 2026-06-01 20:10 4.8, LW 2026-06-02 00:25 0.9⏎"), []);
    assert!(drawn(&mut app, &snap, (80, 24)).contains("is past"));
    assert_eq!(keys(&mut app, &snap, "⌫HW 2026-06-04 20:10 4.8, LW 2026-06-05 02:25 0.9⏎"), []);
    assert!(drawn(&mut app, &snap, (80, 24)).contains("too late"));
}

#[test]
fn the_nearest_stations_are_offered_and_no_tide_is_last() {
    let snap = scenes::quiet();
    let sent = asked(&snap, "t→⏎");
    assert!(matches!(&sent[..], [Request::Crew(Command::Tide(TideEntered::Station { .. }))]), "{sent:?}");
    let mut app = app();
    keys(&mut app, &snap, "t");
    app.on_event(&press(KeyCode::Left), &snap);
    assert_eq!(keys(&mut app, &snap, "⏎"), crew(Command::Tide(TideEntered::Nothing)));
}

#[test]
fn whatever_changes_the_watch_is_asked_once() {
    let snap = scenes::setting();
    assert_eq!(asked(&snap, "u"), []);
    assert_eq!(asked(&snap, "u⏎"), crew(Command::BroughtUp));
    assert_eq!(asked(&snap, "w⏎"), crew(Command::Weigh));
    assert_eq!(asked(&scenes::alarm(), "A⏎"), crew(Command::Acknowledge { kind: None }));
    assert_eq!(asked(&snap, "q"), []);
    assert_eq!(asked(&snap, "q⏎"), [Request::Quit]);
    let weighing = Snapshot { stage: Stage::Weighing, ..scenes::quiet() };
    assert_eq!(asked(&weighing, "w⏎"), crew(Command::Aweigh));
    assert_eq!(asked(&weighing, "wr"), crew(Command::Stay));
}

#[test]
fn letters_in_a_note_are_words_not_keys() {
    assert_eq!(asked(&scenes::alarm(), "nas wq?⏎"), crew(Command::Note { text: "as wq?".into() }));
}

#[test]
fn ctrl_c_asks_even_from_within_a_form() {
    let snap = scenes::quiet();
    let mut app = app();
    keys(&mut app, &snap, "nhalf a wo");
    let event = Event::Key(KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL));
    assert_eq!(app.on_event(&event, &snap), []);
    assert_eq!(keys(&mut app, &snap, "⏎"), [Request::Quit]);
}

#[test]
fn the_alert_picked_in_the_list_is_the_one_answered() {
    let snap = scenes::alarm();
    let only = |kind| crew(Command::Acknowledge { kind: Some(kind) });
    assert_eq!(asked(&snap, "a"), only(AlertKind::Drag));
    assert_eq!(asked(&snap, "5↓a"), only(AlertKind::WindHigh));
    // The third is answered already: nothing to do.
    assert_eq!(asked(&snap, "5↓↓↓a"), []);
}

#[test]
fn enter_on_an_alert_tells_what_it_means() {
    let snap = scenes::alarm();
    let mut app = app();
    keys(&mut app, &snap, "5↓⏎");
    assert!(drawn(&mut app, &snap, (120, 40)).contains("Mean wind or gust is above the limit."));
}

#[test]
fn forms_and_panels_look_as_they_should() {
    type Look = (&'static str, fn() -> Snapshot, &'static str);
    let looks: [Look; 12] = [
        ("let_go", scenes::under_way, "d35"),
        ("veer", scenes::quiet, "++"),
        ("move_drop", scenes::quiet, "d"),
        ("limits", scenes::quiet, "l"),
        ("tide", scenes::quiet, "t⇥HW 20:10 4.8, LW 02:25 0.9"),
        ("note", scenes::quiet, "n"),
        ("quit", scenes::quiet, "q"),
        ("form_in_alarm", scenes::alarm, "+⌫x⏎"),
        ("help", scenes::quiet, "?"),
        ("help_alert", scenes::alarm, "5⏎"),
        ("alerts", scenes::alarm, "5↓"),
        ("feeds", scenes::quiet, "6"),
    ];
    for (name, scene, typed) in looks {
        views::looks(name, &scene(), typed);
    }
}

#[test]
fn an_alarm_is_answered_from_within_help_and_questions_but_not_from_within_a_form() {
    let snap = scenes::alarm();
    for opened in ["?", "q", "w", "A"] {
        let mut app = app();
        keys(&mut app, &snap, opened);
        let open = drawn(&mut app, &snap, (80, 24));
        assert!(!open.contains("Esc cancel, then") && open.contains("a acknowledge"), "{open}");
        assert_eq!(keys(&mut app, &snap, "a"), crew(Command::Acknowledge { kind: Some(AlertKind::Drag) }));
        assert_eq!(keys(&mut app, &snap, "s"), crew(Command::Silence));
        assert_eq!(drawn(&mut app, &snap, (80, 24)), open, "{opened} stays");
    }
    let mut app = app();
    keys(&mut app, &snap, "+");
    assert!(drawn(&mut app, &snap, (80, 24)).contains("Esc cancel, then a acknowledge"));
    assert_eq!(keys(&mut app, &snap, "as"), []);
}

#[test]
fn a_long_refusal_is_whole_and_leaves_the_keys_where_they_are() {
    let snap = scenes::quiet();
    for (typed, key) in [("", "v view"), ("+", "Enter set"), ("?", "Esc back")] {
        for size in [(60, 20), (80, 24)] {
            let mut app = app();
            keys(&mut app, &snap, typed);
            app.notice(
                "Not veered: 15 m of chain and no rope is all that she carries. Write what is out."
                    .to_owned(),
                snap.at,
            );
            let screen = drawn(&mut app, &snap, size);
            let words = screen.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(words.contains("is all that she carries. Write what is out."), "{screen}");
            assert!(screen.contains(key), "{screen}");
        }
    }
}

#[test]
fn help_scrolls_no_farther_than_there_is_to_read() {
    let snap = scenes::alarm();
    let mut app = app();
    drawn(&mut app, &snap, (60, 20));
    keys(&mut app, &snap, "?");
    for _ in 0..100 {
        keys(&mut app, &snap, "↓");
    }
    let end = drawn(&mut app, &snap, (60, 20));
    app.on_event(&press(KeyCode::Up), &snap);
    assert_ne!(drawn(&mut app, &snap, (60, 20)), end);
}

#[test]
fn the_wheel_scrolls_what_lies_over_the_view() {
    let snap = scenes::alarm();
    let mut app = app();
    keys(&mut app, &snap, "?");
    let top = drawn(&mut app, &snap, (60, 20));
    app.on_event(
        &Event::Mouse(MouseEvent {
            kind: MouseEventKind::ScrollDown,
            column: 5,
            row: 15,
            modifiers: KeyModifiers::NONE,
        }),
        &snap,
    );
    assert_ne!(drawn(&mut app, &snap, (60, 20)), top);
}

#[test]
fn the_first_start_looks_as_it_should() {
    for (page, typed) in [("caution", 0), ("boat", 1)] {
        views::looks_drawn(&format!("first_{page}"), |(columns, rows)| {
            let mut first = FirstStart::new(vec!["serial:/dev/ttyUSB0@4800".to_owned()], Palette::default());
            for _ in 0..typed {
                first.on_event(&press(KeyCode::Enter));
            }
            let area = Rect::new(0, 0, columns, rows);
            let mut buf = Buffer::empty(area);
            first.render(area, &mut buf);
            text(&buf)
        });
    }
}

#[test]
fn the_check_of_the_anchor_looks_as_it_should_and_sends_each_answer() {
    let well = Some(Found::Well);
    views::looks("check_runs", &scenes::half_checked(), "g↓");
    views::looks("check_moves", &scenes::checked(3, [Some(Found::Wrong), None, well, well]), "g↓");
    views::looks("check_over", &scenes::checked(5, [well; 4]), "g");
    let runs = scenes::checked(2, [None; 4]);
    let found = |item, found| Request::Crew(Command::CheckFound(Finding { item, found }));
    assert_eq!(asked(&scenes::creeping(), "g"), crew(Command::BeginCheck), "it runs from the key on");
    assert_eq!(asked(&runs, "g"), [], "one that runs is shown");
    let answers = asked(&runs, "gyx");
    assert_eq!(answers, [found(CheckItem::Transit, well), found(CheckItem::Rode, Some(Found::Wrong))]);
    let mut app = app();
    keys(&mut app, &runs, "g↓");
    assert_eq!(app.on_event(&press(KeyCode::Backspace), &runs), [found(CheckItem::Rode, None)]);
    assert_eq!(asked(&runs, "g⏎"), crew(Command::EndCheck));
    assert_eq!(asked(&runs, "g⎋"), [], "it runs on");
    assert_eq!(asked(&scenes::checked(5, [well; 4]), "g"), crew(Command::BeginCheck), "the last one is over");
    // An alarm is answered whatever lies over the view.
    assert!(matches!(asked(&runs, "ga")[..], [Request::Crew(Command::Acknowledge { .. })]));
}

#[test]
fn a_rehearsal_is_asked_once_and_whether_it_was_heard_is_asked_then() {
    let quiet = scenes::quiet();
    views::looks("rehearsal", &quiet, "R");
    let stands = |state: Rehearsing, heard| {
        let rehearsal = RehearsalView { at: quiet.at, state, heard };
        Snapshot { rehearsal: Some(rehearsal), ..quiet.clone() }
    };
    // What was rehearsed before is no news, and there is nothing to answer yet.
    assert_eq!(asked(&stands(Rehearsing::Sounded, Some(true)), "Ryn"), []);
    assert_eq!(asked(&quiet, "R⏎"), crew(Command::Rehearse));
    let answered = |state: &Snapshot, typed: &str| {
        let mut app = app();
        keys(&mut app, &quiet, "R⏎");
        let screen = drawn(&mut app, state, (60, 20));
        (keys(&mut app, state, typed), screen)
    };
    let heard = |heard| crew(Command::Rehearsed { heard });
    let sounds = stands(Rehearsing::Sounds, None);
    assert_eq!(answered(&sounds, "y").0, heard(Some(true)));
    assert_eq!(answered(&sounds, "n").0, heard(Some(false)));
    assert_eq!(answered(&sounds, "⎋").0, heard(None), "it stops");
    assert_eq!(answered(&sounds, "⏎").0, [], "it sounds already");
    let says = |state, heard, words: &str| {
        let (_, screen) = answered(&stands(state, heard), "");
        assert!(screen.contains(words), "{screen}");
    };
    says(Rehearsing::Sounds, None, "Is it heard in");
    says(Rehearsing::Sounded, Some(false), "Turn up the");
    says(Rehearsing::Failed("no card".into()), None, "Nothing sounded: no card.");
    says(Rehearsing::TakenOver, None, "This is no rehearsal");
}

/// A made-up code of a usual address: version 4 of ISO/IEC 18004, 33 modules a side. No two of its rows are alike.
fn code() -> PhoneCode {
    let modules = (0..33_u32).map(|y| (0..33_u32).map(|x| (x * (y + 2) + y * y) % 7 < 3).collect()).collect();
    let address = format!("http://192.168.1.5:8460/watch/{}", "0123456789abcdef".repeat(2));
    PhoneCode { address, modules, acknowledges: true }
}

/// The modules that are seen in a part of the screen, dark as `true`.
fn seen(buf: &Buffer, left: u16, top: u16, palette: Palette) -> Vec<Vec<bool>> {
    let (draws_dark, _) = palette.code();
    let row = |y: u16| {
        let half = |x: u16| {
            let sign = buf[(left + x, top + y / 2)].symbol();
            (sign == "█" || sign == if y.is_multiple_of(2) { "▀" } else { "▄" }) == draws_dark
        };
        (0..33).map(half).collect()
    };
    (1..34).map(row).collect()
}

#[test]
fn the_code_for_phones_is_shown_whole_at_every_size_and_in_every_light() {
    let snap = scenes::quiet();
    for light in [Light::Day, Light::Dusk, Light::Night] {
        for colours in [Colours::TrueColour, Colours::Cube256, Colours::Ansi16, Colours::Mono] {
            for (size, below_heading) in [((120, 40), 1), ((80, 24), 1), ((60, 20), 0)] {
                let mut app = App::new(options(light, colours));
                cells(&mut app, &snap, true, size);
                assert_eq!(keys(&mut app, &snap, "P"), [Request::PhoneCode]);
                app.show_code(code());
                let buf = cells(&mut app, &snap, true, size);
                let palette = Palette { light, colours };
                let heading = text(&buf).lines().position(|line| line.contains("─ PAGE FOR PHONES"));
                let top = heading.expect("its heading") as u16 + below_heading;
                assert_eq!(seen(&buf, 3, top, palette), code().modules, "{size:?}\n{}", text(&buf));
                assert_eq!(keys(&mut app, &snap, "P"), [], "the same key takes it away");
                assert!(!drawn(&mut app, &snap, size).contains("PAGE FOR PHONES"));
            }
        }
    }
}

#[test]
fn an_alarm_over_the_code_for_phones_is_read_and_answered_and_the_address_stays() {
    let alarmed = scenes::alarm();
    let mut app = app();
    app.show_code(code());
    let screen = drawn(&mut app, &alarmed, (60, 20));
    assert!(screen.contains("Anchor moved 18 m since"), "{screen}");
    assert!(screen.contains("The code needs 37 columns and 18 rows"), "{screen}");
    let unbroken: String = screen.split_whitespace().collect();
    assert!(unbroken.contains(&code().address), "it can be typed: {screen}");
    assert!(matches!(&keys(&mut app, &alarmed, "a")[..], [Request::Crew(Command::Acknowledge { .. })]));
}
