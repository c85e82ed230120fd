//! Before letting go: how much to veer, what will hold, will she float?
//!
//! [`Plan::make`] takes what a skipper knows (a sounding, the tide, the wind expected, boat and tackle) and calculates the
//! whole stay: depth through the night, scope at its highest water, water under the keel at its lowest, the pull at the
//! anchor in the wind expected, the room she needs. Depths count from the surface, and heights of tide tie to the
//! sounding, so that an error of the tide's datum cancels.

mod asked;
mod caution;
mod check;
mod demand;
mod site;
mod verdict;

pub use asked::{Asked, AskedError, Now, TideAsked, WindFile};
pub use caution::Caution;
pub use check::{BigSizes, PlanError};
pub use demand::{Aim, Asking, Demand, demands_of_wind};
pub use site::{Site, Waves};
pub use verdict::{PlanClock, PullAsked, Verdict};

use super::ahead::{Lying, NightAhead, moments};
pub use super::boat::Snubber;
use super::boat::{Boat, Limits, Sector, Tackle};
use super::forecast::Forecast;
pub use super::grade::Grade;
pub use super::rode::AskedBy;
use super::rode::{
    Hold, Line, Load, Locker, Published, RULES, RodeError, RodeKind, Rule, RuleInput, Seabed, Section,
    Thresholds, Weather, Windage, design_load, fetches_up, hold, published, reach_limit, scope_factor, shape,
    thresholds,
};
use super::room::{Mark, Neighbour, RidesTo, SwingCircle, swing_circle};
use super::tide::{Tide, TurnKind};
use super::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};
use super::way_out::WayOut;

/// Another boat near the place where the anchor is to go down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OtherBoat {
    /// Bearing of her bow from that place.
    pub bearing: TrueBearing,
    /// Distance of her bow from that place.
    pub distance: Metres,
    /// Her length.
    pub loa: Metres,
    /// What she rides to.
    pub rides_to: RidesTo,
}

/// What a skipper knows before letting go.
#[derive(Clone, Debug)]
pub struct Inputs {
    /// The boat.
    pub boat: Boat,
    /// Her rode and anchor.
    pub tackle: Tackle,
    /// A snubber, if she rides to one.
    pub snubber: Option<Section>,
    /// Depth found by lead or sounder, from the surface.
    pub sounded: Metres,
    /// When it was found: the stay begins here.
    pub at: WatchTime,
    /// When she means to leave.
    pub until: WatchTime,
    /// The tide; `None` where there is none to speak of.
    pub tide: Option<Tide>,
    /// Wind and stream expected at their worst.
    pub weather: Weather,
    /// True if the gusts in it are only the usual share of the mean.
    pub gusts_assumed: bool,
    /// Where the wind comes from.
    pub wind_from: Option<TrueBearing>,
    /// The wind by the hour, where it is known.
    pub forecast: Option<Forecast>,
    /// Bearings from the anchor on which land or shoal water lies.
    pub shore: Vec<Sector>,
    /// The crew's way out.
    pub way_out: Option<WayOut>,
    /// What the skipper thinks of veering; `None` asks.
    pub veered: Option<Metres>,
    /// The bottom, if known.
    pub seabed: Option<Seabed>,
    /// The crew's limits for water under the keel, scope and barred winds.
    pub limits: Limits,
    /// What the place adds.
    pub site: Site,
    /// Rocks, buoys and banks near by.
    pub marks: Vec<Mark>,
    /// Boats near by.
    pub others: Vec<OtherBoat>,
    /// What to do about sizes that look like feet.
    pub big_sizes: BigSizes,
}

/// A depth and when it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DepthAt {
    /// When.
    pub at: WatchTime,
    /// From the surface; negative where it dries.
    pub depth: Metres,
    /// High or low water, if the tide turns then.
    pub turn: Option<TurnKind>,
}

/// One moment of the stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hour {
    /// The moment and the depth then.
    pub water: DepthAt,
    /// Water under the keel.
    pub under_keel: Metres,
    /// Veered ÷ (depth + bow height).
    pub scope: f64,
    /// Distance from anchor to bow in the mean wind.
    pub reach: Metres,
    /// Length off the bottom in the mean wind.
    pub lifted: Metres,
    /// Pull at the anchor in a gust while she sheers, degrees above the bottom.
    pub gust_angle_deg: f64,
    /// Wind on her bow at which the last link lifts.
    pub lifts_at: Option<Knots>,
}

