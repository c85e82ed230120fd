//! A review as one JSON object: a contract, written down in `docs/sailing/review.md`.

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde_json::{Value, json};

use super::{
    Alarm, CircleFacts, DepthFacts, FeedFacts, FixFacts, Gap, HoldingFacts, Review, SetFacts, Then, WindFacts,
};
use crate::watch::allows::Allows;
use crate::watch::geo::Position;
use crate::watch::units::{Metres, Span, WatchTime};

/// The review as JSON: times RFC 3339 in UTC with milliseconds, lengths in metres, angles in degrees true, speeds in
/// knots, durations in seconds. What is not known is `null`.
#[must_use]
pub fn json(review: &Review) -> Value {
    json!({
        "ride": ride(review),
        "alarms": review.alarms.iter().map(alarm).collect::<Vec<_>>(),
        "alarms_left_out": review.alarms_left_out,
        "holding": holding(&review.holding),
        "wind": wind(&review.wind),
        "depth": depth(&review.depth),
        "fix": fix(&review.fix),
        "gaps": review.gaps.iter().map(gap).collect::<Vec<_>>(),
        "set": set(&review.set),
        "circle": circle(&review.circle),
        "what_if": review.what_if.iter().map(|other| json!({
            "asked": other.asked, "review": json(&other.review),
        })).collect::<Vec<_>>(),
    })
}

fn ride(review: &Review) -> Value {
    let Review { read, ride, .. } = review;
    json!({
        "source": read.name,
        "lines": read.lines,
        "first": read.span.map(|(first, _)| time(first)),
        "last": read.span.map(|(_, last)| time(last)),
        "damaged": read.damaged,
        "lost": read.lost,
        "undated": read.undated,
        "clock_put_back": read.put_back,
        "point_every_s": read.point_every.map(Span::seconds),
        "broken_off": read.broken_off,
        "place": ride.place,
        "boat": ride.boat,
        "began": ride.began.map(time),
        "brought_up": ride.brought_up.map(time),
        "ended": ride.ended.map(time),
        "veered_m": ride.veered.map(|m| m.0),
        "drop": ride.drop.map(position),
        "refused": ride.refused,
    })
}

fn holding(holding: &HoldingFacts) -> Value {
    json!({
        "verdict": holding.verdict.name(),
        "confidence": holding.confidence.name(),
        "limits": holding.limits,
        "called": holding.called.map(time),
        "moved_m": holding.moved.map(|(distance, _)| distance.0),
        "moved_towards_deg": holding.moved.map(|(_, bearing)| bearing.degrees()),
        "moved_since": holding.since.map(time),
        "evidence_percent": value(holding.evidence),
        "anchor": holding.anchor.map(|(at, error)| json!({
            "lat": at.lat_deg(), "lon": at.lon_deg(), "sigma_m": error.0,
        })),
        "farthest_m": value(holding.farthest.map(|(m, at)| (m.0, at))),
        "reach_m": holding.reach.map(|m| m.0),
        "load_n": value(holding.load.map(|(n, at)| (n.0, at))),
        "watched_s": holding.watched.seconds(),
        "unjudged_s": holding.unjudged.seconds(),
        "instruments": holding.allows.as_ref().map(instruments),
    })
}

fn instruments(allows: &Allows) -> Value {
    let means = &allows.means;
    json!({
        "wander_m": means.wander.0,
        "velocity": means.velocity,
        "holds_still": allows.holds_still,
        "wind": means.wind,
        "heading": means.heading,
        "depth": means.depth,
        "mark": means.mark,
        "called_at_m": allows.called_at().0,
    })
}

fn wind(wind: &WindFacts) -> Value {
    json!({
        "mean_kn": wind.mean.map(|kn| kn.0),
        "strongest_mean_kn": value(wind.strongest_mean.map(|(kn, at)| (kn.0, at))),
        "strongest_gust_kn": value(wind.strongest_gust.map(|(kn, at)| (kn.0, at))),
        "from_deg": wind.from.map(|bearing| bearing.degrees()),
        "to_deg": wind.to.map(|bearing| bearing.degrees()),
        "greatest_shift_deg": value(wind.greatest_shift),
    })
}

fn depth(depth: &DepthFacts) -> Value {
    let metres = |then: Then<Metres>| value(then.map(|(m, at)| (m.0, at)));
    json!({
        "least_m": metres(depth.least),
        "greatest_m": metres(depth.greatest),
        "least_under_keel_m": metres(depth.least_under_keel),
        "off_prediction_m": metres(depth.off_prediction),
    })
}

fn fix(fix: &FixFacts) -> Value {
    json!({
        "good_s": fix.good.seconds(),
        "doubtful_s": fix.doubtful.seconds(),
        "none_s": fix.none.seconds(),
        "worst_doubt": fix.worst_doubt,
        "feeds": fix.feeds.iter().map(feed).collect::<Vec<_>>(),
    })
}

fn set(set: &SetFacts) -> Value {
    json!({ "took_s": set.took.map(Span::seconds), "pulls": set.pulls, "proved": set.proved })
}

fn circle(circle: &CircleFacts) -> Value {
    json!({
        "set_m": circle.set.map(|m| m.0),
        "smallest_silent_m": circle.smallest_silent.map(|m| m.0),
        "margins": circle.margins.iter().map(|(margin, radius, first)| json!({
            "margin_m": margin.0, "radius_m": radius.0, "first_outside": first.map(time),
        })).collect::<Vec<_>>(),
        "rode_by_scope_m": circle.rode_by_scope.map(|m| m.0),
    })
}

/// A moment as RFC 3339 in UTC with milliseconds.
pub(super) fn time(at: WatchTime) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(
        |_| "beyond the calendar".into(),
        |time| time.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string(),
    )
}

fn position(position: Position) -> Value {
    json!({ "lat": position.lat_deg(), "lon": position.lon_deg() })
}

fn value(then: Then<f64>) -> Value {
    then.map_or(Value::Null, |(value, at)| json!({ "value": value, "at": time(at) }))
}

fn alarm(alarm: &Alarm) -> Value {
    json!({
        "kind": alarm.kind.name(),
        "priority": alarm.priority,
        "escalated": alarm.escalated,
        "raised": time(alarm.raised),
        "acknowledged": alarm.acknowledged.map(time),
        "rectified": alarm.rectified.map(time),
        "ended": alarm.ended.map(time),
        "reason": alarm.reason.what,
        "action": alarm.reason.action,
    })
}

fn feed(feed: &FeedFacts) -> Value {
    json!({
        "name": feed.name,
        "good": feed.good,
        "unused": feed.unused,
        "rejected": feed.rejected,
        "reasons": feed.reasons.iter().copied().collect::<BTreeMap<_, _>>(),
    })
}

fn gap(gap: &Gap) -> Value {
    json!({ "from": time(gap.from), "to": time(gap.to), "asleep": gap.asleep })
}
