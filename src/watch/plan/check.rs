//! What in a skipper's figures is contradictory, impossible, or in the wrong unit?

use super::{DepthAt, Inputs, LONGEST_STAY};
use crate::watch::boat::Hull;
use crate::watch::rode::RodeError;
use crate::watch::units::{Knots, Metres, WatchTime};

const METRES_PER_FOOT: f64 = 0.3048;

/// What to do about sizes that look like feet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BigSizes {
    /// Refuse them: most likely a slip.
    #[default]
    Refuse,
    /// The crew has said that metres are meant.
    Accept,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Not a number, or outside what can be.
    #[error("{what} of {value} {unit}: it must lie between {least} and {most} {unit}. {hint}")]
    OutOfRange {
        /// Which figure.
        what: &'static str,
        /// As given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// The least accepted.
        least: f64,
        /// The most accepted.
        most: f64,
        /// What may have gone wrong.
        hint: &'static str,
    },
    /// A size that is likelier in feet.
    #[error(
        "{what} of {:.1} m is very much for a small yacht. If it was in feet, write {:.1}, which is {:.1} ft in metres. \
         If metres are right, say so (--metres-meant).",
        value.0, value.0 * METRES_PER_FOOT, value.0
    )]
    LooksLikeFeet {
        /// Which figure.
        what: &'static str,
        /// As given.
        value: Metres,
    },
    /// A gust weaker than the mean.
    #[error("Gusts of {:.0} kn are less than the mean wind of {:.0} kn. Check which is which.", gust.0, mean.0)]
    GustBelowMean {
        /// The gust.
        gust: Knots,
        /// The mean.
        mean: Knots,
    },
    /// The stay ends before it begins, or lasts too long.
    #[error("The stay must end after it begins, within {LONGEST_STAY}. Check the times and dates.")]
    OddStay,
    /// She could not be where she is.
    #[error(
        "A depth of {:.1} m is less than her draft of {:.1} m: she would be aground already. Depth counts from the \
         surface, not from the keel or the sounder.",
        depth.0, draft.0
    )]
    AgroundAlready {
        /// The sounding.
        depth: Metres,
        /// Her draft.
        draft: Metres,
    },
    /// The rode hangs clear of the bottom at the highest water.
    #[error(
        "{:.1} m of rode is shorter than the {:.1} m from bow to bottom at the highest water of the stay: the anchor \
         would hang clear. Veer more, or choose less depth.",
        rode.0, height.0
    )]
    RodeShorterThanDepth {
        /// The rode.
        rode: Metres,
        /// Bow roller above the bottom.
        height: Metres,
        /// The highest water.
        highest: DepthAt,
    },
    /// The tide is not known when the depth was sounded.
    #[error(
        "The tide is not known at the time of the sounding, so no later depth follows from it. Add the high or low water \
         before it, or the one after."
    )]
    NoTideAtStart {
        /// The time of the sounding.
        at: WatchTime,
        /// From when the tide is known.
        known_from: Option<WatchTime>,
        /// Until when.
        known_until: Option<WatchTime>,
    },
    /// The rode itself.
    #[error(transparent)]
    Rode(#[from] RodeError),
}

pub(super) fn check(inputs: &Inputs) -> Result<(), PlanError> {
    check_boat(inputs)?;
    check_tackle(inputs)?;
    check_weather(inputs)?;
    check_stay(inputs)
}

pub(super) fn rode_reaches(rode: Metres, height: Metres, highest: DepthAt) -> Result<(), PlanError> {
    if rode.0 > height.0 { Ok(()) } else { Err(PlanError::RodeShorterThanDepth { rode, height, highest }) }
}

fn check_boat(inputs: &Inputs) -> Result<(), PlanError> {
    let boat = &inputs.boat;
    within("Length overall", "m", boat.loa.0, (2.0, 100.0), METRES_HINT)?;
    within("Beam", "m", boat.beam.0, (0.5, 30.0), METRES_HINT)?;
    within("Draft", "m", boat.draft.0, (0.1, 15.0), METRES_HINT)?;
    within("Bow height", "m", boat.bow_height.0, (0.1, 15.0), METRES_HINT)?;
    within("Displacement", "kg", boat.displacement_kg, (50.0, 1e6), "Kilograms, not tonnes or pounds.")?;
    if let Some(windage_m2) = boat.windage_m2 {
        within("Windage", "m²", windage_m2, (0.5, 500.0), "Drag coefficient times frontal area.")?;
    }
    // What hardly any yacht of fewer metres reaches, but the same boat measured in feet does.
    let beam_most = if boat.hull == Hull::Monohull { 6.5 } else { 13.0 };
    suspect(inputs, "A length overall", boat.loa, 24.0)?;
    suspect(inputs, "A beam", boat.beam, beam_most)?;
    suspect(inputs, "A draft", boat.draft, 4.0)?;
    suspect(inputs, "A bow height", boat.bow_height, 3.0)
}

