//! At which rate does this serial line talk? Found by listening: at a wrong rate no checksum is right.

use std::io;
use std::time::{Duration, Instant};

use crate::watch::nmea::LineSplitter;
use crate::watch::units::WatchTime;
use crate::watch::wire::Reader;

/// Rates in the order in which they are tried, bits a second. 4800 is that of IEC 61162-1, 38400 that of IEC 61162-2
/// and of AIS; the others are what GNSS receivers come set to, common practice.
pub const USUAL_RATES: [u32; 7] = [4800, 38_400, 9600, 115_200, 57_600, 19_200, 230_400];

/// Right sentences that prove a rate. One could be chance: 1 in 256 by its checksum alone.
const PROOF: usize = 2;

/// Bytes without a right sentence that disprove a rate: more than three of the longest sentences of the standard (82).
const DISPROOF_BYTES: usize = 300;

/// Rates at which nothing at all came before the line is taken for silent.
const SILENCES_MAX: usize = 2;

/// How long to listen at a rate. Instruments speak once a second, some every two.
pub const DWELL: Duration = Duration::from_millis(2500);

/// A serial line whose rate can be changed.
pub trait Tunable {
    /// Changes the rate and forgets what was received.
    ///
    /// # Errors
    /// If the line cannot have that rate.
    fn tune(&mut self, baud: u32) -> io::Result<()>;

    /// Reads what has come. Kind `TimedOut` if nothing came for some moments.
    ///
    /// # Errors
    /// If the line broke.
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize>;
}

/// What was found out about a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// Sentences can be read at this rate.
    Rate(u32),
    /// Something comes, at no rate a sentence.
    Unreadable,
    /// Nothing comes.
    Silent,
}

/// The first of `rates` at which sentences can be read. Gives up when `wanted` says so, and at a silent line soon:
/// whoever talks is heard at any rate, as noise.
///
/// # Errors
/// If the line breaks.
pub fn find(
    line: &mut impl Tunable,
    rates: &[u32],
    dwell: Duration,
    wanted: impl Fn() -> bool,
) -> io::Result<Found> {
    let (mut heard, mut silences) = (false, 0);
    for &baud in rates {
        if line.tune(baud).is_err() {
            // A port that refuses an unusual rate may still have the others.
            continue;
        }
        match listen(line, dwell, &wanted)? {
            Heard::Sentences => return Ok(Found::Rate(baud)),
            Heard::Noise => heard = true,
            Heard::Nothing => silences += 1,
        }
        if !heard && silences == SILENCES_MAX || !wanted() {
            break;
        }
    }
    Ok(if heard { Found::Unreadable } else { Found::Silent })
}

/// What a line gives at one rate.
enum Heard {
    Nothing,
    Noise,
    Sentences,
}

fn listen(line: &mut impl Tunable, dwell: Duration, wanted: &impl Fn() -> bool) -> io::Result<Heard> {
    let begun = Instant::now();
    let (mut splitter, mut reader) = (LineSplitter::new(), Reader::default());
    let (mut observations, mut bytes, mut right) = (Vec::new(), 0, 0);
    let mut buffer = [0; 512];
    while right < PROOF && begun.elapsed() < dwell && wanted() {
        match line.read(&mut buffer) {
            Ok(0) => return Err(io::ErrorKind::BrokenPipe.into()),
            Ok(count) => {
                bytes += count;
                splitter.push(&buffer[..count], |line| {
                    observations.clear();
                    right += usize::from(reader.read(WatchTime(0), line, &mut observations).is_ok());
                });
                if right == 0 && bytes >= DISPROOF_BYTES {
                    return Ok(Heard::Noise);
                }
            }
            Err(error) if is_nothing_yet(&error) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(match bytes {
        0 => Heard::Nothing,
        _ if right >= PROOF => Heard::Sentences,
        _ => Heard::Noise,
    })
}

/// Whether a read failed only because nothing has come yet.
pub(super) fn is_nothing_yet(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An instrument at one rate; at another its bits are sampled wrong.
    struct Instrument {
        rate: Option<u32>,
        tuned: u32,
        tried: Vec<u32>,
        sent: usize,
    }

    impl Instrument {
        fn at(rate: Option<u32>) -> Self {
            Self { rate, tuned: 0, tried: Vec::new(), sent: 0 }
        }
    }

    impl Tunable for Instrument {
        fn tune(&mut self, baud: u32) -> io::Result<()> {
            self.tried.push(baud);
            self.tuned = baud;
            if baud == 57_600 { Err(io::ErrorKind::InvalidInput.into()) } else { Ok(()) }
        }

        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let rate = self.rate.ok_or(io::ErrorKind::TimedOut)?;
            let sentence = b"$GPHDT,236.7,T*35\r\n";
            for place in buffer.iter_mut().take(7) {
                let byte = sentence[self.sent % sentence.len()];
                *place = if rate == self.tuned { byte } else { byte.rotate_left(3) ^ 0x80 };
                self.sent += 1;
            }
            Ok(7)
        }
    }

    #[test]
    fn the_rate_is_found_by_its_right_checksums() {
        let mut instrument = Instrument::at(Some(115_200));
        let found = find(&mut instrument, &USUAL_RATES, Duration::from_secs(60), || true).unwrap();
        assert_eq!(found, Found::Rate(115_200));
        assert_eq!(instrument.tried, [4800, 38_400, 9600, 115_200]);
    }

    #[test]
    fn noise_at_every_rate_is_no_rate() {
        let mut instrument = Instrument::at(Some(1200));
        assert_eq!(
            find(&mut instrument, &USUAL_RATES, Duration::from_secs(60), || true).unwrap(),
            Found::Unreadable
        );
        assert_eq!(instrument.tried, USUAL_RATES);
    }

    #[test]
    fn a_silent_line_is_given_up_soon() {
        let mut instrument = Instrument::at(None);
        assert_eq!(find(&mut instrument, &USUAL_RATES, Duration::ZERO, || true).unwrap(), Found::Silent);
        assert_eq!(instrument.tried, [4800, 38_400]);
        assert_eq!(
            find(&mut instrument, &USUAL_RATES, Duration::from_secs(60), || false).unwrap(),
            Found::Silent
        );
    }
}
