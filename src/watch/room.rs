//! How much room does she need, and what lies within it?
//!
//! All circles are about her own anchor. She lies with the wind: from a wind out of 230° she lies 050° from her anchor.

use super::boat::{Boat, Sector};
use super::rode::{RodeError, reach_limit};
use super::units::{Metres, TrueBearing};

/// The room that a boat takes on a straight rode at the lowest water, when it reaches farthest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwingCircle {
    /// Anchor to bow.
    pub reach: Metres,
    /// Anchor to stern: the room that she takes.
    pub radius: Metres,
    /// Anchor to the position antenna: what a plotted track stays within.
    pub antenna: Metres,
}

impl SwingCircle {
    /// The same for a rode that gives so much.
    #[must_use]
    pub fn wider(self, give: Metres) -> Self {
        Self { reach: self.reach + give, radius: self.radius + give, antenna: self.antenna + give }
    }
}

/// The circle of a boat with `veered` out, `height_low` the bow roller above the seabed at the lowest water.
///
/// # Errors
/// [`RodeError::TooShort`] and [`RodeError::OutOfRange`] as [`reach_limit`].
pub fn swing_circle(boat: &Boat, veered: Metres, height_low: Metres) -> Result<SwingCircle, RodeError> {
    let reach = reach_limit(veered, height_low)?;
    Ok(SwingCircle { reach, radius: reach + boat.loa, antenna: reach + boat.antenna_aft })
}

/// Where she lies, seen from her anchor, with winds out of a sector.
#[must_use]
pub fn lies_within(winds: Sector) -> Sector {
    Sector { from: winds.from.reversed(), to: winds.to.reversed() }
}

/// Something fixed to keep clear of: a rock, a buoy, the edge of a bank.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it is.
    pub name: String,
    /// Bearing from the anchor.
    pub bearing: TrueBearing,
    /// Distance from the anchor to its middle.
    pub distance: Metres,
    /// How far it extends about its middle.
    pub extent: Metres,
}

impl Mark {
    /// Water between the mark and her stern when she lies towards it; negative if she can lie on it.
    #[must_use]
    pub fn gap(&self, circle: &SwingCircle) -> Metres {
        self.distance - self.extent - circle.radius
    }

    /// The winds that bring some part of her within `clearance` of the mark.
    ///
    /// She is taken as the line from anchor to stern, since in a light wind she may lie nearer than her rode reaches. That
    /// line comes within c of a point at distance D for directions within asin(c/D) of it, or, beyond its end, by the law
    /// of cosines.
    #[must_use]
    pub fn winds_towards(&self, circle: &SwingCircle, clearance: Metres) -> Winds {
        let (distance, near) = (self.distance.0, self.extent.0 + clearance.0);
        let end = circle.radius.0;
        if distance - near > end {
            return Winds::None;
        }
        if distance <= near {
            return Winds::Any;
        }
        // The foot of the perpendicular from the mark, if it falls on her, else her stern decides.
        let foot = (distance * distance - near * near).sqrt();
        let half = if foot <= end {
            (near / distance).asin()
        } else {
            let cosine = (distance * distance + end * end - near * near) / (2.0 * distance * end);
            cosine.clamp(-1.0, 1.0).acos()
        };
        let wind = self.bearing.reversed();
        Winds::Within(Sector { from: wind.turned(-half.to_degrees()), to: wind.turned(half.to_degrees()) })
    }
}

/// A set of wind directions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Winds {
    /// No wind at all.
    None,
    /// Winds out of this sector.
    Within(Sector),
    /// Every wind.
    Any,
}

impl Winds {
    /// True if a wind out of `direction` is one of them.
    #[must_use]
    pub fn contains(&self, direction: TrueBearing) -> bool {
        match self {
            Self::None => false,
            Self::Within(sector) => sector.contains(direction),
            Self::Any => true,
        }
    }
}

