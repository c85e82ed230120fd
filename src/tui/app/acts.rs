//! What an act does: another picture, something over the view, or a request.

use super::App;
use crate::tui::deck;
use crate::tui::keys::{Act, Way};
use crate::tui::overlay::{Opener, Overlay, ask, looking};
use crate::tui::request::Request;
use crate::tui::scene;
use crate::tui::stands::{Place, Shown, View};
use crate::tui::view::rode::suppose::Suppose;
use crate::tui::view::{alerts, night};
use crate::watch::alert::AlertState;
use crate::watch::input::Command;
use crate::watch::snapshot::Snapshot;

/// The chart is drawn so many steps closer or wider at most.
const ZOOM_MOST: i8 = 12;

/// Why an act finds nothing to work on, in words.
fn nothing_to_do(act: Act, snap: &Snapshot) -> Option<&'static str> {
    match act {
        Act::Acknowledge | Act::AcknowledgeAll if !snap.alerts.iter().any(scene::waits) => {
            Some("No alert waits for an answer.")
        }
        Act::RemoveMark if snap.marks.is_empty() => Some("No bearing mark is entered."),
        Act::Open if snap.alerts.iter().all(|alert| alert.state == AlertState::Normal) => {
            Some("There is no alert to explain.")
        }
        _ => None,
    }
}

impl App {
    /// Does what a key asks for.
    pub(super) fn act(&mut self, act: Act, snap: &Snapshot) -> Vec<Request> {
        if let Some(why) = nothing_to_do(act, snap) {
            self.notice(why.to_owned(), snap.at);
            return Vec::new();
        }
        if self.joined && act == Act::Quit {
            // The watch goes on elsewhere: there is nothing to ask.
            return vec![Request::Quit];
        }
        let opener = Opener {
            at: self.ground(snap),
            recorded: self.playing.is_some(),
            picked: alerts::picked(snap, self.alert),
            checks: &self.checks,
            clock: &self.clock,
        };
        if let Some(overlay) = Overlay::opened_by(act, &opener, snap) {
            self.over = Some(overlay);
            // The anchor goes down at this instant: it is marked now, and asked about afterwards. A check runs from now.
            let now = match act {
                Act::LetGo => Some(Request::Crew(ask::let_go(snap))),
                Act::CheckAnchor => looking::begins(snap),
                _ => None,
            };
            return now.into_iter().collect();
        }
        match act {
            Act::Acknowledge => self.acknowledge(snap),
            Act::Silence => vec![Request::Crew(Command::Silence)],
            Act::Phone => vec![Request::PhoneCode],
            Act::NextStep => self.next_step(snap),
            Act::MarkOut => deck::mark_passed(snap, true).into_iter().collect(),
            Act::MarkBack => deck::mark_passed(snap, false).into_iter().collect(),
            _ => {
                self.look_otherwise(act, snap);
                Vec::new()
            }
        }
    }

    /// The alert that is answered: the one picked in the list, else the one that asks for it at the top.
    fn acknowledge(&self, snap: &Snapshot) -> Vec<Request> {
        let listed = self.ground(snap) == Place::View(View::Alerts);
        let answered = match alerts::picked(snap, self.alert).filter(|_| listed) {
            Some(picked) => snap.alerts.iter().find(|alert| alert.kind == picked && scene::waits(alert)),
            None => scene::asks(snap),
        };
        let command = answered.map(|alert| Command::Acknowledge { kind: Some(alert.kind) });
        command.map(Request::Crew).into_iter().collect()
    }

    fn next_step(&mut self, snap: &Snapshot) -> Vec<Request> {
        match deck::enter(snap) {
            Some(deck::Next::Send(command)) => vec![Request::Crew(command)],
            Some(deck::Next::Ask(question)) => {
                self.over = Some(Overlay::Ask(question));
                Vec::new()
            }
            None => Vec::new(),
        }
    }

    /// What changes the picture alone.
    fn look_otherwise(&mut self, act: Act, snap: &Snapshot) {
        let view = self.shown.view();
        match act {
            Act::NextView => self.show(view.step(1)),
            Act::PreviousView => self.show(view.step(View::ALL.len() - 1)),
            Act::Show(view) => self.show(view),
            Act::Tall => self.shown = self.shown.turned(),
            Act::Light => self.palette.light = self.palette.light.next(),
            Act::Orient => self.look.up = self.look.up.next(),
            Act::Leave if self.noticed(snap.at).is_some() => self.notice = None,
            Act::Leave if matches!(view, View::Rode | View::Night) => self.home(view),
            Act::Home => self.home(view),
            Act::Closer | Act::Wider => self.zoom(act == Act::Closer, view, snap),
            Act::Move(way) => self.turn(way, view, snap),
            _ => {}
        }
    }

    /// Goes to a view. What was supposed is forgotten with the view that showed it: nobody shall find it an hour later.
    fn show(&mut self, view: View) {
        self.shown = Shown::Whole(view);
        self.rounds_down = 0;
        self.suppose = Suppose::default();
    }

    /// Back to what a view shows by itself.
    fn home(&mut self, view: View) {
        match view {
            View::Night => self.night = night::look::Look::default(),
            View::Rode => self.suppose = Suppose::default(),
            _ => self.look.zoom = 0,
        }
    }

    fn zoom(&mut self, closer: bool, view: View, snap: &Snapshot) {
        match (view, closer) {
            (View::Night, _) => self.night.zoom(closer, snap),
            (_, true) => self.look.zoom = (self.look.zoom + 1).min(ZOOM_MOST),
            (_, false) => self.look.zoom = (self.look.zoom - 1).max(-ZOOM_MOST),
        }
    }

    /// Moves in what a view shows.
    fn turn(&mut self, way: Way, view: View, snap: &Snapshot) {
        let by = match way {
            Way::Up | Way::Left => -1,
            Way::Down | Way::Right => 1,
        };
        match view {
            View::Rode => self.suppose.turn(way, snap),
            View::Night => self.night.turn(way, snap),
            View::Alerts => self.alert = alerts::step(snap, self.alert, by),
            View::Feeds => {
                let last = snap.feeds.len().saturating_sub(1);
                self.feed = self.feed.min(last).saturating_add_signed(by).min(last);
            }
            View::Rounds => self.rounds_down = self.rounds_down.saturating_add_signed(by as i16),
            View::Swing | View::Position | View::Health => {}
        }
    }
}
