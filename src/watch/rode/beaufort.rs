//! What force does a wind have?

use crate::watch::units::Knots;

/// Names of the forces and the least whole knots of each: the scale of the World Meteorological Organization, from
/// memory. It counts the mean over ten minutes, ten metres up; a gust or a masthead is not that.
const SCALE: [(u32, &str); 13] = [
    (0, "calm"),
    (1, "light air"),
    (4, "light breeze"),
    (7, "gentle breeze"),
    (11, "moderate breeze"),
    (17, "fresh breeze"),
    (22, "strong breeze"),
    (28, "near gale"),
    (34, "gale"),
    (41, "strong gale"),
    (48, "storm"),
    (56, "violent storm"),
    (64, "hurricane"),
];

/// The Beaufort force of a mean wind, 0–12, and its name. Rounds to the whole knot first, as the scale does.
#[must_use]
pub fn beaufort(mean: Knots) -> (u8, &'static str) {
    let above = SCALE.iter().rposition(|(least, _)| mean.0.round() >= f64::from(*least)).unwrap_or(0);
    (above as u8, SCALE[above].1)
}
