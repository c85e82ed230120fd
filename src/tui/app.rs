//! The screen's own state: which view, how it is looked at, what lies over it. Keys in, requests out.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{
    Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, MouseButton, MouseEvent, MouseEventKind,
};
use ratatui::layout::Rect;

use super::deck;
use super::hits::{self, Hits, Target};
use super::keys::{self, Act, Way};
use super::layout::{self, Size};
use super::options::Options;
use super::overlay::{Overlay, Step, Topic};
use super::palette::{Ink, Palette};
use super::replay::{self, Playing};
use super::request::Request;
use super::scene::{self, Scene};
use super::stands::View;
use super::text::{Clock, Pen, wrap};
use super::view::rode::suppose::{Suppose, Supposed};
use super::view::swing::Look;
use super::view::{
    alerts, band, cockpit, facts, feeds, figures, header, keybar, night, rode, rounds, small, strip, swing,
    timebar,
};
use crate::watch::alert::AlertKind;
use crate::watch::checks::Checks;
use crate::watch::input::Command;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};
use crate::watch::what_if;

/// How long a notice stays.
const NOTICE_FOR: Span = Span::from_secs(15);

/// Said when a recorded night would be changed.
const REPLAYED: &str = "This is a recorded night: it can be looked at from every moment, and nothing in it changes. \
                        nightrode review --what-if judges it again with other settings.";

/// Rows that a notice takes at most.
const NOTICE_ROWS: usize = 4;

/// A step's name is as tall on a small window as it would be on one of so many rows.
const SLIM_STEP: u16 = 14;

/// Rows that verdict and alert keep in a window too small for the screens.
const SMALL_TOP: u16 = 2;

/// The screen.
#[derive(Debug)]
pub struct App {
    palette: Palette,
    clock: Clock,
    cell_aspect: f64,
    view: View,
    big: bool,
    checks: Checks,
    /// What the crew of a demonstration does, and why.
    caption: String,
    look: Look,
    /// How the night is looked at.
    night: night::look::Look,
    /// What is supposed on the rode view.
    suppose: Suppose,
    /// The recorded night that is shown, if it is one.
    playing: Option<Playing>,
    /// The step on deck was drawn last, and its keys act.
    on_deck: bool,
    hits: Hits,
    notice: Option<(String, WatchTime)>,
    overlay: Option<Overlay>,
    /// The alert picked in the list.
    alert: Option<AlertKind>,
    /// The feed picked in the list.
    feed: usize,
    /// Rows that the rounds are scrolled down by.
    rounds_down: u16,
}

impl App {
    /// A screen on the swing view.
    #[must_use]
    pub fn new(options: Options) -> Self {
        Self {
            palette: Palette { light: options.light, colours: options.colours },
            clock: Clock::new(options.time_zone),
            cell_aspect: options.cell_aspect,
            view: View::Swing,
            big: options.big,
            checks: options.checks,
            caption: String::new(),
            look: Look::default(),
            night: night::look::Look::default(),
            suppose: Suppose::default(),
            playing: None,
            on_deck: false,
            hits: Hits::default(),
            notice: None,
            overlay: None,
            alert: None,
            feed: 0,
            rounds_down: 0,
        }
    }

    /// Takes a key, a click or a paste.
    pub fn on_event(&mut self, event: &Event, snap: &Snapshot) -> Vec<Request> {
        match event {
            Event::Key(key) if key.kind == KeyEventKind::Release => Vec::new(),
            Event::Key(key) if self.playing.is_some() && (self.overlay.is_none() || breaks_off(*key)) => {
                match self.act_in_replay(*key, snap) {
                    Some(requests) => requests,
                    None => keys::act(*key).map(|act| self.act(act, snap)).unwrap_or_default(),
                }
            }
            // An alarm is answered whatever lies over the view, as long as letters are not text there.
            Event::Key(key) if self.playing.is_none() && !self.is_typed_into() && answers(*key) => {
                keys::act(*key).map(|act| self.act(act, snap)).unwrap_or_default()
            }
            Event::Key(_) | Event::Paste(_) if self.overlay.is_some() => self.pass_to_overlay(event, snap),
            Event::Key(key) => keys::act(*key).map(|act| self.act(act, snap)).unwrap_or_default(),
            Event::Mouse(mouse) => self.mouse(*mouse, snap),
            _ => Vec::new(),
        }
    }

