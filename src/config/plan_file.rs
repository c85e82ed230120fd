//! `plan.toml`: a stay at anchor that is being thought of.

use toml::Value;

use super::Read;
use super::berth_tables::{one_of, read_fetch, read_seabed, read_slope, read_snubber};
use super::keys::{self, Bounds};
use super::problem::Problems;
use super::reader::{Log, Table};
use super::settings::{read_position, read_shared, read_shore};
use super::wind_tables::{read_way_out, way_out_toml};
use crate::watch::boat::{Sector, Settings};
use crate::watch::geo::Position;
use crate::watch::plan::{Asked, OtherBoat, TideAsked, WindFile};
use crate::watch::room::{Mark, RidesTo};
use crate::watch::tide::turns::Rule;
use crate::watch::units::{Knots, Metres, TrueBearing};

/// Everything that `plan.toml` says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlanFile {
    /// Boat, gear and limits, if the file has any of their tables; else those of `boat.toml` hold.
    pub settings: Option<Settings>,
    /// What is asked.
    pub asked: Asked,
}

/// The tables that describe a boat.
const BOAT_TABLES: [&str; 4] = ["boat", "rode", "anchor", "limits"];

/// Reads `plan.toml`. `file` is its name as it stands in messages.
///
/// # Errors
/// Everything wrong with it: what is not TOML, unknown keys, values out of range, values that contradict each other.
pub fn read_plan(text: &str, file: &str) -> Result<Read<PlanFile>, Problems> {
    let (mut log, mut doc) = Log::parse(text);
    let settings = BOAT_TABLES.iter().any(|table| doc.has(table)).then(|| {
        let shared = read_shared(&mut log, &mut doc);
        shared.rode.finish(&mut log);
        shared.settings
    });
    let mut asked = read_asked(&mut log, &mut doc);
    asked.marks = doc.tables(&mut log, "mark").into_iter().filter_map(|t| read_mark(&mut log, t)).collect();
    asked.others =
        doc.tables(&mut log, "neighbour").into_iter().filter_map(|t| read_neighbour(&mut log, t)).collect();
    doc.finish(&mut log);
    Ok(Read { value: PlanFile { settings, asked }, doubts: log.judge(file)? })
}

