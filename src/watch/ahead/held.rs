//! The wind as it blows, held against the forecast: earlier, stronger, from elsewhere, and what that leads to.
//!
//! What was forecast is changed by what is measured, for all the hours to come, and the night calculated anew. It is told by
//! what would go wrong sooner; the wind alone wakes nobody.

use super::{AheadHour, NightAhead};
use crate::watch::boat::Limits;
use crate::watch::forecast::{Forecast, WindThen};
use crate::watch::grade::Grade;
use crate::watch::tuning::ahead as tuning;
use crate::watch::units::{Knots, Span, TrueBearing, WatchTime};

/// The wind as it blows: means of ten minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::watch) struct Measured {
    pub mean: Knots,
    pub gust: Knots,
    pub from: Option<TrueBearing>,
}

/// How the wind is unlike what was forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Differs {
    /// What was forecast for a later hour blows already.
    Earlier(Span),
    /// It blows harder than forecast for any hour near now.
    Stronger,
    /// It blows from so many degrees beside what was forecast, clockwise.
    Elsewhere(f64),
    /// Both.
    StrongerFromElsewhere(f64),
}

/// The measured wind against the forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// How it differs.
    pub differs: Differs,
    /// What happened and what it leads to, in sentences.
    pub words: String,
    /// Something goes wrong sooner than planned, and soon enough to be woken for.
    pub wakes: bool,
}

/// Holds what is measured against the forecast; `None` while it blows as forecast, or where nothing was forecast for now.
/// `night` calculates the night with another forecast.
pub(in crate::watch) fn hold_against(
    forecast: &Forecast,
    measured: &Measured,
    now: WatchTime,
    (limits, planned): (&Limits, Option<&NightAhead>),
    night: &dyn Fn(&Forecast) -> Option<NightAhead>,
) -> Option<Held> {
    let speaks = now + tuning::HOUR_OFF >= forecast.from() && now.since(forecast.until()) <= tuning::SAYS_FOR;
    let differs = differs(forecast, measured, now, limits).filter(|_| speaks)?;
    let as_it_blows = changed(forecast, measured, now, differs);
    let then = night(&as_it_blows);
    let sooner = then.as_ref().and_then(|then| sooner(then, planned, now));
    let wakes = sooner.is_some();
    let leads_to = match (sooner, &then) {
        (Some(hour), _) => leads_to(hour, planned, now),
        (None, Some(_)) => "If it goes on so, nothing calculated goes wrong sooner than planned.".to_owned(),
        (None, None) => "What that leads to is not known: enter depth and rode.".to_owned(),
    };
    Some(Held { differs, words: format!("{} {leads_to}", how(forecast, measured, now, differs)), wakes })
}

fn differs(forecast: &Forecast, measured: &Measured, now: WatchTime, limits: &Limits) -> Option<Differs> {
    let near = [now - tuning::HOUR_OFF, now, now + tuning::HOUR_OFF];
    let hardest = forecast.hardest(near[0], near[2]);
    let blows = measured.mean >= tuning::WORTH_TELLING;
    let stronger = blows && measured.mean > hardest.mean + tuning::STRONGER_MEAN
        || measured.gust > hardest.gust() + tuning::STRONGER_GUST
            && measured.gust >= tuning::WORTH_TELLING * 1.5;
    let elsewhere = measured.from.filter(|_| measured.mean >= limits.wind_shift_from).and_then(|from| {
        let turns = near.iter().map(|at| forecast.at(*at).from.map(|forecast| forecast.turn_to(from)));
        // Where one of them is variable it may come from anywhere.
        let turns: Option<Vec<f64>> = turns.collect();
        let nearest = turns?.into_iter().min_by(|a, b| a.abs().total_cmp(&b.abs()))?;
        (nearest.abs() > tuning::ELSEWHERE_DEG).then_some(nearest)
    });
    let so = match (stronger, elsewhere) {
        (false, None) => return None,
        (true, None) => Differs::Stronger,
        (false, Some(turned)) => Differs::Elsewhere(turned),
        (true, Some(turned)) => Differs::StrongerFromElsewhere(turned),
    };
    Some(early(forecast, measured, now).map_or(so, Differs::Earlier))
}

