//! The top of the screen while an alert asks for the crew: the word, why, what to do, and the key that answers it.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;

use crate::tui::glyphs;
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act};
use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, priority_word, waits};
use crate::tui::stands::{Place, View};
use crate::tui::text::{Pen, width, wrap};
use crate::watch::alert::{Alert, AlertState, Priority};

/// What the band needs to know beside the scene.
#[derive(Clone, Copy, Debug)]
pub struct Band<'a> {
    /// The alert in it.
    pub alert: &'a Alert,
    /// Whether tall letters may be used.
    pub tall: bool,
    /// Whether the keys of the alert first need `Esc`, because a form has the keyboard.
    pub typing: bool,
}

/// How the band is filled at one width.
struct Plan {
    /// Columns taken by tall letters beside the words; 0 without.
    beside: u16,
    /// Rows taken by tall letters above the words; 0 without.
    above: u16,
    lines: Vec<(String, Weight)>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Weight {
    Word,
    Why,
    Todo,
    Keys,
}

const MARGIN: u16 = 1;

/// Rows that the band wants at this width.
#[must_use]
pub fn height(scene: &Scene, band: &Band, columns: u16) -> u16 {
    let plan = plan(scene, band, columns);
    let lines = plan.lines.len() as u16;
    if plan.beside > 0 { lines.max(glyphs::rows(1)) + 2 } else { lines + plan.above }
}

/// Draws the band.
pub fn render(scene: &Scene, band: &Band, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let plan = plan(scene, band, area.width);
    let (ground, word) = inks(scene, band.alert);
    let mut pen = Pen::new(buf, area);
    pen.blank(0..area.height, scene.ink(ground));
    let top = u16::from(plan.beside > 0);
    let left = MARGIN + if plan.beside > 0 { plan.beside + 3 } else { 0 };
    let spare = area.height.saturating_sub(top + plan.above);
    let first = top + plan.above;
    // Too low for everything: the words in the middle give way before the word and the keys.
    let hidden = plan.lines.len().saturating_sub(usize::from(spare));
    let kept = plan.lines.iter().enumerate().filter(|(i, _)| *i == 0 || *i > hidden).map(|(_, line)| line);
    hits.add(area, Target::Alert(band.alert.kind));
    for (row, (text, weight)) in (first..).zip(kept) {
        let ink = if *weight == Weight::Word { word } else { ground };
        if *weight == Weight::Keys && !band.typing {
            keys(scene, &mut pen, (left, row), text, ink, hits);
        } else {
            pen.put(left, row, text, scene.ink(ink));
        }
    }
    let tall = Rect { x: area.x + MARGIN, y: area.y + top, width: area.width.saturating_sub(MARGIN), ..area };
    let tall = Rect { height: area.height.saturating_sub(top), ..tall };
    if plan.beside > 0 || plan.above > 0 {
        // Tall letters in the colour of the ground would melt into it at their edges: on a plain band they stay as they
        // are, and the line below them blinks.
        let tall_ink = if ground == Ink::Fill { Ink::Fill } else { Ink::Trouble };
        glyphs::put(buf, tall, band.alert.kind.title(), 1, scene.ink(tall_ink));
    }
}

/// The ink of the whole band and that of its word. An unanswered alarm changes places with its ground once a second.
fn inks(scene: &Scene, alert: &Alert) -> (Ink, Ink) {
    match (alert.priority, waits(alert), scene.lit) {
        (Priority::Alarm, true, true) => (Ink::Fill, Ink::Fill),
        (Priority::Alarm, true, false) => (Ink::Trouble, Ink::Trouble),
        (Priority::Warning, true, true) => (Ink::Strong, Ink::Trouble),
        (Priority::Warning, true, false) => (Ink::Strong, Ink::Fill),
        _ => (Ink::Strong, Ink::Trouble),
    }
}

fn keys(scene: &Scene, pen: &mut Pen, at: (u16, u16), text: &str, ink: Ink, hits: &mut Hits) {
    let (mut x, y) = at;
    for hint in text.split("   ") {
        let end = pen.put(x, y, hint, scene.ink(ink));
        if let Some(key) = hint.chars().next() {
            hits.add(pen.spot(x, y, end.saturating_sub(x)), Target::Key(KeyCode::Char(key)));
        }
        x = end + 3;
    }
}

fn plan(scene: &Scene, band: &Band, columns: u16) -> Plan {
    let title = band.alert.kind.title();
    let tall = glyphs::columns(title, 1);
    let room = columns.saturating_sub(2 * MARGIN);
    let beside = band.tall && waits(band.alert) && tall.saturating_mul(2) < columns;
    let above = band.tall && waits(band.alert) && !beside && tall <= room;
    let beside = if beside { tall } else { 0 };
    let room = if beside > 0 { room.saturating_sub(beside + 3) } else { room };
    let standing = format!("{}, {}", priority_word(band.alert.priority), answer_word(scene, band.alert));
    let head = if beside > 0 || above { standing } else { format!("{title}   {standing}") };
    let mut lines = vec![(head, Weight::Word)];
    lines.extend(wrap(&band.alert.reason.what, room).into_iter().map(|line| (line, Weight::Why)));
    if waits(band.alert) {
        lines.extend(wrap(&band.alert.reason.action, room).into_iter().map(|line| (line, Weight::Todo)));
        lines.push((answers(band, room), Weight::Keys));
    }
    Plan { beside, above: if above { glyphs::rows(1) + 1 } else { 0 }, lines }
}

/// How the alert stands between boat and crew, with the time that matters.
fn answer_word(scene: &Scene, alert: &Alert) -> String {
    let since = scene.snap.at.since(alert.raised);
    match alert.state {
        AlertState::Normal => "over".to_owned(),
        AlertState::Unacknowledged if alert.escalated => format!("{since}, nobody has answered"),
        AlertState::Unacknowledged => format!("for {since}"),
        AlertState::Silenced { until } => format!("for {since}, silent until {}", scene.clock.hms(until)),
        AlertState::Acknowledged => format!("for {since}, acknowledged"),
        AlertState::Rectified => "now over".to_owned(),
    }
}

/// The keys that answer, as many as there is room for, whole or not at all.
fn answers(band: &Band, room: u16) -> String {
    let place = if band.typing { Place::Form } else { Place::Help };
    let named = |act| {
        let hint = keys::hint(act, place);
        format!("{} {}", hint.label, hint.word)
    };
    let answer = named(Act::Acknowledge);
    if band.typing {
        let words = format!("{}, then {answer}", named(Act::Leave));
        return if width(&words) <= room { words } else { format!("Esc, then {answer}") };
    }
    let sounds = !matches!(band.alert.state, AlertState::Rectified | AlertState::Silenced { .. });
    let silence = sounds.then(|| named(Act::Silence));
    let all = Some(named(Act::Show(View::Alerts)));
    silence.into_iter().chain(all).fold(answer, |so_far, next| {
        let longer = format!("{so_far}   {next}");
        if width(&longer) <= room { longer } else { so_far }
    })
}
