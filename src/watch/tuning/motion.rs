//! When an instrument's word on how she moves counts. Our choices, where no source is named.

use crate::watch::units::Span;

/// So much of the last time is looked at.
pub const KEPT: Span = Span::from_mins(10);
/// Never more samples than these: ten a second.
pub const SAMPLES_MOST: usize = 6000;
/// Silent for so long, what it said is over.
pub const SILENT: Span = Span::from_secs(30);
/// Nothing is said before it was heard for so long, ...
pub const SPAN_LEAST: Span = Span::from_secs(120);
/// ... over so many waves.
pub const CROSSINGS_LEAST: usize = 20;
/// Each wave must have been sampled so many times: less shows another period than it has.
pub const SAMPLES_PER_WAVE: f64 = 3.0;
/// Heave of a yacht at anchor is less than this, metres.
pub const HEAVE_M_MOST: f64 = 10.0;
/// Pitch is less than this, degrees.
pub const PITCH_DEG_MOST: f64 = 60.0;
