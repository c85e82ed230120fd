//! Coming to anchor: soundings of the place, the rode counted out, the anchor dug in with the engine.
//!
//! The watch says what it saw, with numbers and their uncertainty, and recommends; whether she is brought up is the
//! crew's to say.
//!
//! The sequence is common practice, no source: let go with no way on, veer as she falls back, then pull slow astern,
//! about half throttle, neutral and look, a short hard burst astern (about 2000 revolutions on a small diesel), neutral
//! and look again.

mod acts;
mod advice;
mod counting;
mod pull;
mod recon;
mod view;
mod words;

use std::collections::VecDeque;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use self::pull::{Ground, Pull, Spot};
use self::recon::Recon;
use super::geo::{Local, Position};
use super::place::LastTime;
use super::rode::Proved;
use super::slope::Fitted;
use super::tuning::setting::{PULL_LEAST, PULLS_MAX, RECENT};
use super::units::{Metres, Span, TrueBearing, WatchTime};

/// How hard the engine pulls astern.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PullKind {
    /// Slow astern: stretches the rode and lets the anchor bite.
    Slow,
    /// About half throttle, held.
    HalfThrottle,
    /// A short hard burst.
    HardBurst,
}

impl PullKind {
    /// What it is called.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Slow => "slow astern",
            Self::HalfThrottle => "half throttle astern",
            Self::HardBurst => "hard burst astern",
        }
    }
}

impl PullKind {
    /// A pull must last so long to prove anything: a steady one half a minute, a burst ten seconds. Common practice, no
    /// source.
    #[must_use]
    pub const fn least(self) -> Span {
        match self {
            Self::Slow | Self::HalfThrottle => Span::from_secs(30),
            Self::HardBurst => Span::from_secs(10),
        }
    }
}

/// Two things ashore in line, abeam: what the crew sees of them while the engine pulls.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Transit {
    /// Two are lined up, before the first pull.
    Taken,
    /// There is nothing to line up: dark, fog, a bare shore.
    NoneInSight,
    /// After a pull they still stand in line.
    Stood,
    /// After a pull they have opened: she went astern.
    Opened,
}

/// One sounding of a reconnaissance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sounding {
    /// When.
    pub at: WatchTime,
    /// Where: under the sounder as nearly as is known.
    pub position: Position,
    /// Depth then, from the surface.
    pub depth: Metres,
    /// Reduced to the datum of the tide entered; `None` without a tide.
    pub charted: Option<Metres>,
}

/// A sounding as it stands in the coming hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoundingView {
    /// When it was taken.
    pub at: WatchTime,
    /// Where, on the snapshot's plane.
    pub point: Local,
    /// Depth then, from the surface.
    pub depth: Metres,
    /// Reduced to the datum of the tide entered.
    pub charted: Option<Metres>,
    /// Depth there at the lowest water of the night ahead.
    pub lowest: Option<Metres>,
    /// Depth there at the highest water of the night ahead.
    pub highest: Option<Metres>,
}

/// The shoalest sounding that she could swing over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastDepth {
    /// That sounding.
    pub sounding: SoundingView,
    /// Water under the keel there at the lowest water of the night; without a tide, as it was sounded.
    pub under_keel: Metres,
    /// It lies so far from the place asked about.
    pub distance: Metres,
    /// And this way from it.
    pub bearing: TrueBearing,
    /// How far from that place was looked: the room she needs there.
    pub within: Metres,
    /// Soundings in that circle. Few of them prove little.
    pub of: usize,
}

/// The bottom's slope, and the depth it makes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlopeView {
    /// The plane through the soundings, about the origin of the snapshot's plane.
    pub fitted: Fitted,
    /// Depth at the drop point at the lowest water of the night; without a tide as sounded.
    pub lowest: Metres,
}

/// The reconnaissance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReconView {
    /// Soundings are being taken, since then.
    pub since: Option<WatchTime>,
    /// Depth under her now, as it stands in the coming hours.
    pub here: Option<SoundingView>,
    /// Depth there the last time, as the crew's book has it, so that silting shows.
    pub last_time: Option<LastTime>,
    /// How the bottom about the drop point slopes, by what was sailed and swung over; `None` where that shows no slope.
    pub slope: Option<SlopeView>,
    /// Soundings taken, oldest first; at most 400.
    pub soundings: Arc<Vec<SoundingView>>,
    /// The shoalest within the room she needs about the drop point; before one is marked, about the bow.
    pub least: Option<LeastDepth>,
}

