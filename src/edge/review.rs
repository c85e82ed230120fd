//! Runs a recorded night through the watch, as fast as the machine can. Memory does not grow with the night.

use std::io;
use std::path::{Path, PathBuf};

use super::folder::{Entry, Recorded};
use super::recorded::{Reader, RecordedError};
use super::what_if::Altered;
use crate::config::RideFile;
use crate::report::review::{Gap, Gatherer, ReadFacts, Review};
use crate::watch::Watch;
use crate::watch::alert::{AlertKind, Change};
use crate::watch::boat::Settings;
use crate::watch::input::{Event, Input};
use crate::watch::output::Output;
use crate::watch::snapshot::Stage;
use crate::watch::units::{Span, WatchTime};

/// A recording in which nothing came for this long has a gap.
const SILENT: Span = Span::from_secs(60);
/// Looks are this far apart.
const LOOK_EVERY: Span = Span::from_mins(1);

/// What keeps a recording from being reviewed.
#[derive(Debug, thiserror::Error)]
pub enum ReviewError {
    /// It cannot be read.
    #[error(transparent)]
    Recorded(#[from] RecordedError),
    /// It breaks off before its first line.
    #[error(
        "{name} cannot be read ({source}). Name a log of NMEA sentences or a GPX track, plain or .gz, or a ride's folder."
    )]
    Broken {
        /// The file.
        name: String,
        /// What is wrong with it.
        source: io::Error,
    },
    /// Not one line.
    #[error("{name} is empty: nothing was recorded in it. Name another log.")]
    Empty {
        /// The file.
        name: String,
    },
    /// Lines, but no sentence.
    #[error(
        "{name} holds no sentence of NMEA 0183 among {lines} lines, so there is nothing to judge. Name a log of NMEA sentences, plain or .gz."
    )]
    NoSentence {
        /// The file.
        name: String,
        /// Lines in it.
        lines: u64,
    },
}

/// Reviews a ride's folder, or one or more logs. `entered` stands in for what the crew entered, in place of the ride's own
/// journal. `each` hears everything that the watch puts out, in order.
///
/// # Errors
/// `ReviewError` if there is nothing that could be judged.
pub fn review(
    paths: &[PathBuf],
    entered: Option<&RideFile>,
    each: impl FnMut(&Output),
) -> Result<Review, ReviewError> {
    review_altered(paths, entered, &Altered::default(), each)
}

/// The same with other settings than the night's own.
///
/// # Errors
/// As [`review`].
pub fn review_altered(
    paths: &[PathBuf],
    entered: Option<&RideFile>,
    altered: &Altered,
    each: impl FnMut(&Output),
) -> Result<Review, ReviewError> {
    heard(Reader::open(paths, entered)?, altered, each)
}

/// Reviews a ride's folder as one of many: its progress is not shown.
///
/// # Errors
/// As [`review`].
pub fn review_one_of_many(ride: &Path) -> Result<Review, ReviewError> {
    heard(Reader::open_one_of_many(ride)?, &Altered::default(), |_| {})
}

fn heard(mut reader: Reader, altered: &Altered, each: impl FnMut(&Output)) -> Result<Review, ReviewError> {
    let mut run = Run::new(reader.settings(), altered, &reader, each);
    for entry in &mut reader {
        match entry {
            Ok(entry) => run.take(&entry),
            Err(source) if run.read.lines == 0 => {
                return Err(ReviewError::Broken { name: run.read.name, source });
            }
            Err(error) => {
                run.read.broken_off = Some(error.to_string());
                break;
            }
        }
    }
    run.read.put_back = reader.nature().put_back;
    run.finish()
}

/// How long a recording must be silent to have a gap: one with a position now and then is silent in between.
pub(super) fn silence(point_every: Option<Span>) -> Span {
    point_every.map_or(SILENT, |every| SILENT.max(Span(every.0 * 3)))
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
    /// So long without a line is a gap.
    silent: Span,
    read: ReadFacts,
}

impl<F: FnMut(&Output)> Run<F> {
    fn new(settings: Settings, altered: &Altered, reader: &Reader, each: F) -> Self {
        let point_every = reader.nature().point_every;
        Self {
            watch: Watch::new(altered.settings(settings)),
            altered: altered.clone(),
            gatherer: Gatherer::default(),
            each,
            out: Vec::new(),
            next_look: WatchTime(i64::MIN),
            next_second: WatchTime(i64::MIN),
            heard_last: None,
            silent: silence(point_every),
            read: ReadFacts { name: reader.name().to_owned(), point_every, ..ReadFacts::default() },
        }
    }

    /// Takes what was recorded.
    fn take(&mut self, entry: &Entry) {
        match &entry.what {
            Recorded::Line { .. } => self.line_came(entry.at),
            Recorded::Event(Event::Gap { from }) => self.slept(*from, entry.at),
            Recorded::LostLines(count) => self.read.lost += count,
            Recorded::Damaged { .. } => self.read.damaged += 1,
            Recorded::Event(_) | Recorded::Alert(_) => {}
        }
        self.hear(entry.at, entry.what.input());
    }

    /// A line was received: counts it, and the silence before it.
    fn line_came(&mut self, at: WatchTime) {
        self.read.lines += 1;
        let (first, _) = self.read.span.unwrap_or((at, at));
        self.read.span = Some((first, at));
        if let Some(before) = self.heard_last.replace(at)
            && at.since(before) > self.silent
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
                let entered = self.altered.commands(command);
                if entered.is_empty() {
                    // Time passes also where nothing is entered instead.
                    self.hear_as_it_is(at, Input::Tick);
                }
                for command in entered {
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

    fn finish(mut self) -> Result<Review, ReviewError> {
        let name = self.read.name.clone();
        if self.read.lines == 0 {
            return Err(ReviewError::Empty { name });
        }
        let last = self.watch.snapshot();
        if last.feeds.iter().all(|feed| feed.good + feed.unused == 0) {
            return Err(ReviewError::NoSentence { name, lines: self.read.lines });
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
