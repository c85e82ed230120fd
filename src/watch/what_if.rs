//! What if the wind rose, more were veered, the tide turned? The rode as it would lie then.
//!
//! A pure sum over a snapshot, with nothing supposed the rode as it lies now. Same gear, same stream, other wind, length
//! or moment; the formulas are those of [`super::rode`].

use super::asked_now::{AskedNow, asked};
use super::plan::LiftWinds;
use super::rode::{self, Line, Load, Locker, RodeError, Weather};
use super::slope::seen_from;
use super::snapshot::{Snapshot, TurnView};
use super::tide::TurnKind;
use super::units::{Knots, Metres, Newtons, WatchTime};

/// Length whose worth is shown beside what is out.
pub const MORE: Metres = Metres(5.0);
/// Points along the rode, for drawing.
const POINTS: usize = 121;

/// What is supposed; what is `None` stays as it is now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WhatIf {
    /// Mean wind.
    pub wind: Option<Knots>,
    /// Rode out.
    pub veered: Option<Metres>,
    /// The moment whose tide is looked at.
    pub at: Option<WatchTime>,
}

/// How the rode pulls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strain {
    /// Reach, length on the bottom, angles and tensions under mean wind and stream.
    pub shape: rode::Shape,
    /// Pull at the anchor in a gust while she sheers, degrees above the bottom.
    pub gust_angle_deg: f64,
}

/// The rode at one depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Riding {
    /// Rode out.
    pub veered: Metres,
    /// Depth from the surface.
    pub depth: Metres,
    /// Bow roller above the bottom.
    pub height: Metres,
    /// Depth less draft.
    pub under_keel: Metres,
    /// Veered ÷ (depth + bow height).
    pub scope: f64,
    /// Reach of the rode pulled straight.
    pub farthest: Metres,
    /// How it pulls; `None` without wind.
    pub strain: Option<Strain>,
    /// The greatest pull to be expected, waves in it, beside the hold; `None` without wind.
    pub asked: Option<AskedNow>,
    /// Winds at which the pull at the anchor begins to rise.
    pub winds: LiftWinds,
}

/// The rode as it lies, or would lie.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// The moment calculated for.
    pub at: WatchTime,
    /// Mean wind calculated with.
    pub wind: Option<Knots>,
    /// Gust calculated with.
    pub gust: Option<Knots>,
    /// Rode out.
    pub veered: Option<Metres>,
    /// All the rode aboard.
    pub carried: Metres,
    /// Depth from the surface at that moment.
    pub depth: Option<Metres>,
    /// The rode at that moment; `None` without depth or length, or where it makes no shape.
    pub then: Option<Riding>,
    /// At the highest high water ahead.
    pub high: Option<(WatchTime, Riding)>,
    /// At the lowest low water ahead.
    pub low: Option<(WatchTime, Riding)>,
    /// With [`MORE`] more at the highest water, else at that moment; `None` if there is no more.
    pub more: Option<Riding>,
    /// Length that would keep the pull at the anchor along the bottom in this mean wind; it may not be aboard.
    pub lies_flat_with: Option<Metres>,
    /// The line from the anchor (0, 0) to the bow: metres along, metres up. Empty without wind.
    pub line: Vec<(f64, f64)>,
    /// Length of rope in what is out; the rest is chain.
    pub rope: Metres,
    /// Where in the line the rope begins; its length if there is none.
    pub rope_from: usize,
    /// Why the rode makes no shape.
    pub trouble: Option<RodeError>,
}

/// Calculates the rode under what is supposed.
#[must_use]
pub fn answer(snap: &Snapshot, what_if: &WhatIf) -> Answer {
    let at = what_if.at.unwrap_or(snap.at);
    let mean = what_if.wind.or(snap.wind.mean);
    let gust = match what_if.wind {
        Some(wind) => Some(wind * rode::GUST_FACTOR),
        None => snap.wind.gust.or(snap.wind.mean),
    };
    let found = Answer {
        at,
        wind: mean,
        gust,
        veered: what_if.veered.or(snap.rode.veered),
        depth: depth_at(snap, at),
        ..Answer::default()
    };
    match Gear::of(snap, &found) {
        Ok(gear) => gear.answer(snap, found),
        Err(trouble) => Answer { trouble: Some(trouble), ..found },
    }
}

