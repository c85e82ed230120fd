//! From a skipper's answers, as typed, to figures that can be calculated with.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::Offset;

use super::{BigSizes, Inputs, OtherBoat, PlanError, Site};
use crate::watch::boat::{Berth, Sector, Settings, Snubber};
use crate::watch::forecast::{self, Forecast, TypedWindError, WindThen};
use crate::watch::geo::Position;
use crate::watch::rode::{
    FetchError, Fibre, GUST_FACTOR, OpenWater, RodeError, Seabed, Weather, parse_fetch, rope, usual_sheer,
};
use crate::watch::room::Mark;
use crate::watch::slope::Slope;
use crate::watch::tide::Tide;
use crate::watch::tide::stations::{StationError, Stations};
use crate::watch::tide::turns::Rule;
use crate::watch::tide::typed::{OddIntervals, TypedError, parse_at, zone, zone_words};
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use crate::watch::way_out::WayOut;

/// Where the tide is to come from.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum TideAsked {
    /// There is none to speak of.
    #[default]
    Nothing,
    /// High and low waters as typed from the local table.
    Typed(String),
    /// A bundled station.
    Station(String),
}

/// A file with the wind by the hour, and where in it.
#[derive(Clone, Debug, PartialEq)]
pub struct WindFile {
    /// Its path.
    pub path: String,
    /// The place whose wind is wanted.
    pub position: Option<Position>,
    /// What was read of it, once it was.
    pub read: Option<Forecast>,
}

/// A skipper's answers. What is not answered has its usual value or is left out of the plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// Name of the place.
    pub place: Option<String>,
    /// Depth from the surface: without it there is no plan.
    pub depth: Option<Metres>,
    /// When it was sounded, as typed: `18:30`, `2026-06-02 18:30` or a whole RFC 3339 instant. Now, if left out.
    pub at: Option<String>,
    /// When she means to leave, as typed. Twelve hours later, if left out.
    pub until: Option<String>,
    /// The tide.
    pub tide: TideAsked,
    /// The rule between typed turns.
    pub rule: Rule,
    /// True if the crew has said that turns less than 3 or more than 9 hours apart are right.
    pub odd_tide_meant: bool,
    /// Mean wind: without it there is no plan.
    pub wind: Option<Knots>,
    /// Gusts.
    pub gust: Option<Knots>,
    /// Where the wind comes from.
    pub wind_from: Option<TrueBearing>,
    /// The wind by the hour, as typed.
    pub winds: Option<String>,
    /// A file that has it.
    pub wind_file: Option<WindFile>,
    /// Bearings from the anchor on which land or shoal water lies.
    pub shore: Vec<Sector>,
    /// The crew's way out.
    pub way_out: Option<WayOut>,
    /// Rate of the stream.
    pub stream: Option<Knots>,
    /// How far she sheers to each side, degrees.
    pub sheer_deg: Option<f64>,
    /// True if she rides to a bridle, which more than one hull can spread.
    pub bridle: bool,
    /// Open water by direction, as typed: `SW 2, W 0.5`, in sea miles.
    pub fetch: Option<String>,
    /// Depth of the water along it.
    pub fetch_depth: Option<Metres>,
    /// How the bottom slopes.
    pub slope: Option<Slope>,
    /// What the skipper thinks of veering.
    pub veered: Option<Metres>,
    /// The bottom.
    pub seabed: Option<Seabed>,
    /// A snubber.
    pub snubber: Option<Snubber>,
    /// Marks near by.
    pub marks: Vec<Mark>,
    /// Boats near by.
    pub others: Vec<OtherBoat>,
    /// True if sizes that look like feet are metres all the same.
    pub metres_meant: bool,
    /// Where she is to lie, if that is known: a station too far from there is refused.
    pub here: Option<Position>,
}

/// The moment and clock of whoever is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Now {
    /// Now.
    pub at: WatchTime,
    /// How far the clock that times are typed by is ahead of UTC.
    pub utc_offset: Offset,
}

