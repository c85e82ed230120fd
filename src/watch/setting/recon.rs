//! Soundings of the place before the anchor is let go: a small track of depths.

use super::Sounding;
use crate::watch::geo::Position;
use crate::watch::units::WatchTime;

/// Soundings kept.
pub(super) const SOUNDINGS_MAX: usize = 400;
/// The next sounding is taken when she has moved so far from the last, metres. It doubles each time the track is full.
const SPACING_M: f64 = 4.0;

/// The soundings, oldest first.
#[derive(Clone, Debug, Default)]
pub struct Recon {
    since: Option<WatchTime>,
    soundings: Vec<Sounding>,
    /// Where the last one was begun: a shoaler one near by takes its place, and must not draw it along.
    last_from: Option<Position>,
    thinned: u32,
}

impl Recon {
    /// A reconnaissance begins; an earlier one is forgotten.
    pub fn begin(&mut self, at: WatchTime) {
        *self = Self { since: Some(at), ..Self::default() };
    }

    /// It is over; its soundings stay.
    pub fn end(&mut self) {
        self.since = None;
    }

    /// Since when soundings are taken.
    #[must_use]
    pub fn since(&self) -> Option<WatchTime> {
        self.since
    }

    /// The soundings, oldest first.
    #[must_use]
    pub fn soundings(&self) -> &[Sounding] {
        &self.soundings
    }

    /// Takes a sounding if she has moved; near the last one the shoaler of the two is kept, so that no shoal is lost.
    pub fn take(&mut self, sounding: Sounding) {
        let spacing_m = SPACING_M * f64::from(1_u32 << self.thinned.min(16));
        let near = self.last_from.is_some_and(|from| from.distance_to(sounding.position).0 < spacing_m);
        match self.soundings.last_mut().filter(|_| near) {
            Some(last) if shoaler(&sounding, last) => *last = sounding,
            Some(_) => {}
            None => {
                self.last_from = Some(sounding.position);
                self.push(sounding);
            }
        }
    }

    fn push(&mut self, sounding: Sounding) {
        if self.soundings.len() == SOUNDINGS_MAX {
            let pairs = self.soundings.chunks(2);
            self.soundings = pairs
                .map(|pair| if shoaler(&pair[pair.len() - 1], &pair[0]) { pair[1] } else { pair[0] })
                .collect();
            self.thinned += 1;
        }
        self.soundings.push(sounding);
    }
}

/// Over the datum where both are reduced to it, else as sounded.
fn shoaler(one: &Sounding, other: &Sounding) -> bool {
    match (one.charted, other.charted) {
        (Some(one), Some(other)) => one < other,
        _ => one.depth < other.depth,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::units::{Metres, TrueBearing};

    fn sail(metres: usize, depth: impl Fn(usize) -> f64) -> Recon {
        let start = Position::new(50.0, -10.0).unwrap();
        let mut recon = Recon::default();
        recon.begin(WatchTime(0));
        for m in 0..metres {
            let position = start.destination(TrueBearing::new(40.0), Metres(m as f64));
            let sounding =
                Sounding { at: WatchTime(m as i64 * 1000), position, depth: Metres(depth(m)), charted: None };
            recon.take(sounding);
        }
        recon
    }

    #[test]
    fn a_lone_shoal_is_never_thinned_away() {
        for shoal in [3, 17, 1001, 4999] {
            let recon = sail(5000, |m| if m == shoal { 1.2 } else { 5.0 });
            assert!(recon.soundings().iter().any(|s| s.depth == Metres(1.2)), "{shoal}");
        }
    }

    #[test]
    fn an_hour_of_sailing_about_stays_bounded_and_covers_the_whole_way() {
        let recon = sail(20_000, |_| 5.0);
        assert!(recon.soundings().len() <= SOUNDINGS_MAX);
        let (first, last) = (recon.soundings()[0].at.0, recon.soundings().last().unwrap().at.0);
        assert!(first < 200_000 && last > 19_500_000, "{first} {last}");
    }

    #[test]
    fn a_rising_tide_or_a_shelving_bottom_does_not_draw_a_sounding_along() {
        let recon = sail(400, |m| 50.0 - 0.1 * m as f64);
        assert!(recon.soundings().len() >= 80, "{}", recon.soundings().len());
    }

    #[test]
    fn lying_still_adds_nothing() {
        let position = Position::new(50.0, -10.0).unwrap();
        let mut recon = Recon::default();
        for s in 0..1000 {
            recon.take(Sounding { at: WatchTime(s * 1000), position, depth: Metres(4.0), charted: None });
        }
        assert_eq!(recon.soundings().len(), 1);
    }
}
