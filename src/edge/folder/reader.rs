//! A ride's files, read again in the order in which things happened.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read as _, Take};
use std::path::{Path, PathBuf};

use super::journal::{FORMAT, Header, Record, What};
use super::{FolderError, JOURNAL, NIGHT, RIDE, read_ride_file};
use crate::watch::alert::AlertChange;
use crate::watch::boat::Settings;
use crate::watch::input::{Event, FeedId, Input, Link};
use crate::watch::nmea::strip_tag;
use crate::watch::units::WatchTime;

/// No received line is longer than this: longer ones are damage.
const LONGEST_NIGHT_LINE: usize = 1 << 16;
/// No journal line is longer than this.
const LONGEST_JOURNAL_LINE: usize = 1 << 20;
/// Feeds beyond this many share the last number.
const MOST_FEEDS: usize = 250;

/// One thing that happened in a ride.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// When; never before the entry ahead of it.
    pub at: WatchTime,
    /// What.
    pub what: Recorded,
}

/// What a ride's files tell, one at a time.
#[derive(Clone, Debug, PartialEq)]
pub enum Recorded {
    /// A line was received.
    Line {
        /// From which feed.
        feed: FeedId,
        /// The line as it came, without its line end.
        bytes: Vec<u8>,
    },
    /// Another input of the watch.
    Event(Event),
    /// An alert changed, as the watch put it out then.
    Alert(AlertChange),
    /// So many received lines were not kept.
    LostLines(u64),
    /// A line of one of the files could not be used.
    Damaged {
        /// The file.
        file: &'static str,
        /// Its line, counted from 1.
        line: u64,
        /// Why.
        why: String,
    },
}

impl Recorded {
    /// This as an input of the watch. What is no input still tells that time passed: an alert that was raised
    /// because nothing came in any more is raised again.
    #[must_use]
    pub fn input(&self) -> Input<'_> {
        match self {
            Self::Line { feed, bytes } => Input::Line { feed: *feed, bytes },
            Self::Event(event) => Input::Event(event.clone()),
            Self::Alert(_) | Self::LostLines(_) | Self::Damaged { .. } => Input::Tick,
        }
    }
}

/// Reads a ride from its beginning to the end that its files have when it is opened. Memory does not grow with the
/// ride. Each item is an entry, or an error of the disk, after which nothing more comes.
pub struct RideReader {
    settings: Settings,
    header: Option<Header>,
    feeds: Vec<String>,
    journal: Source,
    night: Source,
    next_event: Option<Entry>,
    next_line: Option<NightLine>,
    /// A feed that lines come from without any word in the journal: told before its first line.
    announce: Option<Entry>,
    last: WatchTime,
    failed: bool,
}

enum NightLine {
    Line { at: WatchTime, source: String, bytes: Vec<u8> },
    Damaged { at: WatchTime, line: u64, why: String },
}

impl NightLine {
    fn at(&self) -> WatchTime {
        match self {
            Self::Line { at, .. } | Self::Damaged { at, .. } => *at,
        }
    }
}

impl RideReader {
    /// Opens the ride in `folder`. A missing night or journal is an empty one. Settings come from the journal's
    /// header, else from `ride.toml`, else they are the defaults.
    ///
    /// # Errors
    /// If the folder cannot be read, a later version wrote it, or there is no header and `ride.toml` is wrong.
    pub fn open(folder: &Path) -> Result<Self, FolderError> {
        Self::of(folder, Source::open(folder, NIGHT, LONGEST_NIGHT_LINE)?)
    }

    /// The same without the received lines.
    pub(super) fn journal_of(folder: &Path) -> Result<Self, FolderError> {
        Self::of(folder, Source::empty())
    }

