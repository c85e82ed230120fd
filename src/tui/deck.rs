//! The work on deck, a step at a time: what is being done, what is seen of it, and the three keys that matter.
//!
//! Sounding, letting go, veering, digging in and weighing are worked from the cockpit, at arm's length and with one
//! hand: [`Deck`] says what the big mode shows at such a step and what its keys do. `Enter` is always the next act, in
//! the words of the bottom row; `+` and `-` are marks of the rode over the roller.

mod says;

use super::keys::{self, Act, Hint};
use super::overlay::ask::Question;
use super::palette::Ink;
use super::request::Request;
use super::scene::Scene;
use super::stands::Place;
use super::text::{knots, metres, rounded};
use super::view::bar;
use super::view::figures::Figure;
use crate::watch::input::Command;
use crate::watch::setting::{Doing, Held, PullKind, PullSeen, Taut};
use crate::watch::snapshot::{Reading, Snapshot, Stage, UpAndDown, WeighingView};
use crate::watch::units::Metres;

/// Without marks on the rode it is counted in steps of so much: about an arm span's worth of hauls. Our choice.
const STEP: Metres = Metres(5.0);

/// The step that the crew is at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Nothing is down and no depths are kept.
    Before,
    /// Depths are kept with their places.
    Sounding,
    /// The rode goes out.
    Veering,
    /// Engine astern.
    Pulling(PullKind),
    /// Engine in neutral after a pull.
    Neutral,
    /// All is out and no pull goes on.
    Lying,
    /// Heaving in.
    HeavingIn,
    /// The rode leads straight down.
    UpAndDown,
    /// The anchor is off the ground.
    Aweigh,
}

/// What `Enter` does at a step.
#[derive(Clone, Debug, PartialEq)]
pub enum Next {
    /// The watch hears it at once.
    Send(Command),
    /// A question is asked first.
    Ask(Question),
}

/// One step as the big mode shows it.
#[derive(Clone, Debug)]
pub struct Deck {
    /// The step in a word or two, for tall letters.
    pub word: &'static str,
    /// Three figures.
    pub figures: [Figure; 3],
    /// What is seen and what to do, the most important first.
    pub says: Vec<(String, Ink)>,
}

/// The step that the crew is at; `None` while she rides, brought up.
#[must_use]
pub fn step(snap: &Snapshot) -> Option<Step> {
    let weighing = snap.weighing.as_ref();
    match (snap.stage, snap.setting.doing) {
        (Stage::BroughtUp, _) => None,
        (Stage::Weighing, _) => match weighing {
            Some(view) if view.up_and_down == UpAndDown::UpAndDown => Some(Step::UpAndDown),
            _ => Some(Step::HeavingIn),
        },
        (Stage::NotSet, _)
            if weighing.is_some_and(|view| view.aweigh.is_some()) && snap.recon.since.is_none() =>
        {
            Some(Step::Aweigh)
        }
        (Stage::NotSet, _) if snap.recon.since.is_some() => Some(Step::Sounding),
        (Stage::NotSet, _) => Some(Step::Before),
        (Stage::Setting, Doing::Pulling(kind)) => Some(Step::Pulling(kind)),
        (Stage::Setting, Doing::Checking(_)) => Some(Step::Neutral),
        (Stage::Setting, Doing::Lying) => Some(Step::Lying),
        (Stage::Setting, Doing::Veering | Doing::Nothing) => Some(Step::Veering),
    }
}

/// What `Enter` does here, and its word.
#[must_use]
pub fn next(step: Step, snap: &Snapshot) -> (Next, &'static str) {
    let pull = |kind: PullKind| (Next::Send(Command::Pull { kind }), pull_word(kind));
    let advised = snap.setting.advice.as_ref().and_then(|advice| advice.pull);
    let neutral = (Next::Send(Command::Neutral), "engine in neutral");
    match step {
        Step::Before => (Next::Send(Command::BeginRecon), "sound the place"),
        Step::Sounding => (Next::Ask(Question::LetGo), "let go here"),
        Step::Pulling(_) => neutral,
        Step::Veering | Step::Neutral | Step::Lying => transit(snap)
            .or_else(|| after_pull(snap))
            .unwrap_or_else(|| pull(advised.unwrap_or(PullKind::Slow))),
        Step::HeavingIn => neutral,
        Step::UpAndDown => (Next::Ask(Question::AweighOrStay), "aweigh"),
        Step::Aweigh => (Next::Send(Command::BeginRecon), "sound another place"),
    }
}