/// Why answers make no plan.
#[derive(Debug, thiserror::Error)]
pub enum AskedError {
    /// Something is missing without which nothing can be calculated.
    #[error("No {what} given. A plan needs at least the depth (--depth) and the wind expected (--wind).")]
    Missing {
        /// What.
        what: &'static str,
    },
    /// A time that cannot be read.
    #[error("`{text}` is not a time. Write it as 18:30, or with its day as 2026-06-02 18:30.")]
    NotATime {
        /// As typed.
        text: String,
    },
    /// The typed tide.
    #[error(transparent)]
    Tide(#[from] TypedError),
    /// The file with the wind by the hour, in its own words.
    #[error("{path}: {why}")]
    WindFile {
        /// Its path.
        path: String,
        /// What is wrong with it.
        why: String,
    },
    /// The typed wind by the hour.
    #[error(transparent)]
    Winds(#[from] TypedWindError),
    /// The station.
    #[error(transparent)]
    Station(#[from] StationError),
    /// The open water.
    #[error(transparent)]
    Fetch(#[from] FetchError),
    /// The rode.
    #[error(transparent)]
    Rode(#[from] RodeError),
    /// The figures contradict each other.
    #[error(transparent)]
    Plan(#[from] PlanError),
}

/// The stay where nobody says how long.
const USUAL_STAY: Span = Span::from_mins(12 * 60);

impl Asked {
    /// The figures for [`super::Plan::make`].
    ///
    /// # Errors
    /// [`AskedError`] says what is missing or cannot be read.
    pub fn inputs(&self, settings: &Settings, now: Now) -> Result<Inputs, AskedError> {
        let sounded = self.depth.ok_or(AskedError::Missing { what: "depth" })?;
        let (at, until) = self.stay(now)?;
        let snubber =
            self.snubber.map(|snubber| rope(Fibre::Nylon, snubber.size_mm, snubber.length)).transpose()?;
        let forecast = self.forecast(at, now.utc_offset)?;
        let weather =
            self.weather_with(settings, forecast.as_ref().map(|forecast| forecast.hardest(at, until)))?;
        let gusts_forecast =
            forecast.as_ref().is_some_and(|one| one.winds().iter().all(|wind| wind.gust.is_some()));
        Ok(Inputs {
            boat: settings.boat.clone(),
            tackle: settings.tackle.clone(),
            snubber,
            sounded,
            at,
            until,
            tide: self.tide(at, now.utc_offset)?,
            weather,
            gusts_assumed: self.gust.is_none() && !gusts_forecast,
            wind_from: self.wind_from.or_else(|| forecast.as_ref()?.hardest(at, until).from),
            shore: self.shore.clone(),
            way_out: self.way_out,
            forecast,
            veered: self.veered,
            seabed: self.seabed,
            limits: settings.limits.clone(),
            site: self.site(settings)?,
            marks: self.marks.clone(),
            others: self.others.clone(),
            big_sizes: if self.metres_meant { BigSizes::Accept } else { BigSizes::Refuse },
        })
    }

    /// When the depth was sounded and when she leaves.
    ///
    /// # Errors
    /// `NotATime`.
    pub fn stay(&self, now: Now) -> Result<(WatchTime, WatchTime), AskedError> {
        let at = match &self.at {
            Some(text) => nearest_moment(text, now)?,
            None => now.at,
        };
        let until = match &self.until {
            Some(text) => next_moment(text, at, now.utc_offset)?,
            None => at + USUAL_STAY,
        };
        Ok((at, until))
    }

    /// Wind and stream as asked, with what is usual where nothing was said.
    ///
    /// # Errors
    /// `Missing` without a wind.
    pub fn weather(&self, settings: &Settings) -> Result<Weather, AskedError> {
        self.weather_with(settings, None)
    }

    /// The same with the hardest wind of a forecast: of wind entered and wind forecast the harder counts.
    ///
    /// # Errors
    /// As [`Asked::weather`].
    pub fn weather_with(
        &self,
        settings: &Settings,
        hardest: Option<WindThen>,
    ) -> Result<Weather, AskedError> {
        let forecast = hardest.map(|wind| wind.mean);
        let mean = match (self.wind, forecast) {
            (Some(entered), Some(forecast)) => entered.max(forecast),
            (one, other) => one.or(other).ok_or(AskedError::Missing { what: "wind" })?,
        };
        let gust = match (self.gust, hardest) {
            (Some(gust), hardest) => hardest.map_or(gust, |wind| gust.max(wind.gust())),
            (None, Some(wind)) if self.wind.is_none_or(|entered| entered <= wind.mean) => wind.gust(),
            (None, hardest) => (mean * GUST_FACTOR).max(hardest.map_or(Knots(0.0), |wind| wind.gust())),
        };
        Ok(Weather {
            mean,
            gust,
            stream: self.stream.unwrap_or(Knots(0.0)),
            sheer_deg: self.sheer_deg.unwrap_or_else(|| usual_sheer(&settings.boat, self.bridle)),
        })
    }

    fn site(&self, settings: &Settings) -> Result<Site, AskedError> {
        Ok(Site {
            open: self.open_water()?,
            slope: self.slope,
            engine: settings.engine,
            snubber_mm: self.snubber.map(|snubber| snubber.size_mm),
        })
    }

    /// The open water, as typed.
    ///
    /// # Errors
    /// What cannot be read of it.
    pub fn open_water(&self) -> Result<OpenWater, FetchError> {
        let fetch = self.fetch.as_deref().map(parse_fetch).transpose()?.unwrap_or_default();
        Ok(OpenWater { fetch, depth: self.fetch_depth })
    }

    /// What is known of the berth.
    ///
    /// # Errors
    /// What cannot be read of the open water.
    pub fn berth(&self) -> Result<Berth, FetchError> {
        Ok(Berth {
            seabed: self.seabed,
            open: self.open_water()?,
            shore: self.shore.clone(),
            slope: self.slope,
            snubber: self.snubber,
            bridle: self.bridle,
        })
    }

    /// The wind by the hour, typed or read from a file; typed counts.
    ///
    /// # Errors
    /// What is wrong with the typed line.
    pub fn forecast(&self, at: WatchTime, utc_offset: Offset) -> Result<Option<Forecast>, AskedError> {
        if let Some(typed) = self.winds.as_deref().filter(|typed| !typed.trim().is_empty()) {
            return Ok(Some(forecast::parse(typed, at, utc_offset)?));
        }
        Ok(self.wind_file.as_ref().and_then(|file| file.read.clone()))
    }

    fn tide(&self, at: WatchTime, utc_offset: Offset) -> Result<Option<Tide>, AskedError> {
        let odd = if self.odd_tide_meant { OddIntervals::Accept } else { OddIntervals::Refuse };
        Ok(match &self.tide {
            TideAsked::Nothing => None,
            TideAsked::Typed(text) => {
                let table = parse_at(text, at, utc_offset, self.rule, odd)?;
                // One that does not cover the sounding is refused with the plan's own words.
                let tide = Tide::covering(&table, at).unwrap_or_else(|_| Tide::from_table(table));
                Some(tide.cautioned(zone_caution(text, utc_offset)))
            }
            TideAsked::Station(id) => {
                let stations = Stations::bundled()?;
                Some(match self.here {
                    Some(here) => stations.tide_at(id, at, here)?,
                    None => stations.tide(id, at)?.cautioned(WHERE_CAUTION.to_owned()),
                })
            }
        })
    }
}

const WHERE_CAUTION: &str = "How far the station lies from here is not known: add --near with your position, and its doubt is \
     allowed for.";

/// In which zone the table's times were taken.
fn zone_caution(text: &str, clock: Offset) -> String {
    let (zone, _) = zone(text, clock);
    match zone == clock {
        true => format!(
            "The table's times are taken in {}, your clock's. If it is printed in UT or standard time, begin it with that: UT, UTC+1.",
            zone_words(zone)
        ),
        false => format!("The table's times are taken in {}.", zone_words(zone)),
    }
}

/// A time as typed: with its day or without.
enum Typed {
    Instant(Timestamp),
    There(DateTime),
    OfDay(Time),
}

fn typed(text: &str) -> Result<Typed, AskedError> {
    let text = text.trim();
    let not_a_time = || AskedError::NotATime { text: text.chars().take(40).collect() };
    if let Ok(instant) = text.parse::<Timestamp>() {
        return Ok(Typed::Instant(instant));
    }
    if let Ok(time) = Time::strptime("%H:%M", text).or_else(|_| Time::strptime("%H%M", text)) {
        return Ok(Typed::OfDay(time));
    }
    // A civil date-time alone would take a bare date for midnight.
    let has_time = text.contains(':');
    text.parse::<DateTime>().ok().filter(|_| has_time).map(Typed::There).ok_or_else(not_a_time)
}

/// The moment meant by a time that is just past or soon to come: of a time alone, the one nearest to now.
fn nearest_moment(text: &str, now: Now) -> Result<WatchTime, AskedError> {
    let far = |moment: &WatchTime| moment.since(now.at).0.abs();
    moment(text, now.utc_offset, |time| {
        days_about(now.at, now.utc_offset)
            .filter_map(|day| instant(DateTime::from_parts(day, time), now.utc_offset))
            .min_by_key(far)
    })
}

/// The moment meant by a time to come: of a time alone, the first one after `after`.
fn next_moment(text: &str, after: WatchTime, utc_offset: Offset) -> Result<WatchTime, AskedError> {
    moment(text, utc_offset, |time| {
        days_about(after, utc_offset)
            .filter_map(|day| instant(DateTime::from_parts(day, time), utc_offset))
            .find(|moment| *moment > after)
    })
}

fn moment(
    text: &str,
    utc_offset: Offset,
    of_day: impl Fn(Time) -> Option<WatchTime>,
) -> Result<WatchTime, AskedError> {
    let found = match typed(text)? {
        Typed::Instant(instant) => Some(WatchTime(instant.as_millisecond())),
        Typed::There(there) => instant(there, utc_offset),
        Typed::OfDay(time) => of_day(time),
    };
    found.ok_or_else(|| AskedError::NotATime { text: text.chars().take(40).collect() })
}

/// Yesterday, today and tomorrow, in that order.
fn days_about(at: WatchTime, utc_offset: Offset) -> impl Iterator<Item = Date> {
    let there = Timestamp::from_millisecond(at.0).unwrap_or(Timestamp::UNIX_EPOCH);
    let today = utc_offset.to_datetime(there).date();
    [today.yesterday().ok(), Some(today), today.tomorrow().ok()].into_iter().flatten()
}

fn instant(there: DateTime, utc_offset: Offset) -> Option<WatchTime> {
    utc_offset.to_timestamp(there).ok().map(|at| WatchTime(at.as_millisecond()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2 June 2026, 17:40 UTC, on a clock one hour ahead.
    fn now() -> Now {
        Now { at: WatchTime(1_780_422_000_000), utc_offset: Offset::constant(1) }
    }

    fn shown(at: WatchTime) -> String {
        Timestamp::from_millisecond(at.0).unwrap().to_string()
    }

    #[test]
    fn a_time_alone_is_the_nearest_and_the_end_is_the_next() {
        assert_eq!(shown(now().at), "2026-06-02T17:40:00Z");
        let at = nearest_moment("18:30", now()).unwrap();
        assert_eq!(shown(at), "2026-06-02T17:30:00Z");
        assert_eq!(shown(nearest_moment("0130", now()).unwrap()), "2026-06-03T00:30:00Z");
        assert_eq!(shown(next_moment("08:30", at, now().utc_offset).unwrap()), "2026-06-03T07:30:00Z");
        assert_eq!(shown(next_moment("18:30", at, now().utc_offset).unwrap()), "2026-06-03T17:30:00Z");
    }

    #[test]
    fn a_day_and_an_instant_are_taken_as_they_are() {
        let of = |text| nearest_moment(text, now()).map(shown);
        assert_eq!(of("2026-07-01 06:00").unwrap(), "2026-07-01T05:00:00Z");
        assert_eq!(of("2026-07-01T06:00:00+02:00").unwrap(), "2026-07-01T04:00:00Z");
        for nonsense in ["", "half past six", "25:00", "2026-07-01", "18:30:99"] {
            assert!(matches!(of(nonsense), Err(AskedError::NotATime { .. })), "{nonsense}");
        }
    }

    #[test]
    fn what_is_missing_is_named() {
        let settings = Settings::default();
        let entered = |asked: &Asked| asked.inputs(&settings, now()).unwrap_err().to_string();
        assert!(entered(&Asked::default()).starts_with("No depth given"));
        let deep = Asked { depth: Some(Metres(5.0)), ..Asked::default() };
        assert!(entered(&deep).starts_with("No wind given"));
    }

    #[test]
    fn what_is_left_out_is_usual() {
        let asked = Asked { depth: Some(Metres(5.0)), wind: Some(Knots(20.0)), ..Asked::default() };
        let inputs = asked.inputs(&Settings::default(), now()).unwrap();
        assert_eq!((inputs.at, inputs.until), (now().at, now().at + USUAL_STAY));
        assert_eq!((inputs.weather.gust, inputs.weather.sheer_deg), (Knots(28.0), 40.0));
        assert!(inputs.gusts_assumed && inputs.tide.is_none());
    }

    #[test]
    fn low_water_above_high_water_is_named() {
        let asked = Asked {
            depth: Some(Metres(5.0)),
            wind: Some(Knots(20.0)),
            tide: TideAsked::Typed("HW 16:10 0.9, LW 22:25 4.8".into()),
            ..Asked::default()
        };
        let error = asked.inputs(&Settings::default(), now()).unwrap_err().to_string();
        assert!(error.contains("LW Tue 22:25 4.8 m is not below HW Tue 16:10 0.9 m"), "{error}");
    }
}
