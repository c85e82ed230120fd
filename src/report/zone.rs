//! In which zone are the times of a page?

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

use crate::watch::units::WatchTime;

/// The zone in which a page gives its times: UTC unless another is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone(pub TimeZone);

impl Default for Zone {
    fn default() -> Self {
        Self(TimeZone::UTC)
    }
}

impl Zone {
    /// A moment by a pattern of `strftime`.
    #[must_use]
    pub fn format(&self, at: WatchTime, pattern: &str) -> String {
        self.zoned(at).map_or_else(|| "beyond the calendar".into(), |at| at.strftime(pattern).to_string())
    }

    /// A moment as a sailor writes it: `2 Jun 23:04:10`.
    #[must_use]
    pub fn moment(&self, at: WatchTime) -> String {
        self.format(at, "%-d %b %H:%M:%S")
    }

    /// What its times are called at a moment: `UTC`, `UTC+02:00`.
    #[must_use]
    pub fn name_at(&self, at: WatchTime) -> String {
        match self.zoned(at) {
            Some(at) if at.offset().seconds() != 0 => at.strftime("UTC%:z").to_string(),
            _ => "UTC".into(),
        }
    }

    /// How far its clocks are ahead of UTC at a moment, milliseconds.
    #[must_use]
    pub fn ahead_ms(&self, at: WatchTime) -> i64 {
        self.zoned(at).map_or(0, |at| i64::from(at.offset().seconds()) * 1000)
    }

    fn zoned(&self, at: WatchTime) -> Option<ZonedDateTime> {
        Some(Timestamp::from_millisecond(at.0).ok()?.to_zoned_datetime(self.0.clone()))
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::offset;

    use super::*;

    #[test]
    fn a_moment_is_told_in_its_zone_with_the_zones_name() {
        let at = WatchTime(1_780_434_000_000);
        let east = Zone(TimeZone::fixed(offset(2)));
        assert_eq!(Zone::default().moment(at), "2 Jun 21:00:00");
        assert_eq!(east.moment(at), "2 Jun 23:00:00");
        assert_eq!([Zone::default().name_at(at), east.name_at(at)], ["UTC", "UTC+02:00"]);
        assert_eq!(east.ahead_ms(at), 7_200_000);
    }
}
