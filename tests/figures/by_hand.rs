//! The five nights of `docs/inside/rode.md`, summed again by hand: its formulas and tables written out, no code of the program
//! but for the plan that they are held against.

use nightrode::watch::boat::{Boat, Hull, Limits, Tackle};
use nightrode::watch::plan::{Aim, AskedBy, BigSizes, Grade, Inputs, Plan, Site, Verdict};
use nightrode::watch::rode::{Fibre, OpenWater, Seabed, Weather, parse_fetch, rope, usual_sheer};
use nightrode::watch::units::{Knots, Metres, Span, WatchTime};

/// A night: firm sand, no tide, gusts 1.4 times the mean.
struct Night {
    hull: Hull,
    loa: f64,
    beam: f64,
    bow: f64,
    tackle: Tackle,
    depth: f64,
    wind: f64,
    stream: f64,
    bridle: bool,
}

const CHAIN_8_N_PER_M: f64 = 11.94;
const CHAIN_10_N_PER_M: f64 = 18.75;

fn all_chain(chain_mm: f64, anchor_kg: f64) -> Tackle {
    Tackle {
        chain_mm,
        chain: Metres(70.0),
        rope: Metres(0.0),
        anchor_kg: Some(anchor_kg),
        ..Tackle::default()
    }
}

fn sloop((loa, beam, bow): (f64, f64, f64), tackle: Tackle, depth: f64, wind: f64) -> Night {
    Night { hull: Hull::Monohull, loa, beam, bow, tackle, depth, wind, stream: 0.0, bridle: false }
}

impl Night {
    fn plan(&self, site: Site) -> Plan {
        let boat = Boat {
            hull: self.hull,
            loa: Metres(self.loa),
            beam: Metres(self.beam),
            bow_height: Metres(self.bow),
            draft: Metres(1.2),
            displacement_kg: if self.hull == Hull::Catamaran { 8000.0 } else { 5000.0 },
            windage_m2: None,
            ..Boat::default()
        };
        let weather = Weather {
            stream: Knots(self.stream),
            sheer_deg: usual_sheer(&boat, self.bridle),
            ..Weather::usual(Knots(self.wind), self.hull)
        };
        let snubber = self.bridle.then(|| rope(Fibre::Nylon, 16.0, Metres(8.0)).expect("a rope"));
        Plan::make(&Inputs {
            boat,
            tackle: self.tackle.clone(),
            snubber,
            sounded: Metres(self.depth),
            at: WatchTime(0),
            until: WatchTime(0) + Span::from_mins(12 * 60),
            tide: None,
            weather,
            gusts_assumed: true,
            wind_from: None,
            forecast: None,
            shore: Vec::new(),
            way_out: None,
            veered: None,
            seabed: Some(Seabed::Sand),
            limits: Limits::default(),
            site,
            marks: Vec::new(),
            others: Vec::new(),
            big_sizes: BigSizes::Refuse,
        })
        .expect("a plan")
    }

    /// Mean wind, gust, and gust while she sheers by so many degrees, newtons.
    fn pulls(&self, sheer_deg: f64) -> [f64; 3] {
        let drag_area = 0.9 * (0.18 * self.loa * self.beam + 0.075 * self.loa * self.loa);
        let mean = 0.1621 * self.wind * self.wind * drag_area;
        let sheer = sheer_deg.to_radians();
        [mean, 1.96 * mean, 1.96 * mean * (sheer.cos().powi(2) + 3.0 * sheer.sin().powi(2))]
    }

    /// Chain alone that keeps its last link down in the mean wind.
    fn along_the_bottom(&self, weight_n_per_m: f64) -> f64 {
        let high = self.depth + self.bow;
        (high * high + 2.0 * high * self.pulls(0.0)[0] / weight_n_per_m).sqrt()
    }
}

fn asks(plan: &Plan, aim: impl Fn(Aim) -> bool) -> f64 {
    plan.demands.iter().find(|demand| aim(demand.aim)).expect("a demand").length.0
}

fn within(got: f64, by_hand: f64, part: f64) {
    assert!((got / by_hand - 1.0).abs() < part, "{got}, by hand {by_hand}");
}

fn pulls_as_by_hand(night: &Night, plan: &Plan, sheer_deg: f64) {
    let [mean, gust, sheering] = night.pulls(sheer_deg);
    within(plan.load.mean.0, mean, 0.001);
    within(plan.load.gust.0, gust, 0.001);
    within(plan.load.sheering.0, sheering, 0.001);
}

/// How the hold is graded, the pull to be expected and what makes it.
fn hold_of(plan: &Plan) -> (Grade, f64, AskedBy) {
    let holds = plan.verdicts.iter().find_map(|verdict| match verdict {
        Verdict::Hold { asked, .. } => Some((verdict.grade(), asked.pull.0, asked.by)),
        _ => None,
    });
    holds.expect("what the anchor may hold")
}

