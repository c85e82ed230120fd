//! Every receiver errs in its own way. What is learned of one is not applied to another, and where several speak the
//! bow is their mean, each weighed by how little it wanders.

use super::noise::Noise;
use super::shift::Shift;
use crate::watch::geo::Local;
use crate::watch::units::TrueBearing;

/// Receivers that are told apart; the fixes of any more are learned with the last of them.
const MOST: usize = 8;
/// A receiver beside the believed one must give so many fixes in a step to be heard.
const FIXES_LEAST: u32 = 3;
/// Wander of a receiver over minutes, as a multiple of the median change of distance in one.
const WANDER_RATIO: f64 = 1.5;
/// That wander at least, metres.
const WANDER_LEAST_M: f64 = 0.7;
/// Receivers share part of their errors, so that a mean of several wanders more than if each went its own way.
const SHARED: f64 = 1.3;

/// What is learned of each receiver's fixes.
#[derive(Clone, Debug)]
pub(super) struct Receivers {
    known: Vec<Known>,
    believed: usize,
    heading: Option<TrueBearing>,
}

#[derive(Clone, Debug)]
struct Known {
    number: u8,
    noise: Noise,
    shift: Shift,
    /// Sum and count of the bow by its fixes in this step, while it stands beside the believed one.
    aside: (Local, u32),
    /// The bow by its fixes in the last step, if it was heard.
    bow: Option<Local>,
}

/// What a step teaches of the receivers.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lesson {
    /// The best place for the anchor.
    pub anchor: Local,
    /// What she does is not far beyond her reach: a change of her distance is an error of the fixes.
    pub stands: bool,
    /// How long the step took, seconds.
    pub length_s: f64,
}

/// A receiver's vote on where the bow is.
#[derive(Clone, Copy, Debug)]
struct Vote {
    bow: Local,
    variance_m2: f64,
}

impl Receivers {
    pub fn new() -> Self {
        Self { known: Vec::new(), believed: 0, heading: None }
    }

    /// What is learned of the receiver that wanders least among those heard.
    pub fn noise(&self) -> Option<&Noise> {
        let heard = self.known.iter().filter(|known| known.bow.is_some());
        heard.min_by(|a, b| a.wander_m().total_cmp(&b.wander_m())).map(|known| &known.noise)
    }

    /// The velocity, where it is given, by the receiver that is believed from here on.
    pub fn take_believed(&mut self, number: u8, velocity: Option<Local>) {
        self.believed = self.index_of(number);
        self.known[self.believed].noise.second(velocity);
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

    /// Ends a step in which the believed receiver laid her bow at `bow`, if it was heard. Gives the bow by all who were.
    pub fn hear(&mut self, bow: Option<Local>, heading: Option<TrueBearing>) -> Option<Local> {
        self.heading = heading;
        for (index, known) in self.known.iter_mut().enumerate() {
            let (sum, count) = std::mem::take(&mut known.aside);
            let aside = (count >= FIXES_LEAST).then(|| sum.scaled(1.0 / f64::from(count)));
            known.bow = if index == self.believed { bow } else { aside };
        }
        mean(self.votes()).map(|vote| vote.bow)
    }

    /// Learns from the step that was heard last.
    pub fn learn(&mut self, lesson: &Lesson) {
        for known in &mut self.known {
            if let Some(bow) = known.bow {
                let lies = bow - known.shift.at(self.heading).0 - lesson.anchor;
                known.noise.step(lesson.stands, lies, lesson.length_s);
            }
        }
        self.learn_shifts(lesson.length_s);
    }

    /// Each receiver but the first is laid on what all others say.
    fn learn_shifts(&mut self, length_s: f64) {
        for index in 1..self.known.len() {
            let others = mean(self.votes_but(index));
            let heading = self.heading;
            let known = &mut self.known[index];
            if let (Some(bow), Some(others)) = (known.bow, others) {
                let variance_m2 = known.wander_m().powi(2) + others.variance_m2;
                known.shift.learn(bow - others.bow, heading, variance_m2, length_s);
            }
        }
    }

    /// Error over minutes of the bow by all who were heard, metres.
    pub fn wander_m(&self) -> f64 {
        let heard = self.votes().count();
        let shared = if heard > 1 { SHARED } else { 1.0 };
        match mean(self.votes()) {
            Some(vote) => (vote.variance_m2.sqrt() * shared).min(50.0),
            None => self.known.get(self.believed).map_or(WANDER_RATIO, Known::wander_m),
        }
    }

    fn votes(&self) -> impl Iterator<Item = Vote> {
        self.votes_but(usize::MAX)
    }

    fn votes_but(&self, not: usize) -> impl Iterator<Item = Vote> {
        let known = self.known.iter().enumerate().filter(move |(index, _)| *index != not);
        known.filter_map(|(_, known)| known.vote(self.heading))
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
            self.known.push(Known::new(number, self.known.is_empty()));
        }
        self.known.len() - 1
    }
}

