//! The top of the screen while something is wrong: the worst thing that is so now and the room that is left, tall; then
//! a line of why, one of what to do, one of keys. What is over is one quiet line in the past tense.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::tall::{Piece, Tall};
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act};
use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, priority_word, stands, waits};
use crate::tui::stands::Place;
use crate::tui::text::{Pen, cut, metres, whole_sentences, width, wrap};
use crate::watch::alert::{Alert, AlertKind, AlertState, Priority};
use crate::watch::snapshot::from_mark;

/// Columns free at each side.
const MARGIN: u16 = 1;
/// Rows of why and of what to do that a low window cuts last.
const WHY_LEAST: u16 = 1;
/// From so many columns what else stands has a line; a narrower window needs the row for its figures.
const ALSO: u16 = 80;
/// From so many rows the letters are twice as tall.
const ROWS_LARGE: u16 = 20;
/// From so many rows to spare the band has an empty row above and below its words.
const AIRY: u16 = 6;

/// What the band is given.
#[derive(Clone, Copy, Debug)]
pub struct Given {
    /// Columns of the screen.
    pub columns: u16,
    /// Rows that it may take, so that the picture keeps its half.
    pub rows: u16,
    /// Whether why and what to do are left out: a list of alerts says the same below, and needs the rows.
    pub brief: bool,
    /// Whether the keys of an alert first need `Esc`, because a form has the keyboard.
    pub typing: bool,
}

/// The band as it will be drawn.
#[derive(Debug)]
pub struct Band {
    kind: AlertKind,
    ground: Ink,
    tall: Option<Tall>,
    lines: Vec<Line>,
    typing: bool,
    pad: u16,
}

#[derive(Debug)]
struct Line {
    text: String,
    right: String,
    ink: Ink,
    has_keys: bool,
}

impl Line {
    fn of(text: String, ink: Ink) -> Self {
        Self { text, right: String::new(), ink, has_keys: false }
    }
}

impl Band {
    /// The band of this moment; `None` while nothing asks for the crew.
    #[must_use]
    pub fn of(scene: &Scene, given: Given) -> Option<Self> {
        match scene.headline() {
            Some(head) => Some(Self::so_now(scene, head, given)),
            None => scene.over().next().map(|over| Self::over(scene, over, given)),
        }
    }

    /// Rows that it takes.
    #[must_use]
    pub fn height(&self) -> u16 {
        self.tall.as_ref().map_or(0, Tall::height) + self.lines.len() as u16 + 2 * self.pad
    }

    /// True if verdict and room stand in it, so that no header need say them.
    #[must_use]
    pub fn is_header(&self) -> bool {
        self.ground != Ink::Dim
    }

    /// Something is so: its word, the verdict and the room, then the lines.
    fn so_now(scene: &Scene, head: &Alert, given: Given) -> Self {
        let columns = given.columns.saturating_sub(2 * MARGIN);
        let ground = ground(scene, head);
        let least = WHY_LEAST + 2;
        let scale = if given.rows >= ROWS_LARGE { 2 } else { 1 };
        let mut offered = [scale, 1].into_iter().flat_map(|scale| tops(scene, head, columns, scale));
        let (tall, titled) = offered
            .find(|(tall, titled)| tall.height() + u16::from(*titled) + least <= given.rows)
            .map_or((None, true), |(tall, titled)| (Some(tall), titled));
        let mut lines = Vec::new();
        if titled {
            let text = format!("{}   {}", scene.word_for(head), standing(scene, head));
            lines.push(Line::of(text, word_ink(scene, head, ground)));
        }
        if tall.is_none() {
            lines.push(Line::of(verdict_and_room(scene), ground));
        } else if let Some(room) = scene.snap.room.filter(|_| tall.as_ref().is_some_and(|t| !t.names_room)) {
            lines.push(Line::of(format!("{} {}", room.name(), metres(room.left)), ground));
        }
        let taken = tall.as_ref().map_or(0, Tall::height) + lines.len() as u16 + 1;
        let left = given.rows.saturating_sub(taken);
        let words = if given.brief { Vec::new() } else { words(scene, head, columns, left) };
        lines.extend(words.into_iter().map(|line| Line::of(line, ground)));
        lines.push(keys(scene, head, given, columns, ground));
        let spare = given.rows.saturating_sub(taken - 1 + lines.len() as u16);
        if let Some(also) = also(scene, head).filter(|_| spare > 0 && given.columns >= ALSO && !given.brief) {
            lines.push(Line::of(whole_sentences(&also, columns, 1).concat(), ground));
        }
        let pad = u16::from(tall.is_some() && spare > AIRY && !given.brief);
        Self { kind: head.kind, ground, tall, lines, typing: given.typing, pad }
    }

