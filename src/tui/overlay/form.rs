//! A form: fields one below the other, one of them at hand. Typing changes it; what stood there before is replaced.

use std::borrow::Cow;
use std::fmt::Display;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Rect;
use tui_input::backend::crossterm::EventHandler;
use tui_input::{Input, InputRequest};

use super::typed::plain;
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act, Hint};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stands::Place;
use crate::tui::text::{Pen, width, wrap};
use crate::watch::snapshot::Stage;
use crate::watch::units::Metres;

/// Longest text that a field takes, in bytes: a month of tides goes in.
const TEXT_MAX: usize = 4000;
/// Columns for the label.
const LABEL: u16 = 22;
/// Columns for a short value.
const VALUE: u16 = 14;

/// How a field is filled in.
#[derive(Clone, Debug)]
pub enum Entry {
    /// A number or a short word; `step` is what its keys change it by, if they do.
    Short {
        /// What stands there.
        input: Input,
        /// Its unit.
        unit: &'static str,
        /// What `+` and `-` add.
        step: Option<f64>,
    },
    /// Words, as long as the line.
    Long(Input),
    /// One of several, by ← and →: word and explanation of each.
    Choice {
        /// What can be chosen; never empty.
        of: Vec<(String, String)>,
        /// Which is.
        at: usize,
    },
}

/// One field.
#[derive(Clone, Debug)]
pub struct Field {
    label: &'static str,
    about: Cow<'static, str>,
    entry: Entry,
    /// Shown only while that field has that choice.
    only: Option<(usize, usize)>,
    /// It holds what it was given: the first letter typed takes its place.
    fresh: bool,
}

impl Field {
    /// A number with its unit.
    #[must_use]
    pub fn number(
        label: &'static str,
        unit: &'static str,
        value: Option<f64>,
        about: impl Into<Cow<'static, str>>,
    ) -> Self {
        let about = about.into();
        let input = Input::new(value.map(plain).unwrap_or_default());
        Self { label, about, entry: Entry::Short { input, unit, step: None }, only: None, fresh: true }
    }

    /// Words.
    #[must_use]
    pub fn words(label: &'static str, value: &str, about: impl Into<Cow<'static, str>>) -> Self {
        Self {
            label,
            about: about.into(),
            entry: Entry::Long(Input::new(value.to_owned())),
            only: None,
            fresh: true,
        }
    }

    /// One of several.
    #[must_use]
    pub fn choice(label: &'static str, of: Vec<(String, String)>) -> Self {
        Self { label, about: "".into(), entry: Entry::Choice { of, at: 0 }, only: None, fresh: false }
    }

    /// The place that the field is for the keys, if it has keys of its own.
    fn place(&self) -> Option<Place> {
        match self.entry {
            Entry::Choice { .. } => Some(Place::Choice),
            Entry::Short { step: Some(_), .. } => Some(Place::Stepped),
            Entry::Short { .. } | Entry::Long(_) => None,
        }
    }

    fn edit(&mut self, act: Option<Act>, event: &Event) {
        let was_fresh = std::mem::take(&mut self.fresh);
        match (&mut self.entry, act) {
            (Entry::Choice { of, at }, Some(Act::NextChoice)) => *at = (*at + 1) % of.len().max(1),
            (Entry::Choice { of, at }, Some(Act::PreviousChoice)) => {
                *at = (*at + of.len().max(1) - 1) % of.len().max(1);
            }
            (Entry::Choice { .. }, _) => {}
            (Entry::Short { input, step: Some(step), .. }, Some(Act::StepBy(steps))) => {
                stepped(input, *step * f64::from(steps));
            }
            (Entry::Short { input, .. } | Entry::Long(input), _) => write(input, event, was_fresh),
        }
    }

