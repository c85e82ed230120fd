//! A trial on paper: tables for people, JSON for programs.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::limit::{Limit, SAMPLES_BETWEEN_FALSE};
use super::stats::{Share, Spread};
use super::sum::{Line, Sleep, Sum, by_class, sum};
use super::{BARS_NATS, FAR_M, MARGINS_M, MOVED_M, NightScore, OUTSIDE_FIXES, Trial};
use crate::watch::units::{Metres, Span};

/// The rode is entered wrong by as much now and then; see the class `wrong-rode`. Our choice.
const RODE_ERROR: f64 = 0.03;

/// The trial as text.
#[must_use]
pub fn text(trial: &Trial) -> String {
    let classes = by_class(&trial.scores);
    let all = sum(&trial.scores);
    let mut out = format!(
        "{} nights: seeds {} to {} ({}) of {} classes.\n\n",
        trial.scores.len(),
        trial.seed,
        trial.seed + trial.nights.max(1) - 1,
        trial.seeds_are,
        classes.len(),
    );
    push_sum(&mut out, &all);
    push_sleep(&mut out, &all);
    push_standing(&mut out, &classes);
    push_moving(&mut out, &classes);
    push_limit(&mut out, &trial.scores);
    push_words(&mut out);
    out
}

fn push_sum(out: &mut String, all: &Sum) {
    let _ = writeln!(
        out,
        "All nights: the anchor stood on {}, moved on {}; {} of the time could not be judged.\n",
        all.stood,
        all.moved,
        percent(all.unjudged)
    );
    let _ = writeln!(
        out,
        "{:22} {:>25} {:>9} {:>14} {:>15} {:>12} {:>9}",
        "", "spoiled (95 % interval)", "too soon", "moved m 50/90", "after min 50/90", "missed", "far"
    );
    let mut row = |name: &str, line: &Line| {
        let spoiled = match line.spoiled.interval() {
            Some((low, high)) => format!(
                "{} {} ({:.1} to {:.1} %)",
                fraction(line.spoiled),
                percent(line.spoiled.value()),
                low * 100.0,
                high * 100.0
            ),
            None => "–".into(),
        };
        let _ = writeln!(
            out,
            "{name:18} {spoiled:>29} {:>9} {:>14} {:>15} {:>12} {:>9}",
            fraction(line.too_soon),
            spread(line.moved_m, 1.0),
            spread(line.delay_s, 60.0),
            fraction(line.missed),
            fraction(line.missed_far),
        );
    };
    row("drag or outside", &all.gone);
    row("drag", &all.drag);
    row("creep", &all.creep);
    row("creep or drag", &all.first);
    for (nats, line) in BARS_NATS.iter().zip(&all.bars) {
        row(&format!("at {nats} nats"), line);
    }
    for (margin, line) in MARGINS_M.iter().zip(&all.circles) {
        row(&format!("circle + {margin} m"), line);
    }
    if !all.missed_m.is_empty() {
        let far: Vec<String> = all.missed_m.iter().take(12).map(|m| format!("{m:.0}")).collect();
        let more = if all.missed_m.len() > 12 { ", ..." } else { "" };
        let _ = writeln!(
            out,
            "\nWhere drag never came the anchor had moved by the end, m: {}{more}",
            far.join(", ")
        );
    }
    out.push('\n');
}

/// What a crew hears on nights on which the anchor stands.
fn push_sleep(out: &mut String, all: &Sum) {
    if all.stood == 0 {
        return;
    }
    let sleep = &all.sleep;
    let a_night = |count: u32| f64::from(count) / all.stood as f64;
    let _ = writeln!(
        out,
        "Where it stood {} nights passed without an audible alert, {} without any but the wind's; {:.2} came a night.",
        fraction(sleep.silent),
        fraction(sleep.silent_but_for_wind),
        a_night(sleep.heard.iter().map(|(_, count)| count).sum())
    );
    if !sleep.heard.is_empty() {
        let kinds = sleep.heard.iter().map(|(kind, count)| format!("{} {:.3}", kind.name(), a_night(*count)));
        let _ = writeln!(out, "A night: {}", kinds.collect::<Vec<_>>().join(", "));
    }
    out.push('\n');
}

