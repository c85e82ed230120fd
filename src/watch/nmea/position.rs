//! RMC, GGA, GLL, GNS: where the antenna is.

use super::field::Fields;
use super::observation::{Fix, FixKind, NoFix, Observation, TimeOfDay};
use super::outcome::{Rejected, Remark};
use crate::watch::geo::Position;
use crate::watch::units::Knots;

/// Nothing afloat goes faster than this; more is a broken field. Common practice, no source.
pub(in crate::watch) const KNOTS_MAX: f64 = 1000.0;

/// Recommended minimum: time, status, position, speed and course over ground, date, variation, mode.
pub(super) fn rmc(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let utc = fields.time();
    let status = fields.letter();
    let place = fields.position();
    let sog = fields.number_in(0.0, KNOTS_MAX);
    let cog = fields.bearing();
    let date = fields.date();
    let variation = fields.east_or_west();
    let kind = by_status_and_mode(status, fields.letter());
    if kind.is_ok()
        && let Some(time) = utc
        && date.is_some()
    {
        out.push(Observation::Utc { time, date });
    }
    let fixed = push_fix(fields, out, kind, place, Details { utc, hdop: None, satellites: None });
    if fixed {
        if let Some(knots) = sog {
            out.push(Observation::Velocity { sog: Knots(knots), cog });
        }
        if let Some(east_deg) = variation {
            out.push(Observation::Variation { east_deg });
        }
    }
    Ok(())
}

/// Fix data: time, position, quality, satellites, dilution.
pub(super) fn gga(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let utc = fields.time();
    let place = fields.position();
    let kind = by_quality(fields.letter());
    let details = Details { utc, satellites: satellites(fields), hdop: dilution(fields) };
    push_fix(fields, out, kind, place, details);
    Ok(())
}

/// Geographic position: position, time, status, mode.
pub(super) fn gll(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let place = fields.position();
    let utc = fields.time();
    let kind = by_status_and_mode(fields.letter(), fields.letter());
    push_fix(fields, out, kind, place, Details { utc, hdop: None, satellites: None });
    Ok(())
}

/// Fix data of several satellite systems: like GGA, with a mode letter for each system.
pub(super) fn gns(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let utc = fields.time();
    let place = fields.position();
    let kind = by_modes(fields.text());
    let details = Details { utc, satellites: satellites(fields), hdop: dilution(fields) };
    push_fix(fields, out, kind, place, details);
    Ok(())
}

/// What goes with a position.
struct Details {
    utc: Option<TimeOfDay>,
    hdop: Option<f64>,
    satellites: Option<u8>,
}

/// Pushes the fix, or why there is none; gives whether there is one.
fn push_fix(
    fields: &mut Fields<'_>,
    out: &mut Vec<Observation>,
    kind: Result<FixKind, NoFix>,
    place: Option<(Position, u8)>,
    details: Details,
) -> bool {
    let Details { utc, hdop, satellites } = details;
    let why = match (kind, place) {
        (Ok(kind), Some((position, minute_decimals))) => {
            out.push(Observation::Fix(Fix { position, utc, kind, minute_decimals, hdop, satellites }));
            return true;
        }
        (Ok(_), None) => {
            fields.note(Remark::PositionIncomplete);
            NoFix::Unusable
        }
        (Err(why), _) => {
            fields.note_above_all(Remark::from_no_fix(why));
            why
        }
    };
    out.push(Observation::NoFix { utc, why });
    false
}

/// Status `A`, and the mode where there is one: neither outweighs the other. Equipment before version 2.3 sends no
/// mode.
fn by_status_and_mode(status: u8, mode: u8) -> Result<FixKind, NoFix> {
    let kind = if mode == 0 { Ok(FixKind::Autonomous) } else { by_mode(mode) };
    if status == b'A' { kind } else { Err(NoFix::Void) }
}

/// Mode indicator, IEC 61162-1, from memory.
pub(super) fn by_mode(mode: u8) -> Result<FixKind, NoFix> {
    match mode {
        b'A' => Ok(FixKind::Autonomous),
        b'D' => Ok(FixKind::Differential),
        b'P' => Ok(FixKind::Precise),
        b'F' => Ok(FixKind::FloatRtk),
        b'R' => Ok(FixKind::Rtk),
        b'E' => Err(NoFix::Estimated),
        b'M' => Err(NoFix::Manual),
        b'S' => Err(NoFix::Simulated),
        _ => Err(NoFix::Void),
    }
}

/// The best mode of any system; a measured one before one that is not.
fn by_modes(modes: &[u8]) -> Result<FixKind, NoFix> {
    let measured = modes.iter().filter_map(|&mode| by_mode(mode).ok()).max();
    let other = || modes.iter().filter_map(|&mode| by_mode(mode).err()).find(|why| *why != NoFix::Void);
    measured.ok_or_else(|| other().unwrap_or(NoFix::Void))
}

/// Quality indicator, IEC 61162-1, from memory.
fn by_quality(quality: u8) -> Result<FixKind, NoFix> {
    match quality {
        b'1' => Ok(FixKind::Autonomous),
        b'2' => Ok(FixKind::Differential),
        b'3' => Ok(FixKind::Precise),
        b'4' => Ok(FixKind::Rtk),
        b'5' => Ok(FixKind::FloatRtk),
        b'6' => Err(NoFix::Estimated),
        b'7' => Err(NoFix::Manual),
        b'8' => Err(NoFix::Simulated),
        _ => Err(NoFix::Void),
    }
}

/// Satellites used.
fn satellites(fields: &mut Fields<'_>) -> Option<u8> {
    fields.whole().and_then(|count| u8::try_from(count).ok())
}

/// A dilution of precision; 99.9 and the like stand for "none".
pub(super) fn dilution(fields: &mut Fields<'_>) -> Option<f64> {
    fields.number_in(0.0, 100.0)
}
