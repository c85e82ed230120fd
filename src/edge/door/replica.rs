//! A watch that hears what another hears: the same inputs with the same stamps, so it knows the same.

use std::collections::VecDeque;

use super::frame::{Cutter, Frame, Heard, LONGEST_TOLD, Place, Start, Told, Wrong, unpack};
use crate::watch::Watch;
use crate::watch::alert::AlertChange;
use crate::watch::boat::Settings;
use crate::watch::input::{Event, Input};
use crate::watch::output::Output;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::WatchTime;

/// So many of its own changes of alerts are compared with what the other put out.
const COMPARED: usize = 64;

/// A watch that hears what another hears.
#[derive(Debug)]
pub struct Replica {
    watch: Watch,
    place: Option<Place>,
    /// What stood where it began to hear: heard with the first stamp.
    standing: Vec<Event>,
    /// It has heard all that there was.
    is_up: bool,
    own: VecDeque<AlertChange>,
    /// The other put out an alert that this one did not.
    differs: bool,
    out: Vec<Output>,
}

impl Default for Replica {
    fn default() -> Self {
        Self {
            watch: Watch::new(Settings::default()),
            place: None,
            standing: Vec::new(),
            is_up: false,
            own: VecDeque::new(),
            differs: false,
            out: Vec::new(),
        }
    }
}

impl Replica {
    /// Where it has come to in what the other heard.
    #[must_use]
    pub fn place(&self) -> Option<Place> {
        self.place
    }

    /// The link is lost: what comes after it may be old.
    pub fn falls_behind(&mut self) {
        self.is_up = false;
    }

    /// Whether it has heard all that there was.
    #[must_use]
    pub fn is_up(&self) -> bool {
        self.is_up
    }

    /// Whether the other ever put out an alert that this one did not: two versions, or two kinds of computer.
    #[must_use]
    pub fn differs(&self) -> bool {
        self.differs
    }

    /// The watch.
    #[must_use]
    pub fn watch(&self) -> &Watch {
        &self.watch
    }

    /// Everything there is to see.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        self.watch.snapshot()
    }

    /// Takes a message that is for it, and appends what came of it where that is new. Other messages it leaves alone.
    ///
    /// # Errors
    /// If a packed message holds no messages.
    pub fn take(&mut self, told: Told, whole: u64, out: &mut Vec<Output>) -> Result<(), Wrong> {
        self.take_with(told, whole, out, &mut |_| ())
    }

    /// The same; `also` is given each thing that is heard.
    ///
    /// # Errors
    /// As [`Replica::take`].
    pub fn take_with(
        &mut self,
        told: Told,
        whole: u64,
        out: &mut Vec<Output>,
        also: &mut dyn FnMut(&Heard),
    ) -> Result<(), Wrong> {
        match told {
            Told::Start(start) => self.start(*start),
            Told::Packed(packed) => return self.packed(&packed, out, also),
            Told::Heard(heard) => {
                also(&heard);
                self.heard(heard, whole, out);
            }
            Told::Now => self.is_up = true,
            _ => {}
        }
        Ok(())
    }

    fn packed(
        &mut self,
        packed: &[u8],
        out: &mut Vec<Output>,
        also: &mut dyn FnMut(&Heard),
    ) -> Result<(), Wrong> {
        let mut cutter = Cutter::new(LONGEST_TOLD);
        cutter.push(&unpack(packed).map_err(|_| Wrong::Senseless)?);
        for frame in cutter.frames() {
            let frame: Frame = frame?;
            let Told::Heard(heard) = Told::read(&frame)? else { return Err(Wrong::Senseless) };
            also(&heard);
            self.heard(heard, frame.whole(), out);
        }
        Ok(())
    }

    fn start(&mut self, start: Start) {
        self.watch = Watch::new(start.settings);
        for name in &start.feeds {
            self.watch.feed_named(name);
        }
        self.place = Some(start.place);
        self.standing = start.standing;
        self.own.clear();
    }

    fn heard(&mut self, heard: Heard, whole: u64, out: &mut Vec<Output>) {
        if let Some(place) = &mut self.place {
            place.offset += whole;
        }
        match heard {
            Heard::Feed(name) => drop(self.watch.feed_named(&name)),
            Heard::Line { at, feed, bytes } => self.input(at, Input::Line { feed, bytes: &bytes }, out),
            Heard::Event { at, event } => self.input(at, Input::Event(event), out),
            Heard::Tick { at } => self.input(at, Input::Tick, out),
            Heard::Alert(change) => self.differs |= !self.own.contains(&change),
            // It is what this watch says too.
            Heard::Sound { .. } => {}
        }
    }

    fn input(&mut self, at: WatchTime, input: Input<'_>, out: &mut Vec<Output>) {
        for event in std::mem::take(&mut self.standing) {
            self.watch.handle_into(at, Input::Event(event), &mut self.out);
        }
        self.watch.handle_into(at, input, &mut self.out);
        for output in self.out.drain(..) {
            if let Output::Alert(change) = &output {
                if self.own.len() == COMPARED {
                    self.own.pop_front();
                }
                self.own.push_back(change.clone());
            }
            if self.is_up {
                out.push(output);
            }
        }
    }
}