/// Answers as a `plan.toml` that [`read_plan`] reads back as the same answers.
#[must_use]
pub fn plan_toml(asked: &Asked) -> String {
    let mut text =
        String::from("# A stay at anchor that was thought of. nightrode plan --file reads it.\n\n[plan]\n");
    let mut put = |key: &str, value: Option<Value>| {
        if let Some(value) = value {
            text.push_str(&format!("{key} = {value}\n"));
        }
    };
    let words = |text: &Option<String>| text.clone().map(Value::String);
    let knots = |speed: Option<Knots>| speed.map(|speed| Value::Float(speed.0));
    let metres = |length: Option<Metres>| length.map(|length| Value::Float(length.0));
    put("place", words(&asked.place));
    put("depth_m", metres(asked.depth));
    put("at", words(&asked.at));
    put("until", words(&asked.until));
    match &asked.tide {
        TideAsked::Nothing => {}
        TideAsked::Typed(table) => put("tide", Some(Value::String(table.clone()))),
        TideAsked::Station(id) => put("tide_station", Some(Value::String(id.clone()))),
    }
    put("tide_rule", (asked.rule == Rule::Twelfths).then(|| Value::String("twelfths".into())));
    put("odd_tide_meant", asked.odd_tide_meant.then_some(Value::Boolean(true)));
    put(keys::plan::WIND_KN.key, knots(asked.wind));
    put(keys::plan::GUST_KN.key, knots(asked.gust));
    put(keys::plan::WIND_FROM_DEG.key, asked.wind_from.map(|from| Value::Float(from.degrees())));
    put("wind_by_hour", words(&asked.winds));
    let file = asked.wind_file.as_ref();
    put("wind_file", file.map(|file| Value::String(file.path.clone())));
    let position = asked.here.or_else(|| file.and_then(|file| file.position));
    put(keys::LAT.key, position.map(|at| Value::Float(at.lat_deg())));
    put(keys::LON.key, position.map(|at| Value::Float(at.lon_deg())));
    put(keys::plan::STREAM_KN.key, knots(asked.stream));
    put(keys::plan::SHEER_DEG.key, asked.sheer_deg.map(Value::Float));
    put("bridle", asked.bridle.then_some(Value::Boolean(true)));
    put("fetch", words(&asked.fetch));
    put(keys::plan::FETCH_DEPTH_M.key, metres(asked.fetch_depth));
    put(keys::plan::SLOPE_TO_DEG.key, asked.slope.map(|slope| Value::Float(slope.falls_to.degrees())));
    put(keys::plan::SLOPE_PERCENT.key, asked.slope.map(|slope| Value::Float(100.0 * slope.gradient)));
    put(keys::VEERED_M.key, metres(asked.veered));
    put("seabed", asked.seabed.map(|seabed| Value::String(seabed.key().into())));
    put(keys::plan::SNUBBER_MM.key, asked.snubber.map(|snubber| Value::Float(snubber.size_mm)));
    put(keys::plan::SNUBBER_M.key, asked.snubber.map(|snubber| Value::Float(snubber.length.0)));
    put("metres_meant", asked.metres_meant.then_some(Value::Boolean(true)));
    if !asked.shore.is_empty() {
        let sector = |s: &Sector| format!("[{}, {}]", s.from.degrees(), s.to.degrees());
        let sectors: Vec<String> = asked.shore.iter().map(sector).collect();
        text.push_str(&format!("shore = [{}]\n", sectors.join(", ")));
    }
    text.push_str(&way_out_toml(asked.way_out));
    for mark in &asked.marks {
        text.push_str(&format!(
            "\n[[mark]]\nname = {}\nbearing_deg = {}\ndistance_m = {}\nextent_m = {}\n",
            Value::String(mark.name.clone()),
            Value::Float(mark.bearing.degrees()),
            Value::Float(mark.distance.0),
            Value::Float(mark.extent.0)
        ));
    }
    for other in &asked.others {
        let rides_to = match other.rides_to {
            RidesTo::Chain => "rides_to = \"chain\"".to_owned(),
            RidesTo::Rope => "rides_to = \"rope\"".to_owned(),
            RidesTo::Mooring => "rides_to = \"mooring\"".to_owned(),
            RidesTo::Entered(length) => format!("veered_m = {}", Value::Float(length.0)),
        };
        text.push_str(&format!(
            "\n[[neighbour]]\nbearing_deg = {}\ndistance_m = {}\nloa_m = {}\n{rides_to}\n",
            Value::Float(other.bearing.degrees()),
            Value::Float(other.distance.0),
            Value::Float(other.loa.0)
        ));
    }
    text
}

fn read_asked(log: &mut Log, doc: &mut Table) -> Asked {
    let mut table = doc.table(log, "plan");
    let here = read_position(log, &mut table);
    let asked = Asked {
        place: table.text(log, "place").map(|(place, _)| place),
        depth: number(log, &mut table, &keys::plan::DEPTH_M).map(Metres),
        at: table.time_as_written(log, "at"),
        until: table.time_as_written(log, "until"),
        tide: read_tide(log, &mut table),
        rule: read_rule(log, &mut table),
        odd_tide_meant: table.flag(log, "odd_tide_meant").unwrap_or(false),
        wind: number(log, &mut table, &keys::plan::WIND_KN).map(Knots),
        gust: number(log, &mut table, &keys::plan::GUST_KN).map(Knots),
        wind_from: number(log, &mut table, &keys::plan::WIND_FROM_DEG).map(TrueBearing::new),
        winds: table.text(log, "wind_by_hour").map(|(winds, _)| winds),
        wind_file: read_wind_file(log, &mut table, here),
        shore: read_shore(log, &mut table),
        way_out: read_way_out(log, &mut table),
        stream: number(log, &mut table, &keys::plan::STREAM_KN).map(Knots),
        sheer_deg: number(log, &mut table, &keys::plan::SHEER_DEG),
        bridle: table.flag(log, "bridle").unwrap_or(false),
        fetch: read_fetch(log, &mut table),
        fetch_depth: number(log, &mut table, &keys::plan::FETCH_DEPTH_M).map(Metres),
        slope: read_slope(log, &mut table),
        veered: number(log, &mut table, &keys::VEERED_M).map(Metres),
        seabed: read_seabed(log, &mut table),
        snubber: read_snubber(log, &mut table),
        marks: Vec::new(),
        others: Vec::new(),
        metres_meant: table.flag(log, "metres_meant").unwrap_or(false),
        here,
    };
    table.finish(log);
    asked
}

