//! The night ahead of a watch that is kept: by what was entered, what she lies to and what was sounded.

use std::sync::Arc;

use super::{DepthAt, Held, Lying, NightAhead, SoundedAt, moments};
use crate::watch::Watch;
use crate::watch::boat::{Berth, Settings};
use crate::watch::forecast::Forecast;
use crate::watch::geo::Local;
use crate::watch::rode::{Locker, Sea, Weather, hold, usual_sheer};
use crate::watch::room::Mark;
use crate::watch::slope::Slope;
use crate::watch::snapshot::{MarkView, Snapshot, Stage};
use crate::watch::tide::TurnKind;
use crate::watch::tuning::SOUNDED_WITHIN;
use crate::watch::tuning::ahead::{AGE, AHEAD};
use crate::watch::units::{Knots, Metres, TrueBearing, WatchTime};
use crate::watch::what_if::depth_at;

/// The night ahead as the screen shows it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NightView {
    /// The wind that was entered.
    pub forecast: Option<Arc<Forecast>>,
    /// The night calculated with it; `None` before the anchor is down, and without depth or rode.
    pub night: Option<Arc<NightAhead>>,
    /// The wind is not as forecast.
    pub held: Option<Arc<Held>>,
}

/// What the watch keeps of the night ahead.
#[derive(Clone, Debug, Default)]
pub(in crate::watch) struct Ahead {
    view: NightView,
    /// When it was calculated; `None`: it is to be calculated anew.
    made: Option<WatchTime>,
}

impl Ahead {
    /// With a forecast that was entered before the watch began.
    pub(in crate::watch) fn of(forecast: Option<&Forecast>) -> Self {
        let forecast = forecast.cloned().map(Arc::new);
        Self { view: NightView { forecast, ..NightView::default() }, made: None }
    }

    /// What the screen shows.
    pub(in crate::watch) fn view(&self) -> &NightView {
        &self.view
    }
}

/// What lying to this rode takes from settings: the same for every hour.
struct Gear {
    locker: Locker,
    bare: Option<Locker>,
    weather: Weather,
}

impl Gear {
    fn of(settings: &Settings, berth: &Berth, stream: Option<Knots>) -> Option<Self> {
        let (locker, bare) = berth.lockers(&settings.tackle).ok()?;
        let none = Weather {
            sheer_deg: usual_sheer(&settings.boat, berth.bridle),
            ..Weather::usual(Knots(0.0), settings.boat.hull)
        };
        let usual = settings.expected.unwrap_or(none);
        let stream = stream.unwrap_or(Knots(0.0)).max(usual.stream);
        Some(Self { locker, bare, weather: Weather { stream, ..usual } })
    }
}

/// How she lies, with all that is the same for the watch and for a snapshot of it.
fn lying<'a>(
    (settings, berth, measured): (&'a Settings, &'a Berth, Option<Sea>),
    gear: &'a Gear,
    (veered, marks): (Metres, &'a [Mark]),
    (depth, sounded, doubt): (DepthAt<'a>, SoundedAt<'a>, (Metres, Metres)),
    slope: Option<Slope>,
) -> Lying<'a> {
    let tackle = &settings.tackle;
    Lying {
        boat: &settings.boat,
        locker: &gear.locker,
        bare: gear.bare.as_ref(),
        open: &berth.open,
        measured,
        veered,
        weather: &gear.weather,
        hold: tackle.anchor_kg.zip(berth.seabed).and_then(|(kg, seabed)| hold(kg, seabed)),
        limits: &settings.limits,
        marks,
        shore: &berth.shore,
        depth,
        doubt,
        sounded,
        slope,
    }
}

impl Watch {
    /// The wind that is to come was entered.
    pub(in crate::watch) fn enter_forecast(&mut self, at: WatchTime, forecast: Option<Forecast>) {
        let words = match &forecast {
            Some(forecast) => format!("wind ahead entered, {} winds", forecast.winds().len()),
            None => "wind ahead removed".to_owned(),
        };
        self.ahead = Ahead::of(forecast.as_ref());
        self.night.happened(at, words, false);
    }

    /// What is calculated of the night is out of date.
    pub(in crate::watch) fn night_changed(&mut self) {
        self.ahead.made = None;
    }

