//! GPX tracks: positions with their times, as the sentence that a receiver would have sent.
//!
//! # Source
//! GPX 1.1 schema, topografix.com: `trkpt` with `lat` and `lon`, and `time` as ISO 8601 in UTC. Elements of other name
//! spaces and everything else in the file are passed over.

use std::collections::VecDeque;
use std::fmt::Write as _;
use std::io::{self, BufRead, BufReader, Read};

use jiff::Timestamp;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use crate::edge::feed::Recorded;
use crate::report::places::named;
use crate::watch::geo::Position;
use crate::watch::place::Place;
use crate::watch::units::{Span, WatchTime};

/// Points that are read ahead to measure how far apart they lie.
const AHEAD: usize = 64;
/// No piece of a track between two tags is longer: what is longer is no track.
const PIECE_MAX: usize = 1 << 20;
/// The feed's name.
const NAME: &str = "track";

/// A track being read.
pub(super) struct Track {
    reader: Reader<Pieces>,
    buffer: Vec<u8>,
    ahead: VecDeque<Recorded>,
    every: Option<Span>,
    last: Option<WatchTime>,
    put_back: u64,
    end: Option<io::Result<()>>,
    /// Points without a time cannot be placed in the night.
    untimed: u64,
}

impl Track {
    pub(super) fn new(input: impl Read + Send + 'static) -> Self {
        let pieces = Pieces { input: BufReader::with_capacity(65_536, Box::new(input)), piece: 0 };
        let mut track = Self {
            reader: Reader::from_reader(pieces),
            buffer: Vec::new(),
            ahead: VecDeque::new(),
            every: None,
            last: None,
            put_back: 0,
            end: None,
            untimed: 0,
        };
        while track.ahead.len() < AHEAD && track.end.is_none() {
            track.read_point();
        }
        track.every = median_interval(&track.ahead);
        track
    }

    /// How far apart its points lie in time, by the first of them.
    pub(super) fn every(&self) -> Option<Span> {
        self.every
    }

    /// So many points lie before the one in front of them.
    pub(super) fn put_back(&self) -> u64 {
        self.put_back
    }

    /// Reads on to the end of the next point, or of the file.
    fn read_point(&mut self) {
        let mut at = None;
        let mut place: Option<Position> = None;
        let mut in_time = false;
        loop {
            self.buffer.clear();
            self.reader.get_mut().piece = 0;
            let event = match self.reader.read_event_into(&mut self.buffer) {
                Ok(event) => event,
                Err(error) => {
                    return self.finish(Err(io::Error::other(format!("its XML is broken: {error}"))));
                }
            };
            match event {
                Event::Eof if self.untimed > 0 && self.last.is_none() => {
                    let words = "its points have no time, so nothing can be judged from them";
                    return self.finish(Err(io::Error::other(words)));
                }
                Event::Eof => return self.finish(Ok(())),
                Event::Start(tag) if tag.local_name().as_ref() == "trkpt" => {
                    (place, at) = (place_of(&tag), None);
                }
                Event::Empty(tag) if tag.local_name().as_ref() == "trkpt" => self.untimed += 1,
                Event::Start(tag) if tag.local_name().as_ref() == "time" => in_time = true,
                Event::Text(text) if in_time => {
                    at = text.trim().parse::<Timestamp>().ok();
                }
                Event::End(tag) if tag.local_name().as_ref() == "time" => in_time = false,
                Event::End(tag) if tag.local_name().as_ref() == "trkpt" => match (place.take(), at.take()) {
                    (Some(place), Some(at)) => return self.take(WatchTime(at.as_millisecond()), place),
                    _ => self.untimed += 1,
                },
                _ => {}
            }
        }
    }

    fn take(&mut self, at: WatchTime, place: Position) {
        if self.last.is_some_and(|last| at < last) {
            self.put_back += 1;
            return;
        }
        self.last = Some(at);
        if let Some(bytes) = sentence(at, place) {
            self.ahead.push_back(Recorded { at, source: Some(NAME.to_owned()), bytes });
        }
    }

    fn finish(&mut self, end: io::Result<()>) {
        self.end = Some(end);
    }
}

impl Iterator for Track {
    type Item = io::Result<Recorded>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(point) = self.ahead.pop_front() {
                return Some(Ok(point));
            }
            match &mut self.end {
                None => self.read_point(),
                Some(end) => return std::mem::replace(end, Ok(())).err().map(Err),
            }
        }
    }
}

/// The points of a GPX track as the sentences of a receiver, with their times.
pub fn read_track(input: impl Read + Send + 'static) -> impl Iterator<Item = io::Result<Recorded>> {
    Track::new(input)
}

/// Named waypoints of a GPX file, as places.
///
/// # Errors
/// If its XML is broken.
pub fn waypoints(text: &str) -> io::Result<Vec<Place>> {
    let mut reader = Reader::from_str(text);
    let mut found = Vec::new();
    let mut here: Option<Position> = None;
    let (mut name, mut about, mut inside) = (String::new(), String::new(), String::new());
    loop {
        match reader.read_event().map_err(|error| io::Error::other(format!("its XML is broken: {error}")))? {
            Event::Eof => return Ok(found),
            Event::Start(tag) if tag.local_name().as_ref() == "wpt" => {
                here = place_of(&tag);
                name.clear();
                about.clear();
                inside.clear();
            }
            Event::Start(tag) => inside = tag.local_name().as_ref().to_owned(),
            Event::Text(text) if here.is_some() => match inside.as_str() {
                "name" => name.push_str(&text),
                "desc" => about.push_str(&text),
                _ => {}
            },
            Event::GeneralRef(entity) if here.is_some() => {
                let letter = match &*entity {
                    "amp" => "&",
                    "lt" => "<",
                    "gt" => ">",
                    "quot" => "\"",
                    "apos" | "#39" => "'",
                    _ => "",
                };
                match inside.as_str() {
                    "name" => name.push_str(letter),
                    "desc" => about.push_str(letter),
                    _ => {}
                }
            }
            Event::End(tag) if tag.local_name().as_ref() == "wpt" => {
                found.extend(here.take().and_then(|here| named(&name, here, Some(&about))));
            }
            Event::End(_) => inside.clear(),
            _ => {}
        }
    }
}

