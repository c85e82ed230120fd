//! What every view looks like, as text, and in which inks where that matters.

use jiff::tz::{Offset, TimeZone};
use nightrode::tui::app::App;
use nightrode::tui::glyphs;
use nightrode::tui::options::Options;
use nightrode::tui::palette::{Colours, Light, Palette};
use nightrode::watch::alert::{Alert, AlertKind, Priority, Sound};
use nightrode::watch::snapshot::{Snapshot, Stage};
use nightrode::watch::units::Span;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Style};

use super::drawn::{Size, app, cells, drawn, inks, keys, options, text as text_of};
use super::{crew, scenes};

pub const SIZES: [Size; 4] = [(60, 20), (80, 24), (120, 40), (200, 60)];

/// The screens that are laid out anew for each size; one of a kind is enough. Their snapshots are kept at every size.
const LAID_OUT_BY_SIZE: [&str; 12] = [
    "check_moves",
    "rode_night_ahead",
    "swing_quiet",
    "swing_alarm",
    "big_alarm",
    "deck_pulling",
    "rode_what_if",
    "night_quiet",
    "rounds_ahead",
    "alerts_alarm",
    "replay_night",
    "tide",
];

/// Holds a screen, by how it is drawn at a size, against its snapshots: at 80x24 and, where it is laid out by size, at
/// every size. At every other size it must stand: as many rows, the last of them the keys.
pub fn looks_drawn(name: &str, draw: impl Fn(Size) -> String) {
    for (columns, rows) in SIZES {
        let screen = draw((columns, rows));
        if (columns, rows) == (80, 24) || LAID_OUT_BY_SIZE.contains(&name) {
            insta::assert_snapshot!(format!("{name}_{columns}x{rows}"), screen);
        }
        let lines: Vec<&str> = screen.lines().collect();
        assert_eq!(lines.len(), usize::from(rows), "{name}\n{screen}");
        assert!(lines[lines.len() - 1].trim().len() > 1, "no keys: {name}\n{screen}");
    }
}

#[test]
fn no_snapshot_is_kept_that_no_screen_is_held_against() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/screens/snapshots");
    for file in std::fs::read_dir(folder).expect("a folder").flatten() {
        let file = file.file_name().into_string().expect("UTF-8");
        let name = file.trim_start_matches("screens__views__").trim_end_matches(".snap");
        let Some((scene, size)) = name.rsplit_once('_').filter(|(_, size)| size.contains('x')) else {
            continue;
        };
        assert!(size == "80x24" || LAID_OUT_BY_SIZE.contains(&scene), "{file}");
    }
}

/// The same for a view or form that some keys lead to.
pub fn looks(name: &str, snap: &Snapshot, typed: &str) {
    looks_drawn(name, |size| {
        let mut app = app();
        keys(&mut app, snap, typed);
        drawn(&mut app, snap, size)
    });
}

#[test]
fn the_swing_view_looks_as_it_should_on_every_scene() {
    for (name, scene) in scenes::ALL {
        looks(&format!("swing_{name}"), &scene(), "");
    }
}

#[test]
fn the_big_figures_look_as_they_should() {
    for (name, scene) in
        [("quiet", scenes::quiet as fn() -> _), ("alarm", scenes::alarm), ("empty", scenes::empty)]
    {
        looks(&format!("big_{name}"), &scene(), "b");
    }
}

/// The row in which a word in tall letters begins, whole or broken at its blank.
fn tall_row(screen: &str, word: &str) -> Option<usize> {
    let tall = |text: &str, scale: u16| {
        let area = Rect::new(0, 0, glyphs::columns(text, scale), glyphs::rows(scale));
        let mut buf = Buffer::empty(area);
        glyphs::put(&mut buf, area, text, scale, Style::new());
        let rows = text_of(&buf);
        let rows: Vec<&str> = rows.lines().map(str::trim_end).collect();
        let lines: Vec<&str> = screen.lines().collect();
        lines.windows(rows.len()).position(|at| at.iter().zip(&rows).all(|(line, row)| line.contains(row)))
    };
    let whole = |text: &str| (1..=3).find_map(|scale| tall(text, scale));
    let broken = || word.split(' ').map(whole).collect::<Option<Vec<_>>>()?.into_iter().min();
    whole(word).or_else(|| broken().filter(|_| word.contains(' ')))
}