/// Winds on her bow, stream included, at which the pull at the anchor begins to rise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiftWinds {
    /// The length veered.
    pub veered: Metres,
    /// The last link lifts.
    pub lifts: Option<Knots>,
    /// The pull reaches 5°.
    pub five_degrees: Option<Knots>,
    /// The pull reaches 8°.
    pub eight_degrees: Option<Knots>,
}

/// A rule of thumb and what it says here.
#[derive(Clone, Copy, Debug)]
pub struct RuleSays {
    /// The rule.
    pub rule: &'static Rule,
    /// Its length; for a catamaran doubled.
    pub length: Metres,
}

/// The whole sum.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Length to veer, in whole metres, as far as it is aboard.
    pub advised: Metres,
    /// What leads to it, greatest first.
    pub demands: Vec<Demand>,
    /// The length that all the rest is calculated with: the skipper's, else the advised one.
    pub veered: Metres,
    /// All the rode aboard.
    pub carried: Metres,
    /// Least depth of the stay.
    pub least: DepthAt,
    /// Greatest depth of the stay.
    pub greatest: DepthAt,
    /// The stay hour by hour and at each turn of the tide.
    pub hours: Vec<Hour>,
    /// The night by the wind of each hour, where that is known.
    pub night: Option<NightAhead>,
    /// What pulls on the rode.
    pub load: Load,
    /// The design table's figure for the gust, waves included; `None` for a boat that it does not cover.
    pub design_load: Option<Newtons>,
    /// When the pull at the anchor begins to rise, at the highest water.
    pub winds: LiftWinds,
    /// The same with 5 m more, if there are 5 m more.
    pub winds_with_more: Option<LiftWinds>,
    /// What she snatches to with the wind against the stream; `None` without a stream.
    pub fetches_up: Option<Newtons>,
    /// The sea, where it is known how far the water is open.
    pub waves: Option<Waves>,
    /// What the rules of thumb say.
    pub rules: Vec<RuleSays>,
    /// Their range for the kind of rode that is out.
    pub published: Published,
    /// What the anchor may hold.
    pub hold: Option<Hold>,
    /// The room she needs.
    pub circle: SwingCircle,
    /// Judgements, worst first.
    pub verdicts: Vec<Verdict>,
    /// What to bear in mind.
    pub cautions: Vec<Caution>,
    /// Whom to credit for the tide.
    pub tide_credit: Option<String>,
}

/// Length whose worth is shown beside the advice.
const MORE: Metres = Metres(5.0);

impl Plan {
    /// Does the sum.
    ///
    /// # Errors
    /// [`PlanError`] names what is contradictory, impossible or looks like feet.
    pub fn make(inputs: &Inputs) -> Result<Self, PlanError> {
        check::check(inputs)?;
        let locker = locker_of(inputs)?;
        let water = Water::of(inputs)?;
        let load = Load::of(&inputs.boat, &inputs.weather);
        let high = bow_above_bottom(&inputs.boat, water.greatest.depth);
        check::rode_reaches(locker.carried(), high, water.greatest)?;
        let mut demands = sloping_demands(inputs, &locker, water.greatest.depth)?;
        if let Some(length) = site::length_in_snatch(inputs, &locker, water.greatest.depth, load.in_gust())? {
            demands.push(Demand { aim: Aim::TwelveDegreesInSnatch, length });
            demand::sort(&mut demands);
        }
        let advised = advised(&demands, locker.carried());
        let veered = inputs.veered.unwrap_or(advised);
        let high = bow_above_pull(inputs, water.greatest.depth, veered);
        check::rode_reaches(veered, high, water.greatest)?;
        let line = locker.veer(veered)?;
        let mut plan = Self {
            advised,
            demands,
            veered,
            carried: locker.carried(),
            least: water.least,
            greatest: water.greatest,
            hours: hours(inputs, &water, &line, &load)?,
            night: night(inputs, &water, &locker, veered),
            design_load: design_load(&inputs.boat, inputs.weather.gust),
            winds: lift_winds(inputs, &locker, veered, high, &load)?,
            winds_with_more: None,
            waves: None,
            fetches_up: fetches_up(&inputs.boat, inputs.weather.stream, &line, high, &load)?,
            rules: rules(inputs, water.greatest.depth),
            published: published_for(inputs, veered, water.greatest.depth),
            hold: inputs.seabed.zip(inputs.tackle.anchor_kg).and_then(|(bed, kg)| hold(kg, bed)),
            circle: swing_circle(&inputs.boat, veered, bow_above_bottom(&inputs.boat, water.least.depth))?,
            load,
            verdicts: Vec::new(),
            cautions: Vec::new(),
            tide_credit: inputs.tide.as_ref().and_then(|tide| tide.credit().map(str::to_owned)),
        };
        if (veered + MORE).0 <= locker.carried().0 {
            plan.winds_with_more = Some(lift_winds(inputs, &locker, veered + MORE, high, &load)?);
        }
        plan.waves = Waves::of(inputs, &plan, &locker)?;
        let low = bow_above_bottom(&inputs.boat, water.least.depth);
        plan.circle = plan.circle.wider(plan.given(&line, low)?);
        plan.verdicts = verdict::verdicts(inputs, &plan, &line, high)?;
        plan.cautions = caution::cautions(inputs, &plan, water.known_until);
        Ok(plan)
    }

