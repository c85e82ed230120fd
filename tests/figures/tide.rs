//! Height of tide against numbers from outside this program. Sources and tolerances: `tests/reference/tide.md`.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::tz::Offset;
use nightrode::watch::geo::Position;
use nightrode::watch::tide::harmonic::{Constant, Harmonic, modulation};
use nightrode::watch::tide::stations::Stations;
use nightrode::watch::tide::turns::{Rule, TurnTable};
use nightrode::watch::tide::typed::{OddIntervals, TableClock, parse, parse_at};
use nightrode::watch::tide::{Tide, Turn, TurnKind};
use nightrode::watch::units::{Metres, Span, WatchTime};
use proptest::prelude::*;

fn reference(name: &str) -> String {
    let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The rows of a reference table without quoted fields, each by column name.
pub(super) fn rows(name: &str) -> Vec<BTreeMap<String, String>> {
    let text = reference(name);
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let row =
        |line: &str| header.iter().map(ToString::to_string).zip(line.split(',').map(str::to_owned)).collect();
    lines.map(row).collect()
}

pub(super) fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|e| panic!("{column}: {e}"))
}

pub(super) fn time(text: &str) -> WatchTime {
    WatchTime(text.parse::<Timestamp>().expect("an RFC 3339 time").as_millisecond())
}

fn minutes(minutes: f64) -> WatchTime {
    WatchTime((minutes * 60_000.0).round() as i64)
}

fn turn(at: WatchTime, height: f64, kind: TurnKind) -> Turn {
    Turn { at, height: Metres(height), kind }
}

/// A rise or fall from one turn to the next.
fn two_turns(t0: WatchTime, h0: f64, t1: WatchTime, h1: f64, rule: Rule) -> TurnTable {
    let (first, second) =
        if h0 > h1 { (TurnKind::High, TurnKind::Low) } else { (TurnKind::Low, TurnKind::High) };
    TurnTable::new(vec![turn(t0, h0, first), turn(t1, h1, second)], rule).expect("a rise or fall")
}

/// The made-up stations of the reference set.
pub(super) fn stations() -> BTreeMap<String, Harmonic> {
    let json: serde_json::Value = serde_json::from_str(&reference("tide_constituents.json")).expect("JSON");
    let stations = json["stations"].as_object().expect("stations");
    stations.iter().map(|(name, station)| (name.clone(), harmonic(station))).collect()
}

fn harmonic(station: &serde_json::Value) -> Harmonic {
    let constants: Vec<Constant> = station["constituents"]
        .as_object()
        .expect("constituents")
        .iter()
        .map(|(name, pair)| Constant {
            name: name.clone(),
            amplitude: Metres(pair[0].as_f64().expect("an amplitude")),
            lag_deg: pair[1].as_f64().expect("a lag"),
        })
        .collect();
    Harmonic::new(Metres(station["z0"].as_f64().expect("z0")), &constants)
}

fn degrees_apart(a: f64, b: f64) -> f64 {
    ((a - b + 180.0).rem_euclid(360.0) - 180.0).abs()
}

/// Keeps the worst of many differences, so that a test can state it.
#[derive(Default)]
struct Worst(f64, String);

impl Worst {
    fn see(&mut self, difference: f64, what: impl FnOnce() -> String) {
        assert!(difference.is_finite(), "{}", what());
        if difference > self.0 {
            *self = Self(difference, what());
        }
    }

    fn within(&self, tolerance: f64, of: &str) {
        println!("{of}: worst {:.6} ({})", self.0, self.1);
        assert!(self.0 <= tolerance, "{of}: {} at {}", self.0, self.1);
    }
}

