//! At how many metres somebody is called when the anchor drags, by the instruments: medians of simulated nights,
//! `docs/inside/holding.md`.

use crate::watch::units::Metres;

/// Up to such a wander of the receiver the anchor has moved so far when `drag` or `outside` is raised, ...
pub const BY_WANDER: [(Metres, Metres); 3] =
    [(Metres(1.3), LEAST), (Metres(2.0), Metres(21.0)), (Metres(f64::INFINITY), Metres(26.0))];
/// ... with the best.
pub const LEAST: Metres = Metres(14.0);
/// So much farther without speed over ground, ...
pub const WITHOUT_VELOCITY: Metres = Metres(6.0);
/// ... without wind, ...
pub const WITHOUT_WIND: Metres = Metres(5.0);
/// ... and without heading.
pub const WITHOUT_HEADING: Metres = Metres(2.0);
