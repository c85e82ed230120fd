//! What each number about boat and tackle may be, wherever it is entered: in a file or on the screen. The limits have a
//! table of their own ([`super::limits`]).
//!
//! Common practice, no source: wide enough for any yacht, narrow enough to catch a slip of the finger.

use std::fmt;

use crate::watch::units::Metres;

/// What a number may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Its unit; empty for a plain number.
    pub unit: &'static str,
    /// The least.
    pub least: f64,
    /// The greatest.
    pub most: f64,
}

/// A range with its unit.
#[must_use]
pub const fn range(unit: &'static str, least: f64, most: f64) -> Range {
    Range { unit, least, most }
}

/// Why what was typed is not taken.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RangeError {
    /// Nothing stands there.
    #[error("Nothing is written here. Write a number, {0}.")]
    Nothing(Range),
    /// Not a number in that unit.
    #[error("\"{0}\" is not a number. Write {1}.")]
    NotANumber(String, Range),
    /// Less or more than is allowed.
    #[error("{0} is out of range. Write {1}.")]
    OutOfRange(String, Range),
}

impl fmt::Display for Range {
    /// `2 to 80 m`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}{}", self.least, self.most, self.unit_after_number())
    }
}

impl Range {
    /// The unit as it follows a number: ` m`, `°`, or nothing.
    #[must_use]
    pub fn unit_after_number(&self) -> String {
        match self.unit {
            "" | "°" => self.unit.to_owned(),
            unit => format!(" {unit}"),
        }
    }

    /// True if the number is allowed.
    #[must_use]
    pub fn holds(&self, number: f64) -> bool {
        (self.least..=self.most).contains(&number)
    }

    /// Reads what is typed: `35`, `35.5`, `35,5` or `35 m`; a length also in feet, `15ft`. In the range's unit.
    ///
    /// # Errors
    /// What is wrong with it and what is taken.
    pub fn read(self, text: &str) -> Result<f64, RangeError> {
        let text = text.trim();
        if text.strip_suffix(self.unit).unwrap_or(text).trim().is_empty() {
            return Err(RangeError::Nothing(self));
        }
        match self.number(text) {
            Some(value) if self.holds(value) => Ok(value),
            Some(_) => Err(RangeError::OutOfRange(text.to_owned(), self)),
            None => Err(RangeError::NotANumber(text.to_owned(), self)),
        }
    }

    /// As `read`, but nothing may stand there.
    ///
    /// # Errors
    /// As `read`.
    pub fn read_or_none(self, text: &str) -> Result<Option<f64>, RangeError> {
        if text.trim().is_empty() { Ok(None) } else { self.read(text).map(Some) }
    }

    /// The number in this unit; a length may be written in feet too.
    fn number(self, text: &str) -> Option<f64> {
        if self.unit == "m" {
            return Metres::read(text).map(|length| length.0);
        }
        let bare = text.strip_suffix(self.unit).unwrap_or(text).trim().replace(',', ".");
        bare.parse().ok().filter(|value: &f64| value.is_finite())
    }
}

/// Length overall.
pub const LOA_M: Range = range("m", 2.0, 80.0);
/// Greatest beam.
pub const BEAM_M: Range = range("m", 0.5, 30.0);
/// Waterline to the lowest point of the keel.
pub const DRAFT_M: Range = range("m", 0.1, 10.0);
/// Bow roller above the water.
pub const BOW_HEIGHT_M: Range = range("m", 0.0, 6.0);
/// Displacement, loaded.
pub const DISPLACEMENT_KG: Range = range("kg", 50.0, 500_000.0);
/// Drag coefficient times frontal area; without it taken from the length.
pub const WINDAGE_M2: Range = range("m²", 0.5, 500.0);
/// Position antenna aft of the bow roller.
pub const ANTENNA_AFT_OF_BOW_M: Range = range("m", 0.0, 80.0);
/// Position antenna to starboard of the centreline; port is negative.
pub const ANTENNA_STARBOARD_M: Range = range("m", -15.0, 15.0);
/// Transducer of the echo sounder below the water.
pub const SOUNDER_BELOW_WATER_M: Range = range("m", 0.0, 10.0);
/// Diameter of the chain's bar; 0 for no chain.
pub const CHAIN_MM: Range = range("mm", 0.0, 32.0);
/// Length of chain, next to the anchor.
pub const CHAIN_M: Range = range("m", 0.0, 500.0);
/// Power of the engine at the propeller.
pub const ENGINE_KW: Range = range("kW", 0.5, 1000.0);
/// Diameter of the propeller.
pub const PROPELLER_MM: Range = range("mm", 100.0, 1500.0);
/// Diameter of the rope; 0 for no rope.
pub const ROPE_MM: Range = range("mm", 0.0, 80.0);
/// Length of rope behind the chain.
pub const ROPE_M: Range = range("m", 0.0, 500.0);
/// Mass of the anchor.
pub const ANCHOR_KG: Range = range("kg", 1.0, 1000.0);
/// Rode out.
pub const VEERED_M: Range = range("m", 0.0, 1000.0);
/// Rode out as it is entered: less than a metre is a slip of the finger.
pub const VEERED_ENTERED_M: Range = Range { least: 1.0, ..VEERED_M };
/// Depth of water where the anchor lies.
pub const DEPTH_M: Range = range("m", 0.0, 300.0);

