//! The exclusive-or checksum of sentences and TAG blocks, and its two hexadecimal digits.

/// Exclusive or of all bytes.
///
/// # Source
/// IEC 61162-1, from memory: over all characters between the start character and `*`, neither included.
#[must_use]
pub fn xor(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

/// The value of two hexadecimal digits. Lower case is taken too: receivers send it (common practice, no source).
#[must_use]
pub fn from_hex(digits: [u8; 2]) -> Option<u8> {
    Some(nibble(digits[0])? << 4 | nibble(digits[1])?)
}

/// Two upper-case hexadecimal digits.
#[must_use]
pub fn to_hex(value: u8) -> [u8; 2] {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    [DIGITS[usize::from(value >> 4)], DIGITS[usize::from(value & 15)]]
}

fn nibble(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'A'..=b'F' => Some(digit - b'A' + 10),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hex_goes_both_ways() {
        for value in 0..=255 {
            assert_eq!(from_hex(to_hex(value)), Some(value));
        }
        assert_eq!(from_hex(*b"4b"), Some(0x4B));
        assert_eq!(from_hex(*b"G7"), None);
    }
}