    /// Nothing is so any more: one quiet line, with the key that answers it.
    fn over(scene: &Scene, over: &Alert, given: Given) -> Self {
        let columns = given.columns.saturating_sub(2 * MARGIN);
        let answer = answers(scene, None, given);
        let was = cut(&was(scene, over), columns.saturating_sub(width(&answer) + 3));
        let text = format!("{was}   {answer}");
        let line = Line { has_keys: true, ..Line::of(text, Ink::Text) };
        Self {
            kind: over.kind,
            ground: Ink::Dim,
            tall: None,
            lines: vec![line],
            typing: given.typing,
            pad: 0,
        }
    }

    /// Draws it.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let inner = Rect {
            x: area.x + MARGIN.min(area.width),
            y: area.y + self.pad.min(area.height),
            width: area.width.saturating_sub(2 * MARGIN),
            height: area.height.saturating_sub(self.pad),
        };
        // Lines under an empty ground would be read as rules.
        let ground = scene.ink(self.ground).remove_modifier(Modifier::UNDERLINED);
        Pen::new(buf, area).blank(0..area.height, ground);
        hits.add(area, Target::Alert(self.kind));
        let over = (self.ground != Ink::Strong).then_some(self.ground);
        let mut top = 0;
        if let Some(tall) = &self.tall {
            tall.put(scene, over, inner, buf);
            top = tall.height();
        }
        let mut pen = Pen::new(buf, inner);
        for (y, line) in (top..inner.height).zip(&self.lines) {
            if line.has_keys && !self.typing {
                keyed(scene, &mut pen, y, line, hits);
            } else {
                pen.put(0, y, &line.text, scene.ink(line.ink));
            }
            pen.put_right(inner.width, y, &line.right, scene.ink(line.ink));
        }
    }
}

/// The ground of the whole band. An unanswered alarm changes places with its ground once a second.
fn ground(scene: &Scene, head: &Alert) -> Ink {
    match (head.priority, waits(head), scene.lit) {
        (Priority::Alarm, true, true) => Ink::Fill,
        (Priority::Alarm, true, false) => Ink::Trouble,
        _ => Ink::Strong,
    }
}

/// The ink of the word where it is not tall.
fn word_ink(scene: &Scene, head: &Alert, ground: Ink) -> Ink {
    match (ground, head.priority, waits(head), scene.lit) {
        (Ink::Strong, Priority::Warning, true, false) => Ink::Fill,
        (Ink::Strong, ..) => Ink::Trouble,
        _ => ground,
    }
}

/// What may stand tall, the fullest first, and whether the alert's title then needs a line of its own.
fn tops(scene: &Scene, head: &Alert, columns: u16, scale: u16) -> Vec<(Tall, bool)> {
    let verdict = Piece::word(scene.snap.verdict.word(), scene.verdict_ink());
    let mut fullest = vec![Piece::word(scene.word_for(head), Ink::Trouble)];
    if !scene.is_verdict(head.kind) {
        fullest.push(verdict.clone());
    }
    let full = Tall::fitting(scene, &fullest, columns, scale).map(|tall| (tall, false));
    let short = Tall::fitting(scene, &[verdict], columns, scale).map(|tall| (tall, true));
    full.into_iter().chain(short.filter(|_| !scene.is_verdict(head.kind))).collect()
}

/// Verdict and room in a line.
fn verdict_and_room(scene: &Scene) -> String {
    let room = scene.snap.room.map(|room| format!("   {} {}", metres(room.left), room.name()));
    format!("{}{}", scene.snap.verdict.word(), room.unwrap_or_default())
}

/// Why, and what to do, in so many rows: of both at least something.
fn words(scene: &Scene, head: &Alert, columns: u16, rows: u16) -> Vec<String> {
    let why = why(scene, head);
    let todo = &head.reason.action;
    let wanted = wrap(todo, columns).len() as u16;
    let spared = wanted.min((rows / 2).max(1)).min(rows.saturating_sub(WHY_LEAST));
    let why = whole_sentences(&why, columns, rows - spared);
    let left = rows.saturating_sub(why.len() as u16);
    let todo = if waits(head) { whole_sentences(todo, columns, left) } else { Vec::new() };
    why.into_iter().chain(todo).collect()
}

/// The reason; that of a moved anchor by the boat's clock.
fn why(scene: &Scene, head: &Alert) -> String {
    match (head.kind, scene.snap.holding.moved) {
        (AlertKind::Drag | AlertKind::Creep, Some(moved)) => {
            let (snap, moved) = (scene.snap, format!("Anchor {}.", scene.moved(&moved)));
            match snap.anchor_off {
                Some((distance, _)) => [moved, from_mark(snap.bow.is_some(), distance, snap.reach)].join(" "),
                None => moved,
            }
        }
        _ => head.reason.what.clone(),
    }
}

