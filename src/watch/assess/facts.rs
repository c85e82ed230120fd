//! One view of what is so this second: all that the conditions of alerts look at.

use std::sync::Arc;

use crate::watch::Watch;
use crate::watch::ahead::Held;
use crate::watch::boat::{Boat, Limits};
use crate::watch::fixgate;
use crate::watch::geo::Local;
use crate::watch::health::night_left;
use crate::watch::holding;
use crate::watch::snapshot::{Moved, Room, Stage, VesselView};
use crate::watch::sun::Crossing;
use crate::watch::tuning::{SHIFT_EASE_DEG, SOUNDED_WITHIN};
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use crate::watch::water::Water;
use crate::watch::wind::Speeds;

/// What is so this second.
#[derive(Clone, Debug)]
pub struct Facts<'a> {
    /// The second.
    pub now: WatchTime,
    /// How far the crew has come.
    pub stage: Stage,
    /// Since when.
    pub stage_since: WatchTime,
    /// The limits in force.
    pub limits: &'a Limits,
    /// The boat.
    pub boat: &'a Boat,
    /// Dragging is worth an alarm: the crew is not at work on the anchor.
    pub drag_counts: bool,
    /// What is out is what she will lie to: it is not being counted out, nor heaved in.
    pub lies_to_her_rode: bool,
    /// Rode out.
    pub veered: Option<Metres>,
    /// There is a drop point.
    pub is_marked: bool,
    /// The crew says that nobody marked the anchor.
    pub lies_unmarked: bool,
    /// The circle that raises `outside`.
    pub circle: Option<Metres>,
    /// Where she is and how far that can be trusted.
    pub position: PositionFacts<'a>,
    /// What the check of the anchor says is to be done, if one came to something.
    pub check_says: Option<String>,
    /// The wind.
    pub wind: WindFacts,
    /// The wind is not as forecast.
    pub held: Option<&'a Held>,
    /// The water.
    pub water: WaterFacts<'a>,
    /// The crew's duties.
    pub duties: DutyFacts,
    /// Instruments that have fallen silent.
    pub silent: SilentFacts,
    /// The receiver's time minus the watch's, where it reports the date.
    pub clock_error: Option<Span>,
    /// How long until the crew gets up; `None` by day.
    pub night_left: Option<Span>,
    /// The vessel that closes on the swing circle, and that circle.
    pub closing: Option<(VesselView, Metres)>,
}

/// Where she is and how far that can be trusted.
#[derive(Clone, Debug)]
pub struct PositionFacts<'a> {
    /// The judgement of the anchor.
    pub judged: &'a holding::Verdict,
    /// How the anchor has moved, once it is thought to have.
    pub moved: Option<Moved>,
    /// Whether the bow's place is known; else that of the antenna stands for it.
    pub bow_known: bool,
    /// Room to the circle; `None` without a circle, a drop point or a trusted position.
    pub room: Option<Room>,
    /// Room by a position that is too poor to be trusted, and how far that may be off.
    pub coarse: Option<(Room, Metres)>,
    /// Distance and bearing from the bow (else the antenna) to the anchor.
    pub to_anchor: Option<(Metres, TrueBearing)>,
    /// How far the rode reaches.
    pub reach: Option<Metres>,
    /// Speed over ground at the last position.
    pub sog: Option<Knots>,
    /// When the last position came, trusted or not.
    pub fix_at: Option<WatchTime>,
    /// Why the last position is not trusted.
    pub doubt: Option<fixgate::Doubt>,
    /// When the watch could first have seen anything: its beginning, or the end of the last gap.
    pub watching_since: WatchTime,
}

/// Where a boat lies to a wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiesTo {
    /// Seen from the anchor.
    pub bearing: TrueBearing,
    /// The least depth that was sounded thereabouts, at the lowest water ahead where a tide is known.
    pub depth: Option<Metres>,
    /// A tide is known.
    pub at_low_water: bool,
    /// Another vessel lies so far from there.
    pub neighbour: Option<Metres>,
}

/// The wind.
#[derive(Clone, Copy, Debug, Default)]
pub struct WindFacts {
    /// Mean direction over the limits' window.
    pub mean: Option<TrueBearing>,
    /// The direction that a shift is measured from.
    pub shift_from: Option<TrueBearing>,
    /// Where she lies in the end to the mean wind.
    pub lies_to: Option<LiesTo>,
    /// Mean and gust.
    pub speeds: Option<Speeds>,
    /// The mean wind at which the pull at the anchor is calculated to reach 8° above the bottom.
    pub lifts: Option<Knots>,
}