/// What is asked of the crew's transit: it is taken before the first pull and looked at after each.
fn transit(snap: &Snapshot) -> Option<(Next, &'static str)> {
    let setting = &snap.setting;
    if setting.asks_transit {
        return Some((Next::Ask(Question::TransitStood), "did the transit stand?"));
    }
    let first = setting.pulls.is_empty() && setting.transit.is_none();
    first.then_some((Next::Ask(Question::TakeTransit), "take a transit"))
}

/// What follows a pull instead of another; `None` if another follows. Nothing but an anchor that was seen to hold
/// makes "brought up" the key that is nearest.
fn after_pull(snap: &Snapshot) -> Option<(Next, &'static str)> {
    let last = snap.setting.pulls.last()?;
    let another = snap.setting.advice.as_ref().is_some_and(|advice| advice.pull.is_some());
    match (last.held, last.taut) {
        _ if another => None,
        (Held::Moved, _) => Some((Next::Ask(Question::Weigh), "weigh")),
        (Held::Held, Taut::Taut | Taut::Unknown) => Some((Next::Ask(Question::BroughtUp), "brought up")),
        (Held::Held | Held::Unknown | Held::Untried, _) => None,
    }
}

const fn pull_word(kind: PullKind) -> &'static str {
    match kind {
        PullKind::Slow => "slow astern",
        PullKind::HalfThrottle => "half astern",
        PullKind::HardBurst => "hard astern",
    }
}

/// The request of `Enter`, or the question that it asks.
#[must_use]
pub fn enter(snap: &Snapshot) -> Option<Next> {
    step(snap).map(|step| next(step, snap).0)
}

/// A mark of the rode goes over the roller, out or back in.
#[must_use]
pub fn mark_passed(snap: &Snapshot, outward: bool) -> Option<Request> {
    if !matches!(snap.stage, Stage::Setting | Stage::Weighing) {
        return None;
    }
    let out = snap.rode.veered.unwrap_or_default();
    let marks = &snap.setting.marks;
    let mark = if outward { &marks.out } else { &marks.inward };
    let length = match mark {
        Some(mark) => mark.at,
        None if outward => stepped(out, 1.0),
        None => stepped(out, -1.0),
    };
    (length.0 > 0.0 && length != out).then_some(Request::Crew(Command::Veered { length }))
}

/// The next whole step above or below.
fn stepped(out: Metres, way: f64) -> Metres {
    let steps = out.0 / STEP.0;
    let whole = if way > 0.0 { (steps + 1e-6).floor() + 1.0 } else { (steps - 1e-6).ceil() - 1.0 };
    Metres((whole * STEP.0).max(0.0))
}

/// The keys of a step, the most useful first.
#[must_use]
pub fn hints(snap: &Snapshot) -> Option<Vec<Hint>> {
    let step = step(snap)?;
    let named = |act| keys::hint(act, Place::Deck);
    let mut all = vec![named(Act::NextStep).saying(next(step, snap).1)];
    match step {
        Step::Before | Step::Aweigh => all.extend([named(Act::LetGo), named(Act::Checks)]),
        Step::Sounding => all.push(named(Act::Checks)),
        Step::Veering => all.extend([named(Act::MarkOut), named(Act::MarkBack)]),
        Step::Pulling(_) => {}
        // "Brought up" is the crew's word at any time; it is offered where nothing speaks against it.
        Step::Neutral | Step::Lying if after_pull(snap).is_some() => all.push(named(Act::MarkOut)),
        Step::Neutral | Step::Lying => all.extend([named(Act::BroughtUp), named(Act::MarkOut)]),
        Step::HeavingIn => all.extend([named(Act::MarkBack).saying("mark in"), named(Act::AweighOrStay)]),
        Step::UpAndDown => all.extend([named(Act::MarkBack).saying("mark in"), named(Act::MarkOut)]),
    }
    all.extend([named(Act::Tall), named(Act::Help)]);
    Some(all)
}

/// What the big mode shows of the step; `None` while she rides, brought up.
#[must_use]
pub fn deck(scene: &Scene) -> Option<Deck> {
    let snap = scene.snap;
    let step = step(snap)?;
    let pull = snap.setting.pulls.last();
    let figures = match step {
        Step::Before => [depth(scene), lowest(scene), wind(scene)],
        Step::Sounding => [depth(scene), lowest(scene), highest(scene)],
        Step::Veering => [out(scene), scope(scene), off(scene)],
        Step::Pulling(_) => [pulling_for(scene, pull), moved(pull, "moved"), off(scene)],
        Step::Neutral => [moved(pull, "moved in the pull"), off(scene), pulled_for(pull)],
        Step::Lying => [out(scene), scope(scene), off(scene)],
        Step::HeavingIn | Step::UpAndDown => {
            [off_weighing(scene), still_out(scene), drift(snap.weighing.as_ref())]
        }
        Step::Aweigh => [drift(snap.weighing.as_ref()), depth(scene), wind(scene)],
    };
    Some(Deck { word: word(step, snap), figures, says: says::says(scene, step) })
}

