//! GSA, GSV, GST, GBS: how good the fix is.

use super::field::Fields;
use super::observation::{Ellipse, FixMode, Observation, Satellite, SatellitesInView};
use super::outcome::{Rejected, Remark};
use super::position::dilution;
use crate::watch::units::{Metres, TrueBearing};

/// An error estimate above this, metres, says only that there is no fix. Common practice, no source.
const METRES_MAX: f64 = 100_000.0;

/// Dilution of precision and active satellites.
pub(super) fn gsa(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    fields.skip(1); // Manual or automatic choice of dimensions.
    let mode = match fields.letter() {
        b'1' => FixMode::None,
        b'2' => FixMode::TwoD,
        b'3' => FixMode::ThreeD,
        _ => {
            fields.note(Remark::Void);
            return Ok(());
        }
    };
    let satellites = (0..12).filter(|_| !fields.text().is_empty()).count() as u8;
    dilution(fields);
    let hdop = dilution(fields);
    out.push(Observation::FixMode { mode, hdop, satellites });
    Ok(())
}

/// Satellites in view, four to a message.
pub(super) fn gsv(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let mut small = || fields.whole().and_then(|value| u8::try_from(value).ok());
    let (Some(of), Some(message), Some(in_view)) = (small(), small(), small()) else {
        fields.note(Remark::Empty);
        return Ok(());
    };
    let mut satellites = [None; 4];
    for place in &mut satellites {
        let [id, elevation, azimuth, snr] = [fields.text(), fields.text(), fields.text(), fields.text()];
        // Past the last satellite there is at most one field more, the signal's number.
        *place = satellite(id, elevation, azimuth, snr);
    }
    out.push(Observation::Satellites(SatellitesInView { in_view, message, of, satellites }));
    Ok(())
}

fn satellite(id: &[u8], elevation: &[u8], azimuth: &[u8], snr: &[u8]) -> Option<Satellite> {
    let whole = |text| super::field::number(text).map(|value| value as i32);
    let known = [elevation, azimuth, snr].iter().any(|field| !field.is_empty());
    let id = whole(id).and_then(|id| u16::try_from(id).ok()).filter(|_| known)?;
    Some(Satellite {
        id,
        elevation_deg: whole(elevation).and_then(|e| i8::try_from(e).ok()).filter(|e| (-90..=90).contains(e)),
        azimuth_deg: whole(azimuth).and_then(|a| u16::try_from(a).ok()).filter(|a| *a <= 360),
        snr_db: whole(snr).and_then(|s| u8::try_from(s).ok()),
    })
}

/// Pseudorange error statistics: the receiver's own standard deviations.
pub(super) fn gst(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    fields.skip(2); // Time; RMS of the ranges.
    let major = metres(fields);
    let minor = metres(fields);
    let axis = fields.number_in(-360.0, 360.0);
    let ellipse = match (major, minor, axis) {
        (Some(major), Some(minor), Some(axis)) => {
            Some(Ellipse { major, minor, axis: TrueBearing::new(axis) })
        }
        _ => None,
    };
    if let (Some(lat_sd), Some(lon_sd)) = (metres(fields), metres(fields)) {
        out.push(Observation::Accuracy { lat_sd, lon_sd, ellipse });
    }
    Ok(())
}

/// Satellite fault detection: expected errors of latitude and longitude.
pub(super) fn gbs(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    fields.skip(1); // Time.
    if let (Some(lat_sd), Some(lon_sd)) = (metres(fields), metres(fields)) {
        out.push(Observation::Accuracy { lat_sd, lon_sd, ellipse: None });
    }
    Ok(())
}

fn metres(fields: &mut Fields<'_>) -> Option<Metres> {
    fields.number_in(0.0, METRES_MAX).map(Metres)
}
