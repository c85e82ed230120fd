//! What of a ride is kept on disk, and when is its own file written anew?
//!
//! Lines and events go to the recorder as they come. `ride.toml` is written anew after every act that changes what it
//! says.

use std::time::Duration;

use super::name_of;
use crate::config::{DropMark, RideFile, Stands};
use crate::edge::door::frame::Claim;
use crate::edge::folder::{Entry, Recorded, Recorder, Shelf};
use crate::watch::Watch;
use crate::watch::alert::{AlertChange, AlertState};
use crate::watch::input::{Command, Device, Event, Kept};
use crate::watch::snapshot::{DropPoint, Snapshot, Stage};
use crate::watch::units::WatchTime;

/// How long the end of a ride may wait for the disk.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// A ride that goes on.
pub(super) struct Ride {
    file: RideFile,
    /// `None`: nothing is kept.
    recorder: Option<Recorder>,
    /// Why the disk takes nothing, as last reported.
    disk_failed: Option<String>,
}

impl Ride {
    /// Begins a ride at `from`, in a new folder on the shelf.
    pub(super) fn begin(shelf: Option<&Shelf>, from: WatchTime, file: RideFile) -> Self {
        let recorder = shelf.and_then(|shelf| {
            Recorder::begin_on(shelf, from, file.clone())
                .map_err(|error| tracing::error!(%error, "no ride writer"))
                .ok()
        });
        Self { file, recorder, disk_failed: None }
    }

    /// Goes on with a ride that is taken up, of which its file said this.
    pub(super) fn go_on(file: RideFile, recorder: Recorder) -> Self {
        Self { file, recorder: Some(recorder), disk_failed: None }
    }

    /// Keeps a line.
    pub(super) fn line(&self, feed: &str, at: WatchTime, bytes: &[u8]) {
        if let Some(recorder) = &self.recorder {
            recorder.line(feed, at, bytes);
        }
    }

    /// Keeps an event.
    pub(super) fn event(&self, at: WatchTime, event: &Event) {
        if let Some(recorder) = &self.recorder {
            recorder.event(at, event);
        }
    }

    /// So many lines were not taken.
    pub(super) fn lost(&self, lines: u64) {
        if let Some(recorder) = &self.recorder {
            recorder.lost(lines);
        }
    }

    /// Keeps what was heard before the ride began.
    pub(super) fn entry(&self, entry: &Entry, feeds: &[String]) {
        match &entry.what {
            Recorded::Line { feed, bytes } => self.line(name_of(feeds, *feed), entry.at, bytes),
            Recorded::Event(event) => self.event(entry.at, event),
            Recorded::Alert(_) | Recorded::LostLines(_) | Recorded::Damaged { .. } => {}
        }
    }

    /// Keeps a change of an alert.
    pub(super) fn alert(&mut self, change: &AlertChange) {
        if let Some(recorder) = &self.recorder {
            recorder.alert(change);
        }
        let (kind, stands) = (change.alert.kind, stands(change.alert.state));
        let before = self.file.alerts.iter().position(|(other, _)| *other == kind);
        if before.map(|at| self.file.alerts[at].1) == stands {
            return;
        }
        self.file.alerts.retain(|(other, _)| *other != kind);
        self.file.alerts.extend(stands.map(|stands| (kind, stands)));
        self.noted(change.at);
        self.write();
    }

    /// Whether the file does not know where the anchor lies: one let go without a position is marked when there is one.
    pub(super) fn lacks(&self, drop: Option<DropPoint>) -> bool {
        drop.is_some_and(|drop| Some(drop.position) != self.file.drop.map(|known| known.position))
    }

    /// Writes `ride.toml` anew if the crew's act changes what it says. `watch` has heard the act.
    pub(super) fn acted(&mut self, at: WatchTime, command: &Command, watch: &Watch) {
        if self.note_act(at, command) {
            let snapshot = watch.snapshot();
            self.note_facts(&snapshot);
            if snapshot.stage != Stage::NotSet {
                self.file.marks = watch.marks_entered();
            }
            self.noted(at);
            self.write();
        }
    }

    /// Writes `ride.toml` anew from what the watch knows.
    pub(super) fn renew(&mut self, at: WatchTime, watch: &Watch) {
        let snapshot = watch.snapshot();
        self.note_facts(&snapshot);
        self.file.marks = watch.marks_entered();
        let waits = snapshot.alerts.iter().filter_map(|alert| Some((alert.kind, stands(alert.state)?)));
        self.file.alerts = waits.collect();
        self.noted(at);
        self.write();
    }

    fn noted(&mut self, at: WatchTime) {
        self.file.noted = self.file.noted.max(Some(at));
    }

