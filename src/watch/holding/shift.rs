//! How far one receiver's bow lies from another's: the difference of their slow errors, and that of their antennas'
//! places on board, which turns with her head.

use crate::watch::geo::Local;
use crate::watch::units::TrueBearing;

/// Standard deviation of the difference of two receivers' slow errors, metres: measured in `docs/inside/simulator.md`.
const SLOW_M: f64 = 2.0;
/// That difference is forgotten in such a time, seconds.
const SLOW_MEMORY_S: f64 = 5400.0;
/// How far an antenna may stand from where the boat's file says, one standard deviation: common practice, no source.
const ANTENNA_M: f64 = 3.0;
/// Errors over minutes last so long, seconds: that many fixes are news only once.
const NEWS_EVERY_S: f64 = 240.0;

/// Follows both parts by a Kalman filter (R. E. Kalman 1960, *J. Basic Eng.* 82), written in complex numbers: east is
/// real, north imaginary, and to turn with her head is to multiply by it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shift {
    /// What stays with the ground.
    ground: Local,
    /// What turns with her head: ahead is real, to port imaginary.
    board: Local,
    /// Variance of the first, of the second, m², and what they have in common.
    ground_m2: f64,
    board_m2: f64,
    common: Local,
}

impl Shift {
    /// Nothing is known of it.
    pub fn unknown() -> Self {
        Self {
            ground: Local::default(),
            board: Local::default(),
            ground_m2: SLOW_M * SLOW_M,
            board_m2: ANTENNA_M * ANTENNA_M,
            common: Local::default(),
        }
    }

    /// There is none: this receiver is the one by which others are measured.
    pub fn none() -> Self {
        Self { ground_m2: 0.0, board_m2: 0.0, ..Self::unknown() }
    }

    /// How far to shift a bow by this receiver, and the variance of that on each axis, m².
    pub fn at(&self, heading: Option<TrueBearing>) -> (Local, f64) {
        match heading.map(head) {
            Some(head) => {
                let common = times(self.common, mirrored(head)).east_m;
                (self.ground + times(head, self.board), self.ground_m2 + self.board_m2 + 2.0 * common)
            }
            // Which way the antenna lies is not known, only how far at most.
            None => (self.ground, self.ground_m2 + self.board_m2 + self.board.dot(self.board)),
        }
    }

    /// The other receivers laid her bow so far from this one's for `length_s`; `variance_m2` is that of both together
    /// over minutes.
    pub fn learn(&mut self, seen: Local, heading: Option<TrueBearing>, variance_m2: f64, length_s: f64) {
        self.ground_m2 += 2.0 * SLOW_M * SLOW_M * length_s / SLOW_MEMORY_S;
        let head = heading.map_or(Local::default(), head);
        let (ground, board) = (
            Local::new(self.ground_m2, 0.0) + times(self.common, mirrored(head)),
            mirrored(self.common) + mirrored(head).scaled(self.board_m2),
        );
        let known = (ground + times(board, head)).east_m;
        let share = 1.0 / (known + variance_m2 * NEWS_EVERY_S / length_s);
        let news = seen - (self.ground + times(head, self.board));
        self.ground = self.ground + times(ground, news).scaled(share);
        self.board = self.board + times(board, news).scaled(share);
        self.ground_m2 = (self.ground_m2 - ground.dot(ground) * share).max(0.0);
        self.board_m2 = (self.board_m2 - board.dot(board) * share).max(0.0);
        self.common = self.common - times(ground, mirrored(board)).scaled(share);
    }
}

/// The direction of her head.
fn head(heading: TrueBearing) -> Local {
    Local::polar(heading, 1.0)
}

fn times(a: Local, b: Local) -> Local {
    Local::new(a.east_m * b.east_m - a.north_m * b.north_m, a.east_m * b.north_m + a.north_m * b.east_m)
}

fn mirrored(a: Local) -> Local {
    Local::new(a.east_m, -a.north_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_antenna_elsewhere_on_board_is_found_as_she_turns() {
        let (ground, board) = (Local::new(1.0, -1.5), Local::new(4.0, -2.0));
        let mut shift = Shift::unknown();
        for step in 0..8000 {
            let heading = TrueBearing::new(0.5 * f64::from(step));
            shift.learn(ground + times(head(heading), board), Some(heading), 1.0, 5.0);
        }
        assert!((shift.ground - ground).length_m() < 0.3, "{shift:?}");
        assert!((shift.board - board).length_m() < 0.3, "{shift:?}");
        let heading = TrueBearing::new(77.0);
        let (at, variance_m2) = shift.at(Some(heading));
        assert!((at - ground - times(head(heading), board)).length_m() < 0.3);
        assert!(variance_m2 < 1.0, "{variance_m2}");
    }

    #[test]
    fn while_she_lies_one_way_the_sum_is_known_and_a_turn_makes_it_uncertain() {
        let mut shift = Shift::unknown();
        let ahead = Some(TrueBearing::new(0.0));
        for _ in 0..2000 {
            shift.learn(Local::new(0.0, 5.0), ahead, 1.0, 5.0);
        }
        let (at, known) = shift.at(ahead);
        let (_, turned) = shift.at(Some(TrueBearing::new(180.0)));
        assert!((at - Local::new(0.0, 5.0)).length_m() < 0.2, "{at:?}");
        assert!(known < 1.0 && turned > 4.0, "{known} {turned}");
    }
}
