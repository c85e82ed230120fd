//! The water over the anchor: tide, stream, seabed, and the small sea that runs in the anchorage.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::exact::{cos, sin, towards};
use crate::watch::geo::Local;
use crate::watch::input::{TurnKind, TypedTurn};
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};

/// Half of a lunar day, the time from high water to high water: 12 h 25 min 14 s (period of M2, 12.4206 h).
pub const TIDE_PERIOD: Span = Span(44_714_000);

/// The tide: a cosine between high and low waters of equal height, and what the weather adds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tide {
    /// Mean level above chart datum.
    pub mean: Metres,
    /// From low water to high water.
    pub range: Metres,
    /// The first high water after the start.
    pub high_water: Span,
    /// What the weather adds to the table, all night.
    pub surge: Metres,
}

impl Default for Tide {
    fn default() -> Self {
        Self { mean: Metres(2.0), range: Metres(2.0), high_water: Span::from_mins(180), surge: Metres(0.0) }
    }
}

impl Tide {
    /// Height above chart datum, metres, `t_s` seconds after the start.
    pub(super) fn height_m(&self, t_s: f64) -> f64 {
        let phase = TAU * (t_s - self.high_water.seconds()) / TIDE_PERIOD.seconds();
        self.mean.0 + self.surge.0 + 0.5 * self.range.0 * cos(phase)
    }

    /// High and low waters as a local table would print them, from one before the start to two after the end.
    #[must_use]
    pub fn table(&self, start: WatchTime, duration: Span) -> Vec<TypedTurn> {
        let half = TIDE_PERIOD.0 / 2;
        let first = self.high_water.0.div_euclid(half) + 1;
        let last = (duration.0 - self.high_water.0).div_euclid(half) + 2;
        (-first..=last)
            .map(|turn| {
                let high = turn.rem_euclid(2) == 0;
                TypedTurn {
                    time: start + Span(self.high_water.0 + turn * half),
                    // In whole centimetres, as tables print.
                    height: Metres(
                        (100.0 * (self.mean.0 + if high { 0.5 } else { -0.5 } * self.range.0)).round()
                            / 100.0,
                    ),
                    kind: if high { TurnKind::High } else { TurnKind::Low },
                }
            })
            .collect()
    }
}

/// The tidal stream: to and fro along an axis, with a little turning.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stream {
    /// Greatest speed along the axis.
    pub peak: Knots,
    /// Where the flood sets to.
    pub flood_to: TrueBearing,
    /// Speed across the axis at slack water, as a share of the peak: the stream turns through it, clockwise when
    /// positive.
    pub rotary: f64,
    /// The first slack before a flood, after the start.
    pub slack: Span,
}

impl Default for Stream {
    /// No stream to speak of.
    fn default() -> Self {
        Self { peak: Knots(0.0), flood_to: TrueBearing::new(0.0), rotary: 0.1, slack: Span::ZERO }
    }
}

impl Stream {
    /// Velocity of the water over the ground, m/s.
    pub(super) fn velocity(&self, t_s: f64) -> Local {
        if self.peak.0 == 0.0 {
            return Local::default();
        }
        let phase = TAU * (t_s - self.slack.seconds()) / TIDE_PERIOD.seconds();
        let axis = towards(self.flood_to.degrees().to_radians());
        let across = Local::new(axis.north_m, -axis.east_m);
        let peak_mps = self.peak.mps();
        axis.scaled(peak_mps * sin(phase)) + across.scaled(-peak_mps * self.rotary * cos(phase))
    }
}

/// The ground: how deep, and how it slopes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Seabed {
    /// Charted depth where the anchor is to go: below chart datum.
    pub charted: Metres,
    /// Metres deeper for every metre towards `deepens_to`.
    pub slope: f64,
    /// The direction in which it deepens.
    pub deepens_to: TrueBearing,
}

impl Seabed {
    /// Charted depth at a place, metres.
    pub(super) fn charted_m(&self, at: Local) -> f64 {
        self.charted.0 + self.slope * towards(self.deepens_to.degrees().to_radians()).dot(at)
    }
}

/// The small sea in the anchorage, as it heaves a boat to and fro on her rode.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sea {
    /// Significant height for every 10 kn of wind; 0.05 m well sheltered, 0.3 m with a mile or two of open water
    /// (common practice, no source).
    pub height_per_10_kn: Metres,
    /// Swell from outside, whatever the wind.
    pub swell: Metres,
}

impl Default for Sea {
    fn default() -> Self {
        Self { height_per_10_kn: Metres(0.08), swell: Metres(0.0) }
    }
}

impl Sea {
    /// Significant wave height in metres.
    pub(super) fn height_m(&self, wind_kn: f64) -> f64 {
        let local = self.height_per_10_kn.0 * wind_kn / 10.0;
        (local * local + self.swell.0 * self.swell.0).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_agrees_with_the_water() {
        let tide = Tide { high_water: Span::from_mins(400), ..Tide::default() };
        let start = WatchTime(1_767_225_600_000);
        let duration = Span::from_mins(600);
        let turns = tide.table(start, duration);
        assert!(turns[0].time < start && turns[turns.len() - 1].time > start + duration);
        for turn in turns {
            let height_m = tide.height_m(turn.time.since(start).seconds());
            assert!((height_m - turn.height.0).abs() < 0.005_1, "{turn:?} {height_m}");
        }
    }
}
