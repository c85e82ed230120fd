//! What the big mode says below its figures: what was seen, what it means, what to do.

use super::Step;
use crate::tui::keys::{Act, label};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{metres, rounded, sentence};
use crate::watch::place::LastTime;
use crate::watch::setting::{Held, LeastDepth, PullSeen, TargetBy, Taut};
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Metres, Span};

/// That the anchor is marked is news for so long.
const NEWS: Span = Span::from_secs(60);
/// From here on a depth differs from that of last time: less is the tables' and the waves'. Common practice, no source.
const SHOALED_M: f64 = 0.3;

/// Lines for a step, the most important first.
pub(super) fn says(scene: &Scene, step: Step) -> Vec<(String, Ink)> {
    let snap = scene.snap;
    match step {
        Step::Before => before(scene),
        Step::Sounding => sounding(scene),
        Step::Veering => [marked(scene), veering(snap)].concat(),
        Step::Pulling(_) => [pulling(snap), advice(snap)].concat(),
        Step::Neutral => [reason(snap), advice(snap), details(snap)].concat(),
        Step::Lying => [last_pull(snap), advice(snap), details(snap)].concat(),
        Step::HeavingIn | Step::UpAndDown | Step::Aweigh => weighing(snap),
    }
}

fn before(scene: &Scene) -> Vec<(String, Ink)> {
    let sail =
        "Sail over the place: depths are kept with where they are, and related to the tides of the night.";
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
        None => (format!("{found}; no tide entered to compare."), Ink::Text),
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

/// Whether the anchor is marked, as long as that is news or not so.
fn marked(scene: &Scene) -> Vec<(String, Ink)> {
    let (snap, clock) = (scene.snap, scene.clock);
    let news = |let_go| snap.at.since(let_go) <= NEWS;
    match (snap.drop, snap.mark_awaited) {
        (None, Some(let_go)) => {
            let words = format!(
                "Let go {}. No settled position yet: it is marked when there is one.",
                clock.hms(let_go)
            );
            vec![(words, Ink::Trouble)]
        }
        (None, None) => vec![(
            format!("The anchor is not marked. {} enters where it lies.", label(Act::MoveMark)),
            Ink::Trouble,
        )],
        (Some(drop), _) if drop.fixed > drop.let_go => {
            let (let_go, fixed) = (clock.hms(drop.let_go), clock.hms(drop.fixed));
            let within = metres(Metres(drop.doubt.0.ceil()));
            vec![(format!("Marked {let_go}, position at {fixed}, within {within} more."), Ink::Text)]
        }
        (Some(drop), _) if news(drop.let_go) => {
            vec![(format!("Marked {}.", clock.hms(drop.let_go)), Ink::Text)]
        }
        (Some(_), _) => Vec::new(),
    }
}

fn veering(snap: &Snapshot) -> Vec<(String, Ink)> {
    let mut lines = Vec::new();
    if let Some(mark) = &snap.setting.marks.out {
        lines.push((format!("Next mark: {}, {} out.", mark.look, metres(mark.at)), Ink::Strong));
    }
    match &snap.setting.target {
        None => lines.push(("No depth is known: how much to veer is yours to judge.".into(), Ink::Text)),
        Some(target) => {
            let why = match target.by {
                TargetBy::Crew => "as you entered".to_owned(),
                TargetBy::Wind => "for the wind of your plan at high water".to_owned(),
                TargetBy::Rule => "the least by the rules for this rode at high water".to_owned(),
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

/// What is seen of the pull that goes on.
fn pulling(snap: &Snapshot) -> Vec<(String, Ink)> {
    let Some(pull) = snap.setting.pulls.last() else { return Vec::new() };
    let so_far = match (pull.held, pull.taut) {
        (Held::Moved, _) => "NOT HOLDING: ",
        (_, Taut::Short) => "TAUT TOO SOON: ",
        (Held::Held, _) => "HOLDS SO FAR: ",
        (Held::Untried, _) => "NOT TAUT YET: ",
        (Held::Unknown, _) => "NOT KNOWN: ",
    };
    vec![(format!("{so_far}{}", pull.words), pull_ink(pull))]
}

/// Why the tall word is what it is: one short reason.
fn reason(snap: &Snapshot) -> Vec<(String, Ink)> {
    let Some(pull) = snap.setting.pulls.last() else { return Vec::new() };
    std::iter::once((sentence(pull.reason), pull_ink(pull))).chain(proved(snap)).collect()
}

/// The last pull, where the tall word is the step's.
fn last_pull(snap: &Snapshot) -> Vec<(String, Ink)> {
    let Some(pull) = snap.setting.pulls.last() else { return Vec::new() };
    let last = (format!("The last pull: {}.", pull.reason), pull_ink(pull));
    std::iter::once(last).chain(proved(snap)).collect()
}

/// What the anchor was proved to beside what is to be expected.
fn proved(snap: &Snapshot) -> Option<(String, Ink)> {
    let proved = snap.setting.proved?;
    Some((proved.in_words(), if proved.short() { Ink::Trouble } else { Ink::Text }))
}

/// All that was measured of the last pull, for whoever has the rows.
fn details(snap: &Snapshot) -> Vec<(String, Ink)> {
    snap.setting.pulls.last().map(|pull| (pull.words.clone(), Ink::Dim)).into_iter().collect()
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
