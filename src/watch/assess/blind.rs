//! How long may she lie there without anybody being able to tell whether she drags?

use super::facts::Facts;
use crate::watch::alert::Priority;
use crate::watch::holding::HoldingState;
use crate::watch::latch::{Latch, Patience};
use crate::watch::snapshot::Stage;
use crate::watch::tuning::{
    BLIND_MOST, BLIND_OVER, BLIND_ROOM_LEAST, BLOWS_HARDER, DRIFT_SHARE, HELD_MOST, HELD_NEARLY, WIND_ASSUMED,
};
use crate::watch::units::{Knots, Metres, Span, WatchTime};

/// What a drag that nobody sees would have to do with: the load that the anchor has held, and the room.
#[derive(Clone, Debug)]
pub struct Exposure {
    /// Seconds in which she was judged to hold, by whole knots of mean wind.
    borne_s: [u32; WINDS],
    /// Room to the circle when it was known last.
    room: Option<Metres>,
    /// How long she may go unjudged now.
    patience: Span,
}

/// Mean winds that are told apart, knots.
const WINDS: usize = 80;

fn class(wind: Knots) -> usize {
    (wind.0.max(0.0) as usize).min(WINDS - 1)
}

impl Default for Exposure {
    fn default() -> Self {
        Self { borne_s: [0; WINDS], room: None, patience: Span::ZERO }
    }
}

impl Exposure {
    /// One second.
    pub fn note(&mut self, facts: &Facts) {
        if let Some(room) = facts.position.room {
            self.room = Some(room.left);
        }
        if facts.position.judged.state == HoldingState::Holding
            && let Some(speeds) = facts.wind.speeds
        {
            let borne_s = &mut self.borne_s[class(speeds.mean)];
            *borne_s = borne_s.saturating_add(1);
        }
        self.patience = self.patience_now(facts);
    }

    /// How long she may go unjudged before somebody must look.
    #[must_use]
    pub fn patience(&self) -> Span {
        self.patience
    }

    /// What is left of it once the position has been missing for `fix_lost_after`.
    #[must_use]
    pub fn further(&self, facts: &Facts) -> Span {
        Span(self.patience.0 - facts.limits.fix_lost_after.0)
    }

    /// As long as a drag at this load takes to use up the room. It is short where it blows harder than she has held, and long
    /// where she has held more.
    fn patience_now(&self, facts: &Facts) -> Span {
        let least = facts.limits.fix_lost_after;
        let wind = facts.wind.speeds.map(|speeds| speeds.mean);
        let is_untried = wind.is_some_and(|wind| wind > self.held() + BLOWS_HARDER);
        if facts.stage != Stage::BroughtUp || is_untried {
            return least;
        }
        let blows = wind.unwrap_or(WIND_ASSUMED).max(Knots(1.0));
        let held_more = (self.held().0 / blows.0).powi(2).max(1.0);
        let held_long = wind.map_or(1.0, |wind| 1.0 + self.borne_hours(wind));
        let trust = (held_more * held_long).min(HELD_MOST);
        let room = self.room.unwrap_or(facts.limits.circle_margin).max(BLIND_ROOM_LEAST);
        let seconds = room.0 / (blows.mps() * DRIFT_SHARE) * trust;
        Span::from_secs(seconds as i64).clamp(least, BLIND_MOST.max(least))
    }

    /// The greatest mean wind in which she was judged to hold, in whole knots.
    pub fn held(&self) -> Knots {
        Knots(self.borne_s.iter().rposition(|seconds| *seconds > 0).unwrap_or(0) as f64)
    }

    /// Hours for which she has held in so much wind, or nearly.
    fn borne_hours(&self, wind: Knots) -> f64 {
        let seconds: u32 = self.borne_s[class(wind * HELD_NEARLY)..].iter().sum();
        f64::from(seconds) / 3600.0
    }
}

/// What is seen of her in a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// Whether she drags is judged.
    Judged,
    /// It is not, but she is seen to lie within her circle: a drag would be seen there.
    Circle,
    /// Neither.
    Nothing,
}

impl Sight {
    /// Whether something is the matter, and if so, whether her circle is watched all the same.
    #[must_use]
    pub fn of(is_doubted: bool, seen_inside: bool) -> Self {
        match (is_doubted, seen_inside) {
            (false, _) => Self::Judged,
            (true, true) => Self::Circle,
            (true, false) => Self::Nothing,
        }
    }
}

