//! How hard do wind and stream push her back on her rode?

use serde::{Deserialize, Serialize};

use super::lying::together;
use super::push::{SIDE_TO_BOW, stream_push};
use crate::watch::boat::{Boat, Hull};
use crate::watch::units::{Knots, Metres, Newtons};

/// Density of air, kg/m³, at 15 °C and 1013.25 hPa (ISO 2533, the standard atmosphere). In frost 5 % more.
pub const AIR_KG_PER_M3: f64 = 1.225;

/// Drag coefficient of a yacht end on to the wind, over the area of hull, house, spars and furled sails together.
/// Common practice, no source; blunt bodies lie at 0.8–1.2.
const DRAG_COEFFICIENT: f64 = 0.9;

/// Gust (3 s) over mean (10 min) where nobody says: 1.23 at sea, 1.38 on a coast with the wind off the sea, 1.52 with
/// the wind off the land (WMO/TD-No. 1555, 2010, table 1.1, from memory).
pub const GUST_FACTOR: f64 = 1.4;

/// Dynamic pressure of a wind, pascals: ½·ρ·V².
#[must_use]
pub fn pressure_pa(wind: Knots, air_kg_per_m3: f64) -> f64 {
    0.5 * air_kg_per_m3 * wind.mps() * wind.mps()
}

/// How she catches the wind, head on: drag coefficient times frontal area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Windage {
    /// Square metres.
    pub drag_area_m2: f64,
}

impl Windage {
    /// The windage entered for her, else one estimated from her size: 0.9·(0.18·LOA·beam + 0.075·LOA²), the first
    /// term for hull and house, the second for rig and gear.
    ///
    /// Common practice, no source: expect ±30 %. It stands between measured loads, which are three to five times less
    /// than the ABYC table, and that table: about half of it. A trimaran's floats are slender: half of her beam counts.
    #[must_use]
    pub fn of(boat: &Boat) -> Self {
        let beam_m = match boat.hull {
            Hull::Monohull | Hull::Catamaran => boat.beam.0,
            Hull::Trimaran => 0.5 * boat.beam.0,
        };
        let estimate = DRAG_COEFFICIENT * boat.loa.0 * (0.18 * beam_m + 0.075 * boat.loa.0);
        Self { drag_area_m2: boat.windage_m2.unwrap_or(estimate) }
    }

    /// The push of a wind on her bow: F = ½·ρ·V²·CdA.
    #[must_use]
    pub fn push(&self, wind: Knots) -> Newtons {
        Newtons(pressure_pa(wind, AIR_KG_PER_M3) * self.drag_area_m2)
    }

    /// The wind that pushes so hard on her bow; none for a push that is none.
    #[must_use]
    pub fn wind_for(&self, push: Newtons) -> Knots {
        Knots::from_mps((2.0 * push.0.max(0.0) / (AIR_KG_PER_M3 * self.drag_area_m2)).sqrt())
    }
}

/// How much more she pulls when she sheers so far to each side of the wind: cos²ψ + 3·sin²ψ, the shares of bow and
/// side that she shows.
#[must_use]
pub fn sheer_factor(to_each_side_deg: f64) -> f64 {
    let sin = to_each_side_deg.clamp(0.0, 90.0).to_radians().sin();
    1.0 + (SIDE_TO_BOW - 1.0) * sin * sin
}

/// The sheer to allow for where nobody says, degrees to each side: what 19 in 20 moments keep within in the project's own
/// simulator in gusts of 10 to 30 kn (`docs/inside/simulator.md`: sloops 32–39°, a catamaran without bridle 47–51°), and
/// what is published ("about 40° while at anchor in a moderate wind", a yachtsman). A bridle is not assumed: see
/// [`usual_sheer`].
#[must_use]
pub fn usual_sheer_deg(hull: Hull) -> f64 {
    match hull {
        Hull::Monohull => 40.0,
        Hull::Catamaran | Hull::Trimaran => 52.0,
    }
}

