//! Values in SI units, as digital protocols give them, checked and turned into the watch's own.
//!
//! The same limits hold as for sentences: what no instrument can measure is a missing value with a remark.

use std::f64::consts::TAU;

use jiff::civil::Date;

use super::geo::Position;
use super::nmea::{DEPTH_MAX, FixKind, KNOTS_MAX, NoFix, OFFSET_MAX, Remark, WIND_KNOTS_MAX, YEARS};
use super::units::{Knots, Metres, TrueBearing};

/// A full turn and one step of the coarsest protocol, radians: rounding reaches past the turn.
const TURN_MAX: f64 = TAU + 1e-4;

/// An angle in degrees, `0.0..360.0`, from radians.
pub(super) fn degrees(radians: f64) -> Result<f64, Remark> {
    within(radians, -TURN_MAX, TURN_MAX).map(|radians| TrueBearing::new(radians.to_degrees()).degrees())
}

/// A direction from true north, from radians.
pub(super) fn bearing(radians: f64) -> Result<TrueBearing, Remark> {
    degrees(radians).map(TrueBearing::new)
}

/// An angle from the bow, `-180.0..180.0` degrees, positive to starboard, from radians.
pub(super) fn from_bow(radians: f64) -> Result<f64, Remark> {
    degrees(radians).map(|degrees| if degrees >= 180.0 { degrees - 360.0 } else { degrees })
}

/// A correction of the compass, degrees, east positive, from radians.
pub(super) fn east_deg(radians: f64) -> Result<f64, Remark> {
    within(radians.to_degrees(), -180.0, 180.0)
}

/// A speed of the boat, from metres a second; through the water it may be astern.
pub(super) fn speed(mps: f64) -> Result<Knots, Remark> {
    within(Knots::from_mps(mps).0, -KNOTS_MAX, KNOTS_MAX).map(Knots)
}

/// A speed over the ground, from metres a second.
pub(super) fn sog(mps: f64) -> Result<Knots, Remark> {
    speed(mps).and_then(|speed| within(speed.0, 0.0, KNOTS_MAX)).map(Knots)
}

/// A wind's speed, from metres a second.
pub(super) fn wind_speed(mps: f64) -> Result<Knots, Remark> {
    within(Knots::from_mps(mps).0, 0.0, WIND_KNOTS_MAX).map(Knots)
}

/// A depth, metres.
pub(super) fn depth(metres: f64) -> Result<Metres, Remark> {
    within(metres, 0.0, DEPTH_MAX).map(Metres)
}

/// A sounder's offset, metres.
pub(super) fn offset(metres: f64) -> Result<Metres, Remark> {
    within(metres, -OFFSET_MAX, OFFSET_MAX).map(Metres)
}

/// A position that can be one: no place on earth beside it, and not the 0°, 0° of a receiver before its first fix.
pub(super) fn position(lat_deg: f64, lon_deg: f64) -> Result<Position, Remark> {
    if lat_deg == 0.0 && lon_deg == 0.0 {
        return Err(Remark::PositionZero);
    }
    Position::new(lat_deg, lon_deg).map_err(|_| Remark::PositionUnusable)
}

/// A date that a receiver can have now.
pub(super) fn date(date: Date) -> Result<Date, Remark> {
    if YEARS.contains(&date.year()) { Ok(date) } else { Err(Remark::YearUnlikely) }
}

/// `value` if it is a number from `low` to `high`.
pub(super) fn within(value: f64, low: f64, high: f64) -> Result<f64, Remark> {
    if (low..=high).contains(&value) { Ok(value) } else { Err(Remark::OutOfRange) }
}

/// What was wrong with a message: the first fault found stays.
#[derive(Debug, Default)]
pub(super) struct Notes(Option<Remark>);

impl Notes {
    /// The value, or a note of why it is missing.
    pub(super) fn take<T>(&mut self, value: Result<T, Remark>) -> Option<T> {
        value.map_err(|why| self.note(why)).ok()
    }

    /// The position that a receiver gives by a method, or why that is no fix, with a note of it. `None`: each part of it is
    /// missing.
    pub(super) fn fix(
        &mut self,
        kind: Result<FixKind, NoFix>,
        position: Option<Result<Position, Remark>>,
    ) -> Result<(Position, FixKind), NoFix> {
        let (remark, why) = match (kind, position) {
            (Ok(kind), Some(Ok(position))) => return Ok((position, kind)),
            (Ok(_), Some(Err(remark))) => (remark, NoFix::Unusable),
            (Ok(_), None) => (Remark::Void, NoFix::Void),
            (Err(why), _) => (Remark::from_no_fix(why), why),
        };
        self.note(remark);
        Err(why)
    }

    pub(super) fn note(&mut self, remark: Remark) {
        self.0.get_or_insert(remark);
    }

    pub(super) fn remark(&self) -> Option<Remark> {
        self.0
    }
}
