//! Tide stations of the world whose constants are openly licensed: which are near, and the tide at one of them.
//!
//! The table is `assets/tide/stations.txt.gz`; `assets/tide/README.md` says where it comes from, under which
//! licences, and what its columns mean.

use std::collections::BTreeMap;
use std::io::Read as _;

use flate2::read::GzDecoder;

use super::harmonic::{Constant, Harmonic};
use super::subordinate::{HeightOffsets, Offsets};
use super::{DRAWN_AFTER, DRAWN_BEFORE, Tide};
use crate::watch::geo::Position;
use crate::watch::units::{Metres, Span, TrueBearing, WatchTime};

static PACKED: &[u8] = include_bytes!("../../../assets/tide/stations.txt.gz");

/// All the stations of a table.
#[derive(Clone, Debug)]
pub struct Stations {
    credits: Vec<String>,
    notes: Vec<String>,
    by_id: BTreeMap<String, Station>,
}

/// A tide station.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Its name in the table: source and number, `noaa/8443970`.
    pub id: String,
    /// The place.
    pub name: String,
    /// Country by its two ISO 3166-1 letters.
    pub country: String,
    /// State or region; may be empty.
    pub region: String,
    /// Where it is.
    pub position: Position,
    /// The datum that heights count from, by its usual short name: `LAT`, `MLLW`, `MSL`.
    pub datum: String,
    /// The table's own marks for the quality of the station's data, 0 to 100.
    pub quality: Option<u8>,
    credit: usize,
    note: usize,
    data: Data,
}

#[derive(Clone, Debug, PartialEq)]
enum Data {
    /// Mean level above the datum, and the constants as they stand in the table: `M2 1371 109.2,…`.
    Reference { mean_level: Metres, constants: String },
    /// The reference's id, and what to do to its turns.
    Subordinate { reference: String, offsets: Offsets },
}

/// A station as seen from the anchor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NearStation<'a> {
    /// How far off it lies.
    pub distance: Metres,
    /// In which direction.
    pub bearing: TrueBearing,
    /// The station.
    pub station: &'a Station,
}

/// Why a table of stations, or a station's tide, cannot be had.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StationError {
    /// The packed table does not unpack.
    #[error("The table of tide stations does not unpack: {reason}. Type the high and low waters instead.")]
    Packed {
        /// What the unpacking said.
        reason: String,
    },
    /// A line of the table is not as it should be.
    #[error("Line {line} of the table of tide stations is broken. Type the high and low waters instead.")]
    Line {
        /// Which line, from 1.
        line: usize,
    },
    /// No such station.
    #[error("There is no tide station `{id}`. Choose one from the nearest stations.")]
    NoSuchStation {
        /// What was asked for.
        id: String,
    },
    /// The station lies too far off.
    #[error(
        "{name} lies {miles:.0} M from here. A station's tide is taken {:.0} M off at most: choose a nearer one, or type the high \
         and low waters.",
        Stations::SPEAKS_FOR.0 / METRES_PER_MILE
    )]
    TooFar {
        /// Its name.
        name: String,
        /// How far off, nautical miles.
        miles: f64,
    },
    /// The station's tide does not turn in the days asked for.
    #[error("The tide at `{id}` has no high and low water in these days. Choose another station.")]
    NoTurns {
        /// The station.
        id: String,
    },
}

/// More text than any table of stations holds: a broken or hostile file must not fill the memory.
const TEXT_MAX: u64 = 64 << 20;

impl Stations {
    /// Unpacks and reads the table that comes with the program: some tens of milliseconds, so only when asked for.
    ///
    /// # Errors
    /// `StationError` if the table is broken, which a test rules out for the one that is bundled.
    pub fn bundled() -> Result<Self, StationError> {
        Self::unpack(PACKED)
    }

    /// Unpacks and reads a gzip-compressed table.
    ///
    /// # Errors
    /// `Packed` if it is not gzip or not UTF-8, `Line` where a line cannot be read.
    pub fn unpack(packed: &[u8]) -> Result<Self, StationError> {
        let mut text = String::new();
        GzDecoder::new(packed)
            .take(TEXT_MAX)
            .read_to_string(&mut text)
            .map_err(|error| StationError::Packed { reason: error.to_string() })?;
        Self::read(&text)
    }

    /// Reads a table's text.
    ///
    /// # Errors
    /// `Line` names the first line that cannot be read.
    pub fn read(text: &str) -> Result<Self, StationError> {
        let mut stations = Self { credits: Vec::new(), notes: Vec::new(), by_id: BTreeMap::new() };
        for (i, line) in text.lines().enumerate() {
            stations.take(line).ok_or(StationError::Line { line: i + 1 })?;
        }
        Ok(stations)
    }

