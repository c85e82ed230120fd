//! Chance from a seed, the same on every machine: SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number
//! generators", 2014).

pub struct Chance(u64);

impl Chance {
    pub fn of(seed: u64) -> Self {
        Self(seed)
    }

    pub fn any(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// One of `0..below`; 0 where there is none.
    pub fn below(&mut self, below: u64) -> u64 {
        self.any().checked_rem(below).unwrap_or(0)
    }

    /// Once in so many times.
    pub fn once_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        self.below(1 << 24) as f64 / f64::from(1 << 24)
    }
}
