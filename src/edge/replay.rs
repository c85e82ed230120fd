//! A recorded night that can be looked at from any of its moments.
//!
//! What is shown at a time is what the watch showed then: the recording is heard once, what it holds is put away in
//! a file without a name, and every few minutes the watch itself is kept. From the nearest of those the night is heard
//! again up to the moment asked for. Nothing is written to the ride.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::PathBuf;
use std::sync::Arc;

use super::folder::{Entry, Recorded};
use super::recorded::{Reader, RecordedError};
use super::review::silence;
use super::what_if::Altered;
use crate::config::RideFile;
use crate::tui::replay::{Heat, Mark, MarkKind, Night};
use crate::watch::Watch;
use crate::watch::alert::{AlertKind, Change, Priority};
use crate::watch::input::{Command, Event, FeedId, Input};
use crate::watch::output::Output;
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::{Metres, Span, WatchTime};

/// The watch is kept this often, until there are too many: a moment is then some milliseconds away, on a small computer
/// some tens. Our choice, by `cargo bench --bench replay`.
const KEEP_EVERY: Span = Span::from_mins(10);
/// As many watches are kept, each up to 2 MB; then every other goes, and from there on they lie twice as far apart. A
/// night of twelve hours needs 73.
const KEPT_MAX: usize = 96;
/// Places of the bar's strip.
const HEAT_MAX: usize = 2000;
/// Marks and gaps that are kept; a broken sensor can make thousands.
const MARKS_MAX: usize = 2000;
/// The longest line or event that a recording can hold.
const PAYLOAD_MAX: u32 = 1 << 20;