/// The sheer to allow for of this boat, degrees to each side: of a light sloop under 8 m more (59–65° in the simulator;
/// 120° from tack to tack is the worst that a magazine saw), of a boat with more than one hull less where she rides to a
/// bridle (38–41°).
#[must_use]
pub fn usual_sheer(boat: &Boat, bridle: bool) -> f64 {
    const SMALL_M: f64 = 8.0;
    match boat.hull {
        Hull::Monohull if boat.loa.0 < SMALL_M => 60.0,
        Hull::Catamaran | Hull::Trimaran if bridle => BRIDLED_DEG,
        hull => usual_sheer_deg(hull),
    }
}

/// A catamaran on a bridle, in the simulator as above.
const BRIDLED_DEG: f64 = 41.0;

/// Wind and stream to be allowed for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weather {
    /// Mean wind (ten minutes).
    pub mean: Knots,
    /// Gust (three seconds).
    pub gust: Knots,
    /// Greatest rate of the stream.
    pub stream: Knots,
    /// How far she sheers to each side, degrees.
    pub sheer_deg: f64,
}

impl Weather {
    /// A mean wind with the gusts and the sheering that usually go with it, and no stream.
    #[must_use]
    pub fn usual(mean: Knots, hull: Hull) -> Self {
        Self { mean, gust: mean * GUST_FACTOR, stream: Knots(0.0), sheer_deg: usual_sheer_deg(hull) }
    }

    /// The same in a squall: "a sudden increase of wind speed by at least 16 knots, rising to 22 knots or more, lasting
    /// for at least one minute" (World Meteorological Organization, from memory). So much is kept in reserve where no
    /// greater gust is expected.
    #[must_use]
    pub fn squall(&self) -> Self {
        let squall = (self.mean + Knots(16.0)).max(Knots(22.0)).max(self.gust);
        Self { mean: squall, gust: squall, ..*self }
    }
}

/// What pulls on the rode, part by part. Waves and snatching are no part of it: see [`super::Snatch`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// The mean wind on her bow.
    pub mean: Newtons,
    /// A gust on her bow.
    pub gust: Newtons,
    /// A gust while she shows her side.
    pub sheering: Newtons,
    /// What the stream adds to the mean wind, at the worst angle between them.
    pub stream: Newtons,
    /// What it adds to a gust while she sheers.
    pub stream_in_gusts: Newtons,
}

impl Load {
    /// What this weather does to her.
    #[must_use]
    pub fn of(boat: &Boat, weather: &Weather) -> Self {
        let windage = Windage::of(boat);
        let (mean, gust) = (windage.push(weather.mean), windage.push(weather.gust.max(weather.mean)));
        let sheering = gust * sheer_factor(weather.sheer_deg);
        let added = |wind: Newtons, alone: Newtons| {
            if weather.stream.0 == 0.0 {
                return Newtons(0.0);
            }
            let both = together(boat, wind, weather.stream, weather.sheer_deg);
            let pull = if alone > wind { both.sheering } else { both.still };
            // Never less than the two from ahead.
            (pull - alone).max(stream_push(boat, weather.stream))
        };
        Self { mean, gust, sheering, stream: added(mean, mean), stream_in_gusts: added(gust, sheering) }
    }

    /// What she is likely to pull most of the time: mean wind and stream.
    #[must_use]
    pub fn steady(&self) -> Newtons {
        self.mean + self.stream
    }

    /// A gust on her bow, and the stream: what a wave throws her back from.
    #[must_use]
    pub fn in_gust(&self) -> Newtons {
        self.gust + self.stream_in_gusts
    }

    /// What to veer for: a gust while she sheers, and the stream. Waves and snatching are not in it.
    #[must_use]
    pub fn greatest(&self) -> Newtons {
        self.sheering + self.stream_in_gusts
    }
}

