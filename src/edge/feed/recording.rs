//! What was recorded, and when? Recordings of sentences as timed lines, whoever made them.
//!
//! Lines behind a TAG block carry their time. Bare lines are timed by the sentences that hold the time (RMC, ZDA, GGA,
//! GLL, GNS): each line takes the last time given, and lines before the first take that. So are frames of NMEA 2000,
//! by the stamp of the tool that wrote them or by the messages that hold the time. Plain text and gzip are told apart by
//! their first bytes.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;

use flate2::bufread::MultiGzDecoder;

use crate::watch::n2k::Frame;
use crate::watch::nmea::{LineSplitter, Observation, strip_tag};
use crate::watch::units::{Span, WatchTime};
use crate::watch::wire::Reader;

/// Lines kept back until the first time is known: a receiver's start-up before its first fix. Our choice.
const HELD_MAX: usize = 4096;

/// A recorded line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// When it was received; never before the line in front of it.
    pub at: WatchTime,
    /// The feed, where the recording names it.
    pub source: Option<String>,
    /// As it was received, without the recording's TAG block.
    pub bytes: Vec<u8>,
}

/// A recording, read line by line.
///
/// Yields an error once, as the last item, if the rest cannot be read; a gzip file broken off by a power cut ends so.
pub struct Recording {
    input: Box<dyn Read + Send>,
    buffer: Vec<u8>,
    splitter: LineSplitter,
    timer: Timer,
    held: Vec<Recorded>,
    ready: VecDeque<Recorded>,
    end: Option<io::Result<()>>,
}

impl Recording {
    /// Opens a file.
    ///
    /// # Errors
    /// If it cannot be opened or its first bytes cannot be read.
    pub fn open(path: &Path) -> io::Result<Self> {
        Self::new(File::open(path)?)
    }

    /// Reads from anything.
    ///
    /// # Errors
    /// If the first bytes cannot be read.
    pub fn new(input: impl Read + Send + 'static) -> io::Result<Self> {
        Ok(Self {
            input: unpacked(input)?,
            buffer: vec![0; 65_536],
            splitter: LineSplitter::new(),
            timer: Timer::default(),
            held: Vec::new(),
            ready: VecDeque::new(),
            end: None,
        })
    }

    /// So often the clock in the sentences went back by more than clocks of two instruments differ.
    #[must_use]
    pub fn put_back(&self) -> u64 {
        self.timer.put_back
    }

    fn read_more(&mut self) {
        match self.input.read(&mut self.buffer) {
            Ok(0) => self.finish(Ok(())),
            Ok(count) => {
                let (timer, held, ready) = (&mut self.timer, &mut self.held, &mut self.ready);
                self.splitter.push(&self.buffer[..count], |line| keep(line, timer, held, ready));
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => self.finish(Err(error)),
        }
    }

    fn finish(&mut self, end: io::Result<()>) {
        let (timer, held, ready) = (&mut self.timer, &mut self.held, &mut self.ready);
        self.splitter.finish(|line| keep(line, timer, held, ready));
        settle_undated(timer, held, ready);
        self.end = Some(end);
    }
}

impl Iterator for Recording {
    type Item = io::Result<Recorded>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(line) = self.ready.pop_front() {
                return Some(Ok(line));
            }
            match &mut self.end {
                None => self.read_more(),
                Some(end) => return std::mem::replace(end, Ok(())).err().map(Err),
            }
        }
    }
}

/// The same bytes, unpacked if they are gzip.
///
/// # Errors
/// If the first bytes cannot be read.
pub fn unpacked(mut input: impl Read + Send + 'static) -> io::Result<Box<dyn Read + Send>> {
    let mut magic = Vec::new();
    input.by_ref().take(2).read_to_end(&mut magic)?;
    // RFC 1952, section 2.3.1.
    let is_gzip = magic == [0x1f, 0x8b];
    let whole = BufReader::with_capacity(65_536, io::Cursor::new(magic).chain(input));
    Ok(if is_gzip { Box::new(MultiGzDecoder::new(whole)) } else { Box::new(whole) })
}

