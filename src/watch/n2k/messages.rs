//! What each message says.
//!
//! | number | gives |
//! | --- | --- |
//! | 126992 | UTC |
//! | 127250, 127258 | heading, true or by compass; variation |
//! | 127488 | revolutions |
//! | 128259, 128267 | speed through the water; depth below the transducer and the sounder's offset |
//! | 129025, 129029 | position; with UTC, how it was made, satellites and dilution |
//! | 129026 | speed and course over ground |
//! | 130306 | wind |
//! | 129038 to 129040, 129794, 129809, 129810 | other vessels: see `vessels` |

use jiff::ToSpan as _;
use jiff::civil::{Date, date};

use super::payload::Payload;
use super::vessels::{self, is_of_vessels};
use crate::watch::geo::Position;
use crate::watch::nmea::{
    DepthBelow, Fix, FixKind, Machine, MagneticHeading, NoFix, Observation, Remark, TimeOfDay,
};
use crate::watch::si::{self, Notes};
use crate::watch::units::{Span, WatchTime};

/// Receivers whose last word on their fix is kept. Our choice.
const RECEIVERS_MAX: usize = 16;

/// What a receiver said of its fix holds this long for its rapid positions, which say nothing of it. It comes once a second.
const WORD_AGE: Span = Span::from_millis(2500);

/// Decimals of a minute that a step of 1e-7 degrees comes to: 0.000006 minutes.
const RAPID_DECIMALS: u8 = 5;
/// The same of 1e-16 degrees, as many as a double holds.
const WHOLE_DECIMALS: u8 = 9;

/// Whether a watch uses the message.
pub(super) const fn is_needed(pgn: u32) -> bool {
    is_of_vessels(pgn)
        || matches!(
            pgn,
            126_992 | 127_250 | 127_258 | 127_488 | 128_259 | 128_267 | 129_025 | 129_026 | 129_029 | 130_306
        )
}

/// Whether it comes in several frames.
pub(super) const fn is_fast(pgn: u32) -> bool {
    pgn == 129_029 || is_of_vessels(pgn)
}

/// What a receiver said last of how its positions are made.
#[derive(Clone, Copy, Debug)]
struct Word {
    source: u8,
    at: WatchTime,
    utc: Option<TimeOfDay>,
    kind: Result<FixKind, NoFix>,
}

/// The receivers on the network.
#[derive(Clone, Debug, Default)]
pub(super) struct Receivers {
    words: Vec<Word>,
}

impl Receivers {
    /// Appends what a whole message says; returns what is to be remarked on.
    pub(super) fn observe(
        &mut self,
        at: WatchTime,
        source: u8,
        pgn: u32,
        data: &[u8],
        out: &mut Vec<Observation>,
    ) -> Option<Remark> {
        let from = out.len();
        let (payload, mut notes) = (Payload(data), Notes::default());
        match pgn {
            126_992 => system_time(payload, &mut notes, out),
            127_250 => heading(payload, &mut notes, out),
            127_258 => variation(payload, &mut notes, out),
            127_488 => engine(payload, out),
            128_259 => water_speed(payload, &mut notes, out),
            128_267 => depth(payload, &mut notes, out),
            129_025 => self.rapid_position(at, source, payload, &mut notes, out),
            129_026 => over_ground(payload, &mut notes, out),
            129_029 => self.position(at, source, payload, &mut notes, out),
            130_306 => wind(payload, &mut notes, out),
            _ => out.extend(vessels::report(pgn, payload, &mut notes).map(Observation::Vessel)),
        }
        notes.remark().or_else(|| (out.len() == from).then_some(Remark::Empty))
    }

    /// Position alone. Where the receiver has said in its other message that it has no fix, it has none here either.
    fn rapid_position(
        &self,
        at: WatchTime,
        source: u8,
        payload: Payload<'_>,
        notes: &mut Notes,
        out: &mut Vec<Observation>,
    ) {
        let place = payload.signed(0, 4).zip(payload.signed(4, 4));
        let place = place.map(|(lat, lon)| si::position(lat as f64 / 1e7, lon as f64 / 1e7));
        let word = self.words.iter().find(|w| w.source == source && at.since(w.at) <= WORD_AGE);
        let (kind, utc) = word.map_or((Ok(FixKind::Autonomous), None), |word| (word.kind, word.utc));
        let fix = |(position, kind)| Fix {
            position,
            utc,
            kind,
            minute_decimals: RAPID_DECIMALS,
            hdop: None,
            satellites: None,
        };
        push_fix(place, kind, utc, fix, notes, out);
    }

