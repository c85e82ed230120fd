//! The night ahead, hour by hour: what the forecast wind and the tide do to her where she lies, which hour is the worst
//! and why, and what more rode would change.
//!
//! One calculation for the plan, the screen and the card. She is taken to lie with the wind, her stern as far from the
//! anchor as the rode reaches, sheering to each side; a stream can lay her otherwise, and the look-out sees it.

mod held;
mod watching;
mod words;

pub use held::{Differs, Held};
pub(super) use watching::Ahead;
pub use watching::{NightView, foresee};
pub use words::{Sea, head, row};

use super::boat::{Boat, Limits, Sector};
use super::forecast::{Forecast, WindThen};
use super::grade::Grade;
use super::rode::{
    ANGLES_DEG, AskedBy, Hardest, Hold, Line, Locker, OpenWater, Out, RodeError, Sea as Waves, USELESS_DEG,
    Weather, reach_limit, shape,
};
use super::room::Mark;
use super::slope::{Slope, seen_from};
use super::tide::TurnKind;
use super::units::{Metres, Newtons, Span, TrueBearing, WatchTime};

/// Length whose worth is told beside the worst hour.
pub const MORE: Metres = Metres(10.0);
/// Water to keep between her and a mark: common practice, no source.
const MARK_CLEARANCE: Metres = Metres(5.0);
/// A mark farther from her than a cable is not told.
const MARK_TOLD: Metres = Metres(185.0);
/// Hours that are calculated at most: a fortnight and its tides.
const HOURS_MOST: usize = 500;

/// Depth at a moment, `None` where nothing is known of it.
pub type DepthAt<'a> = &'a dyn Fn(WatchTime) -> Option<Metres>;
/// The least depth that was sounded about a place seen from the anchor, at a moment; `None` where nothing was sounded.
pub type SoundedAt<'a> = &'a dyn Fn(TrueBearing, Metres, WatchTime) -> Option<Metres>;

/// How she lies, and what is round her.
#[derive(Clone, Copy)]
pub struct Lying<'a> {
    /// The boat.
    pub boat: &'a Boat,
    /// Her rode aboard, with the snubber that she rides to.
    pub locker: &'a Locker,
    /// The same without that snubber, where there is one.
    pub bare: Option<&'a Locker>,
    /// What is out, or will be.
    pub veered: Metres,
    /// Stream to be allowed for at every hour, and how far she sheers. Mean and gust are those of the forecast.
    pub weather: &'a Weather,
    /// What the anchor may hold, where the bottom is known.
    pub hold: Option<Hold>,
    /// The crew's limits.
    pub limits: &'a Limits,
    /// The open water that a sea runs in over.
    pub open: &'a OpenWater,
    /// The sea that an instrument measures now: no hour has less.
    pub measured: Option<Waves>,
    /// Marks to keep clear of, seen from the anchor.
    pub marks: &'a [Mark],
    /// Bearings from the anchor on which land or shoal water lies.
    pub shore: &'a [Sector],
    /// Depth at the anchor, as it is likeliest.
    pub depth: DepthAt<'a>,
    /// How much less and how much more water than that there may be.
    pub doubt: (Metres, Metres),
    /// Depth where she lies.
    pub sounded: SoundedAt<'a>,
    /// How the bottom slopes; `None`: not known, taken as level.
    pub slope: Option<Slope>,
}

/// One hour of the night.
#[derive(Clone, Debug, PartialEq)]
pub struct AheadHour {
    /// When.
    pub at: WatchTime,
    /// The tide turns then.
    pub turn: Option<TurnKind>,
    /// The wind.
    pub wind: WindThen,
    /// Depth at the anchor.
    pub depth: Metres,
    /// Water under the keel there.
    pub under_keel: Metres,
    /// Rode out ÷ (depth + bow height).
    pub scope: f64,
    /// The greatest pull to be expected: see [`Hardest::leads`].
    pub load: Newtons,
    /// What makes it.
    pub by: AskedBy,
    /// All that pulls.
    pub pulls: Hardest,
    /// What the anchor may hold, at the angle at which that arrives.
    pub hold: Option<Hold>,
    /// The steepest pull at the anchor that is calculated, degrees above the bottom: in a gust while she sheers, and as a
    /// wave throws her back.
    pub pull_deg: f64,
    /// True if it is steeper than it should be: past 8° in a gust, past 12° as a wave throws her back.
    pub too_steep: bool,
    /// Where her bow lies, seen from the anchor; `None` in a variable wind.
    pub lies: Option<TrueBearing>,
    /// How far the bow can lie from the anchor, what rope or snubber give with it.
    pub reach: Metres,
    /// Water under the keel where she lies, and how that is known.
    pub keel_there: Option<(Metres, Found)>,
    /// The nearest mark, and the water between it and her.
    pub room: Option<(String, Metres)>,
    /// What is to be worried about, worst first.
    pub worries: Vec<Worry>,
}

