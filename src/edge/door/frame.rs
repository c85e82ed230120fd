//! What is said through the door, to bytes and back.
//!
//! Each side begins with a greeting, a line of text with the number of the protocol: whoever meets a stranger can say so.
//! Then frames: four bytes of length (little end first), one that says what it is, and so many bytes. Received lines are
//! sent as they came, all else as JSON of the types that the journal keeps. Whatever comes in is bounded before it is
//! read.

use std::cmp::Reverse;
use std::io::{self, Read as _};

use flate2::Compression;
use flate2::read::{DeflateDecoder, DeflateEncoder};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::watch::alert::{AlertChange, Sound};
use crate::watch::boat::Settings;
use crate::watch::input::{Command, Event, FeedId};
use crate::watch::refusal::Refusal;
use crate::watch::units::WatchTime;

/// Number of the protocol. It changes when one side could no longer understand the other.
pub const PROTOCOL: u32 = 2;
/// First word of a greeting.
const GREETING: &str = "nightrode-door";
/// The longest greeting that is listened to.
pub const LONGEST_GREETING: usize = 64;
/// The longest frame from the watch: an event as long as the journal takes, and its frame.
pub const LONGEST_TOLD: usize = (1 << 20) + 64;
/// The longest frame to the watch: a table of tides, a forecast, a note.
pub const LONGEST_ASKED: usize = 1 << 16;
/// What is packed together at most: a block, and the frame that overfilled it.
const LONGEST_UNPACKED: u64 = 2 * LONGEST_TOLD as u64;
/// Bytes before a frame's own.
const HEAD: usize = 5;
/// The last moment of 2099, ms: nobody keeps a watch of this program after it.
const LAST_MS: i64 = 4_102_444_799_999;

/// The line with which a side begins.
#[must_use]
pub fn greeting() -> String {
    format!("{GREETING} {PROTOCOL}\n")
}

/// What is wrong with what came through the door.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Wrong {
    /// It does not begin as it should.
    #[error("What answers there is no watch of this program.")]
    Stranger,
    /// Another protocol.
    #[error(
        "The other side speaks version {0} of the door's language, this one version {PROTOCOL}: use the same version of \
         the program on both."
    )]
    Version(String),
    /// A frame that is longer than any.
    #[error("A message of {0} bytes came through the door, longer than any.")]
    TooLong(usize),
    /// A frame that means nothing.
    #[error("A message came through the door that means nothing.")]
    Senseless,
}

/// Reads a greeting, without its line feed.
///
/// # Errors
/// `Stranger` or `Version`.
pub fn greeted(line: &[u8]) -> Result<(), Wrong> {
    let text = std::str::from_utf8(line).map_err(|_| Wrong::Stranger)?;
    let version = text.strip_prefix(GREETING).ok_or(Wrong::Stranger)?.trim();
    match version.parse::<u32>() {
        Ok(PROTOCOL) => Ok(()),
        Ok(other) => Err(Wrong::Version(other.to_string())),
        Err(_) => Err(Wrong::Stranger),
    }
}

/// Who keeps the watch behind the door.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Keeps {
    /// Version of the program.
    pub version: String,
    /// Its process.
    pub process: u32,
    /// Name of the boat.
    pub boat: String,
    /// Folder of its rides; empty: it keeps none.
    pub rides: String,
    /// It is a simulated night.
    pub simulated: bool,
    /// Name of the machine.
    #[serde(default)]
    pub machine: String,
    /// By what right it keeps the watch, or the one that it stands by.
    #[serde(default)]
    pub claim: Claim,
    /// Another machine keeps the watch, and this one stands by.
    #[serde(default)]
    pub stands_by: bool,
    /// Names of the feeds that it reads itself.
    #[serde(default)]
    pub feeds: Vec<String>,
}

/// By what right a machine keeps a watch. Of two that meet one holds, whichever of them asks.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claim {
    /// Which ride: when its recording began; `None` while no anchor is down.
    pub ride: Option<WatchTime>,
    /// How often the watch has gone from one machine to another, and one.
    pub term: u32,
    /// Since when the machine keeps it.
    pub since: WatchTime,
    /// Name of the machine.
    pub by: String,
}

