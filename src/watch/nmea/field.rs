//! Reads the fields of one sentence in order; a field that cannot be used reads as missing, with a remark.

use jiff::civil::Date;

use super::observation::TimeOfDay;
use super::outcome::Remark;
use crate::watch::geo::Position;
use crate::watch::units::TrueBearing;

/// Years believed. The two figures of RMC mean 2000 to 2079; earlier ones are a receiver's start-up date or a
/// rollover of its ten-bit week counter (1024 weeks).
pub(in crate::watch) const YEARS: std::ops::RangeInclusive<i16> = 2000..=2079;

/// A cursor over the comma-separated fields of a sentence.
pub(super) struct Fields<'a> {
    /// What is not read yet; `None` after the last field.
    rest: Option<&'a [u8]>,
    remark: Option<Remark>,
}

impl<'a> Fields<'a> {
    /// The fields behind the address: `data` begins after its comma, `None` if there is no comma.
    pub(super) fn new(data: Option<&'a [u8]>) -> Self {
        Self { rest: data, remark: None }
    }

    /// Whether all fields have been read.
    pub(super) fn at_end(&self) -> bool {
        self.rest.is_none()
    }

    /// The next field; empty also past the end.
    #[inline]
    pub(super) fn text(&mut self) -> &'a [u8] {
        let Some(rest) = self.rest else { return &[] };
        match rest.iter().position(|&b| b == b',') {
            Some(comma) => {
                self.rest = Some(&rest[comma + 1..]);
                &rest[..comma]
            }
            None => {
                self.rest = None;
                rest
            }
        }
    }

    /// Passes over `count` fields.
    pub(super) fn skip(&mut self, count: usize) {
        for _ in 0..count {
            self.text();
        }
    }

    /// What there is to remark so far.
    pub(super) fn remark(&self) -> Option<Remark> {
        self.remark
    }

    /// Remarks on something unless there was a remark already.
    pub(super) fn note(&mut self, remark: Remark) {
        self.remark.get_or_insert(remark);
    }

    /// Remarks on something that matters more than whatever was wrong in single fields.
    pub(super) fn note_above_all(&mut self, remark: Remark) {
        self.remark = Some(remark);
    }

    /// A field of one character; 0 if it is empty or longer.
    pub(super) fn letter(&mut self) -> u8 {
        match self.text() {
            [letter] => *letter,
            _ => 0,
        }
    }

    /// A number.
    pub(super) fn number(&mut self) -> Option<f64> {
        let text = self.text();
        if text.is_empty() {
            return None;
        }
        let value = number(text);
        if value.is_none() {
            self.note(Remark::NotANumber);
        }
        value
    }

    /// A number from `low` to `high`, both included.
    pub(super) fn number_in(&mut self, low: f64, high: f64) -> Option<f64> {
        let value = self.number()?;
        if (low..=high).contains(&value) {
            return Some(value);
        }
        self.note(Remark::OutOfRange);
        None
    }

    /// A whole number of figures only.
    pub(super) fn whole(&mut self) -> Option<u32> {
        let text = self.text();
        if text.is_empty() {
            return None;
        }
        let value = whole(text);
        if value.is_none() {
            self.note(Remark::NotANumber);
        }
        value
    }

    /// A direction in degrees, `0..=360`.
    pub(super) fn degrees(&mut self) -> Option<f64> {
        self.number_in(0.0, 360.0).map(|degrees| if degrees == 360.0 { 0.0 } else { degrees })
    }

    /// A direction from true north.
    pub(super) fn bearing(&mut self) -> Option<TrueBearing> {
        self.degrees().map(TrueBearing::new)
    }

    /// Degrees with a letter for the side: east positive.
    pub(super) fn east_or_west(&mut self) -> Option<f64> {
        let size = self.number_in(0.0, 180.0);
        match (size, self.letter()) {
            (Some(size), b'E') => Some(size),
            (Some(size), b'W') => Some(-size),
            // A size without a side says nothing.
            _ => None,
        }
    }

    /// A time of day, `hhmmss` with or without decimals; finer than a millisecond is cut off.
    pub(super) fn time(&mut self) -> Option<TimeOfDay> {
        let text = self.text();
        if text.is_empty() {
            return None;
        }
        let time = time(text);
        if time.is_none() {
            self.note(Remark::BadTime);
        }
        time
    }

    /// A date, `ddmmyy`.
    pub(super) fn date(&mut self) -> Option<Date> {
        let text = self.text();
        if text.is_empty() {
            return None;
        }
        let Some([day, month, year]) = pairs::<3>(text) else {
            self.note(Remark::BadDate);
            return None;
        };
        let century = if year < 80 { 2000 } else { 1900 };
        self.checked_date(century + year, month, day)
    }

    /// A date of which the parts have been read.
    pub(super) fn checked_date(&mut self, year: u32, month: u32, day: u32) -> Option<Date> {
        let narrow = |value: u32| i8::try_from(value).ok();
        let date = i16::try_from(year)
            .ok()
            .zip(narrow(month).zip(narrow(day)))
            .and_then(|(year, (month, day))| Date::new(year, month, day).ok());
        match date {
            Some(date) if YEARS.contains(&date.year()) => Some(date),
            Some(_) => {
                self.note(Remark::YearUnlikely);
                None
            }
            None => {
                self.note(Remark::BadDate);
                None
            }
        }
    }

    /// Latitude, hemisphere, longitude, hemisphere: the position and the decimals printed of a minute.
    pub(super) fn position(&mut self) -> Option<(Position, u8)> {
        let [lat, north, lon, east] = [self.text(), self.text(), self.text(), self.text()];
        let missing = [lat, north, lon, east].iter().filter(|field| field.is_empty()).count();
        if missing == 4 {
            return None;
        }
        if missing > 0 {
            self.note(Remark::PositionIncomplete);
            return None;
        }
        match position(lat, north, lon, east) {
            Ok(found) => Some(found),
            Err(remark) => {
                self.note(remark);
                None
            }
        }
    }
}

