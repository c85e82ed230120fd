//! Every number in the crew's files: its key, unit, range, and where it goes. One table for reading, writing and
//! documentation, so that they cannot disagree.

use crate::watch::boat::Settings;
use crate::watch::boat::limits::{LIMITS, Limit};
use crate::watch::boat::ranges::{self, Range, range};
use crate::watch::units::Metres;

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
    /// Its unit and what it may be.
    pub range: Range,
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
    kept: Kept,
}

/// Where a number is kept in the settings.
#[derive(Clone, Copy, Debug)]
enum Kept {
    Settings { get: fn(&Settings) -> Option<f64>, set: fn(&mut Settings, f64) },
    Limit(&'static Limit),
}

impl Number {
    /// Reads it from the settings; `None` where it is optional and not set.
    #[must_use]
    pub fn get(&self, settings: &Settings) -> Option<f64> {
        match self.kept {
            Kept::Settings { get, .. } => get(settings),
            Kept::Limit(limit) => (limit.get)(&settings.limits),
        }
    }

    /// Puts it into the settings.
    pub fn set(&self, settings: &mut Settings, value: f64) {
        match self.kept {
            Kept::Settings { set, .. } => set(settings, value),
            Kept::Limit(limit) => (limit.set)(&mut settings.limits, value),
        }
    }

    const fn of_limit(limit: &'static Limit) -> Self {
        let Limit { key, range, about, .. } = limit;
        Self { table: Table::Limits, bounds: within(key, *range), about, kept: Kept::Limit(limit) }
    }
}

macro_rules! number {
    ($table:ident $key:literal $range:ident, $about:literal, $get:expr, $set:expr) => {
        Number {
            table: Table::$table,
            bounds: within($key, ranges::$range),
            about: $about,
            kept: Kept::Settings { get: $get, set: $set },
        }
    };
}

pub(super) const fn within(key: &'static str, range: Range) -> Bounds {
    Bounds { key, range }
}

/// The numbers about boat, rode and anchor, in the order in which they are written.
const GEAR: &[Number] = &[
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
    number!(Boat "engine_kw" ENGINE_KW, "power of the engine at the propeller: what a pull astern proves follows from it",
        |s| s.engine.kw, |s, v| s.engine.kw = Some(v)),
    number!(Boat "propeller_mm" PROPELLER_MM, "diameter of the propeller",
        |s| s.engine.propeller_mm, |s, v| s.engine.propeller_mm = Some(v)),
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
];

/// Rode out, in `ride.toml`'s `[rode]`.
pub const VEERED_M: Bounds = within("veered_m", ranges::VEERED_M);
/// Latitude in `[drop]`.
pub const LAT: Bounds = within("lat", range("°", -90.0, 90.0));
/// Longitude in `[drop]`.
pub const LON: Bounds = within("lon", range("°", -180.0, 180.0));
/// Depth of water in `[drop]`.
pub const DEPTH_M: Bounds = within("depth_m", ranges::DEPTH_M);
/// Height in `[[tide]]`.
pub const HEIGHT_M: Bounds = within("height_m", range("m", -10.0, 25.0));
/// Place of a mark in `[rode]`'s `marks`.
pub const MARK_M: Bounds = within("at_m", range("m", 0.0, 1000.0));
/// Distance to the next mark of the same look.
pub const MARK_EVERY_M: Bounds = within("every_m", range("m", 1.0, 200.0));
/// How often a watch has gone from one machine to another, and one.
pub const TERM: Bounds = within("term", range("", 1.0, 1e9));
/// Priority of a `[[feed]]`.
pub const PRIORITY: Bounds = within("priority", range("", 0.0, 99.0));

/// The numbers of a plan, `[plan]` in `plan.toml`.
pub mod plan {
    use super::{Bounds, within};
    use crate::watch::boat::ranges::plan as ranges;

