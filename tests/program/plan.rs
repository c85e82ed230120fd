//! What `nightrode plan` says before letting go: an invented boat in an invented place.

use jiff::civil::date;
use jiff::tz::Offset;
use nightrode::report::plan::{Heading, json, text};
use nightrode::watch::boat::{Boat, Hull, Limits, Sector, Tackle};
use nightrode::watch::forecast::{Forecast, WindThen};
use nightrode::watch::plan::{
    BigSizes, Caution, Grade, Inputs, OtherBoat, Plan, PlanClock, PlanError, Site, Verdict,
};
use nightrode::watch::rode::{Fibre, Seabed, Weather, rope};
use nightrode::watch::room::{Mark, RidesTo};
use nightrode::watch::slope::Slope;
use nightrode::watch::tide::Tide;
use nightrode::watch::tide::turns::Rule;
use nightrode::watch::tide::typed::{OddIntervals, TableClock, parse};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use proptest::prelude::*;

/// The sloop *Marram*.
fn marram() -> Boat {
    Boat {
        name: "Marram".into(),
        hull: Hull::Monohull,
        loa: Metres(9.6),
        beam: Metres(3.2),
        draft: Metres(1.7),
        bow_height: Metres(1.2),
        displacement_kg: 4600.0,
        windage_m2: None,
        antenna_aft: Metres(9.0),
        antenna_starboard: Metres(0.0),
        sounder_below_water: Metres(0.4),
    }
}

/// UTC of a clock time one hour ahead of it, on 2 June 2026 or the day after.
fn at(day: i8, hour: i8, minute: i8) -> WatchTime {
    let there = date(2026, 6, day).at(hour, minute, 0, 0);
    WatchTime(Offset::constant(1).to_timestamp(there).expect("a day of this century").as_millisecond())
}

fn typed(text: &str) -> Tide {
    let clock = TableClock { date: date(2026, 6, 2), utc_offset: Offset::constant(1) };
    Tide::from_table(parse(text, clock, Rule::Cosine, OddIntervals::Refuse).expect("a good table"))
}

/// A summer night in Hollow Ness: 5.3 m at 18:30, a tide of nearly 4 m, 18 knots forecast.
fn a_night() -> Inputs {
    Inputs {
        boat: marram(),
        tackle: Tackle {
            chain_mm: 8.0,
            chain: Metres(50.0),
            rope_mm: 14.0,
            rope: Metres(30.0),
            anchor_kg: Some(16.0),
        },
        snubber: None,
        sounded: Metres(5.3),
        at: at(2, 18, 30),
        until: at(3, 8, 30),
        tide: Some(typed("LW 14:00 1.0, HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6")),
        weather: Weather::usual(Knots(18.0), Hull::Monohull),
        gusts_assumed: true,
        wind_from: Some(TrueBearing::new(230.0)),
        forecast: None,
        shore: Vec::new(),
        way_out: None,
        veered: None,
        seabed: Some(Seabed::Sand),
        limits: Limits::default(),
        site: Site::default(),
        marks: Vec::new(),
        others: Vec::new(),
        big_sizes: BigSizes::Refuse,
    }
}

fn heading() -> Heading {
    Heading { place: Some("Hollow Ness".into()), utc_offset: Span::from_mins(60) }
}

fn clock() -> PlanClock {
    PlanClock { utc_offset: Span::from_mins(60), with_day: false }
}

fn words(plan: &Plan) -> Vec<String> {
    plan.verdicts.iter().map(|verdict| verdict.in_words(&clock())).collect()
}

fn page(inputs: &Inputs) -> String {
    text(inputs, &Plan::make(inputs).expect("a plan"), &heading())
}

#[test]
fn a_summer_night() {
    insta::assert_snapshot!(page(&a_night()));
}

#[test]
fn a_gale_on_too_little_chain() {
    let weather = Weather { stream: Knots(2.0), ..Weather::usual(Knots(38.0), Hull::Monohull) };
    let inputs = Inputs {
        weather,
        veered: Some(Metres(30.0)),
        tackle: Tackle { rope: Metres(0.0), ..a_night().tackle },
        seabed: Some(Seabed::SoftMud),
        until: at(3, 12, 0),
        limits: Limits {
            barred: vec![Sector { from: TrueBearing::new(200.0), to: TrueBearing::new(260.0) }],
            ..Limits::default()
        },
        marks: vec![Mark {
            name: "Perch rock".into(),
            bearing: TrueBearing::new(50.0),
            distance: Metres(38.0),
            extent: Metres(3.0),
        }],
        others: vec![OtherBoat {
            bearing: TrueBearing::new(120.0),
            distance: Metres(60.0),
            loa: Metres(12.0),
            rides_to: RidesTo::Rope,
        }],
        ..a_night()
    };
    insta::assert_snapshot!(page(&inputs));
}

