//! What the screen, the report and other lookers-on see: the state of the watch at one moment, immutable.
//!
//! The watch computes; whoever draws only reads. Points on the chart are metres east and north of the drop point
//! (before one is marked: of the first position of the watch).

use std::sync::Arc;

use serde::{Deserialize, Serialize};

pub use super::ahead::NightView;
use super::alert::{Alert, Sound};
use super::allows::Allows;
pub use super::anchor_check::CheckView;
use super::asked_now::AskedNow;
use super::boat::{Berth, Limits, Settings};
use super::fixgate::Doubt;
use super::geo::{Local, Position};
use super::health::Health;
use super::holding::Belief;
use super::input::{Kept, Link, TurnKind};
pub use super::lights::LightsView;
pub use super::marks::{CrossView, MarkView};
use super::motion::MotionView;
use super::moving::LATELY;
pub use super::place::PlaceView;
pub use super::rehearsal::RehearsalView;
pub use super::rounds::RoundsView;
pub use super::setting::{ReconView, SettingView};
use super::slope::Slope;
use super::tide::Assumed;
pub use super::traffic::VesselView;
use super::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};
pub use super::wake::WakeFor;
use super::water::sea::Correction;
use super::way_out::WayOut;

/// How far the crew has come with this anchor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// No anchor down.
    #[default]
    NotSet,
    /// Let go; not yet proved to hold.
    Setting,
    /// Rides to an anchor that has been proved to hold.
    BroughtUp,
    /// Heaving in: the drag judgement stands down.
    Weighing,
}

/// The one word that a tired sailor needs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// No anchor down.
    #[default]
    NotSet,
    /// The anchor is down, not yet proved.
    Setting,
    /// The anchor stands.
    Holding,
    /// The anchor probably moves, slowly.
    Creeping,
    /// The anchor moves.
    Dragging,
    /// The boat lies outside the circle.
    Outside,
    /// The fixes do not allow a judgement.
    CannotJudge,
    /// There is no position.
    NoFix,
    /// Heaving in.
    Weighing,
}

impl Verdict {
    /// The word on the screen, in capitals.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NotSet => "NO ANCHOR DOWN",
            Self::Setting => "SETTING",
            Self::Holding => "HOLDING",
            Self::Creeping => "CREEPING",
            Self::Dragging => "DRAGGING",
            Self::Outside => "OUTSIDE",
            Self::CannotJudge => "CANNOT JUDGE",
            Self::NoFix => "NO POSITION",
            Self::Weighing => "WEIGHING",
        }
    }
}

/// A measured quantity as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Reading<T> {
    /// No source has ever given it.
    #[default]
    Never,
    /// A source gave it once, and no longer does.
    Lost {
        /// The last value.
        last: T,
        /// When it came.
        at: WatchTime,
    },
    /// Fresh.
    Now {
        /// The value.
        value: T,
        /// When it came.
        at: WatchTime,
        /// Name of the feed and talker, `masthead/WI`.
        source: Arc<str>,
    },
}

impl<T: Copy> Reading<T> {
    /// The value while it is fresh.
    #[must_use]
    pub fn now(&self) -> Option<T> {
        match self {
            Self::Now { value, .. } => Some(*value),
            _ => None,
        }
    }

    /// When it last came.
    #[must_use]
    pub fn at(&self) -> Option<WatchTime> {
        match self {
            Self::Never => None,
            Self::Lost { at, .. } | Self::Now { at, .. } => Some(*at),
        }
    }
}

/// Where a true heading comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeadingBasis {
    /// The feed gives it true.
    True,
    /// Magnetic, with the variation that the feed gives.
    FeedVariation,
    /// Magnetic, with the variation of the World Magnetic Model.
    ModelVariation,
}

/// The heading and how it was come by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heading {
    /// True heading.
    pub bearing: TrueBearing,
    /// Where it comes from.
    pub basis: HeadingBasis,
    /// The variation applied, degrees east.
    pub variation_deg: Option<f64>,
}

/// How good the position is.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum FixQuality {
    /// No position has ever come.
    #[default]
    Never,
    /// Can be trusted.
    Good,
    /// Comes, but cannot be trusted.
    Doubtful {
        /// Why.
        why: Doubt,
    },
    /// No longer comes.
    Lost,
}

