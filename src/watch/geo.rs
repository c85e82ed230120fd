//! Positions on the WGS84 ellipsoid, and the flat east/north plane about the anchor.

use std::fmt;

use geo::{Destination, Distance as _, Geodesic, InterpolatePoint as _, Point};
use serde::{Deserialize, Serialize};

use super::units::{Metres, TrueBearing};

/// A position on WGS84: latitude `-90..=90` and longitude `-180..=180`, both finite, in degrees.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "LatLon", into = "LatLon")]
pub struct Position {
    lat_deg: f64,
    lon_deg: f64,
}

/// How a position is written in files; unchecked.
#[derive(Serialize, Deserialize)]
struct LatLon {
    lat: f64,
    lon: f64,
}

/// A latitude or longitude that no place on earth has.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("latitude {lat_deg}, longitude {lon_deg} is no place on earth")]
pub struct NoSuchPosition {
    /// Degrees as given.
    pub lat_deg: f64,
    /// Degrees as given.
    pub lon_deg: f64,
}

impl Position {
    /// Checks that the latitude and longitude, in degrees, are on the earth.
    ///
    /// # Errors
    /// `NoSuchPosition` if either is out of range or not a number.
    pub fn new(lat_deg: f64, lon_deg: f64) -> Result<Self, NoSuchPosition> {
        if lat_deg.abs() <= 90.0 && lon_deg.abs() <= 180.0 {
            Ok(Self { lat_deg, lon_deg })
        } else {
            Err(NoSuchPosition { lat_deg, lon_deg })
        }
    }

    /// Degrees north.
    #[must_use]
    pub fn lat_deg(self) -> f64 {
        self.lat_deg
    }

    /// Degrees east.
    #[must_use]
    pub fn lon_deg(self) -> f64 {
        self.lon_deg
    }

    /// The latitude as sailors write it: `54°12.034′N`.
    #[must_use]
    pub fn latitude(self) -> String {
        degrees_minutes(self.lat_deg, 2, ['N', 'S'])
    }

    /// The longitude as sailors write it: `010°24.123′E`.
    #[must_use]
    pub fn longitude(self) -> String {
        degrees_minutes(self.lon_deg, 3, ['E', 'W'])
    }

    /// The position `distance` away along the geodesic that starts on `bearing`.
    ///
    /// # Source
    /// Karney 2013, "Algorithms for geodesics", J. Geodesy 87, through the `geo` crate.
    #[must_use]
    pub fn destination(self, bearing: TrueBearing, distance: Metres) -> Self {
        let end = Geodesic.destination(self.point(), bearing.degrees(), distance.0);
        // The library may answer 180.0000001 or more when the line crosses the antimeridian.
        let lon_deg = (end.x() + 180.0).rem_euclid(360.0) - 180.0;
        Self { lat_deg: end.y().clamp(-90.0, 90.0), lon_deg }
    }

    /// Length of the geodesic to `other`.
    #[must_use]
    pub fn distance_to(self, other: Self) -> Metres {
        Metres(Geodesic.distance(self.point(), other.point()))
    }

    /// Distance and the bearing on which the geodesic to `other` leaves. The bearing is north where they coincide.
    #[must_use]
    pub fn distance_and_bearing_to(self, other: Self) -> (Metres, TrueBearing) {
        use geo::Bearing as _;
        let distance = self.distance_to(other);
        if distance.0 == 0.0 {
            return (distance, TrueBearing::new(0.0));
        }
        (distance, TrueBearing::new(Geodesic.bearing(self.point(), other.point())))
    }

    /// The point halfway along the geodesic to `other`.
    #[must_use]
    pub fn midway(self, other: Self) -> Self {
        let mid = Geodesic.point_at_ratio_between(self.point(), other.point(), 0.5);
        Self { lat_deg: mid.y(), lon_deg: mid.x() }
    }

    fn point(self) -> Point {
        Point::new(self.lon_deg, self.lat_deg)
    }
}

/// Latitude and longitude as they are written on a chart and read into a radio: `54°12.034′N  010°24.123′E`, degrees and
/// minutes to the thousandth (1.9 m of latitude).
impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}  {}", self.latitude(), self.longitude())
    }
}