/// How the depth where she lies is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// It was sounded there.
    Sounded,
    /// The bottom slopes.
    Sloping,
}

/// Something that is wrong with an hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Worry {
    /// Water under the keel at the anchor, and the crew's limit.
    Keel(Metres, Metres),
    /// Water under the keel where she lies, how that is known, and the crew's limit.
    Shoal(Metres, Found, Metres),
    /// Load, what makes it, and what the anchor may hold.
    Holding(Newtons, AskedBy, Hold),
    /// Pull at the anchor, degrees up.
    Pull(f64),
    /// Scope, and the crew's limit.
    Scope(f64, f64),
    /// Water between her and the nearest mark.
    Mark(Metres),
    /// The wind blows from a barred sector.
    Barred,
    /// Land or shoal water lies to leeward.
    LeeShore,
}

impl Worry {
    /// How bad it is; never good.
    #[must_use]
    pub fn grade(&self) -> Grade {
        let bad = match *self {
            Self::Keel(under, _) | Self::Shoal(under, ..) => under.0 < 0.0,
            Self::Holding(load, _, hold) => load > hold.most,
            Self::Pull(deg) => deg > USELESS_DEG,
            Self::Scope(scope, limit) => scope < 0.8 * limit,
            Self::Mark(room) => room.0 < 0.0,
            Self::Barred => true,
            Self::LeeShore => false,
        };
        if bad { Grade::Bad } else { Grade::Tight }
    }

    /// How far beyond its limit, as a share of it.
    fn beyond(&self) -> f64 {
        match *self {
            Self::Keel(under, limit) | Self::Shoal(under, _, limit) => (limit - under).0 / limit.0.max(0.1),
            Self::Holding(load, _, hold) => load.0 / hold.least.0.max(1.0) - 1.0,
            Self::Pull(deg) => deg / ANGLES_DEG[1] - 1.0,
            Self::Scope(scope, limit) => 1.0 - scope / limit,
            Self::Mark(room) => 1.0 - room.0 / MARK_CLEARANCE.0,
            Self::Barred | Self::LeeShore => 0.0,
        }
    }
}

impl AheadHour {
    /// The worst of its worries.
    #[must_use]
    pub fn grade(&self) -> Grade {
        self.worries.iter().map(Worry::grade).max().unwrap_or(Grade::Good)
    }

    /// The worst grade first, then how many things are so bad, by how much in thousandths, then the load.
    fn badness(&self) -> (Grade, usize, i64, i64) {
        let grade = self.grade();
        let so_bad: Vec<f64> =
            self.worries.iter().filter(|worry| worry.grade() == grade).map(Worry::beyond).collect();
        let beyond = so_bad.iter().sum::<f64>();
        (grade, so_bad.len(), (beyond * 1000.0).round() as i64, self.load.0.round() as i64)
    }
}

/// What more rode would change at the worst hour.
#[derive(Clone, Debug, PartialEq)]
pub enum MoreRode {
    /// That hour with so much out.
    With(Metres, Box<AheadHour>),
    /// Only so much more is aboard.
    NotAboard(Metres),
}

/// The night hour by hour.
#[derive(Clone, Debug, PartialEq)]
pub struct NightAhead {
    /// The hours, soonest first; never empty.
    pub hours: Vec<AheadHour>,
    /// Which is the worst.
    worst: usize,
    /// What more rode would change then.
    pub more: MoreRode,
    /// The wind that it is calculated with.
    pub forecast: Forecast,
}