fn push_standing(out: &mut String, classes: &[(&str, Sum)]) {
    if classes.iter().all(|(_, sum)| sum.stood == 0) {
        return;
    }
    let _ = writeln!(
        out,
        "{:22} {:>7} {:>7} {:>7} {:>7} {:>9} {:>6} {:>6} {:>6}",
        "The anchor stood", "nights", "woken", "drag", "creep", "unjudged", "+ 5 m", "+ 10 m", "+ 20 m"
    );
    for (name, sum) in classes.iter().filter(|(_, sum)| sum.stood > 0) {
        let _ = write!(
            out,
            "{name:22} {:>7} {:>7} {:>7} {:>7} {:>9}",
            sum.stood,
            sum.gone.spoiled.count,
            sum.drag.spoiled.count,
            sum.creep.spoiled.count,
            percent(sum.unjudged)
        );
        for line in &sum.circles {
            let _ = write!(out, " {:>6}", line.spoiled.count);
        }
        out.push('\n');
    }
    out.push('\n');
}

fn push_moving(out: &mut String, classes: &[(&str, Sum)]) {
    if classes.iter().all(|(_, sum)| sum.moved == 0) {
        return;
    }
    let _ = writeln!(
        out,
        "{:18} {:>6} {:>12} {:>5} {:>13} {:>15} {:>6} {:>4} {:>11} {:>12} {:>12}",
        "The anchor moved",
        "nights",
        "woken 50/90",
        "soon",
        "moved m 50/90",
        "after min 50/90",
        "missed",
        "far",
        "creep 50/90",
        "+ 5 m 50/90",
        "+ 20 m 50/90"
    );
    for (name, sum) in classes.iter().filter(|(_, sum)| sum.moved > 0) {
        let _ = writeln!(
            out,
            "{name:18} {:>6} {:>12} {:>5} {:>13} {:>15} {:>6} {:>4} {:>11} {:>12} {:>12}",
            sum.moved,
            spread(sum.gone.moved_m, 1.0),
            sum.drag.too_soon.count,
            spread(sum.drag.moved_m, 1.0),
            spread(sum.drag.delay_s, 60.0),
            sum.drag.missed.count,
            sum.drag.missed_far.count,
            spread(sum.first.moved_m, 1.0),
            spread(sum.circles[0].moved_m, 1.0),
            spread(sum.circles[2].moved_m, 1.0),
        );
    }
    out.push('\n');
}

fn push_limit(out: &mut String, scores: &[NightScore]) {
    let Some(limit) = middle(scores) else { return };
    let _ = writeln!(
        out,
        "The limit of theory. In the middle of these nights a fix errs by {:.1} m on an axis, for {}, and the rode \
         reaches {:.0} m.\nNo test that cries wolf once in {SAMPLES_BETWEEN_FALSE:.0} such errors finds, on average, \
         less than:",
        limit.sigma.0, limit.memory, limit.reach.0
    );
    for time in [15, 60, 240].map(Span::from_mins) {
        if let Some(step) = limit.step_found_within(time) {
            let _ = writeln!(out, "  a step of {:.1} m within {time}", step.0);
        }
    }
    for rate in [0.2, 0.5] {
        let _ = writeln!(
            out,
            "  ploughing at {rate} m a minute when it has moved {:.1} m",
            limit.plough_found_at(rate).0
        );
    }
    let _ = writeln!(
        out,
        "  {:.1} m after she has turned about, where the rode may be entered wrong by {:.0} %",
        limit.hidden_by_rode(RODE_ERROR).0,
        RODE_ERROR * 100.0
    );
    for (name, sum) in by_class(scores) {
        if let Some(found) = sum.limit_m {
            let _ = writeln!(
                out,
                "  {name}: {:.1} m in the middle, by each night's own errors and way",
                found.median
            );
        }
    }
    out.push('\n');
}