/// The position as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FixView {
    /// How good it is.
    pub quality: FixQuality,
    /// The antenna's last position.
    pub position: Option<Position>,
    /// When that came.
    pub at: Option<WatchTime>,
    /// Feed and talker that it comes from.
    pub source: Option<Arc<str>>,
    /// Expected error, one standard deviation per axis.
    pub sigma: Option<Metres>,
    /// Satellites used.
    pub satellites: Option<u8>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Course over ground.
    pub cog: Option<TrueBearing>,
}

/// How the drop point was come by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkedHow {
    /// At the bow, by antenna position, offset and heading.
    Bow,
    /// At the antenna: no heading was there.
    Antenna,
    /// Moved by hand.
    Hand,
    /// Moved by bearing and distance from the bow.
    BearingDistance,
    /// Moved to where the bow was earlier.
    Earlier,
    /// The crew said that she lies to it where she is: the reach of the rode ahead of the bow.
    Guessed,
}

/// The drop point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DropPoint {
    /// Where.
    pub position: Position,
    /// When the anchor was let go.
    pub let_go: WatchTime,
    /// How the point was come by.
    pub how: MarkedHow,
    /// Depth of water there at that time, from the surface.
    pub depth: Option<Metres>,
    /// When the position was taken: later than `let_go` where no settled position was there then.
    #[serde(default)]
    pub fixed: WatchTime,
    /// How far off it may be beyond the error of a position: what she may have moved between the two.
    #[serde(default)]
    pub doubt: Metres,
}

/// The nearest of the limits: metres until something is wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Metres left; negative beyond the limit.
    pub left: Metres,
    /// Metres that there would be at the anchor itself.
    pub of: Metres,
    /// The end of the hull that is nearest to the limit.
    pub end: End,
}

impl Room {
    /// What is measured from where to where.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self.end {
            End::Stern => "stern to circle",
            End::Bow => "bow to circle",
        }
    }
}

/// An end of the hull.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum End {
    /// The stern: as a rule it lies farthest from the anchor.
    #[default]
    Stern,
    /// The bow.
    Bow,
}

impl End {
    /// Its name.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stern => "Stern",
            Self::Bow => "Bow",
        }
    }
}

/// Whether the rode leads straight down from the roller.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum UpAndDown {
    /// It is not known: no depth, no position, or nobody entered what is out.
    #[default]
    Unknown,
    /// There is more out than leads straight down.
    Not,
    /// The rode that is left is no longer than from roller to bottom, or she lies over the anchor.
    UpAndDown,
}

/// Heaving in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WeighingView {
    /// Since when.
    pub since: WatchTime,
    /// From the bow (else the antenna) to where the anchor is thought to lie.
    pub to_anchor: Option<(Metres, TrueBearing)>,
    /// How well that is known, one standard deviation.
    pub uncertainty: Option<Metres>,
    /// Rode still out, as counted in.
    pub out: Option<Metres>,
    /// Roller to bottom now: what is out when it is up and down.
    pub straight_down: Option<Metres>,
    /// Whether it is up and down.
    pub up_and_down: UpAndDown,
    /// When the anchor was aweigh.
    pub aweigh: Option<WatchTime>,
    /// How far she has drifted, and which way, since neutral was entered, or since the anchor was aweigh.
    pub drift: Option<(Metres, TrueBearing)>,
    /// For so long.
    pub drifting_for: Option<Span>,
    /// What to do next, in words.
    pub next: String,
    /// What to bear in mind, in words.
    pub remind: Vec<&'static str>,
}

/// The circles about the anchor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CircleView {
    /// Within this she swings: reach at the lowest tide and the boat's length.
    pub swings: Option<Metres>,
    /// The radius that raises `outside`.
    pub set: Option<Metres>,
    /// Its middle on the plane: the drop point, or where the anchor is learned to lie.
    pub centre: Local,
}

impl CircleView {
    /// The one to show: that which raises `outside`, else that in which she swings.
    #[must_use]
    pub fn radius(&self) -> Option<Metres> {
        self.set.or(self.swings)
    }
}

