//! Places on paper, and for other programs: GPX 1.1 waypoints and GeoJSON points.

mod sketch;

use std::fmt::Write as _;

use jiff::Timestamp;
use maud::html;
use serde_json::{Value, json};

pub use self::sketch::sketch;
use super::gpx;
use super::words::push_wrapped;
use crate::watch::geo::Position;
use crate::watch::place::{Day, Place, PlaceNote, Season};
use crate::watch::units::{Metres, WatchTime};

fn date(at: WatchTime) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(|_| String::new(), |at| at.strftime("%Y-%m-%d").to_string())
}

/// A line a place.
#[must_use]
pub fn list(places: &[Place]) -> String {
    if places.is_empty() {
        return "The book of places is empty. It fills as rides end; nightrode places new and import write into it.\n"
            .into();
    }
    let mut out = String::new();
    let widest = places.iter().map(|place| place.name.chars().count()).max().unwrap_or(0);
    for place in places {
        let rides = match place.rides.len() {
            0 => "no ride yet".to_owned(),
            1 => "one ride".to_owned(),
            n => format!("{n} rides"),
        };
        let last = place.rides.iter().filter_map(|ride| ride.let_go).max();
        let last = last.map_or_else(String::new, |at| format!(", last {}", date(at)));
        let _ = writeln!(out, "{:widest$}  {}  {rides}{last}", place.name, place.position);
    }
    out
}

/// All that is known of a place; notes in force on the day stand first.
#[must_use]
pub fn page(place: &Place, today: Option<Day>) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}  {}", place.name, place.position);
    if !place.shelter.is_empty() {
        push_wrapped(&mut out, "  ", &format!("shelter: {}", place.shelter));
    }
    for sector in &place.barred {
        let _ = writeln!(out, "  not in winds from {} to {}", sector.from, sector.to);
    }
    let in_force = |note: &&PlaceNote| match (note.season, today) {
        (Some(season), Some(today)) => season.holds(today),
        _ => true,
    };
    for note in place.notes.iter().filter(in_force) {
        push_wrapped(&mut out, "  ", &note.text);
    }
    for note in place.notes.iter().filter(|note| !in_force(note)) {
        if let Some(Season { from, to }) = note.season {
            let season = format!("{:02}-{:02} to {:02}-{:02}", from.month, from.day, to.month, to.day);
            push_wrapped(&mut out, "  ", &format!("({season}: {})", note.text));
        }
    }
    for (name, position) in &place.marks {
        let (distance, bearing) = place.position.distance_and_bearing_to(*position);
        let _ = writeln!(out, "  mark {name}: {bearing} true, {:.0} m", distance.0);
    }
    if let (Some(least), Some(most), Some(last)) = (
        place.soundings.iter().map(|s| s.charted).reduce(Metres::min),
        place.soundings.iter().map(|s| s.charted).reduce(Metres::max),
        place.soundings.last(),
    ) {
        let count = place.soundings.len();
        let on = date(last.on);
        let _ = writeln!(out, "  {count} soundings, {:.1} to {:.1} m at datum, last {on}", least.0, most.0);
    }
    for ride in place.rides.iter().rev() {
        let when = ride.let_go.map_or_else(|| "some day".to_owned(), date);
        push_wrapped(&mut out, "  ", &format!("{when}: {}", ride.held));
    }
    out
}

/// What is said to a crew that comes near: name, notes in force, the last depth under her or about the place.
#[must_use]
pub fn offer(place: &Place, distance: Metres, here: Position, today: Option<Day>) -> String {
    let mut words = format!("{} is {:.1} miles off.", place.name, distance.0 / 1852.0);
    if let Some(today) = today {
        for note in place.notes_on(today) {
            let _ = write!(words, " {}.", note.text.trim_end_matches('.'));
        }
    }
    let sounding = place.last_sounding(here).or_else(|| place.soundings.last().copied());
    if let Some(sounding) = sounding {
        let _ = write!(words, " {:.1} m at datum, {}.", sounding.charted.0, date(sounding.on));
    }
    if let Some(ride) = place.rides.last() {
        let _ = write!(words, " Last time: {}", ride.held);
    }
    words
}

/// GPX 1.1: a waypoint a place.
#[must_use]
pub fn gpx(places: &[Place]) -> String {
    gpx::gpx(&html! {
        @for place in places { (gpx::waypoint(place.position, None, &place.name, &about(place))) }
    })
}

