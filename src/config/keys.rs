//! Every number in the crew's files: its key, unit, range, and where it goes. One table for reading, writing and
//! documentation, so that they cannot disagree.

use crate::watch::boat::Settings;
use crate::watch::boat::ranges::{self, Range};
use crate::watch::units::{Knots, Metres, Span};

/// The tables that hold numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// `[boat]`
    Boat,
    /// `[rode]`
    Rode,
    /// `[anchor]`
    Anchor,
    /// `[limits]`
    Limits,
}

impl Table {
    /// The table's name in the file.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Boat => "boat",
            Self::Rode => "rode",
            Self::Anchor => "anchor",
            Self::Limits => "limits",
        }
    }
}

/// What a number in a file may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// The key in its table.
    pub key: &'static str,
    /// Unit for messages; empty for a plain number.
    pub unit: &'static str,
    /// Least allowed value.
    pub min: f64,
    /// Greatest allowed value.
    pub max: f64,
}

/// A number that belongs to the settings.
#[derive(Clone, Copy, Debug)]
pub struct Number {
    /// The table it stands in.
    pub table: Table,
    /// Its key and range.
    pub bounds: Bounds,
    /// What it is, in a few words.
    pub about: &'static str,
    /// Reads it from the settings; `None` where it is optional and not set.
    pub get: fn(&Settings) -> Option<f64>,
    /// Puts it into the settings.
    pub set: fn(&mut Settings, f64),
}

macro_rules! number {
    ($table:ident $key:literal $range:ident, $about:literal, $get:expr, $set:expr) => {
        Number {
            table: Table::$table,
            bounds: within($key, ranges::$range),
            about: $about,
            get: $get,
            set: $set,
        }
    };
}

const fn within(key: &'static str, Range { unit, least, most }: Range) -> Bounds {
    Bounds { key, unit, min: least, max: most }
}

fn seconds(value: f64) -> Span {
    Span((value * 1000.0).round() as i64)
}