/// Why so much is to be veered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TargetBy {
    /// The crew said so.
    Crew,
    /// The crew's least scope, at the highest water of the night.
    Scope,
    /// The wind that the plan was made for, at the highest water.
    Wind,
    /// What published rules ask at least of this kind of rode, at the highest water.
    Rule,
    /// There is no more room in the circle that the crew set.
    Room,
    /// There is no more aboard.
    Aboard,
}

/// How much is to be veered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// The length in all.
    pub length: Metres,
    /// What decides it.
    pub by: TargetBy,
    /// What the crew's least scope at the highest water asks for.
    pub by_scope: Metres,
    /// What the wind that the plan was made for asks for; `None` without a plan.
    pub by_wind: Option<Metres>,
    /// Depth at the highest water of the night, where it is allowed for.
    pub high_water: Metres,
    /// Scope at the highest water with that length out.
    pub scope: f64,
}

/// One of the rode's marks.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkSeen {
    /// Length out when it is at the roller.
    pub at: Metres,
    /// How it looks.
    pub look: Arc<str>,
}

/// The rode's marks about the length that is out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MarksView {
    /// The mark at the roller, or the last that went over it.
    pub here: Option<MarkSeen>,
    /// The next to see while veering.
    pub out: Option<MarkSeen>,
    /// The next to see while heaving in.
    pub inward: Option<MarkSeen>,
    /// The mark nearest to the target.
    pub target: Option<MarkSeen>,
}

/// Whether the rode came taut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Taut {
    /// It is not known: no position, no drop point.
    Unknown,
    /// She did not come to a stop.
    Not,
    /// She came to a stop with the rode stretched.
    Taut,
    /// She came to a stop much nearer to the anchor than the rode reaches: it may be fouled, or less is out than entered.
    Short,
}

/// Whether the anchor held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Held {
    /// It is not known: the position is missing or too rough.
    Unknown,
    /// The rode never came taut: the anchor was not tried.
    Untried,
    /// She stood still under the pull.
    Held,
    /// She went astern under the pull.
    Moved,
}

/// What was seen of one pull.
#[derive(Clone, Debug, PartialEq)]
pub struct PullSeen {
    /// How hard.
    pub kind: PullKind,
    /// When it began.
    pub began: WatchTime,
    /// When the engine went into neutral; `None` while it pulls.
    pub ended: Option<WatchTime>,
    /// How long the engine has pulled.
    pub lasted: Span,
    /// How far the bow has moved over the ground since it began.
    pub moved: Option<Metres>,
    /// Which way; `None` if it moved no farther than could be the receiver's error.
    pub toward: Option<TrueBearing>,
    /// Metres a minute over the last quarter of a minute of the pull, away from the anchor.
    pub speed_m_per_min: Option<f64>,
    /// What the receiver's own wander makes of `moved`, one standard deviation.
    pub uncertainty: Metres,
    /// From anchor to bow at the end of the pull.
    pub distance: Option<Metres>,
    /// How far the rode entered reaches.
    pub reach: Option<Metres>,
    /// Whether the rode came taut.
    pub taut: Taut,
    /// Whether the anchor held.
    pub held: Held,
    /// Greatest revolutions meanwhile, where the engine reports them.
    pub rpm: Option<f64>,
    /// How far she came back towards the anchor in the neutral after it: chain that falls slack pulls her.
    pub sprang_back: Option<Metres>,
    /// What the crew saw of its transit after it; `held` heeds it.
    pub transit: Option<Transit>,
    /// Why it is called held, moved or not known, in a few words.
    pub reason: &'static str,
    /// All that in words.
    pub words: String,
}

/// What the crew is at, while setting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Doing {
    /// Nothing of all this.
    #[default]
    Nothing,
    /// Counting the rode out.
    Veering,
    /// Engine astern.
    Pulling(PullKind),
    /// Engine in neutral after a pull.
    Checking(PullKind),
    /// All that is to be out is out, and no pull goes on.
    Lying,
}

/// What the program would do next, and why.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Advice {
    /// What to do, in a few words.
    pub next: String,
    /// Why.
    pub why: String,
    /// The pull to make next, if that is the advice.
    pub pull: Option<PullKind>,
}

/// Whether leaving her is reasonable.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Leaving {
    /// It is.
    pub reasonable: bool,
    /// How long she has held since she was brought up, or since she last moved.
    pub held_for: Option<Span>,
    /// Why not yet, in words; empty if it is.
    pub not_yet: Vec<String>,
}

