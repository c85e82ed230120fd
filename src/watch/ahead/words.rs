//! The night ahead in words: one row an hour, why the worst is the worst, what more rode would change.

use super::{AheadHour, Found, MoreRode, NightAhead, Worry};
use crate::watch::forecast::WindThen;
use crate::watch::grade::Grade;
use crate::watch::rode::MILE;
use crate::watch::units::{Metres, WatchTime};

/// Which columns a table of the night has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sea {
    /// Those that fit 80 columns: the snatch of the waves is in the load.
    #[default]
    InLoad,
    /// The sea too, and what its greatest wave snatches to, with and without a snubber.
    Beside,
}

/// Head of the table whose rows [`row`] makes, for times of so many letters.
#[must_use]
pub fn head(time: usize, sea: Sea) -> String {
    let beside = if sea == Sea::Beside { "  sea   snatch" } else { "" };
    format!("{:<1$} wind       depth  keel scope  up load/hold{beside}  lies clear", "time", time + 3)
}

/// `0.4  3.2/5.1`: the sea's height, the snatch of its greatest wave and the same without a snubber.
fn beside(hour: &AheadHour) -> String {
    let Some(waves) = hour.pulls.waves else { return format!("{:>14}", "-") };
    let bare = waves.peak_bare.map_or_else(String::new, |bare| format!("/{}", bare.kilo()));
    format!(" {:>4.1} {:>8}", waves.sea.height.0, format!("{}{bare}", waves.peak.kilo()))
}

/// One hour as a row: `time` is its moment as whoever reads it shows times. What is wrong comes last, the worst first: a
/// narrow window cuts the rest of it.
#[must_use]
pub fn row(hour: &AheadHour, time: &str, sea: Sea) -> String {
    let turn = hour.turn.map_or_else(|| "  ".to_owned(), |turn| turn.to_string());
    let lies = hour.lies.map_or_else(|| "any".to_owned(), |lies| lies.to_string());
    let clear = hour.room.as_ref().map_or_else(|| "-".to_owned(), |(_, room)| format!("{:.0}", room.0));
    let beside = if sea == Sea::Beside { beside(hour) } else { String::new() };
    let row = format!(
        "{turn} {time} {:<10} {:>5.1} {:>5.1} {:>5.1} {:>3} {:>9}{beside} {:>5} {:>5}  {}",
        wind(&hour.wind),
        hour.depth.0,
        hour.under_keel.0,
        hour.scope,
        pull(hour.pull_deg),
        load(hour),
        lies,
        clear,
        marks(hour)
    );
    row.trim_end().to_owned()
}

/// `W 25 g35`.
fn wind(wind: &WindThen) -> String {
    let from = wind.from.map_or("var", super::super::forecast::point_of);
    format!("{from:<3} {:>2.0} g{:.0}", wind.mean.0, wind.gust().0)
}

fn pull(deg: f64) -> String {
    format!("{deg:.0}°")
}

/// `2.1/2.9`: the load against the least that the anchor may hold.
fn load(hour: &AheadHour) -> String {
    match hour.hold {
        Some(hold) => format!("{}/{}", hour.load.kilo(), hold.least.kilo()),
        None => format!("{}/?", hour.load.kilo()),
    }
}

/// What is wrong with the hour, in a word each; `BAD` before what is bad.
fn marks(hour: &AheadHour) -> String {
    let word = |worry: &Worry| match worry {
        Worry::Keel(under, _) if under.0 < 0.0 => "aground",
        Worry::Keel(..) => "keel",
        Worry::Shoal(under, ..) if under.0 < 0.0 => "aground astern",
        Worry::Shoal(..) => "shoal",
        Worry::Holding(..) => "load",
        Worry::Pull(_) => "pull",
        Worry::Scope(..) => "scope",
        Worry::Mark(_) => "mark",
        Worry::Barred => "barred",
        Worry::LeeShore => "lee",
    };
    let words: Vec<&str> = hour.worries.iter().map(word).collect();
    match hour.grade() {
        Grade::Good => String::new(),
        Grade::Tight => words.join(", "),
        Grade::Bad => format!("BAD {}", words.join(", ")),
    }
}

impl Found {
    fn in_words(self) -> &'static str {
        match self {
            Self::Sounded => "by the soundings",
            Self::Sloping => "by the slope",
        }
    }
}

impl AheadHour {
    /// What is wrong with it in a clause each, worst first.
    #[must_use]
    pub fn why(&self) -> Vec<String> {
        self.worries.iter().map(|worry| self.clause(worry)).collect()
    }