/// What a pull that is over has shown: one of three words. An anchor of which she stopped short is not proved.
fn found(pull: &PullSeen) -> &'static str {
    match (pull.held, pull.taut) {
        (Held::Moved, _) => "MOVED",
        (Held::Held, Taut::Taut | Taut::Unknown) => "HELD",
        (Held::Held | Held::Untried | Held::Unknown, _) => "NOT KNOWN",
    }
}

fn word(step: Step, snap: &Snapshot) -> &'static str {
    match step {
        Step::Before => snap.verdict.word(),
        Step::Sounding => "SOUNDING",
        Step::Veering => "VEERING",
        Step::Pulling(PullKind::Slow) => "SLOW ASTERN",
        Step::Pulling(PullKind::HalfThrottle) => "HALF ASTERN",
        Step::Pulling(PullKind::HardBurst) => "HARD ASTERN",
        Step::Neutral => match snap.setting.pulls.last() {
            Some(pull) => found(pull),
            None => "NOT KNOWN",
        },
        Step::Lying => "SETTING",
        Step::HeavingIn => "HEAVE IN",
        Step::UpAndDown => "UP AND DOWN",
        Step::Aweigh => "AWEIGH",
    }
}

fn in_metres(value: Metres, name: &str, note: String) -> Figure {
    Figure::of(rounded(value.0, 1), "m", name, note)
}

/// Whole metres from ten: the figures must not jump in the last digit that nobody can use.
fn length(value: Metres, name: &str, note: String) -> Figure {
    let decimals = usize::from(value.0.abs() < 9.95);
    Figure::of(rounded(value.0, decimals), "m", name, note)
}

fn depth(scene: &Scene) -> Figure {
    let snap = scene.snap;
    match (snap.recon.here.map(|here| here.depth).or(snap.depth.sounded.now()), snap.depth.sounded.at()) {
        (Some(depth), _) => in_metres(depth, "deep now", format!("{} under keel", keel(snap, depth))),
        (None, Some(at)) => Figure::missing("depth", &format!("silent for {}", snap.at.since(at))),
        (None, None) => Figure::missing("depth", "no sounder heard"),
    }
}

fn keel(snap: &Snapshot, depth: Metres) -> String {
    rounded((depth - snap.settings.boat.draft).0, 1)
}

fn lowest(scene: &Scene) -> Figure {
    let snap = scene.snap;
    let Some(lowest) = snap.recon.here.and_then(|here| here.lowest) else {
        return Figure::missing("at lowest tide", no_tide(snap));
    };
    let left = lowest - snap.settings.boat.draft;
    let figure = in_metres(lowest, "at lowest tide", format!("{} under keel", rounded(left.0, 1)));
    if left < snap.limits.under_keel { figure.in_ink(Ink::Trouble) } else { figure }
}

fn highest(scene: &Scene) -> Figure {
    let snap = scene.snap;
    let Some(highest) = snap.recon.here.and_then(|here| here.highest) else {
        return Figure::missing("at highest tide", no_tide(snap));
    };
    let length = (highest + snap.settings.boat.bow_height) * snap.limits.scope;
    let note = format!("scope {} needs {}", rounded(snap.limits.scope, 0), metres(Metres(length.0.ceil())));
    in_metres(highest, "at highest tide", note)
}

fn no_tide(snap: &Snapshot) -> &'static str {
    match (&snap.tide.credit, snap.depth.sounded.now()) {
        (None, _) => "no tide entered: t",
        (Some(_), None) => "no sounder heard",
        (Some(_), Some(_)) => "no position",
    }
}

fn wind(scene: &Scene) -> Figure {
    let wind = &scene.snap.wind;
    let Some((_, now)) = wind.apparent.now() else { return Figure::missing("wind", "no wind heard") };
    let from = wind.mean_direction.or(wind.direction).map(|d| format!("from {d}")).unwrap_or_default();
    let gusts = wind.gust.map(|gust| format!("gusts {}", knots(gust))).unwrap_or_default();
    Figure::of(rounded(wind.mean.unwrap_or(now).0, 0), "kn", &from, gusts)
}

