//! High and low waters as a crew types them from the local table: `HW 20:10 4.8, LW 02:25 0.9`.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::Offset;

use super::turns::{METRES_PER_FOOT, Rule, TableError, TurnTable};
use super::{Turn, TurnKind};
use crate::watch::units::{Metres, Span, WatchTime};

/// The clock that a table is read by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TableClock {
    /// The day of the first turn, on this clock, where the text gives none.
    pub date: Date,
    /// How far the clock is ahead of UTC.
    pub utc_offset: Offset,
}

/// What to do about high and low water less than 3 or more than 9 hours apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OddIntervals {
    /// Refuse the table: it is most likely a slip.
    Refuse,
    /// Take it as typed: the crew has said that it is right.
    Accept,
}

/// Why a typed table was refused. Says what is wrong in the words of whoever typed it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TypedError {
    /// There is no entry in the text.
    #[error("No high or low water found. Write each as HW or LW, time, height: HW 20:10 4.8, LW 02:25 0.9.")]
    Empty,
    /// More entries than `ENTRIES_MAX`.
    #[error("More than {ENTRIES_MAX} high and low waters. Give those of this stay only.")]
    TooMany,
    /// A word that is neither HW or LW, a time, a date nor a height.
    #[error("`{word}` is not HW or LW, a time, a date or a height. Write each as HW 20:10 4.8.")]
    Unknown {
        /// The word.
        word: String,
    },
    /// An entry without its time.
    #[error("`{entry}` has no time. Write it as HW 20:10 4.8.")]
    NoTime {
        /// The entry.
        entry: String,
    },
    /// An entry without its height.
    #[error("`{entry}` has no height. Write it as HW 20:10 4.8.")]
    NoHeight {
        /// The entry.
        entry: String,
    },
    /// Something comes twice in an entry.
    #[error("`{entry}` has more than one {what}. Write each as HW 20:10 4.8.")]
    Twice {
        /// The entry.
        entry: String,
        /// What comes twice.
        what: &'static str,
    },
    /// The day is too far off for a calendar.
    #[error("`{entry}` is on a day beyond the calendar. Check the date.")]
    BeyondCalendar {
        /// The entry.
        entry: String,
    },
    /// The entries contradict each other, or are impossible.
    #[error("{}", error.in_words(span(*utc_offset)))]
    Table {
        /// What is wrong.
        error: TableError,
        /// How far the clock it was typed by is ahead of UTC.
        utc_offset: Offset,
    },
}

/// Most entries that a typed table may have: a month and a half of tides.
pub const ENTRIES_MAX: usize = 200;

/// Reads a table as it was typed.
///
/// An entry is `HW` or `LW` (`H`, `L`, `high`, `low`), a time, and a height in metres (`4.8`, `4,8`, `4.8 m`) or feet
/// (`15.7 ft`), in any order, entries parted by commas, semicolons or new lines. A time is on `clock`
/// (`20:10`, `2010`), in UTC (`19:10Z`, `19:10 UTC`) or a whole RFC 3339 instant. A zone before the first entry (`UT`, `UTC+1`,
/// `+01:00`) is that of all its times. A date (`2026-07-14`) holds for its
/// entry; without one, each turn is the first of its time after the turn before it, so days roll over midnight.
///
/// # Errors
/// `TypedError` names the entry or word at fault.
pub fn parse(text: &str, clock: TableClock, rule: Rule, odd: OddIntervals) -> Result<TurnTable, TypedError> {
    let (utc_offset, text) = zone(text, clock.utc_offset);
    let clock = TableClock { utc_offset, ..clock };
    let mut turns = Vec::new();
    for entry in entries(text)? {
        turns.push(entry.turn(clock, turns.last())?);
    }
    let table = TurnTable::new(turns, rule).and_then(|table| match odd {
        OddIntervals::Refuse => table.refusing_odd_intervals(),
        OddIntervals::Accept => Ok(table),
    });
    table.map_err(|error| TypedError::Table { error, utc_offset: clock.utc_offset })
}