/// Times a line; queues it, or holds it back while no time is known.
fn keep(line: &[u8], timer: &mut Timer, held: &mut Vec<Recorded>, ready: &mut VecDeque<Recorded>) {
    let (source, bytes) = timer.read(line);
    let recorded = |at| Recorded { at, source: source.map(str::to_owned), bytes: bytes.to_vec() };
    match timer.now {
        Some(at) => {
            ready.extend(held.drain(..).map(|line| Recorded { at, ..line }));
            ready.push_back(recorded(at));
        }
        None => {
            held.push(recorded(WatchTime::default()));
            if held.len() >= HELD_MAX {
                settle_undated(timer, held, ready);
            }
        }
    }
}

/// No date has come, or no time at all: the lines kept back are counted from the first day of 1970.
fn settle_undated(timer: &mut Timer, held: &mut Vec<Recorded>, ready: &mut VecDeque<Recorded>) {
    if held.is_empty() {
        return;
    }
    let mut at = timer.begin_undated();
    for line in held.drain(..) {
        timer.read(&line.bytes);
        at = timer.now.unwrap_or(at);
        ready.push_back(Recorded { at, ..line });
    }
}

const DAY_MS: i64 = 86_400_000;

/// Clocks of two instruments on one line differ by less; going back so far is no step back. Our choice.
const JITTER: Span = Span::from_secs(10);

/// A hole in the recording longer than this must be shown by several sentences before it is believed: one alone may be
/// a receiver that has not found its time yet. Our choice.
const HOLE: Span = Span::from_mins(10);

/// Sentences in a row that prove a leap in time.
const PROOF: u8 = 3;

/// Finds out the time of each line.
#[derive(Default)]
struct Timer {
    /// Time of the latest line.
    now: Option<WatchTime>,
    /// What is added to the times given, so that a recording whose clock was put back still runs forward.
    shift: Span,
    /// TAG blocks have given the time: sentences are not asked any more.
    tagged: bool,
    /// Latest time given by a sentence, as given.
    stated: Option<WatchTime>,
    /// A leap that is not proved yet: the latest time after it, and how many gave it.
    leap: Option<(WatchTime, u8)>,
    /// A time of day before any date.
    undated: Option<i64>,
    /// So often the clock was put back.
    put_back: u64,
    reader: Reader,
    observations: Vec<Observation>,
}

impl Timer {
    /// Advances the time by what the line holds; returns its source and what follows the TAG block.
    fn read<'a>(&mut self, line: &'a [u8]) -> (Option<&'a str>, &'a [u8]) {
        let Ok(stripped) = strip_tag(line) else { return (None, line) };
        if let Some(unix_ms) = stripped.tag.unix_ms {
            self.tagged = true;
            self.advance(WatchTime(unix_ms));
        } else if let Some(unix_ms) = stamped(stripped.rest) {
            self.tagged = true;
            self.advance(WatchTime(unix_ms));
        } else if !self.tagged {
            self.ask_sentence(stripped.rest);
        }
        (stripped.tag.source, stripped.rest)
    }

    /// Takes the first time of day that was given for one of the first day of 1970.
    fn begin_undated(&mut self) -> WatchTime {
        let first = WatchTime(self.undated.unwrap_or(0));
        self.stated = Some(first);
        self.advance(first);
        first
    }

    fn ask_sentence(&mut self, line: &[u8]) {
        if !may_tell_time(line) {
            return;
        }
        self.observations.clear();
        // Frames of a message that spans several follow each other: the last time known is near enough.
        let at = self.now.unwrap_or_default();
        if self.reader.read(at, line, &mut self.observations).is_err() {
            return;
        }
        let stated = self.observations.iter().find_map(|observation| match *observation {
            Observation::Utc { time, date } => {
                Some((i64::from(time.millis()), date.map(|date| time.unix_ms_on(date))))
            }
            Observation::Fix(fix) => fix.utc.map(|time| (i64::from(time.millis()), None)),
            Observation::NoFix { utc, .. } => utc.map(|time| (i64::from(time.millis()), None)),
            _ => None,
        });
        match (stated, self.stated) {
            (Some((_, Some(unix_ms))), _) => self.hear(WatchTime(unix_ms)),
            (Some((time_ms, None)), Some(before)) => self.hear(nearest(time_ms, before)),
            (Some((time_ms, None)), None) => self.undated = self.undated.or(Some(time_ms)),
            (None, _) => {}
        }
    }

    /// A sentence gave the time.
    fn hear(&mut self, stated: WatchTime) {
        let follows = |before: WatchTime| (Span(-JITTER.0)..=HOLE).contains(&stated.since(before));
        match (self.stated, self.leap) {
            (Some(before), _) if follows(before) => self.leap = None,
            (Some(_), Some((before, proofs))) if follows(before) && proofs + 1 >= PROOF => self.leap = None,
            (Some(_), Some((before, proofs))) if follows(before) => {
                self.leap = Some((stated, proofs + 1));
                return;
            }
            (Some(_), _) => {
                self.leap = Some((stated, 1));
                return;
            }
            (None, _) => {}
        }
        self.stated = Some(stated);
        self.advance(stated);
    }

    /// The time is `stated` now; a line is never before the one in front of it.
    fn advance(&mut self, stated: WatchTime) {
        let Some(now) = self.now else {
            self.now = Some(stated);
            return;
        };
        if stated >= now {
            // A clock that fell behind has caught up.
            self.shift = Span::ZERO;
        }
        let next = stated + self.shift;
        if now.since(next) > JITTER {
            self.put_back += 1;
            self.shift = now.since(stated);
        }
        self.now = Some(now.max(next));
    }
}