/// How the anchor is judged to have moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// How far.
    pub distance: Metres,
    /// Which way.
    pub bearing: TrueBearing,
    /// Since when.
    pub since: WatchTime,
    /// How much of it in the last [`LATELY`]; `None` if all, or if that is not known.
    pub lately: Option<Metres>,
}

impl Moved {
    /// `moved 18 m since 01:14, 4 m in the last 10 min, towards 332°`; `when` says since when, or in how long.
    #[must_use]
    pub fn words(&self, when: &str) -> String {
        let lately = self
            .lately
            .map_or_else(String::new, |lately| format!(", {:.0} m in the last {LATELY}", lately.0));
        format!("moved {:.0} m {when}{lately}, towards {}", self.distance.0, self.bearing)
    }
}

/// `Bow 52 m from the mark; the rode reaches 34 m.`; without a heading it is the antenna that is measured from.
#[must_use]
pub fn from_mark(bow_known: bool, distance: Metres, reach: Option<Metres>) -> String {
    let reach = reach.map_or_else(String::new, |reach| format!("; the rode reaches {:.0} m", reach.0));
    format!("{} {:.0} m from the mark{reach}.", if bow_known { "Bow" } else { "Antenna" }, distance.0)
}

/// The judgement of the anchor.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HoldingView {
    /// Evidence that the anchor has moved, 0–100 %; `None` while it cannot be judged.
    pub evidence_percent: Option<f64>,
    /// Why it cannot be judged, in words.
    pub cannot: Option<String>,
    /// Where it thinks the anchor is.
    pub belief: Option<Belief<Local>>,
    /// How it has moved, if it has.
    pub moved: Option<Moved>,
    /// Evidence that she may be left, 0–100 %, growing after she is brought up.
    pub ready_percent: Option<f64>,
    /// What tonight's instruments allow it to see.
    pub allows: Option<Allows>,
    /// A remark: "anchor seems 14 m N of the mark".
    pub remark: Option<String>,
}

/// Wind at the boat.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WindView {
    /// Apparent wind: angle from the bow (positive to starboard, −180..180) and speed.
    pub apparent: Reading<(f64, Knots)>,
    /// Direction the true wind blows from, now.
    pub direction: Option<TrueBearing>,
    /// Mean speed over ten minutes (or as long as there are values).
    pub mean: Option<Knots>,
    /// Greatest three-second mean in those ten minutes.
    pub gust: Option<Knots>,
    /// Mean direction over the limits' window.
    pub mean_direction: Option<TrueBearing>,
    /// The mean direction when she was brought up.
    pub reference: Option<TrueBearing>,
    /// Turn of the mean since then, degrees; positive veered (clockwise), negative backed.
    pub shift_deg: Option<f64>,
}

/// Water under the boat. Every depth counts from the surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DepthView {
    /// Depth by the sounder.
    pub sounded: Reading<Metres>,
    /// Depth at the drop point by the tide, now.
    pub predicted: Option<Metres>,
    /// Water under the keel now (by the sounder, else predicted).
    pub under_keel: Option<Metres>,
    /// The sounder's offset, where it is not what was entered for the boat.
    pub offset_unlike: Option<Metres>,
    /// Pressure of the air in hectopascals, and how it has changed in three hours.
    pub pressure: Option<(f64, Option<f64>)>,
    /// Least water under the keel in the night ahead, and when.
    pub least_under_keel: Option<(Metres, WatchTime)>,
}

/// A high or low water ahead or behind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnView {
    /// When.
    pub at: WatchTime,
    /// High or low.
    pub kind: TurnKind,
    /// Depth at the drop point then.
    pub depth: Metres,
}

/// The tide at the drop point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TideView {
    /// Where it comes from, with the credit that its licence asks for.
    pub credit: Option<Arc<str>>,
    /// Depth at the drop point every ten minutes, from brought up or twelve hours ago to twelve hours ahead.
    pub curve: Arc<Vec<(WatchTime, Metres)>>,
    /// High and low waters in that time.
    pub turns: Vec<TurnView>,
    /// The last moment for which there is a prediction.
    pub known_until: Option<WatchTime>,
    /// Metres an hour, positive rising.
    pub rate_m_per_h: Option<f64>,
    /// Turns that were not entered, where the depth of letting go rests on them.
    pub assumed: Option<Assumed>,
    /// How far off depths may be because the station lies elsewhere.
    pub afar: Metres,
    /// How the sea stands off the tide, as measured; depths here have it in them.
    pub correction: Option<Correction>,
    /// How much higher than at the anchor the highest bottom is that she has lain over.
    pub shoals: Metres,
}