    /// Depth from the surface.
    pub const DEPTH_M: Bounds = within("depth_m", ranges::DEPTH_M);
    /// Mean wind expected.
    pub const WIND_KN: Bounds = within("wind_kn", ranges::WIND_KN);
    /// Gusts expected.
    pub const GUST_KN: Bounds = within("gust_kn", ranges::GUST_KN);
    /// Where the wind comes from.
    pub const WIND_FROM_DEG: Bounds = within("wind_from_deg", ranges::WIND_FROM_DEG);
    /// Rate of the stream.
    pub const STREAM_KN: Bounds = within("stream_kn", ranges::STREAM_KN);
    /// How far she sheers to each side.
    pub const SHEER_DEG: Bounds = within("sheer_deg", ranges::SHEER_DEG);
    /// Where the bottom falls to.
    pub const SLOPE_TO_DEG: Bounds = within("slope_to_deg", ranges::SLOPE_TO_DEG);
    /// By how much in a hundred.
    pub const SLOPE_PERCENT: Bounds = within("slope_percent", ranges::SLOPE_PERCENT);
    /// Depth of the water along the fetch.
    pub const FETCH_DEPTH_M: Bounds = within("fetch_depth_m", ranges::FETCH_DEPTH_M);
    /// Diameter of the snubber.
    pub const SNUBBER_MM: Bounds = within("snubber_mm", ranges::SNUBBER_MM);
    /// Length of the snubber.
    pub const SNUBBER_M: Bounds = within("snubber_m", ranges::SNUBBER_M);
    /// Bearing of a mark or a neighbour.
    pub const BEARING_DEG: Bounds = within("bearing_deg", ranges::BEARING_DEG);
    /// Distance of a mark or a neighbour.
    pub const DISTANCE_M: Bounds = within("distance_m", ranges::DISTANCE_M);
    /// How far a mark extends about its middle.
    pub const EXTENT_M: Bounds = within("extent_m", ranges::EXTENT_M);
    /// A neighbour's length.
    pub const NEIGHBOUR_LOA_M: Bounds = within("loa_m", ranges::NEIGHBOUR_LOA_M);
}

/// Every number of the settings, in the order in which it is written.
pub fn numbers() -> impl Iterator<Item = Number> {
    GEAR.iter().copied().chain(LIMITS.iter().map(Number::of_limit))
}

/// The numbers of one table.
pub fn numbers_of(table: Table) -> impl Iterator<Item = Number> {
    numbers().filter(move |number| number.table == table)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_default_lies_in_its_own_range() {
        let settings = Settings::default();
        for number in numbers() {
            let Some(value) = number.get(&settings) else { continue };
            assert!(number.bounds.range.holds(value), "{} {value}", number.bounds.key);
        }
    }

    #[test]
    fn every_number_comes_back_as_it_was_put_in_and_touches_no_other() {
        for number in numbers() {
            let Range { least, most, .. } = number.bounds.range;
            for value in [least, most, (least + most) / 2.0] {
                let mut settings = Settings::default();
                number.set(&mut settings, value);
                assert_eq!(number.get(&settings), Some(value), "{}", number.bounds.key);
                for other in numbers().filter(|other| other.bounds.key != number.bounds.key) {
                    let default = other.get(&Settings::default());
                    assert_eq!(
                        other.get(&settings),
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
    fn documented(number: Number) -> String {
        let Number { bounds: Bounds { key, range: Range { unit, least, most } }, about, .. } = number;
        let default = match number.get(&Settings::default()) {
            _ if key == "antenna_aft_of_bow_m" => "0.9 × `loa_m`".into(),
            None => "none".into(),
            Some(value) => value.to_string(),
        };
        format!("| `{key}` | {unit} | {default} | {least} to {most} | {about} |")
    }

    #[test]
    fn every_number_is_documented_with_its_unit_default_and_range() {
        let page = include_str!("../../docs/sailing/files.md");
        let missing: Vec<String> =
            numbers().map(documented).filter(|row| !page.lines().any(|line| line == row)).collect();
        assert!(missing.is_empty(), "docs/sailing/files.md lacks:\n{}", missing.join("\n"));
        for bounds in [VEERED_M, LAT, LON, DEPTH_M, HEIGHT_M, MARK_M, PRIORITY] {
            let row = format!("| `{}` | {} | ", bounds.key, bounds.range.unit);
            let range = format!(" | {} to {} | ", bounds.range.least, bounds.range.most);
            let found = page.lines().any(|line| line.starts_with(&row) && line.contains(&range));
            assert!(found, "docs/sailing/files.md lacks {row}…{range}");
        }
    }
}
