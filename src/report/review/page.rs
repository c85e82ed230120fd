//! A review as one page of text: the verdict first, then what it rests on.

use std::fmt::Write as _;

use jiff::Timestamp;

use super::{Alarm, Held, Review, SetFacts, WhatIfReview};
use crate::report::words::push_wrapped;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::units::{Metres, Span, WatchTime};

/// Alerts that the page tells one by one.
const ALARMS_SHOWN: usize = 30;
/// Gaps that the page tells one by one.
const GAPS_SHOWN: usize = 8;

/// The review as text. Times are UTC.
#[must_use]
pub fn text(review: &Review) -> String {
    let mut out = String::new();
    push_verdict(&mut out, review);
    push_stay(&mut out, review);
    push_numbers(&mut out, review);
    push_alarms(&mut out, review);
    push_circles(&mut out, review);
    push_data(&mut out, review);
    out
}

fn push_verdict(out: &mut String, review: &Review) {
    let holding = &review.holding;
    let (word, rest) = verdict(review);
    push_wrapped(out, "", &format!("{word}. {rest}"));
    if !matches!(holding.verdict, Held::NoAnchor | Held::CannotJudge) {
        push_wrapped(out, "", &format!("Confidence {}.", holding.confidence.name()));
    }
    if !holding.limits.is_empty() {
        push_wrapped(out, "", &format!("What limits it: {}.", holding.limits.join("; ")));
    }
    out.push('\n');
}

/// The verdict in a word or two, and what it says in a sentence.
pub(super) fn verdict(review: &Review) -> (String, String) {
    let holding = &review.holding;
    let about = holding
        .moved
        .map(|(distance, bearing)| format!(" about {:.0} m toward {bearing}", distance.0))
        .unwrap_or_default();
    let called = holding.called.map_or_else(String::new, |at| format!(" at {}", moment(at)));
    match holding.verdict {
        Held::NoAnchor => ("NO ANCHOR FOUND".into(), "Nothing to judge.".into()),
        Held::CannotJudge => ("CANNOT JUDGE".into(), "The positions do not show whether she held.".into()),
        Held::Held => {
            ("HELD".into(), "One place of the anchor explains every position that could be trusted.".into())
        }
        Held::Crept => {
            (format!("CREPT{about}"), format!("Called{called}: slow movement that is likely, not certain."))
        }
        Held::Dragged => (format!("DRAGGED{called}"), format!("The anchor moved{about}.")),
    }
}

fn push_stay(out: &mut String, review: &Review) {
    let (read, ride) = (&review.read, &review.ride);
    let mut row = |label: &str, words: String| push_row(out, label, &words);
    row("read", format!("{}, {} lines", read.name, read.lines));
    if let Some((first, last)) = read.span {
        row("from", format!("{} to {} UTC, {}", moment(first), moment(last), last.since(first)));
    }
    let place = if ride.place.is_empty() { "not told" } else { &ride.place };
    let rode = ride.veered.map_or_else(|| "not told".into(), |m| format!("{:.0} m", m.0));
    row("place", format!("{place}; boat {}; rode out {rode}", ride.boat));
    if let Some(drop) = ride.drop {
        row("drop point", format!("{:.5}, {:.5}", drop.lat_deg(), drop.lon_deg()));
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
        let (lat, lon) = (anchor.lat_deg(), anchor.lon_deg());
        push_row(
            out,
            "anchor",
            &format!("thought at {lat:.5}, {lon:.5}, within about {:.0} m", 2.0 * error.0),
        );
    }
    if let Some((evidence, at)) = holding.evidence {
        push_row(out, "evidence", &format!("that it moved: {evidence:.0} % at most, at {}", moment(at)));
    }
    if !facts.is_empty() || holding.anchor.is_some() || holding.evidence.is_some() {
        out.push('\n');
    }
}

