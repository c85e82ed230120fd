//! When does the sun rise and set here?

use solar_positioning::time::JulianDate;
use solar_positioning::{Location, SolarPositions};

use super::geo::Position;
use super::units::{Metres, Span, WatchTime};

/// Altitude of the sun's centre at rising and setting, degrees: its half diameter of 16′ and 34′ of refraction at the
/// horizon, by convention (Nautical Almanac, explanation).
pub const RISE_DEG: f64 = -0.8333;
/// The same at the ends of civil twilight (by definition).
pub const CIVIL_DEG: f64 = -6.0;
/// TT less UT1, seconds: 69.2 in 2025; a second more moves a sunrise by a second.
const DELTA_T_S: f64 = 69.2;
/// The sun's altitude is looked at this often to find where it crosses; a day has two crossings at most.
const STEP: Span = Span::from_mins(10);
/// The sun's altitude changes no faster: the earth turns by 15.04° an hour, the sun's declination by less than 0.02°.
const FASTEST_DEG_AN_HOUR: f64 = 15.1;
/// Farther away than this the times are calculated again: they change by a second or two.
const MOVED: Metres = Metres(500.0);
/// Looked ahead for so long: a day and a half holds a rising and a setting wherever there are any.
const AHEAD: Span = Span::from_mins(36 * 60);
/// Before 2010 and after 2099 nobody keeps an anchor watch with this.
const YEARS: (WatchTime, WatchTime) = (WatchTime(1_262_304_000_000), WatchTime(4_070_908_800_000));

/// The sun crosses a height.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crossing {
    /// When.
    pub at: WatchTime,
    /// It rises.
    pub rises: bool,
}

/// Altitude of the sun's centre above the horizon, degrees, without refraction; `None` beyond the years that are covered.
///
/// # Source
/// NREL's solar position algorithm (Reda and Andreas 2004, NREL/TP-560-34302), through the `solar-positioning` crate.
#[must_use]
pub fn altitude_deg(place: Position, at: WatchTime) -> Option<f64> {
    if !(YEARS.0..=YEARS.1).contains(&at) {
        return None;
    }
    // Julian date of the Unix epoch.
    let julian = 2_440_587.5 + at.0 as f64 / 86_400_000.0;
    let time = JulianDate::new(julian, DELTA_T_S).ok()?;
    let location = Location { latitude: place.lat_deg(), longitude: place.lon_deg() };
    let sun = SolarPositions::new().at_from_julian(time, location, 0.0, None).ok()?;
    Some(sun.elevation_angle())
}

/// Where the sun's centre crosses an altitude from one moment to another, in order of time, to the second.
#[must_use]
pub fn crossings(place: Position, from: WatchTime, to: WatchTime, altitude: f64) -> Vec<Crossing> {
    let above = |at: WatchTime| altitude_deg(place, at).map(|deg| deg - altitude);
    let mut found = Vec::new();
    let mut at = from;
    let Some(mut before) = above(at) else { return found };
    while at < to {
        // It cannot get there within these steps.
        let steps = (before.abs() / FASTEST_DEG_AN_HOUR * 3600.0 / STEP.seconds()).max(1.0) as i64;
        let next = (at + Span(STEP.0 * steps)).min(to);
        let Some(after) = above(next) else { break };
        if (before > 0.0) != (after > 0.0) {
            let (mut low, mut high) = (at, next);
            while high.since(low).0 > 1000 {
                let middle = low + Span(high.since(low).0 / 2);
                let is_low = above(middle).is_some_and(|deg| (deg > 0.0) == (before > 0.0));
                if is_low { low = middle } else { high = middle }
            }
            found.push(Crossing { at: high, rises: after > 0.0 });
        }
        (at, before) = (next, after);
    }
    found
}

/// The sun over the watch: its next and last rising or setting.
#[derive(Clone, Debug, Default)]
pub(super) struct Sun {
    place: Option<Position>,
    /// Calculated up to then.
    until: WatchTime,
    ahead: Vec<Crossing>,
    last: Option<Crossing>,
    up: Option<bool>,
}

impl Sun {
    /// A second passes at a place.
    pub(super) fn second(&mut self, now: WatchTime, place: Option<Position>) {
        if let Some(place) = place {
            let moved = self.place.is_none_or(|before| before.distance_to(place) > MOVED);
            if moved || now >= self.until {
                self.calculate(now, place);
            }
        }
        while self.ahead.first().is_some_and(|next| next.at <= now) {
            let crossed = self.ahead.remove(0);
            (self.last, self.up) = (Some(crossed), Some(crossed.rises));
        }
    }

    fn calculate(&mut self, now: WatchTime, place: Position) {
        self.place = Some(place);
        // Calculated again long before what is known is over.
        self.until = now + Span(AHEAD.0 / 3);
        self.up = altitude_deg(place, now).map(|deg| deg > RISE_DEG);
        self.ahead = crossings(place, now, now + AHEAD, RISE_DEG);
    }

