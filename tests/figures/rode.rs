//! The rode against numbers from outside this program. Sources and tolerances: `tests/reference/rode.md`.

use nightrode::watch::boat::Boat;
use nightrode::watch::rode::{
    AIR_KG_PER_M3, CHAINS, Fibre, GRAVITY, Line, Locker, Needed, RULES, RodeError, RuleInput, Section,
    Windage, abyc_h40, beaufort, chain, chain_mass_kg_per_m, needed, points, pressure_pa, pull_at,
    reach_limit, rope, sea, sea_under_stress, shape,
};
use nightrode::watch::units::{Knots, Metres, Newtons};
use proptest::prelude::*;

/// A table from `tests/reference`: a header, then rows; quoted fields may hold commas.
struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    fn read(name: &str) -> Self {
        let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
        let mut rows = text.lines().map(fields);
        let header = rows.next().expect("a header");
        Self { header, rows: rows.collect() }
    }

    fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|fields| Row { header: &self.header, fields })
    }
}

struct Row<'a> {
    header: &'a [String],
    fields: &'a [String],
}

impl Row<'_> {
    fn text(&self, column: &str) -> &str {
        let i = self.header.iter().position(|name| name == column).unwrap_or_else(|| panic!("no {column}"));
        &self.fields[i]
    }

    fn number(&self, column: &str) -> f64 {
        self.maybe(column).unwrap_or_else(|| panic!("no number in {column}"))
    }

    fn maybe(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|e| panic!("{column}: {text}: {e}")))
    }
}

fn fields(line: &str) -> Vec<String> {
    let mut quoted = false;
    let parts = line.split(|c: char| {
        quoted ^= c == '"';
        c == ',' && !quoted
    });
    parts.map(|field| field.trim_matches('"').to_owned()).collect()
}

fn line_of(row: &Row<'_>) -> Line {
    let section = |length, weight, stiffness| {
        row.maybe(length).map(|metres| Section {
            length: Metres(metres),
            weight_n_per_m: row.number(weight),
            stiffness_n: row.maybe(stiffness),
        })
    };
    Line {
        chain: section("L_chain", "w_chain", "EA_chain").expect("every rode here has chain"),
        rope: section("L_rope", "w_rope", "EA_rope"),
    }
}

#[test]
fn the_catenary_agrees_with_a_mooring_solver() {
    let mut worst = [0.0_f64; 5];
    let table = Table::read("catenary.csv");
    for row in table.rows() {
        let (line, height, case) = (line_of(&row), Metres(row.number("h_m")), row.text("case"));
        let got = shape(&line, height, Newtons(row.number("H_N"))).unwrap();
        // A slack rode's reach is not unique: the file's is one that it allows.
        if case == "slack" {
            assert!(row.number("X_m") <= got.reach.0, "{case} at {height:?}");
        } else {
            worst[0] = worst[0].max((got.reach.0 - row.number("X_m")).abs());
        }
        let relative = |got: f64, column: &str| (got / row.number(column).max(1e-9) - 1.0).abs();
        worst[1] = worst[1].max((got.grounded.0 - row.number("grounded_m")).abs());
        worst[1] = worst[1].max((got.lifted.0 - row.number("lifted_m")).abs());
        worst[2] = worst[2].max(relative(got.tension_bow.0, "T_bow_N")).max(relative(got.v_bow.0, "V_bow_N"));
        if row.number("T_anchor_N") > 0.0 {
            worst[3] = worst[3].max(relative(got.tension_anchor.0, "T_anchor_N"));
        } else {
            assert_eq!(got.tension_anchor.0, 0.0);
        }
        worst[4] = worst[4].max((got.angle_anchor_deg - row.number("angle_anchor_deg")).abs());
        worst[4] = worst[4].max((got.angle_bow_deg - row.number("angle_bow_deg")).abs());
    }
    println!(
        "worst: reach {:.1e} m, grounded {:.1e} m, bow {:.1e}, anchor {:.1e}, angles {:.1e}°",
        worst[0], worst[1], worst[2], worst[3], worst[4]
    );
    let tolerance = [1e-3, 1e-3, 1e-3, 1e-3, 0.01];
    assert!(worst.iter().zip(tolerance).all(|(got, most)| *got <= most), "{worst:?}");
}