    fn of(folder: &Path, night: Source) -> Result<Self, FolderError> {
        std::fs::metadata(folder).map_err(FolderError::io(folder))?;
        let mut journal = Source::open(folder, JOURNAL, LONGEST_JOURNAL_LINE)?;
        let header = read_header(&mut journal)?;
        let settings = match &header {
            Some(header) => header.settings.clone(),
            None => settings_without_header(folder)?,
        };
        let mut reader = Self {
            feeds: settings.feeds.iter().map(|feed| feed.name.clone()).collect(),
            settings,
            header,
            journal,
            night,
            next_event: None,
            next_line: None,
            announce: None,
            last: WatchTime(i64::MIN),
            failed: false,
        };
        reader.fill().map_err(FolderError::io(folder))?;
        Ok(reader)
    }

    /// The settings that the watch began with.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The journal's first line, if there is a journal.
    #[must_use]
    pub fn header(&self) -> Option<&Header> {
        self.header.as_ref()
    }

    /// The feeds' names in the order of their numbers, as far as they have been met.
    #[must_use]
    pub fn feeds(&self) -> &[String] {
        &self.feeds
    }

    /// Reads on until both files offer their next entry, or have ended.
    fn fill(&mut self) -> io::Result<()> {
        if self.next_event.is_none() {
            self.next_event = self.journal.next_line()?.map(|line| journal_entry(line, self.last));
        }
        if self.next_line.is_none() {
            self.next_line = self.night.next_line()?.map(|line| night_line(line, self.last));
        }
        Ok(())
    }

    fn next_entry(&mut self) -> io::Result<Option<Entry>> {
        if let Some(line) = self.announce.take() {
            return Ok(Some(line));
        }
        self.fill()?;
        let event_first = match (&self.next_event, &self.next_line) {
            (Some(event), Some(line)) => event.at <= line.at(),
            (event, _) => event.is_some(),
        };
        let entry = if event_first { self.take_event() } else { self.take_line() };
        Ok(entry.map(|entry| self.in_order(entry)))
    }

    fn take_event(&mut self) -> Option<Entry> {
        let entry = self.next_event.take()?;
        if let Recorded::Event(Event::Feed { feed, name, .. }) = &entry.what {
            let index = usize::from(feed.0);
            if index >= self.feeds.len() && index < MOST_FEEDS {
                self.feeds.resize(index + 1, String::new());
            }
            if let Some(known) = self.feeds.get_mut(index) {
                known.clone_from(name);
            }
        }
        Some(entry)
    }

    fn take_line(&mut self) -> Option<Entry> {
        Some(match self.next_line.take()? {
            NightLine::Damaged { at, line, why } => {
                Entry { at, what: Recorded::Damaged { file: NIGHT, line, why } }
            }
            NightLine::Line { at, source, bytes } => {
                let (feed, is_new) = self.feed_of(&source);
                let line = Entry { at, what: Recorded::Line { feed, bytes } };
                if !is_new {
                    return Some(line);
                }
                self.announce = Some(self.in_order(line));
                Entry { at, what: Recorded::Event(Event::Feed { feed, name: source, link: Link::Open }) }
            }
        })
    }

    /// The number of the feed called `name`, and whether that name is new.
    fn feed_of(&mut self, name: &str) -> (FeedId, bool) {
        if let Some(index) = self.feeds.iter().position(|feed| feed == name) {
            return (feed_id(index), false);
        }
        if self.feeds.len() >= MOST_FEEDS {
            return (feed_id(MOST_FEEDS - 1), false);
        }
        self.feeds.push(name.to_owned());
        (feed_id(self.feeds.len() - 1), true)
    }

    /// The watch's time never runs backwards, whatever stands in the files.
    fn in_order(&mut self, mut entry: Entry) -> Entry {
        entry.at = entry.at.max(self.last);
        self.last = entry.at;
        entry
    }
}

fn feed_id(index: usize) -> FeedId {
    FeedId(u8::try_from(index).unwrap_or(u8::MAX))
}

impl Iterator for RideReader {
    type Item = io::Result<Entry>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.failed {
            return None;
        }
        let entry = self.next_entry();
        self.failed = entry.is_err();
        entry.transpose()
    }
}

fn settings_without_header(folder: &Path) -> Result<Settings, FolderError> {
    let path = folder.join(RIDE);
    if path.exists() { Ok(read_ride_file(&path)?.value.settings) } else { Ok(Settings::default()) }
}

