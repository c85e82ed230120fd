//! The wind over the anchorage: a mean that changes, meander, gusts, squalls.

use serde::{Deserialize, Serialize};

use super::dice::{Dice, Drift};
use super::exact::{smooth, towards};
use crate::watch::geo::Local;
use crate::watch::units::{Knots, Span, TrueBearing};

/// What the wind does in a night.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weather {
    /// Ten-minute mean at the start.
    pub wind: Knots,
    /// Where it comes from at the start.
    pub from: TrueBearing,
    /// Turbulence intensity: standard deviation of the speed over its mean. 0.10 to 0.15 over open water, 0.2 and
    /// more off the land (from memory of wind-engineering practice).
    pub gustiness: f64,
    /// Standard deviation of the direction's slow meander, degrees.
    pub meander_deg: f64,
    /// Lasting changes, one after the other.
    pub changes: Vec<WindChange>,
    /// Squalls that pass.
    pub squalls: Vec<Squall>,
}

/// A lasting change of the mean wind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WindChange {
    /// When it begins, after the start.
    pub at: Span,
    /// How long it takes.
    pub over: Span,
    /// The mean speed afterwards.
    pub wind: Knots,
    /// How far the direction turns; clockwise (veering) is positive.
    pub turn_deg: f64,
}

/// A squall: a front of wind that comes within a minute or two and passes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Squall {
    /// When it begins, after the start.
    pub at: Span,
    /// How long it lasts.
    pub lasts: Span,
    /// What it adds to the mean.
    pub adds: Knots,
    /// How far it turns the wind while it lasts.
    pub turn_deg: f64,
}

/// A steady moderate wind, to be changed field by field.
impl Default for Weather {
    fn default() -> Self {
        Self {
            wind: Knots(14.0),
            from: TrueBearing::new(270.0),
            gustiness: 0.14,
            meander_deg: 7.0,
            changes: Vec::new(),
            squalls: Vec::new(),
        }
    }
}

impl Weather {
    /// Mean speed in knots and direction in degrees (unwrapped), `t_s` seconds after the start, squalls included.
    pub(super) fn mean(&self, t_s: f64) -> (f64, f64) {
        let (mut speed, mut from) = (self.wind.0, self.from.degrees());
        for change in &self.changes {
            let share = smooth((t_s - change.at.seconds()) / change.over.seconds().max(1.0));
            speed += (change.wind.0 - speed) * share;
            from += change.turn_deg * share;
        }
        for squall in &self.squalls {
            let since = t_s - squall.at.seconds();
            // It comes within 90 s and dies down over a third of its length.
            let share = smooth(since / 90.0)
                * smooth((squall.lasts.seconds() - since) / (squall.lasts.seconds() / 3.0));
            speed += squall.adds.0 * share;
            from += squall.turn_deg * share;
        }
        (speed.max(0.0), from)
    }
}

/// The wind at the boat, step by step.
///
/// Speed: mean plus two Gauss-Markov processes, gust fronts of about a minute and puffs of about seven seconds,
/// which share the turbulence intensity. Direction: mean plus meander of about a quarter of an hour, a faster
/// one of a minute and a half, and puffs. In light air the direction wanders more.
#[derive(Clone, Debug)]
pub(super) struct Wind {
    dice: Dice,
    fronts: Drift,
    puffs: Drift,
    meander: Drift,
    turns: Drift,
    flutter: Drift,
}

impl Wind {
    pub(super) fn new(weather: &Weather, step_s: f64, mut dice: Dice) -> Self {
        Self {
            fronts: Drift::new(0.7, 60.0, step_s, &mut dice),
            puffs: Drift::new(0.7, 7.0, step_s, &mut dice),
            meander: Drift::new(weather.meander_deg, 900.0, step_s, &mut dice),
            // Across the wind the air is about 0.8 times as turbulent as along it (from memory of wind engineering):
            // two processes that share this.
            turns: Drift::new(32.0 * weather.gustiness, 90.0, step_s, &mut dice),
            flutter: Drift::new(32.0 * weather.gustiness, 6.0, step_s, &mut dice),
            dice,
        }
    }

    /// Velocity of the air over the ground in m/s, as a vector *towards* which it blows, after one more step.
    pub(super) fn step(&mut self, weather: &Weather, t_s: f64) -> Local {
        let (mean, from) = weather.mean(t_s);
        let gust = self.fronts.step(&mut self.dice) + self.puffs.step(&mut self.dice);
        let speed = (mean * (1.0 + weather.gustiness * gust)).max(0.0);
        let light = 1.0 + 5.0 / (mean + 2.0);
        let direction = from
            + light * self.meander.step(&mut self.dice)
            + light * (self.turns.step(&mut self.dice) + self.flutter.step(&mut self.dice));
        towards(direction.to_radians()).scaled(-Knots(speed).mps())
    }
}
