//! One page on what to veer, and the same as JSON.

use std::fmt::Write as _;

use serde::Serialize;

use crate::watch::ahead::{AheadHour, MoreRode, NightAhead, Sea, head as head_of_hours, row};
use crate::watch::plan::{Aim, Demand, DepthAt, Hour, Inputs, LiftWinds, Plan, PlanClock, Verdict};
use crate::watch::rode::MILE;
use crate::watch::slope;
use crate::watch::units::{Knots, Metres, Span, WatchTime};

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
        |verdict: &Verdict| wrapped(&format!("  {:<6} ", verdict.grade().word()), &verdict.in_words(clock));
    plan.verdicts.iter().map(line).collect()
}

/// The night by the wind of each hour: the worst first, then the hours, and the way out.
fn night(inputs: &Inputs, plan: &Plan, clock: &PlanClock) -> String {
    let way_out = inputs.way_out.map_or_else(String::new, |way| format!("  Way out: {way}.\n"));
    let Some(night) = &plan.night else { return way_out };
    let show = |at| clock.show(at);
    let mut page = String::from("THE NIGHT AHEAD, by the wind of each hour\n");
    page.push_str(&wrapped(&format!("  {:<6} ", night.grade().word()), &night.worst_in_words(show)));
    page.push_str(&wrapped("         ", &night.sea_in_words()));
    page.push_str(&wrapped("         ", &night.more_in_words()));
    if let Some(words) = night.uncovered_in_words(show) {
        page.push_str(&wrapped("  - ", &words));
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
        page.push_str(&wrapped("  - ", &caution.in_words(clock)));
    }
    if inputs.tide.is_some() {
        page.push_str("  - Heights of tide tie to your sounding: an error of the table's datum cancels.\n");
    }
    if let Some(credit) = &plan.tide_credit {
        page.push_str(&wrapped("  - ", &format!("Tide: {credit}")));
    }
    page
}

/// The widest line of the page, in characters.
const WIDTH: usize = 96;

