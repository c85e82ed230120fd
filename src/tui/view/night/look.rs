//! How the night is looked at: which stretch of it, and a ruler that is laid on a moment.

use crate::tui::keys::Way;
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};

const HOUR_MS: i64 = 3_600_000;
/// Stretches to choose from, hours.
const STRETCHES_H: [i64; 7] = [1, 2, 4, 8, 16, 24, 48];
/// The longest stretch that is taken without being asked for.
const NIGHT_H: i64 = 12;

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

    /// The time shown: up to an hour or so ahead of now, or about the ruler where that lies farther back.
    #[must_use]
    pub fn stretch(&self, scene: &Scene) -> Stretch {
        self.stretch_of(scene.snap)
    }

    fn stretch_of(&self, snap: &Snapshot) -> Stretch {
        let now = snap.at.0;
        let first = snap.minutes.first().map_or(now, |minute| minute.at.0).min(now);
        let ceil = |ms: i64, step: i64| ms.div_euclid(step).saturating_add(1).saturating_mul(step);
        let so_far = (ceil(now, HOUR_MS).saturating_sub(first) / HOUR_MS + 1).clamp(2, NIGHT_H);
        let length = self.hours.unwrap_or(so_far).max(1) * HOUR_MS;
        // Whole quarters of the stretch, so that it moves seldom.
        let step = (length / 4).clamp(HOUR_MS / 4, HOUR_MS);
        let end = ceil(now.saturating_add(step / 2), step);
        let end = match self.ruler {
            Some(at) if at.0 < end.saturating_sub(length) => ceil(at.0.saturating_add(length / 2), step),
            _ => end,
        };
        Stretch { from: WatchTime(end.saturating_sub(length)), to: WatchTime(end) }
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
    use crate::watch::snapshot::{Happening, Minute};

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
