//! One frame of the network, as text.
//!
//! | written by | looks like |
//! | --- | --- |
//! | gateways, RAW text | `17:33:21.107 R 19F51323 01 2F 30 70 00 2F 30 70` |
//! | `candump -l` | `(1436509052.249713) can0 0DF80503#FF00FF7FFFFFFFFF` |
//! | `candump`, with or without a time | `  can0  09F8027F   [8]  00 FC FF FF 00 00 FF FF` |
//! | older `candump` | `<0x18eeff01> [8] 05 a0 be 1c 00 a0 a0 c0` |
//!
//! No form has a checksum: what carries them must have its own, as USB, UDP and TCP have.

use crate::watch::nmea::Rejected;

/// Bits of an extended identifier (ISO 11898-1).
const ID_MAX: u32 = 0x1FFF_FFFF;

/// From this PDU format on a message is for all, and the next byte belongs to its number (ISO 11783-3).
const FOR_ALL: u8 = 240;

/// Tokens of the longest form: time, name, identifier, length, eight bytes.
const TOKENS_MAX: usize = 12;

/// A frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame {
    /// Number of the parameter group.
    pub pgn: u32,
    /// Address of the sender.
    pub source: u8,
    /// Whether a program sent it to the network by way of this gateway: no instrument said it.
    pub is_sent: bool,
    /// When, milliseconds of Unix time, where the line has a date.
    pub unix_ms: Option<i64>,
    bytes: [u8; 8],
    len: u8,
}

impl Frame {
    /// Its data, at most eight bytes.
    #[must_use]
    pub fn data(&self) -> &[u8] {
        &self.bytes[..usize::from(self.len)]
    }

    /// Reads a line without its end; `None` if it does not begin as a frame does.
    ///
    /// # Errors
    /// `BrokenFrame` if it begins so and goes on otherwise.
    #[must_use]
    pub fn read(line: &[u8]) -> Option<Result<Self, Rejected>> {
        let mut words = line.split(|b| *b == b' ' || *b == b'\t').filter(|token| !token.is_empty());
        let mut tokens = [&[][..]; TOKENS_MAX];
        let count = tokens.iter_mut().zip(&mut words).map(|(place, word)| *place = word).count();
        let too_long = words.next().is_some();
        let frame = match &tokens[..count] {
            [time, direction @ (b"R" | b"T"), rest @ ..] if is_time_of_day(time) => raw(direction, rest),
            [stamp, interface, rest @ ..] if is_stamp(stamp) && is_interface(interface) => {
                candump(rest).map(|frame| Self { unix_ms: unix_ms(stamp), ..frame })
            }
            [interface, id, length, ..] if is_interface(interface) && is_length(length) => {
                counted(id, &tokens[2..count])
            }
            [id, length, ..] if id.starts_with(b"<0x") && is_length(length) => {
                let id = id.strip_prefix(b"<0x").and_then(|id| id.strip_suffix(b">"));
                id.and_then(|id| counted(id, &tokens[1..count]))
            }
            _ => return None,
        };
        Some(frame.filter(|_| !too_long).ok_or(Rejected::BrokenFrame))
    }
}

/// What follows time and direction.
fn raw(direction: &[u8], rest: &[&[u8]]) -> Option<Frame> {
    let (id, bytes) = rest.split_first()?;
    Some(Frame { is_sent: direction == b"T", ..frame(id, bytes)? })
}

/// What follows the interface: `ID#BYTES`, or the identifier, the length and the bytes.
fn candump(rest: &[&[u8]]) -> Option<Frame> {
    let (head, tail) = rest.split_first()?;
    let Some(hash) = head.iter().position(|b| *b == b'#') else {
        return counted(head, tail);
    };
    let (id, digits) = (&head[..hash], &head[hash + 1..]);
    // `candump -L` may write the direction behind.
    let is_alone = matches!(tail, [] | [b"R"] | [b"T"]);
    let mut pairs = [&[][..]; 8];
    if !is_alone || digits.len() > 16 {
        return None;
    }
    let count = digits.chunks(2).zip(&mut pairs).map(|(pair, place)| *place = pair).count();
    frame(id, &pairs[..count])
}

/// `[8]` and as many bytes.
fn counted(id: &[u8], rest: &[&[u8]]) -> Option<Frame> {
    let (length, bytes) = rest.split_first()?;
    let length = is_length(length).then(|| usize::from(length[1] - b'0'))?;
    (bytes.len() == length).then(|| frame(id, bytes)).flatten()
}

fn frame(id: &[u8], pairs: &[&[u8]]) -> Option<Frame> {
    // Standard identifiers have three figures, and NMEA 2000 uses none.
    let id = (id.len() == 8).then(|| hex(id)).flatten().filter(|id| *id <= ID_MAX)?;
    let mut bytes = [0; 8];
    if pairs.len() > bytes.len() {
        return None;
    }
    for (place, pair) in bytes.iter_mut().zip(pairs) {
        *place = (pair.len() == 2).then(|| hex(pair)).flatten().and_then(|byte| u8::try_from(byte).ok())?;
    }
    let [_, format, specific, source] = id.to_be_bytes();
    let page = id >> 24 & 0b11;
    let number = if format < FOR_ALL { 0 } else { u32::from(specific) };
    let pgn = page << 16 | u32::from(format) << 8 | number;
    Some(Frame { pgn, source, is_sent: false, unix_ms: None, bytes, len: pairs.len() as u8 })
}

