//! The fields of a message: little-endian numbers, of which the highest three values mean "none".
//!
//! # Source
//! The canboat project's description: the highest value of a field is "not available", the next "out of range", the third
//! is reserved. Of one byte and more; fields of two bits have no such value here.

/// A message.
#[derive(Clone, Copy, Debug)]
pub(super) struct Payload<'a>(pub(super) &'a [u8]);

impl Payload<'_> {
    /// Figures at `from`, `bytes` of them, as they stand; `None` where the message ends before.
    fn raw(self, from: usize, bytes: usize) -> Option<u64> {
        let field = self.0.get(from..from + bytes)?;
        Some(field.iter().rev().fold(0, |value, byte| value << 8 | u64::from(*byte)))
    }

    /// An unsigned number in steps of one.
    pub(super) fn unsigned(self, from: usize, bytes: usize) -> Option<u64> {
        let most = u64::MAX >> (64 - 8 * bytes);
        self.raw(from, bytes).filter(|value| most - value > 2)
    }

    /// A number with a sign, in steps of one.
    pub(super) fn signed(self, from: usize, bytes: usize) -> Option<i64> {
        let unused = 64 - 8 * bytes;
        let most = i64::MAX >> unused;
        let value = (self.raw(from, bytes)? << unused).cast_signed() >> unused;
        // No subtraction: the least of eight bytes would overflow.
        (value <= most - 3).then_some(value)
    }

    /// Bits of the byte at `from`.
    pub(super) fn bits(self, from: usize, first: u32, count: u32) -> Option<u8> {
        let byte = self.0.get(from)?;
        Some(byte >> first & ((1 << count) - 1) as u8)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_highest_three_values_mean_none() {
        let payload = |bytes: &'static [u8]| Payload(bytes);
        assert_eq!(payload(&[0xFC, 0xFF]).unsigned(0, 2), Some(0xFFFC));
        for none in [&[0xFD, 0xFF], &[0xFE, 0xFF], &[0xFF, 0xFF]] {
            assert_eq!(payload(none).unsigned(0, 2), None);
        }
        assert_eq!(payload(&[0xFC, 0x7F]).signed(0, 2), Some(0x7FFC));
        assert_eq!(payload(&[0xFD, 0x7F]).signed(0, 2), None);
        assert_eq!(payload(&[0x00, 0x80]).signed(0, 2), Some(-32_768));
        assert_eq!(payload(&[0, 0, 0, 0, 0, 0, 0, 0x80]).signed(0, 8), Some(i64::MIN));
        assert_eq!(payload(&[1]).unsigned(0, 2), None, "cut short");
        assert_eq!(payload(&[0b1011_0100]).bits(0, 2, 3), Some(0b101));
    }
}
