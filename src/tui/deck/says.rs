//! What the big mode says below its figures: what was seen, what it means, what to do.

use super::Step;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{metres, rounded};
use crate::watch::place::LastTime;
use crate::watch::setting::{Held, LeastDepth, PullSeen, TargetBy, Taut};
use crate::watch::snapshot::Snapshot;

/// From here on a depth differs from that of last time: less is the tables' and the waves'. Common practice, no source.
const SHOALED_M: f64 = 0.3;

/// Lines for a step, the most important first.
pub(super) fn says(scene: &Scene, step: Step) -> Vec<(String, Ink)> {
    let snap = scene.snap;
    match step {
        Step::Before => before(scene),
        Step::Sounding => sounding(scene),
        Step::Veering => veering(snap),
        Step::Pulling(_) => [pulled(snap), advice(snap)].concat(),
        Step::Neutral | Step::Lying => [pulled(snap), advice(snap)].concat(),
        Step::HeavingIn | Step::UpAndDown | Step::Aweigh => weighing(snap),
    }
}

fn before(scene: &Scene) -> Vec<(String, Ink)> {
    let sail =
        "Sail over the place: depths are kept with where they are, and reckoned to the tides of the night.";
    let Some(near) = &scene.snap.near else { return vec![(sail.into(), Ink::Text)] };
    let mut lines =
        vec![(format!("{}, {} off, {}.", near.name, metres(near.distance), near.bearing), Ink::Strong)];
    lines.extend(near.notes.iter().map(|note| (note.clone(), Ink::Trouble)));
    lines.extend(
        near.barred.iter().map(|s| (format!("Not in winds from {} to {}.", s.from, s.to), Ink::Text)),
    );
    if let Some(ride) = &near.last_ride {
        let on = ride.let_go.map(|at| format!(", {}", scene.clock.date(at))).unwrap_or_default();
        lines.push((format!("Last time{on}: {}", ride.held), Ink::Text));
    }
    lines.push((sail.into(), Ink::Text));
    lines
}

/// The depth under her as the book has it, so that silting shows.
fn last_time(scene: &Scene) -> Option<(String, Ink)> {
    let LastTime { charted, on, shoaled } = scene.snap.recon.last_time?;
    let (then, on) = (rounded(charted.0, 1), scene.clock.date(on));
    let found = format!("Last time here, {on}: {then} m at datum");
    Some(match shoaled.map(|by| by.0) {
        None => (format!("{found}; no tide told to compare."), Ink::Text),
        Some(by) if by >= SHOALED_M => {
            (format!("{found}. SHOALER NOW by {} m.", rounded(by, 1)), Ink::Trouble)
        }
        Some(by) if by <= -SHOALED_M => (format!("{found}; {} m deeper now.", rounded(-by, 1)), Ink::Text),
        Some(_) => (format!("{found}, as now."), Ink::Text),
    })
}

fn sounding(scene: &Scene) -> Vec<(String, Ink)> {
    let recon = &scene.snap.recon;
    let count = recon.soundings.len();
    let Some(least) = &recon.least else {
        let none = (format!("{count} soundings. No position, or none near enough yet."), Ink::Text);
        return last_time(scene).into_iter().chain([none]).collect();
    };
    let LeastDepth { under_keel, distance, bearing, within, of, .. } = least;
    let ink = if *under_keel < scene.snap.limits.under_keel { Ink::Trouble } else { Ink::Strong };
    let (keel, off) = (rounded(under_keel.0, 1), metres(*distance));
    let least = (format!("Least under keel {keel} m, {off} off, {bearing}."), ink);
    let found = format!("Within {} of the bow, by {of} of {count} soundings.", metres(*within));
    std::iter::once(least).chain(last_time(scene)).chain([(found, Ink::Text)]).collect()
}

fn veering(snap: &Snapshot) -> Vec<(String, Ink)> {
    let mut lines = Vec::new();
    if let Some(mark) = &snap.setting.marks.out {
        lines.push((format!("Next mark: {}, {} out.", mark.look, metres(mark.at)), Ink::Strong));
    }
    match &snap.setting.target {
        None => lines.push(("No depth is known: how much to veer is yours to say.".into(), Ink::Text)),
        Some(target) => {
            let why = match target.by {
                TargetBy::Crew => "as you said".to_owned(),
                TargetBy::Scope => format!("scope {} at high water", rounded(target.scope, 1)),
                TargetBy::Room => format!("the circle allows no more: scope {}", rounded(target.scope, 1)),
                TargetBy::Aboard => format!("all there is: scope {}", rounded(target.scope, 1)),
            };
            let mark = snap.setting.marks.target.as_ref();
            let mark = mark.map(|mark| format!(", mark {}", mark.look)).unwrap_or_default();
            lines.push((format!("To {}{mark}: {why}.", metres(target.length)), Ink::Text));
        }
    }
    [lines, advice(snap)].concat()
}

/// What was seen of the last pull.
fn pulled(snap: &Snapshot) -> Vec<(String, Ink)> {
    let Some(pull) = snap.setting.pulls.last() else { return Vec::new() };
    vec![(format!("{}{}", verdict(pull), pull.words), pull_ink(pull))]
}

fn verdict(pull: &PullSeen) -> &'static str {
    match (pull.held, pull.taut) {
        (Held::Moved, _) => "NOT HOLDING: ",
        (_, Taut::Short) => "TAUT TOO SOON: ",
        (Held::Held, _) if pull.ended.is_none() => "HOLDS SO FAR: ",
        (Held::Held, _) => "HELD: ",
        (Held::Untried, _) => "NOT TRIED YET: ",
        (Held::Unknown, _) => "NOT KNOWN: ",
    }
}

fn pull_ink(pull: &PullSeen) -> Ink {
    match (pull.held, pull.taut) {
        (Held::Moved, _) | (_, Taut::Short) => Ink::Trouble,
        (Held::Held, _) => Ink::Strong,
        _ => Ink::Text,
    }
}

fn advice(snap: &Snapshot) -> Vec<(String, Ink)> {
    let Some(advice) = &snap.setting.advice else { return Vec::new() };
    let words = if advice.why.is_empty() {
        format!("Next: {}.", advice.next)
    } else {
        format!("Next: {}. {}", advice.next, advice.why)
    };
    vec![(words, Ink::Text)]
}

fn weighing(snap: &Snapshot) -> Vec<(String, Ink)> {
    let Some(view) = &snap.weighing else { return Vec::new() };
    let mark = snap.setting.marks.inward.as_ref();
    let mark = mark.map(|mark| format!("Next mark in: {}, {} out.", mark.look, metres(mark.at)));
    let mut remind = view.remind.iter().map(|words| (*words).to_owned());
    let most_important = remind.next();
    let lines = most_important.into_iter().chain(mark).chain(remind).map(|words| (words, Ink::Text));
    std::iter::once((view.next.clone(), Ink::Strong)).chain(lines).collect()
}
