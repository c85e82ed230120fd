//! What lies over the view: a form, a question or an explanation. One at a time; it has the keyboard until it goes.

pub mod ahead;
pub mod ask;
pub mod berth;
pub mod checking;
pub mod form;
pub mod forms;
pub mod help;
pub mod looking;
pub mod phone;
pub mod purpose;
pub mod rehearsing;
pub mod round;
pub mod tide;
pub mod typed;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::Event;
use ratatui::layout::Rect;

use super::hits::{Hits, Target};
use super::keys::{self, Act, Hint, Way};
use super::palette::Ink;
use super::request::Request;
use super::scene::Scene;
use super::stands::{Place, View};
use super::text::{Clock, Pen, wrap};
use super::view::ahead as table;
use crate::watch::alert::AlertKind;
use crate::watch::checks::Checks;
use crate::watch::input::Command;
use crate::watch::snapshot::Snapshot;
use ask::{Question, Reply};
use checking::Checking;
use form::{Did, Form};
use forms::Purpose;
use looking::Looking;
use phone::PhoneCode;
use rehearsing::Rehearsal;
use round::RoundForm;

/// Rows of a page in an explanation.
const PAGE_ROWS: u16 = 8;

/// What lies over the view.
#[derive(Clone, Debug)]
pub enum Overlay {
    /// A form.
    Form(Purpose, Form),
    /// A round being logged.
    Round(RoundForm),
    /// A check list being worked.
    Checks(Checking),
    /// The check of the anchor.
    Looking(Looking),
    /// A rehearsal of the alarm.
    Rehearsal(Rehearsal),
    /// The code that opens the page on a phone.
    Phone(PhoneCode),
    /// A question.
    Ask(Question),
    /// An explanation, scrolled down by so many rows.
    Help(Topic, u16),
}

/// What is explained.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Topic {
    /// What stands on the screen, and its keys.
    Place(Place),
    /// A recorded night and its keys, over what stands there.
    Recorded(Place),
    /// An alert.
    Alert(AlertKind),
}

/// What an event did to an overlay.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// It stays.
    Stays,
    /// It stays, and this is wanted.
    Sends(Vec<Request>),
    /// It goes, and this is wanted.
    Goes(Vec<Request>),
    /// Another question comes in its place.
    Asks(Question),
    /// The place is to be named first.
    Names,
}

/// What something is opened over.
#[derive(Clone, Copy, Debug)]
pub struct Opener<'a> {
    /// What stands there.
    pub at: Place,
    /// It is a recorded night.
    pub recorded: bool,
    /// The alert picked in the list.
    pub picked: Option<AlertKind>,
    /// The crew's check lists.
    pub checks: &'a Checks,
    /// Times as the screen shows them.
    pub clock: &'a Clock,
}

impl Opener<'_> {
    /// What there is to explain: the alert picked, else what stands there.
    fn topic(&self) -> Topic {
        match self.picked.filter(|_| self.at == Place::View(View::Alerts)) {
            Some(kind) => Topic::Alert(kind),
            None if self.recorded => Topic::Recorded(self.at),
            None => Topic::Place(self.at),
        }
    }
}

impl Overlay {
    /// What an act opens, if it opens anything.
    #[must_use]
    pub fn opened_by(act: Act, over: &Opener, snap: &Snapshot) -> Option<Self> {
        let form = |(purpose, form)| Some(Self::Form(purpose, form));
        match act {
            Act::LetGo => form(forms::let_go()),
            Act::MoveMark => form(forms::move_drop(snap)),
            Act::VeerOut | Act::HeaveIn => form(forms::veer(snap)),
            Act::Limits => form(forms::limits(snap)),
            Act::Tide => form(forms::tide(snap, over.clock)),
            Act::WindAhead => form(ahead::wind(snap, over.clock)),
            Act::WayOut => form(ahead::way_out(snap)),
            Act::Berth => form(berth::form(snap)),
            Act::Note => form(forms::note()),
            Act::Wake => form(forms::wake(snap, over.clock)),
            Act::BearingMark => form(forms::mark(snap)),
            Act::RemoveMark => forms::mark_away(snap).and_then(form),
            Act::Checks => Some(Self::Checks(Checking::new(over.checks, snap.stage))),
            Act::Bearing => forms::bearing(snap).or_else(|| Some(forms::mark(snap))).and_then(form),
            Act::Round if snap.rounds.lines.is_empty() => Some(Self::Round(RoundForm::new(&round::usual()))),
            Act::Round => Some(Self::Round(RoundForm::new(&snap.rounds.lines))),
            Act::BroughtUp => Some(Self::Ask(Question::BroughtUp)),
            Act::Weigh => Some(Self::Ask(Question::Weigh)),
            Act::AweighOrStay => Some(Self::Ask(Question::AweighOrStay)),
            Act::LiesHere => Some(Self::Ask(Question::LiesHere)),
            Act::CheckAnchor => Some(Self::Looking(Looking::default())),
            Act::Rehearse => Some(Self::Rehearsal(Rehearsal::default())),
            Act::AcknowledgeAll => Some(Self::Ask(Question::AcknowledgeAll)),
            Act::ChangePlaces => Some(Self::Ask(Question::ChangePlaces)),
            Act::Quit => Some(Self::Ask(Question::Quit)),
            Act::Help => Some(Self::Help(over.topic(), 0)),
            Act::Open => over.picked.map(|kind| Self::Help(Topic::Alert(kind), 0)),
            _ => None,
        }
    }

