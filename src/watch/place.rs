//! A place to anchor, as the crew knows it from earlier visits.

use super::boat::Sector;
use super::geo::Position;
use super::units::{Metres, WatchTime};

/// A place nearer than this is offered: a mile.
pub const NEAR: Metres = Metres(1852.0);
/// Soundings nearer to each other than this are of one spot: a receiver's error on both days, and a boat's swing.
pub const SAME_SPOT: Metres = Metres(30.0);

/// A day of any year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day {
    /// `1..=12`.
    pub month: u8,
    /// `1..=31`.
    pub day: u8,
}

/// Part of every year, both days within it; it may run over new year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Season {
    /// Its first day.
    pub from: Day,
    /// Its last day.
    pub to: Day,
}

impl Season {
    /// Whether a day lies in it.
    #[must_use]
    pub fn holds(self, day: Day) -> bool {
        if self.from <= self.to {
            (self.from..=self.to).contains(&day)
        } else {
            day >= self.from || day <= self.to
        }
    }
}

/// Something to know about a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlaceNote {
    /// In words: "keep 150 m off the west shore, terns nest".
    pub text: String,
    /// When; `None`: always.
    pub season: Option<Season>,
}

/// A depth that was found there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceSounding {
    /// Where.
    pub position: Position,
    /// Reduced to the datum of the tide of that day.
    pub charted: Metres,
    /// When.
    pub on: WatchTime,
}

/// A stay there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlaceRide {
    /// When the anchor was let go.
    pub let_go: Option<WatchTime>,
    /// How she held, in words.
    pub held: String,
}

/// A place.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its name.
    pub name: String,
    /// Where one anchors.
    pub position: Position,
    /// From what wind and swell it shelters, in words.
    pub shelter: String,
    /// Winds not to lie in.
    pub barred: Vec<Sector>,
    /// Marks to take bearings of.
    pub marks: Vec<(String, Position)>,
    /// What to know.
    pub notes: Vec<PlaceNote>,
    /// Depths found, oldest first.
    pub soundings: Vec<PlaceSounding>,
    /// Stays, oldest first.
    pub rides: Vec<PlaceRide>,
}

impl Place {
    /// A place of which no more is known.
    #[must_use]
    pub fn new(name: &str, position: Position) -> Self {
        Self {
            name: name.to_owned(),
            position,
            shelter: String::new(),
            barred: Vec::new(),
            marks: Vec::new(),
            notes: Vec::new(),
            soundings: Vec::new(),
            rides: Vec::new(),
        }
    }

    /// Notes in force on a day.
    pub fn notes_on(&self, day: Day) -> impl Iterator<Item = &PlaceNote> {
        self.notes.iter().filter(move |note| note.season.is_none_or(|season| season.holds(day)))
    }

    /// The latest depth found about a spot, so that silting shows.
    #[must_use]
    pub fn last_sounding(&self, spot: Position) -> Option<PlaceSounding> {
        let near = self.soundings.iter().filter(|sounding| sounding.position.distance_to(spot) <= SAME_SPOT);
        near.max_by_key(|sounding| sounding.on).copied()
    }
}

/// The nearest place within a mile.
#[must_use]
pub fn nearest(places: &[Place], position: Position) -> Option<(&Place, Metres)> {
    places
        .iter()
        .map(|place| (place, place.position.distance_to(position)))
        .filter(|(_, distance)| *distance <= NEAR)
        .min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(month: u8, day: u8) -> Day {
        Day { month, day }
    }

    #[test]
    fn a_season_may_run_over_new_year() {
        let nesting = Season { from: day(4, 1), to: day(7, 31) };
        assert!(nesting.holds(day(4, 1)) && nesting.holds(day(7, 31)) && !nesting.holds(day(8, 1)));
        let winter = Season { from: day(11, 1), to: day(2, 28) };
        assert!(winter.holds(day(12, 31)) && winter.holds(day(1, 1)) && !winter.holds(day(3, 1)));
    }

    #[test]
    fn the_nearest_place_within_a_mile_is_offered_and_the_last_depth_of_a_spot() {
        let at = |lat: f64| Position::new(lat, 10.4).unwrap();
        let mut hollow = Place::new("Hollow Ness", at(54.2));
        let sounding = |lat: f64, charted: f64, on: i64| PlaceSounding {
            position: at(lat),
            charted: Metres(charted),
            on: WatchTime(on),
        };
        hollow.soundings = vec![sounding(54.2, 2.4, 1), sounding(54.200_1, 2.1, 2), sounding(54.21, 9.0, 3)];
        let places = [Place::new("Cold Hole", at(54.22)), hollow];
        let (place, distance) = nearest(&places, at(54.205)).unwrap();
        assert_eq!(place.name, "Hollow Ness");
        assert!((distance.0 - 556.0).abs() < 2.0);
        assert_eq!(nearest(&places, at(54.3)).map(|(place, _)| &place.name), None);
        assert_eq!(place.last_sounding(at(54.2)).map(|sounding| sounding.charted), Some(Metres(2.1)));
    }
}