/// The moment with that time of day that lies nearest to `before`.
fn nearest(time_ms: i64, before: WatchTime) -> WatchTime {
    let ahead_ms = (time_ms - before.0).rem_euclid(DAY_MS);
    before + Span(if ahead_ms > DAY_MS / 2 { ahead_ms - DAY_MS } else { ahead_ms })
}

/// The time that a tool for NMEA 2000 wrote in front of the frame.
fn stamped(line: &[u8]) -> Option<i64> {
    if line.first() != Some(&b'(') { None } else { Frame::read(line)?.ok()?.unix_ms }
}

/// Whether the line is worth parsing for its time.
fn may_tell_time(line: &[u8]) -> bool {
    // Frames of NMEA 2000 begin with a figure, a name or `<`, objects with a brace.
    line.first().is_some_and(|b| b.is_ascii_alphanumeric() || b"<{".contains(b))
        || matches!(line, [b'$', _, _, kind @ ..] if [b"RMC", b"ZDA", b"GGA", b"GLL", b"GNS"].iter().any(|k| kind.starts_with(*k)))
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use flate2::Compression;
    use flate2::write::GzEncoder;

    use super::*;

    const MIDNIGHT_MS: i64 = 1_780_444_800_000; // 2026-06-03

    fn sentence(body: &str) -> String {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}\r\n")
    }

    fn rmc(time: &str, date: &str) -> String {
        sentence(&format!("GPRMC,{time},A,5012.345,N,00512.345,W,0.1,,{date},,,A"))
    }

    fn gga(time: &str) -> String {
        sentence(&format!("GPGGA,{time},5012.345,N,00512.345,W,1,09,0.9,4.0,M,50.0,M,,"))
    }

    fn depth() -> String {
        sentence("SDDBT,16.4,f,5.0,M,2.7,F")
    }

    /// Seconds after midnight of 3 June 2026 of every line.
    fn seconds(log: &str) -> Vec<f64> {
        let lines = Recording::new(io::Cursor::new(log.to_owned())).unwrap();
        lines.map(|line| (line.unwrap().at.0 - MIDNIGHT_MS) as f64 / 1000.0).collect()
    }

    #[test]
    fn tag_blocks_time_their_lines_and_name_the_feed() {
        let mut log = Vec::new();
        crate::watch::nmea::write_tag(
            "gps",
            MIDNIGHT_MS + 1_500,
            rmc("020304", "030626").trim_end().as_bytes(),
            &mut log,
        );
        log.extend(b"\r\n\\s:gps*1F\\$GPHDT,236.7,T*35\r\n");
        let lines: Vec<_> = Recording::new(io::Cursor::new(log)).unwrap().map(Result::unwrap).collect();
        assert_eq!(lines[0].at, WatchTime(MIDNIGHT_MS + 1_500), "the block's time, not the sentence's");
        assert_eq!(lines[0].source.as_deref(), Some("gps"));
        assert!(lines[0].bytes.starts_with(b"$GPRMC"));
        assert_eq!(lines[1].at, lines[0].at);
    }

    #[test]
    fn bare_lines_take_the_last_time_told_and_the_first_ones_the_first() {
        let log =
            depth() + &gga("000001") + &rmc("000002", "030626") + &depth() + &gga("000003.5") + &depth();
        assert_eq!(seconds(&log), [2.0, 2.0, 2.0, 2.0, 3.5, 3.5]);
    }

    #[test]
    fn midnight_passes_without_a_date() {
        let log = rmc("235959", "020626") + &gga("000000") + &gga("000001");
        assert_eq!(seconds(&log), [-1.0, 0.0, 1.0]);
    }

    #[test]
    fn one_wrong_time_is_not_believed_and_a_hole_is_after_three() {
        let log = rmc("000001", "030626")
            + &rmc("000001", "030680")
            + &rmc("000002", "030626")
            + &rmc("060000", "030626")
            + &rmc("060001", "030626")
            + &rmc("060002", "030626");
        assert_eq!(seconds(&log), [1.0, 1.0, 2.0, 2.0, 2.0, 21_602.0]);
    }

    #[test]
    fn a_clock_that_was_put_back_still_runs_forward() {
        let log = rmc("060000", "030626")
            + &rmc("000001", "030626")
            + &rmc("000002", "030626")
            + &rmc("000003", "030626")
            + &rmc("000005", "030626");
        assert_eq!(seconds(&log), [21_600.0, 21_600.0, 21_600.0, 21_600.0, 21_602.0]);
    }

    #[test]
    fn a_receiver_that_repeats_a_minute_loses_no_time_and_gains_none() {
        let minute = |minute: i32| -> String {
            (0..60).map(|second| rmc(&format!("08{minute:02}{second:02}"), "030626")).collect()
        };
        // Three minutes pass while it repeats one; then it finds the time again.
        let seconds = seconds(&(minute(1) + &minute(2) + &minute(2) + &minute(2) + &minute(5)));
        let eight = 8.0 * 3600.0;
        let (repeated, found) = (seconds[239] - eight, seconds[299] - eight);
        assert!((285.0..=299.0).contains(&repeated), "{repeated}: a few seconds are lost at each step back");
        assert_eq!(found, 359.0);
    }

    #[test]
    fn a_log_without_dates_is_counted_from_the_first_day_of_1970() {
        let times = |log: String| {
            let lines = Recording::new(io::Cursor::new(log)).unwrap();
            lines.map(|line| line.unwrap().at.0).collect::<Vec<_>>()
        };
        assert_eq!(times(depth() + &gga("000001") + &gga("000003")), [1_000, 1_000, 3_000]);
        let long = gga("000001") + &depth().repeat(HELD_MAX) + &gga("000003");
        assert_eq!(times(long)[HELD_MAX..], [1_000, 3_000]);
        assert_eq!(times(depth()), [0]);
    }

    fn packed(text: &str) -> Vec<u8> {
        let mut packer = GzEncoder::new(Vec::new(), Compression::default());
        packer.write_all(text.as_bytes()).unwrap();
        packer.finish().unwrap()
    }

    #[test]
    fn gzip_is_unpacked_also_when_appended_to() {
        let log = [packed(&rmc("000001", "030626")), packed(&depth())].concat();
        let lines: Vec<_> = Recording::new(io::Cursor::new(log)).unwrap().map(Result::unwrap).collect();
        assert_eq!(lines.len(), 2);
    }

    #[test]
    fn a_torn_gzip_gives_what_is_whole_and_then_says_so() {
        let noise: String =
            (0..5000_u32).map(|n| gga(&format!("{:06}", n.wrapping_mul(2_654_435_761) % 60))).collect();
        let mut log = packed(&(rmc("000001", "030626") + &noise));
        log.truncate(log.len() / 2);
        let mut recording = Recording::new(io::Cursor::new(log)).unwrap();
        let (mut lines, mut errors) = (0, 0);
        for line in &mut recording {
            match line {
                Ok(_) => lines += 1,
                Err(_) => errors += 1,
            }
        }
        assert!(lines > 100, "{lines}");
        assert_eq!(errors, 1);
        assert!(recording.next().is_none());
    }
}
