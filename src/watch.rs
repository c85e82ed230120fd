//! The watch itself: pure, deterministic, without clock or input and output of its own.
//!
//! One door in, one out: [`Watch::handle`]. Whatever comes in, the watch first runs every whole second that has
//! passed, in order, so that what it decides depends on the inputs and their times alone, never on how often it is
//! called. Live, replay, review, demo and trial all drive it the same way.

pub mod ahead;
pub mod alert;
pub mod allows;
pub mod anchor_check;
pub mod asked_now;
mod assess;
pub mod boat;
mod channel;
pub mod checks;
mod circle;
pub mod circular;
pub mod feed;
pub mod fixgate;
pub mod forecast;
pub mod geo;
pub mod grade;
pub mod health;
pub mod holding;
pub mod input;
mod json;
mod latch;
pub mod lights;
pub mod magvar;
pub mod marks;
pub mod motion;
pub mod moving;
pub mod n2k;
mod night;
pub mod nmea;
pub mod output;
mod picture;
pub mod place;
pub mod plan;
mod publish;
mod receiver;
pub mod refusal;
pub mod rehearsal;
mod ride;
pub mod rode;
pub mod room;
pub mod rounds;
pub mod setting;
mod si;
pub mod slope;
pub mod snapshot;
pub mod sun;
pub mod tide;
mod track;
pub mod traffic;
mod tuning;
pub mod units;
pub mod wake;
pub mod water;
pub mod way_out;
pub mod weighing;
pub mod what_if;
pub mod wind;
pub mod wire;
pub mod words;

use std::sync::Arc;

use ahead::Ahead;
use alert::machine::{Alerts, Condition};
use alert::{AlertKind, Sound};
use anchor_check::AnchorCheck;
use assess::Assessor;
use boat::{Berth, Limits, Settings};
use circle::LearnedCircle;
use feed::{Feeds, Quantity};
use fixgate::Doubt;
use geo::Position;
use holding::{Holding, HoldingState};
use input::MarkEntered;
use input::{Command, Device, DropMove, Event, FeedId, Input, Kept, TideEntered};
use marks::Marks;
use motion::Motion;
use moving::Moving;
use night::{Night, SecondSeen};
use nmea::Observation;
use output::{EndedBy, Output};
use picture::Picture;
use place::Known;
use receiver::{BelievedFix, Source};
use refusal::Refusal;
use rehearsal::RehearsalView;
use ride::Ride;
use rounds::Rounds;
use setting::Setting;
use snapshot::{Room, Stage, Verdict};
use sun::Sun;
use traffic::Traffic;
use tuning::{FIX_AGE, NOTE_MAX, RODE_GUESSED, SILENCE_MAX, SPEED_AGE, VEERED_MAX};
use units::{Metres, Span, WatchTime};
use water::Water;
use way_out::WayOut;
use weighing::{Endured, Weighing};
use wind::Wind;

/// The anchor watch.
#[derive(Clone, Debug)]
pub struct Watch {
    settings: Arc<Settings>,
    limits: Limits,
    began: Option<WatchTime>,
    now: WatchTime,
    next_second: WatchTime,
    feeds: Feeds,
    picture: Picture,
    wind: Wind,
    ride: Ride,
    holding: Holding,
    /// The holding's verdict, taken once after each change: all who read it in a second see the same.
    judged: holding::Verdict,
    moving: Moving,
    circle: LearnedCircle,
    alerts: Alerts,
    assessor: Assessor,
    night: Night,
    water: Water,
    ahead: Ahead,
    way_out: Option<WayOut>,
    berth: Berth,
    motion: Motion,
    traffic: Traffic,
    setting: Setting,
    rounds: Rounds,
    marks: Marks,
    known: Known,
    sun: Sun,
    weighing: Weighing,
    endured: Endured,
    check: Option<AnchorCheck>,
    rehearsal: Option<RehearsalView>,
    /// The machine that keeps the watch, where it is not the one that began it, and since when.
    kept: Option<(WatchTime, Kept)>,
    verdict: Verdict,
    verdict_since: WatchTime,
    observations: Vec<Observation>,
    out: Vec<Output>,
}