#[test]
fn cosine_and_twelfths_agree_with_the_reference() {
    let (mut heights, mut times) = (Worst::default(), Worst::default());
    for row in rows("tide_simple.csv") {
        let (h0, h1) = (number(&row, "h0_m"), number(&row, "h1_m"));
        let (t0, t1) = (minutes(number(&row, "t0_min")), minutes(number(&row, "t1_min")));
        let t = minutes(number(&row, "t_min"));
        for (rule, column) in [(Rule::Cosine, "h_cosine"), (Rule::Twelfths, "h_twelfths")] {
            let height = two_turns(t0, h0, t1, h1, rule).height_at(t).expect("within the table");
            heights.see((height.0 - number(&row, column)).abs(), || format!("{row:?}"));
        }
        let tide = Tide::from_table(two_turns(t0, h0, t1, h1, Rule::Cosine));
        let level = Metres(number(&row, "level_m"));
        // A level equal to the turn's own is reached nowhere else.
        if let Some(at) = tide.next_passing(level, t0, t1) {
            times.see((at.0 as f64 / 60_000.0 - number(&row, "t_level_cosine_min")).abs(), || {
                format!("{row:?}")
            });
        } else {
            panic!("{row:?}");
        }
    }
    heights.within(1e-6, "height between turns, m");
    times.within(1e-3, "time of a level, min");
}

#[test]
fn us_power_squadrons_advanced_piloting_chapter_7_example_1() {
    // Boston HW 1111 10.0 ft, LW 1710 0.5 ft; Rainsford Island: heights 0.95 of it, HW +0 min, LW +2 min. The book's
    // height at 1400 is 5.0 ft: it takes "nearly 3 hours after high water" for half the range.
    const FOOT: f64 = 0.3048;
    let at = |hour: f64, minute: f64| minutes(hour * 60.0 + minute);
    for (rule, ours_ft) in [(Rule::Cosine, 5.44), (Rule::Twelfths, 5.42)] {
        let table = two_turns(at(11.0, 11.0), 9.5 * FOOT, at(17.0, 12.0), 0.475 * FOOT, rule);
        let feet = table.height_at(at(14.0, 0.0)).expect("between the turns").0 / FOOT;
        assert!((feet - ours_ft).abs() < 0.005, "{feet}");
        assert!((feet - 5.0).abs() < 0.5, "{feet}");
    }
}

#[test]
fn heights_agree_with_two_schureman_libraries() {
    let stations = stations();
    let (mut schureman, mut any) = (Worst::default(), Worst::default());
    for row in rows("tide_height.csv") {
        let height = stations[&row["station"]].height_at(time(&row["t_utc"])).0;
        let apart = |column| (height - number(&row, column)).abs();
        schureman.see(apart("h_pytides2").min(apart("h_pytmd_fes")), || format!("{row:?}"));
        any.see(apart("h_utide").max(apart("h_uptide")).max(apart("h_pytmd_otis")), || format!("{row:?}"));
    }
    schureman.within(0.002, "height against pytides2 or pyTMD FES, m");
    any.within(0.030, "height against utide, uptide and pyTMD OTIS, m");
}

#[test]
fn node_factors_and_arguments_agree_with_two_libraries() {
    let (mut f, mut u, mut v) = (Worst::default(), Worst::default(), Worst::default());
    for row in rows("tide_nodal.csv") {
        let ours = modulation(&row["constituent"], time(&row["t_utc"])).expect("a known name");
        // The nearer of the two: they differ from each other by up to 0.0016 in f (K2).
        let f_apart = |library: &str| (ours.factor - number(&row, &format!("f_{library}"))).abs();
        let u_apart = |library: &str| degrees_apart(ours.angle_deg, number(&row, &format!("u_{library}")));
        f.see(f_apart("pytides2").min(f_apart("pytmd_fes")), || format!("{row:?}"));
        u.see(u_apart("pytides2").min(u_apart("pytmd_fes")), || format!("{row:?}"));
        v.see(degrees_apart(ours.argument_deg, number(&row, "V_pytides2")), || format!("{row:?}"));
    }
    f.within(0.001, "node factor f");
    u.within(0.05, "node angle u, degrees");
    v.within(0.05, "equilibrium argument V, degrees");
}