    fn paste(&mut self, text: &str) {
        let (Entry::Short { input, .. } | Entry::Long(input)) = &mut self.entry else { return };
        if std::mem::take(&mut self.fresh) {
            input.reset();
        }
        for c in text.chars() {
            if input.value().len() >= TEXT_MAX {
                break;
            }
            // A line end parts words here; a control character is nothing that anybody means.
            let c = if c.is_whitespace() { ' ' } else { c };
            if !c.is_control() {
                input.handle(InputRequest::InsertChar(c));
            }
        }
    }

    /// The same, beginning with another choice than the first.
    #[must_use]
    pub fn choosing(mut self, choice: usize) -> Self {
        if let Entry::Choice { of, at } = &mut self.entry {
            *at = choice.min(of.len().saturating_sub(1));
        }
        self
    }

    /// The same, with `+` and `-` changing it by `step`.
    #[must_use]
    pub fn stepped(mut self, by: f64) -> Self {
        if let Entry::Short { step, .. } = &mut self.entry {
            *step = Some(by);
        }
        self
    }

    /// The same, shown only while field `field` has choice `choice`.
    #[must_use]
    pub fn only(mut self, field: usize, choice: usize) -> Self {
        self.only = Some((field, choice));
        self
    }
}

/// What is wrong with what was typed, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// Which field.
    pub field: usize,
    /// What is wrong and what to do, in words.
    pub what: String,
}

/// What an event did to a form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Did {
    /// It is still being filled in.
    Typing,
    /// Send it.
    Sent,
    /// Forget it.
    Left,
}

/// A form.
#[derive(Clone, Debug)]
pub struct Form {
    fields: Vec<Field>,
    at: usize,
    wrong: Option<Wrong>,
}

impl Form {
    /// A form at its first field. `fields` is never empty.
    #[must_use]
    pub fn new(fields: Vec<Field>) -> Self {
        Self { fields, at: 0, wrong: None }
    }

    /// The text of a field; empty for a choice.
    #[must_use]
    pub fn text(&self, field: usize) -> &str {
        match self.fields.get(field).map(|f| &f.entry) {
            Some(Entry::Short { input, .. } | Entry::Long(input)) => input.value(),
            _ => "",
        }
    }

    /// Which is chosen in a field.
    #[must_use]
    pub fn chosen(&self, field: usize) -> usize {
        match self.fields.get(field).map(|f| &f.entry) {
            Some(Entry::Choice { at, .. }) => *at,
            _ => 0,
        }
    }

    /// Reads a field, naming it if it is wrong.
    ///
    /// # Errors
    /// `Wrong` at that field.
    pub fn read<T, E: Display>(
        &self,
        field: usize,
        how: impl FnOnce(&str) -> Result<T, E>,
    ) -> Result<T, Wrong> {
        how(self.text(field)).map_err(|what| Wrong { field, what: what.to_string() })
    }

    /// Shows what is wrong and goes there.
    pub fn show(&mut self, wrong: Wrong) {
        if self.is_shown(wrong.field) {
            self.at = wrong.field;
        }
        self.wrong = Some(wrong);
    }

    /// Takes an event.
    pub fn on_event(&mut self, event: &Event) -> Did {
        match event {
            Event::Key(key) => self.key(*key, event),
            Event::Paste(text) => {
                self.paste(text);
                Did::Typing
            }
            _ => Did::Typing,
        }
    }

    /// Goes to a field, by a click.
    pub fn pick(&mut self, field: usize) {
        if self.is_shown(field) {
            self.at = field;
        }
    }

    fn key(&mut self, key: KeyEvent, event: &Event) -> Did {
        match self.act(key) {
            Some(Act::Leave) => return Did::Left,
            Some(Act::Send) => return Did::Sent,
            Some(Act::NextField) => self.go(1),
            Some(Act::PreviousField) => self.go(self.fields.len() - 1),
            act => {
                self.wrong = None;
                if let Some(field) = self.fields.get_mut(self.at) {
                    field.edit(act, event);
                }
            }
        }
        Did::Typing
    }

    /// What a key asks for: of the field at hand first, then of every form.
    fn act(&self, key: KeyEvent) -> Option<Act> {
        let at_hand = self.fields.get(self.at).and_then(Field::place);
        at_hand.and_then(|place| keys::act(key, place)).or_else(|| keys::act(key, Place::Form))
    }