    /// Shows a recorded night, as it stands now, instead of a watch that is kept.
    pub fn show_recorded(&mut self, playing: Playing) {
        self.playing = Some(playing);
    }

    /// What a key does in a replay; `None` if it does what it does in a watch. Nothing of a recorded night is changed.
    fn act_in_replay(&mut self, key: KeyEvent, snap: &Snapshot) -> Option<Vec<Request>> {
        self.notice = None;
        if let Some(act) = replay::act(key) {
            return Some(vec![Request::Replay(act)]);
        }
        let act = keys::act(key)?;
        if act == Act::Quit {
            return Some(vec![Request::Quit]);
        }
        if act == Act::Help && alerts::picked(snap, self.alert).is_none_or(|_| self.view != View::Alerts) {
            self.overlay = Some(Overlay::Help(Topic::Replay(self.view), 0));
            return Some(Vec::new());
        }
        if changes_the_watch(act) || (act == Act::Open && self.on_deck) {
            self.notice(REPLAYED.to_owned(), snap.at);
            return Some(Vec::new());
        }
        None
    }

    fn is_typed_into(&self) -> bool {
        self.overlay.as_ref().is_some_and(Overlay::is_typed_into)
    }

    /// Hands an event to what lies over the view.
    fn pass_to_overlay(&mut self, event: &Event, snap: &Snapshot) -> Vec<Request> {
        let Some(overlay) = &mut self.overlay else { return Vec::new() };
        match overlay.on_event(event, snap, &self.clock) {
            Step::Stays => Vec::new(),
            Step::Goes(request) => {
                self.overlay = None;
                request.into_iter().collect()
            }
            Step::Asks(question) => {
                self.overlay = Some(Overlay::Ask(question));
                Vec::new()
            }
        }
    }

    fn act(&mut self, act: Act, snap: &Snapshot) -> Vec<Request> {
        if self.on_deck
            && let Some(requests) = self.act_on_deck(act, snap)
        {
            return requests;
        }
        let picked = alerts::picked(snap, self.alert);
        if let Some(overlay) = Overlay::opened_by(act, self.view, picked, snap, &self.checks) {
            self.overlay = Some(overlay);
            return Vec::new();
        }
        match act {
            Act::Acknowledge => {
                let mut waiting =
                    snap.alerts.iter().filter(|alert| scene::waits(alert)).map(|alert| alert.kind);
                let waiting = match (self.view, picked) {
                    (View::Alerts, Some(picked)) => waiting.find(|kind| *kind == picked),
                    _ => waiting.next(),
                };
                return waiting
                    .map(|kind| Request::Crew(Command::Acknowledge { kind: Some(kind) }))
                    .into_iter()
                    .collect();
            }
            Act::Silence => return vec![Request::Crew(Command::Silence)],
            Act::NextView => self.show(self.view.step(1)),
            Act::PreviousView => self.show(self.view.step(View::ALL.len() - 1)),
            Act::Show(view) => self.show(view),
            Act::Big => self.big = !self.big,
            Act::Palette => self.palette.light = self.palette.light.next(),
            Act::Orient => self.look.up = self.look.up.next(),
            Act::Leave if self.noticed(snap.at).is_some() => self.notice = None,
            Act::Home | Act::Leave if self.view == View::Night => self.night = night::look::Look::default(),
            Act::Closer if self.view == View::Night => self.night.zoom(true, snap),
            Act::Wider if self.view == View::Night => self.night.zoom(false, snap),
            Act::Move(way) if self.view == View::Night => self.night.turn(way, snap),
            Act::Closer => self.look.zoom = (self.look.zoom + 1).min(12),
            Act::Wider => self.look.zoom = (self.look.zoom - 1).max(-12),
            Act::Home | Act::Leave if self.view == View::Rode => self.suppose = Suppose::default(),
            Act::Home => self.look.zoom = 0,
            Act::Move(way) if self.view == View::Rode => self.suppose.turn(way, snap),
            Act::Move(way) => self.move_pick(way, snap),
            _ => {}
        }
        Vec::new()
    }

