//! What the crew supposes on the rode view: three figures, one of them at hand, changed by the arrows.

use crate::tui::keys::Way;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Knots, Metres, Span, WatchTime};
use crate::watch::what_if::WhatIf;

/// Steps of wind, rode and time.
const WIND_STEP_KN: f64 = 5.0;
const RODE_STEP_M: f64 = 5.0;
const TIME_STEP: Span = Span::from_mins(30);
/// The hardest wind that is worth supposing: a hurricane.
const WIND_KN_MOST: f64 = 65.0;

/// What can be supposed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Supposed {
    /// Another wind.
    #[default]
    Wind,
    /// More or less rode.
    Rode,
    /// Another moment of the tide.
    Tide,
}

impl Supposed {
    /// All, from left to right.
    pub const ALL: [Self; 3] = [Self::Wind, Self::Rode, Self::Tide];
}

/// What is supposed, and which of it is at hand.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Suppose {
    /// What is supposed.
    pub what_if: WhatIf,
    /// What the next key changes.
    pub at_hand: Supposed,
}

impl Suppose {
    /// True if anything is supposed.
    #[must_use]
    pub fn any(&self) -> bool {
        self.what_if != WhatIf::default()
    }

    /// What still makes sense: a moment that has come is now.
    #[must_use]
    pub fn settled(&self, snap: &Snapshot) -> Self {
        let at = self.what_if.at.filter(|at| *at > snap.at);
        Self { what_if: WhatIf { at, ..self.what_if }, ..*self }
    }

    /// Left and right choose, up and down change.
    pub fn turn(&mut self, way: Way, snap: &Snapshot) {
        *self = self.settled(snap);
        let here = Supposed::ALL.iter().position(|s| *s == self.at_hand).unwrap_or(0);
        match way {
            Way::Left => self.at_hand = Supposed::ALL[(here + Supposed::ALL.len() - 1) % Supposed::ALL.len()],
            Way::Right => self.at_hand = Supposed::ALL[(here + 1) % Supposed::ALL.len()],
            Way::Up => self.change(1.0, snap),
            Way::Down => self.change(-1.0, snap),
        }
    }

    fn change(&mut self, by: f64, snap: &Snapshot) {
        let supposed = &mut self.what_if;
        match self.at_hand {
            Supposed::Wind => {
                let now = snap.wind.mean.map(|wind| wind.0);
                let wind = stepped(supposed.wind.map(|w| w.0), now, by * WIND_STEP_KN, (0.0, WIND_KN_MOST));
                supposed.wind = wind.map(Knots);
            }
            Supposed::Rode => {
                let tackle = &snap.settings.tackle;
                let carried_m = tackle.chain.0 + tackle.rope.0;
                let now = snap.rode.veered.map(|veered| veered.0);
                let most = carried_m.max(RODE_STEP_M);
                let rode = stepped(supposed.veered.map(|v| v.0), now, by * RODE_STEP_M, (RODE_STEP_M, most));
                supposed.veered = rode.map(Metres);
            }
            Supposed::Tide => supposed.at = moved(supposed.at, by > 0.0, snap),
        }
    }
}

/// The next round figure; `None` where that leads back to what is so now.
fn stepped(supposed: Option<f64>, now: Option<f64>, step: f64, (least, most): (f64, f64)) -> Option<f64> {
    let from = supposed.or(now).unwrap_or(least);
    let size = step.abs();
    let next =
        if step > 0.0 { (from / size).floor() * size + size } else { (from / size).ceil() * size - size };
    let next = if next.is_finite() { next.clamp(least, most) } else { least };
    // On the way it passes what is so now: there it stops.
    let passed =
        now.is_some_and(|now| supposed.is_some() && (from.min(next)..=from.max(next)).contains(&now));
    if passed && Some(from) != now { None } else { Some(next) }
}

/// The next or last half hour or turn of the tide; `None` for now, and where no tide is known.
fn moved(supposed: Option<WatchTime>, later: bool, snap: &Snapshot) -> Option<WatchTime> {
    let from = supposed.unwrap_or(snap.at);
    let end = snap.tide.curve.last()?.0;
    let grid = from.0.div_euclid(TIME_STEP.0) * TIME_STEP.0;
    let turns = snap.tide.turns.iter().map(|turn| turn.at);
    let next = if later {
        turns.filter(|at| *at > from).chain([WatchTime(grid) + TIME_STEP]).min()
    } else {
        let before = if grid == from.0 { grid - TIME_STEP.0 } else { grid };
        turns.filter(|at| *at < from).chain([WatchTime(before)]).max()
    };
    next.map(|at| at.min(end)).filter(|at| *at > snap.at)
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::watch::input::TurnKind;
    use crate::watch::snapshot::{RodeView, TideView, TurnView, WindView};

    fn anchored() -> Snapshot {
        let at = WatchTime(1_780_000_000_000);
        let minute = |n: i64| at + Span::from_mins(n);
        Snapshot {
            at,
            wind: WindView { mean: Some(Knots(14.0)), ..WindView::default() },
            rode: RodeView { veered: Some(Metres(35.0)), ..RodeView::default() },
            tide: TideView {
                curve: Arc::new(vec![(at, Metres(4.0)), (minute(180), Metres(2.0))]),
                turns: vec![TurnView { at: minute(75), kind: TurnKind::Low, depth: Metres(2.0) }],
                ..TideView::default()
            },
            ..Snapshot::default()
        }
    }

    #[test]
    fn wind_goes_by_fives_and_stops_at_what_blows() {
        let snap = anchored();
        let mut suppose = Suppose::default();
        suppose.turn(Way::Up, &snap);
        assert_eq!(suppose.what_if.wind, Some(Knots(15.0)));
        suppose.turn(Way::Up, &snap);
        assert_eq!(suppose.what_if.wind, Some(Knots(20.0)));
        suppose.turn(Way::Down, &snap);
        suppose.turn(Way::Down, &snap);
        assert_eq!(suppose.what_if.wind, None);
        suppose.turn(Way::Down, &snap);
        assert_eq!(suppose.what_if.wind, Some(Knots(10.0)));
    }

    #[test]
    fn rode_ends_where_the_locker_does() {
        let snap = anchored();
        let mut suppose = Suppose { at_hand: Supposed::Rode, ..Suppose::default() };
        for _ in 0..9 {
            suppose.turn(Way::Up, &snap);
        }
        assert_eq!(suppose.what_if.veered, Some(Metres(50.0)));
    }

    #[test]
    fn time_stops_at_each_turn_and_never_leaves_the_tide() {
        let snap = anchored();
        let mut suppose = Suppose { at_hand: Supposed::Tide, ..Suppose::default() };
        let mut stops = Vec::new();
        for _ in 0..9 {
            suppose.turn(Way::Up, &snap);
            stops.push(suppose.what_if.at.unwrap().since(snap.at));
        }
        assert!(stops.contains(&Span::from_mins(75)) && stops.last() == Some(&Span::from_mins(180)));
        for _ in 0..12 {
            suppose.turn(Way::Down, &snap);
        }
        assert_eq!(suppose.what_if.at, None);
        let without = Snapshot { tide: TideView::default(), ..snap };
        suppose.turn(Way::Up, &without);
        assert_eq!(suppose.what_if.at, None);
    }

    #[test]
    fn a_moment_that_has_come_is_now() {
        let mut snap = anchored();
        let suppose = Suppose {
            what_if: WhatIf { at: Some(snap.at + Span(1)), ..WhatIf::default() },
            ..Suppose::default()
        };
        assert!(suppose.any());
        snap.at += Span(1);
        assert!(!suppose.settled(&snap).any());
    }
}
