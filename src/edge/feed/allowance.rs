//! How much may one feed bring? More than any instruments send, less than fills a disk in a night.

use crate::watch::units::WatchTime;

/// Bytes a second, as they are kept: four hundred sentences, three times what the fastest usual serial line carries, and at
/// most 2.8 GB a day. Our choice.
const PER_SECOND: f64 = 32.0 * 1024.0;
/// Bytes at once: what has waited somewhere may come in one go. Our choice.
const AT_ONCE: f64 = 512.0 * 1024.0;
/// What a line takes on the disk beside its own bytes.
const BESIDE: usize = 40;

/// What a feed may still bring.
#[derive(Debug, Default)]
pub(super) struct Allowance {
    used: f64,
    at: Option<WatchTime>,
}

impl Allowance {
    /// Whether a line of that length that arrives at `at` is taken.
    pub(super) fn takes(&mut self, at: WatchTime, length: usize) -> bool {
        let passed_s = self.at.map_or(0.0, |then| at.since(then).seconds().max(0.0));
        self.at = Some(self.at.map_or(at, |then| then.max(at)));
        self.used = (self.used - passed_s * PER_SECOND).max(0.0);
        let cost = (length + BESIDE) as f64;
        if self.used + cost > AT_ONCE {
            return false;
        }
        self.used += cost;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_busy_instruments_are_taken_and_a_babbler_is_bounded() {
        let mut allowance = Allowance::default();
        // 300 sentences a second for ten minutes.
        assert!((0..180_000).all(|n| allowance.takes(WatchTime(n * 10 / 3), 64)));
        let mut allowance = Allowance::default();
        let taken = (0..100_000).filter(|n| allowance.takes(WatchTime(n / 10), 984)).count();
        // Ten seconds: half a megabyte at once and 32 KiB in each.
        let bytes = taken * 1024;
        assert!((800_000..900_000).contains(&bytes), "{bytes}");
    }
}