    /// One second: the night is calculated anew where it is old.
    pub(in crate::watch) fn ahead_second(&mut self, now: WatchTime) {
        if self.ahead.made.is_some_and(|made| now.since(made) < AGE) {
            return;
        }
        let Some(forecast) = self.ahead.view.forecast.clone() else { return };
        self.ahead.made = Some(now);
        let lies = matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp);
        let night = |forecast: &Forecast| self.night_with(now, forecast).filter(|_| lies);
        let planned = night(&forecast).map(Arc::new);
        let measured = self.wind.speeds(now).map(|speeds| super::held::Measured {
            mean: speeds.mean,
            gust: speeds.gust,
            from: self.wind.direction(now, self.limits.wind_window),
        });
        let held = measured.filter(|_| lies).and_then(|measured| {
            super::held::hold_against(&forecast, &measured, now, (&self.limits, planned.as_deref()), &night)
        });
        self.ahead.view.night = planned;
        self.ahead.view.held = held.map(Arc::new);
    }

    fn night_with(&self, now: WatchTime, forecast: &Forecast) -> Option<NightAhead> {
        let settings = Settings { limits: self.limits.clone(), ..(*self.settings).clone() };
        let gear = Gear::of(&settings, &self.berth, self.picture.stream().map(|(_, rate)| rate))?;
        let marks = self.marks_from_anchor();
        let depth = |at: WatchTime| if at == now { self.depth_now(now) } else { self.water.depth_at(at) };
        let depth =
            |at: WatchTime| depth(at).or_else(|| self.depth_now(now).filter(|_| !self.water.has_tide()));
        let sounded = |bearing: TrueBearing, distance: Metres, at: WatchTime| {
            let plane = self.ride.drop_point().and(self.ride.plane())?;
            let spot = Local::polar(bearing, distance.0);
            let near =
                self.setting.soundings().iter().filter(|sounding| {
                    (plane.to_local(sounding.position) - spot).length_m() <= SOUNDED_WITHIN.0
                });
            let stands = near.map(|s| {
                s.charted
                    .zip(self.water.height_for_least(at))
                    .map_or(s.depth, |(charted, rise)| charted + rise)
            });
            stands.min_by(|a, b| a.0.total_cmp(&b.0))
        };
        let lying = lying(
            (&settings, &self.berth, self.measured_sea(now)),
            &gear,
            (self.lies_to(now)?, &marks),
            (&depth, &sounded, self.doubt_ahead()),
            self.slope(),
        );
        let turns = self.water.view(now).turns;
        let turns = turns.iter().map(|turn| (turn.at, turn.kind));
        NightAhead::make(&lying, forecast, &moments(now, now + AHEAD, turns, forecast))
    }

    /// The sea by an instrument that measures how she moves.
    pub(in crate::watch) fn measured_sea(&self, now: WatchTime) -> Option<Sea> {
        self.motion.view(now)?.sea
    }

    /// How much less and more water the outlook allows for than is likeliest.
    fn doubt_ahead(&self) -> (Metres, Metres) {
        let outlook = self.water.outlook();
        let likely = |at: WatchTime| self.water.depth_at(at);
        let less = outlook.least.and_then(|(depth, at)| Some(likely(at)? - depth));
        let more = outlook.greatest.and_then(|(depth, at)| Some(depth - likely(at)?));
        let doubt = |off: Option<Metres>| off.unwrap_or_default().max(Metres(0.0));
        (doubt(less), doubt(more))
    }

    fn depth_now(&self, now: WatchTime) -> Option<Metres> {
        self.water.depth_at(now).or(self.picture.depth())
    }

    /// The marks whose place is known, seen from the anchor.
    fn marks_from_anchor(&self) -> Vec<Mark> {
        let views = self.marks.views(self.ride.drop_point().and(self.ride.plane()), self.swing(self.now));
        views.iter().filter(|mark| mark.far.is_none()).map(from_anchor).collect()
    }
}

fn from_anchor(mark: &MarkView) -> Mark {
    Mark { name: mark.name.to_string(), bearing: mark.bearing, distance: mark.distance, extent: Metres(0.0) }
}

/// The night that a forecast would give a watch, by what a snapshot of it shows: for whoever is typing it.
#[must_use]
pub fn foresee(forecast: &Forecast, snap: &Snapshot) -> Option<NightAhead> {
    let settings = Settings { limits: snap.limits.clone(), ..(*snap.settings).clone() };
    let gear = Gear::of(&settings, &snap.berth, snap.stream.map(|(_, rate)| rate))?;
    let single = snap.marks.iter().filter(|mark| mark.far.is_none() && snap.drop.is_some());
    let marks: Vec<Mark> = single.map(from_anchor).collect();
    let has_tide = !snap.tide.curve.is_empty();
    let depth = |at: WatchTime| depth_at(snap, if has_tide { at } else { snap.at });
    let now = depth(snap.at);
    let rise = |at: WatchTime| Some(depth(at)? - now?);
    let least = snap.depth.least_under_keel.map(|(left, at)| (left + snap.settings.boat.draft, at));
    let less = least.and_then(|(least, at)| Some(depth_at(snap, at)? - least));
    let sounded = |bearing: TrueBearing, distance: Metres, at: WatchTime| {
        let spot = Local::polar(bearing, distance.0);
        let near = snap.recon.soundings.iter().filter(|s| (s.point - spot).length_m() <= SOUNDED_WITHIN.0);
        // Its height above the datum is not in a snapshot: the lowest water is, and the depth at the anchor then.
        let lowest = snap.tide.curve.iter().map(|(_, depth)| *depth).reduce(Metres::min);
        let above = lowest.zip(now).map(|(lowest, now)| now - lowest);
        let stands = near.map(|s| match s.lowest.zip(above).zip(rise(at)) {
            Some(((lowest, above), rise)) => lowest + above + rise,
            None => s.depth,
        });
        stands.min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let lying = lying(
        (&settings, &snap.berth, snap.motion.and_then(|motion| motion.sea)),
        &gear,
        (snap.rode.veered?, &marks),
        (&depth, &sounded, (less.unwrap_or_default().max(Metres(0.0)), Metres(0.0))),
        snap.slope(),
    );
    let turns = snap.tide.turns.iter().map(|turn| (turn.at, turn.kind));
    let turns: Vec<(WatchTime, TurnKind)> = turns.collect();
    NightAhead::make(&lying, forecast, &moments(snap.at, snap.at + AHEAD, turns.into_iter(), forecast))
}
