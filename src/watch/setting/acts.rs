//! What the crew does while coming to anchor, and what each second adds.

use super::pull::{Ground, Spot};
use super::{PullKind, Sounding, Transit};
use crate::watch::geo::{Local, Position};
use crate::watch::holding::HoldingState;
use crate::watch::receiver::BelievedFix;
use crate::watch::refusal::Refusal;
use crate::watch::rode;
use crate::watch::snapshot::Stage;
use crate::watch::tuning::setting::{COUNTED_M, SOUNDER_AFT};
use crate::watch::units::{Metres, Span, WatchTime};
use crate::watch::{FIX_AGE, VEERED_MAX, Watch};

/// One minute of latitude, metres.
const MINUTE_M: f64 = 1852.0;
/// After letting go the rode is counted out for no longer than this: somebody forgot the key.
pub(in crate::watch) const COUNTING_MAX: Span = Span::from_mins(20);

impl Watch {
    pub(in crate::watch) fn begin_recon(&mut self, at: WatchTime) {
        if self.ride.anchored() {
            self.refuse(at, Refusal::ReconTooLate);
            return;
        }
        self.setting.recon.begin(at);
        self.night.happened(at, "reconnaissance begins".into(), false);
    }

    pub(in crate::watch) fn end_recon(&mut self, at: WatchTime) {
        if self.setting.recon.since().is_none() {
            self.refuse(at, Refusal::NoRecon);
            return;
        }
        self.setting.recon.end();
        let count = self.setting.soundings().len();
        self.night.happened(at, format!("reconnaissance over, {count} soundings"), false);
    }

    pub(in crate::watch) fn veer_to(&mut self, at: WatchTime, length: Metres) {
        if self.ride.stage == Stage::Weighing {
            self.refuse(at, Refusal::Weighing);
            return;
        }
        if !(length.0 > 0.0 && length <= VEERED_MAX) {
            self.refuse(at, Refusal::RodeToVeer);
            return;
        }
        self.setting.entered = Some(length);
        if let Some(lies_to) = self.lies_to(at).filter(|_| self.counts_out(at)) {
            self.holding.veered(at, lies_to);
        }
        self.night.happened(at, format!("{:.0} m of rode to be veered", length.0), false);
    }

