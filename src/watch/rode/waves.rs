//! What sea does a wind raise over so much open water?
//!
//! Formulas: *Shore Protection Manual*, 4th ed. 1984, vol. I, eq. 3-28a (wind stress), 3-33 and 3-34 (deep water, limited by
//! the fetch), 3-36 (fully grown), 3-39 and 3-40 (over a bottom of one depth). The wind is taken to blow long enough.

use serde::{Deserialize, Serialize};

use super::gear::GRAVITY;
use crate::watch::units::{Knots, Metres, TrueBearing};

/// A metre of the fetch is a mile of the chart over 1852.
pub const MILE: Metres = Metres(1852.0);

/// The greatest wave of a night's sea over its significant height: √(½·ln N) for N = 1000 waves, an hour of them
/// (Longuet-Higgins 1952, as the manual's section 3.II has it).
pub const GREATEST: f64 = 1.86;

/// A wave breaks when it is so high beside the depth (the manual's 0.78, McCowan).
const BREAKS_AT: f64 = 0.78;

/// A sea.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sea {
    /// Significant height: the mean of the highest third.
    pub height: Metres,
    /// Period of those waves, seconds.
    pub period_s: f64,
}

/// Wind stress factor of a wind at 10 m, m/s (eq. 3-28a).
fn stress_factor(wind_mps: f64) -> f64 {
    0.71 * wind_mps.max(0.0).powf(1.23)
}

/// The sea that a wind raises over a fetch. `depth` is that of the water along it; `None` for deep water.
#[must_use]
pub fn sea(wind: Knots, fetch: Metres, depth: Option<Metres>) -> Sea {
    sea_under_stress(stress_factor(wind.mps()), fetch, depth)
}

/// The same from the wind stress factor U_A, m/s.
#[must_use]
pub fn sea_under_stress(stress_mps: f64, fetch: Metres, depth: Option<Metres>) -> Sea {
    let flat = Sea { height: Metres(0.0), period_s: 0.0 };
    if !(stress_mps > 0.0 && fetch.0 > 0.0) {
        return flat;
    }
    let scale = stress_mps * stress_mps / GRAVITY;
    let run = fetch.0 / scale;
    let (height, period) = match depth {
        Some(depth) if depth.0 > 0.0 => over_bottom(run, depth.0 / scale),
        Some(_) => return flat,
        None => ((1.6e-3 * run.sqrt()).min(0.2433), (0.2857 * run.cbrt()).min(8.134)),
    };
    Sea { height: Metres(height * scale), period_s: period * stress_mps / GRAVITY }
}

/// gH/U_A² and gT/U_A from gF/U_A² and gd/U_A² (eq. 3-39, 3-40).
fn over_bottom(run: f64, depth: f64) -> (f64, f64) {
    let (high, long) = ((0.530 * depth.powf(0.75)).tanh(), (0.833 * depth.powf(0.375)).tanh());
    (0.283 * high * (0.00565 * run.sqrt() / high).tanh(), 7.54 * long * (0.0379 * run.cbrt() / long).tanh())
}

impl Sea {
    /// The greatest wave to be met in it over so much water; where that is shallow it breaks at less.
    #[must_use]
    pub fn greatest(&self, depth: Metres) -> Metres {
        (self.height * GREATEST).min(depth.max(Metres(0.0)) * BREAKS_AT)
    }

    /// Length of its waves over so much water, m: linear theory, L = (g·T²/2π)·tanh(2π·d/L).
    #[must_use]
    pub fn length(&self, depth: Metres) -> Metres {
        let deep = GRAVITY * self.period_s * self.period_s / std::f64::consts::TAU;
        if !(deep > 0.0 && depth.0 > 0.0) {
            return Metres(0.0);
        }
        let (mut low, mut high) = (0.0, deep);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if deep * (std::f64::consts::TAU * depth.0 / middle).tanh() > middle {
                low = middle
            } else {
                high = middle
            }
        }
        Metres(0.5 * (low + high))
    }
}

/// Open water in one direction.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fetch {
    /// Towards which it lies; `None`: all round.
    pub towards: Option<TrueBearing>,
    /// How far it goes.
    pub length: Metres,
}

/// The open water that a wind from there has, from what was said of some directions: of the two that it lies between the
/// longer, because waves come round corners. Without a wind's direction the longest of all. `None` if nothing was said.
#[must_use]
pub fn fetch_for(said: &[Fetch], wind_from: Option<TrueBearing>) -> Option<Metres> {
    let longest = said.iter().map(|fetch| fetch.length).reduce(Metres::max);
    let Some(wind) = wind_from else { return longest };
    let mut round: Vec<(f64, Metres)> =
        said.iter().filter_map(|fetch| Some((fetch.towards?.degrees(), fetch.length))).collect();
    round.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all_round =
        said.iter().filter(|fetch| fetch.towards.is_none()).map(|fetch| fetch.length).reduce(Metres::max);
    let (Some(first), Some(last)) = (round.first().copied(), round.last().copied()) else { return longest };
    let after = round.iter().find(|(towards, _)| *towards >= wind.degrees()).copied().unwrap_or(first);
    let before = round.iter().rfind(|(towards, _)| *towards <= wind.degrees()).copied().unwrap_or(last);
    let beside = before.1.max(after.1);
    Some(all_round.map_or(beside, |all| all.max(beside)))
}

