//! Height of tide between known high and low waters: from a tide table, or a subordinate station's turns.

use serde::{Deserialize, Serialize};

use super::{MetresPerHour, Turn, TurnKind};
use crate::watch::units::{Metres, Span, WatchTime};

/// How to find the height between one turn and the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Rule {
    /// Half a cosine wave from turn to turn: `h0 + (h1 - h0)(1 - cos πx) / 2`.
    #[default]
    Cosine,
    /// 1, 2, 3, 3, 2, 1 twelfths of the range in each sixth of the time, evenly within the sixth.
    Twelfths,
}

/// The greatest tide on earth, in the Bay of Fundy, reaches some 16.3 m above chart datum (common knowledge, no
/// source); a greater height is most likely in feet.
pub const GREATEST_HEIGHT: Metres = Metres(17.0);
/// The lowest that a low water may lie below the datum. Surges aside, tables hardly print less than -1 m.
pub const LEAST_HEIGHT: Metres = Metres(-3.0);
/// Metres in a foot (international foot, exact).
pub(super) const METRES_PER_FOOT: f64 = 0.3048;

/// From a high water to the next low water takes about 6 h 12 min; 3 to 9 h covers strong shallow-water tides and
/// the uneven halves of a mixed tide. A tide that turns only once a day takes 12 h and more.
pub const USUAL_INTERVAL: (Span, Span) = (Span::from_mins(3 * 60), Span::from_mins(9 * 60));

/// Half of the mean lunar semidiurnal period of 12.4206 h, in which M2 goes round once: M2 moves by 28.984104° an hour
/// (IHO Tides, Water Level and Currents Working Group, *Standard list of tidal constituents*), and 360 ÷ 28.984104 = 12.4206.
pub const HALF_TIDE: Span = Span::from_secs(22_357);
/// The same where the tide turns once a day.
const HALF_TIDE_OF_A_DAY: Span = Span::from_secs(44_714);
/// At most so many turns are assumed before the first that was entered: further back nobody can tell.
pub const ASSUMED_MAX: usize = 2;
/// How far off the height may be before the first turn that was entered, with none, one and two turns assumed, as a share
/// of the range that was entered: nine in ten lie within, measured over the bundled stations (`docs/inside/tide.md`).
const ASSUMED_DOUBT: [f64; ASSUMED_MAX + 1] = [0.0, 0.3, 0.75];

/// A moment that a table does not cover.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Uncovered {
    /// The table begins too long after it.
    BeginsLater {
        /// Its first turn.
        first: Turn,
        /// The moment.
        asked: WatchTime,
    },
    /// It has ended before.
    Ended {
        /// Its last turn.
        last: Turn,
        /// The moment.
        asked: WatchTime,
    },
}

impl Uncovered {
    /// What is missing and what to do, with times on a clock that is `utc_offset` ahead of UTC.
    #[must_use]
    pub fn in_words(&self, utc_offset: Span) -> String {
        match self {
            Self::BeginsLater { first, asked } => format!(
                "The table begins with {}, {} too late. Add the high and low waters before it.",
                first.in_words(utc_offset),
                first.at.since(*asked)
            ),
            Self::Ended { last, .. } => {
                format!(
                    "The table ends with {}, which is past. Add the next ones.",
                    last.in_words(utc_offset)
                )
            }
        }
    }
}

impl std::fmt::Display for Uncovered {
    /// With times in UTC.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.in_words(Span::ZERO))
    }
}

impl std::error::Error for Uncovered {}

/// High and low waters in order of time, with the height of tide between them. Knows nothing outside them.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnTable {
    /// At least two; times increase, kinds alternate, each high water is above its neighbours.
    turns: Vec<Turn>,
    rule: Rule,
}

/// Why a list of high and low waters cannot be right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TableError {
    /// Heights between fewer than two turns cannot be known.
    TooFew {
        /// How many there were.
        given: usize,
    },
    /// A turn is not after the one before it.
    NotLater {
        /// The turn before.
        before: Turn,
        /// The turn that is not later.
        this: Turn,
    },
    /// Two high waters, or two low waters, follow each other.
    SameKind {
        /// The turn before.
        before: Turn,
        /// The turn of the same kind.
        this: Turn,
    },
    /// A low water is not below a high water beside it.
    LowAboveHigh {
        /// The low water.
        low: Turn,
        /// The high water.
        high: Turn,
    },
    /// No tide on earth is so high or so low.
    Impossible {
        /// The turn with that height.
        turn: Turn,
    },
    /// The height is not a number.
    NotANumber,
    /// The time between two turns is outside `USUAL_INTERVAL`, and nobody has said that the table is right.
    OddInterval(OddInterval),
}

