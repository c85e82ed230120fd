//! The anchor in the ground: how it holds, and the ways in which it lets go.

use serde::{Deserialize, Serialize};

use super::exact::{cos, length, unit};
use crate::watch::geo::Local;
use crate::watch::units::{Metres, Newtons, Span};

/// What the ground and the anchor do to each other in a night.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AnchorBehaviour {
    /// Load at which a set anchor breaks out whatever else is said here.
    pub holding: Newtons,
    /// It must be dragged so far before it is set.
    pub digs_in_over: Metres,
    /// Resistance until then.
    pub loose: Newtons,
    /// So much chain lies in a heap about the anchor, jammed under a rock: she rides to the rest.
    pub caught: Option<Metres>,
    /// How it moves by itself, if it does.
    pub failures: Vec<Failure>,
}

/// One way to let go.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Failure {
    /// Breaks out at the first load above `above` after `after`, and comes home against `resists`.
    BreaksOut {
        /// Not before.
        after: Span,
        /// The load that does it.
        above: Newtons,
        /// Resistance while it is dragged.
        resists: Newtons,
        /// Digs in again after so much; `None`: never.
        resets_after: Option<Metres>,
    },
    /// Gives a little in each gust: speed grows in proportion to the load above `above`.
    Creeps {
        /// Not before.
        after: Span,
        /// Below this load it stands.
        above: Newtons,
        /// Speed at twice that load, metres a minute.
        m_per_min: f64,
    },
    /// Ploughs slowly and steadily whenever there is any pull.
    Ploughs {
        /// Not before.
        after: Span,
        /// Below this load it stands.
        above: Newtons,
        /// Its speed, metres a minute.
        m_per_min: f64,
    },
    /// Is turned out when the pull comes from another side.
    Trips {
        /// Turn of the pull since it was set that trips it, degrees.
        turn_deg: f64,
        /// Least load that can turn it.
        above: Newtons,
        /// Resistance while it is dragged.
        resists: Newtons,
        /// Digs in again after so much; `None`: never.
        resets_after: Option<Metres>,
    },
}

impl Default for AnchorBehaviour {
    /// Well dug in.
    fn default() -> Self {
        Self {
            holding: Newtons(50_000.0),
            digs_in_over: Metres(0.5),
            loose: Newtons(150.0),
            caught: None,
            failures: Vec::new(),
        }
    }
}

/// Whether the anchor is set, and what it has gone through.
#[derive(Clone, Debug)]
pub(super) struct Anchor {
    state: Ground,
    set_along: Option<Local>,
    /// Failures that can happen only once.
    spent: [bool; 8],
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Ground {
    Set,
    Dragged { resists: f64, resets_after: f64, gone: f64 },
}

/// A dragged anchor yields at 1 m/s for every 3 kN above its resistance: it ends in the boat's own speed.
const YIELD_MPS_PER_N: f64 = 1.0 / 3000.0;
/// Nothing drags an anchor faster than a boat drifts.
const FASTEST_MPS: f64 = 1.2;

impl Anchor {
    /// An anchor that lies on the ground and has yet to dig in.
    pub(super) fn new(behaviour: &AnchorBehaviour) -> Self {
        let mut anchor = Self { state: Ground::Set, set_along: None, spent: [false; 8] };
        anchor.drag(behaviour.loose.0, Some(behaviour.digs_in_over));
        anchor
    }

    /// How far the anchor moves in `dt` seconds along the pull of `load`, metres.
    pub(super) fn step(&mut self, behaviour: &AnchorBehaviour, load: Local, t_s: f64, dt: f64) -> f64 {
        let load_n = length(load);
        let Some(along) = unit(load) else { return 0.0 };
        if self.set_along.is_none() && load_n > 100.0 {
            self.set_along = Some(along);
        }
        if self.state == Ground::Set {
            self.let_go(behaviour, along, load_n, t_s);
        }
        let speed = match &mut self.state {
            Ground::Set => slow_speed(behaviour, load_n, t_s),
            Ground::Dragged { resists, resets_after, gone } => {
                let speed = ((load_n - *resists) * YIELD_MPS_PER_N).clamp(0.0, FASTEST_MPS);
                *gone += speed * dt;
                if *gone >= *resets_after {
                    self.state = Ground::Set;
                    self.set_along = Some(along);
                }
                speed
            }
        };
        speed * dt
    }

    fn let_go(&mut self, behaviour: &AnchorBehaviour, along: Local, load_n: f64, t_s: f64) {
        if load_n > behaviour.holding.0 {
            self.drag(behaviour.holding.0 * 0.4, None);
            return;
        }
        for (i, failure) in behaviour.failures.iter().enumerate().take(self.spent.len()) {
            if self.spent[i] {
                continue;
            }
            match *failure {
                Failure::BreaksOut { after, above, resists, resets_after }
                    if t_s > after.seconds() && load_n > above.0 =>
                {
                    self.spent[i] = true;
                    self.drag(resists.0, resets_after);
                }
                Failure::Trips { turn_deg, above, resists, resets_after }
                    if load_n > above.0
                        && self.set_along.is_some_and(|set| set.dot(along) < cos(turn_deg.to_radians())) =>
                {
                    self.spent[i] = true;
                    self.drag(resists.0, resets_after);
                }
                _ => {}
            }
        }
    }

    fn drag(&mut self, resists: f64, resets_after: Option<Metres>) {
        self.state =
            Ground::Dragged { resists, resets_after: resets_after.map_or(f64::INFINITY, |m| m.0), gone: 0.0 };
    }
}

/// Speed of a set anchor that gives way slowly, m/s.
fn slow_speed(behaviour: &AnchorBehaviour, load_n: f64, t_s: f64) -> f64 {
    behaviour
        .failures
        .iter()
        .map(|failure| match *failure {
            Failure::Creeps { after, above, m_per_min } if t_s > after.seconds() && load_n > above.0 => {
                m_per_min / 60.0 * (load_n / above.0 - 1.0).min(3.0)
            }
            Failure::Ploughs { after, above, m_per_min } if t_s > after.seconds() && load_n > above.0 => {
                m_per_min / 60.0
            }
            _ => 0.0,
        })
        .fold(0.0, f64::max)
}
