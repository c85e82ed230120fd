//! How is a ride taken up again, and what if its files are damaged?
//!
//! A fresh watch hears all of it again. What must not be lost, the drop, the rode, the limits, the stage and the alerts
//! that stand, is in two places: the journal, and `ride.toml`, which is written after it. Where one of them is damaged the
//! other mends it; whatever was found damaged is reported, mended or not.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::ride::{Ride, stands};
use crate::config::{DropMark, RideFile, Stands};
use crate::edge::door::frame::RideBegan;
use crate::edge::door::past::Past;
use crate::edge::folder::{
    Entry, Facts, FolderError, RIDE, Recorded, Recorder, RideReader, Shelf, Unfinished, find_unfinished_on,
    read_facts,
};
use crate::watch::Watch;
use crate::watch::alert::AlertKind;
use crate::watch::boat::Settings;
use crate::watch::input::{Command, DropMove, Event, Kept, TideEntered};
use crate::watch::output::Output;
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::{Span, WatchTime};

/// So many damages are named one by one.
const NAMED: usize = 3;

/// An unfinished ride, found at the start.
pub(super) enum Offer {
    /// There is none.
    Nothing,
    /// One that is too old to be taken up by itself.
    TooOld(Unfinished),
    /// One that goes on.
    TakenUp(Box<TakenUp>),
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
    /// When its recording began.
    pub began: WatchTime,
    /// Acts that put right what the damaged file no longer holds, in their order.
    pub mending: Vec<Command>,
    /// What was damaged, if anything.
    pub damage: Option<Event>,
}

/// Takes up the newest unfinished ride on the shelf whose last word is no older than `within`.
///
/// # Errors
/// If the rides cannot be listed, or the ride cannot be read, or another watch keeps it.
pub(super) fn take_up(
    shelf: &Shelf,
    now: WatchTime,
    within: Span,
    boat: &Settings,
    past: Option<&Past>,
) -> Result<Offer, FolderError> {
    let mut found = find_unfinished_on(&shelf.disk, &shelf.folder)?;
    // The one that goes on longest: a folder that was moved aside has an earlier end.
    found.sort_by_key(|ride| std::cmp::Reverse(ride.last));
    // Of a ride whose time nothing shows it is not known that it is old.
    let is_young = |ride: &Unfinished| ride.last.is_none_or(|last| now.since(last) <= within);
    let Some(at) = found.iter().position(is_young) else {
        return Ok(found.into_iter().next().map_or(Offer::Nothing, Offer::TooOld));
    };
    let found = found.swap_remove(at);
    if let Some(why) = found.trouble {
        return Err(FolderError::CannotTakeUp { folder: found.folder, why });
    }
    let taken_up = hear_again(shelf, &found, now, boat, past)?;
    Ok(taken_up.map_or(Offer::Nothing, |taken_up| Offer::TakenUp(Box::new(taken_up))))
}

/// A fresh watch hears the whole ride again; its recorder writes on at the end. `None` if it turns out to be over.
fn hear_again(
    shelf: &Shelf,
    found: &Unfinished,
    now: WatchTime,
    boat: &Settings,
    past: Option<&Past>,
) -> Result<Option<TakenUp>, FolderError> {
    let folder = &found.folder;
    let resumed = Recorder::resume_on(shelf, folder, now)?;
    let facts = read_facts(shelf.disk.as_ref(), &folder.join(RIDE));
    let mut reader = RideReader::open_on(&shelf.disk, folder, boat)?;
    let mut heard = Heard::new(reader.settings().clone(), found.began.unwrap_or(now));
    if let Some(past) = past {
        let ride = RideBegan { began: found.began.unwrap_or(now), place: found.place.clone() };
        past.begin(reader.settings(), &[], Some(ride));
    }
    for entry in &mut reader {
        let entry = entry.map_err(|source| FolderError::Io { path: folder.clone(), source })?;
        if let Some(past) = past.filter(|_| !matches!(entry.what, Recorded::Damaged { .. })) {
            past.entry(&entry);
        }
        heard.entry(entry);
    }
    if resumed.cut_of_journal > 0 {
        heard.damage.push("the last line of journal.jsonl was cut short".into());
    }
    heard.doubt(&facts);
    let known = heard.known(&facts);
    let mending = heard.mending(known.as_ref(), &found.place);
    heard.miss_alerts(known.as_ref());
    let settings = reader.settings().clone();
    let file = RideFile {
        place: found.place.clone(),
        settings,
        tide: heard.tide.clone(),
        ..facts.ride().cloned().unwrap_or_default()
    };
    let feeds = reader.feeds().to_vec();
    let mut ride = Ride::go_on(file, resumed.recorder);
    if let Some(kept) = heard.kept.take() {
        // The journal is written before the file.
        ride.kept(&kept);
    }
    if heard.ended.is_some() && mending.is_empty() {
        // She went under way by herself, and the power went before that was noted.
        ride.ended(heard.last);
        ride.close();
        return Ok(None);
    }
    let damage = heard.report(&mending);
    let Heard { watch, last, .. } = heard;
    let began = found.began.unwrap_or(now);
    Ok(Some(TakenUp { ride, folder: folder.clone(), watch, feeds, last, began, mending, damage }))
}

