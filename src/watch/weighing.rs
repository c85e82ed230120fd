//! Weighing: how far is the anchor, how much is out, is it up and down, and does she drift?

use super::Watch;
use super::alert::AlertKind;
use super::boat::Berth;
use super::geo::Position;
use super::latch::Lasting;
use super::marks::Marks;
use super::output::{EndedBy, HoldingSeen, Keepsake, Output};
use super::refusal::Refusal;
use super::ride::Ride;
use super::snapshot::{Stage, UpAndDown, WeighingView};
use super::tuning::weighing::{AFTER, BEYOND, STRAIGHT_M, UNDER_WAY, UNDER_WAY_FOR};
use super::units::{Knots, Metres, Span, TrueBearing, WatchTime};

/// What the watch knows of heaving in.
#[derive(Clone, Debug, Default)]
pub(super) struct Weighing {
    /// Drift counts from here: neutral, or aweigh.
    from: Option<(WatchTime, Position)>,
    aweigh: Option<WatchTime>,
    since: WatchTime,
    /// Rode out when it began.
    most: Option<Metres>,
    beyond: Lasting,
}

impl Weighing {
    /// Heaving in begins.
    pub(super) fn begin(&mut self, at: WatchTime, out: Option<Metres>) {
        *self = Self { since: at, most: out, ..Self::default() };
    }

    /// The anchor has come up, and no other has gone down.
    pub(super) fn is_over(&self) -> bool {
        self.aweigh.is_some()
    }
}

/// The strongest wind that she has held, and what else is kept of how she held.
#[derive(Clone, Debug, Default)]
pub(super) struct Endured {
    brought_up: Option<WatchTime>,
    wind: Option<(Knots, Option<TrueBearing>)>,
    gust: Option<Knots>,
    dragged: bool,
    most_out: Option<Metres>,
}

impl Endured {
    /// She is brought up.
    pub(super) fn brought_up(&mut self, at: WatchTime) {
        self.brought_up.get_or_insert(at);
    }

    /// One minute of the ride.
    fn minute(&mut self, ride: &Ride, wind: Option<(Knots, Knots)>, from: Option<TrueBearing>) {
        self.most_out = match (self.most_out, ride.veered) {
            (Some(most), Some(out)) => Some(most.max(out)),
            (most, out) => most.or(out),
        };
        if ride.stage != Stage::BroughtUp {
            return;
        }
        let Some((mean, gust)) = wind else { return };
        if self.wind.is_none_or(|(most, _)| mean > most) {
            self.wind = Some((mean, from));
        }
        self.gust = Some(self.gust.map_or(gust, |most| most.max(gust)));
    }
}

impl Watch {
    /// Drift counts from here.
    pub(super) fn drift_from_here(&mut self, at: WatchTime) {
        match self.trusted_fix() {
            None => self.refuse(at, Refusal::NoPositionForDrift),
            Some((_, position)) => {
                self.weighing.from = Some((at, position));
                self.night.happened(at, "neutral: drift counts from here".into(), false);
            }
        }
    }

    /// The anchor leaves the ground: the ride ends, and says why.
    pub(super) fn end_ride(&mut self, at: WatchTime, why: EndedBy) {
        let kept = Box::new(self.keepsake(at));
        let words = match why {
            EndedBy::Crew => "anchor aweigh: drag is not judged, the ride is over".to_owned(),
            EndedBy::UnderWay => {
                "she is plainly under way: the anchor is taken to be aweigh, the ride is over, drag is not judged".into()
            }
        };
        self.end_setting(at);
        self.forget_check();
        self.holding.stand_down(at);
        self.ride.enter(at, Stage::NotSet);
        self.night.happened(at, words, why == EndedBy::UnderWay);
        self.weighing.aweigh = Some(at);
        self.weighing.from = self.trusted_fix().map(|(_, position)| (at, position));
        self.setting.aweigh();
        // They are marks of the place that she leaves.
        self.marks = Marks::default();
        self.hand_back();
        self.way_out = None;
        // What she rides to goes with her; bottom, open water and shore are the place's.
        self.berth = Berth { snubber: self.berth.snubber, bridle: self.berth.bridle, ..Berth::default() };
        self.night_changed();
        self.endured = Endured::default();
        self.out.push(Output::RideEnded { at, why, kept });
    }

    /// One second: what she endures, and whether she has left while nobody said so.
    pub(super) fn weigh_second(&mut self, now: WatchTime) {
        let drags = self.alerts.get(AlertKind::Drag).is_some_and(|alert| alert.rectified.is_none());
        self.endured.dragged |= drags && self.ride.anchored();
        // Means of ten minutes: once a minute misses none.
        if self.ride.anchored() && now.0.rem_euclid(60_000) == 0 {
            let wind = self.wind.speeds(now).map(|speeds| (speeds.mean, speeds.gust));
            let from = self.wind.direction(now, self.limits.wind_window);
            self.endured.minute(&self.ride, wind, from);
        }
        let leaves = self.ride.stage == Stage::Weighing && self.is_beyond_all_rode();
        if self.weighing.beyond.note(now, leaves).is_some_and(|span| span >= UNDER_WAY_FOR) {
            self.end_ride(now, EndedBy::UnderWay);
        }
    }