/// What keeps a night from being replayed.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// It cannot be read.
    #[error(transparent)]
    Recorded(#[from] RecordedError),
    /// It breaks off, or what it holds cannot be put away.
    #[error("The night cannot be replayed ({0}). Is there room in the folder for temporary files?")]
    Io(#[from] io::Error),
    /// Not one line.
    #[error("{0} is empty: nothing was recorded in it. Name another log.")]
    Empty(String),
}

/// The watch at one moment, and where what it has not heard yet begins.
struct Kept {
    /// The last moment that it heard of.
    at: WatchTime,
    offset: u64,
    watch: Watch,
}

/// A night being replayed.
pub struct Replay {
    spool: BufReader<File>,
    /// Where the spool's next entry begins.
    offset: u64,
    end: u64,
    kept: Vec<Kept>,
    watch: Watch,
    now: WatchTime,
    night: Arc<Night>,
    /// Scratch for a line or event.
    payload: Vec<u8>,
}

impl Replay {
    /// Hears a recording from end to end. `entered` stands in for what the crew entered, in place of the ride's own journal.
    ///
    /// # Errors
    /// `ReplayError` if there is nothing to replay.
    pub fn open(paths: &[PathBuf], entered: Option<&RideFile>) -> Result<Self, ReplayError> {
        Self::open_altered(paths, entered, &Altered::default())
    }

    /// The same with other settings than the night's own: how it would have been.
    ///
    /// # Errors
    /// As [`Replay::open`].
    pub fn open_altered(
        paths: &[PathBuf],
        entered: Option<&RideFile>,
        altered: &Altered,
    ) -> Result<Self, ReplayError> {
        let mut reader = Reader::open(paths, entered)?;
        let first = Watch::new(altered.settings(reader.settings()));
        let mut hearing = Hearing::new(tempfile::tempfile()?, first, silence(reader.nature().point_every));
        for entry in &mut reader {
            match entry {
                Ok(Entry { at, what: Recorded::Event(Event::Crew(command)) }) => {
                    for command in altered.commands(command) {
                        hearing.take(&Entry { at, what: Recorded::Event(Event::Crew(command)) })?;
                    }
                }
                Ok(entry) => hearing.take(&entry)?,
                // What came before is worth looking at all the same.
                Err(error) if hearing.from.is_some() => {
                    hearing.mark(hearing.to, MarkKind::Act, format!("the rest cannot be read: {error}"));
                    break;
                }
                Err(error) => return Err(error.into()),
            }
        }
        let asked = altered.to_string();
        let name = if asked.is_empty() {
            reader.name().to_owned()
        } else {
            format!("{}: what if {asked}", reader.name())
        };
        hearing.finish(&name, asked)
    }

    /// The night as its bar shows it.
    #[must_use]
    pub fn night(&self) -> &Arc<Night> {
        &self.night
    }

    /// The moment that is shown.
    #[must_use]
    pub fn now(&self) -> WatchTime {
        self.now
    }

    /// What the watch shows at that moment.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        self.watch.snapshot()
    }

    /// Goes to a moment of the night, the nearest there is.
    ///
    /// # Errors
    /// If what was put away cannot be read again.
    pub fn seek(&mut self, to: WatchTime) -> io::Result<()> {
        let to = to.clamp(self.night.from, self.night.to);
        let nearest = self.kept.partition_point(|kept| kept.at <= to).checked_sub(1);
        // Going on from here is shorter, if here is not beyond it and nothing kept lies between.
        let from_here = self.now <= to && nearest.is_none_or(|i| self.kept[i].at <= self.now);
        if let (false, Some(kept)) = (from_here, nearest.map(|i| &self.kept[i])) {
            (self.watch, self.offset) = (kept.watch.clone(), kept.offset);
            self.spool.seek(SeekFrom::Start(self.offset))?;
        }
        self.hear_until(to)?;
        self.now = to;
        Ok(())
    }

    fn hear_until(&mut self, to: WatchTime) -> io::Result<()> {
        let mut out = Vec::new();
        while self.offset < self.end {
            let head = Head::read(&mut self.spool)?;
            if head.at > to {
                let ran_until = self.ran_until(head, to)?;
                self.spool.seek(SeekFrom::Start(self.offset))?;
                self.watch.handle_into(ran_until, Input::Tick, &mut out);
                return Ok(());
            }
            self.read_payload(head)?;
            self.offset += head.whole();
            let input = decoded(head, &self.payload)?;
            self.watch.handle_into(head.at, input, &mut out);
            out.clear();
        }
        self.watch.handle_into(to, Input::Tick, &mut out);
        Ok(())
    }

    /// Until when the watch ran before the next entry: not through the time in which it was asleep.
    fn ran_until(&mut self, next: Head, to: WatchTime) -> io::Result<WatchTime> {
        if next.kind != EVENT {
            return Ok(to);
        }
        self.read_payload(next)?;
        Ok(match decoded(next, &self.payload)? {
            Input::Event(Event::Gap { from }) => to.min(from),
            _ => to,
        })
    }

    fn read_payload(&mut self, head: Head) -> io::Result<()> {
        self.payload.resize(head.length as usize, 0);
        self.spool.read_exact(&mut self.payload)
    }

    /// The next mark after a moment, or the one before it.
    #[must_use]
    pub fn mark_from(&self, now: WatchTime, forward: bool) -> Option<&Mark> {
        let marks = &self.night.marks;
        if forward {
            marks.get(marks.partition_point(|mark| mark.at <= now))
        } else {
            marks[..marks.partition_point(|mark| mark.at < now)].last()
        }
    }
}

const LINE: u8 = 0;
const EVENT: u8 = 1;
const TICK: u8 = 2;
const HEAD_BYTES: usize = 14;

/// What stands before a line or event in the spool.
#[derive(Clone, Copy, Debug)]
struct Head {
    at: WatchTime,
    kind: u8,
    feed: FeedId,
    length: u32,
}

impl Head {
    fn write(self, spool: &mut impl io::Write) -> io::Result<()> {
        let mut bytes = [0; HEAD_BYTES];
        bytes[..8].copy_from_slice(&self.at.0.to_le_bytes());
        (bytes[8], bytes[9]) = (self.kind, self.feed.0);
        bytes[10..].copy_from_slice(&self.length.to_le_bytes());
        spool.write_all(&bytes)
    }

