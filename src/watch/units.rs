//! Quantities with their units, and the watch's own time.
//!
//! Newtypes cross module boundaries; inside a formula raw numbers carry the unit in their name.

use std::fmt;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// One foot in metres (international yard and pound agreement, 1959: exact).
pub const M_PER_FOOT: f64 = 0.3048;

/// One knot in metres per second: 1852 m in an hour (BIPM, SI Brochure, 8th ed., table 8).
pub const MPS_PER_KNOT: f64 = 1852.0 / 3600.0;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl $name {
            /// The larger of the two.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
            /// The smaller of the two.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }
        }
    };
}

quantity!(
    /// A length, height or depth in metres.
    Metres
);
quantity!(
    /// A speed in knots.
    Knots
);
quantity!(
    /// A force in newtons.
    Newtons
);

impl Knots {
    /// The same speed in metres per second.
    #[must_use]
    pub fn mps(self) -> f64 {
        self.0 * MPS_PER_KNOT
    }

    /// A speed given in metres per second.
    #[must_use]
    pub fn from_mps(mps: f64) -> Self {
        Self(mps / MPS_PER_KNOT)
    }
}

/// A direction in degrees from true north, clockwise, always in `0.0..360.0`.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(from = "f64", into = "f64")]
pub struct TrueBearing(f64);

impl TrueBearing {
    /// Wraps any finite angle in degrees into `0.0..360.0`.
    #[must_use]
    pub fn new(degrees: f64) -> Self {
        let wrapped = degrees.rem_euclid(360.0);
        // A tiny negative angle wraps to exactly 360.
        Self(if wrapped >= 360.0 { 0.0 } else { wrapped })
    }

    /// Degrees, `0.0..360.0`.
    #[must_use]
    pub fn degrees(self) -> f64 {
        self.0
    }

    /// Radians, `0.0..2π`.
    #[must_use]
    pub fn radians(self) -> f64 {
        self.0.to_radians()
    }

    /// This direction turned clockwise by `degrees` (negative: anticlockwise).
    #[must_use]
    pub fn turned(self, degrees: f64) -> Self {
        Self::new(self.0 + degrees)
    }

    /// The opposite direction.
    #[must_use]
    pub fn reversed(self) -> Self {
        self.turned(180.0)
    }

    /// Signed turn from `self` to `other` in degrees, `-180.0..180.0`; positive clockwise (a wind that veers).
    #[must_use]
    pub fn turn_to(self, other: Self) -> f64 {
        (other.0 - self.0 + 180.0).rem_euclid(360.0) - 180.0
    }
}

impl From<f64> for TrueBearing {
    fn from(degrees: f64) -> Self {
        Self::new(degrees)
    }
}

impl From<TrueBearing> for f64 {
    fn from(bearing: TrueBearing) -> Self {
        bearing.0
    }
}

impl fmt::Display for TrueBearing {
    /// Three figures, as a bearing is spoken: `047°`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:03.0}°", self.0.round() % 360.0)
    }
}

/// A length of time in whole milliseconds. May be negative where a difference is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Span(pub i64);

impl Span {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// A span of whole milliseconds.
    #[must_use]
    pub const fn from_millis(millis: i64) -> Self {
        Self(millis)
    }

    /// A span of whole seconds.
    #[must_use]
    pub const fn from_secs(seconds: i64) -> Self {
        Self(seconds * 1000)
    }

    /// A span of whole minutes.
    #[must_use]
    pub const fn from_mins(minutes: i64) -> Self {
        Self(minutes * 60_000)
    }

    /// Seconds with their fraction.
    #[must_use]
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1000.0
    }
}

impl Add for Span {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl fmt::Display for Span {
    /// In words short enough for a screen: `45 s`, `12 min`, `6 h 12 min`, `3 d 4 h`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.0.max(0) / 1000;
        let (minutes, hours, days) = (seconds / 60, seconds / 3600, seconds / 86_400);
        match seconds {
            0..120 => write!(f, "{seconds} s"),
            120..3600 => write!(f, "{minutes} min"),
            3600..172_800 => write!(f, "{hours} h {:02} min", minutes % 60),
            _ => write!(f, "{days} d {} h", hours % 24),
        }
    }
}