    /// Whether it is up; `None` while no place or no date is known.
    pub(super) fn is_up(&self) -> Option<bool> {
        self.up
    }

    /// The last rising or setting that was lived through.
    pub(super) fn last(&self) -> Option<Crossing> {
        self.last
    }

    /// Risings and settings to come.
    pub(super) fn ahead(&self) -> &[Crossing] {
        &self.ahead
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;

    use super::*;

    fn moment(text: &str) -> Option<WatchTime> {
        text.parse::<Timestamp>().ok().map(|at| WatchTime(at.as_millisecond()))
    }

    /// Nothing is passed over: every ten minutes looked at, as it was before steps were left out, gives the same.
    #[test]
    fn steps_that_are_left_out_hide_no_crossing() {
        let from = moment("2026-03-01T00:00:00Z").unwrap();
        for (n, lat) in (-80..=80).step_by(8).enumerate() {
            let place = Position::new(f64::from(lat), 10.0).unwrap();
            let from = from + Span::from_mins(17 * 24 * 60 * n as i64);
            let changes = (0..36 * 6).filter(|step| {
                let up = |step: i64| altitude_deg(place, from + Span(STEP.0 * step)).unwrap() > RISE_DEG;
                up(*step) != up(step + 1)
            });
            assert_eq!(crossings(place, from, from + AHEAD, RISE_DEG).len(), changes.count(), "{lat}");
        }
    }

    /// Source: skyfield with the ephemeris DE421 and astral, tests/reference/gen_sun.py; its tolerances: 60 s below 60° of
    /// latitude, 5 min beyond and where the sun crosses slowly; none at all where the extreme altitude is within 0.2° of
    /// the limit.
    #[test]
    fn rising_setting_and_civil_twilight_agree_with_skyfield() {
        let text = include_str!("../../tests/reference/sun.csv");
        let (mut compared, mut worst_s) = (0, 0.0_f64);
        for line in text.lines().skip(1) {
            let row: Vec<&str> = line.split(',').collect();
            let number = |i: usize| row[i].parse::<f64>().unwrap();
            let place = Position::new(number(1), number(2)).unwrap();
            let from = moment(row[5]).unwrap();
            let to = from + Span::from_mins(24 * 60);
            for (altitude, rising, setting) in [(CIVIL_DEG, row[8], row[14]), (RISE_DEG, row[10], row[12])] {
                let found = crossings(place, from, to, altitude);
                for (expected, rises) in [(rising, true), (setting, false)] {
                    let Some(expected) = moment(expected) else { continue };
                    let near = found
                        .iter()
                        .filter(|crossing| crossing.rises == rises)
                        .map(|crossing| crossing.at.since(expected).seconds().abs())
                        .fold(f64::INFINITY, f64::min);
                    let around = [-600.0, 600.0].map(|s| {
                        altitude_deg(place, expected + Span::from_millis((s * 1000.0) as i64)).unwrap()
                    });
                    // Degrees an hour.
                    let speed = (around[1] - around[0]).abs() * 3.0;
                    let grazes = around.iter().all(|deg| (deg - altitude).abs() < 0.4);
                    let tolerance = if number(1).abs() < 60.0 && speed > 5.0 { 60.0 } else { 300.0 };
                    assert!(near <= tolerance || grazes, "{line}: {near} s, {altitude}");
                    if near.is_finite() && tolerance == 60.0 {
                        compared += 1;
                        worst_s = worst_s.max(near);
                    }
                }
            }
        }
        assert!(compared > 200 && worst_s < 30.0, "{compared} compared, worst {worst_s} s");
    }

    #[test]
    fn where_the_sun_does_not_set_there_is_no_crossing() {
        let place = Position::new(78.2, 15.6).unwrap();
        let midsummer = moment("2026-06-21T00:00:00Z").unwrap();
        assert_eq!(crossings(place, midsummer, midsummer + Span::from_mins(1440), RISE_DEG), []);
        let mut sun = Sun::default();
        sun.second(midsummer, Some(place));
        assert_eq!((sun.is_up(), sun.ahead().len()), (Some(true), 0));
    }

    #[test]
    fn a_recording_without_a_date_has_no_sun() {
        let mut sun = Sun::default();
        sun.second(WatchTime(3_600_000), Position::new(54.0, 10.0).ok());
        assert_eq!(sun.is_up(), None);
    }

    #[test]
    fn a_night_lived_through_has_its_setting_and_its_rising() {
        let place = Position::new(54.2, 10.4).unwrap();
        let evening = moment("2026-06-03T18:00:00Z").unwrap();
        let mut sun = Sun::default();
        let mut seen = Vec::new();
        for minute in 0..16 * 60 {
            sun.second(evening + Span::from_mins(minute), Some(place));
            if seen.last() != Some(&sun.last()) {
                seen.push(sun.last());
            }
        }
        let rises: Vec<_> = seen.iter().flatten().map(|crossing| crossing.rises).collect();
        assert_eq!(rises, [false, true]);
    }
}