    fn is_beyond_all_rode(&self) -> bool {
        let Some((off, _)) = self.to_anchor_now() else { return false };
        let speed = self.picture.fix().and_then(|fix| fix.sog).unwrap_or_default();
        let most = self.weighing.most.or(self.ride.veered).unwrap_or_default();
        speed >= UNDER_WAY && off > most + self.settings.boat.loa + BEYOND
    }

    /// From the bow to where the anchor is thought to lie, else to the mark.
    fn to_anchor_now(&self) -> Option<(Metres, TrueBearing)> {
        let lie = self.ride.lie()?;
        let anchor = match (&self.judged.belief, self.ride.plane()) {
            (Some(belief), Some(plane)) => plane.to_local(belief.centre),
            _ => self.ride.drop_point().map(|_| super::geo::Local::default())?,
        };
        let way = anchor - lie.point();
        Some((Metres(way.length_m()), way.bearing()))
    }

    /// Heaving in as the screen shows it.
    pub(super) fn weighing_view(&self, now: WatchTime) -> Option<WeighingView> {
        let weighing = &self.weighing;
        let over = self.ride.stage == Stage::NotSet
            && weighing.aweigh.is_some_and(|aweigh| now.since(aweigh) <= AFTER);
        if self.ride.stage != Stage::Weighing && !over {
            return None;
        }
        let mut view = WeighingView {
            since: weighing.since,
            aweigh: weighing.aweigh,
            drift: self.drift(),
            drifting_for: weighing.from.map(|(at, _)| now.since(at)),
            ..WeighingView::default()
        };
        if over {
            view.next = "Anchor aweigh. Stow it, then wash and secure it; watch the drift.".into();
            return Some(view);
        }
        view.to_anchor = self.to_anchor_now();
        view.uncertainty = self.anchor_uncertainty();
        view.out = self.ride.veered;
        view.straight_down = self.bow_height(now);
        view.up_and_down = up_and_down(view.out, view.straight_down);
        view.next = next_in_words(&view);
        view.remind = REMIND.to_vec();
        Some(view)
    }

    fn anchor_uncertainty(&self) -> Option<Metres> {
        let fix = self.picture.fix()?.sigma;
        let belief = self.judged.belief.as_ref().map_or(Metres(0.0), |belief| belief.major);
        Some(Metres(fix.0.hypot(belief.0)))
    }

    fn drift(&self) -> Option<(Metres, TrueBearing)> {
        let ((_, from), (_, here)) = (self.weighing.from?, self.trusted_fix()?);
        Some(from.distance_and_bearing_to(here))
    }

    fn keepsake(&self, now: WatchTime) -> Keepsake {
        let drop = self.ride.drop_point();
        let depth = drop.and_then(|drop| drop.depth);
        let height = drop.and_then(|drop| self.water.height_at(drop.let_go));
        Keepsake {
            place: self.ride.place.clone(),
            let_go: drop.map(|drop| drop.let_go),
            drop: drop.map(|drop| drop.position),
            anchor: self.judged.belief.as_ref().map(|belief| belief.centre),
            depth,
            charted: depth.zip(height).map(|(depth, height)| depth - height),
            veered: self.endured.most_out.or(self.ride.veered),
            berth: self.berth.clone(),
            way_out: self.way_out,
            marks: self.marks.surveyed(),
            holding: self.holding_seen(now),
            soundings: self.setting.soundings().to_vec(),
        }
    }

    fn holding_seen(&self, now: WatchTime) -> HoldingSeen {
        let endured = &self.endured;
        let mut seen = HoldingSeen {
            rode_for: endured.brought_up.map_or(Span::ZERO, |since| now.since(since)),
            wind: endured.wind.map(|(mean, _)| mean),
            gust: endured.gust,
            from: endured.wind.and_then(|(_, from)| from),
            dragged: endured.dragged,
            pulls: self.pulls_held(now),
            words: String::new(),
        };
        seen.words = seen.in_words();
        seen
    }
}

/// Seamanship while heaving in, the most important first, each short enough for one line of a small screen: common
/// practice, no source.
pub const REMIND: [&str; 3] = [
    "Never haul her by the windlass, nor drive over the anchor.",
    "The engine drives her up; the windlass takes in the slack.",
    "Up and down: make fast, and let her own way break it out.",
];

