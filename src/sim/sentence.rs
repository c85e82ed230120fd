//! Sentences as instruments write them: NMEA 0183, with checksum.

use std::fmt::Write as _;

use crate::watch::units::WatchTime;

/// Writes sentences into one buffer that is used again and again.
#[derive(Clone, Debug, Default)]
pub(super) struct Writer {
    text: String,
}

impl Writer {
    /// Writes one sentence: `begin` as `GPRMC`, then what `fields` writes, each field behind its comma.
    pub(super) fn sentence(&mut self, begin: [&str; 2], fields: impl FnOnce(&mut Fields<'_>)) -> Vec<u8> {
        self.text.clear();
        self.text.push('$');
        self.text.push_str(begin[0]);
        self.text.push_str(begin[1]);
        fields(&mut Fields { text: &mut self.text });
        let sum = self.text.as_bytes()[1..].iter().fold(0, |sum, byte| sum ^ byte);
        let _ = write!(self.text, "*{sum:02X}");
        self.text.as_bytes().to_vec()
    }
}

/// The fields of one sentence. Writing into a string cannot fail.
pub(super) struct Fields<'a> {
    text: &'a mut String,
}

impl Fields<'_> {
    pub(super) fn empty(&mut self) -> &mut Self {
        self.text.push(',');
        self
    }

    pub(super) fn word(&mut self, word: &str) -> &mut Self {
        self.text.push(',');
        self.text.push_str(word);
        self
    }

    pub(super) fn whole(&mut self, value: i64, digits: usize) -> &mut Self {
        let _ = write!(self.text, ",{value:0digits$}");
        self
    }

    pub(super) fn number(&mut self, value: f64, decimals: u8) -> &mut Self {
        let scale = 10f64.powi(i32::from(decimals));
        // No instrument prints a minus before a zero.
        let value = (value * scale).round() / scale + 0.0;
        let _ = write!(self.text, ",{value:.*}", usize::from(decimals));
        self
    }

    pub(super) fn maybe(&mut self, value: Option<f64>, decimals: u8) -> &mut Self {
        match value {
            Some(value) => self.number(value, decimals),
            None => self.empty(),
        }
    }

    /// `hhmmss.ss` of UTC.
    pub(super) fn clock(&mut self, at: WatchTime) -> &mut Self {
        let day = at.0.rem_euclid(86_400_000);
        let (h, m, s, cs) = (day / 3_600_000, day / 60_000 % 60, day / 1000 % 60, day % 1000 / 10);
        let _ = write!(self.text, ",{h:02}{m:02}{s:02}.{cs:02}");
        self
    }

    /// `ddmmyy` of UTC.
    pub(super) fn date(&mut self, at: WatchTime) -> &mut Self {
        let (year, month, day) = civil(at.0.div_euclid(86_400_000));
        let _ = write!(self.text, ",{day:02}{month:02}{:02}", year.rem_euclid(100));
        self
    }

    /// Latitude and longitude: `ddmm.mmmm,N,dddmm.mmmm,W`.
    pub(super) fn position(&mut self, (lat_deg, lon_deg): (f64, f64), decimals: u8) -> &mut Self {
        self.angle(lat_deg, 2, decimals, ["N", "S"]).angle(lon_deg, 3, decimals, ["E", "W"])
    }

    fn angle(&mut self, degrees: f64, digits: usize, decimals: u8, sides: [&str; 2]) -> &mut Self {
        // In whole units of the last printed figure, so that 59.9999 never prints as 60.
        let unit = 10i64.pow(u32::from(decimals));
        let minutes = (degrees.abs() * 60.0 * unit as f64).round() as i64;
        let (whole, part) = (minutes / unit, minutes % unit);
        let _ = write!(
            self.text,
            ",{:0digits$}{:02}.{part:0width$},{}",
            whole / 60,
            whole % 60,
            sides[usize::from(degrees < 0.0)],
            width = usize::from(decimals),
        );
        self
    }
}

/// Year, month and day of a day counted from 1 January 1970.
///
/// # Source
/// Fliegel and Van Flandern 1968, Communications of the ACM 11, in the proleptic Gregorian form that counts from
/// 1 March.
fn civil(days: i64) -> (i64, i64, i64) {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let day_of_era = z.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_index = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_index + 2) / 5 + 1;
    let month = if month_index < 10 { month_index + 3 } else { month_index - 9 };
    (year_of_era + era * 400 + i64::from(month <= 2), month, day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_reads_as_the_standard_writes_it() {
        let at = WatchTime(1_767_225_599_990);
        let bytes = Writer::default().sentence(["GP", "RMC"], |f| {
            f.clock(at).word("A").position((-50.999_999_99, 4.5), 4).number(-0.01, 1).maybe(None, 1).date(at);
        });
        assert_eq!(
            String::from_utf8(bytes).unwrap(),
            "$GPRMC,235959.99,A,5100.0000,S,00430.0000,E,0.0,,311225*04"
        );
    }

    #[test]
    fn days_become_dates() {
        assert_eq!(civil(0), (1970, 1, 1));
        assert_eq!(civil(20_454), (2026, 1, 1));
        assert_eq!(civil(11_016), (2000, 2, 29));
    }
}
