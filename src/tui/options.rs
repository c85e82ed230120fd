//! How the screen begins.

use jiff::tz::TimeZone;

use super::palette::{Colours, Light};
use crate::watch::checks::Checks;
use crate::watch::units::Span;

/// How long a notice stays. Our choice.
pub const NOTICE_FOR: Span = Span::from_secs(15);

/// What the screen is given once.
#[derive(Clone, Debug)]
pub struct Options {
    /// Which light to begin with.
    pub light: Light,
    /// How many colours the terminal has.
    pub colours: Colours,
    /// Its font has braille; else half-blocks are drawn.
    pub braille: bool,
    /// Width of a cell divided by its height.
    pub cell_aspect: f64,
    /// The zone of the times of day.
    pub time_zone: TimeZone,
    /// Begin with tall figures.
    pub tall: bool,
    /// How long a notice stays, by the watch's clock.
    pub notice_for: Span,
    /// The crew's check lists.
    pub checks: Checks,
    /// It is another screen of this watch, which runs elsewhere: to leave it ends nothing.
    pub joined: Option<String>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            light: Light::Dusk,
            colours: Colours::TrueColour,
            braille: true,
            cell_aspect: 0.5,
            time_zone: TimeZone::UTC,
            tall: false,
            notice_for: NOTICE_FOR,
            checks: Checks::default(),
            joined: None,
        }
    }
}
