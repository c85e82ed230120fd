//! Runs a recorded night through the watch, as fast as the machine can.
//!
//! A ride's folder holds everything that the watch heard and is heard again as it was. A log from elsewhere holds lines
//! only: what the crew would have told comes from a `ride.toml`, or else the boat is taken to lie at an anchor that
//! nobody marked, which the watch looks for in her swing. Memory does not grow with the night.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::feed::Recording;
use super::folder::{FolderError, JOURNAL, NIGHT, Recorded, RideReader};
use super::progress::Progress;
use super::what_if::Altered;
use crate::config::{DropMark, RideFile};
use crate::report::review::{Gap, Gatherer, ReadFacts, Review};
use crate::watch::Watch;
use crate::watch::alert::{AlertKind, Change};
use crate::watch::boat::Settings;
use crate::watch::input::{Command, DropMove, Event, FeedId, Input, Link, Output, TideTold};
use crate::watch::snapshot::Stage;
use crate::watch::tide::Tide;
use crate::watch::tide::turns::{Rule, TurnTable};
use crate::watch::units::{Metres, Span, WatchTime};

/// A recording in which nothing came for this long has a gap.
const SILENT: Span = Span::from_secs(60);
/// Looks are this far apart.
const LOOK_EVERY: Span = Span::from_mins(1);
/// Lines without a name of their feed come from this one.
const NAMELESS: &str = "log";
/// A TAG block with time and source, and the line's end, take about as many bytes.
const TAG_BYTES: u64 = 40;

/// What keeps a recording from being reviewed.
#[derive(Debug, thiserror::Error)]
pub enum ReviewError {
    /// The operating system refused, or the archive is damaged from its beginning.
    #[error("{} cannot be read ({source}). Name a log of NMEA sentences, plain or .gz, or a ride's folder.", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What it said.
        source: io::Error,
    },
    /// A folder, but none of a ride.
    #[error("{} holds neither {NIGHT} nor {JOURNAL}, so it is no ride. Name a ride's folder, or a log.", .path.display())]
    NoRide {
        /// The folder.
        path: PathBuf,
    },
    /// Not one line.
    #[error("{} is empty: nothing was recorded in it. Name another log.", .path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// Lines, but no sentence.
    #[error("{} holds no sentence of NMEA 0183 among {lines} lines, so there is nothing to judge. Name a log of NMEA sentences, plain or .gz.", .path.display())]
    NoSentence {
        /// The file.
        path: PathBuf,
        /// Lines in it.
        lines: u64,
    },
    /// The ride's folder cannot be read.
    #[error(transparent)]
    Folder(#[from] FolderError),
}

/// Reviews a ride's folder or a log. `told` stands in for what the crew told, in place of the ride's own journal.
/// `each` hears everything that the watch puts out, in order.
///
/// # Errors
/// `ReviewError` if there is nothing that could be judged.
pub fn review(
    path: &Path,
    told: Option<&RideFile>,
    each: impl FnMut(&Output),
) -> Result<Review, ReviewError> {
    review_altered(path, told, &Altered::default(), each)
}

/// The same with other settings than the night's own.
///
/// # Errors
/// As [`review`].
pub fn review_altered(
    path: &Path,
    told: Option<&RideFile>,
    altered: &Altered,
    each: impl FnMut(&Output),
) -> Result<Review, ReviewError> {
    if path.is_dir() && told.is_none() {
        return review_ride(path, altered, each);
    }
    let log = if path.is_dir() { path.join(NIGHT) } else { path.to_owned() };
    review_log(&log, told, altered, each)
}

fn review_ride(path: &Path, altered: &Altered, each: impl FnMut(&Output)) -> Result<Review, ReviewError> {
    if ![NIGHT, JOURNAL].iter().any(|name| path.join(name).exists()) {
        return Err(ReviewError::NoRide { path: path.to_owned() });
    }
    let total = std::fs::metadata(path.join(NIGHT)).map_or(0, |data| data.len());
    let progress = Progress::new("ride", total);
    let mut reader = RideReader::open(path)?;
    let mut run = Run::new(reader.settings().clone(), altered, path, each);
    for entry in &mut reader {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                run.read.broken_off = Some(error.to_string());
                break;
            }
        };
        match &entry.what {
            Recorded::Line { bytes, .. } => {
                run.line_came(entry.at);
                progress.add(bytes.len() as u64 + TAG_BYTES);
            }
            Recorded::Event(Event::Gap { from }) => run.slept(*from, entry.at),
            Recorded::LostLines(count) => run.read.lost += count,
            Recorded::Damaged { .. } => run.read.damaged += 1,
            Recorded::Event(_) | Recorded::Alert(_) => {}
        }
        run.hear(entry.at, entry.what.input());
    }
    run.finish(path)
}

