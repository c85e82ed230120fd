//! `ride.toml`: one stay at anchor, complete enough to judge its log again.

use std::fmt::Write as _;

use super::Read;
use super::berth_tables::{berth_toml, read_berth};
use super::boat_file::{SourceIs, read_feeds};
use super::keys;
use super::problem::Problems;
use super::reader::{Log, Table};
use super::settings::{line, quoted, read_position, read_shared, toml_time, write_shared};
use super::wind_tables::{read_way_out, read_winds, way_out_toml, winds_toml};
use crate::watch::alert::AlertKind;
use crate::watch::boat::{Berth, FeedSettings, Settings};
use crate::watch::forecast::Forecast;
use crate::watch::geo::Position;
use crate::watch::input::{MarkEntered, TideEntered, TurnKind, TypedTurn};
use crate::watch::units::{Metres, WatchTime};
use crate::watch::way_out::WayOut;

/// Everything that `ride.toml` says.
#[derive(Clone, Debug, PartialEq)]
pub struct RideFile {
    /// Name of the place.
    pub place: String,
    /// When the anchor was let go.
    pub began: Option<WatchTime>,
    /// When she was brought up.
    pub brought_up: Option<WatchTime>,
    /// Since when she is weighing; `None` while she is not.
    pub weighing: Option<WatchTime>,
    /// When the anchor was aweigh; `None` while the ride lasts.
    pub ended: Option<WatchTime>,
    /// Boat, gear, limits and feeds, as they were.
    pub settings: Settings,
    /// Rode out.
    pub veered: Option<Metres>,
    /// Where the anchor lies.
    pub drop: Option<DropMark>,
    /// Up to when all this is so: the time of the last act that is in it.
    pub noted: Option<WatchTime>,
    /// How often the watch over this ride has gone from one machine to another, and one.
    pub term: u32,
    /// The machine that keeps it; empty: the one that wrote this.
    pub keeper: String,
    /// The alerts that stand, and where each stands.
    pub alerts: Vec<(AlertKind, Stands)>,
    /// Where the height of tide comes from.
    pub tide: TideEntered,
    /// The wind by the hour that was entered.
    pub winds: Option<Forecast>,
    /// The crew's way out.
    pub way_out: Option<WayOut>,
    /// What is known of the berth.
    pub berth: Berth,
    /// Marks to take bearings of, transits after the marks of which they are made; none is entered from the bow.
    pub marks: Vec<(String, MarkEntered)>,
}

/// Where an alert stands, as far as `ride.toml` says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// Nobody has answered it.
    Waiting,
    /// The crew knows.
    Acknowledged,
}

/// Where and when the anchor went down, and in what depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropMark {
    /// The drop point.
    pub position: Position,
    /// When.
    pub time: Option<WatchTime>,
    /// Depth of water there and then, from the surface.
    pub depth: Option<Metres>,
}

impl Default for RideFile {
    /// A ride of the middling sloop of which nothing is known.
    fn default() -> Self {
        Self {
            place: String::new(),
            began: None,
            brought_up: None,
            weighing: None,
            noted: None,
            term: 1,
            keeper: String::new(),
            alerts: Vec::new(),
            ended: None,
            settings: Settings::default(),
            veered: None,
            drop: None,
            tide: TideEntered::Nothing,
            winds: None,
            way_out: None,
            berth: Berth::default(),
            marks: Vec::new(),
        }
    }
}

