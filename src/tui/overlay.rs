//! What lies over the view: a form, a question or an explanation. One at a time; it has the keyboard until it goes.

pub mod ask;
pub mod checking;
pub mod form;
pub mod forms;
pub mod help;
pub mod round;
pub mod typed;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyModifiers};
use ratatui::layout::Rect;

use super::hits::{Hits, Target};
use super::keys::Act;
use super::palette::Ink;
use super::request::Request;
use super::scene::{Scene, waits};
use super::stands::View;
use super::text::{Clock, Pen, width, wrap};
use crate::watch::alert::AlertKind;
use crate::watch::checks::Checks;
use crate::watch::input::Command;
use crate::watch::snapshot::{Snapshot, Stage};
use ask::Question;
use checking::Checking;
use form::{Did, Form};
use forms::Purpose;
use round::Telling;

/// What lies over the view.
#[derive(Clone, Debug)]
pub enum Overlay {
    /// A form.
    Form(Purpose, Form),
    /// A round being told.
    Round(Telling),
    /// A check list being worked.
    Checks(Checking),
    /// A question.
    Ask(Question),
    /// An explanation, scrolled down by so many rows.
    Help(Topic, u16),
}

/// What is explained.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Topic {
    /// A view and its keys.
    View(View),
    /// A recorded night and its keys, over a view.
    Replay(View),
    /// An alert.
    Alert(AlertKind),
}

/// What an event did to an overlay.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// It stays.
    Stays,
    /// It goes, and this is wanted.
    Goes(Option<Request>),
    /// Another question comes in its place.
    Asks(Question),
}

impl Overlay {
    /// What an act opens over a view, if it opens anything.
    #[must_use]
    pub fn opened_by(
        act: Act,
        view: View,
        picked: Option<AlertKind>,
        snap: &Snapshot,
        checks: &Checks,
    ) -> Option<Self> {
        let form = |(purpose, form)| Some(Self::Form(purpose, form));
        let picked = picked.filter(|_| view == View::Alerts);
        match act {
            Act::Drop if snap.stage == Stage::NotSet => form(forms::let_go(snap)),
            Act::Drop => form(forms::move_drop(snap)),
            Act::VeerOut | Act::HeaveIn => form(forms::veer(snap)),
            Act::Limits => form(forms::limits(snap)),
            Act::Tide => form(forms::tide(snap)),
            Act::Note => form(forms::note()),
            Act::Mark => form(forms::mark(snap)),
            Act::MarkAway => forms::mark_away(snap).and_then(form),
            Act::Checks => Some(Self::Checks(Checking::new(checks, snap.stage))),
            Act::Bearing => forms::bearing(snap).or_else(|| Some(forms::mark(snap))).and_then(form),
            Act::Round if snap.rounds.lines.is_empty() => Some(Self::Round(Telling::new(&round::usual()))),
            Act::Round => Some(Self::Round(Telling::new(&snap.rounds.lines))),
            Act::BroughtUp => Some(Self::Ask(Question::BroughtUp)),
            Act::Weigh if snap.stage == Stage::Weighing => Some(Self::Ask(Question::AweighOrStay)),
            Act::Weigh => Some(Self::Ask(Question::Weigh)),
            Act::AcknowledgeAll => Some(Self::Ask(Question::AcknowledgeAll)),
            Act::Quit => Some(Self::Ask(Question::Quit)),
            Act::Help => Some(Self::Help(picked.map_or(Topic::View(view), Topic::Alert), 0)),
            Act::Open => picked.map(|kind| Self::Help(Topic::Alert(kind), 0)),
            _ => None,
        }
    }

    /// True while letters are text.
    #[must_use]
    pub fn is_typed_into(&self) -> bool {
        match self {
            Self::Form(..) => true,
            Self::Round(telling) => telling.is_typed_into(),
            Self::Checks(_) | Self::Ask(_) | Self::Help(..) => false,
        }
    }

    /// Takes a key or a paste.
    pub fn on_event(&mut self, event: &Event, snap: &Snapshot, clock: &Clock) -> Step {
        if let Event::Key(key) = event
            && key.modifiers.contains(KeyModifiers::CONTROL)
            && key.code == KeyCode::Char('c')
        {
            return Step::Asks(Question::Quit);
        }
        match self {
            Self::Form(purpose, form) => match form.on_event(event) {
                Did::Typing => Step::Stays,
                Did::Left => Step::Goes(None),
                Did::Sent => match forms::command(purpose, form, snap, clock) {
                    Ok(command) => Step::Goes(Some(Request::Crew(command))),
                    Err(wrong) => {
                        form.tell(wrong);
                        Step::Stays
                    }
                },
            },
            Self::Round(telling) => match telling.on_event(event) {
                Did::Typing => Step::Stays,
                Did::Left => Step::Goes(None),
                Did::Sent => Step::Goes(Some(Request::Crew(Command::Round(telling.made())))),
            },
            Self::Checks(checking) => match checking.on_event(event) {
                Did::Typing => Step::Stays,
                Did::Left => Step::Goes(None),
                Did::Sent => Step::Goes(checking.note().map(|text| Request::Crew(Command::Note { text }))),
            },
            Self::Ask(question) => answer(*question, event, snap),
            Self::Help(_, down) => scroll(down, event),
        }
    }

    /// A click on a row of it.
    pub fn pick(&mut self, row: usize) {
        match self {
            Self::Form(_, form) => form.pick(row),
            Self::Round(telling) => telling.pick(row),
            Self::Checks(checking) => checking.pick(row),
            Self::Ask(_) | Self::Help(..) => {}
        }
    }

