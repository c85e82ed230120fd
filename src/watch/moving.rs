//! How much of what the anchor has moved is new.

use std::collections::VecDeque;

use super::units::{Metres, Span, WatchTime};

/// What is new: the last so much. Long enough that the wander of the fixes does not show, short enough to say whether
/// she still drags. Our choice.
pub const LATELY: Span = Span::from_mins(10);
/// How often a distance is kept.
const EVERY: Span = Span::from_secs(10);
/// A distance may be older than wanted by so much, no more.
const NEAR: Span = Span::from_secs(30);

/// How far the bow lay beyond every place that the anchor's belief allows, over the last minutes.
#[derive(Clone, Debug, Default)]
pub struct Moving {
    kept: VecDeque<(WatchTime, Metres)>,
}

impl Moving {
    /// The distance beyond at a moment; inside it counts as none.
    pub fn note(&mut self, now: WatchTime, beyond: Metres) {
        if self.kept.back().is_some_and(|(last, _)| now.since(*last) < EVERY) {
            return;
        }
        self.kept.push_back((now, beyond.max(Metres(0.0))));
        while self.kept.front().is_some_and(|(first, _)| now.since(*first) > LATELY + NEAR) {
            self.kept.pop_front();
        }
    }

    /// How much of `distance`, moved since some moment, was moved in the last ten minutes; `None` if all of it was, or if
    /// nobody watched ten minutes ago.
    #[must_use]
    pub fn lately(&self, now: WatchTime, distance: Metres, since: WatchTime) -> Option<Metres> {
        if now.since(since) <= LATELY {
            return None;
        }
        let wanted = now - LATELY;
        let (at, before) = self.kept.iter().find(|(at, _)| *at >= wanted - EVERY)?;
        (at.since(wanted) <= NEAR).then(|| (distance - *before).max(Metres(0.0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every second for so many minutes, a metre a minute from the beginning.
    fn dragged(minutes: i64) -> Moving {
        let mut moving = Moving::default();
        for s in 0..=minutes * 60 {
            moving.note(WatchTime(s * 1000), Metres(s as f64 / 60.0));
        }
        moving
    }

    #[test]
    fn what_is_new_is_what_the_last_ten_minutes_added() {
        let (moving, now) = (dragged(18), WatchTime(18 * 60_000));
        let lately = moving.lately(now, Metres(18.0), WatchTime(0)).unwrap();
        assert!((lately.0 - 10.0).abs() < 0.5, "{lately:?}");
        assert!(moving.kept.len() <= 65, "{}", moving.kept.len());
    }

    #[test]
    fn of_a_short_time_all_is_new_and_of_one_that_nobody_watched_nothing_is_said() {
        let now = WatchTime(8 * 60_000);
        assert_eq!(dragged(8).lately(now, Metres(8.0), WatchTime(0)), None);
        let late = WatchTime(40 * 60_000);
        assert_eq!(dragged(8).lately(late, Metres(20.0), WatchTime(0)), None);
    }
}