/// A time between two turns that may be right, but more often is a slip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OddInterval {
    /// The earlier turn.
    pub before: Turn,
    /// The later turn.
    pub after: Turn,
}

impl TableError {
    /// What is wrong, with times on a clock that is `utc_offset` ahead of UTC.
    #[must_use]
    pub fn in_words(&self, utc_offset: Span) -> String {
        let show = |turn: &Turn| turn.in_words(utc_offset);
        match self {
            Self::TooFew { given } => format!(
                "A tide needs at least one high and one low water; {given} given. Add the next one from the table."
            ),
            Self::NotLater { before, this } => format!(
                "{} comes no later than {}, which stands before it. Check the times and dates.",
                show(this),
                show(before)
            ),
            Self::SameKind { before, this } => format!(
                "{} follows {} with no {} between. Check HW and LW, or add the one left out.",
                show(this),
                show(before),
                this.kind.other()
            ),
            Self::LowAboveHigh { low, high } => format!(
                "{} is not below {} beside it. Check which is high and which is low water.",
                show(low),
                show(high)
            ),
            Self::Impossible { turn } => format!(
                "{}: no tide on earth comes to that. If the table is in feet write {1:.1} ft, which is {2:.1} m.",
                show(turn),
                turn.height.0,
                turn.height.0 * METRES_PER_FOOT
            ),
            Self::NotANumber => "A height of tide is not a number. Write it as 4.8.".to_owned(),
            Self::OddInterval(odd) => odd.in_words(utc_offset),
        }
    }
}

impl std::fmt::Display for TableError {
    /// With times in UTC.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.in_words(Span::ZERO))
    }
}

impl std::error::Error for TableError {}

impl OddInterval {
    /// Time between the two turns.
    #[must_use]
    pub fn interval(&self) -> Span {
        self.after.at.since(self.before.at)
    }

    /// What is odd, with times on a clock that is `utc_offset` ahead of UTC.
    #[must_use]
    pub fn in_words(&self, utc_offset: Span) -> String {
        format!(
            "From {} to {} takes {}; high and low water are mostly 3 to 9 h apart. Check the times and dates, or say \
             that the table is right.",
            self.before.in_words(utc_offset),
            self.after.in_words(utc_offset),
            self.interval()
        )
    }
}

impl TurnTable {
    /// Checks that the turns, oldest first, can be a tide.
    ///
    /// # Errors
    /// `TableError` names the first turn that contradicts another or is impossible.
    pub fn new(turns: Vec<Turn>, rule: Rule) -> Result<Self, TableError> {
        if turns.len() < 2 {
            return Err(TableError::TooFew { given: turns.len() });
        }
        for turn in &turns {
            possible(*turn)?;
        }
        for pair in turns.windows(2) {
            follows(pair[0], pair[1])?;
        }
        Ok(Self { turns, rule })
    }

    /// From turns that were calculated, not typed. Turns that do not alternate or increase are dropped in pairs: they
    /// are wiggles that the shift to another place has tangled. `None` when fewer than two are left.
    #[must_use]
    pub(super) fn calculated(turns: Vec<Turn>) -> Option<Self> {
        let mut kept: Vec<Turn> = Vec::with_capacity(turns.len());
        for turn in turns {
            match kept.last() {
                Some(&last) if follows(last, turn).is_err() => {
                    kept.pop();
                    if kept.last().is_none_or(|&last| follows(last, turn).is_ok()) {
                        kept.push(turn);
                    }
                }
                _ => kept.push(turn),
            }
        }
        (kept.len() >= 2).then_some(Self { turns: kept, rule: Rule::Cosine })
    }

    /// The same table, once the first interval outside `USUAL_INTERVAL` has been refused.
    ///
    /// # Errors
    /// `TableError::OddInterval` names it.
    pub fn refusing_odd_intervals(self) -> Result<Self, TableError> {
        match self.odd_intervals().first() {
            Some(odd) => Err(TableError::OddInterval(*odd)),
            None => Ok(self),
        }
    }

