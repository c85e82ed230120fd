//! What every widget is given: the state of the watch, and the light in which it is drawn.

use ratatui::style::Style;

use super::palette::{Ink, Palette};
use super::text::Clock;
use crate::watch::alert::{Alert, AlertKind, AlertState, Priority, Sound};
use crate::watch::snapshot::{Snapshot, Verdict};

/// One moment to be drawn.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The watch.
    pub snap: &'a Snapshot,
    /// The colours.
    pub palette: Palette,
    /// Tells the time of day.
    pub clock: &'a Clock,
    /// Which half of the flash this is.
    pub lit: bool,
    /// Width of a cell divided by its height.
    pub cell_aspect: f64,
}

impl Scene<'_> {
    /// The style of an ink.
    #[must_use]
    pub fn ink(&self, ink: Ink) -> Style {
        self.palette.style(ink)
    }

    /// The ink of the verdict.
    #[must_use]
    pub fn verdict_ink(&self) -> Ink {
        match self.snap.verdict {
            Verdict::Creeping
            | Verdict::Dragging
            | Verdict::Outside
            | Verdict::NoFix
            | Verdict::CannotJudge => Ink::Trouble,
            Verdict::NotSet | Verdict::Setting | Verdict::Holding | Verdict::Weighing => Ink::Strong,
        }
    }

    /// The alert that takes the top of the screen: the first that waits for an answer, else a standing alarm.
    #[must_use]
    pub fn headline(&self) -> Option<&Alert> {
        let alerts = &self.snap.alerts;
        alerts.iter().find(|alert| waits(alert)).or_else(|| {
            alerts.iter().find(|a| a.priority == Priority::Alarm && a.state == AlertState::Acknowledged)
        })
    }

    /// True while a sound is wanted that nobody can hear.
    #[must_use]
    pub fn unheard(&self) -> bool {
        let failed = |alert: &Alert| {
            alert.kind == AlertKind::SoundFailed
                && !matches!(alert.state, AlertState::Normal | AlertState::Rectified)
        };
        self.snap.sound != Sound::Quiet && self.snap.alerts.iter().any(failed)
    }

    /// The alerts that do not take the top of the screen.
    pub fn standing(&self) -> impl Iterator<Item = &Alert> {
        let headline = self.headline().map(|alert| alert.kind);
        self.snap.alerts.iter().filter(move |a| Some(a.kind) != headline && a.state != AlertState::Normal)
    }
}

/// True if the crew has to answer the alert. A caution asks for nothing.
#[must_use]
pub fn waits(alert: &Alert) -> bool {
    alert.priority > Priority::Caution
        && matches!(
            alert.state,
            AlertState::Unacknowledged | AlertState::Silenced { .. } | AlertState::Rectified
        )
}

/// The word for a priority.
#[must_use]
pub const fn priority_word(priority: Priority) -> &'static str {
    match priority {
        Priority::Caution => "caution",
        Priority::Warning => "warning",
        Priority::Alarm => "alarm",
    }
}
