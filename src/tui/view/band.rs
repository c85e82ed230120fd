//! The top of the screen while something is wrong: the worst thing that is so now, tall; then a line of why, one of what to
//! do, one of keys. Where that is the verdict itself the room stands beside it; else verdict and room follow below, on
//! their own ground, so that a calm verdict is never read as part of an alert. What is over is one quiet line in the past
//! tense.

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
use crate::watch::way_out::leads_out;

/// The word for a watch that judges nothing.
pub const UNWATCHED: &str = "NOBODY WATCHES";
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
    /// Whether something lies over the view, which has keys of its own.
    pub covered: bool,
    /// Rows that verdict and room, or the step on deck, take in tall letters below it.
    pub below: u16,
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
    below: u16,
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

    /// The band while the watch judges nothing: no verdict stands then, however calm the last one was.
    #[must_use]
    pub fn unwatched(scene: &Scene, words: &str, given: Given) -> Self {
        let columns = given.columns.saturating_sub(2 * MARGIN);
        let ground = if scene.lit { Ink::Fill } else { Ink::Trouble };
        let mut lines: Vec<Line> =
            wrap(words, columns).into_iter().map(|line| Line::of(line, ground)).collect();
        let tall = Tall::of(&[Piece::word(UNWATCHED, ground)], columns, 1)
            .filter(|tall| tall.height() + lines.len() as u16 <= given.rows);
        if tall.is_none() {
            lines.insert(0, Line::of(UNWATCHED.to_owned(), ground));
        }
        Self { kind: AlertKind::Gap, ground, tall, lines, typing: given.typing, pad: 0, below: 0 }
    }

    /// Rows that it takes.
    #[must_use]
    pub fn height(&self) -> u16 {
        self.tall.as_ref().map_or(0, Tall::height) + self.lines.len() as u16 + 2 * self.pad
    }

    /// Rows of the header below it, one of them empty where tall letters have it to spare, while something is so now: none where verdict
    /// and room stand in it.
    #[must_use]
    pub fn below(&self) -> Option<u16> {
        (self.ground != Ink::Dim).then_some(self.below)
    }

    /// Something is so: its word, with the room where it is the verdict, then the lines.
    fn so_now(scene: &Scene, head: &Alert, given: Given) -> Self {
        let columns = given.columns.saturating_sub(2 * MARGIN);
        let ground = ground(scene, head);
        let (tall, below) = top(scene, head, columns, given);
        let mut lines = Vec::new();
        if tall.is_none() {
            let text = format!("{}   {}", scene.word_for(head), standing(scene, head));
            lines.push(Line::of(text, word_ink(scene, head, ground)));
        }
        if scene.is_verdict(head.kind) {
            let named = tall.as_ref().is_some_and(|tall| tall.names_room);
            let room = scene.snap.room.filter(|_| !named);
            lines.extend(room.map(|room| Line::of(format!("{} {}", room.name(), metres(room.left)), ground)));
        }
        let taken = tall.as_ref().map_or(0, Tall::height) + lines.len() as u16 + 1 + below;
        let left = given.rows.saturating_sub(taken);
        let words = if given.brief { Vec::new() } else { words(scene, head, columns, left) };
        lines.extend(words.into_iter().map(|line| Line::of(line, ground)));
        lines.push(keys(scene, head, given, columns, ground));
        let taken = tall.as_ref().map_or(0, Tall::height) + lines.len() as u16 + below;
        let spare = given.rows.saturating_sub(taken);
        if let Some(also) = also(scene, head).filter(|_| spare > 0 && given.columns >= ALSO && !given.brief) {
            lines.push(Line::of(whole_sentences(&also, columns, 1).concat(), ground));
        }
        let taken = tall.as_ref().map_or(0, Tall::height) + lines.len() as u16 + below;
        let clear = u16::from(below > 1 && taken < given.rows);
        let pad = u16::from(tall.is_some() && spare > AIRY && !given.brief);
        Self { kind: head.kind, ground, tall, lines, typing: given.typing, pad, below: below + clear }
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
            below: 0,
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

/// The tall word, unless rows are too few for it, and the rows of the header below. Where there is a room to be seen it
/// keeps its tall figures before a title does.
fn top(scene: &Scene, head: &Alert, columns: u16, given: Given) -> (Option<Tall>, u16) {
    let is_verdict = scene.is_verdict(head.kind);
    let word = Piece::word(scene.word_for(head), Ink::Trouble);
    let scale = if given.rows >= ROWS_LARGE { 2 } else { 1 };
    let fitting = |scale| {
        let words = std::slice::from_ref(&word);
        if is_verdict { Tall::fitting(scene, words, columns, scale) } else { Tall::of(words, columns, scale) }
    };
    let talls: Vec<Tall> = [scale, 1].into_iter().filter_map(fitting).collect();
    let row = given.below.min(1);
    let belows = if scene.snap.room.is_some() { [given.below, given.below] } else { [given.below, row] };
    let offered = belows.into_iter().flat_map(|below| talls.iter().map(move |tall| (Some(tall), below)));
    let rows = |tall: Option<&Tall>, below| tall.map_or(1, Tall::height) + below + WHY_LEAST + 2;
    let (tall, below) = offered
        .chain([(None, given.below), (None, row)])
        .find(|(tall, below)| rows(*tall, *below) <= given.rows)
        .unwrap_or((None, row));
    (tall.cloned(), below)
}

/// Why, and what to do, in so many rows: of both at least something.
fn words(scene: &Scene, head: &Alert, columns: u16, rows: u16) -> Vec<String> {
    let why = scene.why(head);
    let way = scene.snap.way_out.filter(|_| leads_out(head.kind));
    let way = way.map(|way| format!("Way out {}.", way.words(scene.snap.variation_deg)));
    // The way out stays when the alert was answered, and comes first: what is behind it may be cut.
    let todo = match (&way, waits(head)) {
        (Some(way), true) => format!("{way} {}", head.reason.action),
        (Some(way), false) => way.clone(),
        (None, true) => head.reason.action.clone(),
        (None, false) => String::new(),
    };
    let wanted = wrap(if todo.is_empty() { &head.reason.action } else { &todo }, columns).len() as u16;
    let spared = wanted.min((rows / 2).max(1)).min(rows.saturating_sub(WHY_LEAST));
    let why = whole_sentences(&why, columns, rows - spared);
    let left = rows.saturating_sub(why.len() as u16);
    let todo = if todo.is_empty() { Vec::new() } else { whole_sentences(&todo, columns, left) };
    why.into_iter().chain(todo).collect()
}

/// How an alert stands, with the time that matters.
#[must_use]
pub fn standing(scene: &Scene, alert: &Alert) -> String {
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
    let answers = answers(scene, Some(head), given);
    let all = Some(answers).filter(|words| !words.is_empty()).into_iter().chain(leads_on(head, given));
    let text = all.collect::<Vec<_>>().join("   ");
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

/// The key that leads on from an alert, after those that answer it.
fn leads_on(head: &Alert, given: Given) -> Option<String> {
    let hint = keys::hint(Act::CheckAnchor, Place::Figures);
    (head.kind == AlertKind::Creep && !given.covered).then(|| format!("{} {}", hint.label, hint.word))
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
