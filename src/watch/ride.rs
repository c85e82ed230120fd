//! One stay at anchor: where the anchor went down, how much rode is out, and where the boat lies about it.

use super::boat::Boat;
use super::geo::{Local, Plane, Position};
use super::input::DropMove;
use super::receiver::BelievedFix;
use super::rode;
use super::snapshot::{DropPoint, End, MarkedHow, Stage, TrackPoint};
use super::track::Track;
use super::tuning::FIX_AGE;
use super::tuning::fixgate::{COARSE_SIGMAS, HDOP_COARSE};
use super::tuning::receiver::ERROR_PER_HDOP_M;
use super::tuning::ride::{BLIND_MPS, MARK_WITHIN, SEEN_MPS};
use super::units::{Metres, TrueBearing, WatchTime};

/// From the antenna's position to the bow's.
///
/// The bow lies `antenna_aft` ahead of the antenna along the heading, and `antenna_starboard` to port of it.
#[must_use]
pub fn bow_of(antenna: Local, heading: TrueBearing, boat: &Boat) -> Local {
    antenna + Local::polar(heading, boat.antenna_aft.0)
        - Local::polar(heading.turned(90.0), boat.antenna_starboard.0)
}

/// Where the boat lies, on the plane about the drop point (before one is marked: about the first position).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lie {
    /// When.
    pub at: WatchTime,
    /// The antenna.
    pub antenna: Local,
    /// The bow, where the heading is known.
    pub bow: Option<Local>,
    /// Her stern, where the heading is known.
    pub stern: Option<Local>,
    /// So far she may extend beyond the antenna where it is not.
    pub beyond: Metres,
    /// Farthest that any part of the boat lies from the origin.
    pub farthest: Metres,
    /// The end that lies there.
    pub end: End,
}

impl Lie {
    /// Calculates the boat's outline from antenna and heading. Without heading her stern is taken to lie beyond the
    /// antenna, as it does when she lies to her anchor.
    #[must_use]
    pub fn new(at: WatchTime, antenna: Local, heading: Option<TrueBearing>, boat: &Boat) -> Self {
        let bow = heading.map(|h| bow_of(antenna, h, boat));
        let stern = bow.zip(heading).map(|(bow, heading)| bow - Local::polar(heading, boat.loa.0));
        let beyond = (boat.loa - boat.antenna_aft).max(Metres(0.0));
        let lie = Self { at, antenna, bow, stern, beyond, farthest: Metres(0.0), end: End::Stern };
        let (farthest, end) = lie.farthest_from(Local::default());
        Self { farthest, end, ..lie }
    }

    /// Farthest that any part of the boat lies from a point, and which end lies there.
    #[must_use]
    pub fn farthest_from(&self, point: Local) -> (Metres, End) {
        let stern_m = match self.stern {
            Some(stern) => (stern - point).length_m(),
            None => (self.antenna - point).length_m() + self.beyond.0,
        };
        let bow_m = self.bow.map_or(0.0, |bow| (bow - point).length_m());
        if bow_m > stern_m { (Metres(bow_m), End::Bow) } else { (Metres(stern_m), End::Stern) }
    }

    /// The bow where it is known, else the antenna.
    #[must_use]
    pub fn point(&self) -> Local {
        self.bow.unwrap_or(self.antenna)
    }

    /// Distance and bearing from the bow (else the antenna) to the anchor.
    #[must_use]
    pub fn to_anchor(self) -> (Metres, TrueBearing) {
        let point = self.point();
        (Metres(point.length_m()), point.scaled(-1.0).bearing())
    }
}

/// Where she lies by a position that is good enough for the circle alone.
#[derive(Clone, Copy, Debug)]
pub struct Coarse {
    /// Her outline as if it were right.
    pub lie: Lie,
    /// It may be so far off.
    pub off: Metres,
}

/// The stay, from letting go to weighing.
#[derive(Clone, Debug, Default)]
pub struct Ride {
    /// How far the crew has come.
    pub stage: Stage,
    /// Since when.
    pub stage_since: WatchTime,
    /// The crew's name of the place.
    pub place: String,
    /// Rode out.
    pub veered: Option<Metres>,
    /// When rode was last veered or shortened.
    pub veered_at: WatchTime,
    /// The crew says that nobody marked the anchor she lies to.
    pub lies_unmarked: bool,
    drop: Option<DropPoint>,
    awaited: Option<Awaited>,
    plane: Option<Plane>,
    lie: Option<Lie>,
    coarse: Option<Coarse>,
    farthest: Option<(Metres, TrackPoint)>,
    track: Track,
}

