//! The crew's way out of a place: the course that is safe to steer from it, and how far. It stands on the screen while something
//! is wrong, for there is no time then to look at the chart.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::Watch;
use super::alert::AlertKind;
use super::units::{TrueBearing, WatchTime};

/// A safe course from the place, as the crew took it from the chart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WayOut {
    /// The course, true.
    pub course: TrueBearing,
    /// For so many nautical miles.
    pub distance_nm: f64,
}

impl fmt::Display for WayOut {
    /// `140° true, 0.4 nm`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} true, {:.1} nm", self.course, self.distance_nm)
    }
}

/// The farthest that a way out leads, nautical miles.
pub const WAY_OUT_NM_MOST: f64 = 50.0;

impl WayOut {
    /// Reads a true course and nautical miles: `140 0.4`, `140° 0.4 nm`, `140,0.4`.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn read(text: &str) -> Result<Self, String> {
        let wrong = || "Write the true course and how far, in nautical miles: 140 0.4.".to_owned();
        let text = text.trim().trim_end_matches(|c: char| c.is_ascii_alphabetic()).trim_end();
        let parts =
            text.split_once(char::is_whitespace).or_else(|| text.split_once(',')).ok_or_else(wrong)?;
        let course = parts.0.trim_end_matches(['°', 'T', 't', ',', ';']);
        let number = |text: &str| text.trim().replace(',', ".").parse::<f64>().map_err(|_| wrong());
        let (course, distance_nm) = (number(course)?, number(parts.1)?);
        if !(0.0..=360.0).contains(&course) {
            return Err(format!("{course} is no course. Write 0 to 360, degrees true."));
        }
        if !(0.05..=WAY_OUT_NM_MOST).contains(&distance_nm) {
            return Err(format!(
                "{distance_nm} nautical miles is out of range. Write 0.05 to {WAY_OUT_NM_MOST}."
            ));
        }
        Ok(Self { course: TrueBearing::new(course), distance_nm })
    }

    /// As [`WayOut::read`] reads it.
    #[must_use]
    pub fn typed(&self) -> String {
        format!("{:03} {}", self.course.degrees(), self.distance_nm)
    }

    /// In words, by the compass too where the variation is known: `140° true (138° M), 0.4 nm`.
    #[must_use]
    pub fn words(&self, variation_deg: Option<f64>) -> String {
        match variation_deg {
            Some(variation) => {
                let compass = self.course.turned(-variation);
                format!("{} true ({compass} M), {:.1} nm", self.course, self.distance_nm)
            }
            None => self.to_string(),
        }
    }
}

/// Whether an alert can mean that she must leave at once.
#[must_use]
pub fn leads_out(kind: AlertKind) -> bool {
    use AlertKind::{Creep, Drag, NotAsForecast, Outside, Shallow, WindHigh, WindShift};
    matches!(kind, Drag | Creep | Outside | WindHigh | WindShift | Shallow | NotAsForecast)
}

impl Watch {
    /// The crew's way out from here.
    pub(in crate::watch) fn enter_way_out(&mut self, at: WatchTime, way: Option<WayOut>) {
        let words = way.map_or_else(|| "way out removed".to_owned(), |way| format!("way out: {way}"));
        self.night.happened(at, words, false);
        self.way_out = way;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_course_is_said_true_and_by_the_compass() {
        let way = WayOut { course: TrueBearing::new(140.0), distance_nm: 0.4 };
        assert_eq!(way.words(Some(2.0)), "140° true (138° M), 0.4 nm");
        for typed in ["140 0.4", "140° 0,4 nm", "140,0.4", "140T 0.4", way.typed().as_str()] {
            assert_eq!(WayOut::read(typed), Ok(way), "{typed}");
        }
        for wrong in ["", "140", "400 1", "140 0", "140 99", "140M 0.4", "out 2", "nan 1", "140 nan"] {
            assert!(WayOut::read(wrong).is_err(), "{wrong}");
        }
        assert_eq!(way.words(None), "140° true, 0.4 nm");
    }
}
