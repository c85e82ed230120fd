//! What is believed of the anchor's place before any fix: near the mark, more likely upwind of it than not.

use crate::watch::geo::Local;

/// Nats for a true rode length of `scale` times the told one: usually right to 3 %, one time in twenty to 8 %.
pub(super) fn scale_nats(scale: f64) -> f64 {
    let x = scale - 1.0;
    let bell = |sigma: f64| (-0.5 * (x / sigma) * (x / sigma)).exp();
    (0.95 * bell(0.03) + 0.05 * bell(0.08)).ln()
}

/// A mark of which only the place is known.
pub(super) fn isotropic(place: Local) -> f64 {
    let r = place.length_m();
    half_square(r, 11.0).max(-2.5) + half_square((r - 25.0).max(0.0), 3.0)
}

/// A new place guessed from the bow: isotropic, 10 m.
pub(super) fn guessed(place: Local) -> f64 {
    half_square(place.length_m(), 10.0)
}

/// A mark with the boat lying to `boat` (unit vector from the mark): marked late or at the antenna, the anchor lies
/// on the other side of the mark, upwind.
pub(super) fn behind_mark(place: Local, boat: Local) -> f64 {
    let along = -place.dot(boat);
    let across = place.east_m * boat.north_m - place.north_m * boat.east_m;
    let along_nats = if along < 0.0 {
        half_square(along, 4.0)
    } else {
        half_square((along - 10.0).max(0.0), 7.0).max(-3.0) + half_square((along - 25.0).max(0.0), 3.0)
    };
    (along_nats + half_square(across, 5.0)).max(half_square(place.length_m(), 11.0) - 2.5)
}

fn half_square(x: f64, sigma: f64) -> f64 {
    -0.5 * (x / sigma) * (x / sigma)
}
