//! What is her anchor asked to hold, in the wind that blows or that is supposed, beside what it may hold?

use super::boat::{Berth, Boat, Tackle};
use super::grade::Grade;
use super::rode::{AskedBy, Hardest, Hold, Out, Sea, WavePull, Weather, hold, shape};
use super::units::{Metres, Newtons, TrueBearing};

/// The greatest pull to be expected, beside the hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AskedNow {
    /// Its size: gusts and waves in it, never less than the published design table's.
    pub pull: Newtons,
    /// What makes it.
    pub by: AskedBy,
    /// How steeply it arrives at the anchor, degrees above the bottom.
    pub angle_deg: f64,
    /// What the anchor may hold at that angle; `None` where bottom or anchor is not known, or nothing can be calculated.
    pub hold: Option<Hold>,
    /// The sea of that wind; `None` where nobody said how far the water is open.
    pub waves: Option<WavePull>,
}

/// What this weather asks of the anchor, with so much out and the bow roller so high above the bottom. `None` where the rode
/// makes no shape.
#[must_use]
pub fn asked(
    boat: &Boat,
    tackle: &Tackle,
    berth: &Berth,
    (weather, from): (&Weather, Option<TrueBearing>),
    (veered, high): (Metres, Metres),
    measured: Option<Sea>,
) -> Option<AskedNow> {
    let (locker, bare) = berth.lockers(tackle).ok()?;
    let line = locker.veer(veered).ok()?;
    let bare = bare.map(|bare| bare.veer(veered)).transpose().ok()?;
    let out = Out { line, bare, high, depth: high - boat.bow_height, measured };
    let pulls = Hardest::of(boat, weather, from, &berth.open, &out).ok()?;
    let (pull, by) = pulls.leads();
    let angle_deg = shape(&line, high, pull).ok()?.angle_anchor_deg;
    let holds = berth.seabed.zip(tackle.anchor_kg).and_then(|(bed, kg)| hold(kg, bed));
    let hold = holds.map(|hold| hold.pulled_up(angle_deg));
    Some(AskedNow { pull, by, angle_deg, hold, waves: pulls.waves })
}

impl AskedNow {
    /// Good only where even the least of the hold is more; `None` where nothing is known of the hold.
    #[must_use]
    pub fn grade(&self) -> Option<Grade> {
        let hold = self.hold?;
        let counted = self.waves.is_some() || self.by == AskedBy::DesignTable;
        Some(match self.pull {
            pull if pull > hold.most => Grade::Bad,
            pull if pull > hold.least || !counted => Grade::Tight,
            _ => Grade::Good,
        })
    }

    /// The sea and its snatch, in a sentence; `None` where no sea is reckoned.
    #[must_use]
    pub fn sea_in_words(&self) -> Option<String> {
        let waves = self.waves?;
        let bare = waves
            .peak_bare
            .map_or_else(String::new, |bare| format!(", without the snubber to {}", bare.kilo()));
        let whose = if waves.fetch.is_some() { "Sea" } else { "Measured sea" };
        Some(format!(
            "{whose} of {:.1} m every {:.1} s; a wave of {:.1} m snatches to {} kN{bare}.",
            waves.sea.height.0,
            waves.sea.period_s,
            waves.wave.0,
            waves.peak.kilo()
        ))
    }

    /// In a sentence.
    #[must_use]
    pub fn in_words(&self) -> String {
        let asks = format!("May pull {} kN{}", self.pull.kilo(), self.by.in_words());
        let up = if self.angle_deg < 0.5 { String::new() } else { format!(", {:.0}° up", self.angle_deg) };
        match (self.hold, self.grade()) {
            (Some(hold), Some(Grade::Bad)) => {
                format!("{asks}{up}: more than the anchor holds at best, {} kN.", hold.most.kilo())
            }
            (Some(hold), _) => {
                format!("{asks}{up}; the anchor may hold {} to {} kN.", hold.least.kilo(), hold.most.kilo())
            }
            (None, _) => format!("{asks}{up}; bottom or anchor not entered, so nothing is said of holding."),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::rode::{OpenWater, Seabed, parse_fetch};
    use crate::watch::units::Knots;

    fn in_wind(kn: f64, open: &str, anchor_kg: f64) -> AskedNow {
        let (boat, tackle) = (Boat::default(), Tackle { anchor_kg: Some(anchor_kg), ..Tackle::default() });
        let fetch = if open.is_empty() { Vec::new() } else { parse_fetch(open).unwrap() };
        let berth =
            Berth { seabed: Some(Seabed::Mud), open: OpenWater { fetch, depth: None }, ..Berth::default() };
        let weather = Weather::usual(Knots(kn), boat.hull);
        asked(&boat, &tackle, &berth, (&weather, None), (Metres(40.0), Metres(6.2)), None).unwrap()
    }

    #[test]
    fn open_water_can_make_of_a_good_hold_a_bad_one() {
        let (sheltered, open) = (in_wind(22.0, "", 70.0), in_wind(22.0, "6", 70.0));
        assert_eq!(sheltered.grade(), Some(Grade::Good), "{sheltered:?}");
        assert!(open.grade() > sheltered.grade() && open.by == AskedBy::Waves, "{open:?}");
        assert!(open.in_words().contains("as a wave throws her back"), "{}", open.in_words());
        assert_eq!(in_wind(45.0, "6", 10.0).grade(), Some(Grade::Bad));
    }

    #[test]
    fn without_bottom_or_anchor_the_pull_is_told_all_the_same() {
        let (boat, tackle) = (Boat::default(), Tackle::default());
        let weather = Weather::usual(Knots(20.0), boat.hull);
        let bare =
            asked(&boat, &tackle, &Berth::default(), (&weather, None), (Metres(40.0), Metres(6.2)), None);
        let bare = bare.unwrap();
        assert_eq!((bare.grade(), bare.sea_in_words()), (None, None));
        assert!(bare.in_words().starts_with("May pull ") && bare.in_words().contains("not entered"));
    }
}
