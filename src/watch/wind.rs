//! Mean wind, gusts and shift.
//!
//! Source: WMO-No. 8, *Guide to Instruments and Methods of Observation*, ch. 5 (from memory): the mean is over ten
//! minutes; a gust is the greatest three-second running mean in them.

use std::collections::VecDeque;

use super::circular::{DirectionMean, Unit};
use super::tuning::wind::{DIRECTION_FROM, GUST_S, MEAN_S};
use super::units::{Knots, Span, TrueBearing, WatchTime};

/// The longest window that the crew may ask of the shift.
pub const WINDOW_MAX: Span = Span::from_mins(60);

/// One second of true wind.
#[derive(Clone, Copy, Debug)]
struct Second {
    at: WatchTime,
    speed: Knots,
    gust: Knots,
    direction: Option<Unit>,
}

/// The wind of the last hour, by the second.
#[derive(Clone, Debug, Default)]
pub struct Wind {
    seconds: VecDeque<Second>,
    reference: Option<TrueBearing>,
    answered: Option<TrueBearing>,
    wants_reference: bool,
}

/// Speeds over the last ten minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Speeds {
    /// The mean.
    pub mean: Knots,
    /// The greatest three-second mean.
    pub gust: Knots,
}

impl Wind {
    /// Adds one second of wind: its mean speed, and the direction it comes from where the heading is known.
    pub fn second(&mut self, at: WatchTime, speed: Knots, direction: Option<TrueBearing>) {
        self.forget(at);
        let recent =
            self.seconds.iter().rev().take(GUST_S - 1).filter(|s| at.since(s.at).0 < GUST_S as i64 * 1000);
        let (sum, count) = recent.fold((speed.0, 1.0), |(sum, n), s| (sum + s.speed.0, n + 1.0));
        let direction = direction.filter(|_| speed >= DIRECTION_FROM).map(Unit::of);
        // A gust lasts three seconds: before there are three there is none to speak of.
        let gust = if count >= GUST_S as f64 { Knots(sum / count) } else { Knots(0.0) };
        self.seconds.push_back(Second { at, speed, gust, direction });
    }

    /// Drops what is older than the longest window.
    fn forget(&mut self, now: WatchTime) {
        while self.seconds.front().is_some_and(|s| now.since(s.at) >= WINDOW_MAX) {
            self.seconds.pop_front();
        }
    }

    /// Mean and gust over ten minutes to `now`; `None` while they hold less than a minute of values.
    #[must_use]
    pub fn speeds(&self, now: WatchTime) -> Option<Speeds> {
        let from = now - Span::from_secs(MEAN_S as i64);
        let mut speeds = (0.0, 0.0_f64, 0_u32);
        for second in self.seconds.iter().rev().take_while(|s| s.at > from) {
            speeds = (speeds.0 + second.speed.0, speeds.1.max(second.gust.0), speeds.2 + 1);
        }
        (speeds.2 >= 60)
            .then(|| Speeds { mean: Knots(speeds.0 / f64::from(speeds.2)), gust: Knots(speeds.1) })
    }

    /// Mean direction over `window` to `now`; `None` while less than a tenth of it has one, or they scatter.
    #[must_use]
    pub fn direction(&self, now: WatchTime, window: Span) -> Option<TrueBearing> {
        let from = now - Span(window.0.clamp(1000, WINDOW_MAX.0));
        let mut mean = DirectionMean::default();
        let mut count = 0;
        for direction in self.seconds.iter().rev().take_while(|s| s.at > from).filter_map(|s| s.direction) {
            mean.add_unit(direction, 1.0);
            count += 1;
        }
        (count * 10_000 >= window.0).then(|| mean.mean()).flatten()
    }

    /// The wind to measure shifts against is the mean from now on as soon as there is one.
    pub fn take_reference(&mut self) {
        self.reference = None;
        self.answered = None;
        self.wants_reference = true;
    }

    /// The crew has seen the shift: the next is measured from here.
    pub fn shift_answered(&mut self, mean: Option<TrueBearing>) {
        self.answered = mean.or(self.answered);
    }

    /// Gives the mean of this second, which becomes the reference if one is still wanted.
    pub fn settle_reference(&mut self, mean: Option<TrueBearing>) {
        if self.wants_reference && mean.is_some() {
            self.reference = mean;
            self.wants_reference = false;
        }
    }

    /// The mean direction when she was brought up.
    #[must_use]
    pub fn reference(&self) -> Option<TrueBearing> {
        self.reference
    }

    /// The direction against which the next shift counts: since brought up, or since the last was answered.
    #[must_use]
    pub fn shift_origin(&self) -> Option<TrueBearing> {
        self.answered.or(self.reference)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(wind: &mut Wind, from_s: i64, seconds: i64, speed: f64, direction: f64) {
        for s in from_s..from_s + seconds {
            wind.second(WatchTime(s * 1000), Knots(speed), Some(TrueBearing::new(direction)));
        }
    }

    #[test]
    fn a_gust_is_the_greatest_mean_of_three_seconds() {
        let mut wind = Wind::default();
        steady(&mut wind, 0, 100, 10.0, 200.0);
        steady(&mut wind, 100, 1, 40.0, 200.0);
        steady(&mut wind, 101, 99, 10.0, 200.0);
        let speeds = wind.speeds(WatchTime(199_000)).unwrap();
        assert!((speeds.gust.0 - 20.0).abs() < 1e-9, "one second of 40 in 10 kn is a gust of 20: {speeds:?}");
        assert!((speeds.mean.0 - (199.0 * 10.0 + 40.0) / 200.0).abs() < 1e-9);
    }

    #[test]
    fn a_gust_leaves_after_ten_minutes() {
        let mut wind = Wind::default();
        steady(&mut wind, 0, 10, 30.0, 200.0);
        steady(&mut wind, 10, 700, 10.0, 200.0);
        assert!((wind.speeds(WatchTime(709_000)).unwrap().gust.0 - 10.0).abs() < 1e-9);
    }

    #[test]
    fn directions_average_across_north_and_light_airs_have_none() {
        let mut wind = Wind::default();
        for s in 0..120 {
            wind.second(
                WatchTime(s * 1000),
                Knots(8.0),
                Some(TrueBearing::new(if s % 2 == 0 { 350.0 } else { 10.0 })),
            );
        }
        let mean = wind.direction(WatchTime(119_000), Span::from_mins(10)).unwrap();
        assert!(mean.turn_to(TrueBearing::new(0.0)).abs() < 1e-6);
        let mut calm = Wind::default();
        steady(&mut calm, 0, 600, 1.0, 90.0);
        assert_eq!(calm.direction(WatchTime(599_000), Span::from_mins(10)), None);
    }

    #[test]
    fn memory_is_an_hour() {
        let mut wind = Wind::default();
        steady(&mut wind, 0, 20_000, 10.0, 10.0);
        assert_eq!(wind.seconds.len(), 3600);
    }
}