/// Reads a table as `parse` does, for a crew that types it at `now`. Where no date is given, the first turn is of the day
/// that makes the table cover `now` with the fewest turns assumed before it: today, yesterday (typed after midnight, it may
/// begin with last evening's high water) or tomorrow (typed in the evening, it may begin after midnight).
///
/// # Errors
/// As `parse`.
pub fn parse_at(
    text: &str,
    now: WatchTime,
    utc_offset: Offset,
    rule: Rule,
    odd: OddIntervals,
) -> Result<TurnTable, TypedError> {
    let (utc_offset, text) = zone(text, utc_offset);
    let now_there = Timestamp::from_millisecond(now.0).unwrap_or(Timestamp::UNIX_EPOCH);
    let today = utc_offset.to_datetime(now_there).date();
    let on = |date: Date| parse(text, TableClock { date, utc_offset }, rule, odd);
    let of_today = on(today)?;
    let others = [today.yesterday().ok(), today.tomorrow().ok()].into_iter().flatten();
    let tables = std::iter::once(of_today.clone()).chain(others.filter_map(|date| on(date).ok()));
    let covering = tables.filter_map(|table| Some((table.covering(now).ok()?.1, table)));
    Ok(covering.min_by_key(|(assumed, _)| *assumed).map_or(of_today, |(_, table)| table))
}

/// The zone of a table: its own, if it begins with one, else the clock's; and the rest of the text.
#[must_use]
pub fn zone(text: &str, clock: Offset) -> (Offset, &str) {
    let text = text.trim_start();
    let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    match zone_of(word.trim_end_matches([':', ',', ';'])) {
        Some(offset) => (offset, rest),
        None => (clock, text),
    }
}

/// `UT`, `UTC+1`, `gmt-3:30`, `+01:00`.
fn zone_of(word: &str) -> Option<Offset> {
    let lower = word.to_ascii_lowercase();
    let named = ["utc", "gmt", "ut", "z"].iter().find_map(|name| lower.strip_prefix(name));
    let offset = named.unwrap_or(&lower);
    if offset.is_empty() {
        return named.map(|_| Offset::UTC);
    }
    let (sign, rest) = match offset.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (hours, minutes) = rest.split_once(':').unwrap_or((rest, "0"));
    let whole = |digits: &str, most: i32| {
        let plain = (1..=2).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
        digits.parse::<i32>().ok().filter(|number| plain && *number <= most)
    };
    Offset::from_seconds(sign * (whole(hours, 14)? * 3600 + whole(minutes, 59)? * 60)).ok()
}

/// A zone as it is shown and typed: `UT`, `UTC+1`, `UTC-3:30`.
#[must_use]
pub fn zone_words(offset: Offset) -> String {
    let minutes = offset.seconds() / 60;
    match (minutes, minutes % 60) {
        (0, _) => "UT".to_owned(),
        (_, 0) => format!("UTC{:+}", minutes / 60),
        (_, odd) => {
            format!("UTC{}{}:{:02}", if minutes < 0 { '-' } else { '+' }, minutes.abs() / 60, odd.abs())
        }
    }
}

/// One `HW 20:10 4.8` before its day is known.
struct Entry {
    text: String,
    kind: TurnKind,
    date: Option<Date>,
    when: When,
    height: Metres,
}

#[derive(Clone, Copy)]
enum When {
    /// A time on the table's clock.
    There(Time),
    /// A time in UTC.
    Utc(Time),
    /// An instant that needs no date.
    Instant(Timestamp),
}