#[test]
fn the_pull_is_found_again_from_the_reach_where_that_is_well_conditioned() {
    for row in Table::read("catenary.csv").rows() {
        let (line, height, pull) = (line_of(&row), Metres(row.number("h_m")), row.number("H_N"));
        if ["mostly_grounded", "partly_grounded", "two_partly"].contains(&row.text("case")) {
            // The file's reach is rounded to a micrometre, worth up to 1e-4 of the pull here.
            let got = pull_at(&line, height, Metres(row.number("X_m"))).unwrap().0;
            assert!((got / pull - 1.0).abs() < 1e-3, "{pull} N came back as {got} N");
        }
    }
}

#[test]
fn the_length_needed_agrees_with_the_closed_form() {
    let mut worst = 0.0_f64;
    for row in Table::read("rode_needed.csv").rows() {
        let (height, pull) = (Metres(row.number("h_m")), Newtons(row.number("H_N")));
        let chain =
            Section { length: Metres(300.0), weight_n_per_m: row.number("w_chain"), stiffness_n: None };
        let locker = Locker::new(chain, None);
        let columns = [(0.0, "L_horizontal_m"), (5.0, "L_5deg_m"), (8.0, "L_8deg_m"), (15.0, "L_15deg_m")];
        for (angle_deg, column) in columns {
            let Needed::Veer(length) = needed(&locker, height, pull, angle_deg).unwrap() else {
                panic!("300 m are enough for {column} at {height:?}, {pull:?}");
            };
            worst = worst.max((length.0 - row.number(column)).abs());
        }
        let length = Metres(row.number("L_horizontal_m"));
        let reach = shape(&locker.veer(length).unwrap(), height, pull).unwrap().reach;
        worst = worst.max((reach.0 - row.number("X_horizontal_m")).abs());
    }
    println!("worst: {worst:.1e} m");
    assert!(worst < 1e-4, "{worst} m");
}

#[test]
fn knoxs_approximation_is_too_short_and_never_by_more_than_the_depth() {
    // F = w·S²/(2·D), quoted from Yachting Monthly, August 1997, neglects D² against S².
    for row in Table::read("rode_needed.csv").rows() {
        let (w, h, pull) = (row.number("w_chain"), row.number("h_m"), row.number("H_N"));
        let knox = (2.0 * h * pull / w).sqrt();
        assert!((knox - row.number("knox_approx_m")).abs() < 1e-4);
        let chain = Section { length: Metres(300.0), weight_n_per_m: w, stiffness_n: None };
        let Ok(Needed::Veer(exact)) = needed(&Locker::new(chain, None), Metres(h), Newtons(pull), 0.0) else {
            panic!("300 m are enough");
        };
        assert!((0.0..h).contains(&(exact.0 - knox)), "{knox} against {exact:?}");
    }
}

#[test]
fn wind_pressure_agrees_with_the_table() {
    for row in Table::read("wind_pressure.csv").rows() {
        let wind = Knots(row.number("wind_kn"));
        let (got, want) = (pressure_pa(wind, row.number("rho")), row.number("q_Pa"));
        // The table is rounded to 0.0001 Pa.
        assert!((got / want - 1.0).abs() < 1e-6 || (got - want).abs() <= 5.1e-5, "{wind:?}: {got}, {want}");
        if row.number("rho") == AIR_KG_PER_M3 {
            let push = Windage { drag_area_m2: 10.0 }.push(wind).0;
            assert!((push / row.number("force_CdA_10_N") - 1.0).abs() < 2e-6, "{wind:?}: {push} N");
        }
    }
}