impl Claim {
    /// Whether this one holds against another: the later ride, the higher term, who took over first, and, so that it is
    /// one of the two in any case, the name.
    #[must_use]
    pub fn outranks(&self, other: &Self) -> bool {
        let key = |claim: &Self| (claim.ride, claim.term, Reverse(claim.since));
        (key(self), &self.by) > (key(other), &other.by)
    }
}

/// A place in all that a watch has heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// Which hearing: it begins anew when a ride does.
    pub tale: u64,
    /// Bytes of frames from its beginning on.
    pub offset: u64,
}

/// From where on a newcomer hears, and what stood there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Start {
    /// The place.
    pub place: Place,
    /// The settings that the watch began with.
    pub settings: Settings,
    /// Names of the feeds, in the order of their numbers.
    pub feeds: Vec<String>,
    /// What stood there, if it is not the beginning.
    pub standing: Vec<Event>,
    /// The ride that this is, if an anchor is down.
    #[serde(default)]
    pub ride: Option<RideBegan>,
}

/// A ride, as a folder of it begins.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RideBegan {
    /// When its recording began: it tells one ride from another.
    pub began: WatchTime,
    /// Name of the place, as far as it was known then.
    pub place: String,
}

/// An input of the watch, or what came out of it.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// A feed has the next number.
    Feed(String),
    /// A line was received.
    Line {
        /// When.
        at: WatchTime,
        /// From which feed.
        feed: FeedId,
        /// As it came.
        bytes: Vec<u8>,
    },
    /// Another input.
    Event {
        /// When.
        at: WatchTime,
        /// That.
        event: Event,
    },
    /// Time passed.
    Tick {
        /// Until then.
        at: WatchTime,
    },
    /// An alert changed, as the watch put it out.
    Alert(AlertChange),
    /// The sound that should be heard.
    Sound {
        /// When.
        at: WatchTime,
        /// Which.
        sound: Sound,
    },
}

/// Any message from the watch.
#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// Who keeps it: the first of all.
    Keeps(Keeps),
    /// From here on comes what it heard, from this place.
    Start(Box<Start>),
    /// One thing that it heard.
    Heard(Heard),
    /// Many of them, packed.
    Packed(Vec<u8>),
    /// That was all so far; what follows is new.
    Now,
    /// The watch judges. Each second.
    Beat,
    /// What came of a command.
    Answer(Answer),
    /// Words for the crew.
    Words(Words),
    /// How the watch stands, as JSON.
    Status(String),
    /// The watch wants no more of this peer, in words.
    Leave(String),
    /// From here on the peer keeps the watch, and this side follows it: both greet anew, the other way round.
    Turned,
    /// The crew hands the watch over: a peer that stands by may take it.
    Offered,
}

/// Words for the crew.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "words", content = "text")]
pub enum Words {
    /// They go after a while.
    Notice(String),
    /// They stay until the next.
    Caption(String),
}

/// What came of a command.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// Number of the command.
    pub number: u32,
    /// Why it was not carried out; `None`: it was.
    pub refused: Option<Refused>,
}

/// Why a command was not carried out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refused {
    /// In words.
    pub why: String,
    /// Whoever gave it must hear that.
    pub is_heard: bool,
}

impl From<Refusal> for Refused {
    fn from(why: Refusal) -> Self {
        Self { is_heard: why.is_heard(), why: why.to_string() }
    }
}

/// Any message to the watch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "ask")]
pub enum Asked {
    /// To follow it, from there on if it still knows that place.
    Follow {
        /// Where this peer has come to.
        #[serde(default)]
        from: Option<Place>,
    },
    /// To do something.
    Act {
        /// The peer's number for it.
        number: u32,
        /// That.
        command: Box<Command>,
    },
    /// How it stands.
    Status,
    /// That another machine is to keep the watch.
    Change {
        /// The peer's number for it.
        number: u32,
        /// Which.
        change: Change,
    },
    /// The peer stands by.
    Stand {
        /// Its feeds give a position.
        good: bool,
    },
}

