//! Many nights in a few numbers.

use std::collections::BTreeMap;

use super::stats::{Share, Spread};
use super::{BARS_NATS, Call, FAR_M, MARGINS_M, NightScore};
use crate::watch::alert::AlertKind;
use crate::watch::units::Metres;

/// What one kind of alarm did in many nights.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Line {
    /// Nights on which the anchor stood and it called all the same, of those on which the anchor stood.
    pub spoiled: Share,
    /// Nights on which it called before the anchor moved, of those on which the anchor moved. Such a night counts
    /// neither as called nor as missed.
    pub too_soon: Share,
    /// How far the anchor had moved at the call, m.
    pub moved_m: Option<Spread>,
    /// How long after the anchor moved, s.
    pub delay_s: Option<Spread>,
    /// Nights on which the anchor moved and it never called.
    pub missed: Share,
    /// The same of those on which the anchor moved far.
    pub missed_far: Share,
}

/// What a crew heard on nights on which the anchor stood.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sleep {
    /// Nights without any audible alert.
    pub silent: Share,
    /// Nights without any but those about the wind.
    pub silent_but_for_wind: Share,
    /// Audible alerts by kind, of all these nights, the most frequent first.
    pub heard: Vec<(AlertKind, u32)>,
}

/// Many nights.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sum {
    /// Nights on which the anchor stood.
    pub stood: usize,
    /// Nights on which it moved.
    pub moved: usize,
    /// Share of the time that could not be judged, `0..=1`.
    pub unjudged: Option<f64>,
    /// The first of `drag` and `outside`: what wakes the crew because she has gone.
    pub gone: Line,
    /// What a crew heard while the anchor stood.
    pub sleep: Sleep,
    /// `drag`.
    pub drag: Line,
    /// `creep`.
    pub creep: Line,
    /// The first of both.
    pub first: Line,
    /// What `drag` would have done at each of [`BARS_NATS`].
    pub bars: [Line; BARS_NATS.len()],
    /// The plain circles, by margin.
    pub circles: [Line; MARGINS_M.len()],
    /// How far the anchor moved by the end where `drag` never came, greatest first, m.
    pub missed_m: Vec<f64>,
    /// What the best possible test would have needed, m.
    pub limit_m: Option<Spread>,
}

/// The nights of each class, in the order in which the classes come.
#[must_use]
pub fn by_class(scores: &[NightScore]) -> Vec<(&'static str, Sum)> {
    scores.chunk_by(|a, b| a.class == b.class).map(|nights| (nights[0].class, sum(nights))).collect()
}

/// All these nights.
#[must_use]
pub fn sum(scores: &[NightScore]) -> Sum {
    let watched: f64 = scores.iter().map(|night| night.watched.seconds()).sum();
    let unjudged: f64 = scores.iter().map(|night| night.unjudged.seconds()).sum();
    let moved = scores.iter().filter(|night| night.moved()).count();
    let missed = scores.iter().filter(|night| night.moved() && night.drag == Call::Never);
    let mut missed_m: Vec<f64> = missed.map(|night| night.greatest.0).collect();
    missed_m.sort_by(|a, b| b.total_cmp(a));
    Sum {
        stood: scores.len() - moved,
        moved,
        unjudged: (watched > 0.0).then(|| unjudged / watched),
        gone: line(scores, |night| night.gone),
        sleep: sleep(scores),
        drag: line(scores, |night| night.drag),
        creep: line(scores, |night| night.creep),
        first: line(scores, |night| night.first),
        bars: std::array::from_fn(|i| line(scores, |night| night.bars[i])),
        circles: std::array::from_fn(|i| line(scores, |night| night.circles[i])),
        missed_m,
        limit_m: Spread::of(scores.iter().filter_map(|night| night.limit).map(|limit| limit.0)),
    }
}

