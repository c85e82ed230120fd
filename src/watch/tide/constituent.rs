//! A tidal constituent by its name: how its argument is put together, and which node corrections it takes.
//!
//! # Sources
//! Astronomical constituents: Schureman, SP 98, table 2. Extended Doodson numbers, and the rule that reads a
//! compound's make-up from its name: IHO Tides, Water Level and Currents Working Group, *Standard List of Tidal
//! Constituents* (8 May 2017) and its annex B.

use super::astro::{ANGLES, Node, Nodes, Phasor};

/// What it takes to calculate a constituent at any moment.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Constituent {
    /// How often each of τ, s, h, p, p′ and the right angle goes into the equilibrium argument V.
    pub(super) numbers: [i8; ANGLES],
    /// Node corrections: f is multiplied `power` times, u added `times` times.
    nodal: Vec<Correction>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Correction {
    node: Node,
    power: i32,
    times: i8,
}

impl Constituent {
    /// Finds a constituent by the name that the trade or a list of constants gives it, or by the compound's own
    /// make-up. `None` if the name is neither known nor a compound whose letters can make its species.
    pub(super) fn named(name: &str) -> Option<Self> {
        let name = canonical(name);
        Self::astronomical(&name).or_else(|| Self::compound(&name))
    }

    /// f, and u in radians, at the moment of `nodes`.
    pub(super) fn modulation(&self, nodes: &Nodes) -> (f64, f64) {
        self.nodal.iter().fold((1.0, 0.0), |(f, u), correction| {
            let (node_f, node_u) = nodes.of(correction.node).amplitude_and_phase();
            (f * node_f.powi(correction.power), u + f64::from(correction.times) * node_u)
        })
    }

    /// The same as a phasor.
    pub(super) fn modulated(&self, nodes: &Nodes) -> Phasor {
        self.nodal.iter().fold(Phasor::ONE, |whole, correction| {
            let phasor = nodes.of(correction.node);
            let times = i32::from(correction.times);
            if times.abs() == correction.power {
                let once = if times < 0 { phasor.conjugate() } else { phasor };
                (0..correction.power).fold(whole, |whole, _| whole.times(once))
            } else {
                // Letters with both signs: f goes in for each, u cancels.
                let (f, u) = phasor.amplitude_and_phase();
                whole.times(Phasor::polar(f.powi(correction.power), f64::from(times) * u))
            }
        })
    }

    /// Whether it takes the same corrections as another.
    pub(super) fn moves_with(&self, other: &Self) -> bool {
        self.nodal == other.nodal
    }

    fn astronomical(name: &str) -> Option<Self> {
        let (_, numbers, node) = ASTRONOMICAL.iter().find(|(known, ..)| *known == name)?;
        let nodal = match node {
            Takes::Nothing => Vec::new(),
            Takes::The(node) => vec![Correction { node: *node, power: 1, times: 1 }],
            Takes::Contrary(node) => vec![Correction { node: *node, power: 1, times: -1 }],
        };
        Some(Self { numbers: *numbers, nodal })
    }

    /// `2MS6` is 2 M2 + S2; where the sum of all letters has too many cycles a day, signs change from the right
    /// until it has the right number: `2MS2` is 2 M2 - S2.
    fn compound(name: &str) -> Option<Self> {
        let letters = name.trim_end_matches(|c: char| c.is_ascii_digit());
        let species: i8 = name[letters.len()..].parse().ok()?;
        let members = members(letters, species)?;
        let mut signs = vec![1_i8; members.len()];
        let cycles = |signs: &[i8]| -> i32 {
            members.iter().zip(signs).map(|(m, sign)| i32::from(m.times * sign * m.of.numbers[0])).sum()
        };
        for last in (0..members.len()).rev() {
            if cycles(&signs) == i32::from(species) {
                break;
            }
            signs[last] = -1;
        }
        if cycles(&signs) != i32::from(species) || signs[0] < 0 {
            return None;
        }
        Some(Self::sum(members.iter().zip(signs)))
    }