fn position(lat: &[u8], north: &[u8], lon: &[u8], east: &[u8]) -> Result<(Position, u8), Remark> {
    let lat_sign = sign(north, b'N', b'S').ok_or(Remark::PositionUnusable)?;
    let lon_sign = sign(east, b'E', b'W').ok_or(Remark::PositionUnusable)?;
    let (lat_deg, lat_decimals) = degrees_and_minutes(lat, 2).ok_or(Remark::PositionUnusable)?;
    let (lon_deg, lon_decimals) = degrees_and_minutes(lon, 3).ok_or(Remark::PositionUnusable)?;
    if lat_deg == 0.0 && lon_deg == 0.0 {
        return Err(Remark::PositionZero);
    }
    let position =
        Position::new(lat_sign * lat_deg, lon_sign * lon_deg).map_err(|_| Remark::PositionUnusable)?;
    Ok((position, lat_decimals.min(lon_decimals)))
}

fn sign(letter: &[u8], positive: u8, negative: u8) -> Option<f64> {
    match letter {
        [l] if *l == positive => Some(1.0),
        [l] if *l == negative => Some(-1.0),
        _ => None,
    }
}

/// `ddmm.mmm` or `dddmm.mmm`, always with leading zeros: fewer figures would be decimal degrees or a lost byte.
fn degrees_and_minutes(text: &[u8], degree_figures: usize) -> Option<(f64, u8)> {
    let whole_figures = text.iter().position(|&b| b == b'.').unwrap_or(text.len());
    if whole_figures != degree_figures + 2 {
        return None;
    }
    let degrees = whole(&text[..degree_figures])?;
    let minutes = number(&text[degree_figures..])?;
    let decimals = text.len().saturating_sub(whole_figures + 1);
    // `number` would take a sign.
    let plain = text[degree_figures].is_ascii_digit() && minutes < 60.0;
    plain.then(|| (f64::from(degrees) + minutes / 60.0, u8::try_from(decimals).unwrap_or(u8::MAX)))
}

fn time(text: &[u8]) -> Option<TimeOfDay> {
    let (clock, fraction) = match text.split_first_chunk::<6>()? {
        (clock, []) => (clock, &[][..]),
        (clock, [b'.', fraction @ ..]) => (clock, fraction),
        _ => return None,
    };
    let [hours, minutes, seconds] = pairs::<3>(clock)?;
    if !fraction.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let millis =
        fraction.iter().chain(b"000").take(3).fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0'));
    TimeOfDay::new(hours, minutes, seconds, millis)
}