/// Depth at the drop point at a moment; `None` where no tide gives it.
#[must_use]
pub fn depth_at(snap: &Snapshot, at: WatchTime) -> Option<Metres> {
    if at == snap.at {
        let by_rode = snap.rode.height.map(|height| height - snap.settings.boat.bow_height);
        return by_rode.or(snap.depth.predicted).or(snap.depth.sounded.now());
    }
    let curve = &snap.tide.curve;
    let after = curve.partition_point(|(then, _)| *then < at);
    let (right, right_depth) = *curve.get(after)?;
    if right == at {
        return Some(right_depth);
    }
    let (left, left_depth) = *curve.get(after.checked_sub(1)?)?;
    let part = at.since(left).0 as f64 / right.since(left).0.max(1) as f64;
    Some(left_depth + (right_depth - left_depth) * part)
}

/// What is the same at every depth.
struct Gear<'a> {
    snap: &'a Snapshot,
    locker: Locker,
    /// `None` without wind.
    load: Option<(Weather, Load)>,
    /// Stream to be allowed for, and how far she sheers.
    stream: Knots,
    sheer_deg: f64,
}

impl<'a> Gear<'a> {
    fn of(snap: &'a Snapshot, found: &Answer) -> Result<Self, RodeError> {
        let boat = &snap.settings.boat;
        let rate = snap.stream.map_or(Knots(0.0), |(_, rate)| rate);
        let expected = snap.settings.expected;
        let sheer_deg = expected
            .map_or_else(|| rode::usual_sheer(boat, snap.berth.bridle), |expected| expected.sheer_deg);
        let load = found.wind.map(|mean| {
            let gust = found.gust.unwrap_or(mean).max(mean);
            let weather = Weather { mean, gust, stream: rate, sheer_deg };
            (weather, Load::of(boat, &weather))
        });
        let stream = expected.map_or(rate, |expected| rate.max(expected.stream));
        let (locker, _) = snap.berth.lockers(&snap.settings.tackle)?;
        Ok(Self { snap, locker, load, stream, sheer_deg })
    }

    fn answer(&self, snap: &Snapshot, found: Answer) -> Answer {
        let carried = self.locker.carried();
        let bare = Answer { carried, ..found };
        let (Some(veered), Some(depth)) = (bare.veered, bare.depth) else { return bare };
        let then = match self.riding(veered, depth) {
            Ok(then) => then,
            Err(trouble) => return Answer { trouble: Some(trouble), ..bare },
        };
        let turn = |turn: Option<TurnView>| {
            turn.and_then(|turn| Some((turn.at, self.riding(veered, turn.depth).ok()?)))
        };
        let (high, low) = (turn(highest_ahead(snap)), turn(lowest_ahead(snap)));
        let deepest = high.map_or(depth, |(_, riding)| riding.depth);
        let rope = (veered - self.snap.settings.tackle.chain).max(Metres(0.0));
        let (line, rope_from) = self.line(veered, then.height);
        Answer {
            then: Some(then),
            high,
            low,
            more: self.riding(veered + MORE, deepest).ok(),
            lies_flat_with: self.lies_flat_with(then.height),
            rope,
            line,
            rope_from,
            ..bare
        }
    }

    fn riding(&self, veered: Metres, depth: Metres) -> Result<Riding, RodeError> {
        let boat = &self.snap.settings.boat;
        // Where it dries, the bow stands above the mud that she sits on.
        let height = depth.max(Metres(0.0)) + boat.bow_height;
        let line = self.locker.veer(veered)?;
        let farthest = rode::reach_limit(veered, height)?;
        // Downhill of her anchor the pull sees the bow so much higher: see `super::slope`.
        let high = seen_from(height, veered, self.falls());
        let pulls = rode::thresholds(&line, high)?;
        let wind = |pull: Option<Newtons>| {
            pull.map(|pull| rode::wind_with_stream(boat, pull, self.stream, self.sheer_deg))
        };
        Ok(Riding {
            veered,
            depth,
            height,
            under_keel: depth - boat.draft,
            scope: veered.0 / height.0,
            farthest,
            strain: self.load.map(|(_, load)| strain(&line, high, &load)).transpose()?,
            asked: self.asked(veered, high),
            winds: LiftWinds {
                veered,
                lifts: wind(pulls.lifts),
                five_degrees: wind(pulls.five_degrees),
                eight_degrees: wind(pulls.eight_degrees),
            },
        })
    }

