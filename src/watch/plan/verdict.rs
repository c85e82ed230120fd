//! What does a plan come to, in words?

use super::{DepthAt, Inputs, Plan, Waves, neighbour};
use crate::watch::grade::Grade;
use crate::watch::rode::{
    ANGLES_DEG, AskedBy, Hold, Line, MILE, Published, RodeError, Seabed, USELESS_DEG, WORKED, shape,
};
use crate::watch::room::{Gap, Winds};
use crate::watch::slope::Slope;
use crate::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};
use crate::watch::water::Grounding;

/// The clock that times are shown by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlanClock {
    /// How far it is ahead of UTC.
    pub utc_offset: Span,
    /// Whether the day of the week stands with each time: for stays of a day or more.
    pub with_day: bool,
}

impl PlanClock {
    /// `02:25`, or `Thu 02:25`.
    #[must_use]
    pub fn show(&self, at: WatchTime) -> String {
        let format = if self.with_day { "%a %H:%M" } else { "%H:%M" };
        jiff::Timestamp::from_millisecond((at + self.utc_offset).0)
            .map_or_else(|_| "beyond the calendar".to_owned(), |at| at.strftime(format).to_string())
    }

    /// `LW 02:25` where the tide turns then, else the time alone.
    fn show_water(&self, water: DepthAt) -> String {
        let at = self.show(water.at);
        match water.turn {
            Some(kind) => format!("{kind} {at}"),
            None => at,
        }
    }
}

/// One judgement.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Will she float?
    Keel {
        /// The lowest water of the stay.
        lowest: DepthAt,
        /// Her draft.
        draft: Metres,
        /// The crew's least water under the keel.
        limit: Metres,
        /// When she touches and floats again.
        grounding: Option<Grounding>,
    },
    /// Is there scope enough?
    Scope {
        /// Scope at the highest water.
        scope: f64,
        /// The highest water of the stay.
        highest: DepthAt,
        /// The crew's least.
        limit: f64,
    },
    /// Do the published rules for this kind of rode agree?
    Rules {
        /// What is out, or would be.
        veered: Metres,
        /// Their range.
        published: Published,
    },
    /// When does the last link lift?
    LiftOff {
        /// The wind that lifts it, at the highest water.
        lifts: Option<Knots>,
        /// The mean wind expected.
        mean: Knots,
        /// The gusts expected.
        gust: Knots,
    },
    /// How does the pull arrive at the anchor, at the highest water?
    Pull {
        /// In the mean wind, degrees up.
        mean_deg: f64,
        /// In a gust while she sheers.
        gust_deg: f64,
    },
    /// Will the anchor hold?
    Hold {
        /// The bottom.
        seabed: Seabed,
        /// The range; `None` where nothing can be calculated.
        hold: Option<Hold>,
        /// The greatest pull expected.
        asked: PullAsked,
    },
    /// Does her snubber stand the snatch of the waves?
    Snatch(Waves),
    /// How much room does she need?
    Circle {
        /// Anchor to stern at the lowest water.
        radius: Metres,
    },
    /// Is there a mark in the way?
    Mark {
        /// Its name.
        name: String,
        /// Gap between circle and mark.
        gap: Metres,
        /// Winds that bring her within the clearance of it.
        winds: Winds,
    },
    /// Is a neighbour in the way?
    Neighbour {
        /// Her bearing.
        bearing: TrueBearing,
        /// How near they come.
        gap: Gap,
    },
    /// Does she float uphill, at the edge of her circle?
    Slope {
        /// The slope.
        slope: Slope,
        /// The lowest water of the stay at the anchor.
        lowest: DepthAt,
        /// Her circle.
        radius: Metres,
        /// Her draft.
        draft: Metres,
        /// The crew's least water under the keel.
        limit: Metres,
    },
    /// Does the wind expected put her where the crew does not want to lie?
    BarredWind {
        /// The wind expected.
        wind_from: TrueBearing,
    },
}