    /// What a key does at a step on deck; `None` if it does there what it does everywhere.
    fn act_on_deck(&mut self, act: Act, snap: &Snapshot) -> Option<Vec<Request>> {
        match act {
            Act::Open => match deck::enter(snap)? {
                deck::Next::Tell(command) => Some(vec![Request::Crew(command)]),
                deck::Next::Ask(question) => {
                    self.overlay = Some(Overlay::Ask(question));
                    Some(Vec::new())
                }
            },
            Act::VeerOut | Act::HeaveIn => deck::mark_passed(snap, act == Act::VeerOut).map(|one| vec![one]),
            _ => None,
        }
    }

    /// The view is rows to read, without a picture.
    const fn is_listed(&self) -> bool {
        matches!(self.view, View::Rounds | View::Alerts | View::Feeds)
    }

    /// Goes to a view. What was supposed is forgotten with the view that showed it: nobody shall find it an hour later.
    fn show(&mut self, view: View) {
        self.view = view;
        self.rounds_down = 0;
        self.suppose = Suppose::default();
    }

    /// Up or down in the list in front.
    fn move_pick(&mut self, way: Way, snap: &Snapshot) {
        let by = match way {
            Way::Up => -1,
            Way::Down => 1,
            Way::Left | Way::Right => return,
        };
        match self.view {
            View::Alerts => self.alert = alerts::step(snap, self.alert, by),
            View::Feeds => {
                let last = snap.feeds.len().saturating_sub(1);
                self.feed = self.feed.min(last).saturating_add_signed(by).min(last);
            }
            View::Rounds => self.rounds_down = self.rounds_down.saturating_add_signed(by as i16),
            View::Swing | View::Rode | View::Night => {}
        }
    }

    fn mouse(&mut self, mouse: MouseEvent, snap: &Snapshot) -> Vec<Request> {
        let turned = match mouse.kind {
            MouseEventKind::ScrollUp => Some(KeyCode::Up),
            MouseEventKind::ScrollDown => Some(KeyCode::Down),
            _ => None,
        };
        if let (Some(key), Some(_)) = (turned, &self.overlay) {
            let key = KeyEvent::new(key, KeyModifiers::NONE);
            return self.pass_to_overlay(&Event::Key(key), snap);
        }
        match mouse.kind {
            MouseEventKind::ScrollUp if self.is_listed() => self.act(Act::Move(Way::Up), snap),
            MouseEventKind::ScrollDown if self.is_listed() => self.act(Act::Move(Way::Down), snap),
            MouseEventKind::ScrollUp => self.act(Act::Closer, snap),
            MouseEventKind::ScrollDown => self.act(Act::Wider, snap),
            MouseEventKind::Down(MouseButton::Left) => match self.hits.at(mouse.column, mouse.row) {
                Some((target, across)) => self.click(target, across, snap),
                None => Vec::new(),
            },
            // Along the bar the night is drawn back and forth.
            MouseEventKind::Drag(MouseButton::Left) => match self.hits.at(mouse.column, mouse.row) {
                Some((target @ Target::Moment { .. }, across)) => self.click(target, across, snap),
                _ => Vec::new(),
            },
            _ => Vec::new(),
        }
    }

    fn click(&mut self, target: Target, across: f64, snap: &Snapshot) -> Vec<Request> {
        match (target, &mut self.overlay) {
            (Target::Row(row), Some(overlay)) => overlay.pick(row),
            (Target::Row(row), None) if self.view == View::Rode => {
                self.suppose.at_hand = Supposed::ALL.get(row).copied().unwrap_or_default();
            }
            (Target::Row(row), None) => self.feed = row,
            (Target::Key(key @ ('a' | 's')), Some(overlay)) if !overlay.is_typed_into() => {
                return self.on_event(&Event::Key(letter(key)), snap);
            }
            (_, Some(_)) => {}
            (Target::View(view), None) => return self.act(Act::Show(view), snap),
            (Target::Alert(kind), None) => {
                (self.view, self.alert) = (View::Alerts, Some(kind));
            }
            (Target::Moment { from, to }, None) => {
                return vec![Request::Replay(replay::Act::To(hits::moment(from, to, across)))];
            }
            (Target::Key(key), None) if self.playing.is_some() => {
                return self.on_event(&Event::Key(letter(key)), snap);
            }
            (Target::Key(key), None) => {
                return keys::act(letter(key)).map(|act| self.act(act, snap)).unwrap_or_default();
            }
            (Target::Time { from, to }, None) if self.view == View::Night => {
                self.night.ruler = Some(hits::moment(from, to, across));
            }
            (Target::Time { .. }, None) => {}
        }
        Vec::new()
    }

