//! The words of a review: the same on the page of text and on the page for a browser.

use super::{Alarm, Held, Review, SetFacts, WhatIfReview};
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::units::{Metres, Span, WatchTime};

/// Gaps that are listed one by one.
const GAPS_SHOWN: usize = 8;

/// The verdict in a word or two, and what it says in a sentence.
pub(super) fn verdict(review: &Review) -> (String, String) {
    let holding = &review.holding;
    let about = holding
        .moved
        .map(|(distance, bearing)| format!(" about {:.0} m toward {bearing}", distance.0))
        .unwrap_or_default();
    let called = holding.called.map_or_else(String::new, |at| format!(" at {}", review.zone.moment(at)));
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
        Held::UnderWay => (
            "UNDER WAY".into(),
            format!(
                "She made way for {}, and nobody marked an anchor: there is none to judge. Alerts are those of a boat \
                 that is taken to lie at anchor.",
                holding.made_way
            ),
        ),
    }
}

/// A number of the night: what, how much, and when or beside what.
pub(super) type Fact = (&'static str, String, String);

/// Numbers of the night.
pub(super) fn facts(review: &Review) -> Vec<Fact> {
    let of = [farthest(review), load(review), mean_wind(review), gust(review), shift(review)];
    let more = [depth(review), under_keel(review), at_anchor(review), judged(review)];
    of.into_iter().chain(more).flatten().collect()
}

fn farthest(review: &Review) -> Option<Fact> {
    let (farthest, at) = review.holding.farthest?;
    let reach = review.holding.reach.map_or_else(String::new, |m| format!("; the rode reaches {:.0} m", m.0));
    let beside = format!("from the drop point at {}{reach}", review.zone.moment(at));
    Some(("farthest", format!("{:.0} m", farthest.0), beside))
}

fn load(review: &Review) -> Option<Fact> {
    let (load, at) = review.holding.load?;
    let load = if load.0 < 950.0 { format!("{:.0} N", load.0) } else { format!("{:.1} kN", load.0 / 1000.0) };
    Some(("load", load, format!("at most, calculated, at {}", review.zone.moment(at))))
}

fn mean_wind(review: &Review) -> Option<Fact> {
    let (mean, at) = review.wind.strongest_mean?;
    let all = review.wind.mean.map_or_else(String::new, |kn| format!("; mean of all {:.0} kn", kn.0));
    Some(("wind", format!("{:.0} kn", mean.0), format!("strongest mean, at {}{all}", review.zone.moment(at))))
}

fn gust(review: &Review) -> Option<Fact> {
    let (gust, at) = review.wind.strongest_gust?;
    Some(("gust", format!("{:.0} kn", gust.0), format!("strongest, at {}", review.zone.moment(at))))
}

fn shift(review: &Review) -> Option<Fact> {
    let (degrees, at) = review.wind.greatest_shift.filter(|(degrees, _)| degrees.abs() >= 0.5)?;
    let word = if degrees > 0.0 { "veered" } else { "backed" };
    Some((
        "shift",
        format!("{word} {:.0}°", degrees.abs()),
        format!("at most, by {}", review.zone.moment(at)),
    ))
}

fn depth(review: &Review) -> Option<Fact> {
    let ((least, at), (greatest, _)) = (review.depth.least?, review.depth.greatest?);
    let range = format!("{:.1} to {:.1} m", least.0, greatest.0);
    Some(("depth", range, format!("sounded, least at {}", review.zone.moment(at))))
}

fn under_keel(review: &Review) -> Option<Fact> {
    let (least, at) = review.depth.least_under_keel?;
    Some(("under keel", format!("{:.1} m", least.0), format!("at least, at {}", review.zone.moment(at))))
}

fn at_anchor(review: &Review) -> Option<Fact> {
    let holding = &review.holding;
    if holding.watched <= Span::ZERO {
        return None;
    }
    let unjudged = 100.0 * holding.unjudged.seconds() / holding.watched.seconds();
    let rode = review.ride.veered.map_or_else(String::new, |m| format!("; {:.0} m of rode out", m.0));
    let beside = format!("watched, {unjudged:.0} % of it not to be judged{rode}");
    Some(("at anchor", holding.watched.to_string(), beside))
}

/// What the instruments of that night allowed.
fn judged(review: &Review) -> Option<Fact> {
    let allows = review.holding.allows?;
    let with = |(sensor, called): (_, Metres)| format!("; {:.0} m with {sensor}", called.0);
    let helps = allows.would_help().map(with).unwrap_or_default();
    let receiver = allows.of_the_receiver().map(|words| format!(". {words}")).unwrap_or_default();
    let beside = format!("is about where a drag shows with these instruments{helps}{receiver}");
    Some(("drag", format!("{:.0} m", allows.called_at().0), beside))
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
        let when =
            first.map_or_else(|| "never".to_owned(), |at| format!("OUTSIDE at {}", review.zone.moment(at)));
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
            alarm.map_or_else(|| "never".to_owned(), |alarm| review.zone.moment(alarm.raised))
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
            |(least, at)| format!("{:.1} m at {}", least.0, review.zone.moment(at)),
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

/// From when to when the recording runs, and how long.
pub(super) fn span_words(review: &Review, (first, last): (WatchTime, WatchTime)) -> String {
    let zone = &review.zone;
    let name = review.zone_name();
    format!("{} to {} {name}, {}", zone.moment(first), zone.moment(last), last.since(first))
}

/// The word for a priority.
pub(super) const fn priority(priority: Priority) -> &'static str {
    match priority {
        Priority::Alarm => "alarm",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
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
        format!("{} for {}: {what}", review.zone.moment(gap.from), gap.to.since(gap.from))
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
        lines.push("no date is given: days are counted from 1 January 1970".into());
    }
    lines.extend(read.broken_off.as_ref().map(|why| format!("the rest could not be read: {why}")));
    lines
}