    /// How much deeper the bottom lies for every metre towards her bow.
    fn falls(&self) -> f64 {
        let lies = self.snap.slope().zip(self.snap.bow.or(self.snap.antenna));
        lies.map_or(0.0, |(slope, bow)| slope.towards(bow.bearing()))
    }

    fn asked(&self, veered: Metres, high: Metres) -> Option<AskedNow> {
        let (weather, _) = self.load?;
        let weather = Weather { stream: self.stream, ..weather };
        let settings = &self.snap.settings;
        let from = self.snap.wind.mean_direction;
        let measured = self.snap.motion.and_then(|motion| motion.sea);
        asked(&settings.boat, &settings.tackle, &self.snap.berth, (&weather, from), (veered, high), measured)
    }

    fn lies_flat_with(&self, height: Metres) -> Option<Metres> {
        Some(match rode::needed(&self.locker, height, self.load?.1.steady(), 0.0).ok()? {
            rode::Needed::Veer(length) => length,
            rode::Needed::NotCarried { would_take, .. } => would_take,
        })
    }

    /// The line to draw, and where in it the rope begins.
    fn line(&self, veered: Metres, height: Metres) -> (Vec<(f64, f64)>, usize) {
        let (Some((_, load)), Ok(line)) = (self.load, self.locker.veer(veered)) else {
            return (Vec::new(), 0);
        };
        let points = rode::points(&line, height, load.steady(), POINTS).unwrap_or_default();
        // Points are evenly spaced along the rode. Not more than there are, whatever the lengths.
        let chain_part = (line.chain.length.0 / line.veered().0).clamp(0.0, 1.0);
        let rope_from = match line.rope {
            Some(_) => (chain_part * (POINTS - 1) as f64).round() as usize,
            None => points.len(),
        };
        (points, rope_from)
    }
}

fn strain(line: &Line, height: Metres, load: &Load) -> Result<Strain, RodeError> {
    Ok(Strain {
        shape: rode::shape(line, height, load.steady())?,
        gust_angle_deg: rode::shape(line, height, load.greatest())?.angle_anchor_deg,
    })
}

/// The highest high water that is known to come.
#[must_use]
pub fn highest_ahead(snap: &Snapshot) -> Option<TurnView> {
    ahead(snap, TurnKind::High).max_by(|a, b| a.depth.0.total_cmp(&b.depth.0))
}

/// The lowest low water that is known to come.
#[must_use]
pub fn lowest_ahead(snap: &Snapshot) -> Option<TurnView> {
    ahead(snap, TurnKind::Low).min_by(|a, b| a.depth.0.total_cmp(&b.depth.0))
}