    /// The greatest pull to be expected, and from what: as calculated, waves with it where they are known.
    #[must_use]
    pub fn greatest_pull(&self) -> (Newtons, AskedBy) {
        let waves = self.waves.map(|waves| (waves.peak, AskedBy::Waves));
        let fetching_up = self.fetches_up.map(|pull| (pull, AskedBy::FetchingUp));
        let sum = (self.load.greatest(), AskedBy::Sum);
        [waves, fetching_up]
            .into_iter()
            .flatten()
            .fold(sum, |most, one| if one.0 > most.0 { one } else { most })
    }

    /// How far rope and snubber give beyond a straight rode when that comes: room that she surges into.
    fn given(&self, line: &Line, low: Metres) -> Result<Metres, RodeError> {
        let straight = reach_limit(line.veered(), low)?;
        let drawn = shape(line, low, self.greatest_pull().0)?.reach;
        Ok(if line.rope.is_some() { (drawn - straight).max(Metres(0.0)) } else { Metres(0.0) })
    }

    /// The worst of the verdicts, and of the hours.
    #[must_use]
    pub fn grade(&self) -> Grade {
        let verdicts = self.verdicts.iter().map(Verdict::grade);
        verdicts.chain(self.night.as_ref().map(NightAhead::grade)).max().unwrap_or(Grade::Good)
    }
}

fn locker_of(inputs: &Inputs) -> Result<Locker, RodeError> {
    let locker = Locker::of(&inputs.tackle)?;
    Ok(match inputs.snubber {
        Some(snubber) => locker.snubbed(snubber),
        None => locker,
    })
}

/// Bow roller above the bottom; where it dries, above the mud she sits on.
fn bow_above_bottom(boat: &Boat, depth: Metres) -> Metres {
    depth.max(Metres(0.0)) + boat.bow_height
}

/// The same as the pull sees it, with so much out: a bottom that falls away towards her bow turns the pull up as if the
/// bow stood so much higher.
fn bow_above_pull(inputs: &Inputs, depth: Metres, veered: Metres) -> Metres {
    bow_above_bottom(&inputs.boat, depth) + inputs.site.deeper(veered, inputs.wind_from)
}

/// The depth through the stay.
struct Water<'a> {
    inputs: &'a Inputs,
    least: DepthAt,
    greatest: DepthAt,
    /// Where the tide is known only for a part of the stay, the end of that part.
    known_until: Option<WatchTime>,
}

