//! TAG blocks: source and time in front of a sentence, between backslashes.
//!
//! # Source
//! NMEA 0183 version 4 and IEC 61162-450, from memory: `\s:gps,c:1767225600*hh\$…`, parameters separated by
//! commas, a checksum over what lies between the backslash and `*`. `c` is Unix time in seconds; some equipment,
//! and this program's own log, write milliseconds.

use super::checksum;
use super::outcome::Rejected;

/// What the TAG blocks in front of a sentence say. An outer block speaks before an inner one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tag<'a> {
    /// `s`: who sent it.
    pub source: Option<&'a str>,
    /// `d`: for whom.
    pub destination: Option<&'a str>,
    /// `c`: when, in milliseconds since the Unix epoch.
    pub unix_ms: Option<i64>,
    /// `n`: line number.
    pub line: Option<u32>,
    /// `g`: sentence of a group, as written.
    pub group: Option<&'a str>,
}

/// Above this, `c` is in milliseconds: as seconds it would be the year 5138, as milliseconds it is 1973.
const MILLIS_FROM: i64 = 100_000_000_000;

/// A line parted into its first TAG block and the rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stripped<'a> {
    /// Empty if there was no block, or if its checksum was wrong.
    pub tag: Tag<'a>,
    /// What follows the block.
    pub rest: &'a [u8],
    /// Whether a block was there and had to be left unread.
    pub dropped: bool,
}

/// Parts a line from the first TAG block in front of it, if there is one.
///
/// # Errors
/// `BrokenTag` if the block is never closed; `Noise` if moreover it is no text.
pub fn strip_tag(line: &[u8]) -> Result<Stripped<'_>, Rejected> {
    let Some(inside) = line.strip_prefix(b"\\") else {
        return Ok(Stripped { tag: Tag::default(), rest: line, dropped: false });
    };
    let Some(end) = inside.iter().position(|&b| b == b'\\') else {
        let text = inside.iter().all(|b| (0x20..0x7F).contains(b));
        return Err(if text { Rejected::BrokenTag } else { Rejected::Noise });
    };
    let (block, rest) = (&inside[..end], &inside[end + 1..]);
    let tag = read_block(block);
    Ok(Stripped { tag: tag.unwrap_or_default(), rest, dropped: tag.is_none() && !block.is_empty() })
}

/// Parts a line from all TAG blocks in front of it.
pub(in crate::watch) fn strip_all(line: &[u8]) -> Result<Stripped<'_>, Rejected> {
    let mut all = strip_tag(line)?;
    while all.rest.first() == Some(&b'\\') {
        let next = strip_tag(all.rest)?;
        let tag = Tag {
            source: all.tag.source.or(next.tag.source),
            destination: all.tag.destination.or(next.tag.destination),
            unix_ms: all.tag.unix_ms.or(next.tag.unix_ms),
            line: all.tag.line.or(next.tag.line),
            group: all.tag.group.or(next.tag.group),
        };
        all = Stripped { tag, rest: next.rest, dropped: all.dropped || next.dropped };
    }
    Ok(all)
}

/// Writes `line` behind a TAG block with its source and arrival time, as the night's log keeps it: `c` in
/// milliseconds. No line end. Characters that a block may not hold are left out of the source's name.
pub fn write_tag(source: &str, unix_ms: i64, line: &[u8], out: &mut Vec<u8>) {
    out.extend_from_slice(b"\\s:");
    let from = out.len() - 2;
    out.extend(source.bytes().filter(|b| b.is_ascii_graphic() && !b"\\,*$!^~".contains(b)));
    out.extend_from_slice(b",c:");
    out.extend_from_slice(unix_ms.to_string().as_bytes());
    let sum = checksum::to_hex(checksum::xor(&out[from..]));
    out.push(b'*');
    out.extend_from_slice(&sum);
    out.push(b'\\');
    out.extend_from_slice(line);
}

