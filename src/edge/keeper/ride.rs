//! What of a ride is kept on disk, and when is its own file written anew?
//!
//! Lines and events go to the recorder as they come. `ride.toml` is written anew after every act that changes what it
//! says.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::name_of;
use crate::config::{DropMark, RideFile};
use crate::edge::folder::{
    Entry, FolderError, RIDE, Recorded, Recorder, RideReader, Unfinished, find_unfinished, read_ride_file,
};
use crate::watch::Watch;
use crate::watch::alert::AlertChange;
use crate::watch::input::{Command, Device, Event, Input, TideEntered};
use crate::watch::snapshot::Stage;
use crate::watch::units::{Span, WatchTime};

/// An unfinished ride whose last word is older than this is not taken up by itself.
const TAKE_UP_WITHIN: Span = Span::from_mins(36 * 60);
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

/// A ride that an earlier watch left unfinished, and the watch that has heard it again.
pub(super) struct TakenUp {
    pub ride: Ride,
    pub folder: PathBuf,
    pub watch: Watch,
    /// Names of its feeds, in the order of their numbers.
    pub feeds: Vec<String>,
    /// The last moment of which it knows.
    pub last: WatchTime,
}

impl Ride {
    /// Begins a ride at `from`, in a new folder below `rides`.
    pub(super) fn begin(rides: Option<&Path>, from: WatchTime, file: RideFile) -> Self {
        let recorder = rides.and_then(|rides| {
            Recorder::begin(rides, from, file.clone())
                .map_err(|error| tracing::error!(%error, "no ride writer"))
                .ok()
        });
        Self { file, recorder, disk_failed: None }
    }

    /// Takes up the newest unfinished ride below `rides` that is young enough: a fresh watch hears all of it again.
    ///
    /// # Errors
    /// If the rides cannot be listed, or the ride cannot be read, or another watch keeps it.
    pub(super) fn take_up(rides: &Path, now: WatchTime) -> Result<Option<TakenUp>, FolderError> {
        let is_young = |last: Option<WatchTime>| last.is_some_and(|last| now.since(last) <= TAKE_UP_WITHIN);
        let found = find_unfinished(rides)?.into_iter().find(|ride| is_young(ride.last));
        found.map(|found| hear_again(found, now)).transpose()
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

    /// Keeps what was heard before the ride began.
    pub(super) fn entry(&self, entry: &Entry, feeds: &[String]) {
        match &entry.what {
            Recorded::Line { feed, bytes } => self.line(name_of(feeds, *feed), entry.at, bytes),
            Recorded::Event(event) => self.event(entry.at, event),
            Recorded::Alert(_) | Recorded::LostLines(_) | Recorded::Damaged { .. } => {}
        }
    }

    /// Keeps a change of an alert.
    pub(super) fn alert(&self, change: &AlertChange) {
        if let Some(recorder) = &self.recorder {
            recorder.alert(change);
        }
    }

    /// Writes `ride.toml` anew if the crew's act changes what it says. `watch` has heard the act.
    pub(super) fn acted(&mut self, at: WatchTime, command: &Command, watch: &Watch) {
        if self.note_act(at, command) {
            self.note_facts(watch);
            self.write();
        }
    }

    /// The anchor was marked only now: a later start must find the place in the ride's file too.
    pub(super) fn marked(&mut self, watch: &Watch) {
        self.note_facts(watch);
        self.write();
    }

    /// The ride is over, whether the crew entered it or not.
    pub(super) fn ended(&mut self, at: WatchTime) {
        self.file.ended = Some(at);
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

    /// Nothing more will come: what is left is written, if the disk takes it in time.
    pub(super) fn close(self) {
        if let Some(Err(why)) = self.recorder.map(|recorder| recorder.flush(LAST_WORDS)) {
            tracing::error!(why, "the end of the ride could not be written");
        }
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
            // The watch knows what came of these.
            Command::Veered { .. }
            | Command::DropDepth { .. }
            | Command::MoveDrop(_)
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
            | Command::Note { .. }
            | Command::Round(_)
            | Command::Bearing { .. }
            | Command::Weigh
            | Command::Stay => return false,
        }
        true
    }

    /// Notes what the watch knows of the ride.
    fn note_facts(&mut self, watch: &Watch) {
        let snapshot = watch.snapshot();
        self.file.settings.limits = snapshot.limits;
        if snapshot.stage != Stage::NotSet {
            self.file.marks = watch.marks_entered();
        }
        self.file.veered = snapshot.rode.veered.or(self.file.veered);
        let drop = snapshot.drop.map(|drop| DropMark {
            position: drop.position,
            time: Some(drop.let_go),
            depth: drop.depth,
        });
        self.file.drop = drop.or(self.file.drop);
    }

    fn write(&self) {
        if let Some(recorder) = &self.recorder {
            recorder.ride(self.file.clone());
        }
    }
}

/// A fresh watch hears the whole ride again; its recorder writes on at the end.
fn hear_again(found: Unfinished, now: WatchTime) -> Result<TakenUp, FolderError> {
    let Unfinished { folder, place, .. } = found;
    let resumed = Recorder::resume(&folder, now)?;
    let mut reader = RideReader::open(&folder)?;
    let mut watch = Watch::new(reader.settings().clone());
    let mut last = WatchTime(0);
    let mut unheard = Vec::new();
    let mut tide = TideEntered::Nothing;
    for entry in &mut reader {
        let entry = entry.map_err(|source| FolderError::Io { path: folder.clone(), source })?;
        let input = entry.what.input();
        if let Input::Event(Event::Crew(Command::Tide(entered))) = &input {
            tide = entered.clone();
        }
        watch.handle_into(entry.at, input, &mut unheard);
        unheard.clear();
        last = entry.at;
    }
    // What the ride's own file knows beside stays in it when it is next written.
    let known = read_ride_file(&folder.join(RIDE)).map(|read| read.value).unwrap_or_default();
    let file = RideFile { place, settings: reader.settings().clone(), tide, ..known };
    let feeds = reader.feeds().to_vec();
    let ride = Ride { file, recorder: Some(resumed.recorder), disk_failed: None };
    Ok(TakenUp { ride, folder, watch, feeds, last })
}