    /// The same table with as many turns before its first as make it cover `from`, and how many these are. Nobody entered
    /// them: they lie a mean interval apart and are as high and as low as the first two that were entered.
    ///
    /// # Errors
    /// `Uncovered` when the table has ended by then, or begins so much later that too many would have to be assumed.
    pub fn covering(&self, from: WatchTime) -> Result<(Self, usize), Uncovered> {
        if from > self.known_until() {
            return Err(Uncovered::Ended { last: self.turns[self.turns.len() - 1], asked: from });
        }
        let (first, second) = (self.turns[0], self.turns[1]);
        let semidiurnal = second.at.since(first.at) <= USUAL_INTERVAL.1;
        let interval = if semidiurnal { HALF_TIDE } else { HALF_TIDE_OF_A_DAY };
        let mut led = self.clone();
        for assumed in 0..=ASSUMED_MAX {
            if led.known_from() <= from {
                return Ok((led, assumed));
            }
            let like = if assumed % 2 == 0 { second } else { first };
            led.turns.insert(0, Turn { at: led.known_from() - interval, ..like });
        }
        Err(Uncovered::BeginsLater { first, asked: from })
    }

    /// How far off heights may be in a stretch for which `assumed` turns were assumed.
    #[must_use]
    pub fn doubt_of_assumed(&self, assumed: usize) -> Metres {
        let range = (self.turns[0].height - self.turns[1].height).0.abs();
        Metres(ASSUMED_DOUBT[assumed.min(ASSUMED_MAX)] * range)
    }

    /// The turns, oldest first.
    #[must_use]
    pub fn turns(&self) -> &[Turn] {
        &self.turns
    }

    /// How heights between the turns are found.
    #[must_use]
    pub fn rule(&self) -> Rule {
        self.rule
    }

    /// Intervals outside `USUAL_INTERVAL`, in order.
    #[must_use]
    pub fn odd_intervals(&self) -> Vec<OddInterval> {
        self.turns
            .windows(2)
            .map(|pair| OddInterval { before: pair[0], after: pair[1] })
            .filter(|odd| odd.interval() < USUAL_INTERVAL.0 || odd.interval() > USUAL_INTERVAL.1)
            .collect()
    }

    /// The first turn's time: nothing is known before.
    #[must_use]
    pub fn known_from(&self) -> WatchTime {
        self.turns[0].at
    }

    /// The last turn's time: nothing is known after.
    #[must_use]
    pub fn known_until(&self) -> WatchTime {
        self.turns[self.turns.len() - 1].at
    }

    /// Height above the table's datum; `None` before the first turn and after the last.
    #[must_use]
    pub fn height_at(&self, t: WatchTime) -> Option<Metres> {
        let (from, to, x) = self.around(t)?;
        Some(Metres(from.height.0 + (to.height.0 - from.height.0) * self.rule.part_risen(x)))
    }

    /// How fast it rises; `None` before the first turn and after the last.
    #[must_use]
    pub fn rate_at(&self, t: WatchTime) -> Option<MetresPerHour> {
        let (from, to, x) = self.around(t)?;
        let hours = to.at.since(from.at).seconds() / 3600.0;
        Some(MetresPerHour((to.height.0 - from.height.0) * self.rule.slope(x) / hours))
    }

    /// The turns before and after `t`, and the part of the interval gone, 0 to 1.
    fn around(&self, t: WatchTime) -> Option<(Turn, Turn, f64)> {
        if t < self.known_from() || t > self.known_until() {
            return None;
        }
        let after = self.turns.partition_point(|turn| turn.at <= t).min(self.turns.len() - 1);
        let (from, to) = (self.turns[after - 1], self.turns[after]);
        Some((from, to, t.since(from.at).0 as f64 / to.at.since(from.at).0 as f64))
    }
}

/// Twelfths of the range gone at each sixth of the interval.
const TWELFTHS: [f64; 7] = [0.0, 1.0, 3.0, 6.0, 9.0, 11.0, 12.0];

impl Rule {
    /// The part of the range gone after part `x` of the interval, both 0 to 1.
    fn part_risen(self, x: f64) -> f64 {
        match self {
            Self::Cosine => (1.0 - (std::f64::consts::PI * x).cos()) / 2.0,
            Self::Twelfths => {
                let (sixth, within) = sixth_of(x);
                (TWELFTHS[sixth] + (TWELFTHS[sixth + 1] - TWELFTHS[sixth]) * within) / 12.0
            }
        }
    }

