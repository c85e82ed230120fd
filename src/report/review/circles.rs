//! Which circle would have been right: for every radius, when it would first have raised `outside`.
//!
//! `outside` is raised when the bow has lain outside for as long as the limit says, without a break. A circle of radius
//! r is therefore silent just as long as in no stretch of that length every distance was greater than r: the greatest
//! radius that is crossed is the greatest, over all such stretches, of the least distance in it. One pass and a queue
//! of falling candidates find that for all radii at once.

use std::collections::VecDeque;

use crate::watch::units::{Metres, Span, WatchTime};

/// Radii that are told apart.
const STEP: Metres = Metres(0.1);
/// Radii beyond this are of no use to anybody.
const MOST: Metres = Metres(2000.0);
/// A distance older than this says nothing about now.
const STALE: Span = Span::from_secs(15);

/// Follows the distances of a night.
#[derive(Clone, Debug, Default)]
pub struct Circles {
    /// Distances of the stretch, each with what none after it undercuts: rising.
    least: VecDeque<(WatchTime, Metres)>,
    /// Since when there was no break.
    since: Option<WatchTime>,
    /// Radii crossed so far, rising, and when each was first.
    crossed: Vec<(Metres, WatchTime)>,
}

impl Circles {
    /// Takes the distance of a second: when the bow was seen there, and how far from the drop point. `None` where
    /// nothing was watched. `patience` is how long she must lie outside.
    pub fn note(&mut self, now: WatchTime, off: Option<(WatchTime, Metres)>, patience: Span) {
        let Some((_, off)) = off.filter(|(at, off)| now.since(*at) <= STALE && off.0.is_finite()) else {
            self.since = None;
            self.least.clear();
            return;
        };
        let since = *self.since.get_or_insert(now);
        while self.least.back().is_some_and(|(_, later)| later.0 >= off.0) {
            self.least.pop_back();
        }
        self.least.push_back((now, off));
        while self.least.front().is_some_and(|(at, _)| now.since(*at) > patience) {
            self.least.pop_front();
        }
        if now.since(since) < patience {
            return;
        }
        let Some((_, least)) = self.least.front() else { return };
        let before = self.crossed.last().map_or(Metres(0.0), |(radius, _)| *radius);
        if *least > before + STEP && before < MOST {
            self.crossed.push((*least, now));
        }
    }

    /// When a circle of that radius would first have raised `outside`.
    #[must_use]
    pub fn first_outside(&self, radius: Metres) -> Option<WatchTime> {
        let first = self.crossed.partition_point(|(crossed, _)| crossed.0 <= radius.0);
        self.crossed.get(first).map(|(_, at)| *at)
    }

    /// The smallest circle, in whole half metres, that would have been silent until then.
    #[must_use]
    pub fn smallest_silent(&self, until: WatchTime) -> Option<Metres> {
        let crossed = self.crossed.iter().rev().find(|(_, at)| *at < until)?.0;
        Some(Metres(
            (crossed.0 * 2.0).ceil() / 2.0 + if (crossed.0 * 2.0).fract() == 0.0 { 0.5 } else { 0.0 },
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PATIENCE: Span = Span::from_secs(20);

    fn followed(distances: impl Iterator<Item = f64>) -> Circles {
        let mut circles = Circles::default();
        for (second, off) in (0_i64..).zip(distances) {
            let now = WatchTime(second * 1000);
            circles.note(now, off.is_finite().then_some((now, Metres(off))), PATIENCE);
        }
        circles
    }

    /// The rule itself, for one radius.
    fn outside_at(distances: &[f64], radius: f64) -> Option<WatchTime> {
        let mut since = None;
        for (second, off) in (0_i64..).zip(distances) {
            since = if *off > radius { since.or(Some(second)) } else { None };
            if since.is_some_and(|since| second - since >= 20) {
                return Some(WatchTime(second * 1000));
            }
        }
        None
    }

    #[test]
    fn every_radius_alarms_when_the_rule_itself_says() {
        let distances: Vec<f64> = (0..3000)
            .map(f64::from)
            .map(|s| {
                if (700.0..705.0).contains(&s) {
                    return f64::NAN;
                }
                30.0 + 6.0 * (s / 47.0).sin() + 3.0 * (s / 11.0).cos() + s / 400.0
            })
            .collect();
        let circles = followed(distances.iter().copied());
        for tenths in 200..480 {
            let radius = f64::from(tenths) / 10.0 + 0.05;
            let by_rule = outside_at(&distances, radius);
            let found = circles.first_outside(Metres(radius));
            // Radii are told apart by a tenth of a metre.
            let near = [radius - 0.1, radius + 0.1].map(|near| outside_at(&distances, near));
            assert!(found == by_rule || near.contains(&found), "{radius}: {found:?} not {by_rule:?}");
        }
    }

    #[test]
    fn a_short_excursion_asks_for_no_wider_circle() {
        let circles = followed((0..600).map(|s| if (300..315).contains(&s) { 60.0 } else { 25.2 }));
        assert_eq!(circles.smallest_silent(WatchTime(i64::MAX)), Some(Metres(25.5)));
        assert_eq!(circles.first_outside(Metres(25.5)), None);
    }
}