fn up_and_down(out: Option<Metres>, straight_down: Option<Metres>) -> UpAndDown {
    match (out, straight_down) {
        (Some(out), Some(down)) if out.0 <= down.0 + STRAIGHT_M => UpAndDown::UpAndDown,
        (Some(_), Some(_)) => UpAndDown::Not,
        _ => UpAndDown::Unknown,
    }
}

fn next_in_words(view: &WeighingView) -> String {
    let near =
        view.to_anchor.zip(view.uncertainty).is_some_and(|((off, _), sigma)| off.0 < 2.0 + 1.5 * sigma.0);
    match (view.up_and_down, view.to_anchor) {
        (UpAndDown::UpAndDown, _) => "Up and down. Make fast, break it out, then say \"aweigh\".".into(),
        (UpAndDown::Not, Some((off, _))) if near => {
            format!("Over the anchor, {:.0} m off: stop, and take in what hangs slack.", off.0)
        }
        (UpAndDown::Not, Some((off, bearing))) => {
            let left = view.out.zip(view.straight_down).map_or(0.0, |(out, down)| out.0 - down.0);
            format!("Slow ahead towards {bearing}, {:.0} m. {left:.0} m to come in until up and down.", off.0)
        }
        (UpAndDown::Unknown, Some((off, bearing))) => {
            format!("Slow ahead towards {bearing}, {:.0} m.", off.0)
        }
        (_, None) => "Slow ahead along the rode; look where it leads.".into(),
    }
}

impl HoldingSeen {
    fn in_words(&self) -> String {
        let wind = match (self.wind, self.gust) {
            (Some(wind), Some(gust)) => format!(" in up to {:.0} kn, gusts {:.0}", wind.0, gust.0),
            _ => String::new(),
        };
        let from = self.from.map_or_else(String::new, |from| format!(", from {from}"));
        let pulls = match self.pulls {
            (0, 0) => String::new(),
            (held, 0) => format!(" It held {held} of the engine's pulls."),
            (held, moved) => format!(" It held {held} of the engine's pulls and moved in {moved}."),
        };
        match (self.rode_for, self.dragged) {
            (Span::ZERO, _) => format!("Never brought up.{pulls}"),
            (lasted, false) => format!("Held for {lasted}{wind}{from}.{pulls}"),
            (lasted, true) => {
                format!("Lay for {lasted}{wind}{from}; an alarm of dragging was raised.{pulls}")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(out: Option<f64>, off_m: Option<f64>) -> WeighingView {
        let mut view = WeighingView {
            out: out.map(Metres),
            straight_down: Some(Metres(6.2)),
            to_anchor: off_m.map(|off| (Metres(off), TrueBearing::new(40.0))),
            uncertainty: Some(Metres(2.0)),
            ..WeighingView::default()
        };
        view.up_and_down = up_and_down(view.out, view.straight_down);
        view
    }

    #[test]
    fn up_and_down_is_when_no_more_is_out_than_leads_straight_down() {
        for (out, expected) in [
            (Some(20.0), UpAndDown::Not),
            (Some(8.0), UpAndDown::Not),
            (Some(7.5), UpAndDown::UpAndDown),
            (Some(0.0), UpAndDown::UpAndDown),
            (None, UpAndDown::Unknown),
        ] {
            assert_eq!(view(out, None).up_and_down, expected, "{out:?}");
        }
        assert_eq!(up_and_down(Some(Metres(5.0)), None), UpAndDown::Unknown);
    }

    #[test]
    fn each_stage_of_heaving_in_says_what_to_do() {
        let next = |out, off| next_in_words(&view(out, off));
        assert_eq!(
            next(Some(30.0), Some(28.4)),
            "Slow ahead towards 040°, 28 m. 24 m to come in until up and down."
        );
        assert!(next(Some(12.0), Some(3.0)).starts_with("Over the anchor"), "no driving over it");
        assert!(next(Some(7.0), Some(3.0)).starts_with("Up and down"));
        assert_eq!(next(None, Some(20.0)), "Slow ahead towards 040°, 20 m.");
        assert!(next(Some(30.0), None).contains("look where it leads"));
    }

    #[test]
    fn how_she_held_is_told_in_a_sentence() {
        let seen = HoldingSeen {
            rode_for: Span::from_mins(600),
            wind: Some(Knots(24.0)),
            gust: Some(Knots(31.0)),
            from: Some(TrueBearing::new(230.0)),
            dragged: false,
            pulls: (3, 1),
            words: String::new(),
        };
        assert_eq!(
            seen.in_words(),
            "Held for 10 h 00 min in up to 24 kn, gusts 31, from 230°. It held 3 of the engine's pulls and moved in 1."
        );
        let dragged = HoldingSeen { dragged: true, pulls: (0, 0), ..seen };
        assert!(dragged.in_words().contains("an alarm of dragging was raised"));
        assert_eq!(HoldingSeen::default().in_words(), "Never brought up.");
    }
}