fn push_words(out: &mut String) {
    let _ = write!(
        out,
        "at nats   what drag would have done had it been called at this evidence
woken     by the first of drag and outside, the alarms that say that she has gone
audible   a warning or an alarm, after she was brought up and before the anchor moved; the crew answers as in its class
spoiled   the anchor stood (never moved {MOVED_M} m) and it called
too soon  the anchor moved later, but had not moved {MOVED_M} m at the call; neither called nor missed
moved     how far the anchor had moved at the call: half of the nights / nine in ten
after     time since it had moved {MOVED_M} m
missed    it moved {MOVED_M} m or more and nothing called; far: {FAR_M} m or more
circle    reach of the rode as entered + margin about the mark, {OUTSIDE_FIXES} fixes in a row outside
unjudged  no position, or none that allows a judgement; of the time after she was brought up
"
    );
}

/// The fix's error and the reach in the middle of the nights.
fn middle(scores: &[NightScore]) -> Option<Limit> {
    let median = |values: Vec<f64>| Spread::of(values).map(|spread| spread.median);
    let errors = || scores.iter().filter_map(|night| night.fix_error);
    Some(Limit {
        sigma: Metres(median(errors().map(|(sigma, _)| sigma.0).collect())?),
        memory: Span(median(errors().map(|(_, memory)| memory.0 as f64).collect())? as i64),
        reach: Metres(median(scores.iter().filter_map(|night| night.reach).map(|reach| reach.0).collect())?),
    })
}

fn percent(share: Option<f64>) -> String {
    share.map_or_else(|| "–".into(), |share| format!("{:.1} %", share * 100.0))
}

fn fraction(share: Share) -> String {
    format!("{}/{}", share.count, share.of)
}

fn spread(values: Option<Spread>, per: f64) -> String {
    values.map_or_else(|| "–".into(), |s| format!("{:.1} / {:.1}", s.median / per, s.p90 / per))
}

/// The trial as one JSON object. Lengths in metres, times in seconds, shares as numbers from 0 to 1.
#[must_use]
pub fn json(trial: &Trial) -> Value {
    let what = |name: &str| trial.classes.iter().find(|(class, _)| *class == name).map(|(_, what)| *what);
    let classes: Vec<Value> = by_class(&trial.scores)
        .iter()
        .map(|(name, of_class)| {
            let mut value = sum_json(of_class);
            value["class"] = json!(name);
            value["what"] = json!(what(name));
            value
        })
        .collect();
    let limit = middle(&trial.scores).map(|limit| {
        json!({
            "fix_sigma_m": limit.sigma.0,
            "fix_memory_s": limit.memory.seconds(),
            "reach_m": limit.reach.0,
            "samples_between_false_alarms": SAMPLES_BETWEEN_FALSE,
            "step_within_1h_m": limit.step_found_within(Span::from_mins(60)).map(|step| step.0),
            "plough_0_2_m_per_min_m": limit.plough_found_at(0.2).0,
            "plough_0_5_m_per_min_m": limit.plough_found_at(0.5).0,
            "hidden_by_rode_3_percent_m": limit.hidden_by_rode(RODE_ERROR).0,
        })
    });
    json!({
        "seed": trial.seed,
        "nights_per_class": trial.nights,
        "seeds_are": trial.seeds_are,
        "moved_from_m": MOVED_M,
        "far_from_m": FAR_M,
        "outside_fixes": OUTSIDE_FIXES,
        "sum": sum_json(&sum(&trial.scores)),
        "classes": classes,
        "limit": limit,
    })
}