/// GeoJSON (RFC 7946): a point a place.
#[must_use]
pub fn geojson(places: &[Place]) -> Value {
    let features: Vec<Value> = places
        .iter()
        .map(|place| {
            let (lat, lon) = (place.position.lat_deg(), place.position.lon_deg());
            json!({
                "type": "Feature",
                "geometry": { "type": "Point", "coordinates": [lon, lat] },
                "properties": { "name": place.name, "desc": about(place) },
            })
        })
        .collect();
    json!({ "type": "FeatureCollection", "features": features })
}

fn about(place: &Place) -> String {
    let notes = place.notes.iter().map(|note| note.text.clone());
    std::iter::once(place.shelter.clone())
        .chain(notes)
        .filter(|words| !words.is_empty())
        .collect::<Vec<_>>()
        .join("; ")
}

/// Why a text gives no places.
#[derive(Debug, thiserror::Error)]
pub enum GeojsonError {
    /// No JSON at all.
    #[error("it is no GeoJSON: {0}")]
    NotJson(#[from] serde_json::Error),
    /// JSON of another kind.
    #[error("it is no GeoJSON: it has no features")]
    NoFeatures,
}

/// Places out of GeoJSON: its points that have a name.
///
/// # Errors
/// If it is no GeoJSON.
pub fn from_geojson(text: &str) -> Result<Vec<Place>, GeojsonError> {
    let value: Value = serde_json::from_str(text)?;
    let features = value["features"].as_array().ok_or(GeojsonError::NoFeatures)?;
    Ok(features
        .iter()
        .filter(|feature| feature["geometry"]["type"] == "Point")
        .filter_map(|feature| {
            let at = &feature["geometry"]["coordinates"];
            let position = Position::new(at[1].as_f64()?, at[0].as_f64()?).ok()?;
            named(feature["properties"]["name"].as_str()?, position, feature["properties"]["desc"].as_str())
        })
        .collect())
}

/// A place with what another program says of it; `None` without a name.
#[must_use]
pub fn named(name: &str, position: Position, about: Option<&str>) -> Option<Place> {
    let name: String = name.chars().filter(|c| !c.is_control()).take(60).collect();
    let mut place = Place::new(name.trim(), position);
    if let Some(text) = about.map(str::trim).filter(|text| !text.is_empty()) {
        let text = text.chars().filter(|c| !c.is_control()).take(500).collect();
        place.notes.push(PlaceNote { text, season: None });
    }
    (!place.name.is_empty()).then_some(place)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::place::PlaceRide;

    fn hollow() -> Place {
        let mut place = Place::new("Hollow <Ness>", Position::new(54.2, 10.4).unwrap());
        let season = Season { from: Day { month: 4, day: 1 }, to: Day { month: 7, day: 31 } };
        place.notes = vec![
            PlaceNote { text: "terns nest on the west shore".into(), season: Some(season) },
            PlaceNote { text: "weed in the north".into(), season: None },
        ];
        place.rides =
            vec![PlaceRide { let_go: Some(WatchTime(1_780_430_400_000)), held: "held in 30 kn".into() }];
        place
    }

    #[test]
    fn an_offer_tells_what_is_in_force_on_the_day() {
        let place = hollow();
        let offer = |month| offer(&place, Metres(926.0), place.position, Some(Day { month, day: 3 }));
        assert!(
            offer(6).contains("0.5 miles off. terns nest") && offer(6).contains("Last time: held"),
            "{}",
            offer(6)
        );
        assert!(!offer(9).contains("terns") && offer(9).contains("weed"), "{}", offer(9));
    }

    #[test]
    fn places_go_out_and_come_back_by_name_and_position() {
        let back = from_geojson(&geojson(&[hollow()]).to_string()).unwrap();
        assert_eq!((back[0].name.as_str(), back[0].position), ("Hollow <Ness>", hollow().position));
        assert!(gpx(&[hollow()]).contains("<name>Hollow &lt;Ness&gt;</name>"));
        assert!(matches!(from_geojson("{}"), Err(GeojsonError::NoFeatures)));
        assert!(page(&hollow(), Some(Day { month: 9, day: 1 })).contains("(04-01 to 07-31: terns"));
    }
}