/// Every number of the settings, in the order in which it is written.
pub const NUMBERS: &[Number] = &[
    number!(Boat "loa_m" LOA_M, "length overall",
        |s| Some(s.boat.loa.0), |s, v| s.boat.loa = Metres(v)),
    number!(Boat "beam_m" BEAM_M, "greatest beam",
        |s| Some(s.boat.beam.0), |s, v| s.boat.beam = Metres(v)),
    number!(Boat "draft_m" DRAFT_M, "waterline to the lowest point of the keel",
        |s| Some(s.boat.draft.0), |s, v| s.boat.draft = Metres(v)),
    number!(Boat "bow_height_m" BOW_HEIGHT_M, "bow roller above the water",
        |s| Some(s.boat.bow_height.0), |s, v| s.boat.bow_height = Metres(v)),
    number!(Boat "displacement_kg" DISPLACEMENT_KG, "displacement, loaded",
        |s| Some(s.boat.displacement_kg), |s, v| s.boat.displacement_kg = v),
    number!(Boat "windage_m2" WINDAGE_M2, "drag coefficient times frontal area; without it taken from the length",
        |s| s.boat.windage_m2, |s, v| s.boat.windage_m2 = Some(v)),
    number!(Boat "antenna_aft_of_bow_m" ANTENNA_AFT_OF_BOW_M, "position antenna aft of the bow roller",
        |s| Some(s.boat.antenna_aft.0), |s, v| s.boat.antenna_aft = Metres(v)),
    number!(Boat "antenna_starboard_m" ANTENNA_STARBOARD_M, "position antenna to starboard of the centreline; port is negative",
        |s| Some(s.boat.antenna_starboard.0), |s, v| s.boat.antenna_starboard = Metres(v)),
    number!(Boat "sounder_below_water_m" SOUNDER_BELOW_WATER_M, "transducer of the echo sounder below the water",
        |s| Some(s.boat.sounder_below_water.0), |s, v| s.boat.sounder_below_water = Metres(v)),
    number!(Rode "chain_mm" CHAIN_MM, "diameter of the chain's bar; 0 for no chain",
        |s| Some(s.tackle.chain_mm), |s, v| s.tackle.chain_mm = v),
    number!(Rode "chain_m" CHAIN_M, "length of chain, next to the anchor",
        |s| Some(s.tackle.chain.0), |s, v| s.tackle.chain = Metres(v)),
    number!(Rode "rope_mm" ROPE_MM, "diameter of the rope; 0 for no rope",
        |s| Some(s.tackle.rope_mm), |s, v| s.tackle.rope_mm = v),
    number!(Rode "rope_m" ROPE_M, "length of rope behind the chain",
        |s| Some(s.tackle.rope.0), |s, v| s.tackle.rope = Metres(v)),
    number!(Anchor "kg" ANCHOR_KG, "mass of the anchor",
        |s| s.tackle.anchor_kg, |s, v| s.tackle.anchor_kg = Some(v)),
    number!(Limits "circle_m" CIRCLE_M, "radius of the circle about the drop point; without it reach + length + margin",
        |s| s.limits.circle.map(|m| m.0), |s, v| s.limits.circle = Some(Metres(v))),
    number!(Limits "circle_margin_m" CIRCLE_MARGIN_M, "added to reach + length where no circle is set",
        |s| Some(s.limits.circle_margin.0), |s, v| s.limits.circle_margin = Metres(v)),
    number!(Limits "outside_after_s" OUTSIDE_AFTER_S, "so long outside the circle: alarm",
        |s| Some(s.limits.outside_after.seconds()), |s, v| s.limits.outside_after = seconds(v)),
    number!(Limits "fix_lost_after_s" FIX_LOST_AFTER_S, "so long without a position: warning",
        |s| Some(s.limits.fix_lost_after.seconds()), |s, v| s.limits.fix_lost_after = seconds(v)),
    number!(Limits "fix_lost_alarm_after_s" FIX_LOST_ALARM_AFTER_S, "so long without a position: alarm",
        |s| Some(s.limits.fix_lost_alarm_after.seconds()), |s, v| s.limits.fix_lost_alarm_after = seconds(v)),
    number!(Limits "wind_shift_deg" WIND_SHIFT_DEG, "turn of the mean wind since brought up",
        |s| Some(s.limits.wind_shift_deg), |s, v| s.limits.wind_shift_deg = v),
    number!(Limits "wind_window_min" WIND_WINDOW_MIN, "length of the mean that judges a shift",
        |s| Some(s.limits.wind_window.seconds() / 60.0), |s, v| s.limits.wind_window = seconds(v * 60.0)),
    number!(Limits "wind_high_kn" WIND_HIGH_KN, "mean wind of ten minutes",
        |s| Some(s.limits.wind_high.0), |s, v| s.limits.wind_high = Knots(v)),
    number!(Limits "gust_high_kn" GUST_HIGH_KN, "gust of three seconds",
        |s| Some(s.limits.gust_high.0), |s, v| s.limits.gust_high = Knots(v)),
    number!(Limits "under_keel_m" UNDER_KEEL_M, "least water under the keel",
        |s| Some(s.limits.under_keel.0), |s, v| s.limits.under_keel = Metres(v)),
    number!(Limits "scope" SCOPE, "least scope at high water: veered ÷ (depth + bow height)",
        |s| Some(s.limits.scope), |s, v| s.limits.scope = v),
    number!(Limits "depth_odd_m" DEPTH_ODD_M, "sounder against predicted tide",
        |s| Some(s.limits.depth_odd.0), |s, v| s.limits.depth_odd = Metres(v)),
    number!(Limits "escalate_after_s" ESCALATE_AFTER_S, "a warning that nobody answers becomes an alarm",
        |s| Some(s.limits.escalate_after.seconds()), |s, v| s.limits.escalate_after = seconds(v)),
    number!(Limits "round_every_min" ROUND_EVERY_MIN, "a round on deck is due this often; without it none is asked for",
        |s| s.limits.round_every.map(|span| span.seconds() / 60.0), |s, v| s.limits.round_every = Some(seconds(v * 60.0))),
    number!(Limits "round_grace_min" ROUND_GRACE_MIN, "a round this late is a warning; three times this late an alarm",
        |s| Some(s.limits.round_grace.seconds() / 60.0), |s, v| s.limits.round_grace = seconds(v * 60.0)),
];

/// Rode out, in `ride.toml`'s `[rode]`.
pub const VEERED_M: Bounds = within("veered_m", ranges::VEERED_M);
/// Latitude in `[drop]`.
pub const LAT: Bounds = Bounds { key: "lat", unit: "°", min: -90.0, max: 90.0 };
/// Longitude in `[drop]`.
pub const LON: Bounds = Bounds { key: "lon", unit: "°", min: -180.0, max: 180.0 };
/// Depth of water in `[drop]`.
pub const DEPTH_M: Bounds = within("depth_m", ranges::DEPTH_M);
/// Height in `[[tide]]`.
pub const HEIGHT_M: Bounds = Bounds { key: "height_m", unit: "m", min: -10.0, max: 25.0 };
/// Place of a mark in `[rode]`'s `marks`.
pub const MARK_M: Bounds = Bounds { key: "at_m", unit: "m", min: 0.0, max: 1000.0 };
/// Distance to the next mark of the same look.
pub const MARK_EVERY_M: Bounds = Bounds { key: "every_m", unit: "m", min: 1.0, max: 200.0 };
/// Priority of a `[[feed]]`.
pub const PRIORITY: Bounds = Bounds { key: "priority", unit: "", min: 0.0, max: 99.0 };

/// The numbers of a plan, `[plan]` in `plan.toml` and flags of `nightrode plan`. What is impossible among them the plan
/// itself names; these only catch slips of the finger.
pub mod plan {
    use super::Bounds;

    const fn bounds(key: &'static str, unit: &'static str, min: f64, max: f64) -> Bounds {
        Bounds { key, unit, min, max }
    }

