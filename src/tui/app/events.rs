//! What comes in: keys, clicks and pastes, each to the thing on the screen that it is meant for.

use ratatui::crossterm::event::{
    Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, MouseButton, MouseEvent, MouseEventKind,
};

use super::App;
use crate::tui::hits::{self, Target};
use crate::tui::keys::{self, Act, Does, Way};
use crate::tui::overlay::ask::Question;
use crate::tui::overlay::{Overlay, Step, forms};
use crate::tui::replay;
use crate::tui::request::Request;
use crate::tui::stands::{Place, Shown, View};
use crate::tui::view::rode::suppose::Supposed;
use crate::watch::snapshot::Snapshot;

/// Said when a recorded night would be changed.
const REPLAYED: &str = "This is a recorded night: it can be looked at from every moment, and nothing in it changes. \
                        nightrode review --what-if judges it again with other settings.";

impl App {
    /// Takes a key, a click or a paste.
    pub fn on_event(&mut self, event: &Event, snap: &Snapshot) -> Vec<Request> {
        match event {
            Event::Key(key) if key.kind == KeyEventKind::Release => Vec::new(),
            Event::Key(key) if self.playing.is_some() => self.key_in_recorded(*key, snap),
            Event::Key(key) => self.key(*key, snap),
            Event::Paste(_) => self.pass_to_overlay(event, snap),
            Event::Mouse(mouse) => self.mouse(*mouse, snap),
            _ => Vec::new(),
        }
    }

    /// A key of a watch that is kept.
    fn key(&mut self, key: KeyEvent, snap: &Snapshot) -> Vec<Request> {
        match (&self.over, keys::does(key, self.place(snap), snap.stage)) {
            // An alarm is answered whatever lies over the view, as long as letters are not text there.
            (_, Some(Does::Act(act @ (Act::Acknowledge | Act::Silence)))) => self.act(act, snap),
            (Some(_), _) => self.pass_to_overlay(&Event::Key(key), snap),
            (None, Some(Does::Act(act))) => self.act(act, snap),
            (None, Some(Does::NotNow(label, word, when))) => {
                self.notice(format!("{label} ({word}) acts {}.", when.words()), snap.at);
                Vec::new()
            }
            (None, None) => Vec::new(),
        }
    }

    /// A key of a recorded night: its own first, then those of a watch that change nothing.
    fn key_in_recorded(&mut self, key: KeyEvent, snap: &Snapshot) -> Vec<Request> {
        if self.over.is_some() {
            // There is nothing to lose, so Ctrl-C is not asked about.
            return match keys::act(key, self.place(snap)) {
                Some(Act::Quit) => vec![Request::Quit],
                _ => self.pass_to_overlay(&Event::Key(key), snap),
            };
        }
        self.notice = None;
        let its_own = keys::act(key, Place::Recorded);
        match its_own.or_else(|| keys::act(key, self.ground(snap))) {
            Some(Act::Replay(act)) => vec![Request::Replay(act)],
            Some(Act::Quit) => vec![Request::Quit],
            Some(act) if act.changes_the_watch() => {
                self.notice(REPLAYED.to_owned(), snap.at);
                Vec::new()
            }
            Some(act) => self.act(act, snap),
            None => Vec::new(),
        }
    }

    /// Hands an event to what lies over the view.
    fn pass_to_overlay(&mut self, event: &Event, snap: &Snapshot) -> Vec<Request> {
        let Some(overlay) = &mut self.over else { return Vec::new() };
        match overlay.on_event(event, snap, &self.clock) {
            Step::Stays => Vec::new(),
            Step::Sends(request) => request,
            Step::Goes(request) => {
                self.over = None;
                request
            }
            Step::Names => {
                let (purpose, form) = forms::name_place(snap);
                self.over = Some(Overlay::Form(purpose, form));
                Vec::new()
            }
            Step::Asks(Question::Quit) if self.joined => vec![Request::Quit],
            Step::Asks(question) => {
                self.over = Some(Overlay::Ask(question));
                Vec::new()
            }
        }
    }

    fn mouse(&mut self, mouse: MouseEvent, snap: &Snapshot) -> Vec<Request> {
        let hit = self.hits.at(mouse.column, mouse.row);
        match (mouse.kind, hit) {
            (MouseEventKind::ScrollUp, _) => self.wheel(Way::Up, snap),
            (MouseEventKind::ScrollDown, _) => self.wheel(Way::Down, snap),
            (MouseEventKind::Down(MouseButton::Left), Some((target, across))) => {
                self.click(target, across, snap)
            }
            // Along the bar the night is drawn back and forth.
            (MouseEventKind::Drag(MouseButton::Left), Some((target @ Target::Moment { .. }, across))) => {
                self.click(target, across, snap)
            }
            _ => Vec::new(),
        }
    }

    /// The wheel scrolls what is read and zooms what is looked at.
    fn wheel(&mut self, way: Way, snap: &Snapshot) -> Vec<Request> {
        let key = if way == Way::Up { KeyCode::Up } else { KeyCode::Down };
        match self.place(snap) {
            Place::View(View::Swing | View::Night) if way == Way::Up => self.act(Act::Closer, snap),
            Place::View(View::Swing | View::Night) => self.act(Act::Wider, snap),
            Place::View(_) => self.act(Act::Move(way), snap),
            _ => self.pass_to_overlay(&Event::Key(plain(key)), snap),
        }
    }

    fn click(&mut self, target: Target, across: f64, snap: &Snapshot) -> Vec<Request> {
        match (target, &mut self.over) {
            (Target::Key(code), _) => return self.click_on_key(plain(code), snap),
            (Target::Row(row), Some(overlay)) => overlay.pick(row),
            (_, Some(_)) => {}
            (Target::Row(row), None) if self.shown.view() == View::Rode => {
                self.suppose.at_hand = Supposed::ALL.get(row).copied().unwrap_or_default();
            }
            (Target::Row(row), None) => self.feed = row,
            (Target::View(view), None) => return self.act(Act::Show(view), snap),
            (Target::Alert(kind), None) => {
                (self.shown, self.alert) = (Shown::Whole(View::Alerts), Some(kind));
            }
            (Target::Moment { from, to }, None) => {
                return vec![Request::Replay(replay::Act::To(hits::moment(from, to, across)))];
            }
            (Target::Time { from, to }, None) if self.shown == Shown::Whole(View::Night) => {
                self.night.ruler = Some(hits::moment(from, to, across));
            }
            (Target::Time { .. }, None) => {}
        }
        Vec::new()
    }

    /// A key's name that is clicked on is that key, unless it belongs to what is covered: there it would be text.
    fn click_on_key(&mut self, key: KeyEvent, snap: &Snapshot) -> Vec<Request> {
        let place = self.place(snap);
        if self.over.is_some() && keys::act(key, place).is_none() {
            return Vec::new();
        }
        self.on_event(&Event::Key(key), snap)
    }
}

fn plain(code: KeyCode) -> KeyEvent {
    KeyEvent::new(code, KeyModifiers::NONE)
}