impl Entry {
    fn turn(&self, clock: TableClock, before: Option<&Turn>) -> Result<Turn, TypedError> {
        let at = match self.when {
            When::Instant(instant) => Some(instant),
            When::There(time) => self.on_a_day(time, clock.utc_offset, clock, before),
            When::Utc(time) => self.on_a_day(time, Offset::UTC, clock, before),
        };
        let at = at.ok_or_else(|| TypedError::BeyondCalendar { entry: self.text.clone() })?;
        Ok(Turn { at: WatchTime(at.as_millisecond()), height: self.height, kind: self.kind })
    }

    /// The instant of a clock time: on its own date, else the first after the turn before, else on the clock's date.
    fn on_a_day(
        &self,
        time: Time,
        offset: Offset,
        clock: TableClock,
        before: Option<&Turn>,
    ) -> Option<Timestamp> {
        if let Some(date) = self.date {
            return instant(date, time, offset);
        }
        let Some(before) = before else {
            return self.first_day(time, offset, clock);
        };
        let before = Timestamp::from_millisecond(before.at.0).ok()?;
        let same_day = instant(offset.to_datetime(before).date(), time, offset)?;
        if same_day > before {
            return Some(same_day);
        }
        instant(offset.to_datetime(before).date().tomorrow().ok()?, time, offset)
    }

    /// A UTC time may be of the day before or after the clock's own date.
    fn first_day(&self, time: Time, offset: Offset, clock: TableClock) -> Option<Timestamp> {
        let days = [Some(clock.date), clock.date.yesterday().ok(), clock.date.tomorrow().ok()];
        let mut instants = days.into_iter().flatten().filter_map(|day| instant(day, time, offset));
        instants.find(|at| clock.utc_offset.to_datetime(*at).date() == clock.date)
    }
}

fn instant(date: Date, time: Time, offset: Offset) -> Option<Timestamp> {
    offset.to_timestamp(DateTime::from_parts(date, time)).ok()
}

fn span(offset: Offset) -> Span {
    Span::from_secs(i64::from(offset.seconds()))
}

/// What a word can be.
enum Word {
    Kind(TurnKind),
    Date(Date),
    When(When),
    /// The time before it is UTC.
    Utc,
    Height(Metres),
    /// The height before it is in feet.
    Feet,
    /// The height before it is in metres.
    Metres,
}

fn entries(text: &str) -> Result<Vec<Entry>, TypedError> {
    let text = parted(text);
    let mut found: Vec<Draft> = Vec::new();
    for word in text.split_whitespace() {
        let meaning = meaning(word).ok_or_else(|| TypedError::Unknown { word: shortened(word) })?;
        match meaning {
            Word::Kind(_) if found.len() == ENTRIES_MAX => return Err(TypedError::TooMany),
            Word::Kind(kind) => found.push(Draft::new(word, kind)),
            other => found.last_mut().ok_or(TypedError::Empty)?.take(word, other)?,
        }
    }
    if found.is_empty() {
        return Err(TypedError::Empty);
    }
    found.into_iter().map(Draft::finished).collect()
}

/// An entry as far as it has been read.
struct Draft {
    text: String,
    kind: TurnKind,
    date: Option<Date>,
    when: Option<When>,
    height: Option<Metres>,
}

impl Draft {
    fn new(word: &str, kind: TurnKind) -> Self {
        Self { text: word.to_owned(), kind, date: None, when: None, height: None }
    }

    fn take(&mut self, word: &str, meaning: Word) -> Result<(), TypedError> {
        self.text.push(' ');
        self.text.push_str(&shortened(word));
        let again = match meaning {
            Word::Date(date) => self.date.replace(date).map(|_| "date"),
            Word::When(when) => self.when.replace(when).map(|_| "time"),
            Word::Height(height) => self.height.replace(height).map(|_| "height"),
            Word::Utc => return self.in_utc(word),
            Word::Feet => return self.in_feet(word),
            Word::Metres if self.height.is_some() => None,
            Word::Metres | Word::Kind(_) => return Err(TypedError::Unknown { word: shortened(word) }),
        };
        match again {
            Some(what) => Err(TypedError::Twice { entry: self.text.clone(), what }),
            None => Ok(()),
        }
    }