fn review_log(
    path: &Path,
    told: Option<&RideFile>,
    altered: &Altered,
    each: impl FnMut(&Output),
) -> Result<Review, ReviewError> {
    let unreadable = |source| ReviewError::Unreadable { path: path.to_owned(), source };
    let file = File::open(path).map_err(unreadable)?;
    let progress = Arc::new(Progress::new("log", file.metadata().map_err(unreadable)?.len()));
    let recording = Recording::new(Counted { file, progress }).map_err(unreadable)?;
    let settings = told.map(|ride| ride.settings.clone()).unwrap_or_default();
    let mut run = Run::new(settings, altered, path, each);
    let mut acts = None;
    let mut feeds: Vec<(Option<String>, Option<FeedId>)> = Vec::new();
    for line in recording {
        let line = match line {
            Ok(line) => line,
            Err(source) if run.read.lines == 0 => return Err(unreadable(source)),
            Err(error) => {
                run.read.broken_off = Some(error.to_string());
                break;
            }
        };
        let acts = acts.get_or_insert_with(|| crew_acts(told, line.at));
        while acts.front().is_some_and(|(at, _)| *at <= line.at) {
            if let Some((at, command)) = acts.pop_front() {
                run.hear(at, Input::Event(Event::Crew(command)));
            }
        }
        run.line_came(line.at);
        let feed = match feeds.iter().find(|(name, _)| *name == line.source) {
            Some((_, feed)) => *feed,
            None => {
                let feed = run.open_feed(line.at, line.source.as_deref().unwrap_or(NAMELESS));
                feeds.push((line.source.clone(), feed));
                feed
            }
        };
        // More feeds than a watch can have: what they say is left out, as it would be live.
        let input = feed.map_or(Input::Tick, |feed| Input::Line { feed, bytes: &line.bytes });
        run.hear(line.at, input);
    }
    run.finish(path)
}

/// What the crew would have told, by `ride.toml`, in order of time. Nothing is told before the log begins.
fn crew_acts(told: Option<&RideFile>, first: WatchTime) -> VecDeque<(WatchTime, Command)> {
    let Some(ride) = told else {
        return [(first, Command::Lying { veered: None, place: String::new() })].into();
    };
    let mut acts = VecDeque::new();
    if ride.tide != TideTold::Nothing {
        acts.push_back((first, Command::Tide(ride.tide.clone())));
    }
    let down = ride.drop.and_then(|drop| drop.time).unwrap_or(first).max(first);
    let place = ride.place.clone();
    let going = match (ride.drop, ride.veered) {
        (Some(drop), Some(veered)) => {
            Command::LetGo { veered, depth: depth_at(&drop, &ride.tide, down), place }
        }
        (_, veered) => Command::Lying { veered, place },
    };
    let lying = matches!(going, Command::Lying { .. });
    acts.push_back((down, going));
    if let Some(drop) = ride.drop {
        acts.push_back((down, Command::MoveDrop(DropMove::Position { position: drop.position })));
    }
    let brought_up = ride.brought_up.unwrap_or(down).max(down);
    if !lying {
        acts.push_back((brought_up, Command::BroughtUp));
    }
    if let Some(ended) = ride.ended {
        acts.push_back((ended.max(brought_up), Command::Aweigh));
    }
    acts
}

/// Depth at the drop point at `then`: as told, and what the table says that the tide rose since.
fn depth_at(drop: &DropMark, tide: &TideTold, then: WatchTime) -> Option<Metres> {
    let depth = drop.depth?;
    let rise = match (tide, drop.time) {
        (TideTold::Table { turns }, Some(time)) if time < then => {
            let turns = turns.iter().map(|turn| (*turn).into()).collect();
            TurnTable::new(turns, Rule::Cosine)
                .ok()
                .and_then(|table| Tide::from_table(table).rise(time, then))
        }
        _ => None,
    };
    Some(depth + rise.unwrap_or_default())
}

/// A file that tells how far it has been read.
struct Counted {
    file: File,
    progress: Arc<Progress>,
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(buffer)?;
        self.progress.add(count as u64);
        Ok(count)
    }
}

