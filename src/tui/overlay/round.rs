//! Logging a round: the list, an answer to each line, few keys.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyModifiers};
use ratatui::layout::Rect;
use tui_input::Input;
use tui_input::backend::crossterm::EventHandler;

use super::form::Did;
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act, Way};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stands::Place;
use crate::tui::text::{Pen, cut, width, wrap};
use crate::watch::rounds::{Differs, RoundItem, RoundLine, RoundMade};

/// Longest note on one item, in bytes.
const NOTE_MAX: usize = 200;
/// Columns of the item, and of what was found.
const ITEM: u16 = 20;
const FOUND: u16 = 12;

/// What was found on one line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
enum Found {
    /// Nobody looked yet.
    #[default]
    Nothing,
    /// As it should be.
    InOrder,
    /// Not as it should be.
    Differs(String),
}

/// A round being logged.
#[derive(Clone, Debug)]
pub struct RoundForm {
    lines: Vec<(RoundLine, Found)>,
    at: usize,
    /// The note being written on the line at hand.
    note: Option<Input>,
    /// Said when nothing can be sent yet.
    hint: Option<&'static str>,
}

impl RoundForm {
    /// The list, nothing looked at.
    #[must_use]
    pub fn new(lines: &[RoundLine]) -> Self {
        let lines = lines.iter().map(|line| (line.clone(), Found::Nothing)).collect();
        Self { lines, at: 0, note: None, hint: None }
    }

    /// The round as it was entered; lines that nobody looked at are left out.
    #[must_use]
    pub fn made(&self) -> RoundMade {
        let mut made = RoundMade::default();
        for (line, found) in &self.lines {
            match found {
                Found::Nothing => {}
                Found::InOrder => made.checked.push(line.item.clone()),
                Found::Differs(note) => {
                    made.differs.push(Differs { item: line.item.clone(), note: note.clone() });
                }
            }
        }
        made
    }

    /// The place that it is for the keys.
    #[must_use]
    pub const fn place(&self) -> Place {
        if self.note.is_some() { Place::RoundNote } else { Place::Round }
    }

    /// Takes a key or a paste.
    pub fn on_event(&mut self, event: &Event) -> Did {
        let act = keys::of(event, self.place());
        if self.note.is_some() {
            self.write(event, act);
            return Did::Typing;
        }
        self.hint = None;
        match act {
            Some(Act::Move(Way::Up)) => self.at = self.at.saturating_sub(1),
            Some(Act::Move(Way::Down)) => self.at = (self.at + 1).min(self.lines.len().saturating_sub(1)),
            Some(Act::InOrder) => self.find(Found::InOrder),
            Some(Act::Differs) => self.begin_note(),
            Some(Act::RestInOrder) => {
                let open = self.lines.iter_mut().filter(|(_, found)| *found == Found::Nothing);
                open.for_each(|(_, found)| *found = Found::InOrder);
            }
            Some(Act::Send) if self.made() == RoundMade::default() && !self.lines.is_empty() => {
                self.hint = Some("Nothing is entered yet: y for what is in order, x for what differs.");
            }
            Some(Act::Send) => return Did::Sent,
            Some(Act::Leave) => return Did::Left,
            _ => {}
        }
        Did::Typing
    }

    fn begin_note(&mut self) {
        let so_far = match self.lines.get(self.at) {
            Some((_, Found::Differs(note))) => note.clone(),
            _ => String::new(),
        };
        self.note = Some(Input::new(so_far));
    }

    fn find(&mut self, found: Found) {
        if let Some((_, line)) = self.lines.get_mut(self.at) {
            *line = found;
        }
        self.at = (self.at + 1).min(self.lines.len().saturating_sub(1));
    }

    /// Goes to a line, by a click.
    pub fn pick(&mut self, row: usize) {
        if row < self.lines.len() && self.note.is_none() {
            self.at = row;
        }
    }