/// Reads `ride.toml`. `file` is its name as it stands in messages.
///
/// # Errors
/// Everything wrong with it: what is not TOML, unknown keys, values out of range, values that contradict each other.
pub fn read_ride(text: &str, file: &str) -> Result<Read<RideFile>, Problems> {
    let (mut log, mut doc) = Log::parse(text);
    let shared = read_shared(&mut log, &mut doc);
    let mut rode = shared.rode;
    let veered = rode.number(&mut log, &keys::VEERED_M);
    if let Some((length, place)) = &veered {
        doubt_veered(&mut log, *length, place.clone(), &shared.settings);
    }
    rode.finish(&mut log);

    let mut ride = doc.table(&mut log, "ride");
    let place = ride.text(&mut log, "place").map_or_else(String::new, |(place, _)| place);
    let began = ride.time(&mut log, "began");
    let brought_up = ride.time(&mut log, "brought_up");
    let weighing = ride.time(&mut log, "weighing");
    let noted = ride.time(&mut log, "noted");
    let ended = ride.time(&mut log, "ended");
    let term = ride.number(&mut log, &keys::TERM).map_or(1, |(term, _)| term as u32);
    let keeper = ride.text(&mut log, "keeper").map_or_else(String::new, |(keeper, _)| keeper);
    let station = ride.text(&mut log, "tide_station").map(|(id, _)| id);
    let way_out = read_way_out(&mut log, &mut ride);
    ride.finish(&mut log);

    let mut settings = shared.settings;
    settings.feeds = read_feeds(&mut log, &mut doc, SourceIs::Optional)
        .into_iter()
        .map(|feed| FeedSettings { name: feed.name, priority: feed.priority })
        .collect();
    let value = RideFile {
        place,
        began,
        brought_up,
        weighing,
        noted,
        ended,
        term,
        keeper,
        settings,
        veered: veered.map(|(length, _)| Metres(length)),
        drop: read_drop(&mut log, &mut doc),
        tide: read_tide(&mut log, &mut doc, station),
        winds: read_winds(&mut log, &mut doc),
        way_out,
        berth: read_berth(&mut log, &mut doc),
        marks: read_marks(&mut log, &mut doc),
        alerts: read_alerts(&mut log, &mut doc),
    };
    doc.finish(&mut log);
    Ok(Read { value, doubts: log.judge(file)? })
}

fn doubt_veered(log: &mut Log, length_m: f64, place: std::ops::Range<usize>, settings: &Settings) {
    let carried_m = settings.tackle.chain.0 + settings.tackle.rope.0;
    if length_m > carried_m {
        let what = format!("veered_m = {length_m}, but she carries {carried_m} m of rode");
        log.odd(place, "rode.veered_m", what);
    }
}

fn read_drop(log: &mut Log, doc: &mut Table) -> Option<DropMark> {
    let mut table = doc.table_if_any(log, "drop")?;
    let position = read_position(log, &mut table);
    let time = table.time(log, "time");
    let depth = table.number(log, &keys::DEPTH_M).map(|(depth, _)| Metres(depth));
    if position.is_none() {
        log.wrong(table.place.clone(), "drop", "[drop] needs lat and lon, in degrees".into());
    }
    table.finish(log);
    Some(DropMark { position: position?, time, depth })
}

fn read_tide(log: &mut Log, doc: &mut Table, station: Option<String>) -> TideEntered {
    let tables = doc.tables(log, "tide");
    if let (Some(table), Some(_)) = (tables.first(), &station) {
        let what = "there is a tide_station and a table of the tide; keep one of them";
        log.wrong(table.place.clone(), "tide", what.into());
    }
    let mut turns: Vec<TypedTurn> = tables.into_iter().filter_map(|table| read_turn(log, table)).collect();
    turns.sort_by_key(|turn| turn.time);
    match station {
        Some(id) => TideEntered::Station { id },
        None if turns.is_empty() => TideEntered::Nothing,
        None => TideEntered::Table { turns },
    }
}

fn read_turn(log: &mut Log, mut table: Table) -> Option<TypedTurn> {
    let time = table.time(log, "time");
    let height = table.number(log, &keys::HEIGHT_M);
    let kind = table.text(log, "kind").and_then(|(kind, place)| match kind.as_str() {
        "HW" => Some(TurnKind::High),
        "LW" => Some(TurnKind::Low),
        _ => {
            log.wrong(place, "tide.kind", format!("kind is {kind:?}; it must be \"HW\" or \"LW\""));
            None
        }
    });
    if time.is_none() || height.is_none() || kind.is_none() {
        let what = "a turn of the tide needs time, height_m and kind (\"HW\" or \"LW\")";
        log.wrong(table.place.clone(), "tide", what.into());
    }
    table.finish(log);
    Some(TypedTurn { time: time?, height: Metres(height?.0), kind: kind? })
}