impl Verdict {
    /// How good it is.
    #[must_use]
    pub fn grade(&self) -> Grade {
        match self {
            Self::Keel { lowest, draft, limit, .. } => graded((lowest.depth - *draft).0, limit.0, 0.0),
            Self::Scope { scope, limit, .. } => graded(*scope, *limit, 0.8 * limit),
            Self::Rules { veered, published } => {
                graded(veered.0, published.least.0, RULE_SHORT * published.least.0)
            }
            Self::LiftOff { lifts: None, .. } => Grade::Good,
            // Chain off the bottom in gusts is what chain is for; in the mean wind it should lie.
            Self::LiftOff { lifts: Some(wind), mean, .. } => graded(wind.0, mean.0, 0.7 * mean.0),
            Self::Pull { mean_deg, gust_deg } => {
                let in_gusts = graded(-gust_deg, -LEVEL_DEG - ANGLES_DEG[1], -USELESS_DEG);
                in_gusts.max(graded(-mean_deg, -LEVEL_DEG, -ANGLES_DEG[1]))
            }
            Self::Hold { hold: None, .. } => Grade::Tight,
            Self::Hold { hold: Some(hold), asked, .. } => hold_grade(*hold, asked),
            // A rode of rope gives by itself: its peak is in the hold.
            Self::Snatch(waves) => match (waves.snubber_worked, waves.advice) {
                (Some(share), _) => graded(-share, -WORKED, -OVERWORKED),
                (None, Some(_)) => Grade::Tight,
                (None, None) => Grade::Good,
            },
            Self::Circle { .. } => Grade::Good,
            Self::Mark { gap, .. } => graded(gap.0, MARK_CLEARANCE.0, 0.0),
            Self::Neighbour { gap, .. } if gap.same_way.0 <= 0.0 => Grade::Bad,
            Self::Neighbour { gap, .. } => graded(gap.worst.0, 0.0, f64::NEG_INFINITY),
            Self::Slope { slope, lowest, radius, draft, limit } => {
                graded((lowest.depth - *radius * slope.gradient - *draft).0, limit.0, 0.0)
            }
            Self::BarredWind { .. } => Grade::Bad,
        }
    }

    /// In a sentence.
    #[must_use]
    pub fn in_words(&self, clock: &PlanClock) -> String {
        match self {
            Self::Keel { lowest, draft, limit, grounding } => {
                let times = grounding.map_or_else(String::new, |grounding| times_in_words(grounding, clock));
                format!("{}{times}", keel_in_words(*lowest, *draft, *limit, clock))
            }
            Self::Scope { scope, highest, limit } => {
                let less = if scope < limit { format!(", less than your {limit:.1}") } else { String::new() };
                format!("Scope {scope:.1} at {}{less}.", clock.show_water(*highest))
            }
            Self::Rules { veered, published } => rules_in_words(*veered, *published),
            Self::LiftOff { lifts: Some(wind), gust, .. } => {
                format!("The last link lifts off at {:.0} kn; gusts of {:.0} kn expected.", wind.0, gust.0)
            }
            Self::LiftOff { lifts: None, .. } => "The rode never lifts clear of the bottom.".to_owned(),
            Self::Pull { mean_deg, gust_deg } => {
                format!(
                    "Pull at the anchor {} in the mean wind, {} in a gust while she sheers.",
                    angle_in_words(*mean_deg),
                    angle_in_words(*gust_deg)
                )
            }
            Self::Hold { seabed, hold, asked } => hold_in_words(*seabed, *hold, asked),
            Self::Snatch(waves) => snatch_in_words(waves),
            Self::Circle { radius } => {
                format!("Needs a circle of {:.0} m about the anchor.", radius.0.ceil())
            }
            Self::Mark { name, gap, winds } => mark_in_words(name, *gap, *winds),
            Self::Neighbour { bearing, gap } => neighbour_in_words(*bearing, *gap),
            Self::Slope { slope, lowest, radius, draft, limit: _ } => {
                let under = lowest.depth - *radius * slope.gradient - *draft;
                let keel = if under.0 < 0.0 {
                    format!("aground by {:.1} m", -under.0)
                } else {
                    format!("{:.1} m under the keel", under.0)
                };
                format!(
                    "The bottom {}: lying uphill at {} {keel} at the edge of her circle.",
                    slope.in_words(),
                    clock.show_water(*lowest)
                )
            }
            Self::BarredWind { wind_from } => {
                format!("Wind from {wind_from} is in a sector you barred. Choose another place.")
            }
        }
    }
}

/// Water to keep between her and a mark: common practice, no source.
const MARK_CLEARANCE: Metres = Metres(5.0);
/// A pull that is as good as level, degrees.
const LEVEL_DEG: f64 = 0.05;
/// Worked at more of its breaking load a snubber chafes or breaks in a night (common practice, no source).
const OVERWORKED: f64 = 0.5;
/// Less than so much of the least that published rules ask will not do (common practice, no source).
const RULE_SHORT: f64 = 0.8;

/// Good from `good` up, bad below `bad`, tight between.
fn graded(value: f64, good: f64, bad: f64) -> Grade {
    match value {
        v if v >= good => Grade::Good,
        v if v >= bad => Grade::Tight,
        _ => Grade::Bad,
    }
}