fn number(log: &mut Log, table: &mut Table, bounds: &Bounds) -> Option<f64> {
    table.number(log, bounds).map(|(number, _)| number)
}

fn read_tide(log: &mut Log, table: &mut Table) -> TideAsked {
    let typed = table.text(log, "tide");
    let station = table.text(log, "tide_station");
    match (typed, station) {
        (Some(_), Some((_, place))) => {
            let what = "there is a tide_station and a typed tide; keep one of them";
            log.wrong(place, "plan.tide_station", what.into());
            TideAsked::Nothing
        }
        (Some((text, _)), None) => TideAsked::Typed(text),
        (None, Some((id, _))) => TideAsked::Station(id),
        (None, None) => TideAsked::Nothing,
    }
}

fn read_rule(log: &mut Log, table: &mut Table) -> Rule {
    let choices = [("cosine", Rule::Cosine), ("twelfths", Rule::Twelfths)];
    one_of(log, table, "tide_rule", &choices).unwrap_or_default()
}

/// A file with the wind by the hour, and the place whose wind is wanted.
fn read_wind_file(log: &mut Log, table: &mut Table, position: Option<Position>) -> Option<WindFile> {
    let path = table.text(log, "wind_file");
    if let (Some((_, place)), None) = (&path, position) {
        let what = "a wind_file needs lat and lon, the place whose wind is wanted";
        log.wrong(place.clone(), "plan.wind_file", what.into());
    }
    path.map(|(path, _)| WindFile { path, position, read: None })
}

fn read_mark(log: &mut Log, mut table: Table) -> Option<Mark> {
    let name = table.text(log, "name").map_or_else(|| "The mark".to_owned(), |(name, _)| name);
    let bearing = number(log, &mut table, &keys::plan::BEARING_DEG);
    let distance = number(log, &mut table, &keys::plan::DISTANCE_M);
    let extent = number(log, &mut table, &keys::plan::EXTENT_M).unwrap_or(0.0);
    if bearing.is_none() || distance.is_none() {
        let what = "a mark needs bearing_deg and distance_m, from where the anchor is to lie";
        log.wrong(table.place.clone(), "mark", what.into());
    }
    table.finish(log);
    let (bearing, distance) = (TrueBearing::new(bearing?), Metres(distance?));
    Some(Mark { name, bearing, distance, extent: Metres(extent) })
}

fn read_neighbour(log: &mut Log, mut table: Table) -> Option<OtherBoat> {
    let bearing = number(log, &mut table, &keys::plan::BEARING_DEG);
    let distance = number(log, &mut table, &keys::plan::DISTANCE_M);
    let loa = number(log, &mut table, &keys::plan::NEIGHBOUR_LOA_M);
    let veered = number(log, &mut table, &keys::VEERED_M).map(|length| RidesTo::Entered(Metres(length)));
    let words = [("chain", RidesTo::Chain), ("rope", RidesTo::Rope), ("mooring", RidesTo::Mooring)];
    let rides_to = one_of(log, &mut table, "rides_to", &words);
    if bearing.is_none() || distance.is_none() {
        let what = "a neighbour needs bearing_deg and distance_m, from where the anchor is to lie to her bow";
        log.wrong(table.place.clone(), "neighbour", what.into());
    }
    table.finish(log);
    Some(OtherBoat {
        bearing: TrueBearing::new(bearing?),
        distance: Metres(distance?),
        loa: Metres(loa.unwrap_or(USUAL_LOA_M)),
        rides_to: veered.or(rides_to).unwrap_or(RidesTo::Chain),
    })
}

