//! Messages that span several frames: "fast packets".
//!
//! # Source
//! As the canboat project describes them: the first byte of each frame holds a sequence of three bits and a counter of five;
//! the first frame has the length of the message in its second byte and six bytes of it, each further frame seven.

use super::frame::Frame;
use crate::watch::units::{Span, WatchTime};

/// Messages that may be waiting for their next frame at once; then the oldest is forgotten. A network has some two senders
/// of each kind. Our choice.
const WAITING_MAX: usize = 16;

/// Bytes that thirty-two frames can hold.
const LENGTH_MAX: usize = 223;

/// The frames of one message follow each other within some tens of milliseconds. Our choice, with room for a gateway that
/// collects.
const PART_TIMEOUT: Span = Span::from_secs(2);

/// What came of a frame.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Joined {
    /// The message is not whole yet.
    Part,
    /// Its message can never be whole.
    Lost,
    /// The whole message.
    Whole(Vec<u8>),
}

/// Messages of which a part is missing.
#[derive(Clone, Debug, Default)]
pub(super) struct FastPackets {
    /// Oldest first.
    waiting: Vec<Waiting>,
}

#[derive(Clone, Debug)]
struct Waiting {
    /// Sender, kind and sequence: frames that agree in this belong together.
    key: (u8, u32, u8),
    since: WatchTime,
    next: u8,
    length: usize,
    bytes: Vec<u8>,
}

impl FastPackets {
    /// Takes a frame of a message that comes in several; they come in order.
    pub(super) fn push(&mut self, at: WatchTime, frame: &Frame) -> Joined {
        let Some((&head, rest)) = frame.data().split_first() else { return Joined::Lost };
        let (key, counter) = ((frame.source, frame.pgn, head >> 5), head & 0x1F);
        self.waiting.retain(|waiting| at.since(waiting.since) <= PART_TIMEOUT);
        let known = self.waiting.iter().position(|waiting| waiting.key == key);
        let before = known.map(|index| self.waiting.remove(index));
        if counter == 0 {
            return self.begin(at, key, rest);
        }
        match before {
            Some(mut waiting) if waiting.next == counter => {
                waiting.bytes.extend_from_slice(rest);
                waiting.next += 1;
                self.keep_or_give(waiting, rest.len() < 7)
            }
            _ => Joined::Lost,
        }
    }

    fn begin(&mut self, at: WatchTime, key: (u8, u32, u8), rest: &[u8]) -> Joined {
        let Some((&length, bytes)) = rest.split_first() else { return Joined::Lost };
        let length = usize::from(length);
        if length > LENGTH_MAX {
            return Joined::Lost;
        }
        let waiting = Waiting { key, since: at, next: 1, length, bytes: bytes.to_vec() };
        self.keep_or_give(waiting, bytes.len() < 6)
    }

    /// `is_last`: the frame was not full, so no other can follow.
    fn keep_or_give(&mut self, mut waiting: Waiting, is_last: bool) -> Joined {
        if waiting.bytes.len() >= waiting.length {
            waiting.bytes.truncate(waiting.length);
            return Joined::Whole(waiting.bytes);
        }
        if is_last {
            return Joined::Lost;
        }
        if self.waiting.len() == WAITING_MAX {
            self.waiting.remove(0);
        }
        self.waiting.push(waiting);
        Joined::Part
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(source: u8, data: &[u8]) -> Frame {
        let bytes: Vec<_> = data.iter().map(|b| format!("{b:02X}")).collect();
        let line = format!("00:00:00.000 R 0DF805{source:02X} {}", bytes.join(" "));
        Frame::read(line.as_bytes()).unwrap().unwrap()
    }

    fn first(sequence: u8) -> [u8; 8] {
        [sequence << 5, 15, 1, 2, 3, 4, 5, 6]
    }

    fn second(sequence: u8) -> [u8; 8] {
        [sequence << 5 | 1, 7, 8, 9, 10, 11, 12, 13]
    }

    fn third(sequence: u8) -> [u8; 8] {
        [sequence << 5 | 2, 14, 15, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF]
    }

    #[test]
    fn senders_and_sequences_are_kept_apart() {
        let mut fast = FastPackets::default();
        let mut push = |source, data: [u8; 8]| fast.push(WatchTime(0), &frame(source, &data));
        for (source, sequence) in [(1, 0), (2, 0), (1, 1)] {
            assert_eq!(push(source, first(sequence)), Joined::Part);
        }
        for (source, sequence) in [(1, 1), (1, 0), (2, 0)] {
            assert_eq!(push(source, second(sequence)), Joined::Part);
            assert_eq!(push(source, third(sequence)), Joined::Whole((1..=15).collect()));
        }
    }

    #[test]
    fn a_lost_frame_loses_its_message_and_no_other() {
        let mut fast = FastPackets::default();
        let mut push = |ms, data: &[u8]| fast.push(WatchTime(ms), &frame(1, data));
        assert_eq!(push(0, &first(0)), Joined::Part);
        assert_eq!(push(0, &third(0)), Joined::Lost);
        assert_eq!(push(0, &second(0)), Joined::Lost);
        // The same sequence again, much later, is another message.
        assert_eq!(push(0, &first(1)), Joined::Part);
        assert_eq!(push(2001, &second(1)), Joined::Lost);
        assert_eq!(push(3000, &[0, 255, 1]), Joined::Lost);
        assert_eq!(push(3000, &[0]), Joined::Lost);
        assert_eq!(push(3000, &[]), Joined::Lost);
    }

    #[test]
    fn messages_without_end_do_not_grow() {
        let mut fast = FastPackets::default();
        for n in 0..=255 {
            fast.push(WatchTime(0), &frame(n, &first(n & 7)));
        }
        assert_eq!(fast.waiting.len(), WAITING_MAX);
    }
}
