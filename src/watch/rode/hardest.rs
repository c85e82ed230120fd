//! What is the hardest that she may pull in a wind, and what makes it: a gust while she sheers, a wave, wind against stream?

use serde::{Deserialize, Serialize};

use super::load::{Load, Weather, design_load};
use super::snatch::Snatch;
use super::waves::{Fetch, Sea, fetch_for, sea};
use super::{Line, RodeError, reach_limit, shape};
use crate::watch::boat::Boat;
use crate::watch::units::{Knots, Metres, Newtons, TrueBearing};

/// The open water about a berth, that a sea runs in over.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct OpenWater {
    /// How far it goes, by direction; empty: not said, and no sea is reckoned.
    #[serde(default)]
    pub fetch: Vec<Fetch>,
    /// Depth of the water along it; `None`: deep.
    #[serde(default)]
    pub depth: Option<Metres>,
}

/// Which figure is the greatest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AskedBy {
    /// A gust while she sheers, and the stream, as calculated.
    Sum,
    /// The greatest wave, as calculated.
    Waves,
    /// Wind against stream, as calculated.
    FetchingUp,
    /// The published design table, which is higher.
    DesignTable,
}

impl AskedBy {
    /// As the end of a clause: ` in gusts while she sheers`.
    #[must_use]
    pub const fn in_words(self) -> &'static str {
        match self {
            Self::Sum => " in gusts while she sheers",
            Self::Waves => " as a wave throws her back in a gust",
            Self::FetchingUp => " as she fetches up with the wind against the stream",
            Self::DesignTable => " by the ABYC design table, waves included",
        }
    }

    /// Its name in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Sum => "sheering",
            Self::Waves => "waves",
            Self::FetchingUp => "fetching_up",
            Self::DesignTable => "design_table",
        }
    }
}

/// The sea of a wind, and what its greatest wave pulls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WavePull {
    /// The open water counted; `None` where an instrument measured the sea, and more of it than is reckoned.
    pub fetch: Option<Metres>,
    /// The sea.
    pub sea: Sea,
    /// Its greatest wave.
    pub wave: Metres,
    /// What that wave ends in, from a gust on her bow.
    pub peak: Newtons,
    /// The same to chain alone, where she rides to a snubber.
    pub peak_bare: Option<Newtons>,
}

/// What is out: the rode with its snubber, and the same without where there is one.
#[derive(Clone, Copy, Debug)]
pub struct Out {
    /// The rode.
    pub line: Line,
    /// Without its snubber.
    pub bare: Option<Line>,
    /// Bow roller above the bottom, as the pull sees it.
    pub high: Metres,
    /// Depth of the water.
    pub depth: Metres,
    /// The sea that an instrument measures.
    pub measured: Option<Sea>,
}

/// All that pulls on the rode in one wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hardest {
    /// Wind and stream.
    pub load: Load,
    /// The sea; `None` where nobody said how far the water is open.
    pub waves: Option<WavePull>,
    /// What she snatches to with the wind against the stream; `None` without a stream.
    pub fetches_up: Option<Newtons>,
    /// The published design table's figure for the gust; `None` for a boat that it does not cover.
    pub design: Option<Newtons>,
}

impl Hardest {
    /// What this weather does to her, the wind from `from`.
    ///
    /// # Errors
    /// If the rode makes no shape.
    pub fn of(
        boat: &Boat,
        weather: &Weather,
        from: Option<TrueBearing>,
        water: &OpenWater,
        out: &Out,
    ) -> Result<Self, RodeError> {
        let load = Load::of(boat, weather);
        Ok(Self {
            waves: waves(boat, weather, from, water, out, &load)?,
            fetches_up: fetches_up(boat, weather.stream, &out.line, out.high, &load)?,
            design: design_load(boat, weather.gust),
            load,
        })
    }

    /// The greatest as calculated.
    #[must_use]
    pub fn calculated(&self) -> (Newtons, AskedBy) {
        let waves = self.waves.map(|waves| (waves.peak, AskedBy::Waves));
        let fetching_up = self.fetches_up.map(|pull| (pull, AskedBy::FetchingUp));
        let sum = (self.load.greatest(), AskedBy::Sum);
        let others = [waves, fetching_up].into_iter().flatten();
        others.fold(sum, |most, one| if one.0 > most.0 { one } else { most })
    }

    /// The figure that leads: the design table's wherever that is higher.
    #[must_use]
    pub fn leads(&self) -> (Newtons, AskedBy) {
        let calculated = self.calculated();
        match self.design {
            Some(design) if design > calculated.0 => (design, AskedBy::DesignTable),
            _ => calculated,
        }
    }

    /// How far rope or snubber give beyond a straight rode when that comes: room that she surges into. `low` is the bow
    /// roller above the bottom at the water that is looked at.
    ///
    /// # Errors
    /// If the rode makes no shape.
    pub fn gives(&self, line: &Line, low: Metres) -> Result<Metres, RodeError> {
        if line.rope.is_none() {
            return Ok(Metres(0.0));
        }
        let drawn = shape(line, low, self.calculated().0)?.reach;
        Ok((drawn - reach_limit(line.veered(), low)?).max(Metres(0.0)))
    }
}

