//! A review as one page for a browser: pictures and tables, nothing fetched from anywhere, no script.

mod counts;
mod graphs;
mod plan;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::words;
use super::{Alarm, Held, Review};
use crate::report::markup::file;
use crate::report::svg::STYLE;
use crate::watch::alert::Priority;
use crate::watch::units::{Metres, WatchTime};

/// Alerts that the table lists one by one.
const ALARMS_SHOWN: usize = 200;

const PAGE_STYLE: &str = include_str!("../../../assets/report/page.css");

/// The plan of the night as a picture of its own; `None` where no position was seen.
#[must_use]
pub fn plan_svg(review: &Review) -> Option<String> {
    plan::picture(review).map(|(svg, size)| svg.file(size, PLAN_TITLE, &plan::about(review)))
}

const PLAN_TITLE: &str = "Plan of the night";

/// The whole page.
#[must_use]
pub fn html(review: &Review) -> String {
    let name = if review.ride.place.is_empty() { &review.read.name } else { &review.ride.place };
    file(html! {
        (DOCTYPE) "\n"
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (name) " · night at anchor" }
                style { (PreEscaped(STYLE)) (PreEscaped(PAGE_STYLE)) }
            }
            body { main { (sections(review)) } }
        }
    })
}

fn sections(review: &Review) -> Markup {
    html! {
        (verdict(review))
        (facts(review))
        (plan(review))
        (graphs(review))
        (counts(review))
        (alarms(review))
        (circles(review))
        (listed("How she was set", &words::set_lines(&review.set)))
        (listed("How good the data is", &words::data_lines(review)))
        p.caution {
            "An aid, not a look-out: COLREG Rule 5 asks for a proper look-out by sight and hearing at anchor too. A \
             receiver can err. What a night showed says nothing about the next one."
        }
    }
}

fn verdict(review: &Review) -> Markup {
    let holding = &review.holding;
    let is_trouble = matches!(holding.verdict, Held::Crept | Held::Dragged);
    let (word, rest) = words::verdict(review);
    html! {
        h1 class=[is_trouble.then_some("trouble")] { (word) }
        p.lead { (rest) }
        @if holding.verdict.is_judged() {
            p {
                "Confidence " (holding.confidence.name()) "."
                @if let Some((evidence, at)) = holding.evidence {
                    " Evidence that the anchor moved: " (format!("{evidence:.0}")) " % at most, " (review.zone.moment(at)) "."
                }
            }
        }
        @if !holding.limits.is_empty() { p { "What limits it: " (holding.limits.join("; ")) "." } }
        p.dim { (whence(review)) }
    }
}

/// Boat, place and time.
fn whence(review: &Review) -> String {
    let (read, ride) = (&review.read, &review.ride);
    let time = read.span.map_or_else(String::new, |span| words::span_words(review, span));
    let mut parts = vec![ride.boat.as_str(), &ride.place, &time];
    parts.retain(|words| !words.is_empty());
    parts.join(" · ")
}

fn facts(review: &Review) -> Markup {
    let facts = words::facts(review);
    html! {
        @if !facts.is_empty() {
            dl.facts {
                @for (label, value, more) in facts {
                    div { dt { (label) } dd { (value) small { (more) } } }
                }
            }
        }
    }
}

fn figure(picture: &Markup, caption: &str) -> Markup {
    html! { figure { (picture) figcaption { (caption) } } }
}

fn plan(review: &Review) -> Markup {
    const CAPTION: &str = "Strong circle: OUTSIDE is raised beyond it. Dashed: farthest reach of the rode. Cross: drop \
                           point. Ellipse: where the anchor was thought to lie at the end, two standard deviations. \
                           The track darkens with time.";
    html! {
        @if let Some((svg, size)) = plan::picture(review) {
            div.plan {
                h2 { (PLAN_TITLE) }
                (figure(&svg.element(size, PLAN_TITLE, &plan::about(review)), CAPTION))
            }
        }
    }
}

