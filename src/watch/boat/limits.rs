//! The limits that raise alerts, in one table: what each is called in the boat file and on the screen, what it means, what
//! it may be, and what it is where nobody sets it. Reading, writing, the form and the documentation follow it.

use serde::{Deserialize, Serialize};

use super::Sector;
use super::ranges::{Range, range};
use crate::watch::units::{Knots, Metres, Span};

/// The limits that raise alerts. Every one has a default; the crew changes them while the watch runs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Radius of the circle about the drop point, if the crew set one; else it follows from rode, boat length
    /// and `circle_margin`.
    pub circle: Option<Metres>,
    /// What is added to reach + boat length about the learned place of the anchor when no circle is set.
    pub circle_margin: Metres,
    /// How long the boat must lie outside the circle before `outside` is raised.
    pub outside_after: Span,
    /// Without a valid position for this long: warning.
    pub fix_lost_after: Span,
    /// Without a valid position for this long: alarm.
    pub fix_lost_alarm_after: Span,
    /// Turn of the mean wind since brought up, degrees.
    pub wind_shift_deg: f64,
    /// Below this mean wind a shift wakes nobody, unless where she would lie then is worse.
    #[serde(default = "usual_wind_shift_from")]
    pub wind_shift_from: Knots,
    /// Length of the mean that decides on a wind shift.
    pub wind_window: Span,
    /// Mean wind (ten minutes).
    pub wind_high: Knots,
    /// Gust (three seconds).
    pub gust_high: Knots,
    /// Wind directions the crew does not want to lie in (a lee shore).
    pub barred: Vec<Sector>,
    /// Least water under the keel.
    pub under_keel: Metres,
    /// Least scope at high water: veered ÷ (depth + bow height).
    pub scope: f64,
    /// Sounder against predicted tide.
    pub depth_odd: Metres,
    /// A warning that nobody answers becomes an alarm after this long.
    pub escalate_after: Span,
    /// A round on deck is due this often; `None`: no rounds are asked for.
    #[serde(default)]
    pub round_every: Option<Span>,
    /// A round that is this late is a warning, and three times this late an alarm.
    #[serde(default = "usual_round_grace")]
    pub round_grace: Span,
}

/// A limit that is a number.
#[derive(Clone, Copy, Debug)]
pub struct Limit {
    /// Its key in the files.
    pub key: &'static str,
    /// Its name on the screen.
    pub label: &'static str,
    /// What it means, without a capital or a full stop.
    pub about: &'static str,
    /// What it may be, in the unit of the files and the screen.
    pub range: Range,
    /// What it is where nobody sets it; `None`: it may stay unset. Common practice, no source.
    pub usual: Option<f64>,
    /// Reads it; `None` where it is not set.
    pub get: fn(&Limits) -> Option<f64>,
    /// Sets it.
    pub set: fn(&mut Limits, f64),
}

/// Time after which an unacknowledged warning becomes an alarm: five minutes at most, IMO MSC.302(87) on warnings that nobody
/// acknowledges (from memory).
pub const ESCALATE_AFTER: Range = range("s", 30.0, 300.0);
/// What files of earlier versions may hold; more than [`ESCALATE_AFTER`] is taken for its most.
pub const ESCALATE_AFTER_READ: Range = range("s", 30.0, 3600.0);

