//! The time that a strip or a graph covers.

use super::scene::Scene;
use crate::watch::units::{Span, WatchTime};

const HOUR_MS: i64 = 3_600_000;

/// The time that a strip or a graph covers, left to right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Its left edge.
    pub from: WatchTime,
    /// Its right edge.
    pub to: WatchTime,
}

impl Stretch {
    /// The night about now: from brought up (at most twelve hours ago) to as far ahead as anything is known.
    ///
    /// Whole hours, so that it moves once an hour and not with every minute.
    #[must_use]
    pub fn night(scene: &Scene) -> Self {
        let now = scene.snap.at;
        let first = scene.snap.minutes.first().map_or(now, |minute| minute.at);
        let oldest = now - Span(12 * HOUR_MS);
        let from = first.max(oldest).min(now).0.div_euclid(HOUR_MS) * HOUR_MS;
        let forecast = scene.snap.ahead.forecast.as_ref().map_or(now, |forecast| forecast.until());
        let tide = scene.snap.tide.curve.last().map_or(now, |(at, _)| *at);
        let known = tide.max(forecast).max(now + Span(4 * HOUR_MS));
        let to = known
            .min(now + Span(12 * HOUR_MS))
            .0
            .div_euclid(HOUR_MS)
            .saturating_add(1)
            .saturating_mul(HOUR_MS);
        Self { from: WatchTime(from), to: WatchTime(to) }
    }

    /// Its length.
    #[must_use]
    pub fn length(self) -> Span {
        self.to.since(self.from)
    }

    /// The part of the way across at a moment; outside `0.0..=1.0` beyond its ends.
    #[must_use]
    pub fn across(self, at: WatchTime) -> f64 {
        at.since(self.from).0 as f64 / self.length().0.max(1) as f64
    }

    /// The time that one of `columns` columns covers.
    #[must_use]
    pub fn slice(self, column: u16, columns: u16) -> (WatchTime, WatchTime) {
        let edge = |n: u16| self.from + Span(self.length().0 / i64::from(columns.max(1)) * i64::from(n));
        (edge(column), edge(column + 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slices_join_without_a_gap() {
        let stretch = Stretch { from: WatchTime(0), to: WatchTime(16 * HOUR_MS) };
        assert_eq!(stretch.slice(0, 100).1, stretch.slice(1, 100).0);
        assert_eq!(stretch.across(WatchTime(8 * HOUR_MS)), 0.5);
    }
}
