//! HDT, THS, HDG, HDM: where the bow points.

use super::field::Fields;
use super::observation::{MagneticHeading, Observation};
use super::outcome::{Rejected, Remark};

/// Heading, true.
pub(super) fn hdt(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    out.extend(fields.bearing().map(Observation::HeadingTrue));
    Ok(())
}

/// True heading and status: only mode `A` is a measurement.
pub(super) fn ths(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let heading = fields.bearing();
    match fields.letter() {
        b'A' => out.extend(heading.map(Observation::HeadingTrue)),
        b'E' | b'M' | b'S' => fields.note_above_all(Remark::NotMeasured),
        _ => fields.note_above_all(Remark::Void),
    }
    Ok(())
}

/// Heading, deviation and variation.
pub(super) fn hdg(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let compass = fields.degrees();
    let deviation = fields.east_or_west();
    let variation = fields.east_or_west();
    push_magnetic(out, compass, deviation, variation);
    out.extend(variation.map(|east_deg| Observation::Variation { east_deg }));
    Ok(())
}

/// Heading, magnetic: deviation is already in it.
pub(super) fn hdm(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let magnetic = fields.degrees();
    push_magnetic(out, magnetic, None, None);
    Ok(())
}

pub(super) fn push_magnetic(
    out: &mut Vec<Observation>,
    compass_deg: Option<f64>,
    deviation_deg: Option<f64>,
    variation_deg: Option<f64>,
) {
    out.extend(compass_deg.map(|compass_deg| {
        Observation::HeadingMagnetic(MagneticHeading { compass_deg, deviation_deg, variation_deg })
    }));
}