/// A ride as it is heard again.
struct Heard {
    watch: Watch,
    last: WatchTime,
    tide: TideEntered,
    /// The anchor was let go.
    began: bool,
    ended: Option<WatchTime>,
    /// The last of what `ride.toml` must know too.
    noted: Option<WatchTime>,
    /// Who kept the watch last, if another machine than the one that began it.
    kept: Option<Kept>,
    /// Where each alert stood, as it was recorded.
    alerts: BTreeMap<AlertKind, Stands>,
    /// What is damaged, in words.
    damage: Vec<String>,
    /// Damaged lines in the files, and how many of them have been reported before.
    lines: u64,
    reported: u64,
    out: Vec<Output>,
}

impl Heard {
    fn new(settings: Settings, began: WatchTime) -> Self {
        Self {
            watch: Watch::new(settings),
            last: began,
            tide: TideEntered::Nothing,
            began: false,
            ended: None,
            noted: None,
            kept: None,
            alerts: BTreeMap::new(),
            damage: Vec::new(),
            lines: 0,
            reported: 0,
            out: Vec::new(),
        }
    }

    fn entry(&mut self, entry: Entry) {
        let Entry { at, what } = entry;
        if let Recorded::Damaged { file, line, why } = &what {
            self.lines += 1;
            self.damage.push(format!("{file}, line {line}: {why}"));
            return;
        }
        self.note(at, &what);
        self.watch.handle_into(at, what.input(), &mut self.out);
        for output in self.out.drain(..) {
            match output {
                Output::RideBegan { .. } => (self.began, self.ended) = (true, None),
                Output::RideEnded { at, .. } => self.ended = Some(at),
                _ => {}
            }
        }
        self.last = at;
    }

    fn note(&mut self, at: WatchTime, what: &Recorded) {
        match what {
            Recorded::Event(Event::Crew(command)) => {
                if let Command::Tide(entered) = command {
                    self.tide = entered.clone();
                }
                if Ride::keeps(command) {
                    self.noted = Some(at);
                }
            }
            Recorded::Event(Event::Kept(kept)) => self.kept = Some(kept.clone()),
            Recorded::Event(Event::Damage { found, .. }) => {
                self.reported = self.reported.max(*found);
            }
            Recorded::Alert(change) => {
                let (kind, stands) = (change.alert.kind, stands(change.alert.state));
                let before = match stands {
                    Some(stands) => self.alerts.insert(kind, stands),
                    None => self.alerts.remove(&kind),
                };
                if before != stands {
                    self.noted = Some(at);
                }
            }
            _ => {}
        }
    }

    /// What is wrong with `ride.toml`.
    fn doubt(&mut self, facts: &Facts) {
        match facts {
            Facts::Missing => self.damage.push(format!("{RIDE} is missing")),
            Facts::Damaged { why } => self.damage.push(format!("{RIDE}: {why}")),
            Facts::Unsealed(ride) if ride.noted.is_some() => {
                self.damage.push(format!("{RIDE} has no checksum: it was changed by hand, or is damaged"));
            }
            Facts::Unsealed(_) => {}
            Facts::Sound(ride) => {
                if ride.noted > self.noted.max(Some(self.last)) {
                    self.damage.push("the end of journal.jsonl is missing".into());
                }
            }
        }
    }

    /// What `ride.toml` knows, where it knows all that the journal does: it is written after it. Where the journal no
    /// longer speaks of an anchor at all, whatever it knows.
    fn known(&self, facts: &Facts) -> Option<RideFile> {
        let complete = facts.sound().filter(|ride| ride.noted >= self.noted);
        let rest = facts.ride().filter(|_| !self.began);
        complete.or(rest).cloned()
    }

