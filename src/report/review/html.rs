//! A review as one page for a browser: pictures and tables, nothing fetched from anywhere, no script.

mod counts;
mod graphs;
mod plan;

use std::fmt::Write as _;

use super::page::{self, moment};
use super::{Alarm, Held, Review};
use crate::report::svg::{STYLE, escaped};
use crate::watch::alert::Priority;
use crate::watch::units::{Metres, WatchTime};

/// Alerts that the table tells one by one.
const ALARMS_SHOWN: usize = 200;

/// The plan of the night as a picture of its own; `None` where no position was seen.
#[must_use]
pub fn plan_svg(review: &Review) -> Option<String> {
    plan::picture(review).map(|(svg, size)| svg.file(size, PLAN_TITLE, &plan::about(review)))
}

const PLAN_TITLE: &str = "Plan of the night";

/// The whole page.
#[must_use]
pub fn html(review: &Review) -> String {
    let mut out = String::with_capacity(64 * 1024);
    let name = if review.ride.place.is_empty() { &review.read.name } else { &review.ride.place };
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <meta name=\"color-scheme\" content=\"light dark\">\
         <title>{} · night at anchor</title><style>{STYLE}{}</style></head><body><main>",
        escaped(name),
        include_str!("../../../assets/report/page.css")
    );
    push_verdict(&mut out, review);
    push_facts(&mut out, review);
    push_plan(&mut out, review);
    if let Some((svg, size)) = graphs::picture(review) {
        let words =
            "Times are UTC. Numbers mark alerts of the table below; hatched: nothing was heard or watched.";
        push_figure(
            &mut out,
            "The night",
            &svg.element(size, "The night by time", &graphs::about(review)),
            words,
        );
    }
    push_counts(&mut out, review);
    push_alarms(&mut out, review);
    push_circles(&mut out, review);
    push_set(&mut out, review);
    push_data(&mut out, review);
    out.push_str(
        "<p class=\"caution\">An aid, not a look-out: COLREG Rule 5 asks for a proper look-out by sight and hearing at \
         anchor too. A receiver can err. What a night showed says nothing about the next one.</p></main></body></html>\n",
    );
    out
}

fn push_figure(out: &mut String, heading: &str, picture: &str, caption: &str) {
    let _ = write!(
        out,
        "<h2>{}</h2><figure>{picture}<figcaption>{}</figcaption></figure>",
        escaped(heading),
        escaped(caption)
    );
}

fn push_verdict(out: &mut String, review: &Review) {
    let holding = &review.holding;
    let trouble = matches!(holding.verdict, Held::Crept | Held::Dragged);
    let class = if trouble { " class=\"trouble\"" } else { "" };
    let (word, rest) = page::verdict(review);
    let _ = write!(out, "<h1{class}>{}</h1><p class=\"lead\">{}</p>", escaped(&word), escaped(&rest));
    if !matches!(holding.verdict, Held::NoAnchor | Held::CannotJudge) {
        let _ = write!(out, "<p>Confidence {}.", holding.confidence.name());
        if let Some((evidence, at)) = holding.evidence {
            let _ = write!(out, " Evidence that the anchor moved: {evidence:.0} % at most, {}.", moment(at));
        }
        out.push_str("</p>");
    }
    if !holding.limits.is_empty() {
        let _ = write!(out, "<p>What limits it: {}.</p>", escaped(&holding.limits.join("; ")));
    }
    let (read, ride) = (&review.read, &review.ride);
    let mut whence = vec![ride.boat.clone(), ride.place.clone()];
    whence
        .extend(read.span.map(|(first, last)| {
            format!("{} to {} UTC, {}", moment(first), moment(last), last.since(first))
        }));
    whence.retain(|words| !words.is_empty());
    let _ = write!(out, "<p class=\"dim\">{}</p>", escaped(&whence.join(" · ")));
}

fn push_facts(out: &mut String, review: &Review) {
    let facts = page::facts(review);
    if facts.is_empty() {
        return;
    }
    out.push_str("<dl class=\"facts\">");
    for (label, value, more) in facts {
        let _ = write!(
            out,
            "<div><dt>{}</dt><dd>{}<small>{}</small></dd></div>",
            escaped(label),
            escaped(&value),
            escaped(&more)
        );
    }
    out.push_str("</dl>");
}

fn push_plan(out: &mut String, review: &Review) {
    let Some((svg, size)) = plan::picture(review) else { return };
    out.push_str("<div class=\"plan\">");
    let words = "Strong circle: OUTSIDE is raised beyond it. Dashed: farthest reach of the rode. Cross: drop point. \
                 Ellipse: where the anchor was thought to lie at the end, two standard deviations. The track darkens \
                 with time.";
    push_figure(out, PLAN_TITLE, &svg.element(size, PLAN_TITLE, &plan::about(review)), words);
    out.push_str("</div>");
}

