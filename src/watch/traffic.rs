//! Which other vessels come near the swing circle, by what their transponders say?
//!
//! Only vessels with a transponder are seen, and only as well as they report. Most small boats have none.

use std::collections::BTreeMap;

use super::geo::{Local, Plane, Position};
use super::nmea::{AisAssembler, AisReport, NavStatus, Rejected};
use super::tuning::traffic::{AHEAD, CLEAR, COURSE_AGE, EXTENT, FASTEST, GONE_AFTER, MOVING, VESSELS_MAX};
use super::units::{Knots, MPS_PER_KNOT, Metres, Span, TrueBearing, WatchTime};

/// One vessel, as last heard.
#[derive(Clone, Debug)]
struct Vessel {
    name: Option<Box<str>>,
    extent: Option<Metres>,
    status: Option<NavStatus>,
    heard: WatchTime,
    position: Option<Reported>,
}

/// Where she was, and how she moved, at her last report.
#[derive(Clone, Copy, Debug)]
struct Reported {
    at: WatchTime,
    position: Position,
    sog: Option<Knots>,
    cog: Option<TrueBearing>,
    heading: Option<TrueBearing>,
}

/// A vessel near by, for the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct VesselView {
    /// Maritime mobile service identity.
    pub mmsi: u32,
    /// Her name, once she has sent it.
    pub name: Option<Box<str>>,
    /// Where she is: her last report, carried on along her course.
    pub point: Local,
    /// Course over ground while she moves.
    pub cog: Option<TrueBearing>,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Heading.
    pub heading: Option<TrueBearing>,
    /// From her antenna to her farthest end.
    pub extent: Metres,
    /// What she says she is doing.
    pub status: Option<NavStatus>,
    /// Age of her last report.
    pub age: Span,
    /// When she will be as near as she may not come, if that is soon; zero: she is.
    pub closes_in: Option<Span>,
}

impl VesselView {
    /// Her name, or her number while she has sent none.
    #[must_use]
    pub fn called(&self) -> String {
        self.name.as_deref().map_or_else(|| format!("vessel {}", self.mmsi), str::to_owned)
    }
}

/// All vessels heard.
#[derive(Clone, Debug, Default)]
pub struct Traffic {
    assembler: AisAssembler,
    vessels: BTreeMap<u32, Vessel>,
    own: Option<u32>,
}

impl Traffic {
    /// Takes a line that carries AIS.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub fn line(&mut self, at: WatchTime, line: &[u8]) -> Result<(), Rejected> {
        if let Some(report) = self.assembler.push(at, line)? {
            self.hear(at, &report);
        }
        Ok(())
    }

    /// Takes one report.
    pub fn hear(&mut self, at: WatchTime, report: &AisReport) {
        if report.own {
            self.own = Some(report.mmsi);
            self.vessels.remove(&report.mmsi);
        }
        if self.own == Some(report.mmsi) || !tells_of_a_vessel(report.message) {
            return;
        }
        if !self.vessels.contains_key(&report.mmsi) && self.vessels.len() == VESSELS_MAX {
            self.forget_oldest();
        }
        let vessel = self.vessels.entry(report.mmsi).or_insert(Vessel {
            name: None,
            extent: None,
            status: None,
            heard: at,
            position: None,
        });
        vessel.heard = at;
        if let Some(name) = report.name {
            vessel.name = Some(name.as_str().into());
        }
        if let Some(size) = report.size {
            let along = size.to_bow.max(size.to_stern);
            vessel.extent = Some(along.max(size.to_port).max(size.to_starboard));
        }
        if let Some(position) = report.position.filter(|_| report.message != LONG_RANGE) {
            vessel.status = report.status;
            vessel.position = Some(Reported {
                at,
                position,
                sog: report.sog.filter(|sog| *sog < FASTEST),
                cog: report.cog,
                heading: report.heading,
            });
        }
    }

    /// Forgets vessels that are no longer heard.
    pub fn second(&mut self, now: WatchTime) {
        self.vessels.retain(|_, vessel| now.since(vessel.heard) <= GONE_AFTER);
    }

    /// Every vessel whose place is known, on the plane about the anchor, in the order of their numbers.
    /// `circle`: the swing circle, if the anchor is down.
    pub fn views<'a>(
        &'a self,
        now: WatchTime,
        plane: &'a Plane,
        circle: Option<Metres>,
    ) -> impl Iterator<Item = VesselView> + 'a {
        self.vessels.iter().filter_map(move |(mmsi, vessel)| vessel.view(*mmsi, now, plane, circle))
    }

    /// The vessel that comes too near, and the soonest.
    #[must_use]
    pub fn closing(&self, now: WatchTime, plane: &Plane, circle: Metres) -> Option<VesselView> {
        let closes =
            |(mmsi, vessel): (&u32, &Vessel)| Some((vessel.way(now, plane)?.closes_in(circle)?, *mmsi));
        let (_, mmsi) = self.vessels.iter().filter_map(closes).min()?;
        self.vessels.get(&mmsi)?.view(mmsi, now, plane, Some(circle))
    }

    /// The vessel nearest to the origin of the plane.
    #[must_use]
    pub fn nearest(&self, now: WatchTime, plane: &Plane) -> Option<VesselView> {
        let off = |(mmsi, vessel): (&u32, &Vessel)| Some((vessel.way(now, plane)?.point.length_m(), *mmsi));
        let (_, mmsi) = self.vessels.iter().filter_map(off).min_by(|a, b| a.0.total_cmp(&b.0))?;
        self.vessels.get(&mmsi)?.view(mmsi, now, plane, None)
    }

    fn forget_oldest(&mut self) {
        let oldest = self.vessels.iter().min_by_key(|(_, vessel)| vessel.heard).map(|(mmsi, _)| *mmsi);
        if let Some(mmsi) = oldest {
            self.vessels.remove(&mmsi);
        }
    }
}

