//! A place to anchor, as the crew knows it from earlier visits.

mod acts;

use std::cmp::Reverse;
use std::sync::Arc;

use jiff::Timestamp;
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

pub(super) use self::acts::Known;
use super::boat::Sector;
use super::geo::Position;
use super::rode::{OpenWater, Seabed};
use super::units::{Metres, TrueBearing, WatchTime};
use super::way_out::WayOut;

/// A place nearer than this is offered: a mile.
pub const NEAR: Metres = Metres(1852.0);
/// Soundings nearer to each other than this are of one spot: a receiver's error on both days, and a boat's swing.
pub const SAME_SPOT: Metres = Metres(30.0);
/// So many of its soundings go with a place to the watch: the latest of those within a mile of her.
const SOUNDINGS_AT_HAND: usize = 500;

/// A day of any year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Day {
    /// `1..=12`.
    pub month: u8,
    /// `1..=31`.
    pub day: u8,
}

/// Part of every year, both days within it; it may run over new year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Season {
    /// Its first day.
    pub from: Day,
    /// Its last day.
    pub to: Day,
}

impl Day {
    /// The day of a moment, UTC; `None` beyond the calendar.
    #[must_use]
    pub fn of(at: WatchTime) -> Option<Self> {
        let date = Offset::UTC.to_datetime(Timestamp::from_millisecond(at.0).ok()?);
        Some(Self { month: date.month().unsigned_abs(), day: date.day().unsigned_abs() })
    }
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
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlaceNote {
    /// In words: "keep 150 m off the west shore, terns nest".
    pub text: String,
    /// When; `None`: always.
    pub season: Option<Season>,
}

/// A depth that was found there.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlaceSounding {
    /// Where.
    pub position: Position,
    /// Reduced to the datum of the tide of that day.
    pub charted: Metres,
    /// When.
    pub on: WatchTime,
}

/// A stay there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlaceRide {
    /// When the anchor was let go.
    pub let_go: Option<WatchTime>,
    /// How she held, in words.
    pub held: String,
}

/// A place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Its name.
    pub name: String,
    /// Where one anchors.
    pub position: Position,
    /// From what wind and swell it shelters, in words.
    pub shelter: String,
    /// Winds not to lie in.
    pub barred: Vec<Sector>,
    /// The bottom.
    #[serde(default)]
    pub seabed: Option<Seabed>,
    /// The open water about it.
    #[serde(default)]
    pub open: OpenWater,
    /// Bearings from where one anchors on which land or shoal water lies.
    #[serde(default)]
    pub shore: Vec<Sector>,
    /// The course that is safe to steer from there.
    #[serde(default)]
    pub way_out: Option<WayOut>,
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
            seabed: None,
            open: OpenWater::default(),
            shore: Vec::new(),
            way_out: None,
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

    /// The place as it is of use to a watch that is here: without the soundings far away, and of the others the latest,
    /// so that a book kept for years stays small where it is carried along.
    #[must_use]
    pub fn at_hand(&self, here: Position) -> Self {
        let near = self.soundings.iter().filter(|sounding| sounding.position.distance_to(here) <= NEAR);
        let mut soundings: Vec<PlaceSounding> = near.copied().collect();
        soundings.sort_by_key(|sounding| Reverse(sounding.on));
        soundings.truncate(SOUNDINGS_AT_HAND);
        soundings.reverse();
        Self { soundings, ..self.clone() }
    }
}

/// A place of the book near by, as the screen shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceView {
    /// Its name.
    pub name: Arc<str>,
    /// How far she is from where one anchors there.
    pub distance: Metres,
    /// And which way that lies from her.
    pub bearing: TrueBearing,
    /// From what it shelters, in words; empty if nobody wrote it.
    pub shelter: String,
    /// Winds not to lie in.
    pub barred: Vec<Sector>,
    /// What to know today.
    pub notes: Vec<String>,
    /// The last stay there.
    pub last_ride: Option<PlaceRide>,
}

/// The depth at a spot as it was found before, against now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LastTime {
    /// Reduced to the datum of the tide entered then.
    pub charted: Metres,
    /// When.
    pub on: WatchTime,
    /// So much less water is there now, both reduced to datum: it silts up. Negative: it is deeper. `None` without a
    /// tide entered now. Two tables with different datums, or a day of high air pressure, make a difference of their own.
    pub shoaled: Option<Metres>,
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

    #[test]
    fn what_is_carried_along_is_near_and_new_and_bounded() {
        let at = |lat: f64| Position::new(lat, 10.4).unwrap();
        let mut hollow = Place::new("Hollow Ness", at(54.2));
        hollow.soundings = (0..2000)
            .map(|i| PlaceSounding {
                position: at(if i % 2 == 0 { 54.2 } else { 54.3 }),
                charted: Metres(2.0),
                on: WatchTime(i),
            })
            .collect();
        let carried = hollow.at_hand(at(54.2)).soundings;
        assert_eq!(carried.len(), SOUNDINGS_AT_HAND);
        assert_eq!(carried.last().map(|sounding| sounding.on), Some(WatchTime(1998)));
        assert!(carried.iter().all(|sounding| sounding.position == at(54.2)));
    }

    #[test]
    fn a_day_is_that_of_utc() {
        assert_eq!(Day::of(WatchTime(1_780_430_400_000)), Some(day(6, 2)));
        assert_eq!(Day::of(WatchTime(i64::MAX)), None);
    }
}