/// Which machine is to keep the watch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "to")]
pub enum Change {
    /// The one that is asked, which stands by.
    Take,
    /// One that stands by the one that is asked.
    HandOver,
    /// The one that asks: it keeps the watch by this claim, or, without one, takes it over from the one that is asked.
    Yield {
        /// That.
        claim: Option<Claim>,
    },
}

const KEEPS: u8 = b'k';
const START: u8 = b's';
const FEED: u8 = b'f';
const LINE: u8 = b'l';
const EVENT: u8 = b'e';
const TICK: u8 = b't';
const ALERT: u8 = b'a';
const SOUND: u8 = b'o';
const PACKED: u8 = b'p';
const NOW: u8 = b'n';
const BEAT: u8 = b'b';
const ANSWER: u8 = b'r';
const WORDS: u8 = b'w';
const STATUS: u8 = b'c';
const LEAVE: u8 = b'x';
const TURNED: u8 = b'y';
const OFFERED: u8 = b'h';
const ASKED: u8 = b'q';

/// Appends a frame.
fn put(out: &mut Vec<u8>, kind: u8, parts: &[&[u8]]) {
    let length: usize = parts.iter().map(|part| part.len()).sum();
    out.extend_from_slice(&u32::try_from(length).unwrap_or(u32::MAX).to_le_bytes());
    out.push(kind);
    parts.iter().for_each(|part| out.extend_from_slice(part));
}

fn put_json(out: &mut Vec<u8>, kind: u8, value: &impl Serialize) {
    let text = serde_json::to_vec(value).expect("types of our own with text for keys always become JSON");
    put(out, kind, &[&text]);
}

/// Appends a received line.
pub fn put_line(out: &mut Vec<u8>, at: WatchTime, feed: FeedId, bytes: &[u8]) {
    put(out, LINE, &[&at.0.to_le_bytes(), &[feed.0], bytes]);
}

/// Appends an input that is no line.
pub fn put_event(out: &mut Vec<u8>, at: WatchTime, event: &Event) {
    put_json(out, EVENT, &(at, event));
}

impl Heard {
    /// Appends this.
    pub fn put(&self, out: &mut Vec<u8>) {
        match self {
            Self::Feed(name) => put(out, FEED, &[name.as_bytes()]),
            Self::Line { at, feed, bytes } => put_line(out, *at, *feed, bytes),
            Self::Event { at, event } => put_event(out, *at, event),
            Self::Tick { at } => put(out, TICK, &[&at.0.to_le_bytes()]),
            Self::Alert(change) => put_json(out, ALERT, change),
            Self::Sound { at, sound } => put_json(out, SOUND, &(at, sound)),
        }
    }

    /// `None` if it is another kind of message.
    fn read(kind: u8, body: &[u8]) -> Result<Option<Self>, Wrong> {
        Ok(Some(match kind {
            FEED => Self::Feed(text(body)?),
            LINE => {
                let (at, rest) = stamp(body)?;
                let (feed, bytes) = rest.split_first().ok_or(Wrong::Senseless)?;
                Self::Line { at, feed: FeedId(*feed), bytes: bytes.to_vec() }
            }
            EVENT => {
                let (at, event) = event(body)?;
                Self::Event { at, event }
            }
            TICK => Self::Tick { at: stamp(body)?.0 },
            ALERT => Self::Alert(json(body)?),
            SOUND => {
                let (at, sound) = json(body)?;
                Self::Sound { at, sound }
            }
            _ => return Ok(None),
        }))
    }
}