    /// The ride is over, whether the crew entered it or not.
    pub(super) fn ended(&mut self, at: WatchTime) {
        self.file.ended = Some(at);
        self.noted(at);
        self.write();
    }

    /// What is new about the disk, if anything. Ask each second.
    pub(super) fn news_of_disk(&mut self) -> Option<Device> {
        let failed = self.recorder.as_ref()?.health().err();
        (failed != self.disk_failed).then(|| {
            self.disk_failed.clone_from(&failed);
            Device::Disk { failed }
        })
    }

    /// Another machine keeps the watch over it.
    pub(super) fn kept(&mut self, kept: &Kept) {
        (self.file.term, self.file.keeper) = (kept.term, kept.by.clone());
        self.write();
    }

    /// By what right it is kept, as far as its file says: one whose recording began then.
    pub(super) fn claim(&self, began: WatchTime) -> Claim {
        let RideFile { term, keeper, .. } = &self.file;
        Claim { ride: Some(began), term: *term, since: began, by: keeper.clone() }
    }

    /// Nothing more will come: what is left is written, if the disk takes it in time.
    pub(super) fn close(self) {
        if let Some(Err(why)) = self.recorder.map(|recorder| recorder.flush(LAST_WORDS)) {
            tracing::error!(why, "the end of the ride could not be written");
        }
    }

    /// Whether an act changes what `ride.toml` says.
    pub(super) fn keeps(command: &Command) -> bool {
        let mut nothing = Self { file: RideFile::default(), recorder: None, disk_failed: None };
        nothing.note_act(WatchTime(0), command)
    }

    /// Notes what only the act itself says. Gives whether the act changes anything in `ride.toml`.
    fn note_act(&mut self, at: WatchTime, command: &Command) -> bool {
        match command {
            Command::LetGo { .. } | Command::Lying { .. } => self.file.began = Some(at),
            Command::BroughtUp => self.file.brought_up = Some(at),
            Command::Tide(entered) => self.file.tide = entered.clone(),
            Command::NamePlace { name } => {
                self.file.place.clone_from(name);
                if let Some(recorder) = &self.recorder {
                    recorder.name_place(name);
                }
            }
            Command::WindAhead { winds } => self.file.winds.clone_from(winds),
            Command::WayOut { way } => self.file.way_out = *way,
            Command::Berth { berth } => self.file.berth.clone_from(berth),
            Command::Weigh => self.file.weighing = Some(at),
            Command::Stay => self.file.weighing = None,
            // The watch knows what came of these.
            Command::Veered { .. }
            | Command::DropDepth { .. }
            | Command::MoveDrop(_)
            | Command::LiesHere
            | Command::Limits(_)
            | Command::Mark { .. }
            | Command::Unmark { .. }
            | Command::Near { .. }
            | Command::Aweigh => {}
            // The journal alone keeps these.
            Command::BeginRecon
            | Command::EndRecon
            | Command::VeerTo { .. }
            | Command::Pull { .. }
            | Command::Transit { .. }
            | Command::Neutral
            | Command::Acknowledge { .. }
            | Command::Silence
            | Command::Wake(_)
            | Command::Note { .. }
            | Command::Round(_)
            | Command::BeginCheck
            | Command::CheckFound(_)
            | Command::EndCheck
            | Command::Rehearse
            | Command::Rehearsed { .. }
            | Command::Bearing { .. } => return false,
        }
        true
    }

    /// Notes what the watch knows of the ride.
    fn note_facts(&mut self, snapshot: &Snapshot) {
        self.file.settings.limits = snapshot.limits.clone();
        self.file.veered = snapshot.rode.veered.or(self.file.veered);
        self.file.winds = snapshot.ahead.forecast.as_deref().cloned();
        self.file.way_out = snapshot.way_out;
        self.file.berth.clone_from(&snapshot.berth);
        self.file.drop = drop_mark(snapshot).or(self.file.drop);
    }

    fn write(&self) {
        if let Some(recorder) = &self.recorder {
            recorder.ride(self.file.clone());
        }
    }
}

fn drop_mark(snapshot: &Snapshot) -> Option<DropMark> {
    let drop = snapshot.drop.as_ref()?;
    Some(DropMark { position: drop.position, time: Some(drop.let_go), depth: drop.depth })
}

/// Where an alert stands, as far as the file says; `None` when it is over.
pub(super) fn stands(state: AlertState) -> Option<Stands> {
    match state {
        AlertState::Normal => None,
        AlertState::Acknowledged => Some(Stands::Acknowledged),
        AlertState::Unacknowledged | AlertState::Silenced { .. } | AlertState::Rectified => {
            Some(Stands::Waiting)
        }
    }
}