/// An anchor that went down while no position had settled: how she has moved since.
#[derive(Clone, Copy, Debug)]
struct Awaited {
    let_go: WatchTime,
    depth: Option<Metres>,
    /// Her way over the ground since, as far as the receiver reported a speed.
    way: Local,
    /// For so many seconds it reported none.
    blind_s: f64,
    /// And for so many it did.
    seen_s: f64,
}

impl Awaited {
    /// One second goes by; `fix` may be in doubt, its speed is good all the same.
    fn second(&mut self, velocity: Option<Local>) {
        match velocity {
            Some(velocity) => {
                self.way = self.way + velocity;
                self.seen_s += 1.0;
            }
            None => self.blind_s += 1.0,
        }
    }

    /// How far off the place that is calculated back may be.
    fn doubt(&self) -> Metres {
        Metres((BLIND_MPS * self.blind_s).hypot(SEEN_MPS * self.seen_s))
    }
}

/// What came of waiting for a position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Waiting {
    /// There is nothing to wait for, or it goes on.
    Nothing,
    /// The drop point is marked now.
    Marked,
    /// It has lasted too long.
    Over,
}

/// A drop point that cannot be moved there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MoveError {
    /// No position to measure from.
    #[error(
        "There is no trusted position to measure from. Wait for one, or give the anchor's latitude and longitude."
    )]
    NoPosition,
    /// The track does not reach back that far.
    #[error(
        "The track does not know where the bow was then. Give a time since the watch began, or a bearing and distance."
    )]
    NotOnTrack,
    /// Too far off to be this anchor.
    #[error("That place is more than 2000 m from the boat. Check latitude and longitude.")]
    TooFar,
}

impl Ride {
    /// The drop point.
    #[must_use]
    pub fn drop_point(&self) -> Option<&DropPoint> {
        self.drop.as_ref()
    }

    /// The plane that everything here is drawn on: about the drop point, else about the first position.
    #[must_use]
    pub fn plane(&self) -> Option<&Plane> {
        self.plane.as_ref()
    }

    /// Where the boat lies by the last trusted fix.
    #[must_use]
    pub fn lie(&self) -> Option<&Lie> {
        self.lie.as_ref()
    }

    /// Forgets where the boat lies: there is no trusted position any more.
    pub fn lose_sight(&mut self) {
        self.lie = None;
    }

    /// Where she lies by the last position, where that is too poor to be trusted and yet good enough for the circle.
    #[must_use]
    pub fn coarse(&self) -> Option<&Coarse> {
        self.coarse.as_ref()
    }

    /// Takes a position that is good enough for the circle alone.
    pub fn fix_coarsely(&mut self, fix: &BelievedFix, heading: Option<TrueBearing>, boat: &Boat) {
        let Some(plane) = &self.plane else { return };
        let lie = Lie::new(fix.at, plane.to_local(fix.position), heading, boat);
        let sigma = Metres(fix.hdop.unwrap_or(HDOP_COARSE) * ERROR_PER_HDOP_M).max(fix.sigma);
        self.coarse = Some(Coarse { lie, off: sigma * COARSE_SIGMAS });
    }

    /// A coarse position is good for as long as a trusted one.
    pub fn age_coarse(&mut self, now: WatchTime) {
        self.coarse = self.coarse.filter(|coarse| now.since(coarse.lie.at) <= FIX_AGE);
    }

    /// The greatest distance from the anchor since it was marked, and where.
    #[must_use]
    pub fn farthest(&self) -> Option<(Metres, TrackPoint)> {
        self.farthest
    }

    /// Where the bow has been.
    #[must_use]
    pub fn track(&self) -> &Track {
        &self.track
    }

    /// True while an anchor is down.
    #[must_use]
    pub fn anchored(&self) -> bool {
        self.stage != Stage::NotSet
    }

    /// Enters a stage.
    pub fn enter(&mut self, at: WatchTime, stage: Stage) {
        self.stage = stage;
        self.stage_since = at;
    }

