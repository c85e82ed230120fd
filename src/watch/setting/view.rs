//! Coming to anchor as the screen shows it: soundings, target, marks, pulls, advice, and whether she may be left.

use std::sync::Arc;

use super::advice::{Standing, advise};
use super::counting::{Depths, marks_about, target};
use super::{
    Doing, Held, LeastDepth, Leaving, PullSeen, ReconView, SettingView, SlopeView, Sounding, SoundingView,
    Target,
};
use crate::watch::alert::AlertKind;
use crate::watch::geo::{Local, Plane};
use crate::watch::holding::HoldingState;
use crate::watch::rode::{self, Proved};
use crate::watch::slope::{self, Slope};
use crate::watch::snapshot::Stage;
use crate::watch::tuning::setting::{LEAVE_AFTER, LEAVE_PERCENT, PROVED_BY_WIND_PERCENT};
use crate::watch::units::{Metres, Span, WatchTime};
use crate::watch::{FIX_AGE, Watch};

/// Soundings farther off say nothing of the bottom about the anchor, metres.
const SLOPE_WITHIN_M: f64 = 100.0;
/// The slope is fitted anew this often.
const SLOPE_AGE: Span = Span::from_secs(10);

impl Watch {
    /// The reconnaissance as the screen shows it.
    pub(in crate::watch) fn recon_view(&self, now: WatchTime) -> ReconView {
        let recon = &self.setting.recon;
        let Some(plane) = self.ride.plane() else {
            return ReconView { since: recon.since(), ..ReconView::default() };
        };
        let soundings: Vec<SoundingView> =
            recon.soundings().iter().map(|s| self.sounding_view(plane, s)).collect();
        let looked_at = !self.ride.anchored() || recon.since().is_some();
        ReconView {
            since: recon.since(),
            here: self.sounding_here(now).filter(|_| looked_at).map(|s| self.sounding_view(plane, &s)),
            last_time: self.last_time(now).filter(|_| looked_at),
            slope: self.fitted_slope(),
            least: self.least_depth(now, &soundings),
            soundings: Arc::new(soundings),
        }
    }

    /// One second: the slope is fitted anew where it is old.
    pub(in crate::watch) fn slope_second(&mut self, now: WatchTime) {
        if self.setting.slope.is_none_or(|(at, _)| now.since(at) >= SLOPE_AGE) {
            let fitted = self.ride.plane().and_then(|plane| self.slope_view(plane));
            self.setting.slope = Some((now, fitted));
        }
    }

    /// How the bottom about the drop point slopes: as soundings show it, else as it was entered.
    pub(in crate::watch) fn slope(&self) -> Option<Slope> {
        self.fitted_slope().map(|view| view.fitted.slope).or(self.berth.slope)
    }

    fn fitted_slope(&self) -> Option<SlopeView> {
        self.setting.slope.and_then(|(_, fitted)| fitted)
    }

    /// The plane through what was sailed and swung over within a hundred metres, by the level of the tide entered; without
    /// one by the surface, which is as good only while it stands.
    fn slope_view(&self, plane: &Plane) -> Option<SlopeView> {
        let all = self.setting.soundings().iter().chain(self.setting.swung.soundings());
        let reduced = all.clone().any(|sounding| sounding.charted.is_some());
        let found: Vec<(Local, Metres)> = all
            .filter_map(|sounding| {
                let depth = if reduced { sounding.charted? } else { sounding.depth };
                Some((plane.to_local(sounding.position), depth))
            })
            .filter(|(place, _)| place.length_m() <= SLOPE_WITHIN_M)
            .collect();
        let fitted = slope::fit(&found)?;
        let least = self.water.heights_ahead().map_or(Metres(0.0), |(least, _)| least);
        Some(SlopeView { fitted, lowest: if reduced { fitted.depth + least } else { fitted.depth } })
    }

    fn sounding_view(&self, plane: &Plane, sounding: &Sounding) -> SoundingView {
        let then = self.water.heights_ahead();
        SoundingView {
            at: sounding.at,
            point: plane.to_local(sounding.position),
            depth: sounding.depth,
            charted: sounding.charted,
            lowest: sounding.charted.zip(then).map(|(charted, (least, _))| charted + least),
            highest: sounding.charted.zip(then).map(|(charted, (_, greatest))| charted + greatest),
        }
    }