/// The water.
#[derive(Clone, Copy, Debug)]
pub struct WaterFacts<'a> {
    /// Depth by the sounder, from the surface.
    pub sounded: Option<Metres>,
    /// The water at the drop point through the stay.
    pub at_drop: &'a Water,
    /// Least scope ahead, and when.
    pub least_scope: Option<(f64, WatchTime)>,
}

/// The crew's duties.
#[derive(Clone, Debug, Default)]
pub struct DutyFacts {
    /// Since when a round is due.
    pub round_due: Option<WatchTime>,
    /// Who is on watch.
    pub on_watch: Option<Arc<str>>,
    /// When the sun last rose or set.
    pub sun: Option<Crossing>,
    /// A round since then found the lights in order.
    pub lights_seen: bool,
}

/// How long instruments that were there have been silent; `None` while they speak, or if they never did for long.
#[derive(Clone, Copy, Debug, Default)]
pub struct SilentFacts {
    /// The heading.
    pub heading: Option<Span>,
    /// The wind.
    pub wind: Option<Span>,
    /// The sounder.
    pub depth: Option<Span>,
}

impl Facts<'_> {
    /// An anchor is down.
    pub fn anchored(&self) -> bool {
        self.stage != Stage::NotSet
    }

    /// Drag cannot be judged, but she is seen to lie within her circle.
    pub fn seen_inside(&self) -> bool {
        let trusted = self.position.room.filter(|_| self.position.doubt.is_none());
        let coarse = self.position.coarse.map(|(room, _)| room);
        trusted.or(coarse).is_some_and(|room| room.left.0 >= 0.0)
    }

    /// She rides to her anchor, proved or not: it is not being heaved in.
    pub fn rides(&self) -> bool {
        matches!(self.stage, Stage::Setting | Stage::BroughtUp)
    }
}

impl Watch {
    /// What is so this second. What is remembered or calculated seldom comes in: since when the watch could see, the mean
    /// direction of the wind, the wind that lifts the rode, and what the check of the anchor came to.
    pub(super) fn facts(
        &self,
        now: WatchTime,
        watching_since: WatchTime,
        mean: Option<TrueBearing>,
        lifts: Option<Knots>,
        check_says: Option<String>,
    ) -> Facts<'_> {
        Facts {
            now,
            stage: self.ride.stage,
            stage_since: self.ride.stage_since,
            limits: &self.limits,
            boat: &self.settings.boat,
            drag_counts: self.drag_counts(now),
            lies_to_her_rode: self.lies_to_her_rode(now),
            veered: self.ride.veered,
            is_marked: self.ride.drop_point().is_some(),
            lies_unmarked: self.ride.lies_unmarked,
            circle: self.set_circle(now),
            position: self.position_facts(now, watching_since),
            check_says,
            wind: WindFacts {
                mean,
                shift_from: self.wind.shift_origin(),
                lies_to: mean
                    .filter(|mean| self.may_turn(*mean))
                    .and_then(|mean| self.lies_to_wind(now, mean)),
                speeds: self.wind.speeds(now),
                lifts,
            },
            held: self.ahead.view().held.as_deref(),
            water: WaterFacts {
                sounded: self.picture.depth(),
                at_drop: &self.water,
                least_scope: self.least_scope_ahead(),
            },
            duties: self.duty_facts(now),
            silent: SilentFacts {
                heading: self.picture.heading_presence.gone(now),
                wind: self.picture.wind_presence.gone(now),
                depth: self.picture.depth_presence.gone(now),
            },
            clock_error: self.picture.clock_error(),
            night_left: night_left(now, self.picture.fix().map(|fix| fix.position)),
            closing: self.closing_vessel(now),
        }
    }

    fn position_facts(&self, now: WatchTime, watching_since: WatchTime) -> PositionFacts<'_> {
        let fix = self.picture.fix();
        PositionFacts {
            judged: &self.judged,
            moved: self.judged.moved.map(|moved| self.moved_view(&moved)),
            bow_known: self.ride.lie().is_some_and(|lie| lie.bow.is_some()),
            room: self.room_at(now),
            coarse: self.coarse_room(now),
            to_anchor: self.ride.lie().map(|lie| lie.to_anchor()),
            reach: self.reach(now),
            sog: fix.and_then(|fix| fix.sog),
            fix_at: fix.map(|fix| fix.at),
            doubt: self.picture.doubt(),
            watching_since,
        }
    }

    fn duty_facts(&self, now: WatchTime) -> DutyFacts {
        let round_due = self.round_due().filter(|due| *due <= now);
        let sun = self.sun.last();
        DutyFacts {
            round_due,
            on_watch: round_due.and_then(|_| self.on_watch(now)).map(|turn| turn.name),
            sun,
            lights_seen: sun.is_some_and(|crossed| self.rounds.lights_seen_since(crossed.at)),
        }
    }

    /// Only a wind that has turned asks where she will lie: that looks through all soundings and vessels.
    fn may_turn(&self, mean: TrueBearing) -> bool {
        let from = self.wind.shift_origin();
        from.is_some_and(|from| from.turn_to(mean).abs() > self.limits.wind_shift_deg - SHIFT_EASE_DEG)
    }

    fn lies_to_wind(&self, now: WatchTime, mean: TrueBearing) -> Option<LiesTo> {
        self.ride.drop_point()?;
        let (plane, reach) = (self.ride.plane()?, self.reach(now)?);
        let bearing = mean.reversed();
        let half = self.settings.boat.loa.0 / 2.0;
        let spot = self.circle_centre() + Local::polar(bearing, reach.0 + half);
        let off = |vessel: VesselView| Metres((vessel.point - spot).length_m() - vessel.extent.0 - half);
        let neighbours = self.traffic.views(now, plane, None).map(off);
        Some(LiesTo {
            bearing,
            depth: self.lowest_about(plane, spot, SOUNDED_WITHIN),
            at_low_water: self.water.heights_ahead().is_some(),
            neighbour: neighbours.min_by(|a, b| a.0.total_cmp(&b.0)),
        })
    }

    fn closing_vessel(&self, now: WatchTime) -> Option<(VesselView, Metres)> {
        self.ride.drop_point().filter(|_| self.ride.anchored())?;
        let (plane, circle) = (self.ride.plane()?, self.swing_circle(now)?);
        Some((self.traffic.closing(now, plane, circle)?, circle))
    }
}

