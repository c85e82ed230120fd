//! Which receiver speaks, and does it disagree with another?

use crate::watch::units::Span;

/// Receivers that are told apart.
pub const RECEIVERS_MAX: usize = 8;
/// What comes in other sentences of the receiver's cycle is good for this long.
pub const ATTRIBUTE_AGE: Span = Span::from_secs(10);
/// Speed and course are good for this long.
pub const VELOCITY_AGE: Span = Span::from_millis(2500);
/// User-equivalent range error by which HDOP is scaled where the receiver reports no error of its own: the 3 m (95 %)
/// horizontal of well-designed receivers at HDOP about 1 is 1.2 m per axis (GPS SPS Performance Standard, 4th ed.,
/// abstract); rounded up, for boats' antennas have poorer skies.
pub const ERROR_PER_HDOP_M: f64 = 1.5;
/// Two receivers farther apart than this, for this long, cannot both be right.
pub const DISAGREE_M: f64 = 25.0;
pub const DISAGREE_FOR: Span = Span::from_secs(60);
/// Over how many seconds the difference between two receivers is averaged.
pub const OFFSET_SECONDS: f64 = 120.0;
