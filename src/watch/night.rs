//! The night by the minute: what its strip and graphs are drawn from, in bounded memory.

use std::sync::Arc;

use super::circular::DirectionMean;
use super::snapshot::{Happening, Minute};
use super::units::{Knots, Metres, TrueBearing, WatchTime};

/// Minutes kept whole: two days. Older ones are thinned to one in ten, and those kept for eight weeks.
const WHOLE_MIN: usize = 2880;
const OLD_MAX: usize = 8064;
/// Happenings that are kept.
const HAPPENINGS_MAX: usize = 500;

/// What one second adds to its minute.
#[derive(Clone, Copy, Debug, Default)]
pub struct SecondSeen {
    /// Distance of the bow from the drop point.
    pub distance: Option<Metres>,
    /// Reach of the rode.
    pub reach: Option<Metres>,
    /// The circle that raises `outside`.
    pub circle: Option<Metres>,
    /// Room left.
    pub room: Option<Metres>,
    /// Wind speed.
    pub wind: Option<Knots>,
    /// Wind direction.
    pub direction: Option<TrueBearing>,
    /// Heading.
    pub heading: Option<TrueBearing>,
    /// Depth by the sounder.
    pub depth: Option<Metres>,
    /// Depth by the tide.
    pub predicted: Option<Metres>,
    /// Whether a trusted fix came.
    pub good_fix: bool,
    /// Evidence that the anchor has moved, percent.
    pub evidence: Option<f64>,
}

#[derive(Clone, Debug, Default)]
struct Gathering {
    minute: Minute,
    winds: [f64; 3],
    wind_sum: f64,
    wind_count: u32,
    direction: DirectionMean,
    heading: DirectionMean,
}

/// The minutes and happenings of the watch.
#[derive(Clone, Debug, Default)]
pub struct Night {
    minutes: Arc<Vec<Minute>>,
    happenings: Arc<Vec<Happening>>,
    gathering: Gathering,
}

impl Night {
    /// Adds a second; at each full minute the minute is kept.
    pub fn second(&mut self, now: WatchTime, seen: &SecondSeen) {
        self.gathering.add(seen);
        if now.0.rem_euclid(60_000) == 0 {
            let minute = std::mem::take(&mut self.gathering).close(now);
            let minutes = Arc::make_mut(&mut self.minutes);
            minutes.push(minute);
            if minutes.len() > WHOLE_MIN + OLD_MAX {
                thin(minutes);
            }
        }
    }

    /// Keeps what happened, in words.
    pub fn happened(&mut self, at: WatchTime, text: String, alert: bool) {
        let happenings = Arc::make_mut(&mut self.happenings);
        if happenings.len() == HAPPENINGS_MAX {
            happenings.remove(0);
        }
        happenings.push(Happening { at, text, alert });
    }

    /// The minutes, oldest first; shared, not copied.
    #[must_use]
    pub fn minutes(&self) -> Arc<Vec<Minute>> {
        Arc::clone(&self.minutes)
    }

    /// What happened, oldest first; shared, not copied.
    #[must_use]
    pub fn happenings(&self) -> Arc<Vec<Happening>> {
        Arc::clone(&self.happenings)
    }
}

impl Gathering {
    fn add(&mut self, seen: &SecondSeen) {
        let minute = &mut self.minute;
        minute.distance = greatest(minute.distance, seen.distance);
        minute.reach = seen.reach.or(minute.reach);
        minute.circle = seen.circle.or(minute.circle);
        minute.room = match (minute.room, seen.room) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        minute.depth = seen.depth.or(minute.depth);
        minute.predicted = seen.predicted.or(minute.predicted);
        minute.evidence = seen.evidence.map(|e| e as f32).or(minute.evidence);
        minute.good_fixes += u8::from(seen.good_fix);
        if let Some(wind) = seen.wind {
            self.wind_sum += wind.0;
            self.winds[self.wind_count as usize % 3] = wind.0;
            self.wind_count += 1;
            if self.wind_count >= 3 {
                let gust = Knots(self.winds.iter().sum::<f64>() / 3.0);
                minute.gust = Some(minute.gust.map_or(gust, |g| g.max(gust)));
            }
        }
        if let Some(direction) = seen.direction {
            self.direction.add(direction, 1.0);
        }
        if let Some(heading) = seen.heading {
            self.heading.add(heading, 1.0);
        }
    }

    fn close(self, at: WatchTime) -> Minute {
        Minute {
            at,
            wind: (self.wind_count > 0).then(|| Knots(self.wind_sum / f64::from(self.wind_count))),
            direction: self.direction.mean(),
            heading: self.heading.mean(),
            ..self.minute
        }
    }
}

fn greatest(a: Option<Metres>, b: Option<Metres>) -> Option<Metres> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

/// Keeps one in ten of the minutes older than two days, and drops the oldest when there are too many of those.
fn thin(minutes: &mut Vec<Minute>) {
    let old = minutes.len() - WHOLE_MIN;
    let mut index = 0;
    minutes.retain(|m| {
        index += 1;
        index > old || m.at.0.rem_euclid(600_000) == 0
    });
    let old = minutes.len() - WHOLE_MIN;
    if old > OLD_MAX * 9 / 10 {
        minutes.drain(..old / 10);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minute_keeps_the_worst_of_its_seconds() {
        let mut night = Night::default();
        for s in 1..=60 {
            let seen = SecondSeen {
                distance: Some(Metres(if s == 30 { 44.0 } else { 30.0 })),
                room: Some(Metres(if s == 30 { 2.0 } else { 16.0 })),
                wind: Some(Knots(if (10..13).contains(&s) { 24.0 } else { 12.0 })),
                good_fix: s > 10,
                ..SecondSeen::default()
            };
            night.second(WatchTime(s * 1000), &seen);
        }
        let minute = night.minutes()[0];
        assert_eq!((minute.distance, minute.room), (Some(Metres(44.0)), Some(Metres(2.0))));
        assert_eq!((minute.gust, minute.good_fixes), (Some(Knots(24.0)), 50));
        assert!((minute.wind.unwrap().0 - 12.6).abs() < 1e-9);
    }

    #[test]
    fn a_minute_without_a_circle_or_a_sounder_leaves_a_gap() {
        let mut night = Night::default();
        for s in 1..=120 {
            let seen = SecondSeen {
                reach: (s > 60).then_some(Metres(34.0)),
                circle: (s > 60).then_some(Metres(47.0)),
                depth: (s <= 60).then_some(Metres(4.0)),
                ..SecondSeen::default()
            };
            night.second(WatchTime(s * 1000), &seen);
        }
        let minutes = night.minutes();
        assert_eq!((minutes[0].reach, minutes[0].circle, minutes[0].depth), (None, None, Some(Metres(4.0))));
        assert_eq!((minutes[1].reach, minutes[1].circle), (Some(Metres(34.0)), Some(Metres(47.0))));
        assert_eq!(minutes[1].depth, None);
    }

    #[test]
    fn months_stay_bounded_and_two_days_whole() {
        let mut night = Night::default();
        for m in 1..=(90 * 1440) {
            night.second(WatchTime(m * 60_000), &SecondSeen::default());
        }
        let minutes = night.minutes();
        assert!(minutes.len() <= WHOLE_MIN + OLD_MAX + 1, "{}", minutes.len());
        let last = minutes.last().unwrap().at;
        assert_eq!(minutes.iter().filter(|m| last.since(m.at).0 < 2880 * 60_000).count(), 2880);
    }
}