/// Text behind a bullet, broken between words; a word longer than a line stays whole.
fn wrapped(bullet: &str, text: &str) -> String {
    let indent = " ".repeat(bullet.chars().count());
    let mut lines = vec![bullet.to_owned()];
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

/// The plan as JSON: times RFC 3339 UTC with milliseconds, lengths in metres, angles in degrees, winds in knots, forces in
/// newtons. Documented in `docs/sailing/plan.md`.
#[derive(Debug, Serialize)]
pub struct PlanJson {
    boat: String,
    place: Option<String>,
    from: String,
    until: String,
    veer: VeerJson,
    grade: &'static str,
    depth: DepthJson,
    load: LoadJson,
    waves: Option<WavesJson>,
    winds: WindsJson,
    winds_with_5_m_more: Option<WindsJson>,
    hold: Option<HoldJson>,
    circle: CircleJson,
    verdicts: Vec<VerdictJson>,
    night: Option<NightJson>,
    way_out: Option<WayOutJson>,
    hours: Vec<HourJson>,
    rules: Vec<RuleJson>,
    cautions: Vec<String>,
    tide_credit: Option<String>,
}

#[derive(Debug, Serialize)]
struct VeerJson {
    advised_m: f64,
    veered_m: f64,
    carried_m: f64,
    demands: Vec<DemandJson>,
}

#[derive(Debug, Serialize)]
struct DemandJson {
    aim: &'static str,
    length_m: f64,
}

#[derive(Debug, Serialize)]
struct DepthJson {
    least: MomentJson,
    greatest: MomentJson,
}

#[derive(Debug, Serialize)]
struct MomentJson {
    at: String,
    turn: Option<String>,
    depth_m: f64,
}

#[derive(Debug, Serialize)]
struct LoadJson {
    mean_n: f64,
    gust_n: f64,
    sheering_n: f64,
    stream_n: f64,
    stream_in_gusts_n: f64,
    steady_n: f64,
    greatest_n: f64,
    design_n: Option<f64>,
}

#[derive(Debug, Serialize)]
struct WavesJson {
    fetch_m: f64,
    height_m: f64,
    period_s: f64,
    greatest_m: f64,
    peak_n: f64,
    peak_bare_n: Option<f64>,
}

#[derive(Debug, Serialize)]
struct WindsJson {
    veered_m: f64,
    lifts_kn: Option<f64>,
    five_degrees_kn: Option<f64>,
    eight_degrees_kn: Option<f64>,
}

#[derive(Debug, Serialize)]
struct HoldJson {
    least_n: f64,
    most_n: f64,
}

#[derive(Debug, Serialize)]
struct CircleJson {
    reach_m: f64,
    radius_m: f64,
    antenna_m: f64,
}

#[derive(Debug, Serialize)]
struct VerdictJson {
    grade: &'static str,
    text: String,
}

#[derive(Debug, Serialize)]
struct HourJson {
    #[serde(flatten)]
    water: MomentJson,
    under_keel_m: f64,
    scope: f64,
    reach_m: f64,
    lifted_m: f64,
    gust_angle_deg: f64,
    lifts_kn: Option<f64>,
}

#[derive(Debug, Serialize)]
struct NightJson {
    grade: &'static str,
    worst: AheadJson,
    with_10_m_more: Option<AheadJson>,
    hours: Vec<AheadJson>,
}

#[derive(Debug, Serialize)]
struct AheadJson {
    #[serde(flatten)]
    water: MomentJson,
    wind_from_deg: Option<f64>,
    wind_kn: f64,
    gust_kn: f64,
    under_keel_m: f64,
    scope: f64,
    load_n: f64,
    load_by: &'static str,
    sea_m: Option<f64>,
    sea_s: Option<f64>,
    snatch_n: Option<f64>,
    snatch_bare_n: Option<f64>,
    hold_least_n: Option<f64>,
    hold_most_n: Option<f64>,
    pull_deg: f64,
    lies_deg: Option<f64>,
    reach_m: f64,
    nearest_mark: Option<String>,
    room_m: Option<f64>,
    grade: &'static str,
    why: Vec<String>,
}

#[derive(Debug, Serialize)]
struct WayOutJson {
    course_deg: f64,
    distance_nm: f64,
}

#[derive(Debug, Serialize)]
struct RuleJson {
    formula: &'static str,
    length_m: f64,
    source: &'static str,
}

/// The plan for programs.
#[must_use]
pub fn json(inputs: &Inputs, plan: &Plan, heading: &Heading) -> PlanJson {
    let clock = heading.clock(inputs);
    let load = &plan.load;
    PlanJson {
        boat: inputs.boat.name.clone(),
        place: heading.place.clone(),
        from: utc(inputs.at),
        until: utc(inputs.until),
        veer: VeerJson {
            advised_m: plan.advised.0,
            veered_m: plan.veered.0,
            carried_m: plan.carried.0,
            demands: plan.demands.iter().map(demand_json).collect(),
        },
        grade: grade_name(plan.grade()),
        depth: DepthJson { least: moment_json(plan.least), greatest: moment_json(plan.greatest) },
        load: LoadJson {
            mean_n: tidy(load.mean.0),
            gust_n: tidy(load.gust.0),
            sheering_n: tidy(load.sheering.0),
            stream_n: tidy(load.stream.0),
            stream_in_gusts_n: tidy(load.stream_in_gusts.0),
            steady_n: tidy(load.steady().0),
            greatest_n: tidy(load.greatest().0),
            design_n: plan.design_load.map(|design| tidy(design.0)),
        },
        waves: plan.waves.as_ref().map(|waves| WavesJson {
            fetch_m: metres(waves.fetch),
            height_m: metres(waves.sea.height),
            period_s: tidy(waves.sea.period_s),
            greatest_m: metres(waves.snatch.wave),
            peak_n: tidy(waves.peak.0),
            peak_bare_n: waves.peak_bare.map(|peak| tidy(peak.0)),
        }),
        winds: winds_json(&plan.winds),
        winds_with_5_m_more: plan.winds_with_more.as_ref().map(winds_json),
        hold: plan.hold.map(|hold| HoldJson { least_n: tidy(hold.least.0), most_n: tidy(hold.most.0) }),
        circle: CircleJson {
            reach_m: metres(plan.circle.reach),
            radius_m: metres(plan.circle.radius),
            antenna_m: metres(plan.circle.antenna),
        },
        verdicts: plan.verdicts.iter().map(|verdict| verdict_json(verdict, &clock)).collect(),
        night: plan.night.as_ref().map(night_json),
        way_out: inputs
            .way_out
            .map(|way| WayOutJson { course_deg: way.course.degrees(), distance_nm: way.distance_nm }),
        hours: plan.hours.iter().map(hour_json).collect(),
        rules: plan
            .rules
            .iter()
            .map(|says| RuleJson {
                formula: says.rule.formula,
                length_m: metres(says.length),
                source: says.rule.source,
            })
            .collect(),
        cautions: plan.cautions.iter().map(|caution| caution.in_words(&clock)).collect(),
        tide_credit: plan.tide_credit.clone(),
    }
}

fn demand_json(demand: &Demand) -> DemandJson {
    let aim = match demand.aim {
        Aim::BottomInMeanWind => "bottom_in_mean_wind",
        Aim::EightDegreesInGusts => "eight_degrees_in_gusts",
        Aim::TwelveDegreesInSquall => "twelve_degrees_in_squall",
        Aim::TwelveDegreesInSnatch => "twelve_degrees_in_snatch",
        Aim::RuleForRode(_) => "rule_for_rode",
        Aim::LeastScope => "least_scope",
    };
    DemandJson { aim, length_m: metres(demand.length) }
}

fn moment_json(water: DepthAt) -> MomentJson {
    MomentJson {
        at: utc(water.at),
        turn: water.turn.map(|turn| turn.to_string()),
        depth_m: metres(water.depth),
    }
}

fn winds_json(winds: &LiftWinds) -> WindsJson {
    let knots = |wind: Option<Knots>| wind.map(|wind| tidy(wind.0));
    WindsJson {
        veered_m: winds.veered.0,
        lifts_kn: knots(winds.lifts),
        five_degrees_kn: knots(winds.five_degrees),
        eight_degrees_kn: knots(winds.eight_degrees),
    }
}

fn verdict_json(verdict: &Verdict, clock: &PlanClock) -> VerdictJson {
    VerdictJson { grade: grade_name(verdict.grade()), text: verdict.in_words(clock) }
}

fn hour_json(hour: &Hour) -> HourJson {
    HourJson {
        water: moment_json(hour.water),
        under_keel_m: metres(hour.under_keel),
        scope: (hour.scope * 100.0).round() / 100.0,
        reach_m: metres(hour.reach),
        lifted_m: metres(hour.lifted),
        gust_angle_deg: tidy(hour.gust_angle_deg),
        lifts_kn: hour.lifts_at.map(|wind| tidy(wind.0)),
    }
}

fn night_json(night: &NightAhead) -> NightJson {
    NightJson {
        grade: grade_name(night.grade()),
        worst: ahead_json(night.worst()),
        with_10_m_more: match &night.more {
            MoreRode::With(_, hour) => Some(ahead_json(hour)),
            MoreRode::NotAboard(_) => None,
        },
        hours: night.hours.iter().map(ahead_json).collect(),
    }
}

fn ahead_json(hour: &AheadHour) -> AheadJson {
    let waves = hour.pulls.waves;
    AheadJson {
        water: moment_json(DepthAt { at: hour.at, depth: hour.depth, turn: hour.turn }),
        wind_from_deg: hour.wind.from.map(|from| tidy(from.degrees())),
        wind_kn: tidy(hour.wind.mean.0),
        gust_kn: tidy(hour.wind.gust().0),
        under_keel_m: metres(hour.under_keel),
        scope: (hour.scope * 100.0).round() / 100.0,
        load_n: tidy(hour.load.0),
        load_by: hour.by.key(),
        sea_m: waves.map(|waves| metres(waves.sea.height)),
        sea_s: waves.map(|waves| tidy(waves.sea.period_s)),
        snatch_n: waves.map(|waves| tidy(waves.peak.0)),
        snatch_bare_n: waves.and_then(|waves| waves.peak_bare).map(|bare| tidy(bare.0)),
        hold_least_n: hour.hold.map(|hold| tidy(hold.least.0)),
        hold_most_n: hour.hold.map(|hold| tidy(hold.most.0)),
        pull_deg: tidy(hour.pull_deg),
        lies_deg: hour.lies.map(|lies| tidy(lies.degrees())),
        reach_m: metres(hour.reach),
        nearest_mark: hour.room.as_ref().map(|(name, _)| name.clone()),
        room_m: hour.room.as_ref().map(|(_, room)| metres(*room)),
        grade: grade_name(hour.grade()),
        why: hour.why(),
    }
}

fn grade_name(grade: crate::watch::plan::Grade) -> &'static str {
    use crate::watch::plan::Grade;
    match grade {
        Grade::Good => "good",
        Grade::Tight => "tight",
        Grade::Bad => "bad",
    }
}

/// To the centimetre.
fn metres(length: Metres) -> f64 {
    (length.0 * 100.0).round() / 100.0
}

/// To one decimal.
fn tidy(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn utc(at: WatchTime) -> String {
    jiff::Timestamp::from_millisecond(at.0)
        .map_or_else(|_| String::new(), |at| at.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string())
}