    fn in_utc(&mut self, word: &str) -> Result<(), TypedError> {
        let Some(When::There(time)) = self.when else {
            return Err(TypedError::Unknown { word: shortened(word) });
        };
        self.when = Some(When::Utc(time));
        Ok(())
    }

    fn in_feet(&mut self, word: &str) -> Result<(), TypedError> {
        let height = self.height.as_mut().ok_or_else(|| TypedError::Unknown { word: shortened(word) })?;
        *height = *height * METRES_PER_FOOT;
        Ok(())
    }

    fn finished(self) -> Result<Entry, TypedError> {
        let Some(when) = self.when else { return Err(TypedError::NoTime { entry: self.text }) };
        let Some(height) = self.height else { return Err(TypedError::NoHeight { entry: self.text }) };
        Ok(Entry { text: self.text, kind: self.kind, date: self.date, when, height })
    }
}

/// Commas and semicolons as spaces, except a comma that stands for a decimal point: `4,8`.
fn parted(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let parted = chars.iter().enumerate().map(|(i, &c)| match c {
        ',' if is_decimal(&chars, i) => '.',
        ',' | ';' => ' ',
        other => other,
    });
    parted.collect()
}

/// Whether a comma has a bare number before it and one or two last digits after.
fn is_decimal(chars: &[char], comma: usize) -> bool {
    let before = chars[..comma].iter().rev().take_while(|c| c.is_ascii_digit()).count();
    let after = chars[comma + 1..].iter().take_while(|c| c.is_ascii_digit()).count();
    let starts_bare = chars[..comma - before].last().is_none_or(|c| c.is_whitespace() || *c == '-');
    let ends_bare = chars.get(comma + 1 + after).is_none_or(|c| !matches!(c, ':' | '.'));
    (1..=2).contains(&before) && (1..=2).contains(&after) && starts_bare && ends_bare
}

fn meaning(word: &str) -> Option<Word> {
    let lower = word.to_ascii_lowercase();
    Some(match lower.as_str() {
        "hw" | "h" | "high" => Word::Kind(TurnKind::High),
        "lw" | "l" | "low" => Word::Kind(TurnKind::Low),
        "z" | "utc" | "ut" | "gmt" => Word::Utc,
        "m" => Word::Metres,
        "ft" => Word::Feet,
        other => {
            return instant_of(word)
                .map(|at| Word::When(When::Instant(at)))
                .or_else(|| date_of(other).map(Word::Date))
                .or_else(|| when_of(other).map(Word::When))
                .or_else(|| height_of(other).map(Word::Height));
        }
    })
}

fn instant_of(word: &str) -> Option<Timestamp> {
    word.contains(['T', 't']).then(|| word.parse().ok())?
}

fn date_of(word: &str) -> Option<Date> {
    // Shorter forms that the library would take are not dates on a tide table.
    (word.len() == 10 && word.split('-').count() == 3).then(|| word.parse().ok())?
}

fn when_of(word: &str) -> Option<When> {
    let (clock, utc) = match word.strip_suffix('z').or_else(|| word.strip_suffix("utc")) {
        Some(clock) => (clock, true),
        None => (word, false),
    };
    let (hour, minute) = match clock.split_once(':') {
        Some((hour, minute)) if (1..=2).contains(&hour.len()) && minute.len() == 2 => (hour, minute),
        None if clock.len() == 4 && clock.is_ascii() => clock.split_at(2),
        _ => return None,
    };
    let number =
        |digits: &str| digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse::<i8>().ok())?;
    let time = Time::new(number(hour)?, number(minute)?, 0, 0).ok()?;
    Some(if utc { When::Utc(time) } else { When::There(time) })
}

