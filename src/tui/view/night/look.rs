//! How the night is looked at: which stretch of it, and a ruler that is laid on a moment.

use crate::tui::keys::Way;
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};

const HOUR_MS: i64 = 3_600_000;
/// Stretches to choose from, hours.
const STRETCHES_H: [i64; 7] = [1, 2, 4, 8, 16, 24, 48];
/// The longest stretch that is taken without being asked for, and the shortest.
const NIGHT_H: i64 = 24;
const SHORTEST_MS: i64 = HOUR_MS / 4;
/// What the stretch begins at is rounded down to this.
const ROUND_MS: i64 = HOUR_MS / 12;

/// The time from letting go, or from the watch's beginning where nothing is down, to a little ahead of now. Both ends are
/// round, so that the picture moves seldom.
fn so_far(snap: &Snapshot) -> Stretch {
    let now = snap.at.0;
    let first = snap.minutes.first().map(|minute| minute.at);
    let began = snap.drop.map(|drop| drop.let_go).or(first).map_or(now, |at| at.0.min(now));
    let began = began.max(now.saturating_sub(NIGHT_H * HOUR_MS)).min(now.saturating_sub(SHORTEST_MS));
    let from = began.div_euclid(ROUND_MS) * ROUND_MS;
    let step = match now.saturating_sub(from) / HOUR_MS {
        0..2 => HOUR_MS / 12,
        2..6 => HOUR_MS / 4,
        _ => HOUR_MS / 2,
    };
    Stretch { from: WatchTime(from), to: WatchTime(above(now, step)) }
}

/// The next whole step above.
fn above(ms: i64, step: i64) -> i64 {
    ms.div_euclid(step).saturating_add(1).saturating_mul(step)
}

/// How the night is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Look {
    /// The moment under the ruler; none for now.
    pub ruler: Option<WatchTime>,
    /// Hours shown; none for the night so far.
    pub hours: Option<i64>,
}

impl Look {
    /// What still makes sense: a ruler on what has not happened yet is put away.
    #[must_use]
    pub fn settled(&self, snap: &Snapshot) -> Self {
        Self { ruler: self.ruler.filter(|at| *at < snap.at), ..*self }
    }

    /// The time shown: from letting go to a little ahead of now, or as many hours as are asked for; about the ruler where
    /// that lies farther back.
    #[must_use]
    pub fn stretch(&self, scene: &Scene) -> Stretch {
        self.stretch_of(scene.snap)
    }

    fn stretch_of(&self, snap: &Snapshot) -> Stretch {
        let so_far = so_far(snap);
        let Some(hours) = self.hours else { return self.over_the_ruler(so_far) };
        let length = hours.max(1) * HOUR_MS;
        let to = so_far.to.0;
        self.over_the_ruler(Stretch { from: WatchTime(to.saturating_sub(length)), to: WatchTime(to) })
    }

    /// The stretch, moved back to where the ruler lies if that is before it.
    fn over_the_ruler(&self, stretch: Stretch) -> Stretch {
        let Some(at) = self.ruler.filter(|at| *at < stretch.from) else { return stretch };
        let length = stretch.length();
        // Whole quarters, so that it moves seldom.
        let step = (length.0 / 4).max(1);
        let to = WatchTime(above(at.0.saturating_add(length.0 / 2), step));
        Stretch { from: to - length, to }
    }

    /// Left and right move the ruler, up and down lay it on what happened before and after.
    pub fn turn(&mut self, way: Way, snap: &Snapshot) {
        *self = self.settled(snap);
        let here = self.ruler.unwrap_or(snap.at);
        let step = match self.stretch_of(snap).length().0 / HOUR_MS {
            ..=2 => Span::from_mins(1),
            3..=4 => Span::from_mins(5),
            5..=16 => Span::from_mins(10),
            _ => Span::from_mins(30),
        };
        let grid = WatchTime(here.0.div_euclid(step.0) * step.0);
        let happened = snap.happenings.iter().map(|happening| happening.at);
        let to = match way {
            Way::Left if grid == here => Some(here - step),
            Way::Left => Some(grid),
            Way::Right => Some(grid + step),
            Way::Up => happened.filter(|at| *at < here).max().or(self.ruler),
            Way::Down => happened.filter(|at| *at > here).min(),
        };
        let first = snap.minutes.first().map_or(snap.at, |minute| minute.at);
        self.ruler = to.map(|at| at.max(first)).filter(|at| *at < snap.at);
    }

