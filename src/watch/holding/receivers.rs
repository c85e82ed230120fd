//! Every receiver errs in its own way. What is learned of one is not applied to another, and where several speak the
//! bow is their mean, each weighed by how little it wanders.

use super::carried::{Carried, Gaps, Way};
use super::departure::{Departure, Lay, Says};
use super::noise::Noise;
use super::shift::Shift;
use super::tuning::noise as tuning;
use crate::watch::geo::Local;
use crate::watch::units::{TrueBearing, WatchTime};

/// Receivers that are told apart; the fixes of any more are learned with the last of them.
const MOST: usize = 8;
/// A receiver beside the believed one must give so many fixes in a step to be heard.
const FIXES_LEAST: u32 = 3;
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
    carried: Carried,
    departure: Departure,
    /// When the last fix beside the believed receiver came.
    last: Option<WatchTime>,
    /// How far its fixes lay from what its velocity carried in the last step.
    gaps: Option<Gaps>,
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

    /// A fix of the receiver that is believed from here on, `interval_s` after its last.
    pub fn take_believed(&mut self, number: u8, antenna: Local, way: Option<Way>, interval_s: f64) {
        self.believed = self.index_of(number);
        let known = &mut self.known[self.believed];
        known.last = None;
        known.carried.second(antenna, way, interval_s);
    }

    /// A fix of a receiver beside the believed one, and the bow by it.
    pub fn take_aside(
        &mut self,
        at: WatchTime,
        number: u8,
        (antenna, bow): (Local, Local),
        way: Option<Way>,
    ) {
        let index = self.index_of(number);
        if index == self.believed {
            return;
        }
        let known = &mut self.known[index];
        let interval_s = known.last.replace(at).map_or(1.0, |last| at.since(last).seconds());
        known.carried.second(antenna, way, interval_s);
        known.aside = (known.aside.0 + bow, known.aside.1 + 1);
    }

    /// Ends a step in which the believed receiver laid her bow at `bow`, if it was heard. Gives the bow by all who were.
    pub fn hear(&mut self, bow: Option<Local>, heading: Option<TrueBearing>) -> Option<Local> {
        self.heading = heading;
        for (index, known) in self.known.iter_mut().enumerate() {
            let (sum, count) = std::mem::take(&mut known.aside);
            let aside = (count >= FIXES_LEAST).then(|| sum.scaled(1.0 / f64::from(count)));
            known.bow = if index == self.believed { bow } else { aside };
            known.gaps = known.carried.take();
        }
        mean(self.votes()).map(|vote| vote.bow)
    }

    /// Learns from the step that was heard last.
    pub fn learn(&mut self, lesson: &Lesson) {
        for known in &mut self.known {
            if let Some(bow) = known.bow {
                let lies = bow - known.shift.at(self.heading).0 - lesson.anchor;
                known.noise.step(lesson.stands, lies.length_m());
            }
        }
        self.learn_shifts(lesson.length_s);
    }

    /// Where the bow lay in the step that was heard last.
    pub fn depart(&mut self, at: WatchTime, lay: Lay, length_s: f64) {
        for known in &mut self.known {
            known.departure.step(at, known.gaps.filter(|_| known.bow.is_some()), lay, length_s);
        }
    }

    /// What velocity says of a departure: that of the receiver that wanders least among those that give one.
    pub fn says(&self) -> Option<Says> {
        let heard = self.known.iter().filter(|known| known.bow.is_some() && known.departure.says().is_some());
        heard.min_by(|a, b| a.wander_m().total_cmp(&b.wander_m())).and_then(|known| known.departure.says())
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
        let shared = if heard > 1 { tuning::SHARED } else { 1.0 };
        match mean(self.votes()) {
            Some(vote) => (vote.variance_m2.sqrt() * shared).min(tuning::WANDER_MOST_M),
            None => self.believed_wander_m(),
        }
    }

    /// Error over minutes of the fixes of the believed receiver alone, metres.
    pub fn believed_wander_m(&self) -> f64 {
        self.known.get(self.believed).map_or(tuning::WANDER_RATIO, Known::wander_m)
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
            known.carried.restart();
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
        Self {
            number,
            noise: Noise::new(),
            shift,
            carried: Carried::default(),
            departure: Departure::new(),
            last: None,
            gaps: None,
            aside: (Local::default(), 0),
            bow: None,
        }
    }

    fn wander_m(&self) -> f64 {
        (tuning::WANDER_RATIO * self.noise.minute_m()).max(tuning::WANDER_LEAST_M)
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

    const AT: WatchTime = WatchTime(0);
    const LESSON: Lesson = Lesson { anchor: Local::new(0.0, 0.0), stands: true, length_s: 5.0 };

    /// A bow 30 m from the anchor that a receiver shows `wander_m` to and fro, once a minute.
    fn shown(step: usize, wander_m: f64) -> Local {
        Local::new(0.0, 30.0 + if (step / 12).is_multiple_of(2) { wander_m } else { -wander_m })
    }

    fn taught(steps: usize, second_m: f64) -> Receivers {
        let mut receivers = Receivers::new();
        for step in 0..steps {
            receivers.take_believed(0, Local::default(), None, 1.0);
            for _ in 0..5 {
                let bow = shown(step, second_m) + Local::new(3.0, 0.0);
                receivers.take_aside(AT, 1, (bow, bow), None);
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
        receivers.take_believed(1, Local::default(), None, 1.0);
        receivers.hear(Some(Local::new(0.0, 30.0)), None);
        assert!(receivers.wander_m() > 5.0 * both_m, "{} {both_m}", receivers.wander_m());
    }

    #[test]
    fn one_that_wanders_has_little_weight_beside_one_that_does_not() {
        let mut receivers = taught(2000, 4.0);
        receivers.take_believed(0, Local::default(), None, 1.0);
        for _ in 0..5 {
            receivers.take_aside(AT, 1, (Local::default(), Local::new(3.0, 40.0)), None);
        }
        let bow = receivers.hear(Some(Local::new(0.0, 30.0)), None);
        assert!(bow.is_some_and(|bow| (bow - Local::new(0.0, 30.0)).length_m() < 0.5), "{bow:?}");
    }

    #[test]
    fn more_receivers_than_are_told_apart_do_no_harm() {
        let mut receivers = Receivers::new();
        for number in 0..=u8::MAX {
            receivers.take_aside(AT, number, (Local::default(), Local::new(0.0, 30.0)), None);
            receivers.take_believed(number, Local::default(), None, 1.0);
            receivers.hear(None, None);
            receivers.learn(&LESSON);
        }
        assert_eq!(receivers.known.len(), MOST);
    }
}