/// Why a fetch cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{0}` is no open water. Write direction and miles, separated by commas: SW 2, W 0.5, 330 1; or one figure for all round"
)]
pub struct FetchError(String);

/// The eight winds and those between.
const POINTS: [&str; 16] =
    ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
/// More directions than the compass has points are a mistake.
const FETCHES_MOST: usize = 36;
/// Beyond it a fetch is the open sea, whose swell no formula here knows.
const MILES_MOST: f64 = 300.0;

/// Open water as a crew writes it: `SW 2, W 0.5, 330 1`, in sea miles; or one figure for all round.
///
/// # Errors
/// [`FetchError`] with what cannot be read.
pub fn parse_fetch(text: &str) -> Result<Vec<Fetch>, FetchError> {
    let parts: Vec<&str> = text.split([',', ';']).map(str::trim).filter(|part| !part.is_empty()).collect();
    if parts.is_empty() || parts.len() > FETCHES_MOST {
        return Err(FetchError(text.chars().take(40).collect()));
    }
    parts
        .iter()
        .map(|part| one_fetch(part).ok_or_else(|| FetchError(part.chars().take(40).collect())))
        .collect()
}

/// As [`parse_fetch`] reads it: `SW 2, W 0.5`.
#[must_use]
pub fn fetch_in_words(said: &[Fetch]) -> String {
    let short = |value: f64, digits: usize| {
        let text = format!("{value:.digits$}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let miles = |length: Metres| short(length.0 / MILE.0, 3);
    let point = |towards: TrueBearing| {
        let sixteenth = towards.degrees() / 22.5;
        let is_point = (sixteenth - sixteenth.round()).abs() < 1e-9;
        if is_point {
            POINTS[sixteenth.round() as usize % POINTS.len()].to_owned()
        } else {
            short(towards.degrees(), 1)
        }
    };
    let one = |fetch: &Fetch| match fetch.towards {
        Some(towards) => format!("{} {}", point(towards), miles(fetch.length)),
        None => miles(fetch.length),
    };
    said.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn one_fetch(part: &str) -> Option<Fetch> {
    let words: Vec<&str> = part.split_whitespace().filter(|word| !word.eq_ignore_ascii_case("M")).collect();
    let miles = |word: &str| word.parse::<f64>().ok().filter(|miles| (0.0..=MILES_MOST).contains(miles));
    let (towards, miles) = match words[..] {
        [alone] => (None, miles(alone)?),
        [point, run] => (Some(bearing(point)?), miles(run)?),
        _ => return None,
    };
    Some(Fetch { towards, length: MILE * miles })
}

fn bearing(word: &str) -> Option<TrueBearing> {
    if let Some(point) = POINTS.iter().position(|point| point.eq_ignore_ascii_case(word)) {
        return Some(TrueBearing::new(22.5 * point as f64));
    }
    let degrees: f64 = word.parse().ok()?;
    (0.0..=360.0).contains(&degrees).then(|| TrueBearing::new(degrees))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn deep_water_is_the_bottom_formula_over_much_water() {
        let (deep, over) = (sea(Knots(20.0), MILE, None), sea(Knots(20.0), MILE, Some(Metres(200.0))));
        assert!((deep.height.0 / over.height.0 - 1.0).abs() < 0.01, "{deep:?} {over:?}");
        // The manual's two fits of the period meet within 2 %.
        assert!((deep.period_s / over.period_s - 1.0).abs() < 0.02, "{deep:?} {over:?}");
        assert_eq!(sea(Knots(0.0), MILE, None).height, Metres(0.0));
        assert_eq!(sea(Knots(20.0), Metres(0.0), None).height, Metres(0.0));
    }

    #[test]
    fn a_wind_between_two_directions_has_the_longer_run() {
        let said = parse_fetch("SW 2, w 0.5, 330 1 M").unwrap();
        let miles = |deg: Option<f64>| fetch_for(&said, deg.map(TrueBearing::new)).unwrap().0 / MILE.0;
        let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-9, "{got} {want}");
        near(miles(Some(250.0)), 2.0);
        near(miles(Some(270.0)), 0.5);
        near(miles(Some(300.0)), 1.0);
        near(miles(Some(90.0)), 2.0);
        near(miles(None), 2.0);
        near(fetch_for(&parse_fetch("0.3").unwrap(), Some(TrueBearing::new(9.0))).unwrap().0 / MILE.0, 0.3);
        assert_eq!(fetch_for(&[], None), None);
    }

    #[test]
    fn open_water_is_written_as_it_is_read() {
        let said = parse_fetch("SW 2, NNE 0.5, 131 0.25, 3").unwrap();
        assert_eq!(fetch_in_words(&said), "SW 2, NNE 0.5, 131 0.25, 3");
        assert_eq!(parse_fetch(&fetch_in_words(&said)).unwrap().len(), 4);
    }

    #[test]
    fn what_is_no_fetch_is_named() {
        for text in ["", "SW", "SW far", "X 2", "SW -1", "400 1", "SW 2 3 4", "NaN", "W inf"] {
            let error = parse_fetch(text).unwrap_err().to_string();
            assert!(error.contains("SW 2, W 0.5"), "{text}: {error}");
        }
    }
}