/// Degrees and minutes with as many digits of degrees. In whole thousandths of a minute, so that 59.9999 does not read
/// 60.000.
fn degrees_minutes(degrees: f64, digits: usize, [positive, negative]: [char; 2]) -> String {
    let thousandths = (degrees.abs() * 60_000.0).round() as u64;
    let (whole, rest) = (thousandths / 60_000, thousandths % 60_000);
    let letter = if degrees < 0.0 { negative } else { positive };
    format!("{whole:0digits$}°{:02}.{:03}′{letter}", rest / 1000, rest % 1000)
}

impl TryFrom<LatLon> for Position {
    type Error = NoSuchPosition;
    fn try_from(raw: LatLon) -> Result<Self, Self::Error> {
        Self::new(raw.lat, raw.lon)
    }
}

impl From<Position> for LatLon {
    fn from(position: Position) -> Self {
        Self { lat: position.lat_deg, lon: position.lon_deg }
    }
}

/// A point, or a displacement, on a local plane: metres east and north.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Local {
    /// Metres east of the origin.
    pub east_m: f64,
    /// Metres north of the origin.
    pub north_m: f64,
}

impl Local {
    /// A point by its coordinates in metres.
    #[must_use]
    pub const fn new(east_m: f64, north_m: f64) -> Self {
        Self { east_m, north_m }
    }

    /// The point `distance_m` from the origin on `bearing`.
    #[must_use]
    pub fn polar(bearing: TrueBearing, distance_m: f64) -> Self {
        let (sin, cos) = bearing.radians().sin_cos();
        Self { east_m: distance_m * sin, north_m: distance_m * cos }
    }

    /// Length in metres.
    #[must_use]
    pub fn length_m(self) -> f64 {
        self.east_m.hypot(self.north_m)
    }

    /// Direction from the origin; north where the length is zero.
    #[must_use]
    pub fn bearing(self) -> TrueBearing {
        TrueBearing::new(self.east_m.atan2(self.north_m).to_degrees())
    }

    /// Column and row of the square in which it lies, of squares with sides of `side_m` metres.
    #[must_use]
    pub fn square(self, side_m: f64) -> (i32, i32) {
        ((self.east_m / side_m).floor() as i32, (self.north_m / side_m).floor() as i32)
    }

    /// Scaled by `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self { east_m: self.east_m * factor, north_m: self.north_m * factor }
    }

    /// Dot product, square metres.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.east_m * other.east_m + self.north_m * other.north_m
    }
}

impl std::ops::Add for Local {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { east_m: self.east_m + other.east_m, north_m: self.north_m + other.north_m }
    }
}

impl std::ops::Sub for Local {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { east_m: self.east_m - other.east_m, north_m: self.north_m - other.north_m }
    }
}

/// The flat plane that touches the earth at an origin: azimuthal equidistant.
///
/// Distance and bearing *from the origin* are exact geodesics; between two other points within 2 km of it the
/// plane is right to a few millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    origin: Position,
}

impl Plane {
    /// The plane that touches at `origin`.
    #[must_use]
    pub fn new(origin: Position) -> Self {
        Self { origin }
    }

    /// Where the plane touches.
    #[must_use]
    pub fn origin(&self) -> Position {
        self.origin
    }

    /// A position's coordinates on the plane.
    #[must_use]
    pub fn to_local(&self, position: Position) -> Local {
        let (distance, bearing) = self.origin.distance_and_bearing_to(position);
        Local::polar(bearing, distance.0)
    }

    /// The position at coordinates on the plane.
    #[must_use]
    pub fn to_position(&self, local: Local) -> Position {
        self.origin.destination(local.bearing(), Metres(local.length_m()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_is_written_in_degrees_and_minutes_that_never_read_sixty() {
        let written = |lat, lon| Position::new(lat, lon).unwrap().to_string();
        assert_eq!(written(54.2005667, 10.40205), "54°12.034′N  010°24.123′E");
        assert_eq!(written(-0.5, -179.999_999_9), "00°30.000′S  180°00.000′W");
        assert_eq!(written(49.999_999_9, 0.0), "50°00.000′N  000°00.000′E");
    }
}
