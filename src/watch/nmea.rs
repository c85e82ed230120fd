//! NMEA 0183: from received bytes to observations.
//!
//! `LineSplitter` cuts a stream into lines, `parse` reads one line. Both are pure and bounded: whatever comes in,
//! nothing panics, and memory does not grow.
//!
//! A line is either *rejected*, with its reason, and nothing of it is used; or *heard*. A heard sentence may carry a
//! remark: it said itself that it had nothing, or one of its fields was unusable and was left out, or it was not for
//! us. Nothing that is void, impossible or estimated ever becomes an observation.
//!
//! # Sources
//! Sentence layouts: IEC 61162-1 and the field orders of two independent readers, by way of the reference lines in
//! `tests/reference`. The `nmea` crate reads MDA and knows the sentence types. For the others it is not strict
//! enough, and refuses whole sentences for one bad field: it takes `NaN`, exponents and five-figure times for
//! values, gives positions from void sentences, and refuses long sentences and legal forms of GSA, GSV, GNS and DPT.
//! The tests hold our readings against the crate's wherever both read a sentence.

mod ais;
pub mod checksum;
mod clock;
mod comma;
mod depth;
mod field;
mod framing;
mod heading;
mod motion;
mod observation;
mod outcome;
mod position;
mod quality;
mod sensors;
mod tag;
mod wind;

use std::fmt;

pub use ais::AisAssembler;
pub use framing::{LineSplitter, MAX_OBJECT, MAX_SENTENCE};
pub use observation::{
    AisReport, DepthBelow, Ellipse, Fix, FixKind, FixMode, Machine, MagneticHeading, NavStatus, NoFix,
    Observation, Satellite, SatellitesInView, ShortName, Size, TimeOfDay, Transducer,
};
pub use outcome::{Rejected, Remark, RemarkClass};
pub use tag::{Stripped, Tag, strip_tag, write_tag};

pub(super) use depth::{DEPTH_MAX, OFFSET_MAX};
pub(super) use field::YEARS;
pub(super) use observation::ship_name;
pub(super) use position::KNOTS_MAX;
pub(super) use tag::strip_all;
pub(super) use wind::WIND_KNOTS_MAX;

use field::Fields;

/// A sentence that was received whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard<'a> {
    /// Who speaks: two capitals or figures. Begins with `P` for a maker's own sentence.
    pub talker: [u8; 2],
    /// What kind of sentence; the maker's three letters for his own.
    pub kind: SentenceKind,
    /// What its TAG block says.
    pub tag: Tag<'a>,
    /// What kept it from being used whole, if anything.
    pub remark: Option<Remark>,
}

impl Heard<'_> {
    /// Whether it carries AIS, to be handed to an `AisAssembler`.
    #[must_use]
    pub fn is_ais(&self) -> bool {
        is_ais(self.talker, self.kind)
    }
}

fn is_ais(talker: [u8; 2], kind: SentenceKind) -> bool {
    talker[0] != b'P' && matches!(&kind.0, b"VDM" | b"VDO")
}

/// The three characters that name a sentence's kind, such as `RMC`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SentenceKind(pub [u8; 3]);

impl SentenceKind {
    /// As text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        str::from_utf8(&self.0).unwrap_or("???")
    }
}

impl fmt::Display for SentenceKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl fmt::Debug for SentenceKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Reads one line and appends what it says to `out`, which the caller clears and reuses.
///
/// The line may have TAG blocks in front and its line end behind. AIS sentences are checked here and read by
/// `AisAssembler`, since a message may span several.
///
/// # Errors
/// The reason why nothing of the line is used. `out` is then as it was.
pub fn parse<'a>(line: &'a [u8], out: &mut Vec<Observation>) -> Result<Heard<'a>, Rejected> {
    let line = trim_end(line);
    let stripped = tag::strip_all(line)?;
    if stripped.rest.is_empty() && !line.is_empty() {
        return Err(Rejected::BrokenTag);
    }
    let sentence = Sentence::read(stripped.rest)?;
    let from = out.len();
    let remark = sentence.observe(out).inspect_err(|_| out.truncate(from))?;
    let remark = match remark {
        None if stripped.dropped => Some(Remark::TagDropped),
        None if out.len() == from && !sentence.is_ais() => Some(Remark::Empty),
        remark => remark,
    };
    Ok(Heard { talker: sentence.talker, kind: sentence.kind, tag: stripped.tag, remark })
}

/// A sentence whose frame is right.
struct Sentence<'a> {
    start: u8,
    talker: [u8; 2],
    kind: SentenceKind,
    checksum: u8,
    /// Behind the comma that follows the address.
    data: Option<&'a [u8]>,
}

impl<'a> Sentence<'a> {
    fn read(line: &'a [u8]) -> Result<Self, Rejected> {
        let (start, body) = match line {
            [start @ (b'$' | b'!'), body @ ..] => (*start, body),
            [.., b'*', a, b] if line.len() > 3 && checksum::from_hex([*a, *b]).is_some() => {
                return Err(Rejected::StartLost);
            }
            _ => return Err(Rejected::Noise),
        };
        if line.len() > MAX_SENTENCE {
            return Err(Rejected::TooLong);
        }
        let (text, checksum) = check(body)?;
        let comma = text.iter().position(|&b| b == b',');
        let (talker, kind) = match text[..comma.unwrap_or(text.len())] {
            // Behind `P` and his three letters the maker may write what he likes.
            [b'P', a, b, c, ..] if capitals(&[a, b, c]) => ([b'P', a], [a, b, c]),
            [a, b, x, y, z] if capitals(&[a, b, x, y, z]) => ([a, b], [x, y, z]),
            _ => return Err(Rejected::BadAddress),
        };
        Ok(Self { start, talker, kind: SentenceKind(kind), checksum, data: comma.map(|at| &text[at + 1..]) })
    }

