//! A subordinate station: the turns of a reference station, shifted in time and height.

use super::harmonic::Harmonic;
use super::turns::TurnTable;
use super::{Turn, TurnKind};
use crate::watch::units::{Metres, Span, WatchTime};

/// What to do to a reference station's high and low waters to get this place's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Offsets {
    pub(super) high_later: Span,
    pub(super) low_later: Span,
    pub(super) heights: HeightOffsets,
}

/// How heights above the reference's chart datum become heights above this place's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum HeightOffsets {
    /// Multiplied.
    Ratio { high: f64, low: f64 },
    /// Added, metres.
    Fixed { high_m: f64, low_m: f64 },
}

/// Offsets move turns by up to half a day: that much more of the reference is looked at on either side.
const MARGIN: Span = Span::from_mins(60 * 26);

impl Offsets {
    /// The place's own high and low waters, enough to know every height from `from` to `until`. `None` if the
    /// reference does not turn there.
    pub(super) fn table(&self, reference: &Harmonic, from: WatchTime, until: WatchTime) -> Option<TurnTable> {
        let turns = reference.curve(from - MARGIN, until + MARGIN).turns();
        TurnTable::calculated(turns.into_iter().map(|turn| self.shift(turn)).collect())
    }

    fn shift(&self, turn: Turn) -> Turn {
        let high = turn.kind == TurnKind::High;
        let later = if high { self.high_later } else { self.low_later };
        let height = match self.heights {
            HeightOffsets::Ratio { high: ratio, .. } if high => turn.height.0 * ratio,
            HeightOffsets::Ratio { low: ratio, .. } => turn.height.0 * ratio,
            HeightOffsets::Fixed { high_m, .. } if high => turn.height.0 + high_m,
            HeightOffsets::Fixed { low_m, .. } => turn.height.0 + low_m,
        };
        Turn { at: turn.at + later, height: Metres(height), kind: turn.kind }
    }
}
