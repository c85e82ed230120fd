//! DPT, DBT, DBS, DBK: how deep it is.

use super::field::{Fields, number};
use super::observation::{DepthBelow, Observation};
use super::outcome::Rejected;
use crate::watch::units::Metres;

/// Deeper than any sea, metres (Challenger Deep, 10,935 m, GEBCO).
pub(in crate::watch) const DEPTH_MAX: f64 = 12_000.0;

/// A transducer lies no further from keel or surface than this on any boat, metres. Common practice, no source.
pub(in crate::watch) const OFFSET_MAX: f64 = 50.0;

const FOOT: f64 = 0.3048;
const FATHOM: f64 = 6.0 * FOOT;

/// Depth below the transducer and the sounder's offset.
///
/// # Errors
/// `NotANumber` or `OutOfRange` for a depth that is neither a depth nor empty.
pub(super) fn dpt(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let depth = depth(fields.text(), 1.0)?;
    let offset = fields.number_in(-OFFSET_MAX, OFFSET_MAX).map(Metres);
    out.extend(depth.map(|depth| Observation::Depth { below: DepthBelow::Transducer, depth, offset }));
    Ok(())
}

/// Depth in feet, metres and fathoms: DBT, DBS and DBK differ only in what they measure from. Metres are taken if
/// they are there.
///
/// # Errors
/// `NotANumber` or `OutOfRange` for a depth that is neither a depth nor empty.
pub(super) fn in_three_units(
    fields: &mut Fields<'_>,
    out: &mut Vec<Observation>,
    below: DepthBelow,
) -> Result<(), Rejected> {
    let feet = fields.text();
    fields.skip(1);
    let metres = fields.text();
    fields.skip(1);
    let fathoms = fields.text();
    let depth = match depth(metres, 1.0)? {
        Some(depth) => Some(depth),
        None => depth(feet, FOOT)?.or(depth(fathoms, FATHOM)?),
    };
    out.extend(depth.map(|depth| Observation::Depth { below, depth, offset: None }));
    Ok(())
}

/// A depth in metres from a field in units of `unit_m`; none if the sounder has lost the bottom.
fn depth(text: &[u8], unit_m: f64) -> Result<Option<Metres>, Rejected> {
    if text.is_empty() {
        return Ok(None);
    }
    let metres = number(text).ok_or(Rejected::NotANumber)? * unit_m;
    if (0.0..=DEPTH_MAX).contains(&metres) { Ok(Some(Metres(metres))) } else { Err(Rejected::OutOfRange) }
}