/// Whether a word stands on the screen in tall letters.
fn stands_tall(screen: &str, word: &str) -> bool {
    tall_row(screen, word).is_some()
}

/// Read from top to bottom: what is wrong, why, the keys; then the verdict with the room.
#[test]
fn a_calm_verdict_is_never_read_as_part_of_an_alert() {
    let title = |scene: &Snapshot| scene.alerts[0].kind.title();
    for snap in [scenes::warning(), scenes::closing()] {
        for size in SIZES {
            for view in ["1", "2", "3", "4", "6", "7"] {
                let mut app = app();
                keys(&mut app, &snap, view);
                let screen = drawn(&mut app, &snap, size);
                let keys = screen.lines().position(|line| line.contains("a acknowledge"));
                // A title too long to be tall is the first line.
                let first = || screen.lines().position(|line| line.contains(title(&snap)));
                let titled = tall_row(&screen, title(&snap)).or_else(first);
                let order = [titled, keys, tall_row(&screen, snap.verdict.word())];
                assert!(
                    order.iter().all(Option::is_some) && order.is_sorted(),
                    "{size:?} {order:?}\n{screen}"
                );
            }
        }
    }
}

#[test]
fn a_calm_verdict_is_not_in_the_colour_of_an_alarm() {
    let mut snap = scenes::warning();
    snap.alerts[0].priority = Priority::Alarm;
    for size in SIZES {
        let screen = inks(&cells(&mut app(), &snap, true, size), Palette::default());
        let filled = screen.lines().take_while(|line| line.contains('#')).count();
        let text = drawn(&mut app(), &snap, size);
        let verdict = tall_row(&text, snap.verdict.word()).expect("stands tall");
        assert!((1..=verdict).contains(&filled), "{size:?}\n{screen}");
    }
}

/// The words of the step are what the crew on deck looks for.
#[test]
fn a_warning_does_not_take_the_step_on_deck_from_the_screen() {
    let snap = Snapshot { alerts: scenes::warning().alerts, ..crew::pulling() };
    for (size, typed) in [((60, 20), ""), ((80, 24), "b"), ((120, 40), "b"), ((200, 60), "b")] {
        let mut app = app();
        keys(&mut app, &snap, typed);
        let screen = drawn(&mut app, &snap, size);
        assert!(stands_tall(&screen, "HALF ASTERN"), "{size:?}\n{screen}");
    }
}

/// A sound card is missing before the first second of the watch.
#[test]
fn what_is_said_before_the_watch_has_a_time_is_still_read() {
    let (first, mut app) = (Snapshot::default(), app());
    app.notice("Sounds do not play here.".to_owned(), first.at);
    drawn(&mut app, &first, (80, 24));
    let mut snap = scenes::quiet();
    assert!(drawn(&mut app, &snap, (80, 24)).contains("Sounds do not play here."));
    snap.at += Span::from_secs(16);
    assert!(!drawn(&mut app, &snap, (80, 24)).contains("Sounds do not play here."));
}

/// What is shown is what was: no verdict, however calm the last one, may stand large.
#[test]
fn a_watch_that_judges_nothing_takes_the_verdict_from_the_screen() {
    const WORDS: &str =
        "The watch has judged nothing for 12 s. Look out by eye; end the program and start it again.";
    let shown = |snap: &Snapshot, typed: &str, size| {
        let mut app = app();
        keys(&mut app, snap, typed);
        app.unwatched(Some(WORDS.to_owned()));
        cells(&mut app, snap, true, size)
    };
    for snap in [scenes::quiet(), scenes::warning(), scenes::alarm(), crew::pulling()] {
        for size in SIZES {
            for typed in ["", "b", "2", "5", "?"] {
                let screen = text_of(&shown(&snap, typed, size));
                assert_eq!(tall_row(&screen, "NOBODY WATCHES"), Some(0), "{size:?} {typed}\n{screen}");
                assert!(!stands_tall(&screen, snap.verdict.word()), "{size:?} {typed}\n{screen}");
                assert!(screen.contains("nothing for 12 s"), "{size:?} {typed}\n{screen}");
            }
        }
    }
    assert!(text_of(&shown(&scenes::quiet(), "", (40, 10))).starts_with("The watch has judged nothing"));
    looks_drawn("unwatched", |size| text_of(&shown(&scenes::quiet(), "", size)));
    let mut again = app();
    again.unwatched(Some(WORDS.to_owned()));
    again.unwatched(None);
    assert!(stands_tall(&drawn(&mut again, &scenes::quiet(), (80, 24)), "HOLDING"));
}