    /// The shoalest sounding so near to a point of the plane, at the lowest water ahead where a tide is known.
    pub(in crate::watch) fn lowest_about(
        &self,
        plane: &Plane,
        point: Local,
        within: Metres,
    ) -> Option<Metres> {
        let least = self.water.heights_ahead().map(|(least, _)| least);
        let near = self
            .setting
            .soundings()
            .iter()
            .filter(|sounding| (plane.to_local(sounding.position) - point).length_m() <= within.0);
        let stands = near.map(|s| s.charted.zip(least).map_or(s.depth, |(charted, least)| charted + least));
        stands.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// The shoalest sounding within the room she needs: the swing circle about the drop point, or about the bow with the
    /// rode that would be veered here.
    fn least_depth(&self, now: WatchTime, soundings: &[SoundingView]) -> Option<LeastDepth> {
        // The drop point of a ride that is over means nothing here.
        let about = match self.ride.drop_point().filter(|_| self.ride.anchored()) {
            Some(_) => Local::default(),
            None => self.ride.lie()?.point(),
        };
        let within = match self.swing_circle(now).filter(|_| self.ride.anchored()) {
            Some(circle) => circle,
            None => {
                let depths = self.depths_of_night(now)?;
                let low = (depths.lowest + self.settings.boat.bow_height).max(Metres(0.0));
                let length = self.target(now)?.length;
                rode::reach_limit(length, low).unwrap_or(length) + self.settings.boat.loa
            }
        };
        let near = || soundings.iter().filter(|s| (s.point - about).length_m() <= within.0);
        let stands = |s: &SoundingView| s.lowest.unwrap_or(s.depth);
        let shoalest = near().min_by(|a, b| stands(a).0.total_cmp(&stands(b).0))?;
        let way = shoalest.point - about;
        Some(LeastDepth {
            sounding: *shoalest,
            under_keel: stands(shoalest) - self.settings.boat.draft,
            distance: Metres(way.length_m()),
            bearing: way.bearing(),
            within,
            of: near().count(),
        })
    }

    /// Depths at the highest and lowest water of the night: at the drop point, or here before there is one.
    fn depths_of_night(&self, now: WatchTime) -> Option<Depths> {
        let anchored = self.water.depth_at(now).filter(|_| self.ride.anchored());
        let depth = anchored.or(self.picture.depth())?;
        let stands = self.water.height_at(now).zip(self.water.heights_ahead());
        let (least, greatest) = stands
            .map_or((Metres(0.0), Metres(0.0)), |(height, (least, most))| (least - height, most - height));
        Some(Depths { highest: depth + greatest, lowest: depth + least })
    }

    pub(in crate::watch) fn target(&self, now: WatchTime) -> Option<Target> {
        let depths = self.depths_of_night(now)?;
        target(self.setting.entered, depths, &self.settings, &self.limits)
    }

    /// Veering and digging in, as the screen shows it.
    pub(in crate::watch) fn setting_view(&self, now: WatchTime) -> SettingView {
        let ground = self.ground(now);
        let target = self.target(now);
        let pulls: Vec<_> = self.setting.pulls.iter().map(|pull| pull.seen(now, ground)).collect();
        let doing = self.doing(now);
        let standing = Standing {
            doing,
            veered: self.ride.veered,
            target,
            last: pulls.last(),
            neutral_for: pulls.last().and_then(|pull| pull.ended).map(|ended| now.since(ended)),
            transit_known: self.setting.transit.is_some(),
            asks_transit: self.setting.asks_transit(),
        };
        let out = self.ride.veered.filter(|_| self.ride.anchored());
        SettingView {
            doing,
            advice: (self.ride.stage == Stage::Setting).then(|| advise(&standing)),
            leaving: (self.ride.stage == Stage::BroughtUp).then(|| self.leaving(now)),
            marks: marks_about(&self.settings.marks, out, target.map(|target| target.length)),
            target,
            transit: self.setting.transit,
            proved: self.proved(&pulls),
            asks_transit: self.setting.asks_transit(),
            pulls,
        }
    }

    fn doing(&self, now: WatchTime) -> Doing {
        if !matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp) {
            return Doing::Nothing;
        }
        match self.setting.pulls.last() {
            Some(pull) if pull.goes_on() => Doing::Pulling(pull.kind()),
            _ if self.counts_out(now) => Doing::Veering,
            _ if self.ride.stage == Stage::BroughtUp => Doing::Nothing,
            Some(pull) => Doing::Checking(pull.kind()),
            None => Doing::Lying,
        }
    }