    /// Rows that it wants at this width, its title included.
    #[must_use]
    pub fn height(&self, scene: &Scene, columns: u16) -> u16 {
        let inner = columns.saturating_sub(2);
        let body = match self {
            Self::Form(purpose, form) => {
                let promise = forms::promise(purpose, form, scene.snap, scene.clock);
                form.height(promise.as_deref(), inner)
            }
            Self::Round(telling) => telling.height(),
            Self::Checks(checking) => checking.height(inner),
            Self::Ask(question) => (wrap(&question.will(scene.snap), inner).len() as u16).saturating_add(1),
            Self::Help(topic, _) => help::lines(*topic, scene.snap, inner).len().min(400) as u16,
        };
        body.saturating_add(2)
    }

    /// Draws it over an area.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let mut pen = Pen::new(buf, area);
        pen.blank(0..area.height, scene.palette.ground());
        pen.rule(0, scene.ink(Ink::Faint));
        let title = match self {
            Self::Form(purpose, _) => purpose.title(),
            Self::Round(_) => "ROUND",
            Self::Checks(checking) => checking.title(),
            Self::Ask(question) => question.title(),
            Self::Help(topic, _) => help::title(*topic),
        };
        pen.put(1, 0, &format!(" {title} "), scene.ink(Ink::Strong));
        // Nothing below may be clicked through it.
        hits.add(area, Target::Row(usize::MAX));
        let inner = inside(area);
        match self {
            Self::Form(purpose, form) => {
                let promise = forms::promise(purpose, form, scene.snap, scene.clock);
                form.render(scene, promise.as_deref(), inner, buf, hits);
            }
            Self::Round(telling) => telling.render(scene, inner, buf, hits),
            Self::Checks(checking) => checking.render(scene, inner, buf, hits),
            Self::Ask(question) => {
                let mut pen = Pen::new(buf, inner);
                for (y, line) in (0..inner.height).zip(wrap(&question.will(scene.snap), inner.width)) {
                    pen.put(0, y, &line, scene.ink(Ink::Text));
                }
            }
            Self::Help(topic, down) => help::render(scene, *topic, *down, inner, buf),
        }
    }

    /// Scrolls back what was scrolled farther than there is to read in this area.
    pub fn settle(&mut self, snap: &Snapshot, area: Rect) {
        if let Self::Help(topic, down) = self {
            let inner = inside(area);
            *down = (*down).min(help::down_max(*topic, snap, inner.width, inner.height));
        }
    }

    /// Draws its keys in the bottom row.
    pub fn render_keys(&self, scene: &Scene, area: Rect, buf: &mut Buffer) {
        let mut keys: Vec<(String, &str)> = Vec::new();
        match self {
            Self::Form(purpose, _) => {
                keys.extend([
                    ("Enter".into(), purpose.deed()),
                    ("Tab".into(), "next"),
                    ("Esc".into(), "leave it"),
                ]);
            }
            Self::Round(telling) => keys.extend(telling.keys()),
            Self::Checks(checking) => keys.extend(checking.keys()),
            Self::Ask(question) => {
                for (i, answer) in question.answers(scene.snap).iter().enumerate() {
                    let key = if i == 0 { "Enter".to_owned() } else { answer.key.to_string() };
                    keys.push((key, answer.word));
                }
                keys.push(("Esc".into(), "no"));
            }
            Self::Help(..) => keys.extend([("↑↓".into(), "read on"), ("Esc".into(), "back")]),
        }
        let is_recorded = matches!(self, Self::Help(Topic::Replay(_), _));
        if !is_recorded && !self.is_typed_into() && scene.snap.alerts.iter().any(waits) {
            keys.extend([("a".into(), "acknowledge"), ("s".into(), "silence")]);
        }
        let mut pen = Pen::new(buf, area);
        let mut x = 1;
        for (key, word) in keys {
            if x + width(&key) + 1 + width(word) > pen.width() {
                return;
            }
            x = pen.put(x, 0, &key, scene.ink(Ink::Boat));
            x = pen.put(x + 1, 0, word, scene.ink(Ink::Dim)) + 3;
        }
    }
}

/// What lies below the title and between the margins.
fn inside(area: Rect) -> Rect {
    Rect {
        x: area.x + 1.min(area.width),
        y: area.y + 1.min(area.height),
        width: area.width.saturating_sub(2),
        height: area.height.saturating_sub(1),
    }
}

fn answer(question: Question, event: &Event, snap: &Snapshot) -> Step {
    let Event::Key(key) = event else { return Step::Stays };
    let answers = question.answers(snap);
    let chosen = match key.code {
        KeyCode::Enter => answers.into_iter().next(),
        KeyCode::Char(c) => answers.into_iter().find(|answer| answer.key == c),
        _ => None,
    };
    match (chosen, key.code) {
        (Some(answer), _) => Step::Goes(Some(answer.request)),
        (None, KeyCode::Esc | KeyCode::Char('n' | 'q')) => Step::Goes(None),
        _ => Step::Stays,
    }
}

fn scroll(down: &mut u16, event: &Event) -> Step {
    let Event::Key(key) = event else { return Step::Stays };
    match key.code {
        KeyCode::Down | KeyCode::Char(' ') => *down = down.saturating_add(1),
        KeyCode::Up => *down = down.saturating_sub(1),
        KeyCode::PageDown => *down = down.saturating_add(8),
        KeyCode::PageUp => *down = down.saturating_sub(8),
        KeyCode::Esc | KeyCode::Enter | KeyCode::Char('?' | 'q') | KeyCode::F(1) => return Step::Goes(None),
        _ => {}
    }
    Step::Stays
}
