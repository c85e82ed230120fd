//! Why a typed line of winds was refused: each wording stands here, once.

use super::{ENTRIES_MAX, TEXT_MAX};
use crate::watch::units::Span;

/// Why a typed line was refused, in the words of whoever typed it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TypedWindError {
    /// Nothing stands there.
    #[error("No wind is written. Write hour, direction and knots: 18: SW 15 g22, 00: W 25 g35.")]
    Empty,
    /// More than is kept.
    #[error("More than {ENTRIES_MAX} winds, or {TEXT_MAX} letters. Write those of this stay only.")]
    TooMuch,
    /// No hour before the direction.
    #[error("\"{0}\" has no hour. Begin with it, by your clock: 18: {0}.")]
    NoHour(String),
    /// An hour that the clock has not.
    #[error("\"{0}\" is no hour of the day. Write 00 to 23, or 18:30.")]
    NotAnHour(String),
    /// No direction.
    #[error("\"{0}\" does not say where the wind comes from. Write a point or degrees: SW 15, or 225 15.")]
    NoDirection(String),
    /// Not a direction.
    #[error(
        "\"{0}\" is no direction. Write one of N, NNE, NE … NNW, or degrees true, 0 to 360; \"var\" from anywhere."
    )]
    NotADirection(String),
    /// By a compass.
    #[error("\"{0}\" is by the compass. Forecasts are true: write degrees true, 225, or a point.")]
    Magnetic(String),
    /// No speed.
    #[error("\"{0}\" has no wind speed. Write knots behind the direction: SW 15.")]
    NoSpeed(String),
    /// Force on the Beaufort scale.
    #[error(
        "\"{0}\" is a force of the Beaufort scale. Write knots: force 6 is 22 to 27 kn, take the higher."
    )]
    Beaufort(String),
    /// Another unit.
    #[error("\"{0}\" is not in knots. Write knots: 1 m/s is 1.94 kn, 10 km/h 5.4 kn, 10 mph 8.7 kn.")]
    NotKnots(String),
    /// More than blows.
    #[error("\"{0}\" is out of range. Write 0 to 150 kn, gusts to 220 kn.")]
    TooStrong(String),
    /// The gust is less than the mean.
    #[error("\"{entry}\": gusts of {gust} kn are less than the wind of {mean} kn. Check which is which.")]
    GustBelowMean {
        /// The entry.
        entry: String,
        /// Gusts, knots.
        gust: String,
        /// The mean, knots.
        mean: String,
    },
    /// A word more than is understood.
    #[error(
        "\"{word}\" in \"{entry}\" is not understood. Write hour, direction, knots and, if given, gusts: 18: SW 15 g22."
    )]
    Unknown {
        /// The word.
        word: String,
        /// The entry.
        entry: String,
    },
    /// The same hour twice.
    #[error("{0} stands there twice. Write each hour once, in their order.")]
    Twice(String),
    /// A long step, or hours in the wrong order.
    #[error("From {before} to {then} is {step}. Write the hours in their order, no more than 12 h apart.")]
    LongStep {
        /// The hour before.
        before: String,
        /// The hour after.
        then: String,
        /// How far apart.
        step: Span,
    },
    /// The calendar ends.
    #[error("The day is beyond the calendar. Check the clock.")]
    BeyondCalendar,
}
