//! The water at the drop point through the stay: the sounding at letting go, and the tide since.
//!
//! Heights tie to that sounding, so that an error of the tide's datum cancels.

use std::sync::Arc;

use super::input::TideEntered;
use super::snapshot::{TideView, TurnView};
use super::tide::stations::Stations;
use super::tide::turns::{Rule, TurnTable};
use super::tide::{Tide, Turn};
use super::units::{Metres, Span, WatchTime};

/// How far the crew looks ahead: past the next high and the next low water, both.
const AHEAD: Span = Span::from_mins(13 * 60);
/// How far the curve looks back.
const BEHIND: Span = Span::from_mins(12 * 60);
/// One point of the curve.
const CURVE_STEP: Span = Span::from_mins(10);
/// The outlook is made anew this often.
const OUTLOOK_AGE: Span = Span::from_mins(5);

/// A depth at a moment.
pub type DepthThen = (Metres, WatchTime);

/// What the night holds for the depth at the drop point.
#[derive(Clone, Debug, Default)]
pub struct Outlook {
    made: WatchTime,
    /// Least depth ahead.
    pub least: Option<DepthThen>,
    /// Greatest depth ahead.
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
    tide: Option<Tide>,
    sounding: Option<(WatchTime, Metres)>,
    outlook: Outlook,
}

impl Water {
    /// Takes the tide that the crew entered.
    ///
    /// # Errors
    /// In words, what is wrong with it; the tide before it stays.
    pub fn enter(&mut self, entered: &TideEntered, now: WatchTime) -> Result<(), String> {
        self.tide = match entered {
            TideEntered::Nothing => None,
            TideEntered::Table { turns } => {
                let turns = turns.iter().map(|t| Turn::from(*t)).collect();
                Some(Tide::from_table(TurnTable::new(turns, Rule::Cosine).map_err(|e| e.to_string())?))
            }
            TideEntered::Station { id } => {
                let stations = Stations::bundled().map_err(|e| e.to_string())?;
                Some(stations.tide(id, now).map_err(|e| e.to_string())?)
            }
        };
        self.look_ahead(now);
        Ok(())
    }

    /// Ties the tide to a depth sounded (or entered) at that moment; `None` unties it.
    pub fn tie(&mut self, sounding: Option<(WatchTime, Metres)>, now: WatchTime) {
        self.sounding = sounding;
        self.look_ahead(now);
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
                outlook.least = depth_of(extremes.least.height).map(|d| (d, extremes.least.at));
                outlook.greatest = depth_of(extremes.greatest.height).map(|d| (d, extremes.greatest.at));
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
            };
        }
        self.outlook = outlook;
    }
}