#[test]
fn every_constituent_that_the_stations_use_agrees_with_pytmd() {
    // Where the library follows another convention:
    let from_perihelion = ["SA"];
    // The IHO's list, Schureman and Foreman add half a turn; NOAA's and TICON-4's phases agree with them.
    let half_turn = ["M3"];
    // M1: the library counts the perigee in V or in u by an option. GAMMA2: its own correction, here M2's. TAU1: the
    // IHO's list has K1's correction. MSK6: the library takes K2's angle off, though V adds it.
    let other_node_rule = ["M1", "GAMMA2", "TAU1", "MSK6"];
    let (mut f, mut u, mut v) = (Worst::default(), Worst::default(), Worst::default());
    for row in rows("tide_names.csv") {
        let name = row["constituent"].as_str();
        let ours = modulation(name, time(&row["t_utc"])).unwrap_or_else(|| panic!("{name} is unknown"));
        let half = if half_turn.contains(&name) { 180.0 } else { 0.0 };
        if !from_perihelion.contains(&name) {
            v.see(degrees_apart(ours.argument_deg + half, number(&row, "V_deg")), || format!("{row:?}"));
        }
        if row["rule"] == "1" && !other_node_rule.contains(&name) {
            f.see((ours.factor / number(&row, "f") - 1.0).abs(), || format!("{ours:?} {row:?}"));
            u.see(degrees_apart(ours.angle_deg, number(&row, "u_deg")), || format!("{ours:?} {row:?}"));
        }
    }
    v.within(0.05, "equilibrium argument V by name, degrees");
    f.within(0.005, "node factor f by name, relative");
    u.within(0.2, "node angle u by name, degrees");
}

#[test]
fn high_and_low_waters_agree_with_utide() {
    let mut reference: BTreeMap<String, Vec<Turn>> = BTreeMap::new();
    for row in rows("tide_extrema.csv") {
        let kind = if row["kind"] == "HW" { TurnKind::High } else { TurnKind::Low };
        reference.entry(row["station"].clone()).or_default().push(turn(
            time(&row["t_utc"]),
            number(&row, "h_m"),
            kind,
        ));
    }
    for (name, tide) in stations() {
        let theirs = &reference[&name];
        let (from, until) =
            (theirs[0].at - Span::from_mins(60), theirs[theirs.len() - 1].at + Span::from_mins(60));
        let ours = Tide::predicted(tide, from).turns_between(from, until);
        let (mut heights, mut times) = (Worst::default(), Worst::default());
        for (i, turn) in theirs.iter().enumerate() {
            let same = ours.iter().filter(|t| t.kind == turn.kind);
            let nearest = same.min_by_key(|t| t.at.since(turn.at).0.abs()).expect("a turn of that kind");
            heights.see((nearest.height.0 - turn.height.0).abs(), || turn.in_words(Span::ZERO));
            let beside = [i.checked_sub(1).map(|j| theirs[j]), theirs.get(i + 1).copied()];
            let weak = beside.iter().flatten().any(|b| (b.height.0 - turn.height.0).abs() < 0.1);
            if !weak {
                let minutes = nearest.at.since(turn.at).seconds().abs() / 60.0;
                times.see(minutes, || turn.in_words(Span::ZERO));
            }
        }
        heights.within(0.020, &format!("{name}: height of a turn, m"));
        times.within(if name == "diurnal" { 10.0 } else { 2.0 }, &format!("{name}: time of a turn, min"));
        if name != "diurnal" {
            assert_eq!(ours.len(), theirs.len());
        }
    }
}

#[test]
fn heights_from_the_curve_equal_heights_worked_out_one_by_one() {
    let from = time("2026-11-25T00:00:00Z");
    for (name, tide) in stations() {
        let curve = tide.curve(from, from + Span::from_mins(3 * 1440));
        let (mut heights, mut rates) = (Worst::default(), Worst::default());
        for i in 0..2000 {
            let t = from + Span(i * 129_371);
            let rate = tide.rate_at(t).0 - curve.rate_at(t).expect("within").0;
            heights.see((tide.height_at(t).0 - curve.height_at(t).expect("within").0).abs(), || {
                format!("{t:?}")
            });
            rates.see(rate.abs(), || format!("{t:?}"));
        }
        heights.within(2e-6, &format!("{name}: height on the curve, m"));
        rates.within(1e-4, &format!("{name}: rate on the curve, m/h"));
    }
}

#[test]
fn unknown_constituents_are_named_with_what_they_come_to() {
    let constant = |name: &str, amplitude| Constant {
        name: name.to_owned(),
        amplitude: Metres(amplitude),
        lag_deg: 0.0,
    };
    let tide =
        Harmonic::new(Metres(0.0), &[constant("M2", 1.0), constant("OO2", 0.025), constant("S3", 0.01)]);
    assert_eq!(tide.left_out().names, ["OO2", "S3"]);
    assert!((tide.left_out().amplitude.0 - 0.035).abs() < 1e-12);
    let tide = Tide::predicted(tide, WatchTime(0));
    assert_eq!(
        tide.cautions(),
        ["Constituents not known here: OO2, S3. Without them heights may be out by up to 4 cm."]
    );
}