    fn read(spool: &mut impl io::Read) -> io::Result<Self> {
        let mut bytes = [0; HEAD_BYTES];
        spool.read_exact(&mut bytes)?;
        let [a, b, c, d, e, f, g, h, kind, feed, i, j, k, l] = bytes;
        let at = WatchTime(i64::from_le_bytes([a, b, c, d, e, f, g, h]));
        let length = u32::from_le_bytes([i, j, k, l]);
        if length > PAYLOAD_MAX {
            return Err(io::Error::other("the temporary file was changed by somebody else"));
        }
        Ok(Self { at, kind, feed: FeedId(feed), length })
    }

    fn whole(self) -> u64 {
        HEAD_BYTES as u64 + u64::from(self.length)
    }
}

fn decoded(head: Head, payload: &[u8]) -> io::Result<Input<'_>> {
    Ok(match head.kind {
        LINE => Input::Line { feed: head.feed, bytes: payload },
        EVENT => Input::Event(serde_json::from_slice(payload)?),
        _ => Input::Tick,
    })
}

/// The first hearing of a night: puts it away, keeps the watch now and then, and notes what the bar shows.
struct Hearing {
    spool: BufWriter<File>,
    offset: u64,
    watch: Watch,
    kept: Vec<Kept>,
    every: Span,
    next_kept: WatchTime,
    from: Option<WatchTime>,
    to: WatchTime,
    heat: Vec<Heat>,
    heat_every: Span,
    marks: Vec<Mark>,
    gaps: Vec<(WatchTime, WatchTime)>,
    /// A recording in which nothing came for so long has a gap.
    silent: Span,
    /// When the last line was received, or the watch woke.
    heard_last: Option<WatchTime>,
    out: Vec<Output>,
}

impl Hearing {
    fn new(spool: File, watch: Watch, silent: Span) -> Self {
        Self {
            spool: BufWriter::new(spool),
            offset: 0,
            watch,
            kept: Vec::new(),
            every: KEEP_EVERY,
            next_kept: WatchTime(i64::MIN),
            from: None,
            to: WatchTime(i64::MIN),
            heat: Vec::new(),
            heat_every: Span::from_secs(15),
            marks: Vec::new(),
            gaps: Vec::new(),
            silent,
            heard_last: None,
            out: Vec::new(),
        }
    }

    fn take(&mut self, entry: &Entry) -> io::Result<()> {
        let at = entry.at;
        self.from.get_or_insert(at);
        if at >= self.next_kept {
            self.keep();
            self.next_kept = at + self.every;
        }
        self.put_away(entry)?;
        let input = entry.what.input();
        match &input {
            Input::Line { .. } => {
                let before = self.heard_last.replace(at).unwrap_or(at);
                if at.since(before) > self.silent {
                    self.gap(before, at);
                }
            }
            Input::Event(Event::Gap { from }) => {
                self.gap(*from, at);
                self.heard_last = Some(at);
            }
            Input::Event(Event::Crew(command)) => {
                if let Some(words) = act_words(command) {
                    self.mark(at, MarkKind::Act, words.to_owned());
                }
            }
            _ => {}
        }
        self.watch.handle_into(at, input, &mut self.out);
        for output in std::mem::take(&mut self.out) {
            self.note(&output);
        }
        if self.heat.last().is_none_or(|last| at.since(last.at) >= self.heat_every) {
            self.heat.push(Heat { at, share: share(&self.watch) });
            self.halve_heat();
        }
        self.to = at;
        Ok(())
    }

    /// What is no input of the watch still shows that time passed.
    fn put_away(&mut self, entry: &Entry) -> io::Result<()> {
        let (kind, feed, payload) = match &entry.what {
            Recorded::Line { feed, bytes } => (LINE, *feed, bytes.clone()),
            Recorded::Event(event) => (EVENT, FeedId(0), serde_json::to_vec(event)?),
            Recorded::Alert(_) | Recorded::LostLines(_) | Recorded::Damaged { .. } => {
                (TICK, FeedId(0), Vec::new())
            }
        };
        let length = u32::try_from(payload.len()).ok().filter(|length| *length <= PAYLOAD_MAX);
        let length = length.ok_or_else(|| io::Error::other("a line is longer than any of a recording"))?;
        let head = Head { at: entry.at, kind, feed, length };
        head.write(&mut self.spool)?;
        self.spool.write_all(&payload)?;
        self.offset += head.whole();
        Ok(())
    }

