//! The check as it is made: it begins, takes answers, and comes to something.

use super::words::Advice;
use super::{AnchorCheck, CheckItem, CheckLine, CheckView, Finding, Found, Phase, Start};
use crate::watch::Watch;
use crate::watch::holding::HoldingState;
use crate::watch::refusal::Refusal;
use crate::watch::snapshot::{Coming, Stage};
use crate::watch::tuning::BLOWS_HARDER;
use crate::watch::tuning::anchor_check::SHOWN_FOR;
use crate::watch::units::{Knots, Metres, WatchTime};

impl Watch {
    /// She is looked after for five minutes from now.
    pub(in crate::watch) fn begin_check(&mut self, at: WatchTime) {
        match self.ride.stage {
            Stage::NotSet => return self.refuse(at, Refusal::NoAnchorDown),
            Stage::Weighing => return self.refuse(at, Refusal::Weighing),
            Stage::Setting | Stage::BroughtUp => {}
        }
        self.close_check(at);
        self.check = Some(AnchorCheck::new(at, self.check_start()));
        self.holding.begin_check(at);
        self.night.happened(at, "anchor check begins".into(), false);
    }

    pub(super) fn check_start(&self) -> Start {
        let lie = self.ride.lie();
        Start {
            antenna: self.ride.plane().zip(lie).map(|(plane, lie)| plane.to_position(lie.antenna)),
            from_anchor: lie.and(self.distance_to_anchor()),
            room: self.room().map(|room| room.left),
        }
    }

    /// Distance of the bow from where the anchor is thought to lie.
    pub(super) fn distance_to_anchor(&self) -> Option<Metres> {
        (self.judged.state != HoldingState::NotSet).then_some(self.judged.distance)
    }

    /// The crew has looked at something.
    pub(in crate::watch) fn check_found(&mut self, at: WatchTime, finding: Finding) {
        let Some(check) = self.check.as_mut().filter(|check| check.over.is_none()) else {
            return self.refuse(at, Refusal::NoCheck);
        };
        check.take(at, finding);
        let (phase, seen) = (check.phase(at), check.seen());
        self.holding.told(at, seen);
        let item = finding.item;
        let words = match (finding.found, phase) {
            (None, _) => format!("anchor check: {} not answered", item.name()),
            (Some(Found::Well), Phase::Runs) => {
                format!("anchor check: {} {} so far", item.name(), item.word(Found::Well))
            }
            (Some(found), _) => format!("anchor check: {} {}", item.name(), item.word(found)),
        };
        self.night.happened(at, words, false);
    }

    /// The crew looks no longer.
    pub(in crate::watch) fn end_check(&mut self, at: WatchTime) {
        if self.check.as_ref().is_none_or(|check| check.over.is_some()) {
            return self.refuse(at, Refusal::NoCheck);
        }
        self.close_check(at);
    }

    /// One second: it is over once it is answered, or nobody answers.
    pub(in crate::watch) fn check_second(&mut self, now: WatchTime) {
        if self.check.as_ref().is_some_and(|check| check.over.is_none() && check.is_answered(now)) {
            self.close_check(now);
        }
    }

    /// She is not at that anchor, or not in that way, any more: what was looked at is no news of it.
    pub(in crate::watch) fn forget_check(&mut self) {
        self.check = None;
    }

    fn close_check(&mut self, at: WatchTime) {
        let Some(check) = self.check.as_ref().filter(|check| check.over.is_none()) else { return };
        let (since, advice) = (self.moved_since(check), self.check_advice(check));
        self.night.happened(at, format!("anchor check: {since} {}", advice.words), false);
        if let Some(check) = &mut self.check {
            check.over = Some((at, since));
        }
    }

    /// What a check that is not long over, and came to something, says is to be done.
    pub(in crate::watch) fn check_says(&self, now: WatchTime) -> Option<String> {
        let check = self.shown_check(now)?;
        (check.outcome() != super::Outcome::Unseen).then(|| self.check_advice(check).words)
    }

    fn shown_check(&self, now: WatchTime) -> Option<&AnchorCheck> {
        let old = |check: &AnchorCheck| check.over.as_ref().is_some_and(|(at, _)| now.since(*at) > SHOWN_FOR);
        self.check.as_ref().filter(|check| !old(check))
    }

    /// The check as the screen shows it.
    pub(in crate::watch) fn check_view(&self, now: WatchTime) -> Option<CheckView> {
        let check = self.shown_check(now)?;
        let Advice { words, again } = self.check_advice(check);
        let line = |item| self.check_line(check, item, now);
        Some(CheckView {
            began: check.began,
            ends: check.ends(),
            phase: check.phase(now),
            lines: CheckItem::ALL.into_iter().map(line).collect(),
            since: check.over.as_ref().map_or_else(|| self.moved_since(check), |(_, since)| since.clone()),
            outcome: check.outcome(),
            advice: words,
            again: check.over.as_ref().map(|(at, _)| *at).zip(again).map(|(at, again)| at + again),
        })
    }

    fn check_line(&self, check: &AnchorCheck, item: CheckItem, now: WatchTime) -> CheckLine {
        let answer = check.answer(item);
        let found = answer.map(|answer| answer.found);
        let is_seen = matches!(item, CheckItem::Transit | CheckItem::Rode);
        CheckLine {
            item,
            shows: self.check_shows(item),
            found: found.or_else(|| self.measured(item)),
            asks_again: is_seen
                && check.phase(now) != Phase::Runs
                && answer.is_some()
                && check.counts(item).is_none(),
        }
    }

    /// The answer for a line: the crew's, else that of the instruments.
    pub(super) fn found(&self, check: &AnchorCheck, item: CheckItem) -> Option<Found> {
        check.answer(item).map(|answer| answer.found).or_else(|| self.measured(item))
    }

    /// What the instruments answer by themselves.
    fn measured(&self, item: CheckItem) -> Option<Found> {
        let is_well = match item {
            CheckItem::Transit | CheckItem::Rode => return None,
            CheckItem::Depth => {
                let off = self.picture.depth()? - self.usual_depth()?;
                off.0.abs() <= self.limits.depth_odd.0
            }
            CheckItem::Wind => {
                let held = self.held_wind()?;
                self.wind.speeds(self.now)?.mean <= held + BLOWS_HARDER
            }
        };
        Some(if is_well { Found::Well } else { Found::Wrong })
    }

    /// What the sounder has shown at this spot, with the tide of now.
    pub(super) fn usual_depth(&self) -> Option<Metres> {
        let place = self.ride.drop_point().and(self.ride.lie())?.point();
        self.assessor.usual_depth(place, self.water.depth_at(self.now)?)
    }

    /// The greatest mean wind in which she was judged to hold tonight.
    pub(super) fn held_wind(&self) -> Option<Knots> {
        Some(self.assessor.held_wind()).filter(|held| held.0 > 0.0)
    }

    /// The end of the check, or when to look again.
    pub(in crate::watch) fn check_coming(&self, now: WatchTime) -> Option<Coming> {
        let view = self.check_view(now)?;
        let (at, text) = match view.phase {
            Phase::Over => (view.again?, "look at the anchor again"),
            Phase::Runs | Phase::Asks => (view.ends, "anchor check ends: look again at transit and rode"),
        };
        (at > now).then(|| Coming { at, text: text.into() })
    }
}
