//! After two minutes the boat tells on which side of the mark the anchor is more likely; later the fixes tell how well the
//! mark was known.

use super::cells::Cells;
use super::prior;
use super::tuning::grid as tuning;
use crate::watch::geo::Local;
use crate::watch::units::WatchTime;

/// What is believed of a mark beforehand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Settling {
    let_go: WatchTime,
    /// How far off the mark may be beyond what is usual, metres.
    doubt_m: f64,
    /// Sum and count of the bows until it is settled.
    sum: Option<(Local, u32)>,
    /// Where she lay then, as a unit vector from the mark, and the reach.
    lies_to: Option<(Local, f64)>,
    last: Option<WatchTime>,
}

impl Settling {
    pub fn new(let_go: WatchTime, doubt_m: f64) -> Self {
        Self { let_go, doubt_m, sum: Some((Local::default(), 0)), lies_to: None, last: None }
    }

    /// A step: the bow, what it may be nearer by, the reach and the wander of the fixes, metres.
    pub fn step(
        &mut self,
        at: WatchTime,
        cells: &mut Cells,
        (bow, nearer_m): (Local, f64),
        reach_m: f64,
        wander_m: f64,
    ) {
        if let Some((sum, count)) = self.sum {
            let (sum, count) = (sum + bow, count + 1);
            self.sum = Some((sum, count));
            if at.since(self.let_go) < tuning::SETTLE {
                return;
            }
            self.sum = None;
            let mean = sum.scaled(1.0 / f64::from(count));
            let lies = mean.length_m() - nearer_m >= tuning::LIES_SHARE * reach_m;
            self.lies_to = lies.then(|| (mean.scaled(1.0 / mean.length_m().max(1e-9)), reach_m));
            self.last = None;
        }
        if self.last.is_some_and(|last| at.since(last) < tuning::PRIOR_EVERY) {
            return;
        }
        self.last = Some(at);
        let wander_m = (wander_m - tuning::PRIOR_WANDER_M).max(0.0).hypot(self.doubt_m);
        match self.lies_to {
            Some((way, reach_m)) => {
                cells.set_prior(|place| prior::behind_mark(place, way, reach_m, wander_m));
            }
            None => cells.set_prior(|place| prior::isotropic(place, wander_m)),
        }
    }
}
