//! The watch as a ride left it, for a card: heard again from the ride's folder, or begun from its `ride.toml`.

use std::io;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::recorded::{Reader, RecordedError, sentence};
use crate::config::RideFile;
use crate::watch::Watch;
use crate::watch::input::{Command, DropMove, Event, FeedId, Input, Link};
use crate::watch::magvar::variation;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};

/// What keeps a card from being made.
#[derive(Debug, thiserror::Error)]
pub enum CardError {
    /// The ride cannot be read.
    #[error(transparent)]
    Recorded(#[from] RecordedError),
    /// It breaks off.
    #[error("{} cannot be read to its end ({source}). Name another ride.", .path.display())]
    Broken {
        /// The ride.
        path: PathBuf,
        /// What is wrong.
        source: io::Error,
    },
    /// There is no drop point to make a card of.
    #[error(
        "The ride file has no [drop], so there is nothing to take bearings about. Add lat and lon to it."
    )]
    NoDrop,
}

/// The watch at the end of a ride's folder.
///
/// # Errors
/// If it cannot be read.
pub fn of_ride(folder: &Path) -> Result<Snapshot, CardError> {
    let mut reader = Reader::open(&[folder.to_owned()], None)?;
    let mut watch = Watch::new(reader.settings());
    let mut out = Vec::new();
    for entry in &mut reader {
        let entry = entry.map_err(|source| CardError::Broken { path: folder.to_owned(), source })?;
        watch.handle_into(entry.at, entry.what.input(), &mut out);
        out.clear();
    }
    Ok(with_variation(watch.snapshot()))
}

/// The watch as it would begin by a ride's file, she lying at the drop point.
///
/// # Errors
/// `NoDrop` without a drop point.
pub fn of_file(ride: &RideFile, now: WatchTime) -> Result<Snapshot, CardError> {
    let drop = ride.drop.ok_or(CardError::NoDrop)?;
    let at = drop.time.unwrap_or(now);
    let mut watch = Watch::new(ride.settings.clone());
    let crew = |command| Input::Event(Event::Crew(command));
    let name = "card".to_owned();
    watch.handle(at, Input::Event(Event::Feed { feed: FeedId(0), name, link: Link::Open }));
    let _ = watch.feed_named("card");
    // Seconds enough for a receiver to count as settled.
    for second in 0..90 {
        let at = at - Span::from_secs(90 - second);
        if let Some(line) = sentence(at, drop.position) {
            watch.handle(at, Input::Line { feed: FeedId(0), bytes: &line });
        }
    }
    watch.handle(at, crew(Command::Tide(ride.tide.clone())));
    let veered = ride.veered;
    watch.handle(at, crew(Command::LetGo { veered, depth: drop.depth, place: ride.place.clone() }));
    watch.handle(at, crew(Command::MoveDrop(DropMove::Position { position: drop.position })));
    for (name, entered) in &ride.marks {
        watch.handle(at, crew(Command::Mark { name: name.clone(), entered: entered.clone() }));
    }
    watch.handle(at, Input::Tick);
    Ok(with_variation(watch.snapshot()))
}

/// Where no feed gave the variation, that of the model at the drop point.
fn with_variation(mut snapshot: Snapshot) -> Snapshot {
    let place = snapshot.drop.map(|drop| drop.position);
    let date =
        Timestamp::from_millisecond(snapshot.at.0).map(|at| at.to_zoned_datetime(TimeZone::UTC).date()).ok();
    snapshot.variation_deg = snapshot
        .variation_deg
        .or_else(|| place.zip(date).and_then(|(place, date)| variation(place, date).ok()));
    snapshot
}