#[test]
fn a_small_sloop_on_chain() {
    let night = sloop((8.0, 2.7, 1.0), all_chain(8.0, 10.0), 4.0, 20.0);
    let plan = night.plan(Site::default());
    pulls_as_by_hand(&night, &plan, 40.0);
    within(asks(&plan, |aim| aim == Aim::BottomInMeanWind), night.along_the_bottom(CHAIN_8_N_PER_M), 0.005);
    within(asks(&plan, |aim| matches!(aim, Aim::RuleForRode(_))), 4.0 * 4.0, 1e-9);
    let (grade, asked, by) = hold_of(&plan);
    // 26.2 ft at a gust of 28 kn: 490 and 700 lbf for 25 and 30 ft at 30 kn; her beam, wide for her length, gives more.
    let by_length = (490.0 + 210.0 * (8.0 / 0.3048 - 25.0) / 5.0) * (28.0_f64 / 30.0).powi(2) * 4.448;
    assert!(asked > by_length && asked < 1.3 * by_length, "{asked} {by_length}");
    assert_eq!((grade, by), (Grade::Tight, AskedBy::DesignTable));
}

#[test]
fn a_catamaran_on_a_bridle_with_half_a_mile_of_open_water() {
    let night = Night {
        hull: Hull::Catamaran,
        bridle: true,
        ..sloop((12.0, 6.6, 1.6), all_chain(10.0, 25.0), 5.0, 25.0)
    };
    let open = OpenWater { fetch: parse_fetch("0.5").unwrap(), depth: None };
    let plan = night.plan(Site { open, snubber_mm: Some(16.0), ..Site::default() });
    pulls_as_by_hand(&night, &plan, 41.0);
    // Eight metres of it are nylon, which weighs nearly nothing.
    let along = asks(&plan, |aim| aim == Aim::BottomInMeanWind);
    assert!((night.along_the_bottom(CHAIN_10_N_PER_M)..44.0).contains(&along), "{along}");
    within(asks(&plan, |aim| matches!(aim, Aim::RuleForRode(_))), 2.0 * 4.0 * 5.0, 1e-9);
    let waves = plan.waves.expect("a sea");
    let stress = 0.71 * (25.0_f64 * 0.5144).powf(1.23);
    let by_fetch = 9.80665 * 926.0 / (stress * stress);
    within(waves.sea.height.0, 0.0016 * by_fetch.sqrt() * stress * stress / 9.80665, 0.002);
    within(waves.sea.period_s, 0.2857 * by_fetch.cbrt() * stress / 9.80665, 0.002);
    within(waves.peak.0, 5.8e3, 0.01);
    within(waves.peak_bare.unwrap().0, 6.8e3, 0.01);
    // Chain alone snatches harder than nylon, and both less than she pulls while she sheers.
    assert!(waves.peak < waves.peak_bare.unwrap() && waves.peak_bare.unwrap() < plan.load.sheering);
    let (grade, asked, by) = hold_of(&plan);
    within(asked, night.pulls(41.0)[2], 0.001);
    assert_eq!((grade, by), (Grade::Tight, AskedBy::Sum));
}

#[test]
fn a_sloop_on_rope_with_a_little_chain() {
    let tackle = Tackle {
        chain_mm: 8.0,
        chain: Metres(8.0),
        rope_mm: 14.0,
        rope: Metres(60.0),
        anchor_kg: Some(16.0),
    };
    let night = sloop((9.6, 3.2, 1.2), tackle, 6.0, 18.0);
    let plan = night.plan(Site::default());
    pulls_as_by_hand(&night, &plan, 40.0);
    within(asks(&plan, |aim| matches!(aim, Aim::RuleForRode(_))), 6.0 * 6.0, 1e-9);
    assert!(plan.advised >= Metres(36.0), "{:?}", plan.advised);
    assert_eq!(hold_of(&plan).2, AskedBy::DesignTable);
}

/// On her bow two knots push 90 N; what they add to a gust while she sheers is calculated, and the table is more all the same.
#[test]
fn a_sloop_with_the_stream_against_the_wind() {
    let night = Night { stream: 2.0, ..sloop((10.0, 3.3, 1.2), all_chain(8.0, 16.0), 5.0, 20.0) };
    let plan = night.plan(Site::default());
    pulls_as_by_hand(&night, &plan, 40.0);
    assert!((60.0..160.0).contains(&plan.load.stream.0), "{:?}", plan.load);
    // 33 ft at 28 kn.
    let by_length = (700.0 + 200.0 * (10.0 / 0.3048 - 30.0) / 5.0) * (28.0_f64 / 30.0).powi(2) * 4.448;
    let (_, asked, by) = hold_of(&plan);
    assert!(asked >= by_length && asked > plan.load.greatest().0, "{asked} {by_length}");
    assert_eq!(by, AskedBy::DesignTable);
}

#[test]
fn a_sloop_in_a_gale() {
    let night = sloop((11.0, 3.6, 1.3), all_chain(10.0, 25.0), 6.0, 38.0);
    let plan = night.plan(Site::default());
    pulls_as_by_hand(&night, &plan, 40.0);
    within(asks(&plan, |aim| aim == Aim::BottomInMeanWind), night.along_the_bottom(CHAIN_10_N_PER_M), 0.005);
    // 25 kg hold at most 60 times their weight.
    let (grade, asked, by) = hold_of(&plan);
    assert!(asked > 60.0 * 25.0 * 9.81, "{asked}");
    assert_eq!((grade, by), (Grade::Bad, AskedBy::DesignTable));
    within(plan.hold.expect("a range").most.0, 60.0 * 25.0 * 9.81, 0.001);
}