/// Every limit that is a number, in the order of the files.
pub const LIMITS: [Limit; 16] = [
    Limit {
        key: "circle_m",
        label: "circle",
        about: "radius of the circle about the drop point; reach + length + 10 m wakes for nothing 1 night in 5, + 20 m 1 in 14; none: the margin about the learned place of the anchor",
        range: range("m", 5.0, 1000.0),
        usual: None,
        get: |l| l.circle.map(|circle| circle.0),
        set: |l, v| l.circle = Some(Metres(v)),
    },
    Limit {
        key: "circle_margin_m",
        label: "circle margin",
        about: "added to reach + length where no circle is set; more where the receiver wanders",
        range: range("m", 0.0, 200.0),
        // Measured: `docs/inside/holding.md`, the circle.
        usual: Some(25.0),
        get: |l| Some(l.circle_margin.0),
        set: |l, v| l.circle_margin = Metres(v),
    },
    Limit {
        key: "outside_after_s",
        label: "outside for",
        about: "so long outside the circle: alarm",
        range: range("s", 1.0, 600.0),
        usual: Some(10.0),
        get: |l| Some(l.outside_after.seconds()),
        set: |l, v| l.outside_after = seconds(v),
    },
    Limit {
        key: "fix_lost_after_s",
        label: "no position for",
        about: "so long without a position: caution; it sounds as the load and the room ask",
        range: range("s", 5.0, 120.0),
        usual: Some(15.0),
        get: |l| Some(l.fix_lost_after.seconds()),
        set: |l, v| l.fix_lost_after = seconds(v),
    },
    Limit {
        key: "fix_lost_alarm_after_s",
        label: "then alarm after",
        about: "so long without a position at least: alarm",
        range: range("s", 10.0, 600.0),
        usual: Some(60.0),
        get: |l| Some(l.fix_lost_alarm_after.seconds()),
        set: |l, v| l.fix_lost_alarm_after = seconds(v),
    },
    Limit {
        key: "wind_shift_deg",
        label: "wind shift",
        about: "turn of the mean wind since brought up",
        range: range("°", 10.0, 180.0),
        usual: Some(45.0),
        get: |l| Some(l.wind_shift_deg),
        set: |l, v| l.wind_shift_deg = v,
    },
    Limit {
        key: "wind_shift_kn",
        label: "shift wakes from",
        about: "mean wind from which a shift wakes; in less it is silent, unless where she would lie is worse",
        range: range("kn", 0.0, 40.0),
        // In less wind an anchor that turns is hardly pulled at: our choice.
        usual: Some(8.0),
        get: |l| Some(l.wind_shift_from.0),
        set: |l, v| l.wind_shift_from = Knots(v),
    },
    Limit {
        key: "wind_window_min",
        label: "shift judged over",
        about: "length of the mean that judges a wind shift",
        range: range("min", 1.0, 60.0),
        usual: Some(10.0),
        get: |l| Some(minutes(l.wind_window)),
        set: |l, v| l.wind_window = seconds(v * 60.0),
    },
    Limit {
        key: "wind_high_kn",
        label: "mean wind",
        about: "mean of ten minutes from which STRONG WIND is raised",
        range: range("kn", 5.0, 100.0),
        usual: Some(25.0),
        get: |l| Some(l.wind_high.0),
        set: |l, v| l.wind_high = Knots(v),
    },
    Limit {
        key: "gust_high_kn",
        label: "gust",
        about: "gust of three seconds from which STRONG WIND is raised",
        range: range("kn", 5.0, 150.0),
        usual: Some(34.0),
        get: |l| Some(l.gust_high.0),
        set: |l, v| l.gust_high = Knots(v),
    },
    Limit {
        key: "under_keel_m",
        label: "under keel",
        about: "least water under the keel, now and at the next low water",
        range: range("m", 0.0, 20.0),
        usual: Some(0.5),
        get: |l| Some(l.under_keel.0),
        set: |l, v| l.under_keel = Metres(v),
    },
    Limit {
        key: "scope",
        label: "scope",
        about: "least at high water: rode out ÷ (depth + bow height)",
        range: range("", 1.0, 20.0),
        usual: Some(3.0),
        get: |l| Some(l.scope),
        set: |l, v| l.scope = v,
    },
    Limit {
        key: "depth_odd_m",
        label: "depth odd",
        about: "greatest difference between sounder and predicted tide",
        range: range("m", 0.2, 10.0),
        usual: Some(1.0),
        get: |l| Some(l.depth_odd.0),
        set: |l, v| l.depth_odd = Metres(v),
    },
    Limit {
        key: "escalate_after_s",
        label: "unanswered for",
        about: "a warning that nobody answers becomes an alarm after so long",
        range: ESCALATE_AFTER,
        usual: Some(300.0),
        get: |l| Some(l.escalate_after.seconds()),
        set: |l, v| l.escalate_after = seconds(v),
    },
    Limit {
        key: "round_every_min",
        label: "round every",
        about: "a round on deck is due this often; none: no rounds are asked for",
        range: range("min", 10.0, 720.0),
        usual: None,
        get: |l| l.round_every.map(minutes),
        set: |l, v| l.round_every = Some(seconds(v * 60.0)),
    },
    Limit {
        key: "round_grace_min",
        label: "round late by",
        about: "a round this late is a warning; three times this late an alarm",
        range: range("min", 1.0, 60.0),
        usual: Some(10.0),
        get: |l| Some(minutes(l.round_grace)),
        set: |l, v| l.round_grace = seconds(v * 60.0),
    },
];

fn seconds(value: f64) -> Span {
    // Hours at most, by the ranges above.
    Span::from_millis((value * 1000.0).round() as i64)
}

fn minutes(span: Span) -> f64 {
    span.seconds() / 60.0
}

/// The limit with this key.
#[must_use]
pub fn limit(key: &str) -> Option<&'static Limit> {
    LIMITS.iter().find(|limit| limit.key == key)
}

impl Limits {
    /// Nothing set: what the table is put into.
    const BLANK: Self = Self {
        circle: None,
        circle_margin: Metres(0.0),
        outside_after: Span::ZERO,
        fix_lost_after: Span::ZERO,
        fix_lost_alarm_after: Span::ZERO,
        wind_shift_deg: 0.0,
        wind_shift_from: Knots(0.0),
        wind_window: Span::ZERO,
        wind_high: Knots(0.0),
        gust_high: Knots(0.0),
        barred: Vec::new(),
        under_keel: Metres(0.0),
        scope: 0.0,
        depth_odd: Metres(0.0),
        escalate_after: Span::ZERO,
        round_every: None,
        round_grace: Span::ZERO,
    };
}

impl Default for Limits {
    fn default() -> Self {
        let mut limits = Self::BLANK;
        for limit in &LIMITS {
            if let Some(usual) = limit.usual {
                (limit.set)(&mut limits, usual);
            }
        }
        limits
    }
}

/// For logs from before light air was told apart.
fn usual_wind_shift_from() -> Knots {
    Limits::default().wind_shift_from
}

/// For logs from before rounds could be late.
fn usual_round_grace() -> Span {
    Limits::default().round_grace
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_is_usual_within_its_range_and_sets_only_itself() {
        let usual = Limits::default();
        for limit in &LIMITS {
            assert_eq!((limit.get)(&usual), limit.usual, "{}", limit.key);
            assert!(limit.usual.is_none_or(|value| (limit.range.least..=limit.range.most).contains(&value)));
            let mut limits = usual.clone();
            (limit.set)(&mut limits, limit.range.most);
            for other in &LIMITS {
                let expected = if other.key == limit.key { Some(limit.range.most) } else { other.usual };
                assert_eq!((other.get)(&limits), expected, "{} sets {}", limit.key, other.key);
            }
        }
    }
}