    /// The place that it is for the keys.
    #[must_use]
    pub fn place(&self) -> Place {
        match self {
            Self::Form(..) => Place::Form,
            Self::Round(round) => round.place(),
            Self::Checks(_) => Place::CheckList,
            Self::Looking(_) => Place::AnchorCheck,
            Self::Rehearsal(_) => Place::Rehearsal,
            Self::Phone(_) => Place::Phone,
            Self::Ask(Question::AweighOrStay) => Place::StayQuestion,
            Self::Ask(Question::TakeTransit) => Place::TakeQuestion,
            Self::Ask(Question::TransitStood) => Place::StoodQuestion,
            Self::Ask(_) => Place::Question,
            Self::Help(..) => Place::Help,
        }
    }

    /// Takes a key or a paste.
    pub fn on_event(&mut self, event: &Event, snap: &Snapshot, clock: &Clock) -> Step {
        let act = keys::of(event, self.place());
        if act == Some(Act::Quit) {
            return Step::Asks(Question::Quit);
        }
        match self {
            Self::Form(purpose, form) => match form.on_event(event) {
                Did::Typing => Step::Stays,
                Did::Left => Step::Goes(Vec::new()),
                Did::Sent => match forms::commands(purpose, form, snap, clock) {
                    Ok(commands) => Step::Goes(commands.into_iter().map(Request::Crew).collect()),
                    Err(wrong) => {
                        form.show(wrong);
                        Step::Stays
                    }
                },
            },
            Self::Round(round) => match round.on_event(event) {
                Did::Typing => Step::Stays,
                Did::Left => Step::Goes(Vec::new()),
                Did::Sent => Step::Goes(vec![Request::Crew(Command::Round(round.made()))]),
            },
            Self::Checks(checking) => match checking.on_event(event) {
                Did::Typing => Step::Stays,
                Did::Left => Step::Goes(Vec::new()),
                Did::Sent => {
                    let note = checking.note().map(|text| Request::Crew(Command::Note { text }));
                    Step::Goes(note.into_iter().collect())
                }
            },
            Self::Looking(looking) => looking.on_event(event, snap),
            Self::Rehearsal(rehearsal) => rehearsal.on_event(event, snap),
            Self::Phone(_) if act == Some(Act::Leave) => Step::Goes(Vec::new()),
            Self::Phone(_) => Step::Stays,
            Self::Ask(question) => answer(*question, act, snap),
            Self::Help(_, down) => scroll(down, act),
        }
    }

    /// A click on a row of it.
    pub fn pick(&mut self, row: usize) {
        match self {
            Self::Form(_, form) => form.pick(row),
            Self::Round(round) => round.pick(row),
            Self::Checks(checking) => checking.pick(row),
            Self::Looking(looking) => looking.pick(row),
            Self::Rehearsal(_) | Self::Phone(_) | Self::Ask(_) | Self::Help(..) => {}
        }
    }

    /// Rows that it wants at this width, its title included.
    #[must_use]
    pub fn height(&self, scene: &Scene, columns: u16) -> u16 {
        let inner = columns.saturating_sub(2);
        let body = match self {
            Self::Form(purpose, form) => {
                let promise = forms::promise(purpose, form, scene.snap, scene.clock);
                let curve = match purpose {
                    Purpose::Tide { .. } => tide::ROWS,
                    Purpose::WindAhead => table::ROWS,
                    _ => 0,
                };
                form.height(promise.as_deref(), inner) + curve
            }
            Self::Round(round) => round.height(),
            Self::Checks(checking) => checking.height(inner),
            Self::Looking(looking) => looking.height(scene, inner),
            Self::Rehearsal(rehearsal) => rehearsal.height(scene.snap, inner),
            // Nothing is below it.
            Self::Phone(code) => return code.height(),
            Self::Ask(question) => (wrap(&question.will(scene.snap), inner).len() as u16).saturating_add(1),
            Self::Help(topic, _) => help::lines(*topic, scene.snap, inner).len().min(400) as u16,
        };
        body.saturating_add(2)
    }

