//! How far can the bow lie from an anchor that stands, and how near while the rode is taut?

use crate::watch::boat::{Hull, Tackle};

/// Density of air at 15 °C and sea level, kg/m³ (ISO 2533).
const AIR_KG_PER_M3: f64 = 1.225;

/// What the anchor holds by: the rode's lengths and its chain's weight in water.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rode {
    /// Whole length out, metres.
    pub veered_m: f64,
    /// How much of it is chain, metres, at the anchor.
    pub chain_m: f64,
    /// Weight of the chain in sea water, N/m.
    pub weight_n_per_m: f64,
}

impl Rode {
    /// What is out when `veered_m` of the tackle is veered.
    pub fn new(tackle: &Tackle, veered_m: f64) -> Self {
        // Chain's mass by the square of the bar: 0.0219 kg/m per mm², DIN 766's 8 mm at 1.4 kg/m and 10 mm at 2.2;
        // 0.869 of its weight is left in sea water (1 − 1025/7850).
        let weight_n_per_m = 0.0219 * tackle.chain_mm * tackle.chain_mm * 9.806_65 * 0.869;
        let chain_m = if tackle.chain_mm > 0.0 { veered_m.min(tackle.chain.0.max(0.0)) } else { 0.0 };
        Self { veered_m, chain_m, weight_n_per_m }
    }

    /// Length of the straight rode on the flat: √(L² − h²), metres, for the bow `height_m` above the bottom.
    pub fn straight_m(&self, height_m: f64) -> f64 {
        ((self.veered_m - height_m) * (self.veered_m + height_m)).max(0.0).sqrt()
    }

    /// How much shorter than straight the rode reaches under a horizontal pull, and the chain left on the bottom.
    ///
    /// # Units
    /// `pull_n` newtons, `height_m` metres of the bow above the bottom; returns metres and metres.
    /// # Source
    /// Catenary, derived in `docs/inside/rode.md`; chain and rope in series, the rope straight.
    pub fn sag(&self, pull_n: f64, height_m: f64) -> Sag {
        let straight = self.straight_m(height_m);
        let rope_m = self.veered_m - self.chain_m;
        if self.chain_m <= 0.1 || self.weight_n_per_m <= 0.1 {
            return Sag { short_m: 0.0, grounded_m: 0.0 };
        }
        let a = pull_n.max(1.0) / self.weight_n_per_m;
        let rise = |s: f64| {
            let t = s / a;
            a * ((1.0 + t * t).sqrt() - 1.0) + rope_m * t / (1.0 + t * t).sqrt()
        };
        if rise(self.chain_m) <= height_m {
            // All lifted: second order in weight over pull.
            let w = self.weight_n_per_m * self.chain_m / pull_n.max(1.0);
            return Sag { short_m: (w * w * self.chain_m / 24.0).min(2.0), grounded_m: 0.0 };
        }
        let (mut low, mut high) = (0.0, self.chain_m);
        for _ in 0..30 {
            let mid = 0.5 * (low + high);
            if rise(mid) < height_m {
                low = mid;
            } else {
                high = mid;
            }
        }
        let s = 0.5 * (low + high);
        let t = s / a;
        let reach = self.chain_m - s + a * t.asinh() + rope_m / (1.0 + t * t).sqrt();
        Sag { short_m: (straight - reach).max(0.0), grounded_m: self.chain_m - s }
    }
}

/// How the rode hangs under a pull.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sag {
    /// Reach of the straight rode less the reach now, metres.
    pub short_m: f64,
    /// Chain on the bottom, metres.
    pub grounded_m: f64,
}

/// Horizontal pull of the wind, newtons.
///
/// # Units
/// `windage_m2` drag coefficient times frontal area; `wind_mps` apparent, metres per second.
/// # Source
/// Dynamic pressure ½ρV².
pub(super) fn wind_pull_n(windage_m2: f64, wind_mps: f64) -> f64 {
    0.5 * AIR_KG_PER_M3 * windage_m2 * wind_mps * wind_mps
}

/// Drag coefficient times frontal area of a boat known only by her length, square metres.
///
/// # Source
/// Frontal area 0.132·LOA² (0.174·LOA² with two hulls), coefficient 0.9: common practice, no source.
pub(super) fn windage_by_length_m2(hull: Hull, loa_m: f64) -> f64 {
    let share = match hull {
        Hull::Monohull => 0.132,
        Hull::Catamaran | Hull::Trimaran => 0.174,
    };
    0.9 * share * loa_m * loa_m
}

#[cfg(test)]
mod tests {
    use super::*;

    fn forty_of_eight() -> Rode {
        Rode { veered_m: 40.0, chain_m: 40.0, weight_n_per_m: 11.94 }
    }

    #[test]
    fn a_harder_pull_straightens_the_rode() {
        let rode = forty_of_eight();
        let mut last = f64::INFINITY;
        for pull in [10.0, 100.0, 300.0, 1000.0, 3000.0, 10_000.0] {
            let sag = rode.sag(pull, 8.0);
            assert!(sag.short_m < last && sag.short_m >= 0.0, "{pull}: {sag:?}");
            last = sag.short_m;
        }
    }

    #[test]
    fn a_catenary_that_just_lifts_agrees_with_the_closed_form() {
        // H that just lifts s metres to h: H = w (s² − h²) / 2h.
        let rode = forty_of_eight();
        let (s, h) = (30.0_f64, 8.0);
        let pull = rode.weight_n_per_m * (s * s - h * h) / (2.0 * h);
        let sag = rode.sag(pull, h);
        assert!((sag.grounded_m - 10.0).abs() < 1e-6, "{sag:?}");
    }
}
