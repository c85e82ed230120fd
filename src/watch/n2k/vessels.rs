//! What other vessels say of themselves by their transponders.
//!
//! | number | gives |
//! | --- | --- |
//! | 129038, 129039, 129040 | position, course and speed over ground, heading; of class A what she is doing, of 129040 name and size |
//! | 129794, 129809, 129810 | name; size |
//!
//! # Source
//! The canboat project's description; codes and "not available" by ITU-R M.1371.

use super::payload::Payload;
use crate::watch::nmea::{AisReport, NavStatus, ShortName, Size, ship_name};
use crate::watch::si::{self, Notes};
use crate::watch::units::Metres;

/// Whether a message tells of another vessel. All of these come in several frames.
pub(super) const fn is_of_vessels(pgn: u32) -> bool {
    matches!(pgn, 129_038..=129_040 | 129_794 | 129_809 | 129_810)
}

/// What a whole message says of a vessel; `None` without her number.
pub(super) fn report(pgn: u32, payload: Payload<'_>, notes: &mut Notes) -> Option<AisReport> {
    let mmsi = payload.unsigned(1, 4).and_then(|mmsi| u32::try_from(mmsi).ok());
    let mmsi = mmsi.filter(|mmsi| (1..=999_999_999).contains(mmsi))?;
    let moves = matches!(pgn, 129_038..=129_040);
    let code = if pgn == 129_038 { payload.bits(25, 0, 4) } else { None };
    Some(AisReport {
        mmsi,
        own: is_own(pgn, payload),
        message: payload.bits(0, 0, 6).filter(|kind| *kind > 0).unwrap_or(usual_kind(pgn)),
        position: moves.then(|| position(payload, notes)).flatten(),
        sog: moves
            .then(|| payload.unsigned(16, 2))
            .flatten()
            .and_then(|v| notes.take(si::sog(v as f64 / 100.0))),
        cog: moves.then(|| angle(payload, 14, notes)).flatten(),
        heading: moves.then(|| angle(payload, 21, notes)).flatten(),
        status: code.and_then(NavStatus::of),
        name: name(pgn, payload),
        size: size(pgn, payload),
    })
}

/// The message of ITU-R M.1371 that is passed on, where the gateway does not say.
const fn usual_kind(pgn: u32) -> u8 {
    match pgn {
        129_038 => 1,
        129_039 => 18,
        129_040 => 19,
        129_794 => 5,
        _ => 24,
    }
}

/// Sent by her own transponder, or told by it without being sent.
fn is_own(pgn: u32, payload: Payload<'_>) -> bool {
    let way = match pgn {
        129_038 | 129_039 => payload.bits(20, 3, 5),
        129_040 => payload.bits(52, 6, 2).zip(payload.bits(53, 0, 3)).map(|(low, high)| high << 2 | low),
        129_794 => payload.bits(74, 0, 5),
        129_809 => payload.bits(25, 0, 5),
        _ => payload.bits(33, 0, 5),
    };
    matches!(way, Some(2..=4))
}

fn position(payload: Payload<'_>, notes: &mut Notes) -> Option<crate::watch::geo::Position> {
    let (lon, lat) = payload.signed(5, 4).zip(payload.signed(9, 4))?;
    // 91° and 181° stand for "not available".
    if lat == 910_000_000 || lon == 1_810_000_000 {
        return None;
    }
    notes.take(si::position(lat as f64 / 1e7, lon as f64 / 1e7))
}

fn angle(payload: Payload<'_>, from: usize, notes: &mut Notes) -> Option<crate::watch::units::TrueBearing> {
    payload.unsigned(from, 2).and_then(|steps| notes.take(si::bearing(steps as f64 * 1e-4)))
}

fn name(pgn: u32, payload: Payload<'_>) -> Option<ShortName> {
    let from = match pgn {
        129_794 => 16,
        129_809 => 5,
        129_040 => 32,
        _ => return None,
    };
    ship_name(payload.0.get(from..from + 20)?)
}

/// Length and beam, and where in them her antenna stands. None, if she gives neither.
fn size(pgn: u32, payload: Payload<'_>) -> Option<Size> {
    let from = match pgn {
        129_794 => 37,
        129_810 => 20,
        129_040 => 24,
        _ => return None,
    };
    // A tender's report carries her mother ship's number in place of her size (ITU-R M.1371).
    let is_tender = pgn == 129_810 && payload.unsigned(1, 4).is_some_and(|mmsi| mmsi / 10_000_000 == 98);
    let tenths = |at: usize| payload.unsigned(from + at, 2).unwrap_or(0) as f64 / 10.0;
    let [length, beam, starboard, bow] = [tenths(0), tenths(2), tenths(4), tenths(6)];
    let given = !is_tender && (length > 0.0 || beam > 0.0);
    given.then(|| Size {
        to_bow: Metres(bow),
        to_stern: Metres((length - bow).max(0.0)),
        to_port: Metres((beam - starboard).max(0.0)),
        to_starboard: Metres(starboard),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A message of that length with all values missing, and some bytes put in.
    fn message(length: usize, bytes: &[(usize, &[u8])]) -> Vec<u8> {
        let mut message = vec![0xFF; length];
        for (from, put) in bytes {
            message[*from..from + put.len()].copy_from_slice(put);
        }
        message
    }

    fn read(pgn: u32, message: &[u8]) -> Option<AisReport> {
        report(pgn, Payload(message), &mut Notes::default())
    }

    const MMSI: (usize, &[u8]) = (1, &[0x15, 0xCD, 0x5B, 0x07]);

    #[test]
    fn nothing_available_says_that_she_is_there_and_no_more() {
        let none = i32::MAX.to_le_bytes();
        let heard = read(129_038, &message(28, &[(0, &[1]), MMSI, (5, &none), (9, &none)])).unwrap();
        assert_eq!((heard.mmsi, heard.message, heard.own), (123_456_789, 1, false));
        assert!(
            heard.position.is_none() && heard.sog.is_none() && heard.cog.is_none() && heard.status.is_none()
        );
        let no_place = [(5, &1_810_000_000_i32.to_le_bytes()[..]), (9, &910_000_000_i32.to_le_bytes()[..])];
        let heard = read(129_039, &message(27, &[(0, &[18]), MMSI, no_place[0], no_place[1]])).unwrap();
        assert_eq!(heard.position, None);
    }

    #[test]
    fn her_own_transponder_is_told_by_how_it_was_heard() {
        for (code, own) in [(0_u8, false), (1, false), (2, true), (3, true), (4, true), (5, false)] {
            let way: &[u8] = &[code << 3];
            assert_eq!(read(129_039, &message(27, &[MMSI, (20, way)])).unwrap().own, own, "{code}");
            let split: &[u8] = &[code << 6, code >> 2];
            assert_eq!(read(129_040, &message(54, &[MMSI, (52, split)])).unwrap().own, own, "{code}");
        }
    }

    #[test]
    fn a_number_that_is_none_names_nobody_and_a_tender_has_no_size() {
        assert_eq!(read(129_038, &message(28, &[(1, &[0; 4])])), None);
        assert_eq!(read(129_038, &[1, 2]), None);
        let tender = 982_345_678_u32.to_le_bytes();
        let size: &[u8] = &[100, 0, 40, 0, 20, 0, 50, 0];
        assert_eq!(read(129_810, &message(35, &[(1, &tender), (20, size)])).unwrap().size, None);
        let yacht = read(129_810, &message(35, &[MMSI, (20, size)])).unwrap().size.unwrap();
        assert_eq!((yacht.to_bow, yacht.to_stern), (Metres(5.0), Metres(5.0)));
    }
}
