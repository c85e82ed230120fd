//! The pressure of the air: how it changes in three hours, and what that does to the sea.

use std::collections::VecDeque;

use super::sea::{CorrectedBy, Correction};
use crate::watch::tuning::sea::{BAROMETER_AGE, METRES_PER_HPA, TENDENCY_OVER};
use crate::watch::units::{Metres, Span, WatchTime};

/// One reading is kept for each so long.
const KEPT_EVERY: Span = Span::from_mins(5);

/// What the barometer has shown.
#[derive(Clone, Debug, Default)]
pub struct Barometer {
    /// The last three hours, the oldest first.
    past: VecDeque<(WatchTime, f64)>,
    last: Option<(WatchTime, f64)>,
    /// When the tide was tied, and the pressure then: the first heard after, if none was heard before.
    tied: Option<(WatchTime, Option<f64>)>,
}

impl Barometer {
    /// Takes a reading in hectopascals.
    pub fn hear(&mut self, now: WatchTime, hpa: Option<f64>) {
        let Some(hpa) = hpa else { return };
        self.last = Some((now, hpa));
        if self.past.back().is_none_or(|(at, _)| now.since(*at) >= KEPT_EVERY) {
            self.past.push_back((now, hpa));
            while self.past.front().is_some_and(|(at, _)| now.since(*at) > TENDENCY_OVER + KEPT_EVERY) {
                self.past.pop_front();
            }
        }
        if let Some((_, pressure @ None)) = &mut self.tied {
            *pressure = Some(hpa);
        }
    }

    /// The tide is tied to a sounding of that time.
    pub fn tie(&mut self, sounded_at: Option<WatchTime>) {
        let then = |at: WatchTime| {
            let near = self.past.iter().min_by_key(|(kept, _)| kept.since(at).0.abs());
            near.filter(|(kept, _)| kept.since(at).0.abs() <= BAROMETER_AGE.0).map(|(_, hpa)| *hpa)
        };
        self.tied = sounded_at.map(|at| (at, then(at)));
    }

    /// The pressure now in hectopascals, and its change over three hours, once it was heard for so long.
    #[must_use]
    pub fn reading(&self, now: WatchTime) -> Option<(f64, Option<f64>)> {
        let (_, hpa) = self.last.filter(|(at, _)| now.since(*at) <= BAROMETER_AGE)?;
        let then = self.past.iter().rfind(|(at, _)| now.since(*at) >= TENDENCY_OVER);
        Some((hpa, then.map(|(_, before)| hpa - before)))
    }

    /// What the change of pressure since the sounding does to the sea. Its doubt is as great as itself: over a shelf or in a
    /// bay the sea answers late, more, or not at all, and the wind that comes with it does more.
    #[must_use]
    pub fn correction(&self, now: WatchTime) -> Option<Correction> {
        let (hpa, _) = self.reading(now)?;
        let (_, tied) = self.tied?;
        let by = Metres((tied? - hpa) * METRES_PER_HPA);
        let at = self.last?.0;
        Some(Correction {
            by,
            doubt: Metres(by.0.abs()),
            at,
            growth_m_per_h: 0.0,
            by_what: CorrectedBy::Barometer,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minute(m: i64) -> WatchTime {
        WatchTime(m * 60_000)
    }

    #[test]
    fn a_fall_over_three_hours_is_told_once_three_hours_were_heard() {
        let mut barometer = Barometer::default();
        for m in 0..=180 {
            barometer.hear(minute(m), Some(1013.0 - m as f64 / 30.0));
        }
        let (hpa, change) = barometer.reading(minute(180)).unwrap();
        assert!((hpa - 1007.0).abs() < 1e-9 && (change.unwrap() + 6.0).abs() < 0.01, "{hpa} {change:?}");
        assert_eq!(barometer.reading(minute(170)).unwrap().1, None);
        assert_eq!(barometer.reading(minute(180) + BAROMETER_AGE + Span(1)), None);
    }

    #[test]
    fn a_rise_of_pressure_takes_water_at_once_and_a_fall_gives_none() {
        let mut barometer = Barometer::default();
        barometer.hear(minute(0), Some(1000.0));
        barometer.tie(Some(minute(0)));
        barometer.hear(minute(60), Some(1020.0));
        let rises = barometer.correction(minute(60)).unwrap();
        assert!((rises.for_least().0 + 0.2).abs() < 1e-9 && rises.for_greatest() == Metres(0.0), "{rises:?}");
        barometer.hear(minute(61), Some(980.0));
        let falls = barometer.correction(minute(61)).unwrap();
        assert!(falls.for_least() == Metres(0.0) && (falls.for_greatest().0 - 0.2).abs() < 1e-9, "{falls:?}");
    }
}
