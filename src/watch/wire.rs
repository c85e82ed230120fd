//! One line of any kind: whose form is it, and what does it say?
//!
//! A feed does not say what it will bring: a multiplexer sends sentences, a gateway NMEA 2000 as text, a server JSON, and one
//! line may be of one kind and the next of another. The form of each line decides.

use super::json::{self, Objects};
use super::n2k::{self, Bus};
use super::nmea::{self, Observation, Rejected, Remark};
use super::units::WatchTime;

/// Reads the lines of one feed. What spans several lines is put together here; memory is bounded.
#[derive(Clone, Debug, Default)]
pub struct Reader {
    bus: Bus,
    objects: Objects,
}

/// A line that was received whole.
#[derive(Clone, Debug, PartialEq)]
pub enum Told<'a> {
    /// A sentence of NMEA 0183.
    Sentence(nmea::Heard<'a>),
    /// A frame of NMEA 2000.
    Frame(n2k::Heard),
    /// A JSON object, of Signal K or of gpsd.
    Object(json::Heard),
}

impl Told<'_> {
    /// Who says the observation of that number, of those that the line appended; in two characters. An object can
    /// bring what several sources say.
    #[must_use]
    pub fn talker_of(&self, index: usize) -> [u8; 2] {
        match self {
            Self::Sentence(heard) => heard.talker,
            Self::Frame(heard) => heard.talker(),
            Self::Object(heard) => heard.talker_of(index),
        }
    }

    /// What kept it from being used whole, if anything.
    #[must_use]
    pub fn remark(&self) -> Option<Remark> {
        match self {
            Self::Sentence(heard) => heard.remark,
            Self::Frame(heard) => heard.remark,
            Self::Object(heard) => heard.remark,
        }
    }

    /// Whether it carries AIS, to be handed to an `AisAssembler`.
    #[must_use]
    pub fn is_ais(&self) -> bool {
        matches!(self, Self::Sentence(heard) if heard.is_ais())
    }

    /// What kind it is, as it is listed: `GPRMC`, `PGN 129025`.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::Sentence(heard) => {
                let talker: String = heard.talker.iter().map(|&b| char::from(b)).collect();
                format!("{talker}{}", heard.kind)
            }
            Self::Frame(heard) => format!("PGN {}", heard.pgn),
            Self::Object(heard) => heard.form.name().to_owned(),
        }
    }
}

impl Reader {
    /// Reads one line and appends what it says to `out`, which the caller clears and reuses.
    ///
    /// # Errors
    /// The reason why nothing of the line is used. `out` is then as it was.
    pub fn read<'a>(
        &mut self,
        at: WatchTime,
        line: &'a [u8],
        out: &mut Vec<Observation>,
    ) -> Result<Told<'a>, Rejected> {
        if is_sentence(line) {
            return nmea::parse(line, out).map(Told::Sentence);
        }
        let bare = nmea::strip_all(line).map_or(line, |stripped| stripped.rest);
        if let Some(heard) = self.objects.read(at, bare, out) {
            return heard.map(Told::Object);
        }
        match self.bus.read(at, bare.trim_ascii_end(), out) {
            Some(heard) => heard.map(Told::Frame),
            None => nmea::parse(line, out).map(Told::Sentence),
        }
    }
}

/// Begins as a sentence does: most lines.
fn is_sentence(line: &[u8]) -> bool {
    matches!(line, [b'$' | b'!', ..])
}