fn height_of(word: &str) -> Option<Metres> {
    let (digits, unit) = match word.strip_suffix("ft").map(|d| (d, METRES_PER_FOOT)) {
        Some(feet) => feet,
        None => (word.strip_suffix('m').unwrap_or(word), 1.0),
    };
    let plain = digits.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+'));
    let number: f64 = plain.then(|| digits.parse().ok())??;
    Some(Metres(number * unit))
}

/// A word fit to stand in a message, however long it was.
fn shortened(word: &str) -> String {
    const LONGEST: usize = 24;
    if word.chars().count() <= LONGEST {
        word.to_owned()
    } else {
        word.chars().take(LONGEST).chain(['…']).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock() -> TableClock {
        TableClock { date: jiff::civil::date(2026, 7, 14), utc_offset: Offset::constant(1) }
    }

    fn read(text: &str) -> Result<Vec<(String, f64)>, TypedError> {
        let table = parse(text, clock(), Rule::Cosine, OddIntervals::Refuse)?;
        Ok(table
            .turns()
            .iter()
            .map(|t| {
                let at = Timestamp::from_millisecond(t.at.0).unwrap();
                (format!("{} {}", t.kind, at.strftime("%dT%H:%M")), (t.height.0 * 1e6).round() / 1e6)
            })
            .collect())
    }

    #[test]
    fn days_roll_over_midnight() {
        let want = vec![
            ("HW 14T19:10".to_owned(), 4.8),
            ("LW 15T01:25".to_owned(), 0.9),
            ("HW 15T07:35".to_owned(), 4.6),
        ];
        assert_eq!(read("HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6").unwrap(), want);
    }

    #[test]
    fn the_usual_ways_to_write_it_all_read_alike() {
        let want = read("HW 20:10 4.8, LW 02:25 0.9").unwrap();
        for text in [
            "hw 2010 4,8; lw 0225 0,9",
            "HW 20:10,4.8,LW 02:25,0.9",
            "high 4.8 m 20:10\nlow 0.9m 2:25",
            "HW 19:10Z 4.8, LW 01:25 UTC 0.9",
            "HW 2026-07-14T20:10:00+01:00 4.8 LW 2026-07-15T01:25:00Z 0.9",
            "HW 2026-07-14 20:10 4.8, LW 2026-07-15 02:25 0.9",
            "HW 20:10 15.748031 ft, LW 02:25 2.952756ft",
        ] {
            assert_eq!(read(text).unwrap(), want, "{text}");
        }
    }

    #[test]
    fn a_table_may_begin_with_its_zone() {
        // The clock is an hour ahead of UTC.
        let want = read("HW 20:10 4.8, LW 02:25 0.9").unwrap();
        for text in [
            "UT HW 19:10 4.8, LW 01:25 0.9",
            "utc: HW 19:10 4.8, LW 01:25 0.9",
            "UTC+2 HW 21:10 4.8, LW 03:25 0.9",
            "-01:30 HW 17:40 4.8, LW 23:55 0.9",
        ] {
            assert_eq!(read(text).unwrap(), want, "{text}");
        }
        assert!(read("UTC+15 HW 19:10 4.8, LW 01:25 0.9").is_err());
        let shown = [0, 3600, -12_600].map(|seconds| zone_words(Offset::from_seconds(seconds).unwrap()));
        assert_eq!(shown, ["UT", "UTC+1", "UTC-3:30"]);
    }

    #[test]
    fn each_refusal_names_what_is_wrong() {
        for (text, words) in [
            ("", "No high or low water found"),
            ("20:10 4.8", "No high or low water found"),
            ("HW 20:10 4.8", "1 given"),
            ("HW 20:10, LW 02:25 0.9", "`HW 20:10` has no height"),
            ("HW 4.8, LW 02:25 0.9", "`HW 4.8` has no time"),
            ("HW 20:10 4.8 5.1, LW 02:25 0.9", "more than one height"),
            ("HW 20:10 4.8 soon, LW 02:25 0.9", "`soon`"),
            ("HW 25:10 4.8, LW 02:25 0.9", "`25:10`"),
            ("HW 20:10 0.9, LW 02:25 4.8", "LW Wed 02:25 4.8 m is not below HW Tue 20:10 0.9 m"),
            (
                "HW 20:10 4.8, HW 08:35 4.6",
                "HW Wed 08:35 4.6 m follows HW Tue 20:10 4.8 m with no LW between",
            ),
            ("HW 20:10 4.8, LW 20:05 0.9", "takes 23 h 55 min"),
            ("HW 20:10 4.8, LW 21:25 0.9", "takes 1 h 15 min"),
            ("HW 2026-07-15 20:10 4.8, LW 2026-07-15 02:25 0.9", "comes no later"),
            ("HW 20:10 40, LW 02:25 3", "write 40.0 ft, which is 12.2 m"),
        ] {
            let error = read(text).unwrap_err().to_string();
            assert!(error.contains(words), "{text}: {error}");
        }
    }

    #[test]
    fn a_table_of_one_tide_a_day_is_taken_when_the_crew_says_so() {
        let text = "HW 06:10 0.8, LW 18:30 0.1";
        assert!(parse(text, clock(), Rule::Cosine, OddIntervals::Refuse).is_err());
        assert!(parse(text, clock(), Rule::Cosine, OddIntervals::Accept).is_ok());
    }

    #[test]
    fn typed_after_midnight_the_table_may_begin_last_evening() {
        let (text, offset) = ("HW 20:10 4.8, LW 02:25 0.9", Offset::constant(1));
        let at = |when: &str| WatchTime(when.parse::<Timestamp>().unwrap().as_millisecond());
        let begins =
            |now| parse_at(text, at(now), offset, Rule::Cosine, OddIntervals::Refuse).unwrap().known_from();
        assert_eq!(begins("2026-07-15T00:30:00Z"), at("2026-07-14T19:10:00Z"));
        assert_eq!(begins("2026-07-14T17:00:00Z"), at("2026-07-14T19:10:00Z"));
    }

    #[test]
    fn what_a_crew_types_before_the_first_turn_covers_now() {
        let offset = Offset::constant(1);
        let at = |when: &str| WatchTime(when.parse::<Timestamp>().unwrap().as_millisecond());
        for (text, now, begins, assumed) in [
            // The next high and low water alone, typed in the afternoon.
            ("HW 17:00 4.4, LW 23:10 0.8", "2026-07-14T14:15:00Z", "2026-07-14T16:00:00Z", 1),
            // Turns after midnight, typed in the evening.
            ("LW 02:25 0.9, HW 08:35 4.6", "2026-07-14T20:00:00Z", "2026-07-15T01:25:00Z", 1),
            ("LW 02:25 0.9, HW 08:35 4.6", "2026-07-15T00:00:00Z", "2026-07-15T01:25:00Z", 1),
            // Tonight's, typed in the morning.
            ("HW 20:10 4.4, LW 02:25 0.8", "2026-07-14T07:30:00Z", "2026-07-14T19:10:00Z", 2),
        ] {
            let table = parse_at(text, at(now), offset, Rule::Cosine, OddIntervals::Refuse).unwrap();
            assert_eq!(table.known_from(), at(begins), "{text} at {now}");
            assert_eq!(table.covering(at(now)).unwrap().1, assumed, "{text} at {now}");
        }
    }

    #[test]
    fn a_utc_time_falls_on_the_clocks_own_day() {
        let clock = TableClock { date: jiff::civil::date(2026, 7, 14), utc_offset: Offset::constant(-9) };
        let table = parse("HW 03:00Z 4.8, LW 09:00Z 1", clock, Rule::Cosine, OddIntervals::Refuse).unwrap();
        let at = Timestamp::from_millisecond(table.known_from().0).unwrap();
        assert_eq!(at.to_string(), "2026-07-15T03:00:00Z");
    }
}
