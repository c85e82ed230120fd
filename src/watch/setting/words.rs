//! A pull of the engine in words.

use super::pull::STILL_M_PER_MIN;
use super::{Held, PullSeen, Taut, Transit};
use crate::watch::units::Span;
use crate::watch::words::capital;

impl PullSeen {
    /// The same with its words.
    pub(super) fn worded(mut self) -> Self {
        self.reason = self.reason();
        self.words = self.in_words();
        self
    }

    /// Why it is called held, moved or not known.
    const fn reason(&self) -> &'static str {
        match (self.held, self.taut, self.transit) {
            (Held::Moved, _, Some(Transit::Opened)) => "your transit opened",
            (Held::Moved, Taut::Not, _) => "she did not stop",
            (Held::Moved, ..) => "she went on with the rode taut",
            (Held::Held, Taut::Short, _) => "she stopped short of her rode",
            (Held::Held, Taut::Unknown, Some(Transit::Stood)) => "your transit stood",
            (Held::Held, ..) => "she stopped with the rode taut",
            (Held::Untried, ..) => "the rode never came taut",
            (Held::Unknown, ..) if self.moved.is_none() => "no position",
            (Held::Unknown, ..) if self.distance.is_none() => "no drop point is marked",
            (Held::Unknown, ..) => "the position is too rough to tell",
        }
    }

    /// The whole pull in two sentences: what was seen, and what it means.
    fn in_words(&self) -> String {
        let Some(moved) = self.moved else {
            return format!(
                "{}: no position, nothing seen.{}",
                capital(self.kind.words()),
                self.transit_in_words()
            );
        };
        let way = match self.toward {
            Some(toward) => format!("the bow went {:.0} m towards {toward}", moved.0),
            None => "the bow did not move".to_owned(),
        };
        let rpm = self.rpm.map_or_else(String::new, |rpm| format!(" at up to {rpm:.0} rpm"));
        format!(
            "{}{rpm} for {}: {way}, give or take {:.0} m{}. {}{}",
            capital(self.kind.words()),
            Span::from_secs(self.lasted.0 / 1000),
            self.uncertainty.0.max(1.0),
            self.end_in_words(),
            self.meaning(),
            self.transit_in_words()
        )
    }

    const fn transit_in_words(&self) -> &'static str {
        match self.transit {
            Some(Transit::Stood) => " Your transit stood.",
            Some(Transit::Opened) => " Your transit opened.",
            _ => "",
        }
    }

    fn end_in_words(&self) -> String {
        let (Some(distance), Some(reach)) = (self.distance, self.reach) else { return String::new() };
        format!("; {:.0} m from the anchor, the rode reaches {:.0} m", distance.0, reach.0)
    }

    fn meaning(&self) -> String {
        match (self.held, self.taut) {
            (Held::Held, Taut::Short) => {
                "She stopped short of her rode: it may be fouled, or less is out than entered.".into()
            }
            (Held::Held, Taut::Unknown) => "The position does not show it, your transit does: the anchor held.".into(),
            (Held::Held, _) => "She stopped, the rode is taut, the anchor held.".into(),
            (Held::Moved, _) if self.transit == Some(Transit::Opened) && self.speed_m_per_min.is_none() => {
                "By your transit she went astern: the anchor moved.".into()
            }
            (Held::Moved, Taut::Not) => {
                format!("She did not stop, {}: the anchor comes with her.", self.speed_in_words())
            }
            (Held::Moved, _) => {
                format!("The rode was taut and she went on, {}: the anchor moved.", self.speed_in_words())
            }
            (Held::Untried, _) if self.speed_m_per_min.is_some_and(|speed| speed > STILL_M_PER_MIN) => {
                let speed = self.speed_in_words();
                format!("She still goes astern, {speed}: the rode comes taut, or the anchor comes along.")
            }
            (Held::Untried, _) => {
                "She stopped short of her rode: chain may still lie in a bight, the anchor has not been tried.".into()
            }
            (Held::Unknown, _) if self.distance.is_none() => {
                "No drop point is marked: look at a transit abeam.".into()
            }
            (Held::Unknown, _) => {
                "The position does not show whether she held: look at a transit abeam.".into()
            }
        }
    }

    fn speed_in_words(&self) -> String {
        format!("{:.0} m a minute", self.speed_m_per_min.unwrap_or_default().abs())
    }
}
