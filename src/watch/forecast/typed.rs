//! The wind by the hour as a crew types it from the forecast: `18: SW 15 g22, 00: W 25 g35, 04: NW 18`.

mod wrong;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::Offset;

pub use wrong::TypedWindError;

use super::{Forecast, GUST_KN_MOST, WIND_KN_MOST, WindThen};
use crate::watch::units::{Knots, Span, TrueBearing, WatchTime};

/// Most winds of a forecast: a fortnight by the three hours, a week by the hour.
pub const ENTRIES_MAX: usize = 180;
/// Bytes of the longest line that is read.
const TEXT_MAX: usize = 8000;
/// Two winds that follow each other lie at most so far apart: a longer step is a slip, or the wrong order.
const STEP_MOST: Span = Span::from_mins(12 * 60);

/// The points of the compass, from north by 22.5°.
const POINTS: [&str; 16] =
    ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

/// Reads a line as it was typed at `now`, on a clock `utc_offset` ahead of UTC.
///
/// Entries are parted by commas, semicolons or new lines. Each is an hour (`18`, `18:30`, `1830`), a direction the wind
/// comes from (`SW`, `225`, `225°`, `var`), a speed in knots (of `15-20` the higher counts) and, if it is forecast, the
/// gusts (`g22`, `gusts 22`). The first hour is the nearest to `now`; each other is the next after the one before, past
/// midnight too.
///
/// # Errors
/// [`TypedWindError`] names the entry or the word at fault.
pub fn parse(text: &str, now: WatchTime, utc_offset: Offset) -> Result<Forecast, TypedWindError> {
    if text.len() > TEXT_MAX {
        return Err(TypedWindError::TooMuch);
    }
    let mut winds: Vec<WindThen> = Vec::new();
    let mut hour_before = String::new();
    for text in text.split([',', ';', '\n']).map(str::trim).filter(|text| !text.is_empty()) {
        if winds.len() == ENTRIES_MAX {
            return Err(TypedWindError::TooMuch);
        }
        let entry = Entry::read(text)?;
        let at = match winds.last() {
            None => nearest(entry.hour, now, utc_offset)?,
            Some(before) => next(entry.hour, before.at, utc_offset)?,
        };
        if let Some(before) = winds.last() {
            step(at.since(before.at), &hour_before, &entry)?;
        }
        hour_before = shown(entry.hour);
        winds.push(WindThen { at, from: entry.from, mean: entry.mean, gust: entry.gust });
    }
    Forecast::try_from(winds).map_err(|_| TypedWindError::Empty)
}

fn step(step: Span, before: &str, entry: &Entry) -> Result<(), TypedWindError> {
    let then = shown(entry.hour);
    if then == *before {
        return Err(TypedWindError::Twice(then));
    }
    if step > STEP_MOST {
        return Err(TypedWindError::LongStep { before: before.to_owned(), then, step });
    }
    Ok(())
}

/// The winds as they would be typed, on a clock so far ahead of UTC.
#[must_use]
pub fn in_words(forecast: &Forecast, utc_offset: Offset) -> String {
    let entry = |wind: &WindThen| {
        let time = Timestamp::from_millisecond(wind.at.0)
            .map_or_else(|_| Time::midnight(), |at| utc_offset.to_datetime(at).time());
        let hour = if time.minute() == 0 { format!("{:02}", time.hour()) } else { shown(time) };
        let from = wind.from.map_or("var".to_owned(), direction_words);
        let gust = wind.gust.map_or_else(String::new, |gust| format!(" g{:.0}", gust.0));
        format!("{hour}: {from} {:.0}{gust}", wind.mean.0)
    };
    forecast.winds().iter().map(entry).collect::<Vec<_>>().join(", ")
}

/// A point of the compass where it is one, else degrees.
fn direction_words(from: TrueBearing) -> String {
    let point = point_of(from);
    let is_point = (from.degrees() / 22.5).round() * 22.5 == from.degrees();
    if is_point { point.to_owned() } else { format!("{:03.0}", from.degrees().round() % 360.0) }
}

/// The nearest point of the compass.
#[must_use]
pub fn point_of(from: TrueBearing) -> &'static str {
    POINTS[(from.degrees() / 22.5).round() as usize % POINTS.len()]
}

fn shown(time: Time) -> String {
    format!("{:02}:{:02}", time.hour(), time.minute())
}

/// One entry before its day is known.
struct Entry {
    hour: Time,
    from: Option<TrueBearing>,
    mean: Knots,
    gust: Option<Knots>,
}

