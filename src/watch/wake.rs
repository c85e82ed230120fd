//! What the crew has asked to be woken for: a time, the turn of the tide, so much wind.

use serde::{Deserialize, Serialize};

use super::tide::TurnKind;
use super::units::{Knots, WatchTime};

/// What the crew asks to be woken for. Each is used up once it has woken them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct WakeFor {
    /// At this time.
    pub at: Option<WatchTime>,
    /// At the next high or low water.
    pub turn: bool,
    /// Once the mean wind is as strong as this.
    pub wind: Option<Knots>,
}

/// Why the crew is to be woken now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reached {
    /// The time that they asked for.
    Time,
    /// The tide has turned.
    Turn(TurnKind),
    /// The mean wind is so strong, and was asked for at so much.
    Wind {
        /// Mean wind now.
        mean: Knots,
        /// What was asked for.
        asked: Knots,
    },
}

/// What is asked for, and what of it has come about and is not answered yet.
#[derive(Clone, Debug, Default)]
pub struct Wake {
    asked: WakeFor,
    since: Option<WatchTime>,
    reached: Vec<Reached>,
}

impl Wake {
    /// The crew asks, at `at`: what was asked before is void, and so is what it came to.
    pub fn ask(&mut self, at: WatchTime, asked: WakeFor) {
        *self = Self { asked, since: Some(at), reached: Vec::new() };
    }

    /// What is still asked for.
    #[must_use]
    pub fn asked(&self) -> WakeFor {
        self.asked
    }

    /// What has come about and waits for an answer, in order.
    #[must_use]
    pub fn reached(&self) -> &[Reached] {
        &self.reached
    }

    /// The crew is awake.
    pub fn answered(&mut self) {
        self.reached.clear();
    }

    /// A second passes. `turn`: the last turn of the tide up to now, if one is known.
    pub fn second(&mut self, now: WatchTime, turn: Option<(WatchTime, TurnKind)>, mean: Option<Knots>) {
        if self.asked.at.is_some_and(|at| at <= now) {
            self.asked.at = None;
            self.reached.push(Reached::Time);
        }
        let turned = turn.filter(|(at, _)| self.asked.turn && self.since.is_some_and(|since| *at > since));
        if let Some((_, kind)) = turned {
            self.asked.turn = false;
            self.reached.push(Reached::Turn(kind));
        }
        if let (Some(asked), Some(mean)) = (self.asked.wind, mean)
            && mean.0 >= asked.0
        {
            self.asked.wind = None;
            self.reached.push(Reached::Wind { mean, asked });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: fn(i64) -> WatchTime = |second| WatchTime(second * 1000);

    #[test]
    fn each_wakes_once_and_waits_for_an_answer() {
        let mut wake = Wake::default();
        wake.ask(AT(0), WakeFor { at: Some(AT(60)), turn: true, wind: Some(Knots(20.0)) });
        // A turn of before they asked is not meant.
        wake.second(AT(59), Some((AT(0), TurnKind::High)), Some(Knots(19.9)));
        assert_eq!(wake.reached(), []);
        wake.second(AT(60), Some((AT(0), TurnKind::High)), None);
        assert_eq!(wake.reached(), [Reached::Time]);
        wake.answered();
        wake.second(AT(70), Some((AT(65), TurnKind::Low)), Some(Knots(21.0)));
        let gale = Reached::Wind { mean: Knots(21.0), asked: Knots(20.0) };
        assert_eq!(wake.reached(), [Reached::Turn(TurnKind::Low), gale]);
        wake.answered();
        wake.second(AT(80), Some((AT(65), TurnKind::Low)), Some(Knots(30.0)));
        assert_eq!((wake.reached(), wake.asked()), (&[][..], WakeFor::default()));
    }
}