    /// Draws it over an area.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let mut pen = Pen::new(buf, area);
        pen.blank(0..area.height, scene.palette.ground());
        let mut pen = match self {
            Self::Phone(code) => Pen::new(buf, code.heading_in(area)),
            _ => pen,
        };
        pen.rule(0, scene.ink(Ink::Faint));
        let title = match self {
            Self::Form(purpose, _) => purpose.title().to_owned(),
            Self::Round(_) => "ROUND".to_owned(),
            Self::Checks(checking) => checking.title().to_owned(),
            Self::Looking(_) => "DOES THE ANCHOR HOLD?".to_owned(),
            Self::Rehearsal(_) => "REHEARSE THE ALARM".to_owned(),
            Self::Phone(_) => "PAGE FOR PHONES".to_owned(),
            Self::Ask(question) => question.title().to_owned(),
            Self::Help(topic, _) => help::title(*topic),
        };
        pen.put(1, 0, &format!(" {title} "), scene.ink(Ink::Strong));
        // Nothing below may be clicked through it.
        hits.add(area, Target::Row(usize::MAX));
        let inner = inside(area);
        match self {
            Self::Form(purpose, form) => {
                let promise = forms::promise(purpose, form, scene.snap, scene.clock);
                let rows = form.height(promise.as_deref(), inner.width).min(inner.height);
                let (above, below) = (
                    Rect { height: rows, ..inner },
                    Rect { y: inner.y + rows, height: inner.height - rows, ..inner },
                );
                let foresight = forms::foresight(purpose, form, scene.snap, scene.clock);
                let night = ahead::night(purpose, form, scene.snap, scene.clock);
                form.render(
                    scene,
                    promise.as_deref(),
                    if foresight.is_some() || night.is_some() { above } else { inner },
                    buf,
                    hits,
                );
                if let Some(foresight) = &foresight {
                    tide::render(scene, foresight, below, buf);
                }
                if let Some(night) = &night {
                    table::table(scene, night, below, buf);
                }
            }
            Self::Round(round) => round.render(scene, inner, buf, hits),
            Self::Checks(checking) => checking.render(scene, inner, buf, hits),
            Self::Looking(looking) => looking.render(scene, inner, buf, hits),
            Self::Rehearsal(rehearsal) => rehearsal.render(scene, inner, buf),
            Self::Phone(code) => code.render(scene, area, buf),
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

    /// Its keys, the most useful first; those that answer an alert too while one waits.
    #[must_use]
    pub fn hints(&self, snap: &Snapshot, alert_waits: bool) -> Vec<Hint> {
        let place = self.place();
        let all = keys::hints(place, snap.stage, alert_waits);
        match self {
            Self::Form(purpose, form) => form.hints(place, purpose.deed()),
            Self::Ask(question) => {
                let answers = question.answers(snap);
                let word = |hint: Hint| {
                    let answer = answers.iter().find(|answer| keys::hint(answer.act, place) == hint);
                    answer.map_or(hint, |answer| hint.saying(answer.word))
                };
                all.into_iter().map(word).collect()
            }
            Self::Rehearsal(rehearsal) => rehearsal.hints(snap, all),
            Self::Round(_) | Self::Checks(_) | Self::Looking(_) | Self::Phone(_) | Self::Help(..) => all,
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

fn answer(question: Question, act: Option<Act>, snap: &Snapshot) -> Step {
    let chosen = question.answers(snap).into_iter().find(|answer| Some(answer.act) == act);
    match (chosen, act) {
        (Some(answer), _) => match answer.reply {
            Reply::Asks(request) => Step::Goes(vec![request]),
            Reply::NamesPlace => Step::Names,
        },
        (None, Some(Act::Leave)) => Step::Goes(Vec::new()),
        _ => Step::Stays,
    }
}

fn scroll(down: &mut u16, act: Option<Act>) -> Step {
    match act {
        Some(Act::Move(Way::Down)) => *down = down.saturating_add(1),
        Some(Act::Move(Way::Up)) => *down = down.saturating_sub(1),
        Some(Act::Page(Way::Down)) => *down = down.saturating_add(PAGE_ROWS),
        Some(Act::Page(Way::Up)) => *down = down.saturating_sub(PAGE_ROWS),
        Some(Act::Leave) => return Step::Goes(Vec::new()),
        _ => {}
    }
    Step::Stays
}
