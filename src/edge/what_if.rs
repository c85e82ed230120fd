//! A recorded night with other settings: another circle, rode, draft, drop point or limit.
//!
//! What the watch began with is altered, and what the crew entered later is altered as it is heard: nothing else
//! differs from the night as it was.

use std::fmt;
use std::str::FromStr;

use crate::config::keys::{self, Bounds, Number};
use crate::watch::boat::ranges::{Range, VEERED_ENTERED_M};
use crate::watch::boat::{Limits, Settings};
use crate::watch::geo::Position;
use crate::watch::input::{Command, DropMove};
use crate::watch::units::Metres;

/// What is altered.
#[derive(Clone, Debug, Default)]
pub struct Altered {
    numbers: Vec<(Number, f64)>,
    veered: Option<Metres>,
    drop: Option<Position>,
    asked: String,
}

impl PartialEq for Altered {
    fn eq(&self, other: &Self) -> bool {
        self.asked == other.asked
    }
}

/// What cannot be altered so.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AlteredError {
    /// No `=` in it.
    #[error("`{0}` is no KEY=VALUE. Write circle_m=45, veered_m=40 or drop=54.2,10.4.")]
    NotAPair(String),
    /// No such key.
    #[error("`{0}` is no key of boat.toml that a number belongs to, and neither veered_m nor drop.")]
    NoSuchKey(String),
    /// Not a number, or out of range.
    #[error("{key} must be {range}, not `{value}`.")]
    OutOfRange {
        /// The key.
        key: String,
        /// What is allowed.
        range: Range,
        /// What was written.
        value: String,
    },
    /// Not a position.
    #[error("drop is written as degrees of latitude and longitude, as in drop=54.2,10.4; `{0}` is not.")]
    NotAPosition(String),
}

impl FromStr for Altered {
    type Err = AlteredError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut altered = Self::default();
        for pair in text.split(';').map(str::trim).filter(|pair| !pair.is_empty()) {
            let (key, value) = pair.split_once('=').ok_or_else(|| AlteredError::NotAPair(pair.to_owned()))?;
            altered.add(key.trim(), value.trim())?;
        }
        if altered.asked.is_empty() {
            return Err(AlteredError::NotAPair(text.to_owned()));
        }
        Ok(altered)
    }
}

impl fmt::Display for Altered {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.asked)
    }
}

impl Altered {
    fn add(&mut self, key: &str, value: &str) -> Result<(), AlteredError> {
        let out_of_range = |key: &str, range: Range| AlteredError::OutOfRange {
            key: key.to_owned(),
            range,
            value: value.to_owned(),
        };
        let full = match key {
            "drop" => {
                self.drop =
                    Some(position(value).ok_or_else(|| AlteredError::NotAPosition(value.to_owned()))?);
                "drop"
            }
            "veered" | "veered_m" => {
                let length = VEERED_ENTERED_M.read(value);
                self.veered = Some(Metres(length.map_err(|_| out_of_range("veered_m", VEERED_ENTERED_M))?));
                "veered_m"
            }
            key => {
                let found = find(key).ok_or_else(|| AlteredError::NoSuchKey(key.to_owned()))?;
                let Bounds { key, range } = found.bounds;
                self.numbers.push((found, range.read(value).map_err(|_| out_of_range(key, range))?));
                key
            }
        };
        if !self.asked.is_empty() {
            self.asked.push_str(", ");
        }
        self.asked.push_str(&format!("{full} = {value}"));
        Ok(())
    }

    /// The settings that the watch begins with.
    #[must_use]
    pub fn settings(&self, mut settings: Settings) -> Settings {
        for (number, value) in &self.numbers {
            number.set(&mut settings, *value);
        }
        settings
    }

    fn limits(&self, limits: Limits) -> Limits {
        self.settings(Settings { limits, ..Settings::default() }).limits
    }

    /// What the watch is given instead of that command: nothing, the same, or more.
    #[must_use]
    pub fn commands(&self, command: Command) -> Vec<Command> {
        match command {
            Command::LetGo { veered, depth, place } => {
                let veered = self.veered.or(veered);
                self.dropped(Command::LetGo { veered, depth, place })
            }
            Command::Lying { veered, place } => {
                self.dropped(Command::Lying { veered: self.veered.or(veered), place })
            }
            Command::Veered { .. } | Command::VeerTo { .. } if self.veered.is_some() => Vec::new(),
            Command::MoveDrop(_) if self.drop.is_some() => Vec::new(),
            Command::Limits(limits) => vec![Command::Limits(self.limits(limits))],
            other => vec![other],
        }
    }

    /// The command that anchors her, and the other drop point after it.
    fn dropped(&self, anchoring: Command) -> Vec<Command> {
        let moved = self.drop.map(|position| Command::MoveDrop(DropMove::Position { position }));
        std::iter::once(anchoring).chain(moved).collect()
    }
}

/// A number by its key, whole or without its unit.
fn find(key: &str) -> Option<Number> {
    let is = |number: &Number| {
        number.bounds.key == key
            || number.bounds.key.strip_prefix(key).is_some_and(|rest| {
                rest.strip_prefix('_').is_some_and(|unit| !unit.is_empty() && !unit.contains('_'))
            })
    };
    keys::numbers().find(|number| number.bounds.key == key).or_else(|| keys::numbers().find(is))
}

fn position(text: &str) -> Option<Position> {
    let (lat, lon) = text.split_once(',')?;
    Position::new(lat.trim().parse().ok()?, lon.trim().parse().ok()?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_asked_reaches_settings_and_commands() {
        let altered: Altered = "circle=45; draft_m=2.1; veered=40; drop=54.2,10.4".parse().unwrap();
        assert_eq!(altered.to_string(), "circle_m = 45, draft_m = 2.1, veered_m = 40, drop = 54.2,10.4");
        let settings = altered.settings(Settings::default());
        assert_eq!((settings.limits.circle, settings.boat.draft), (Some(Metres(45.0)), Metres(2.1)));
        let let_go = Command::LetGo { veered: Some(Metres(20.0)), depth: None, place: "x".into() };
        let entered = altered.commands(let_go);
        assert!(matches!(
            &entered[..],
            [Command::LetGo { veered: Some(Metres(40.0)), .. }, Command::MoveDrop(_)]
        ));
        assert_eq!(altered.commands(Command::Veered { length: Metres(30.0) }), []);
        let limits = altered.commands(Command::Limits(Limits::default()));
        assert!(matches!(&limits[..], [Command::Limits(limits)] if limits.circle == Some(Metres(45.0))));
        assert_eq!(altered.commands(Command::BroughtUp), [Command::BroughtUp]);
    }

    #[test]
    fn what_cannot_be_asked_is_answered_in_words() {
        let says = |text: &str| text.parse::<Altered>().unwrap_err().to_string();
        assert!(says("45").contains("KEY=VALUE") && says("").contains("KEY=VALUE"));
        assert!(says("colour=3").contains("`colour` is no key"));
        assert!(says("circle_m=many").contains("circle_m must be"), "{}", says("circle_m=many"));
        assert!(says("veered=0.5").contains("1 to 1000 m"));
        assert!(says("drop=here").contains("latitude"));
    }
}
