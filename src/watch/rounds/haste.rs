//! What brings rounds nearer together: weather, and an anchor that may be moving.

use crate::watch::Watch;
use crate::watch::holding::HoldingState;
use crate::watch::snapshot::Stage;
pub(super) use crate::watch::tuning::haste::RISES_OVER_MIN;
use crate::watch::tuning::haste::{
    EVIDENCE, HASTE_LOOKED_AT, LEAST_INTERVAL, PATIENCE, RISES, RISING_SHARE, SHIFT_SHARE, WINDY_SHARE,
};
use crate::watch::units::{Span, WatchTime};
use crate::watch::wind::Speeds;

/// What can bring rounds nearer together.
#[derive(Clone, Copy, Debug)]
pub(super) enum Haste {
    Windy,
    Rising,
    Shifted,
    Creeping,
}

impl Haste {
    /// All of them.
    pub(super) const ALL: [Self; 4] = [Self::Windy, Self::Rising, Self::Shifted, Self::Creeping];
}

impl Watch {
    /// Looks at every reason.
    pub(super) fn look_for_haste(&mut self, now: WatchTime) {
        if self.limits.round_every.is_none() || now.0.rem_euclid(HASTE_LOOKED_AT.0) != 0 {
            return;
        }
        let speeds = self.wind.speeds(now);
        for (i, haste) in Haste::ALL.into_iter().enumerate() {
            let so = self.ride.stage == Stage::BroughtUp && self.hastens(haste, speeds, now);
            self.rounds.haste[i].note(now, so, !so, PATIENCE);
        }
    }

    fn hastens(&self, haste: Haste, speeds: Option<Speeds>, now: WatchTime) -> bool {
        let share = |of: f64| {
            speeds.is_some_and(|s| {
                s.mean.0 >= of * self.limits.wind_high.0 || s.gust.0 >= of * self.limits.gust_high.0
            })
        };
        match haste {
            Haste::Windy => share(WINDY_SHARE),
            Haste::Rising => share(RISING_SHARE) && self.rounds.rise().is_some_and(|rise| rise >= RISES),
            Haste::Shifted => {
                self.shift_deg(now).is_some_and(|deg| deg.abs() >= SHIFT_SHARE * self.limits.wind_shift_deg)
            }
            Haste::Creeping => {
                matches!(self.judged.state, HoldingState::Creeping | HoldingState::Dragging)
                    || self.judged.evidence >= EVIDENCE
            }
        }
    }

    fn shift_deg(&self, now: WatchTime) -> Option<f64> {
        let mean = self.wind.direction(now, self.limits.wind_window)?;
        self.wind.shift_origin().map(|origin| origin.turn_to(mean))
    }

    /// Why rounds come sooner than the crew's interval.
    pub(super) fn shortened(&self, now: WatchTime) -> Vec<String> {
        let on = Haste::ALL.into_iter().zip(&self.rounds.haste).filter(|(_, latch)| latch.is_on());
        on.map(|(haste, _)| self.haste_in_words(haste, now)).collect()
    }

    fn haste_in_words(&self, haste: Haste, now: WatchTime) -> String {
        let speeds = self.wind.speeds(now);
        let (mean, gust) = speeds.map_or((0.0, 0.0), |s| (s.mean.0, s.gust.0));
        match haste {
            Haste::Windy => format!("wind {mean:.0} kn, gusts {gust:.0}, near your limits"),
            Haste::Rising => match self.rounds.rise() {
                Some(rise) if rise.0 >= 1.0 => format!("the wind has risen {:.0} kn in half an hour", rise.0),
                _ => "the wind has risen".into(),
            },
            Haste::Shifted => match self.shift_deg(now) {
                Some(deg) => format!("the wind has turned {:.0}°", deg.abs()),
                None => "the wind has turned".into(),
            },
            Haste::Creeping => "the anchor may be moving".into(),
        }
    }

    /// The interval as it is now: the crew's, halved for one reason, a third for more.
    pub(super) fn round_interval(&self) -> Option<Span> {
        let every = self.limits.round_every?;
        let reasons = self.rounds.haste.iter().filter(|latch| latch.is_on()).count();
        let share = 1 + reasons.min(2) as i64;
        Some(Span(every.0 / share).max(LEAST_INTERVAL.min(every)))
    }
}