    /// What the hardest pull that held has proved; a later one that moved her unproves it.
    fn proved(&self, pulls: &[PullSeen]) -> Option<Proved> {
        let since_moved =
            pulls.iter().rposition(|pull| pull.held == Held::Moved).map_or(0, |moved| moved + 1);
        let held = pulls[since_moved..].iter().filter(|pull| pull.held == Held::Held && pull.ended.is_some());
        let (boat, expected) = (&self.settings.boat, self.settings.expected.as_ref());
        let pull = self.settings.engine.proves(boat.loa, held.map(|pull| pull.kind).max()?)?;
        let sheer_deg = expected.map_or_else(|| rode::usual_sheer(boat, false), |weather| weather.sheer_deg);
        Some(Proved::beside(pull, boat, sheer_deg, expected))
    }

    /// How often the engine's pull was held, and how often not.
    pub(in crate::watch) fn pulls_held(&self, now: WatchTime) -> (u32, u32) {
        let ground = self.ground(now);
        self.setting.pulls.iter().fold((0, 0), |(held, moved), pull| match pull.seen(now, ground).held {
            Held::Held => (held + 1, moved),
            Held::Moved => (held, moved + 1),
            Held::Unknown | Held::Untried => (held, moved),
        })
    }

    fn leaving(&self, now: WatchTime) -> Leaving {
        let held_for = self.setting.held_from.map(|from| now.since(from));
        let not_yet: Vec<String> = [
            self.not_seen(now),
            self.not_over(),
            not_long_enough(held_for),
            self.not_proved(now),
            self.not_tried(now),
        ]
        .into_iter()
        .flatten()
        .collect();
        Leaving { reasonable: not_yet.is_empty(), held_for, not_yet }
    }

    /// Who cannot be seen cannot be left.
    fn not_seen(&self, now: WatchTime) -> Option<String> {
        if self.picture.good_fix(FIX_AGE).is_none() {
            return Some("no position: nobody can tell whether she lies where she did".into());
        }
        if self.set_circle(now).is_none() || self.ride.drop_point().is_none() {
            return Some("no drop point or no circle to watch: enter rode and anchor".into());
        }
        match self.judged.state {
            HoldingState::CannotJudge(why) => Some(format!("it cannot be judged whether she holds: {why}")),
            _ => None,
        }
    }

    /// Alerts that speak against it.
    fn not_over(&self) -> Option<String> {
        const AGAINST: [AlertKind; 7] = [
            AlertKind::Drag,
            AlertKind::Creep,
            AlertKind::Outside,
            AlertKind::FixLost,
            AlertKind::FixDoubtful,
            AlertKind::Shallow,
            AlertKind::Shoaling,
        ];
        let stands =
            |kind: &&AlertKind| self.alerts.get(**kind).is_some_and(|alert| alert.rectified.is_none());
        let standing: Vec<String> =
            AGAINST.iter().filter(stands).map(|kind| kind.title().to_lowercase()).collect();
        (!standing.is_empty()).then(|| format!("not over: {}", standing.join(", ")))
    }

    /// The engine's pulls, unless the wind has proved more.
    fn not_proved(&self, now: WatchTime) -> Option<String> {
        if self.last_pull_moved(now) {
            return Some("the last pull of the engine moved the anchor".into());
        }
        let unproved = self.pulls_held(now).0 == 0 && 100.0 * self.judged.ready < PROVED_BY_WIND_PERCENT;
        unproved.then(|| "no pull of the engine was seen to hold".into())
    }

    /// How long, and in what wind, she has been watched.
    fn not_tried(&self, now: WatchTime) -> Option<String> {
        let wind = self.wind.speeds(now).map(|speeds| speeds.mean);
        (100.0 * self.judged.ready < LEAVE_PERCENT).then(|| match wind {
            None => "no wind is measured: what the anchor has been tried with is not known".into(),
            Some(wind) => format!("{:.0} kn of wind have tried it for too short a time", wind.0),
        })
    }

    fn last_pull_moved(&self, now: WatchTime) -> bool {
        let ground = self.ground(now);
        self.setting.pulls.last().is_some_and(|pull| pull.seen(now, ground).held == Held::Moved)
    }
}

fn not_long_enough(held_for: Option<Span>) -> Option<String> {
    if held_for.is_some_and(|held| held >= LEAVE_AFTER) {
        return None;
    }
    let held = held_for.map_or_else(|| "not watched yet".into(), |held| format!("held for {held}"));
    Some(format!("{held}; {LEAVE_AFTER} is the least"))
}