/// A vessel's place and movement now, carried on from her last report.
#[derive(Clone, Copy, Debug)]
struct Way {
    /// On the plane about the anchor.
    point: Local,
    /// Metres a second; zero while she does not move, or her course is too old.
    way: Local,
    /// Her course, while she moves.
    cog: Option<TrueBearing>,
    extent: Metres,
}

impl Way {
    /// When she will be as near as she may not come to the circle, if that is soon.
    fn closes_in(&self, circle: Metres) -> Option<Span> {
        self.cog?;
        let secs = enters_in(self.point, self.way, (circle + CLEAR + self.extent).0)?;
        (secs <= AHEAD.seconds()).then_some(Span((secs * 1000.0) as i64))
    }
}

impl Vessel {
    fn way(&self, now: WatchTime, plane: &Plane) -> Option<Way> {
        let reported = self.position?;
        let age = now.since(reported.at);
        let moving = reported.sog.filter(|sog| *sog >= MOVING && age <= COURSE_AGE).zip(reported.cog);
        let way = moving.map_or(Local::default(), |(sog, cog)| Local::polar(cog, sog.0 * MPS_PER_KNOT));
        Some(Way {
            point: plane.to_local(reported.position) + way.scaled(age.seconds()),
            way,
            cog: moving.map(|(_, cog)| cog),
            extent: self.extent.unwrap_or(EXTENT),
        })
    }

    fn view(&self, mmsi: u32, now: WatchTime, plane: &Plane, circle: Option<Metres>) -> Option<VesselView> {
        let (reported, way) = (self.position?, self.way(now, plane)?);
        Some(VesselView {
            mmsi,
            name: self.name.clone(),
            point: way.point,
            cog: way.cog,
            sog: reported.sog,
            heading: reported.heading,
            extent: way.extent,
            status: self.status,
            age: now.since(reported.at),
            closes_in: circle.and_then(|circle| way.closes_in(circle)),
        })
    }
}

/// Positions of message 27 come in steps of a tenth of a minute, 185 m.
const LONG_RANGE: u8 = 27;

/// Message types of ITU-R M.1371 that report a vessel, not a shore station, a buoy or an aircraft.
const fn tells_of_a_vessel(message: u8) -> bool {
    matches!(message, 1..=3 | 5 | 18 | 19 | 24 | LONG_RANGE)
}