#[test]
fn the_page_is_no_wider_than_a_terminal() {
    let credit = "a very long word of credit ".repeat(20);
    let mark = |name: &str| Mark {
        name: name.into(),
        bearing: TrueBearing::new(50.0),
        distance: Metres(38.0),
        extent: Metres(3.0),
    };
    let page = page(&Inputs { marks: vec![mark(&credit)], ..a_night() });
    let wide: Vec<&str> = page.lines().filter(|line| line.chars().count() > 96).collect();
    assert!(wide.is_empty(), "{wide:?}");
}

#[test]
fn the_json_page() {
    let inputs = a_night();
    insta::assert_snapshot!(
        serde_json::to_string_pretty(&json(&inputs, &Plan::make(&inputs).unwrap(), &heading())).unwrap()
    );
}

#[test]
fn the_advice_meets_what_it_was_asked_for() {
    let plan = Plan::make(&a_night()).unwrap();
    assert_eq!(plan.advised, plan.veered);
    assert!(plan.verdicts.iter().all(|verdict| match verdict {
        Verdict::Pull { mean_deg, gust_deg } => *mean_deg == 0.0 && *gust_deg <= 8.0,
        Verdict::Scope { scope, limit, .. } => scope >= limit,
        _ => true,
    }));
}

#[test]
fn an_error_of_the_datum_changes_nothing() {
    let plan = |tide: &str| Plan::make(&Inputs { tide: Some(typed(tide)), ..a_night() }).unwrap();
    let (one, other) = (
        plan("LW 14:00 1.0, HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6"),
        plan("LW 14:00 2.0, HW 20:10 5.8, LW 02:25 1.9, HW 08:35 5.6"),
    );
    assert!((one.least.depth.0 - other.least.depth.0).abs() < 1e-9);
    assert_eq!(words(&one), words(&other));
}

#[test]
fn a_keel_that_will_ground_is_the_first_thing_said() {
    let inputs = Inputs { sounded: Metres(4.5), at: at(2, 19, 0), ..a_night() };
    let plan = Plan::make(&inputs).unwrap();
    assert_eq!(plan.grade(), Grade::Bad);
    assert!(words(&plan)[0].starts_with("Aground at LW 02:25"), "{:?}", words(&plan));
}

#[test]
fn a_place_that_dries_is_said_to_dry() {
    let inputs = Inputs { sounded: Metres(3.0), at: at(2, 20, 0), ..a_night() };
    let plan = Plan::make(&inputs).unwrap();
    assert!(words(&plan)[0].starts_with("Dries 0.9 m at LW 02:25"), "{:?}", words(&plan));
}

#[test]
fn a_tide_that_ends_before_she_leaves_is_told() {
    let inputs = Inputs { until: at(3, 11, 0), ..a_night() };
    let plan = Plan::make(&inputs).unwrap();
    assert!(plan.cautions.contains(&Caution::TideEnds { at: at(3, 8, 35) }));
    assert!(plan.cautions.iter().any(|c| c.in_words(&clock()).starts_with("No tide after 08:35")));
    assert_eq!(plan.hours.last().unwrap().water.at, at(3, 8, 35));
}

#[test]
fn without_a_tide_the_depth_stays() {
    let plan = Plan::make(&Inputs { tide: None, ..a_night() }).unwrap();
    assert!(plan.hours.iter().all(|hour| hour.water.depth == Metres(5.3)));
    assert!(plan.cautions.contains(&Caution::NoTide));
}