/// What a neighbour rides to, as far as one can see.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RidesTo {
    /// Chain: four times the height of her bow above the bottom at high water.
    Chain,
    /// Rope and some chain: seven times.
    Rope,
    /// A mooring buoy: its chain is little longer than high water is deep, one and a half times.
    Mooring,
    /// She said: the length veered.
    Entered(Metres),
}

impl RidesTo {
    /// What she is likely to have out, bow roller to anchor. Common practice, no source.
    #[must_use]
    pub fn veered(self, height_high: Metres) -> Metres {
        match self {
            Self::Chain => height_high * 4.0,
            Self::Rope => height_high * 7.0,
            Self::Mooring => height_high * 1.5,
            Self::Entered(length) => length,
        }
    }
}

/// Another boat at anchor, or on a mooring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Neighbour {
    /// Bearing of her anchor from ours.
    pub bearing: TrueBearing,
    /// Distance of her anchor from ours.
    pub distance: Metres,
    /// Anchor to her bow on a straight rode at low water.
    pub reach: Metres,
    /// Her length.
    pub loa: Metres,
}

/// How near two boats come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Hull to hull when both lie the same way, whichever way that is: wind or stream has hold of both.
    pub same_way: Metres,
    /// When each lies towards the other, as in a calm or when the stream turns. Negative: their circles overlap by it.
    pub worst: Metres,
}

impl Neighbour {
    /// A neighbour whose *hull* was measured rather than her anchor: bearing and distance from our bow to hers, while both
    /// lie to the same `wind`, our own bow `reach_own` from our anchor.
    #[must_use]
    pub fn seen(
        (bearing, distance): (TrueBearing, Metres),
        (reach, loa): (Metres, Metres),
        wind: TrueBearing,
        reach_own: Metres,
    ) -> Self {
        // Her anchor lies upwind of her bow by her reach, ours upwind of ours by our own.
        let upwind = reach.0 - reach_own.0;
        let east = distance.0 * bearing.radians().sin() + upwind * wind.radians().sin();
        let north = distance.0 * bearing.radians().cos() + upwind * wind.radians().cos();
        Self {
            bearing: TrueBearing::new(east.atan2(north).to_degrees()),
            distance: Metres(east.hypot(north)),
            reach,
            loa,
        }
    }

    /// How near she comes to a boat with this circle.
    ///
    /// Both lying along u from anchors d apart, the hulls are parallel pieces of line, offset by d + t·u with t from
    /// (her bow − our stern) to (her stern − our bow). The least distance over all u is |d| − max|t|.
    #[must_use]
    pub fn gap(&self, own: &SwingCircle) -> Gap {
        let stern = self.reach + self.loa;
        let most_offset = (own.radius - self.reach).max(stern - own.reach);
        Gap {
            same_way: (self.distance - most_offset).max(Metres(0.0)),
            worst: self.distance - own.radius - stern,
        }
    }

