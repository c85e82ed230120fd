//! A ride's files, read again in the order in which things happened.

use std::collections::VecDeque;
use std::io::{self, BufRead, BufReader, Read as _, Take};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::disk::{Disk, DiskFile, own_disk};
use super::facts::read_facts;
use super::journal::{FORMAT, Header, Record, SEALED_FROM, What};
use super::seal::{Seal, look_at};
use super::{FolderError, JOURNAL, NIGHT, RIDE, read_ride_file};
use crate::watch::alert::AlertChange;
use crate::watch::boat::Settings;
use crate::watch::input::{Event, FeedId, Input, Link};
use crate::watch::nmea::strip_tag;
use crate::watch::units::{Span, WatchTime};

/// No received line is longer than this: longer ones are damage.
const LONGEST_NIGHT_LINE: usize = 1 << 16;
/// No journal line is longer than this.
const LONGEST_JOURNAL_LINE: usize = 1 << 20;
/// Feeds beyond this many share the last number.
const MOST_FEEDS: usize = 250;
/// The last stamp of a journal without checksums that leaps ahead by more than this is damage. Our choice: longer than a
/// ride is silent, shorter than what one wrong digit of the higher ones does.
const LEAP: Span = Span::from_mins(36 * 60);

/// One thing that happened in a ride.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// When; never before the entry ahead of it.
    pub at: WatchTime,
    /// What.
    pub what: Recorded,
}