/// One in twenty towards north-east, where a wind from south-west lays her: her bow lies in more water, the pull is turned
/// up, more is advised. Uphill she has two metres less under her keel.
#[test]
fn a_bottom_that_slopes_turns_the_pull_and_shoals_uphill() {
    let slope = Slope { falls_to: TrueBearing::new(50.0), gradient: 0.05 };
    let level = Plan::make(&a_night()).unwrap();
    let inputs = Inputs { site: Site { slope: Some(slope), ..Site::default() }, ..a_night() };
    let sloping = Plan::make(&inputs).unwrap();
    assert!(sloping.advised >= level.advised + Metres(3.0), "{:?} {:?}", sloping.advised, level.advised);
    let as_level = Plan::make(&Inputs { veered: Some(level.advised), ..inputs.clone() }).unwrap();
    let up = |plan: &Plan| plan.hours[0].gust_angle_deg;
    assert!(up(&as_level) > up(&level) + 1.0, "{} {}", up(&as_level), up(&level));
    let told = words(&sloping);
    assert!(
        told[0].starts_with("The bottom falls to 050° by 5 in 100: lying uphill at LW 02:25 aground"),
        "{told:?}"
    );
    assert!(page(&inputs).contains("Depths at LW 02:25 at the anchor and"));
    // The wind from the other side lays her uphill: nothing is taken off the pull for it.
    let onshore = Inputs { wind_from: Some(TrueBearing::new(50.0)), ..inputs };
    assert_eq!(Plan::make(&onshore).unwrap().advised, level.advised);
}

/// Hour by hour the pull is turned up as much as in the sum of the stay, in the wind that the stay is planned for; and the
/// wind that lays her uphill is an hour in which she takes the ground astern, though she floats at her anchor.
#[test]
fn a_bottom_that_slopes_reaches_each_hour_of_the_night() {
    let slope = Slope { falls_to: TrueBearing::new(50.0), gradient: 0.05 };
    let night = |slope: Option<Slope>, from: f64| {
        let wind = WindThen {
            at: at(2, 18, 30),
            from: Some(TrueBearing::new(from)),
            mean: a_night().weather.mean,
            gust: Some(a_night().weather.gust),
        };
        let forecast = Forecast::try_from(vec![wind]).unwrap();
        let site = Site { slope, ..Site::default() };
        Plan::make(&Inputs { site, forecast: Some(forecast), veered: Some(Metres(40.0)), ..a_night() })
            .unwrap()
    };
    let plan = night(Some(slope), 230.0);
    let hours = &plan.night.as_ref().unwrap().hours;
    assert_eq!(hours.len(), plan.hours.len());
    for (ahead, hour) in hours.iter().zip(&plan.hours) {
        assert!(ahead.pull_deg > hour.gust_angle_deg - 0.05, "{} {}", ahead.pull_deg, hour.gust_angle_deg);
    }
    let uphill = night(Some(slope), 50.0).night.unwrap();
    let worst = uphill.worst();
    assert!(worst.under_keel.0 > 0.0 && worst.why()[0].contains("aground by"), "{:?}", worst.why());
    assert!(worst.why()[0].ends_with("of the anchor, by the slope"), "{:?}", worst.why());
    assert!(night(None, 50.0).night.unwrap().grade() < Grade::Bad);
}

#[test]
fn a_catamaran_is_told_to_veer_more_than_a_sloop() {
    let sloop = Plan::make(&a_night()).unwrap();
    let cat = Boat { hull: Hull::Catamaran, beam: Metres(5.8), draft: Metres(1.0), ..marram() };
    let cat = Plan::make(&Inputs { boat: cat, ..a_night() }).unwrap();
    assert!(cat.load.mean > sloop.load.mean);
    assert_eq!(cat.rules[0].length, sloop.rules[0].length * 2.0);
    assert!(cat.cautions.contains(&Caution::CatamaranScope));
}

#[test]
fn more_rode_lifts_off_later() {
    let plan = Plan::make(&a_night()).unwrap();
    let more = plan.winds_with_more.unwrap();
    assert!(more.lifts.unwrap() > plan.winds.lifts.unwrap());
    // With everything out there is no more to buy.
    let all = Plan::make(&Inputs { veered: Some(Metres(80.0)), ..a_night() }).unwrap();
    assert_eq!(all.winds_with_more, None);
}

#[test]
fn a_snubber_leaves_the_marks_on_the_chain_right() {
    let snubber = rope(Fibre::Nylon, 12.0, Metres(6.0)).unwrap();
    let tackle = Tackle { rope: Metres(0.0), ..a_night().tackle };
    let inputs = Inputs { snubber: Some(snubber), tackle, veered: Some(Metres(35.0)), ..a_night() };
    let plan = Plan::make(&inputs).unwrap();
    assert_eq!(plan.veered, Metres(35.0));
}