    fn is_ais(&self) -> bool {
        is_ais(self.talker, self.kind)
    }

    /// Appends what the sentence says; returns what is to be remarked on.
    fn observe(&self, out: &mut Vec<Observation>) -> Result<Option<Remark>, Rejected> {
        if self.talker[0] == b'P' {
            return Ok(Some(Remark::Proprietary));
        }
        let encapsulated = self.start == b'!';
        if self.is_ais() {
            return if encapsulated {
                ais::check_payload(self.data).map(|()| None)
            } else {
                Err(Rejected::WrongStart)
            };
        }
        if comma::is_decimal(self.kind.0, self.data) {
            return Err(Rejected::DecimalComma);
        }
        let mut fields = Fields::new(self.data);
        let fields = &mut fields;
        match &self.kind.0 {
            b"RMC" => position::rmc(fields, out)?,
            b"GGA" => position::gga(fields, out)?,
            b"GLL" => position::gll(fields, out)?,
            b"GNS" => position::gns(fields, out)?,
            b"GSA" => quality::gsa(fields, out)?,
            b"GSV" => quality::gsv(fields, out)?,
            b"GST" => quality::gst(fields, out)?,
            b"GBS" => quality::gbs(fields, out)?,
            b"VTG" => motion::vtg(fields, out)?,
            b"VHW" => motion::vhw(fields, out)?,
            b"ROT" => motion::rot(fields, out)?,
            b"ZDA" => clock::zda(fields, out)?,
            b"HDT" => heading::hdt(fields, out)?,
            b"HDG" => heading::hdg(fields, out)?,
            b"HDM" => heading::hdm(fields, out)?,
            b"THS" => heading::ths(fields, out)?,
            b"MWV" => wind::mwv(fields, out)?,
            b"MWD" => wind::mwd(fields, out)?,
            b"VWR" => wind::vwr(fields, out)?,
            b"VWT" => wind::vwt(fields, out)?,
            b"MDA" => wind::mda(self.for_crate(nmea::SentenceType::MDA), fields, out)?,
            b"DPT" => depth::dpt(fields, out)?,
            b"DBT" => depth::in_three_units(fields, out, DepthBelow::Transducer)?,
            b"DBS" => depth::in_three_units(fields, out, DepthBelow::Surface)?,
            b"DBK" => depth::in_three_units(fields, out, DepthBelow::Keel)?,
            b"MTW" => sensors::mtw(fields, out)?,
            b"RPM" => sensors::rpm(fields, out)?,
            b"XDR" => sensors::xdr(fields, out)?,
            [_, _, b'Q'] if self.data.is_some_and(|data| data.len() == 3) => {
                fields.note_above_all(Remark::Query)
            }
            _ if !self.is_known() => return Ok(Some(Remark::UnknownType)),
            _ => fields.note_above_all(Remark::NotNeeded),
        }
        if encapsulated { Err(Rejected::WrongStart) } else { Ok(fields.remark()) }
    }

    /// Whether the standard has such a sentence.
    fn is_known(&self) -> bool {
        nmea::SentenceType::try_from(self.kind.as_str()).is_ok()
    }

    /// The same sentence as the `nmea` crate wants it.
    fn for_crate(&self, message_id: nmea::SentenceType) -> nmea::NmeaSentence<'_> {
        nmea::NmeaSentence {
            talker_id: str::from_utf8(&self.talker).expect("an address is ASCII"),
            message_id,
            data: str::from_utf8(self.data.unwrap_or_default())
                .expect("only printable ASCII passes the frame"),
            checksum: self.checksum,
        }
    }
}

/// Parts what follows the start character into text and checksum, and checks both.
fn check(body: &[u8]) -> Result<(&[u8], u8), Rejected> {
    let Some((text, &[star, a, b])) = body.split_last_chunk::<3>() else {
        return Err(unreadable_checksum(body));
    };
    let (b'*', Some(printed)) = (star, checksum::from_hex([a, b])) else {
        return Err(unreadable_checksum(body));
    };
    // One pass without branches, so that the compiler can take many bytes at a time.
    let (mut computed, mut foreign) = (0_u8, false);
    for &byte in text {
        computed ^= byte;
        foreign |= byte.wrapping_sub(0x20) > 0x7E - 0x20 || byte == b'*';
    }
    if foreign {
        return Err(if text.iter().any(|b| !printable(*b)) {
            Rejected::Unprintable
        } else {
            Rejected::TextAfterChecksum
        });
    }
    if printed != computed {
        return Err(Rejected::BadChecksum { printed, computed });
    }
    Ok((text, printed))
}

/// Why a sentence does not end in a checksum.
fn unreadable_checksum(body: &[u8]) -> Rejected {
    if !body.iter().all(|b| printable(*b)) {
        return Rejected::Unprintable;
    }
    match body.iter().position(|&b| b == b'*').map(|star| &body[star + 1..]) {
        None => Rejected::MissingChecksum,
        Some([a, b, _, ..]) if checksum::from_hex([*a, *b]).is_some() => Rejected::TextAfterChecksum,
        Some(_) => Rejected::MalformedChecksum,
    }
}

/// Capitals and figures, of which addresses are made.
fn capitals(address: &[u8]) -> bool {
    address.iter().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
}

fn printable(byte: u8) -> bool {
    (0x20..0x7F).contains(&byte)
}

/// Without line end, blanks and NULs behind.
fn trim_end(mut line: &[u8]) -> &[u8] {
    while let [head @ .., b'\r' | b'\n' | b' ' | b'\t' | 0] = line {
        line = head;
    }
    line
}
