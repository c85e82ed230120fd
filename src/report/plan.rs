//! One page on what to veer; as JSON in `plan/json.rs`.

mod json;

use std::fmt::Write as _;

pub use json::{PlanJson, json};

use crate::watch::ahead::{NightAhead, Sea, head as head_of_hours, row};
use crate::watch::plan::{Aim, Demand, DepthAt, Hour, Inputs, LiftWinds, Plan, PlanClock, Verdict};
use crate::watch::rode::MILE;
use crate::watch::slope;
use crate::watch::units::{Knots, Span, WatchTime};
use crate::watch::words::lead;

/// What stands at the head of the page and is no part of the sum.
#[derive(Clone, Debug, PartialEq)]
pub struct Heading {
    /// The place, if it has a name.
    pub place: Option<String>,
    /// How far the clock that times are shown by is ahead of UTC.
    pub utc_offset: Span,
}

impl Heading {
    fn clock(&self, inputs: &Inputs) -> PlanClock {
        const DAY: Span = Span::from_mins(24 * 60);
        PlanClock { utc_offset: self.utc_offset, with_day: inputs.until.since(inputs.at) >= DAY }
    }
}

/// The page as text, no wider than 96 columns: what to veer and why, verdicts worst first, the table, cautions.
#[must_use]
pub fn text(inputs: &Inputs, plan: &Plan, heading: &Heading) -> String {
    unbroken(inputs, plan, heading).lines().map(broken).collect()
}