/// Veering and digging in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SettingView {
    /// What the crew is at.
    pub doing: Doing,
    /// How much to veer; `None` without a depth.
    pub target: Option<Target>,
    /// The rode's marks about what is out.
    pub marks: MarksView,
    /// Pulls so far, oldest first, at most 12; the last may still go on.
    pub pulls: Vec<PullSeen>,
    /// Whether a transit was taken before the first pull; `None`: nobody has entered it.
    pub transit: Option<Transit>,
    /// What the hardest pull that held has proved; `None` without one, or where the engine was not entered.
    pub proved: Option<Proved>,
    /// The last pull is over and nobody has entered yet whether the transit stood.
    pub asks_transit: bool,
    /// What the program would do next; `None` when she is brought up.
    pub advice: Option<Advice>,
    /// Whether she may be left; `None` before she is brought up.
    pub leaving: Option<Leaving>,
}

/// What the watch knows of coming to anchor.
#[derive(Clone, Debug, Default)]
pub struct Setting {
    recon: Recon,
    /// What she has swung over since the anchor is down.
    swung: Recon,
    /// The length to be veered in all, as entered.
    entered: Option<Metres>,
    /// Whether a transit was taken.
    transit: Option<Transit>,
    pulls: Vec<Pull>,
    /// The last seconds, oldest first.
    recent: VecDeque<Spot>,
    /// Since when she has held: brought up, or moved last.
    held_from: Option<WatchTime>,
    /// How the bottom slopes, and when that was fitted; `None`: it is to be fitted anew.
    slope: Option<(WatchTime, Option<SlopeView>)>,
}

impl Setting {
    /// What stays when an anchor is let go: the soundings and the length to be veered.
    fn let_go(&mut self) {
        self.recon.end();
        self.swung = Recon::default();
        self.transit = None;
        self.pulls.clear();
        self.recent.clear();
        self.held_from = None;
        self.slope = None;
    }

    /// The anchor is up again: nothing stays but the soundings.
    pub(super) fn aweigh(&mut self) {
        self.let_go();
        self.entered = None;
    }

    /// The drop point was moved: places of before lie on another plane.
    pub(super) fn plane_moved(&mut self) {
        self.recent.clear();
        self.slope = None;
        if let Some(pull) = self.pulls.last_mut() {
            pull.plane_moved();
        }
    }

    /// She has moved, or has been brought up: time held counts from now.
    pub(super) fn holds_from(&mut self, at: WatchTime) {
        self.held_from = Some(at);
    }

    /// The soundings of the reconnaissance, oldest first.
    pub(super) fn soundings(&self) -> &[Sounding] {
        self.recon.soundings()
    }

    fn pulling(&self) -> Option<&Pull> {
        self.pulls.last().filter(|pull| pull.goes_on())
    }

    fn begin_pull(&mut self, kind: PullKind, at: WatchTime, ground: Ground) {
        self.end_pull(at, ground);
        let seen = self.pulls.last().map(|pull| pull.seen(at, ground));
        let was_taut = seen.is_some_and(|seen| matches!(seen.taut, Taut::Taut | Taut::Short));
        if self.pulls.len() == PULLS_MAX {
            self.pulls.remove(0);
        }
        self.pulls.push(Pull::begin(kind, at, &self.recent, was_taut));
    }

    /// The engine no longer pulls. Gives whether it was a pull at all, if one went on.
    fn end_pull(&mut self, at: WatchTime, ground: Ground) -> Option<bool> {
        let pull = self.pulls.last_mut().filter(|pull| pull.goes_on())?;
        if pull.lasted(at) < PULL_LEAST {
            self.pulls.pop();
            return Some(false);
        }
        pull.end(at, ground);
        Some(true)
    }

    /// What the crew saw of its transit. Gives false if there is no pull that it could be of.
    fn see_transit(&mut self, seen: Transit) -> bool {
        match seen {
            Transit::Taken | Transit::NoneInSight => self.transit = Some(seen),
            Transit::Stood | Transit::Opened => {
                let Some(pull) = self.pulls.last_mut().filter(|pull| !pull.goes_on()) else { return false };
                pull.see_transit(seen);
            }
        }
        true
    }

    /// The last pull is over and the crew, which has a transit, has not yet entered what became of it.
    fn asks_transit(&self) -> bool {
        self.transit == Some(Transit::Taken)
            && self.pulls.last().is_some_and(|pull| !pull.goes_on() && pull.transit().is_none())
    }

    fn second(&mut self, spot: Option<Spot>, rpm: Option<f64>) {
        if let Some(pull) = self.pulls.last_mut() {
            pull.second(spot, rpm);
        }
        if let Some(spot) = spot {
            if self.recent.len() == RECENT {
                self.recent.pop_front();
            }
            self.recent.push_back(spot);
        }
    }
}