/// The rode as it lies now.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RodeView {
    /// Length out.
    pub veered: Option<Metres>,
    /// Length of chain in that.
    pub chain: Option<Metres>,
    /// Bow roller above the bottom at the drop point.
    pub height: Option<Metres>,
    /// Scope now.
    pub scope: Option<f64>,
    /// Least scope ahead, and when.
    pub least_scope: Option<(f64, WatchTime)>,
    /// Calculated horizontal load, from wind and stream.
    pub load: Option<Newtons>,
    /// Length off the bottom under that load.
    pub lifted: Option<Metres>,
    /// Angle of the pull at the anchor, degrees above the bottom.
    pub angle_anchor_deg: Option<f64>,
    /// Wind at which the last link lifts.
    pub lift_off: Option<Knots>,
    /// The greatest pull to be expected in the wind that blows, beside the hold.
    pub asked: Option<AskedNow>,
    /// The line from the anchor (0, 0) to the bow: metres along, metres up.
    pub shape: Vec<(f64, f64)>,
}

/// One point of the track: the bow where the heading is known, else the antenna.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrackPoint {
    /// When.
    pub at: WatchTime,
    /// Where.
    pub point: Local,
}

/// One minute of the night, for its strip and graphs. `None` where there was nothing to know.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Minute {
    /// The minute's end.
    pub at: WatchTime,
    /// Greatest distance of the bow from the drop point.
    pub distance: Option<Metres>,
    /// Reach of the rode.
    pub reach: Option<Metres>,
    /// The circle that raises `outside`.
    pub circle: Option<Metres>,
    /// Least room.
    pub room: Option<Metres>,
    /// Mean wind of the minute.
    pub wind: Option<Knots>,
    /// Greatest three-second wind of the minute.
    pub gust: Option<Knots>,
    /// Mean wind direction of the minute.
    pub direction: Option<TrueBearing>,
    /// Mean heading.
    pub heading: Option<TrueBearing>,
    /// Depth by the sounder.
    pub depth: Option<Metres>,
    /// Depth by the tide.
    pub predicted: Option<Metres>,
    /// Seconds with a good fix.
    pub good_fixes: u8,
    /// Evidence that the anchor has moved, percent.
    pub evidence: Option<f32>,
}

/// Something that happened, for the strip and the log panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Happening {
    /// When.
    pub at: WatchTime,
    /// In words.
    pub text: String,
    /// True for an alert raised.
    pub alert: bool,
}

/// Something that is known to come.
#[derive(Clone, Debug, PartialEq)]
pub struct Coming {
    /// When.
    pub at: WatchTime,
    /// In words: "low water, 0.9 under keel".
    pub text: String,
}

