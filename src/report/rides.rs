//! Rides beside each other: where, when, how long, how she held.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::review::{self, Held, Review};
use super::words::printable;
use crate::watch::alert::Priority;
use crate::watch::units::{Knots, Span, WatchTime};

/// How a ride stands on the disk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// The anchor is aweigh, or nothing says that it is down.
    Ended,
    /// The anchor is down, by the last word on it.
    Unfinished,
    /// It cannot be read.
    Damaged {
        /// Why, in words.
        why: String,
    },
}

/// A ride of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// Its folder's name.
    pub name: String,
    /// How it stands.
    pub state: State,
    /// How it was; `None` if it cannot be read.
    pub review: Option<Box<Review>>,
}

/// The list: a line each, the latest first.
#[must_use]
pub fn text(rides: &[Listed]) -> String {
    table(
        rides,
        &[
            (&began_in(rides), &minute),
            ("place", &place),
            ("hours", &hours),
            ("verdict", &verdict),
            ("worst wind", &worst_wind),
        ],
    )
}

/// The comparison: the list with what the rides asked of anchor, rode and crew.
#[must_use]
pub fn comparison(rides: &[Listed]) -> String {
    let metres = |value: Option<f64>| value.map_or_else(String::new, |m| format!("{m:.0} m"));
    table(
        rides,
        &[
            (&began_in(rides), &minute),
            ("place", &place),
            ("hours", &hours),
            ("verdict", &verdict),
            ("wind", &worst_wind),
            ("load", &|r| {
                r.holding.load.map_or_else(String::new, |(load, _)| format!("{:.1} kN", load.0 / 1000.0))
            }),
            ("rode", &|r| metres(r.ride.veered.map(|m| m.0))),
            ("farthest", &|r| metres(r.holding.farthest.map(|(m, _)| m.0))),
            ("circle", &|r| metres(r.circle.set.map(|m| m.0))),
            ("would do", &|r| metres(r.circle.smallest_silent.map(|m| m.0))),
            ("alarms", &|r| {
                r.alarms.iter().filter(|alarm| alarm.priority == Priority::Alarm).count().to_string()
            }),
        ],
    )
}

/// The list as one JSON object; each review as `review --json` gives it.
#[must_use]
pub fn json(rides: &[Listed]) -> Value {
    let all: Vec<Value> = rides
        .iter()
        .map(|ride| {
            let (state, why) = match &ride.state {
                State::Ended => ("ended", None),
                State::Unfinished => ("unfinished", None),
                State::Damaged { why } => ("damaged", Some(why)),
            };
            json!({
                "name": ride.name,
                "state": state,
                "why": why,
                "review": ride.review.as_ref().map(|review| review::json(review)),
            })
        })
        .collect();
    json!({ "rides": all })
}

/// A column: its head, and what stands in it.
type Column<'a> = (&'a str, &'a dyn Fn(&Review) -> String);

fn table(rides: &[Listed], columns: &[Column]) -> String {
    if rides.is_empty() {
        return "No ride was kept yet. nightrode watch keeps each stay at anchor.\n".into();
    }
    let rows: Vec<Option<Vec<String>>> = rides
        .iter()
        .map(|ride| ride.review.as_ref().map(|review| columns.iter().map(|(_, of)| of(review)).collect()))
        .collect();
    let widths: Vec<usize> = columns
        .iter()
        .enumerate()
        .map(|(i, (head, _))| {
            let cells = rows.iter().flatten().map(|row| row[i].chars().count());
            cells.chain([head.chars().count()]).max().unwrap_or(0)
        })
        .collect();
    let mut out = String::new();
    let heads: Vec<String> = columns.iter().map(|(head, _)| (*head).to_owned()).collect();
    push_row(&mut out, &heads, &widths);
    for (ride, row) in rides.iter().zip(&rows) {
        match (row, &ride.state) {
            (Some(row), _) => push_row(&mut out, row, &widths),
            (None, State::Damaged { why }) => {
                let _ = writeln!(out, "{}: cannot be read. {why}", ride.name);
            }
            (None, _) => {
                let _ = writeln!(out, "{}", ride.name);
            }
        }
        if ride.state == State::Unfinished {
            let _ = writeln!(out, "  the anchor is still down: nightrode watch takes it up");
        }
    }
    printable(&out)
}

fn push_row(out: &mut String, cells: &[String], widths: &[usize]) {
    let line: Vec<String> = cells.iter().zip(widths).map(|(cell, width)| format!("{cell:width$}")).collect();
    let _ = writeln!(out, "{}", line.join("  ").trim_end());
}

fn began(review: &Review) -> Option<WatchTime> {
    review.ride.began.or(review.read.span.map(|(first, _)| first))
}

fn minute(review: &Review) -> String {
    began(review).map_or_else(String::new, |at| review.zone.format(at, "%Y-%m-%d %H:%M"))
}

/// Head of the column of beginnings, with the zone of its times.
fn began_in(rides: &[Listed]) -> String {
    let latest = rides.iter().find_map(|ride| ride.review.as_ref());
    let zone = latest.and_then(|review| Some(review.zone.name_at(began(review)?)));
    format!("began, {}", zone.unwrap_or_else(|| "UTC".into()))
}

fn place(review: &Review) -> String {
    if review.ride.place.is_empty() { "not entered".into() } else { review.ride.place.clone() }
}

fn hours(review: &Review) -> String {
    let end = review.ride.ended.or(review.read.span.map(|(_, last)| last));
    let long = began(review).zip(end).map_or(Span::ZERO, |(from, to)| to.since(from));
    format!("{:.1}", long.seconds() / 3600.0)
}

fn verdict(review: &Review) -> String {
    let moved = review.holding.moved.map_or_else(String::new, |(far, _)| format!(" {:.0} m", far.0));
    match review.holding.verdict {
        Held::NoAnchor => "no anchor found".into(),
        Held::CannotJudge => "cannot judge".into(),
        Held::Held => "held".into(),
        Held::Crept => format!("crept{moved}"),
        Held::Dragged => format!("dragged{moved}"),
        Held::UnderWay => "under way".into(),
    }
}

fn worst_wind(review: &Review) -> String {
    let gust = review.wind.strongest_gust.map(|(gust, _)| gust);
    let mean = review.wind.strongest_mean.map(|(mean, _)| mean);
    let knots = |speed: Knots| format!("{:.0}", speed.0);
    match (mean, gust) {
        (Some(mean), Some(gust)) => format!("{} kn, gust {}", knots(mean), knots(gust)),
        (Some(one), None) | (None, Some(one)) => format!("{} kn", knots(one)),
        (None, None) => String::new(),
    }
}