    /// A shorter or longer stretch.
    pub fn zoom(&mut self, closer: bool, snap: &Snapshot) {
        let now = self.stretch_of(snap).length().0 / HOUR_MS;
        self.hours = if closer {
            STRETCHES_H.into_iter().rfind(|hours| *hours < now).or(Some(STRETCHES_H[0]))
        } else {
            STRETCHES_H.into_iter().find(|hours| *hours > now).or(STRETCHES_H.last().copied())
        };
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::watch::geo::Position;
    use crate::watch::snapshot::{DropPoint, Happening, MarkedHow, Minute};
    use crate::watch::units::Metres;

    const NOW: WatchTime = WatchTime(1_780_445_647_000);

    fn night(hours: i64) -> Snapshot {
        let minutes = (0..hours * 60)
            .map(|m| Minute { at: NOW - Span::from_mins(hours * 60 - m), ..Minute::default() });
        let happened =
            |minutes| Happening { at: NOW - Span::from_mins(minutes), text: String::new(), alert: false };
        Snapshot {
            at: NOW,
            minutes: Arc::new(minutes.collect()),
            happenings: Arc::new(vec![happened(130), happened(20)]),
            ..Snapshot::default()
        }
    }

    #[test]
    fn the_stretch_holds_now_and_the_ruler_wherever_it_lies() {
        for hours in [0, 1, 6, 40, 100] {
            let snap = night(hours);
            let mut look = Look::default();
            for _ in 0..600 {
                look.turn(Way::Left, &snap);
                let stretch = look.stretch_of(&snap);
                let at = look.ruler.unwrap_or(NOW);
                assert!(stretch.from <= at && at <= stretch.to, "{hours}: {stretch:?} {at:?}");
            }
            assert!(look.ruler.is_none_or(|at| at >= snap.minutes[0].at));
        }
    }

    #[test]
    fn the_ruler_goes_from_event_to_event_and_back_to_now() {
        let snap = night(6);
        let mut look = Look::default();
        look.turn(Way::Up, &snap);
        assert_eq!(look.ruler, Some(NOW - Span::from_mins(20)));
        look.turn(Way::Up, &snap);
        look.turn(Way::Up, &snap);
        assert_eq!(look.ruler, Some(NOW - Span::from_mins(130)));
        look.turn(Way::Down, &snap);
        look.turn(Way::Down, &snap);
        assert_eq!(look.ruler, None);
    }

    #[test]
    fn the_night_begins_at_letting_go_and_ends_soon_after_now() {
        for (minutes, ahead) in [(20, 5), (100, 5), (300, 15), (700, 30)] {
            let mut snap = night(24);
            let position = Position::new(50.0, -4.0).unwrap();
            let let_go = NOW - Span::from_mins(minutes);
            let (how, doubt) = (MarkedHow::Bow, Metres(0.0));
            snap.drop = Some(DropPoint { position, let_go, how, depth: None, fixed: let_go, doubt });
            let stretch = Look::default().stretch_of(&snap);
            let lead = let_go.since(stretch.from);
            assert!(Span::ZERO <= lead && lead < Span::from_mins(5), "{minutes}: {stretch:?}");
            let spare = stretch.to.since(NOW);
            assert!(Span::ZERO < spare && spare <= Span::from_mins(ahead), "{minutes}: {stretch:?}");
        }
    }

    #[test]
    fn closer_and_wider_go_through_round_stretches() {
        let snap = night(6);
        let mut look = Look::default();
        look.zoom(true, &snap);
        assert_eq!(look.hours, Some(4));
        for _ in 0..9 {
            look.zoom(true, &snap);
        }
        assert_eq!(look.hours, Some(1));
        for _ in 0..9 {
            look.zoom(false, &snap);
        }
        assert_eq!(look.hours, Some(48));
    }
}