impl Entry {
    fn read(text: &str) -> Result<Self, TypedWindError> {
        let (hour, rest) = read_hour(text)?;
        // `g 22` and `gusts 22` are one word; `15kn` and `15 kn` too.
        let mut words = rest.split_whitespace().peekable();
        let (from, mut speed) = read_direction(&mut words, text)?;
        let calm = from == Direction::Calm;
        if calm && speed.is_none() {
            speed = Some("0".to_owned());
        }
        let speed = match speed {
            Some(speed) => speed,
            None => words.next().ok_or_else(|| TypedWindError::NoSpeed(short(text)))?.to_owned(),
        };
        if gust_word(&speed).is_some() {
            return Err(TypedWindError::NoSpeed(short(text)));
        }
        let mean = read_knots(&speed, WIND_KN_MOST, text)?;
        skip_unit(&mut words, &speed)?;
        let gust = read_gust(&mut words, text)?;
        if let Some(word) = words.next() {
            return Err(TypedWindError::Unknown { word: short(word), entry: short(text) });
        }
        if let Some(gust) = gust.filter(|gust| *gust < mean) {
            let (gust, mean) = (gust.0.to_string(), mean.0.to_string());
            return Err(TypedWindError::GustBelowMean { entry: short(text), gust, mean });
        }
        let from = match from {
            Direction::From(from) => Some(from),
            Direction::Variable | Direction::Calm => None,
        };
        Ok(Self { hour, from, mean, gust })
    }
}

type Words<'a> = std::iter::Peekable<std::str::SplitWhitespace<'a>>;

/// An excerpt for a message: what was typed may be of any length.
fn short(text: &str) -> String {
    text.chars().take(40).collect()
}

/// The hour at the front, and what follows it.
fn read_hour(text: &str) -> Result<(Time, &str), TypedWindError> {
    let digits = |text: &str| text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let end = digits(text);
    if end == 0 {
        return Err(TypedWindError::NoHour(short(text)));
    }
    let (hour, rest) = text.split_at(end);
    let not_an_hour = |written: &str| TypedWindError::NotAnHour(short(written));
    let minutes = rest.strip_prefix([':', '.']).map(|rest| (digits(rest), rest));
    let (hour, minute, rest) = match minutes {
        Some((2, rest)) => (hour, &rest[..2], &rest[2..]),
        Some((0, rest)) => (hour, "0", rest),
        Some((n, after)) => return Err(not_an_hour(&text[..text.len() - after.len() + n])),
        None if hour.len() == 4 => (&hour[..2], &hour[2..], rest),
        None => (hour, "0", rest),
    };
    // Without anything between the hour and what follows it is a direction or a speed: `225 15`.
    let rest = rest.strip_prefix('h').filter(|rest| rest.starts_with([':', ' '])).unwrap_or(rest);
    let parted = rest.is_empty()
        || rest.starts_with([':', ' ', '\t'])
        || text[..text.len() - rest.len()].ends_with(':');
    if !parted {
        return Err(TypedWindError::NoHour(short(text)));
    }
    let number = |text: &str| text.parse::<i8>().ok();
    let time = number(hour).zip(number(minute)).and_then(|(hour, minute)| Time::new(hour, minute, 0, 0).ok());
    let written = &text[..text.len() - rest.len()];
    let time = time.ok_or_else(|| not_an_hour(written.trim_end_matches(':')))?;
    Ok((time, rest.trim_start_matches([':', ' ', '\t'])))
}

#[derive(Clone, Copy, PartialEq)]
enum Direction {
    From(TrueBearing),
    Variable,
    Calm,
}