fn push_counts(out: &mut String, review: &Review) {
    let pictures = counts::pictures(review);
    if pictures.is_empty() {
        return;
    }
    out.push_str("<h2>How often</h2><div class=\"pair\">");
    for (svg, size, title, about) in pictures {
        let _ = write!(
            out,
            "<figure>{}<figcaption>{}</figcaption></figure>",
            svg.element(size, title, &about),
            escaped(&about)
        );
    }
    out.push_str("</div>");
}

fn push_alarms(out: &mut String, review: &Review) {
    out.push_str("<h2>Alerts</h2>");
    if review.alarms.is_empty() {
        out.push_str("<p>No alert was raised.</p>");
        return;
    }
    out.push_str(
        "<div class=\"scroll\"><table><thead><tr><th class=\"n\">no.</th><th>raised, UTC</th><th>alert</th>\
         <th>answered after</th><th>lasted</th></tr></thead><tbody>",
    );
    for (number, alarm) in (1..).zip(review.alarms.iter().take(ALARMS_SHOWN)) {
        push_alarm(out, number, alarm);
    }
    out.push_str("</tbody></table></div>");
    let more = review.alarms.len().saturating_sub(ALARMS_SHOWN) as u64 + review.alarms_left_out;
    if more > 0 {
        let _ = write!(out, "<p>And {more} more.</p>");
    }
}

fn push_alarm(out: &mut String, number: usize, alarm: &Alarm) {
    let class = if alarm.priority == Priority::Alarm { "kind alarm" } else { "kind" };
    let after = |at: Option<WatchTime>, none: &str| {
        at.map_or_else(|| none.to_owned(), |at| at.since(alarm.raised).to_string())
    };
    let _ = write!(
        out,
        "<tr><td class=\"n\">{number}</td><td class=\"t\">{}</td><td><span class=\"{class}\">{}</span>, {}: {}</td>\
         <td class=\"t\">{}</td><td class=\"t\">{}</td></tr>",
        moment(alarm.raised),
        escaped(alarm.kind.title()),
        page::priority(alarm.priority),
        escaped(&alarm.reason.what),
        after(alarm.acknowledged, "not"),
        after(alarm.ended.or(alarm.rectified), "to the end"),
    );
}

fn push_circles(out: &mut String, review: &Review) {
    let lines = page::circle_rows(review);
    if lines.is_empty() && review.what_if.is_empty() {
        return;
    }
    out.push_str("<h2>What would have been right</h2>");
    if !lines.is_empty() {
        out.push_str(
            "<div class=\"scroll\"><table><thead><tr><th>circle</th><th class=\"n\">radius</th>\
             <th>would first have raised OUTSIDE</th></tr></thead><tbody>",
        );
        for (name, radius, first) in lines {
            let _ = write!(
                out,
                "<tr><td>{}</td><td class=\"n\">{}</td><td>{}</td></tr>",
                escaped(&name),
                metres(radius),
                escaped(&first)
            );
        }
        out.push_str("</tbody></table></div>");
    }
    if let Some(rode) = review.circle.rode_by_scope {
        let entered = review.ride.veered.map_or_else(String::new, |out| format!(" {} was out.", metres(out)));
        let _ = write!(
            out,
            "<p>The crew's least scope asks for {} at the highest water.{entered}</p>",
            metres(rode)
        );
    }
    for other in &review.what_if {
        let _ = write!(
            out,
            "<h3>{}</h3><div class=\"scroll\"><table><thead><tr><th></th><th>as it was</th><th>what if</th></tr></thead><tbody>",
            escaped(&other.asked)
        );
        for (name, was, would) in page::what_if_rows(review, other) {
            let _ = write!(
                out,
                "<tr><td>{}</td><td>{}</td><td>{}</td></tr>",
                escaped(name),
                escaped(&was),
                escaped(&would)
            );
        }
        out.push_str("</tbody></table></div>");
    }
}

fn push_set(out: &mut String, review: &Review) {
    let set = &review.set;
    let lines = page::set_lines(set);
    if lines.is_empty() {
        return;
    }
    out.push_str("<h2>How she was set</h2><ul>");
    for line in lines {
        let _ = write!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>");
}

fn push_data(out: &mut String, review: &Review) {
    out.push_str("<h2>How good the data is</h2><ul>");
    for line in page::data_lines(review) {
        let _ = write!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>");
}

fn metres(length: Metres) -> String {
    format!("{:.1} m", length.0)
}
