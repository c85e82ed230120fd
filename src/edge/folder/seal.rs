//! How is it known that a line of the journal, or a `ride.toml`, is as it was written?
//!
//! A line of the journal ends in its number and a checksum, `,"n":17,"crc":"1a2b3c4d"}`; a `ride.toml` in a remark,
//! `# crc 1a2b3c4d`. The checksum is the CRC-32 of gzip (RFC 1952, section 8) over all bytes in front of it.

use flate2::Crc;

/// What stands between a line's number and its checksum.
const SUM: &[u8] = b",\"crc\":\"";
const END: &[u8] = b"\"}";
const REMARK: &str = "# crc ";
const DIGITS: usize = 8;

/// A line of the journal, looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Seal {
    /// As it was written; its number.
    Whole(u64),
    /// Not as it was written.
    Broken,
    /// It has no checksum: an older program wrote it, or its end is damaged.
    None,
}

fn crc(bytes: &[u8]) -> u32 {
    let mut crc = Crc::new();
    crc.update(bytes);
    crc.sum()
}

/// Gives each line, one JSON object, its number from `first` on and its checksum.
pub(super) fn seal_lines(lines: &[u8], first: u64) -> Vec<u8> {
    let mut sealed = Vec::with_capacity(lines.len() + lines.len() / 4);
    for (line, number) in lines.split_inclusive(|byte| *byte == b'\n').zip(first..) {
        let object = line.strip_suffix(b"\n").unwrap_or(line);
        let start = sealed.len();
        sealed.extend_from_slice(object.strip_suffix(b"}").unwrap_or(object));
        sealed.extend_from_slice(format!(",\"n\":{number}").as_bytes());
        let sum = crc(&sealed[start..]);
        sealed.extend_from_slice(SUM);
        sealed.extend_from_slice(format!("{sum:08x}").as_bytes());
        sealed.extend_from_slice(END);
        sealed.push(b'\n');
    }
    sealed
}

/// Looks at one line, without its end.
pub(super) fn look_at(line: &[u8]) -> Seal {
    let Some(digits) = line.strip_suffix(END) else { return Seal::None };
    let Some(at) = digits.len().checked_sub(DIGITS) else { return Seal::None };
    let (front, digits) = digits.split_at(at);
    let Some(body) = front.strip_suffix(SUM) else { return Seal::None };
    let number = body.rsplit(|byte| *byte == b':').next().and_then(|number| std::str::from_utf8(number).ok());
    match (sum_of(digits), number.and_then(|number| number.parse().ok())) {
        (Some(sum), Some(number)) if sum == crc(body) => Seal::Whole(number),
        _ => Seal::Broken,
    }
}

fn sum_of(digits: &[u8]) -> Option<u32> {
    // Letters in one case only: a flipped bit could make a small one great.
    if !digits.iter().all(|digit| digit.is_ascii_digit() || (b'a'..=b'f').contains(digit)) {
        return None;
    }
    u32::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok()
}

/// A text with its checksum behind it.
pub(super) fn seal_text(text: &str) -> String {
    format!("{text}{REMARK}{:08x}\n", crc(text.as_bytes()))
}

/// Whether a text is as it was written; `None` if it has no checksum, because a hand wrote it.
pub(super) fn is_whole(text: &[u8]) -> Option<bool> {
    let at = text.len().checked_sub(REMARK.len() + DIGITS + 1)?;
    let (body, last) = text.split_at(at);
    let digits = last.strip_prefix(REMARK.as_bytes())?.strip_suffix(b"\n")?;
    Some(sum_of(digits) == Some(crc(body)))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINES: &[u8] = b"{\"a\":1}\n{\"b\":\"}\"}\n";

    #[test]
    fn sealed_lines_are_still_objects_and_know_their_numbers() {
        let sealed = seal_lines(LINES, 7);
        let lines: Vec<&[u8]> = sealed.split(|b| *b == b'\n').filter(|line| !line.is_empty()).collect();
        assert_eq!(lines.len(), 2);
        for (line, number) in lines.iter().zip(7..) {
            let object: serde_json::Value = serde_json::from_slice(line).unwrap();
            assert_eq!(object["n"], number);
            assert_eq!(look_at(line), Seal::Whole(number));
        }
        assert_eq!(look_at(b"{\"a\":1}"), Seal::None);
        assert_eq!(look_at(b""), Seal::None);
    }

    #[test]
    fn no_flipped_bit_of_a_sealed_line_or_text_passes() {
        let sealed = seal_lines(b"{\"at\":1780430520001,\"x\":[1,2]}\n", 3);
        let line = &sealed[..sealed.len() - 1];
        for bit in 0..line.len() * 8 {
            let mut flipped = line.to_vec();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert!(!matches!(look_at(&flipped), Seal::Whole(_)), "bit {bit}");
        }
        let text = seal_text("[drop]\nlat = 50.2\n").into_bytes();
        assert_eq!(is_whole(&text), Some(true));
        for bit in 0..text.len() * 8 {
            let mut flipped = text.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_ne!(is_whole(&flipped), Some(true), "bit {bit}");
        }
        assert_eq!(is_whole(b"[drop]\n"), None);
    }

    #[test]
    fn the_checksum_is_that_of_gzip() {
        // The check value of CRC-32/ISO-HDLC, published with the algorithm.
        assert_eq!(crc(b"123456789"), 0xcbf4_3926);
    }
}
