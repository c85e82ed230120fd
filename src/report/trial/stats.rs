//! Shares with their uncertainty, and what lies in the middle.

use serde::Serialize;

/// The 97.5 % point of the normal distribution: what an interval of 95 % reaches to on either side (tables).
const Z95: f64 = 1.959_964;

/// So many of so many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Share {
    /// So many.
    pub count: usize,
    /// Of so many.
    pub of: usize,
}

impl Share {
    /// The share, `0..=1`; `None` of nothing.
    #[must_use]
    pub fn value(self) -> Option<f64> {
        (self.of > 0).then(|| self.count as f64 / self.of as f64)
    }

    /// The interval that holds the true share with 95 %; `None` of nothing.
    ///
    /// # Source
    /// E. B. Wilson 1927, "Probable inference, the law of succession, and statistical inference", J. Am. Stat.
    /// Assoc. 22, 209–212: `(p + z²/2n ± z √(p(1−p)/n + z²/4n²)) / (1 + z²/n)`.
    #[must_use]
    pub fn interval(self) -> Option<(f64, f64)> {
        let (p, n) = (self.value()?, self.of as f64);
        let z2 = Z95 * Z95;
        let middle = p + z2 / (2.0 * n);
        let half = Z95 * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
        let scale = 1.0 + z2 / n;
        Some((((middle - half) / scale).max(0.0), ((middle + half) / scale).min(1.0)))
    }
}

/// Median and 90th percentile.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// Half of the values are no greater.
    pub median: f64,
    /// Nine in ten of the values are no greater.
    pub p90: f64,
}

impl Spread {
    /// Of these values, by nearest rank; `None` of none.
    #[must_use]
    pub fn of(values: impl IntoIterator<Item = f64>) -> Option<Self> {
        let mut sorted: Vec<f64> = values.into_iter().collect();
        sorted.sort_by(f64::total_cmp);
        let rank = |share: f64| {
            let rank = (share * sorted.len() as f64).ceil() as usize;
            sorted.get(rank.max(1) - 1).copied()
        };
        Some(Self { median: rank(0.5)?, p90: rank(0.9)? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked examples with z = 1.96 in R. G. Newcombe 1998, "Two-sided confidence intervals for the single
    /// proportion", Stat. Med. 17, table I (method 3): 81/263, 15/148, 0/20, 1/29 (from memory).
    #[test]
    fn shares_have_the_interval_of_published_examples() {
        for (count, of, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (l, h) = Share { count, of }.interval().unwrap();
            assert!((l - low).abs() < 1e-4 && (h - high).abs() < 1e-4, "{count}/{of}: {l} {h}");
        }
        assert_eq!(Share::default().interval(), None);
    }

    #[test]
    fn half_the_values_are_no_greater_than_the_median() {
        let spread = Spread::of((1..=10).map(f64::from)).unwrap();
        assert_eq!((spread.median, spread.p90), (5.0, 9.0));
        assert_eq!(Spread::of([3.0]).unwrap(), Spread { median: 3.0, p90: 3.0 });
        assert_eq!(Spread::of([]), None);
    }
}