    fn take(&mut self, line: &str) -> Option<()> {
        if line.is_empty() || line.starts_with('#') {
            return Some(());
        }
        let columns: Vec<&str> = line.split('\t').collect();
        match columns[..] {
            ["C", number, credit] => append(&mut self.credits, number, credit),
            ["N", number, note] => append(&mut self.notes, number, note),
            ["R", ..] | ["S", ..] => {
                let station = Station::read(&columns)?;
                self.credits.get(station.credit)?;
                self.notes.get(station.note)?;
                self.by_id.insert(station.id.clone(), station);
                Some(())
            }
            _ => None,
        }
    }

    /// How many stations there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.by_id.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.by_id.is_empty()
    }

    /// All stations, in order of id.
    pub fn iter(&self) -> impl Iterator<Item = &Station> {
        self.by_id.values()
    }

    /// The station of that id.
    #[must_use]
    pub fn by_id(&self, id: &str) -> Option<&Station> {
        self.by_id.get(id)
    }

    /// Stations whose name, id or region holds `words`, whatever the case, in order of id.
    #[must_use]
    pub fn holding(&self, words: &str) -> Vec<&Station> {
        let words = words.to_lowercase();
        let holds = |text: &str| text.to_lowercase().contains(&words);
        self.iter().filter(|s| holds(&s.name) || holds(&s.id) || holds(&s.region)).collect()
    }

    /// The `count` nearest stations, nearest first. The nearest need not be the right one: it may lie up another
    /// estuary, or on the far side of a headland. The crew chooses.
    #[must_use]
    pub fn nearest(&self, to: Position, count: usize) -> Vec<NearStation<'_>> {
        let mut near: Vec<NearStation> = self
            .iter()
            .map(|station| {
                let (distance, bearing) = to.distance_and_bearing_to(station.position);
                NearStation { distance, bearing, station }
            })
            .collect();
        near.sort_by(|a, b| a.distance.0.total_cmp(&b.distance.0));
        near.truncate(count);
        near
    }

    /// The line of credit to show with a station's tide.
    #[must_use]
    pub fn credit(&self, station: &Station) -> &str {
        &self.credits[station.credit]
    }

    /// What the source says about the quality of a station's data, where it says anything.
    #[must_use]
    pub fn note(&self, station: &Station) -> Option<&str> {
        Some(self.notes[station.note].as_str()).filter(|note| !note.is_empty())
    }

    /// The tide at a station, for a stay around `about`. A reference station's is known at any time; a subordinate
    /// station's for the fortnight from `about`.
    ///
    /// # Errors
    /// `NoSuchStation` if there is none of that id, or its reference is missing; `NoTurns` if a subordinate
    /// station's reference does not turn.
    pub fn tide(&self, id: &str, about: WatchTime) -> Result<Tide, StationError> {
        let station = self.by_id(id).ok_or_else(|| StationError::NoSuchStation { id: id.to_owned() })?;
        let tide = match &station.data {
            Data::Reference { .. } => Tide::predicted(self.harmonic(id)?, about),
            Data::Subordinate { reference, offsets } => {
                let table =
                    offsets.table(&self.harmonic(reference)?, about - DRAWN_BEFORE, about + DRAWN_AFTER);
                Tide::from_turns(table.ok_or_else(|| StationError::NoTurns { id: id.to_owned() })?)
            }
        };
        let note = self.note(station).map(|note| format!("The source says of this station: {note}"));
        let cautions = [Some(PREDICTION_CAUTION.to_owned()), note].into_iter().flatten();
        Ok(tide.described(self.credit(station).to_owned(), station.datum.clone(), cautions))
    }

    /// The tide of a station as it is taken at `here`: refused too far off, else with the doubt of its distance.
    ///
    /// # Errors
    /// As [`Stations::tide`], and `TooFar`.
    pub fn tide_at(&self, id: &str, about: WatchTime, here: Position) -> Result<Tide, StationError> {
        let tide = self.tide(id, about)?;
        let station = self.by_id(id).ok_or_else(|| StationError::NoSuchStation { id: id.to_owned() })?;
        let distance = here.distance_to(station.position);
        if distance > Self::SPEAKS_FOR {
            let miles = distance.0 / METRES_PER_MILE;
            return Err(StationError::TooFar { name: station.name.clone(), miles });
        }
        Ok(tide.seen_from(&station.name, distance, share_of_doubt(distance), about))
    }

    /// Farther off a station's tide is not taken: of two bundled stations 15 to 20 miles apart, half differ by more than 0.66
    /// of the range (`docs/inside/tide.md`).
    pub const SPEAKS_FOR: Metres = Metres(20.0 * METRES_PER_MILE);

    /// The harmonic tide of a reference station, above its datum.
    ///
    /// # Errors
    /// `NoSuchStation` if there is no reference station of that id.
    pub fn harmonic(&self, id: &str) -> Result<Harmonic, StationError> {
        match self.by_id(id).map(|station| &station.data) {
            Some(Data::Reference { mean_level, constants }) => {
                Ok(Harmonic::new(*mean_level, &read_constants(constants)))
            }
            _ => Err(StationError::NoSuchStation { id: id.to_owned() }),
        }
    }
}

