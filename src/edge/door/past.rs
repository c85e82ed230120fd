//! All that a watch has heard in this ride, so that whoever comes later can hear it too.
//!
//! It is kept as the frames that go through the door, packed in blocks, in memory: a full or slow disk takes nothing from
//! whoever wants to look. Readers come with the place that they have reached, and are given the next piece.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::watch;

use super::frame::{self, Heard, Place, RideBegan, Start, Told};
use crate::edge::folder::{Entry, Recorded};
use crate::watch::boat::Settings;
use crate::watch::input::{Event, FeedId};
use crate::watch::units::WatchTime;

/// Frames are packed in blocks of this many bytes: 64 KiB, about a minute of a busy network.
const BLOCK: usize = 1 << 16;
/// So many packed bytes are kept while no anchor is down: 4 MiB, half a day of a busy network.
const KEPT_UNDER_WAY: usize = 4 << 20;
/// And of a ride: 128 MiB, some two weeks of a busy network.
const KEPT_OF_RIDE: usize = 128 << 20;

/// All that was heard. Clones are the same.
#[derive(Clone, Debug)]
pub struct Past(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    kept: Mutex<Kept>,
    news: watch::Sender<()>,
}

#[derive(Debug)]
struct Kept {
    tale: u64,
    settings: Settings,
    feeds: Vec<String>,
    /// What stood where the first block begins.
    standing: Vec<Event>,
    ride: Option<RideBegan>,
    /// A ride has lost its beginning: nobody can come to hear it any more.
    is_cut: bool,
    blocks: VecDeque<Block>,
    packed: usize,
    open: Vec<u8>,
    open_from: u64,
}

#[derive(Debug)]
struct Block {
    from: u64,
    packed: Arc<[u8]>,
}

/// The next piece of what was heard.
#[derive(Debug)]
pub enum Piece {
    /// The reader begins anew, here.
    Start(Box<Start>),
    /// A packed block.
    Packed(Arc<[u8]>, Place),
    /// Frames as they are.
    Frames(Vec<u8>, Place),
    /// There is no more yet.
    Nothing,
    /// The beginning is no longer kept.
    Gone,
}

