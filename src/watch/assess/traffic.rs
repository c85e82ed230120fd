//! Does another vessel close on the swing circle?

use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::latch::Latch;
use crate::watch::snapshot::VesselView;
use crate::watch::tuning::CLOSING;
use crate::watch::units::{Metres, Span};

/// Another vessel closes on the swing circle.
pub fn closing(latch: &mut Latch, facts: &Facts) -> Condition {
    let nearest = &facts.closing;
    let raised = latch.note(facts.now, nearest.is_some(), nearest.is_none(), CLOSING);
    Condition::when(raised, || {
        let what = match nearest {
            Some((vessel, circle)) => closing_words(vessel, *circle),
            None => "A vessel that closed on the swing circle has altered, or is no longer heard.".to_owned(),
        };
        Condition::present(AlertKind::Closing, Priority::Warning, what)
    })
}

/// Who closes, from where, how fast and when.
fn closing_words(vessel: &VesselView, circle: Metres) -> String {
    let (distance, bearing) = (vessel.point.length_m(), vessel.point.bearing());
    let speed = vessel.sog.unwrap_or_default();
    let when = match vessel.closes_in.unwrap_or(Span::ZERO) {
        Span::ZERO => "is at your swing circle now".to_owned(),
        span => format!("will be at your swing circle of {:.0} m in {span}", circle.0),
    };
    format!("{} {when}: {distance:.0} m from the anchor on {bearing}, {:.1} kn.", vessel.called(), speed.0)
}