fn waves(
    boat: &Boat,
    weather: &Weather,
    from: Option<TrueBearing>,
    water: &OpenWater,
    out: &Out,
    load: &Load,
) -> Result<Option<WavePull>, RodeError> {
    let reckoned =
        fetch_for(&water.fetch, from).map(|fetch| (Some(fetch), sea(weather.mean, fetch, water.depth)));
    // What is measured only adds: it follows waves longer than the boat, and says nothing of a wind that is to come.
    let least = reckoned.map_or(Metres(0.0), |(_, sea)| sea.height);
    let measured = out.measured.filter(|sea| sea.height > least).map(|sea| (None, sea));
    let Some((fetch, sea)) = measured.or(reckoned) else { return Ok(None) };
    let snatch = Snatch::of(boat, &sea, out.depth);
    // The farthest of her sheer and the greatest wave do not meet: a gust on her bow.
    let peak = |line: &Line| snatch.peak(line, out.high, load.in_gust());
    Ok(Some(WavePull {
        fetch,
        sea,
        wave: snatch.wave,
        peak: peak(&out.line)?,
        peak_bare: out.bare.as_ref().map(peak).transpose()?,
    }))
}

/// Less stream than this carries nobody over her rode, knots (common practice, no source).
const STREAM_CARRIES_KN: f64 = 0.5;

/// What she snatches to with the wind against the stream; `None` where that is too little to carry her over her rode.
///
/// # Errors
/// If the rode makes no shape.
pub fn fetches_up(
    boat: &Boat,
    rate: Knots,
    line: &Line,
    high: Metres,
    load: &Load,
) -> Result<Option<Newtons>, RodeError> {
    let carried = (rate.0 >= STREAM_CARRIES_KN).then(|| Snatch::carried(boat, rate, line));
    carried.map(|carried| carried.fetching_up(line, high, load.gust)).transpose()
}

#[cfg(test)]
mod tests {
    use super::super::{Fibre, Locker, parse_fetch, rope};
    use super::*;
    use crate::watch::boat::Tackle;

    fn hardest(open: &str, snubbed: bool, stream_kn: f64) -> Hardest {
        let (boat, locker) = (Boat::default(), Locker::of(&Tackle::default()).unwrap());
        let bare = locker.veer(Metres(30.0)).unwrap();
        let soft = locker.snubbed(rope(Fibre::Nylon, 12.0, Metres(8.0)).unwrap());
        let out = Out {
            line: if snubbed { soft.veer(Metres(30.0)).unwrap() } else { bare },
            bare: snubbed.then_some(bare),
            high: Metres(6.2),
            depth: Metres(5.0),
            measured: None,
        };
        let fetch = if open.is_empty() { Vec::new() } else { parse_fetch(open).unwrap() };
        let weather = Weather { stream: Knots(stream_kn), ..Weather::usual(Knots(25.0), boat.hull) };
        let water = OpenWater { fetch, depth: None };
        Hardest::of(&boat, &weather, Some(TrueBearing::new(225.0)), &water, &out).unwrap()
    }

    #[test]
    fn open_water_only_adds_and_without_it_nothing_is_reckoned() {
        let sheltered = hardest("", false, 0.0);
        assert_eq!((sheltered.waves, sheltered.calculated().1), (None, AskedBy::Sum));
        let open = hardest("SW 3, N 0.2", false, 0.0);
        assert_eq!(open.calculated().1, AskedBy::Waves);
        assert!(open.leads().0 > sheltered.leads().0);
        let lee = hardest("SW 0.02, N 3, S 0.02, W 0.02", false, 0.0);
        assert!(lee.waves.unwrap().peak < open.waves.unwrap().peak);
    }

    #[test]
    fn a_snubber_takes_off_what_stands_beside_it() {
        let waves = hardest("SW 3", true, 0.0).waves.unwrap();
        assert!(waves.peak < waves.peak_bare.unwrap(), "{waves:?}");
        assert_eq!(waves.peak_bare.unwrap(), hardest("SW 3", false, 0.0).waves.unwrap().peak);
    }

    #[test]
    fn a_sea_that_is_measured_counts_only_where_it_is_higher_than_the_one_reckoned() {
        let (boat, locker) = (Boat::default(), Locker::of(&Tackle::default()).unwrap());
        let waves = |open: &str, height: f64| {
            let measured = Some(Sea { height: Metres(height), period_s: 3.0 });
            let out = Out {
                line: locker.veer(Metres(30.0)).unwrap(),
                bare: None,
                high: Metres(6.2),
                depth: Metres(5.0),
                measured,
            };
            let fetch = if open.is_empty() { Vec::new() } else { parse_fetch(open).unwrap() };
            let weather = Weather::usual(Knots(25.0), boat.hull);
            let water = OpenWater { fetch, depth: None };
            Hardest::of(&boat, &weather, None, &water, &out).unwrap().waves.unwrap()
        };
        let reckoned = hardest("SW 3", false, 0.0).waves.unwrap();
        assert_eq!(waves("SW 3", 0.1), reckoned);
        let higher = waves("SW 3", 1.2);
        assert!(higher.fetch.is_none() && higher.peak > reckoned.peak, "{higher:?}");
        assert_eq!(waves("", 0.4).sea.height, Metres(0.4));
    }

    #[test]
    fn the_design_table_leads_where_it_is_higher() {
        let calm = hardest("", false, 0.0);
        assert_eq!(calm.leads(), (calm.design.unwrap(), AskedBy::DesignTable));
        assert!(hardest("", false, 2.0).fetches_up.is_some());
    }
}
