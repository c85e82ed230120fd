//! NMEA 2000: from lines of text that gateways and CAN tools write, to observations.
//!
//! One line is one frame of the network. A message of up to eight bytes is one frame; a longer one comes in several, which
//! `fast` puts together. The messages that a watch uses are read in `messages`; the others are known by their number and
//! left alone. Memory is bounded, and nothing panics whatever comes.
//!
//! # Sources
//! The frames' identifier: ISO 11783-3. The layout of each message: the open description of the canboat project
//! (Apache-2.0), compared in `tests/figures/n2k.rs` with frames from another library's encoder and with captures.

mod fast;
mod frame;
mod messages;
mod payload;
mod vessels;

use super::nmea::{Observation, Rejected, Remark};
use super::units::WatchTime;

pub use frame::Frame;

use fast::{FastPackets, Joined};
use messages::Receivers;

/// What one frame was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// Address of the sender on the network.
    pub source: u8,
    /// Number of the parameter group: what kind of message.
    pub pgn: u32,
    /// What kept it from being used whole, if anything.
    pub remark: Option<Remark>,
}

impl Heard {
    /// The sender's address in two hexadecimal figures.
    #[must_use]
    pub fn talker(&self) -> [u8; 2] {
        let figure = |value: u8| b"0123456789ABCDEF"[usize::from(value & 0xF)];
        [figure(self.source >> 4), figure(self.source)]
    }
}

/// One network, as one feed gives it.
#[derive(Clone, Debug, Default)]
pub struct Bus {
    fast: FastPackets,
    receivers: Receivers,
}

impl Bus {
    /// Reads a line and appends what it says to `out`; `None` if it is not written as a frame.
    ///
    /// # Errors
    /// `BrokenFrame` if it begins as a frame and is none. `out` is then as it was.
    pub fn read(
        &mut self,
        at: WatchTime,
        line: &[u8],
        out: &mut Vec<Observation>,
    ) -> Option<Result<Heard, Rejected>> {
        let frame = match Frame::read(line)? {
            Ok(frame) => frame,
            Err(why) => return Some(Err(why)),
        };
        let remark = self.take(at, &frame, out);
        Some(Ok(Heard { source: frame.source, pgn: frame.pgn, remark }))
    }

    fn take(&mut self, at: WatchTime, frame: &Frame, out: &mut Vec<Observation>) -> Option<Remark> {
        if frame.is_sent || !messages::is_needed(frame.pgn) {
            return Some(Remark::NotNeeded);
        }
        if !messages::is_fast(frame.pgn) {
            return self.receivers.observe(at, frame.source, frame.pgn, frame.data(), out);
        }
        match self.fast.push(at, frame) {
            Joined::Part => None,
            Joined::Lost => Some(Remark::PartLost),
            Joined::Whole(message) => self.receivers.observe(at, frame.source, frame.pgn, &message, out),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn parts_give_nothing_until_the_message_is_whole() {
        let (mut bus, mut out) = (Bus::default(), Vec::new());
        let mut read = |line: &[u8]| bus.read(WatchTime(0), line, &mut out).unwrap().unwrap().remark;
        assert_eq!(read(b"00:29:58.993 R 0DF80515 00 2B 09 FF FF FF FF FF"), None);
        assert_eq!(read(b"00:29:58.993 R 0DF80515 02 FF 7F FF FF FF FF FF"), Some(Remark::PartLost));
        assert_eq!(read(b"00:29:58.993 T 0DF80515 00 2B 09 FF FF FF FF FF"), Some(Remark::NotNeeded));
        assert_eq!(read(b"00:29:58.993 R 15FD0723 FF C0 D9 6F FF 7F FF FF"), Some(Remark::NotNeeded));
        assert_eq!(read(b"00:29:58.993 R 0DF50B23 FF FF FF FF FF 00 00 FF"), Some(Remark::Empty));
    }

    proptest! {
        #[test]
        fn no_data_panics_and_none_is_read_out_of_range(
            frames in prop::collection::vec((0_u8..4, prop::sample::select(vec![
                0x01_F80E, 0x01_F80F, 0x01_FB02, 0x01_FB12,
                0x01_F010_u32, 0x01_F112, 0x01_F11A, 0x01_F200, 0x01_F503, 0x01_F50B, 0x01_F801, 0x01_F802, 0x01_F805, 0x01_FD02,
            ]), prop::collection::vec(any::<u8>(), 0..9)), 0..64),
        ) {
            let (mut bus, mut out) = (Bus::default(), Vec::new());
            for (n, (source, pgn, data)) in frames.iter().enumerate() {
                let hexed: String = data.iter().map(|byte| format!("{byte:02X}")).collect();
                let line = format!("(1.0) can0 {:08X}#{hexed}", 0x0800_0000 | pgn << 8 | u32::from(*source));
                let read = bus.read(WatchTime(n as i64 * 50), line.as_bytes(), &mut out);
                prop_assert!(read.is_some_and(|read| read.is_ok()));
            }
            for observation in out {
                match observation {
                    Observation::HeadingMagnetic(heading) => prop_assert!((0.0..360.0).contains(&heading.compass_deg)),
                    Observation::ApparentWind { angle_deg, .. } => prop_assert!((-180.0..180.0).contains(&angle_deg)),
                    Observation::Depth { depth, .. } => prop_assert!(depth.0 >= 0.0),
                    Observation::Velocity { sog, .. } => prop_assert!(sog.0 >= 0.0),
                    _ => {}
                }
            }
        }
    }
}