/// The direction, and the speed where the two are written as one word: `SW15`.
fn read_direction(words: &mut Words, entry: &str) -> Result<(Direction, Option<String>), TypedWindError> {
    let no_direction = || TypedWindError::NoDirection(short(entry));
    let word = words.next().ok_or_else(no_direction)?;
    let lower = word.to_lowercase();
    let letters = word.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(word.len());
    let (name, glued) = word.split_at(letters);
    if lower == "calm" {
        return Ok((Direction::Calm, None));
    }
    if !name.is_empty() {
        if let Some(force) = beaufort(word, words.peek().copied()) {
            return Err(TypedWindError::Beaufort(force));
        }
        if gust_word(word).is_some() {
            return Err(no_direction());
        }
        let direction = named(name).ok_or_else(|| TypedWindError::NotADirection(short(word)))?;
        return Ok((direction, (!glued.is_empty()).then(|| glued.to_owned())));
    }
    let bare = lower.trim_end_matches(['°', 't']);
    if let Some(compass) = lower.strip_suffix('m').filter(|text| number(text.trim_end_matches('°')).is_some())
    {
        return Err(TypedWindError::Magnetic(format!("{compass} M")));
    }
    let degrees = number(bare).ok_or_else(|| TypedWindError::NotADirection(short(word)))?;
    match words.peek() {
        Some(next) if next.eq_ignore_ascii_case("m") => {
            return Err(TypedWindError::Magnetic(format!("{} M", short(word))));
        }
        Some(next) if next.eq_ignore_ascii_case("t") || *next == "°" => {
            words.next();
        }
        _ => {}
    }
    // A number alone is a speed that has lost its direction, and so is one before the gusts.
    let lone = words.peek().is_none_or(|next| gust_word(next).is_some() || is_unit(next));
    if lone && bare == lower {
        return Err(match beaufort(word, words.peek().copied()) {
            Some(force) => TypedWindError::Beaufort(force),
            None => no_direction(),
        });
    }
    if !(0.0..=360.0).contains(&degrees) {
        return Err(TypedWindError::NotADirection(short(word)));
    }
    Ok((Direction::From(TrueBearing::new(degrees)), None))
}

fn named(name: &str) -> Option<Direction> {
    let upper = name.to_ascii_uppercase();
    if ["VAR", "VRB", "VARIABLE"].contains(&upper.as_str()) {
        return Some(Direction::Variable);
    }
    // Ost and Oeste are O in half of the forecasts of this sea: E alone is east here.
    let spelled = upper.replace("NORTH", "N").replace("SOUTH", "S").replace("EAST", "E").replace("WEST", "W");
    let at = POINTS.iter().position(|point| *point == spelled)?;
    Some(Direction::From(TrueBearing::new(at as f64 * 22.5)))
}

fn number(text: &str) -> Option<f64> {
    let plain = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || c == '.');
    text.parse().ok().filter(|value: &f64| plain && value.is_finite())
}

const UNITS: [&str; 4] = ["knots", "kts", "kt", "kn"];
const OTHER_UNITS: [&str; 5] = ["m/s", "ms", "km/h", "kmh", "mph"];

fn is_unit(word: &str) -> bool {
    let lower = word.to_lowercase();
    UNITS.contains(&lower.as_str())
        || OTHER_UNITS.contains(&lower.as_str())
        || lower.starts_with("bf")
        || lower == "beaufort"
}

/// A force of the Beaufort scale: `F6`, `6 Bft`, `force 6`.
fn beaufort(word: &str, next: Option<&str>) -> Option<String> {
    let lower = word.to_lowercase();
    let force = lower.strip_prefix("force").or_else(|| lower.strip_prefix('f'));
    let next_lower = next.map(str::to_lowercase).unwrap_or_default();
    if let Some(force) = force {
        let is_force = |text: &str| number(text.split('-').next().unwrap_or_default()).is_some();
        return (is_force(force) || (force.is_empty() && is_force(&next_lower)))
            .then(|| {
                format!(
                    "{} {}",
                    short(word),
                    if force.is_empty() { short(&next_lower) } else { String::new() }
                )
            })
            .map(|text| text.trim().to_owned());
    }
    let in_word = ["bft", "bf", "beaufort"].iter().any(|unit| lower.ends_with(unit));
    let follows = next_lower.starts_with("bf") || next_lower == "beaufort";
    (lower.starts_with(|c: char| c.is_ascii_digit()) && (in_word || follows))
        .then(|| format!("{} {}", short(word), if follows { short(&next_lower) } else { String::new() }))
        .map(|text| text.trim().to_owned())
}

/// What follows the sign of a gust in the same word: nothing, or its speed.
fn gust_word(word: &str) -> Option<&str> {
    let lower = word.to_ascii_lowercase();
    let sign = ["gusting", "gusts", "gust", "g"].into_iter().find(|sign| lower.starts_with(sign))?;
    let rest = &word[sign.len()..];
    (rest.is_empty() || rest.starts_with(|c: char| c.is_ascii_digit())).then_some(rest)
}

