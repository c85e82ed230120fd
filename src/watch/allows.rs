//! What tonight's instruments allow: at about how many metres a drag would be called, and what would shorten that most.

use std::fmt;

use super::holding::Means;
use super::tuning::allows::{BY_WANDER, LEAST, WITHOUT_HEADING, WITHOUT_VELOCITY, WITHOUT_WIND};
use super::units::Metres;

/// What tonight's instruments allow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allows {
    /// What the judge goes by.
    pub means: Means,
    /// The receiver holds its position still until she has moved far or fast enough.
    pub holds_still: bool,
}

/// An instrument that would help.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sensor {
    /// A receiver that wanders less.
    Position,
    /// Speed over ground.
    Velocity,
    /// Heading: antenna and bow cannot be told apart.
    Heading,
    /// Wind: whether the rode is taut has to be guessed.
    Wind,
}

impl fmt::Display for Sensor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Position => "a receiver that wanders less",
            Self::Velocity => "a receiver that gives her speed",
            Self::Heading => "a heading",
            Self::Wind => "a wind sensor",
        })
    }
}

impl Allows {
    /// In half of all drags she would have moved no farther than this when somebody is called, by the drag itself or the
    /// circle: what the simulated nights showed, `docs/inside/holding.md`.
    #[must_use]
    pub fn called_at(&self) -> Metres {
        let means = &self.means;
        let wander = means.wander;
        let row = BY_WANDER.iter().find(|(up_to, _)| wander <= *up_to).or(BY_WANDER.last());
        let from = row.map_or(LEAST, |(_, called)| *called);
        let missing = [
            (means.velocity, WITHOUT_VELOCITY),
            (means.heading, WITHOUT_HEADING),
            (means.wind, WITHOUT_WIND),
        ];
        missing.iter().filter(|(there, _)| !there).fold(from, |sum, (_, more)| sum + *more)
    }

    /// The instrument that would shorten that most, and to how much.
    #[must_use]
    pub fn would_help(&self) -> Option<(Sensor, Metres)> {
        let means = self.means;
        let with = |means: Means| Self { means, ..*self }.called_at();
        let ways = [
            (Sensor::Position, with(Means { wander: Metres(0.0), ..means })),
            (Sensor::Velocity, with(Means { velocity: true, ..means })),
            (Sensor::Heading, with(Means { heading: true, ..means })),
            (Sensor::Wind, with(Means { wind: true, ..means })),
        ];
        let now = self.called_at();
        let shorter = ways.into_iter().filter(|(_, called)| now - *called >= Metres(1.0));
        shorter.min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0))
    }

    /// In words: at how many metres, and what would shorten that.
    #[must_use]
    pub fn words(&self) -> String {
        let helps = self.would_help().map_or_else(String::new, |(sensor, called)| {
            format!("; with {sensor} after about {:.0} m", called.0)
        });
        format!("A drag would show after about {:.0} m{helps}.", self.called_at().0)
    }

    /// What is to be known of the receiver, in words.
    #[must_use]
    pub fn of_the_receiver(&self) -> Option<&'static str> {
        match (self.holds_still, self.means.velocity) {
            (true, _) => Some("The receiver holds its position still: a slow drag shows late."),
            (false, false) => Some("The receiver gives no speed: a jump and a drag look alike for minutes."),
            (false, true) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(wander_m: f64) -> Means {
        Means { wander: Metres(wander_m), velocity: true, wind: true, heading: true, depth: true, mark: true }
    }

    fn by(means: Means, holds_still: bool) -> Allows {
        Allows { means, holds_still }
    }

    #[test]
    fn a_receiver_that_wanders_sees_late_and_each_missing_instrument_makes_it_later() {
        let called = |means: &Means| by(*means, false).called_at();
        let good = called(&all(0.8));
        assert!(called(&all(1.7)) > good && called(&all(12.0)) > called(&all(1.7)));
        for less in [
            Means { velocity: false, ..all(0.8) },
            Means { heading: false, ..all(0.8) },
            Means { wind: false, ..all(0.8) },
        ] {
            assert!(called(&less) > good, "{less:?}");
        }
    }

    #[test]
    fn what_helps_most_is_named_with_what_it_would_bring() {
        assert_eq!(by(all(0.8), false).would_help(), None);
        let bad = by(Means { wind: false, ..all(12.0) }, false);
        assert_eq!(bad.would_help().map(|(sensor, _)| sensor), Some(Sensor::Position), "{}", bad.words());
    }

    #[test]
    fn a_receiver_without_velocity_or_that_holds_still_is_said_to_be_one() {
        assert_eq!(by(all(0.8), false).of_the_receiver(), None);
        let holds = by(all(0.8), true).of_the_receiver();
        assert!(holds.is_some_and(|words| words.contains("holds its position still")));
        let none = by(Means { velocity: false, ..all(0.8) }, false).of_the_receiver();
        assert!(none.is_some_and(|words| words.contains("no speed")));
    }
}