fn out(scene: &Scene) -> Figure {
    let snap = scene.snap;
    let Some(veered) = snap.rode.veered else { return Figure::missing("rode out", "not entered: +") };
    let Some(target) = snap.setting.target else {
        return length(veered, "rode out", String::new());
    };
    let to_go = (target.length - veered).0.max(0.0);
    let note = match to_go {
        to_go if to_go < 0.5 => "all that is to be out".to_owned(),
        to_go => format!("of {}, {} to go", metres(target.length), metres(Metres(to_go))),
    };
    length(veered, "rode out", note).with_bar(bar::share(veered.0, target.length.0))
}

fn scope(scene: &Scene) -> Figure {
    let snap = scene.snap;
    let Some(scope) = snap.rode.scope else {
        return Figure::missing(
            "scope",
            if snap.rode.veered.is_some() { "no depth known" } else { "no rode entered" },
        );
    };
    let least = snap.rode.least_scope.map(|(least, at)| {
        let at = scene.clock.hm(at);
        format!("{} at high water {at}", rounded(least, 1))
    });
    let short = snap.rode.least_scope.map_or(scope, |(least, _)| least) < snap.limits.scope;
    let figure = Figure::of(rounded(scope, 1), "", "scope now", least.unwrap_or_default());
    if short && snap.setting.doing == Doing::Lying { figure.in_ink(Ink::Trouble) } else { figure }
}

/// How far the bow lies from the anchor, beside what the rode reaches.
fn off(scene: &Scene) -> Figure {
    let snap = scene.snap;
    let Some((distance, bearing)) = snap.anchor_off else {
        return Figure::missing("anchor", "no position");
    };
    let note = snap.reach.map(|reach| format!("rode reaches {}", metres(reach))).unwrap_or_default();
    length(distance, &scene.to_anchor(bearing), note)
}

fn moved(pull: Option<&PullSeen>, name: &str) -> Figure {
    let Some(PullSeen { moved: Some(moved), toward, uncertainty, .. }) = pull else {
        return Figure::missing(name, "no position");
    };
    let way = toward.map(|toward| format!("towards {toward}, ")).unwrap_or_default();
    length(*moved, name, format!("{way}within {}", metres(*uncertainty * 2.0)))
}

/// How long the engine has pulled, beside how long it must to prove anything.
fn pulling_for(scene: &Scene, pull: Option<&PullSeen>) -> Figure {
    let Some(pull) = pull else { return Figure::missing("pull", "none") };
    let (lasted, least) = (pull.lasted.seconds(), pull.kind.least().seconds());
    let turns = match &scene.snap.revolutions {
        Reading::Now { value, .. } => format!("{} rpm", rounded(*value, 0)),
        _ => format!("of {} s", rounded(least, 0)),
    };
    // A pull is counted to three figures; nobody pulls for longer.
    Figure::of(rounded(lasted.min(999.0).floor(), 0), "s", pull_word(pull.kind), turns)
        .with_bar(bar::share(lasted, least))
}

/// How long it has pulled, now that it is over.
fn pulled_for(pull: Option<&PullSeen>) -> Figure {
    let Some(pull) = pull else { return Figure::missing("pull", "none") };
    let most = pull.rpm.map(|rpm| format!("at up to {} rpm", rounded(rpm, 0))).unwrap_or_default();
    Figure::of(rounded(pull.lasted.seconds().min(999.0).floor(), 0), "s", pull_word(pull.kind), most)
}

fn off_weighing(scene: &Scene) -> Figure {
    let Some(WeighingView { to_anchor: Some((distance, bearing)), uncertainty, .. }) = &scene.snap.weighing
    else {
        return Figure::missing("anchor", "no position");
    };
    let note = uncertainty.map(|sigma| format!("within {}", metres(sigma * 2.0))).unwrap_or_default();
    length(*distance, &scene.to_anchor(*bearing), note)
}

fn still_out(scene: &Scene) -> Figure {
    let Some(WeighingView { out: Some(out), straight_down, .. }) = &scene.snap.weighing else {
        return Figure::missing(
            "rode out",
            &format!("not entered: {} at each mark", keys::label(Act::MarkBack)),
        );
    };
    let note = straight_down.map(|down| format!("up and down at {}", metres(down))).unwrap_or_default();
    length(*out, "still out", note)
}

fn drift(weighing: Option<&WeighingView>) -> Figure {
    let Some(WeighingView { drift: Some((distance, toward)), drifting_for, .. }) = weighing else {
        return Figure::missing("drift", "counts from neutral");
    };
    let note = drifting_for.map(|span| format!("in {span}")).unwrap_or_default();
    length(*distance, &format!("drift {toward}"), note)
}