/// The mean wind on her bow that with a stream at the worst angle to it pulls so hard: what the stream adds is that of her yaw
/// between the two, never less than the two from ahead.
#[must_use]
pub fn wind_with_stream(boat: &Boat, pull: Newtons, stream: Knots, sheer_deg: f64) -> Knots {
    let windage = Windage::of(boat);
    let alone = windage.wind_for(pull - stream_push(boat, stream));
    if stream.0 == 0.0 {
        return alone;
    }
    let weather = Weather { mean: alone, gust: alone, stream, sheer_deg };
    windage.wind_for(pull - Load::of(boat, &weather).stream)
}

/// Length overall ft; beam ft of a sailing boat; loads in lbf at 15, 30, 42 and 60 knots.
struct DesignLoad {
    loa_ft: f64,
    beam_ft: f64,
    lbf: [f64; 4],
}

const fn design(loa_ft: f64, beam_ft: f64, lbf: [f64; 4]) -> DesignLoad {
    DesignLoad { loa_ft, beam_ft, lbf }
}

/// ABYC H-40. Loads from a maker's page and a handbook's table, two misprints of the former put right by the rule that
/// they double from 30 to 42 and again to 60 knots; the column of beams from memory.
const ABYC_H40: [DesignLoad; 7] = [
    design(20.0, 7.0, [90.0, 360.0, 720.0, 1440.0]),
    design(25.0, 8.0, [125.0, 490.0, 980.0, 1960.0]),
    design(30.0, 9.0, [175.0, 700.0, 1400.0, 2800.0]),
    design(35.0, 10.0, [225.0, 900.0, 1800.0, 3600.0]),
    design(40.0, 11.0, [300.0, 1200.0, 2400.0, 4800.0]),
    design(50.0, 13.0, [400.0, 1600.0, 3200.0, 6400.0]),
    design(60.0, 15.0, [500.0, 2000.0, 4000.0, 8000.0]),
];
const ABYC_WINDS_KN: [f64; 4] = [15.0, 30.0, 42.0, 60.0];
const NEWTONS_PER_LBF: f64 = 4.448_221_615_260_5;
const METRES_PER_FOOT: f64 = 0.3048;

/// The load that ABYC H-40 tells designers to allow for, waves and snatching included: the conservative figure.
///
/// Between the table's lengths on straight lines, between its winds with V². `None` for a boat outside 20–60 ft, for
/// which it has nothing.
#[must_use]
pub fn abyc_h40(loa: Metres, wind: Knots) -> Option<Newtons> {
    by_dimension(loa, wind, |row| row.loa_ft)
}

/// The same by the beam of a sailing boat of one hull: the table takes whichever of length and beam gives more.
#[must_use]
pub fn abyc_h40_by_beam(beam: Metres, wind: Knots) -> Option<Newtons> {
    by_dimension(beam, wind, |row| row.beam_ft)
}

/// The same by length or beam, whichever gives more; the beams of the table are those of one hull.
#[must_use]
pub fn design_load(boat: &Boat, gust: Knots) -> Option<Newtons> {
    let by_length = abyc_h40(boat.loa, gust)?;
    let by_beam = match boat.hull {
        Hull::Monohull => abyc_h40_by_beam(boat.beam, gust),
        Hull::Catamaran | Hull::Trimaran => None,
    };
    Some(by_beam.map_or(by_length, |beam| beam.max(by_length)))
}

fn by_dimension(size: Metres, wind: Knots, dimension: fn(&DesignLoad) -> f64) -> Option<Newtons> {
    let size_ft = size.0 / METRES_PER_FOOT;
    ABYC_H40.windows(2).find_map(|pair| {
        let (low_ft, high_ft) = (dimension(&pair[0]), dimension(&pair[1]));
        // A length converted from feet and back may miss the end by a hair.
        let share = (size_ft - low_ft) / (high_ft - low_ft);
        if !(-1e-3..=1.001).contains(&share) {
            return None;
        }
        let low = lbf_at(&pair[0], wind);
        Some(Newtons((low + share * (lbf_at(&pair[1], wind) - low)) * NEWTONS_PER_LBF))
    })
}