    pub(in crate::watch) fn pull(&mut self, at: WatchTime, kind: PullKind) {
        if !matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp) {
            self.refuse(at, Refusal::NothingToPullOn);
            return;
        }
        self.stop_pull(at);
        self.setting.begin_pull(kind, at, self.ground(at));
        self.night.happened(at, kind.words().into(), false);
    }

    /// What the crew saw of its transit.
    pub(in crate::watch) fn transit(&mut self, at: WatchTime, seen: Transit) {
        if !matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp) || !self.setting.see_transit(seen) {
            self.refuse(at, Refusal::NoPullToSee);
            return;
        }
        let words = match seen {
            Transit::Taken => "a transit is taken",
            Transit::NoneInSight => "no transit is in sight",
            Transit::Stood => "the transit stood",
            Transit::Opened => "the transit opened: she went astern",
        };
        self.night.happened(at, words.into(), false);
    }

    pub(in crate::watch) fn neutral(&mut self, at: WatchTime) {
        if self.ride.stage == Stage::Weighing || self.weighing.is_over() {
            self.drift_from_here(at);
            return;
        }
        if self.setting.pulling().is_none() {
            self.refuse(at, Refusal::NoPull);
            return;
        }
        self.stop_pull(at);
    }

    /// Coming to anchor is over: a pull that goes on ends.
    pub(in crate::watch) fn end_setting(&mut self, at: WatchTime) {
        self.stop_pull(at);
    }

    /// Ends the pull that goes on, and notes what was seen of it.
    fn stop_pull(&mut self, at: WatchTime) {
        let ground = self.ground(at);
        let Some(seen) = self.setting.pulling().map(|pull| pull.seen(at, ground)) else { return };
        let words = match self.setting.end_pull(at, ground) {
            Some(true) => seen.words,
            _ => format!("{} for {} only: that is no pull", seen.kind.words(), seen.lasted),
        };
        self.night.happened(at, words, false);
    }

    pub(in crate::watch) fn setting_let_go(&mut self) {
        self.setting.let_go();
    }

    /// The length that counts for room and scope: what is out, or while it is being counted out what will be.
    /// `None`: nobody has entered a length, and none is being counted out.
    pub(in crate::watch) fn lies_to(&self, now: WatchTime) -> Option<Metres> {
        let aim = self.setting.entered.filter(|_| self.counts_out(now));
        match (self.ride.veered, aim) {
            (Some(veered), Some(aim)) => Some(aim.max(veered)),
            (Some(length), None) | (None, Some(length)) => Some(length),
            // Nothing is entered yet: what is advised is what will most likely be out.
            (None, None) if self.counts_out(now) => self.target(now).map(|target| target.length),
            (None, None) => None,
        }
    }

    /// True while the crew counts the rode out, towards a length that they entered, or has not entered any yet.
    pub(in crate::watch) fn counts_out(&self, now: WatchTime) -> bool {
        let less = match (self.ride.veered, self.setting.entered) {
            (Some(veered), Some(aim)) => veered.0 < aim.0 - COUNTED_M,
            (Some(_), None) => false,
            (None, _) => true,
        };
        less && self.ride.stage == Stage::Setting && now.since(self.ride.stage_since) <= COUNTING_MAX
    }

    /// Nobody entered for too long that the rode is all out: from then on what was entered is what she lies to.
    pub(in crate::watch) fn stop_counting(&mut self, from: WatchTime, to: WatchTime) {
        if let Some(veered) = self.ride.veered.filter(|_| self.counts_out(from) && !self.counts_out(to)) {
            self.holding.veered(to, veered);
        }
    }

    /// One second of coming to anchor.
    pub(in crate::watch) fn set_second(&mut self, now: WatchTime, fix: Option<&BelievedFix>) {
        if self.setting.recon.since().is_some()
            && fix.is_some()
            && let Some(sounding) = self.sounding_here(now)
        {
            self.setting.recon.take(sounding);
        }
        if self.ride.anchored()
            && fix.is_some()
            && let Some(sounding) = self.sounding_here(now)
        {
            self.setting.swung.take(sounding);
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

    /// Depth and place under the sounder now.
    pub(in crate::watch) fn sounding_here(&self, now: WatchTime) -> Option<Sounding> {
        let depth = self.picture.depth()?;
        let position = self.picture.good_fix(FIX_AGE).and_then(|fix| self.sounder_at(fix))?;
        Some(Sounding { at: now, position, depth, charted: self.water.height_at(now).map(|h| depth - h) })
    }

    /// Under the sounder, where the heading is known; else at the antenna.
    fn sounder_at(&self, fix: &BelievedFix) -> Option<Position> {
        let (plane, lie) = (self.ride.plane()?, self.ride.lie()?);
        let Some((bow, heading)) = lie.bow.zip(self.picture.heading()) else { return Some(fix.position) };
        let aft = Local::polar(heading.bearing.reversed(), SOUNDER_AFT * self.settings.boat.loa.0);
        Some(plane.to_position(bow + aft))
    }

    pub(super) fn ground(&self, now: WatchTime) -> Ground {
        let height = self.bow_height(now).unwrap_or(self.settings.boat.bow_height);
        // A length that nobody entered says nothing of where a rode comes taut.
        let entered = self.ride.veered.or(self.setting.entered).and(self.lies_to(now));
        let reach = entered.and_then(|length| rode::reach_limit(length, height).ok());
        let drop = self.ride.drop_point();
        let marked_for_s = drop.map_or(0.0, |drop| now.since(drop.let_go).seconds());
        Ground { marked: drop.is_some(), reach, marked_for_s }
    }
}
