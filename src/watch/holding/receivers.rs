//! Every receiver errs in its own way: what is learned of one is not applied to another that stands in for it.

use super::noise::Noise;
use crate::watch::geo::Local;

/// Receivers that are told apart; the fixes of any more are learned with the last of them.
const MOST: usize = 8;
/// A receiver beside the believed one must give so many fixes in a step to be learned from.
const FIXES_LEAST: u32 = 3;

/// What is learned of each receiver's fixes.
#[derive(Clone, Debug)]
pub(super) struct Receivers {
    known: Vec<Known>,
    believed: usize,
}

#[derive(Clone, Debug)]
struct Known {
    number: u8,
    noise: Noise,
    /// Sum and count of the bow by its fixes in this step, while it stands beside the believed one.
    aside: (Local, u32),
}

impl Receivers {
    pub fn new() -> Self {
        Self { known: vec![Known::new(0)], believed: 0 }
    }

    /// What is learned of the believed receiver.
    pub fn noise(&self) -> &Noise {
        &self.known[self.believed].noise
    }

    /// The same, to teach it.
    pub fn noise_mut(&mut self) -> &mut Noise {
        &mut self.known[self.believed].noise
    }

    /// From here on this receiver is judged by.
    pub fn believe(&mut self, number: u8) {
        let index = self.index_of(number);
        if index != self.believed {
            self.believed = index;
            // It was laid beside the other: the last minutes are another's frame.
            self.noise_mut().gap();
        }
    }

    /// The bow, and the velocity where it is given, by a receiver beside the believed one.
    pub fn take_aside(&mut self, number: u8, bow: Local, velocity: Option<Local>) {
        let index = self.index_of(number);
        if index == self.believed {
            return;
        }
        let known = &mut self.known[index];
        known.noise.second(velocity);
        known.aside = (known.aside.0 + bow, known.aside.1 + 1);
    }

    /// Ends a step for those beside the believed one, seen from the best place for the anchor. While `learns` is false
    /// she moves in truth, and no receiver learns from it.
    pub fn step_aside(&mut self, anchor: Local, learns: bool, length_s: f64) {
        let believed = self.believed;
        for (_, known) in self.known.iter_mut().enumerate().filter(|(index, _)| *index != believed) {
            let (sum, count) = std::mem::take(&mut known.aside);
            if count < FIXES_LEAST {
                known.noise.gap();
                continue;
            }
            known.noise.step(learns, sum.scaled(1.0 / f64::from(count)) - anchor, length_s);
        }
    }

    /// After a gap the last minutes have nothing to say.
    pub fn gap(&mut self) {
        for known in &mut self.known {
            known.noise.gap();
            known.aside = (Local::default(), 0);
        }
    }

    fn index_of(&mut self, number: u8) -> usize {
        if let Some(index) = self.known.iter().position(|known| known.number == number) {
            return index;
        }
        if self.known.len() < MOST {
            self.known.push(Known::new(number));
        }
        self.known.len() - 1
    }
}

impl Known {
    fn new(number: u8) -> Self {
        Self { number, noise: Noise::new(), aside: (Local::default(), 0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bow 30 m from the anchor that a receiver shows `wander_m` to and fro, once a minute.
    fn shown(step: usize, wander_m: f64) -> Local {
        Local::new(0.0, 30.0 + if step / 12 % 2 == 0 { wander_m } else { -wander_m })
    }

    #[test]
    fn one_that_stands_in_has_its_own_wander() {
        let mut receivers = Receivers::new();
        for step in 0..700 {
            for _ in 0..5 {
                receivers.take_aside(1, shown(step, 4.0), None);
            }
            receivers.step_aside(Local::default(), true, 5.0);
            receivers.noise_mut().step(true, shown(step, 0.5), 5.0);
        }
        assert!((receivers.noise().minute_m() - 1.0).abs() < 0.2, "{}", receivers.noise().minute_m());
        receivers.believe(1);
        assert!((receivers.noise().minute_m() - 8.0).abs() < 1.0, "{}", receivers.noise().minute_m());
        receivers.believe(0);
        assert!((receivers.noise().minute_m() - 1.0).abs() < 0.2, "the first is remembered");
    }

    #[test]
    fn more_receivers_than_are_told_apart_do_no_harm() {
        let mut receivers = Receivers::new();
        for number in 0..=u8::MAX {
            receivers.take_aside(number, Local::new(0.0, 30.0), None);
            receivers.believe(number);
            receivers.step_aside(Local::default(), true, 5.0);
        }
        assert_eq!(receivers.known.len(), MOST);
    }
}
