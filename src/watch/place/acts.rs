//! What the book of places knows of where she is, taken along by the watch.

use std::sync::Arc;

use super::super::Watch;
use super::super::boat::{Berth, Sector};
use super::super::refusal::Refusal;
use super::super::units::WatchTime;
use super::{Day, LastTime, NEAR, Place, PlaceView};

/// The place that was entered, and what was taken over from it.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Known {
    place: Option<Place>,
    /// Its barred sectors stand among the limits, for nobody had set any.
    barred: Vec<Sector>,
}

impl Watch {
    /// The book knows a place near by. At anchor it is one where she lies already.
    pub(in super::super) fn come_near(&mut self, at: WatchTime, place: Place) {
        self.night.happened(at, format!("near {}, which is in the book", place.name), false);
        self.known.place = Some(place);
        if self.ride.anchored() {
            self.take_over(at);
        }
    }

    /// Takes over what the book knows of the place where the anchor went down: its marks, and its barred sectors where
    /// the crew has set none of their own.
    pub(in super::super) fn take_over(&mut self, at: WatchTime) {
        let here = self.origin();
        let near = |place: &&Place| here.is_some_and(|here| place.position.distance_to(here) <= NEAR);
        let Some(place) = self.known.place.as_ref().filter(near).cloned() else { return };
        // A name that the crew has given already is theirs.
        let taken: Vec<&str> = place
            .marks
            .iter()
            .filter(|(name, position)| self.marks.add(name, *position).is_ok())
            .map(|(name, _)| name.as_str())
            .collect();
        if !taken.is_empty() {
            let words = format!("marks of {} taken over: {}", place.name, taken.join(", "));
            self.night.happened(at, words, false);
        }
        if let (None, Some(way)) = (self.way_out, place.way_out) {
            self.way_out = Some(way);
            self.night.happened(at, format!("way out of {}: {way}", place.name), false);
        }
        self.fill_berth(at, &place);
        if self.limits.barred.is_empty() && !place.barred.is_empty() {
            self.limits.barred.clone_from(&place.barred);
            self.known.barred.clone_from(&place.barred);
            self.night.happened(at, format!("barred sectors of {} taken over", place.name), false);
        }
    }

    /// The crew says what it knows of the berth, in place of what it said before.
    pub(in super::super) fn enter_berth(&mut self, at: WatchTime, berth: Berth) {
        if let Err(wrong) = berth.lockers(&self.settings.tackle) {
            self.refuse(at, Refusal::Snubber(wrong));
            return;
        }
        self.night.happened(at, format!("berth: {}", berth.in_words()), false);
        self.set_berth(berth);
    }

    /// What the book knows of the place stands in for what the crew has not said.
    fn fill_berth(&mut self, at: WatchTime, place: &Place) {
        let (mut berth, mut taken) = (self.berth.clone(), Vec::new());
        if berth.seabed.is_none() && place.seabed.is_some() {
            berth.seabed = place.seabed;
            taken.push("bottom");
        }
        if berth.open.fetch.is_empty() && !place.open.fetch.is_empty() {
            berth.open = place.open.clone();
            taken.push("open water");
        }
        if berth.shore.is_empty() && !place.shore.is_empty() {
            berth.shore.clone_from(&place.shore);
            taken.push("shore");
        }
        if !taken.is_empty() {
            self.night.happened(at, format!("{} of {} taken over", taken.join(", "), place.name), false);
            self.set_berth(berth);
        }
    }

    fn set_berth(&mut self, berth: Berth) {
        self.berth = berth;
        self.assessor.rode_changed();
        self.night_changed();
    }

    /// She leaves: what was taken over from the place goes with it, unless the crew has changed it since.
    pub(in super::super) fn hand_back(&mut self) {
        let taken = std::mem::take(&mut self.known.barred);
        if !taken.is_empty() && self.limits.barred == taken {
            self.limits.barred.clear();
        }
    }

    /// The place of the book within a mile of her.
    pub(in super::super) fn place_view(&self, now: WatchTime) -> Option<PlaceView> {
        let place = self.known.place.as_ref()?;
        let (plane, lie) = (self.ride.plane()?, self.ride.lie()?);
        let (distance, bearing) = plane.to_position(lie.point()).distance_and_bearing_to(place.position);
        let today = Day::of(now);
        (distance <= NEAR).then(|| PlaceView {
            name: Arc::from(place.name.as_str()),
            distance,
            bearing,
            shelter: place.shelter.clone(),
            barred: place.barred.clone(),
            notes: today.map_or_else(Vec::new, |day| place.notes_on(day).map(|n| n.text.clone()).collect()),
            last_ride: place.rides.last().cloned(),
        })
    }

    /// The depth under her as it was found before.
    pub(in super::super) fn last_time(&self, now: WatchTime) -> Option<LastTime> {
        let here = self.sounding_here(now)?;
        let last = self.known.place.as_ref()?.last_sounding(here.position)?;
        Some(LastTime {
            charted: last.charted,
            on: last.on,
            shoaled: here.charted.map(|charted| last.charted - charted),
        })
    }
}
