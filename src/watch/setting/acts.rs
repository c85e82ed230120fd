//! What the crew does while coming to anchor, what each second adds, and how it is shown.

use std::sync::Arc;

use super::advice::{Standing, advise};
use super::counting::{Depths, marks_about, target};
use super::pull::{Ground, Spot};
use super::{
    Doing, Held, LeastDepth, Leaving, PullKind, ReconView, SettingView, Sounding, SoundingView, Target,
};
use crate::watch::Watch;
use crate::watch::alert::AlertKind;
use crate::watch::geo::{Local, Plane, Position};
use crate::watch::holding::HoldingState;
use crate::watch::receiver::BelievedFix;
use crate::watch::rode;
use crate::watch::snapshot::Stage;
use crate::watch::units::{Metres, Span, WatchTime};

/// How far the sounder sits aft of the bow, as a share of her length: ahead of the keel. Common practice, no source.
const SOUNDER_AFT: f64 = 0.4;
/// One minute of latitude, metres.
const MINUTE_M: f64 = 1852.0;
/// Evidence from which leaving her is reasonable, percent: about half an hour in 10 kn of wind after pulls that held.
/// Common practice, no source.
const LEAVE_PERCENT: f64 = 60.0;
/// With so much the wind has proved it, pulls or no pulls, percent.
const PROVED_BY_WIND_PERCENT: f64 = 80.0;
/// Time that must pass before she is left in any case: common practice, no source.
const LEAVE_AFTER: Span = Span::from_mins(20);
/// After letting go the rode is counted out for no longer than this: somebody forgot to tell.
pub(in crate::watch) const COUNTING_MAX: Span = Span::from_mins(20);
/// The last metre is not counted.
const COUNTED_M: f64 = 1.0;

impl Watch {
    pub(in crate::watch) fn begin_recon(&mut self, at: WatchTime) {
        if self.ride.anchored() {
            self.refuse(at, "The anchor is down: soundings of the place are taken before it is let go.");
            return;
        }
        self.setting.recon.begin(at);
        self.night.happened(at, "reconnaissance begins".into(), false);
    }

    pub(in crate::watch) fn end_recon(&mut self, at: WatchTime) {
        if self.setting.recon.since().is_none() {
            self.refuse(at, "No reconnaissance goes on.");
            return;
        }
        self.setting.recon.end();
        let count = self.setting.soundings().len();
        self.night.happened(at, format!("reconnaissance over, {count} soundings"), false);
    }

    pub(in crate::watch) fn veer_to(&mut self, at: WatchTime, length: Metres) {
        if self.ride.stage == Stage::Weighing {
            self.refuse(at, "She is weighing: say \"stay\" first.");
            return;
        }
        if !(length.0 > 0.0 && length <= crate::watch::VEERED_MAX) {
            self.refuse(at, "The length to veer must be more than 0 and at most 1000 m.");
            return;
        }
        self.setting.told = Some(length);
        if let Some(lies_to) = self.lies_to(at).filter(|_| self.counts_out(at)) {
            self.holding.veered(at, lies_to);
        }
        self.night.happened(at, format!("{:.0} m of rode to be veered", length.0), false);
    }