fn check_tackle(inputs: &Inputs) -> Result<(), PlanError> {
    let tackle = &inputs.tackle;
    within("Chain aboard", "m", tackle.chain.0, (0.0, 500.0), METRES_HINT)?;
    within("Rope aboard", "m", tackle.rope.0, (0.0, 500.0), METRES_HINT)?;
    within("Rode aboard", "m", (tackle.chain + tackle.rope).0, (1.0, 1000.0), "Give chain, rope or both.")?;
    if let Some(kg) = tackle.anchor_kg {
        within("Anchor", "kg", kg, (0.5, 1000.0), "Kilograms, not pounds.")?;
    }
    if let Some(veered) = inputs.veered {
        within("Length veered", "m", veered.0, (1.0, 1000.0), METRES_HINT)?;
    }
    suspect(inputs, "A rode", tackle.chain + tackle.rope, 250.0)
}

fn check_weather(inputs: &Inputs) -> Result<(), PlanError> {
    let weather = &inputs.weather;
    within("Wind", "kn", weather.mean.0, (0.0, 150.0), WIND_HINT)?;
    within("Gusts", "kn", weather.gust.0, (0.0, 220.0), WIND_HINT)?;
    if weather.gust.0 < weather.mean.0 {
        return Err(PlanError::GustBelowMean { gust: weather.gust, mean: weather.mean });
    }
    within("Stream", "kn", weather.stream.0, (0.0, 15.0), "The fastest streams run at 15 kn.")?;
    within("Sheer", "°", weather.sheer_deg, (0.0, 90.0), "Degrees to each side of the wind.")?;
    within(
        "Least scope",
        "times the depth",
        inputs.limits.scope,
        (1.0, 30.0),
        "3 means three times the depth.",
    )
}

fn check_stay(inputs: &Inputs) -> Result<(), PlanError> {
    within("Depth", "m", inputs.sounded.0, (0.1, 200.0), "From the surface, in metres.")?;
    suspect(inputs, "A depth", inputs.sounded, 40.0)?;
    if inputs.sounded.0 < inputs.boat.draft.0 {
        return Err(PlanError::AgroundAlready { depth: inputs.sounded, draft: inputs.boat.draft });
    }
    let stay = inputs.until.since(inputs.at);
    if stay.0 <= 0 || stay > LONGEST_STAY {
        return Err(PlanError::OddStay);
    }
    for other in &inputs.others {
        within("A neighbour's distance", "m", other.distance.0, (0.0, 10_000.0), METRES_HINT)?;
        within("A neighbour's length", "m", other.loa.0, (1.0, 500.0), METRES_HINT)?;
    }
    for mark in &inputs.marks {
        within("A mark's distance", "m", mark.distance.0, (0.0, 10_000.0), METRES_HINT)?;
        within("A mark's extent", "m", mark.extent.0, (0.0, 10_000.0), METRES_HINT)?;
    }
    Ok(())
}

const METRES_HINT: &str = "Metres, not feet or centimetres.";
const WIND_HINT: &str = "Knots are meant; nobody lies at anchor in more.";

fn within(
    what: &'static str,
    unit: &'static str,
    value: f64,
    (least, most): (f64, f64),
    hint: &'static str,
) -> Result<(), PlanError> {
    // A NaN is in no range.
    if (least..=most).contains(&value) {
        Ok(())
    } else {
        Err(PlanError::OutOfRange { what, value, unit, least, most, hint })
    }
}

fn suspect(inputs: &Inputs, what: &'static str, value: Metres, most: f64) -> Result<(), PlanError> {
    if value.0 > most && inputs.big_sizes == BigSizes::Refuse {
        Err(PlanError::LooksLikeFeet { what, value })
    } else {
        Ok(())
    }
}