/// Length of a boat of which nothing is known: common practice, no source.
const USUAL_LOA_M: f64 = 12.0;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::watch::rode::Seabed;

    #[test]
    fn what_is_written_reads_back_the_same() {
        let asked = read_plan(HOLLOW_NESS, "plan.toml").unwrap().value.asked;
        // A time that stands unquoted is kept as its text.
        assert_eq!(read_plan(&plan_toml(&asked), "plan.toml").unwrap().value.asked, asked);
        let quoted = Asked { place: Some("The \"Ness\" by night".into()), ..Asked::default() };
        assert_eq!(read_plan(&plan_toml(&quoted), "plan.toml").unwrap().value.asked, quoted);
    }

    const HOLLOW_NESS: &str = r#"
[plan]
place = "Hollow Ness"
depth_m = 5.3
at = 2026-06-02T18:30:00
until = "08:30"
tide = "LW 14:00 1.0, HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6"
tide_rule = "twelfths"
wind_kn = 18
wind_from_deg = 230
seabed = "soft-mud"
snubber_mm = 12
snubber_m = 6
fetch = "SW 2, W 0.5"
fetch_depth_m = 8
slope_to_deg = 120
slope_percent = 5

[[mark]]
name = "Perch rock"
bearing_deg = 50
distance_m = 38
extent_m = 3

[[neighbour]]
bearing_deg = 120
distance_m = 60
rides_to = "rope"
"#;

    #[test]
    fn a_plan_says_what_is_in_it() {
        let Read { value, doubts } = read_plan(HOLLOW_NESS, "plan.toml").unwrap();
        assert!(doubts.is_empty(), "{doubts}");
        assert_eq!(value.settings, None);
        let asked = value.asked;
        assert_eq!((asked.depth, asked.wind, asked.gust), (Some(Metres(5.3)), Some(Knots(18.0)), None));
        assert_eq!(
            (asked.at.as_deref(), asked.until.as_deref()),
            (Some("2026-06-02T18:30:00"), Some("08:30"))
        );
        assert_eq!((asked.rule, asked.seabed), (Rule::Twelfths, Some(Seabed::SoftMud)));
        assert_eq!((asked.marks.len(), asked.others[0].rides_to), (1, RidesTo::Rope));
    }

    #[test]
    fn a_boat_in_the_plan_is_the_boat() {
        let text = "[boat]\nloa_m = 8\ndraft_m = 1.2\n[rode]\nchain_m = 40\n[plan]\ndepth_m = 4\n";
        let settings = read_plan(text, "plan.toml").unwrap().value.settings.unwrap();
        assert_eq!((settings.boat.loa, settings.tackle.chain), (Metres(8.0), Metres(40.0)));
    }

    #[test]
    fn faults_of_a_plan_name_key_and_line() {
        for (text, entered) in [
            ("[plan]\nwind_kn = 500\n", "line 2: wind_kn is 500; it must lie within 0 to 150 kn"),
            (
                "[plan]\nseabed = \"jelly\"\n",
                "line 2: seabed is \"jelly\"; it must be one of sand, loose-sand",
            ),
            ("[plan]\nfetch = \"SW far\"\n", "line 2: `SW far` is no open water. Write direction and miles"),
            ("[plan]\nsnubber_m = 5\n", "line 2: a snubber needs snubber_mm and snubber_m"),
            ("[plan]\ndepht_m = 5\n", "line 2: unknown key \"depht_m\"; do you mean depth_m?"),
            (
                "[plan]\ntide = \"HW\"\ntide_station = \"x\"\n",
                "line 3: there is a tide_station and a typed tide",
            ),
            ("[[mark]]\nbearing_deg = 5\n", "line 1: a mark needs bearing_deg and distance_m"),
            ("[[neighbour]]\nloa_m = 5\n", "line 1: a neighbour needs bearing_deg and distance_m"),
        ] {
            let problems = read_plan(text, "plan.toml").unwrap_err().to_string();
            assert!(problems.contains(entered), "{problems}");
        }
    }

    proptest! {
        #[test]
        fn no_mutilated_plan_panics(
            at in 0..HOLLOW_NESS.len(),
            cut in 0..40_usize,
            put in "[-\\[\\]{}=\"'0-9a-zä\n.:]{0,9}",
        ) {
            let end = (at + cut).min(HOLLOW_NESS.len());
            let text = format!("{}{put}{}", &HOLLOW_NESS[..at], &HOLLOW_NESS[end..]);
            let _ = read_plan(&text, "plan.toml").map_err(|problems| problems.to_string());
        }
    }
}
