//! Magnetic variation from the World Magnetic Model, for a compass whose instrument does not give it.

use jiff::civil::Date;
use world_magnetic_model::time;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;
use world_magnetic_model::{Error, GeomagneticField};

use super::geo::Position;
use super::units::Metres;

/// Why there is no variation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MagvarError {
    /// The date lies outside the years that the model was made for.
    #[error("the magnetic model holds from {first} to {last}, not on {date}")]
    OutsideModel {
        /// The date asked for.
        date: Date,
        /// First day of the model.
        first: Date,
        /// Last day of the model.
        last: Date,
    },
    /// The height lies outside the model: a kilometre below sea level to 850 km above it.
    #[error("the magnetic model does not hold at this height")]
    Height,
}

/// Magnetic variation at sea level, degrees, east positive: add it to a magnetic direction to get a true one.
///
/// # Errors
/// `OutsideModel` before 2020 and after 2029.
/// # Source
/// WMM2020 and WMM2025 (NOAA/NCEI and British Geological Survey), through the `world_magnetic_model` crate; checked
/// against the model's published test values. Local rock and the boat's own iron are not in it.
pub fn variation(position: Position, date: Date) -> Result<f64, MagvarError> {
    variation_at_height(position, Metres(0.0), date)
}

/// The same at a height above the ellipsoid, as the model's test values need it.
///
/// # Errors
/// `OutsideModel` before 2020 and after 2029; `Height` outside the model.
pub fn variation_at_height(position: Position, height: Metres, date: Date) -> Result<f64, MagvarError> {
    let field = GeomagneticField::new(
        Length::new::<meter>(height.0 as f32),
        Angle::new::<degree>(position.lat_deg() as f32),
        Angle::new::<degree>(position.lon_deg() as f32),
        day(date).ok_or(MagvarError::OutsideModel { date, first: Date::MIN, last: Date::MAX })?,
    )
    .map_err(|error| match error {
        Error::DateOutsideOfValidityRange { min_date, max_date } => {
            MagvarError::OutsideModel { date, first: civil(min_date), last: civil(max_date) }
        }
        Error::HeightOutsideOfValidityRange { .. } | Error::InvalidLatitude | Error::InvalidLongitude => {
            MagvarError::Height
        }
    })?;
    Ok(f64::from(field.declination().get::<degree>()))
}

/// The model's calendar holds the years -9999 to 9999, as ours does.
fn day(date: Date) -> Option<time::Date> {
    let ordinal = u16::try_from(date.day_of_year()).ok()?;
    time::Date::from_ordinal_date(i32::from(date.year()), ordinal).ok()
}

fn civil(date: time::Date) -> Date {
    let (month, day) = (u8::from(date.month()) as i8, date.day() as i8);
    Date::new(date.year() as i16, month, day).unwrap_or(Date::ZERO)
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn outside_its_years_the_model_is_not_used_silently() {
        let here = Position::new(50.0, -4.0).unwrap();
        let (first, last) = (date(2020, 1, 1), date(2029, 12, 31));
        for wrong in [date(2019, 12, 31), date(2030, 1, 1), Date::MIN, Date::MAX] {
            assert_eq!(
                variation(here, wrong),
                Err(MagvarError::OutsideModel { date: wrong, first, last }),
                "{wrong}"
            );
        }
        for right in [first, last] {
            assert!(variation(here, right).is_ok());
        }
    }

    #[test]
    fn every_place_on_earth_has_a_variation() {
        for lat in [-90.0, -45.0, 0.0, 45.0, 90.0] {
            for lon in [-180.0, -0.0, 180.0] {
                let east = variation(Position::new(lat, lon).unwrap(), date(2026, 6, 1)).unwrap();
                assert!(east.abs() <= 180.0, "{lat} {lon}: {east}");
            }
        }
    }
}