fn read_marks(log: &mut Log, doc: &mut Table) -> Vec<(String, MarkEntered)> {
    let tables = doc.tables(log, "mark");
    let mut marks: Vec<(String, MarkEntered)> =
        tables.into_iter().filter_map(|table| read_mark(log, table)).collect();
    marks.sort_by_key(|(_, entered)| matches!(entered, MarkEntered::InLine { .. }));
    marks
}

fn read_alerts(log: &mut Log, doc: &mut Table) -> Vec<(AlertKind, Stands)> {
    let tables = doc.tables(log, "alert");
    tables.into_iter().filter_map(|table| read_alert(log, table)).collect()
}

fn read_alert(log: &mut Log, mut table: Table) -> Option<(AlertKind, Stands)> {
    let kind = table.text(log, "kind").map(|(name, _)| name);
    let kind = kind.and_then(|name| AlertKind::ALL.into_iter().find(|kind| kind.name() == name));
    let stands = table.text(log, "stands").and_then(|(word, _)| match word.as_str() {
        "waiting" => Some(Stands::Waiting),
        "acknowledged" => Some(Stands::Acknowledged),
        _ => None,
    });
    if kind.is_none() || stands.is_none() {
        let what = "an alert needs kind, the name of one, and stands (\"waiting\" or \"acknowledged\")";
        log.wrong(table.place.clone(), "alert", what.into());
    }
    table.finish(log);
    kind.zip(stands)
}

fn read_mark(log: &mut Log, mut table: Table) -> Option<(String, MarkEntered)> {
    let name = table.text(log, "name").map(|(name, _)| name);
    let (lat, lon) = (table.number(log, &keys::LAT), table.number(log, &keys::LON));
    let (near, far) = (table.text(log, "near"), table.text(log, "far"));
    let entered = match (lat, lon, near, far) {
        (Some((lat, _)), Some((lon, _)), None, None) => {
            Position::new(lat, lon).ok().map(|position| MarkEntered::Position { position })
        }
        (None, None, Some((near, _)), Some((far, _))) => Some(MarkEntered::InLine { near, far }),
        _ => None,
    };
    if name.is_none() || entered.is_none() {
        let what =
            "a mark needs a name, and lat and lon in degrees, or near and far, the names of two others";
        log.wrong(table.place.clone(), "mark", what.into());
    }
    table.finish(log);
    name.zip(entered)
}

impl RideFile {
    /// The file's text, with every value. Reading it gives the same again.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut out = String::from("# One stay at anchor. Lengths in metres, times in UTC.\n\n[ride]\n");
        line(&mut out, "place", &quoted(&self.place));
        for (key, time) in [
            ("began", self.began),
            ("brought_up", self.brought_up),
            ("weighing", self.weighing),
            ("noted", self.noted),
            ("ended", self.ended),
        ] {
            if let Some(time) = time {
                line(&mut out, key, &toml_time(time));
            }
        }
        if self.term > 1 {
            line(&mut out, "term", &self.term.to_string());
        }
        if !self.keeper.is_empty() {
            line(&mut out, "keeper", &quoted(&self.keeper));
        }
        if let TideEntered::Station { id } = &self.tide {
            line(&mut out, "tide_station", &quoted(id));
        }
        out.push_str(&way_out_toml(self.way_out));
        out.push('\n');
        write_shared(&mut out, &self.settings, self.veered);
        if let Some(drop) = &self.drop {
            write_drop(&mut out, drop);
        }
        for feed in &self.settings.feeds {
            let _ = writeln!(out, "[[feed]]\nname = {}\npriority = {}\n", quoted(&feed.name), feed.priority);
        }
        if let TideEntered::Table { turns } = &self.tide {
            turns.iter().for_each(|turn| write_turn(&mut out, turn));
        }
        out.push_str(&berth_toml(&self.berth));
        out.push_str(&winds_toml(self.winds.as_ref()));
        self.marks.iter().for_each(|(name, entered)| write_mark(&mut out, name, entered));
        for (kind, stands) in &self.alerts {
            let stands = if *stands == Stands::Waiting { "waiting" } else { "acknowledged" };
            let _ = writeln!(out, "[[alert]]\nkind = {}\nstands = {}\n", quoted(kind.name()), quoted(stands));
        }
        out
    }
}

