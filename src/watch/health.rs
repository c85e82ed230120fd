//! Will the computer that keeps the watch last the night? What is known of its power, sleep, disk, clock and heat.
//!
//! The edge reads and reports; here it is kept, judged and put into words, for the screen and for `nightrode health` alike.

use serde::{Deserialize, Serialize};

use super::geo::Position;
use super::units::{Span, WatchTime};

/// The crew gets up at this hour of the mean sun: common practice, no source. By the clock ashore it is an hour later or so,
/// which errs towards a longer night.
const UP_AT: Span = Span::from_mins(7 * 60);
/// Longer ahead than this nobody asks whether the battery lasts: it is day, and there is time to charge it.
const NIGHT_MAX: Span = Span::from_mins(14 * 60);
const DAY: Span = Span::from_mins(24 * 60);
/// Degrees of longitude in an hour of the sun's time.
const DEG_PER_HOUR: f64 = 15.0;

/// How the battery stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Charge {
    /// Of what it holds when full, 0 to 100.
    pub percent: u8,
    /// The computer runs on it.
    pub is_drained: bool,
    /// How long it lasts at the power drawn now, by the battery itself.
    #[serde(default)]
    pub lasts: Option<Span>,
}

/// Whether the computer is kept from falling asleep while an anchor is down.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "sleep")]
pub enum Awake {
    /// Nobody has asked: no anchor is down, or this system has nobody to ask.
    #[default]
    NotAsked,
    /// It does not fall asleep, nor when the lid is closed.
    Kept,
    /// It may fall asleep.
    Refused {
        /// By what, and who refused, in words.
        why: String,
    },
}

/// Room on the disk of the rides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Space {
    /// Free for this user, millions of bytes.
    pub free_mb: u64,
    /// What a busy night takes.
    pub night_mb: u64,
}

impl Space {
    /// Too little for a night.
    #[must_use]
    pub const fn is_short(self) -> bool {
        self.free_mb < self.night_mb
    }
}

/// How hot the computer is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Heat {
    /// The hottest place that is measured.
    pub celsius: i32,
    /// From here on it is slowed down or switched off, where it says so.
    #[serde(default)]
    pub limit: Option<i32>,
    /// It is slowed down because of heat, now.
    pub is_slowed: bool,
}

/// All that is known of the computer.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// The battery; `None`: there is none, or it cannot be read.
    pub power: Option<Charge>,
    /// Whether it is kept awake.
    pub awake: Awake,
    /// Room on the disk.
    pub space: Option<Space>,
    /// Whether the network sets the clock; `None`: not known.
    pub clock_set: Option<bool>,
    /// The receiver's time minus the computer's.
    #[serde(skip)]
    pub clock_off: Option<Span>,
    /// Heat.
    pub heat: Option<Heat>,
    /// Why alert sounds do not play.
    pub sound_failed: Option<String>,
    /// The loudspeaker that was chosen and is gone; the default one plays instead.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loudspeaker_gone: Option<String>,
    /// Why the sounds of a demonstration do not play.
    #[serde(skip)]
    pub unheard: Option<String>,
    /// Why the ride is not written.
    pub disk_failed: Option<String>,
}

/// One fact of the computer in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HealthLine {
    /// What it is about.
    pub label: &'static str,
    /// How it stands, and what to do where that is not well.
    pub words: String,
    /// It may end the watch, or keep it from being heard.
    pub is_trouble: bool,
}

impl Health {
    /// Every fact, in the order in which they end a watch. `night`: how long until the crew gets up.
    #[must_use]
    pub fn lines(&self, night: Option<Span>) -> Vec<HealthLine> {
        vec![
            self.power_line(night),
            self.awake_line(),
            self.sound_line(),
            self.disk_line(),
            self.clock_line(),
            self.heat_line(),
        ]
    }

    fn power_line(&self, night: Option<Span>) -> HealthLine {
        let (words, is_trouble) = match self.power {
            None => ("no battery is known here: on mains, or on the boat's".to_owned(), false),
            Some(Charge { percent, is_drained: false, .. }) => {
                (format!("on mains, battery {percent} %"), false)
            }
            Some(charge) => (drained_words(charge, night), !lasts_the_night(charge, night)),
        };
        HealthLine { label: "power", words, is_trouble }
    }

    fn awake_line(&self) -> HealthLine {
        let (words, is_trouble) = match &self.awake {
            Awake::NotAsked => {
                ("not asked to stay awake now; while an anchor is down it is".to_owned(), false)
            }
            Awake::Kept => ("no sleep while an anchor is down, nor by a closed lid".to_owned(), false),
            Awake::Refused { why } => (format!("may fall asleep: {why}"), true),
        };
        HealthLine { label: "sleep", words, is_trouble }
    }

    fn sound_line(&self) -> HealthLine {
        let words = match (self.sound_failed.as_ref().or(self.unheard.as_ref()), &self.loudspeaker_gone) {
            (Some(why), _) => format!("does not play: {why}"),
            (None, Some(name)) => format!("\"{name}\" is gone: the default loudspeaker plays instead"),
            (None, None) => {
                let words = "no fault known; R rehearses the alarm, nightrode sound tries every sound";
                return HealthLine { label: "sound", words: words.to_owned(), is_trouble: false };
            }
        };
        HealthLine { label: "sound", words, is_trouble: true }
    }

    fn disk_line(&self) -> HealthLine {
        let (words, is_trouble) = match (&self.disk_failed, self.space) {
            (Some(why), _) => (format!("the ride is not written: {why}"), true),
            (None, None) => ("free space is not known".to_owned(), false),
            (None, Some(space)) => (space_words(space), space.is_short()),
        };
        HealthLine { label: "disk", words, is_trouble }
    }