impl Told {
    /// Appends this.
    pub fn put(&self, out: &mut Vec<u8>) {
        match self {
            Self::Keeps(keeps) => put_json(out, KEEPS, keeps),
            Self::Start(start) => put_json(out, START, start),
            Self::Heard(heard) => heard.put(out),
            Self::Packed(packed) => put(out, PACKED, &[packed]),
            Self::Now => put(out, NOW, &[]),
            Self::Beat => put(out, BEAT, &[]),
            Self::Answer(answer) => put_json(out, ANSWER, answer),
            Self::Words(words) => put_json(out, WORDS, words),
            Self::Status(status) => put(out, STATUS, &[status.as_bytes()]),
            Self::Leave(why) => put(out, LEAVE, &[why.as_bytes()]),
            Self::Turned => put(out, TURNED, &[]),
            Self::Offered => put(out, OFFERED, &[]),
        }
    }

    /// Reads a message.
    ///
    /// # Errors
    /// `Senseless`.
    pub fn read(frame: &Frame) -> Result<Self, Wrong> {
        let body = &frame.body;
        if let Some(heard) = Heard::read(frame.kind, body)? {
            return Ok(Self::Heard(heard));
        }
        Ok(match frame.kind {
            KEEPS => Self::Keeps(json(body)?),
            START => Self::Start(Box::new(json(body)?)),
            PACKED => Self::Packed(body.clone()),
            NOW => Self::Now,
            BEAT => Self::Beat,
            ANSWER => Self::Answer(json(body)?),
            WORDS => Self::Words(json(body)?),
            STATUS => Self::Status(text(body)?),
            LEAVE => Self::Leave(text(body)?),
            TURNED => Self::Turned,
            OFFERED => Self::Offered,
            _ => return Err(Wrong::Senseless),
        })
    }
}

impl Asked {
    /// Appends this.
    pub fn put(&self, out: &mut Vec<u8>) {
        put_json(out, ASKED, self);
    }

    /// Reads a message.
    ///
    /// # Errors
    /// `Senseless`.
    pub fn read(frame: &Frame) -> Result<Self, Wrong> {
        if frame.kind == ASKED { json(&frame.body) } else { Err(Wrong::Senseless) }
    }
}

/// A message as it came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame {
    kind: u8,
    body: Vec<u8>,
}

impl Frame {
    /// Bytes of it, with what stands before its own.
    #[must_use]
    pub fn whole(&self) -> u64 {
        (HEAD + self.body.len()) as u64
    }
}

/// Cuts what comes in pieces into frames.
#[derive(Debug)]
pub struct Cutter {
    waiting: Vec<u8>,
    /// So much of that has been given out.
    used: usize,
    longest: usize,
}

impl Cutter {
    /// Frames no longer than this.
    #[must_use]
    pub fn new(longest: usize) -> Self {
        Self { waiting: Vec::new(), used: 0, longest }
    }

    /// Takes what came.
    pub fn push(&mut self, piece: &[u8]) {
        self.waiting.drain(..std::mem::take(&mut self.used));
        self.waiting.extend_from_slice(piece);
    }

    /// The line that everything begins with, once it is there.
    ///
    /// # Errors
    /// `Stranger`, if it does not come in time.
    pub fn greeting(&mut self) -> Result<Option<Vec<u8>>, Wrong> {
        match self.waiting.iter().take(LONGEST_GREETING).position(|byte| *byte == b'\n') {
            Some(end) => Ok(Some(self.waiting.drain(..=end).take(end).collect())),
            None if self.waiting.len() >= LONGEST_GREETING => Err(Wrong::Stranger),
            None => Ok(None),
        }
    }

    /// What has come and was not given out.
    #[must_use]
    pub fn rest(&mut self) -> Vec<u8> {
        self.waiting.drain(..std::mem::take(&mut self.used));
        std::mem::take(&mut self.waiting)
    }

    /// Every frame that is whole.
    pub fn frames(&mut self) -> impl Iterator<Item = Result<Frame, Wrong>> {
        std::iter::from_fn(|| self.next_frame().transpose())
    }

    /// The next frame, once it is whole.
    ///
    /// # Errors
    /// `TooLong`: nothing after it can be read.
    pub fn next_frame(&mut self) -> Result<Option<Frame>, Wrong> {
        let Some((head, rest)) = self.waiting[self.used..].split_at_checked(HEAD) else { return Ok(None) };
        let length = u32::from_le_bytes([head[0], head[1], head[2], head[3]]) as usize;
        if length > self.longest {
            return Err(Wrong::TooLong(length));
        }
        if rest.len() < length {
            return Ok(None);
        }
        let frame = Frame { kind: head[4], body: rest[..length].to_vec() };
        self.used += HEAD + length;
        Ok(Some(frame))
    }
}