/// A distress call is made in an alarm.
#[test]
fn the_position_is_tall_in_an_alarm_at_every_size() {
    for size in SIZES {
        let mut app = app();
        keys(&mut app, &scenes::alarm(), "7");
        let screen = drawn(&mut app, &scenes::alarm(), size);
        assert!(
            stands_tall(&screen, "54°12.000′N")
                && screen.contains("Anchor   54°12")
                && screen.contains(" UTC"),
            "{size:?}\n{screen}"
        );
    }
}

#[test]
fn verdict_and_room_stand_tall_in_every_view_at_every_size_in_alarms_above_all() {
    for (name, scene) in scenes::ALL {
        let snap = scene();
        if snap.stage != Stage::BroughtUp {
            continue;
        }
        for size in SIZES {
            for view in ["1", "2", "3", "4", "6", "7"] {
                let mut app = app();
                keys(&mut app, &snap, view);
                drawn(&mut app, &snap, size);
                let screen = drawn(&mut app, &snap, size);
                let verdict = snap.verdict.word();
                assert!(stands_tall(&screen, verdict), "{name} {size:?} {view}: {verdict}\n{screen}");
                if let Some(room) = snap.room {
                    let metres = format!("{:.0}", room.left.0.abs());
                    assert!(stands_tall(&screen, &metres), "{name} {size:?} {view}: {metres}\n{screen}");
                    assert!(screen.contains("stern to"), "{name} {size:?} {view}\n{screen}");
                }
            }
        }
    }
}

#[test]
fn an_alert_says_what_happened_and_which_key_answers_at_every_size() {
    for kind in AlertKind::ALL {
        let mut snap = scenes::quiet();
        let raised = scenes::alarm().alerts.remove(0);
        let what: String = raised.reason.what.split_inclusive(' ').take(2).collect();
        snap.alerts = vec![Alert { kind, priority: Priority::Alarm, ..raised }];
        for columns in (60..=200).step_by(14) {
            for rows in (20..=65).step_by(5) {
                let screen = drawn(&mut app(), &snap, (columns, rows));
                let both = screen.contains(&what) && screen.contains("acknowledge");
                assert!(both, "{kind:?} {columns} by {rows}\n{screen}");
            }
        }
    }
}

#[test]
fn the_lists_look_as_they_should() {
    looks("alerts_alarm", &scenes::alarm(), "5");
    looks("alerts_quiet", &scenes::quiet(), "5");
    looks("feeds_quiet", &scenes::quiet(), "6");
    looks("feeds_empty", &scenes::empty(), "6");
}

#[test]
fn inks_say_what_matters_in_both_halves_of_the_flash() {
    for (name, scene) in
        [("quiet", scenes::quiet as fn() -> _), ("alarm", scenes::alarm), ("stale", scenes::stale)]
    {
        for (half, lit) in [("lit", true), ("unlit", false)] {
            let screen = inks(&cells(&mut app(), &scene(), lit, (80, 24)), Palette::default());
            insta::assert_snapshot!(format!("inks_{name}_{half}"), screen);
        }
    }
}