    /// Takes a trusted fix: the boat's lie, the track, the greatest distance.
    pub fn fix(&mut self, fix: &BelievedFix, heading: Option<TrueBearing>, boat: &Boat) {
        let plane = *self.plane.get_or_insert_with(|| Plane::new(fix.position));
        let lie = Lie::new(fix.at, plane.to_local(fix.position), heading, boat);
        self.lie = Some(lie);
        self.coarse = None;
        let point = TrackPoint { at: fix.at, point: lie.point() };
        self.track.push(point);
        if self.drop.is_some() {
            let distance = Metres(point.point.length_m());
            if self.farthest.is_none_or(|(farthest, _)| distance > farthest) {
                self.farthest = Some((distance, point));
            }
        }
    }

    /// Lets go: marks the bow's place, or the antenna's where the heading is missing. Without a settled position the ride
    /// begins all the same, and the place is marked by [`Ride::await_mark`].
    pub fn let_go(&mut self, at: WatchTime, place: String, veered: Option<Metres>, depth: Option<Metres>) {
        self.lie_unmarked(at, place, veered);
        self.enter(at, Stage::Setting);
        match (self.plane, self.lie) {
            (Some(plane), Some(lie)) => {
                let position = plane.to_position(lie.point());
                let how = marked_how(&lie);
                self.mark(DropPoint { position, let_go: at, how, depth, fixed: at, doubt: Metres(0.0) });
            }
            _ => {
                let way = Local::default();
                self.awaited = Some(Awaited { let_go: at, depth, way, blind_s: 0.0, seen_s: 0.0 });
            }
        }
    }

    /// When the anchor was let go that is still to be marked.
    #[must_use]
    pub fn mark_awaited(&self) -> Option<WatchTime> {
        self.awaited.map(|awaited| awaited.let_go)
    }

    /// One second without a mark: marks the place that she has left meanwhile as soon as she is seen. `heard` is the
    /// receiver's fix, trusted or not, whose speed shows how far she has come since.
    pub fn await_mark(&mut self, now: WatchTime, heard: Option<&BelievedFix>) -> Waiting {
        let Some(mut awaited) = self.awaited.filter(|_| self.anchored()) else {
            self.awaited = None;
            return Waiting::Nothing;
        };
        awaited.second(heard.and_then(velocity));
        let seen = self.plane.zip(self.lie).filter(|(_, lie)| lie.at > awaited.let_go);
        self.awaited = Some(awaited).filter(|_| seen.is_none());
        match seen {
            Some((plane, lie)) => {
                self.mark(DropPoint {
                    position: plane.to_position(lie.point() - awaited.way),
                    let_go: awaited.let_go,
                    how: marked_how(&lie),
                    depth: awaited.depth,
                    fixed: now,
                    doubt: awaited.doubt(),
                });
                Waiting::Marked
            }
            None if now.since(awaited.let_go) > MARK_WITHIN => {
                self.awaited = None;
                Waiting::Over
            }
            None => Waiting::Nothing,
        }
    }

    /// The depth where the anchor was let go, entered afterwards. Gives when that was.
    pub fn enter_depth(&mut self, depth: Metres) -> Option<WatchTime> {
        if let Some(awaited) = &mut self.awaited {
            awaited.depth = Some(depth);
            return Some(awaited.let_go);
        }
        let drop = self.drop.as_mut()?;
        drop.depth = Some(depth);
        Some(drop.let_go)
    }

    /// She lies at an anchor that nobody marked.
    pub fn lie_unmarked(&mut self, at: WatchTime, place: String, veered: Option<Metres>) {
        self.place = place;
        self.veered = veered;
        self.veered_at = at;
        self.enter(at, Stage::BroughtUp);
        self.lies_unmarked = false;
        self.drop = None;
        self.awaited = None;
        self.farthest = None;
    }

    /// The crew's correction of the drop point.
    ///
    /// # Errors
    /// `MoveError` when it cannot be calculated, or lies too far off.
    pub fn move_drop(&mut self, at: WatchTime, to: &DropMove) -> Result<(), MoveError> {
        let (position, how) = match *to {
            DropMove::Position { position } => (position, MarkedHow::Hand),
            DropMove::FromBow { bearing, distance } => {
                let (plane, lie) = self.plane.zip(self.lie).ok_or(MoveError::NoPosition)?;
                (
                    plane.to_position(lie.point() + Local::polar(bearing, distance.0)),
                    MarkedHow::BearingDistance,
                )
            }
            DropMove::BowAt { at } => {
                let plane = self.plane.ok_or(MoveError::NoPosition)?;
                let then = self.track.near(at).ok_or(MoveError::NotOnTrack)?;
                (plane.to_position(then.point), MarkedHow::Earlier)
            }
        };
        if self.too_far(position) {
            return Err(MoveError::TooFar);
        }
        let (let_go, depth) = match (self.drop, self.awaited) {
            (Some(drop), _) => (drop.let_go, drop.depth),
            (None, Some(awaited)) => (awaited.let_go, awaited.depth),
            (None, None) => (at, None),
        };
        let let_go = if let DropMove::BowAt { at } = to { *at } else { let_go };
        self.awaited = None;
        self.mark(DropPoint { position, let_go, how, depth, fixed: at, doubt: Metres(0.0) });
        Ok(())
    }

