//! The frame of a GRIB2 file: messages, and in each the sections that make a field.

use super::GribError;

/// The sections of one field, each with its length and number, as FM 92 numbers them.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sections<'a> {
    /// What it is about; 0 is weather.
    pub discipline: u8,
    /// Reference time.
    pub identification: &'a [u8],
    /// The grid.
    pub grid: &'a [u8],
    /// Which quantity, when, at which height.
    pub product: &'a [u8],
    /// How values are packed.
    pub packing: &'a [u8],
    /// Which points have values.
    pub bitmap: &'a [u8],
    /// The values.
    pub data: &'a [u8],
}

const INDICATOR: usize = 16;
const HEADER: usize = 5;

/// All fields of a file, in their order; the first damage ends it.
pub fn fields(bytes: &[u8]) -> impl Iterator<Item = Result<Sections<'_>, GribError>> {
    let mut walk = Walk { bytes, at: 0, end: 0, now: Sections::default(), any: false, over: false };
    std::iter::from_fn(move || walk.next_field().transpose())
}

struct Walk<'a> {
    bytes: &'a [u8],
    at: usize,
    /// Where the sections of this message end; 0 outside one.
    end: usize,
    now: Sections<'a>,
    any: bool,
    over: bool,
}

impl<'a> Walk<'a> {
    fn next_field(&mut self) -> Result<Option<Sections<'a>>, GribError> {
        if self.over {
            return Ok(None);
        }
        let found = self.find();
        self.over = !matches!(found, Ok(Some(_)));
        found
    }

    fn find(&mut self) -> Result<Option<Sections<'a>>, GribError> {
        loop {
            if self.end == 0 && !self.begin_message()? {
                return if self.any { Ok(None) } else { Err(GribError::NotGrib) };
            }
            if self.at == self.end {
                // Past the end sign.
                self.at += 4;
                self.end = 0;
                continue;
            }
            if self.section()? {
                return Ok(Some(self.now));
            }
        }
    }

    /// Goes to the first section of the next message; false where there is none.
    fn begin_message(&mut self) -> Result<bool, GribError> {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let Some(skip) = rest.windows(4).position(|word| word == b"GRIB") else { return Ok(false) };
        let message = &rest[skip..];
        let indicator = message.get(..INDICATOR).ok_or(GribError::Damaged("it ends in a message's head"))?;
        match indicator[7] {
            2 => {}
            1 => return Err(GribError::Edition(1)),
            _ => return Err(GribError::NotGrib),
        }
        let length = big_endian(&indicator[8..]);
        let whole = usize::try_from(length).ok().and_then(|length| message.get(..length));
        let whole = whole.ok_or(GribError::Damaged("a message is longer than the file"))?;
        if whole.len() < INDICATOR + 4 || !whole.ends_with(b"7777") {
            return Err(GribError::Damaged("a message has no end"));
        }
        self.any = true;
        self.end = self.at + skip + whole.len() - 4;
        self.at += skip + INDICATOR;
        self.now = Sections { discipline: indicator[6], ..Sections::default() };
        Ok(true)
    }

    /// Takes a section; true when it completes a field.
    fn section(&mut self) -> Result<bool, GribError> {
        let rest = self.bytes.get(self.at..self.end).unwrap_or_default();
        let header = rest.get(..HEADER).ok_or(GribError::Damaged("a section has no head"))?;
        let length = big_endian(&header[..4]) as usize;
        let section = rest.get(..length).filter(|section| section.len() >= HEADER);
        let section = section.ok_or(GribError::Damaged("a section is longer than its message"))?;
        self.at += length;
        match header[4] {
            1 => self.now.identification = section,
            2 => {}
            3 => self.now.grid = section,
            4 => self.now.product = section,
            5 => self.now.packing = section,
            6 => self.now.bitmap = section,
            7 => self.now.data = section,
            _ => return Err(GribError::Damaged("a section has a number that there is not")),
        }
        Ok(header[4] == 7)
    }
}

/// An unsigned number of at most eight octets.
pub fn big_endian(octets: &[u8]) -> u64 {
    octets.iter().take(8).fold(0, |value, octet| value << 8 | u64::from(*octet))
}

/// The same whose first bit is its sign.
pub fn signed(octets: &[u8]) -> i64 {
    let bits = octets.len().min(7) * 8;
    let value = big_endian(octets) as i64;
    let sign = 1_i64 << bits.saturating_sub(1);
    if value & sign == 0 { value } else { -(value & (sign - 1)) }
}
