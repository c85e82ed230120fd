//! How does she lie between wind and stream, and how hard do the two together pull?
//!
//! She hangs by her bow. Wind and stream each press on her end and on her side, and she turns until their moments about
//! the bow cancel: not with the wind, nor with the stream, but where she really lies. The angle between the two goes
//! round with the tide, so all of them are tried and the worst counts.

use super::gear::SEA_KG_PER_M3;
use super::push::{SIDE_TO_BOW, stream_push};
use crate::watch::boat::{Boat, Hull};
use crate::watch::units::{Knots, Newtons};

/// Angles between wind and stream that are tried, and headings at each, degrees.
const BETWEEN_STEP_DEG: usize = 15;
const HEADING_STEP_DEG: usize = 6;

/// Where the wind's push on her side acts: so much of her length behind the bow with the wind ahead, and so much farther
/// aft with the wind astern, as it walks aft on any plate (as in the project's simulator, `docs/inside/simulator.md`).
const WIND_ARM: (f64, f64) = (0.3, 0.45);
/// The stream presses on the middle of her side.
const STREAM_ARM: f64 = 0.5;

/// Drag coefficient of a hull met from the side: 0.8 in deep water (UFC 4-159-03, from memory), more over little water.
const CROSS_FLOW: f64 = 1.0;
/// Draft of a yacht's canoe body, and length of her keel, as shares of her length overall (common practice, no source).
const BODY_DRAFT: f64 = 0.06;
const KEEL_LENGTH: f64 = 0.15;
/// Side force of a keel at a small angle, for each radian, on half the square of the draft.
const KEEL_LIFT: f64 = 3.0;

/// What one flow does to a boat held by her bow, newtons.
#[derive(Clone, Copy, Debug)]
struct Flow {
    /// On her bow.
    ahead: f64,
    /// On her side, growing with the sine of the angle, and with its square.
    side: f64,
    side_squared: f64,
    /// Arm behind the bow, as a share of her length, with the flow ahead, and what is added with it astern.
    arm: (f64, f64),
}

impl Flow {
    fn wind(push: Newtons) -> Self {
        Self { ahead: push.0, side: SIDE_TO_BOW * push.0, side_squared: 0.0, arm: WIND_ARM }
    }

    fn stream(boat: &Boat, rate: Knots) -> Self {
        let pressure = 0.5 * SEA_KG_PER_M3 * rate.mps() * rate.mps();
        Self {
            ahead: stream_push(boat, rate).0,
            side: pressure * KEEL_LIFT * 0.5 * boat.draft.0 * boat.draft.0,
            side_squared: pressure * CROSS_FLOW * side_area_m2(boat),
            arm: (STREAM_ARM, 0.0),
        }
    }

    /// Push on her side with the flow `angle` radians to starboard of ahead: to port.
    fn aside(&self, angle: f64) -> f64 {
        let (sin, cos) = angle.sin_cos();
        sin * (self.side_squared * sin.abs() + self.side * self.keel(cos))
    }

    /// The keel's lift goes as the stream along it; the wind has no such thing.
    fn keel(&self, cos: f64) -> f64 {
        if self.side_squared > 0.0 { cos.abs() } else { 1.0 }
    }

    /// Moment about the bow that turns her towards the flow, in newtons times her length.
    fn moment(&self, angle: f64) -> f64 {
        self.aside(angle) * (self.arm.0 + self.arm.1 * angle.abs() / std::f64::consts::PI)
    }

    /// What pulls along the flow.
    fn along(&self, angle: f64) -> f64 {
        self.ahead * angle.cos().powi(2) + self.aside(angle) * angle.sin()
    }

    /// The most that she can be turned by it.
    fn broadside_moment(&self) -> f64 {
        (self.side_squared + self.side) * (self.arm.0 + 0.5 * self.arm.1)
    }
}

/// Side of her underwater body, m²: the canoe body over nine tenths of her length, nine tenths full, and the keel below it.
fn side_area_m2(boat: &Boat) -> f64 {
    let (loa, draft) = (boat.loa.0, boat.draft.0);
    let body = (BODY_DRAFT * loa).min(draft);
    let hulls = if boat.hull == Hull::Catamaran { 2.0 } else { 1.0 };
    hulls * 0.81 * loa * body + KEEL_LENGTH * loa * (draft - body)
}

/// What wind and stream pull together, at the worst angle between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Together {
    /// Lying where both leave her.
    pub(super) still: Newtons,
    /// Sheering about that by as much as the stream on her keel allows.
    pub(super) sheering: Newtons,
}