#[test]
fn no_hue_but_red_shows_at_night() {
    for colours in [Colours::TrueColour, Colours::Ansi16] {
        for (name, scene) in scenes::ALL.into_iter().chain(scenes::RODE) {
            let mut app = App::new(options(Light::Night, colours));
            for (lit, view) in
                [(true, "1"), (false, "1"), (true, "2"), (true, "2↑"), (true, "3"), (true, "3↑")]
            {
                keys(&mut app, &scene(), view);
                let buf = cells(&mut app, &scene(), lit, (120, 40));
                for colour in buf.content().iter().flat_map(|cell| [cell.fg, cell.bg]) {
                    let red = match colour {
                        Color::Rgb(r, g, b) => g.max(b) <= r / 2,
                        Color::Black | Color::Red | Color::LightRed => true,
                        _ => false,
                    };
                    assert!(red, "{name}: {colour:?}");
                }
            }
        }
    }
}

#[test]
fn a_console_without_braille_gets_none_and_still_shows_circle_and_boat() {
    for (name, scene) in scenes::ALL.into_iter().chain(scenes::RODE) {
        for view in ["1", "2", "3"] {
            let mut app = App::new(Options { braille: false, ..options(Light::Dusk, Colours::Ansi16) });
            keys(&mut app, &scene(), view);
            let screen = drawn(&mut app, &scene(), (80, 24));
            let braille = screen.chars().filter(|c| ('\u{2801}'..='\u{28ff}').contains(c)).count();
            assert_eq!(braille, 0, "{name}: {screen}");
        }
    }
    let mut app = App::new(Options { braille: false, ..options(Light::Dusk, Colours::Ansi16) });
    insta::assert_snapshot!("swing_console_80x24", drawn(&mut app, &scenes::quiet(), (80, 24)));
}

#[test]
fn without_colours_nothing_is_coloured() {
    for (name, scene) in scenes::ALL {
        let mut app = App::new(options(Light::Dusk, Colours::Mono));
        let buf = cells(&mut app, &scene(), true, (120, 40));
        let plain = buf.content().iter().all(|cell| (cell.fg, cell.bg) == (Color::Reset, Color::Reset));
        assert!(plain, "{name}");
    }
}

#[test]
fn the_whole_screen_flashes_for_a_sound_that_nobody_hears_and_can_be_read_in_both_halves() {
    let snap = scenes::outside();
    for light in [Light::Day, Light::Dusk, Light::Night] {
        for colours in [Colours::TrueColour, Colours::Cube256, Colours::Ansi16, Colours::Mono] {
            let flashed = Palette { light, colours }.flashed();
            let mut app = App::new(options(light, colours));
            let (lit, unlit) =
                (cells(&mut app, &snap, true, (80, 24)), cells(&mut app, &snap, false, (80, 24)));
            for (lit, unlit) in lit.content().iter().zip(unlit.content()) {
                assert_eq!(lit.symbol(), unlit.symbol());
                assert_eq!((Some(unlit.fg), Some(unlit.bg)), (flashed.fg, flashed.bg));
                assert_eq!(unlit.modifier, flashed.add_modifier);
            }
        }
    }
    let answered = Snapshot { sound: Sound::Quiet, ..scenes::outside() };
    let inverted = Palette::default().flashed().bg;
    let calm = cells(&mut app(), &answered, false, (80, 24));
    assert!(calm.content().iter().all(|cell| Some(cell.bg) != inverted));
}

#[test]
fn the_hours_stand_at_the_full_hour_in_half_hour_zones_too() {
    let snap = scenes::quiet();
    let strip = |minutes: i32| {
        let time_zone = TimeZone::fixed(Offset::from_seconds(minutes * 60).expect("an offset"));
        let mut app = App::new(Options { time_zone, ..options(Light::Dusk, Colours::TrueColour) });
        drawn(&mut app, &snap, (200, 60)).lines().nth(58).expect("the hours").to_owned()
    };
    // NOW is 00:14 in Greenwich, 05:59 in a zone 5 h 45 min east: 07 stands an hour, ten columns, behind the mark.
    let hours = strip(345);
    let now = hours.chars().position(|c| c == '▲').expect("now");
    let seven = hours.split("07").next().expect("07").chars().count();
    assert!((now + 9..=now + 11).contains(&seven), "{hours}");
    assert_ne!(hours, strip(330));
}