/// Packs frames.
#[must_use]
pub fn pack(frames: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    // Memory takes whatever is written.
    let _ = DeflateEncoder::new(frames, Compression::fast()).read_to_end(&mut packed);
    packed
}

/// Unpacks frames.
///
/// # Errors
/// If that is nothing packed, or more than is ever packed together.
pub fn unpack(packed: &[u8]) -> io::Result<Vec<u8>> {
    let mut frames = Vec::new();
    DeflateDecoder::new(packed).take(LONGEST_UNPACKED + 1).read_to_end(&mut frames)?;
    if frames.len() as u64 > LONGEST_UNPACKED {
        return Err(io::Error::other("more than is ever packed together"));
    }
    Ok(frames)
}

fn json<T: DeserializeOwned>(body: &[u8]) -> Result<T, Wrong> {
    serde_json::from_slice(body).map_err(|_| Wrong::Senseless)
}

fn text(body: &[u8]) -> Result<String, Wrong> {
    std::str::from_utf8(body).map(str::to_owned).map_err(|_| Wrong::Senseless)
}

fn stamp(body: &[u8]) -> Result<(WatchTime, &[u8]), Wrong> {
    let (at, rest) = body.split_first_chunk().ok_or(Wrong::Senseless)?;
    let at = WatchTime(i64::from_le_bytes(*at));
    if is_a_time(at) { Ok((at, rest)) } else { Err(Wrong::Senseless) }
}

/// Whether a watch can have kept a moment: a computer without a clock begins in 1970, and from the end of time on no second
/// passes, so that a watch would never come to it.
fn is_a_time(at: WatchTime) -> bool {
    (0..=LAST_MS).contains(&at.0)
}