    /// The keys of the form and of the field at hand, `Enter` by what it does.
    #[must_use]
    pub fn hints(&self, place: Place, deed: &'static str) -> Vec<Hint> {
        // Stages do not matter to a form.
        let of = |place| keys::hints(place, Stage::NotSet, false);
        let mut hints = of(place);
        if let Some(enter) = hints.first_mut() {
            *enter = enter.saying(deed);
        }
        let at_hand = self.fields.get(self.at).and_then(Field::place).map(of).unwrap_or_default();
        hints.splice(1..1, at_hand);
        let next = keys::hint(Act::NextField, place);
        hints.retain(|hint| *hint != next || self.shown().len() > 1);
        hints
    }

    fn paste(&mut self, text: &str) {
        self.wrong = None;
        if let Some(field) = self.fields.get_mut(self.at) {
            field.paste(text);
        }
    }

    fn go(&mut self, by: usize) {
        let count = self.fields.len();
        for _ in 0..count {
            self.at = (self.at + by) % count;
            if self.is_shown(self.at) {
                return;
            }
        }
    }

    fn is_shown(&self, field: usize) -> bool {
        self.fields.get(field).is_some_and(|f| f.only.is_none_or(|(of, choice)| self.chosen(of) == choice))
    }

    fn shown(&self) -> Vec<usize> {
        (0..self.fields.len()).filter(|field| self.is_shown(*field)).collect()
    }

    /// What is said below the fields: what is wrong, else what the field at hand means and what `Enter` will do.
    fn words(&self, promise: Option<&str>, columns: u16) -> Vec<(String, Ink)> {
        let room = columns.saturating_sub(1);
        let lines =
            |text: &str, ink| wrap(text, room).into_iter().map(move |line| (line, ink)).collect::<Vec<_>>();
        if let Some(wrong) = &self.wrong {
            return lines(&wrong.what, Ink::Trouble);
        }
        let about = match self.fields.get(self.at) {
            Some(Field { entry: Entry::Choice { of, at }, .. }) => of.get(*at).map_or("", |(_, about)| about),
            Some(field) => &*field.about,
            None => "",
        };
        let mut words = lines(about, Ink::Dim);
        words.extend(promise.map(|promise| lines(promise, Ink::Text)).unwrap_or_default());
        words
    }

    /// Rows that the form wants.
    #[must_use]
    pub fn height(&self, promise: Option<&str>, columns: u16) -> u16 {
        (self.shown().len() + 1 + self.words(promise, columns).len()).min(usize::from(u16::MAX)) as u16
    }

    /// Draws the form: the fields about the one at hand as far as rows go, then the words.
    pub fn render(
        &self,
        scene: &Scene,
        promise: Option<&str>,
        area: Rect,
        buf: &mut Buffer,
        hits: &mut Hits,
    ) {
        let words = self.words(promise, area.width);
        let shown = self.shown();
        let for_words = (words.len() as u16).min(area.height.saturating_sub(2));
        let gap = u16::from(usize::from(area.height) > shown.len() + usize::from(for_words));
        let rows = usize::from(area.height.saturating_sub(for_words + gap)).min(shown.len());
        let here = shown.iter().position(|field| *field == self.at).unwrap_or(0);
        let first =
            (here + 1).saturating_sub(rows).max(here.saturating_sub(rows / 2)).min(shown.len() - rows);
        let mut pen = Pen::new(buf, area);
        for (y, index) in (0..).zip(shown.iter().skip(first).take(rows)) {
            hits.add(pen.spot(0, y, area.width), Target::Row(*index));
            self.field(scene, &mut pen, y, *index);
        }
        if first > 0 {
            pen.put_right(area.width, 0, "↑ more", scene.ink(Ink::Dim));
        }
        if first + rows < shown.len() && rows > 0 {
            pen.put_right(area.width, rows as u16 - 1, "↓ more", scene.ink(Ink::Dim));
        }
        let top = rows as u16 + gap;
        for (y, (line, ink)) in (top..area.height).zip(&words) {
            pen.put(1, y, line, scene.ink(*ink));
        }
    }