impl<'a> Water<'a> {
    fn of(inputs: &'a Inputs) -> Result<Self, PlanError> {
        let steady = DepthAt { at: inputs.at, depth: inputs.sounded, turn: None };
        let Some(tide) = &inputs.tide else {
            return Ok(Self { inputs, least: steady, greatest: steady, known_until: None });
        };
        let unknown = || PlanError::NoTideAtStart {
            at: inputs.at,
            known_from: tide.known_from(),
            known_until: tide.known_until(),
        };
        let at_start = tide.height_at(inputs.at).ok_or_else(unknown)?;
        let extremes = tide.extremes_between(inputs.at, inputs.until).ok_or_else(unknown)?;
        let turns = tide.turns_between(inputs.at, extremes.until);
        let depth_at = |at, height| DepthAt {
            at,
            depth: inputs.sounded + (height - at_start),
            turn: turns.iter().find(|turn| turn.at == at).map(|turn| turn.kind),
        };
        // Where the sounding ties to a stretch of the tide that is assumed, all the rest may be off by as much.
        let doubt = tide.doubt_at(inputs.at);
        Ok(Self {
            inputs,
            least: depth_at(extremes.least.at, extremes.least.height - doubt),
            greatest: depth_at(extremes.greatest.at, extremes.greatest.height + doubt),
            known_until: (extremes.until < inputs.until).then_some(extremes.until),
        })
    }

    /// The start, every full hour and every turn, as far as the tide is known.
    fn moments(&self) -> Vec<DepthAt> {
        const HOUR_MS: i64 = 3_600_000;
        let (from, until) = (self.inputs.at, self.known_until.unwrap_or(self.inputs.until));
        let first = from.0.div_euclid(HOUR_MS) + 1;
        let hours = (first..=until.0.div_euclid(HOUR_MS)).map(|hour| (WatchTime(hour * HOUR_MS), None));
        let mut moments = vec![(from, None)];
        moments.extend(hours);
        if let Some(tide) = &self.inputs.tide {
            let turns = tide.turns_between(from, until);
            moments.extend(turns.iter().map(|turn| (turn.at, Some(turn.kind))));
        }
        // A turn on the hour stands before that hour and takes its place.
        moments.sort_by_key(|(at, turn)| (*at, turn.is_none()));
        moments.dedup_by_key(|(at, _)| *at);
        moments
            .iter()
            .filter_map(|(at, turn)| Some(DepthAt { at: *at, depth: self.depth(*at)?, turn: *turn }))
            .collect()
    }

    fn depth(&self, at: WatchTime) -> Option<Metres> {
        match &self.inputs.tide {
            Some(tide) => tide.depth_at(self.inputs.sounded, self.inputs.at, at),
            None => Some(self.inputs.sounded),
        }
    }
}

/// The rule of thumb's range for the rode that would be out.
fn published_for(inputs: &Inputs, veered: Metres, depth_high: Metres) -> Published {
    published(RodeKind::of(&inputs.tackle, veered), &rule_input(inputs, depth_high), inputs.boat.hull)
}

/// What is asked for where the bottom slopes: more rode reaches farther downhill, which asks for more, until it settles.
fn sloping_demands(inputs: &Inputs, locker: &Locker, depth: Metres) -> Result<Vec<Demand>, RodeError> {
    let mut demands = Vec::new();
    for _ in 0..6 {
        let out = demands.first().map_or(Metres(0.0), |demand: &Demand| demand.length.min(locker.carried()));
        let asking = Asking {
            boat: &inputs.boat,
            tackle: &inputs.tackle,
            locker,
            depth: depth + inputs.site.deeper(out, inputs.wind_from),
            least_scope: inputs.limits.scope,
        };
        demands = asking.demands(Some(&inputs.weather))?;
        if inputs.site.slope.is_none() {
            break;
        }
    }
    Ok(demands)
}

/// The greatest of the demands in whole metres, but no more than there is.
fn advised(demands: &[Demand], carried: Metres) -> Metres {
    let most = demands.first().map_or(carried, |demand| demand.length);
    Metres(most.0.ceil()).min(carried)
}

fn hours(inputs: &Inputs, water: &Water<'_>, line: &Line, load: &Load) -> Result<Vec<Hour>, RodeError> {
    water.moments().into_iter().map(|moment| hour(inputs, moment, line, load)).collect()
}