/// An event at a moment, both of which a watch can have kept.
fn event(body: &[u8]) -> Result<(WatchTime, Event), Wrong> {
    let (at, event): (WatchTime, Event) = json(body)?;
    let other = match &event {
        Event::Gap { from } => Some(*from),
        Event::Kept(kept) => kept.silent_since,
        _ => None,
    };
    let is_possible = is_a_time(at) && other.is_none_or(is_a_time);
    if is_possible { Ok((at, event)) } else { Err(Wrong::Senseless) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::input::Link;

    #[test]
    fn times_that_no_watch_can_have_kept_mean_nothing() {
        for at in [i64::MIN, -1, LAST_MS + 1, i64::MAX] {
            assert_eq!(stamp(&at.to_le_bytes()).err(), Some(Wrong::Senseless), "{at}");
            let gap = Event::Gap { from: WatchTime(at) };
            let gap = serde_json::to_vec(&(WatchTime(0), gap)).expect("an event");
            assert_eq!(event(&gap).err(), Some(Wrong::Senseless), "{at}");
        }
        assert!(stamp(&LAST_MS.to_le_bytes()).is_ok());
    }

    fn through(bytes: &[u8], piece: usize) -> Vec<Frame> {
        let mut cutter = Cutter::new(LONGEST_TOLD);
        let mut frames = Vec::new();
        for piece in bytes.chunks(piece) {
            cutter.push(piece);
            while let Some(frame) = cutter.next_frame().unwrap() {
                frames.push(frame);
            }
        }
        frames
    }

    #[test]
    fn every_message_comes_back_however_it_is_cut() {
        let at = WatchTime(1_780_430_520_123);
        let place = Place { tale: u64::MAX, offset: 7 };
        let event = Event::Feed { feed: FeedId(1), name: "gps".into(), link: Link::Open };
        let start = Start {
            place,
            settings: Settings::default(),
            feeds: vec!["gps".into()],
            standing: vec![event.clone()],
            ride: Some(RideBegan { began: at, place: "Hollow Ness".into() }),
        };
        let told = [
            Told::Keeps(Keeps { boat: "Marram".into(), process: 7, ..Keeps::default() }),
            Told::Start(Box::new(start)),
            Told::Heard(Heard::Feed("masthead".into())),
            Told::Heard(Heard::Line { at, feed: FeedId(3), bytes: b"\x80\n$GPHDT".to_vec() }),
            Told::Heard(Heard::Event { at, event }),
            Told::Heard(Heard::Tick { at }),
            Told::Heard(Heard::Sound { at, sound: Sound::Alarm }),
            Told::Packed(pack(b"frames")),
            Told::Now,
            Told::Beat,
            Told::Answer(Answer { number: 3, refused: Some(Refused { why: "no".into(), is_heard: true }) }),
            Told::Words(Words::Notice("she\nlies".into())),
            Told::Status("{}".into()),
            Told::Leave("too many".into()),
            Told::Turned,
            Told::Offered,
        ];
        let mut bytes = Vec::new();
        told.iter().for_each(|told| told.put(&mut bytes));
        for piece in [1, 3, 4096] {
            let back: Vec<Told> =
                through(&bytes, piece).iter().map(|frame| Told::read(frame).unwrap()).collect();
            assert_eq!(back, told);
        }
        let asked = [
            Asked::Follow { from: Some(place) },
            Asked::Follow { from: None },
            Asked::Act { number: 1, command: Box::new(Command::Silence) },
            Asked::Status,
            Asked::Change { number: 2, change: Change::Yield { claim: Some(Claim::default()) } },
            Asked::Change { number: 3, change: Change::Take },
            Asked::Stand { good: true },
        ];
        let mut bytes = Vec::new();
        asked.iter().for_each(|asked| asked.put(&mut bytes));
        let back: Vec<Asked> = through(&bytes, 2).iter().map(|frame| Asked::read(frame).unwrap()).collect();
        assert_eq!(back, asked);
    }

    #[test]
    fn a_stranger_another_version_and_an_endless_message_are_known_in_time() {
        assert_eq!(greeted(greeting().trim_end().as_bytes()), Ok(()));
        assert_eq!(greeted(b"nightrode-door 1"), Err(Wrong::Version("1".into())));
        assert_eq!(greeted(b"SSH-2.0-x"), Err(Wrong::Stranger));
        let mut cutter = Cutter::new(LONGEST_ASKED);
        cutter.push(&[b'x'; LONGEST_GREETING]);
        assert_eq!(cutter.greeting(), Err(Wrong::Stranger));
        let mut cutter = Cutter::new(LONGEST_ASKED);
        cutter.push(&u32::MAX.to_le_bytes());
        cutter.push(b"q");
        assert_eq!(cutter.next_frame(), Err(Wrong::TooLong(u32::MAX as usize)));
    }

    #[test]
    fn of_two_claims_one_holds_whichever_is_asked() {
        let claim = |ride: Option<i64>, term, since, by: &str| Claim {
            ride: ride.map(WatchTime),
            term,
            since: WatchTime(since),
            by: by.into(),
        };
        let falling = [
            claim(Some(9), 1, 9, "nav"),
            claim(Some(5), 3, 8, "nav"),
            claim(Some(5), 2, 6, "bunk"),
            claim(Some(5), 2, 7, "cockpit"),
            claim(Some(5), 2, 7, "bunk"),
            claim(Some(5), 1, 5, "nav"),
            claim(None, 7, 1, "nav"),
        ];
        for (i, one) in falling.iter().enumerate() {
            for (j, other) in falling.iter().enumerate() {
                assert_eq!(one.outranks(other), i < j, "{one:?} {other:?}");
            }
        }
    }

    #[test]
    fn what_is_packed_to_nothing_does_not_fill_the_memory() {
        let bomb = pack(&vec![0; LONGEST_UNPACKED as usize + 1]);
        assert!(bomb.len() < 100_000 && unpack(&bomb).is_err());
        assert_eq!(unpack(&pack(b"frames")).unwrap(), b"frames");
    }
}