    /// Position with all that the receiver knows of it.
    fn position(
        &mut self,
        at: WatchTime,
        source: u8,
        payload: Payload<'_>,
        notes: &mut Notes,
        out: &mut Vec<Observation>,
    ) {
        let utc = utc(payload, 1, notes);
        let time = utc.map(|(time, _)| time);
        let kind = by_method(payload.bits(31, 4, 4));
        self.remember(Word { source, at, utc: time, kind });
        if let (Some((time, date)), Ok(_)) = (utc, kind) {
            out.push(Observation::Utc { time, date });
        }
        let place = payload.signed(7, 8).zip(payload.signed(15, 8));
        let place = place.map(|(lat, lon)| si::position(lat as f64 / 1e16, lon as f64 / 1e16));
        let satellites = payload.unsigned(33, 1).and_then(|count| u8::try_from(count).ok());
        let hdop =
            payload.signed(34, 2).and_then(|hdop| notes.take(si::within(hdop as f64 / 100.0, 0.0, 100.0)));
        let fix = |(position, kind)| Fix {
            position,
            utc: time,
            kind,
            minute_decimals: WHOLE_DECIMALS,
            hdop,
            satellites,
        };
        push_fix(place, kind, time, fix, notes, out);
    }

    fn remember(&mut self, word: Word) {
        self.words.retain(|known| known.source != word.source);
        if self.words.len() == RECEIVERS_MAX {
            self.words.remove(0);
        }
        self.words.push(word);
    }
}

/// Pushes the fix, or why there is none.
fn push_fix(
    place: Option<Result<Position, Remark>>,
    kind: Result<FixKind, NoFix>,
    utc: Option<TimeOfDay>,
    fix: impl FnOnce((Position, FixKind)) -> Fix,
    notes: &mut Notes,
    out: &mut Vec<Observation>,
) {
    out.push(match notes.fix(kind, place) {
        Ok(found) => Observation::Fix(fix(found)),
        Err(why) => Observation::NoFix { utc, why },
    });
}

/// Method of the position.
fn by_method(method: Option<u8>) -> Result<FixKind, NoFix> {
    match method {
        Some(1) => Ok(FixKind::Autonomous),
        Some(2) => Ok(FixKind::Differential),
        Some(3) => Ok(FixKind::Precise),
        Some(4) => Ok(FixKind::Rtk),
        Some(5) => Ok(FixKind::FloatRtk),
        Some(6) => Err(NoFix::Estimated),
        Some(7) => Err(NoFix::Manual),
        Some(8) => Err(NoFix::Simulated),
        _ => Err(NoFix::Void),
    }
}

/// Days since 1970 and 0.0001 s since midnight.
fn utc(payload: Payload<'_>, from: usize, notes: &mut Notes) -> Option<(TimeOfDay, Option<Date>)> {
    let ticks = payload.unsigned(from + 2, 4)?;
    let time = time_of_day(ticks).ok_or(Remark::BadTime);
    let time = notes.take(time)?;
    let days = payload.unsigned(from, 2).and_then(|days| i64::try_from(days).ok());
    let date = days.and_then(|days| date(1970, 1, 1).checked_add(days.days()).ok());
    Some((time, date.and_then(|date| notes.take(si::date(date)))))
}

fn time_of_day(ticks: u64) -> Option<TimeOfDay> {
    let millis = u32::try_from(ticks / 10).ok()?;
    let (seconds, millis) = (millis / 1000, millis % 1000);
    if seconds == 86_400 {
        return TimeOfDay::new(23, 59, 60, millis);
    }
    TimeOfDay::new(seconds / 3600, seconds / 60 % 60, seconds % 60, millis)
}

fn system_time(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    // A clock on the board of an instrument (source 5) is none that a receiver has set; 0 to 2 come from satellites or radio.
    if payload.bits(1, 0, 4).is_some_and(|source| source > 2) {
        return notes.note(Remark::NotMeasured);
    }
    out.extend(utc(payload, 2, notes).map(|(time, date)| Observation::Utc { time, date }));
}