/// How much later the wind was forecast that blows now: the hour that is most like it.
fn early(forecast: &Forecast, measured: &Measured, now: WatchTime) -> Option<Span> {
    const STEP: Span = Span::from_mins(15);
    let later = (1..=tuning::EARLY_MOST.0 / STEP.0).map(|i| Span(i * STEP.0));
    let later = later.filter(|by| *by > tuning::HOUR_OFF && now + *by <= forecast.until());
    let off_kn = |by: &Span| (forecast.at(now + *by).mean - measured.mean).0.abs();
    let is_like = |by: &Span| {
        let turned =
            forecast.at(now + *by).from.zip(measured.from).map(|(forecast, from)| forecast.turn_to(from));
        turned.is_some_and(|turned| turned.abs() <= tuning::ALIKE_DEG) && off_kn(by) <= tuning::ALIKE_MEAN.0
    };
    // Of hours that are as good as alike the soonest.
    let alike: Vec<Span> = later.filter(is_like).collect();
    let best = alike.iter().map(off_kn).fold(f64::MAX, f64::min);
    alike.into_iter().find(|by| off_kn(by) <= best + 0.5)
}

/// The forecast as it would be if it went on so: all of it earlier, or harder by as much and turned by as much.
fn changed(forecast: &Forecast, measured: &Measured, now: WatchTime, differs: Differs) -> Forecast {
    let planned = forecast.at(now);
    let harder = (measured.mean - planned.mean).max(Knots(0.0));
    let gustier = (measured.gust - planned.gust()).max(harder);
    let turned_deg = match differs {
        Differs::Earlier(by) => return forecast.earlier(by),
        Differs::Stronger => 0.0,
        Differs::Elsewhere(deg) | Differs::StrongerFromElsewhere(deg) => deg,
    };
    forecast.changed(|wind| WindThen {
        from: wind.from.map(|from| from.turned(turned_deg)),
        mean: wind.mean + harder,
        gust: Some(wind.gust() + gustier),
        ..wind
    })
}

/// The first bad hour of the night as it blows, if it comes soon, and sooner than planned.
fn sooner<'a>(then: &'a NightAhead, planned: Option<&NightAhead>, now: WatchTime) -> Option<&'a AheadHour> {
    let bad = then.first_bad().filter(|bad| bad.at.since(now) <= tuning::WAKES_WITHIN)?;
    let before = planned.and_then(NightAhead::first_bad);
    before.is_none_or(|before| before.at.since(bad.at) >= tuning::SOONER_BY).then_some(bad)
}

/// How the wind differs, in a sentence.
fn how(forecast: &Forecast, measured: &Measured, now: WatchTime, differs: Differs) -> String {
    let from = measured.from.map_or_else(String::new, |from| format!(" from {from}"));
    let blows = format!("{:.0} kn{from}, gusts {:.0}", measured.mean.0, measured.gust.0);
    let planned = forecast.at(now).words();
    match differs {
        Differs::Earlier(by) => format!("The wind forecast for {by} from now blows already: {blows}."),
        Differs::Stronger => format!("The wind is stronger than forecast: {blows}; forecast {planned}."),
        Differs::Elsewhere(deg) => {
            format!("The wind is {} of what was forecast: {blows}; forecast {planned}.", beside(deg))
        }
        Differs::StrongerFromElsewhere(deg) => {
            format!(
                "The wind is stronger and {} of what was forecast: {blows}; forecast {planned}.",
                beside(deg)
            )
        }
    }
}

fn beside(deg: f64) -> String {
    format!("{:.0}° {}", deg.abs(), if deg > 0.0 { "clockwise" } else { "anticlockwise" })
}

fn leads_to(bad: &AheadHour, planned: Option<&NightAhead>, now: WatchTime) -> String {
    let so_bad = bad.worries.iter().filter(|worry| worry.grade() == Grade::Bad).count();
    let why = bad.why().into_iter().take(so_bad).collect::<Vec<_>>().join("; ");
    let when = |at: WatchTime| if at > now { format!("in {}", at.since(now)) } else { "now".to_owned() };
    let before = planned.and_then(NightAhead::first_bad);
    let before = before.map_or_else(
        || "as forecast not in the hours ahead".to_owned(),
        |b| format!("as forecast {}", when(b.at)),
    );
    format!("If it goes on so, {}: {why} ({before}).", when(bad.at))
}

#[cfg(test)]
mod tests {
    use super::super::tests::wind;
    use super::super::{Lying, moments};
    use super::*;
    use crate::watch::boat::{Boat, Sector, Tackle};
    use crate::watch::rode::{Hold, Locker, OpenWater, Weather};
    use crate::watch::units::{Metres, Newtons};