    /// Shows a line for some seconds: what the watch refused, and why.
    pub fn notice(&mut self, text: String, at: WatchTime) {
        self.notice = Some((text, at));
    }

    /// Says above the keys what the crew of a demonstration does, and why, until the next caption.
    pub fn caption(&mut self, text: String) {
        self.caption = text;
    }

    /// Draws the whole screen. `lit` is the half of the one-second flash that it is in.
    pub fn render(&mut self, snap: &Snapshot, lit: bool, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        let clock = self.clock.clone();
        let scene = Scene { snap, palette: self.palette, clock: &clock, lit, cell_aspect: self.cell_aspect };
        let mut hits = Hits::default();
        buf.set_style(area, self.palette.ground());
        if area.width < small::LEAST.0 || area.height < small::LEAST.1 {
            self.little(&scene, area, buf, &mut hits);
        } else {
            self.whole(&scene, area, buf, &mut hits);
        }
        if !lit && scene.unheard() {
            buf.set_style(area, self.palette.flashed());
        }
        self.hits = hits;
    }

    /// What was refused, while it is still news.
    fn noticed(&self, now: WatchTime) -> Option<&str> {
        let (text, at) = self.notice.as_ref()?;
        // A recorded night has a time of its own: there a notice stays until the next key.
        (self.playing.is_some() || now.since(*at) < NOTICE_FOR).then_some(text)
    }

    /// A window too small for the screens: what lies over the view still shows what it asks.
    fn little(&mut self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        small::render(scene, self.noticed(scene.snap.at), area, buf);
        let Some(overlay) = &mut self.overlay else { return };
        let keys = area.height.min(1);
        let top = (area.height - keys).min(SMALL_TOP);
        let under = Rect { y: area.y + top, height: area.height - keys - top, ..area };
        overlay.settle(scene.snap, under);
        overlay.render(scene, under, buf, hits);
        overlay.render_keys(scene, Rect { y: under.bottom(), height: keys, ..area }, buf);
    }