/// A wind that pushes so hard on her bow, a stream, and a sheer that she would make in that wind alone.
pub(super) fn together(boat: &Boat, wind: Newtons, rate: Knots, sheer_deg: f64) -> Together {
    let (air, water) = (Flow::wind(wind), Flow::stream(boat, rate));
    // The stream holds her hull as water holds a vane: the more of it, the less she sheers.
    let turned = air.broadside_moment() + water.broadside_moment();
    let share = if turned > 0.0 { air.broadside_moment() / turned } else { 0.0 };
    let sheer = sheer_deg.clamp(0.0, 90.0).to_radians() * share;
    let mut worst = Together { still: Newtons(0.0), sheering: Newtons(0.0) };
    for between in (0..=180).step_by(BETWEEN_STEP_DEG) {
        let between = (between as f64).to_radians();
        for heading in headings(&air, &water, between) {
            let still = still_pull(&air, &water, between, heading);
            let swung = [-sheer, 0.0, sheer].map(|off| swung_pull(&air, &water, between, heading + off));
            worst.still = worst.still.max(Newtons(still));
            worst.sheering = swung.iter().fold(worst.sheering, |most, pull| most.max(Newtons(*pull)));
        }
    }
    Together { sheering: worst.sheering.max(worst.still), ..worst }
}

/// Headings at which she comes to rest, radians from the wind, with the stream from `between`.
fn headings(air: &Flow, water: &Flow, between: f64) -> Vec<f64> {
    let step = (HEADING_STEP_DEG as f64).to_radians();
    let turning = |heading: f64| air.moment(wrapped(-heading)) + water.moment(wrapped(between - heading));
    let crossing = |heading: f64| {
        let (here, next) = (turning(heading), turning(heading + step));
        // Turned past it she is turned back.
        (here >= 0.0 && next < 0.0).then(|| heading + step * here / (here - next))
    };
    // Begun half a step off: a heading dead on a flow is a crossing, not an end.
    (0..360 / HEADING_STEP_DEG).filter_map(|i| crossing((i as f64 - 0.5) * step)).collect()
}

/// The whole of both forces: what holds a body at rest.
fn still_pull(air: &Flow, water: &Flow, between: f64, heading: f64) -> f64 {
    let (wind, stream) = (wrapped(-heading), wrapped(between - heading));
    let back = air.ahead * wind.cos() + water.ahead * stream.cos();
    back.hypot(air.aside(wind) + water.aside(stream))
}

/// In a sheer, what pulls along each flow: the rest of the force on her side sails her sideways.
fn swung_pull(air: &Flow, water: &Flow, between: f64, heading: f64) -> f64 {
    let (wind, stream) = (air.along(wrapped(-heading)), water.along(wrapped(between - heading)));
    (wind + stream * between.cos()).hypot(stream * between.sin())
}

/// An angle from −π to π.
fn wrapped(angle: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    (angle + 0.5 * turn).rem_euclid(turn) - 0.5 * turn
}

#[cfg(test)]
mod tests {
    use super::super::load::Windage;
    use super::*;

    fn pull(wind_kn: f64, rate_kn: f64) -> Together {
        let boat = Boat::default();
        together(&boat, Windage::of(&boat).push(Knots(wind_kn)), Knots(rate_kn), 40.0)
    }

    #[test]
    fn without_stream_she_lies_to_the_wind_and_without_wind_to_the_stream() {
        let boat = Boat::default();
        let wind = Windage::of(&boat).push(Knots(20.0));
        let alone = pull(20.0, 0.0);
        assert!((alone.still.0 / wind.0 - 1.0).abs() < 1e-9, "{alone:?}");
        assert!(
            (alone.sheering.0 / wind.0 - super::super::load::sheer_factor(40.0)).abs() < 1e-9,
            "{alone:?}"
        );
        let becalmed = pull(0.0, 2.0).still;
        assert!((becalmed.0 / stream_push(&boat, Knots(2.0)).0 - 1.0).abs() < 1e-6, "{becalmed:?}");
    }

    /// 20 kn of wind and 2 kn of stream. At rest nothing pulls more than the two from ahead: across each other they press on
    /// opposite sides of her. But sheering she meets the stream with her side as well, and pulls more than both sums.
    #[test]
    fn sheering_in_both_pulls_more_than_a_sheer_in_the_wind_and_the_stream_on_her_bow() {
        let boat = Boat::default();
        let (wind, stream) = (Windage::of(&boat).push(Knots(20.0)), stream_push(&boat, Knots(2.0)));
        let both = pull(20.0, 2.0);
        assert!((both.still.0 / (wind + stream).0 - 1.0).abs() < 0.01, "{both:?}");
        let summed = pull(20.0, 0.0).sheering + stream;
        assert!(both.sheering.0 > 1.2 * summed.0, "{both:?} against {summed:?}");
    }

    #[test]
    fn more_of_either_never_pulls_less() {
        for rates in [0.0, 0.5, 1.0, 2.0, 4.0].windows(2) {
            for winds in [5.0, 15.0, 30.0, 45.0].windows(2) {
                let (less, rate, wind) =
                    (pull(winds[0], rates[0]), pull(winds[0], rates[1]), pull(winds[1], rates[0]));
                assert!(rate.still.0 >= 0.999 * less.still.0, "{winds:?} {rates:?}: {less:?} {rate:?}");
                assert!(wind.still.0 >= 0.999 * less.still.0, "{winds:?} {rates:?}: {less:?} {wind:?}");
            }
        }
    }
}
