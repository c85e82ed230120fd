//! Evidence that the anchor has moved: how far the best that the cells can say has fallen below what it has been.

use super::tuning::base as tuning;
use crate::watch::geo::Local;

/// Follows one of the cells' two sums.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Evidence {
    base: f64,
    /// Nats that speak for a moved anchor; negative: none do.
    pub nats: f64,
}

impl Evidence {
    /// A step in which the best of the cells was `best` nats. While judging begins the base is `pinned`: a mark that is
    /// wrong from the start is no news of a moved anchor. `sinks_s`: seconds by which it sinks. Where she lies `inside`
    /// what even the best cell allows, the cells pay and nothing rises: an anchor that moves never brings her nearer.
    pub fn step(&mut self, best: f64, is_pinned: bool, inside: bool, sinks_s: f64) {
        let before = self.nats;
        self.base = best.max(self.base - tuning::NATS_PER_HOUR / 3600.0 * sinks_s);
        if is_pinned {
            self.base = best.min(-tuning::HEADROOM_NATS);
        }
        if inside {
            self.base = self.base.min(best + before.max(0.0));
        }
        self.nats = self.base - best;
    }
}

/// Whether judging has only begun.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Beginning {
    first: Option<Local>,
    seconds: f64,
}

impl Beginning {
    /// A step at `bow`: true for the first minutes while she stays about where she was.
    pub fn step(&mut self, bow: Local, length_s: f64) -> bool {
        let first = *self.first.get_or_insert(bow);
        self.seconds += length_s;
        self.seconds <= tuning::PINNED_S && (bow - first).length_m() < tuning::PINNED_M
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_cells_pay_while_she_lies_nearer_is_no_evidence() {
        let mut evidence = Evidence::default();
        evidence.step(-1.0, true, false, 5.0);
        for step in 0..20 {
            evidence.step(-1.0 - 0.5 * f64::from(step), false, true, 5.0);
        }
        assert!(evidence.nats <= 0.0, "{evidence:?}");
        // Beyond the reach it rises from there.
        evidence.step(-14.5, false, false, 5.0);
        assert!((evidence.nats - 4.0).abs() < 0.1, "{evidence:?}");
    }
}
