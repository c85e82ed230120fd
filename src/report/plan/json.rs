//! The plan as JSON: times RFC 3339 UTC, lengths in metres, angles in degrees, winds in knots, forces in newtons.

use serde::Serialize;

use super::Heading;
use crate::watch::ahead::{AheadHour, MoreRode, NightAhead};
use crate::watch::plan::{Aim, Demand, DepthAt, Hour, Inputs, LiftWinds, Plan, PlanClock, Verdict};
use crate::watch::units::{Knots, Metres, WatchTime};

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
