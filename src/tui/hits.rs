//! Where the mouse can act: what lies under each part of the screen as it was last drawn.

use ratatui::crossterm::event::KeyCode;
use ratatui::layout::{Position, Rect};

use super::stands::View;
use crate::watch::alert::AlertKind;
use crate::watch::units::{Span, WatchTime};

/// What a click does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// The same as this key.
    Key(KeyCode),
    /// Shows an alert among the others.
    Alert(AlertKind),
    /// Shows a view.
    View(View),
    /// A row of the list in front.
    Row(usize),
    /// A moment of a recorded night on its bar.
    Moment {
        /// At its left edge.
        from: WatchTime,
        /// At its right edge.
        to: WatchTime,
    },
    /// A moment on a time axis that runs across the area.
    Time {
        /// At its left edge.
        from: WatchTime,
        /// At its right edge.
        to: WatchTime,
    },
}

/// The targets of one drawn screen; later ones lie above earlier ones.
#[derive(Clone, Debug, Default)]
pub struct Hits(Vec<(Rect, Target)>);

impl Hits {
    /// Adds a target.
    pub fn add(&mut self, area: Rect, target: Target) {
        if !area.is_empty() {
            self.0.push((area, target));
        }
    }

    /// The target at a cell, with the cell's part of the way across it, `0.0..=1.0`.
    #[must_use]
    pub fn at(&self, column: u16, row: u16) -> Option<(Target, f64)> {
        let (area, target) =
            self.0.iter().rev().find(|(area, _)| area.contains(Position::new(column, row)))?;
        let across = (f64::from(column - area.x) + 0.5) / f64::from(area.width);
        Some((*target, across))
    }
}

/// The moment so far across from `from` to `to`.
#[must_use]
pub fn moment(from: WatchTime, to: WatchTime, across: f64) -> WatchTime {
    // A product of a few days in milliseconds with a ratio: far inside what an i64 holds.
    from + Span((to.since(from).0 as f64 * across) as i64)
}