#[test]
fn contradictory_and_impossible_figures_are_named() {
    let refused = |inputs: Inputs| Plan::make(&inputs).unwrap_err().to_string();
    let night = a_night;
    let short = Tackle { chain: Metres(6.0), rope: Metres(0.0), ..night().tackle };
    assert!(refused(Inputs { tackle: short, ..night() }).starts_with("6.0 m of rode is shorter than the 7."));
    assert!(refused(Inputs { veered: Some(Metres(7.0)), ..night() }).starts_with("7.0 m of rode is shorter"));
    assert!(
        refused(Inputs { veered: Some(Metres(90.0)), ..night() }).contains("only 80 m of rode is aboard")
    );
    let hurricane = Weather { mean: Knots(500.0), gust: Knots(700.0), ..night().weather };
    assert!(
        refused(Inputs { weather: hurricane, ..night() }).starts_with("Wind of 500 kn: it must lie between")
    );
    let backwards = Weather { mean: Knots(30.0), gust: Knots(20.0), ..night().weather };
    assert!(refused(Inputs { weather: backwards, ..night() }).starts_with("Gusts of 20 kn are less"));
    assert!(refused(Inputs { sounded: Metres(1.2), ..night() }).contains("aground already"));
    assert!(refused(Inputs { until: at(2, 18, 0), ..night() }).starts_with("The stay must end after"));
    assert!(refused(Inputs { at: at(2, 13, 0), ..night() }).starts_with("The tide is not known"));
    let nan = Weather { stream: Knots(f64::NAN), ..night().weather };
    assert!(refused(Inputs { weather: nan, ..night() }).starts_with("Stream of NaN kn"));
}

#[test]
fn feet_for_metres_are_asked_about_and_can_be_meant() {
    let in_feet = Boat { loa: Metres(31.5), beam: Metres(10.5), draft: Metres(5.6), ..marram() };
    let inputs = Inputs { boat: in_feet, sounded: Metres(17.4), ..a_night() };
    let error = Plan::make(&inputs).unwrap_err();
    assert_eq!(error, PlanError::LooksLikeFeet { what: "A length overall", value: Metres(31.5) });
    assert!(error.to_string().contains("write 9.6"), "{error}");
    assert!(Plan::make(&Inputs { big_sizes: BigSizes::Accept, ..inputs }).is_ok());
}

/// Runs the program itself with the settings of an empty folder, its clock one hour ahead of UTC.
fn program(args: &[&str], boat_toml: Option<&str>, plan_toml: Option<&str>) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("a file");
    boat_toml.iter().for_each(|text| write("boat.toml", text));
    plan_toml.iter().for_each(|text| write("plan.toml", text));
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_nightrode"));
    // No book of this computer is read.
    command.env("NIGHTRODE_RIDES", folder.path());
    command.current_dir(folder.path()).args(["plan", "--config", ".", "--utc-offset", "+1"]).args(args);
    let output = command.output().expect("the program starts");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

const PLAN_TOML: &str = r#"
[plan]
place = "Hollow Ness"
depth_m = 5.3
at = 2026-06-02T18:30:00
until = "08:30"
tide = "LW 14:00 1.0, HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6"
wind_kn = 18
wind_from_deg = 230
seabed = "sand"
"#;

const BOAT_TOML: &str = r#"
[boat]
name = "Marram"
loa_m = 9.6
beam_m = 3.2
draft_m = 1.7
bow_height_m = 1.2
displacement_kg = 4600
antenna_aft_of_bow_m = 9
[rode]
chain_mm = 8
chain_m = 50
rope_mm = 14
rope_m = 30
[anchor]
kg = 16
"#;

#[test]
fn the_program_prints_the_page_of_a_file() {
    let (code, page_told, notes) = program(&["--file", "plan.toml"], Some(BOAT_TOML), Some(PLAN_TOML));
    assert_eq!((code, notes.as_str()), (Some(0), ""));
    assert_eq!(page_told, page(&by_the_clock()));
}

/// The night as it is typed: with the zone that the table's times were taken in.
fn by_the_clock() -> Inputs {
    let mut night = a_night();
    let words = "The table's times are taken in UTC+1, your clock's. If it is printed in UT or standard time, begin it with \
                 that: UT, UTC+1.";
    night.tide = night.tide.map(|tide| tide.cautioned(words.to_owned()));
    night
}

#[test]
fn the_program_takes_the_same_from_flags() {
    let tide = "LW 14:00 1.0, HW 20:10 4.8, LW 02:25 0.9, HW 08:35 4.6";
    let flags = "--depth 5.3 --until 08:30 --wind 18 --wind-from 230 --seabed sand --at 2026-06-02T17:30:00Z";
    let mut args: Vec<&str> = flags.split(' ').collect();
    args.extend(["--tide", tide, "--place", "Hollow Ness"]);
    let (code, page_told, _) = program(&args, Some(BOAT_TOML), None);
    assert_eq!((code, page_told), (Some(0), page(&by_the_clock())));
}

