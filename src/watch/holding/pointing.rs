//! Riding to wind with her head steady, she points at her anchor.

use super::cells::Cells;
use super::load::Load;
use super::tuning::{aim as tuning, slow};
use crate::watch::geo::Local;
use crate::watch::units::TrueBearing;

/// Mean head and bow over minutes.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Pointing {
    head: Local,
    bow: Option<Local>,
    since_s: f64,
}

impl Pointing {
    /// A step of `length_s`; now and then places where she does not point lose credit.
    pub fn step(
        &mut self,
        cells: &mut Cells,
        heading: TrueBearing,
        bow: Local,
        riding: &Load,
        length_s: f64,
    ) {
        let share = 1.0 - (-length_s / tuning::MEAN_S).exp();
        self.head = self.head + (Local::polar(heading, 1.0) - self.head).scaled(share);
        let mean = self.bow.map_or(bow, |mean| mean + (bow - mean).scaled(share));
        self.bow = Some(mean);
        self.since_s += length_s;
        if self.since_s < tuning::EVERY_S {
            return;
        }
        let seconds = std::mem::take(&mut self.since_s);
        let (steady, riding) = (self.head.length_m(), riding.riding());
        if steady < tuning::STEADY || riding <= 0.0 {
            return;
        }
        let ahead = self.head.scaled(1.0 / steady);
        let weight = riding * seconds / (2.0 * slow::AGAIN_S);
        let back = slow::BACK_NATS_PER_HOUR / 3600.0 * seconds;
        cells.point(mean, ahead, weight, back, tuning::SIGMA, tuning::MOST);
    }
}