#[cfg(test)]
pub mod tests {
    use super::*;
    use crate::watch::boat::Settings;
    use crate::watch::snapshot::End;

    /// All that facts borrow from.
    pub struct Calm {
        pub settings: Settings,
        pub judged: holding::Verdict,
        pub water: Water,
    }

    impl Default for Calm {
        fn default() -> Self {
            let settings = Settings::default();
            let judged = holding::Holding::new(&settings.boat, &settings.tackle).verdict();
            Self { settings, judged, water: Water::default() }
        }
    }

    impl Calm {
        /// She is brought up since the watch began, a fix has just come, and nothing is wrong.
        pub fn facts(&self, now: WatchTime) -> Facts<'_> {
            Facts {
                now,
                stage: Stage::BroughtUp,
                stage_since: WatchTime(0),
                limits: &self.settings.limits,
                boat: &self.settings.boat,
                drag_counts: true,
                lies_to_her_rode: true,
                veered: Some(Metres(30.0)),
                is_marked: true,
                lies_unmarked: false,
                circle: Some(Metres(45.0)),
                position: PositionFacts {
                    judged: &self.judged,
                    moved: None,
                    bow_known: true,
                    room: Some(Room { left: Metres(15.0), of: Metres(45.0), end: End::Stern }),
                    coarse: None,
                    to_anchor: Some((Metres(25.0), TrueBearing::new(10.0))),
                    reach: Some(Metres(29.0)),
                    sog: Some(Knots(0.1)),
                    fix_at: Some(now),
                    doubt: None,
                    watching_since: WatchTime(0),
                },
                check_says: None,
                wind: WindFacts::default(),
                held: None,
                water: WaterFacts { sounded: Some(Metres(6.0)), at_drop: &self.water, least_scope: None },
                duties: DutyFacts::default(),
                silent: SilentFacts::default(),
                night_left: None,
                clock_error: None,
                closing: None,
            }
        }
    }

    /// Second number `s`.
    pub fn second(s: i64) -> WatchTime {
        WatchTime(s * 1000)
    }
}