    /// Depth from the surface.
    pub const DEPTH_M: Bounds = bounds("depth_m", "m", 0.1, 300.0);
    /// Mean wind expected.
    pub const WIND_KN: Bounds = bounds("wind_kn", "kn", 0.0, 150.0);
    /// Gusts expected.
    pub const GUST_KN: Bounds = bounds("gust_kn", "kn", 0.0, 220.0);
    /// Where the wind comes from.
    pub const WIND_FROM_DEG: Bounds = bounds("wind_from_deg", "°", 0.0, 360.0);
    /// Rate of the stream.
    pub const STREAM_KN: Bounds = bounds("stream_kn", "kn", 0.0, 15.0);
    /// How far she sheers to each side.
    pub const SHEER_DEG: Bounds = bounds("sheer_deg", "°", 0.0, 90.0);
    /// Diameter of the snubber.
    pub const SNUBBER_MM: Bounds = bounds("snubber_mm", "mm", 3.0, 100.0);
    /// Length of the snubber.
    pub const SNUBBER_M: Bounds = bounds("snubber_m", "m", 0.5, 100.0);
    /// Bearing of a mark or a neighbour.
    pub const BEARING_DEG: Bounds = bounds("bearing_deg", "°", 0.0, 360.0);
    /// Distance of a mark or a neighbour.
    pub const DISTANCE_M: Bounds = bounds("distance_m", "m", 0.0, 10_000.0);
    /// How far a mark extends about its middle.
    pub const EXTENT_M: Bounds = bounds("extent_m", "m", 0.0, 10_000.0);
    /// A neighbour's length.
    pub const NEIGHBOUR_LOA_M: Bounds = bounds("loa_m", "m", 1.0, 500.0);
}

/// The numbers of one table.
pub fn numbers_of(table: Table) -> impl Iterator<Item = &'static Number> {
    NUMBERS.iter().filter(move |number| number.table == table)
}

impl Bounds {
    /// The range in words: `2 to 80 m`.
    #[must_use]
    pub fn range(&self) -> String {
        format!("{} to {}{}", self.min, self.max, self.unit_after_number())
    }

    /// The unit as it follows a number: ` m`, `°`, or nothing.
    #[must_use]
    pub fn unit_after_number(&self) -> String {
        match self.unit {
            "" | "°" => self.unit.to_owned(),
            unit => format!(" {unit}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::alert::machine::ESCALATE_BOUNDS;

    #[test]
    fn every_default_lies_in_its_own_range() {
        let settings = Settings::default();
        for number in NUMBERS {
            let Some(value) = (number.get)(&settings) else { continue };
            let Bounds { min, max, key, .. } = number.bounds;
            assert!((min..=max).contains(&value), "{key} {value}");
        }
    }

    #[test]
    fn every_number_comes_back_as_it_was_put_in_and_touches_no_other() {
        for number in NUMBERS {
            for value in [number.bounds.min, number.bounds.max, (number.bounds.min + number.bounds.max) / 2.0]
            {
                let mut settings = Settings::default();
                (number.set)(&mut settings, value);
                assert_eq!((number.get)(&settings), Some(value), "{}", number.bounds.key);
                for other in NUMBERS.iter().filter(|other| other.bounds.key != number.bounds.key) {
                    let default = (other.get)(&Settings::default());
                    assert_eq!(
                        (other.get)(&settings),
                        default,
                        "{} moved {}",
                        number.bounds.key,
                        other.bounds.key
                    );
                }
            }
        }
    }

    /// The row that `docs/sailing/files.md` has for a number.
    fn documented(number: &Number) -> String {
        let Number { bounds: Bounds { key, unit, min, max }, about, get, .. } = number;
        let default = match get(&Settings::default()) {
            _ if *key == "antenna_aft_of_bow_m" => "0.9 × `loa_m`".into(),
            None => "none".into(),
            Some(value) => value.to_string(),
        };
        format!("| `{key}` | {unit} | {default} | {min} to {max} | {about} |")
    }

    #[test]
    fn every_number_is_documented_with_its_unit_default_and_range() {
        let page = include_str!("../../docs/sailing/files.md");
        let missing: Vec<String> =
            NUMBERS.iter().map(documented).filter(|row| !page.lines().any(|line| line == row)).collect();
        assert!(missing.is_empty(), "docs/sailing/files.md lacks:\n{}", missing.join("\n"));
        for bounds in [VEERED_M, LAT, LON, DEPTH_M, HEIGHT_M, MARK_M, PRIORITY] {
            let row = format!("| `{}` | {} | ", bounds.key, bounds.unit);
            let range = format!(" | {} to {} | ", bounds.min, bounds.max);
            let found = page.lines().any(|line| line.starts_with(&row) && line.contains(&range));
            assert!(found, "docs/sailing/files.md lacks {row}…{range}");
        }
    }

    #[test]
    fn escalation_is_allowed_as_far_as_the_alerts_allow_it() {
        let bounds = NUMBERS.iter().find(|number| number.bounds.key == "escalate_after_s").unwrap().bounds;
        let allowed = (ESCALATE_BOUNDS.0.seconds(), ESCALATE_BOUNDS.1.seconds());
        assert_eq!((bounds.min, bounds.max), allowed);
    }
}
