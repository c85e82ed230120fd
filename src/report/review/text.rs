//! A review as one page of text: the verdict first, then what it rests on.

use std::fmt::Write as _;

use super::words::{circle_rows, data_lines, facts, priority, set_lines, span_words, verdict, what_if_rows};
use super::{Alarm, Review};
use crate::report::words::{printable, push_wrapped};

/// Alerts that the page lists one by one.
const ALARMS_SHOWN: usize = 30;

/// The review as text. Times are in its zone.
#[must_use]
pub fn text(review: &Review) -> String {
    let mut out = String::new();
    push_verdict(&mut out, review);
    push_stay(&mut out, review);
    push_numbers(&mut out, review);
    push_alarms(&mut out, review);
    push_circles(&mut out, review);
    push_data(&mut out, review);
    printable(&out)
}

fn push_verdict(out: &mut String, review: &Review) {
    let holding = &review.holding;
    let (word, rest) = verdict(review);
    push_wrapped(out, "", &format!("{word}. {rest}"));
    if holding.verdict.is_judged() {
        push_wrapped(out, "", &format!("Confidence {}.", holding.confidence.name()));
    }
    if !holding.limits.is_empty() {
        push_wrapped(out, "", &format!("What limits it: {}.", holding.limits.join("; ")));
    }
    out.push('\n');
}

fn push_stay(out: &mut String, review: &Review) {
    let (read, ride) = (&review.read, &review.ride);
    let mut row = |label: &str, words: String| push_row(out, label, &words);
    row("read", format!("{}, {} lines", read.name, read.lines));
    if let Some((first, last)) = read.span {
        row("from", span_words(review, (first, last)));
    }
    let place = if ride.place.is_empty() { "not entered" } else { &ride.place };
    let rode = ride.veered.map_or_else(|| "not entered".into(), |m| format!("{:.0} m", m.0));
    row("place", format!("{place}; boat {}; rode out {rode}", ride.boat));
    if let Some(drop) = ride.drop {
        row("drop point", drop.to_string());
    }
    for why in &ride.refused {
        row("refused", why.clone());
    }
    for line in set_lines(&review.set) {
        row("set", line);
    }
    out.push('\n');
}

fn push_numbers(out: &mut String, review: &Review) {
    let holding = &review.holding;
    let facts = facts(review);
    for (label, value, more) in &facts {
        push_row(out, label, [value.as_str(), more].join(" ").trim_end());
    }
    if let Some((anchor, error)) = holding.anchor {
        push_row(out, "anchor", &format!("thought at {anchor}, within about {:.0} m", 2.0 * error.0));
    }
    if let Some((evidence, at)) = holding.evidence {
        push_row(
            out,
            "evidence",
            &format!("that it moved: {evidence:.0} % at most, at {}", review.zone.moment(at)),
        );
    }
    if !facts.is_empty() || holding.anchor.is_some() || holding.evidence.is_some() {
        out.push('\n');
    }
}

fn push_circles(out: &mut String, review: &Review) {
    let rows = circle_rows(review);
    if !rows.is_empty() {
        out.push_str("What would have been right\n");
        for (name, radius, first) in rows {
            push_wrapped(out, "  ", &format!("{name}, {:.1} m: {first}", radius.0));
        }
        if let Some(rode) = review.circle.rode_by_scope {
            push_wrapped(
                out,
                "  ",
                &format!("rode by the least scope at the highest water: {:.0} m", rode.0),
            );
        }
        out.push('\n');
    }
    for other in &review.what_if {
        push_wrapped(out, "", &format!("What if {}:", other.asked));
        for (name, was, would) in what_if_rows(review, other) {
            push_row(out, name, &format!("{was} → {would}"));
        }
        out.push('\n');
    }
}

fn push_alarms(out: &mut String, review: &Review) {
    if review.alarms.is_empty() {
        out.push_str("No alert was raised.\n\n");
        return;
    }
    let _ = writeln!(out, "Alerts: {}", review.alarms.len() as u64 + review.alarms_left_out);
    for alarm in review.alarms.iter().take(ALARMS_SHOWN) {
        push_wrapped(out, "  ", &alarm_words(review, alarm));
    }
    let more = review.alarms.len().saturating_sub(ALARMS_SHOWN) as u64 + review.alarms_left_out;
    if more > 0 {
        let _ = writeln!(out, "  and {more} more; --json has up to 1000");
    }
    out.push('\n');
}

fn alarm_words(review: &Review, alarm: &Alarm) -> String {
    let priority = priority(alarm.priority);
    let end = match (alarm.ended, alarm.rectified) {
        (Some(at), _) => format!("ended after {}", at.since(alarm.raised)),
        (None, Some(at)) => format!("its cause gone after {}", at.since(alarm.raised)),
        (None, None) => "still standing at the end".into(),
    };
    format!(
        "{}  {} ({priority}, {end}): {}",
        review.zone.moment(alarm.raised),
        alarm.kind.name(),
        alarm.reason.what
    )
}

fn push_data(out: &mut String, review: &Review) {
    out.push_str("How good the data is\n");
    for line in data_lines(review) {
        push_wrapped(out, "  ", &line);
    }
}

fn push_row(out: &mut String, label: &str, words: &str) {
    push_wrapped(out, "  ", &format!("{label:11}{words}").replace("  ", "\u{a0}\u{a0}"));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::review::{Confidence, Held, HoldingFacts, json};
    use crate::watch::units::{Metres, TrueBearing, WatchTime};

    #[test]
    fn the_verdict_stands_first_with_what_limits_it() {
        let holding = HoldingFacts {
            verdict: Held::Crept,
            confidence: Confidence::Medium,
            limits: vec!["no heading: bow and antenna cannot be told apart".into()],
            called: Some(WatchTime(1_780_434_000_000)),
            moved: Some((Metres(7.4), TrueBearing::new(62.0))),
            ..HoldingFacts::default()
        };
        let review = Review { holding, ..Review::default() };
        let page = text(&review);
        assert!(page.starts_with("CREPT about 7 m toward 062°. Called at 2 Jun 21:00:00"), "{page}");
        assert!(page.contains("What limits it: no heading"), "{page}");
        assert_eq!(json(&review)["holding"]["called"], "2026-06-02T21:00:00.000Z");
    }

    #[test]
    fn an_empty_review_has_words_too() {
        let page = text(&Review::default());
        assert!(page.starts_with("NO ANCHOR FOUND"), "{page}");
        assert!(page.contains("No alert was raised."), "{page}");
    }
}