/// Numbers of the night: what, how much, and when or beside what.
pub(super) fn facts(review: &Review) -> Vec<(&'static str, String, String)> {
    let Review { holding, wind, depth, ride, .. } = review;
    let mut facts = Vec::new();
    if let Some((farthest, at)) = holding.farthest {
        let reach = holding.reach.map_or_else(String::new, |m| format!("; the rode reaches {:.0} m", m.0));
        facts.push((
            "farthest",
            format!("{:.0} m", farthest.0),
            format!("from the drop point at {}{reach}", moment(at)),
        ));
    }
    if let Some((load, at)) = holding.load {
        let load =
            if load.0 < 950.0 { format!("{:.0} N", load.0) } else { format!("{:.1} kN", load.0 / 1000.0) };
        facts.push(("load", load, format!("at most, reckoned, at {}", moment(at))));
    }
    if let Some((mean, at)) = wind.strongest_mean {
        let all = wind.mean.map_or_else(String::new, |kn| format!("; mean of all {:.0} kn", kn.0));
        facts.push(("wind", format!("{:.0} kn", mean.0), format!("strongest mean, at {}{all}", moment(at))));
    }
    if let Some((gust, at)) = wind.strongest_gust {
        facts.push(("gust", format!("{:.0} kn", gust.0), format!("strongest, at {}", moment(at))));
    }
    if let Some((degrees, at)) = wind.greatest_shift.filter(|(degrees, _)| degrees.abs() >= 0.5) {
        let word = if degrees > 0.0 { "veered" } else { "backed" };
        facts.push(("shift", format!("{word} {:.0}°", degrees.abs()), format!("at most, by {}", moment(at))));
    }
    if let (Some((least, at)), Some((greatest, _))) = (depth.least, depth.greatest) {
        facts.push((
            "depth",
            format!("{:.1} to {:.1} m", least.0, greatest.0),
            format!("sounded, least at {}", moment(at)),
        ));
    }
    if let Some((least, at)) = depth.least_under_keel {
        facts.push(("under keel", format!("{:.1} m", least.0), format!("at least, at {}", moment(at))));
    }
    if holding.watched > Span::ZERO {
        let unjudged = 100.0 * holding.unjudged.seconds() / holding.watched.seconds();
        let rode = ride.veered.map_or_else(String::new, |m| format!("; {:.0} m of rode out", m.0));
        facts.push((
            "at anchor",
            holding.watched.to_string(),
            format!("watched, {unjudged:.0} % of it not to be judged{rode}"),
        ));
    }
    facts
}

/// How she was set.
pub(super) fn set_lines(set: &SetFacts) -> Vec<String> {
    let mut lines = Vec::new();
    lines.extend(set.took.map(|took| format!("{took} from letting go to brought up")));
    lines.extend(set.pulls.iter().cloned());
    lines.extend(set.proved.map(|proved| {
        let words = if proved {
            "proved by a hard burst astern that it held"
        } else {
            "never seen to hold a hard burst astern"
        };
        words.to_owned()
    }));
    lines
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

/// Circles that can be compared: what each is, its radius, and when it would first have raised `outside`.
pub(super) fn circle_rows(review: &Review) -> Vec<(String, Metres, String)> {
    let circle = &review.circle;
    let mut rows = Vec::new();
    if let Some(smallest) = circle.smallest_silent {
        let words = if review.holding.called.is_some() {
            "the smallest that would have been silent before the anchor moved"
        } else {
            "the smallest that would have been silent"
        };
        rows.push((words.to_owned(), smallest, "never while she held".to_owned()));
    }
    for (margin, radius, first) in &circle.margins {
        let when = first.map_or_else(|| "never".to_owned(), |at| format!("OUTSIDE at {}", moment(at)));
        rows.push((format!("reach at low water, length and {:.0} m", margin.0), *radius, when));
    }
    rows
}

/// The night as it was beside the night as it would have been.
pub(super) fn what_if_rows(review: &Review, other: &WhatIfReview) -> Vec<(&'static str, String, String)> {
    let both = |of: &dyn Fn(&Review) -> String| (of(review), of(&other.review));
    let first = |kind: AlertKind| {
        move |review: &Review| {
            let alarm = review.alarms.iter().find(|alarm| alarm.kind == kind);
            alarm.map_or_else(|| "never".to_owned(), |alarm| moment(alarm.raised))
        }
    };
    let count = |of: fn(&Alarm) -> bool| {
        move |review: &Review| review.alarms.iter().filter(|alarm| of(alarm)).count().to_string()
    };
    let circle = |review: &Review| {
        review.circle.set.map_or_else(|| "none".to_owned(), |radius| format!("{:.1} m", radius.0))
    };
    let least_keel = |review: &Review| {
        let least = review.depth.least_under_keel;
        least.map_or_else(
            || "not known".to_owned(),
            |(least, at)| format!("{:.1} m at {}", least.0, moment(at)),
        )
    };
    let rows: Vec<(&'static str, (String, String))> = vec![
        ("verdict", both(&|review| verdict(review).0)),
        ("circle", both(&circle)),
        ("outside", both(&first(AlertKind::Outside))),
        ("drag", both(&first(AlertKind::Drag))),
        ("alarms", both(&count(|alarm| alarm.priority == Priority::Alarm))),
        ("alerts", both(&count(|_| true))),
        ("under keel", both(&least_keel)),
    ];
    rows.into_iter().map(|(name, (was, would))| (name, was, would)).collect()
}

fn push_alarms(out: &mut String, review: &Review) {
    if review.alarms.is_empty() {
        out.push_str("No alert was raised.\n\n");
        return;
    }
    let _ = writeln!(out, "Alerts: {}", review.alarms.len() as u64 + review.alarms_left_out);
    for alarm in review.alarms.iter().take(ALARMS_SHOWN) {
        push_wrapped(out, "  ", &alarm_words(alarm));
    }
    let more = review.alarms.len().saturating_sub(ALARMS_SHOWN) as u64 + review.alarms_left_out;
    if more > 0 {
        let _ = writeln!(out, "  and {more} more; --json tells up to 1000");
    }
    out.push('\n');
}

fn alarm_words(alarm: &Alarm) -> String {
    let priority = priority(alarm.priority);
    let end = match (alarm.ended, alarm.rectified) {
        (Some(at), _) => format!("ended after {}", at.since(alarm.raised)),
        (None, Some(at)) => format!("its cause gone after {}", at.since(alarm.raised)),
        (None, None) => "still standing at the end".into(),
    };
    format!("{}  {} ({priority}, {end}): {}", moment(alarm.raised), alarm.kind.name(), alarm.reason.what)
}

/// The word for a priority.
pub(super) const fn priority(priority: Priority) -> &'static str {
    match priority {
        Priority::Alarm => "alarm",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
    }
}