/// The night of the examples: high water at 20:10, low at 02:25, high at 08:35.
fn night() -> Tide {
    let clock = TableClock { date: jiff::civil::date(2026, 7, 14), utc_offset: Offset::UTC };
    let typed = "HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6";
    Tide::from_table(parse(typed, clock, Rule::Cosine, OddIntervals::Refuse).expect("a table"))
}

#[test]
fn a_typed_table_is_honest_past_its_last_entry() {
    let tide = night();
    assert_eq!(tide.known_until(), Some(time("2026-07-15T08:35:00Z")));
    assert_eq!(tide.height_at(time("2026-07-15T08:35:01Z")), None);
    assert_eq!(tide.depth_at(Metres(5.0), time("2026-07-14T21:00:00Z"), time("2026-07-15T09:00:00Z")), None);
    let night = tide
        .extremes_between(time("2026-07-14T22:00:00Z"), time("2026-07-15T12:00:00Z"))
        .expect("some of it");
    assert_eq!(night.until, time("2026-07-15T08:35:00Z"));
    assert_eq!((night.least.at, night.least.height), (time("2026-07-15T02:25:00Z"), Metres(0.9)));
    assert_eq!(night.greatest.at, time("2026-07-15T08:35:00Z"));
    assert_eq!(tide.extremes_between(time("2026-07-15T09:00:00Z"), time("2026-07-15T12:00:00Z")), None);
    assert_eq!(
        tide.next_turn_after(time("2026-07-14T20:10:00Z")).map(|t| t.at),
        Some(time("2026-07-15T02:25:00Z"))
    );
    assert_eq!(tide.next_turn_after(time("2026-07-15T08:35:00Z")), None);
}

#[test]
fn a_table_taken_as_typed_says_so() {
    let clock = TableClock { date: jiff::civil::date(2026, 7, 14), utc_offset: Offset::UTC };
    let once_a_day =
        parse("HW 06:10 0.8, LW 18:30 0.1", clock, Rule::Cosine, OddIntervals::Accept).expect("a table");
    assert!(Tide::from_table(once_a_day).cautions()[0].contains("taken as typed"));
    assert!(night().cautions().is_empty());
}

#[test]
fn a_wrong_datum_does_not_change_the_depth() {
    let (tide, sounded_at) = (night(), time("2026-07-14T21:30:00Z"));
    let turns = tide.turns_between(WatchTime(0), WatchTime(i64::MAX));
    let raised = turns.iter().map(|t| Turn { height: t.height + Metres(1.7), ..*t }).collect();
    let raised = Tide::from_table(TurnTable::new(raised, Rule::Cosine).expect("a table"));
    for minutes in [0, 60, 200, 400, 600] {
        let t = sounded_at + Span::from_mins(minutes);
        let depth = |tide: &Tide| tide.depth_at(Metres(6.2), sounded_at, t).expect("known").0;
        assert!((depth(&tide) - depth(&raised)).abs() < 1e-9);
    }
}

#[test]
fn the_moment_of_a_level_is_found_rising_and_falling() {
    let tide = night();
    let (from, until) = (time("2026-07-14T21:00:00Z"), time("2026-07-15T08:00:00Z"));
    let falls = tide.next_passing(Metres(2.0), from, until).expect("it falls so far");
    let rises = tide.next_passing(Metres(2.0), falls + Span::from_secs(1), until).expect("it rises again");
    assert!(tide.rate_at(falls).expect("known").0 < 0.0 && tide.rate_at(rises).expect("known").0 > 0.0);
    for at in [falls, rises] {
        assert!((tide.height_at(at).expect("known").0 - 2.0).abs() < 1e-5);
    }
    assert_eq!(tide.next_passing(Metres(0.5), from, until), None);
}