fn hex(figures: &[u8]) -> Option<u32> {
    figures.iter().try_fold(0, |value, figure| Some(value << 4 | char::from(*figure).to_digit(16)?))
}

/// `17:33:21.107`
fn is_time_of_day(token: &[u8]) -> bool {
    let shape = token.iter().enumerate().all(|(i, b)| match i {
        2 | 5 => *b == b':',
        8 => *b == b'.',
        _ => b.is_ascii_digit(),
    });
    shape && (8..=15).contains(&token.len()) && token.len() != 9
}

/// `(1436509052.249713)`
fn is_stamp(token: &[u8]) -> bool {
    matches!(token, [b'(', inner @ .., b')'] if !inner.is_empty() && inner.iter().all(|b| b.is_ascii_digit() || b".-".contains(b)))
}

/// The stamp's time, if it counts from 1970: from boot or the line before it says nothing of the date.
fn unix_ms(stamp: &[u8]) -> Option<i64> {
    let text = str::from_utf8(stamp).ok()?.trim_matches(['(', ')']);
    let (seconds, fraction) = text.split_once('.').unwrap_or((text, ""));
    let seconds: i64 = seconds.parse().ok().filter(|s| (1_000_000_000..100_000_000_000).contains(s))?;
    let millis =
        fraction.bytes().chain(*b"000").take(3).try_fold(0, |sum, figure| {
            figure.is_ascii_digit().then(|| sum * 10 + i64::from(figure - b'0'))
        })?;
    Some(seconds * 1000 + millis)
}

/// `can0`, `slcan1`, `vcan0`: a name of the system's, with a number.
fn is_interface(token: &[u8]) -> bool {
    token.len() <= 15
        && token.windows(3).any(|w| w == b"can")
        && token.iter().all(|b| b.is_ascii_alphanumeric() || b"_-.".contains(b))
}

/// `[8]`
fn is_length(token: &[u8]) -> bool {
    matches!(token, [b'[', b'0'..=b'8', b']'])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Number, sender and data.
    type Read = (u32, u8, Vec<u8>);

    fn read(line: &str) -> Option<Result<Read, Rejected>> {
        Frame::read(line.as_bytes()).map(|frame| frame.map(|f| (f.pgn, f.source, f.data().to_vec())))
    }

    #[test]
    fn every_form_of_one_frame_says_the_same() {
        let same = Some(Ok((129_026, 0x7F, vec![0, 0xFC, 0xFF, 0xFF, 0, 0, 0xFF, 0xFF])));
        for line in [
            "17:33:21.107 R 09F8027F 00 FC FF FF 00 00 FF FF",
            "17:33:21 R 09f8027f 00 fc ff ff 00 00 ff ff",
            "(1436509052.249713) can0 09F8027F#00FCFFFF0000FFFF",
            "(1436509052.249713) can0 09F8027F#00FCFFFF0000FFFF R",
            " (1436509052.249713)  can0  09F8027F   [8]  00 FC FF FF 00 00 FF FF",
            "  slcan0  09F8027F   [8]  00 FC FF FF 00 00 FF FF",
            "<0x09f8027f> [8] 00 fc ff ff 00 00 ff ff",
        ] {
            assert_eq!(read(line), same, "{line}");
        }
    }

    #[test]
    fn the_destination_is_no_part_of_the_number() {
        assert_eq!(read("00:00:00.000 R 18EA2305 00 EE 00"), Some(Ok((59_904, 5, vec![0, 0xEE, 0]))));
    }

    #[test]
    fn what_programs_sent_is_told_from_what_instruments_said() {
        assert!(Frame::read(b"00:00:00.000 T 18EA2305 00 EE 00").unwrap().unwrap().is_sent);
    }

    #[test]
    fn a_stamp_that_counts_from_1970_is_a_time() {
        let at = |line: &[u8]| Frame::read(line).unwrap().unwrap().unix_ms;
        assert_eq!(at(b"(1436509052.249713) can0 09F8027F#00"), Some(1_436_509_052_249));
        assert_eq!(at(b"(000.200001) can0 09F8027F#00"), None);
    }

    #[test]
    fn broken_frames_are_refused_and_other_lines_are_none() {
        for broken in [
            "17:33:21.107 R",
            "17:33:21.107 R 09F8027",
            "17:33:21.107 R 39F8027F 00",
            "17:33:21.107 R 09F8027F 0",
            "17:33:21.107 R 09F8027F 00 00 00 00 00 00 00 00 00",
            "(1.0) can0 09F8027F#0",
            "(1.0) can0 123#00",
            "(1.0) can0 09F8027F##100",
            "can0 09F8027F [8] 00 FC",
            "<0x09f8027f [1] 00",
        ] {
            assert_eq!(read(broken), Some(Err(Rejected::BrokenFrame)), "{broken}");
        }
        for other in
            ["", "noise", "17:33:21.107", "17:33:21.107 X 09F8027F 00", "canal grande", "(1.0) eth0 x"]
        {
            assert_eq!(read(other), None, "{other}");
        }
    }
}
