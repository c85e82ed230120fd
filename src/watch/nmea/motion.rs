//! VTG, VHW, ROT: how she moves.

use super::field::Fields;
use super::heading::push_magnetic;
use super::observation::Observation;
use super::outcome::{Rejected, Remark};
use super::position::{KNOTS_MAX, by_mode};
use crate::watch::units::Knots;

/// Kilometres an hour in a knot (BIPM, SI Brochure, 8th ed., table 8).
const KMH_PER_KNOT: f64 = 1.852;

/// Course and speed over ground.
pub(super) fn vtg(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let cog = fields.bearing();
    fields.skip(3); // `T`; magnetic course, `M`.
    let sog = knots_or_kmh(fields);
    let mode = fields.letter();
    if mode != 0
        && let Err(why) = by_mode(mode)
    {
        fields.note_above_all(Remark::from_no_fix(why));
    } else if let Some(sog) = sog {
        out.push(Observation::Velocity { sog, cog });
    }
    Ok(())
}

/// Water speed and heading.
pub(super) fn vhw(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let heading = fields.bearing();
    fields.skip(1);
    let magnetic = fields.degrees();
    fields.skip(1);
    let speed = knots_or_kmh(fields);
    out.extend(heading.map(Observation::HeadingTrue));
    push_magnetic(out, magnetic, None, None);
    out.extend(speed.map(Observation::WaterSpeed));
    Ok(())
}

/// Rate of turn.
pub(super) fn rot(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    // Fastest that the AIS standard can report, 708 degrees a minute, and room for a dinghy.
    let rate = fields.number_in(-10_000.0, 10_000.0);
    if fields.letter() == b'A' {
        out.extend(rate.map(|deg_per_min| Observation::RateOfTurn { deg_per_min }));
    } else {
        fields.note_above_all(Remark::Void);
    }
    Ok(())
}

/// `x.x,N,x.x,K`: knots, else kilometres an hour.
fn knots_or_kmh(fields: &mut Fields<'_>) -> Option<Knots> {
    let knots = fields.number_in(-KNOTS_MAX, KNOTS_MAX);
    fields.skip(1);
    let kmh = fields.number_in(-KNOTS_MAX * KMH_PER_KNOT, KNOTS_MAX * KMH_PER_KNOT);
    fields.skip(1);
    knots.or_else(|| kmh.map(|kmh| kmh / KMH_PER_KNOT)).map(Knots)
}
