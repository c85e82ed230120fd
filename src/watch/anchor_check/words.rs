//! The check in words: what is known of each line, how she has moved, and what is to be done.

use super::{AnchorCheck, CheckItem, Found, Outcome};
use crate::watch::Watch;
use crate::watch::rode;
use crate::watch::snapshot::Verdict;
use crate::watch::tuning::anchor_check::{
    AGAIN_CALM, AGAIN_CREEPS, AGAIN_SOON, FARTHER, VEER_CLEAR, VEER_STEP,
};
use crate::watch::units::{Metres, Span};

/// What is to be done.
pub(super) struct Advice {
    pub words: String,
    /// After how long to look again.
    pub again: Option<Span>,
}

impl Advice {
    fn of(words: String, again: Option<Span>) -> Self {
        Self { words, again }
    }
}

impl Watch {
    /// What the instruments know of a line, or how to find out.
    pub(super) fn check_shows(&self, item: CheckItem) -> String {
        match item {
            CheckItem::Transit => self.transit_shows(),
            CheckItem::Rode => {
                "Hand on it outboard of the roller: an anchor that drags trembles or jerks.".into()
            }
            CheckItem::Depth => self.depth_shows(),
            CheckItem::Wind => self.wind_shows(),
        }
    }

    fn transit_shows(&self) -> String {
        let marks = self.marks.views(self.ride.plane(), self.swing(self.now));
        let in_line = marks.iter().find(|mark| mark.far.is_some());
        if let Some((mark, open)) = in_line.and_then(|mark| Some((mark, mark.open_now_deg?))) {
            return format!("{}: by the receiver {:.1}° open now.", mark.name, open.abs());
        }
        match marks.first().and_then(|mark| Some((&mark.name, mark.seen?))) {
            Some((name, seen)) => format!("{name}: by the receiver it bears {seen} now."),
            None => "No mark is entered: find two things in line abeam, and look again at the end.".into(),
        }
    }

    fn depth_shows(&self) -> String {
        let before = match (self.usual_depth(), self.water.depth_at(self.now)) {
            (Some(usual), _) => format!("here before, with the tide of now, {:.1} m", usual.0),
            (None, Some(predicted)) => format!("at the anchor by the tide {:.1} m", predicted.0),
            (None, None) => "what it was here is not known".into(),
        };
        match self.picture.depth() {
            Some(depth) => format!("{:.1} m by the sounder; {before}.", depth.0),
            None => format!("No sounder: use the lead; {before}."),
        }
    }

    fn wind_shows(&self) -> String {
        let held = match self.held_wind() {
            Some(held) => format!("she has held {:.0} kn tonight", held.0),
            None => "what she has held tonight is not known".into(),
        };
        match self.wind.speeds(self.now) {
            Some(speeds) => format!("Mean {:.0} kn, gusts {:.0}; {held}.", speeds.mean.0, speeds.gust.0),
            None => format!("No wind is measured: is it more than before? Here {held}."),
        }
    }

    /// How she has moved since the check began, and the room.
    pub(super) fn moved_since(&self, check: &AnchorCheck) -> String {
        let now = self.check_start();
        let moved = check.start.antenna.zip(now.antenna).map(|(then, now)| then.distance_to(now));
        let Some(moved) = moved else { return "No position: how she moved is not known.".into() };
        let away = match self.farther(check) {
            Some(away) if away.0 >= 0.5 => format!(", {:.0} m farther from the anchor", away.0),
            Some(away) if away.0 <= -0.5 => format!(", {:.0} m nearer to the anchor", -away.0),
            Some(_) => ", no farther from the anchor".into(),
            None => String::new(),
        };
        let room = match (now.room, check.start.room) {
            (Some(now), Some(then)) => format!("; room {:.0} m, at the beginning {:.0}", now.0, then.0),
            (Some(now), None) => format!("; room {:.0} m", now.0),
            (None, _) => String::new(),
        };
        format!("Moved {:.0} m{away}{room}.", moved.0)
    }

    /// How much farther from the anchor she lies than when the check began.
    fn farther(&self, check: &AnchorCheck) -> Option<Metres> {
        Some(self.ride.lie().and(self.distance_to_anchor())? - check.start.from_anchor?)
    }

    /// What is to be done, by the worst of what is known.
    pub(super) fn check_advice(&self, check: &AnchorCheck) -> Advice {
        let more_wind = self.found(check, CheckItem::Wind) == Some(Found::Wrong);
        let unlike = self.found(check, CheckItem::Depth) == Some(Found::Wrong)
            || self.farther(check).is_some_and(|away| away >= FARTHER);
        let veer = self.veer_words();
        let advice = |words: String, again| Advice::of(words, Some(again));
        match (self.verdict, check.outcome()) {
            (Verdict::Dragging | Verdict::Outside, _) => {
                Advice::of(format!("Do not wait for the check. Engine on. {veer}"), None)
            }
            (_, Outcome::Moves) => {
                Advice::of(format!("The anchor moves. Engine on. {veer} If she does not bring up, weigh."), None)
            }
            (_, Outcome::Unseen) => advice(
                "Nobody has seen whether it holds. Look at transit and rode; until then be ready with the engine."
                    .into(),
                AGAIN_SOON,
            ),
            (_, Outcome::Stands) if unlike => advice(
                "What you saw says it holds, the instruments do not. Make the engine ready and look again in 10 min."
                    .into(),
                AGAIN_SOON,
            ),
            (_, Outcome::Stands) if more_wind => advice(
                format!(
                    "It holds, but it blows harder than she has held. {veer} Engine ready; look again in 10 min."
                ),
                AGAIN_SOON,
            ),
            (Verdict::Creeping | Verdict::CannotJudge | Verdict::NoFix, Outcome::Stands) => {
                advice("It holds by what you saw. Do nothing; look again in 15 min.".into(), AGAIN_CREEPS)
            }
            (_, Outcome::Stands) => advice("It holds. Do nothing; look again in 30 min.".into(), AGAIN_CALM),
        }
    }

    /// How much can be veered, by the rode that is left and the room to the circle.
    fn veer_words(&self) -> String {
        let carried = rode::Locker::of(&self.settings.tackle).ok().map(|locker| locker.carried());
        let Some(left) = carried.zip(self.ride.veered).map(|(carried, out)| carried - out) else {
            return "Veer as far as there is room astern.".into();
        };
        let Some(room) = self.room().map(|room| room.left) else {
            return format!("{:.0} m of rode are left to veer, if there is room astern.", left.0.max(0.0));
        };
        let metres = left.min(room - VEER_CLEAR).0;
        let steps = (metres / VEER_STEP).floor() * VEER_STEP;
        match steps {
            steps if steps >= VEER_STEP => {
                format!("Veer up to {steps:.0} m if nothing lies astern: room is {:.0} m.", room.0)
            }
            _ if left.0 < VEER_STEP => "No rode is left to veer.".into(),
            _ => format!("There is no room to veer: {:.0} m.", room.0.max(0.0)),
        }
    }
}
