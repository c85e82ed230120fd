//! What each number about boat, tackle and limits may be, whoever tells it: a file or the screen.
//!
//! Common practice, no source: wide enough for any yacht, narrow enough to catch a slip of the finger.

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

const fn range(unit: &'static str, least: f64, most: f64) -> Range {
    Range { unit, least, most }
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
/// Diameter of the rope; 0 for no rope.
pub const ROPE_MM: Range = range("mm", 0.0, 80.0);
/// Length of rope behind the chain.
pub const ROPE_M: Range = range("m", 0.0, 500.0);
/// Mass of the anchor.
pub const ANCHOR_KG: Range = range("kg", 1.0, 1000.0);
/// Radius of the circle about the drop point; without it reach + length + margin.
pub const CIRCLE_M: Range = range("m", 5.0, 1000.0);
/// Added to reach + length where no circle is set.
pub const CIRCLE_MARGIN_M: Range = range("m", 0.0, 200.0);
/// So long outside the circle: alarm.
pub const OUTSIDE_AFTER_S: Range = range("s", 1.0, 600.0);
/// So long without a position: warning.
pub const FIX_LOST_AFTER_S: Range = range("s", 5.0, 120.0);
/// So long without a position: alarm.
pub const FIX_LOST_ALARM_AFTER_S: Range = range("s", 10.0, 600.0);
/// Turn of the mean wind since brought up.
pub const WIND_SHIFT_DEG: Range = range("°", 10.0, 180.0);
/// Length of the mean that judges a shift.
pub const WIND_WINDOW_MIN: Range = range("min", 1.0, 60.0);
/// Mean wind of ten minutes.
pub const WIND_HIGH_KN: Range = range("kn", 5.0, 100.0);
/// Gust of three seconds.
pub const GUST_HIGH_KN: Range = range("kn", 5.0, 150.0);
/// Least water under the keel.
pub const UNDER_KEEL_M: Range = range("m", 0.0, 20.0);
/// Least scope at high water: veered ÷ (depth + bow height).
pub const SCOPE: Range = range("", 1.0, 20.0);
/// Sounder against predicted tide.
pub const DEPTH_ODD_M: Range = range("m", 0.2, 10.0);
/// A warning that nobody answers becomes an alarm.
pub const ESCALATE_AFTER_S: Range = range("s", 30.0, 3600.0);
/// A round on deck is due this often; without it none is asked for.
pub const ROUND_EVERY_MIN: Range = range("min", 10.0, 720.0);
/// A round this late is a warning; three times this late an alarm.
pub const ROUND_GRACE_MIN: Range = range("min", 1.0, 60.0);
/// Rode out.
pub const VEERED_M: Range = range("m", 0.0, 1000.0);
/// Depth of water where the anchor lies.
pub const DEPTH_M: Range = range("m", 0.0, 300.0);