impl Known {
    fn new(number: u8, is_first: bool) -> Self {
        let shift = if is_first { Shift::none() } else { Shift::unknown() };
        Self { number, noise: Noise::new(), shift, aside: (Local::default(), 0), bow: None }
    }

    fn wander_m(&self) -> f64 {
        (WANDER_RATIO * self.noise.minute_m()).max(WANDER_LEAST_M)
    }

    fn vote(&self, heading: Option<TrueBearing>) -> Option<Vote> {
        let (shift, variance_m2) = self.shift.at(heading);
        let bow = self.bow? - shift;
        Some(Vote { bow, variance_m2: self.wander_m().powi(2) + variance_m2 })
    }
}

/// The mean of votes, each weighed by the inverse of its variance; `None` of none.
fn mean(votes: impl Iterator<Item = Vote>) -> Option<Vote> {
    let (mut sum, mut weights) = (Local::default(), 0.0);
    for vote in votes {
        let weight = 1.0 / vote.variance_m2;
        sum = sum + vote.bow.scaled(weight);
        weights += weight;
    }
    (weights > 0.0).then(|| Vote { bow: sum.scaled(1.0 / weights), variance_m2: 1.0 / weights })
}

#[cfg(test)]
mod tests {
    use super::*;

    const LESSON: Lesson = Lesson { anchor: Local::new(0.0, 0.0), stands: true, length_s: 5.0 };

    /// A bow 30 m from the anchor that a receiver shows `wander_m` to and fro, once a minute.
    fn shown(step: usize, wander_m: f64) -> Local {
        Local::new(0.0, 30.0 + if (step / 12).is_multiple_of(2) { wander_m } else { -wander_m })
    }

    fn taught(steps: usize, second_m: f64) -> Receivers {
        let mut receivers = Receivers::new();
        for step in 0..steps {
            receivers.take_believed(0, None);
            for _ in 0..5 {
                receivers.take_aside(1, shown(step, second_m) + Local::new(3.0, 0.0), None);
            }
            receivers.hear(Some(shown(step, 0.5)), None);
            receivers.learn(&LESSON);
        }
        receivers
    }

    #[test]
    fn one_that_stands_in_has_its_own_wander() {
        let mut receivers = taught(700, 4.0);
        assert!((receivers.known[0].noise.minute_m() - 1.0).abs() < 0.2, "{receivers:?}");
        assert!((receivers.known[1].noise.minute_m() - 8.0).abs() < 1.0, "{receivers:?}");
        let both_m = receivers.wander_m();
        receivers.take_believed(1, None);
        receivers.hear(Some(Local::new(0.0, 30.0)), None);
        assert!(receivers.wander_m() > 5.0 * both_m, "{} {both_m}", receivers.wander_m());
    }

    #[test]
    fn one_that_wanders_has_little_weight_beside_one_that_does_not() {
        let mut receivers = taught(2000, 4.0);
        receivers.take_believed(0, None);
        for _ in 0..5 {
            receivers.take_aside(1, Local::new(3.0, 40.0), None);
        }
        let bow = receivers.hear(Some(Local::new(0.0, 30.0)), None);
        assert!(bow.is_some_and(|bow| (bow - Local::new(0.0, 30.0)).length_m() < 0.5), "{bow:?}");
    }

    #[test]
    fn more_receivers_than_are_told_apart_do_no_harm() {
        let mut receivers = Receivers::new();
        for number in 0..=u8::MAX {
            receivers.take_aside(number, Local::new(0.0, 30.0), None);
            receivers.take_believed(number, None);
            receivers.hear(None, None);
            receivers.learn(&LESSON);
        }
        assert_eq!(receivers.known.len(), MOST);
    }
}
