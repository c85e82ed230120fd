//! Logs and tracks, one after the other in order of their times, with what the crew would have entered among their lines.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::acts::crew_acts;
use super::gpx::Track;
use super::{Counted, Nature, RecordedError};
use crate::config::RideFile;
use crate::edge::feed::{self, Recording, unpacked};
use crate::edge::folder::{Entry, Recorded};
use crate::edge::progress::Progress;
use crate::watch::boat::Settings;
use crate::watch::input::{Command, Event, FeedId, Link};
use crate::watch::units::{Span, WatchTime};

/// Lines without a name of their feed come from this one.
const NAMELESS: &str = "log";
/// As many as a watch can have.
const FEEDS_MAX: usize = 32;
/// So many bytes are enough to tell a track from a log.
const SNIFFED: u64 = 256;
/// Receivers give a position more often than this; a track with wider steps is sparse.
const SPARSE: Span = Span::from_secs(5);

/// The lines of a file with their times.
enum Lines {
    Log(Box<Recording>),
    Track(Box<Track>),
}

impl Iterator for Lines {
    type Item = io::Result<feed::Recorded>;

    fn next(&mut self) -> Option<Self::Item> {
        match self {
            Self::Log(log) => log.next(),
            Self::Track(track) => track.next(),
        }
    }
}

impl Lines {
    /// So often the clock went back so far.
    fn put_back(&self) -> u64 {
        match self {
            Self::Log(log) => log.put_back(),
            Self::Track(track) => track.put_back(),
        }
    }
}

/// A file of which the first line is known.
struct Opened {
    first: Option<feed::Recorded>,
    lines: Lines,
}

impl Opened {
    fn new(path: &Path, progress: &Arc<Progress>) -> io::Result<Self> {
        let mut lines = open_one(path, progress)?;
        let first = lines.next().transpose()?;
        Ok(Self { first, lines })
    }

    /// The interval of a track whose points lie farther apart than a receiver's.
    fn point_every(&self) -> Option<Span> {
        match &self.lines {
            Lines::Log(_) => None,
            Lines::Track(track) => track.every().filter(|every| *every > SPARSE),
        }
    }

    fn next(&mut self) -> Option<io::Result<feed::Recorded>> {
        self.first.take().map(Ok).or_else(|| self.lines.next())
    }
}

/// Logs being read.
pub(super) struct LogReader {
    settings: Settings,
    entered: Option<RideFile>,
    files: VecDeque<Opened>,
    point_every: Option<Span>,
    /// Clocks put back in files that are at their end.
    put_back: u64,
    feeds: Vec<String>,
    acts: Option<VecDeque<(WatchTime, Command)>>,
    ready: VecDeque<Entry>,
    last: WatchTime,
}

impl LogReader {
    pub(super) fn open(
        paths: &[PathBuf],
        entered: Option<&RideFile>,
        progress: &Arc<Progress>,
    ) -> Result<Self, RecordedError> {
        let mut files = Vec::new();
        for path in paths {
            let unreadable = |source| RecordedError::Unreadable { path: path.clone(), source };
            files.push(Opened::new(path, progress).map_err(unreadable)?);
        }
        files.sort_by_key(|file| file.first.as_ref().map(|line| line.at));
        let mut settings = entered.map(|ride| ride.settings.clone()).unwrap_or_default();
        let point_every = files.iter().filter_map(Opened::point_every).max();
        if let Some(every) = point_every {
            // What comes once a minute is not lost after a quarter of one.
            let patience = Span(every.0 * 3);
            settings.limits.fix_lost_after = settings.limits.fix_lost_after.max(patience);
            settings.limits.fix_lost_alarm_after =
                settings.limits.fix_lost_alarm_after.max(Span(patience.0 * 2));
        }
        Ok(Self {
            feeds: settings.feeds.iter().map(|feed| feed.name.clone()).collect(),
            settings,
            entered: entered.cloned(),
            files: files.into(),
            point_every,
            put_back: 0,
            acts: None,
            ready: VecDeque::new(),
            last: WatchTime(i64::MIN),
        })
    }

    pub(super) fn settings(&self) -> &Settings {
        &self.settings
    }

    pub(super) fn nature(&self) -> Nature {
        let now = self.files.front().map_or(0, |file| file.lines.put_back());
        Nature { put_back: self.put_back + now, point_every: self.point_every }
    }

    /// Puts a line and what comes before it among the entries.
    fn take(&mut self, line: feed::Recorded) {
        let at = line.at.max(self.last);
        self.last = at;
        let entered = self.entered.as_ref();
        let acts = self.acts.get_or_insert_with(|| crew_acts(entered, at));
        while acts.front().is_some_and(|(then, _)| *then <= at) {
            if let Some((then, command)) = acts.pop_front() {
                self.ready.push_back(Entry { at: then, what: Recorded::Event(Event::Crew(command)) });
            }
        }
        let name = line.source.as_deref().unwrap_or(NAMELESS);
        let index = match self.feeds.iter().position(|feed| feed == name) {
            Some(index) => index,
            // More feeds than a watch can have share the last one's number.
            None if self.feeds.len() >= FEEDS_MAX => FEEDS_MAX - 1,
            None => {
                let index = self.feeds.len();
                self.feeds.push(name.to_owned());
                let opened = Event::Feed { feed: feed_id(index), name: name.to_owned(), link: Link::Open };
                self.ready.push_back(Entry { at, what: Recorded::Event(opened) });
                index
            }
        };
        self.ready.push_back(Entry { at, what: Recorded::Line { feed: feed_id(index), bytes: line.bytes } });
    }

    fn next_line(&mut self) -> Option<io::Result<feed::Recorded>> {
        loop {
            let line = self.files.front_mut()?.next();
            if line.is_some() {
                return line;
            }
            self.put_back += self.files.pop_front().map_or(0, |file| file.lines.put_back());
        }
    }
}

fn feed_id(index: usize) -> FeedId {
    FeedId(u8::try_from(index).unwrap_or(u8::MAX))
}

impl Iterator for LogReader {
    type Item = io::Result<Entry>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(entry) = self.ready.pop_front() {
                return Some(Ok(entry));
            }
            match self.next_line()? {
                Ok(line) => self.take(line),
                Err(error) => return Some(Err(error)),
            }
        }
    }
}

fn open_one(path: &Path, progress: &Arc<Progress>) -> io::Result<Lines> {
    let file = Counted { file: File::open(path)?, progress: Arc::clone(progress) };
    let mut input = unpacked(file)?;
    let mut first = Vec::new();
    input.by_ref().take(SNIFFED).read_to_end(&mut first)?;
    let is_track = is_xml(&first);
    let whole = io::Cursor::new(first).chain(input);
    Ok(if is_track {
        Lines::Track(Box::new(Track::new(whole)))
    } else {
        Lines::Log(Box::new(Recording::new(whole)?))
    })
}

/// XML begins with `<`, maybe behind a byte order mark and blanks.
fn is_xml(first: &[u8]) -> bool {
    let first = first.strip_prefix(b"\xef\xbb\xbf").unwrap_or(first);
    first.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'<')
}