#[test]
fn the_abyc_design_loads_are_the_published_ones() {
    for row in Table::read("abyc_h40.csv").rows() {
        let (loa, wind) = (Metres(row.number("loa_ft") * 0.3048), Knots(row.number("wind_kn")));
        let got = abyc_h40(loa, wind).unwrap().0;
        assert!((got - row.number("load_N")).abs() < 0.06, "{loa:?} at {wind:?}: {got} N");
    }
}

#[test]
fn measured_loads_lie_below_the_calculated_and_those_below_the_design_table() {
    // "Three to five times less than ABYC" (D. Frye, 2018): measured on yachts of about 30–40 ft.
    for (loa, beam) in [(9.0, 3.0), (10.0, 3.3), (12.0, 3.9)] {
        let boat = Boat { loa: Metres(loa), beam: Metres(beam), ..Boat::default() };
        let table = abyc_h40(boat.loa, Knots(30.0)).unwrap().0;
        let calculated = Windage::of(&boat).push(Knots(30.0)).0;
        assert!(table / 5.0 < calculated && calculated < table, "{loa} m: {calculated} N, table {table} N");
    }
}

#[test]
fn chain_weighs_what_three_tables_say() {
    for row in Table::read("chain.csv").rows() {
        let size = row.number("size_mm");
        for column in ["mass_A_kg_m", "mass_B_kg_m", "mass_C_kg_m"] {
            if let Some(mass) = row.maybe(column) {
                let got = chain_mass_kg_per_m(size);
                assert!((got / mass - 1.0).abs() <= 0.07, "{size} mm: {got} against {mass} kg/m");
            }
        }
        let listed = CHAINS.iter().find(|c| c.size_mm == size && c.pitch_mm == row.number("pitch_mm"));
        let mass = row.maybe("mass_A_kg_m").or(row.maybe("mass_B_kg_m")).unwrap();
        assert_eq!(listed.map(|c| c.mass_kg_per_m), Some(mass), "{size} mm");
        if row.maybe("mass_A_kg_m").is_some() {
            let weight = chain(size, Metres(1.0)).unwrap().weight_n_per_m;
            assert!((weight - row.number("submerged_weight_N_m")).abs() < 1e-4, "{size} mm: {weight} N/m");
        }
    }
}

#[test]
fn rope_weighs_and_gives_as_the_property_file_says() {
    for row in Table::read("rope.csv").rows() {
        let (fibre, ratio, break_per_d2) = match row.text("material") {
            "nylon (polyamide)" => (Fibre::Nylon, 5.0, 207e6),
            "polyester" => (Fibre::Polyester, 14.0, 308e6),
            _ => continue,
        };
        let (d, got) = (0.014, rope(fibre, 14.0, Metres(1.0)).unwrap());
        let mass = row.number("mass_per_d2") * d * d;
        let weight = mass * GRAVITY * row.number("submerged_factor");
        assert!((got.weight_n_per_m / weight - 1.0).abs() < 1e-5, "{fibre:?}");
        assert!((got.stiffness_n.unwrap() / (ratio * break_per_d2 * d * d) - 1.0).abs() < 1e-12);
    }
}

#[test]
fn the_rules_of_thumb_give_their_worked_lengths() {
    let table = Table::read("scope_rules.csv");
    for row in table.rows() {
        let rule = RULES.iter().find(|rule| rule.name == row.text("rule")).expect("every rule is known");
        assert_eq!(rule.formula, row.text("formula"));
        let input = RuleInput {
            depth: Metres(row.number("depth_D_m")),
            bow: Metres(row.number("bow_B_m")),
            wind: Knots(row.number("wind_W_kn")),
            loa: Metres(row.number("loa_L_m")),
        };
        let got = rule.length(&input).0;
        // The table is rounded to 0.0001 m.
        assert!((got - row.number("length_m")).abs() < 5.1e-5, "{}: {got} m", rule.name);
    }
    assert_eq!(table.rows().count(), 5 * RULES.len());
}

