//! What the book knows of the place that a plan names.

use std::path::PathBuf;

use crate::edge::book::Book;
use crate::edge::places::default_rides;
use crate::watch::place::Place;
use crate::watch::plan::Asked;
use crate::watch::rode::fetch_in_words;

/// The answers, and in words what was taken, with what the book beside these rides knows of the place named in them, as far as nothing else was said. A book
/// that cannot be read keeps no plan from being made.
pub(super) fn with_known_place(asked: Asked, rides: Option<&PathBuf>) -> (Asked, Option<String>) {
    let Some(rides) = rides.cloned().or_else(|| default_rides().ok()) else { return (asked, None) };
    let named = |place: &Place| {
        asked.place.as_deref().is_some_and(|name| place.name.eq_ignore_ascii_case(name.trim()))
    };
    let found = Book::beside(&rides).entries().0.into_iter().map(|entry| entry.place).find(named);
    let Some(place) = found else { return (asked, None) };
    let (filled, taken) = filled(asked, &place);
    let words = format!("From the book, {}: {}.", place.name, taken.join(", "));
    (filled, (!taken.is_empty()).then_some(words))
}

/// The answers, and what was taken into them.
fn filled(mut asked: Asked, place: &Place) -> (Asked, Vec<&'static str>) {
    let mut taken = Vec::new();
    if asked.here.is_none() {
        asked.here = Some(place.position);
        taken.push("position");
    }
    if let (None, Some(seabed)) = (asked.seabed, place.seabed) {
        asked.seabed = Some(seabed);
        taken.push("bottom");
    }
    if asked.fetch.is_none() && !place.open.fetch.is_empty() {
        asked.fetch = Some(fetch_in_words(&place.open.fetch));
        asked.fetch_depth = asked.fetch_depth.or(place.open.depth);
        taken.push("open water");
    }
    if asked.shore.is_empty() && !place.shore.is_empty() {
        asked.shore.clone_from(&place.shore);
        taken.push("shore");
    }
    if let (None, Some(way)) = (asked.way_out, place.way_out) {
        asked.way_out = Some(way);
        taken.push("way out");
    }
    (asked, taken)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::geo::Position;
    use crate::watch::rode::{OpenWater, Seabed, parse_fetch};
    use crate::watch::units::Metres;

    #[test]
    fn a_named_place_fills_in_what_was_not_said_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let rides = folder.path().to_path_buf();
        let open = OpenWater { fetch: parse_fetch("SW 2").unwrap(), depth: Some(Metres(8.0)) };
        let hollow = Place {
            seabed: Some(Seabed::Mud),
            open,
            ..Place::new("Hollow Ness", Position::new(54.2, 10.4).unwrap())
        };
        Book::beside(&rides).add(&hollow).unwrap();
        let named = |asked: Asked| {
            with_known_place(Asked { place: Some("hollow ness".into()), ..asked }, Some(&rides)).0
        };
        let bare = named(Asked::default());
        assert_eq!((bare.seabed, bare.fetch.as_deref()), (Some(Seabed::Mud), Some("SW 2")));
        assert_eq!((bare.fetch_depth, bare.here), (Some(Metres(8.0)), Some(hollow.position)));
        let said = named(Asked { seabed: Some(Seabed::Sand), ..Asked::default() });
        assert_eq!(said.seabed, Some(Seabed::Sand));
        let other = Asked { place: Some("Cold Hole".into()), ..Asked::default() };
        assert_eq!(with_known_place(other.clone(), Some(&rides)), (other, None));
    }
}
