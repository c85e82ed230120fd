//! What every widget is given: the state of the watch, and the light in which it is drawn.

use jiff::tz::TimeZone;
use ratatui::style::Style;

use super::palette::{Ink, Palette};
use super::text::Clock;
use crate::watch::alert::{Alert, AlertKind, AlertState, Priority, Sound};
use crate::watch::snapshot::{Moved, Snapshot, Verdict, from_mark};
use crate::watch::units::TrueBearing;

/// One moment to be drawn.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The watch.
    pub snap: &'a Snapshot,
    /// The colours.
    pub palette: Palette,
    /// Gives the time of day.
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

    /// [`headline`].
    #[must_use]
    pub fn headline(&self) -> Option<&Alert> {
        headline(self.snap)
    }

    /// [`asks`].
    #[must_use]
    pub fn asks(&self) -> Option<&Alert> {
        asks(self.snap)
    }

    /// What is over without an answer.
    pub fn over(&self) -> impl Iterator<Item = &Alert> {
        over(self.snap)
    }

    /// The word for an alert in tall letters: the verdict's where they say the same.
    #[must_use]
    pub fn word_for(&self, alert: &Alert) -> &'static str {
        if self.is_verdict(alert.kind) { self.snap.verdict.word() } else { alert.kind.title() }
    }

    /// Whether the verdict says what an alert of this kind says.
    #[must_use]
    pub fn is_verdict(&self, kind: AlertKind) -> bool {
        matches!(
            (kind, self.snap.verdict),
            (AlertKind::Drag, Verdict::Dragging)
                | (AlertKind::Outside, Verdict::Outside)
                | (AlertKind::Creep, Verdict::Creeping)
                | (AlertKind::FixLost, Verdict::NoFix)
                | (AlertKind::FixDoubtful, Verdict::CannotJudge)
        )
    }

    /// How the anchor has moved, by the boat's clock: `moved 18 m since 01:14, towards 332°`.
    #[must_use]
    pub fn moved(&self, moved: &Moved) -> String {
        moved.words(&format!("since {}", self.clock.hm(moved.since)))
    }

    /// The reason of an alert; that of a moved anchor by the boat's clock.
    #[must_use]
    pub fn why(&self, alert: &Alert) -> String {
        match (alert.kind, self.snap.holding.moved) {
            (AlertKind::Drag | AlertKind::Creep, Some(moved)) if stands(alert) => {
                let (snap, moved) = (self.snap, format!("Anchor {}.", self.moved(&moved)));
                match snap.anchor_off {
                    Some((distance, _)) => {
                        [moved, from_mark(snap.bow.is_some(), distance, snap.reach)].join(" ")
                    }
                    None => moved,
                }
            }
            _ => self.clock.words(&alert.reason.what, self.snap.at),
        }
    }

    /// This moment's time of day in UTC, as a distress call gives it.
    #[must_use]
    pub fn utc(&self) -> String {
        Clock::new(TimeZone::UTC).hm(self.snap.at)
    }

    /// The point of the boat that distances from the anchor are measured to.
    #[must_use]
    pub fn point_word(&self) -> &'static str {
        if self.snap.bow.is_some() { "Bow" } else { "Antenna" }
    }

    /// The name of a distance from the anchor, with the bearing of the anchor: `bow to anchor, 235°`.
    #[must_use]
    pub fn to_anchor(&self, bearing: TrueBearing) -> String {
        format!("{} to anchor, {bearing}", self.point_word().to_lowercase())
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

/// The alert that takes the top of the screen: the worst thing that is so now, answered or not. What is over is never
/// that, and a warning that was answered waits in the list.
#[must_use]
pub fn headline(snap: &Snapshot) -> Option<&Alert> {
    let ranked = snap.alerts.iter().filter_map(|alert| Some((rank(alert)?, alert)));
    // The first of equals: the list is in the order of presentation.
    ranked.min_by_key(|(rank, _)| *rank).map(|(_, alert)| alert)
}

/// The alert that the crew answers next: the one at the top, then what else is so, then what is over.
#[must_use]
pub fn asks(snap: &Snapshot) -> Option<&Alert> {
    let is_so = || snap.alerts.iter().find(|alert| waits(alert) && stands(alert));
    headline(snap).filter(|alert| waits(alert)).or_else(is_so).or_else(|| over(snap).next())
}

/// What is over without an answer.
fn over(snap: &Snapshot) -> impl Iterator<Item = &Alert> {
    snap.alerts.iter().filter(|alert| waits(alert) && !stands(alert))
}

/// How bad it is that an alert is so, less for worse; `None` for what does not take the top of the screen.
fn rank(alert: &Alert) -> Option<u8> {
    if !stands(alert) {
        return None;
    }
    match (alert.kind, alert.priority, waits(alert)) {
        (AlertKind::Drag, Priority::Alarm, _) => Some(0),
        (AlertKind::Outside, Priority::Alarm, _) => Some(1),
        (_, Priority::Alarm, true) => Some(2),
        (_, Priority::Alarm, false) => Some(3),
        (_, Priority::Warning, true) => Some(4),
        _ => None,
    }
}

/// True if what an alert is about is so now.
#[must_use]
pub const fn stands(alert: &Alert) -> bool {
    !matches!(alert.state, AlertState::Normal | AlertState::Rectified)
}

/// The ink of an alert's words: a caution never has that of an alarm, nor has what is over.
#[must_use]
pub const fn alert_ink(alert: &Alert) -> Ink {
    match alert.priority {
        Priority::Alarm | Priority::Warning if stands(alert) => Ink::Trouble,
        _ => Ink::Text,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::alert::Reason;
    use crate::watch::units::WatchTime;

    fn alert(kind: AlertKind, priority: Priority, state: AlertState) -> Alert {
        let (raised, reason) = (WatchTime(0), Reason::default());
        Alert { kind, priority, state, raised, rectified: None, escalated: false, reason }
    }

    fn tops(alerts: &[Alert]) -> (Option<AlertKind>, Option<AlertKind>) {
        let snap = Snapshot { alerts: alerts.to_vec(), ..Snapshot::default() };
        (headline(&snap).map(|a| a.kind), asks(&snap).map(|a| a.kind))
    }

    #[test]
    fn what_is_so_stands_above_what_is_over_and_dragging_above_all() {
        use AlertKind::{DepthLost, Drag, Outside, RoundDue, Shallow, WindHigh};
        use AlertState::{Acknowledged, Rectified, Unacknowledged};
        use Priority::{Alarm, Caution, Warning};
        let windy = alert(WindHigh, Warning, Unacknowledged);
        let drags = alert(Drag, Alarm, Acknowledged);
        let shoal = alert(Shallow, Alarm, Unacknowledged);
        let out_was = alert(Outside, Alarm, Rectified);
        assert_eq!(tops(&[windy.clone(), drags.clone()]), (Some(Drag), Some(WindHigh)));
        assert_eq!(tops(&[shoal, drags, windy.clone()]), (Some(Drag), Some(Shallow)));
        assert_eq!(tops(&[out_was.clone(), windy]), (Some(WindHigh), Some(WindHigh)));
        assert_eq!(tops(&[out_was]), (None, Some(Outside)));
        assert_eq!(tops(&[alert(RoundDue, Warning, Acknowledged)]), (None, None));
        assert_eq!(tops(&[alert(DepthLost, Caution, Unacknowledged)]), (None, None));
    }
}