fn line(scores: &[NightScore], call: impl Fn(&NightScore) -> Call) -> Line {
    let mut line = Line::default();
    let (mut moved_m, mut delay_s) = (Vec::new(), Vec::new());
    for night in scores {
        let call = call(night);
        let too_soon = usize::from(matches!(call, Call::False { .. }));
        if !night.moved() {
            line.spoiled.of += 1;
            line.spoiled.count += too_soon;
            continue;
        }
        line.too_soon.of += 1;
        line.too_soon.count += too_soon;
        let missed = usize::from(call == Call::Never);
        line.missed.of += 1;
        line.missed.count += missed;
        if night.greatest >= Metres(FAR_M) {
            line.missed_far.of += 1;
            line.missed_far.count += missed;
        }
        if let Call::True { moved, delay } = call {
            moved_m.push(moved.0);
            delay_s.push(delay.seconds());
        }
    }
    Line { moved_m: Spread::of(moved_m), delay_s: Spread::of(delay_s), ..line }
}

fn sleep(scores: &[NightScore]) -> Sleep {
    let stood: Vec<&NightScore> = scores.iter().filter(|night| !night.moved()).collect();
    let without = |counts: fn(AlertKind) -> bool| Share {
        count: stood.iter().filter(|night| !night.heard.keys().any(|kind| counts(*kind))).count(),
        of: stood.len(),
    };
    let mut by_kind: BTreeMap<AlertKind, u32> = BTreeMap::new();
    for (kind, count) in stood.iter().flat_map(|night| &night.heard) {
        *by_kind.entry(*kind).or_default() += count;
    }
    let mut heard: Vec<(AlertKind, u32)> = by_kind.into_iter().collect();
    heard.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    Sleep {
        silent: without(|_| true),
        silent_but_for_wind: without(|kind| !matches!(kind, AlertKind::WindShift | AlertKind::WindHigh)),
        heard,
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::night;
    use super::*;
    use crate::watch::units::Span;

    #[test]
    fn a_call_before_the_anchor_moves_is_neither_early_nor_missed() {
        let too_soon = NightScore { drag: Call::False { after: Span::from_mins(5) }, ..night(30.0) };
        let seen = Call::True { moved: Metres(12.0), delay: Span::from_secs(90) };
        let called = NightScore { drag: seen, ..night(40.0) };
        let sum = sum(&[too_soon, called, night(8.0), night(25.0), night(0.4)]);
        assert_eq!((sum.stood, sum.moved), (1, 4));
        assert_eq!(sum.drag.too_soon, Share { count: 1, of: 4 });
        assert_eq!(sum.drag.missed, Share { count: 2, of: 4 });
        assert_eq!(sum.drag.missed_far, Share { count: 1, of: 3 });
        assert_eq!(sum.drag.spoiled, Share { count: 0, of: 1 });
        assert_eq!(sum.drag.moved_m.unwrap().median, 12.0);
        assert_eq!(sum.missed_m, [25.0, 8.0]);
    }

    #[test]
    fn a_night_is_silent_without_an_audible_alert_while_the_anchor_stood() {
        let heard = |kind| NightScore { heard: [(kind, 2)].into(), ..night(0.0) };
        let moved = NightScore { heard: [(AlertKind::Creep, 1)].into(), ..night(9.0) };
        let sleep = sum(&[night(0.0), heard(AlertKind::WindShift), heard(AlertKind::Creep), moved]).sleep;
        assert_eq!(sleep.silent, Share { count: 1, of: 3 });
        assert_eq!(sleep.silent_but_for_wind, Share { count: 2, of: 3 });
        assert_eq!(sleep.heard, [(AlertKind::Creep, 2), (AlertKind::WindShift, 2)]);
    }

    #[test]
    fn classes_keep_their_order() {
        let of = |class| NightScore { class, ..night(0.0) };
        let classes: Vec<_> = by_class(&[of("quiet"), of("quiet"), of("gale")]);
        assert_eq!(
            classes.iter().map(|(name, sum)| (*name, sum.stood)).collect::<Vec<_>>(),
            [("quiet", 2), ("gale", 1)]
        );
    }
}
