//! What is believed before any fix: the anchor near its mark, more likely upwind of it than not; the rode about as
//! long as told.

use super::cells::REACHES;
use crate::watch::geo::Local;

/// True rode length as a share of the told one.
pub(super) const SCALES: [f64; REACHES] = [0.9, 0.925, 0.95, 0.975, 1.0, 1.025, 1.05, 1.075, 1.1];
/// Radius of the circle in which she may lie when neither mark nor rode is told, metres: boats to small ships.
pub(super) const RADII_M: [f64; REACHES] = [20.0, 27.0, 36.0, 48.0, 64.0, 85.0, 110.0, 140.0, 175.0];

/// Nats for each of [`SCALES`].
pub(super) fn scales() -> [f64; REACHES] {
    SCALES.map(scale_nats)
}

/// Nats for each of [`RADII_M`]: every doubling is 1 nat less likely, so that a boat which has kept within 20 m is
/// not at once believed to have 175.
pub(super) fn radii() -> [f64; REACHES] {
    RADII_M.map(|radius| -(radius / RADII_M[0]).log2())
}

/// Nothing is known of the place.
pub(super) fn anywhere(_place: Local) -> f64 {
    0.0
}

/// Nats for a true rode length of `scale` times the told one: usually right to 3 %, one time in twenty to 8 %.
fn scale_nats(scale: f64) -> f64 {
    let x = scale - 1.0;
    let bell = |sigma: f64| (-0.5 * (x / sigma) * (x / sigma)).exp();
    (0.95 * bell(0.03) + 0.05 * bell(0.08)).ln()
}

/// A mark of which only the place is known, to `wander_m` metres by the fixes.
pub(super) fn isotropic(place: Local, wander_m: f64) -> f64 {
    let r = place.length_m();
    let wide = |sigma: f64| sigma.hypot(wander_m);
    half_square(r, wide(11.0)).max(-2.5) + half_square((r - 25.0 - wander_m).max(0.0), wide(3.0))
}

/// A new place guessed from the bow: isotropic, 10 m.
pub(super) fn guessed(place: Local) -> f64 {
    half_square(place.length_m(), 10.0)
}

/// A mark with the boat lying to `boat` (unit vector from the mark): marked late or at the antenna, the anchor lies
/// on the other side of the mark, upwind, up to the whole `reach_m` of the rode.
pub(super) fn behind_mark(place: Local, boat: Local, reach_m: f64, wander_m: f64) -> f64 {
    let wide = |sigma: f64| sigma.hypot(wander_m);
    let along = -place.dot(boat);
    let across = place.east_m * boat.north_m - place.north_m * boat.east_m;
    let along_nats = if along < 0.0 {
        half_square(along, wide(4.0))
    } else {
        half_square((along - 10.0).max(0.0), wide(7.0)).max(-3.0)
            + half_square((along - reach_m).max(0.0), wide(3.0))
    };
    let across_nats = half_square(across, wide(5.0 + 0.15 * along.max(0.0)));
    (along_nats + across_nats).max(half_square(place.length_m(), wide(11.0)) - 4.0)
}

fn half_square(x: f64, sigma: f64) -> f64 {
    -0.5 * (x / sigma) * (x / sigma)
}
