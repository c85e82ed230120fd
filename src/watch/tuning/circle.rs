//! The circle that follows the learned place of the anchor.

use crate::watch::units::{Metres, Span};

/// It is looked at this often.
pub const EVERY: Span = Span::from_mins(1);
/// It is moved once the learned place lies so far from its middle.
pub const MOVES: Metres = Metres(3.0);
/// It is made anew once the learned length of rode differs by this share of it.
pub const LONGER: f64 = 0.02;
/// A receiver that wanders more also leaves farther, for a minute or two.
pub const STEADY: Metres = Metres(2.0);
/// Beyond `STEADY` the margin is wider by so many times the rest.
pub const WANDERS: f64 = 2.0;
/// The anchor is taken to stand while the evidence against it is below this share of what calls `drag`. Our choice.
pub const STANDS: f64 = 0.5;