/// The numbers of a plan, in `plan.toml`, in flags and in the form. What is impossible among them the plan itself names;
/// these only catch slips of the finger.
pub mod plan {
    use super::{Range, range};

    /// Depth from the surface.
    pub const DEPTH_M: Range = range("m", 0.1, 300.0);
    /// Mean wind expected.
    pub const WIND_KN: Range = range("kn", 0.0, 150.0);
    /// Gusts expected.
    pub const GUST_KN: Range = range("kn", 0.0, 220.0);
    /// Where the wind comes from.
    pub const WIND_FROM_DEG: Range = range("°", 0.0, 360.0);
    /// Rate of the stream.
    pub const STREAM_KN: Range = range("kn", 0.0, 15.0);
    /// How far she sheers to each side.
    pub const SHEER_DEG: Range = range("°", 0.0, 90.0);
    /// Where the bottom falls to.
    pub const SLOPE_TO_DEG: Range = range("°", 0.0, 360.0);
    /// By how much in a hundred.
    pub const SLOPE_PERCENT: Range = range("%", 0.0, 60.0);
    /// Depth of the water along the fetch.
    pub const FETCH_DEPTH_M: Range = range("m", 0.5, 1000.0);
    /// Diameter of the snubber.
    pub const SNUBBER_MM: Range = range("mm", 3.0, 100.0);
    /// Length of the snubber.
    pub const SNUBBER_M: Range = range("m", 0.5, 100.0);
    /// Bearing of a mark or a neighbour.
    pub const BEARING_DEG: Range = range("°", 0.0, 360.0);
    /// Distance of a mark or a neighbour.
    pub const DISTANCE_M: Range = range("m", 0.0, 10_000.0);
    /// How far a mark extends about its middle.
    pub const EXTENT_M: Range = range("m", 0.0, 10_000.0);
    /// A neighbour's length.
    pub const NEIGHBOUR_LOA_M: Range = range("m", 1.0, 500.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_read_with_or_without_its_unit() {
        let metres = range("m", 0.0, 100.0);
        for text in ["35", " 35 m ", "35m", "35.0", "35,0 m"] {
            assert_eq!(metres.read(text), Ok(35.0), "{text}");
        }
        for text in ["15ft", "15 ft", "15 FT", "15'", "15 feet", "15,0 ft"] {
            assert!((metres.read(text).unwrap() - 4.572).abs() < 1e-9, "{text}");
        }
        assert!(range("kn", 0.0, 100.0).read("15ft").is_err());
        assert_eq!(metres.read_or_none("  "), Ok(None));
    }

    #[test]
    fn a_wrong_number_is_answered_with_what_is_taken() {
        let metres = range("m", 1.0, 100.0);
        let says = |text: &str| metres.read(text).unwrap_err().to_string();
        assert_eq!(says("400"), "400 is out of range. Write 1 to 100 m.");
        assert_eq!(says("many"), "\"many\" is not a number. Write 1 to 100 m.");
        for text in ["", "nan", "inf", "-3", "3 kn", "1e999"] {
            assert!(metres.read(text).is_err(), "{text}");
        }
    }
}
