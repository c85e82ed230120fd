//! VDM, VDO: what other vessels say of themselves, decoded by the `aivdm` crate.

use aivdm::{AisError, AisMessage, Channel};

use super::observation::{AisReport, NavStatus, Size, ship_name};
use super::outcome::Rejected;
use super::{Sentence, tag, trim_end};
use crate::watch::geo::Position;
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};

/// Payload characters of the longest message: 5 slots hold 1064 bits (ITU-R M.1371), six to a character.
const PAYLOAD_MAX: usize = 256;

/// How many messages may be waiting for their next part at once; then the oldest is forgotten.
const WAITING_MAX: usize = 8;

/// Parts of one message follow each other within a second or two; later ones belong to another. Common practice, no
/// source.
const PART_TIMEOUT: Span = Span::from_secs(10);

/// Puts the parts of AIS messages together and decodes them. Memory is bounded.
#[derive(Clone, Debug, Default)]
pub struct AisAssembler {
    waiting: Vec<Waiting>,
}

/// A message of which a part is missing.
#[derive(Clone, Debug)]
struct Waiting {
    key: Key,
    since: WatchTime,
    /// Parts in all, and parts that have come: they come in order.
    count: u8,
    come: u8,
    payload: Vec<u8>,
}

/// Parts that agree in this belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Key {
    own: bool,
    sequence: Option<u8>,
    channel: Channel,
}

impl AisAssembler {
    /// An assembler that waits for nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes a line that `parse` has heard as VDM or VDO. Nothing comes back while parts are missing, or if the
    /// message is of a type that says nothing about a vessel.
    ///
    /// # Errors
    /// `BadPayload` if the parts do not fit together or the message is cut short; whatever `parse` says of the line.
    pub fn push(&mut self, at: WatchTime, line: &[u8]) -> Result<Option<AisReport>, Rejected> {
        let sentence = Sentence::read(tag::strip_all(trim_end(line))?.rest)?;
        if !sentence.is_ais() {
            return Err(Rejected::BadPayload);
        }
        let own = sentence.kind.0 == *b"VDO";
        let part = read_part(sentence.data, own)?;
        self.waiting.retain(|waiting| at.since(waiting.since) <= PART_TIMEOUT);
        if part.fragment_count == 1 {
            return decode(part.payload, part.fill_bits, own);
        }
        let key = Key { own, sequence: part.seq_id, channel: part.channel };
        let known = self.waiting.iter().position(|waiting| waiting.key == key);
        let known = known.map(|index| self.waiting.remove(index));
        let mut waiting = match (part.fragment_number, known) {
            // A first part begins anew: the rest of the one before was lost.
            (1, _) => Waiting { key, since: at, count: part.fragment_count, come: 0, payload: Vec::new() },
            (_, Some(waiting)) => waiting,
            (_, None) => return Err(Rejected::BadPayload),
        };
        let fits = part.fragment_count == waiting.count
            && part.fragment_number == waiting.come + 1
            && waiting.payload.len() + part.payload.len() <= PAYLOAD_MAX;
        if !fits {
            return Err(Rejected::BadPayload);
        }
        waiting.come += 1;
        waiting.payload.extend_from_slice(part.payload);
        if waiting.come == waiting.count {
            return decode(&waiting.payload, part.fill_bits, own);
        }
        if self.waiting.len() == WAITING_MAX {
            self.waiting.remove(0);
        }
        self.waiting.push(Waiting { since: at, ..waiting });
        Ok(None)
    }
}

/// Checks an AIS sentence's fields without decoding its payload.
pub(super) fn check_payload(data: Option<&[u8]>) -> Result<(), Rejected> {
    read_part(data, false).map(|_| ())
}

