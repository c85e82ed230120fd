//! When is a source silent, and when does another take over?

use crate::watch::units::Span;

/// Sources of one quantity that are kept; a stream of ever new talkers must not grow memory.
pub const SOURCES_MAX: usize = 16;
/// A source is given up when it has been silent for three of its own intervals, but no sooner and no later.
pub const SILENT_MIN: Span = Span::from_secs(4);
pub const SILENT_MAX: Span = Span::from_secs(15);
/// A better source that comes back must have been heard this long before it is believed again.
pub const PROVING: Span = Span::from_secs(5);