#[test]
fn the_bundled_stations_all_read_and_their_tides_are_sane() {
    let stations = Stations::bundled().expect("the bundled table");
    assert_eq!(stations.len(), 5843);
    let about = time("2026-11-25T12:00:00Z");
    let mut left_out = Worst::default();
    for station in stations.iter().step_by(7) {
        let tide = stations.tide(&station.id, about).unwrap_or_else(|e| panic!("{}: {e}", station.id));
        for hours in 0..36 {
            let height = tide.height_at(about + Span::from_mins(60 * hours)).expect("known").0;
            assert!((-6.0..17.0).contains(&height), "{}: {height}", station.id);
        }
        assert!(tide.credit().is_some_and(|credit| !credit.is_empty()) && !tide.datum().is_empty());
        if let Ok(harmonic) = stations.harmonic(&station.id) {
            left_out
                .see(harmonic.left_out().amplitude.0, || format!("{} {:?}", station.id, harmonic.left_out()));
        }
    }
    left_out.within(0.12, "sum of the amplitudes left out, m");
}

#[test]
fn the_nearest_stations_come_with_distance_and_bearing() {
    let stations = Stations::bundled().expect("the bundled table");
    let near = stations.nearest(Position::new(42.35, -71.05).expect("Boston harbour"), 3);
    assert_eq!(near.len(), 3);
    assert!(near.windows(2).all(|pair| pair[0].distance.0 <= pair[1].distance.0));
    assert!(near[0].distance.0 < 2000.0, "{near:?}");
    assert_eq!(stations.holding("DEER ISLAND (south").len(), 1);
}

/// Where the places are: GeoNames, to a hundredth of a degree, from memory. The neighbours are gauges of another source
/// (BODC) in the table itself.
#[test]
fn gauges_bear_the_name_of_the_place_where_they_stand() {
    let stations = Stations::bundled().expect("the bundled table");
    for (name, (lat, lon), neighbour, within_km) in [
        ("Brighton", (50.83, -0.14), "newhaven-nha-gbr-bodc", 15.0),
        ("Hastings Pier", (50.86, 0.57), "newhaven-nha-gbr-bodc", 40.0),
        ("Port Isaac", (50.59, -4.83), "ilfracombe-ilf-gbr-bodc", 90.0),
        ("Scarborough", (54.28, -0.40), "whitby-whi-gbr-bodc", 35.0),
        ("Severn Bridge", (51.61, -2.64), "avonmouth-avo-gbr-bodc", 10.0),
        ("Teignmouth Pier", (50.55, -3.50), "weymouth-wey-gbr-bodc", 80.0),
        ("West Bay Harbour", (50.71, -2.76), "weymouth-wey-gbr-bodc", 30.0),
    ] {
        let mut so_called = stations.iter().filter(|station| station.country == "GB" && station.name == name);
        let station = so_called.next().expect(name);
        assert!(so_called.next().is_none(), "{name}");
        let place = Position::new(lat, lon).expect("on the earth");
        let off = place.distance_and_bearing_to(station.position).0;
        assert!(off < Metres(8000.0), "{name} stands {off:?} from its place");
        let neighbour = stations.by_id(&format!("ticon/{neighbour}")).expect("the neighbour");
        let off = neighbour.position.distance_and_bearing_to(station.position).0;
        assert!(off.0 < within_km * 1000.0, "{name} lies {off:?} from {}", neighbour.name);
    }
}

#[test]
fn only_freely_licensed_stations_are_bundled_and_each_carries_its_credit() {
    let stations = Stations::bundled().expect("the bundled table");
    for station in stations.iter() {
        let credit = stations.credit(station);
        assert!(!credit.to_lowercase().contains("by-nc") && !credit.contains("ODbL"), "{}", station.id);
        let source = station.id.split('/').next().expect("a source");
        let named = match source {
            "ticon" => "TICON-4",
            "kartverket" => "Kartverket",
            _ => "Neaps tide database",
        };
        assert!(credit.contains(named), "{}: {credit}", station.id);
    }
}

