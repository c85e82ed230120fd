//! Working a check list: before letting go, on leaving her, before weighing. A tick a line, few keys.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::Event;
use ratatui::layout::Rect;

use super::form::Did;
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act, Way};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stands::Place;
use crate::tui::text::{Pen, wrap};
use crate::watch::checks::{CheckList, Checks};
use crate::watch::snapshot::Stage;

/// Columns of the tick.
const TICK: u16 = 5;

/// A check list being worked.
#[derive(Clone, Debug)]
pub struct Checking {
    checks: Checks,
    list: CheckList,
    ticked: Vec<bool>,
    at: usize,
}

impl Checking {
    /// The list that comes next at a stage, nothing ticked.
    #[must_use]
    pub fn new(checks: &Checks, stage: Stage) -> Self {
        let list = match stage {
            Stage::NotSet => CheckList::Before,
            Stage::Setting | Stage::BroughtUp => CheckList::Leaving,
            Stage::Weighing => CheckList::Weighing,
        };
        Self { ticked: vec![false; checks.of(list).len()], checks: checks.clone(), list, at: 0 }
    }

    /// What heads it.
    #[must_use]
    pub const fn title(&self) -> &'static str {
        self.list.title()
    }

    /// Takes a key.
    pub fn on_event(&mut self, event: &Event) -> Did {
        let last = self.ticked.len().saturating_sub(1);
        match keys::of(event, Place::CheckList) {
            Some(Act::Move(Way::Up)) => self.at = self.at.saturating_sub(1),
            Some(Act::Move(Way::Down)) => self.at = (self.at + 1).min(last),
            Some(Act::Move(Way::Right)) => self.go_to(self.list.next()),
            Some(Act::Move(Way::Left)) => self.go_to(self.list.next().next()),
            Some(Act::InOrder) => {
                self.pick(self.at);
                self.at = (self.at + 1).min(last);
            }
            Some(Act::Send) => return Did::Sent,
            Some(Act::Leave) => return Did::Left,
            _ => {}
        }
        Did::Typing
    }

    /// Another list, nothing ticked.
    fn go_to(&mut self, list: CheckList) {
        self.list = list;
        (self.ticked, self.at) = (vec![false; self.checks.of(list).len()], 0);
    }

    /// What the journal keeps of it; `None` while nothing is ticked.
    #[must_use]
    pub fn note(&self) -> Option<String> {
        let lines = || self.checks.of(self.list).iter().zip(&self.ticked);
        let open: Vec<&str> =
            lines().filter(|(_, ticked)| !**ticked).map(|(line, _)| line.as_str()).collect();
        let (all, done) = (self.ticked.len(), self.ticked.len() - open.len());
        let list = self.list.title().to_lowercase();
        match (done, open.is_empty()) {
            (0, _) => None,
            (_, true) => Some(format!("{list}: all {all} checked")),
            _ => Some(format!("{list}: {done} of {all} checked, not: {}", open.join(" / "))),
        }
    }

    /// Goes to a line and ticks it, by a click.
    pub fn pick(&mut self, row: usize) {
        if let Some(ticked) = self.ticked.get_mut(row) {
            *ticked = !*ticked;
            self.at = row;
        }
    }

    /// Rows that it wants at this width.
    #[must_use]
    pub fn height(&self, columns: u16) -> u16 {
        self.rows(columns).len().min(100) as u16
    }

    /// Lines as drawn: which check, whether it begins there, its words.
    fn rows(&self, columns: u16) -> Vec<(usize, bool, String)> {
        let of = self.checks.of(self.list).iter().enumerate();
        of.flat_map(|(index, check)| {
            let lines = wrap(check, columns.saturating_sub(TICK)).into_iter().enumerate();
            lines.map(move |(n, line)| (index, n == 0, line))
        })
        .collect()
    }

    /// Draws the list about the line at hand.
    pub fn render(&self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let mut pen = Pen::new(buf, area);
        let rows = self.rows(area.width);
        let end = rows.iter().rposition(|(index, ..)| *index <= self.at).map_or(0, |row| row + 1);
        let first = end.saturating_sub(usize::from(area.height));
        for (y, (index, begins, line)) in (0..area.height).zip(&rows[first..]) {
            let here = *index == self.at;
            let ticked = self.ticked.get(*index).copied().unwrap_or_default();
            hits.add(pen.spot(0, y, area.width), Target::Row(*index));
            if *begins {
                pen.put(0, y, if here { "›" } else { " " }, scene.ink(Ink::Boat));
                pen.put(1, y, if ticked { "[x]" } else { "[ ]" }, scene.ink(Ink::Text));
            }
            let ink = match (here, ticked) {
                (true, _) => Ink::Strong,
                (_, true) => Ink::Dim,
                _ => Ink::Text,
            };
            pen.put(TICK, y, line, scene.ink(ink));
        }
    }
}

#[cfg(test)]
mod tests {
    use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

    use super::*;

    fn typed(checking: &mut Checking, codes: &[KeyCode]) -> Vec<Did> {
        let key = |code| Event::Key(KeyEvent::new(code, KeyModifiers::NONE));
        codes.iter().map(|code| checking.on_event(&key(*code))).collect()
    }

    #[test]
    fn the_journal_names_what_was_left_out() {
        let list = |lines: &[&str]| lines.iter().map(|line| (*line).to_owned()).collect();
        let checks = Checks { before: list(&["depth", "room", "bitter end"]), ..Checks::default() };
        let mut checking = Checking::new(&checks, Stage::NotSet);
        assert_eq!(checking.note(), None);
        typed(&mut checking, &[KeyCode::Char('y'), KeyCode::Down, KeyCode::Char(' ')]);
        let note = checking.note();
        assert_eq!(note.as_deref(), Some("before letting go: 2 of 3 checked, not: room"));
        typed(&mut checking, &[KeyCode::Up, KeyCode::Char('y')]);
        assert_eq!(checking.note().as_deref(), Some("before letting go: all 3 checked"));
    }

    #[test]
    fn the_list_is_that_of_the_stage_and_the_others_are_a_key_away() {
        let title = |stage| Checking::new(&Checks::default(), stage).title();
        assert_eq!(title(Stage::BroughtUp), "ON LEAVING HER");
        assert_eq!(title(Stage::Weighing), "BEFORE WEIGHING");
        let mut checking = Checking::new(&Checks::default(), Stage::BroughtUp);
        typed(&mut checking, &[KeyCode::Right]);
        assert_eq!(checking.title(), "BEFORE WEIGHING");
        typed(&mut checking, &[KeyCode::Left, KeyCode::Left]);
        assert_eq!(checking.title(), "BEFORE LETTING GO");
    }
}