    fn keep(&mut self) {
        let at = if self.kept.is_empty() { WatchTime(i64::MIN) } else { self.to };
        self.kept.push(Kept { at, offset: self.offset, watch: self.watch.clone() });
        if self.kept.len() >= KEPT_MAX {
            let mut index = 0;
            self.kept.retain(|_| {
                index += 1;
                index % 2 == 1
            });
            self.every = self.every + self.every;
        }
    }

    /// Of two neighbours the one farther out stays.
    fn halve_heat(&mut self) {
        if self.heat.len() >= HEAT_MAX {
            let farther = |two: &[Heat]| {
                let share = two.iter().filter_map(|heat| heat.share).reduce(f64::max);
                Heat { at: two[0].at, share }
            };
            self.heat = self.heat.chunks(2).map(farther).collect();
            self.heat_every = self.heat_every + self.heat_every;
        }
    }

    fn note(&mut self, output: &Output) {
        let Output::Alert(change) = output else { return };
        if change.change != Change::Raised {
            return;
        }
        let alert = &change.alert;
        let kind = match (alert.kind, alert.priority) {
            (AlertKind::WindShift, _) => MarkKind::Shift,
            (_, Priority::Alarm) => MarkKind::Alarm,
            _ => MarkKind::Warning,
        };
        self.mark(change.at, kind, alert.kind.title().to_owned());
    }

    fn gap(&mut self, from: WatchTime, to: WatchTime) {
        if self.gaps.len() < MARKS_MAX {
            self.gaps.push((from.min(to), to));
        }
    }

    fn mark(&mut self, at: WatchTime, kind: MarkKind, words: String) {
        if self.marks.len() < MARKS_MAX {
            self.marks.push(Mark { at, kind, words });
        }
    }

    fn finish(mut self, name: &str, what_if: String) -> Result<Replay, ReplayError> {
        let from = self.from.ok_or_else(|| ReplayError::Empty(name.to_owned()))?;
        self.marks.sort_by_key(|mark| mark.at);
        let mut spool = self.spool.into_inner().map_err(io::IntoInnerError::into_error)?;
        spool.seek(SeekFrom::Start(0))?;
        let night = Night {
            name: name.to_owned(),
            from,
            to: self.to,
            heat: self.heat,
            marks: self.marks,
            gaps: self.gaps,
            what_if,
        };
        let first = self.kept.first().map_or_else(|| self.watch.clone(), |kept| kept.watch.clone());
        let mut replay = Replay {
            spool: BufReader::with_capacity(1 << 16, spool),
            offset: 0,
            end: self.offset,
            kept: self.kept,
            watch: first,
            now: from,
            night: Arc::new(night),
            payload: Vec::new(),
        };
        replay.seek(from)?;
        Ok(replay)
    }
}

/// How far out she lies, as a share of the circle, else of the reach.
fn share(watch: &Watch) -> Option<f64> {
    if !matches!(watch.stage(), Stage::Setting | Stage::BroughtUp) {
        return None;
    }
    let (_, off) = watch.farthest_off()?;
    let circle = watch.circle()?;
    (circle > Metres(0.0)).then(|| off.0 / circle.0)
}

/// What the crew did, where it is worth a mark.
const fn act_words(command: &Command) -> Option<&'static str> {
    Some(match command {
        Command::LetGo { .. } => "let go",
        Command::Lying { .. } => "lies at anchor",
        Command::BroughtUp => "brought up",
        Command::Veered { .. } => "rode changed",
        Command::MoveDrop(_) => "drop point moved",
        Command::Weigh => "weighing",
        Command::Stay => "stays",
        Command::LiesHere => "lies here now",
        Command::Aweigh => "aweigh",
        Command::Round(_) => "round made",
        Command::Limits(_) => "limits changed",
        Command::BeginCheck => "anchor check begins",
        Command::WindAhead { .. } => "wind ahead entered",
        Command::WayOut { .. } => "way out entered",
        Command::Berth { .. } => "berth entered",
        Command::Rehearse => "alarm rehearsed",
        Command::Wake(_) => "asked to be woken",
        Command::Note { .. } => "note",
        _ => return None,
    })
}
