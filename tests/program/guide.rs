//! The lines that the guide tells a crew to type are typed: each table of the tide and each wind by the hour, into `plan`, into its
//! form and into the forms of a watch, at every hour at which a crew may come to type it.

use std::path::Path;

use jiff::civil::date;
use jiff::tz::{Offset, TimeZone};
use nightrode::tui::overlay::forms;
use nightrode::tui::palette::Palette;
use nightrode::tui::plan_form::{PlanForm, Step};
use nightrode::tui::text::Clock;
use nightrode::watch::boat::Settings;
use nightrode::watch::forecast;
use nightrode::watch::plan::{Now, Plan, TideAsked};
use nightrode::watch::snapshot::{DepthView, Snapshot};
use nightrode::watch::units::{Metres, WatchTime};
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};

/// What stands between quotes or backticks in the pages for sailors and begins so.
fn written(begins: fn(&str) -> bool) -> Vec<String> {
    let pages = ["docs/sailing/guide.md", "docs/sailing/plan.md"];
    let mut all: Vec<String> = pages
        .iter()
        .map(|page| Path::new(env!("CARGO_MANIFEST_DIR")).join(page))
        .flat_map(|page| {
            let text = std::fs::read_to_string(page).expect("a page");
            let parts: Vec<String> = text.split(['"', '`']).map(str::to_owned).collect();
            parts
        })
        .filter(|part| begins(part) && !part.contains('\n'))
        .collect();
    all.sort();
    all.dedup();
    all
}

fn tables() -> Vec<String> {
    written(|part| {
        let digits = |text: &str| text.trim_start().starts_with(|c: char| c.is_ascii_digit());
        ["HW ", "LW "].iter().any(|turn| part.strip_prefix(turn).is_some_and(digits)) && part.contains(',')
    })
}

fn winds() -> Vec<String> {
    written(|part| {
        let hour = part.split(':').next().unwrap_or_default();
        hour.len() == 2 && hour.bytes().all(|b| b.is_ascii_digit()) && part.contains(" g")
    })
}

/// 2 June 2026, so late by a clock one hour ahead of UTC.
fn at(hour: i8, minute: i8) -> Now {
    let there = date(2026, 6, 2).at(hour, minute, 0, 0);
    let at = Offset::constant(1).to_timestamp(there).expect("a day of this century");
    Now { at: WatchTime(at.as_millisecond()), utc_offset: Offset::constant(1) }
}

#[test]
fn the_guide_has_lines_to_type() {
    assert!(tables().len() >= 2, "{:?}", tables());
    assert!(winds().len() >= 2, "{:?}", winds());
}

/// The guide's own command, at each hour from the afternoon on: the table as it is printed gives a plan, though its first turn may
/// still be to come.
#[test]
fn every_table_of_the_guide_gives_a_plan_whenever_it_is_typed() {
    for table in tables() {
        for (hour, minute) in [(15, 15), (16, 0), (17, 30), (19, 0), (20, 10), (22, 0), (23, 30)] {
            let mut form = PlanForm::new(Default::default(), "Marram", Palette::default());
            let asked = typed(&mut form, &table).unwrap_or_else(|| panic!("{table} is not taken"));
            assert_eq!(asked.tide, TideAsked::Typed(table.clone()));
            let inputs = asked.inputs(&Settings::default(), at(hour, minute));
            let inputs = inputs.unwrap_or_else(|why| panic!("{table} at {hour}:{minute}: {why}"));
            let plan = Plan::make(&inputs).unwrap_or_else(|why| panic!("{table} at {hour}:{minute}: {why}"));
            assert!(plan.least.depth < plan.greatest.depth, "{table} at {hour}:{minute}: a tide");
        }
    }
}

/// Depth, wind and the table, as fingers enter them.
fn typed(form: &mut PlanForm, table: &str) -> Option<nightrode::watch::plan::Asked> {
    let key = |code| Event::Key(KeyEvent::new(code, KeyModifiers::NONE));
    let mut steps = Vec::new();
    let text = |words: &str| words.chars().map(KeyCode::Char).collect::<Vec<_>>();
    steps.extend(text("4.6"));
    steps.push(KeyCode::Tab);
    steps.extend(text("18"));
    steps.push(KeyCode::Tab);
    steps.push(KeyCode::Right);
    steps.push(KeyCode::Tab);
    steps.extend(text(table));
    steps.push(KeyCode::Enter);
    let last = steps.into_iter().filter_map(|code| form.on_event(&key(code))).last();
    match last {
        Some(Step::Calculate(asked)) => Some(*asked),
        _ => None,
    }
}

/// The same table typed on watch, anchored and afloat in 4.6 m: a curve, never silence.
#[test]
fn every_table_of_the_guide_gives_a_curve_on_watch() {
    let clock = Clock::new(TimeZone::fixed(Offset::constant(1)));
    for table in tables() {
        for (hour, minute) in [(15, 15), (17, 30), (20, 30), (23, 30)] {
            let now = at(hour, minute).at;
            let snap = Snapshot {
                at: now,
                depth: DepthView { predicted: Some(Metres(4.6)), ..DepthView::default() },
                ..Snapshot::default()
            };
            let (purpose, mut form) = forms::tide(&snap, &clock);
            form.on_event(&Event::Key(KeyEvent::new(KeyCode::Tab, KeyModifiers::NONE)));
            form.on_event(&Event::Paste(table.clone()));
            let curve = forms::foresight(&purpose, &form, &snap, &clock);
            assert!(curve.is_some(), "{table} at {hour}:{minute}");
        }
    }
}

#[test]
fn every_wind_of_the_guide_is_read_at_any_hour() {
    for line in winds() {
        for hour in 0..24 {
            let Now { at, utc_offset } = at(hour, 20);
            let read = forecast::parse(&line, at, utc_offset);
            assert!(read.is_ok_and(|winds| !winds.winds().is_empty()), "{line} at {hour}:20");
        }
    }
}