#[test]
fn a_subordinate_station_shifts_the_turns_of_its_reference() {
    // Deer Island in Boston harbour: high water 1 min later, low water at the same time, heights 0.97 of Boston's.
    let stations = Stations::bundled().expect("the bundled table");
    assert_eq!(stations.by_id("noaa/8444012").and_then(|s| s.reference()), Some("noaa/8443970"));
    let from = time("2026-11-25T12:00:00Z");
    let [deer_island, boston] =
        ["noaa/8444012", "noaa/8443970"].map(|id| stations.tide(id, from).expect("a tide"));
    let until = from + Span::from_mins(3 * 1440);
    let (ours, theirs) = (deer_island.turns_between(from, until), boston.turns_between(from, until));
    assert_eq!(ours.len(), theirs.len());
    for (our, their) in ours.iter().zip(&theirs) {
        let later = Span::from_mins(if our.kind == TurnKind::High { 1 } else { 0 });
        assert_eq!((our.kind, our.at), (their.kind, their.at + later));
        assert!((our.height.0 - 0.97 * their.height.0).abs() < 1e-9);
    }
    assert_eq!(deer_island.cautions().len(), 1, "{:?}", deer_island.cautions());
    assert!(deer_island.known_until().is_some_and(|end| end >= from + Span::from_mins(14 * 1440)));
    assert_eq!(boston.known_until(), None);
}

fn broken(packed: &[u8]) -> bool {
    Stations::unpack(packed).is_err()
}

#[test]
fn a_broken_table_of_stations_is_refused_in_words() {
    assert!(broken(b"") && broken(b"not gzip at all"));
    for line in ["R\tx", "X\t1", "C\t5\tx", "N\t0\t\nC\t0\tc\nR\ta/b\tB\tNO\t\t99\t0\tLAT\t0\t0\t\t1\tM2 1 1"]
    {
        assert!(Stations::read(line).is_err(), "{line}");
    }
    let one = "C\t0\tcredit\nN\t0\t\nR\ta/b\tB\tNO\t\t9\t0\tLAT\t0\t0\t\t1\tM2 1000 x,XX 5 5";
    let harmonic = Stations::read(one).and_then(|s| s.harmonic("a/b")).expect("it reads");
    assert_eq!(harmonic.left_out().names, ["M2", "XX"]);
}

proptest! {
    #[test]
    fn no_text_panics_the_reader_of_tables(text in "(?s).{0,80}") {
        let _ = parse_at(&text, WatchTime(0), Offset::UTC, Rule::Cosine, OddIntervals::Accept);
        let _ = Stations::read(&text);
        let _ = modulation(&text, WatchTime(0));
    }

    #[test]
    fn no_words_of_a_table_panic_its_reader(
        words in prop::collection::vec("HW|LW|[0-9]{1,2}:[0-9]{2}|[0-9]{4}|-?[0-9]{1,2}[.,][0-9]|ft|m|Z|2026-0[1-9]-[0-9]{2}|9999-12-31|,", 0..30),
        now in any::<i64>(),
    ) {
        let _ = parse_at(&words.join(" "), WatchTime(now), Offset::UTC, Rule::Twelfths, OddIntervals::Accept);
    }

    #[test]
    fn between_turns_the_height_lies_between_them_and_moves_smoothly(
        low in -1.0..2.0_f64, range in 0.1..9.0_f64, minutes in 180..540_i64, part in 0.0..1.0_f64, rising: bool,
    ) {
        let (h0, h1) = if rising { (low, low + range) } else { (low + range, low) };
        for rule in [Rule::Cosine, Rule::Twelfths] {
            let end = WatchTime(minutes * 60_000);
            let table = two_turns(WatchTime(0), h0, end, h1, rule);
            let t = WatchTime((part * end.0 as f64) as i64);
            let height = table.height_at(t).expect("within").0;
            prop_assert!((low - 1e-9..=low + range + 1e-9).contains(&height));
            let later = table.height_at((t + Span(1000)).min(end)).expect("within").0;
            let steepest = range / 4.0 / (minutes as f64 / 6.0 / 60.0) / 3600.0 * 1.1;
            prop_assert!((later - height).abs() <= steepest + 1e-9);
            prop_assert!(table.rate_at(t).expect("within").0.is_finite());
        }
    }

    #[test]
    fn a_predicted_height_is_a_number_at_any_time_and_never_jumps(ms in any::<i64>(), near in -3_000_000_000_000..9_000_000_000_000_i64) {
        for (_, tide) in stations() {
            prop_assert!(tide.height_at(WatchTime(ms)).0.is_finite() && tide.rate_at(WatchTime(ms)).0.is_finite());
            let (now, then) = (tide.height_at(WatchTime(near)).0, tide.height_at(WatchTime(near + 1000)).0);
            prop_assert!((then - now).abs() < 0.001);
            let all = Tide::predicted(tide, WatchTime(ms));
            prop_assert!(all.height_at(WatchTime(ms)).is_some_and(|h| h.0.is_finite()));
        }
    }

    #[test]
    fn no_line_of_stations_panics_its_reader(
        columns in prop::collection::vec("R|S|C|N|0|1|-?[0-9]{1,3}\\.[0-9]|noaa/1|ratio|fixed|M2 1 1|M2 x,N2|[a-z(]{0,4}", 0..20),
    ) {
        let text = format!("C\t0\tc\nN\t0\t\n{}", columns.join("\t"));
        if let Ok(stations) = Stations::read(&text) {
            for station in stations.iter() {
                let _ = stations.tide(&station.id, WatchTime(0));
            }
        }
    }
}

