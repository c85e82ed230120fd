//! A boat with instruments for the tests: writes the sentences that she would send, second by second.
#![allow(dead_code, reason = "each test binary uses its part")]

pub mod program;

use nightrode::edge::folder::Recorder;
use nightrode::watch::Watch;
use nightrode::watch::alert::{Alert, AlertChange, AlertKind, Change};
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::input::{Command, Event, FeedId, Input};
use nightrode::watch::nmea::checksum;
use nightrode::watch::output::Output;
use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::{Knots, Metres, Span, WatchTime};

/// 2026-06-03 20:00:00 UTC.
pub const START: WatchTime = WatchTime(1_780_516_800_000);

/// What is switched on, and what it shows.
pub struct Instruments {
    pub position: bool,
    pub heading: bool,
    pub wind: bool,
    pub depth: bool,
    pub heading_deg: f64,
    pub wind_from: f64,
    pub wind_kn: f64,
    pub depth_below_transducer_m: f64,
    pub rpm: Option<u16>,
}

impl Default for Instruments {
    fn default() -> Self {
        Self {
            position: true,
            heading: true,
            wind: true,
            depth: true,
            heading_deg: 0.0,
            wind_from: 0.0,
            wind_kn: 12.0,
            depth_below_transducer_m: 4.5,
            rpm: None,
        }
    }
}

/// A watch that is being run.
pub struct Run {
    pub watch: Watch,
    pub instruments: Instruments,
    pub spare_offset: Option<Local>,
    pub ticks_per_second: i64,
    /// Writes everything down, as the live watch does.
    pub recorder: Option<Recorder>,
    now: WatchTime,
    before: Local,
    outputs: Vec<Output>,
}

impl Run {
    pub fn with(settings: Settings) -> Self {
        let mut watch = Watch::new(settings);
        watch.feed_named("masthead");
        Self {
            watch,
            instruments: Instruments::default(),
            spare_offset: None,
            ticks_per_second: 0,
            recorder: None,
            now: START,
            before: Local::default(),
            outputs: Vec::new(),
        }
    }

    /// Anchored with 30 m of rode in 5 m of water, antenna at the origin of the plane when let go, brought up.
    pub fn anchored() -> Self {
        let mut run = Self::with(Settings::default());
        run.let_go_and_bring_up();
        run
    }

    pub fn let_go_and_bring_up(&mut self) {
        self.lie_for(30, |_| Local::default());
        self.crew(Command::LetGo { veered: Some(Metres(30.0)), depth: None, place: "Hollow Ness".into() });
        self.lie_for(60, |s| Local::new(0.0, -(s as f64) / 3.0));
        self.crew(Command::BroughtUp);
    }

    pub fn plane(&self) -> Plane {
        Plane::new(Position::new(52.0, -20.0).expect("on the earth"))
    }

    pub fn now(&self) -> WatchTime {
        self.now
    }

    /// Another run's boat and instruments go on with this one's watch.
    pub fn go_on_from(&mut self, other: &Self) {
        (self.now, self.before) = (other.now, other.before);
        let i = &other.instruments;
        self.instruments = Instruments { ..*i };
    }

    /// Lets the boat lie for some seconds, her antenna at `place(second)`.
    pub fn lie_for(&mut self, seconds: i64, place: impl Fn(i64) -> Local) {
        for s in 0..seconds {
            self.second(place(s), s);
        }
    }

    fn second(&mut self, antenna: Local, s: i64) {
        self.now += Span::from_secs(1);
        for tick in 1..=self.ticks_per_second {
            let at = self.now - Span(999) + Span(tick * 250 / (self.ticks_per_second + 1));
            self.watch_handles(at, Input::Tick);
        }
        // A hair of noise, as every real receiver has.
        let noise = Local::new(0.02 * ((s * 7) % 5) as f64, 0.02 * ((s * 3) % 5) as f64);
        let at = self.now - Span(700);
        let way = antenna - self.before;
        self.before = antenna;
        if self.instruments.position {
            let rmc = self.rmc(antenna + noise, way);
            self.send(at, FeedId(0), &rmc);
        }
        if let Some(offset) = self.spare_offset {
            let rmc = self.rmc(antenna + offset + noise, way);
            self.send(at, FeedId(1), &rmc);
        }
        let i = &self.instruments;
        let mut others = Vec::new();
        if i.heading {
            others.push(format!("HEHDT,{:.1},T", i.heading_deg));
        }
        if i.wind {
            let angle = (i.wind_from - i.heading_deg).rem_euclid(360.0);
            others.push(format!("WIMWV,{angle:.1},R,{:.1},N,A", i.wind_kn));
        }
        if i.depth {
            others.push(format!("SDDBT,,f,{:.2},M,,F", i.depth_below_transducer_m));
        }
        if let Some(rpm) = i.rpm {
            others.push(format!("IIRPM,E,1,{rpm},,A"));
        }
        for sentence in others {
            self.send(at, FeedId(0), &sentence);
        }
        self.watch_handles(self.now, Input::Tick);
    }

    fn rmc(&self, antenna: Local, way: Local) -> String {
        let position = self.plane().to_position(antenna);
        let minutes = |deg: f64, width: usize| {
            let units = (deg.abs() * 6_000_000.0).round() as u64;
            let (whole, minutes) = (units / 6_000_000, (units % 6_000_000) as f64 / 100_000.0);
            format!("{whole:0width$}{minutes:08.5}")
        };
        let seconds = self.now.0 / 1000 % 86_400;
        let today = jiff::Timestamp::from_millisecond(self.now.0).expect("a date").strftime("%d%m%y");
        format!(
            "GPRMC,{:02}{:02}{:02}.00,A,{},N,{},W,{:.2},{:.1},{today},,,A",
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60,
            minutes(position.lat_deg(), 2),
            minutes(position.lon_deg(), 3),
            Knots::from_mps(way.length_m()).0,
            way.bearing().degrees(),
        )
    }