/// The same with each sentence in a line, for whoever breaks it to fit.
#[must_use]
pub fn unbroken(inputs: &Inputs, plan: &Plan, heading: &Heading) -> String {
    let clock = heading.clock(inputs);
    let sections = [
        head(inputs, heading),
        advice(inputs, plan, &clock),
        night(inputs, plan, &clock),
        verdicts(plan, &clock),
        table(plan, &clock),
        figures(inputs, plan) + &depths_round(inputs, plan, &clock),
        rules(plan),
        cautions(inputs, plan, &clock),
    ];
    sections.into_iter().filter(|section| !section.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(inputs: &Inputs, heading: &Heading) -> String {
    let (from, until) = (long_time(inputs.at, heading), long_time(inputs.until, heading));
    let place = heading.place.as_deref().map_or(String::new(), |place| format!(" at {place}"));
    let (boat, weather) = (&inputs.boat, &inputs.weather);
    let wind_from = inputs.wind_from.map_or(String::new(), |from| format!(" from {from}"));
    format!(
        "{}{place}, {from} to {until} ({})\nDepth {:.1} m at {}, wind {:.0} kn{wind_from}, gusts {:.0}, stream {:.1} kn\n",
        boat.name,
        zone(heading.utc_offset),
        inputs.sounded.0,
        heading.clock(inputs).show(inputs.at),
        weather.mean.0,
        weather.gust.0,
        weather.stream.0
    )
}

/// `Wed 3 Jun 2026 02:25`.
fn long_time(at: WatchTime, heading: &Heading) -> String {
    jiff::Timestamp::from_millisecond((at + heading.utc_offset).0)
        .map_or_else(|_| "beyond the calendar".to_owned(), |at| at.strftime("%a %-d %b %Y %H:%M").to_string())
}

/// `UTC`, `UTC+1`, `UTC-3:30`.
fn zone(offset: Span) -> String {
    let minutes = offset.0 / 60_000;
    match (minutes / 60, minutes.abs() % 60) {
        (0, 0) => "UTC".to_owned(),
        (hours, 0) => format!("UTC{hours:+}"),
        // Hours alone would lose the sign of half an hour west.
        (hours, rest) => format!("UTC{}{}:{rest:02}", if minutes < 0 { '-' } else { '+' }, hours.abs()),
    }
}

fn advice(inputs: &Inputs, plan: &Plan, clock: &PlanClock) -> String {
    let mut page = match inputs.veered {
        Some(veered) => {
            format!(
                "YOU MEAN TO VEER {:.0} m; ADVISED {:.0} m of {:.0} m aboard\n",
                veered.0, plan.advised.0, plan.carried.0
            )
        }
        None => format!("VEER {:.0} m of {:.0} m aboard\n", plan.advised.0, plan.carried.0),
    };
    for demand in &plan.demands {
        let _ = writeln!(page, "  {:>4.0} m  {}", demand.length.0.ceil(), why(demand, inputs, plan, clock));
    }
    page
}

fn why(demand: &Demand, inputs: &Inputs, plan: &Plan, clock: &PlanClock) -> String {
    let weather = &inputs.weather;
    match demand.aim {
        Aim::BottomInMeanWind => {
            format!(
                "keeps the pull at the anchor along the bottom in a mean wind of {:.0} kn",
                weather.mean.0
            )
        }
        Aim::EightDegreesInGusts => {
            format!(
                "keeps the pull at the anchor below 8° in gusts of {:.0} kn, sheering {:.0}° to each side",
                weather.gust.0, weather.sheer_deg
            )
        }
        Aim::TwelveDegreesInSquall => {
            format!(
                "keeps it below 12° in a squall of {:.0} kn, so that none need be veered then",
                weather.squall().mean.0
            )
        }
        Aim::TwelveDegreesInSnatch => "keeps it below 12° in a gust with the waves' snatch".to_owned(),
        Aim::RuleForRode(kind) => {
            format!(
                "is the least that published rules ask of {} at {}",
                kind.name(),
                water_time(plan.greatest, clock)
            )
        }
        Aim::LeastScope => {
            format!(
                "gives your least scope of {:.1} at {}",
                inputs.limits.scope,
                water_time(plan.greatest, clock)
            )
        }
    }
}

fn water_time(water: DepthAt, clock: &PlanClock) -> String {
    let at = clock.show(water.at);
    water.turn.map_or(at.clone(), |turn| format!("{turn} {at}"))
}

fn verdicts(plan: &Plan, clock: &PlanClock) -> String {
    let line =
        |verdict: &Verdict| behind(&format!("  {:<6} ", verdict.grade().word()), &verdict.in_words(clock));
    plan.verdicts.iter().map(line).collect()
}

/// The night by the wind of each hour: the worst first, then the hours, and the way out.
fn night(inputs: &Inputs, plan: &Plan, clock: &PlanClock) -> String {
    let way_out = inputs.way_out.map_or_else(String::new, |way| format!("  Way out: {way}.\n"));
    let Some(night) = &plan.night else { return way_out };
    let show = |at| clock.show(at);
    let mut page = String::from("THE NIGHT AHEAD, by the wind of each hour\n");
    page.push_str(&behind(&format!("  {:<6} ", night.grade().word()), &night.worst_in_words(show)));
    page.push_str(&behind("         ", &night.sea_in_words()));
    page.push_str(&behind("         ", &night.more_in_words()));
    if let Some(words) = night.uncovered_in_words(show) {
        page.push_str(&behind("  - ", &words));
    }
    page.push_str(&way_out);
    let _ = writeln!(page, "  {}", head_of_hours(show(inputs.at).len(), Sea::InLoad));
    for hour in &night.hours {
        let _ = writeln!(page, "  {}", row(hour, &show(hour.at), Sea::InLoad));
    }
    if night.sea() == Sea::Beside {
        page.push_str(&sea_table(night, &show));
    }
    page
}

/// The sea of each hour and what its greatest wave snatches to; a table of its own, so that the night's fits 80 columns.
fn sea_table(night: &NightAhead, show: &dyn Fn(WatchTime) -> String) -> String {
    let mut page = String::from("\n  time   fetch   sea   every  greatest  snatch  without a snubber\n");
    for hour in &night.hours {
        let Some(waves) = hour.pulls.waves else { continue };
        let bare =
            waves.peak_bare.map_or_else(|| "-".to_owned(), |bare| format!("{:.1} kN", bare.0 / 1000.0));
        let _ = writeln!(
            page,
            "  {:<5} {:>4.1} M {:>3.1} m {:>5.1} s {:>7.1} m {:>4.1} kN {bare:>18}",
            show(hour.at),
            waves.fetch.unwrap_or_default().0 / MILE.0,
            waves.sea.height.0,
            waves.sea.period_s,
            waves.wave.0,
            waves.peak.0 / 1000.0
        );
    }
    page
}

fn table(plan: &Plan, clock: &PlanClock) -> String {
    let mut page =
        String::from("  time           depth  under keel  scope   reach  lifted  pull in gusts  lifts off\n");
    for hour in &plan.hours {
        let lifts = hour.lifts_at.map_or("never".to_owned(), |wind| format!("{:.0} kn", wind.0));
        let _ = writeln!(
            page,
            "  {:<12} {:>5.1} m  {:>8.1} m {:>6.1} {:>5.0} m {:>5.0} m  {:>13} {:>10}",
            moment(hour, clock),
            hour.water.depth.0,
            hour.under_keel.0,
            hour.scope,
            hour.reach.0,
            hour.lifted.0,
            pull_words(hour.gust_angle_deg),
            lifts
        );
    }
    page
}

fn pull_words(degrees: f64) -> String {
    if degrees < 0.5 { "level".to_owned() } else { format!("{degrees:.0}° up") }
}

/// Turns stand out by their name; plain hours are set in under the times.
fn moment(hour: &Hour, clock: &PlanClock) -> String {
    let at = clock.show(hour.water.at);
    match hour.water.turn {
        Some(turn) => format!("{turn} {at}"),
        None => format!("   {at}"),
    }
}

fn figures(inputs: &Inputs, plan: &Plan) -> String {
    let (load, weather) = (&plan.load, &inputs.weather);
    let mut page = format!("  At the highest water {}.\n", lift_words(&plan.winds));
    if let Some(more) = &plan.winds_with_more {
        let _ = writeln!(page, "  With 5 m more: {}.", lift_words(more));
    }
    let _ = writeln!(
        page,
        "  Pull {:.2} kN in the mean wind of {:.0} kn, {:.2} kN in a gust of {:.0} kn while she sheers.",
        load.steady().0 / 1000.0,
        weather.mean.0,
        load.greatest().0 / 1000.0,
        weather.gust.0
    );
    page
}

fn lift_words(winds: &LiftWinds) -> String {
    let at = |wind: Option<Knots>| wind.map_or("never".to_owned(), |wind| format!("at {:.0} kn", wind.0));
    format!(
        "the last link lifts {}, the pull reaches 5° {}, 8° {}",
        at(winds.lifts),
        at(winds.five_degrees),
        at(winds.eight_degrees)
    )
}

/// Depths over the circle, where the bottom slopes.
fn depths_round(inputs: &Inputs, plan: &Plan, clock: &PlanClock) -> String {
    let Some(slope) = inputs.site.slope else { return String::new() };
    let mut page = format!(
        "  Depths at {} at the anchor and {:.0} m from it, north up\n",
        water_time(plan.least, clock),
        plan.circle.radius.0
    );
    let round = slope::round(&slope, plan.least.depth, plan.circle.radius);
    for row in slope::map(&round, plan.least.depth) {
        let _ = writeln!(page, "  {row}");
    }
    page
}

fn rules(plan: &Plan) -> String {
    let mut page = String::from(
        "  Rules of thumb (D depth at the highest water, B bow height, W wind in kn, L length)\n",
    );
    for says in &plan.rules {
        let _ = writeln!(page, "  {:>4.0} m  {:<33} {}", says.length.0, says.rule.formula, says.rule.source);
    }
    page
}

fn cautions(inputs: &Inputs, plan: &Plan, clock: &PlanClock) -> String {
    let mut page = String::from("  Bear in mind\n");
    for caution in &plan.cautions {
        page.push_str(&behind("  - ", &caution.in_words(clock)));
    }
    if inputs.tide.is_some() {
        page.push_str("  - Heights of tide tie to your sounding: an error of the table's datum cancels.\n");
    }
    if let Some(credit) = &plan.tide_credit {
        page.push_str(&behind("  - ", &format!("Tide: {credit}")));
    }
    page
}

/// The widest line of the page, in characters.
const WIDTH: usize = 96;

/// A sentence behind its bullet.
fn behind(bullet: &str, text: &str) -> String {
    format!("{bullet}{text}\n")
}

/// A line broken between words, the rest under its first words; a word longer than a line stays whole.
fn broken(line: &str) -> String {
    let (lead, text) = line.split_at(lead(line));
    let indent = " ".repeat(lead.chars().count());
    if line.chars().count() <= WIDTH {
        return format!("{line}\n");
    }
    let mut lines = vec![lead.to_owned()];
    for word in text.split_whitespace() {
        let fits = lines.last().is_some_and(|line| line.chars().count() + word.chars().count() < WIDTH);
        if !fits {
            lines.push(indent.clone());
        }
        if let Some(line) = lines.last_mut() {
            if line.chars().count() > indent.len() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.iter().map(|line| format!("{line}\n")).collect()
}

#[cfg(test)]
mod tests {
    use super::broken;

    #[test]
    fn a_long_line_goes_on_under_its_own_words() {
        let words = "a sentence that goes on and on ".repeat(5);
        for (lead, under) in [("  - ", 4), ("  tight  ", 9), ("         ", 9), ("", 0)] {
            let page = broken(&format!("{lead}{words}"));
            let lines: Vec<&str> = page.lines().collect();
            assert!(lines.len() == 2 && lines.iter().all(|line| line.len() <= 96), "{page}");
            assert_eq!(lines[1].len() - lines[1].trim_start().len(), under, "{page}");
        }
    }
}