    fn held(measured: (f64, f64, f64), limits: &Limits, hour: i64) -> Option<Held> {
        let (boat, tackle) = (Boat::default(), Tackle::default());
        let locker = Locker::of(&tackle).unwrap();
        let weather = Weather::usual(Knots(0.0), boat.hull);
        let lying = Lying {
            boat: &boat,
            locker: &locker,
            bare: None,
            open: &OpenWater::default(),
            measured: None,
            veered: Metres(40.0),
            weather: &weather,
            hold: Some(Hold { least: Newtons(4000.0), most: Newtons(8000.0) }),
            limits,
            marks: &[],
            shore: &[],
            depth: &|_| Some(Metres(5.0)),
            doubt: (Metres(0.0), Metres(0.0)),
            sounded: &|_, _, _| None,
            slope: None,
        };
        let winds = vec![wind(0, 225.0, 15.0, 22.0), wind(6, 270.0, 25.0, 35.0), wind(10, 315.0, 18.0, 25.0)];
        let forecast = Forecast::try_from(winds).unwrap();
        let now = WatchTime(hour * 3_600_000);
        let night = |forecast: &Forecast| {
            let moments = moments(now, now + tuning::AHEAD, std::iter::empty(), forecast);
            NightAhead::make(&lying, forecast, &moments)
        };
        let planned = night(&forecast);
        let (mean, gust, from) = measured;
        let measured = Measured { mean: Knots(mean), gust: Knots(gust), from: Some(TrueBearing::new(from)) };
        hold_against(&forecast, &measured, now, (limits, planned.as_ref()), &night)
    }

    fn barred() -> Limits {
        let sector = Sector { from: TrueBearing::new(300.0), to: TrueBearing::new(10.0) };
        Limits { barred: vec![sector], ..Limits::default() }
    }

    #[test]
    fn as_forecast_says_nothing() {
        for (measured, hour) in [((15.0, 22.0, 225.0), 0), ((21.0, 30.0, 250.0), 2), ((8.0, 12.0, 240.0), 0)]
        {
            assert_eq!(held(measured, &barred(), hour), None, "{measured:?}");
        }
    }

    #[test]
    fn the_wind_of_a_later_hour_is_early_and_wakes_where_a_barred_sector_comes_sooner() {
        let early = held((24.0, 34.0, 275.0), &barred(), 1).unwrap();
        let Differs::Earlier(by) = early.differs else { panic!("{early:?}") };
        // 24 kn are forecast for a little before half past five.
        assert!((Span::from_mins(255)..=Span::from_mins(270)).contains(&by), "{by}");
        assert!(early.wakes && early.words.contains("wind from a sector you barred"), "{}", early.words);
        let no_matter = held((24.0, 34.0, 275.0), &Limits::default(), 1).unwrap();
        assert!(
            !no_matter.wakes && no_matter.words.contains("nothing calculated goes wrong sooner"),
            "{no_matter:?}"
        );
    }

    #[test]
    fn from_elsewhere_wakes_where_it_turns_into_a_barred_sector() {
        let elsewhere = held((15.0, 22.0, 290.0), &barred(), 0).unwrap();
        assert!(matches!(elsewhere.differs, Differs::Elsewhere(_)), "{elsewhere:?}");
        assert!(elsewhere.wakes, "{elsewhere:?}");
        assert!(
            elsewhere.words.starts_with("The wind is 58° clockwise of what was forecast"),
            "{elsewhere:?}"
        );
    }

    #[test]
    fn stronger_wakes_where_the_load_would_be_more_than_the_anchor_holds() {
        let stronger = held((30.0, 48.0, 225.0), &Limits::default(), 0).unwrap();
        assert_eq!((stronger.differs, stronger.wakes), (Differs::Stronger, true), "{stronger:?}");
        let little = held((23.0, 32.0, 225.0), &Limits::default(), 0);
        assert!(little.is_some_and(|held| !held.wakes));
    }

    #[test]
    fn long_after_its_last_hour_a_forecast_says_nothing() {
        assert!(held((40.0, 60.0, 315.0), &Limits::default(), 12).is_some());
        assert_eq!(held((40.0, 60.0, 315.0), &Limits::default(), 14), None);
    }
}