impl Watch {
    /// A watch for these settings; it begins with its first input.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        let limits = settings.limits.clone();
        let holding = Holding::new(&settings.boat, &settings.tackle);
        Self {
            feeds: Feeds::new(&settings.feeds),
            judged: holding.verdict(),
            circle: LearnedCircle::default(),
            holding,
            moving: Moving::default(),
            alerts: Alerts::new(limits.escalate_after),
            ahead: Ahead::of(settings.planned.forecast.as_ref()),
            way_out: settings.planned.way_out,
            berth: settings.planned.berth.clone(),
            motion: Motion::default(),
            settings: Arc::new(settings),
            limits,
            began: None,
            now: WatchTime(0),
            next_second: WatchTime(0),
            picture: Picture::default(),
            wind: Wind::default(),
            ride: Ride::default(),
            assessor: Assessor::default(),
            night: Night::default(),
            water: Water::default(),
            traffic: Traffic::default(),
            setting: Setting::default(),
            rounds: Rounds::default(),
            marks: Marks::default(),
            known: Known::default(),
            sun: Sun::default(),
            weighing: Weighing::default(),
            endured: Endured::default(),
            check: None,
            rehearsal: None,
            kept: None,
            verdict: Verdict::NotSet,
            verdict_since: WatchTime(0),
            observations: Vec::new(),
            out: Vec::new(),
        }
    }

    /// The number of the feed of that name, adding it if it is new; `None` when there are too many feeds.
    pub fn feed_named(&mut self, name: &str) -> Option<FeedId> {
        self.feeds.named(name)
    }

    /// Takes one input and says what should happen.
    ///
    /// `at` must not run backwards; a time before the last is taken for the last.
    pub fn handle(&mut self, at: WatchTime, input: Input<'_>) -> Vec<Output> {
        let mut out = Vec::new();
        self.handle_into(at, input, &mut out);
        out
    }

    /// [`Watch::handle`] without an allocation for every line: outputs are appended to `out`.
    pub fn handle_into(&mut self, at: WatchTime, input: Input<'_>, out: &mut Vec<Output>) {
        if self.began.is_none() {
            self.begin(at);
        }
        let at = at.max(self.now);
        match &input {
            Input::Event(Event::Gap { from }) => {
                // Until then the watch ran, though nothing that is recorded says so: its last tick.
                if from.since(self.now) <= SILENCE_MAX {
                    self.run_to((*from).min(at));
                }
                self.skip(*from, at);
            }
            _ if at.since(self.now) > SILENCE_MAX => self.skip(self.now, at),
            _ => self.run_to(at),
        }
        self.now = at;
        match input {
            Input::Line { feed, bytes } => self.line(at, feed, bytes),
            Input::Event(event) => {
                self.event(at, event);
                self.judged = self.holding.verdict();
                self.settle_verdict(at);
            }
            Input::Tick => {}
        }
        out.append(&mut self.out);
    }

    /// When the watch next has something to do by itself.
    #[must_use]
    pub fn next_deadline(&self) -> Option<WatchTime> {
        self.began?;
        Some(self.alerts.next_deadline().map_or(self.next_second, |due| due.min(self.next_second)))
    }

    /// The sound that should be heard.
    #[must_use]
    pub fn sound(&self) -> Sound {
        self.alerts.sound()
    }

    /// How far the crew has come.
    #[must_use]
    pub fn stage(&self) -> Stage {
        self.ride.stage
    }

    /// The one word for the screen, without the rest of a snapshot.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        self.verdict
    }

    /// Evidence for a moved anchor now, nats.
    #[must_use]
    pub fn evidence_nats(&self) -> f64 {
        self.holding.nats()
    }

    /// The limits in force.
    #[must_use]
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// Where the snapshot's plane has its origin: the drop point, else the first position.
    #[must_use]
    pub fn origin(&self) -> Option<Position> {
        self.ride.plane().map(geo::Plane::origin)
    }

    /// Where the anchor was marked.
    #[must_use]
    pub fn drop_point(&self) -> Option<&snapshot::DropPoint> {
        self.ride.drop_point()
    }

    /// The last trusted fix: when, and where the antenna was.
    #[must_use]
    pub fn trusted_fix(&self) -> Option<(WatchTime, Position)> {
        let (plane, lie) = (self.ride.plane()?, self.ride.lie()?);
        Some((lie.at, plane.to_position(lie.antenna)))
    }

    /// Distance of the bow from the drop point at the last trusted fix, and when that was. Without a heading the
    /// antenna is taken to lie straight astern of the bow, as it does when she lies to her anchor.
    #[must_use]
    pub fn bow_off(&self) -> Option<(WatchTime, Metres)> {
        let lie = self.ride.drop_point().and(self.ride.lie())?;
        let off = match lie.bow {
            Some(bow) => Metres(bow.length_m()),
            None => (Metres(lie.antenna.length_m()) - self.settings.boat.antenna_aft).max(Metres(0.0)),
        };
        Some((lie.at, off))
    }

    /// Distance from the drop point to the farthest point of the boat at the last trusted fix, and when that was: what
    /// is held against the circle.
    #[must_use]
    pub fn farthest_off(&self) -> Option<(WatchTime, Metres)> {
        let lie = self.ride.drop_point().and(self.ride.lie())?;
        Some((lie.at, lie.farthest))
    }

    /// The circle that raises `outside`.
    #[must_use]
    pub fn circle(&self) -> Option<Metres> {
        self.set_circle(self.now)
    }

    fn begin(&mut self, at: WatchTime) {
        self.began = Some(at);
        self.now = at;
        self.next_second = at.ceil_second();
        self.ride.stage_since = at;
        self.verdict_since = at;
    }

    /// Runs every whole second up to and including `at`.
    fn run_to(&mut self, at: WatchTime) {
        while self.next_second <= at {
            let second = self.next_second;
            self.alerts.run_to(second, &mut self.out);
            self.second(second);
            self.next_second += Span::from_secs(1);
        }
        self.alerts.run_to(at, &mut self.out);
    }

    /// The watch did not run from `from` to `at`: nothing is calculated for that time.
    fn skip(&mut self, from: WatchTime, at: WatchTime) {
        let from = from.min(at);
        self.next_second = at.ceil_second();
        self.stop_counting(from, at);
        self.holding.gap(from, at);
        self.judged = self.holding.verdict();
        // However short it seems: a computer that was started anew may have lost its time.
        self.picture.slept();
        self.ride.lose_sight();
        if !self.assessor.has_gap() {
            // The one before was answered: this is another, with words of its own.
            self.alerts.assess(at, AlertKind::Gap, Condition::Absent, &mut self.out);
        }
        self.assessor.gap(from, at);
        self.night.happened(at, format!("the watch was asleep for {}", at.since(from)), false);
    }

    /// Parses a line and passes on what it says.
    fn line(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        let Some(counters) = self.feeds.get_mut(feed) else { return };
        self.observations.clear();
        match counters.read(at, bytes, &mut self.observations) {
            Err(rejected) => counters.count_rejected(rejected),
            Ok(told) if told.is_ais() => match self.traffic.line(at, bytes) {
                Ok(()) => counters.count_good(at, told.remark()),
                Err(rejected) => counters.count_rejected(rejected),
            },
            Ok(told) => {
                counters.count_good(at, told.remark());
                let priority = counters.priority();
                for (index, observation) in self.observations.iter().enumerate() {
                    if let Some(quantity) = Quantity::of(observation) {
                        counters.count_quantity(quantity);
                    }
                    let source = Source { feed, talker: told.talker_of(index) };
                    if let Observation::Vessel(report) = observation {
                        self.traffic.hear(at, report);
                    }
                    self.picture.hear(at, source, priority, &self.settings.boat, observation);
                    self.motion.hear(at, source, observation);
                }
            }
        }
    }

    fn event(&mut self, at: WatchTime, event: Event) {
        match event {
            Event::Crew(command) => self.command(at, command),
            Event::Feed { name, link, .. } => {
                let known = self.feeds.named(&name).and_then(|id| self.feeds.get_mut(id));
                if let Some(feed) = known {
                    feed.set_link(at, link);
                }
            }
            Event::Device(device) => self.device(at, device),
            Event::Gap { .. } => {}
            Event::Damage { what, .. } => self.assessor.damaged(what),
            Event::Kept(kept) => self.kept_by(at, kept),
        }
    }

    /// Another machine keeps this watch from now on.
    fn kept_by(&mut self, at: WatchTime, kept: Kept) {
        self.night.happened(at, format!("{} keeps the watch", kept.by), false);
        self.assessor.taken_over(at, &kept);
        self.kept = Some((at, kept));
    }

    fn device(&mut self, at: WatchTime, device: Device) {
        match device {
            Device::Rehearsal { failed } => self.rehearsal_played(at, failed),
            device => self.assessor.device(device),
        }
    }

    fn command(&mut self, at: WatchTime, command: Command) {
        match command {
            Command::LetGo { veered, depth, place } => self.let_go(at, veered, depth, place),
            Command::DropDepth { depth } => self.drop_depth(at, depth),
            Command::NamePlace { name } => self.name_place(at, name),
            Command::Lying { veered, place } => self.lying(at, veered, place),
            Command::BeginRecon => self.begin_recon(at),
            Command::EndRecon => self.end_recon(at),
            Command::VeerTo { length } => self.veer_to(at, length),
            Command::Pull { kind } => self.pull(at, kind),
            Command::Transit { seen } => self.transit(at, seen),
            Command::Neutral => self.neutral(at),
            Command::Round(made) => self.round(at, made),
            Command::Mark { name, entered } => self.enter_mark(at, &name, &entered),
            Command::Unmark { name } => {
                let done = self.marks.remove(&name);
                self.refuse_if(at, done);
            }
            Command::Bearing { mark, bearing } => {
                let done = self.marks.take(at, &mark, bearing);
                self.refuse_if(at, done);
            }
            Command::Near { place } => self.come_near(at, *place),
            Command::Veered { length } => self.veer(at, length),
            Command::BroughtUp => self.brought_up(at),
            Command::MoveDrop(to) => self.move_drop(at, &to),
            Command::Acknowledge { kind } => self.acknowledge(at, kind),
            Command::Silence => self.alerts.silence(at, &mut self.out),
            Command::Wake(asked) => self.assessor.ask_to_wake(at, asked),
            Command::Limits(limits) => {
                self.alerts.set_escalate_after(at, limits.escalate_after, &mut self.out);
                if limits.round_every != self.limits.round_every {
                    self.rounds.interval_entered();
                }
                self.limits = limits;
                self.night_changed();
                self.night.happened(at, "limits changed".into(), false);
            }
            Command::Tide(entered) => self.enter_tide(at, &entered),
            Command::WindAhead { winds } => self.enter_forecast(at, winds),
            Command::WayOut { way } => self.enter_way_out(at, way),
            Command::Berth { berth } => self.enter_berth(at, *berth),
            Command::Note { mut text } => {
                let cut =
                    (0..=NOTE_MAX.min(text.len())).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
                text.truncate(cut);
                self.night.happened(at, text, false);
            }
            Command::Weigh => self.weigh(at),
            Command::Stay => self.stay(at),
            Command::LiesHere => self.lies_here(at),
            Command::BeginCheck => self.begin_check(at),
            Command::CheckFound(finding) => self.check_found(at, finding),
            Command::EndCheck => self.end_check(at),
            Command::Rehearse => self.rehearse(at),
            Command::Rehearsed { heard } => self.rehearsed(at, heard),
            Command::Aweigh => self.aweigh(at),
        }
    }

    /// The marks of this stay as they would be entered again.
    #[must_use]
    pub fn marks_entered(&self) -> Vec<(String, MarkEntered)> {
        self.marks.entered()
    }

    fn enter_mark(&mut self, at: WatchTime, name: &str, entered: &MarkEntered) {
        let done = match entered {
            MarkEntered::Position { position } => self.marks.add(name, *position),
            MarkEntered::InLine { near, far } => self.marks.add_in_line(name, near, far),
            MarkEntered::FromBow { bearing, distance } => match (self.ride.plane(), self.ride.lie()) {
                (Some(plane), Some(lie)) => {
                    let there = lie.point() + geo::Local::polar(*bearing, distance.0);
                    self.marks.add_by_eye(name, plane.to_position(there))
                }
                _ => Err(Refusal::NoPositionForMark),
            },
        };
        self.refuse_if(at, done);
    }

    fn refuse_if(&mut self, at: WatchTime, done: Result<(), Refusal>) {
        if let Err(why) = done {
            self.refuse(at, why);
        }
    }

    fn refuse(&mut self, at: WatchTime, why: Refusal) {
        self.out.push(Output::Refused { at, why });
    }

    fn let_go(&mut self, at: WatchTime, veered: Option<Metres>, depth: Option<Metres>, place: String) {
        if self.ride.anchored() {
            self.refuse(at, Refusal::AnchorDown);
            return;
        }
        if veered.is_some_and(|length| !is_a_length(length)) {
            self.refuse(at, Refusal::Rode);
            return;
        }
        if self.picture.good_fix(FIX_AGE).is_none() {
            self.ride.lose_sight();
        }
        let depth = depth.or(self.picture.depth());
        self.ride.let_go(at, place.clone(), veered, depth);
        self.begin_ride(at, depth);
        self.judge_from_mark(at);
        let rode = veered.map_or_else(String::new, |length| format!(", {:.0} m of rode", length.0));
        let unmarked =
            if self.ride.drop_point().is_none() { ": no settled position yet to mark" } else { "" };
        self.night.happened(at, format!("let go{rode}{unmarked}"), false);
        self.out.push(Output::RideBegan { at, place });
    }

    /// The judge begins from the drop point. It takes what she will lie to: while the rode is counted out she falls
    /// back ahead of the count.
    fn judge_from_mark(&mut self, at: WatchTime) {
        if let Some(drop) = self.ride.drop_point().copied() {
            let lies_to = self.lies_to(at).unwrap_or(RODE_GUESSED);
            self.holding.let_go(at, drop.position, lies_to, drop.depth, drop.doubt);
        }
    }

    /// The anchor went down before any position had settled: now it is marked, or it is too late for that.
    fn await_mark(&mut self, now: WatchTime) {
        let heard = self.picture.fix().filter(|fix| now.since(fix.at) <= SPEED_AGE);
        match self.ride.await_mark(now, heard) {
            ride::Waiting::Nothing => {}
            ride::Waiting::Marked => {
                self.setting.plane_moved();
                self.water.mark_moved();
                self.moving = Moving::default();
                self.circle.forget();
                self.judge_from_mark(now);
                if let Some(drop) = self.ride.drop_point() {
                    let late = drop.fixed.since(drop.let_go);
                    let words = format!(
                        "drop point marked {late} after letting go, within {:.0} m more",
                        drop.doubt.0.ceil()
                    );
                    self.night.happened(now, words, false);
                }
                self.out.push(Output::Marked { at: now });
            }
            ride::Waiting::Over => {
                let words = "no position settled in time: the drop point is not marked";
                self.night.happened(now, words.into(), true);
            }
        }
    }

    /// The depth of letting go, entered afterwards: the tide ties to it.
    fn drop_depth(&mut self, at: WatchTime, depth: Metres) {
        if !(self.ride.anchored() && depth.0 > 0.0 && depth <= VEERED_MAX) {
            self.refuse(at, Refusal::Depth);
            return;
        }
        let Some(let_go) = self.ride.enter_depth(depth) else {
            self.refuse(at, Refusal::NoDropPoint);
            return;
        };
        self.holding.drop_depth(depth);
        self.water.tie(Some((let_go, depth)), at);
        self.night.happened(at, format!("{:.1} m deep at the anchor when it was let go", depth.0), false);
    }

    fn name_place(&mut self, at: WatchTime, name: String) {
        if !self.ride.anchored() {
            self.refuse(at, Refusal::NoPlace);
            return;
        }
        self.night.happened(at, format!("the place is called {name}"), false);
        self.ride.place = name;
    }

    /// Without a mark the judge looks for the anchor in her swing; without the rode it takes any reach that the swing
    /// shows. Either way it knows less beforehand, and says so.
    fn lying(&mut self, at: WatchTime, veered: Option<Metres>, place: String) {
        if self.ride.anchored() {
            self.refuse(at, Refusal::AnchorDown);
            return;
        }
        if veered.is_some_and(|length| !is_a_length(length)) {
            self.refuse(at, Refusal::Rode);
            return;
        }
        self.ride.lie_unmarked(at, place.clone(), veered);
        self.ride.lies_unmarked = true;
        self.begin_ride(at, self.picture.depth());
        self.endured.brought_up(at);
        self.rounds.count_from(at);
        if let Some(length) = veered {
            self.holding.veered(at, length);
        }
        self.wind.take_reference();
        self.night.happened(at, "lies at an anchor that nobody marked".into(), false);
        self.out.push(Output::RideBegan { at, place });
    }

    /// What belonged to the ride before is forgotten; the tide ties to the depth found now.
    fn begin_ride(&mut self, at: WatchTime, depth: Option<Metres>) {
        self.assessor = self.assessor.for_new_ride();
        self.circle.forget();
        self.forget_check();
        self.setting_let_go();
        self.rounds.begin_ride();
        self.weighing = Weighing::default();
        self.endured = Endured::default();
        self.moving = Moving::default();
        self.take_over(at);
        self.water.tie(depth.map(|depth| (at, depth)), at);
    }

    fn veer(&mut self, at: WatchTime, length: Metres) {
        if !(self.ride.anchored() && length.0 >= 0.0 && length <= VEERED_MAX) {
            self.refuse(at, Refusal::RodeInAll);
            return;
        }
        // While the rode is counted out the judge knows already what she will lie to.
        let before = self.lies_to(at);
        self.ride.veered = Some(length);
        self.ride.veered_at = at;
        self.night_changed();
        let lies_to = self.lies_to(at);
        if !self.counts_out(at) || lies_to != before {
            self.holding.veered(at, lies_to.unwrap_or(length));
        }
        self.night.happened(at, format!("{:.0} m of rode out", length.0), false);
    }

    fn brought_up(&mut self, at: WatchTime) {
        if self.ride.stage != Stage::Setting {
            self.refuse(at, Refusal::NotSetting);
            return;
        }
        self.end_setting(at);
        if let Some(veered) = self.ride.veered.filter(|_| self.counts_out(at)) {
            // Fewer metres went out than were meant to.
            self.holding.veered(at, veered);
        }
        self.ride.enter(at, Stage::BroughtUp);
        self.holding.brought_up(at);
        self.setting.holds_from(at);
        self.endured.brought_up(at);
        self.rounds.count_from(at);
        self.wind.take_reference();
        self.night.happened(at, "brought up".into(), false);
    }

    fn move_drop(&mut self, at: WatchTime, to: &DropMove) {
        if !self.ride.anchored() {
            self.refuse(at, Refusal::NoAnchorDown);
            return;
        }
        match self.ride.move_drop(at, to) {
            Err(why) => self.refuse(at, why.into()),
            Ok(()) => {
                self.setting.plane_moved();
                self.water.mark_moved();
                self.moving = Moving::default();
                self.circle.forget();
                if self.lies_to(at).is_some() || self.ride.stage == Stage::Setting {
                    self.judge_from_mark(at);
                }
                self.night.happened(at, "drop point moved".into(), false);
            }
        }
    }

    /// What was called is over. Where a drop point was marked it moves to where the anchor is taken to lie now.
    fn lies_here(&mut self, at: WatchTime) {
        if self.ride.stage != Stage::BroughtUp {
            self.refuse(at, Refusal::NotBroughtUp);
            return;
        }
        let Some(place) = self.holding.lies_here(at) else {
            self.refuse(at, Refusal::NoPositionToJudge);
            return;
        };
        self.forget_check();
        let Some(before) = self.ride.drop_point().map(|drop| drop.position) else {
            self.night.happened(at, "lies here now".into(), false);
            return;
        };
        self.ride.lies_to(at, place);
        self.setting.plane_moved();
        self.water.mark_moved();
        self.moving = Moving::default();
        self.circle.forget();
        let (distance, bearing) = before.distance_and_bearing_to(place);
        let words =
            format!("lies here now: the anchor is taken to be {:.0} m {bearing} of the old mark", distance.0);
        self.night.happened(at, words, false);
    }

    fn acknowledge(&mut self, at: WatchTime, kind: Option<AlertKind>) {
        if kind.is_none_or(|k| k == AlertKind::WindShift) && self.alerts.get(AlertKind::WindShift).is_some() {
            self.wind.shift_answered(self.wind.direction(at, self.limits.wind_window));
        }
        self.assessor.acknowledged(kind);
        self.alerts.acknowledge(at, kind, &mut self.out);
    }

    fn enter_tide(&mut self, at: WatchTime, entered: &TideEntered) {
        let here = self.ride.drop_point().map(|drop| drop.position);
        let here = here.or(self.picture.fix().map(|fix| fix.position));
        match self.water.enter(entered, at, here) {
            Ok(()) => {
                self.night_changed();
                self.night.happened(at, "tide entered".into(), false);
            }
            Err(why) => self.refuse(at, why.into()),
        }
    }

    fn weigh(&mut self, at: WatchTime) {
        if !self.ride.anchored() {
            self.refuse(at, Refusal::NoAnchorDown);
            return;
        }
        self.end_setting(at);
        self.forget_check();
        self.ride.enter(at, Stage::Weighing);
        self.holding.stand_down(at);
        self.weighing.begin(at, self.ride.veered);
        self.night.happened(at, "weighing: drag is not judged".into(), false);
    }

    fn stay(&mut self, at: WatchTime) {
        if self.ride.stage != Stage::Weighing {
            self.refuse(at, Refusal::NotWeighing);
            return;
        }
        self.ride.enter(at, Stage::BroughtUp);
        self.holding.resume(at);
        self.setting.holds_from(at);
        self.rounds.count_from(at);
        self.night.happened(at, "stays: drag is judged again".into(), false);
    }

    fn aweigh(&mut self, at: WatchTime) {
        if !self.ride.anchored() {
            self.refuse(at, Refusal::NoAnchorDown);
            return;
        }
        self.end_ride(at, EndedBy::Crew);
    }

    /// One whole second: settles the picture, draws the geometry, judges, raises and ends alerts.
    fn second(&mut self, now: WatchTime) {
        self.feeds.roll_rates(now);
        self.water.second(now);
        self.traffic.second(now);
        let fix = self.picture.second(now);
        if let Some(wind) = self.picture.wind() {
            self.wind.second(now, wind.speed, wind.direction);
        }
        let good_fix = fix.filter(|f| f.doubt.is_none());
        if let Some(fix) = &good_fix {
            self.ride.fix(fix, self.picture.heading().map(|h| h.bearing), &self.settings.boat);
        } else if self.picture.good_fix(FIX_AGE).is_none() {
            self.ride.lose_sight();
        }
        self.see_coarsely(now, fix.as_ref());
        self.await_mark(now);
        self.hear_water(now);
        self.sun.second(now, good_fix.as_ref().map(|fix| fix.position));
        self.judge(now, fix.as_ref());
        self.set_second(now, good_fix.as_ref());
        self.weigh_second(now);
        self.rounds_second(now);
        self.check_second(now);
        self.slope_second(now);
        self.ahead_second(now);
        self.assess(now);
        self.rehearsal_second(now);
        self.settle_verdict(now);
        let seen = self.second_seen(good_fix.is_some());
        self.night.second(now, &seen);
    }

    /// What is sounded where she lies teaches how the sea stands off the tide.
    fn hear_water(&mut self, now: WatchTime) {
        let lies = self.ride.drop_point().and(self.ride.lie()).filter(|_| self.ride.stage != Stage::Weighing);
        let place = lies.map(ride::Lie::point);
        self.water.hear(now, self.picture.depth().zip(place), self.picture.pressure_hpa());
    }

    /// What is too poor to be trusted may still tell whether she lies in her circle.
    fn see_coarsely(&mut self, now: WatchTime, fix: Option<&BelievedFix>) {
        self.ride.age_coarse(now);
        if let Some(fix) = fix.filter(|fix| fix.doubt.is_some_and(Doubt::is_coarse)) {
            let heading = self.picture.heading().map(|heading| heading.bearing);
            self.ride.fix_coarsely(fix, heading, &self.settings.boat);
        }
    }

    fn judge(&mut self, now: WatchTime, fix: Option<&BelievedFix>) {
        // A lone leap says nothing of the receiver's quality, and one that settles will soon be good: it is as if
        // these had not come.
        if let Some(fix) = fix.filter(|f| !matches!(f.doubt, Some(Doubt::Jumped(_) | Doubt::Settling))) {
            self.holding.fix(now, &holding_fix(fix));
        }
        for fix in self.picture.fixes_aside() {
            self.holding.fix_aside(now, &holding_fix(fix));
        }
        let conditions = holding::Conditions {
            heading: self.picture.heading().map(|h| h.bearing),
            apparent_wind: self.picture.apparent(),
            tide_since_drop: self.water.rise_at(now),
        };
        self.holding.second(now, &conditions);
        let before = std::mem::replace(&mut self.judged, self.holding.verdict());
        self.moving.note(now, self.judged.beyond_best_cell);
        self.follow_circle(now);
        // The judge gives up an anchor that nobody marked when she is plainly under way: never silently.
        if before.state != HoldingState::NotSet && self.looks_for_anchor() {
            self.assessor.left();
        }
    }

    /// The default circle follows the belief of an anchor that stands.
    fn follow_circle(&mut self, now: WatchTime) {
        let stands = self.ride.stage == Stage::BroughtUp
            && self.limits.circle.is_none()
            && self.judged.state == HoldingState::Holding
            && self.holding.evidence_of_positions() < circle::STANDS;
        let known = self.ride.drop_point().map(|drop| drop.position).zip(self.judged.learned);
        if let Some((mark, learned)) = known.filter(|_| stands)
            && let Some(moved) = self.circle.follow(now, mark, learned, self.limits.circle_margin)
        {
            let (distance, bearing) = moved.from_mark;
            let radius = self.set_circle(now).unwrap_or_default();
            let words =
                format!("circle: {:.0} m about a place {:.0} m {bearing} of the mark", radius.0, distance.0);
            self.night.happened(now, words, false);
        }
    }

    /// An anchor is down that nobody marked, and the judge has not found it yet.
    fn looks_for_anchor(&self) -> bool {
        self.ride.stage == Stage::BroughtUp && self.judged.state == HoldingState::NotSet
    }

    fn settle_verdict(&mut self, now: WatchTime) {
        let verdict = self.verdict_now(now);
        if verdict != self.verdict {
            self.verdict = verdict;
            self.verdict_since = now;
        }
    }

    fn second_seen(&self, good_fix: bool) -> SecondSeen {
        let wind = self.picture.wind();
        SecondSeen {
            distance: self.ride.drop_point().and(self.ride.lie()).map(|lie| lie.to_anchor().0),
            reach: self.ride.drop_point().and_then(|_| self.reach(self.now)),
            circle: self.set_circle(self.now),
            room: self.room().map(|room| room.left),
            wind: wind.map(|w| w.speed),
            direction: wind.and_then(|w| w.direction),
            heading: self.picture.heading().map(|h| h.bearing),
            depth: self.picture.depth(),
            predicted: self.water.depth_at(self.now),
            good_fix,
            evidence: self.ride.anchored().then_some(self.judged.evidence * 100.0),
        }
    }

    /// Bow roller above the bottom at the drop point; by the sounder where no depth was known on letting go.
    fn bow_height(&self, now: WatchTime) -> Option<Metres> {
        let depth = self.water.depth_at(now).or(self.picture.depth())?;
        Some(depth + self.settings.boat.bow_height)
    }

    /// The same as the pull sees it where she lies now: a bottom that falls away towards her turns the pull up. A sounder that
    /// gives the depth under her has it already.
    fn pulled_from(&self, now: WatchTime) -> Option<Metres> {
        let (height, veered) = (self.bow_height(now)?, self.ride.veered?);
        let lies = self.water.depth_at(now).and(self.ride.lie()).map(|lie| lie.to_anchor().1.reversed());
        let falls = self.slope().zip(lies).map_or(0.0, |(slope, lies)| slope.towards(lies));
        Some(slope::seen_from(height, veered, falls))
    }

    /// Horizontal reach of the rode now. Without any depth the rode is taken to lie flat.
    fn reach(&self, now: WatchTime) -> Option<Metres> {
        self.ride.reach(self.bow_height(now).unwrap_or(self.settings.boat.bow_height))
    }

    /// Reach at the lowest tide of the stay + boat length.
    fn swing_circle(&self, now: WatchTime) -> Option<Metres> {
        Some(self.greatest_reach(now)? + self.settings.boat.loa)
    }

    /// Reach at the lowest tide of the stay.
    fn greatest_reach(&self, now: WatchTime) -> Option<Metres> {
        let lowest = self.water.outlook().least_of_stay.map(|depth| depth + self.settings.boat.bow_height);
        let height = match lowest.filter(|h| h.0 > 0.0) {
            Some(height) => height,
            None => self.bow_height(now).unwrap_or(self.settings.boat.bow_height),
        };
        rode::reach_limit(self.lies_to(now)?, height).ok()
    }

    /// Least scope ahead, and when: at the highest water.
    fn least_scope_ahead(&self) -> Option<(f64, WatchTime)> {
        let (depth, at) = self.water.outlook().greatest?;
        let height = depth + self.settings.boat.bow_height;
        Some((self.ride.veered?.0 / height.0, at)).filter(|_| height.0 > 0.0)
    }

    /// Radius of the circle that raises `outside`: set by the crew, else the reach of the rode as it is learned, the
    /// boat's length and the margin.
    fn set_circle(&self, now: WatchTime) -> Option<Metres> {
        if !self.ride.anchored() {
            return None;
        }
        let share = self.circle.learned().map_or(1.0, |learned| learned.rode_share);
        let margin = self.circle.margin(self.limits.circle_margin);
        let swing = || Some(self.greatest_reach(now)? * share + self.settings.boat.loa + margin);
        self.limits.circle.or_else(swing)
    }

    /// Its middle on the plane: the drop point where the crew set it, else where the anchor is learned to lie.
    fn circle_centre(&self) -> geo::Local {
        let learned = self.circle.learned().filter(|_| self.limits.circle.is_none());
        let known = learned.zip(self.ride.plane());
        known.map_or_else(geo::Local::default, |(learned, plane)| plane.to_local(learned.anchor))
    }

    /// Metres from the boat's farthest part to the circle.
    fn room(&self) -> Option<Room> {
        self.room_at(self.now)
    }

    fn room_at(&self, now: WatchTime) -> Option<Room> {
        self.room_of(self.ride.lie()?, now)
    }

    fn room_of(&self, lie: &ride::Lie, now: WatchTime) -> Option<Room> {
        let circle = self.set_circle(now)?;
        self.ride.drop_point()?;
        let (farthest, end) = lie.farthest_from(self.circle_centre());
        Some(Room { left: circle - farthest, of: circle, end })
    }

    /// Room by a position that is too poor to be trusted, and how far that may be off.
    fn coarse_room(&self, now: WatchTime) -> Option<(Room, Metres)> {
        let coarse = self.ride.coarse()?;
        Some((self.room_of(&coarse.lie, now)?, coarse.off))
    }
}

/// Metres of rode that can be out.
fn is_a_length(length: Metres) -> bool {
    length.0 > 0.0 && length <= VEERED_MAX
}

/// A fix in the judge's terms.
fn holding_fix(fix: &BelievedFix) -> holding::Fix {
    holding::Fix {
        sog: fix.sog,
        cog: fix.cog,
        hdop: fix.hdop,
        utc_ms: fix.utc.map(|utc| i64::from(utc.millis())),
        minute_decimals: fix.minute_decimals,
        receiver: fix.receiver,
        // The judge looks at HDOP itself.
        doubtful: fix.doubt.is_some_and(|doubt| !matches!(doubt, Doubt::Hdop(_))),
        // The judge lays receivers on each other itself, by what it learns of each.
        ..holding::Fix::at(fix.received)
    }
}