fn keel_in_words(lowest: DepthAt, draft: Metres, limit: Metres, clock: &PlanClock) -> String {
    let (under, when) = ((lowest.depth - draft).0, clock.show_water(lowest));
    if lowest.depth.0 < 0.0 {
        format!("Dries {:.1} m at {when}.", -lowest.depth.0)
    } else if under < 0.0 {
        format!("Aground at {when}: {:.1} m too little water.", -under)
    } else if under < limit.0 {
        format!("Afloat at {when}, but by {under:.1} m only; your limit is {:.1} m.", limit.0)
    } else {
        format!("Afloat by {under:.1} m at {when}.")
    }
}

fn rules_in_words(veered: Metres, published: Published) -> String {
    let short =
        if veered < published.least { format!("; {:.0} m is less", veered.0.floor()) } else { String::new() };
    format!(
        "Rules of thumb for {} ask {:.0} to {:.0} m here{short}.",
        published.kind.name(),
        published.least.0.ceil(),
        published.most.0.ceil()
    )
}

/// When she touches and floats again: ` Touches 00:40, floats again 04:10.`
fn times_in_words(grounding: Grounding, clock: &PlanClock) -> String {
    match grounding.floats {
        Some(at) => format!(" Touches {}, floats again {}.", clock.show(grounding.touches), clock.show(at)),
        None => format!(
            " Touches {}; floats again after the stay, or when is not known.",
            clock.show(grounding.touches)
        ),
    }
}

fn angle_in_words(degrees: f64) -> String {
    if degrees < LEVEL_DEG { "along the bottom".to_owned() } else { format!("{degrees:.0}° up") }
}

/// Good only where even the least of the range holds, at the angle at which the pull arrives, all that pulls counted.
fn hold_grade(hold: Hold, asked: &PullAsked) -> Grade {
    let left = hold.pulled_up(asked.angle_deg);
    let grade = graded(-asked.pull.0, -left.least.0, -left.most.0);
    if asked.waves_counted { grade } else { grade.max(Grade::Tight) }
}

fn hold_in_words(seabed: Seabed, hold: Option<Hold>, asked: &PullAsked) -> String {
    let name = seabed.name();
    let Some(hold) = hold else {
        return format!("On {name} an anchor catches or does not: try it hard, and have a way out.");
    };
    let left = hold.pulled_up(asked.angle_deg);
    let up =
        if asked.angle_deg < 0.5 { String::new() } else { format!(" pulled {:.0}° up", asked.angle_deg) };
    format!(
        "In {name} the anchor may hold {:.1} to {:.1} kN{up}, well set; {:.1} kN to be expected{}. No promise.",
        left.least.0 / 1000.0,
        left.most.0 / 1000.0,
        asked.pull.0 / 1000.0,
        asked.by.in_words()
    )
}

/// The greatest pull that the anchor is asked to hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PullAsked {
    /// Its size.
    pub pull: Newtons,
    /// How steeply it arrives at the anchor, at the highest water, degrees above the bottom.
    pub angle_deg: f64,
    /// Where the figure comes from.
    pub by: AskedBy,
    /// Whether waves are in it.
    pub waves_counted: bool,
}

impl PullAsked {
    /// The greatest of what is calculated and what the design table says.
    ///
    /// # Errors
    /// If the rode makes no shape.
    pub(super) fn of(plan: &Plan, line: &Line, high: Metres) -> Result<Self, RodeError> {
        let (sum, from) = plan.greatest_pull();
        let (pull, by) = match plan.design_load {
            Some(design) if design > sum => (design, AskedBy::DesignTable),
            _ => (sum, from),
        };
        let angle_deg = shape(line, high, pull)?.angle_anchor_deg;
        Ok(Self { pull, angle_deg, by, waves_counted: by == AskedBy::DesignTable || plan.waves.is_some() })
    }
}

fn snatch_in_words(waves: &Waves) -> String {
    let kn = |pull: Newtons| pull.0 / 1000.0;
    let sea = format!(
        "A sea of {:.1} m every {:.1} s over {:.1} M; its greatest wave of {:.1} m snatches to {:.1} kN",
        waves.sea.height.0,
        waves.sea.period_s,
        waves.fetch.0 / MILE.0,
        waves.snatch.wave.0,
        kn(waves.peak)
    );
    let worked = match (waves.snubber_worked, waves.peak_bare) {
        (Some(share), Some(bare)) => format!(
            ", to chain alone {:.1}. The snubber is worked at {:.0} % of its breaking load; {:.0} % is usual",
            kn(bare),
            100.0 * share,
            100.0 * WORKED
        ),
        _ => String::new(),
    };
    let advice = waves.advice.map_or(String::new(), |advice| {
        format!(
            ". A snubber of {:.0} mm nylon, {:.0} m long, would leave {:.1} kN",
            advice.size_mm,
            advice.length.0,
            kn(advice.peak)
        )
    });
    format!("{sea}{worked}{advice}.")
}