    fn clock_line(&self) -> HealthLine {
        let set = match self.clock_set {
            None => "whether it is set by the network is not known",
            Some(true) => "set by the network",
            Some(false) => "not set by the network, as is usual at sea",
        };
        let off = match self.clock_off {
            None => "compare it with the receiver's time".to_owned(),
            Some(off) => format!("{} off the receiver's time", Span(off.0.abs())),
        };
        let is_trouble = self.clock_off.is_some_and(|off| off.0.abs() > Span::from_mins(1).0);
        HealthLine { label: "clock", words: format!("{set}; {off}"), is_trouble }
    }

    fn heat_line(&self) -> HealthLine {
        let Some(heat) = self.heat else {
            return HealthLine { label: "heat", words: "not measured here".into(), is_trouble: false };
        };
        let limit = heat.limit.map_or_else(String::new, |limit| format!(", slowed down from {limit} °C on"));
        let (slowed, celsius) = (heat.is_slowed, heat.celsius);
        let words = if slowed {
            format!("{celsius} °C, slowed down by heat: give it air and shade{limit}")
        } else {
            format!("{celsius} °C{limit}")
        };
        HealthLine { label: "heat", words, is_trouble: slowed }
    }
}

/// `on battery, 64 %, about 3 h 10 min left; getting up is in 7 h 00 min`.
#[must_use]
pub fn drained_words(charge: Charge, night: Option<Span>) -> String {
    let left = charge.lasts.map_or_else(String::new, |lasts| format!(", about {lasts} left"));
    let until = night.map_or_else(String::new, |night| format!("; getting up is in {night}"));
    format!("on battery, {} %{left}{until}", charge.percent)
}

/// What is free, and what a night takes.
#[must_use]
pub fn space_words(space: Space) -> String {
    format!("{} MB free, a busy night takes {} MB", space.free_mb, space.night_mb)
}

/// False where the battery says that it does not. One that says nothing of time is judged by its percent elsewhere.
#[must_use]
pub fn lasts_the_night(charge: Charge, night: Option<Span>) -> bool {
    !charge.is_drained || charge.lasts.zip(night).is_none_or(|(lasts, night)| lasts >= night)
}

/// How long until the crew gets up, at 07:00 of the mean sun where she lies; `None` by day.
#[must_use]
pub fn night_left(now: WatchTime, at: Option<Position>) -> Option<Span> {
    let east_ms = at.map_or(0.0, |at| at.lon_deg() / DEG_PER_HOUR * 3_600_000.0);
    let of_day = (now.0 + east_ms as i64).rem_euclid(DAY.0);
    let left = Span((UP_AT.0 - of_day).rem_euclid(DAY.0));
    (left <= NIGHT_MAX).then_some(left)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 60;

    fn charge(percent: u8, lasts_h: Option<i64>) -> Charge {
        Charge { percent, is_drained: true, lasts: lasts_h.map(|h| Span::from_mins(h * HOUR)) }
    }

    #[test]
    fn the_night_ends_at_seven_by_the_sun_and_by_day_nobody_asks() {
        let at = |hour: i64| WatchTime(hour * 3_600_000);
        assert_eq!(night_left(at(22), None), Some(Span::from_mins(9 * HOUR)));
        assert_eq!(night_left(at(12), None), None);
        let east = Position::new(54.0, 15.0).ok();
        assert_eq!(night_left(at(21), east), Some(Span::from_mins(9 * HOUR)));
    }

    #[test]
    fn a_battery_that_ends_before_the_night_is_trouble_and_one_that_says_nothing_is_not() {
        let night = Some(Span::from_mins(7 * HOUR));
        let line = |power| Health { power: Some(power), ..Health::default() }.lines(night).remove(0);
        assert!(line(charge(64, Some(3))).is_trouble);
        assert_eq!(
            line(charge(64, Some(3))).words,
            "on battery, 64 %, about 3 h 00 min left; getting up is in 7 h 00 min"
        );
        assert!(!line(charge(64, Some(8))).is_trouble && !line(charge(64, None)).is_trouble);
        assert!(!line(Charge { is_drained: false, ..charge(64, Some(3)) }).is_trouble);
    }

    #[test]
    fn a_loudspeaker_that_is_gone_and_a_demonstration_that_nobody_hears_are_told() {
        let words =
            |health: Health| health.lines(None).into_iter().find(|line| line.label == "sound").unwrap();
        let gone = words(Health { loudspeaker_gone: Some("cockpit".into()), ..Health::default() });
        assert!(gone.is_trouble && gone.words.contains("\"cockpit\" is gone"), "{}", gone.words);
        let unheard = words(Health { unheard: Some("no card".into()), ..Health::default() });
        assert!(unheard.is_trouble && unheard.words == "does not play: no card", "{}", unheard.words);
    }

    #[test]
    fn nothing_known_is_said_so_and_is_no_trouble() {
        let lines = Health::default().lines(None);
        assert!(lines.iter().all(|line| !line.is_trouble && !line.words.is_empty()));
    }

    #[test]
    fn what_may_end_the_watch_is_trouble() {
        let health = Health {
            awake: Awake::Refused { why: "the lid".into() },
            space: Some(Space { free_mb: 3, night_mb: 100 }),
            heat: Some(Heat { celsius: 96, limit: Some(95), is_slowed: true }),
            sound_failed: Some("no card".into()),
            loudspeaker_gone: Some("cockpit".into()),
            clock_off: Some(Span::from_mins(-3)),
            ..Health::default()
        };
        let trouble = health.lines(None).iter().filter(|line| line.is_trouble).count();
        assert_eq!(trouble, 5);
    }
}
