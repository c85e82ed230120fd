//! May the crew leave her? How well the anchor has been tested since it last moved.

/// Wind whose pull, held, counts as a full test, knots: a fresh breeze, more than most nights bring; common practice,
/// no source.
pub(super) const TEST_WIND_KN: f64 = 15.0;
/// Time constant of the trust that grows while she holds under that pull, seconds; common practice ("lie and watch for
/// half an hour"), no source.
const GROWS_S: f64 = 600.0;
/// The rode must have been taut for so long in all to have tested the anchor, seconds.
const TAUT_S: f64 = 120.0;
/// Share of the load taken where no wind is measured.
const UNMEASURED: f64 = 0.3;
/// Wander of the fixes up to which held time counts in full, metres.
const QUIET_M: f64 = 1.5;

/// What speaks for the anchor.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ready {
    /// Seconds held, each weighed by its load and by how well the fixes would have shown a movement.
    held_s: f64,
    /// Seconds with a taut rode.
    taut_s: f64,
    /// Greatest share of the test pull held so far.
    most_share: f64,
    /// The crew has pulled it in with the engine and found it holding.
    proved: bool,
}

impl Ready {
    /// The crew says that the anchor is proved.
    pub fn prove(&mut self) {
        self.proved = true;
    }

    /// The anchor may have moved: all that spoke for it is void.
    pub fn moved(&mut self) {
        *self = Self::default();
    }

    /// She has held for `length_s` seconds under `share` of the test pull (`None`: not measured), the rode `taut`
    /// (`0..=1`), the fixes wandering by `wander_m` metres.
    pub fn held(&mut self, length_s: f64, share: Option<f64>, taut: f64, wander_m: f64) {
        let share = share.unwrap_or(UNMEASURED).clamp(0.0, 1.0);
        let seen = (QUIET_M / wander_m.max(QUIET_M)).powi(2);
        self.held_s += length_s * share.max(0.1) * seen;
        self.taut_s += length_s * taut;
        self.most_share = self.most_share.max(share);
    }

    /// Trust in the anchor, `0..=1`: the share reached of a ceiling which depends on how hard it has been tried. Half
    /// for lying still alone, 0.3 more once the rode was taut or the crew has pulled, 0.2 for the wind it has held.
    pub fn value(&self) -> f64 {
        let tried = if self.proved { 1.0 } else { (self.taut_s / TAUT_S).min(1.0) };
        let ceiling = 0.5 + 0.3 * tried + 0.2 * self.most_share;
        ceiling * (1.0 - (-self.held_s / GROWS_S).exp())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(minutes: f64, share: Option<f64>, taut: f64, wander_m: f64) -> f64 {
        let mut ready = Ready::default();
        ready.held(60.0 * minutes, share, taut, wander_m);
        ready.value()
    }

    #[test]
    fn an_hour_under_load_is_worth_more_than_an_hour_of_calm() {
        let (calm, breeze) = (after(60.0, Some(0.05), 0.0, 1.0), after(60.0, Some(0.9), 1.0, 1.0));
        assert!(calm < 0.35 && breeze > 0.9, "{calm} {breeze}");
    }

    #[test]
    fn fixes_that_wander_prove_little() {
        assert!(after(30.0, Some(0.5), 1.0, 5.0) < 0.3 * after(30.0, Some(0.5), 1.0, 1.0));
    }

    #[test]
    fn an_anchor_that_moved_has_to_be_tried_again() {
        let mut ready = Ready::default();
        ready.prove();
        ready.held(3600.0, Some(1.0), 1.0, 1.0);
        assert!(ready.value() > 0.9);
        ready.moved();
        assert_eq!(ready.value(), 0.0);
    }
}
