//! Has she come to rest, though nobody marked a drop?

use std::collections::VecDeque;

use crate::watch::geo::{Local, Plane, Position};
use crate::watch::units::{Span, WatchTime};

/// She lies here once she has stayed so long …
const STAYED: Span = Span::from_mins(10);
/// … within so many metres of the middle of her track.
const WITHIN_M: f64 = 60.0;

/// Follows a boat of which no drop is known until she has come to rest.
#[derive(Clone, Debug, Default)]
pub(super) struct Search {
    plane: Option<Plane>,
    /// One place a minute, oldest first, over [`STAYED`].
    places: VecDeque<(WatchTime, Local)>,
}

impl Search {
    /// Takes a fix; answers with the plane and the middle of her track once she lies at rest.
    pub fn fix(&mut self, at: WatchTime, position: Position) -> Option<(Plane, Local)> {
        let mut plane = *self.plane.get_or_insert_with(|| Plane::new(position));
        let mut local = plane.to_local(position);
        if local.length_m() > 5000.0 {
            // Under way for miles: begin anew here, before the plane is no longer flat.
            plane = Plane::new(position);
            (self.plane, local) = (Some(plane), Local::default());
            self.places.clear();
        }
        if self.places.back().is_none_or(|(last, _)| at.since(*last) >= Span::from_secs(50)) {
            self.places.push_back((at, local));
        }
        while self.places.len() > 2 && at.since(self.places[1].0) >= STAYED {
            self.places.pop_front();
        }
        let (first, _) = self.places.front()?;
        if at.since(*first) < STAYED || self.places.len() < 6 {
            return None;
        }
        let count = self.places.len() as f64;
        let middle = self.places.iter().fold(Local::default(), |sum, (_, p)| sum + *p).scaled(1.0 / count);
        let rests = self.places.iter().all(|(_, p)| (*p - middle).length_m() < WITHIN_M);
        rests.then_some((plane, middle))
    }
}