    fn field(&self, scene: &Scene, pen: &mut Pen, y: u16, index: usize) {
        let field = &self.fields[index];
        let here = index == self.at;
        let wrong = self.wrong.as_ref().is_some_and(|wrong| wrong.field == index);
        let ink = match (wrong, here) {
            (true, _) => Ink::Trouble,
            (false, true) => Ink::Strong,
            (false, false) => Ink::Text,
        };
        let look = Look { ink, here, fresh: field.fresh };
        pen.put(0, y, if here { "›" } else { " " }, scene.ink(Ink::Boat));
        pen.put(1, y, field.label, scene.ink(if here { Ink::Text } else { Ink::Dim }));
        match &field.entry {
            Entry::Short { input, unit, .. } => {
                put_input(scene, pen, (LABEL, y), VALUE, input, look);
                pen.put(LABEL + VALUE + 1, y, unit, scene.ink(Ink::Dim));
            }
            Entry::Long(input) => {
                let room = pen.width().saturating_sub(LABEL + 1);
                put_input(scene, pen, (LABEL, y), room, input, look);
            }
            Entry::Choice { of, at } => {
                let word = of.get(*at).map_or("", |(word, _)| word);
                let (left, right) = if here && of.len() > 1 { ("‹ ", " ›") } else { ("  ", "") };
                let x = pen.put(LABEL - 2, y, left, scene.ink(Ink::Boat));
                let end = pen.width().saturating_sub(2);
                let x = pen.put_within(x, y, end, word, scene.ink(ink));
                pen.put(x, y, right, scene.ink(Ink::Boat));
            }
        }
    }
}

/// How a field's text is drawn.
#[derive(Clone, Copy)]
struct Look {
    ink: Ink,
    /// It is the field at hand.
    here: bool,
    /// The first letter typed takes the place of all of it.
    fresh: bool,
}

fn put_input(scene: &Scene, pen: &mut Pen, (x, y): (u16, u16), room: u16, input: &Input, look: Look) {
    let line = "_".repeat(usize::from(room));
    pen.put(x, y, &line, scene.ink(Ink::Faint));
    let scroll = if look.here { input.visual_scroll(usize::from(room.saturating_sub(1))) } else { 0 };
    let mut column = 0;
    let mut shown = String::new();
    for c in input.value().chars() {
        if column >= scroll {
            shown.push(c);
        }
        column += usize::from(width(c.encode_utf8(&mut [0; 4])));
    }
    let replaced = look.here && look.fresh && !shown.is_empty();
    let ink = if replaced { Ink::Picked } else { look.ink };
    pen.put_within(x, y, x + room, &shown, scene.ink(ink));
    if look.here && !replaced {
        let cursor = input.visual_cursor().max(scroll) - scroll;
        let at = x.saturating_add(u16::try_from(cursor).unwrap_or(u16::MAX));
        let under = input.value().chars().nth(input.cursor()).unwrap_or(' ');
        pen.put_within(at, y, x + room, &under.to_string(), scene.ink(Ink::Picked));
    }
}

/// A key in a text; a letter takes the place of what the field was given.
fn write(input: &mut Input, event: &Event, fresh: bool) {
    let Event::Key(key) = event else { return };
    let is_letter = matches!(key.code, KeyCode::Char(_)) && !key.modifiers.contains(KeyModifiers::CONTROL);
    if is_letter && fresh {
        input.reset();
    }
    if !is_letter || input.value().len() < TEXT_MAX {
        input.handle_event(event);
    }
}

fn stepped(input: &mut Input, by: f64) {
    let now = Metres::read(input.value()).unwrap_or_default().0;
    *input = Input::new(plain((now + by).clamp(0.0, 9999.0)));
}
