//! Height of tide, now and through the night, from whichever source the crew chose.
//!
//! Two sources: high and low waters typed from the local table (`typed`, `turns`), or harmonic prediction from a
//! bundled station's constants (`stations`, `harmonic`). Either way a height counts from that source's own datum.
//! Depth does not depend on the datum: `depth_at` ties the tide to a depth that was sounded, so an error in the datum,
//! or a steady rise of the sea by weather, cancels.
//!
//! Method, formulas, sources and measured differences: `docs/inside/tide.md`.

mod astro;
mod constituent;
pub mod harmonic;
pub mod stations;
mod subordinate;
pub mod turns;
pub mod typed;

use std::fmt;

use serde::{Deserialize, Serialize};

use super::units::{Metres, Span, WatchTime};
use harmonic::{Curve, Harmonic};
use turns::{TurnTable, Uncovered};

/// High water or low water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TurnKind {
    /// The tide has risen and will fall.
    #[serde(rename = "HW")]
    High,
    /// The tide has fallen and will rise.
    #[serde(rename = "LW")]
    Low,
}

impl TurnKind {
    /// The kind that comes before and after it.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::High => Self::Low,
            Self::Low => Self::High,
        }
    }
}

impl fmt::Display for TurnKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::High => "HW",
            Self::Low => "LW",
        })
    }
}

/// A high or a low water: the *stand* of the tide. Slack of the stream may come hours earlier or later.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// When.
    pub at: WatchTime,
    /// Above the source's datum.
    pub height: Metres,
    /// High or low.
    pub kind: TurnKind,
}

impl Turn {
    /// `HW Tue 20:10 4.8 m` by a clock that is `utc_offset` ahead of UTC.
    #[must_use]
    pub fn in_words(&self, utc_offset: Span) -> String {
        let shown = jiff::Timestamp::from_millisecond((self.at + utc_offset).0);
        let when =
            shown.map_or_else(|_| "beyond the calendar".to_owned(), |at| at.strftime("%a %H:%M").to_string());
        format!("{} {when} {:.1} m", self.kind, self.height.0)
    }
}

/// How fast the tide rises, metres an hour; negative while it falls.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MetresPerHour(pub f64);

/// A height at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Level {
    /// When.
    pub at: WatchTime,
    /// Above the source's datum.
    pub height: Metres,
}

/// The least and the greatest height over a stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Extremes {
    /// The first moment of least height.
    pub least: Level,
    /// The first moment of greatest height.
    pub greatest: Level,
    /// Start of the stretch that these hold for: later than asked where the tide is known only from then.
    pub from: WatchTime,
    /// End of the stretch that these hold for: sooner than asked where the tide is known only until then.
    pub until: WatchTime,
}

/// The tide at the anchorage, by one source.
#[derive(Clone, Debug)]
pub struct Tide {
    source: Source,
    credit: Option<String>,
    datum: String,
    cautions: Vec<String>,
    assumed: Option<Assumed>,
    /// How far off heights may be because the station lies elsewhere.
    afar: Metres,
}

/// Turns of the tide that nobody entered: a table began later than it had to.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumed {
    /// They, oldest first.
    pub turns: Vec<Turn>,
    /// The first turn that was entered: until then heights rest on what is assumed.
    pub until: Turn,
    /// How far off heights may be until then.
    pub doubt: Metres,
}

impl Assumed {
    /// What is assumed, with times on a clock that is `utc_offset` ahead of UTC.
    #[must_use]
    pub fn in_words(&self, utc_offset: Span) -> String {
        let turns: Vec<String> = self.turns.iter().map(|turn| turn.in_words(utc_offset)).collect();
        format!(
            "{} assumed, a mean interval before {}: depths to {:.1} m either way, allowed for. Enter the real turn if you can.",
            turns.join(" and "),
            self.until.in_words(utc_offset),
            (self.doubt.0 * 10.0).ceil() / 10.0
        )
    }
}

#[derive(Clone, Debug)]
enum Source {
    Turns(TurnTable),
    Harmonic(Box<Predicted>),
}

/// A harmonic tide, with the days around the stay drawn out for quick looking up.
#[derive(Clone, Debug)]
struct Predicted {
    tide: Harmonic,
    curve: Curve,
}

/// What is drawn out ahead of the moment a prediction is made for, and before it.
const DRAWN_BEFORE: Span = Span::from_mins(60 * 24 * 2);
const DRAWN_AFTER: Span = Span::from_mins(60 * 24 * 14);
/// How far `next_turn_after` looks: mostly the first is enough; where the tide turns once a day, a fortnight holds its
/// weakest days.
const LOOK_AHEAD: [Span; 2] = [Span::from_mins(60 * 30), Span::from_mins(60 * 24 * 15)];

impl Tide {
    /// The tide of a table of high and low waters.
    #[must_use]
    pub fn from_table(table: TurnTable) -> Self {
        let cautions = odd_caution(&table).into_iter().collect();
        Self { cautions, ..Self::from_turns(table) }
    }

