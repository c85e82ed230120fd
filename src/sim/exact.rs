//! Mathematics that gives the same bits on every machine.
//!
//! The standard library's `sin`, `exp` and their kin are the platform's own and differ in the last bit between
//! platforms; a sheering boat would make metres of that in a night. Here they come from `libm`, which is plain
//! arithmetic. Addition, multiplication, division and square roots are exact by IEEE 754 and need no help.

pub(super) use libm::{atan2, cos, exp, fmod, log, sin, sincos};

use std::f64::consts::{PI, TAU};

use crate::watch::geo::Local;

/// Length of a displacement in metres.
pub(super) fn length(v: Local) -> f64 {
    (v.east_m * v.east_m + v.north_m * v.north_m).sqrt()
}

/// The unit vector along `v`, or `None` where there is no direction.
pub(super) fn unit(v: Local) -> Option<Local> {
    let length = length(v);
    (length > 1e-9).then(|| v.scaled(1.0 / length))
}

/// The unit vector on a bearing in radians, clockwise from north.
pub(super) fn towards(bearing_rad: f64) -> Local {
    let (sin, cos) = sincos(bearing_rad);
    Local::new(sin, cos)
}

/// The bearing of `v` in radians, `-π..=π`, clockwise from north.
pub(super) fn bearing(v: Local) -> f64 {
    atan2(v.east_m, v.north_m)
}

/// An angle in radians wrapped into `-π..π`.
pub(super) fn wrap(angle_rad: f64) -> f64 {
    let turned = fmod(angle_rad + PI, TAU);
    if turned < 0.0 { turned + PI } else { turned - PI }
}

/// A smooth rise from 0 to 1 while `x` goes from 0 to 1.
pub(super) fn smooth(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}