#[test]
fn the_us_sailing_scope_example_comes_to_105_feet() {
    // Basic Keelboat, 5th ed.: depth 10 ft, freeboard 2 ft, tide 3 ft, 7 : 1.
    let foot = 0.3048;
    let rule = RULES.iter().find(|rule| rule.name == "seven_to_one").unwrap();
    let input = RuleInput {
        depth: Metres((10.0 + 3.0) * foot),
        bow: Metres(2.0 * foot),
        wind: Knots(15.0),
        loa: Metres(8.0),
    };
    assert!((rule.length(&input).0 / foot - 105.0).abs() < 1e-9);
}

#[test]
fn the_beaufort_scale_has_its_bounds() {
    for row in Table::read("beaufort.csv").rows() {
        let (force, name) = (row.number("force") as u8, row.text("name"));
        assert_eq!(beaufort(Knots(row.number("kn_from"))), (force, name));
        if let Some(most) = row.maybe("kn_to") {
            assert_eq!(beaufort(Knots(most)), (force, name));
        }
    }
}

#[test]
fn forty_metres_of_8_mm_chain_in_8_m_are_nearly_straight_at_8_kilonewtons() {
    // The reference's own example of how ill-conditioned the load is near taut.
    let chain = Section { stiffness_n: None, ..chain(8.0, Metres(40.0)).unwrap() };
    let line = Line { chain, rope: None };
    let reach = shape(&line, Metres(8.0), Newtons(8000.0)).unwrap().reach.0;
    assert!((reach - 39.187).abs() < 1e-3, "{reach}");
}

/// The widest that any of this is ever asked: every section and load that the program accepts from a crew.
fn any_line() -> impl Strategy<Value = Line> {
    let chain = (6.0..16.0, 0.0..150.0_f64)
        .prop_map(|(mm, length)| chain(mm, Metres(length)).expect("a yacht's chain"));
    let warp = (8.0..24.0, 0.5..120.0_f64)
        .prop_map(|(mm, m)| rope(Fibre::Nylon, mm, Metres(m)).expect("a yacht's warp"));
    (chain, prop::option::of(warp), any::<bool>()).prop_map(|(mut chain, rope, stretches)| {
        if !stretches {
            chain.stiffness_n = None;
        }
        Line { chain, rope }
    })
}

/// A rode with a bow height that it reaches, from just short of straight up and down to forty times as long.
fn any_rode() -> impl Strategy<Value = (Line, Metres)> {
    (any_line(), 0.025..0.999_f64)
        .prop_map(|(line, share)| (line, Metres(line.veered().0 * share)))
        .prop_filter("the bow is above the bottom", |(_, height)| height.0 >= 0.1)
}