fn ahead(snap: &Snapshot, kind: TurnKind) -> impl Iterator<Item = TurnView> {
    snap.tide.turns.iter().filter(move |turn| turn.kind == kind && turn.at > snap.at).copied()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::watch::rode::Windage;
    use crate::watch::snapshot::{RodeView, TideView, WindView};
    use crate::watch::units::Span;

    /// 35 m of 8 mm chain in 4 m at a falling tide; low water of 2 m in an hour, high water of 6 m in seven.
    fn anchored() -> Snapshot {
        let at = WatchTime(1_780_000_000_000);
        let hours = |n: i64| at + Span::from_mins(60 * n);
        let bow = crate::watch::boat::Boat::default().bow_height;
        Snapshot {
            at,
            wind: WindView { mean: Some(Knots(14.0)), gust: Some(Knots(20.0)), ..WindView::default() },
            rode: RodeView {
                veered: Some(Metres(35.0)),
                height: Some(Metres(4.0) + bow),
                ..RodeView::default()
            },
            tide: TideView {
                curve: Arc::new(vec![(at, Metres(4.0)), (hours(1), Metres(2.0)), (hours(7), Metres(6.0))]),
                turns: vec![
                    TurnView { at: hours(1), kind: TurnKind::Low, depth: Metres(2.0) },
                    TurnView { at: hours(7), kind: TurnKind::High, depth: Metres(6.0) },
                ],
                ..TideView::default()
            },
            ..Snapshot::default()
        }
    }

    #[test]
    fn nothing_supposed_is_the_rode_as_it_lies() {
        let snap = anchored();
        let found = answer(&snap, &WhatIf::default());
        let then = found.then.unwrap();
        let strain = then.strain.unwrap();
        let line = Locker::of(&snap.settings.tackle).unwrap().veer(Metres(35.0)).unwrap();
        let push = Windage::of(&snap.settings.boat).push(Knots(14.0));
        assert_eq!(strain.shape, rode::shape(&line, Metres(5.2), push).unwrap());
        assert_eq!((then.depth, found.at, found.rope_from), (Metres(4.0), snap.at, found.line.len()));
        let (x, z) = *found.line.last().unwrap();
        assert!((x - strain.shape.reach.0).abs() < 1e-6 && (z - 5.2).abs() < 1e-6);
    }

    #[test]
    fn more_wind_lifts_more_and_more_rode_lifts_less() {
        let snap = anchored();
        let grounded = |what_if| answer(&snap, &what_if).then.unwrap().strain.unwrap().shape.grounded;
        let now = grounded(WhatIf::default());
        assert!(grounded(WhatIf { wind: Some(Knots(22.0)), ..WhatIf::default() }) < now);
        assert!(grounded(WhatIf { veered: Some(Metres(45.0)), ..WhatIf::default() }) > now);
        let found = answer(&snap, &WhatIf { wind: Some(Knots(30.0)), ..WhatIf::default() });
        let flat = found.lies_flat_with.unwrap();
        let shorter = WhatIf { wind: Some(Knots(30.0)), veered: Some(flat - Metres(1.0)), at: None };
        assert!(
            flat > Metres(35.0)
                && answer(&snap, &shorter).then.unwrap().strain.unwrap().shape.angle_anchor_deg > 0.0
        );
    }

    #[test]
    fn the_moment_supposed_has_its_tide_and_none_beyond_the_curve() {
        let snap = anchored();
        let at = |minutes: i64| WhatIf { at: Some(snap.at + Span::from_mins(minutes)), ..WhatIf::default() };
        assert_eq!(answer(&snap, &at(30)).depth, Some(Metres(3.0)));
        assert_eq!(answer(&snap, &at(420)).then.unwrap().depth, Metres(6.0));
        let beyond = answer(&snap, &at(421));
        assert_eq!((beyond.depth, beyond.then), (None, None));
    }

    #[test]
    fn without_wind_depth_or_enough_rode_the_rest_is_still_told() {
        let mut snap = anchored();
        snap.wind = WindView::default();
        let calm = answer(&snap, &WhatIf::default());
        assert_eq!(calm.then.unwrap().strain, None);
        assert!(calm.line.is_empty() && calm.then.unwrap().winds.lifts.is_some());

        let short = answer(&snap, &WhatIf { veered: Some(Metres(4.0)), ..WhatIf::default() });
        assert!(matches!(short.trouble, Some(RodeError::TooShort { .. })), "{short:?}");
        let long = answer(&snap, &WhatIf { veered: Some(Metres(90.0)), ..WhatIf::default() });
        assert!(matches!(long.trouble, Some(RodeError::NotCarried { .. })), "{long:?}");

        snap.rode.height = None;
        let no_depth = answer(&snap, &WhatIf::default());
        assert_eq!((no_depth.depth, no_depth.then, no_depth.trouble), (None, None, None));
    }

    #[test]
    fn the_last_metres_aboard_leave_no_more() {
        let snap = anchored();
        assert!(answer(&snap, &WhatIf::default()).more.is_some());
        assert!(answer(&snap, &WhatIf { veered: Some(Metres(48.0)), ..WhatIf::default() }).more.is_none());
    }
}