/// The moments that are calculated: the beginning, each full hour, each turn of the tide, each wind that was entered.
#[must_use]
pub fn moments(
    from: WatchTime,
    until: WatchTime,
    turns: impl Iterator<Item = (WatchTime, TurnKind)>,
    forecast: &Forecast,
) -> Vec<(WatchTime, Option<TurnKind>)> {
    const HOUR_MS: i64 = 3_600_000;
    let first = from.0.div_euclid(HOUR_MS) + 1;
    let hours =
        (first..=until.0.div_euclid(HOUR_MS)).take(HOURS_MOST).map(|hour| (WatchTime(hour * HOUR_MS), None));
    let inside = |at: WatchTime| at > from && at <= until;
    let winds = forecast.winds().iter().filter(|wind| inside(wind.at)).map(|wind| (wind.at, None));
    let turns = turns.filter(|(at, _)| inside(*at)).map(|(at, kind)| (at, Some(kind)));
    let mut all: Vec<_> = std::iter::once((from, None)).chain(hours).chain(winds).chain(turns).collect();
    // A turn on the hour stands before that hour and takes its place.
    all.sort_by_key(|(at, turn)| (*at, turn.is_none()));
    all.dedup_by_key(|(at, _)| *at);
    all
}

impl NightAhead {
    /// Calculates the night; `None` where no depth is known at any of the moments, or the rode does not reach the bottom.
    #[must_use]
    pub fn make(
        lying: &Lying,
        forecast: &Forecast,
        moments: &[(WatchTime, Option<TurnKind>)],
    ) -> Option<Self> {
        let hours: Vec<AheadHour> =
            moments.iter().filter_map(|(at, turn)| lying.hour(forecast.at(*at), *at, *turn)).collect();
        // Of equals the first: it comes soonest.
        let worst = (0..hours.len()).rev().max_by_key(|i| hours[*i].badness())?;
        let more = lying.with_more(&hours[worst]);
        Some(Self { worst, more, hours, forecast: forecast.clone() })
    }

    /// The worst hour.
    #[must_use]
    pub fn worst(&self) -> &AheadHour {
        &self.hours[self.worst]
    }

    /// How bad the worst hour is.
    #[must_use]
    pub fn grade(&self) -> Grade {
        self.worst().grade()
    }

    /// The first hour that is bad.
    #[must_use]
    pub fn first_bad(&self) -> Option<&AheadHour> {
        self.hours.iter().find(|hour| hour.grade() == Grade::Bad)
    }

    /// The hour nearest to a moment, within half an hour of it.
    #[must_use]
    pub fn near(&self, at: WatchTime) -> Option<&AheadHour> {
        let far = |hour: &&AheadHour| hour.at.since(at).0.abs();
        self.hours.iter().min_by_key(far).filter(|hour| far(hour) <= Span::from_mins(31).0)
    }
}