/// One feed as the crew sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct FeedView {
    /// Its name.
    pub name: Arc<str>,
    /// How its edge task stands.
    pub link: Link,
    /// Since when.
    pub link_since: WatchTime,
    /// When its last good sentence came.
    pub last_good: Option<WatchTime>,
    /// Good sentences.
    pub good: u64,
    /// Sentences that are well formed but not used.
    pub unused: u64,
    /// Rejected sentences by reason, in words, greatest first.
    pub rejected: Vec<(&'static str, u64)>,
    /// What it delivers now: quantity and times per second.
    pub delivers: Vec<(&'static str, f64)>,
    /// Quantities for which this feed is the one believed.
    pub believed_for: Vec<&'static str>,
}

/// The state of the watch at one moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Snapshot {
    /// The moment.
    pub at: WatchTime,
    /// When the watch began.
    pub began: WatchTime,
    /// GNSS time minus the watch's time, once known.
    pub clock_error: Option<Span>,
    /// What is known of the computer that keeps the watch.
    pub health: Health,
    /// How long until the crew gets up; `None` by day.
    pub night_left: Option<Span>,
    /// Boat, tackle, feeds.
    pub settings: Arc<Settings>,
    /// The limits in force.
    pub limits: Limits,
    /// Name of the place.
    pub place: Arc<str>,
    /// How far the crew has come.
    pub stage: Stage,
    /// Since when.
    pub stage_since: WatchTime,
    /// The word.
    pub verdict: Verdict,
    /// Since when.
    pub verdict_since: WatchTime,
    /// The judgement.
    pub holding: HoldingView,
    /// Room left.
    pub room: Option<Room>,
    /// The drop point: the origin of every `Local` here.
    pub drop: Option<DropPoint>,
    /// The anchor was let go then, and is marked as soon as a position has settled.
    pub mark_awaited: Option<WatchTime>,
    /// The position.
    pub fix: FixView,
    /// The antenna on the plane, while the fix is good.
    pub antenna: Option<Local>,
    /// The bow on the plane; without heading, `None`.
    pub bow: Option<Local>,
    /// From the bow (else the antenna) to the drop point.
    pub anchor_off: Option<(Metres, TrueBearing)>,
    /// True heading.
    pub heading: Reading<Heading>,
    /// Reach of the rode now.
    pub reach: Option<Metres>,
    /// The circles about the anchor.
    pub circle: CircleView,
    /// The track, oldest first, thinned with age.
    pub track: Arc<Vec<TrackPoint>>,
    /// The greatest distance from the drop point since it was marked.
    pub farthest: Option<(Metres, TrackPoint)>,
    /// The wind.
    pub wind: WindView,
    /// The stream past the boat: direction it sets to, and rate, where a log measures it.
    pub stream: Option<(TrueBearing, Knots)>,
    /// Vessels near by that have a transponder, the nearest first, at most 40.
    pub vessels: Arc<Vec<VesselView>>,
    /// The water.
    pub depth: DepthView,
    /// The tide.
    pub tide: TideView,
    /// The rode.
    pub rode: RodeView,
    /// The night ahead.
    pub ahead: NightView,
    /// The crew's way out.
    pub way_out: Option<WayOut>,
    /// What is known of the berth.
    pub berth: Berth,
    /// How she moves in the sea, where an instrument measures it.
    pub motion: Option<MotionView>,
    /// Alerts that are not normal, in presentation order.
    pub alerts: Vec<Alert>,
    /// The sound that should be heard.
    pub sound: Sound,
    /// Feeds.
    pub feeds: Vec<FeedView>,
    /// The night by the minute, oldest first.
    pub minutes: Arc<Vec<Minute>>,
    /// What happened, oldest first, bounded.
    pub happenings: Arc<Vec<Happening>>,
    /// What comes, soonest first.
    pub coming: Vec<Coming>,
    /// The reconnaissance.
    pub recon: ReconView,
    /// Veering and digging in.
    pub setting: SettingView,
    /// Heaving in; `None` but while weighing, and for a quarter of an hour after the anchor is aweigh.
    pub weighing: Option<WeighingView>,
    /// The check of the anchor that goes on, or the last one while it is news.
    pub check: Option<CheckView>,
    /// The last rehearsal of the alarm.
    pub rehearsal: Option<RehearsalView>,
    /// Since when another machine keeps the watch than the one that began it, and which.
    pub kept: Option<(WatchTime, Kept)>,
    /// What the crew is still to be woken for.
    pub wakes_for: WakeFor,
    /// Rounds and rota.
    pub rounds: RoundsView,
    /// Lights and shapes.
    pub lights: LightsView,
    /// A place of the crew's book within a mile.
    pub near: Option<PlaceView>,
    /// Marks to take bearings of, in the order in which they were entered.
    pub marks: Arc<Vec<MarkView>>,
    /// Where she is by the last bearings of three marks.
    pub cross: Option<CrossView>,
    /// Magnetic variation, degrees east, where it is known.
    pub variation_deg: Option<f64>,
    /// Revolutions of the engine a minute, where it reports them.
    pub revolutions: Reading<f64>,
}

impl Snapshot {
    /// How the bottom about the drop point slopes: as soundings show it, else as it was entered.
    #[must_use]
    pub fn slope(&self) -> Option<Slope> {
        self.recon.slope.map(|view| view.fitted.slope).or(self.berth.slope)
    }
}
