//! The wind that is to come: what the crew entered of the forecast, and the wind at any moment of it.
//!
//! Between two entries speed and direction change evenly, the direction the shorter way round. Before the first and after
//! the last the nearest one is taken to blow: nothing is taken to ease because nobody said so.

mod typed;

pub use typed::{ENTRIES_MAX, TypedWindError, in_words, parse, point_of};

use serde::{Deserialize, Serialize};

use super::rode::GUST_FACTOR;
use super::units::{Knots, Span, TrueBearing, WatchTime};

/// The wind at a moment, as it is forecast.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WindThen {
    /// When.
    pub at: WatchTime,
    /// Where it comes from; `None`: variable, from anywhere.
    pub from: Option<TrueBearing>,
    /// Mean of ten minutes.
    pub mean: Knots,
    /// Gusts; `None`: not given, the usual share of the mean.
    #[serde(default)]
    pub gust: Option<Knots>,
}

impl WindThen {
    /// The gusts to allow for: those given, else the usual share of the mean.
    #[must_use]
    pub fn gust(&self) -> Knots {
        self.gust.unwrap_or(self.mean * GUST_FACTOR).max(self.mean)
    }

    /// `W 25, gusts 35`.
    #[must_use]
    pub fn words(&self) -> String {
        let from = self.from.map_or("variable", typed::point_of);
        format!("{from} {:.0} kn, gusts {:.0}", self.mean.0, self.gust().0)
    }
}

/// The wind by the hour. Never empty; oldest first, no two at one moment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<WindThen>", into = "Vec<WindThen>")]
pub struct Forecast {
    winds: Vec<WindThen>,
}

/// Winds that make no forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoForecast {
    /// There is none.
    #[error("no wind")]
    Empty,
    /// More than are kept.
    #[error("more than {ENTRIES_MAX} winds")]
    TooMany,
    /// A speed that is none, or no wind that blows on this earth.
    #[error("a wind of less than 0 or more than 150 kn, or gusts of more than 220 kn")]
    NoSpeed,
}

/// The hardest mean wind and gust that are taken: no forecast has more.
pub const WIND_KN_MOST: f64 = 150.0;
/// See [`WIND_KN_MOST`].
pub const GUST_KN_MOST: f64 = 220.0;

impl TryFrom<Vec<WindThen>> for Forecast {
    type Error = NoForecast;

    fn try_from(mut winds: Vec<WindThen>) -> Result<Self, NoForecast> {
        let is_wind = |wind: &WindThen| {
            (0.0..=WIND_KN_MOST).contains(&wind.mean.0)
                && wind.gust.is_none_or(|gust| (0.0..=GUST_KN_MOST).contains(&gust.0))
        };
        if winds.is_empty() {
            return Err(NoForecast::Empty);
        }
        if winds.len() > ENTRIES_MAX {
            return Err(NoForecast::TooMany);
        }
        if !winds.iter().all(is_wind) {
            return Err(NoForecast::NoSpeed);
        }
        winds.sort_by_key(|wind| wind.at);
        winds.dedup_by_key(|wind| wind.at);
        Ok(Self { winds })
    }
}

impl From<Forecast> for Vec<WindThen> {
    fn from(forecast: Forecast) -> Self {
        forecast.winds
    }
}

impl Forecast {
    /// One wind for all the time.
    #[must_use]
    pub fn steady(wind: WindThen) -> Self {
        Self { winds: vec![wind] }
    }

    /// The winds as they were entered, oldest first.
    #[must_use]
    pub fn winds(&self) -> &[WindThen] {
        &self.winds
    }

    /// The first moment of which anything was said.
    #[must_use]
    pub fn from(&self) -> WatchTime {
        self.winds[0].at
    }

    /// The last moment of which anything was said.
    #[must_use]
    pub fn until(&self) -> WatchTime {
        self.winds[self.winds.len() - 1].at
    }

    /// The wind at a moment.
    #[must_use]
    pub fn at(&self, at: WatchTime) -> WindThen {
        let after = self.winds.partition_point(|wind| wind.at <= at);
        let before = after.checked_sub(1).and_then(|i| self.winds.get(i));
        match (before, self.winds.get(after)) {
            (Some(before), Some(next)) => between(before, next, at),
            (Some(one), None) | (None, Some(one)) => WindThen { at, ..*one },
            // A forecast is never empty.
            (None, None) => WindThen { at, from: None, mean: Knots(0.0), gust: None },
        }
    }