#[test]
fn a_station_too_far_off_is_refused_with_its_distance() {
    let at = |near: &str| {
        let args =
            ["--depth", "5.3", "--wind", "18", "--station", "ticon/newlyn-new-gbr-bodc", "--near", near];
        program(&args, Some(BOAT_TOML), None)
    };
    let (code, _, told) = at("49.50,-5.54");
    assert!(code == Some(1) && told.contains("lies 36 M from here"), "{told}");
    let (code, page, _) = at("50.15,-5.50");
    assert!(code == Some(0) && page.contains("allowed for"), "{page}");
}

#[test]
fn the_program_names_what_is_wrong_and_fails() {
    let (code, page_told, entered) =
        program(&["--file", "plan.toml", "--veer", "6"], Some(BOAT_TOML), Some(PLAN_TOML));
    assert_eq!((code, page_told.as_str()), (Some(1), ""));
    assert!(entered.starts_with("6.0 m of rode is shorter than the 7.1 m from bow to bottom"), "{entered}");
    let (code, _, entered) = program(&["--depth", "5"], None, None);
    assert_eq!(code, Some(1));
    assert!(
        entered.contains("calculated for a sloop of 10 m") && entered.contains("No wind given"),
        "{entered}"
    );
    let (code, _, entered) = program(&["--mark", "rock"], None, None);
    assert_eq!(code, Some(2));
    assert!(entered.contains("Perch rock,050,38,3"), "{entered}");
    let (code, _, entered) = program(&["--file", "plan.toml"], None, Some("[plan]\nwind_kn = 500\n"));
    assert_eq!(code, Some(1));
    assert!(entered.contains("line 2: wind_kn is 500"), "{entered}");
}

#[test]
fn the_program_prints_json_that_parses() {
    let (code, page_told, _) = program(&["--file", "plan.toml", "--json"], Some(BOAT_TOML), Some(PLAN_TOML));
    let page: serde_json::Value = serde_json::from_str(&page_told).unwrap();
    assert_eq!((code, page["boat"].as_str()), (Some(0), Some("Marram")));
    assert_eq!(page["depth"]["least"]["turn"], "LW");
}

#[test]
fn stations_near_by_are_offered_with_their_distance() {
    let (code, list, _) = program(&["--near", "50.2,-3.77"], None, None);
    assert_eq!((code, list.lines().count()), (Some(0), 9));
    assert!(list.contains(" M  ") && list.contains("devonport"), "{list}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_figures_make_the_plan_panic_or_print_what_is_no_number(
        sizes in prop::array::uniform8(prop_oneof![0.0..60.0_f64, any::<f64>()]),
        lengths in prop::array::uniform4(prop_oneof![0.0..100.0_f64, any::<f64>()]),
        hours in -2..400_i64,
        tide in any::<bool>(),
        hull in prop_oneof![Just(Hull::Monohull), Just(Hull::Catamaran), Just(Hull::Trimaran)],
    ) {
        let [loa, beam, draft, bow, sounded, mean, more, stream] = sizes;
        let [chain, rope, veered, away] = lengths;
        let night = a_night();
        let boat = Boat {
            hull, loa: Metres(loa), beam: Metres(beam), draft: Metres(draft), bow_height: Metres(bow), ..marram()
        };
        let inputs = Inputs {
            boat,
            tackle: Tackle { chain: Metres(chain), rope: Metres(rope), ..night.tackle },
            sounded: Metres(sounded),
            until: night.at + Span(hours * 3_600_000),
            tide: night.tide.filter(|_| tide),
            weather: Weather { mean: Knots(mean), gust: Knots(mean + more), stream: Knots(stream), sheer_deg: 30.0 },
            veered: Some(Metres(veered)).filter(|_| hours % 2 == 0),
            others: vec![OtherBoat {
                bearing: TrueBearing::new(40.0),
                distance: Metres(away),
                loa: Metres(11.0),
                rides_to: RidesTo::Mooring,
            }],
            big_sizes: BigSizes::Accept,
            ..a_night()
        };
        match Plan::make(&inputs) {
            Ok(plan) => {
                let page = text(&inputs, &plan, &heading());
                prop_assert!(!page.contains("NaN") && !page.contains("inf "), "{page}");
                let json = serde_json::to_string(&json(&inputs, &plan, &heading())).unwrap();
                prop_assert!(!json.contains("\"reach_m\":null"), "{json}");
            }
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}
