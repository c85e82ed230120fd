//! The wind of a GRIB2 file that the crew has: 10 m wind and gusts at a place, hour by hour. Nothing is fetched.
//!
//! The frame of the file (WMO Manual on Codes, FM 92 GRIB edition 2) is walked here, every length checked against the file
//! before it is used; what a section says is bounded before the crate `grib` unpacks any value. A field is never held whole:
//! the four grid points about the place are picked as the values pass.

mod field;
mod frame;

use std::collections::BTreeMap;
use std::path::Path;

use crate::edge::files::read_bytes_up_to;
use crate::watch::forecast::{ENTRIES_MAX, Forecast, WindThen};
use crate::watch::geo::Position;
use crate::watch::units::{Knots, TrueBearing, WatchTime};
use field::{Field, What};
use frame::fields;

/// The largest file that is read: a forecast for a coast is a hundredth of it.
pub const FILE_MAX: usize = 32 << 20;

/// So many values are passed by at most, a second or two of work: a week by the hour of a sea at a tenth of a degree.
const VALUES_MOST: usize = 100_000_000;

/// Why a file gives no wind.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum GribError {
    /// It cannot be read from the disk.
    #[error("The file cannot be read: {0}.")]
    Unread(String),
    /// More than is read.
    #[error("The file is larger than {} MiB. Cut out the coast and the hours you need.", FILE_MAX >> 20)]
    TooLarge,
    /// No GRIB2 in it.
    #[error("This is not a GRIB2 file.")]
    NotGrib,
    /// The older edition.
    #[error("This is GRIB edition {0}; edition 2 is read. Ask for GRIB2, or convert it.")]
    Edition(u8),
    /// A length or count that contradicts the file.
    #[error("The file is damaged or cut short: {0}. Fetch it again.")]
    Damaged(&'static str),
    /// A grid that is not read.
    #[error(
        "Its grid (template 3.{0}) is not read: only latitudes and longitudes, evenly spaced. Convert it to such a grid."
    )]
    Grid(u16),
    /// A way of packing that is not read.
    #[error(
        "Its packing (template 5.{0}) is not read: simple and complex packing are. Convert it to simple packing."
    )]
    Packing(u16),
    /// Larger than is unpacked.
    #[error("One of its fields has {0} points: too many to unpack. Cut out the coast you need.")]
    TooManyPoints(u32),
    /// More fields than are unpacked.
    #[error("There is more in it than is unpacked. Cut out the coast and the hours you need.")]
    TooMuch,
    /// Another place.
    #[error("Its grid does not reach {0}. Take a file of this coast.")]
    NotThere(String),
    /// Nothing about wind.
    #[error("There is no 10 m wind for these hours in the file. It needs u and v at 10 m above ground.")]
    NoWind,
}

/// The wind at a place, from `from` to `until`, of a file on the disk.
///
/// # Errors
/// [`GribError`] says why it gives none.
pub fn read_wind_file(
    path: &Path,
    place: Position,
    hours: (WatchTime, WatchTime),
) -> Result<Forecast, GribError> {
    let bytes = read_bytes_up_to(path, FILE_MAX).map_err(|error| GribError::Unread(error.to_string()))?;
    winds(&bytes.ok_or(GribError::TooLarge)?, place, hours)
}

/// What is known of one moment.
#[derive(Clone, Copy, Debug, Default)]
struct Moment {
    u_mps: Option<f64>,
    v_mps: Option<f64>,
    gust_mps: Option<f64>,
}

/// The wind at a place, from the last hour before `from` to `until`, of the bytes of a file.
///
/// # Errors
/// [`GribError`] says why it gives none.
pub fn winds(
    bytes: &[u8],
    place: Position,
    (from, until): (WatchTime, WatchTime),
) -> Result<Forecast, GribError> {
    let mut values = 0;
    let mut moments: BTreeMap<WatchTime, Moment> = BTreeMap::new();
    for sections in fields(bytes) {
        let Some(field) = Field::of(&sections?)? else { continue };
        if field.at > until {
            continue;
        }
        let (value, passed) = field.value_at(place)?;
        values += passed;
        if values > VALUES_MOST {
            return Err(GribError::TooMuch);
        }
        let moment = moments.entry(field.at).or_default();
        let slot = match field.what {
            What::U => &mut moment.u_mps,
            What::V => &mut moment.v_mps,
            What::Gust => &mut moment.gust_mps,
        };
        // Of several for one moment the harder gust, else the first.
        match (field.what, *slot) {
            (What::Gust, Some(before)) => *slot = Some(before.max(value)),
            (_, Some(_)) => {}
            (_, None) => *slot = Some(value),
        }
    }
    let winds: Vec<WindThen> = moments.iter().filter_map(|(at, moment)| moment.wind(*at)).collect();
    // The last before the stay is where its first hour comes from.
    let first = winds.iter().rposition(|wind| wind.at <= from).unwrap_or(0);
    let winds: Vec<WindThen> = winds.into_iter().skip(first).take(ENTRIES_MAX).collect();
    Forecast::try_from(winds).map_err(|_| GribError::NoWind)
}