    fn sum<'a>(members: impl Iterator<Item = (&'a Member, i8)>) -> Self {
        let mut total = Self { numbers: [0; ANGLES], nodal: Vec::new() };
        for (member, sign) in members {
            let times = member.times * sign;
            for (sum, number) in total.numbers.iter_mut().zip(member.of.numbers) {
                *sum += times * number;
            }
            for correction in &member.of.nodal {
                total.correct(correction.node, i32::from(member.times), times * correction.times);
            }
        }
        total
    }

    fn correct(&mut self, node: Node, power: i32, times: i8) {
        match self.nodal.iter_mut().find(|c| c.node == node) {
            Some(correction) => {
                correction.power += power;
                correction.times += times;
            }
            None => self.nodal.push(Correction { node, power, times }),
        }
    }
}

struct Member {
    of: Constituent,
    times: i8,
}

/// Most members a name may have, and most times each: names from a file must not overflow the sums.
const MEMBERS_MAX: usize = 6;
const TIMES_MAX: i8 = 8;

/// The letters before the species, with how often each goes in. Nothing if a letter is unknown or comes twice.
fn members(letters: &str, species: i8) -> Option<Vec<Member>> {
    let found = spelled(letters)?;
    if let [(letter, 1)] = found[..] {
        // A letter alone: M4 is two of M2.
        return alone(letter, species);
    }
    let odd = species % 2 != 0;
    let odd_without_k = found.iter().filter(|(l, times)| is_diurnal(l) && times % 2 != 0).count() % 2 != 0;
    // K is K1 or K2, whichever makes an even or odd number of cycles as the species wants.
    let k = if odd == odd_without_k { "K2" } else { "K1" };
    found
        .into_iter()
        .map(|(letter, times)| {
            let of = Constituent::astronomical(if letter == "K" { k } else { full_name(letter)? })?;
            Some(Member { of, times })
        })
        .collect()
}

/// `2MN` as (M, 2), (N, 1); a bracket's number counts for each letter in it: `M2(KS)` is (M, 1), (K, 2), (S, 2).
fn spelled(letters: &str) -> Option<Vec<(&str, i8)>> {
    let mut found: Vec<(&str, i8)> = Vec::new();
    let (mut rest, mut times, mut bracket) = (letters, 1, None);
    while let Some(first) = rest.chars().next() {
        let taken = match first {
            '0'..='9' => {
                times = first
                    .to_digit(10)
                    .and_then(|d| i8::try_from(d).ok())
                    .filter(|d| (2..=TIMES_MAX).contains(d))?;
                1
            }
            '(' => {
                bracket = Some(std::mem::replace(&mut times, 1));
                1
            }
            ')' => {
                bracket.take()?;
                1
            }
            _ => {
                let letter = LETTERS.iter().map(|(l, _)| *l).find(|l| rest.starts_with(l))?;
                if found.iter().any(|(l, _)| *l == letter) || found.len() == MEMBERS_MAX {
                    return None;
                }
                let in_all = times * bracket.unwrap_or(1);
                if in_all > TIMES_MAX {
                    return None;
                }
                found.push((&rest[..letter.len()], in_all));
                times = 1;
                letter.len()
            }
        };
        rest = &rest[taken..];
    }
    (!found.is_empty() && bracket.is_none() && times == 1).then_some(found)
}

fn alone(letter: &str, species: i8) -> Option<Vec<Member>> {
    let of = Constituent::astronomical(full_name(letter)?)?;
    let of_species = of.numbers[0];
    let whole = of_species == 2 && species % 2 == 0 && (4..=14).contains(&species);
    whole.then(|| vec![Member { of, times: species / of_species }])
}

/// Letters that compounds are spelled with. NU before N: it is one Greek letter.
const LETTERS: [(&str, &str); 12] = [
    ("NU", "NU2"),
    ("M", "M2"),
    ("S", "S2"),
    ("N", "N2"),
    ("K", "K2"),
    ("L", "L2"),
    ("T", "T2"),
    ("R", "R2"),
    ("O", "O1"),
    ("P", "P1"),
    ("Q", "Q1"),
    ("J", "J1"),
];

fn full_name(letter: &str) -> Option<&'static str> {
    LETTERS.iter().find(|(l, _)| *l == letter).map(|(_, name)| *name)
}

