//! A made-up night for the time bar of a replay.

use std::sync::Arc;

use nightrode::tui::replay::{Heat, Mark, MarkKind, Night, Playing};
use nightrode::watch::units::Span;

use super::scenes;

/// The night as it stands at the scenes' moment, running.
#[allow(dead_code, reason = "for the gallery and its pictures")]
pub fn playing() -> Playing {
    Playing { night: Arc::new(night()), now: scenes::NOW, runs: true, speed: 60.0 }
}

/// A night of ten hours about the scenes' own moment.
pub fn night() -> Night {
    let from = scenes::NOW - Span::from_mins(382);
    let at = |minutes: i64| from + Span::from_mins(minutes);
    let share = |minutes: i64| match minutes {
        0..10 => None,
        10..400 => Some(0.66 + 0.12 * (minutes as f64 / 37.0).sin()),
        _ => Some(0.7 + (minutes - 400) as f64 / 500.0),
    };
    let mark = |minutes, kind, words: &str| Mark { at: at(minutes), kind, words: words.into() };
    Night {
        name: "20260602T175207Z-hollow-ness".into(),
        from,
        to: at(600),
        heat: (0..600).map(|minute| Heat { at: at(minute), share: share(minute) }).collect(),
        marks: vec![
            mark(2, MarkKind::Act, "let go"),
            mark(10, MarkKind::Act, "brought up"),
            mark(251, MarkKind::Warning, "STRONG WIND"),
            mark(330, MarkKind::Shift, "WIND SHIFT"),
            mark(520, MarkKind::Alarm, "DRAGGING"),
        ],
        gaps: vec![(at(440), at(452))],
        what_if: String::new(),
    }
}