fn hour(inputs: &Inputs, water: DepthAt, line: &Line, load: &Load) -> Result<Hour, RodeError> {
    let bow = bow_above_bottom(&inputs.boat, water.depth);
    let height = bow_above_pull(inputs, water.depth, line.veered());
    let mean = shape(line, height, load.steady())?;
    let gust = shape(line, height, load.greatest())?;
    let lifts = thresholds(line, height)?.lifts;
    Ok(Hour {
        water,
        under_keel: water.depth - inputs.boat.draft,
        scope: line.veered().0 / bow.0,
        reach: mean.reach,
        lifted: mean.lifted,
        gust_angle_deg: gust.angle_anchor_deg,
        lifts_at: lifts.map(|pull| wind_for(inputs, pull, load)),
    })
}

/// The night by the forecast wind of each hour.
fn night(inputs: &Inputs, water: &Water<'_>, locker: &Locker, veered: Metres) -> Option<NightAhead> {
    let forecast = inputs.forecast.as_ref()?;
    let hold = inputs.seabed.zip(inputs.tackle.anchor_kg).and_then(|(bed, kg)| hold(kg, bed));
    let bare = inputs.snubber.and_then(|_| Locker::of(&inputs.tackle).ok());
    let lying = Lying {
        boat: &inputs.boat,
        locker,
        bare: bare.as_ref(),
        open: &inputs.site.open,
        measured: None,
        veered,
        weather: &inputs.weather,
        hold,
        limits: &inputs.limits,
        marks: &inputs.marks,
        shore: &inputs.shore,
        depth: &|at| water.depth(at),
        doubt: inputs.tide.as_ref().map_or_else(Default::default, |tide| {
            let doubt = tide.doubt_at(inputs.at);
            (doubt, doubt)
        }),
        sounded: &|_, _, _| None,
        slope: inputs.site.slope,
    };
    let until = water.known_until.unwrap_or(inputs.until);
    let turns = inputs.tide.as_ref().map_or_else(Vec::new, |tide| tide.turns_between(inputs.at, until));
    let turns = turns.iter().map(|turn| (turn.at, turn.kind));
    NightAhead::make(&lying, forecast, &moments(inputs.at, until, turns, forecast))
}

/// The wind on her bow that, with the stream, pulls so hard.
fn wind_for(inputs: &Inputs, pull: Newtons, load: &Load) -> Knots {
    Windage::of(&inputs.boat).wind_for(pull - load.stream)
}

fn lift_winds(
    inputs: &Inputs,
    locker: &Locker,
    veered: Metres,
    high: Metres,
    load: &Load,
) -> Result<LiftWinds, RodeError> {
    let Thresholds { lifts, five_degrees, eight_degrees } = thresholds(&locker.veer(veered)?, high)?;
    let wind = |pull: Option<Newtons>| pull.map(|pull| wind_for(inputs, pull, load));
    Ok(LiftWinds {
        veered,
        lifts: wind(lifts),
        five_degrees: wind(five_degrees),
        eight_degrees: wind(eight_degrees),
    })
}

fn rule_input(inputs: &Inputs, depth_high: Metres) -> RuleInput {
    RuleInput {
        depth: depth_high.max(Metres(0.0)),
        bow: inputs.boat.bow_height,
        wind: inputs.weather.mean,
        loa: inputs.boat.loa,
    }
}

fn rules(inputs: &Inputs, depth_high: Metres) -> Vec<RuleSays> {
    let input = rule_input(inputs, depth_high);
    let times = scope_factor(inputs.boat.hull);
    RULES.iter().map(|rule| RuleSays { rule, length: rule.length(&input) * times }).collect()
}

/// Where a neighbour's anchor lies: upwind of her, if the wind is known, else taken to be where she is.
fn neighbour(
    inputs: &Inputs,
    other: &OtherBoat,
    least: Metres,
    greatest: Metres,
) -> Result<Neighbour, RodeError> {
    // Her bow's height is not known: ours will do.
    let (low, high) = (bow_above_bottom(&inputs.boat, least), bow_above_bottom(&inputs.boat, greatest));
    let reach = reach_limit(other.rides_to.veered(high), low)?;
    Ok(match inputs.wind_from {
        // At the moment of letting go our own bow is over our anchor.
        Some(wind) => Neighbour::seen((other.bearing, other.distance), (reach, other.loa), wind, Metres(0.0)),
        None => Neighbour { bearing: other.bearing, distance: other.distance, reach, loa: other.loa },
    })
}

/// The longest stay that is planned.
pub const LONGEST_STAY: Span = Span::from_mins(14 * 24 * 60);
