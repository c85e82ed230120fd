//! The night as it passed, for pictures and exports: samples about a minute apart, and the track.
//!
//! Memory does not grow with the night: when a sequence is full, neighbours are put together two by two and from then
//! on twice as many go into one. What was greatest in them stays.

use crate::watch::geo::{Plane, Position};
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};

/// Samples that are kept.
const SAMPLES_MAX: usize = 2048;
/// Points of the track that are kept.
const TRACK_MAX: usize = 8192;
/// Points of the track are at least so far apart in time.
const TRACK_EVERY: Span = Span::from_secs(5);

/// Where the anchor was thought to lie: an ellipse of one standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnchorThought {
    /// Its centre.
    pub centre: Position,
    /// Half the longer axis.
    pub major: Metres,
    /// Half the shorter axis.
    pub minor: Metres,
    /// Direction of the longer axis.
    pub axis: TrueBearing,
}

/// How things stood in about a minute. `None` where there was nothing to know.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sample {
    /// Its end.
    pub at: WatchTime,
    /// An anchor was down.
    pub anchored: bool,
    /// The bow, else the antenna.
    pub bow: Option<Position>,
    /// Greatest distance from the drop point.
    pub distance: Option<Metres>,
    /// Reach of the rode.
    pub reach: Option<Metres>,
    /// The circle that raises `outside`.
    pub circle: Option<Metres>,
    /// Mean wind of ten minutes.
    pub wind: Option<Knots>,
    /// Greatest gust.
    pub gust: Option<Knots>,
    /// Mean direction of the wind.
    pub direction: Option<TrueBearing>,
    /// Heading.
    pub heading: Option<TrueBearing>,
    /// Depth by the sounder, from the surface.
    pub sounded: Option<Metres>,
    /// Depth at the drop point by the tide.
    pub predicted: Option<Metres>,
    /// Least water under the keel.
    pub under_keel: Option<Metres>,
    /// Greatest load calculated from wind and stream.
    pub load: Option<Newtons>,
    /// Greatest evidence that the anchor moved, percent.
    pub evidence: Option<f64>,
    /// Where the anchor was thought to lie.
    pub anchor: Option<AnchorThought>,
}

impl Sample {
    fn of(now: &Snapshot, origin: Option<Position>) -> Self {
        let plane = origin.map(Plane::new);
        let place = |local| plane.as_ref().map(|plane| plane.to_position(local));
        let anchored = matches!(now.stage, Stage::Setting | Stage::BroughtUp);
        let minute = now.minutes.last().filter(|minute| now.at.since(minute.at) <= Span::from_mins(1));
        let off = now.anchor_off.map(|(distance, _)| distance);
        Self {
            at: now.at,
            anchored,
            bow: now.bow.or(now.antenna).and_then(place),
            distance: greater(off, minute.and_then(|minute| minute.distance)).filter(|_| anchored),
            reach: now.reach,
            circle: now.circle.set.filter(|_| anchored),
            wind: now.wind.mean,
            gust: greater(now.wind.gust, minute.and_then(|minute| minute.gust)),
            direction: now.wind.mean_direction,
            heading: now.heading.now().map(|heading| heading.bearing),
            sounded: now.depth.sounded.now(),
            predicted: now.depth.predicted,
            under_keel: now.depth.under_keel,
            load: now.rode.load,
            evidence: now.holding.evidence_percent,
            anchor: now.holding.belief.and_then(|belief| {
                Some(AnchorThought {
                    centre: place(belief.centre)?,
                    major: belief.major,
                    minor: belief.minor,
                    axis: belief.axis,
                })
            }),
        }
    }

    /// This and the sample after it, as one.
    fn and(self, later: Self) -> Self {
        Self {
            distance: greater(self.distance, later.distance),
            gust: greater(self.gust, later.gust),
            under_keel: match (self.under_keel, later.under_keel) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            },
            load: greater(self.load, later.load),
            evidence: greater(self.evidence, later.evidence),
            ..later
        }
    }
}

fn greater<T: PartialOrd>(a: Option<T>, b: Option<T>) -> Option<T> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if a >= b { a } else { b }),
        (a, b) => a.or(b),
    }
}

/// A sequence of bounded length.
#[derive(Clone, Debug, PartialEq)]
struct Bounded<T> {
    kept: Vec<T>,
    /// What does not fill a place yet, and how many are in it.
    pending: Option<(T, usize)>,
    /// So many go into one place.
    per_place: usize,
    most: usize,
}

impl<T: Copy> Bounded<T> {
    fn new(most: usize) -> Self {
        Self { kept: Vec::new(), pending: None, per_place: 1, most }
    }

    fn push(&mut self, item: T, join: impl Fn(T, T) -> T) {
        let (item, count) = match self.pending.take() {
            Some((earlier, count)) => (join(earlier, item), count + 1),
            None => (item, 1),
        };
        if count < self.per_place {
            self.pending = Some((item, count));
            return;
        }
        self.kept.push(item);
        if self.kept.len() >= self.most {
            self.kept =
                self.kept.chunks(2).map(|two| two.iter().copied().reduce(&join).unwrap_or(two[0])).collect();
            self.per_place *= 2;
        }
    }

    fn finish(mut self) -> Vec<T> {
        self.kept.extend(self.pending.map(|(item, _)| item));
        self.kept
    }
}

/// Gathers samples and track.
#[derive(Debug)]
pub(super) struct Gathering {
    samples: Bounded<Sample>,
    track: Bounded<(WatchTime, Position)>,
    last_point: WatchTime,
}

impl Default for Gathering {
    fn default() -> Self {
        Self {
            samples: Bounded::new(SAMPLES_MAX),
            track: Bounded::new(TRACK_MAX),
            last_point: WatchTime(i64::MIN),
        }
    }
}

impl Gathering {
    /// Takes a look. `origin` is that of the snapshot's plane.
    pub(super) fn look(&mut self, now: &Snapshot, origin: Option<Position>) {
        self.samples.push(Sample::of(now, origin), Sample::and);
        let Some(plane) = origin.map(Plane::new) else { return };
        let new = now.track.partition_point(|point| point.at <= self.last_point);
        for point in &now.track[new..] {
            if self.last_point == WatchTime(i64::MIN) || point.at.since(self.last_point) >= TRACK_EVERY {
                self.last_point = point.at;
                self.track.push((point.at, plane.to_position(point.point)), |_, later| later);
            }
        }
    }

    pub(super) fn finish(self) -> (Vec<Sample>, Vec<(WatchTime, Position)>) {
        (self.samples.finish(), self.track.finish())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_of_any_length_fits_and_its_greatest_values_stay() {
        let mut samples = Bounded::new(8);
        for i in 0..1000_i64 {
            let distance = if i == 613 { 99.0 } else { (i % 7) as f64 };
            let sample = Sample { at: WatchTime(i), distance: Some(Metres(distance)), ..Sample::default() };
            samples.push(sample, Sample::and);
        }
        let kept = samples.finish();
        assert!(kept.len() <= 9, "{}", kept.len());
        assert_eq!(kept.last().map(|s| s.at), Some(WatchTime(999)));
        assert!(kept.windows(2).all(|pair| pair[0].at < pair[1].at));
        let most = kept.iter().filter_map(|s| s.distance).fold(0.0, |most, d| d.0.max(most));
        assert_eq!(most, 99.0);
    }
}