fn is_diurnal(letter: &str) -> bool {
    full_name(letter).is_some_and(|name| name.ends_with('1'))
}

/// Upper case, and one spelling of each name.
fn canonical(name: &str) -> String {
    let name = name.trim().to_ascii_uppercase();
    let known = match name.as_str() {
        "LAM2" | "LA2" | "LDA2" => "LAMBDA2",
        "RHO" => "RHO1",
        "EP2" | "E2" => "EPS2",
        "SIG1" => "SIGMA1",
        "ALP1" => "ALPHA1",
        "THE1" => "THETA1",
        "2N" => "2N2",
        "NU" => "NU2",
        "MU" => "MU2",
        // 2MS2 has the speed of MU2, and lists that give only one of them mean both.
        "MTF" | "MFM" => "MTM",
        "MSQ" => "MSQM",
        "H1" => "ALPHA2",
        // H2 of the analysts; not the compound that its letters would spell.
        "H2" | "M(KS)2" => "BETA2",
        "M2KS2" => "M2(KS)2",
        "2MN8" => "2(MN)8",
        "2MS8" => "2(MS)8",
        other => other,
    };
    known.to_owned()
}

enum Takes {
    Nothing,
    The(Node),
    /// f as it is, u with its sign changed.
    Contrary(Node),
}
use Takes::{Contrary, Nothing, The};