/// Seconds until a point at `from` (metres) that moves `way` (m/s) lies within `radius` of the origin; zero if it does
/// already, `None` if it never will.
///
/// The smaller root of |from + t·way| = radius: with a = way², b = from·way, c = from² − radius²,
/// t = (−b − √(b² − a·c))/a.
fn enters_in(from: Local, way: Local, radius: f64) -> Option<f64> {
    let c = from.dot(from) - radius * radius;
    if c <= 0.0 {
        return Some(0.0);
    }
    let (a, b) = (way.dot(way), from.dot(way));
    let root = b * b - a * c;
    (b < 0.0 && root >= 0.0).then(|| (-b - root.sqrt()) / a)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::nmea::Size;

    const NOW: WatchTime = WatchTime(1_780_430_520_000);
    const CIRCLE: Metres = Metres(45.0);

    fn plane() -> Plane {
        Plane::new(Position::new(52.0003, -20.0004).expect("a position"))
    }

    fn report(mmsi: u32, east_m: f64, north_m: f64, sog: f64, cog: f64) -> AisReport {
        AisReport {
            mmsi,
            own: false,
            message: 18,
            position: Some(plane().to_position(Local::new(east_m, north_m))),
            sog: Some(Knots(sog)),
            cog: Some(TrueBearing::new(cog)),
            heading: None,
            status: None,
            name: None,
            size: None,
        }
    }

    fn heard(reports: &[AisReport]) -> Traffic {
        let mut traffic = Traffic::default();
        reports.iter().for_each(|report| traffic.hear(NOW, report));
        traffic
    }

    #[test]
    fn a_vessel_that_steers_for_the_circle_is_called_with_her_time() {
        // 1000 m south, northward at 6 kn = 3.0867 m/s, to within 45 + 20 + 15 m: 920 m.
        let traffic = heard(&[report(7, 0.0, -1000.0, 6.0, 0.0)]);
        let closing = traffic.closing(NOW, &plane(), CIRCLE).expect("she closes");
        assert!((closing.closes_in.expect("soon").seconds() - 920.0 / (6.0 * 1852.0 / 3600.0)).abs() < 0.1);
        let later = NOW + Span::from_secs(60);
        let closing = traffic.closing(later, &plane(), CIRCLE).expect("she still does");
        assert!((closing.point.north_m + 1000.0 - 60.0 * 6.0 * 1852.0 / 3600.0).abs() < 0.1, "carried on");
    }

    #[test]
    fn one_that_passes_clear_goes_away_or_is_far_is_not_called() {
        for clear in [
            report(1, 200.0, -1000.0, 6.0, 0.0),
            report(2, 0.0, -200.0, 6.0, 180.0),
            report(3, 0.0, -5000.0, 6.0, 0.0),
            report(4, 0.0, -100.0, 0.3, 0.0),
        ] {
            assert_eq!(heard(std::slice::from_ref(&clear)).closing(NOW, &plane(), CIRCLE), None, "{clear:?}");
        }
    }

    #[test]
    fn a_long_ship_needs_more_room_than_a_dinghy() {
        let passing = report(9, 120.0, -600.0, 6.0, 0.0);
        assert_eq!(heard(std::slice::from_ref(&passing)).closing(NOW, &plane(), CIRCLE), None);
        let size = Size {
            to_bow: Metres(100.0),
            to_stern: Metres(30.0),
            to_port: Metres(8.0),
            to_starboard: Metres(8.0),
        };
        let ship = AisReport { size: Some(size), ..passing };
        assert!(heard(&[ship]).closing(NOW, &plane(), CIRCLE).is_some());
    }

    #[test]
    fn a_course_that_is_old_says_nothing_and_a_silent_vessel_is_forgotten() {
        let mut traffic = heard(&[report(7, 0.0, -1000.0, 6.0, 0.0)]);
        assert_eq!(traffic.closing(NOW + Span::from_secs(91), &plane(), CIRCLE), None);
        traffic.second(NOW + Span::from_mins(11));
        assert_eq!(traffic.views(NOW, &plane(), None).count(), 0);
    }

    #[test]
    fn her_own_transponder_is_not_traffic() {
        let own = AisReport { own: true, ..report(5, 0.0, -30.0, 1.0, 0.0) };
        let echo = report(5, 0.0, -300.0, 6.0, 0.0);
        assert_eq!(heard(&[echo, own, echo]).views(NOW, &plane(), None).count(), 0);
    }

    #[test]
    fn a_flood_of_vessels_is_bounded_and_the_longest_silent_goes_first() {
        let mut traffic = Traffic::default();
        for mmsi in 0..2000 {
            traffic.hear(NOW + Span::from_millis(mmsi.into()), &report(mmsi, 0.0, 900.0, 0.0, 0.0));
        }
        let kept: Vec<u32> = traffic.views(NOW, &plane(), None).map(|view| view.mmsi).collect();
        assert_eq!((kept.len(), kept.first()), (VESSELS_MAX, Some(&(2000 - VESSELS_MAX as u32))));
    }

    #[test]
    fn shore_stations_and_coarse_positions_are_no_vessels_places() {
        let shore = AisReport { message: 4, ..report(1, 0.0, -300.0, 0.0, 0.0) };
        let coarse = AisReport { message: LONG_RANGE, ..report(2, 0.0, -300.0, 6.0, 0.0) };
        assert_eq!(heard(&[shore, coarse]).views(NOW, &plane(), None).count(), 0);
    }
}
