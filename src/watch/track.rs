//! The drift track: where the bow has been, in bounded memory for weeks.

use std::sync::Arc;

use super::geo::Plane;
use super::snapshot::TrackPoint;
use super::units::{Span, WatchTime};

/// The recent part that is never thinned.
const RECENT: Span = Span::from_mins(60);

/// Points of older track that are kept at most: one a second for an hour, then as many again.
const OLD_POINTS_MAX: usize = 3600;

/// The track, oldest point first.
#[derive(Clone, Debug, Default)]
pub struct Track {
    points: Arc<Vec<TrackPoint>>,
}

impl Track {
    /// Adds a point; it must not be older than the last.
    pub fn push(&mut self, point: TrackPoint) {
        let points = Arc::make_mut(&mut self.points);
        points.push(point);
        if points.len() > 2 * OLD_POINTS_MAX + 3600 {
            thin(points, point.at - RECENT);
        }
    }

    /// The points, oldest first; shared, not copied.
    #[must_use]
    pub fn points(&self) -> Arc<Vec<TrackPoint>> {
        Arc::clone(&self.points)
    }

    /// The point nearest to `at` in time, if one lies within a minute of it.
    #[must_use]
    pub fn near(&self, at: WatchTime) -> Option<TrackPoint> {
        let after = self.points.partition_point(|p| p.at < at);
        let candidates = &self.points[after.saturating_sub(1)..(after + 1).min(self.points.len())];
        candidates
            .iter()
            .min_by_key(|p| p.at.since(at).0.abs())
            .filter(|p| p.at.since(at).0.abs() <= 60_000)
            .copied()
    }

    /// Redraws the track on another plane.
    pub fn rebase(&mut self, from: &Plane, to: &Plane) {
        for point in Arc::make_mut(&mut self.points) {
            point.point = to.to_local(from.to_position(point.point));
        }
    }
}

/// Drops every second point older than `recent_from`: the oldest parts, thinned most often, grow sparsest.
fn thin(points: &mut Vec<TrackPoint>, recent_from: WatchTime) {
    let old = points.partition_point(|p| p.at < recent_from);
    let mut index = 0;
    points.retain(|_| {
        index += 1;
        index > old || index % 2 == 1
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::geo::{Local, Position};

    fn track_of(seconds: i64) -> Track {
        let mut track = Track::default();
        for s in 0..seconds {
            track.push(TrackPoint { at: WatchTime(s * 1000), point: Local::new(s as f64, 0.0) });
        }
        track
    }

    #[test]
    fn weeks_stay_bounded_and_the_last_hour_whole() {
        let weeks = 21 * 86_400;
        let points = track_of(weeks).points();
        assert!(points.len() <= 2 * OLD_POINTS_MAX + 3600);
        let hour = points.iter().filter(|p| p.at.0 >= (weeks - 3600) * 1000).count();
        assert_eq!(hour, 3600);
        assert_eq!(points[0].at, WatchTime(0), "the beginning stays");
        assert!(points.windows(2).all(|pair| pair[0].at < pair[1].at));
    }

    #[test]
    fn the_place_at_an_earlier_time_is_found() {
        let track = track_of(100);
        assert_eq!(track.near(WatchTime(41_400)).unwrap().at, WatchTime(41_000));
        assert_eq!(track.near(WatchTime(500_000)), None);
        assert_eq!(Track::default().near(WatchTime(0)), None);
    }

    #[test]
    fn rebasing_keeps_places_on_the_earth() {
        let here = Plane::new(Position::new(50.0, -5.0).unwrap());
        let there = Plane::new(here.to_position(Local::new(100.0, -40.0)));
        let mut track = track_of(3);
        track.rebase(&here, &there);
        let moved = track.points()[2].point;
        assert!((moved.east_m + 98.0).abs() < 0.01 && (moved.north_m - 40.0).abs() < 0.01, "{moved:?}");
    }
}