fn write_drop(out: &mut String, drop: &DropMark) {
    out.push_str("[drop]\n");
    line(out, "lat", &drop.position.lat_deg().to_string());
    line(out, "lon", &drop.position.lon_deg().to_string());
    if let Some(time) = drop.time {
        line(out, "time", &toml_time(time));
    }
    if let Some(depth) = drop.depth {
        line(out, "depth_m", &depth.0.to_string());
    }
    out.push('\n');
}

fn write_turn(out: &mut String, turn: &TypedTurn) {
    let kind = if turn.kind == TurnKind::High { "HW" } else { "LW" };
    let time = toml_time(turn.time);
    let _ = writeln!(out, "[[tide]]\ntime = {time}\nheight_m = {}\nkind = \"{kind}\"\n", turn.height.0);
}

fn write_mark(out: &mut String, name: &str, entered: &MarkEntered) {
    let words = match entered {
        MarkEntered::Position { position } => {
            format!("lat = {}\nlon = {}", position.lat_deg(), position.lon_deg())
        }
        MarkEntered::InLine { near, far } => format!("near = {}\nfar = {}", quoted(near), quoted(far)),
        // It means nothing but at the moment when it was entered.
        MarkEntered::FromBow { .. } => return,
    };
    let _ = writeln!(out, "[[mark]]\nname = {}\n{words}\n", quoted(name));
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::keys::numbers;
    use super::*;
    use crate::watch::boat::ranges::Range;
    use crate::watch::boat::{Hull, RodeMark, Sector, Snubber};
    use crate::watch::forecast::WindThen;
    use crate::watch::rode::{OpenWater, Seabed, parse_fetch};
    use crate::watch::slope::Slope;
    use crate::watch::units::{Knots, TrueBearing};

    const NIGHT: &str = r#"
[ride]
place = "Hollow Ness"
began = 2026-06-02T20:02:00Z

[boat]
name = "Marram"
loa_m = 10.4
draft_m = 1.75
antenna_aft_of_bow_m = 9.2

[rode]
chain_mm = 8
chain_m = 60
veered_m = 35

[drop]
lat = 50.2031
lon = -3.7712
time = "2026-06-02T20:02:00Z"
depth_m = 4.6

[[tide]]
time = 2026-06-03T02:25:00Z
height_m = 0.8
kind = "LW"

[[tide]]
time = 2026-06-02T20:10:00Z
height_m = 4.4
kind = "HW"

[limits]
circle_m = 45
"#;

    #[test]
    fn a_ride_says_what_is_in_it() {
        let Read { value, doubts } = read_ride(NIGHT, "ride.toml").unwrap();
        assert!(doubts.is_empty(), "{doubts}");
        assert_eq!((value.place.as_str(), value.veered), ("Hollow Ness", Some(Metres(35.0))));
        let drop = value.drop.unwrap();
        assert_eq!((drop.position.lat_deg(), drop.depth), (50.2031, Some(Metres(4.6))));
        assert_eq!(drop.time, value.began);
        assert_eq!(value.settings.limits.circle, Some(Metres(45.0)));
        let TideEntered::Table { turns } = value.tide else { panic!("no table") };
        assert_eq!(turns.iter().map(|turn| turn.kind).collect::<Vec<_>>(), [TurnKind::High, TurnKind::Low]);
    }

    #[test]
    fn faults_of_a_ride_name_key_and_line() {
        for (text, entered) in [
            ("[rode]\nveered_m = -3\n", "line 2: veered_m is -3; it must lie within 0 to 1000 m"),
            ("[drop]\nlat = 50\n", "line 1: [drop] needs lat and lon"),
            ("[drop]\nlat = 99\nlon = 1\n", "line 2: lat is 99; it must lie within -90 to 90°"),
            (
                "[drop]\nlat = 9\nlon = 1\ntime = 2026-06-02T20:02:00\n",
                "line 4: time is 2026-06-02T20:02:00; it must",
            ),
            ("[[tide]]\nheight_m = 1\nkind = \"HW\"\n", "line 1: a turn of the tide needs"),
            ("[[mark]]\nname = \"beacon\"\nlat = 5\n", "line 1: a mark needs a name"),
            ("[ride]\nplaice = \"x\"\n", "line 2: unknown key \"plaice\"; do you mean place?"),
        ] {
            let problems = read_ride(text, "ride.toml").unwrap_err().to_string();
            assert!(problems.contains(entered), "{problems}");
        }
    }

    #[test]
    fn more_rode_out_than_she_carries_is_doubted() {
        let doubts = read_ride("[boat]\nloa_m = 9\ndraft_m = 1\n[rode]\nchain_m = 40\nveered_m = 60\n", "r")
            .unwrap()
            .doubts;
        assert!(doubts.to_string().contains("carries 40 m"), "{doubts}");
    }

    fn position() -> impl Strategy<Value = Position> {
        (-90.0..=90.0, -180.0..=180.0).prop_map(|(lat, lon)| Position::new(lat, lon).unwrap())
    }

    fn moment() -> impl Strategy<Value = WatchTime> {
        (0_i64..4_102_444_800_000).prop_map(WatchTime)
    }

    fn text() -> impl Strategy<Value = String> {
        "[^\\p{C}]{0,40}"
    }

    /// Settings within their ranges that do not contradict each other.
    fn settings() -> impl Strategy<Value = Settings> {
        let shares = prop::collection::vec(0.0..=1.0, numbers().count());
        let sector = (0.0..360.0, 0.0..360.0)
            .prop_map(|(from, to)| Sector { from: TrueBearing::new(from), to: TrueBearing::new(to) });
        let feed = ("[a-zA-Z0-9_-]{1,15}", 0_u8..=99);
        let feeds = prop::collection::btree_map(feed.0, feed.1, 0..4);
        (shares, text(), prop::collection::vec(sector, 0..3), feeds).prop_map(
            |(shares, name, barred, feeds)| {
                let mut settings = Settings::default();
                for (number, share) in numbers().zip(shares) {
                    let Range { least, most, .. } = number.bounds.range;
                    let value = least + share * (most - least);
                    // Times are kept in whole milliseconds.
                    number.set(&mut settings, value);
                }
                let (boat, limits) = (&mut settings.boat, &mut settings.limits);
                boat.name = name;
                boat.hull = Hull::Trimaran;
                boat.antenna_aft = boat.antenna_aft.min(boat.loa);
                boat.antenna_starboard = Metres(boat.beam.0 / 3.0);
                limits.gust_high = limits.gust_high.max(limits.wind_high);
                limits.fix_lost_alarm_after = limits.fix_lost_after + limits.fix_lost_alarm_after;
                limits.fix_lost_alarm_after.0 = limits.fix_lost_alarm_after.0.min(600_000);
                limits.barred = barred;
                settings.feeds =
                    feeds.into_iter().map(|(name, priority)| FeedSettings { name, priority }).collect();
                settings
            },
        )
    }

    fn tide() -> impl Strategy<Value = TideEntered> {
        let turns = prop::collection::btree_map(moment(), (-10.0..=25.0, any::<bool>()), 1..5);
        prop_oneof![
            Just(TideEntered::Nothing),
            text().prop_map(|id| TideEntered::Station { id }),
            turns.prop_map(|turns| TideEntered::Table {
                turns: turns
                    .into_iter()
                    .map(|(time, (height, high))| TypedTurn {
                        time,
                        height: Metres(height),
                        kind: if high { TurnKind::High } else { TurnKind::Low },
                    })
                    .collect()
            }),
        ]
    }

    fn marks() -> impl Strategy<Value = Vec<(String, MarkEntered)>> {
        let at = (text(), position()).prop_map(|(name, position)| (name, MarkEntered::Position { position }));
        let line =
            (text(), text(), text()).prop_map(|(name, near, far)| (name, MarkEntered::InLine { near, far }));
        (prop::collection::vec(at, 0..3), prop::collection::vec(line, 0..2))
            .prop_map(|(at, line)| [at, line].concat())
    }

    fn winds() -> impl Strategy<Value = Option<Forecast>> {
        let wind = (prop::option::of(0.0..360.0), 0.0..=150.0, prop::option::of(0.0..=220.0));
        prop::collection::btree_map(moment(), wind, 0..4).prop_map(|winds| {
            let then = |(at, (from, mean, gust)): (WatchTime, (Option<f64>, f64, Option<f64>))| WindThen {
                at,
                from: from.map(TrueBearing::new),
                mean: Knots(mean),
                gust: gust.map(Knots),
            };
            Forecast::try_from(winds.into_iter().map(then).collect::<Vec<_>>()).ok()
        })
    }

    fn ride() -> impl Strategy<Value = RideFile> {
        let drop = (position(), prop::option::of(moment()), prop::option::of(0.0..=300.0))
            .prop_map(|(position, time, depth)| DropMark { position, time, depth: depth.map(Metres) });
        let mark = (0.0..=1000.0, text()).prop_map(|(at, look)| RodeMark { at: Metres(at), look });
        let times = (prop::option::of(moment()), prop::option::of(moment()), prop::option::of(moment()));
        let marks = prop::collection::vec(mark, 0..3);
        let veered = prop::option::of(0.0..=1000.0);
        (text(), times, settings(), marks, veered, prop::option::of(drop), (tide(), winds()), self::marks())
            .prop_map(
                |(
                    place,
                    (began, brought_up, ended),
                    mut settings,
                    mut on_rode,
                    veered,
                    drop,
                    (tide, winds),
                    marks,
                )| {
                    on_rode.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
                    settings.marks = on_rode;
                    let veered = veered.map(Metres);
                    let (weighing, noted) = (brought_up, ended);
                    let alerts =
                        vec![(AlertKind::Drag, Stands::Waiting), (AlertKind::FixLost, Stands::Acknowledged)];
                    RideFile {
                        place,
                        began,
                        brought_up,
                        weighing,
                        noted,
                        ended,
                        settings,
                        veered,
                        drop,
                        tide,
                        way_out: winds.as_ref().and_then(|winds| {
                            Some(WayOut { course: winds.winds()[0].from?, distance_nm: 0.4 })
                        }),
                        berth: a_berth(winds.is_some(), brought_up.is_some()),
                        winds,
                        marks,
                        alerts,
                        term: if brought_up.is_some() { 3 } else { 1 },
                        keeper: if brought_up.is_some() { "nav".into() } else { String::new() },
                    }
                },
            )
    }

    /// Nothing known of the berth, all of it, or what a place has.
    fn a_berth(known: bool, rigged: bool) -> Berth {
        let open = OpenWater {
            fetch: parse_fetch("SW 2, 131 0.25, 0.1").unwrap(),
            depth: rigged.then_some(Metres(6.0)),
        };
        let snubber = rigged.then_some(Snubber { size_mm: 12.0, length: Metres(6.5) });
        let slope = rigged.then(|| Slope { falls_to: TrueBearing::new(120.0), gradient: 0.05 });
        let shore = vec![Sector { from: TrueBearing::new(20.0), to: TrueBearing::new(110.5) }];
        let berth = Berth { seabed: Some(Seabed::Mud), open, shore, slope, snubber, bridle: rigged };
        if known { berth } else { Berth::default() }
    }

    proptest! {
        #[test]
        fn a_ride_comes_back_as_it_was_written(ride in ride()) {
            let text = ride.to_toml();
            let read = read_ride(&text, "ride.toml").map_err(|problems| {
                TestCaseError::fail(format!("{problems}\n{text}"))
            })?;
            prop_assert_eq!(read.value, ride);
        }

        #[test]
        fn no_text_panics(text in any::<String>()) {
            let _ = read_ride(&text, "ride.toml").map_err(|problems| problems.to_string());
        }

        #[test]
        fn no_mutilated_ride_panics(at in 0..NIGHT.len(), cut in 0..40_usize, put in "[-\\[\\]{}=\"'0-9a-zä\n.:]{0,9}") {
            let end = (at + cut).min(NIGHT.len());
            let text = format!("{}{put}{}", &NIGHT[..at], &NIGHT[end..]);
            let _ = read_ride(&text, "ride.toml").map_err(|problems| problems.to_string());
        }
    }
}
