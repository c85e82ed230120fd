//! Follows a quantile of what comes in, without keeping it.

/// It is followed by steps of so much of itself, once the first steps are done.
const PACE: f64 = 0.02;
/// Of what is followed, in metres or metres a second, no more and no less is believed.
const LEAST: f64 = 0.02;
/// See [`LEAST`].
const MOST: f64 = 50.0;

/// A quantile of a stream of positive numbers.
///
/// # Source
/// Stochastic approximation of a quantile (Robbins & Monro 1951), on the logarithm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quantile {
    share: f64,
    value: f64,
    seen: u32,
}

impl Quantile {
    /// The value below which a `share` of the numbers lies, `0..1`, thought to be `value` before any is seen.
    pub const fn starting(share: f64, value: f64) -> Self {
        Self { share, value, seen: 0 }
    }

    /// The median.
    pub const fn median(value: f64) -> Self {
        Self::starting(0.5, value)
    }

    /// Takes a number.
    pub fn push(&mut self, x: f64) {
        // Quick at first, then at its own pace.
        self.seen = self.seen.saturating_add(1);
        let pace = PACE.max(1.0 / (3.0 + f64::from(self.seen) / 4.0));
        let step = if x < self.value { -(1.0 - self.share) * pace } else { self.share * pace };
        self.value = (self.value * step.exp()).clamp(LEAST, MOST);
    }

    /// The quantile, as far as it is known.
    pub const fn value(&self) -> f64 {
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_is_found_whatever_it_starts_from() {
        for (share, start) in [(0.5, 0.1), (0.5, 1.0), (0.5, 20.0), (0.9, 0.1), (0.9, 20.0)] {
            let mut quantile = Quantile::starting(share, start);
            // 0 to 2 in an order that visits all alike.
            for i in 0..5000 {
                quantile.push(2.0 * (f64::from(i) * 0.618_033_988_749).fract());
            }
            let off = (quantile.value() - 2.0 * share).abs();
            assert!(off < 0.15, "{share} {start}: {}", quantile.value());
        }
    }
}
