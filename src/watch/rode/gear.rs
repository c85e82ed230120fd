//! What a size of chain or rope weighs and how far it gives.

use super::{Line, RodeError, Section, catenary};
use crate::watch::boat::Tackle;
use crate::watch::units::{Metres, Newtons};

/// Standard gravity, m/s² (CGPM 1901).
pub const GRAVITY: f64 = 9.806_65;
/// Density of sea water, kg/m³: a common round value for 35 g/kg of salt near 15 °C.
pub const SEA_KG_PER_M3: f64 = 1025.0;
/// Density of steel, kg/m³.
const STEEL_KG_PER_M3: f64 = 7850.0;

/// One size of calibrated short-link chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChainSize {
    /// Diameter of the bar, millimetres.
    pub size_mm: f64,
    /// Inside length of a link, millimetres.
    pub pitch_mm: f64,
    /// Which standard has this pitch.
    pub standard: &'static str,
    /// Mass in air, kg/m.
    pub mass_kg_per_m: f64,
}

const fn link(size_mm: f64, pitch_mm: f64, standard: &'static str, mass_kg_per_m: f64) -> ChainSize {
    ChainSize { size_mm, pitch_mm, standard, mass_kg_per_m }
}

/// Sizes, pitches and masses as a merchant's DIN 766 table prints them; the norms themselves were not opened.
/// Other merchants' and engineers' tables differ by up to 7 % in mass. 10 mm is made in two pitches.
pub const CHAINS: [ChainSize; 11] = [
    link(6.0, 18.5, "DIN 766 / ISO 4565", 0.80),
    link(7.0, 22.0, "DIN 766", 1.10),
    link(8.0, 24.0, "DIN 766 / ISO 4565", 1.40),
    link(9.0, 27.0, "DIN 766", 1.80),
    link(10.0, 28.0, "DIN 766", 2.20),
    link(10.0, 30.0, "ISO 4565", 2.25),
    link(11.0, 31.0, "DIN 766", 2.70),
    link(12.0, 36.0, "DIN 766 / ISO 4565", 3.10),
    link(13.0, 36.0, "DIN 766", 3.80),
    link(14.0, 41.0, "DIN 766", 4.40),
    link(16.0, 45.0, "DIN 766", 5.70),
];

/// Mass of a size that no table has: kilograms per metre and square millimetre, the mean over [`CHAINS`].
const CHAIN_MASS_PER_MM2: f64 = 0.0221;

/// Mass of a metre of chain in air, kg. Between the table's sizes it goes with the square of the diameter.
#[must_use]
pub fn chain_mass_kg_per_m(size_mm: f64) -> f64 {
    CHAINS
        .iter()
        .find(|chain| (chain.size_mm - size_mm).abs() < 0.05)
        .map_or(CHAIN_MASS_PER_MM2 * size_mm * size_mm, |chain| chain.mass_kg_per_m)
}

/// A length of steel chain in sea water.
///
/// Stiffness EA = 85.6·10⁹·d² − 39.3·10⁶·d³ newtons, d in metres, for studless chain (MoorPy's default properties).
///
/// # Errors
/// [`RodeError::OutOfRange`] for a size outside 3–50 mm or a length that is none.
pub fn chain(size_mm: f64, length: Metres) -> Result<Section, RodeError> {
    catenary::check("chain size", "mm", size_mm, 3.0, 50.0)?;
    catenary::check("length of chain", "m", length.0, 0.0, catenary::LENGTH_M_MOST)?;
    let d = size_mm / 1000.0;
    Ok(Section {
        length,
        weight_n_per_m: in_water(chain_mass_kg_per_m(size_mm), STEEL_KG_PER_M3),
        stiffness_n: Some(85.6e9 * d * d - 3.93e7 * d * d * d),
    })
}

/// What a rope is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fibre {
    /// Polyamide: the usual warp and snubber, because it stretches.
    Nylon,
    /// Polyester: stretches a quarter as much.
    Polyester,
}

/// Density kg/m³, mass ÷ d² and breaking load ÷ d² (d in metres), EA ÷ breaking load.
struct Yarn {
    density: f64,
    mass_per_d2: f64,
    break_per_d2: f64,
    stiffness_ratio: f64,
}

impl Fibre {
    /// MoorPy 1.3's default line properties. Its stiffness is the quasi-static one; for nylon, published values lie
    /// between 1 and 10 times the breaking load, so a rope's stretch is known to a factor of two at best.
    const fn yarn(self) -> Yarn {
        match self {
            Self::Nylon => {
                Yarn { density: 1140.0, mass_per_d2: 585.0, break_per_d2: 207e6, stiffness_ratio: 5.0 }
            }
            Self::Polyester => {
                Yarn { density: 1380.0, mass_per_d2: 679.0, break_per_d2: 308e6, stiffness_ratio: 14.0 }
            }
        }
    }

    /// The load at which a new rope of this size breaks. A wet, knotted or chafed one breaks at half of it or less.
    #[must_use]
    pub fn breaking_load(self, size_mm: f64) -> Newtons {
        Newtons(self.yarn().break_per_d2 * (size_mm / 1000.0).powi(2))
    }
}

