//! A review's track, marks and samples for other programs: GPX 1.1, GeoJSON (RFC 7946) and CSV (RFC 4180).

use std::fmt::Write as _;

use maud::html;
use serde_json::{Value, json};

use super::json::time;
use super::{Review, Sample};
use crate::report::gpx;
use crate::watch::geo::Position;
use crate::watch::units::{Metres, TrueBearing, WatchTime};

/// Sides of a circle drawn as a polygon: it errs by 0.03 % of its radius.
const SIDES: u32 = 72;
/// Points of the track farther apart in time are not joined.
const JOINED_MS: i64 = 5 * 60_000;

/// GPX 1.1: the drop point, where the anchor was thought to lie and the alerts as waypoints, then the track of the bow.
#[must_use]
pub fn gpx(review: &Review) -> String {
    let name = if review.ride.place.is_empty() { &review.read.name } else { &review.ride.place };
    gpx::gpx(&html! {
        @for mark in marks(review) {
            (gpx::waypoint(mark.position, mark.at.map(time).as_deref(), &mark.name, &mark.about))
        }
        trk {
            name { (name) } "\n"
            @for piece in pieces(review) {
                trkseg { "\n" @for (at, position) in piece { (gpx::track_point(*position, &time(*at))) } } "\n"
            }
        } "\n"
    })
}

/// GeoJSON: the track of the bow, circle and reach as polygons, marks as points.
#[must_use]
pub fn geojson(review: &Review) -> Value {
    let feature = |geometry: Value, properties: Value| json!({ "type": "Feature", "geometry": geometry, "properties": properties });
    let mut features = Vec::new();
    let lines: Vec<Value> = pieces(review)
        .filter(|piece| piece.len() > 1)
        .map(|piece| piece.iter().map(|(_, at)| coordinates(*at)).collect())
        .collect();
    if !lines.is_empty() {
        let times: Vec<Vec<String>> = pieces(review)
            .filter(|piece| piece.len() > 1)
            .map(|piece| piece.iter().map(|(at, _)| time(*at)).collect())
            .collect();
        features.push(feature(
            json!({ "type": "MultiLineString", "coordinates": lines }),
            json!({ "what": "track", "times": times }),
        ));
    }
    if let Some(drop) = review.ride.drop {
        for (what, radius) in [("circle", review.circle.set), ("reach", review.holding.reach)] {
            if let Some(radius) = radius {
                features.push(feature(polygon(drop, radius), json!({ "what": what, "radius_m": radius.0 })));
            }
        }
    }
    for Mark { what, at, position, name, about } in marks(review) {
        features.push(feature(
            json!({ "type": "Point", "coordinates": coordinates(position) }),
            json!({ "what": what, "name": name, "about": about, "at": at.map(time) }),
        ));
    }
    json!({ "type": "FeatureCollection", "features": features })
}

/// CSV: a line about every minute, names of the columns with their units in the first.
#[must_use]
pub fn csv(review: &Review) -> String {
    let mut out = String::from(
        "at_utc,lat_deg,lon_deg,distance_m,reach_m,circle_m,wind_kn,gust_kn,wind_from_deg_true,heading_deg_true,\
         depth_m,predicted_m,under_keel_m,load_n,evidence_percent,anchor_lat_deg,anchor_lon_deg,anchor_sigma_m\r\n",
    );
    for sample in &review.samples {
        push_line(&mut out, sample);
    }
    out
}

fn push_line(out: &mut String, sample: &Sample) {
    let anchor = sample.anchor;
    let fields: [(Option<f64>, usize); 17] = [
        (sample.bow.map(Position::lat_deg), 7),
        (sample.bow.map(Position::lon_deg), 7),
        (sample.distance.map(|m| m.0), 2),
        (sample.reach.map(|m| m.0), 2),
        (sample.circle.map(|m| m.0), 2),
        (sample.wind.map(|kn| kn.0), 2),
        (sample.gust.map(|kn| kn.0), 2),
        (sample.direction.map(TrueBearing::degrees), 1),
        (sample.heading.map(TrueBearing::degrees), 1),
        (sample.sounded.map(|m| m.0), 2),
        (sample.predicted.map(|m| m.0), 2),
        (sample.under_keel.map(|m| m.0), 2),
        (sample.load.map(|n| n.0), 0),
        (sample.evidence, 1),
        (anchor.map(|a| a.centre.lat_deg()), 7),
        (anchor.map(|a| a.centre.lon_deg()), 7),
        (anchor.map(|a| a.major.0), 2),
    ];
    out.push_str(&time(sample.at));
    for (value, decimals) in fields {
        match value.filter(|value| value.is_finite()) {
            Some(value) => {
                let _ = write!(out, ",{value:.decimals$}");
            }
            None => out.push(','),
        }
    }
    out.push_str("\r\n");
}

/// A place worth a mark.
struct Mark {
    what: &'static str,
    at: Option<WatchTime>,
    position: Position,
    name: String,
    about: String,
}

fn marks(review: &Review) -> Vec<Mark> {
    let mut marks = Vec::new();
    if let Some(position) = review.ride.drop {
        marks.push(Mark {
            what: "drop",
            at: review.ride.began,
            position,
            name: "drop point".into(),
            about: review.ride.veered.map_or_else(String::new, |m| format!("{:.0} m of rode out", m.0)),
        });
    }
    if let Some((position, error)) = review.holding.anchor {
        marks.push(Mark {
            what: "anchor",
            at: None,
            position,
            name: "anchor, as thought".into(),
            about: format!("within about {:.0} m", 2.0 * error.0),
        });
    }
    for alarm in &review.alarms {
        let after = review.track.partition_point(|(at, _)| *at < alarm.raised);
        let Some((at, position)) = review.track.get(after) else { continue };
        if at.0 - alarm.raised.0 <= JOINED_MS {
            marks.push(Mark {
                what: "alert",
                at: Some(alarm.raised),
                position: *position,
                name: alarm.kind.name().into(),
                about: alarm.reason.what.clone(),
            });
        }
    }
    marks
}

/// The track in pieces without holes.
fn pieces(review: &Review) -> impl Iterator<Item = &[(WatchTime, Position)]> {
    review.track.chunk_by(|before, after| after.0.0 - before.0.0 <= JOINED_MS)
}

/// Longitude comes first (RFC 7946, section 3.1.1), in ten-millionths of a degree: about a centimetre.
fn coordinates(position: Position) -> Value {
    let rounded = |degrees: f64| (degrees * 1e7).round() / 1e7;
    json!([rounded(position.lon_deg()), rounded(position.lat_deg())])
}

/// A circle as a closed ring, anticlockwise (RFC 7946, section 3.1.6).
fn polygon(centre: Position, radius: Metres) -> Value {
    let ring: Vec<Value> = (0..=SIDES)
        .map(|i| {
            let bearing = TrueBearing::new(-360.0 * f64::from(i % SIDES) / f64::from(SIDES));
            coordinates(centre.destination(bearing, radius))
        })
        .collect();
    json!({ "type": "Polygon", "coordinates": [ring] })
}
