//! The five-minute check of the anchor: four lines, an answer to each, and what to do. It runs on when it is closed.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::Event;
use ratatui::layout::Rect;

use super::Step;
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act, Way};
use crate::tui::palette::Ink;
use crate::tui::request::Request;
use crate::tui::scene::Scene;
use crate::tui::stands::Place;
use crate::tui::text::{Pen, width, wrap};
use crate::watch::anchor_check::{CheckItem, CheckLine, CheckView, Finding, Found, Outcome, Phase};
use crate::watch::input::Command;
use crate::watch::snapshot::Snapshot;

/// Columns of the item and of its answer.
const ITEM: u16 = 18;
const FOUND: u16 = 12;
/// What the instruments know has a row of its own in a window narrower than this.
const BESIDE: u16 = 100;

/// The check on the screen: the line at hand. All else is in the snapshot.
#[derive(Clone, Debug, Default)]
pub struct Looking {
    at: usize,
}

/// What opening it asks for: a check begins unless one goes on.
#[must_use]
pub fn begins(snap: &Snapshot) -> Option<Request> {
    let goes_on = snap.check.as_ref().is_some_and(|check| check.phase != Phase::Over);
    (!goes_on).then_some(Request::Crew(Command::BeginCheck))
}

impl Looking {
    /// Takes a key.
    pub fn on_event(&mut self, event: &Event, snap: &Snapshot) -> Step {
        let last = CheckItem::ALL.len() - 1;
        match keys::of(event, Place::AnchorCheck) {
            Some(Act::Move(Way::Up)) => self.at = self.at.saturating_sub(1),
            Some(Act::Move(Way::Down)) => self.at = (self.at + 1).min(last),
            Some(Act::InOrder) => return self.answers(Some(Found::Well)),
            Some(Act::Differs) => return self.answers(Some(Found::Wrong)),
            Some(Act::TakeBack) => return self.answers(None),
            Some(Act::Send) => return Step::Goes(ends(snap).into_iter().collect()),
            Some(Act::Leave) => return Step::Goes(Vec::new()),
            _ => {}
        }
        Step::Stays
    }

    /// The line at hand is answered, and the next one is at hand.
    fn answers(&mut self, found: Option<Found>) -> Step {
        let item = CheckItem::ALL[self.at.min(CheckItem::ALL.len() - 1)];
        if found.is_some() {
            self.at = (self.at + 1).min(CheckItem::ALL.len() - 1);
        }
        Step::Sends(vec![Request::Crew(Command::CheckFound(Finding { item, found }))])
    }

    /// Goes to a line, by a click.
    pub fn pick(&mut self, row: usize) {
        if row < CheckItem::ALL.len() {
            self.at = row;
        }
    }

    /// Rows that it wants at this width.
    #[must_use]
    pub fn height(&self, scene: &Scene, columns: u16) -> u16 {
        let Some(check) = &scene.snap.check else { return 1 };
        let lines: usize = check.lines.iter().map(|line| rows_of(line, columns)).sum();
        (lines + said(scene, check, columns).len()).min(100) as u16
    }

    /// Draws the lines, then how she has moved and what to do. In a window too low for all of it what to do stays.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let mut pen = Pen::new(buf, area);
        let Some(check) = &scene.snap.check else {
            pen.put(0, 0, "The check begins.", scene.ink(Ink::Text));
            return;
        };
        let mut said = said(scene, check, area.width);
        let lines: usize = check.lines.iter().map(|line| rows_of(line, area.width)).sum();
        let is_short = lines + said.len() > usize::from(area.height) && area.width < BESIDE;
        if is_short && check.outcome == Outcome::Unseen {
            // Of the lines only the one at hand has room for its words.
            let shows = check.lines.get(self.at).map_or("", |line| &line.shows);
            said.splice(..0, wrap(shows, area.width).into_iter().map(|line| (line, Ink::Dim)));
        }
        let below = (said.len() as u16).min(area.height.saturating_sub(CheckItem::ALL.len() as u16));
        let above = area.height - below;
        let mut y = 0;
        for (index, line) in check.lines.iter().enumerate().take(usize::from(above)) {
            hits.add(pen.spot(0, y, area.width), Target::Row(index));
            y += self.line(scene, &mut pen, y, (index, line), is_short);
        }
        for (y, (line, ink)) in (y.min(above)..area.height).zip(said) {
            pen.put(0, y, &line, scene.ink(ink));
        }
    }

    /// One line, and the rows that it took.
    fn line(
        &self,
        scene: &Scene,
        pen: &mut Pen,
        y: u16,
        (index, line): (usize, &CheckLine),
        is_short: bool,
    ) -> u16 {
        let here = index == self.at;
        pen.put(0, y, if here { "›" } else { " " }, scene.ink(Ink::Boat));
        pen.put_within(1, y, ITEM, line.item.name(), scene.ink(if here { Ink::Strong } else { Ink::Text }));
        let (word, ink) = answer(line);
        pen.put(ITEM + 1, y, word, scene.ink(ink));
        let columns = pen.width();
        if columns >= BESIDE {
            pen.put(ITEM + FOUND + 2, y, &line.shows, scene.ink(Ink::Dim));
            return 1;
        }
        let shows = wrap(&line.shows, columns.saturating_sub(2));
        if is_short {
            return 1;
        }
        for (y, words) in (y + 1..pen.height()).zip(&shows) {
            pen.put(2, y, words, scene.ink(Ink::Dim));
        }
        1 + shows.len() as u16
    }
}

fn rows_of(line: &CheckLine, columns: u16) -> usize {
    if columns >= BESIDE { 1 } else { 1 + wrap(&line.shows, columns.saturating_sub(2)).len() }
}

/// Closing it for good: what is still asked is asked no more.
fn ends(snap: &Snapshot) -> Option<Request> {
    let goes_on = snap.check.as_ref().is_some_and(|check| check.phase != Phase::Over);
    goes_on.then_some(Request::Crew(Command::EndCheck))
}

fn answer(line: &CheckLine) -> (&'static str, Ink) {
    match line.found {
        None => ("look", Ink::Dim),
        Some(_) if line.asks_again => ("look again", Ink::Strong),
        Some(found @ Found::Well) => (line.item.word(found), Ink::Text),
        Some(found @ Found::Wrong) => (line.item.word(found), Ink::Trouble),
    }
}

/// How she has moved, how long it runs, and what to do.
fn said(scene: &Scene, check: &CheckView, columns: u16) -> Vec<(String, Ink)> {
    let left = check.ends.since(scene.snap.at);
    let runs = match check.phase {
        Phase::Runs => {
            let until = scene.clock.hms(check.ends);
            format!("{left} left, until {until}: then look again at transit and rode.")
        }
        Phase::Asks => "The five minutes are over. Look again at transit and rode.".to_owned(),
        Phase::Over => format!("Over; it began at {}.", scene.clock.hms(check.began)),
    };
    let todo = match (check.outcome, check.phase) {
        (Outcome::Unseen, Phase::Runs) => String::new(),
        _ => check.advice.clone(),
    };
    let ink = if check.outcome == Outcome::Moves { Ink::Trouble } else { Ink::Strong };
    let since = format!("Since {}: {}", scene.clock.hms(check.began), lower(&check.since));
    // The most important first: a low window cuts the last.
    [(todo, ink), (runs, Ink::Text), (since, Ink::Text)]
        .into_iter()
        .filter(|(words, _)| width(words) > 0)
        .flat_map(|(words, ink)| wrap(&words, columns).into_iter().map(move |line| (line, ink)))
        .collect()
}

fn lower(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |first| first.to_lowercase().chain(chars).collect())
}