/// Name, numbers of τ, s, h, p, p′ and 90°, and node correction.
///
/// SA counts from the equinox (h alone), as NOAA and TICON-4 give it; some lists count from perihelion (h - p′).
/// 3N2 and 3L2 are the third-degree lines beside N2 and L2.
const ASTRONOMICAL: &[(&str, [i8; ANGLES], Takes)] = &[
    ("SA", [0, 0, 1, 0, 0, 0], Nothing),
    ("SSA", [0, 0, 2, 0, 0, 0], Nothing),
    ("MSM", [0, 1, -2, 1, 0, 0], The(Node::Mm)),
    ("MM", [0, 1, 0, -1, 0, 0], The(Node::Mm)),
    ("MSF", [0, 2, -2, 0, 0, 0], Contrary(Node::M2)),
    ("MF", [0, 2, 0, 0, 0, 0], The(Node::Mf)),
    ("MTM", [0, 3, 0, -1, 0, 0], The(Node::Mf)),
    ("MSQM", [0, 4, -2, 0, 0, 0], The(Node::Mf)),
    ("ALPHA1", [1, -4, 2, 1, 0, -1], The(Node::O1)),
    ("2Q1", [1, -3, 0, 2, 0, -1], The(Node::O1)),
    ("SIGMA1", [1, -3, 2, 0, 0, -1], The(Node::O1)),
    ("Q1", [1, -2, 0, 1, 0, -1], The(Node::O1)),
    ("RHO1", [1, -2, 2, -1, 0, -1], The(Node::O1)),
    ("O1", [1, -1, 0, 0, 0, -1], The(Node::O1)),
    ("TAU1", [1, -1, 2, 0, 0, 1], The(Node::K1)),
    ("M1", [1, 0, 0, 0, 0, 1], The(Node::M1)),
    ("CHI1", [1, 0, 2, -1, 0, 1], The(Node::J1)),
    ("PI1", [1, 1, -3, 0, 1, -1], Nothing),
    ("P1", [1, 1, -2, 0, 0, -1], Nothing),
    ("S1", [1, 1, -1, 0, 0, 2], Nothing),
    ("K1", [1, 1, 0, 0, 0, 1], The(Node::K1)),
    ("PSI1", [1, 1, 1, 0, -1, 1], Nothing),
    ("PHI1", [1, 1, 2, 0, 0, 1], Nothing),
    ("THETA1", [1, 2, -2, 1, 0, 1], The(Node::J1)),
    ("J1", [1, 2, 0, -1, 0, 1], The(Node::J1)),
    ("OO1", [1, 3, 0, 0, 0, 1], The(Node::Oo1)),
    ("UPS1", [1, 4, 0, -1, 0, 1], The(Node::Oo1)),
    // What Foreman's lists call OQ2, with a speed that O1 and Q1 do not add up to.
    ("OQ2_KV", [2, -3, 0, 3, 0, 0], The(Node::M2)),
    ("EPS2", [2, -3, 2, 1, 0, 0], The(Node::M2)),
    ("2N2", [2, -2, 0, 2, 0, 0], The(Node::M2)),
    ("MU2", [2, -2, 2, 0, 0, 0], The(Node::M2)),
    ("3N2", [2, -1, 0, 0, 0, 1], Nothing),
    ("N2", [2, -1, 0, 1, 0, 0], The(Node::M2)),
    ("NU2", [2, -1, 2, -1, 0, 0], The(Node::M2)),
    ("GAMMA2", [2, 0, -2, 2, 0, 2], The(Node::M2)),
    ("ALPHA2", [2, 0, -1, 0, 1, 2], Nothing),
    ("MA2", [2, 0, -1, 0, 0, 0], Nothing),
    ("M2", [2, 0, 0, 0, 0, 0], The(Node::M2)),
    ("BETA2", [2, 0, 1, 0, -1, 0], Nothing),
    ("MB2", [2, 0, 1, 0, 0, 0], Nothing),
    ("LAMBDA2", [2, 1, -2, 1, 0, 2], The(Node::M2)),
    ("L2", [2, 1, 0, -1, 0, 2], The(Node::L2)),
    ("3L2", [2, 1, 0, 0, 0, -1], Nothing),
    ("T2", [2, 2, -3, 0, 1, 0], Nothing),
    ("S2", [2, 2, -2, 0, 0, 0], Nothing),
    ("R2", [2, 2, -1, 0, -1, 2], Nothing),
    ("K2", [2, 2, 0, 0, 0, 0], The(Node::K2)),
    ("ETA2", [2, 3, 0, -1, 0, 0], The(Node::Eta2)),
    ("M3", [3, 0, 0, 0, 0, 2], The(Node::M3)),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(name: &str) -> [i8; ANGLES] {
        Constituent::named(name).unwrap().numbers
    }

    #[test]
    fn a_compounds_name_spells_its_make_up() {
        assert_eq!(numbers("2MN6"), [6, -1, 0, 1, 0, 0]);
        assert_eq!(numbers("4MN6"), [6, 1, 0, -1, 0, 0]);
        assert_eq!(numbers("MP1"), [1, -1, 2, 0, 0, 1]);
        assert_eq!(numbers("3M2S2"), [2, -4, 4, 0, 0, 0]);
        assert_eq!(numbers("M2(KS)2"), [2, 0, 4, 0, 0, 0]);
        assert_eq!(numbers("2(MN)8"), numbers("2M2N8"));
        assert_eq!(numbers("MNU4"), [4, -1, 2, -1, 0, 0]);
    }

    #[test]
    fn k_is_k1_or_k2_as_the_species_wants() {
        assert_eq!(numbers("MK3"), [3, 1, 0, 0, 0, 1]);
        assert_eq!(numbers("MK4"), [4, 2, 0, 0, 0, 0]);
        assert_eq!(numbers("KO2")[..5], [2, 0, 0, 0, 0]);
        assert_eq!(numbers("KP1"), [1, 1, 2, 0, 0, 1]);
        assert_eq!(numbers("2MK3"), [3, -1, 0, 0, 0, -1]);
    }

    #[test]
    fn a_sign_that_changes_turns_u_but_never_divides_f() {
        let msn2 = Constituent::named("MSN2").unwrap();
        assert_eq!(msn2.nodal, vec![Correction { node: Node::M2, power: 2, times: 0 }]);
    }

    #[test]
    fn names_that_spell_nothing_are_unknown() {
        for name in
            ["", "4", "M", "M0", "M5", "2", "OO2", "XY4", "9M18", "2MS", "((M4", "M)4", "MS99", "é4", "2(2M4"]
        {
            assert_eq!(Constituent::named(name), None, "{name}");
        }
    }

    #[test]
    fn lists_spell_the_same_constituent_in_several_ways() {
        for (one, other) in
            [("LAM2", "lambda2"), ("RHO", "rho1"), ("Mm", "MM"), ("EP2", "eps2"), ("nu2", "NU2")]
        {
            assert_eq!(Constituent::named(one), Constituent::named(other));
        }
    }
}