/// How an alert stands, with the time that matters.
fn standing(scene: &Scene, alert: &Alert) -> String {
    let (word, since) = (priority_word(alert.priority), scene.snap.at.since(alert.raised));
    match alert.state {
        AlertState::Unacknowledged if alert.escalated => format!("{word} for {since}, nobody has answered"),
        AlertState::Silenced { until } => {
            format!("{word} for {since}, silent until {}", scene.clock.hms(until))
        }
        AlertState::Acknowledged => format!("{word} for {since}, acknowledged"),
        _ => format!("{word} for {since}"),
    }
}

fn for_so_long(scene: &Scene, alert: &Alert) -> String {
    format!("for {}", scene.snap.at.since(alert.raised))
}

/// What is over, in the past tense.
fn was(scene: &Scene, alert: &Alert) -> String {
    let until = alert.rectified.map_or_else(String::new, |at| format!(" to {}", scene.clock.hm(at)));
    format!("Over: {}, {}{until}.", alert.kind.title(), scene.clock.hm(alert.raised))
}

/// What else stands or was, in a line.
fn also(scene: &Scene, head: &Alert) -> Option<String> {
    let others = scene.standing().filter(|alert| stands(alert));
    let so = others.map(|alert| format!("{} ({})", alert.kind.title(), priority_word(alert.priority)));
    let so: Vec<String> = so.collect();
    let so = (!so.is_empty()).then(|| format!("Also {}.", so.join(", ")));
    let over = scene.over().filter(|alert| alert.kind != head.kind).map(|alert| was(scene, alert));
    let all: Vec<String> = so.into_iter().chain(over).collect();
    (!all.is_empty()).then(|| all.join(" "))
}

/// The keys that answer, and at the right how it stands, the boat and the time.
fn keys(scene: &Scene, head: &Alert, given: Given, columns: u16, ink: Ink) -> Line {
    let text = answers(scene, Some(head), given);
    let room = columns.saturating_sub(width(&text) + 3);
    Line { text, right: right(scene, head, room), ink, has_keys: true }
}

/// The keys that answer what waits; none where nothing does.
fn answers(scene: &Scene, head: Option<&Alert>, given: Given) -> String {
    let named = |act| {
        let hint = keys::hint(act, if given.typing { Place::Form } else { Place::Help });
        format!("{} {}", hint.label, hint.word)
    };
    let answer = named(Act::Acknowledge);
    match scene.asks() {
        None => String::new(),
        Some(_) if given.typing => format!("{}, then {answer}", named(Act::Leave)),
        Some(asks) if head.is_some_and(|head| head.kind != asks.kind) => {
            format!("{answer} {}", asks.kind.title())
        }
        Some(asks) if asks.state == AlertState::Unacknowledged => {
            format!("{answer}   {}", named(Act::Silence))
        }
        Some(_) => answer,
    }
}

/// As much as there is room for: the time first, then how it stands, the day, the boat and the place.
fn right(scene: &Scene, head: &Alert, room: u16) -> String {
    const GAP: &str = "   ";
    let snap = scene.snap;
    let mut right = scene.clock.hms(snap.at);
    if width(&right) > room {
        return String::new();
    }
    let fits = |words: &String| width(words) + width(GAP) + width(&right) <= room;
    let standing = [standing(scene, head), for_so_long(scene, head)].into_iter().find(fits);
    let taken = standing.as_ref().map_or(0, |words| width(words) + width(GAP));
    let day = scene.clock.day(snap.at);
    for words in [day.as_str(), &snap.settings.boat.name, &snap.place] {
        if !words.is_empty() && taken + width(words) + width(GAP) + width(&right) <= room {
            right = [words, GAP, &right].concat();
        }
    }
    standing.map_or(right.clone(), |words| [&words, GAP, &right].concat())
}

/// A line of keys, each to be clicked.
fn keyed(scene: &Scene, pen: &mut Pen, y: u16, line: &Line, hits: &mut Hits) {
    let mut x = 0;
    for hint in line.text.split("   ") {
        let end = pen.put(x, y, hint, scene.ink(line.ink));
        if let (Some(key), Some(' ')) = (hint.chars().next(), hint.chars().nth(1)) {
            hits.add(pen.spot(x, y, end.saturating_sub(x)), Target::Key(KeyCode::Char(key)));
        }
        x = end + 3;
    }
}
