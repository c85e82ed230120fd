//! Was she under way? A hull that nobody drives does not go where she points, nor as fast as a yacht sails.

use crate::watch::geo::Position;
use crate::watch::snapshot::{FixQuality, Reading, Snapshot};
use crate::watch::units::{Knots, Span, TrueBearing, WatchTime};

/// Looks nearer to each other say more about the receiver than about her.
const LEAST: Span = Span::from_secs(30);
/// What she did between looks farther apart is not known.
const MOST: Span = Span::from_mins(10);
/// Faster than this where she points, she makes way: a dragging hull falls back or lies beam-on. Our choice.
const HEADWAY: Knots = Knots(2.0);
/// She points where she goes within so many degrees: leeway and a stream. Our choice.
const AHEAD_DEG: f64 = 60.0;
/// Faster than this, wherever she points: under bare poles a hull drives at about a twentieth of the wind's speed, so this
/// is 60 kn of wind. Common practice, no source.
const FAST: Knots = Knots(3.0);
/// She must have been seen for this long. Our choice.
const SEEN_LEAST: Span = Span::from_mins(10);

/// How long she made way, of how long she was seen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Way {
    last: Option<(WatchTime, Position)>,
    made: Span,
    seen: Span,
}

impl Way {
    /// Takes a look at the watch.
    pub(super) fn look(&mut self, now: &Snapshot) {
        let Some(position) = now.fix.position.filter(|_| now.fix.quality == FixQuality::Good) else { return };
        let Some((then, from)) = self.last else {
            self.last = Some((now.at, position));
            return;
        };
        let took = now.at.since(then);
        if took < LEAST {
            return;
        }
        self.last = Some((now.at, position));
        if took <= MOST {
            self.seen = self.seen + took;
            let (distance, course) = from.distance_and_bearing_to(position);
            let speed = Knots(distance.0 / took.seconds() * 3600.0 / 1852.0);
            let heading = match now.heading {
                Reading::Now { value, .. } => Some(value.bearing),
                Reading::Never | Reading::Lost { .. } => None,
            };
            if makes_way(speed, course, heading) {
                self.made = self.made + took;
            }
        }
    }

    /// How long she made way.
    pub(super) fn made(&self) -> Span {
        self.made
    }

    /// She made way for most of the time.
    pub(super) fn is_under_way(&self) -> bool {
        self.seen >= SEEN_LEAST && self.made.0 * 2 > self.seen.0
    }
}

fn makes_way(speed: Knots, course: TrueBearing, heading: Option<TrueBearing>) -> bool {
    let ahead = heading.is_some_and(|heading| {
        let off = (course.degrees() - heading.degrees() + 180.0).rem_euclid(360.0) - 180.0;
        off.abs() <= AHEAD_DEG
    });
    speed >= FAST || (speed >= HEADWAY && ahead)
}