    /// The hardest wind between two moments, with the hardest gust of that time.
    #[must_use]
    pub fn hardest(&self, from: WatchTime, until: WatchTime) -> WindThen {
        let ends = [self.at(from), self.at(until)];
        let within = self.winds.iter().copied().filter(|wind| wind.at > from && wind.at < until);
        let all: Vec<WindThen> = ends.into_iter().chain(within).collect();
        let hardest = all.iter().max_by(|a, b| a.mean.0.total_cmp(&b.mean.0)).copied();
        let gust = all.iter().map(WindThen::gust).fold(Knots(0.0), Knots::max);
        hardest.map_or(ends[0], |wind| WindThen { gust: Some(gust), ..wind })
    }

    /// The same wind, every part of it changed.
    #[must_use]
    pub fn changed(&self, change: impl Fn(WindThen) -> WindThen) -> Self {
        Self { winds: self.winds.iter().map(|wind| change(*wind)).collect() }
    }

    /// The same wind so much earlier.
    #[must_use]
    pub fn earlier(&self, by: Span) -> Self {
        self.changed(|wind| WindThen { at: wind.at - by, ..wind })
    }
}

/// Part of the way from one wind to the next.
fn between(before: &WindThen, next: &WindThen, at: WatchTime) -> WindThen {
    let share = at.since(before.at).0 as f64 / next.at.since(before.at).0.max(1) as f64;
    let part = |a: Knots, b: Knots| a + (b - a) * share;
    // In between a wind that nobody gives a direction it may come from anywhere.
    let from = before.from.zip(next.from).map(|(a, b)| a.turned(a.turn_to(b) * share));
    let from = if share == 0.0 { before.from } else { from };
    let gust = (before.gust.is_some() || next.gust.is_some()).then(|| part(before.gust(), next.gust()));
    WindThen { at, from, mean: part(before.mean, next.mean), gust }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn then(h: i64, deg: f64, mean: f64, gust: Option<f64>) -> WindThen {
        WindThen {
            at: WatchTime(h * 3_600_000),
            from: Some(TrueBearing::new(deg)),
            mean: Knots(mean),
            gust: gust.map(Knots),
        }
    }

    #[test]
    fn the_wind_changes_evenly_and_turns_the_shorter_way() {
        let forecast =
            Forecast::try_from(vec![then(6, 20.0, 25.0, None), then(0, 340.0, 15.0, None)]).unwrap();
        let mid = forecast.at(WatchTime(3 * 3_600_000));
        assert_eq!((mid.from.unwrap().degrees(), mid.mean), (0.0, Knots(20.0)));
        assert!((mid.gust().0 - 28.0).abs() < 1e-9);
        assert_eq!(forecast.at(WatchTime(-9)).mean, Knots(15.0));
        assert_eq!(forecast.at(WatchTime(99 * 3_600_000)).mean, Knots(25.0));
    }

    #[test]
    fn the_hardest_wind_has_the_hardest_gust_of_the_time() {
        let hours =
            vec![then(0, 0.0, 10.0, Some(30.0)), then(2, 0.0, 20.0, Some(24.0)), then(4, 0.0, 5.0, None)];
        let forecast = Forecast::try_from(hours).unwrap();
        let hardest = forecast.hardest(WatchTime(0), WatchTime(4 * 3_600_000));
        assert_eq!((hardest.mean, hardest.gust), (Knots(20.0), Some(Knots(30.0))));
    }

    #[test]
    fn what_is_no_wind_makes_no_forecast() {
        assert_eq!(Forecast::try_from(Vec::new()), Err(NoForecast::Empty));
        assert_eq!(Forecast::try_from(vec![then(0, 0.0, f64::NAN, None)]), Err(NoForecast::NoSpeed));
        assert_eq!(Forecast::try_from(vec![then(0, 0.0, 1.0, None); 500]), Err(NoForecast::TooMany));
        let read: Result<Forecast, _> = serde_json::from_str("[]");
        assert!(read.is_err());
    }
}