/// Pulls from a breath to a hurricane, spread evenly over the powers of ten.
fn any_pull() -> impl Strategy<Value = f64> {
    (-3.0..5.0_f64).prop_map(|power| 10.0_f64.powf(power))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn reach_grows_with_load((line, height) in any_rode(), pull in any_pull(), more in 1.001..3.0_f64) {
        let reach = |pull| shape(&line, height, Newtons(pull)).unwrap().reach.0;
        prop_assert!(reach(pull * more) >= reach(pull) - 1e-9);
        prop_assert!(reach(pull) >= reach(0.0) - 1e-9);
    }

    #[test]
    fn reach_grows_with_the_length_veered((line, height) in any_rode(), pull in any_pull(), more in 0.01..20.0_f64) {
        let longer = match line.rope {
            Some(rope) => Line { rope: Some(Section { length: rope.length + Metres(more), ..rope }), ..line },
            None => Line { chain: Section { length: line.chain.length + Metres(more), ..line.chain }, ..line },
        };
        let reach = |line: &Line| shape(line, height, Newtons(pull)).unwrap().reach;
        prop_assert!(reach(&longer) > reach(&line));
    }

    #[test]
    fn reach_falls_with_depth((line, height) in any_rode(), pull in any_pull(), share in 0.1..0.999_f64) {
        let reach = |height| shape(&line, height, Newtons(pull)).unwrap().reach;
        prop_assert!(reach(height) < reach(height * share));
    }

    #[test]
    fn the_pull_at_the_anchor_is_horizontal_exactly_when_chain_lies_on_the_bottom(
        (line, height) in any_rode(),
        pull in any_pull(),
    ) {
        let s = shape(&line, height, Newtons(pull)).unwrap();
        prop_assert_eq!(s.grounded.0 > 0.0, s.angle_anchor_deg == 0.0, "{:?}", s);
        prop_assert!((s.grounded.0 + s.lifted.0 - line.veered().0).abs() < 1e-9);
    }

    #[test]
    fn the_solver_closes_on_the_bows_height((line, height) in any_rode(), pull in any_pull()) {
        // Summed again from the anchor up; the benchmark does the same over a grid of a million.
        let drawn = points(&line, height, Newtons(pull), 2).unwrap();
        let s = shape(&line, height, Newtons(pull)).unwrap();
        prop_assert!((drawn[1].1 / height.0 - 1.0).abs() < 1e-9, "{:?} for {height:?}", drawn[1]);
        prop_assert!((drawn[1].0 - s.reach.0).abs() < 1e-9 * line.veered().0);
    }

    #[test]
    fn the_rode_carries_its_own_weight((line, height) in any_rode(), pull in any_pull()) {
        let s = shape(&line, height, Newtons(pull)).unwrap();
        let on_rope = line.rope.map_or(0.0, |rope| rope.weight_n_per_m * rope.length.0.min(s.lifted.0));
        let on_chain = line.chain.weight_n_per_m
            * (s.lifted.0 - line.rope.map_or(0.0, |rope| rope.length.0)).max(0.0);
        let v_anchor = pull * s.angle_anchor_deg.to_radians().tan();
        prop_assert!((s.v_bow.0 - v_anchor - on_rope - on_chain).abs() < 1e-6 * (1.0 + s.v_bow.0), "{s:?}");
    }

    #[test]
    fn the_pull_found_from_a_reach_gives_that_reach((line, height) in any_rode(), pull in any_pull()) {
        let reach = shape(&line, height, Newtons(pull)).unwrap().reach;
        match pull_at(&line, height, reach) {
            Ok(found) => {
                let again = shape(&line, height, found).unwrap().reach;
                prop_assert!((again.0 - reach.0).abs() < 1e-9 * line.veered().0, "{again:?} for {reach:?}");
            }
            // A chain that does not stretch, so straight that the last digit decides.
            Err(error) => prop_assert!(matches!(error, RodeError::BeyondReach { .. }), "{error}"),
        }
    }

    #[test]
    fn every_number_is_a_number_for_whatever_is_accepted(
        lengths in prop::array::uniform2(0.0..10_000.0_f64),
        weights in prop::array::uniform2(prop_oneof![Just(0.0), 0.0..3_000.0_f64]),
        stiffness in prop::array::uniform2(prop::option::of(10.0..1e15_f64)),
        height in 0.01..10_000.0_f64,
        pull in prop_oneof![Just(0.0), 0.0..1e-5_f64, 0.0..1e7_f64],
    ) {
        let section = |i: usize| Section {
            length: Metres(lengths[i]),
            weight_n_per_m: weights[i],
            stiffness_n: stiffness[i],
        };
        let line = Line { chain: section(0), rope: Some(section(1)) };
        match shape(&line, Metres(height), Newtons(pull)) {
            Ok(s) => {
                let all = [s.reach.0, s.grounded.0, s.lifted.0, s.angle_anchor_deg, s.angle_bow_deg,
                    s.tension_bow.0, s.tension_anchor.0, s.v_bow.0];
                prop_assert!(all.iter().all(|x| x.is_finite() && *x >= -1e-9), "{s:?}");
                let drawn = points(&line, Metres(height), Newtons(pull), 12).unwrap();
                prop_assert!(drawn.iter().all(|(x, z)| x.is_finite() && z.is_finite()), "{drawn:?}");
            }
            Err(error) => prop_assert!(matches!(error, RodeError::TooShort { .. }), "{error}"),
        }
    }

    #[test]
    fn nonsense_is_refused_not_calculated(numbers in prop::array::uniform6(any::<f64>())) {
        let [a, b, c, d, e, f] = numbers;
        let line = Line {
            chain: Section { length: Metres(a), weight_n_per_m: b, stiffness_n: Some(c) },
            rope: Some(Section { length: Metres(d), weight_n_per_m: b, stiffness_n: None }),
        };
        if let Ok(s) = shape(&line, Metres(e), Newtons(f)) {
            prop_assert!(s.reach.0.is_finite(), "{s:?}");
        }
        let _ = pull_at(&line, Metres(e), Metres(f));
        let _ = reach_limit(Metres(a), Metres(e));
    }
}