fn sum_json(sum: &Sum) -> Value {
    let circles: Vec<Value> = MARGINS_M
        .iter()
        .zip(&sum.circles)
        .map(|(margin, line)| {
            let mut value = line_json(line);
            value["margin_m"] = json!(margin);
            value
        })
        .collect();
    let bars: Vec<Value> = BARS_NATS
        .iter()
        .zip(&sum.bars)
        .map(|(nats, line)| {
            let mut value = line_json(line);
            value["nats"] = json!(nats);
            value
        })
        .collect();
    json!({
        "stood": sum.stood,
        "moved": sum.moved,
        "unjudged": sum.unjudged,
        "drag_or_outside": line_json(&sum.gone),
        "sleep": sleep_json(&sum.sleep),
        "drag": line_json(&sum.drag),
        "creep": line_json(&sum.creep),
        "creep_or_drag": line_json(&sum.first),
        "bars": bars,
        "circles": circles,
        "missed_moved_m": sum.missed_m,
        "limit_m": sum.limit_m,
    })
}

fn sleep_json(sleep: &Sleep) -> Value {
    let heard: serde_json::Map<String, Value> =
        sleep.heard.iter().map(|(kind, count)| (kind.name().to_owned(), json!(count))).collect();
    json!({
        "silent": sleep.silent.count,
        "silent_but_for_wind": sleep.silent_but_for_wind.count,
        "of": sleep.silent.of,
        "heard": heard,
    })
}

fn line_json(line: &Line) -> Value {
    json!({
        "spoiled": line.spoiled.count,
        "spoiled_of": line.spoiled.of,
        "spoiled_share": line.spoiled.value(),
        "spoiled_share_95": line.spoiled.interval().map(|(low, high)| [low, high]),
        "too_soon": line.too_soon.count,
        "moved_m": line.moved_m,
        "delay_s": line.delay_s,
        "missed": line.missed.count,
        "missed_of": line.missed.of,
        "missed_share_95": line.missed.interval().map(|(low, high)| [low, high]),
        "missed_far": line.missed_far.count,
        "missed_far_of": line.missed_far.of,
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::night;
    use super::super::{Call, NightScore};
    use super::*;

    fn trial() -> Trial {
        let seen = |m, s| Call::True { moved: Metres(m), delay: Span::from_secs(s) };
        let ploughing = NightScore {
            class: "plough-0.2",
            drags: true,
            gone: seen(8.0, 2100),
            drag: seen(9.0, 2400),
            first: seen(7.0, 1800),
            circles: [seen(14.0, 4000), Call::Never, Call::Never],
            limit: Some(Metres(6.1)),
            ..night(30.0)
        };
        let spoiled = NightScore { creep: Call::False { after: Span::from_mins(90) }, ..night(0.3) };
        Trial {
            seed: 1_000_000,
            nights: 2,
            seeds_are: "held out",
            classes: vec![("quiet", "5 to 12 kn"), ("plough-0.2", "ploughs")],
            scores: vec![spoiled, night(0.0), ploughing, NightScore { class: "plough-0.2", ..night(21.0) }],
        }
    }

    #[test]
    fn the_page_gives_every_number_its_unit_and_its_words() {
        insta::assert_snapshot!(text(&trial()));
    }

    #[test]
    fn json_says_the_same_as_the_page() {
        let json = json(&trial());
        assert_eq!(json["sum"]["creep"]["spoiled"], 1);
        assert_eq!(json["sum"]["creep"]["spoiled_of"], 2);
        assert_eq!(json["classes"][1]["class"], "plough-0.2");
        assert_eq!(json["classes"][1]["drag"]["moved_m"]["median"], 9.0);
        assert_eq!(json["classes"][1]["circles"][0]["margin_m"], 5.0);
        assert_eq!(json["sum"]["missed_moved_m"][0], 21.0);
        assert_eq!(json["limit"]["fix_sigma_m"], 1.9);
    }

    #[test]
    fn a_trial_of_nothing_has_a_page_too() {
        assert!(text(&Trial::default()).contains("0 nights"));
    }
}