    /// Hull to hull with both lying to one given wind.
    #[must_use]
    pub fn gap_in(&self, own: &SwingCircle, wind: TrueBearing) -> Metres {
        // Along the way both lie, and across it.
        let angle = wind.reversed().turn_to(self.bearing).to_radians();
        let (along, across) = (self.distance.0 * angle.cos(), self.distance.0 * angle.sin());
        let least = along + self.reach.0 - own.radius.0;
        let most = along + self.reach.0 + self.loa.0 - own.reach.0;
        let clear_along = least.max(-most).max(0.0);
        Metres(clear_along.hypot(across))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own() -> SwingCircle {
        swing_circle(&Boat::default(), Metres(35.0), Metres(5.0)).unwrap()
    }

    fn mark(bearing: f64, distance: f64, extent: f64) -> Mark {
        Mark {
            name: "rock".into(),
            bearing: TrueBearing::new(bearing),
            distance: Metres(distance),
            extent: Metres(extent),
        }
    }

    #[test]
    fn the_circle_holds_rode_boat_and_antenna() {
        let circle = own();
        assert!((circle.reach.0 - 34.641).abs() < 1e-3);
        assert!((circle.radius.0 - 44.641).abs() < 1e-3 && (circle.antenna.0 - 43.641).abs() < 1e-3);
    }

    #[test]
    fn she_lies_downwind_of_her_anchor() {
        let winds = Sector { from: TrueBearing::new(200.0), to: TrueBearing::new(260.0) };
        let lies = lies_within(winds);
        assert_eq!((lies.from.degrees(), lies.to.degrees()), (20.0, 80.0));
    }

    #[test]
    fn a_rock_within_the_circle_is_reached_by_the_winds_that_blow_towards_it() {
        assert_eq!(mark(90.0, 60.0, 5.0).winds_towards(&own(), Metres(5.0)), Winds::None);
        let Winds::Within(sector) = mark(90.0, 40.0, 2.0).winds_towards(&own(), Metres(3.0)) else {
            panic!("some winds, not all");
        };
        assert!(sector.contains(TrueBearing::new(270.0)));
        let half = (5.0_f64 / 40.0).asin().to_degrees();
        assert!((sector.to.degrees() - (270.0 + half)).abs() < 1e-9);
        assert!(mark(90.0, 40.0, 2.0).gap(&own()).0 < 0.0);
        // Abeam of her stern: the law of cosines, a narrower sector.
        let off_stern = mark(90.0, 48.0, 0.0).winds_towards(&own(), Metres(5.0));
        assert!(off_stern.contains(TrueBearing::new(270.0)) && !off_stern.contains(TrueBearing::new(275.0)));
    }

    #[test]
    fn a_rock_over_the_anchor_is_reached_by_every_wind() {
        assert_eq!(mark(0.0, 2.0, 1.0).winds_towards(&own(), Metres(5.0)), Winds::Any);
    }

    #[test]
    fn the_gap_when_both_lie_the_same_way_is_the_least_over_every_wind() {
        let she = Neighbour {
            bearing: TrueBearing::new(40.0),
            distance: Metres(70.0),
            reach: Metres(50.0),
            loa: Metres(14.0),
        };
        let gap = she.gap(&own());
        let least = (0..3600)
            .map(|w| she.gap_in(&own(), TrueBearing::new(f64::from(w) / 10.0)).0)
            .fold(f64::MAX, f64::min);
        assert!((gap.same_way.0 - least).abs() < 0.01, "{gap:?} against {least}");
        assert!((gap.worst.0 - (70.0 - own().radius.0 - 64.0)).abs() < 1e-9);
    }

    #[test]
    fn boats_that_ride_alike_keep_their_distance_less_a_length() {
        let own = own();
        let she = Neighbour {
            bearing: TrueBearing::new(0.0),
            distance: Metres(60.0),
            reach: own.reach,
            loa: Metres(10.0),
        };
        assert!((she.gap(&own).same_way.0 - 50.0).abs() < 1e-9);
        assert!((she.gap_in(&own, TrueBearing::new(90.0)).0 - 60.0).abs() < 1e-9);
    }

    #[test]
    fn a_neighbours_anchor_follows_from_her_hull() {
        // Wind from north: she lies 20 m farther from her anchor than we from ours, so her anchor is 20 m more to windward.
        let she = Neighbour::seen(
            (TrueBearing::new(90.0), Metres(50.0)),
            (Metres(40.0), Metres(11.0)),
            TrueBearing::new(0.0),
            Metres(20.0),
        );
        assert!((she.distance.0 - 50.0_f64.hypot(20.0)).abs() < 1e-9);
        assert!((she.bearing.degrees() - (90.0 - 20.0_f64.atan2(50.0).to_degrees())).abs() < 1e-9);
    }

    #[test]
    fn rope_swings_wider_than_chain_and_a_mooring_hardly() {
        let h = Metres(8.0);
        assert!(RidesTo::Rope.veered(h) > RidesTo::Chain.veered(h));
        assert!(RidesTo::Mooring.veered(h) < RidesTo::Chain.veered(h));
        assert_eq!(RidesTo::Entered(Metres(33.0)).veered(h), Metres(33.0));
    }
}