#[test]
fn turns_are_the_same_inside_the_days_drawn_out_and_beyond_them() {
    let about = time("2026-11-25T12:00:00Z");
    for (name, tide) in stations() {
        let drawn = Tide::predicted(tide.clone(), about);
        let elsewhere = Tide::predicted(tide, about + Span::from_mins(60 * 1440));
        let (from, until) = (about, about + Span::from_mins(5 * 1440));
        let (ours, theirs) = (drawn.turns_between(from, until), elsewhere.turns_between(from, until));
        assert_eq!(ours.len(), theirs.len(), "{name}");
        for (our, their) in ours.iter().zip(&theirs) {
            assert!(
                our.kind == their.kind && our.at.since(their.at).0.abs() < 5_000,
                "{name}: {our:?} {their:?}"
            );
        }
        assert!(ours.windows(2).all(|pair| pair[0].kind != pair[1].kind && pair[0].at < pair[1].at));
        for pair in ours.windows(2) {
            assert_eq!(drawn.next_turn_after(pair[0].at), Some(pair[1]));
        }
    }
}

/// How far off heights are where the turn before the first of two is assumed: over a fortnight at every sixtieth bundled
/// station whose tide turns twice a day, as a share of the range of the two. Prints what `docs/inside/tide.md` says.
#[test]
fn an_assumed_turn_is_seldom_farther_off_than_the_doubt_that_is_said() {
    let stations = Stations::bundled().expect("bundled");
    let from = time("2026-06-01T00:00:00Z");
    let (mut one, mut two) = (Vec::new(), Vec::new());
    for station in stations.iter().step_by(60) {
        let Ok(tide) = stations.tide(&station.id, from) else { continue };
        let turns = tide.turns_between(from, from + Span::from_mins(14 * 24 * 60));
        for four in turns.windows(4) {
            let Ok(table) = TurnTable::new(four[2..].to_vec(), Rule::Cosine) else { continue };
            let odd = table.clone().refusing_odd_intervals().is_err();
            let range = (four[2].height - four[3].height).0.abs();
            if odd || range < 0.5 {
                continue;
            }
            for (shares, began, ended) in
                [(&mut one, four[1].at, four[2].at), (&mut two, four[0].at, four[1].at)]
            {
                let middle = began + Span(ended.since(began).0 / 2);
                let Ok(assumed) = Tide::covering(&table, middle) else { continue };
                let off = assumed.height_at(middle).zip(tide.height_at(middle));
                let off = off.map(|(assumed, real)| (assumed - real).0.abs());
                shares.extend(off.map(|off| off / range));
            }
        }
    }
    for (shares, most, name) in [(&mut one, 0.3, "one"), (&mut two, 0.75, "two")] {
        shares.sort_by(f64::total_cmp);
        let at = |share: f64| shares[((shares.len() - 1) as f64 * share) as usize];
        println!(
            "{name} assumed: n {}, half within {:.2}, 90 % {:.2}, 95 % {:.2} of the range",
            shares.len(),
            at(0.5),
            at(0.9),
            at(0.95)
        );
        assert!(shares.len() > 500 && at(0.9) < most, "{name}");
    }
}