fn push_data(out: &mut String, review: &Review) {
    out.push_str("How good the data is\n");
    for line in data_lines(review) {
        push_wrapped(out, "  ", &line);
    }
}

/// How far the recording can be trusted, a line each.
pub(super) fn data_lines(review: &Review) -> Vec<String> {
    let (read, fix) = (&review.read, &review.fix);
    let all = (fix.good + fix.doubtful + fix.none).seconds().max(1.0);
    let percent = |span: Span| 100.0 * span.seconds() / all;
    let worst = fix.worst_doubt.as_ref().map_or_else(String::new, |why| format!(", mostly: {why}"));
    let mut lines = vec![format!(
        "position: good {:.1} % of the time, doubtful {:.1} %{worst}, none {:.1} %",
        percent(fix.good),
        percent(fix.doubtful),
        percent(fix.none)
    )];
    lines.extend(fix.feeds.iter().map(|feed| {
        let why = feed.reasons.first().map_or_else(String::new, |(why, _)| format!("; most often: {why}"));
        format!(
            "{}: {} good sentences, {} not used, {} rejected{why}",
            feed.name, feed.good, feed.unused, feed.rejected
        )
    }));
    lines.extend(review.gaps.iter().take(GAPS_SHOWN).map(|gap| {
        let what = if gap.asleep { "the watch did not run" } else { "nothing was received" };
        format!("{} for {}: {what}", moment(gap.from), gap.to.since(gap.from))
    }));
    if review.gaps.len() > GAPS_SHOWN {
        lines.push(format!("and {} more gaps", review.gaps.len() - GAPS_SHOWN));
    }
    for (count, words) in [
        (read.damaged, "lines of the files could not be used"),
        (read.lost, "received lines were lost because the disk took nothing"),
    ] {
        if count > 0 {
            lines.push(format!("{count} {words}"));
        }
    }
    if read.put_back > 0 {
        lines.push(format!("the clock went back {} times; times after that are counted on", read.put_back));
    }
    if let Some(every) = read.point_every {
        lines.push(format!("a position every {every} only: what she did between is not known"));
    }
    if read.undated {
        lines.push("no date is told: days are counted from 1 January 1970".into());
    }
    lines.extend(read.broken_off.as_ref().map(|why| format!("the rest could not be read: {why}")));
    lines
}

fn push_row(out: &mut String, label: &str, words: &str) {
    push_wrapped(out, "  ", &format!("{label:11}{words}").replace("  ", "\u{a0}\u{a0}"));
}

/// A moment as a sailor writes it: `2 Jun 23:04:10`.
pub(super) fn moment(at: WatchTime) -> String {
    Timestamp::from_millisecond(at.0)
        .map_or_else(|_| "beyond the calendar".into(), |time| time.strftime("%-d %b %H:%M:%S").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::review::{Confidence, HoldingFacts, json};
    use crate::watch::units::{Metres, TrueBearing};

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
