//! What the sounder has shown about the anchor, less the tide, by place: a bottom that slopes is no oddity.

use std::collections::BTreeMap;

use crate::watch::geo::Local;
use crate::watch::tuning::{GROUND_KNOWN_S, GROUND_LEAP_M, GROUND_MEMORY_S, GROUND_MOST, GROUND_SIDE_M};

/// Sounder less tide, by squares about the mark.
#[derive(Clone, Debug, Default)]
pub struct Ground {
    squares: BTreeMap<(i32, i32), Square>,
    last: Option<Local>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Square {
    off_m: f64,
    seconds: u32,
}

impl Ground {
    /// What is odd of a sounding `off_m` above what the tide makes it, at a place about the mark: its difference from what was
    /// sounded there before. Where nothing was, it teaches and nothing is odd.
    pub fn odd_m(&mut self, place: Local, off_m: f64, limit_m: f64) -> f64 {
        if self.last.replace(place).is_some_and(|last| (place - last).length_m() > GROUND_LEAP_M) {
            self.squares.clear();
        }
        let odd_m = self.known(place).map_or(0.0, |known_m| off_m - known_m);
        // What is odd teaches nothing.
        if odd_m.abs() <= limit_m {
            self.learn(place, off_m);
        }
        odd_m
    }

    /// Sounder less tide at a place and about it, where she has lain for long enough, metres.
    pub fn known(&self, place: Local) -> Option<f64> {
        let (column, row) = place.square(GROUND_SIDE_M);
        let near = self.squares.range((column - 1, i32::MIN)..=(column + 1, i32::MAX));
        let near = near.filter(|((_, r), square)| (r - row).abs() <= 1 && square.seconds >= GROUND_KNOWN_S);
        let (sum, count) = near.fold((0.0, 0), |(sum, count), (_, square)| (sum + square.off_m, count + 1));
        (count > 0).then(|| sum / f64::from(count))
    }

    fn learn(&mut self, place: Local, off_m: f64) {
        let key = place.square(GROUND_SIDE_M);
        if self.squares.len() >= GROUND_MOST && !self.squares.contains_key(&key) {
            return;
        }
        let square = self.squares.entry(key).or_default();
        square.seconds = (square.seconds + 1).min(GROUND_MEMORY_S);
        square.off_m += (off_m - square.off_m) / f64::from(square.seconds);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_is_learned_and_a_known_spot_that_grows_deeper_is_odd() {
        let mut ground = Ground::default();
        // To and fro over a slope of one in ten, 40 m wide.
        let place = |s: i32| Local::new(20.0 * (f64::from(s) / 200.0).sin(), -30.0);
        for s in 0..4000 {
            let place = place(s);
            assert!(ground.odd_m(place, 0.1 * place.east_m, 1.0).abs() < 1.0, "{s}");
        }
        let odd_m = ground.odd_m(place(4000), 0.1 * place(4000).east_m + 2.0, 1.0);
        assert!((odd_m - 2.0).abs() < 0.6, "{odd_m}");
    }

    #[test]
    fn a_steady_difference_is_taken_as_it_is_and_one_that_grows_is_not() {
        let mut ground = Ground::default();
        let here = Local::new(0.0, -30.0);
        assert!((0..3600).all(|_| ground.odd_m(here, 1.7, 1.0).abs() < 0.1));
        // The tide was entered an hour off: the difference grows by a metre an hour.
        assert!((0..3 * 3600).any(|s| ground.odd_m(here, 1.7 + f64::from(s) / 3600.0, 1.0).abs() > 1.0));
    }

    #[test]
    fn a_mark_that_is_moved_forgets_the_ground() {
        let mut ground = Ground::default();
        for _ in 0..200 {
            ground.odd_m(Local::new(0.0, -30.0), 0.0, 1.0);
        }
        assert_eq!(ground.odd_m(Local::new(25.0, -30.0), 3.0, 1.0), 0.0);
    }
}