impl Past {
    /// Nothing is heard yet. `seed` tells this watch from others, and from those before it.
    #[must_use]
    pub fn new(seed: u64, settings: Settings) -> Self {
        let kept = Kept {
            tale: seed,
            settings,
            feeds: Vec::new(),
            standing: Vec::new(),
            ride: None,
            is_cut: false,
            blocks: VecDeque::new(),
            packed: 0,
            open: Vec::new(),
            open_from: 0,
        };
        Self(Arc::new(Shared { kept: Mutex::new(kept), news: watch::channel(()).0 }))
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        // Whoever panicked has left whole frames behind.
        self.0.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Resolves when there is more.
    #[must_use]
    pub fn news(&self) -> watch::Receiver<()> {
        self.0.news.subscribe()
    }

    /// A fresh watch begins to hear: of a ride, or while no anchor is down.
    pub fn begin(&self, settings: &Settings, feeds: &[String], ride: Option<RideBegan>) {
        let mut kept = self.kept();
        kept.tale = kept.tale.wrapping_add(1);
        kept.settings = settings.clone();
        kept.feeds = feeds.to_vec();
        (kept.standing, kept.ride, kept.is_cut) = (Vec::new(), ride, false);
        kept.blocks.clear();
        kept.open.clear();
        (kept.packed, kept.open_from) = (0, 0);
    }

    /// A line was received. Readers are not woken for it: the tick that follows takes it along.
    pub fn line(&self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        self.kept().add(|out| frame::put_line(out, at, feed, bytes));
    }

    /// Something else was heard, or came out.
    pub fn heard(&self, heard: &Heard) {
        self.kept().add(|out| heard.put(out));
        self.0.news.send_replace(());
    }

    /// Another input was heard.
    pub fn event(&self, at: WatchTime, event: &Event) {
        self.kept().add(|out| frame::put_event(out, at, event));
        self.0.news.send_replace(());
    }

    /// Something that a ride's files, or the minutes before it, hold was heard.
    pub fn entry(&self, entry: &Entry) {
        match &entry.what {
            Recorded::Line { feed, bytes } => self.line(entry.at, *feed, bytes),
            Recorded::Event(event) => self.event(entry.at, event),
            Recorded::Alert(_) | Recorded::LostLines(_) | Recorded::Damaged { .. } => {
                self.heard(&Heard::Tick { at: entry.at });
            }
        }
    }

    /// Lets go of what is too much. While no anchor is down others may come later all the same: they are given the
    /// names of the `feeds`, and what is `standing`.
    pub fn bound(&self, anchored: bool, feeds: &[String], standing: impl FnOnce() -> Vec<Event>) {
        let most = if anchored { KEPT_OF_RIDE } else { KEPT_UNDER_WAY };
        let mut kept = self.kept();
        if kept.packed <= most {
            return;
        }
        while kept.packed > most / 2
            && let Some(block) = kept.blocks.pop_front()
        {
            kept.packed -= block.packed.len();
        }
        if anchored {
            kept.is_cut = true;
        } else {
            (kept.feeds, kept.standing) = (feeds.to_vec(), standing());
        }
    }

    /// What follows on a place.
    #[must_use]
    pub fn after(&self, place: Option<Place>) -> Piece {
        let kept = self.kept();
        let tale = kept.tale;
        let first = kept.blocks.front().map_or(kept.open_from, |block| block.from);
        let end = kept.open_from + kept.open.len() as u64;
        let offset = match place {
            Some(place) if place.tale == tale && (first..=end).contains(&place.offset) => place.offset,
            _ if kept.is_cut => return Piece::Gone,
            _ => return Piece::Start(Box::new(kept.start(first))),
        };
        if offset >= kept.open_from {
            let frames = kept.open[(offset - kept.open_from) as usize..].to_vec();
            return if frames.is_empty() {
                Piece::Nothing
            } else {
                Piece::Frames(frames, Place { tale, offset: end })
            };
        }
        let at = kept.blocks.partition_point(|block| block.from <= offset).saturating_sub(1);
        let next = kept.blocks.get(at + 1).map_or(kept.open_from, |block| block.from);
        let (from, packed) = (kept.blocks[at].from, Arc::clone(&kept.blocks[at].packed));
        drop(kept);
        let next = Place { tale, offset: next };
        if from == offset {
            return Piece::Packed(packed, next);
        }
        // A reader that had come into the middle of it before it was packed.
        let frames = frame::unpack(&packed).unwrap_or_default();
        Piece::Frames(frames.get((offset - from) as usize..).unwrap_or_default().to_vec(), next)
    }

    /// Bytes that are kept.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let kept = self.kept();
        kept.packed + kept.open.len()
    }
}

impl Kept {
    fn start(&self, offset: u64) -> Start {
        Start {
            place: Place { tale: self.tale, offset },
            settings: self.settings.clone(),
            feeds: self.feeds.clone(),
            standing: self.standing.clone(),
            ride: self.ride.clone(),
        }
    }

    fn add(&mut self, put: impl FnOnce(&mut Vec<u8>)) {
        put(&mut self.open);
        if self.open.len() >= BLOCK {
            let packed: Arc<[u8]> = frame::pack(&self.open).into();
            self.packed += packed.len();
            self.blocks.push_back(Block { from: self.open_from, packed });
            self.open_from += self.open.len() as u64;
            self.open.clear();
        }
    }
}

impl Piece {
    /// This as it goes through the door, and the place behind it.
    #[must_use]
    pub fn through(self) -> Option<(Vec<u8>, Place)> {
        let mut out = Vec::new();
        match self {
            Self::Start(start) => {
                let place = start.place;
                Told::Start(start).put(&mut out);
                Some((out, place))
            }
            Self::Packed(packed, next) => {
                Told::Packed(packed.to_vec()).put(&mut out);
                Some((out, next))
            }
            Self::Frames(frames, next) => Some((frames, next)),
            Self::Nothing | Self::Gone => None,
        }
    }
}