    /// The tide of turns that were calculated, whose intervals are what they are.
    fn from_turns(table: TurnTable) -> Self {
        let datum = "the table's own datum".to_owned();
        Self {
            source: Source::Turns(table),
            credit: None,
            datum,
            cautions: Vec::new(),
            assumed: None,
            afar: Metres(0.0),
        }
    }

    /// The tide of a table that has to cover the time from `from` on: turns that it lacks before its first are assumed.
    ///
    /// # Errors
    /// `Uncovered` where too many would have to be, or the table has ended.
    pub fn covering(table: &TurnTable, from: WatchTime) -> Result<Self, Uncovered> {
        let (led, count) = table.covering(from)?;
        let assumed = (count > 0).then(|| Assumed {
            turns: led.turns()[..count].to_vec(),
            until: table.turns()[0],
            doubt: table.doubt_of_assumed(count),
        });
        // What is odd about the intervals is said of those that were entered.
        Ok(Self { cautions: odd_caution(table).into_iter().collect(), assumed, ..Self::from_turns(led) })
    }

    /// The turns that nobody entered, if there are any.
    #[must_use]
    pub fn assumed(&self) -> Option<&Assumed> {
        self.assumed.as_ref()
    }

    /// How far off the height at `t` may be, because turns before it were assumed or the station lies elsewhere.
    #[must_use]
    pub fn doubt_at(&self, t: WatchTime) -> Metres {
        self.doubt_of_assumed(t).max(self.afar)
    }

    /// The doubt of a station that lies elsewhere.
    #[must_use]
    pub fn doubt_of_distance(&self) -> Metres {
        self.afar
    }

    /// How far off the height at `t` may be because turns before it were assumed.
    #[must_use]
    pub fn doubt_of_assumed(&self, t: WatchTime) -> Metres {
        self.assumed
            .as_ref()
            .filter(|assumed| t < assumed.until.at)
            .map_or(Metres(0.0), |assumed| assumed.doubt)
    }

    /// A tide predicted from constants, for a stay around `about`.
    #[must_use]
    pub fn predicted(tide: Harmonic, about: WatchTime) -> Self {
        let curve = tide.curve(about - DRAWN_BEFORE, about + DRAWN_AFTER);
        let cautions = left_out_caution(&tide).into_iter().collect();
        let source = Source::Harmonic(Box::new(Predicted { tide, curve }));
        Self {
            source,
            credit: None,
            datum: "the station's datum".to_owned(),
            cautions,
            assumed: None,
            afar: Metres(0.0),
        }
    }

    /// The same for a place so far from the station, where it may be off by that share of a day's range.
    fn seen_from(mut self, name: &str, distance: Metres, share: f64, about: WatchTime) -> Self {
        let day = self.extremes_between(about, about + Span::from_mins(25 * 60));
        let range = day.map_or(Metres(0.0), |day| day.greatest.height - day.least.height);
        self.afar = range * share;
        if self.afar.0 >= 0.05 {
            self.cautions.push(format!(
                "{name} lies {:.1} M from here: depths may be off by {:.1} m for that, allowed for.",
                distance.0 / 1852.0,
                self.afar.0
            ));
        }
        self
    }

    /// The same with one more thing to bear in mind.
    #[must_use]
    pub fn cautioned(mut self, caution: String) -> Self {
        self.cautions.push(caution);
        self
    }

    fn described(
        mut self,
        credit: String,
        datum: String,
        cautions: impl IntoIterator<Item = String>,
    ) -> Self {
        self.credit = Some(credit);
        self.datum = datum;
        self.cautions.extend(cautions);
        self
    }

    /// Height above the source's datum; `None` where it does not know.
    #[must_use]
    pub fn height_at(&self, t: WatchTime) -> Option<Metres> {
        match &self.source {
            Source::Turns(table) => table.height_at(t),
            Source::Harmonic(p) => Some(p.curve.height_at(t).unwrap_or_else(|| p.tide.height_at(t))),
        }
    }

    /// How fast it rises; `None` where the source does not know.
    #[must_use]
    pub fn rate_at(&self, t: WatchTime) -> Option<MetresPerHour> {
        match &self.source {
            Source::Turns(table) => table.rate_at(t),
            Source::Harmonic(p) => Some(p.curve.rate_at(t).unwrap_or_else(|| p.tide.rate_at(t))),
        }
    }

    /// The first moment the source knows of; `None` if it reaches back without end.
    #[must_use]
    pub fn known_from(&self) -> Option<WatchTime> {
        match &self.source {
            Source::Turns(table) => Some(table.known_from()),
            Source::Harmonic(_) => None,
        }
    }

    /// The last moment the source knows of; `None` if it goes on without end.
    #[must_use]
    pub fn known_until(&self) -> Option<WatchTime> {
        match &self.source {
            Source::Turns(table) => Some(table.known_until()),
            Source::Harmonic(_) => None,
        }
    }

