//! The snapshot: what the watch knows, gathered for whoever looks on.

use std::sync::Arc;

use super::Watch;
use super::allows::Allows;
use super::asked_now::{AskedNow, asked};
use super::geo::Local;
use super::health::{Health, night_left};
use super::holding::{self, Belief, HoldingState};
use super::input::TurnKind;
use super::lights::{self, LightsView};
use super::marks::Swing;
use super::rode;
use super::snapshot::{
    CircleView, Coming, DepthView, HoldingView, Moved, RodeView, Snapshot, VesselView, WindView,
};
use super::units::{Knots, Metres, WatchTime};

/// What a person can look at: vessels nearer than two miles, and no more than so many.
const VESSEL_WITHIN_M: f64 = 3704.0;
const VESSELS_SHOWN: usize = 40;

impl Watch {
    /// How she lies and can swing, for bearings.
    pub(super) fn swing(&self, now: WatchTime) -> Swing {
        let reach = self.reach(now);
        Swing {
            anchored: self.ride.drop_point().is_some(),
            circle: self.set_circle(now).or_else(|| self.swing_circle(now)),
            circle_now: reach.map(|reach| reach + self.settings.boat.loa),
            bow: self.ride.lie().map(|lie| lie.point()),
        }
    }

    /// The state of the watch at its last input.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        let now = self.now;
        let lie = self.ride.lie();
        Snapshot {
            at: now,
            began: self.began.unwrap_or(now),
            clock_error: self.picture.clock_error(),
            health: Health { clock_off: self.picture.clock_error(), ..self.assessor.health().clone() },
            night_left: night_left(now, self.picture.fix().map(|fix| fix.position)),
            settings: Arc::clone(&self.settings),
            limits: self.limits.clone(),
            wakes_for: self.assessor.wakes_for(),
            place: self.ride.place.as_str().into(),
            stage: self.ride.stage,
            stage_since: self.ride.stage_since,
            verdict: self.verdict,
            verdict_since: self.verdict_since,
            holding: self.holding_view(),
            room: self.room(),
            drop: self.ride.drop_point().copied(),
            mark_awaited: self.ride.mark_awaited(),
            fix: self.picture.fix_view(&self.feeds),
            antenna: lie.map(|l| l.antenna),
            bow: lie.and_then(|l| l.bow),
            anchor_off: self.ride.drop_point().and(lie).map(|l| l.to_anchor()),
            heading: self.picture.heading_reading(&self.feeds),
            reach: self.reach(now),
            circle: CircleView {
                swings: self.swing_circle(now),
                set: self.set_circle(now),
                centre: self.circle_centre(),
            },
            track: self.ride.track().points(),
            farthest: self.ride.farthest(),
            wind: self.wind_view(now),
            // While she makes way the log shows her own speed.
            stream: self.ride.drop_point().and(self.picture.stream()),
            vessels: self.vessels(now),
            depth: self.depth_view(now),
            tide: self.water.view(now),
            rode: self.rode_view(now),
            ahead: self.ahead.view().clone(),
            way_out: self.way_out,
            berth: self.berth.clone(),
            motion: self.motion.view(now),
            alerts: self.alerts.list().cloned().collect(),
            sound: self.alerts.sound(),
            feeds: self.feeds.iter().map(|(id, feed)| feed.view(self.picture.believed_for(id))).collect(),
            minutes: self.night.minutes(),
            happenings: self.night.happenings(),
            coming: self.coming(now),
            recon: self.recon_view(now),
            setting: self.setting_view(now),
            weighing: self.weighing_view(now),
            check: self.check_view(now),
            rehearsal: self.rehearsal.clone(),
            kept: self.kept.clone(),
            rounds: self.rounds_view(now),
            lights: self.lights_view(),
            near: self.place_view(now),
            marks: Arc::new(self.marks.views(self.ride.plane(), self.swing(now))),
            cross: self.marks.cross(self.ride.plane(), self.ride.lie().map(|lie| lie.point())),
            variation_deg: self.picture.known_variation(now),
            revolutions: self.picture.revolutions_reading(&self.feeds),
        }
    }

    fn holding_view(&self) -> HoldingView {
        if !self.ride.anchored() {
            return HoldingView::default();
        }
        let verdict = &self.judged;
        let cannot = match verdict.state {
            HoldingState::CannotJudge(why) => Some(why.to_string()),
            HoldingState::NotSet if self.looks_for_anchor() => {
                Some("the anchor is still being looked for in her swing".into())
            }
            _ => None,
        };
        HoldingView {
            // Never below nothing: a minus sign before a zero makes a tired sailor think.
            evidence_percent: cannot.is_none().then_some((verdict.evidence * 100.0).max(0.0).abs()),
            belief: verdict.belief.as_ref().and_then(|b| self.belief_on_plane(b)),
            moved: verdict.moved.map(|moved| self.moved_view(&moved)),
            ready_percent: Some(verdict.ready * 100.0),
            allows: verdict
                .means
                .map(|means| Allows { means, holds_still: self.picture.receiver_holds_still() }),
            remark: remark(verdict),
            cannot,
        }
    }

    pub(super) fn moved_view(&self, moved: &holding::Moved) -> Moved {
        let holding::Moved { distance, bearing, since, .. } = *moved;
        Moved { distance, bearing, since, lately: self.moving.lately(self.now, distance, since) }
    }

    fn vessels(&self, now: WatchTime) -> Arc<Vec<VesselView>> {
        let Some(plane) = self.ride.plane() else { return Arc::default() };
        let circle = self.swing_circle(now).filter(|_| self.ride.anchored());
        let mut vessels: Vec<VesselView> = self
            .traffic
            .views(now, plane, circle)
            .filter(|view| view.point.length_m() <= VESSEL_WITHIN_M)
            .collect();
        vessels.sort_by(|a, b| a.point.length_m().total_cmp(&b.point.length_m()));
        vessels.truncate(VESSELS_SHOWN);
        Arc::new(vessels)
    }

    fn belief_on_plane(&self, belief: &Belief) -> Option<Belief<Local>> {
        let centre = self.ride.plane()?.to_local(belief.centre);
        Some(Belief { centre, major: belief.major, minor: belief.minor, axis: belief.axis })
    }

    fn wind_view(&self, now: WatchTime) -> WindView {
        let speeds = self.wind.speeds(now);
        let mean_direction = self.wind.direction(now, self.limits.wind_window);
        let reference = self.wind.reference();
        WindView {
            apparent: self.picture.wind_reading(&self.feeds),
            direction: self.picture.wind().and_then(|w| w.direction),
            mean: speeds.map(|s| s.mean),
            gust: speeds.map(|s| s.gust),
            mean_direction,
            reference,
            shift_deg: reference.zip(mean_direction).map(|(from, to)| from.turn_to(to)),
        }
    }

    fn depth_view(&self, now: WatchTime) -> DepthView {
        let sounded = self.picture.depth_reading(&self.feeds);
        let predicted = self.water.depth_at(now);
        let draft = self.settings.boat.draft;
        DepthView {
            under_keel: sounded.now().or(predicted).map(|depth| depth - draft),
            sounded,
            predicted,
            offset_unlike: self.picture.offset_unlike(),
            pressure: self.water.barometer().reading(now),
            least_under_keel: self.water.outlook().least.map(|(depth, at)| (depth - draft, at)),
        }
    }

    /// What is known to come, soonest first.
    fn coming(&self, now: WatchTime) -> Vec<Coming> {
        let draft = self.settings.boat.draft;
        let turns = self.water.view(now).turns;
        let mut coming: Vec<Coming> = turns
            .iter()
            .filter(|turn| turn.at > now)
            .map(|turn| Coming {
                at: turn.at,
                text: match turn.kind {
                    TurnKind::High => format!("high water, {:.1} m deep", turn.depth.0),
                    TurnKind::Low => format!("low water, {:.1} m under keel", (turn.depth - draft).0),
                },
            })
            .collect();
        if let Some(until) = self.water.known_until().filter(|until| *until > now) {
            coming.push(Coming { at: until, text: "the tide table ends".into() });
        }
        coming.extend(self.worst_coming(now));
        coming.extend(self.crew_coming(now));
        coming.extend(self.check_coming(now));
        coming.extend(self.sun_coming());
        coming.sort_by_key(|c| c.at);
        coming
    }

    /// The worst hour of the night ahead.
    fn worst_coming(&self, now: WatchTime) -> Option<Coming> {
        let worst = self.ahead.view().night.as_ref()?.worst();
        let text = format!("worst: {}", worst.wind.words());
        (worst.at > now).then_some(Coming { at: worst.at, text })
    }

    /// What a vessel of her length shows at anchor, by the sun.
    fn lights_view(&self) -> LightsView {
        let loa = self.settings.boat.loa;
        let sun_up = self.sun.is_up();
        let shown = |by_day: bool| if by_day { lights::by_day() } else { lights::by_night(loa) };
        LightsView {
            sun_up,
            now: sun_up.map(shown).unwrap_or_default(),
            until: self.sun.ahead().first().map(|next| next.at),
            then: self.sun.ahead().first().map(|next| shown(next.rises)).unwrap_or_default(),
            notes: lights::notes(loa),
        }
    }

    /// What the sun asks of an anchored vessel, in the hours ahead.
    fn sun_coming(&self) -> impl Iterator<Item = Coming> {
        let anchored = self.ride.anchored();
        self.sun.ahead().iter().take(2).filter(move |_| anchored).map(|crossing| {
            let text = if crossing.rises {
                "sunrise: light out, ball up"
            } else {
                "sunset: ball down, anchor light on"
            };
            Coming { at: crossing.at, text: text.into() }
        })
    }

    /// The next round, and the next turn of the rota.
    fn crew_coming(&self, now: WatchTime) -> impl Iterator<Item = Coming> {
        let rounds = self.rounds_view(now);
        let round = rounds.due.filter(|due| *due > now).map(|at| {
            let by =
                [&rounds.on_now, &rounds.next].into_iter().flatten().find(|t| t.from <= at && at < t.until);
            let text = by.map_or_else(|| "round".into(), |turn| format!("round, {} on watch", turn.name));
            Coming { at, text }
        });
        let turn = rounds.next.filter(|_| self.ride.anchored());
        let turn = turn.map(|turn| Coming { at: turn.from, text: format!("{}'s watch", turn.name) });
        round.into_iter().chain(turn)
    }

    fn rode_view(&self, now: WatchTime) -> RodeView {
        let (Some(veered), Some(height)) = (self.ride.veered, self.bow_height(now)) else {
            return RodeView { veered: self.ride.veered, ..RodeView::default() };
        };
        let scope = Some(veered.0 / height.0).filter(|s| s.is_finite());
        let least_scope = self.least_scope_ahead();
        let bare = RodeView {
            veered: Some(veered),
            height: Some(height),
            scope,
            least_scope,
            ..RodeView::default()
        };
        self.rode_shape(veered, height, bare.clone()).unwrap_or(bare)
    }

    /// The rode's shape under the load that wind and stream put on it now.
    fn rode_shape(&self, veered: Metres, height: Metres, bare: RodeView) -> Option<RodeView> {
        let boat = &self.settings.boat;
        let line = rode::Locker::of(&self.settings.tackle).ok()?.veer(veered).ok()?;
        let wind = self.wind.speeds(self.now).map(|s| s.mean).or(self.picture.wind().map(|w| w.speed))?;
        let high = self.pulled_from(self.now)?;
        let asked = self.asked(wind, veered, high);
        let stream = self.picture.stream().map_or(Knots(0.0), |(_, rate)| rate);
        let weather = rode::Weather { mean: wind, gust: wind, stream, sheer_deg: self.sheer_deg() };
        let load = rode::Load::of(boat, &weather).steady();
        let shape = rode::shape(&line, high, load).ok()?;
        let thresholds = rode::thresholds(&line, high).ok();
        let allowed = self.stream_allowed_for();
        let wind_for = |pull| rode::wind_with_stream(boat, pull, allowed, self.sheer_deg());
        Some(RodeView {
            chain: Some(line.chain.length),
            load: Some(load),
            lifted: Some(shape.lifted),
            angle_anchor_deg: Some(shape.angle_anchor_deg),
            lift_off: thresholds.and_then(|t| t.lifts).map(wind_for),
            asked,
            shape: rode::points(&line, height, load, 40).unwrap_or_default(),
            ..bare
        })
    }
}

impl Watch {
    /// The greatest pull to be expected in the wind that blows, against what the anchor may hold.
    fn asked(&self, mean: Knots, veered: Metres, height: Metres) -> Option<AskedNow> {
        let boat = &self.settings.boat;
        let gust = self.wind.speeds(self.now).map_or(mean, |speeds| speeds.gust.max(mean));
        let from = self.wind.direction(self.now, self.limits.wind_window);
        let stream = self.stream_allowed_for();
        let weather = rode::Weather { mean, gust, stream, sheer_deg: self.sheer_deg() };
        asked(
            boat,
            &self.settings.tackle,
            &self.berth,
            (&weather, from),
            (veered, height),
            self.measured_sea(self.now),
        )
    }
}

/// What the judge has for the crew beside its verdict.
fn remark(verdict: &holding::Verdict) -> Option<String> {
    let (distance, bearing) = verdict.from_mark.filter(|(d, _)| *d > Metres(5.0))?;
    Some(format!("anchor seems {:.0} m {bearing} of the mark", distance.0))
}