    fn clause(&self, worry: &Worry) -> String {
        match *worry {
            Worry::Keel(under, _) if under.0 < 0.0 => format!("aground by {:.1} m", -under.0),
            Worry::Keel(under, limit) => {
                format!("{:.1} m under the keel, your limit is {:.1}", under.0, limit.0)
            }
            Worry::Shoal(under, found, _) if under.0 < 0.0 => {
                format!("aground by {:.1} m where she lies, {}, {}", -under.0, self.side(), found.in_words())
            }
            Worry::Shoal(under, found, limit) => format!(
                "{:.1} m under the keel where she lies, {}, {}; your limit is {:.1}",
                under.0,
                self.side(),
                found.in_words(),
                limit.0
            ),
            Worry::Holding(load, by, hold) if load > hold.most => format!(
                "load {} kN{}, more than the anchor holds at best, {} kN",
                load.kilo(),
                by.in_words(),
                hold.most.kilo()
            ),
            Worry::Holding(load, by, hold) => {
                format!(
                    "load {} kN{}; the anchor may hold {} to {} kN",
                    load.kilo(),
                    by.in_words(),
                    hold.least.kilo(),
                    hold.most.kilo()
                )
            }
            Worry::Pull(deg) => {
                format!("pulls up at the anchor by {deg:.0}° at most; past 8° it holds less")
            }
            Worry::Scope(scope, limit) => format!("scope {scope:.1}, your limit is {limit:.1}"),
            Worry::Mark(room) => {
                let name = self.room.as_ref().map_or("a mark", |(name, _)| name.as_str());
                if room.0 < 0.0 {
                    format!("she can lie on {name}")
                } else {
                    format!("{name} {:.0} m from her", room.0)
                }
            }
            Worry::Barred => "wind from a sector you barred".to_owned(),
            Worry::LeeShore => "land or shoal water to leeward".to_owned(),
        }
    }

    /// Which side of the anchor she lies on.
    fn side(&self) -> String {
        self.lies.map_or_else(|| "on any side".to_owned(), |lies| format!("{lies} of the anchor"))
    }
}

impl NightAhead {
    /// The worst hour and why it is the worst; `show` shows a moment.
    #[must_use]
    pub fn worst_in_words(&self, show: impl Fn(WatchTime) -> String) -> String {
        let worst = self.worst();
        let turn = worst.turn.map_or_else(String::new, |turn| format!("{turn} "));
        let why = worst.why();
        let why = if why.is_empty() {
            format!(
                "load {} kN{}, the most of the night; nothing is beyond your limits",
                worst.load.kilo(),
                worst.by.in_words()
            )
        } else {
            why.join("; ")
        };
        format!("Worst {turn}{}, {}: {why}.", show(worst.at), worst.wind.words())
    }

    /// What more rode would change at that hour.
    #[must_use]
    pub fn more_in_words(&self) -> String {
        let (worst, more) = (self.worst(), &self.more);
        let (veered, with) = match more {
            MoreRode::With(veered, with) => (veered, with),
            MoreRode::NotAboard(left) if left.0 < 1.0 => return "No more rode is aboard.".to_owned(),
            MoreRode::NotAboard(left) => return format!("Only {:.0} m more are aboard.", left.0.floor()),
        };
        let mut changes = Vec::new();
        if (worst.pull_deg - with.pull_deg).abs() >= 0.5 {
            changes.push(format!("pull {:.0}° up instead of {:.0}°", with.pull_deg, worst.pull_deg));
        }
        changes.push(format!("scope {:.1} instead of {:.1}", with.scope, worst.scope));
        if let (Some((name, room)), Some((_, before))) = (&with.room, &worst.room) {
            changes.push(format!("{name} {} from her instead of {}", clear(*room), clear(*before)));
        }
        changes.push(format!("she lies {:.0} m farther off", (with.reach - worst.reach).0));
        format!("10 m more, {:.0} m in all: {}.", veered.0, changes.join(", "))
    }

    /// The sea of the worst hour and what it snatches to, with and without a snubber; or that none is reckoned.
    #[must_use]
    pub fn sea_in_words(&self) -> String {
        let with_waves = self.hours.iter().filter_map(|hour| hour.pulls.waves);
        let Some(waves) = with_waves.max_by(|a, b| a.peak.0.total_cmp(&b.peak.0)) else {
            return "No sea is reckoned: nobody said how far the water is open.".to_owned();
        };
        let over = match waves.fetch {
            Some(fetch) => format!(" over {:.1} M", fetch.0 / MILE.0),
            None => ", as it is measured now".to_owned(),
        };
        let bare = waves
            .peak_bare
            .map_or_else(String::new, |bare| format!(", without the snubber to {}", bare.kilo()));
        format!(
            "Greatest sea: {:.1} m every {:.1} s{over}; a wave of {:.1} m snatches to {} kN{bare}.",
            waves.sea.height.0,
            waves.sea.period_s,
            waves.wave.0,
            waves.peak.kilo()
        )
    }

    /// Which columns its table wants, where there is room for all.
    #[must_use]
    pub fn sea(&self) -> Sea {
        if self.hours.iter().any(|hour| hour.pulls.waves.is_some()) { Sea::Beside } else { Sea::InLoad }
    }

    /// Where the forecast does not cover the hours calculated, in words.
    #[must_use]
    pub fn uncovered_in_words(&self, show: impl Fn(WatchTime) -> String) -> Option<String> {
        let (first, last) = (self.hours.first()?.at, self.hours.last()?.at);
        let (from, until) = (self.forecast.from(), self.forecast.until());
        let mut words = Vec::new();
        if from > first {
            words.push(format!("before {} it is taken to blow as then", show(from)));
        }
        if until < last {
            words.push(format!("after {} it is taken to go on as it blows then", show(until)));
        }
        (!words.is_empty()).then(|| format!("The wind is not given for all the stay: {}.", words.join("; ")))
    }
}

fn clear(room: Metres) -> String {
    if room.0 < 0.0 { "0 m".to_owned() } else { format!("{:.0} m", room.0) }
}
