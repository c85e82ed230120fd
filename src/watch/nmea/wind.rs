//! MWV, MWD, VWR, VWT, MDA: wind, and the weather that comes with it.

use super::field::{Fields, number};
use super::observation::{Observation, ShortName, Transducer};
use super::outcome::{Rejected, Remark};
use crate::watch::units::{Knots, TrueBearing};

/// Above any wind measured at sea level (113 m/s, WMO record gust at Barrow Island 1996), in knots.
pub(in crate::watch) const WIND_KNOTS_MAX: f64 = 250.0;

/// Miles an hour in a knot: 1852 m to 1609.344 m.
const MPH_PER_KNOT: f64 = 1852.0 / 1609.344;

/// Wind speed and angle: from the bow, apparent or true. Some converters leave the status off; with speed and unit
/// there, the wind is taken (common practice, no source).
///
/// # Errors
/// `TooFewFields` without speed and unit; `NotANumber` or `OutOfRange` if the angle is unusable: it is the
/// point of the sentence.
pub(super) fn mwv(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let angle = wind_angle(fields.text())?;
    let reference = fields.letter();
    let value = fields.number();
    if fields.at_end() {
        return Err(Rejected::TooFewFields);
    }
    let unit = fields.letter();
    if !fields.at_end() && fields.letter() != b'A' {
        fields.note_above_all(Remark::Void);
        return Ok(());
    }
    let (Some(angle_deg), Some(speed)) = (angle, wind_speed(fields, value, unit)) else { return Ok(()) };
    match reference {
        b'R' => out.push(Observation::ApparentWind { angle_deg, speed }),
        b'T' => out.push(Observation::TrueWindRelative { angle_deg, speed }),
        _ => fields.note(Remark::Void),
    }
    Ok(())
}

/// Wind direction and speed: true and magnetic, knots and metres a second.
pub(super) fn mwd(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let true_from = fields.bearing();
    fields.skip(1);
    let magnetic_from_deg = fields.degrees();
    fields.skip(1);
    let knots = fields.number();
    fields.skip(1);
    let mps = fields.number();
    let speed = match (knots, mps) {
        (Some(_), _) => wind_speed(fields, knots, b'N'),
        (None, _) => wind_speed(fields, mps, b'M'),
    };
    push_direction(out, true_from, magnetic_from_deg, speed);
    Ok(())
}

/// Relative (apparent) wind: angle to the left or right of the bow.
pub(super) fn vwr(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let wind = left_or_right(fields)?;
    out.extend(wind.map(|(angle_deg, speed)| Observation::ApparentWind { angle_deg, speed }));
    Ok(())
}

/// True wind relative to the bow: angle to the left or right.
pub(super) fn vwt(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let wind = left_or_right(fields)?;
    out.extend(wind.map(|(angle_deg, speed)| Observation::TrueWindRelative { angle_deg, speed }));
    Ok(())
}

/// Meteorological composite, read by the `nmea` crate.
pub(super) fn mda(
    sentence: nmea::NmeaSentence<'_>,
    fields: &mut Fields<'_>,
    out: &mut Vec<Observation>,
) -> Result<(), Rejected> {
    // The crate takes `NaN` and exponents for numbers.
    let plain = sentence.data.bytes().all(|b| b.is_ascii_digit() || b",.-+IBCTMN".contains(&b));
    let Some(data) = plain.then(|| nmea::sentences::parse_mda(sentence).ok()).flatten() else {
        fields.note(Remark::NotANumber);
        return Ok(());
    };
    let within =
        |value: Option<f32>, low: f64, high: f64| value.map(shortest).filter(|v| (low..=high).contains(v));
    let sensor = |kind, unit, name, value: Option<f64>| {
        value.map(|value| {
            Observation::Transducer(Transducer { kind, value, unit, name: ShortName::new(name) })
        })
    };
    out.extend(sensor(b'P', b'B', b"BARO", within(data.pressure_bar, 0.8, 1.2)));
    out.extend(sensor(b'C', b'C', b"AIRTEMP", within(data.air_temp_deg, -90.0, 60.0)));
    out.extend(
        within(data.water_temp_deg, -10.0, 60.0).map(|celsius| Observation::WaterTemperature { celsius }),
    );
    let speed = within(data.wind_speed_knots, 0.0, WIND_KNOTS_MAX)
        .map(Knots)
        .or_else(|| within(data.wind_speed_ms, 0.0, WIND_KNOTS_MAX / 2.0).map(Knots::from_mps));
    let true_from = within(data.wind_direction_true, 0.0, 360.0).map(TrueBearing::new);
    push_direction(out, true_from, within(data.wind_direction_magnetic, 0.0, 360.0), speed);
    Ok(())
}

/// What was printed, from the single that the crate made of it: a single holds seven figures.
fn shortest(value: f32) -> f64 {
    let scale = if value.abs() < 10.0 { 1e5 } else { 1e3 };
    (f64::from(value) * scale).round() / scale
}

fn push_direction(
    out: &mut Vec<Observation>,
    true_from: Option<TrueBearing>,
    magnetic_from_deg: Option<f64>,
    speed: Option<Knots>,
) {
    if true_from.is_some() || magnetic_from_deg.is_some() {
        out.push(Observation::WindDirection { true_from, magnetic_from_deg, speed });
    }
}

/// `0..=360` clockwise from the bow, as `-180.0..180.0`.
fn wind_angle(text: &[u8]) -> Result<Option<f64>, Rejected> {
    if text.is_empty() {
        return Ok(None);
    }
    let degrees = number(text).ok_or(Rejected::NotANumber)?;
    if !(0.0..=360.0).contains(&degrees) {
        return Err(Rejected::OutOfRange);
    }
    Ok(Some(if degrees >= 180.0 { degrees - 360.0 } else { degrees }))
}

/// Angle, `L` or `R`, then the speed in knots, metres a second and kilometres an hour.
fn left_or_right(fields: &mut Fields<'_>) -> Result<Option<(f64, Knots)>, Rejected> {
    let angle = wind_angle(fields.text())?;
    let angle = match (angle, fields.letter()) {
        (Some(angle), b'R') => Some(angle),
        (Some(-180.0), b'L') => Some(-180.0),
        (Some(angle), b'L') => Some(-angle),
        _ => None,
    };
    let mut speed = None;
    for unit in *b"NMK" {
        let value = fields.number();
        fields.skip(1);
        speed = speed.or_else(|| wind_speed(fields, value, unit));
    }
    Ok(angle.zip(speed))
}

/// A speed in knots, from `K`ilometres an hour, `M`etres a second, k`N`ots or `S`tatute miles an hour.
fn wind_speed(fields: &mut Fields<'_>, value: Option<f64>, unit: u8) -> Option<Knots> {
    let value = value?;
    let knots = match unit {
        b'N' => Knots(value),
        b'M' => Knots::from_mps(value),
        b'K' => Knots::from_mps(value / 3.6),
        b'S' => Knots(value / MPH_PER_KNOT),
        _ => {
            fields.note(Remark::NotANumber);
            return None;
        }
    };
    if (0.0..=WIND_KNOTS_MAX).contains(&knots.0) {
        return Some(knots);
    }
    fields.note(Remark::OutOfRange);
    None
}