    /// What the crew would have to enter again for the watch to know what the file knows.
    fn mending(&self, known: Option<&RideFile>, place: &str) -> Vec<Command> {
        let snapshot = self.watch.snapshot();
        let mut acts = Vec::new();
        if snapshot.stage == Stage::NotSet && self.ended.is_none() {
            acts.push(anchor_down(known, place));
        }
        let Some(known) = known else { return acts };
        if self.ended.is_some() {
            return acts;
        }
        if known.tide != self.tide {
            acts.push(Command::Tide(known.tide.clone()));
        }
        if known.winds.as_ref() != snapshot.ahead.forecast.as_deref() {
            acts.push(Command::WindAhead { winds: known.winds.clone() });
        }
        if known.way_out != snapshot.way_out {
            acts.push(Command::WayOut { way: known.way_out });
        }
        if known.berth != snapshot.berth {
            acts.push(Command::Berth { berth: Box::new(known.berth.clone()) });
        }
        if known.settings.limits != snapshot.limits {
            acts.push(Command::Limits(known.settings.limits.clone()));
        }
        acts.extend(rode_and_drop(known, &snapshot));
        let is_setting =
            snapshot.stage == Stage::Setting || matches!(acts.first(), Some(Command::LetGo { .. }));
        if known.brought_up.is_some() && is_setting {
            acts.push(Command::BroughtUp);
        }
        if known.weighing.is_none() && snapshot.stage == Stage::Weighing {
            acts.push(Command::Stay);
        }
        let marks = self.watch.marks_entered();
        let lost = known.marks.iter().filter(|mark| !marks.contains(mark));
        acts.extend(
            lost.map(|(name, entered)| Command::Mark { name: name.clone(), entered: entered.clone() }),
        );
        acts
    }

    /// Alerts that stood and that hearing the ride again does not give back.
    fn miss_alerts(&mut self, known: Option<&RideFile>) {
        let mut stood = self.alerts.clone();
        stood.extend(known.into_iter().flat_map(|ride| ride.alerts.iter().copied()));
        let alerts = self.watch.snapshot().alerts;
        stood.retain(|kind, stands| {
            *stands == Stands::Waiting && !alerts.iter().any(|alert| alert.kind == *kind)
        });
        if !stood.is_empty() {
            let names: Vec<&str> = stood.keys().map(|kind| kind.title()).collect();
            self.damage.push(format!("not answered before, and not known any more: {}", names.join(", ")));
        }
    }

    /// What was damaged and put right; `None` where nothing is new.
    fn report(&self, mending: &[Command]) -> Option<Event> {
        let old = usize::try_from(self.reported.min(self.lines)).unwrap_or(usize::MAX);
        let new = self.damage.get(old..).unwrap_or_default();
        if new.is_empty() && mending.is_empty() {
            return None;
        }
        let mut words: Vec<String> = new.iter().take(NAMED).cloned().collect();
        if new.len() > NAMED {
            words.push(format!("and {} more", new.len() - NAMED));
        }
        words.extend(mending.iter().filter_map(mended));
        Some(Event::Damage { found: self.lines, what: words.join("; ") })
    }
}

/// The act that puts an anchor down, when the journal no longer does.
fn anchor_down(known: Option<&RideFile>, place: &str) -> Command {
    let place = known.map_or_else(|| place.to_owned(), |ride| ride.place.clone());
    match known.and_then(|ride| ride.drop.map(|drop| (drop, ride.veered))) {
        Some((drop, veered)) => Command::LetGo { veered, depth: drop.depth, place },
        None => Command::Lying { veered: known.and_then(|ride| ride.veered), place },
    }
}

fn rode_and_drop(known: &RideFile, snapshot: &Snapshot) -> Vec<Command> {
    let mut acts = Vec::new();
    if let Some(length) = known.veered.filter(|_| snapshot.stage != Stage::NotSet)
        && snapshot.rode.veered != Some(length)
    {
        acts.push(Command::Veered { length });
    }
    let there = snapshot.drop.as_ref().map(|drop| drop.position);
    if let Some(DropMark { position, .. }) = known.drop
        && there != Some(position)
    {
        acts.push(Command::MoveDrop(DropMove::Position { position }));
    }
    acts
}

/// What an act put right, in words.
fn mended(act: &Command) -> Option<String> {
    let what = match act {
        Command::LetGo { .. } => "that the anchor is down",
        Command::Lying { .. } => return Some("where the anchor lies is lost: enter the drop point".into()),
        Command::MoveDrop(_) => "the drop point",
        Command::Veered { .. } => "the rode out",
        Command::Limits(_) => "the limits",
        Command::BroughtUp => "that she is brought up",
        Command::Stay => "that she stays",
        Command::Tide(_) => "the tide",
        Command::WindAhead { .. } => "the wind ahead",
        Command::WayOut { .. } => "the way out",
        Command::Berth { .. } => "the berth",
        Command::Mark { .. } => "the marks",
        _ => return None,
    };
    Some(format!("{what} taken from {RIDE}"))
}

/// The path of a folder as it is named to the crew.
pub(super) fn offer_words(ride: &Unfinished, now: WatchTime) -> String {
    let folder: &Path = &ride.folder;
    let age = ride.last.map_or_else(String::new, |last| format!(", last heard of {} ago", now.since(last)));
    format!(
        "The ride in {}{age}, was never ended. It is too old to be taken up by itself: `--take-up` takes it up.",
        folder.display()
    )
}