impl Lying<'_> {
    fn hour(&self, wind: WindThen, at: WatchTime, turn: Option<TurnKind>) -> Option<AheadHour> {
        let depth = (self.depth)(at)?;
        let (less, more) = self.doubt;
        // Where it dries, the bow stands above the mud that she sits on.
        let height = (depth + more).max(Metres(0.0)) + self.boat.bow_height;
        let low = (depth - less).max(Metres(0.0)) + self.boat.bow_height;
        let line = self.locker.veer(self.veered).ok()?;
        let weather = Weather { mean: wind.mean, gust: wind.gust(), ..*self.weather };
        let falls = self.slope.map_or(0.0, |slope| slope.downhill(wind.from));
        let high = seen_from(height, self.veered, falls);
        let pulls = self.pulls(&weather, wind.from, &line, (high, depth + more)).ok()?;
        let (load, by) = pulls.leads();
        let reach = reach_limit(self.veered, low).ok()? + pulls.gives(&line, low).ok()?;
        let lies = wind.from.map(TrueBearing::reversed);
        let up = |pull: Newtons| shape(&line, high, pull).map(|shape| shape.angle_anchor_deg).ok();
        let (in_gust, at_most) = (up(pulls.load.greatest())?, up(pulls.calculated().0)?);
        let arrives = up(load)?;
        let mut hour = AheadHour {
            at,
            turn,
            wind,
            depth,
            under_keel: depth - less - self.boat.draft,
            scope: self.veered.0 / height.0,
            load,
            by,
            pulls,
            // What is left of it at that angle.
            hold: self.hold.map(|hold| hold.pulled_up(arrives)),
            pull_deg: in_gust.max(at_most),
            too_steep: in_gust > ANGLES_DEG[1] + 0.05 || at_most > USELESS_DEG,
            lies,
            reach,
            keel_there: self.keel_there((wind.from, reach), at, depth - less),
            room: self.nearest_mark(lies, reach),
            worries: Vec::new(),
        };
        hour.worries = self.worries(&hour);
        Some(hour)
    }

    /// Water under the keel where she lies, with so much at the anchor: as it was sounded amidships, else as a slope has it
    /// under her stern, at worst.
    fn keel_there(
        &self,
        (from, reach): (Option<TrueBearing>, Metres),
        at: WatchTime,
        depth: Metres,
    ) -> Option<(Metres, Found)> {
        let amidships = reach + self.boat.loa * 0.5;
        let sounded = from.and_then(|from| (self.sounded)(from.reversed(), amidships, at));
        let there = match (sounded, self.slope) {
            (Some(sounded), _) => (sounded, Found::Sounded),
            (None, Some(slope)) => (depth - (reach + self.boat.loa) * slope.uphill(from), Found::Sloping),
            (None, None) => return None,
        };
        Some((there.0 - self.boat.draft, there.1))
    }

    /// All that pulls in a wind; the bow roller so high above the bottom, in so much water.
    fn pulls(
        &self,
        weather: &Weather,
        from: Option<TrueBearing>,
        line: &Line,
        (high, depth): (Metres, Metres),
    ) -> Result<Hardest, RodeError> {
        let bare = self.bare.map(|bare| bare.veer(self.veered)).transpose()?;
        let out = Out { line: *line, bare, high, depth, measured: self.measured };
        Hardest::of(self.boat, weather, from, self.open, &out)
    }

    fn worries(&self, hour: &AheadHour) -> Vec<Worry> {
        let limits = self.limits;
        let mut all = Vec::new();
        let mut when = |so: bool, worry: Worry| all.extend(so.then_some(worry));
        when(hour.under_keel < limits.under_keel, Worry::Keel(hour.under_keel, limits.under_keel));
        if let Some((under, found)) = hour.keel_there.filter(|(there, _)| *there < hour.under_keel) {
            when(under < limits.under_keel, Worry::Shoal(under, found, limits.under_keel));
        }
        if let Some(hold) = hour.hold {
            when(hour.load > hold.least, Worry::Holding(hour.load, hour.by, hold));
        }
        when(hour.too_steep, Worry::Pull(hour.pull_deg));
        when(hour.scope < limits.scope, Worry::Scope(hour.scope, limits.scope));
        if let Some((_, room)) = &hour.room {
            when(*room < MARK_CLEARANCE, Worry::Mark(*room));
        }
        let barred = |from: TrueBearing| limits.barred.iter().any(|sector| sector.contains(from));
        // A wind from anywhere may come from there too, but in a wind that has no direction nobody is driven ashore.
        when(hour.wind.from.is_some_and(barred), Worry::Barred);
        let shore = |lies: TrueBearing| self.shore.iter().any(|sector| sector.contains(lies));
        when(hour.lies.is_some_and(shore), Worry::LeeShore);
        all.sort_by_key(|worry| std::cmp::Reverse(worry.grade()));
        all
    }

    /// The mark that she comes nearest to, and how near. In a variable wind she may lie anywhere.
    fn nearest_mark(&self, lies: Option<TrueBearing>, reach: Metres) -> Option<(String, Metres)> {
        let stern = reach + self.boat.loa;
        let half_deg = if lies.is_some() { self.weather.sheer_deg } else { 180.0 };
        let room = |mark: &Mark| mark_room(mark, lies.unwrap_or(mark.bearing), half_deg, stern);
        let all = self.marks.iter().map(|mark| (mark.name.clone(), room(mark)));
        all.min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0)).filter(|(_, room)| *room < MARK_TOLD)
    }

    fn with_more(&self, hour: &AheadHour) -> MoreRode {
        let aboard = self.locker.carried() - self.veered;
        let veered = self.veered + MORE;
        let with = (aboard >= MORE).then(|| Lying { veered, ..*self }.hour(hour.wind, hour.at, hour.turn));
        match with.flatten() {
            Some(hour) => MoreRode::With(veered, Box::new(hour)),
            None => MoreRode::NotAboard(aboard.max(Metres(0.0))),
        }
    }
}