/// Metres in a nautical mile (exact).
const METRES_PER_MILE: f64 = 1852.0;

/// Distances in miles, and by how much of the range half of all bundled stations so far apart differ at most. Nearer than half a
/// mile it is the same water.
const DOUBT_AT: [(f64, f64); 6] =
    [(0.5, 0.0), (2.0, 0.1), (5.0, 0.24), (10.0, 0.41), (15.0, 0.53), (20.0, 0.66)];

/// How far off the tide of a station so far away may be, as a share of its range.
fn share_of_doubt(distance: Metres) -> f64 {
    let miles = distance.0 / METRES_PER_MILE;
    let between = DOUBT_AT.windows(2).find(|pair| miles <= pair[1].0);
    between.map_or(DOUBT_AT[DOUBT_AT.len() - 1].1, |pair| {
        let ((from, least), (to, most)) = (pair[0], pair[1]);
        least + (most - least) * ((miles - from) / (to - from)).max(0.0)
    })
}

const PREDICTION_CAUTION: &str = "Predicted from constants, not the official table. Wind and air pressure are not in it: \
     they move the sea by a few decimetres.";

impl Station {
    /// The reference station's id, if this one takes its turns from another.
    #[must_use]
    pub fn reference(&self) -> Option<&str> {
        match &self.data {
            Data::Reference { .. } => None,
            Data::Subordinate { reference, .. } => Some(reference),
        }
    }

    fn read(columns: &[&str]) -> Option<Self> {
        let [letter, id, name, country, region, lat, lon, datum, credit, note, quality, data @ ..] = columns
        else {
            return None;
        };
        Some(Self {
            id: (*id).to_owned(),
            name: (*name).to_owned(),
            country: (*country).to_owned(),
            region: (*region).to_owned(),
            position: Position::new(lat.parse().ok()?, lon.parse().ok()?).ok()?,
            datum: (*datum).to_owned(),
            quality: if quality.is_empty() { None } else { Some(quality.parse().ok()?) },
            credit: credit.parse().ok()?,
            note: note.parse().ok()?,
            data: Data::read(letter, data)?,
        })
    }
}

impl Data {
    fn read(letter: &str, columns: &[&str]) -> Option<Self> {
        match (letter, columns) {
            ("R", [mean_level, constants]) => Some(Self::Reference {
                mean_level: Metres(number(mean_level)?),
                constants: (*constants).to_owned(),
            }),
            ("S", [reference, high_later, low_later, kind, high, low]) => {
                let (high, low) = (number(high)?, number(low)?);
                let heights = match *kind {
                    "ratio" => HeightOffsets::Ratio { high, low },
                    "fixed" => HeightOffsets::Fixed { high_m: high, low_m: low },
                    _ => return None,
                };
                let offsets =
                    Offsets { high_later: minutes(high_later)?, low_later: minutes(low_later)?, heights };
                Some(Self::Subordinate { reference: (*reference).to_owned(), offsets })
            }
            _ => None,
        }
    }
}

fn append(list: &mut Vec<String>, number: &str, text: &str) -> Option<()> {
    (number.parse() == Ok(list.len())).then(|| list.push(text.to_owned()))
}

fn number(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

fn minutes(text: &str) -> Option<Span> {
    text.parse().ok().filter(|minutes: &i64| minutes.abs() <= 24 * 60).map(Span::from_mins)
}

/// `M2 1371 109.2,S2 208 146.2`: name, millimetres, degrees. An entry that cannot be read keeps its name, with an
/// amplitude that is not a number, so that it is counted among those left out.
fn read_constants(text: &str) -> Vec<Constant> {
    let entries = text.split(',').filter(|entry| !entry.is_empty());
    entries
        .map(|entry| {
            let mut parts = entry.split(' ');
            let name = parts.next().unwrap_or_default().to_owned();
            let mut value = || parts.next().and_then(number).unwrap_or(f64::NAN);
            Constant { name, amplitude: Metres(value() / 1000.0), lag_deg: value() }
        })
        .collect()
}
