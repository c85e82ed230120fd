//! GPX 1.1: waypoints and tracks for other programs.

use maud::{Markup, PreEscaped, html};

use super::markup::{XML, file};
use crate::watch::geo::Position;

/// A point with its name and what is to be known of it; `time` as RFC 3339.
pub(super) fn waypoint(position: Position, time: Option<&str>, name: &str, about: &str) -> Markup {
    html! {
        wpt lat=(degrees(position.lat_deg())) lon=(degrees(position.lon_deg())) {
            @if let Some(time) = time { time { (time) } }
            name { (name) }
            desc { (about) }
        } "\n"
    }
}

/// A point of a track; `time` as RFC 3339.
pub(super) fn track_point(position: Position, time: &str) -> Markup {
    html! {
        trkpt lat=(degrees(position.lat_deg())) lon=(degrees(position.lon_deg())) { time { (time) } } "\n"
    }
}

/// The file about what it holds: waypoints first, then tracks, as the schema has it.
pub(super) fn gpx(holds: &Markup) -> String {
    file(html! {
        (PreEscaped(XML))
        gpx version="1.1" creator="nightrode" xmlns="http://www.topografix.com/GPX/1/1" {
            "\n" (holds)
        }
    })
}

/// In ten-millionths of a degree: about a centimetre.
fn degrees(degrees: f64) -> String {
    format!("{degrees:.7}")
}
