//! MTW, RPM, XDR: temperature, revolutions and whatever else is fitted.

use super::field::{Fields, number};
use super::observation::{Machine, Observation, ShortName, Transducer};
use super::outcome::{Rejected, Remark};

/// Water temperature.
pub(super) fn mtw(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let celsius = fields.number_in(-10.0, 60.0);
    out.extend(celsius.map(|celsius| Observation::WaterTemperature { celsius }));
    Ok(())
}

/// Revolutions of an engine or shaft.
pub(super) fn rpm(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let of = match fields.letter() {
        b'E' => Some(Machine::Engine),
        b'S' => Some(Machine::Shaft),
        _ => None,
    };
    let number = fields.whole().and_then(|n| u8::try_from(n).ok());
    let rpm = fields.number_in(-100_000.0, 100_000.0);
    fields.skip(1); // Pitch of the propeller.
    if fields.letter() != b'A' {
        fields.note_above_all(Remark::Void);
    } else if let (Some(of), Some(number), Some(rpm)) = (of, number, rpm) {
        out.push(Observation::Revolutions { of, number, rpm });
    }
    Ok(())
}

/// Transducers: any number of groups of kind, value, unit and name.
///
/// # Errors
/// `TooFewFields` if the last group is not whole: one cannot tell which of its fields is lost.
pub(super) fn xdr(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let from = out.len();
    while !fields.at_end() {
        let kind = fields.letter();
        let value = fields.text();
        let unit = fields.letter();
        if fields.at_end() {
            out.truncate(from);
            return Err(Rejected::TooFewFields);
        }
        let name = ShortName::new(fields.text());
        match number(value) {
            Some(value) => out.push(Observation::Transducer(Transducer { kind, value, unit, name })),
            None if value.is_empty() => {}
            None => fields.note(Remark::NotANumber),
        }
    }
    Ok(())
}