impl Moment {
    fn wind(&self, at: WatchTime) -> Option<WindThen> {
        let (u_mps, v_mps) = (self.u_mps?, self.v_mps?);
        let mean = Knots::from_mps(u_mps.hypot(v_mps));
        // u blows to the east, v to the north: the wind comes from the other side.
        let from = (mean.0 > 0.0).then(|| TrueBearing::new((-u_mps).atan2(-v_mps).to_degrees()));
        Some(WindThen { at, from, mean, gust: self.gust_mps.map(|gust| Knots::from_mps(gust).max(mean)) })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const SIMPLE: &[u8] = include_bytes!("../../tests/reference/wind_simple.grib2");
    const COMPLEX: &[u8] = include_bytes!("../../tests/reference/wind_complex.grib2");
    /// What eccodes reads of the two, interpolated between the grid points by the script that made them.
    const READ_BACK: &str = include_str!("../../tests/reference/wind_grib.csv");
    const ALL_TIME: (WatchTime, WatchTime) = (WatchTime(0), WatchTime(i64::MAX));

    fn place(lat: f64, lon: f64) -> Position {
        Position::new(lat, lon).unwrap()
    }

    #[test]
    fn the_wind_is_what_another_library_reads_and_interpolates() {
        let mut rows = 0;
        for row in READ_BACK.lines().skip(1) {
            let cells: Vec<&str> = row.split(',').collect();
            let number = |i: usize| cells[i].parse::<f64>().unwrap();
            let bytes = if cells[0] == "wind_simple.grib2" { SIMPLE } else { COMPLEX };
            let forecast = winds(bytes, place(number(1), number(2)), ALL_TIME).unwrap();
            let at: jiff::Timestamp = cells[3].parse().unwrap();
            let wind = forecast.winds().iter().find(|wind| wind.at.0 == at.as_millisecond()).unwrap();
            assert!((wind.mean.0 - number(4)).abs() < 0.01, "{row}: {wind:?}");
            assert!(wind.from.unwrap().turn_to(TrueBearing::new(number(5))).abs() < 0.05, "{row}: {wind:?}");
            assert!((wind.gust.unwrap().0 - number(6)).abs() < 0.01, "{row}: {wind:?}");
            rows += 1;
        }
        assert!(rows >= 20);
    }

    #[test]
    fn what_is_no_use_is_said_in_words() {
        let here = place(54.2, 10.4);
        let why = |bytes: &[u8]| winds(bytes, here, ALL_TIME).unwrap_err().to_string();
        assert_eq!(why(b""), "This is not a GRIB2 file.");
        assert_eq!(why(b"HW 20:10 4.8"), "This is not a GRIB2 file.");
        let mut first = SIMPLE.to_vec();
        first[7] = 1;
        assert!(why(&first).contains("edition 1"));
        assert!(why(&SIMPLE[..SIMPLE.len() / 2 + 9]).contains("damaged or cut short"));
        let elsewhere = winds(SIMPLE, place(-33.0, 150.0), ALL_TIME).unwrap_err().to_string();
        assert!(elsewhere.contains("does not reach"), "{elsewhere}");
        let past = winds(SIMPLE, here, (WatchTime(0), WatchTime(1))).unwrap_err();
        assert_eq!(past, GribError::NoWind);
    }

    proptest! {
        #[test]
        fn no_damaged_file_panics(
            complex in any::<bool>(),
            hits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
            cut in any::<prop::sample::Index>(),
            cuts in prop::bool::weighted(0.2),
        ) {
            let mut bytes = if complex { COMPLEX } else { SIMPLE }.to_vec();
            for (at, byte) in hits {
                let at = at.index(bytes.len());
                bytes[at] = byte;
            }
            if cuts {
                bytes.truncate(cut.index(bytes.len()));
            }
            let _ = winds(&bytes, place(54.2, 10.4), ALL_TIME).map_err(|why| why.to_string());
        }

        #[test]
        fn no_bytes_behind_a_frame_panic(body in prop::collection::vec(any::<u8>(), 0..400)) {
            let mut bytes = b"GRIB\0\0\0\x02".to_vec();
            bytes.extend((body.len() as u64 + 20).to_be_bytes());
            bytes.extend(&body);
            bytes.extend(b"7777");
            let _ = winds(&bytes, place(54.2, 10.4), ALL_TIME);
        }
    }
}