/// A watch that hears a recording, and who looks on.
struct Run<F> {
    watch: Watch,
    altered: Altered,
    gatherer: Gatherer,
    each: F,
    out: Vec<Output>,
    next_look: WatchTime,
    next_second: WatchTime,
    heard_last: Option<WatchTime>,
    read: ReadFacts,
}

impl<F: FnMut(&Output)> Run<F> {
    fn new(settings: Settings, altered: &Altered, path: &Path, each: F) -> Self {
        let name =
            path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
        Self {
            watch: Watch::new(altered.settings(settings)),
            altered: altered.clone(),
            gatherer: Gatherer::default(),
            each,
            out: Vec::new(),
            next_look: WatchTime(i64::MIN),
            next_second: WatchTime(i64::MIN),
            heard_last: None,
            read: ReadFacts { name, ..ReadFacts::default() },
        }
    }

    fn open_feed(&mut self, at: WatchTime, name: &str) -> Option<FeedId> {
        let feed = self.watch.feed_named(name)?;
        self.hear(at, Input::Event(Event::Feed { feed, name: name.to_owned(), link: Link::Open }));
        Some(feed)
    }

    /// A line was received: counts it, and the silence before it.
    fn line_came(&mut self, at: WatchTime) {
        self.read.lines += 1;
        let (first, _) = self.read.span.unwrap_or((at, at));
        self.read.span = Some((first, at));
        if let Some(before) = self.heard_last.replace(at)
            && at.since(before) > SILENT
        {
            self.gatherer.gap(Gap { from: before, to: at, asleep: false });
        }
    }

    fn slept(&mut self, from: WatchTime, to: WatchTime) {
        self.gatherer.gap(Gap { from: from.min(to), to, asleep: true });
        self.heard_last = self.heard_last.map(|_| to);
    }

    /// The watch hears it, or what is supposed instead.
    fn hear(&mut self, at: WatchTime, input: Input<'_>) {
        match input {
            Input::Event(Event::Crew(command)) => {
                let told = self.altered.commands(command);
                if told.is_empty() {
                    // Time passes also where nothing is told instead.
                    self.hear_as_it_is(at, Input::Tick);
                }
                for command in told {
                    self.hear_as_it_is(at, Input::Event(Event::Crew(command)));
                }
            }
            input => self.hear_as_it_is(at, input),
        }
    }

    /// The watch hears it, and once a minute it is looked at. No time is let pass that did not pass in the recording:
    /// a look never runs the watch.
    fn hear_as_it_is(&mut self, at: WatchTime, input: Input<'_>) {
        self.watch.handle_into(at, input, &mut self.out);
        self.out.iter().for_each(&mut self.each);
        if at >= self.next_second {
            self.next_second = at.ceil_second() + Span(1);
            let watching = matches!(self.watch.stage(), Stage::Setting | Stage::BroughtUp);
            let off = self.watch.farthest_off().filter(|_| watching);
            self.gatherer.distance(at, off, self.watch.limits().outside_after);
        }
        // What the judge says at its alarm may be over at the next look.
        let called = self.out.iter().any(is_judgement);
        self.gatherer.outputs(&mut self.out);
        if called || at >= self.next_look {
            self.next_look = at + LOOK_EVERY;
            self.gatherer.look(&self.watch.snapshot(), self.watch.origin());
        }
    }

    fn finish(mut self, path: &Path) -> Result<Review, ReviewError> {
        let path = || path.to_owned();
        if self.read.lines == 0 {
            return Err(ReviewError::Empty { path: path() });
        }
        let last = self.watch.snapshot();
        if last.feeds.iter().all(|feed| feed.good + feed.unused == 0) {
            return Err(ReviewError::NoSentence { path: path(), lines: self.read.lines });
        }
        self.read.undated = self.read.span.is_some_and(|(first, _)| first < FIRST_DATED);
        Ok(self.gatherer.finish(self.read, &last, self.watch.origin()))
    }
}

/// The watch calls a moving anchor.
fn is_judgement(output: &Output) -> bool {
    matches!(output, Output::Alert(change) if change.change == Change::Raised
        && matches!(change.alert.kind, AlertKind::Drag | AlertKind::Creep))
}

/// Recordings without a date are timed from 1 January 1970; nobody recorded sentences in that year.
const FIRST_DATED: WatchTime = WatchTime(365 * 86_400_000);
