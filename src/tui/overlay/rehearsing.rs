//! A rehearsal of the alarm: asked once, then it sounds, and whether it was heard is asked.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::Event;
use ratatui::layout::Rect;

use super::Step;
use crate::tui::keys::{self, Act, Hint};
use crate::tui::palette::Ink;
use crate::tui::request::Request;
use crate::tui::scene::Scene;
use crate::tui::stands::Place;
use crate::tui::text::{Pen, wrap};
use crate::watch::input::Command;
use crate::watch::rehearsal::{RehearsalView, Rehearsing};
use crate::watch::snapshot::Snapshot;
use crate::watch::units::WatchTime;

/// What will happen.
const WILL: &str = "Enter sounds the alarm for half a minute as it would sound at night: this computer, its output, its \
                    volume. Send somebody to the bunk and shut the doors first. No alert is raised; the hook is told \
                    that it is a rehearsal. A real alert takes over at once.";

/// The rehearsal on the screen.
#[derive(Clone, Debug, Default)]
pub struct Rehearsal {
    /// When it was asked for; one of before is no news.
    asked: Option<WatchTime>,
}

impl Rehearsal {
    /// Takes a key.
    pub fn on_event(&mut self, event: &Event, snap: &Snapshot) -> Step {
        let rehearsal = self.of(snap);
        let is_asked = rehearsal.is_some_and(|one| one.heard.is_none() && sounded(one));
        match keys::of(event, Place::Rehearsal) {
            Some(Act::Send) if rehearsal.is_none_or(|one| one.state != Rehearsing::Sounds) => {
                self.asked = Some(snap.at);
                Step::Sends(vec![Request::Crew(Command::Rehearse)])
            }
            Some(Act::InOrder) if is_asked => Step::Sends(vec![answer(Some(true))]),
            Some(Act::Differs) if is_asked => Step::Sends(vec![answer(Some(false))]),
            Some(Act::Leave) if is_asked => Step::Goes(vec![answer(None)]),
            Some(Act::Leave) => Step::Goes(Vec::new()),
            _ => Step::Stays,
        }
    }

    /// The one that was asked for here.
    fn of<'a>(&self, snap: &'a Snapshot) -> Option<&'a RehearsalView> {
        let asked = self.asked?;
        snap.rehearsal.as_ref().filter(|one| one.at >= asked)
    }

    fn words(&self, snap: &Snapshot) -> String {
        match (self.of(snap), self.asked) {
            (Some(rehearsal), _) => rehearsal.words(),
            (None, Some(_)) => "It begins.".to_owned(),
            (None, None) => WILL.to_owned(),
        }
    }

    /// Rows that it wants at this width.
    #[must_use]
    pub fn height(&self, snap: &Snapshot, columns: u16) -> u16 {
        (wrap(&self.words(snap), columns).len() as u16).saturating_add(1)
    }

    /// Draws what will happen, what happens, or what it showed.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer) {
        let wrong = self.of(scene.snap).is_some_and(|one| !sounded(one) || one.heard == Some(false));
        let ink = if wrong { Ink::Trouble } else { Ink::Text };
        let mut pen = Pen::new(buf, area);
        for (y, line) in (0..area.height).zip(wrap(&self.words(scene.snap), area.width)) {
            pen.put(0, y, &line, scene.ink(ink));
        }
    }

    /// Its keys as they act now.
    #[must_use]
    pub fn hints(&self, snap: &Snapshot, all: Vec<Hint>) -> Vec<Hint> {
        let is_asked = self.of(snap).is_some_and(|one| one.heard.is_none() && sounded(one));
        let sounds = self.of(snap).is_some_and(|one| one.state == Rehearsing::Sounds);
        let is = |hint: &Hint, act| *hint == keys::hint(act, Place::Rehearsal);
        let acts = |hint: &Hint| match () {
            () if is(hint, Act::InOrder) || is(hint, Act::Differs) => is_asked,
            () if is(hint, Act::Send) => !sounds,
            () => true,
        };
        all.into_iter().filter(acts).collect()
    }
}

fn sounded(rehearsal: &RehearsalView) -> bool {
    matches!(rehearsal.state, Rehearsing::Sounds | Rehearsing::Sounded)
}

fn answer(heard: Option<bool>) -> Request {
    Request::Crew(Command::Rehearsed { heard })
}