    /// She lies to her anchor where she is now, and the anchor is taken to lie there.
    pub fn lies_to(&mut self, at: WatchTime, position: Position) {
        let depth = self.drop.and_then(|drop| drop.depth);
        let doubt = Metres(0.0);
        self.mark(DropPoint { position, let_go: at, how: MarkedHow::Guessed, depth, fixed: at, doubt });
    }

    /// The plane is good for 2 km, and no rode is longer.
    fn too_far(&self, position: Position) -> bool {
        self.plane
            .zip(self.lie)
            .is_some_and(|(plane, lie)| plane.to_position(lie.point()).distance_to(position) > Metres(2000.0))
    }

    fn mark(&mut self, drop: DropPoint) {
        let plane = Plane::new(drop.position);
        if let Some(old) = self.plane.replace(plane) {
            self.track.rebase(&old, &plane);
            let moved = |point: Local| plane.to_local(old.to_position(point));
            self.lie = self.lie.map(|lie| Lie {
                antenna: moved(lie.antenna),
                bow: lie.bow.map(moved),
                stern: lie.stern.map(moved),
                // Calculated anew with the next fix.
                farthest: lie.farthest,
                ..lie
            });
        }
        self.coarse = None;
        self.drop = Some(drop);
        self.farthest = self.farthest_on_track(drop.let_go);
    }

    fn farthest_on_track(&self, since: WatchTime) -> Option<(Metres, TrackPoint)> {
        let points = self.track.points();
        let distances = points.iter().filter(|p| p.at >= since).map(|p| (Metres(p.point.length_m()), *p));
        distances.max_by(|a, b| a.0.0.total_cmp(&b.0.0))
    }

    /// Reach of the rode with the bow roller `height` above the bottom; `None` with no rode out.
    #[must_use]
    pub fn reach(&self, height: Metres) -> Option<Metres> {
        rode::reach_limit(self.veered?, height).ok()
    }
}

/// A mark is the bow's place, or the antenna's where the heading is missing.
fn marked_how(lie: &Lie) -> MarkedHow {
    if lie.bow.is_some() { MarkedHow::Bow } else { MarkedHow::Antenna }
}

/// Her way over the ground in a second; `None` where the receiver reports no speed, or no course with it.
fn velocity(fix: &BelievedFix) -> Option<Local> {
    let sog = fix.sog?;
    if sog.0 == 0.0 { Some(Local::default()) } else { Some(Local::polar(fix.cog?, sog.mps())) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boat() -> Boat {
        Boat {
            loa: Metres(10.0),
            antenna_aft: Metres(8.0),
            antenna_starboard: Metres(1.0),
            ..Boat::default()
        }
    }

    #[test]
    fn the_bow_lies_ahead_of_the_antenna_and_to_port_of_it() {
        let bow = bow_of(Local::default(), TrueBearing::new(90.0), &boat());
        assert!((bow.east_m - 8.0).abs() < 1e-9 && (bow.north_m - 1.0).abs() < 1e-9, "{bow:?}");
    }

    #[test]
    fn her_stern_is_what_lies_farthest_from_the_anchor() {
        // Anchor at the origin, bow 30 m south of it heading north: the stern is 40 m off.
        let lie = Lie::new(WatchTime(0), Local::new(1.0, -38.0), Some(TrueBearing::new(0.0)), &boat());
        assert!((lie.farthest.0 - 40.0).abs() < 1e-9, "{lie:?}");
        assert_eq!(lie.to_anchor(), (Metres(30.0), TrueBearing::new(0.0)));
    }

    #[test]
    fn without_heading_the_stern_is_taken_beyond_the_antenna() {
        let lie = Lie::new(WatchTime(0), Local::new(0.0, -38.0), None, &boat());
        assert_eq!(lie.farthest, Metres(40.0));
        assert_eq!(lie.bow, None);
    }
}