/// A moment of the watch: whole milliseconds on the watch's own clock.
///
/// The edge stamps it. Its zero is the Unix epoch, so that a log's TAG-block times and the watch's times are the
/// same numbers; it never runs backwards, whatever the computer's clock does. UTC inside a sentence is a
/// measurement and never becomes a `WatchTime` while the watch runs live.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct WatchTime(pub i64);

impl Newtons {
    /// In kilonewtons to a tenth, without the unit.
    #[must_use]
    pub fn kilo(self) -> String {
        format!("{:.1}", self.0 / 1000.0)
    }
}

impl WatchTime {
    /// Time passed since `earlier`.
    #[must_use]
    pub fn since(self, earlier: Self) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }

    /// `19:40 UTC`: the time of day for words that leave the boat. The screen shows such words by her own clock.
    #[must_use]
    pub fn in_utc(self) -> String {
        let shown = jiff::Timestamp::from_millisecond(self.0);
        shown.map_or_else(|_| "beyond the calendar".to_owned(), |at| at.strftime("%H:%M UTC").to_string())
    }

    /// The first whole second at or after this moment.
    #[must_use]
    pub fn ceil_second(self) -> Self {
        Self(self.0.saturating_add(999).div_euclid(1000) * 1000)
    }
}

impl Add<Span> for WatchTime {
    type Output = Self;
    fn add(self, span: Span) -> Self {
        Self(self.0.saturating_add(span.0))
    }
}

impl AddAssign<Span> for WatchTime {
    fn add_assign(&mut self, span: Span) {
        *self = *self + span;
    }
}

impl Sub<Span> for WatchTime {
    type Output = Self;
    fn sub(self, span: Span) -> Self {
        Self(self.0.saturating_sub(span.0))
    }
}

impl Metres {
    /// Reads a length as it is written by hand: `35`, `35.5`, `35,5`, `35 m`, and in feet `15ft`, `15 feet`, `15'`. `None`
    /// if it is none.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let text = text.trim();
        let lower = text.to_ascii_lowercase();
        let feet = ["feet", "foot", "ft", "′", "'"].iter().find_map(|unit| lower.strip_suffix(unit));
        let (number, in_metres) = match feet {
            Some(number) => (number, M_PER_FOOT),
            None => (
                ["metres", "metre", "m"].iter().find_map(|unit| lower.strip_suffix(unit)).unwrap_or(&lower),
                1.0,
            ),
        };
        let value: f64 = number.trim().replace(',', ".").parse().ok()?;
        value.is_finite().then_some(Self(value * in_metres))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bearings_wrap_and_turn_the_short_way() {
        assert_eq!(TrueBearing::new(-1e-20).degrees(), 0.0);
        assert_eq!(TrueBearing::new(725.0).degrees(), 5.0);
        assert_eq!(TrueBearing::new(350.0).turn_to(TrueBearing::new(10.0)), 20.0);
        assert_eq!(TrueBearing::new(10.0).turn_to(TrueBearing::new(350.0)), -20.0);
        assert_eq!(TrueBearing::new(359.7).to_string(), "000°");
    }

    #[test]
    fn the_next_whole_second_is_never_in_the_past() {
        assert_eq!(WatchTime(1_000).ceil_second(), WatchTime(1_000));
        assert_eq!(WatchTime(1_001).ceil_second(), WatchTime(2_000));
        assert_eq!(WatchTime(-1_500).ceil_second(), WatchTime(-1_000));
        assert!(WatchTime(i64::MIN).ceil_second().0 <= -i64::MAX + 1_000, "no sum overflows");
        assert!(WatchTime(i64::MAX).ceil_second().0 >= i64::MAX - 1_000);
    }

    #[test]
    fn spans_read_as_a_sailor_says_them() {
        assert_eq!(Span::from_secs(45).to_string(), "45 s");
        assert_eq!(Span::from_mins(372).to_string(), "6 h 12 min");
        assert_eq!(Span::from_mins(60 * 76).to_string(), "3 d 4 h");
    }
}