fn lbf_at(row: &DesignLoad, wind: Knots) -> f64 {
    let squares = ABYC_WINDS_KN.map(|kn| kn * kn);
    let square = wind.0 * wind.0;
    match squares.iter().position(|above| square <= *above) {
        Some(0) => row.lbf[0] * square / squares[0],
        Some(i) => {
            let share = (square - squares[i - 1]) / (squares[i] - squares[i - 1]);
            row.lbf[i - 1] + share * (row.lbf[i] - row.lbf[i - 1])
        }
        None => row.lbf[3] * square / squares[3],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wind_comes_back_from_its_push() {
        let windage = Windage::of(&Boat::default());
        let back = windage.wind_for(windage.push(Knots(27.0)));
        assert!((back.0 - 27.0).abs() < 1e-9);
        assert_eq!(windage.wind_for(Newtons(-5.0)), Knots(0.0));
    }

    #[test]
    fn an_entered_windage_is_believed() {
        let boat = Boat { windage_m2: Some(7.5), ..Boat::default() };
        assert_eq!(Windage::of(&boat).drag_area_m2, 7.5);
    }

    #[test]
    fn a_catamaran_catches_more_wind_than_a_sloop_of_her_length() {
        let sloop = Boat::default();
        let cat = Boat { hull: Hull::Catamaran, beam: Metres(5.5), ..Boat::default() };
        let ratio = Windage::of(&cat).drag_area_m2 / Windage::of(&sloop).drag_area_m2;
        assert!((1.2..1.5).contains(&ratio), "{ratio}");
    }

    #[test]
    fn sheering_costs_what_a_tester_measured() {
        assert!((sheer_factor(0.0) - 1.0).abs() < 1e-12);
        // "Yawing 60°" is from side to side: half of it to each.
        assert!((sheer_factor(30.0) - 1.5).abs() < 1e-9);
        assert!((2.0..=3.0).contains(&sheer_factor(60.0)));
    }

    #[test]
    fn two_knots_of_stream_push_like_a_light_breeze() {
        let boat = Boat::default();
        let push = stream_push(&boat, Knots(2.0));
        let like = Windage::of(&boat).wind_for(push);
        assert!((6.0..11.0).contains(&like.0), "{push:?} is like {like:?}");
        assert_eq!(stream_push(&boat, Knots(0.0)), Newtons(0.0));
    }

    #[test]
    fn a_stream_lowers_the_wind_that_pulls_so_hard_by_all_that_it_adds() {
        let boat = Boat::default();
        let pull = Newtons(1500.0);
        let alone = wind_with_stream(&boat, pull, Knots(0.0), 40.0);
        assert!((alone.0 - Windage::of(&boat).wind_for(pull).0).abs() < 1e-9);
        for rate in [0.5, 1.0, 2.0, 3.0] {
            let wind = wind_with_stream(&boat, pull, Knots(rate), 40.0);
            let bow_on = Windage::of(&boat).wind_for(pull - stream_push(&boat, Knots(rate)));
            assert!(wind <= bow_on && wind < alone, "{rate} kn: {wind:?} {bow_on:?}");
            let weather = Weather { mean: wind, gust: wind, stream: Knots(rate), sheer_deg: 40.0 };
            assert!(Load::of(&boat, &weather).steady().0 <= 1.01 * pull.0, "{rate} kn: {wind:?}");
        }
    }

    #[test]
    fn the_design_table_stands_well_above_what_is_calculated() {
        let boat = Boat::default();
        let computed = Windage::of(&boat).push(Knots(30.0)).0;
        let table = abyc_h40(boat.loa, Knots(30.0)).unwrap().0;
        assert!((1.5..4.0).contains(&(table / computed)), "{table} against {computed}");
        assert_eq!(abyc_h40(Metres(25.0), Knots(30.0)), None);
    }
}