/// Water between a mark and a boat that lies anywhere from her anchor to `stern` off it, within `half_deg` of a direction;
/// negative if she can lie on it.
///
/// # Formula
/// Within the sector the mark lies its distance less `stern` from her; beside it, the distance to the sector's edge, a
/// line from the anchor to `stern`. Plane geometry.
fn mark_room(mark: &Mark, lies: TrueBearing, half_deg: f64, stern: Metres) -> Metres {
    let off_deg = (lies.turn_to(mark.bearing).abs() - half_deg).max(0.0);
    let distance_m = mark.distance.0;
    let along_m = distance_m * off_deg.to_radians().cos();
    let across_m = distance_m * off_deg.to_radians().sin();
    let off_m = if off_deg == 0.0 {
        distance_m - stern.0
    } else if along_m <= 0.0 {
        distance_m
    } else {
        across_m.hypot((along_m - stern.0).max(0.0))
    };
    Metres(off_m) - mark.extent
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::watch::boat::Tackle;
    use crate::watch::rode::parse_fetch;
    use crate::watch::units::Knots;

    pub(in crate::watch) fn wind(h: i64, deg: f64, mean: f64, gust: f64) -> WindThen {
        WindThen {
            at: WatchTime(h * 3_600_000),
            from: Some(TrueBearing::new(deg)),
            mean: Knots(mean),
            gust: Some(Knots(gust)),
        }
    }

    /// Twelve hours in 5 m with so much chain out, SW 15 g22 at first, W 25 g35 at six, NW 18 at ten.
    fn night(veered: f64, limits: &Limits, marks: &[Mark], hold: Option<Hold>) -> NightAhead {
        night_in(veered, limits, marks, hold, &OpenWater::default())
    }

    fn night_in(
        veered: f64,
        limits: &Limits,
        marks: &[Mark],
        hold: Option<Hold>,
        open: &OpenWater,
    ) -> NightAhead {
        night_on((veered, limits, marks), hold, open, None)
    }

    fn night_on(
        (veered, limits, marks): (f64, &Limits, &[Mark]),
        hold: Option<Hold>,
        open: &OpenWater,
        slope: Option<Slope>,
    ) -> NightAhead {
        let (boat, tackle) = (Boat::default(), Tackle::default());
        let locker = Locker::of(&tackle).unwrap();
        let winds = vec![wind(0, 225.0, 15.0, 22.0), wind(6, 270.0, 25.0, 35.0), wind(10, 315.0, 18.0, 25.0)];
        let forecast = Forecast::try_from(winds).unwrap();
        let weather = Weather::usual(Knots(15.0), boat.hull);
        let lying = Lying {
            boat: &boat,
            locker: &locker,
            bare: None,
            open,
            measured: None,
            veered: Metres(veered),
            weather: &weather,
            hold,
            limits,
            marks,
            shore: &[],
            depth: &|_| Some(Metres(5.0)),
            doubt: (Metres(0.0), Metres(0.0)),
            sounded: &|_, _, _| None,
            slope,
        };
        let moments = moments(WatchTime(0), WatchTime(12 * 3_600_000), std::iter::empty(), &forecast);
        NightAhead::make(&lying, &forecast, &moments).unwrap()
    }

    #[test]
    fn the_hardest_wind_is_the_worst_hour_and_ten_metres_more_pull_flatter() {
        let night = night(25.0, &Limits::default(), &[], None);
        assert_eq!((night.hours.len(), night.worst().at), (13, WatchTime(6 * 3_600_000)));
        let MoreRode::With(veered, more) = &night.more else { panic!() };
        assert_eq!(*veered, Metres(35.0));
        assert!(more.pull_deg < night.worst().pull_deg && more.scope > night.worst().scope);
    }

    #[test]
    fn load_and_direction_follow_the_forecast() {
        let night = night(30.0, &Limits::default(), &[], None);
        let (first, sixth) = (&night.hours[0], &night.hours[6]);
        // A gust of 35 kn pulls (35/22)² as hard as one of 22.
        let sum = |hour: &AheadHour| hour.pulls.load.greatest().0;
        assert!((sum(sixth) / sum(first) - (35.0_f64 / 22.0).powi(2)).abs() < 1e-9);
        assert_eq!((first.lies, sixth.lies), (Some(TrueBearing::new(45.0)), Some(TrueBearing::new(90.0))));
    }

    /// One in twenty falling to the north-east: a south-wester lays her downhill, where the pull is turned up by what `atan`
    /// of the slope says, and a north-wester along the slope, 45° from uphill, where she has less water astern.
    #[test]
    fn a_bottom_that_slopes_turns_the_pull_up_downhill_and_shoals_uphill() {
        let slope = Slope { falls_to: TrueBearing::new(45.0), gradient: 0.05 };
        let limits = Limits { under_keel: Metres(2.0), ..Limits::default() };
        let hours = |slope| night_on((25.0, &limits, &[]), None, &OpenWater::default(), slope).hours;
        let (level, sloping) = (hours(None), hours(Some(slope)));
        let turned = sloping[0].pull_deg - level[0].pull_deg;
        assert!((turned - 0.05_f64.atan().to_degrees()).abs() < 0.7, "{turned}");
        assert!(sloping.iter().zip(&level).all(|(sloping, level)| sloping.pull_deg >= level.pull_deg));
        // The wind of the first hour may shift by 45°: she does not come uphill.
        assert_eq!(sloping[0].keel_there.unwrap(), (level[0].under_keel, Found::Sloping));
        let (under, _) = sloping[10].keel_there.unwrap();
        let far = sloping[10].reach + Boat::default().loa;
        let expected = level[10].under_keel - far * 0.05 * 45.0_f64.to_radians().cos();
        assert!((under - expected).0.abs() < 1e-9, "{under:?} {expected:?}");
        let told = |why: &String| why.ends_with("of the anchor, by the slope; your limit is 2.0");
        assert!(sloping[10].why().iter().any(told), "{:?}", sloping[10].why());
        assert!(level.iter().all(|hour| hour.keel_there.is_none()));
    }

    #[test]
    fn a_barred_sector_is_worse_than_the_hardest_wind() {
        let sector = Sector { from: TrueBearing::new(310.0), to: TrueBearing::new(10.0) };
        let limits = Limits { barred: vec![sector], ..Limits::default() };
        let night = night(40.0, &limits, &[], None);
        assert_eq!((night.worst().at, night.grade()), (WatchTime(10 * 3_600_000), Grade::Bad));
        assert!(night.worst().worries.contains(&Worry::Barred));
        assert_eq!(night.first_bad().unwrap().at, WatchTime(10 * 3_600_000));
    }

    #[test]
    fn a_load_above_the_least_hold_is_tight_and_above_the_most_bad() {
        let holds = |least: f64, most: f64| {
            let hold = Hold { least: Newtons(least), most: Newtons(most) };
            night(50.0, &Limits::default(), &[], Some(hold)).grade()
        };
        assert_eq!(
            [holds(9e4, 1e5), holds(1000.0, 1e5), holds(500.0, 1000.0)],
            [Grade::Good, Grade::Tight, Grade::Bad]
        );
    }

    /// The same night with open water to the west: the wind that turns there at six raises a sea, and the load is the wave's.
    #[test]
    fn the_worst_load_of_an_hour_has_the_waves_of_its_wind_in_it() {
        let sheltered = night(40.0, &Limits::default(), &[], None);
        let open = OpenWater { fetch: parse_fetch("SW 0.1, S 0.1, W 4").unwrap(), depth: None };
        let open = night_in(40.0, &Limits::default(), &[], None, &open);
        assert!(open.hours[6].load > sheltered.hours[6].load);
        assert_eq!((open.hours[6].by, sheltered.hours[6].by), (AskedBy::Waves, AskedBy::DesignTable));
        let height = |hour: usize| open.hours[hour].pulls.waves.unwrap().sea.height.0;
        assert!(height(6) > 4.0 * height(0), "{} {}", height(0), height(6));
        assert!(sheltered.hours.iter().all(|hour| hour.pulls.waves.is_none()));
    }

    #[test]
    fn a_mark_is_near_while_she_lies_towards_it() {
        let rock = |deg: f64, far: f64| Mark {
            name: "Perch rock".into(),
            bearing: TrueBearing::new(deg),
            distance: Metres(far),
            extent: Metres(3.0),
        };
        let stern = Metres(40.0);
        let lies = TrueBearing::new(90.0);
        // Straight astern, within her sheer, abeam of her, and up wind.
        assert_eq!(mark_room(&rock(90.0, 50.0), lies, 30.0, stern), Metres(7.0));
        assert_eq!(mark_room(&rock(115.0, 50.0), lies, 30.0, stern), Metres(7.0));
        let beside = mark_room(&rock(165.0, 20.0), lies, 30.0, stern);
        assert!((beside.0 - (20.0 * 45.0_f64.to_radians().sin() - 3.0)).abs() < 1e-9);
        assert_eq!(mark_room(&rock(270.0, 20.0), lies, 30.0, stern), Metres(17.0));
        let night = night(40.0, &Limits::default(), &[rock(90.0, 40.0)], None);
        assert!(night.hours[6].room.as_ref().unwrap().1 < Metres(0.0));
        assert_eq!(night.worst().at, WatchTime(6 * 3_600_000));
    }

    #[test]
    fn without_ten_metres_aboard_what_is_left_is_told() {
        assert_eq!(night(45.0, &Limits::default(), &[], None).more, MoreRode::NotAboard(Metres(5.0)));
    }
}
