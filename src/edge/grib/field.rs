//! One field of a GRIB2 file: what it is, when it holds, and its value at a place.

use grib::Grib2SubmessageDecoder;
use jiff::civil::DateTime;
use jiff::tz::Offset;

use super::GribError;
use super::frame::{Sections, big_endian, signed};
use crate::watch::geo::Position;
use crate::watch::units::{Span, WatchTime};

/// Points of a field that is packed simply. They are passed by, never held.
const POINTS_MOST: u32 = 4_000_000;
/// Points of a field that is packed in groups: within it no sum of differences leaves 64 bits.
const GROUPED_POINTS_MOST: u32 = 50_000;
/// The longest group of such a field: the library holds one group at a time.
const GROUP_MOST: u64 = 100_000;

/// Which quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Wind to the east, 10 m above ground.
    U,
    /// Wind to the north, 10 m above ground.
    V,
    /// Gusts.
    Gust,
}

/// A field of the wind.
#[derive(Clone, Copy, Debug)]
pub struct Field<'a> {
    /// Which quantity.
    pub what: What,
    /// When it holds; of gusts the end of their time.
    pub at: WatchTime,
    sections: Sections<'a>,
}

impl<'a> Field<'a> {
    /// The field of these sections; `None` if it is not of the wind.
    ///
    /// # Errors
    /// `Damaged` where a section is shorter than what it says.
    pub fn of(sections: &Sections<'a>) -> Result<Option<Self>, GribError> {
        let product = sections.product;
        // Product templates 4.0, at a moment, and 4.8, over a time; code tables 4.1, 4.2.0.2 and 4.5 of FM 92.
        let short = GribError::Damaged("a product is cut short");
        let template = big_endian(product.get(7..9).ok_or(short.clone())?);
        if sections.discipline != 0 || !matches!(template, 0 | 8) {
            return Ok(None);
        }
        let head = product.get(..34).ok_or(short.clone())?;
        let is_ten_metres = head[22] == 103 && signed(&head[23..24]) == 0 && big_endian(&head[24..28]) == 10;
        let what = match (head[9], head[10]) {
            (2, 2) if is_ten_metres && template == 0 => What::U,
            (2, 3) if is_ten_metres && template == 0 => What::V,
            (2, 22) if is_ten_metres || head[22] == 1 => What::Gust,
            _ => return Ok(None),
        };
        let at = match template {
            0 => moment(sections.identification.get(12..19).ok_or(short)?)? + ahead(head)?,
            _ => moment(product.get(34..41).ok_or(short)?)?,
        };
        Ok(Some(Self { what, at, sections: *sections }))
    }

    /// The value at a place, between the four grid points about it, and how many values were passed by for it.
    ///
    /// # Errors
    /// What of the file is not read, or why it has nothing there.
    pub fn value_at(&self, place: Position) -> Result<(f64, usize), GribError> {
        let grid = Grid::of(self.sections.grid)?;
        let corners = grid.corners(place).ok_or_else(|| GribError::NotThere(place.to_string()))?;
        let points = corners.map(|(point, _)| point);
        let values = self.values(grid.points, &points)?;
        let passed = points.iter().copied().max().unwrap_or(0) + 1;
        let value: f64 = corners.iter().zip(values).map(|((_, share), value)| share * value).sum();
        // Missing values stand where the model knows no wind.
        if value.is_finite() { Ok((value, passed)) } else { Err(GribError::NotThere(place.to_string())) }
    }

