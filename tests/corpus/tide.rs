//! The tide against a year of observed heights, and against the published range of eight stations.
//!
//! The recordings are found through `NIGHTRODE_SHARED`, else `../shared`; without them these tests say so and pass.

use crate::recordings::recordings;
use jiff::Timestamp;
use nightrode::watch::tide::harmonic::{Constant, Curve, Harmonic};
use nightrode::watch::tide::stations::Stations;
use nightrode::watch::units::{Metres, Span, WatchTime};
use serde_json::Value;

/// A file of the tide recordings; `None`, said out loud, where there are none.
fn recording(name: &str) -> Option<String> {
    let path = recordings("tide")?.join(name);
    Some(std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display())))
}

fn time(text: &str) -> WatchTime {
    WatchTime(text.parse::<Timestamp>().expect("an RFC 3339 time").as_millisecond())
}

struct Published {
    tide: Harmonic,
    /// Lowest and highest astronomical tide about mean level, metres.
    lowest: f64,
    highest: f64,
    id: String,
}

/// TICON-4's names and phases that other lists give otherwise; see `assets/tide/README.md`.
fn ticon(name: &str) -> (&str, f64) {
    match name {
        "SGM" => ("SIGMA1", 180.0),
        "M1" | "2MK5" => (name, 90.0),
        "2MO5" => (name, -90.0),
        _ => (name, 0.0),
    }
}

fn published(name: &str) -> Option<Published> {
    let json: Value = serde_json::from_str(&recording(name)?).expect("JSON");
    let number = |value: &Value| value.as_f64().expect("a number");
    let constants: Vec<Constant> = json["harmonic_constituents"]
        .as_array()
        .expect("constants")
        .iter()
        .map(|c| {
            let as_given = c["name"].as_str().expect("a name");
            let (name, turn_deg) = if name.starts_with("ticon") { ticon(as_given) } else { (as_given, 0.0) };
            Constant {
                name: name.to_owned(),
                amplitude: Metres(number(&c["amplitude"])),
                lag_deg: number(&c["phase"]) + turn_deg,
            }
        })
        .collect();
    let datum = |name: &str| number(&json["datums"][name]);
    Some(Published {
        tide: Harmonic::new(Metres(0.0), &constants),
        lowest: datum("LAT") - datum("MSL"),
        highest: datum("HAT") - datum("MSL"),
        id: json["source"]["id"].as_str().expect("an id").to_owned(),
    })
}

/// Root mean square of observed less predicted, once their means are made the same.
fn misses_by(tide: &Harmonic, observed: &[(WatchTime, f64)]) -> f64 {
    let misses: Vec<f64> = observed.iter().map(|(t, height)| height - tide.height_at(*t).0).collect();
    let mean = misses.iter().sum::<f64>() / misses.len() as f64;
    (misses.iter().map(|miss| (miss - mean).powi(2)).sum::<f64>() / misses.len() as f64).sqrt()
}

#[test]
fn a_year_at_honolulu_is_predicted_but_for_the_weather() {
    let (Some(csv), Some(station)) =
        (recording("honolulu_2010_hourly_observed.csv"), published("noaa-1612340.json"))
    else {
        return;
    };
    let row = |line: &str| {
        let (t, height) = line.split_once(',').expect("two columns");
        (time(&t.replace('Z', ":00Z")), height.parse().expect("a height"))
    };
    let observed: Vec<(WatchTime, f64)> = csv.lines().skip(1).map(row).collect();
    assert_eq!(observed.len(), 8760);
    let bundled = Stations::bundled().and_then(|s| s.harmonic("noaa/1612340")).expect("a bundled station");
    let still = Harmonic::new(Metres(0.0), &[]);
    let (published, bundled, still) =
        (misses_by(&station.tide, &observed), misses_by(&bundled, &observed), misses_by(&still, &observed));
    println!("rms: published constants {published:.4} m, bundled {bundled:.4} m, no tide {still:.4} m");
    // A harmonic fit to this very year leaves 0.039 m.
    assert!(published < 0.055 && bundled < 0.055 && still > 0.15);
}

/// The lowest and highest height from 2002 to 2020, one nodal cycle.
fn range(tide: &Harmonic) -> (f64, f64) {
    let month = Span::from_mins(60 * 24 * 30);
    let (mut from, end) = (time("2002-01-01T00:00:00Z"), time("2021-01-01T00:00:00Z"));
    let (mut lowest, mut highest) = (f64::MAX, f64::MIN);
    while from < end {
        // A step more than a month, so that no turn falls between two curves.
        for turn in tide.curve(from, from + month + Curve::STEP).turns() {
            lowest = lowest.min(turn.height.0);
            highest = highest.max(turn.height.0);
        }
        from += month;
    }
    (lowest, highest)
}

fn range_agrees(name: &str, within: f64) {
    let Some(station) = published(name) else { return };
    let (lowest, highest) = range(&station.tide);
    println!(
        "{name}: lowest {lowest:.3} (published {:.3}), highest {highest:.3} (published {:.3}), left out {:?}",
        station.lowest,
        station.highest,
        station.tide.left_out()
    );
    assert!((lowest - station.lowest).abs() < within && (highest - station.highest).abs() < within);
}

#[test]
fn the_range_at_honolulu_is_the_published_one() {
    range_agrees("noaa-1612340.json", 0.01);
}

#[test]
fn the_range_at_boston_is_the_published_one() {
    range_agrees("noaa-8443970.json", 0.02);
}

#[test]
fn the_range_at_brest_is_the_published_one() {
    range_agrees("ticon-brest-3-fra-refmar.json", 0.02);
}

#[test]
fn the_range_at_avonmouth_is_the_published_one() {
    range_agrees("ticon-avonmouth-avo-gbr-bodc.json", 0.10);
}

#[test]
fn the_range_at_anchorage_with_its_120_constituents_is_the_published_one() {
    range_agrees("noaa-9455920.json", 0.10);
}

#[test]
fn rounding_and_dropping_in_the_bundled_table_costs_millimetres() {
    for (file, prefix) in [
        ("noaa-8443970.json", "noaa"),
        ("noaa-9414290.json", "noaa"),
        ("noaa-8724580.json", "noaa"),
        ("ticon-avonmouth-avo-gbr-bodc.json", "ticon"),
    ] {
        let Some(station) = published(file) else { return };
        let stations = Stations::bundled().expect("the bundled table");
        let id = format!("{prefix}/{}", station.id);
        let Some(about) = stations.by_id(&id) else { panic!("{id} is not bundled") };
        let bundled = stations.harmonic(&about.id).expect("a reference station");
        let from = time("2026-11-01T00:00:00Z");
        let apart = |hours: i64| {
            let t = from + Span::from_mins(60 * hours);
            bundled.height_at(t).0 - station.tide.height_at(t).0
        };
        let mean = (0..720).map(apart).sum::<f64>() / 720.0;
        let worst = (0..720).map(|h| (apart(h) - mean).abs()).fold(0.0, f64::max);
        println!("{id}: worst {worst:.4} m");
        assert!(worst < 0.012);
    }
}