/// Reads the journal's first line. A journal without a header is read as it is.
fn read_header(journal: &mut Source) -> Result<Option<Header>, FolderError> {
    #[derive(serde::Deserialize)]
    struct Format {
        format: u32,
        version: String,
    }
    let path = journal.path.clone();
    let Some(first) = journal.next_line().map_err(FolderError::io(&path))? else { return Ok(None) };
    if let Ok(Format { format, version }) = serde_json::from_slice(&first.bytes)
        && format > FORMAT
    {
        return Err(FolderError::Newer { path, format, version });
    }
    let header = serde_json::from_slice(&first.bytes).ok();
    if header.is_none() {
        journal.put_back(first);
    }
    Ok(header)
}

fn journal_entry(line: Line, last: WatchTime) -> Entry {
    let damaged =
        |why: String| Entry { at: last, what: Recorded::Damaged { file: JOURNAL, line: line.number, why } };
    if line.too_long {
        return damaged("longer than any line of a journal".into());
    }
    match serde_json::from_slice::<Record>(&line.bytes) {
        Err(error) => damaged(error.to_string()),
        Ok(Record { at, what, .. }) => Entry {
            at,
            what: match what {
                What::Event(event) => Recorded::Event(event),
                What::Alert(change) => Recorded::Alert(change),
                What::LostLines(count) => Recorded::LostLines(count),
            },
        },
    }
}

fn night_line(line: Line, last: WatchTime) -> NightLine {
    let damaged = |why: &str| NightLine::Damaged { at: last, line: line.number, why: why.into() };
    if line.too_long {
        return damaged("longer than any received line");
    }
    let Ok(stripped) = strip_tag(&line.bytes) else { return damaged("its TAG block is broken") };
    let (Some(at), Some(source)) = (stripped.tag.unix_ms, stripped.tag.source) else {
        return damaged("no TAG block with time and source, or its checksum is wrong");
    };
    NightLine::Line { at: WatchTime(at), source: source.to_owned(), bytes: stripped.rest.to_vec() }
}

/// One of the two files, line by line.
struct Source {
    path: PathBuf,
    reader: Option<BufReader<Take<File>>>,
    longest: usize,
    number: u64,
    again: Option<Line>,
}

/// A line without its end.
struct Line {
    number: u64,
    bytes: Vec<u8>,
    too_long: bool,
}

impl Source {
    fn open(folder: &Path, name: &str, longest: usize) -> Result<Self, FolderError> {
        let path = folder.join(name);
        let reader = match File::open(&path) {
            Ok(file) => {
                let length = file.metadata().map_err(FolderError::io(&path))?.len();
                Some(BufReader::new(file.take(length)))
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(FolderError::io(&path)(error)),
        };
        Ok(Self { path, reader, longest, number: 0, again: None })
    }

    fn empty() -> Self {
        Self { path: PathBuf::new(), reader: None, longest: 0, number: 0, again: None }
    }

    fn put_back(&mut self, line: Line) {
        self.again = Some(line);
    }

    /// The next line; `None` at the end. A last line without its line feed was torn and is left out.
    fn next_line(&mut self) -> io::Result<Option<Line>> {
        if let Some(line) = self.again.take() {
            return Ok(Some(line));
        }
        let Some(reader) = &mut self.reader else { return Ok(None) };
        let mut bytes = Vec::new();
        let mut too_long = false;
        loop {
            let available = reader.fill_buf()?;
            if available.is_empty() {
                return Ok(None);
            }
            let end = available.iter().position(|b| *b == b'\n');
            let piece = &available[..end.unwrap_or(available.len())];
            too_long |= bytes.len() + piece.len() > self.longest;
            if !too_long {
                bytes.extend_from_slice(piece);
            }
            let used = piece.len() + usize::from(end.is_some());
            reader.consume(used);
            if end.is_some() {
                break;
            }
        }
        self.number += 1;
        // Lines end in CR LF; a CR before that is the line's own.
        bytes.pop_if(|b| *b == b'\r');
        Ok(Some(Line { number: self.number, bytes, too_long }))
    }
}