    /// The values of four points, picked while all pass.
    fn values(&self, points: u32, wanted: &[usize; 4]) -> Result<[f64; 4], GribError> {
        let Sections { packing, bitmap, data, .. } = self.sections;
        guard(packing, bitmap, data, points)?;
        let damaged = |_| GribError::Damaged("a field cannot be unpacked");
        let (packing, bitmap, data) = (packing.to_vec(), bitmap.to_vec(), data.to_vec());
        let decoder = Grib2SubmessageDecoder::new(points as usize, packing, bitmap, data).map_err(damaged)?;
        let last = wanted.iter().copied().max().unwrap_or(0);
        let mut found = [None; 4];
        for (point, value) in decoder.dispatch().map_err(damaged)?.take(last + 1).enumerate() {
            for (slot, _) in found.iter_mut().zip(wanted).filter(|(_, wanted)| **wanted == point) {
                *slot = Some(f64::from(value));
            }
        }
        let [Some(a), Some(b), Some(c), Some(d)] = found else {
            return Err(GribError::Damaged("a field has fewer values than points"));
        };
        Ok([a, b, c, d])
    }
}

/// A moment as seven octets: year, month, day, hour, minute, second.
fn moment(octets: &[u8]) -> Result<WatchTime, GribError> {
    let part = |i: usize| i8::try_from(octets[i]).unwrap_or(-1);
    let year = i16::try_from(big_endian(&octets[..2])).unwrap_or(-1);
    let there = DateTime::new(year, part(2), part(3), part(4), part(5), part(6), 0).ok();
    let at = there.and_then(|there| Offset::UTC.to_timestamp(there).ok());
    at.map(|at| WatchTime(at.as_millisecond())).ok_or(GribError::Damaged("a time is none"))
}

/// How far ahead of the reference time, by code table 4.4.
fn ahead(product: &[u8]) -> Result<Span, GribError> {
    let unit = match product[17] {
        0 => Span::from_mins(1),
        1 => Span::from_mins(60),
        2 => Span::from_mins(24 * 60),
        10 => Span::from_mins(3 * 60),
        11 => Span::from_mins(6 * 60),
        12 => Span::from_mins(12 * 60),
        13 => Span::from_secs(1),
        _ => return Err(GribError::Damaged("a time has a unit that is none")),
    };
    let count = signed(&product[18..22]);
    Ok(Span(unit.0.saturating_mul(count)))
}

/// Holds what the packing says against the file, so that the library neither overflows nor holds more than a group of
/// [`GROUP_MOST`] values.
fn guard(packing: &[u8], bitmap: &[u8], data: &[u8], points: u32) -> Result<(), GribError> {
    let damaged = |what| Err(GribError::Damaged(what));
    let short = || GribError::Damaged("a packing is cut short");
    let head = packing.get(..21).ok_or_else(short)?;
    let (encoded, template) = (big_endian(&head[5..9]), big_endian(&head[9..11]) as u16);
    let bits = u64::from(head[19]);
    let most = match template {
        0 => POINTS_MOST,
        2 | 3 => GROUPED_POINTS_MOST,
        other => return Err(GribError::Packing(other)),
    };
    if points > most {
        return Err(GribError::TooManyPoints(points));
    }
    if encoded > u64::from(points) {
        return damaged("a field has more values than points");
    }
    match bitmap.get(5) {
        Some(0) if bitmap.len() >= 6 + (points as usize).div_ceil(8) => {}
        Some(255) if encoded == u64::from(points) => {}
        Some(_) => return damaged("a field's bitmap does not fit it"),
        None => return damaged("a field has no bitmap section"),
    }
    if head[20] != 0 {
        return damaged("a field is not of numbers with a fraction");
    }
    if template == 0 {
        let needs = (encoded * bits).div_ceil(8);
        return if bits <= 32 && needs + 5 <= data.len() as u64 {
            Ok(())
        } else {
            damaged("a field is shorter than its values")
        };
    }
    let groups = packing.get(..47).ok_or_else(short)?;
    let count = big_endian(&groups[31..35]);
    let (width_least, width_bits) = (u64::from(groups[35]), u64::from(groups[36]));
    let (length_least, step) = (big_endian(&groups[37..41]), u64::from(groups[41]));
    let (last, length_bits) = (big_endian(&groups[42..46]), u64::from(groups[46]));
    let fits = bits <= 24
        && (1..=u64::from(points)).contains(&count)
        && width_bits <= 4
        && width_least + ((1 << width_bits) - 1) <= 30
        && length_bits <= 20
        && length_least.saturating_add(step * ((1 << length_bits) - 1)) <= GROUP_MOST
        && last <= GROUP_MOST;
    if !fits {
        return damaged("a field is packed in groups that are none");
    }
    if template == 3 {
        let order = packing.get(47..49).ok_or_else(short)?;
        if !matches!(order[0], 1 | 2) || !(1..=3).contains(&order[1]) {
            return damaged("a field is packed by differences that are none");
        }
    }
    Ok(())
}