fn graphs(review: &Review) -> Markup {
    let caption = format!(
        "Times are {}. Numbers mark alerts of the table below; hatched: nothing was heard or watched.",
        review.zone_name()
    );
    html! {
        @if let Some((svg, size)) = graphs::picture(review) {
            h2 { "The night" }
            (figure(&svg.element(size, "The night by time", &graphs::about(review)), &caption))
        }
    }
}

fn counts(review: &Review) -> Markup {
    let pictures = counts::pictures(review);
    html! {
        @if !pictures.is_empty() {
            h2 { "How often" }
            div.pair {
                @for (svg, size, title, about) in pictures { (figure(&svg.element(size, title, &about), &about)) }
            }
        }
    }
}

fn alarms(review: &Review) -> Markup {
    let more = review.alarms.len().saturating_sub(ALARMS_SHOWN) as u64 + review.alarms_left_out;
    html! {
        h2 { "Alerts" }
        @if review.alarms.is_empty() {
            p { "No alert was raised." }
        } @else {
            div.scroll {
                table {
                    thead { tr {
                        th.n { "no." } th { "raised, " (review.zone_name()) } th { "alert" } th { "answered after" } th { "lasted" }
                    } }
                    tbody {
                        @for (number, alarm) in (1_usize..).zip(review.alarms.iter().take(ALARMS_SHOWN)) {
                            (alarm_row(review, number, alarm))
                        }
                    }
                }
            }
            @if more > 0 { p { "And " (more) " more." } }
        }
    }
}

fn alarm_row(review: &Review, number: usize, alarm: &Alarm) -> Markup {
    let class = if alarm.priority == Priority::Alarm { "kind alarm" } else { "kind" };
    let after = |at: Option<WatchTime>, none: &str| {
        at.map_or_else(|| none.to_owned(), |at| at.since(alarm.raised).to_string())
    };
    html! {
        tr {
            td.n { (number) }
            td.t { (review.zone.moment(alarm.raised)) }
            td {
                span class=(class) { (alarm.kind.title()) }
                ", " (words::priority(alarm.priority)) ": " (alarm.reason.what)
            }
            td.t { (after(alarm.acknowledged, "not")) }
            td.t { (after(alarm.ended.or(alarm.rectified), "to the end")) }
        }
    }
}

fn circles(review: &Review) -> Markup {
    let rows = words::circle_rows(review);
    html! {
        @if !rows.is_empty() || !review.what_if.is_empty() {
            h2 { "What would have been right" }
            @if !rows.is_empty() {
                div.scroll {
                    table {
                        thead { tr { th { "circle" } th.n { "radius" } th { "would first have raised OUTSIDE" } } }
                        tbody {
                            @for (name, radius, first) in rows {
                                tr { td { (name) } td.n { (metres(radius)) } td { (first) } }
                            }
                        }
                    }
                }
            }
            @if let Some(rode) = review.circle.rode_by_scope {
                p {
                    "The crew's least scope asks for " (metres(rode)) " at the highest water."
                    @if let Some(out) = review.ride.veered { " " (metres(out)) " was out." }
                }
            }
            (what_ifs(review))
        }
    }
}

fn what_ifs(review: &Review) -> Markup {
    html! {
        @for other in &review.what_if {
            h3 { (other.asked) }
            div.scroll {
                table {
                    thead { tr { th {} th { "as it was" } th { "what if" } } }
                    tbody {
                        @for (name, was, would) in words::what_if_rows(review, other) {
                            tr { td { (name) } td { (was) } td { (would) } }
                        }
                    }
                }
            }
        }
    }
}

fn listed(heading: &str, lines: &[String]) -> Markup {
    html! {
        @if !lines.is_empty() {
            h2 { (heading) }
            ul { @for line in lines { li { (line) } } }
        }
    }
}

fn metres(length: Metres) -> String {
    format!("{:.1} m", length.0)
}