    /// As [`Self::lie_for`], while the receiver reports an HDOP of 7.
    pub fn lie_by_poor_satellites(&mut self, seconds: i64, place: impl Fn(i64) -> Local) {
        for begun in (0..seconds).step_by(5) {
            self.say("GPGSA,A,3,04,05,09,12,,,,,,,,,9.5,7.0,6.4");
            self.lie_for(5, |s| place(begun + s));
        }
    }

    /// Sends one sentence without `$` and checksum, now.
    pub fn say(&mut self, body: &str) {
        self.send(self.now, FeedId(0), body);
    }

    /// Sends bytes as they are, now.
    pub fn raw(&mut self, bytes: &[u8]) {
        self.watch_handles(self.now, Input::Line { feed: FeedId(0), bytes });
    }

    /// Another vessel's transponder reports: class B, ITU-R M.1371 message 18, packed by hand.
    pub fn vessel(&mut self, mmsi: u32, place: Local, sog_kn: f64, cog_deg: f64) {
        let position = self.plane().to_position(place);
        let minutes = |degrees: f64| (degrees * 600_000.0).round() as i64;
        // Type, repeat, number, reserved, speed, accuracy, longitude, latitude, course, heading, second, the rest.
        let fields: [(u32, i64); 12] = [
            (6, 18),
            (2, 0),
            (30, mmsi.into()),
            (8, 0),
            (10, (sog_kn * 10.0).round() as i64),
            (1, 0),
            (28, minutes(position.lon_deg())),
            (27, minutes(position.lat_deg())),
            (12, (cog_deg * 10.0).round() as i64),
            (9, 511),
            (6, 60),
            (29, 0),
        ];
        let bits: Vec<bool> = fields
            .iter()
            .flat_map(|(width, value)| (0..*width).rev().map(move |bit| value >> bit & 1 == 1))
            .collect();
        let armour = |six: &[bool]| {
            let value = six.iter().fold(0_u8, |value, bit| value << 1 | u8::from(*bit));
            char::from(if value < 40 { value + 48 } else { value + 56 })
        };
        let payload: String = bits.chunks(6).map(armour).collect();
        let body = format!("AIVDM,1,1,,B,{payload},0");
        let line = format!("!{body}*{:02X}", checksum::xor(body.as_bytes()));
        self.watch_handles(self.now, Input::Line { feed: FeedId(0), bytes: line.as_bytes() });
    }

    fn send(&mut self, at: WatchTime, feed: FeedId, body: &str) {
        let line = format!("${body}*{:02X}", checksum::xor(body.as_bytes()));
        self.watch_handles(at, Input::Line { feed, bytes: line.as_bytes() });
    }

    pub fn crew(&mut self, command: Command) -> Vec<Output> {
        self.event(Event::Crew(command))
    }

    pub fn event(&mut self, event: Event) -> Vec<Output> {
        let before = self.outputs.len();
        self.watch_handles(self.now, Input::Event(event));
        self.outputs[before..]
            .iter()
            .filter(|o| !matches!(o, Output::Alert(_) | Output::Sound { .. }))
            .cloned()
            .collect()
    }

    /// The lid is closed for a while.
    pub fn sleep_for(&mut self, span: Span) {
        let from = self.now;
        self.now += span;
        self.event(Event::Gap { from });
    }

    /// Time passes and nobody says so.
    pub fn jump_without_notice(&mut self, span: Span) {
        self.now += span;
    }

    fn watch_handles(&mut self, at: WatchTime, input: Input<'_>) {
        let before = self.outputs.len();
        if let Some(recorder) = &self.recorder {
            match &input {
                Input::Line { feed, bytes } => {
                    recorder.line(["masthead", "spare"][usize::from(feed.0)], at, bytes)
                }
                Input::Event(event) => recorder.event(at, event),
                Input::Tick => {}
            }
        }
        self.watch.handle_into(at, input, &mut self.outputs);
        for output in &self.outputs[before..] {
            if let (Some(recorder), Output::Alert(change)) = (&self.recorder, output) {
                recorder.alert(change);
            }
        }
    }

    pub fn snapshot(&self) -> Snapshot {
        self.watch.snapshot()
    }

    /// Everything the watch wanted done or known so far.
    pub fn outputs(&self) -> &[Output] {
        &self.outputs
    }

    /// Every change of an alert so far.
    pub fn changes(&self) -> Vec<AlertChange> {
        self.outputs
            .iter()
            .filter_map(|o| match o {
                Output::Alert(change) => Some(change.clone()),
                _ => None,
            })
            .collect()
    }

    /// Kinds raised so far.
    pub fn raised(&self) -> Vec<AlertKind> {
        self.changes().iter().filter(|c| c.change == Change::Raised).map(|c| c.alert.kind).collect()
    }

    pub fn raised_of(&self, kind: AlertKind) -> Option<AlertChange> {
        self.change_of(kind, Change::Raised)
    }

    pub fn change_of(&self, kind: AlertKind, change: Change) -> Option<AlertChange> {
        self.changes().into_iter().find(|c| c.alert.kind == kind && c.change == change)
    }

    pub fn active(&self, kind: AlertKind) -> Option<Alert> {
        self.snapshot().alerts.into_iter().find(|a| a.kind == kind)
    }
}