/// The block's parameters, or nothing if its checksum is wrong or missing.
fn read_block(block: &[u8]) -> Option<Tag<'_>> {
    let (text, sum) = block.split_last_chunk::<3>()?;
    if sum[0] != b'*' || checksum::from_hex([sum[1], sum[2]])? != checksum::xor(text) {
        return None;
    }
    let text = str::from_utf8(text).ok().filter(|t| t.bytes().all(|b| (0x20..0x7F).contains(&b)))?;
    let mut tag = Tag::default();
    for parameter in text.split(',') {
        match parameter.split_once(':') {
            Some(("s", value)) => tag.source = Some(value),
            Some(("d", value)) => tag.destination = Some(value),
            Some(("g", value)) => tag.group = Some(value),
            Some(("n", value)) => tag.line = value.parse().ok(),
            Some(("c", value)) => tag.unix_ms = unix_ms(value),
            // Text and relative time are nothing to a watch, unknown parameters are a later version's.
            _ => {}
        }
    }
    Some(tag)
}

/// Unix time in milliseconds, from whole or decimal seconds or from milliseconds.
fn unix_ms(text: &str) -> Option<i64> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let negative = whole.starts_with('-');
    let all_digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if !all_digits(whole.strip_prefix('-').unwrap_or(whole)) || !all_digits(fraction) {
        return None;
    }
    let whole: i64 = whole.parse().ok()?;
    if whole.abs() >= MILLIS_FROM {
        return Some(whole);
    }
    let millis =
        fraction.bytes().chain(*b"000").take(3).fold(0, |sum, digit| sum * 10 + i64::from(digit - b'0'));
    Some(whole * 1000 + if negative { -millis } else { millis })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_written_tag_reads_back() {
        let mut line = Vec::new();
        write_tag("gps", 1_767_225_600_000, b"$GPHDT,236.7,T*35", &mut line);
        assert_eq!(line, b"\\s:gps,c:1767225600000*6C\\$GPHDT,236.7,T*35");
        let read = strip_tag(&line).unwrap();
        assert_eq!((read.tag.source, read.tag.unix_ms), (Some("gps"), Some(1_767_225_600_000)));
        assert_eq!(read.rest, b"$GPHDT,236.7,T*35");
        assert!(!read.dropped);
    }

    #[test]
    fn seconds_and_milliseconds_are_told_apart() {
        assert_eq!(unix_ms("1767225600"), Some(1_767_225_600_000));
        assert_eq!(unix_ms("1767225600123"), Some(1_767_225_600_123));
        assert_eq!(unix_ms("1767225600.5"), Some(1_767_225_600_500));
        assert_eq!(unix_ms("-1.5"), Some(-1_500));
        assert_eq!(unix_ms("soon"), None);
        assert_eq!(unix_ms(""), None);
    }

    #[test]
    fn the_outer_block_speaks_before_the_inner_one() {
        let mut inner = Vec::new();
        write_tag("GP0001", 1_000_000_000_000, b"$GPHDT,236.7,T*35", &mut inner);
        let mut outer = Vec::new();
        write_tag("masthead", 1_767_225_600_000, &inner, &mut outer);
        assert_eq!(strip_tag(&outer).unwrap().rest, inner);
        let all = strip_all(&outer).unwrap();
        assert_eq!((all.tag.source, all.tag.unix_ms), (Some("masthead"), Some(1_767_225_600_000)));
        assert_eq!(all.rest, b"$GPHDT,236.7,T*35");
    }

    #[test]
    fn a_block_with_a_wrong_checksum_is_dropped_and_an_unclosed_one_refused() {
        let read = strip_tag(b"\\s:gps,c:1*00\\$GPHDT").unwrap();
        assert_eq!((read.tag, read.dropped, read.rest), (Tag::default(), true, &b"$GPHDT"[..]));
        assert_eq!(strip_tag(b"\\s:gps,c:1*00"), Err(Rejected::BrokenTag));
        assert_eq!(strip_tag(b"\\\"\xbe\x02"), Err(Rejected::Noise));
        assert!(!strip_tag(b"\\\\$GPHDT").unwrap().dropped);
    }
}
