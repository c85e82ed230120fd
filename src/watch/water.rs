//! The water at the drop point through the stay: the sounding at letting go, and the tide since.
//!
//! Heights tie to that sounding, so that an error of the tide's datum cancels. How the sea stands off the tide since then is
//! measured by the sounder, else by the barometer, and corrects what is foretold: less water counts at once, more only
//! beyond its doubt.

mod barometer;
pub mod sea;

use std::sync::Arc;

pub use barometer::Barometer;
pub use sea::{CorrectedBy, Correction};

use super::geo::{Local, Position};
use super::input::TideEntered;
use super::snapshot::{Snapshot, Stage, TideView, TurnView};
use super::tide::TurnKind;
use super::tide::stations::{StationError, Stations};
use super::tide::turns::{Rule, TableError, TurnTable, Uncovered};
use super::tide::{Tide, Turn};
use super::tuning::sea::{FALLS_SURELY_H, GROWS_FOR_H};
use super::tuning::water::{AHEAD, BEHIND, CURVE_STEP, OUTLOOK_AGE};
use super::units::{Metres, Span, WatchTime};
use sea::Sea;

/// A depth at a moment.
pub type DepthThen = (Metres, WatchTime);

/// Why a tide was not taken.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TideRefused {
    /// The high and low waters contradict each other.
    #[error(transparent)]
    Table(#[from] TableError),
    /// They do not cover the time since the anchor went down.
    #[error(transparent)]
    Uncovered(#[from] Uncovered),
    /// The station cannot be taken.
    #[error(transparent)]
    Station(#[from] StationError),
}

/// When she takes the ground, and when she floats again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grounding {
    /// The keel touches; now, if it has.
    pub touches: WatchTime,
    /// She floats again; `None` where that is beyond what is foreseen.
    pub floats: Option<WatchTime>,
}

/// What the night holds for the depth at the drop point.
#[derive(Clone, Debug, Default)]
pub struct Outlook {
    made: WatchTime,
    /// Least depth ahead where she has lain, with what may be wrong of it taken off.
    pub least: Option<DepthThen>,
    /// The same if the sea goes on falling off the tide for three hours as it has in the last.
    pub least_if_grows: Option<Metres>,
    /// Greatest depth ahead, with what may be wrong of it put on.
    pub greatest: Option<DepthThen>,
    /// Least depth from letting go to the end of the outlook.
    pub least_of_stay: Option<Metres>,
    /// By how much the likeliest depth is corrected.
    by: Metres,
    /// Least and greatest height of tide ahead, above the datum of the tide entered.
    heights: Option<(Metres, Metres)>,
    view: TideView,
}

/// The tide and the sounding that it is tied to.
#[derive(Clone, Debug, Default)]
pub struct Water {
    /// A table as it was entered.
    table: Option<TurnTable>,
    tide: Option<Tide>,
    sounding: Option<(WatchTime, Metres)>,
    /// What sounder and tide show together; `None` without a sounding.
    sea: Option<Sea>,
    barometer: Barometer,
    outlook: Outlook,
}

impl Water {
    /// Takes the tide that the crew entered; `here` is where it is to hold, if that is known.
    ///
    /// # Errors
    /// `TideRefused` says what is wrong with it; the tide before it stays.
    pub fn enter(
        &mut self,
        entered: &TideEntered,
        now: WatchTime,
        here: Option<Position>,
    ) -> Result<(), TideRefused> {
        let mut table = None;
        let tide = match entered {
            TideEntered::Nothing => None,
            TideEntered::Table { turns } => {
                let turns = turns.iter().map(|t| Turn::from(*t)).collect();
                let entered = TurnTable::new(turns, Rule::Cosine)?;
                let tide = self.covering(&entered, now);
                // Before letting go there is time to enter more; with the anchor down what begins too late foretells nothing.
                if let (Err(begins_later @ Uncovered::BeginsLater { .. }), Some(_)) = (&tide, self.sounding) {
                    return Err((*begins_later).into());
                }
                table = Some(entered.clone());
                Some(tide.unwrap_or_else(|_| Tide::from_table(entered)))
            }
            TideEntered::Station { id } => {
                let stations = Stations::bundled()?;
                Some(match here {
                    Some(here) => stations.tide_at(id, now, here)?,
                    None => stations.tide(id, now)?,
                })
            }
        };
        (self.table, self.tide) = (table, tide);
        if let Some(sea) = &mut self.sea {
            sea.new_tide();
        }
        self.look_ahead(now);
        Ok(())
    }

    /// The tide of a table from the sounding on, or from now.
    fn covering(&self, table: &TurnTable, now: WatchTime) -> Result<Tide, Uncovered> {
        Tide::covering(table, self.sounding.map_or(now, |(sounded_at, _)| sounded_at.min(now)))
    }

    /// Ties the tide to a depth sounded (or entered) at that moment; `None` unties it.
    pub fn tie(&mut self, sounding: Option<(WatchTime, Metres)>, now: WatchTime) {
        self.sounding = sounding;
        self.sea = sounding.map(|(sounded_at, _)| Sea::tied(sounded_at));
        self.barometer.tie(sounding.map(|(sounded_at, _)| sounded_at));
        if let Some(table) = self.table.clone() {
            self.tide = Some(self.covering(&table, now).unwrap_or_else(|_| Tide::from_table(table)));
        }
        self.look_ahead(now);
    }

    /// Why nothing is foreseen although a tide was entered: it does not cover the sounding that it ties to.
    #[must_use]
    pub fn uncovered(&self, now: WatchTime) -> Option<Uncovered> {
        let tide = self.tide.as_ref()?;
        let at = self.sounding.map_or(now, |(sounded_at, _)| sounded_at);
        if tide.height_at(at).is_some() {
            return None;
        }
        self.covering(self.table.as_ref()?, now).err()
    }

    /// The last high or low water up to now, within the hour.
    #[must_use]
    pub fn last_turn(&self, now: WatchTime) -> Option<(WatchTime, TurnKind)> {
        let turns = self.tide.as_ref()?.turns_between(now - Span::from_mins(60), now);
        turns.last().map(|turn| (turn.at, turn.kind))
    }

    /// When a keel so far down touches next, and floats again.
    #[must_use]
    pub fn grounding(&self, draft: Metres, now: WatchTime) -> Option<Grounding> {
        let depth = self.depth_at(now)?;
        // What may be wrong is allowed for, as far as it does not say that she is aground while she floats.
        let wrong = self.corrected(now).unwrap_or_default() - self.least_by(now);
        let deep = Some(draft + wrong).filter(|deep| depth > *deep).unwrap_or(draft);
        let touches = if depth <= deep { now } else { self.next_passing(deep, now)? };
        Some(Grounding { touches, floats: self.next_passing(deep, touches + Span::from_secs(1)) })
    }

    /// Whether any tide was entered.
    #[must_use]
    pub fn has_tide(&self) -> bool {
        self.tide.is_some()
    }

    /// Hears the sounder where she lies about the mark (`None` where either is not known), and the pressure in hectopascals.
    pub fn hear(&mut self, now: WatchTime, sounded: Option<(Metres, Local)>, pressure_hpa: Option<f64>) {
        self.barometer.hear(now, pressure_hpa);
        let (Some(tide), Some((depth, place))) = (&self.tide, sounded) else { return };
        let Some(by_tide) = self.depth_by_tide(now) else { return };
        let unsure = tide.doubt_of_assumed(now);
        if let Some(sea) = &mut self.sea {
            sea.hear(now, place, (depth - by_tide).0, unsure);
        }
    }

    /// The mark of the anchor was moved: places about it are others.
    pub fn mark_moved(&mut self) {
        if let Some(sea) = &mut self.sea {
            sea.mark_moved();
        }
    }

    /// The barometer.
    #[must_use]
    pub fn barometer(&self) -> &Barometer {
        &self.barometer
    }

    /// How the sea stands off the tide: by the sounder, else by the barometer.
    #[must_use]
    pub fn correction(&self, now: WatchTime) -> Option<Correction> {
        self.tide.as_ref()?;
        self.sea.as_ref().and_then(|sea| sea.correction(now)).or_else(|| self.barometer.correction(now))
    }

    /// By how much the likeliest depth is corrected.
    fn corrected(&self, now: WatchTime) -> Option<Metres> {
        self.correction(now).map(|correction| correction.by)
    }

    /// What to put to tide and sounding for the least water where she has lain: seldom more than 0.
    fn least_by(&self, now: WatchTime) -> Metres {
        let by = self.correction(now).map_or(Metres(0.0), |correction| correction.for_least());
        by - self.shoals() - self.doubt_of_tie(now)
    }

    /// How much higher than at the anchor the highest bottom is that she has lain over.
    #[must_use]
    pub fn shoals(&self) -> Metres {
        self.sea.as_ref().filter(|_| self.tide.is_some()).map_or(Metres(0.0), Sea::shoals)
    }

    /// How far off all heights may be because the sounding was made while the tide was assumed. Once that time is past, the
    /// sounder shows what was wrong of it.
    fn doubt_of_tie(&self, now: WatchTime) -> Metres {
        let Some((tide, (sounded_at, _))) = self.tide.as_ref().zip(self.sounding) else { return Metres(0.0) };
        let doubt = tide.doubt_of_assumed(sounded_at);
        let by_sounder = self.sea.as_ref().and_then(|sea| sea.correction(now));
        let of_tie = match by_sounder.filter(|_| tide.doubt_of_assumed(now) == Metres(0.0)) {
            Some(measured) => doubt.min(measured.doubt),
            None => doubt,
        };
        of_tie.max(tide.doubt_of_distance())
    }

    /// Depth at the drop point as it most likely is, corrected by what is measured now; without a tide the sounding stands
    /// for the whole stay.
    #[must_use]
    pub fn depth_at(&self, t: WatchTime) -> Option<Metres> {
        Some(self.depth_by_tide(t)? + self.outlook.by)
    }

    /// Depth at the drop point by sounding and tide alone.
    #[must_use]
    pub fn depth_by_tide(&self, t: WatchTime) -> Option<Metres> {
        let (sounded_at, sounding) = self.sounding?;
        match &self.tide {
            Some(tide) => tide.depth_at(sounding, sounded_at, t),
            None => Some(sounding),
        }
    }

    /// Height of tide above its datum; `None` without a tide.
    #[must_use]
    pub fn height_at(&self, t: WatchTime) -> Option<Metres> {
        self.tide.as_ref()?.height_at(t)
    }

    /// The same, corrected by what is measured as far as less water is the danger: what a sounding that was reduced to datum has
    /// over it at least.
    #[must_use]
    pub fn height_for_least(&self, t: WatchTime) -> Option<Metres> {
        let by = self.correction(self.outlook.made).map_or(Metres(0.0), |correction| correction.for_least());
        Some(self.height_at(t)? + by)
    }

    /// Least and greatest height of tide ahead, above its datum; corrected by what is measured, each to its own side.
    #[must_use]
    pub fn heights_ahead(&self) -> Option<(Metres, Metres)> {
        self.outlook.heights
    }

    /// Rise of the tide since the sounding; `None` without a tide.
    #[must_use]
    pub fn rise_at(&self, t: WatchTime) -> Option<Metres> {
        let (sounded_at, _) = self.sounding?;
        self.tide.as_ref()?.rise(sounded_at, t)
    }

    /// When the depth next passes `depth`, within the outlook.
    #[must_use]
    pub fn next_passing(&self, depth: Metres, now: WatchTime) -> Option<WatchTime> {
        let (sounded_at, sounding) = self.sounding?;
        let tide = self.tide.as_ref()?;
        let level = tide.height_at(sounded_at)? + depth - sounding - self.outlook.by;
        tide.next_passing(level, now, now + AHEAD)
    }

    /// The last moment of a tide that ends; `None` if there is no tide or it has no end.
    #[must_use]
    pub fn known_until(&self) -> Option<WatchTime> {
        self.tide.as_ref()?.known_until()
    }

    /// The outlook, made anew when it is old.
    pub fn second(&mut self, now: WatchTime) {
        if now.since(self.outlook.made) >= OUTLOOK_AGE {
            self.look_ahead(now);
        }
    }

    /// What the night holds.
    #[must_use]
    pub fn outlook(&self) -> &Outlook {
        &self.outlook
    }

    /// The tide as the screen shows it.
    #[must_use]
    pub fn view(&self, now: WatchTime) -> TideView {
        let rate = self.tide.as_ref().and_then(|t| t.rate_at(now)).map(|r| r.0);
        TideView { rate_m_per_h: rate, ..self.outlook.view.clone() }
    }

    fn look_ahead(&mut self, now: WatchTime) {
        let ahead = self.tide.as_ref().and_then(|tide| tide.extremes_between(now, now + AHEAD));
        let correction = self.correction(now);
        self.outlook.by = correction.map_or(Metres(0.0), |correction| correction.by);
        let mut outlook = Outlook {
            made: now,
            by: self.outlook.by,
            heights: ahead.map(|extremes| {
                let (less, more) =
                    correction.map_or_else(Default::default, |c| (c.for_least(), c.for_greatest()));
                (extremes.least.height + less, extremes.greatest.height + more)
            }),
            ..Outlook::default()
        };
        if let (Some(tide), Some((sounded_at, sounding))) = (&self.tide, self.sounding) {
            let depth_of = |height: Metres| {
                tide.height_at(sounded_at).map(|at_sounding| sounding + height - at_sounding)
            };
            if let Some(extremes) = ahead {
                let at = extremes.least.at;
                let least = depth_of(extremes.least.height).map(|depth| depth + self.least_by(now));
                let fall = |most_h: f64| {
                    let falls = correction.map_or(0.0, |c| c.growth_m_per_h).min(0.0);
                    Metres(falls * (at.since(now).seconds() / 3600.0).min(most_h))
                };
                outlook.least = least.map(|depth| (depth + fall(FALLS_SURELY_H), at));
                outlook.least_if_grows = least.map(|depth| depth + fall(GROWS_FOR_H));
                let greatest_by =
                    correction.map_or(Metres(0.0), |c| c.for_greatest()) + self.doubt_of_tie(now);
                outlook.greatest =
                    depth_of(extremes.greatest.height).map(|d| (d + greatest_by, extremes.greatest.at));
            }
            let stay = tide.extremes_between(sounded_at, now + AHEAD);
            let by = correction.map_or(Metres(0.0), |c| c.for_least());
            outlook.least_of_stay = stay.and_then(|e| depth_of(e.least.height)).map(|depth| depth + by);
            let points =
                (0..=(AHEAD + BEHIND).0 / CURVE_STEP.0).map(|i| now - BEHIND + Span(i * CURVE_STEP.0));
            let curve = points.filter_map(|t| Some((t, self.depth_at(t)?))).collect();
            let turns = tide.turns_between(now - BEHIND, now + AHEAD);
            outlook.view = TideView {
                credit: tide.credit().map(Into::into),
                curve: Arc::new(curve),
                turns: turns
                    .iter()
                    .filter_map(|t| {
                        Some(TurnView { at: t.at, kind: t.kind, depth: depth_of(t.height)? + outlook.by })
                    })
                    .collect(),
                known_until: tide.known_until(),
                rate_m_per_h: None,
                assumed: tide.assumed().filter(|_| tide.doubt_of_assumed(sounded_at) > Metres(0.0)).cloned(),
                afar: tide.doubt_of_distance(),
                correction,
                shoals: self.shoals(),
            };
        }
        self.outlook = outlook;
    }
}

/// What a tide would mean where she lies, before it is taken.
#[derive(Clone, Debug, Default)]
pub struct Foresight {
    /// Depths, turns and what is assumed, as they would be shown.
    pub view: TideView,
    /// Least water under the keel ahead, and when.
    pub least_under_keel: Option<(Metres, WatchTime)>,
    /// When she touches and floats again.
    pub grounding: Option<Grounding>,
}

/// What a tide that is being entered would mean: tied to the depth at letting go, or to the sounder's now before that.
///
/// # Errors
/// As [`Water::enter`].
pub fn foresee(entered: &TideEntered, snap: &Snapshot) -> Result<Foresight, TideRefused> {
    let now = snap.at;
    let at_anchor = snap.drop.and_then(|drop| Some((drop.let_go, drop.depth?)));
    let tie =
        at_anchor.filter(|_| snap.stage != Stage::NotSet).or(snap.depth.sounded.now().map(|d| (now, d)));
    let mut water = Water { sounding: tie, ..Water::default() };
    let here = snap.drop.map(|drop| drop.position).or(snap.fix.position);
    water.enter(entered, now, here)?;
    let draft = snap.settings.boat.draft;
    Ok(Foresight {
        least_under_keel: water.outlook.least.map(|(depth, at)| (depth - draft, at)),
        grounding: water.grounding(draft, now),
        view: water.view(now),
    })
}