    /// Derivative of `part_risen`.
    fn slope(self, x: f64) -> f64 {
        match self {
            Self::Cosine => std::f64::consts::FRAC_PI_2 * (std::f64::consts::PI * x).sin(),
            Self::Twelfths => {
                let (sixth, _) = sixth_of(x);
                (TWELFTHS[sixth + 1] - TWELFTHS[sixth]) / 2.0
            }
        }
    }
}

/// Which sixth, 0 to 5, and how far into it, 0 to 1.
fn sixth_of(x: f64) -> (usize, f64) {
    let sixths = 6.0 * x.clamp(0.0, 1.0);
    let sixth = (sixths as usize).min(5);
    (sixth, sixths - sixth as f64)
}

fn possible(turn: Turn) -> Result<(), TableError> {
    if !turn.height.0.is_finite() {
        return Err(TableError::NotANumber);
    }
    if turn.height > GREATEST_HEIGHT || turn.height < LEAST_HEIGHT {
        return Err(TableError::Impossible { turn });
    }
    Ok(())
}

/// Whether `this` can be the next turn after `before`.
fn follows(before: Turn, this: Turn) -> Result<(), TableError> {
    if this.at <= before.at {
        return Err(TableError::NotLater { before, this });
    }
    if this.kind == before.kind {
        return Err(TableError::SameKind { before, this });
    }
    let (low, high) = if this.kind == TurnKind::Low { (this, before) } else { (before, this) };
    if low.height >= high.height {
        return Err(TableError::LowAboveHigh { low, high });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 3_600_000;

    fn turn(hour: i64, height: f64, kind: TurnKind) -> Turn {
        Turn { at: WatchTime(hour * HOUR), height: Metres(height), kind }
    }

    fn high(hour: i64, height: f64) -> Turn {
        turn(hour, height, TurnKind::High)
    }

    fn low(hour: i64, height: f64) -> Turn {
        turn(hour, height, TurnKind::Low)
    }

    #[test]
    fn contradictions_are_named() {
        let refused = |turns| TurnTable::new(turns, Rule::Cosine).unwrap_err();
        assert!(matches!(refused(vec![high(0, 4.0)]), TableError::TooFew { given: 1 }));
        assert!(matches!(refused(vec![high(0, 4.0), high(12, 4.1)]), TableError::SameKind { .. }));
        assert!(matches!(refused(vec![high(0, 1.0), low(6, 4.0)]), TableError::LowAboveHigh { .. }));
        assert!(matches!(refused(vec![high(6, 4.0), low(6, 1.0)]), TableError::NotLater { .. }));
        assert!(matches!(refused(vec![high(0, 40.0), low(6, 1.0)]), TableError::Impossible { .. }));
        assert!(matches!(refused(vec![high(0, f64::NAN), low(6, 1.0)]), TableError::NotANumber));
    }

    #[test]
    fn nothing_is_known_outside_the_table() {
        let table = TurnTable::new(vec![high(0, 4.0), low(6, 1.0)], Rule::Twelfths).unwrap();
        assert_eq!(table.height_at(WatchTime(-1)), None);
        assert_eq!(table.height_at(WatchTime(6 * HOUR + 1)), None);
        assert_eq!(table.rate_at(WatchTime(6 * HOUR + 1)), None);
        assert_eq!(table.height_at(WatchTime(0)), Some(Metres(4.0)));
        assert_eq!(table.height_at(WatchTime(6 * HOUR)), Some(Metres(1.0)));
    }

    #[test]
    fn an_interval_of_half_a_day_is_questioned() {
        let table = TurnTable::new(vec![high(0, 4.0), low(12, 1.0), high(18, 4.0)], Rule::Cosine).unwrap();
        assert_eq!(table.odd_intervals().len(), 1);
    }

    #[test]
    fn tangled_turns_are_dropped_in_pairs() {
        let tangled = vec![high(0, 4.0), low(6, 1.0), high(9, 1.2), low(8, 1.1), high(13, 4.0)];
        let table = TurnTable::calculated(tangled).unwrap();
        assert_eq!(table.turns(), [high(0, 4.0), low(6, 1.0), high(13, 4.0)]);
        assert_eq!(TurnTable::calculated(vec![high(0, 4.0)]), None);
    }
}
