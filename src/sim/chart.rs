//! Positions of points near the anchorage, with the same bits on every machine.

use super::exact::{sin, sincos};
use crate::watch::geo::{Local, Position};

/// Equatorial radius of WGS84, m.
const RADIUS: f64 = 6_378_137.0;
/// First eccentricity squared of WGS84.
const ECCENTRICITY2: f64 = 0.006_694_379_990_141_316;

/// The plane about the anchorage as latitudes and longitudes: the ellipsoid's radii of curvature and the terms of
/// second order. Within 1 km and 70° of latitude it is right to a centimetre, the last printed figure of most receivers.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chart {
    lat_deg: f64,
    lon_deg: f64,
    meridian: f64,
    parallel: f64,
    tan: f64,
    normal: f64,
}

impl Chart {
    pub(super) fn new(origin: Position) -> Self {
        let (sin_lat, cos_lat) = sincos(origin.lat_deg().to_radians());
        let w2 = 1.0 - ECCENTRICITY2 * sin(origin.lat_deg().to_radians()) * sin_lat;
        let normal = RADIUS / w2.sqrt();
        Self {
            lat_deg: origin.lat_deg(),
            lon_deg: origin.lon_deg(),
            meridian: normal * (1.0 - ECCENTRICITY2) / w2,
            parallel: normal * cos_lat,
            tan: sin_lat / cos_lat,
            normal,
        }
    }

    /// Latitude and longitude in degrees.
    pub(super) fn degrees(&self, at: Local) -> (f64, f64) {
        let (e, n) = (at.east_m, at.north_m);
        let north = n / self.meridian - e * e * self.tan / (2.0 * self.meridian * self.normal);
        let east = e / self.parallel * (1.0 + n * self.tan / self.meridian);
        (self.lat_deg + north.to_degrees(), self.lon_deg + east.to_degrees())
    }

    /// The same as a position.
    pub(super) fn position(&self, at: Local) -> Position {
        let (lat_deg, lon_deg) = self.degrees(at);
        Position::new(lat_deg.clamp(-90.0, 90.0), super::exact::fmod(lon_deg + 540.0, 360.0) - 180.0)
            .expect("latitude is clamped and longitude wrapped")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::geo::Plane;

    #[test]
    fn the_chart_agrees_with_the_geodesic_to_a_centimetre() {
        for (lat, lon) in [(50.3, -4.7), (-34.0, 151.0), (0.0, 179.9999), (69.0, 18.0)] {
            let origin = Position::new(lat, lon).unwrap();
            let (chart, plane) = (Chart::new(origin), Plane::new(origin));
            for at in [Local::new(300.0, 400.0), Local::new(-700.0, 600.0), Local::new(5.0, -3.0)] {
                let apart = chart.position(at).distance_to(plane.to_position(at)).0;
                assert!(apart < 0.01, "{lat} {at:?}: {apart}");
            }
        }
    }
}
