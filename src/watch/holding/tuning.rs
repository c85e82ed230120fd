//! The numbers of the method.
//!
//! All were chosen on simulated nights (seeds below 1 000 000); `docs/inside/holding.md` tells what each gains and loses.

/// The numbers of the method that were tuned. Nats are natural logarithms of likelihood ratios.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tuning {
    /// Evidence at which `creep` is called, nats.
    pub creep_nats: f64,
    /// A good spell buys at most this much of a bad one, nats.
    pub headroom_nats: f64,
    /// The base line sinks by so much, so that a mark found wrong does not use up the threshold all night; nats/hour.
    pub base_nats_per_hour: f64,
    /// Memory of the mean misfit, seconds: as long as the errors of a fix over minutes.
    pub mean_s: f64,
    /// A standing misfit is charged again in twice this time, seconds.
    pub again_s: f64,
    /// Weight of the direction of her head, `0..=1`.
    pub aim: f64,
    /// A single misfit counts for no more, metres.
    pub most_m: f64,
    /// Credit that returns, nats/hour.
    pub back_nats_per_hour: f64,
    /// Standard deviation of the fixes in a burst of reflections, at least, metres.
    pub burst_least_m: f64,
    /// What it costs to believe in such a burst, nats.
    pub burst_nats: f64,
    /// A departure costs no more than this, nats.
    pub departure_nats_most: f64,
    /// Doubt about heading and stretch beyond the reach, metres.
    pub outer_slack_m: f64,
    /// Doubt about heading within the reach, metres.
    pub inner_slack_m: f64,
    /// Least true load as a share of the reckoned one.
    pub load_low: f64,
    /// Greatest true load as a share of the reckoned one.
    pub load_high: f64,
    /// What is left of the errors over seconds after ten of them, metres.
    pub quick_m: f64,
    /// Errors in a burst of reflections, as a multiple of those in quiet.
    pub burst_ratio: f64,
    /// Errors of sag, heading and windage, metres.
    pub geometry_m: f64,
    /// What the receiver's velocity may add to a departure that the positions show, nats.
    pub sternway_nats_most: f64,
}

impl Default for Tuning {
    fn default() -> Self {
        Self {
            creep_nats: 6.5,
            headroom_nats: 1.5,
            base_nats_per_hour: 1.5,
            mean_s: 300.0,
            again_s: 1800.0,
            aim: 1.0,
            most_m: 10.0,
            back_nats_per_hour: 1.0,
            burst_least_m: 3.0,
            burst_nats: 3.5,
            departure_nats_most: 30.0,
            outer_slack_m: 0.5,
            inner_slack_m: 0.5,
            load_low: 0.5,
            load_high: 1.5,
            quick_m: 0.7,
            burst_ratio: 2.2,
            geometry_m: 1.7,
            sternway_nats_most: 3.0,
        }
    }
}