#[test]
fn waves_are_those_of_a_coastal_engineers_library() {
    for row in Table::read("waves.csv").rows() {
        let wind = Knots::from_mps(row.number("wind_mps"));
        let got = sea(wind, Metres(row.number("fetch_m")), row.maybe("depth_m").map(Metres));
        let (height, period) = (row.number("height_m"), row.number("period_s"));
        // The library rounds gravity to 9.81 m/s².
        assert!((got.height.0 / height - 1.0).abs() < 1e-3, "{wind:?}: {got:?} against {height} m");
        assert!((got.period_s / period - 1.0).abs() < 1e-3, "{wind:?}: {got:?} against {period} s");
    }
}

/// Example 1-1 of the user's guide of the *Automated Coastal Engineering System* (US Army Corps of Engineers, 1992), as a public
/// program quotes it in its own tests: an adjusted wind of 68.055 mph over 26 statute miles of water 13 ft deep, 4.237 ft every
/// 4.771 s. The guide's formulas are those of the manual.
#[test]
fn a_worked_example_over_a_shallow_bottom_comes_out() {
    const MPH: f64 = 0.447_04;
    const STATUTE_MILE: f64 = 1609.344;
    const FOOT: f64 = 0.3048;
    let sea = sea_under_stress(68.055 * MPH, Metres(26.0 * STATUTE_MILE), Some(Metres(13.0 * FOOT)));
    assert!((sea.height.0 / FOOT / 4.237 - 1.0).abs() < 0.005, "{} ft", sea.height.0 / FOOT);
    assert!((sea.period_s / 4.771 - 1.0).abs() < 0.005, "{} s", sea.period_s);
    println!("{:.4} ft, {:.4} s", sea.height.0 / FOOT, sea.period_s);
}

/// A published worked answer: wind stress factor 15 m/s over 200 km of deep water, 3.42 m every 9.0 s; fully grown gH/U² =
/// 0.243 and gT/U = 8.13.
#[test]
fn a_worked_example_of_the_manuals_deep_water_formulas_comes_out() {
    let limited = sea_under_stress(15.0, Metres(200_000.0), None);
    assert!((limited.height.0 - 3.417).abs() < 0.02, "{limited:?}");
    assert!((limited.period_s - 9.0).abs() < 0.05, "{limited:?}");
    let grown = sea_under_stress(15.0, Metres(2e6), None);
    assert!((grown.height.0 * GRAVITY / 225.0 - 0.243).abs() < 1e-3, "{grown:?}");
    assert!((grown.period_s * GRAVITY / 15.0 - 8.13).abs() < 0.01, "{grown:?}");
}