/// A length of rope in sea water.
///
/// # Errors
/// [`RodeError::OutOfRange`] for a size outside 3–100 mm or a length that is none.
pub fn rope(fibre: Fibre, size_mm: f64, length: Metres) -> Result<Section, RodeError> {
    catenary::check("rope size", "mm", size_mm, 3.0, 100.0)?;
    catenary::check("length of rope", "m", length.0, 0.0, catenary::LENGTH_M_MOST)?;
    let yarn = fibre.yarn();
    Ok(Section {
        length,
        weight_n_per_m: in_water(yarn.mass_per_d2 * (size_mm / 1000.0).powi(2), yarn.density),
        stiffness_n: Some(yarn.stiffness_ratio * fibre.breaking_load(size_mm).0),
    })
}

/// Weight in sea water, N/m: what the displaced water does not carry.
fn in_water(mass_kg_per_m: f64, kg_per_m3: f64) -> f64 {
    mass_kg_per_m * GRAVITY * (1.0 - SEA_KG_PER_M3 / kg_per_m3)
}

/// All the rode that a boat carries, ready to be veered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Locker {
    chain: Section,
    rope: Option<Section>,
    snubber: Option<Section>,
}

impl Locker {
    /// A rode of any make.
    #[must_use]
    pub fn new(chain: Section, rope: Option<Section>) -> Self {
        Self { chain, rope, snubber: None }
    }

    /// What a boat's tackle holds: her chain, and her rope taken as nylon.
    ///
    /// # Errors
    /// [`RodeError::OutOfRange`] for sizes and lengths that no yacht has; a size matters only where there is length.
    pub fn of(tackle: &Tackle) -> Result<Self, RodeError> {
        let bare = Section { length: Metres(0.0), weight_n_per_m: 0.0, stiffness_n: None };
        let chain = if tackle.chain.0 == 0.0 { bare } else { chain(tackle.chain_mm, tackle.chain)? };
        let rope =
            (tackle.rope.0 != 0.0).then(|| rope(Fibre::Nylon, tackle.rope_mm, tackle.rope)).transpose()?;
        Ok(Self::new(chain, rope))
    }

    /// The same, with a snubber hooked on wherever she would ride to chain alone: it takes the place of the chain
    /// between hook and bow, so that the length veered stays what the marks on the chain say.
    #[must_use]
    pub fn snubbed(self, snubber: Section) -> Self {
        Self { snubber: Some(snubber), ..self }
    }

    /// Everything, down to the bitter end.
    #[must_use]
    pub fn carried(&self) -> Metres {
        self.chain.length + self.rope.map_or(Metres(0.0), |rope| rope.length)
    }

    /// The rode with this length out: chain first, rope when the chain is out.
    ///
    /// # Errors
    /// [`RodeError::NotCarried`] for more than there is.
    pub fn veer(&self, length: Metres) -> Result<Line, RodeError> {
        catenary::check("length veered", "m", length.0, 0.0, catenary::LENGTH_M_MOST)?;
        if length.0 > self.carried().0 {
            return Err(RodeError::NotCarried { asked: length, carried: self.carried() });
        }
        Ok(self.veer_as_if(length))
    }

    /// The same without asking whether so much is carried: the last part goes on for ever.
    #[must_use]
    pub fn veer_beyond(&self, length: Metres) -> Line {
        self.veer_as_if(length)
    }

    pub(super) fn veer_as_if(&self, length: Metres) -> Line {
        let part = |section: Section, length| Section { length, ..section };
        if let Some(rope) = self.rope.filter(|_| length > self.chain.length) {
            return Line { chain: self.chain, rope: Some(part(rope, length - self.chain.length)) };
        }
        match self.snubber {
            Some(snubber) if snubber.length.0 < length.0 => {
                Line { chain: part(self.chain, length - snubber.length), rope: Some(snubber) }
            }
            _ => Line { chain: part(self.chain, length), rope: None },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tackle() -> Tackle {
        Tackle { chain_mm: 8.0, chain: Metres(30.0), rope_mm: 14.0, rope: Metres(40.0), anchor_kg: None }
    }

    #[test]
    fn chain_goes_out_before_rope() {
        let locker = Locker::of(&tackle()).unwrap();
        let short = locker.veer(Metres(25.0)).unwrap();
        assert_eq!((short.chain.length, short.rope), (Metres(25.0), None));
        let long = locker.veer(Metres(50.0)).unwrap();
        assert_eq!((long.chain.length, long.rope.unwrap().length), (Metres(30.0), Metres(20.0)));
    }

    #[test]
    fn nobody_veers_more_than_she_carries() {
        let error = Locker::of(&tackle()).unwrap().veer(Metres(71.0)).unwrap_err();
        assert_eq!(error, RodeError::NotCarried { asked: Metres(71.0), carried: Metres(70.0) });
    }

    #[test]
    fn a_snubber_takes_the_place_of_chain() {
        let snubber = rope(Fibre::Nylon, 12.0, Metres(6.0)).unwrap();
        let all_chain = Tackle { rope: Metres(0.0), ..tackle() };
        let line = Locker::of(&all_chain).unwrap().snubbed(snubber).veer(Metres(25.0)).unwrap();
        assert_eq!((line.veered(), line.chain.length), (Metres(25.0), Metres(19.0)));
        assert_eq!(line.rope, Some(snubber));
    }

    #[test]
    fn a_size_that_no_table_has_lies_between_its_neighbours() {
        let odd = chain_mass_kg_per_m(9.5);
        assert!((1.8..2.2).contains(&odd), "{odd}");
        for chain in CHAINS {
            let by_square = CHAIN_MASS_PER_MM2 * chain.size_mm * chain.size_mm;
            assert!((by_square / chain.mass_kg_per_m - 1.0).abs() < 0.04, "{} mm", chain.size_mm);
        }
    }
}