/// Knots: `15`, `15kn`; of `15-20` the higher.
fn read_knots(word: &str, most: f64, entry: &str) -> Result<Knots, TypedWindError> {
    let lower = word.to_lowercase();
    if let Some(force) = beaufort(word, None) {
        return Err(TypedWindError::Beaufort(force));
    }
    if OTHER_UNITS.iter().any(|unit| lower.ends_with(unit)) {
        return Err(TypedWindError::NotKnots(short(word)));
    }
    let bare = UNITS.iter().find_map(|unit| lower.strip_suffix(unit)).unwrap_or(&lower);
    let unknown = || TypedWindError::Unknown { word: short(word), entry: short(entry) };
    let values: Option<Vec<f64>> = bare.split(['-', '–']).take(3).map(number).collect();
    let values = values.filter(|values| values.len() <= 2).ok_or_else(unknown)?;
    let knots = values.into_iter().fold(0.0, f64::max);
    if knots > most {
        return Err(TypedWindError::TooStrong(short(word)));
    }
    Ok(Knots(knots))
}

/// A unit as a word of its own behind a speed.
fn skip_unit(words: &mut Words, speed: &str) -> Result<(), TypedWindError> {
    let Some(next) = words.peek() else { return Ok(()) };
    let lower = next.to_lowercase();
    if UNITS.contains(&lower.as_str()) {
        words.next();
    } else if OTHER_UNITS.contains(&lower.as_str()) {
        return Err(TypedWindError::NotKnots(format!("{} {}", short(speed), short(next))));
    } else if let Some(force) = beaufort(speed, Some(next)) {
        return Err(TypedWindError::Beaufort(force));
    }
    Ok(())
}

fn read_gust(words: &mut Words, entry: &str) -> Result<Option<Knots>, TypedWindError> {
    let Some(rest) = words.peek().and_then(|word| gust_word(word)) else { return Ok(None) };
    words.next();
    let written = if rest.is_empty() { words.next().unwrap_or_default() } else { rest };
    if written.is_empty() {
        return Err(TypedWindError::Unknown { word: "g".to_owned(), entry: short(entry) });
    }
    let gust = read_knots(written, GUST_KN_MOST, entry)?;
    skip_unit(words, written)?;
    Ok(Some(gust))
}

/// Of an hour alone, the moment nearest to now.
fn nearest(hour: Time, now: WatchTime, utc_offset: Offset) -> Result<WatchTime, TypedWindError> {
    let far = |at: &WatchTime| at.since(now).0.abs();
    moments(hour, now, utc_offset).min_by_key(far).ok_or(TypedWindError::BeyondCalendar)
}

/// The first moment after another at which it is so late.
fn next(hour: Time, after: WatchTime, utc_offset: Offset) -> Result<WatchTime, TypedWindError> {
    moments(hour, after, utc_offset).find(|at| *at > after).ok_or(TypedWindError::BeyondCalendar)
}