    /// High and low waters from `from` to `until`, both included, in order of time. Over a stretch longer than
    /// `Curve::LONGEST`, only those of its first part.
    #[must_use]
    pub fn turns_between(&self, from: WatchTime, until: WatchTime) -> Vec<Turn> {
        match &self.source {
            Source::Turns(table) => {
                let within = |turn: &Turn| (from..=until).contains(&turn.at);
                table.turns().iter().copied().filter(within).collect()
            }
            Source::Harmonic(p) if from > p.curve.from() && until <= p.curve.until() => {
                p.curve.turns_between(from, until)
            }
            // A step early: a turn at the first moment of a curve is not seen.
            Source::Harmonic(p) => p.tide.curve(from - Curve::STEP, until).turns_between(from, until),
        }
    }

    /// The next high or low water after `t`: the stand of the tide, which is not always slack of the stream.
    #[must_use]
    pub fn next_turn_after(&self, t: WatchTime) -> Option<Turn> {
        LOOK_AHEAD.iter().find_map(|ahead| self.turns_between(t + Span(1), t + *ahead).first().copied())
    }

    /// The least and the greatest height from `from` to `until`, over the part of it that the source knows. `None`
    /// if it knows none of it.
    #[must_use]
    pub fn extremes_between(&self, from: WatchTime, until: WatchTime) -> Option<Extremes> {
        let from = self.known_from().map_or(from, |known| known.max(from));
        let until = self.known_until().map_or(until, |known| known.min(until));
        if until < from {
            return None;
        }
        let ends = [from, until].map(|at| self.height_at(at).map(|height| Level { at, height }));
        let turns = self.turns_between(from, until);
        let mut levels: Vec<Level> =
            turns.iter().map(|turn| Level { at: turn.at, height: turn.height }).collect();
        levels.extend(ends.into_iter().flatten());
        levels.sort_by_key(|level| level.at);
        let first = *levels.first()?;
        let least = levels.iter().fold(first, |a, b| if b.height < a.height { *b } else { a });
        let greatest = levels.iter().fold(first, |a, b| if b.height > a.height { *b } else { a });
        Some(Extremes { least, greatest, from, until })
    }

    /// How much higher the tide stands at `t` than at `reference`; `None` unless both are known. Independent of the
    /// datum.
    #[must_use]
    pub fn rise(&self, reference: WatchTime, t: WatchTime) -> Option<Metres> {
        Some(self.height_at(t)? - self.height_at(reference)?)
    }

    /// Depth at `t` where `sounding` was found at `sounded_at`: the sounding and the rise since. Independent of the
    /// datum.
    #[must_use]
    pub fn depth_at(&self, sounding: Metres, sounded_at: WatchTime, t: WatchTime) -> Option<Metres> {
        Some(sounding + self.rise(sounded_at, t)?)
    }

    /// The first moment from `from` to `until` when the tide passes `level`, rising or falling.
    #[must_use]
    pub fn next_passing(&self, level: Metres, from: WatchTime, until: WatchTime) -> Option<WatchTime> {
        let from = self.known_from().map_or(from, |known| known.max(from));
        let until = self.known_until().map_or(until, |known| known.min(until));
        let turns = self.turns_between(from, until);
        let mut stops = vec![from];
        stops.extend(turns.iter().map(|turn| turn.at));
        stops.push(until);
        // From turn to turn the tide only rises or only falls, so it passes a level once at most.
        stops.windows(2).find_map(|pair| self.passing_within(level, pair[0], pair[1]))
    }

    /// The moment between two turns when the tide passes `level`, to the millisecond.
    fn passing_within(&self, level: Metres, from: WatchTime, until: WatchTime) -> Option<WatchTime> {
        let above = |t| Some(self.height_at(t)?.0 - level.0);
        let (start, end) = (above(from)?, above(until)?);
        if start == 0.0 {
            return Some(from);
        }
        if start.signum() == end.signum() && end != 0.0 {
            return None;
        }
        let (mut before, mut after) = (from, until);
        while after.since(before) > Span(1) {
            let middle = before + Span(after.since(before).0 / 2);
            if above(middle)?.signum() == start.signum() { before = middle } else { after = middle }
        }
        Some(after)
    }

    /// Whom to credit where this tide is shown; `None` for a table that the crew typed.
    #[must_use]
    pub fn credit(&self) -> Option<&str> {
        self.credit.as_deref()
    }

    /// What heights are counted from.
    #[must_use]
    pub fn datum(&self) -> &str {
        &self.datum
    }

    /// What to bear in mind about this source, one sentence each.
    #[must_use]
    pub fn cautions(&self) -> &[String] {
        &self.cautions
    }
}

fn odd_caution(table: &TurnTable) -> Option<String> {
    match table.odd_intervals().len() {
        0 => None,
        1 => {
            Some("Once high and low water are less than 3 or more than 9 h apart; taken as typed.".to_owned())
        }
        n => Some(format!(
            "{n} times high and low water are less than 3 or more than 9 h apart; taken as typed."
        )),
    }
}

fn left_out_caution(tide: &Harmonic) -> Option<String> {
    let left_out = tide.left_out();
    (!left_out.names.is_empty()).then(|| {
        let at_most_cm = (left_out.amplitude.0 * 100.0).ceil();
        let names = left_out.names.join(", ");
        format!("Constituents not known here: {names}. Without them heights may be out by up to {at_most_cm:.0} cm.")
    })
}