/// Parts in all, number of this, sequence, channel, payload, fill bits.
fn read_part(data: Option<&[u8]>, own: bool) -> Result<aivdm::Sentence<'_>, Rejected> {
    let mut fields = data.unwrap_or_default().split(|&b| b == b',');
    let mut next = || fields.next().ok_or(Rejected::TooFewFields);
    let [count, number, sequence, channel, payload, fill] =
        [next()?, next()?, next()?, next()?, next()?, next()?];
    let figure = |text: &[u8]| match text {
        [digit @ b'0'..=b'9'] => Some(digit - b'0'),
        _ => None,
    };
    let part = || {
        let (count, number) = (figure(count)?, figure(number)?);
        let armoured = !payload.is_empty() && payload.iter().all(|&b| aivdm::string::is_valid_armor_byte(b));
        let part = aivdm::Sentence {
            is_own_ship: own,
            fragment_count: count,
            fragment_number: number,
            seq_id: if sequence.is_empty() { None } else { Some(figure(sequence)?) },
            channel: match channel {
                b"A" => Channel::A,
                b"B" => Channel::B,
                [other] => Channel::Other(*other),
                _ => Channel::Other(0),
            },
            payload,
            fill_bits: figure(fill).filter(|bits| *bits <= 5)?,
        };
        (armoured && (1..=count).contains(&number)).then_some(part)
    };
    part().ok_or(Rejected::BadPayload)
}

fn decode(payload: &[u8], fill_bits: u8, own: bool) -> Result<Option<AisReport>, Rejected> {
    match aivdm::decode_payload(payload, fill_bits) {
        Ok(message) => Ok(report(&message, own)),
        // A type that a later edition of the standard may define.
        Err(AisError::Message(aivdm::error::MessageError::UnknownMessageType(28..))) => Ok(None),
        Err(_) => Err(Rejected::BadPayload),
    }
}

fn report(message: &AisMessage, own: bool) -> Option<AisReport> {
    let (name, size) = match message {
        AisMessage::StaticVoyageData(m) => (
            ship_name(m.name.as_str().as_bytes()),
            size(m.dimension_to_bow, m.dimension_to_stern, m.dimension_to_port, m.dimension_to_starboard),
        ),
        AisMessage::PositionReportClassBExtended(m) => (
            ship_name(m.name.as_str().as_bytes()),
            size(m.dimension_to_bow, m.dimension_to_stern, m.dimension_to_port, m.dimension_to_starboard),
        ),
        AisMessage::AidToNavigationReport(m) => (
            ship_name(m.name.as_str().as_bytes()),
            size(m.dimension_to_bow, m.dimension_to_stern, m.dimension_to_port, m.dimension_to_starboard),
        ),
        AisMessage::StaticDataReport(aivdm::message::StaticDataReport::A(m)) => {
            (ship_name(m.name.as_str().as_bytes()), None)
        }
        // A tender's report carries her mother ship's number in place of her size (ITU-R M.1371).
        AisMessage::StaticDataReport(aivdm::message::StaticDataReport::B(m))
            if m.mmsi.raw() / 10_000_000 != 98 =>
        {
            (
                None,
                size(m.dimension_to_bow, m.dimension_to_stern, m.dimension_to_port, m.dimension_to_starboard),
            )
        }
        _ => (None, None),
    };
    let position = message.position().and_then(|p| Position::new(p.latitude, p.longitude).ok());
    let says_nothing = position.is_none() && name.is_none() && size.is_none();
    // A report without a position still shows that the vessel is there.
    if says_nothing && !matches!(message.message_type(), 1..=3 | 5 | 9 | 18 | 19 | 21 | 24 | 27) {
        return None;
    }
    Some(AisReport {
        mmsi: message.mmsi().raw(),
        own,
        message: message.message_type(),
        position,
        sog: message.sog_knots().map(Knots),
        cog: message.cog_degrees().filter(|course| *course < 360.0).map(TrueBearing::new),
        heading: message
            .heading_degrees()
            .filter(|heading| *heading < 360)
            .map(|h| TrueBearing::new(h.into())),
        status: message.navigation_status().and_then(|status| NavStatus::of(status.to_raw())),
        name,
        size,
    })
}

/// All zero means that she has not said.
fn size(bow: u16, stern: u16, port: u8, starboard: u8) -> Option<Size> {
    let given = bow > 0 || stern > 0 || port > 0 || starboard > 0;
    given.then(|| Size {
        to_bow: Metres(bow.into()),
        to_stern: Metres(stern.into()),
        to_port: Metres(port.into()),
        to_starboard: Metres(starboard.into()),
    })
}