/// Latitudes and longitudes, evenly spaced: grid template 3.0.
struct Grid {
    points: u32,
    across: usize,
    down: usize,
    first: (f64, f64),
    /// Degrees from one point to the next: along latitude, along longitude.
    step: (f64, f64),
}

impl Grid {
    fn of(section: &[u8]) -> Result<Self, GribError> {
        let short = GribError::Damaged("a grid is cut short");
        let template = big_endian(section.get(12..14).ok_or(short.clone())?) as u16;
        if template != 0 {
            return Err(GribError::Grid(template));
        }
        let head = section.get(..72).ok_or(short)?;
        let points = big_endian(&head[6..10]) as u32;
        let (across, down) = (big_endian(&head[30..34]), big_endian(&head[34..38]));
        let scan = head[71];
        // A basic angle of its own, rows that run to and fro, or columns first: nobody sends wind so.
        if big_endian(&head[38..42]) != 0 || scan & 0x30 != 0 {
            return Err(GribError::Grid(template));
        }
        if across < 2 || down < 2 || across.checked_mul(down) != Some(u64::from(points)) {
            return Err(GribError::Damaged("a grid has not the points that it counts"));
        }
        let degrees = |octets: &[u8]| signed(octets) as f64 * 1e-6;
        let (lat, lon) = (degrees(&head[46..50]), degrees(&head[50..54]));
        let (east, north) = (degrees(&head[63..67]), degrees(&head[67..71]));
        if !(east > 0.0 && north > 0.0 && lat.abs() <= 90.0) {
            return Err(GribError::Damaged("a grid has no spacing"));
        }
        let step =
            (if scan & 0x40 == 0 { -north } else { north }, if scan & 0x80 == 0 { east } else { -east });
        Ok(Self { points, across: across as usize, down: down as usize, first: (lat, lon), step })
    }

    /// The four points about a place and the share that each has in it; `None` outside the grid.
    fn corners(&self, place: Position) -> Option<[(usize, f64); 4]> {
        let y = (place.lat_deg() - self.first.0) / self.step.0;
        let way = (place.lon_deg() - self.first.1) * self.step.1.signum();
        // A hair west of the first meridian is not all round the earth.
        let x = (way + 1e-6).rem_euclid(360.0).max(1e-6) - 1e-6;
        let x = (x / self.step.1.abs()).max(0.0);
        let all_round = (self.across as f64 * self.step.1.abs() - 360.0).abs() < 1e-3;
        let (row, row_share) = cell(y, self.down - 1)?;
        let (column, column_share) = cell(x, if all_round { self.across } else { self.across - 1 })?;
        let next = (column + 1) % self.across;
        let point = |row: usize, column: usize| row * self.across + column;
        Some([
            (point(row, column), (1.0 - row_share) * (1.0 - column_share)),
            (point(row, next), (1.0 - row_share) * column_share),
            (point(row + 1, column), row_share * (1.0 - column_share)),
            (point(row + 1, next), row_share * column_share),
        ])
    }
}

/// The cell that a coordinate lies in, of so many, and how far into it.
fn cell(at: f64, cells: usize) -> Option<(usize, f64)> {
    // A place on the edge may miss it by rounding.
    let at = if at < 0.0 && at > -1e-6 { 0.0 } else { at };
    if !(at >= 0.0 && at <= cells as f64 + 1e-6) {
        return None;
    }
    let cell = (at as usize).min(cells - 1);
    Some((cell, (at - cell as f64).clamp(0.0, 1.0)))
}
