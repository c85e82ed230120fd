//! What does the place add: open water that a sea runs in over?

use super::{Inputs, Plan, bow_above_bottom, bow_above_pull};
use crate::watch::rode::{
    Engine, Fibre, Locker, OpenWater, RodeError, Sea, Snatch, SnubberAdvice, USELESS_DEG, fetch_for, rope,
    sea, shape, snubber_for, worked,
};
use crate::watch::slope::Slope;
use crate::watch::units::{Metres, Newtons, TrueBearing};

/// What is known of the place beside its depth.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Site {
    /// The open water.
    pub open: OpenWater,
    /// How the bottom slopes; `None`: not said, taken as level.
    pub slope: Option<Slope>,
    /// The engine that will set the anchor.
    pub engine: Engine,
    /// Diameter of the nylon snubber that she rides to, millimetres; its length is in [`Inputs::snubber`].
    pub snubber_mm: Option<f64>,
}

/// The sea that the wind raises there and what it does to her rode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Waves {
    /// The open water counted, in the wind's direction.
    pub fetch: Metres,
    /// The sea.
    pub sea: Sea,
    /// Its greatest wave and the speed that it gives her.
    pub snatch: Snatch,
    /// The pull that it ends in, with the rode as it would be out.
    pub peak: Newtons,
    /// The same to chain alone, where she rides to a snubber.
    pub peak_bare: Option<Newtons>,
    /// The share of its breaking load at which that snubber is worked.
    pub snubber_worked: Option<f64>,
    /// The least snubber that would be worked as it should, where she rides to none that is.
    pub advice: Option<SnubberAdvice>,
}

impl Site {
    /// How much deeper the bottom lies under her bow than at the anchor, at worst, with so much out.
    pub(super) fn deeper(&self, veered: Metres, wind_from: Option<TrueBearing>) -> Metres {
        self.slope.map_or(Metres(0.0), |slope| veered * slope.downhill(wind_from))
    }
}

impl Waves {
    /// The sea at the highest water; `None` where nobody said how far the water is open. She is thrown back from a gust on
    /// her bow: the farthest of her sheer and the greatest wave do not meet.
    ///
    /// # Errors
    /// If the rode cannot be calculated with.
    pub(super) fn of(inputs: &Inputs, plan: &Plan, locker: &Locker) -> Result<Option<Self>, RodeError> {
        let Some(fetch) = fetch_for(&inputs.site.open.fetch, inputs.wind_from) else { return Ok(None) };
        let depth = plan.greatest.depth;
        let high = bow_above_pull(inputs, depth, plan.veered);
        let sea = sea(inputs.weather.mean, fetch, inputs.site.open.depth);
        let snatch = Snatch::of(&inputs.boat, &sea, depth);
        let from = plan.load.in_gust();
        let peak_of = |locker: &Locker| -> Result<Newtons, RodeError> {
            snatch.peak(&locker.veer(plan.veered)?, high, from)
        };
        let peak = peak_of(locker)?;
        let all_chain = plan.veered <= inputs.tackle.chain;
        let worked = inputs.site.snubber_mm.filter(|_| all_chain).map(|size_mm| worked(size_mm, peak));
        let bare = Locker::of(&inputs.tackle)?;
        let advice =
            (all_chain && worked.is_none_or(|share| share > crate::watch::rode::WORKED)).then(|| {
                snubber_for(|size_mm, length| {
                    peak_of(&bare.snubbed(rope(Fibre::Nylon, size_mm, length).ok()?)).ok()
                })
            });
        Ok(Some(Self {
            fetch,
            sea,
            snatch,
            peak,
            peak_bare: inputs.snubber.filter(|_| all_chain).map(|_| peak_of(&bare)).transpose()?,
            snubber_worked: worked,
            advice: advice.flatten(),
        }))
    }
}

/// The least length with which the snatch of the greatest wave, in a gust, points no more than 12° up: no more than a
/// straight rode needs that does not give.
///
/// # Errors
/// If the rode cannot be calculated with.
pub(super) fn length_in_snatch(
    inputs: &Inputs,
    locker: &Locker,
    depth: Metres,
    from: Newtons,
) -> Result<Option<Metres>, RodeError> {
    let Some(fetch) = fetch_for(&inputs.site.open.fetch, inputs.wind_from) else { return Ok(None) };
    let sea = sea(inputs.weather.mean, fetch, inputs.site.open.depth);
    let snatch = Snatch::of(&inputs.boat, &sea, depth);
    let height = bow_above_bottom(&inputs.boat, depth);
    let lifted = height + snatch.wave * 0.5;
    let angle = |length: f64| {
        let line = locker.veer_beyond(Metres(length));
        let peak = snatch.peak(&line, height, from)?;
        shape(&line, lifted, peak).map(|shape| shape.angle_anchor_deg)
    };
    let (mut low, mut high) = (lifted.0 * 1.001, lifted.0 / USELESS_DEG.to_radians().sin());
    while high - low > 0.1 {
        let middle = 0.5 * (low + high);
        if angle(middle)? <= USELESS_DEG { high = middle } else { low = middle }
    }
    Ok(Some(Metres(high)))
}
