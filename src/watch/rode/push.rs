//! How hard does a stream press on her, and how much harder does anything press on her side than on her bow?

use super::gear::SEA_KG_PER_M3;
use crate::watch::boat::{Boat, Hull};
use crate::watch::units::{Knots, Newtons};

/// How many times as hard the wind pushes on her side as on her bow. From a tester's published figures (Practical
/// Sailor, November 2013 and later): yawing through 60° raises the tension by half, through 120° two to three times;
/// three gives 1.5 and 2.5.
pub(super) const SIDE_TO_BOW: f64 = 3.0;

/// The drag of a stream on her underwater body, met bow on.
///
/// Friction on the wetted surface, Cf = 0.075/(log₁₀Re − 2)² (ITTC 1957), raised by 1.3 for form and appendages, on
/// S = 2.6·√(∇·LWL) a hull (Taylor's formula), LWL = 0.9·LOA; and a locked propeller, one a hull of a catamaran:
/// 0.045·LOA across, half of its disc, drag coefficient 1.2. Expect ±40 %; still small beside the wind.
#[must_use]
pub fn stream_push(boat: &Boat, rate: Knots) -> Newtons {
    const SEA_VISCOSITY_M2_PER_S: f64 = 1.19e-6;
    let speed = rate.mps().abs();
    let waterline_m = 0.9 * boat.loa.0;
    let (hulls, propellers) = match boat.hull {
        Hull::Monohull => (1.0, 1.0),
        Hull::Catamaran => (2.0, 2.0),
        // The floats carry little: the main hull is what drags.
        Hull::Trimaran => (1.0, 1.0),
    };
    let displaced_m3 = boat.displacement_kg / SEA_KG_PER_M3 / hulls;
    let wetted_m2 = hulls * 2.6 * (displaced_m3 * waterline_m).sqrt();
    // Below a tenth of a knot the line no longer holds, and the drag is nothing.
    let reynolds = (speed * waterline_m / SEA_VISCOSITY_M2_PER_S).max(1e5);
    let friction = 0.075 / (reynolds.log10() - 2.0).powi(2);
    let propeller_m2 = 0.5 * std::f64::consts::FRAC_PI_4 * (0.045 * boat.loa.0).powi(2);
    let drag_area_m2 = 1.3 * friction * wetted_m2 + 1.2 * propellers * propeller_m2;
    Newtons(0.5 * SEA_KG_PER_M3 * drag_area_m2 * speed * speed)
}