    pub(in crate::watch) fn pull(&mut self, at: WatchTime, kind: PullKind) {
        if !matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp) {
            self.refuse(at, "There is nothing to pull on: let the anchor go first.");
            return;
        }
        self.tell_pull(at);
        self.setting.begin_pull(kind, at, self.ground(at));
        self.night.happened(at, kind.words().into(), false);
    }

    pub(in crate::watch) fn neutral(&mut self, at: WatchTime) {
        if self.ride.stage == Stage::Weighing || self.weighing.is_over() {
            self.drift_from_here(at);
            return;
        }
        if self.setting.pulling().is_none() {
            self.refuse(at, "No pull goes on: say how hard the engine pulls first.");
            return;
        }
        self.tell_pull(at);
        self.setting.end_pull(at, self.ground(at));
    }

    /// The rode is all out, or nobody counts it any more: what is out is what she lies to.
    pub(in crate::watch) fn end_setting(&mut self, at: WatchTime) {
        self.tell_pull(at);
        self.setting.end_pull(at, self.ground(at));
    }

    /// Notes what was seen of a pull that ends now.
    fn tell_pull(&mut self, at: WatchTime) {
        if let Some(pull) = self.setting.pulling() {
            let words = pull.seen(at, self.ground(at)).words;
            self.night.happened(at, words, false);
        }
    }

    pub(in crate::watch) fn setting_let_go(&mut self) {
        self.setting.let_go();
    }

    /// The length that counts for room and scope: what is out, or while it is being counted out what will be.
    pub(in crate::watch) fn lies_to(&self, now: WatchTime) -> Option<Metres> {
        let veered = self.ride.veered?;
        let told = self.setting.told.filter(|_| self.counts_out(now));
        Some(told.map_or(veered, |told| told.max(veered)))
    }

    /// True while the crew counts the rode out, towards a length they told.
    pub(in crate::watch) fn counts_out(&self, now: WatchTime) -> bool {
        let less = self.ride.veered.zip(self.setting.told).is_some_and(|(v, told)| v.0 < told.0 - COUNTED_M);
        less && self.ride.stage == Stage::Setting && now.since(self.ride.stage_since) <= COUNTING_MAX
    }

    /// Nobody told for too long that the rode is all out: from then on what was told is what she lies to.
    pub(in crate::watch) fn stop_counting(&mut self, from: WatchTime, to: WatchTime) {
        if let Some(veered) = self.ride.veered.filter(|_| self.counts_out(from) && !self.counts_out(to)) {
            self.holding.veered(to, veered);
        }
    }

    /// One second of coming to anchor.
    pub(in crate::watch) fn set_second(&mut self, now: WatchTime, fix: Option<&BelievedFix>) {
        if self.setting.recon.since().is_some()
            && let (Some(fix), Some(depth)) = (fix, self.picture.depth())
            && let Some(position) = self.sounder_at(fix)
        {
            let charted = self.water.height_at(now).map(|height| depth - height);
            self.setting.recon.take(Sounding { at: now, position, depth, charted });
        }
        self.stop_counting(now - Span::from_secs(1), now);
        if matches!(self.judged.state, HoldingState::Creeping | HoldingState::Dragging) {
            self.setting.holds_from(now);
        }
        let spot = fix.filter(|_| self.ride.anchored()).and_then(|fix| self.spot(now, fix));
        self.setting.second(spot, self.picture.revolutions());
    }

    fn spot(&self, now: WatchTime, fix: &BelievedFix) -> Option<Spot> {
        let lie = self.ride.lie()?;
        Some(Spot {
            at: now,
            point: lie.point(),
            nearer_m: if lie.bow.is_some() { 0.0 } else { self.settings.boat.antenna_aft.0 },
            antenna: lie.antenna,
            velocity: fix
                .sog
                .zip(fix.cog)
                .filter(|(sog, _)| sog.0 > 0.0)
                .map(|(sog, cog)| Local::polar(cog, sog.mps())),
            sigma_m: fix.sigma.0,
            step_m: MINUTE_M * 0.1_f64.powi(i32::from(fix.minute_decimals.min(12))),
        })
    }

    /// Under the sounder, where the heading is known; else at the antenna.
    fn sounder_at(&self, fix: &BelievedFix) -> Option<Position> {
        let (plane, lie) = (self.ride.plane()?, self.ride.lie()?);
        let Some((bow, heading)) = lie.bow.zip(self.picture.heading()) else { return Some(fix.position) };
        let aft = Local::polar(heading.bearing.reversed(), SOUNDER_AFT * self.settings.boat.loa.0);
        Some(plane.to_position(bow + aft))
    }

    fn ground(&self, now: WatchTime) -> Ground {
        let height = self.bow_height(now).unwrap_or(self.settings.boat.bow_height);
        let reach = self.lies_to(now).and_then(|length| rode::reach_limit(length, height).ok());
        let drop = self.ride.drop_point();
        let marked_for_s = drop.map_or(0.0, |drop| now.since(drop.let_go).seconds());
        Ground { marked: drop.is_some(), reach, marked_for_s }
    }

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
            least: self.least_depth(now, &soundings),
            soundings: Arc::new(soundings),
        }
    }

    fn sounding_here(&self, now: WatchTime) -> Option<Sounding> {
        let depth = self.picture.depth()?;
        let position = self.picture.good_fix(super::super::FIX_AGE).and_then(|fix| self.sounder_at(fix))?;
        Some(Sounding { at: now, position, depth, charted: self.water.height_at(now).map(|h| depth - h) })
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

    /// The shoalest sounding within the room she needs: the swing circle about the drop point, or about the bow with the
    /// rode that would be veered here.
    fn least_depth(&self, now: WatchTime, soundings: &[SoundingView]) -> Option<LeastDepth> {
        let about = match self.ride.drop_point() {
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

    fn target(&self, now: WatchTime) -> Option<Target> {
        let depths = self.depths_of_night(now)?;
        let (boat, tackle) = (&self.settings.boat, &self.settings.tackle);
        target(self.setting.told, depths, boat, tackle, &self.limits)
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
        };
        let out = self.ride.veered.filter(|_| self.ride.anchored());
        SettingView {
            doing,
            advice: (self.ride.stage == Stage::Setting).then(|| advise(&standing)),
            leaving: (self.ride.stage == Stage::BroughtUp).then(|| self.leaving(now)),
            marks: marks_about(&self.settings.marks, out, target.map(|target| target.length)),
            target,
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
        let percent = 100.0 * self.judged.ready;
        let mut not_yet = Vec::new();
        if let HoldingState::CannotJudge(why) = self.judged.state {
            not_yet.push(format!("it cannot be judged whether she holds: {why}"));
        }
        for kind in
            [AlertKind::Drag, AlertKind::Creep, AlertKind::Outside, AlertKind::Shallow, AlertKind::Shoaling]
        {
            if self.alerts.get(kind).is_some_and(|alert| alert.rectified.is_none()) {
                not_yet.push(format!("{} is not over", kind.title().to_lowercase()));
            }
        }
        if held_for.is_none_or(|held| held < LEAVE_AFTER) {
            let held = held_for.map_or_else(|| "not watched yet".into(), |held| format!("held for {held}"));
            not_yet.push(format!("{held}; {LEAVE_AFTER} is the least"));
        }
        if self.last_pull_moved(now) {
            not_yet.push("the last pull of the engine moved the anchor".into());
        } else if self.pulls_held(now).0 == 0 && percent < PROVED_BY_WIND_PERCENT {
            not_yet.push("no pull of the engine was seen to hold".into());
        }
        if percent < LEAVE_PERCENT {
            let wind = self.wind.speeds(now).map(|speeds| speeds.mean);
            not_yet.push(match wind {
                None => "no wind is measured: what the anchor has been tried with is not known".into(),
                Some(wind) => format!("{:.0} kn of wind have tried it for too short a time", wind.0),
            });
        }
        Leaving { reasonable: not_yet.is_empty(), held_for, percent, needed_percent: LEAVE_PERCENT, not_yet }
    }

    fn last_pull_moved(&self, now: WatchTime) -> bool {
        let ground = self.ground(now);
        self.setting.pulls.last().is_some_and(|pull| pull.seen(now, ground).held == Held::Moved)
    }
}