    fn write(&mut self, event: &Event, act: Option<Act>) {
        let Some(note) = &mut self.note else { return };
        match (act, event) {
            (Some(Act::Send), _) => {
                let words = note.value().trim().to_owned();
                self.note = None;
                self.find(Found::Differs(words));
            }
            (Some(Act::Leave), _) => self.note = None,
            (_, Event::Key(key)) => {
                let letter =
                    matches!(key.code, KeyCode::Char(_)) && !key.modifiers.contains(KeyModifiers::CONTROL);
                if !letter || note.value().len() < NOTE_MAX {
                    note.handle_event(event);
                }
            }
            (_, Event::Paste(text)) => {
                for c in text.chars().filter(|c| !c.is_control()) {
                    if note.value().len() < NOTE_MAX {
                        note.handle(tui_input::InputRequest::InsertChar(c));
                    }
                }
            }
            _ => {}
        }
    }

    /// What the line at hand shows, from row `y`, where its own row is too short for it.
    fn whole(&self, scene: &Scene, pen: &mut Pen, y: u16) {
        let line = self.lines.get(self.at).filter(|_| self.note.is_none());
        let Some((line, found)) = line else { return };
        let words = match found {
            Found::Differs(note) if !note.is_empty() => note,
            _ => &line.shows,
        };
        if width(words) > shown(pen) {
            let last = pen.height().saturating_sub(1);
            for (y, line) in (y..last).zip(wrap(words, pen.width().saturating_sub(1))) {
                pen.put(1, y, &line, scene.ink(Ink::Text));
            }
        }
    }

    /// Rows that it wants.
    #[must_use]
    pub fn height(&self) -> u16 {
        (self.lines.len().min(100) as u16).max(1) + 1
    }

    /// Draws the list about the line at hand.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let mut pen = Pen::new(buf, area);
        let rows = usize::from(area.height.saturating_sub(1)).min(self.lines.len());
        let first = (self.at + 1).saturating_sub(rows);
        for (y, (index, (line, found))) in (0..).zip(self.lines.iter().enumerate().skip(first).take(rows)) {
            let here = index == self.at;
            hits.add(pen.spot(0, y, area.width), Target::Row(index));
            pen.put(0, y, if here { "›" } else { " " }, scene.ink(Ink::Boat));
            let ink = if here { Ink::Strong } else { Ink::Text };
            pen.put_within(1, y, ITEM, line.item.words(), scene.ink(ink));
            match (&self.note, here) {
                (Some(note), true) => writing(scene, &mut pen, y, note),
                _ => entered(scene, &mut pen, y, line, found),
            }
        }
        self.whole(scene, &mut pen, rows as u16 + 1);
        if let Some(hint) = self.hint {
            pen.put(1, area.height.saturating_sub(1), hint, scene.ink(Ink::Trouble));
        }
    }
}

/// Columns for what a line shows.
fn shown(pen: &Pen) -> u16 {
    pen.width().saturating_sub(ITEM + FOUND)
}

fn entered(scene: &Scene, pen: &mut Pen, y: u16, line: &RoundLine, found: &Found) {
    let (word, ink) = match found {
        Found::Nothing => ("-", Ink::Dim),
        Found::InOrder => ("in order", Ink::Text),
        Found::Differs(_) => ("differs", Ink::Trouble),
    };
    pen.put(ITEM, y, word, scene.ink(ink));
    let room = shown(pen);
    match found {
        Found::Differs(note) if !note.is_empty() => {
            pen.put(ITEM + FOUND, y, &cut(note, room), scene.ink(Ink::Trouble));
        }
        _ => {
            pen.put(ITEM + FOUND, y, &cut(&line.shows, room), scene.ink(Ink::Dim));
        }
    }
}

fn writing(scene: &Scene, pen: &mut Pen, y: u16, note: &Input) {
    let x = pen.put(ITEM, y, "differs: ", scene.ink(Ink::Trouble));
    let room = usize::from(pen.width().saturating_sub(x + 1));
    let shown: String =
        note.value().chars().skip(note.value().chars().count().saturating_sub(room)).collect();
    let x = pen.put(x, y, &shown, scene.ink(Ink::Strong));
    pen.put(x, y, "▏", scene.ink(Ink::Boat));
}

/// The items of the usual list without anything known of them: where the watch has published no list.
#[must_use]
pub fn usual() -> Vec<RoundLine> {
    RoundItem::USUAL.into_iter().map(|item| RoundLine { item, shows: String::new() }).collect()
}