/// So late yesterday, today and tomorrow.
fn moments(hour: Time, about: WatchTime, utc_offset: Offset) -> impl Iterator<Item = WatchTime> {
    let there = Timestamp::from_millisecond(about.0).unwrap_or(Timestamp::UNIX_EPOCH);
    let today: Date = utc_offset.to_datetime(there).date();
    [today.yesterday().ok(), Some(today), today.tomorrow().ok()].into_iter().flatten().filter_map(
        move |day| {
            let at = utc_offset.to_timestamp(DateTime::from_parts(day, hour)).ok()?;
            Some(WatchTime(at.as_millisecond()))
        },
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// 2 June 2026, 17:40 UTC.
    const NOW: WatchTime = WatchTime(1_780_422_000_000);

    fn read(text: &str) -> Result<Forecast, TypedWindError> {
        parse(text, NOW, Offset::constant(1))
    }

    fn winds(text: &str) -> Vec<(String, Option<f64>, f64, Option<f64>)> {
        let at = |at: WatchTime| Timestamp::from_millisecond(at.0).unwrap().to_string();
        let forecast = read(text).unwrap_or_else(|why| panic!("{text}: {why}"));
        let part = |w: &WindThen| (at(w.at), w.from.map(TrueBearing::degrees), w.mean.0, w.gust.map(|g| g.0));
        forecast.winds().iter().map(part).collect()
    }

    #[test]
    fn a_line_of_the_forecast_is_the_wind_by_the_hour_past_midnight() {
        let read = winds("18: SW 15 g22, 00: W 25 g35, 04: NW 18");
        let at = |time: &str| time.to_owned();
        assert_eq!(
            read,
            [
                (at("2026-06-02T17:00:00Z"), Some(225.0), 15.0, Some(22.0)),
                (at("2026-06-02T23:00:00Z"), Some(270.0), 25.0, Some(35.0)),
                (at("2026-06-03T03:00:00Z"), Some(315.0), 18.0, None),
            ]
        );
    }

    #[test]
    fn it_is_read_as_crews_write_it() {
        let plain = winds("18: SW 15 g22");
        for same in [
            "18 SW 15 g22",
            "18:00 sw 15 G22",
            "1800 SW 15kn gusts 22 kn",
            "18.00: southwest 15 kts gust 22",
            "18h 225 15 g 22",
            "18: 225° 15 gusting 22",
            "18:00: 225T 12-15 g22",
            " 18: SW15 g22; ",
            "18:SW 15 g22",
        ] {
            assert_eq!(winds(same), plain, "{same}");
        }
        assert_eq!(winds("18: var 5")[0].1, None);
        assert_eq!(winds("18: calm")[0].2, 0.0);
        assert_eq!(winds("18: 230 15")[0].1, Some(230.0));
    }

    #[test]
    fn the_first_hour_is_the_nearest_and_others_follow() {
        let at = |text: &str| winds(text).into_iter().map(|w| w.0[5..13].to_owned()).collect::<Vec<_>>();
        assert_eq!(at("06: W 10, 12: W 12, 00: W 9"), ["06-03T05", "06-03T11", "06-03T23"]);
        assert_eq!(at("20: W 10, 02:30 W 12"), ["06-02T19", "06-03T01"]);
    }

    /// The same line typed wrongly: each way has an answer of its own.
    #[test]
    fn the_same_line_typed_wrongly_gets_clear_answers() {
        let wrong = [
            ("", "No wind is written."),
            ("SW 15 g22, 00: W 25 g35", "\"SW 15 g22\" has no hour."),
            ("25: SW 15 g22", "\"25\" is no hour of the day."),
            ("18: 15 g22", "\"18: 15 g22\" does not say where the wind comes from."),
            ("18: SX 15 g22", "\"SX\" is no direction."),
            ("18: 400 15 g22", "\"400\" is no direction."),
            ("18: 225M 15 g22", "\"225 M\" is by the compass."),
            ("18: SW g22", "\"18: SW g22\" has no wind speed."),
            ("18: SW F6", "\"F6\" is a force of the Beaufort scale."),
            ("18: SW 6 Bft", "\"6 bft\" is a force of the Beaufort scale."),
            ("18: SW 8 m/s", "\"8 m/s\" is not in knots."),
            ("18: SW 250", "\"250\" is out of range."),
            ("18: SW 22 g15", "gusts of 15 kn are less than the wind of 22 kn"),
            ("18: SW 15 g22 rain", "\"rain\" in \"18: SW 15 g22 rain\" is not understood."),
            ("18: SW 15 g", "\"g\" in \"18: SW 15 g\" is not understood."),
            ("18: SW 15, 18: W 25", "18:00 stands there twice."),
            ("18: SW 15, 04: NW 18, 00: W 25", "From 04:00 to 00:00 is 20 h 00 min."),
            ("18:7 SW 15", "\"18:7\" is no hour of the day."),
        ];
        let mut answers: Vec<String> = Vec::new();
        for (text, begins) in wrong {
            let answer = read(text).expect_err(text).to_string();
            assert!(answer.contains(begins), "{text}: {answer}");
            assert!(answer.chars().count() <= 140, "{answer}");
            answers.push(answer);
        }
        answers.sort();
        answers.dedup();
        assert_eq!(answers.len(), wrong.len());
        assert_eq!(read(&"18: W 5, 06: W 5,".repeat(200)), Err(TypedWindError::TooMuch));
        assert_eq!(read(&"x".repeat(9000)), Err(TypedWindError::TooMuch));
    }

    #[test]
    fn what_is_shown_reads_back_the_same() {
        for text in ["18: SW 15 g22, 00: W 25 g35, 04: NW 18", "18:30: 230 15, 21: var 3"] {
            let forecast = read(text).unwrap();
            assert_eq!(in_words(&forecast, Offset::constant(1)), text);
        }
    }

    proptest! {
        #[test]
        fn nothing_typed_panics(text in "[0-9:.,;° a-zA-Z/\n-]{0,60}") {
            if let Ok(forecast) = read(&text) {
                prop_assert!(!forecast.winds().is_empty());
            }
        }

        #[test]
        fn no_bytes_panic(text in any::<String>()) {
            let _ = read(&text);
        }
    }
}