/// What a ride's files hold, one at a time.
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
    /// This as an input of the watch. What is no input still shows that time passed: an alert that was raised
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
    journal: JournalReader,
    night: Source,
    next_event: Option<Entry>,
    next_line: Option<NightLine>,
    /// A feed that lines come from without any word in the journal: announced before its first line.
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
        let path = folder.join(RIDE);
        // Whoever reads a ride of which this is all that is left wants to know what is wrong with it.
        let without_header = || {
            if path.exists() { Ok(read_ride_file(&path)?.value.settings) } else { Ok(Settings::default()) }
        };
        Self::of(&own_disk(), folder, Received::All, without_header)
    }

    /// Opens the ride to take it up: where neither header nor `ride.toml` is left, with the boat of today.
    ///
    /// # Errors
    /// If the folder cannot be read, or a later version wrote it.
    pub fn open_on(disk: &Arc<dyn Disk>, folder: &Path, boat: &Settings) -> Result<Self, FolderError> {
        Self::of(disk, folder, Received::All, || Ok(settings_left(disk, folder, boat)))
    }

    /// The same without the received lines.
    pub(super) fn journal_of(disk: &Arc<dyn Disk>, folder: &Path) -> Result<Self, FolderError> {
        Self::of(disk, folder, Received::None, || Ok(settings_left(disk, folder, &Settings::default())))
    }

    fn of(
        disk: &Arc<dyn Disk>,
        folder: &Path,
        received: Received,
        without_header: impl FnOnce() -> Result<Settings, FolderError>,
    ) -> Result<Self, FolderError> {
        disk.status(folder).map_err(FolderError::io(folder))?;
        let night = match received {
            Received::All => Source::open(disk, folder, NIGHT, LONGEST_NIGHT_LINE)?,
            Received::None => Source::empty(),
        };
        let (journal, header) = JournalReader::open(disk, folder)?;
        let settings = match &header {
            Some(header) => header.settings.clone(),
            None => without_header()?,
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

    /// The number that the journal's next line would have, once all is read.
    #[must_use]
    pub fn next_number(&self) -> u64 {
        self.journal.next_number
    }

    /// The feeds' names in the order of their numbers, as far as they have been met.
    #[must_use]
    pub fn feeds(&self) -> &[String] {
        &self.feeds
    }

    /// Reads on until both files offer their next entry, or have ended.
    fn fill(&mut self) -> io::Result<()> {
        if self.next_event.is_none() {
            self.next_event = self.journal.next_entry()?;
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

/// Which part of a ride is read.
enum Received {
    /// All of it.
    All,
    /// The journal alone.
    None,
}

fn settings_left(disk: &Arc<dyn Disk>, folder: &Path, otherwise: &Settings) -> Settings {
    let facts = read_facts(disk.as_ref(), &folder.join(RIDE));
    facts.ride().map_or_else(|| otherwise.clone(), |ride| ride.settings.clone())
}

/// The journal, entry by entry, with what is wrong with its lines among them.
struct JournalReader {
    lines: Source,
    /// A line without a checksum is damaged.
    is_sealed: bool,
    /// Number of the next line, where all is well.
    next_number: u64,
    /// Damaged lines since the last whole one: they have numbers too.
    damaged: u64,
    /// What is read already, in order; two where there are two, for a stamp is believed by the one behind it.
    ahead: VecDeque<Ahead>,
    /// The stamp of the entry that was given last.
    last: WatchTime,
}

/// An entry that waits to be given.
struct Ahead {
    entry: Entry,
    line: u64,
    /// Its stamp is proved by a checksum, or is none of its own.
    is_sure: bool,
}

/// What the journal's first line is.
enum First {
    Header(Box<Header>),
    /// A header that is not as it was written.
    Damaged(&'static str),
    /// No header: a journal made by hand.
    Other,
}

impl JournalReader {
    fn open(disk: &Arc<dyn Disk>, folder: &Path) -> Result<(Self, Option<Header>), FolderError> {
        let mut lines = Source::open(disk, folder, JOURNAL, LONGEST_JOURNAL_LINE)?;
        let path = lines.path.clone();
        let first = lines.next_line().map_err(FolderError::io(&path))?;
        let mut journal = Self {
            lines,
            is_sealed: false,
            next_number: 1,
            damaged: 0,
            ahead: VecDeque::new(),
            last: WatchTime(i64::MIN),
        };
        let Some(first) = first else { return Ok((journal, None)) };
        journal.is_sealed = look_at(&first.bytes) != Seal::None;
        match first_line(&first, &path)? {
            First::Header(header) => {
                journal.is_sealed |= header.format >= SEALED_FROM;
                (journal.next_number, journal.last) = (2, header.at);
                Ok((journal, Some(*header)))
            }
            First::Damaged(why) => {
                journal.damaged = 1;
                journal.put_damaged(first.number, why.to_owned());
                Ok((journal, None))
            }
            First::Other => {
                journal.lines.put_back(first);
                Ok((journal, None))
            }
        }
    }

    fn next_entry(&mut self) -> io::Result<Option<Entry>> {
        while self.ahead.len() < 2 {
            let Some(line) = self.lines.next_line()? else { break };
            self.read(line);
        }
        self.doubt_stamp();
        let Some(Ahead { mut entry, .. }) = self.ahead.pop_front() else { return Ok(None) };
        if matches!(entry.what, Recorded::Damaged { .. }) {
            entry.at = self.last;
        }
        self.last = self.last.max(entry.at);
        Ok(Some(entry))
    }

    /// Reads one line, and says what is wrong with it or missing before it.
    fn read(&mut self, line: Line) {
        if line.too_long {
            self.damaged += 1;
            return self.put_damaged(line.number, "longer than any line of a journal".into());
        }
        match look_at(&line.bytes) {
            Seal::Broken => {
                self.damaged += 1;
                self.put_damaged(line.number, "its checksum is wrong".into());
            }
            Seal::None if self.is_sealed => {
                self.damaged += 1;
                self.put_damaged(line.number, "it has no checksum".into());
            }
            Seal::None => {
                self.next_number = line.number + 1;
                self.put(&line, false);
            }
            Seal::Whole(number) => self.read_whole(&line, number),
        }
    }

    fn read_whole(&mut self, line: &Line, number: u64) {
        if self.is_sealed && number < self.next_number {
            return self.put_damaged(line.number, "it stands here a second time".into());
        }
        let missing = number.saturating_sub(self.next_number + self.damaged);
        if self.is_sealed && missing > 0 {
            self.put_damaged(line.number, format!("{missing} lines are missing in front of it"));
        }
        (self.is_sealed, self.next_number, self.damaged) = (true, number + 1, 0);
        self.put(line, true);
    }

    fn put(&mut self, line: &Line, is_sure: bool) {
        match serde_json::from_slice::<Record>(&line.bytes) {
            Err(error) => self.put_damaged(line.number, error.to_string()),
            Ok(Record { at, what, .. }) => {
                let what = match what {
                    What::Event(event) => Recorded::Event(event),
                    What::Alert(change) => Recorded::Alert(change),
                    What::LostLines(count) => Recorded::LostLines(count),
                };
                self.ahead.push_back(Ahead { entry: Entry { at, what }, line: line.number, is_sure });
            }
        }
    }

    fn put_damaged(&mut self, line: u64, why: String) {
        let what = Recorded::Damaged { file: JOURNAL, line, why };
        // Its time is that of the entry in front of it, whichever that will be.
        self.ahead.push_back(Ahead { entry: Entry { at: self.last, what }, line, is_sure: true });
    }

    /// A stamp without a checksum is not believed where the next one is earlier though later than the last: nothing
    /// runs backwards when it is written. Nor is the very last of a journal if it leaps ahead.
    fn doubt_stamp(&mut self) {
        let last = self.last;
        let Some(front) = self.ahead.front().filter(|front| !front.is_sure) else { return };
        let at = front.entry.at;
        let is_wrong = match self.ahead.get(1) {
            Some(Ahead { entry: Entry { what: Recorded::Damaged { .. }, .. }, .. }) => false,
            Some(next) => at > next.entry.at && next.entry.at >= last,
            None => last.0 > i64::MIN && at.since(last) > LEAP,
        };
        if !is_wrong {
            return;
        }
        let line = front.line;
        if let Some(front) = self.ahead.front_mut() {
            (front.entry.at, front.is_sure) = (last, true);
        }
        let why =
            "its time is later than that of the lines behind it, or by days than that before it".to_owned();
        let what = Recorded::Damaged { file: JOURNAL, line, why };
        self.ahead.push_front(Ahead { entry: Entry { at: last, what }, line, is_sure: true });
    }
}

fn first_line(first: &Line, path: &Path) -> Result<First, FolderError> {
    #[derive(serde::Deserialize)]
    struct Format {
        format: serde_json::Value,
        #[serde(default)]
        version: String,
    }
    let seal = look_at(&first.bytes);
    if seal == Seal::Broken {
        return Ok(First::Damaged("its checksum is wrong"));
    }
    let Ok(Format { format, version }) = serde_json::from_slice(&first.bytes) else {
        return Ok(if seal == Seal::None { First::Other } else { First::Damaged("it is no header") });
    };
    let path = path.to_owned();
    let Some(number) = format.as_u64().and_then(|format| u32::try_from(format).ok()).filter(|n| *n > 0)
    else {
        return Err(FolderError::NoFormat { path, format: format.to_string() });
    };
    if number > FORMAT {
        return Err(FolderError::Newer { path, format: number, version });
    }
    if number >= SEALED_FROM && seal == Seal::None {
        return Ok(First::Damaged("it has no checksum"));
    }
    Ok(match serde_json::from_slice(&first.bytes) {
        Ok(header) => First::Header(Box::new(header)),
        Err(_) => First::Damaged("it cannot be read"),
    })
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
    reader: Option<BufReader<Take<Box<dyn DiskFile>>>>,
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
    fn open(disk: &Arc<dyn Disk>, folder: &Path, name: &str, longest: usize) -> Result<Self, FolderError> {
        let path = folder.join(name);
        let reader = match disk.open(&path) {
            Ok(file) => {
                let length = file.status().map_err(FolderError::io(&path))?.length;
                Some(BufReader::new(file.take(length)))
            }
            // A pipe or a device in its place holds nothing that could be read again.
            Err(error) if matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::InvalidInput) => {
                None
            }
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
