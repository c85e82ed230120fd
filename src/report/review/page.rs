//! A review as one page of text: the verdict first, then what it rests on.

use std::fmt::Write as _;

use jiff::Timestamp;

use super::{Alarm, Held, Review};
use crate::report::words::push_wrapped;
use crate::watch::alert::Priority;
use crate::watch::units::{Span, WatchTime};

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
    push_data(&mut out, review);
    out
}

fn push_verdict(out: &mut String, review: &Review) {
    let holding = &review.holding;
    let moved = holding.moved.map_or_else(String::new, |(distance, bearing)| {
        format!(" about {:.0} m towards {bearing}", distance.0)
    });
    let called = holding.called.map_or_else(String::new, |at| format!(" at {}", moment(at)));
    let verdict = match holding.verdict {
        Held::NoAnchor => "NO ANCHOR FOUND. Nothing to judge.".to_owned(),
        Held::CannotJudge => "CANNOT JUDGE whether she held.".to_owned(),
        Held::Held => {
            "HELD. One place of the anchor explains every position that could be trusted.".to_owned()
        }
        Held::Crept => format!("CREPT{moved}, called{called}."),
        Held::Dragged => format!("DRAGGED{moved}, called{called}."),
    };
    push_wrapped(out, "", &verdict);
    if !matches!(holding.verdict, Held::NoAnchor | Held::CannotJudge) {
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
    out.push('\n');
}

fn push_numbers(out: &mut String, review: &Review) {
    let Review { holding, wind, depth, .. } = review;
    let mut rows: Vec<(&str, String)> = Vec::new();
    if let Some((farthest, at)) = holding.farthest {
        let reach = holding.reach.map_or_else(String::new, |m| format!("; the rode reaches {:.0} m", m.0));
        rows.push(("farthest", format!("{:.0} m from the drop point at {}{reach}", farthest.0, moment(at))));
    }
    if let Some((anchor, error)) = holding.anchor {
        rows.push((
            "anchor",
            format!(
                "thought at {:.5}, {:.5}, within about {:.0} m",
                anchor.lat_deg(),
                anchor.lon_deg(),
                2.0 * error.0
            ),
        ));
    }
    if let Some((evidence, at)) = holding.evidence {
        rows.push(("evidence", format!("that it moved: {:.0} % at most, at {}", evidence, moment(at))));
    }
    if let Some((load, at)) = holding.load {
        rows.push(("load", format!("{:.0} N at most, reckoned, at {}", load.0, moment(at))));
    }
    if let (Some(mean), Some((gust, at))) = (wind.mean, wind.strongest_gust) {
        let shift = wind.greatest_shift.map_or_else(String::new, |(deg, at)| {
            let word = if deg > 0.0 { "veered" } else { "backed" };
            format!("; {word} {:.0}° by {}", deg.abs(), moment(at))
        });
        rows.push(("wind", format!("mean {:.0} kn, gust {:.0} kn at {}{shift}", mean.0, gust.0, moment(at))));
    }
    if let (Some((least, at)), Some((greatest, _))) = (depth.least, depth.greatest) {
        rows.push((
            "depth",
            format!("{:.1} to {:.1} m sounded, least at {}", least.0, greatest.0, moment(at)),
        ));
    }
    if let Some((least, at)) = depth.least_under_keel {
        rows.push(("under keel", format!("{:.1} m at least, at {}", least.0, moment(at))));
    }
    for (label, words) in &rows {
        push_row(out, label, words);
    }
    if !rows.is_empty() {
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
        push_wrapped(out, "  ", &alarm_words(alarm));
    }
    let more = review.alarms.len().saturating_sub(ALARMS_SHOWN) as u64 + review.alarms_left_out;
    if more > 0 {
        let _ = writeln!(out, "  and {more} more; --json tells up to 1000");
    }
    out.push('\n');
}

fn alarm_words(alarm: &Alarm) -> String {
    let priority = match alarm.priority {
        Priority::Alarm => "alarm",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
    };
    let end = match (alarm.ended, alarm.rectified) {
        (Some(at), _) => format!("ended after {}", at.since(alarm.raised)),
        (None, Some(at)) => format!("its cause gone after {}", at.since(alarm.raised)),
        (None, None) => "still standing at the end".into(),
    };
    format!("{}  {} ({priority}, {end}): {}", moment(alarm.raised), alarm.kind.name(), alarm.reason.what)
}

fn push_data(out: &mut String, review: &Review) {
    let (read, fix) = (&review.read, &review.fix);
    out.push_str("How good the data is\n");
    let all = (fix.good + fix.doubtful + fix.none).seconds().max(1.0);
    let percent = |span: Span| 100.0 * span.seconds() / all;
    let worst = fix.worst_doubt.as_ref().map_or_else(String::new, |why| format!(", mostly: {why}"));
    push_wrapped(
        out,
        "  ",
        &format!(
            "position: good {:.1} % of the time, doubtful {:.1} %{worst}, none {:.1} %",
            percent(fix.good),
            percent(fix.doubtful),
            percent(fix.none)
        ),
    );
    for feed in &fix.feeds {
        let why = feed.reasons.first().map_or_else(String::new, |(why, _)| format!("; most often: {why}"));
        push_wrapped(
            out,
            "  ",
            &format!(
                "{}: {} good sentences, {} not used, {} rejected{why}",
                feed.name, feed.good, feed.unused, feed.rejected
            ),
        );
    }
    for gap in review.gaps.iter().take(GAPS_SHOWN) {
        let what = if gap.asleep { "the watch did not run" } else { "nothing was received" };
        push_wrapped(out, "  ", &format!("{} for {}: {what}", moment(gap.from), gap.to.since(gap.from)));
    }
    if review.gaps.len() > GAPS_SHOWN {
        let _ = writeln!(out, "  and {} more gaps", review.gaps.len() - GAPS_SHOWN);
    }
    for (count, words) in [
        (read.damaged, "lines of the files could not be used"),
        (read.lost, "received lines were lost because the disk took nothing"),
    ] {
        if count > 0 {
            let _ = writeln!(out, "  {count} {words}");
        }
    }
    if read.undated {
        out.push_str("  no date is told: days are counted from 1 January 1970\n");
    }
    if let Some(why) = &read.broken_off {
        push_wrapped(out, "  ", &format!("the rest could not be read: {why}"));
    }
}

fn push_row(out: &mut String, label: &str, words: &str) {
    push_wrapped(out, "  ", &format!("{label:11}{words}").replace("  ", "\u{a0}\u{a0}"));
}

/// A moment as a sailor writes it: `2 Jun 23:04:10`.
fn moment(at: WatchTime) -> String {
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
        assert!(
            page.starts_with("CREPT about 7 m towards 062°, called at 2 Jun 21:00:00.\nConfidence medium.\n"),
            "{page}"
        );
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
