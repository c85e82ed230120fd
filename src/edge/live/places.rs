//! The book of places beside a watch: what it knows is offered to who comes near, and what a ride showed is kept in it.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};

use crate::edge::book::Book;
use crate::edge::keeper::Order;
use crate::edge::said::Said;
use crate::report::places::offer;
use crate::watch::geo::Position;
use crate::watch::input::Command;
use crate::watch::output::Keepsake;
use crate::watch::place::{Day, NEAR, Place, nearest};
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::{Span, WatchTime};

/// Looks for a place within a mile this often by the watch's time, while no anchor is down.
const LOOK_EVERY: Span = Span::from_secs(5);
/// But no oftener than this: a simulated night runs fast.
const PAUSE: Duration = Duration::from_millis(200);
/// From so many times the distance at which it was offered, a place is offered anew on coming back.
const LEFT: f64 = 2.0;

/// Keeps the place of a ride that is over in the book; says so, or why not.
pub(super) async fn keep_place(book: Option<Book>, kept: Box<Keepsake>) -> String {
    let Some(book) = book else { return String::new() };
    // A slow disk holds up nobody but this.
    match tokio::task::spawn_blocking(move || book.keep(&kept)).await {
        Ok(Ok(Some(path))) => format!(" The place is kept in {}.", path.display()),
        Ok(Ok(None)) => String::new(),
        Ok(Err(error)) => format!(" The place could not be kept in the book ({error})."),
        Err(_) => " The place could not be kept in the book.".to_owned(),
    }
}

/// Looks out for places of the book.
pub(super) struct Nearness {
    book: Book,
    notices: mpsc::UnboundedSender<Said>,
    orders: mpsc::UnboundedSender<Order>,
    offered: Option<Place>,
}

impl Nearness {
    pub(super) fn new(
        book: Book,
        notices: mpsc::UnboundedSender<Said>,
        orders: mpsc::UnboundedSender<Order>,
    ) -> Self {
        Self { book, notices, orders, offered: None }
    }

    /// Offers a place to a crew that comes near it, once a visit, and gives the watch what the book knows of it. Who
    /// weighs has been there: the place is not offered then.
    pub(super) async fn offer_places(mut self, mut snapshots: watch::Receiver<Arc<Snapshot>>) {
        let mut looked: Option<WatchTime> = None;
        let mut comes = true;
        while snapshots.changed().await.is_ok() {
            let snapshot = Arc::clone(&snapshots.borrow_and_update());
            comes &= snapshot.stage == Stage::NotSet;
            let soon = looked.is_some_and(|then| snapshot.at.since(then) < LOOK_EVERY);
            if let (Stage::NotSet, Some(here), false) = (snapshot.stage, snapshot.fix.position, soon) {
                looked = Some(snapshot.at);
                let book = self.book.clone();
                let read = tokio::task::spawn_blocking(move || book.entries().0).await;
                let places: Vec<Place> =
                    read.unwrap_or_default().into_iter().map(|entry| entry.place).collect();
                self.look(&places, here, Day::of(snapshot.at), comes);
                comes = true;
            }
            tokio::time::sleep(PAUSE).await;
        }
    }

    fn look(&mut self, places: &[Place], here: Position, today: Option<Day>, comes: bool) {
        let left = |place: &Place| place.position.distance_to(here) > NEAR * LEFT;
        if self.offered.as_ref().is_some_and(left) {
            self.offered = None;
        }
        let Some((place, distance)) = nearest(places, here) else { return };
        // What the crew writes into the book meanwhile is given to the watch, and not offered twice.
        let known = self.offered.as_ref().filter(|offered| offered.name == place.name);
        if known.is_none() && comes {
            let _ = self.notices.send(Said::Notice(offer(place, distance, here, today)));
        }
        if known != Some(place) {
            self.offered = Some(place.clone());
            let place = Box::new(place.at_hand(here));
            let _ = self.orders.send(Order::Crew(Command::Near { place }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::Watch;
    use crate::watch::boat::Settings;
    use crate::watch::place::PlaceNote;

    fn at(lat: f64) -> Position {
        Position::new(lat, 10.4).unwrap()
    }

    #[tokio::test]
    async fn a_place_is_offered_once_a_visit_and_the_watch_learns_what_is_written_meanwhile() {
        let folder = tempfile::tempdir().unwrap();
        let (notices, mut said) = mpsc::unbounded_channel();
        let (orders, mut ordered) = mpsc::unbounded_channel();
        let mut nearness = Nearness::new(Book::beside(folder.path()), notices, orders);
        let mut hollow = Place::new("Hollow Ness", at(54.2));
        let mut look = |place: &Place, lat| nearness.look(std::slice::from_ref(place), at(lat), None, true);
        look(&hollow, 54.3);
        assert!(said.try_recv().is_err());
        look(&hollow, 54.21);
        look(&hollow, 54.209);
        assert!(
            matches!(said.try_recv(), Ok(Said::Notice(words)) if words.starts_with("Hollow Ness is 0.6 miles"))
        );
        assert!(said.try_recv().is_err());
        hollow.notes.push(PlaceNote { text: "weed".into(), season: None });
        look(&hollow, 54.209);
        assert!(said.try_recv().is_err());
        let entered: Vec<usize> = std::iter::from_fn(|| ordered.try_recv().ok())
            .map(|order| match order {
                Order::Crew(Command::Near { place }) => place.notes.len(),
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(entered, [0, 1]);
        look(&hollow, 54.3);
        look(&hollow, 54.21);
        assert!(said.try_recv().is_ok());
    }

    #[tokio::test]
    async fn a_crew_that_weighs_is_not_offered_the_place_it_leaves() {
        let folder = tempfile::tempdir().unwrap();
        let book = Book::beside(folder.path());
        let hollow = Place::new("Hollow Ness", at(54.2));
        book.add(&hollow).unwrap();
        let (notices, mut said) = mpsc::unbounded_channel();
        let (orders, mut ordered) = mpsc::unbounded_channel();
        let mut snapshot = Watch::new(Settings::default()).snapshot();
        snapshot.stage = Stage::BroughtUp;
        let (tell, told) = watch::channel(Arc::new(snapshot.clone()));
        let offering = tokio::spawn(Nearness::new(book, notices, orders).offer_places(told));
        tell.send_replace(Arc::new(snapshot.clone()));
        tokio::task::yield_now().await;
        snapshot.stage = Stage::NotSet;
        snapshot.fix.position = Some(at(54.2));
        tell.send_replace(Arc::new(snapshot));
        assert!(matches!(ordered.recv().await, Some(Order::Crew(Command::Near { .. }))));
        assert!(said.try_recv().is_err());
        offering.abort();
    }
}