/// Exactly `N` two-figure numbers without anything between.
fn pairs<const N: usize>(text: &[u8]) -> Option<[u32; N]> {
    if text.len() != 2 * N || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    Some(std::array::from_fn(|i| u32::from(text[2 * i] - b'0') * 10 + u32::from(text[2 * i + 1] - b'0')))
}

/// A whole number of one to nine figures.
fn whole(text: &[u8]) -> Option<u32> {
    if text.is_empty() || text.len() > 9 || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    Some(text.iter().fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0')))
}

/// Powers of ten that a double holds exactly and that a field can ask for.
const POWERS: [f64; 16] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// A number as sentences write it: sign, figures, point, figures. No exponent, no `NaN`, no blanks, at most 15
/// significant figures, so that one exact division rounds it as well as any parser can (Clinger 1990, "How to read
/// floating point numbers accurately"); longer ones go through the library.
pub(super) fn number(text: &[u8]) -> Option<f64> {
    let (negative, figures) = match text {
        [b'-', figures @ ..] => (true, figures),
        [b'+', figures @ ..] => (false, figures),
        figures => (false, figures),
    };
    let mut mantissa: u64 = 0;
    let mut point = None;
    for (at, &byte) in figures.iter().enumerate() {
        match byte {
            b'0'..=b'9' => mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0')),
            b'.' if point.is_none() => point = Some(at),
            _ => return None,
        }
    }
    let count = figures.len() - usize::from(point.is_some());
    if count == 0 {
        return None;
    }
    if count > 15 {
        return str::from_utf8(text).ok()?.parse().ok().filter(|value: &f64| value.is_finite());
    }
    let decimals = point.map_or(0, |at| figures.len() - at - 1);
    let size = mantissa as f64 / POWERS[decimals];
    Some(if negative { -size } else { size })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_plain_decimals_and_nothing_else() {
        for good in
            ["0", "1.5", "-0.8", "+3", "007.25", "1.", ".5", "123456789012345", "0.123456789012345678"]
        {
            assert_eq!(number(good.as_bytes()), Some(good.parse().unwrap()), "{good}");
        }
        for bad in ["", "-", "+", ".", "--1.0", "1.2.3", "1e3", "0x1F", "NaN", "inf", "12 .5", " 1", "-."] {
            assert_eq!(number(bad.as_bytes()), None, "{bad}");
        }
        assert_eq!(number(&[b'9'; 400]), None);
    }

    #[test]
    fn times_need_six_figures_that_exist() {
        let ms = |text: &str| time(text.as_bytes()).map(TimeOfDay::millis);
        assert_eq!(ms("000000"), Some(0));
        assert_eq!(ms("193744.20"), Some(70_664_200));
        assert_eq!(ms("235960"), Some(86_400_000));
        assert_eq!(ms("235959.9999"), Some(86_399_999));
        for bad in ["246060", "12345", "1234567", "120060", "123456x", "-12345", "1234.5"] {
            assert_eq!(ms(bad), None, "{bad}");
        }
    }

    #[test]
    fn positions_need_leading_zeros_and_minutes_below_sixty() {
        let read = |text: &str| {
            let mut fields = Fields::new(Some(text.as_bytes()));
            let found = fields.position().map(|(p, decimals)| (p.lat_deg(), p.lon_deg(), decimals));
            (found, fields.remark())
        };
        assert_eq!(read("5010.000,N,00130.0000,W"), (Some((50.0 + 10.0 / 60.0, -1.5, 3)), None));
        assert_eq!(read(",,,"), (None, None));
        assert_eq!(read("5010.000,N,,"), (None, Some(Remark::PositionIncomplete)));
        assert_eq!(read("0000.00,N,00000.00,E"), (None, Some(Remark::PositionZero)));
        for bad in [
            "50.16667,N,001.5,W",
            "5060.0,N,00100.0,W",
            "9100.0,N,00100.0,W",
            "-5010.0,N,00100.0,W",
            "5010.0,E,00100.0,N",
        ] {
            assert_eq!(read(bad), (None, Some(Remark::PositionUnusable)), "{bad}");
        }
    }
}