/// Seconds in which nothing saw her, less those in which something did since. What comes and goes sounds once.
#[derive(Clone, Copy, Debug, Default)]
pub struct Blind {
    lasts: Span,
    sounds: Latch,
}

impl Blind {
    /// One second: silent at first, and aloud once nothing has seen her for more than `patience`; `None` when it is over.
    pub fn note(&mut self, now: WatchTime, sight: Sight, patience: Span) -> Option<Priority> {
        let second = Span::from_secs(1);
        let is_blind = sight == Sight::Nothing;
        self.lasts = if is_blind { self.lasts + second } else { Span((self.lasts.0 - second.0).max(0)) };
        let off = Patience { on: Span::ZERO, off: BLIND_OVER };
        let sounds = self.sounds.note(now, is_blind && self.lasts >= patience, !is_blind, off);
        if sounds {
            return Some(Priority::Warning);
        }
        (sight != Sight::Judged).then_some(Priority::Caution)
    }
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::wind::Speeds;

    /// How long she may go unjudged in so much wind, having held in `held`.
    fn patience(held: f64, blows: Option<f64>) -> i64 {
        let calm = Calm::default();
        let mut facts = calm.facts(second(0));
        facts.wind.speeds = blows.map(|kn| Speeds { mean: Knots(kn), gust: Knots(kn) });
        let mut exposure = Exposure::default();
        exposure.borne_s[class(Knots(held))] = 1;
        facts.position.room = None;
        exposure.room = Some(Metres(25.0));
        exposure.note(&facts);
        exposure.patience().0 / 1000
    }

    #[test]
    fn light_air_leaves_ten_minutes_and_more_wind_than_she_has_held_seconds() {
        assert_eq!(patience(15.0, Some(2.0)), 600);
        assert_eq!(patience(10.0, Some(16.0)), 15);
        let (tried, untried) = (patience(24.0, Some(15.0)), patience(15.0, Some(15.0)));
        assert!(untried > 45 && untried < 90 && tried > 2 * untried, "{tried} {untried}");
        assert!((45..90).contains(&patience(0.0, None)), "no wind is known: as in 15 kn");
    }

    #[test]
    fn hours_in_which_she_has_held_as_much_make_it_longer() {
        let calm = Calm::default();
        let mut facts = calm.facts(second(0));
        facts.wind.speeds = Some(Speeds { mean: Knots(20.0), gust: Knots(24.0) });
        let mut exposure = Exposure { room: Some(Metres(25.0)), ..Exposure::default() };
        exposure.borne_s[20] = 1;
        let before = exposure.patience_now(&facts).seconds();
        exposure.borne_s[19] = 2 * 3600;
        exposure.borne_s[10] = 9 * 3600;
        let after = exposure.patience_now(&facts).seconds();
        assert!((after / before - 3.0).abs() < 0.1, "{before} {after}: 19 kn count as 20, 10 kn do not");
    }

    #[test]
    fn what_comes_and_goes_sounds_once() {
        let mut blind = Blind::default();
        let patience = Span::from_secs(60);
        let comes = |s: i64| Sight::of(s % 30 < 25, false);
        let aloud: Vec<bool> =
            (0..1200).map(|s| blind.note(second(s), comes(s), patience) == Some(Priority::Warning)).collect();
        let begins = aloud.windows(2).filter(|two| !two[0] && two[1]).count();
        assert_eq!(begins, 1);
        let over = (1200..1500).find(|s| blind.note(second(*s), Sight::Judged, patience).is_none());
        assert_eq!(over, Some(1195 + BLIND_OVER.0 / 1000), "it was so for the last time at 1194");
    }

    #[test]
    fn while_her_circle_is_watched_it_waits_in_silence() {
        let mut blind = Blind::default();
        let patience = Span::from_secs(60);
        assert!((0..7200).all(|s| blind.note(second(s), Sight::Circle, patience) == Some(Priority::Caution)));
        let mut unseen =
            |s: &i64| blind.note(second(*s), Sight::Nothing, patience) == Some(Priority::Warning);
        assert_eq!((7200..7400).find(&mut unseen), Some(7259));
    }
}