fn mark_in_words(name: &str, gap: Metres, winds: Winds) -> String {
    let when = match winds {
        Winds::None => String::new(),
        Winds::Within(sector) => format!(" with winds from {} to {}", sector.from, sector.to),
        Winds::Any => " with any wind".to_owned(),
    };
    if gap.0 < 0.0 {
        format!(
            "{name} lies {:.0} m inside her circle: reached{when}. Anchor farther off or veer less.",
            -gap.0
        )
    } else {
        format!("{name} is {:.0} m clear of her circle{when}.", gap.0)
    }
}

fn neighbour_in_words(bearing: TrueBearing, gap: Gap) -> String {
    let worst = if gap.worst.0 < 0.0 {
        format!("circles overlap by {:.0} m at worst", -gap.worst.0)
    } else {
        format!("{:.0} m apart at worst", gap.worst.0)
    };
    if gap.same_way.0 <= 0.0 {
        format!(
            "Neighbour {bearing}: hulls touch even when both lie the same way; {worst}. Anchor farther off."
        )
    } else {
        format!("Neighbour {bearing}: {:.0} m when both lie the same way, {worst}.", gap.same_way.0)
    }
}

/// When she touches in the stay and floats again, with what may be wrong of the tide allowed for.
fn grounding(inputs: &Inputs) -> Option<Grounding> {
    let tide = inputs.tide.as_ref()?;
    let keel = inputs.boat.draft;
    let deep = Some(keel + tide.doubt_at(inputs.at)).filter(|deep| inputs.sounded > *deep).unwrap_or(keel);
    let level = tide.height_at(inputs.at)? + deep - inputs.sounded;
    let touches = tide.next_passing(level, inputs.at, inputs.until)?;
    let floats = tide.next_passing(level, touches + Span::from_secs(1), inputs.until);
    Some(Grounding { touches, floats })
}

pub(super) fn verdicts(
    inputs: &Inputs,
    plan: &Plan,
    line: &Line,
    high: Metres,
) -> Result<Vec<Verdict>, RodeError> {
    let angle = |pull| shape(line, high, pull).map(|s| s.angle_anchor_deg);
    let mut all = vec![
        Verdict::Keel {
            lowest: plan.least,
            draft: inputs.boat.draft,
            limit: inputs.limits.under_keel,
            grounding: grounding(inputs),
        },
        Verdict::Scope { scope: plan.veered.0 / high.0, highest: plan.greatest, limit: inputs.limits.scope },
        Verdict::Pull { mean_deg: angle(plan.load.steady())?, gust_deg: angle(plan.load.greatest())? },
        Verdict::Rules { veered: plan.veered, published: plan.published },
        Verdict::LiftOff { lifts: plan.winds.lifts, mean: inputs.weather.mean, gust: inputs.weather.gust },
    ];
    if let Some(seabed) = inputs.seabed.filter(|_| inputs.tackle.anchor_kg.is_some()) {
        all.push(Verdict::Hold { seabed, hold: plan.hold, asked: PullAsked::of(plan, line, high)? });
    }
    all.extend(plan.waves.map(Verdict::Snatch));
    all.push(Verdict::Circle { radius: plan.circle.radius });
    for mark in &inputs.marks {
        let winds = mark.winds_towards(&plan.circle, MARK_CLEARANCE);
        all.push(Verdict::Mark { name: mark.name.clone(), gap: mark.gap(&plan.circle), winds });
    }
    for other in &inputs.others {
        let she = neighbour(inputs, other, plan.least.depth, plan.greatest.depth)?;
        all.push(Verdict::Neighbour { bearing: other.bearing, gap: she.gap(&plan.circle) });
    }
    all.extend(inputs.site.slope.map(|slope| Verdict::Slope {
        slope,
        lowest: plan.least,
        radius: plan.circle.radius,
        draft: inputs.boat.draft,
        limit: inputs.limits.under_keel,
    }));
    if let Some(wind_from) = inputs.wind_from
        && inputs.limits.barred.iter().any(|sector| sector.contains(wind_from))
    {
        all.push(Verdict::BarredWind { wind_from });
    }
    // Stable: verdicts of one grade keep the order of reading.
    all.sort_by_key(|verdict| std::cmp::Reverse(verdict.grade()));
    Ok(all)
}