/// A field of 0.0001 rad.
fn radians(payload: Payload<'_>, from: usize) -> Option<f64> {
    payload.unsigned(from, 2).map(|steps| steps as f64 * 1e-4)
}

/// A correction of 0.0001 rad, east positive.
fn correction(payload: Payload<'_>, from: usize, notes: &mut Notes) -> Option<f64> {
    payload.signed(from, 2).and_then(|steps| notes.take(si::east_deg(steps as f64 * 1e-4)))
}

/// A field of 0.01 m/s.
fn mps(payload: Payload<'_>, from: usize) -> Option<f64> {
    payload.unsigned(from, 2).map(|steps| steps as f64 / 100.0)
}

fn heading(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    let Some(angle) = radians(payload, 1) else { return };
    let deviation_deg = correction(payload, 3, notes);
    let variation_deg = correction(payload, 5, notes);
    match payload.bits(7, 0, 2) {
        Some(0) => out.extend(notes.take(si::bearing(angle)).map(Observation::HeadingTrue)),
        Some(1) => {
            out.extend(notes.take(si::degrees(angle)).map(|compass_deg| {
                Observation::HeadingMagnetic(MagneticHeading { compass_deg, deviation_deg, variation_deg })
            }));
            out.extend(variation_deg.map(|east_deg| Observation::Variation { east_deg }));
        }
        _ => notes.note(Remark::Void),
    }
}

fn variation(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    // Typed in by hand (0) is no measurement; the rest are tables and models.
    if payload.bits(1, 0, 4) == Some(0) {
        return notes.note(Remark::NotMeasured);
    }
    out.extend(correction(payload, 4, notes).map(|east_deg| Observation::Variation { east_deg }));
}

fn engine(payload: Payload<'_>, out: &mut Vec<Observation>) {
    let number = payload.unsigned(0, 1).and_then(|number| u8::try_from(number).ok());
    let quarters = payload.unsigned(1, 2);
    out.extend(number.zip(quarters).map(|(number, quarters)| Observation::Revolutions {
        of: Machine::Engine,
        number,
        rpm: quarters as f64 / 4.0,
    }));
}

fn water_speed(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    out.extend(mps(payload, 1).and_then(|mps| notes.take(si::speed(mps))).map(Observation::WaterSpeed));
}

fn depth(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    let depth = payload.unsigned(1, 4).and_then(|cm| notes.take(si::depth(cm as f64 / 100.0)));
    let offset = payload.signed(5, 2).and_then(|mm| notes.take(si::offset(mm as f64 / 1000.0)));
    out.extend(depth.map(|depth| Observation::Depth { below: DepthBelow::Transducer, depth, offset }));
}

fn over_ground(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    // A course by the compass lacks the variation to be used.
    let is_true = payload.bits(1, 0, 2) == Some(0);
    let course = radians(payload, 2).filter(|_| is_true);
    let cog = course.and_then(|course| notes.take(si::bearing(course)));
    let sog = mps(payload, 4).and_then(|mps| notes.take(si::sog(mps)));
    out.extend(sog.map(|sog| Observation::Velocity { sog, cog }));
}

fn wind(payload: Payload<'_>, notes: &mut Notes, out: &mut Vec<Observation>) {
    let speed = mps(payload, 1).and_then(|mps| notes.take(si::wind_speed(mps)));
    let (Some(speed), Some(angle)) = (speed, radians(payload, 3)) else { return };
    let wind = match payload.bits(5, 0, 3) {
        Some(0) => si::bearing(angle).map(|from| Observation::WindDirection {
            true_from: Some(from),
            magnetic_from_deg: None,
            speed: Some(speed),
        }),
        Some(1) => si::degrees(angle).map(|degrees| Observation::WindDirection {
            true_from: None,
            magnetic_from_deg: Some(degrees),
            speed: Some(speed),
        }),
        Some(2) => si::from_bow(angle).map(|angle_deg| Observation::ApparentWind { angle_deg, speed }),
        Some(3 | 4) => {
            si::from_bow(angle).map(|angle_deg| Observation::TrueWindRelative { angle_deg, speed })
        }
        _ => Err(Remark::Void),
    };
    out.extend(notes.take(wind));
}