fn place_of(tag: &BytesStart<'_>) -> Option<Position> {
    let degrees = |name: &str| {
        let attribute = tag.try_get_attribute(name).ok()??;
        attribute.value.trim().parse::<f64>().ok()
    };
    Position::new(degrees("lat")?, degrees("lon")?).ok()
}

fn median_interval(points: &VecDeque<Recorded>) -> Option<Span> {
    let mut apart: Vec<i64> =
        points.iter().zip(points.iter().skip(1)).map(|(before, after)| after.at.since(before.at).0).collect();
    apart.sort_unstable();
    apart.get(apart.len() / 2).copied().map(Span)
}

/// The RMC sentence of a position (NMEA 0183): minutes to seven decimals are 0.2 mm. `None` for a time beyond the calendar.
#[must_use]
pub fn sentence(at: WatchTime, place: Position) -> Option<Vec<u8>> {
    let time = Timestamp::from_millisecond(at.0).ok()?;
    let clock = time.strftime("%H%M%S%.3f");
    let date = time.strftime("%d%m%y");
    let (lat, north) = minutes(place.lat_deg(), 2, ('N', 'S'));
    let (lon, east) = minutes(place.lon_deg(), 3, ('E', 'W'));
    let body = format!("GPRMC,{clock},A,{lat},{north},{lon},{east},,,{date},,,A");
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    let mut line = String::with_capacity(body.len() + 4);
    write!(line, "${body}*{sum:02X}").ok()?;
    Some(line.into_bytes())
}

/// Degrees and minutes as a sentence has them, and the hemisphere.
fn minutes(degrees: f64, digits: usize, (positive, negative): (char, char)) -> (String, char) {
    // In whole ten-millionths of a minute, so that 59.99999999 does not become 60.
    let units = (degrees.abs() * 60.0 * 1e7).round() as u64;
    let (whole, rest) = (units / 600_000_000, units % 600_000_000);
    let text = format!("{whole:0digits$}{:02}.{:07}", rest / 10_000_000, rest % 10_000_000);
    (text, if degrees < 0.0 { negative } else { positive })
}

/// Input that is refused where one piece of it, from tag to tag, grows beyond all measure.
struct Pieces {
    input: BufReader<Box<dyn Read + Send>>,
    piece: usize,
}

impl Read for Pieces {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.input.read(buffer)
    }
}

impl BufRead for Pieces {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.piece > PIECE_MAX {
            return Err(io::Error::other("a piece of it between two tags is longer than any of a track"));
        }
        self.input.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.piece += amount;
        self.input.consume(amount);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn track(text: &str) -> (Vec<String>, Option<String>) {
        let mut lines = Vec::new();
        for point in Track::new(io::Cursor::new(text.to_owned())) {
            match point {
                Ok(point) => lines.push(String::from_utf8(point.bytes).unwrap()),
                Err(error) => return (lines, Some(error.to_string())),
            }
        }
        (lines, None)
    }

    fn gpx(points: &str) -> String {
        format!(
            "<?xml version=\"1.0\"?><gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\">\
             <metadata><time>1999-01-01T00:00:00Z</time></metadata><wpt lat=\"1\" lon=\"2\"/><trk><name>n</name>\
             <trkseg>{points}</trkseg></trk></gpx>"
        )
    }

    #[test]
    fn a_point_becomes_the_sentence_of_a_receiver() {
        let point = "<trkpt lat=\"-54.2000000\" lon=\"-10.40000001\"><ele>3</ele><time>2026-06-03T02:14:07.5Z</time></trkpt>";
        let (lines, error) = track(&gpx(point));
        assert_eq!(error, None);
        assert_eq!(lines.len(), 1);
        assert!(
            lines[0].starts_with("$GPRMC,021407.500,A,5412.0000000,S,01024.0000006,W,,,030626,,,A*"),
            "{lines:?}"
        );
    }

    #[test]
    fn minutes_never_come_to_sixty() {
        assert_eq!(minutes(53.999_999_999_999, 2, ('N', 'S')), ("5400.0000000".into(), 'N'));
    }

    #[test]
    fn points_without_time_and_broken_files_are_answered_in_words() {
        let (lines, error) =
            track(&gpx("<trkpt lat=\"54\" lon=\"10\"/><trkpt lat=\"54\" lon=\"10\"></trkpt>"));
        assert!(lines.is_empty() && error.unwrap().contains("have no time"));
        let whole = gpx(&"<trkpt lat=\"54\" lon=\"10\"><time>2026-06-03T02:14:07Z</time></trkpt>".repeat(3));
        for end in 0..whole.len() {
            let (lines, _) = track(&whole[..end]);
            assert!(lines.len() <= 3);
        }
        let (_, error) = track(&format!("<gpx><trkpt lat=\"{}", "9".repeat(3 << 20)));
        assert!(error.is_some());
    }

    #[test]
    fn how_far_apart_points_lie_is_known_before_the_first_is_taken() {
        let points: String = (0..5)
            .map(|i| format!("<trkpt lat=\"54\" lon=\"10\"><time>2026-06-03T02:{i:02}:00Z</time></trkpt>"))
            .collect();
        assert_eq!(Track::new(io::Cursor::new(gpx(&points))).every(), Some(Span::from_mins(1)));
    }
}
