//! The water at the drop point through the stay: the sounding at letting go, and the tide since.
//!
//! Heights tie to that sounding, so that an error of the tide's datum cancels.

use std::sync::Arc;

use super::input::TideEntered;
use super::snapshot::{Snapshot, Stage, TideView, TurnView};
use super::tide::TurnKind;
use super::tide::stations::{StationError, Stations};
use super::tide::turns::{Rule, TableError, TurnTable, Uncovered};
use super::tide::{Tide, Turn};
use super::tuning::water::{AHEAD, BEHIND, CURVE_STEP, OUTLOOK_AGE};
use super::units::{Metres, Span, WatchTime};

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
    /// Least depth ahead, with what may be wrong of it taken off.
    pub least: Option<DepthThen>,
    /// Greatest depth ahead, with what may be wrong of it put on.
    pub greatest: Option<DepthThen>,
    /// Least depth from letting go to the end of the outlook.
    pub least_of_stay: Option<Metres>,
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
    outlook: Outlook,
}

impl Water {
    /// Takes the tide that the crew entered.
    ///
    /// # Errors
    /// `TideRefused` says what is wrong with it; the tide before it stays.
    pub fn enter(&mut self, entered: &TideEntered, now: WatchTime) -> Result<(), TideRefused> {
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
            TideEntered::Station { id } => Some(Stations::bundled()?.tide(id, now)?),
        };
        (self.table, self.tide) = (table, tide);
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
        let (sounded_at, _) = self.sounding?;
        let tide = self.tide.as_ref()?;
        let depth = self.depth_at(now)?;
        // What may be wrong is allowed for, as far as it does not say that she is aground while she floats.
        let deep = Some(draft + tide.doubt_at(sounded_at)).filter(|deep| depth > *deep).unwrap_or(draft);
        let touches = if depth <= deep { now } else { self.next_passing(deep, now)? };
        Some(Grounding { touches, floats: self.next_passing(deep, touches + Span::from_secs(1)) })
    }

    /// Whether any tide was entered.
    #[must_use]
    pub fn has_tide(&self) -> bool {
        self.tide.is_some()
    }

    /// Depth at the drop point; without a tide the sounding stands for the whole stay.
    #[must_use]
    pub fn depth_at(&self, t: WatchTime) -> Option<Metres> {
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

    /// Least and greatest height of tide ahead, above its datum.
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
        let level = tide.height_at(sounded_at)? + depth - sounding;
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
        let mut outlook = Outlook {
            made: now,
            heights: ahead.map(|extremes| (extremes.least.height, extremes.greatest.height)),
            ..Outlook::default()
        };
        if let (Some(tide), Some((sounded_at, sounding))) = (&self.tide, self.sounding) {
            let depth_of = |height: Metres| {
                tide.height_at(sounded_at).map(|at_sounding| sounding + height - at_sounding)
            };
            if let Some(extremes) = ahead {
                let doubt = tide.doubt_at(sounded_at);
                outlook.least = depth_of(extremes.least.height).map(|d| (d - doubt, extremes.least.at));
                outlook.greatest =
                    depth_of(extremes.greatest.height).map(|d| (d + doubt, extremes.greatest.at));
            }
            let stay = tide.extremes_between(sounded_at, now + AHEAD);
            outlook.least_of_stay = stay.and_then(|e| depth_of(e.least.height));
            let points =
                (0..=(AHEAD + BEHIND).0 / CURVE_STEP.0).map(|i| now - BEHIND + Span(i * CURVE_STEP.0));
            let curve = points.filter_map(|t| Some((t, self.depth_at(t)?))).collect();
            let turns = tide.turns_between(now - BEHIND, now + AHEAD);
            outlook.view = TideView {
                credit: tide.credit().map(Into::into),
                curve: Arc::new(curve),
                turns: turns
                    .iter()
                    .filter_map(|t| Some(TurnView { at: t.at, kind: t.kind, depth: depth_of(t.height)? }))
                    .collect(),
                known_until: tide.known_until(),
                rate_m_per_h: None,
                assumed: tide.assumed().filter(|_| tide.doubt_at(sounded_at) > Metres(0.0)).cloned(),
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
    water.enter(entered, now)?;
    let draft = snap.settings.boat.draft;
    Ok(Foresight {
        least_under_keel: water.outlook.least.map(|(depth, at)| (depth - draft, at)),
        grounding: water.grounding(draft, now),
        view: water.view(now),
    })
}