    fn whole(&mut self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let size = Size::of(area);
        let covered = self.overlay.is_some();
        let typing = self.is_typed_into();
        let band = scene.headline().map(|alert| {
            let tall = band::Band { alert, tall: true, typing };
            // Tall wherever it leaves the view its half: across a cabin nothing else is read. A list of alerts in a
            // small window says the same and needs the rows.
            let fits = band::height(scene, &tall, area.width) <= area.height / 2;
            let listed = self.view == View::Alerts && size <= Size::Middling;
            band::Band { tall: fits && !listed, ..tall }
        });
        let rows = band.map_or(0, |band| band::height(scene, &band, area.width));
        let figures = !self.is_listed() && (self.big || (self.view == View::Swing && size == Size::Slim));
        let deck = figures.then(|| deck::deck(scene)).flatten();
        self.on_deck = deck.is_some();
        let word = deck.as_ref().map_or(scene.snap.verdict.word(), |deck| deck.word);
        let refused = self.noticed(scene.snap.at);
        let (notice, ink) =
            refused.map_or((self.caption.as_str(), Ink::Boat), |refused| (refused, Ink::Trouble));
        let notice: Vec<String> =
            wrap(notice, area.width.saturating_sub(2)).into_iter().take(NOTICE_ROWS).collect();
        let header = match size {
            _ if band.is_some() || (covered && size <= Size::Middling) => 1,
            // On deck the words below the figures need the rows more than the step's name does.
            Size::Slim | Size::Middling if deck.is_some() && (size == Size::Slim || !notice.is_empty()) => {
                let area = Rect { height: area.height.min(SLIM_STEP), ..area };
                header::big_height(word, area) + u16::from(size > Size::Slim)
            }
            _ if figures => header::big_height(word, area) + u16::from(size > Size::Slim),
            Size::Wide | Size::Large => 4,
            Size::Middling => header::height(scene, area.width),
            Size::Slim => 1,
        };
        let strip = match size {
            _ if self.playing.is_some() => timebar::ROWS,
            // These views have the night in themselves.
            _ if matches!(self.view, View::Rode | View::Night) || self.big => 0,
            Size::Slim => 0,
            Size::Middling => 2,
            Size::Wide => 4,
            Size::Large => 7,
        };
        let mut parts = layout::parts(area, rows, header, strip, notice.len() as u16);
        let over = self.overlay.as_mut().map(|overlay| {
            let area = parts.under(overlay.height(scene, area.width));
            overlay.settle(scene.snap, area);
            (&*overlay, area)
        });
        if let Some(band) = band {
            band::render(scene, &band, parts.band, buf, hits);
        }
        if figures && parts.header.height > 1 {
            let spare = u16::from(size > Size::Slim);
            let header = Rect { height: parts.header.height.saturating_sub(spare), ..parts.header };
            header::big(scene, word, header, buf);
        } else {
            header::render(scene, parts.header, buf);
        }
        if self.view == View::Rounds {
            self.rounds_down = rounds::render(scene, self.rounds_down, parts.body, buf);
        } else if self.view == View::Alerts {
            alerts::render(scene, self.alert, parts.body, buf, hits);
        } else if self.view == View::Feeds {
            feeds::render(scene, self.feed, parts.body, buf, hits);
        } else if self.view == View::Rode && !self.big {
            let suppose = self.suppose.settled(scene.snap);
            let reckoned = what_if::reckon(scene.snap, &suppose.what_if);
            rode::render(scene, &reckoned, &suppose, parts.body, buf, hits);
        } else if self.view == View::Night && !self.big {
            night::render(scene, &self.night, parts.body, buf, hits);
        } else if let Some(deck) = &deck {
            cockpit::render(scene, deck, parts.body, buf);
        } else if figures {
            figures::render(scene, &figures::riding(scene), parts.body, buf);
        } else {
            let (chart, side) = layout::chart_and_facts(parts.body);
            swing::render(scene, self.look, chart, buf);
            facts::render(scene, side, buf);
        }
        match &self.playing {
            Some(playing) => timebar::render(scene, playing, parts.strip, buf, hits),
            None => strip::render(scene, parts.strip, buf, hits),
        }
        if let Some((overlay, area)) = over {
            overlay.render(scene, area, buf, hits);
        }
        let mut pen = Pen::new(buf, parts.notice);
        for (y, line) in (0..).zip(&notice) {
            pen.put(1, y, line, scene.ink(ink));
        }
        if let Some((overlay, _)) = over {
            overlay.render_keys(scene, parts.keys, buf);
            return;
        }
        let hints = match (&self.playing, deck) {
            (Some(playing), _) => replay::hints(playing.runs),
            (None, Some(_)) => deck::hints(scene.snap).unwrap_or_default(),
            (None, None) => keys::hints(self.view, scene.snap.stage, self.big),
        };
        keybar::render(scene, &hints, parts.keys, buf, hits);
    }
}

fn letter(key: char) -> KeyEvent {
    KeyEvent::new(KeyCode::Char(key), KeyModifiers::NONE)
}

/// Whether an act is for a watch that is kept.
const fn changes_the_watch(act: Act) -> bool {
    matches!(
        act,
        Act::Acknowledge
            | Act::AcknowledgeAll
            | Act::Silence
            | Act::Drop
            | Act::VeerOut
            | Act::HeaveIn
            | Act::BroughtUp
            | Act::Weigh
            | Act::Round
            | Act::Limits
            | Act::Tide
            | Act::Note
            | Act::Mark
            | Act::MarkAway
            | Act::Checks
            | Act::Bearing
    )
}

/// Whether a key ends a program in every terminal.
fn breaks_off(key: KeyEvent) -> bool {
    key.modifiers.contains(KeyModifiers::CONTROL) && key.code == KeyCode::Char('c')
}

/// Whether a key answers an alert or its sound.
fn answers(key: KeyEvent) -> bool {
    matches!(keys::act(key), Some(Act::Acknowledge | Act::Silence))
}
