//! Rounds as they are made, when the next is due, and how they are shown.

use std::sync::Arc;

use super::rota;
use super::{OnWatch, RoundDone, RoundItem, RoundLine, RoundMade, RoundState, RoundsView};
use crate::watch::Watch;
use crate::watch::holding::HoldingState;
use crate::watch::latch::{Latch, Patience};
use crate::watch::snapshot::Stage;
use crate::watch::units::{Knots, Span, WatchTime};

/// Rounds that are kept.
const DONE_MAX: usize = 100;
/// Words of a round longer than this are cut: the journal is no place for floods.
const NOTE_MAX: usize = 500;
/// Items of one round that are kept.
const ITEMS_MAX: usize = 40;
/// No round is due sooner than this after the last, however it blows: the watchkeeper needs to sit down.
const LEAST_INTERVAL: Span = Span::from_mins(10);
/// Shares of the crew's limits from which rounds come sooner: common practice, no source.
const WINDY_SHARE: f64 = 0.75;
const RISING_SHARE: f64 = 0.5;
const SHIFT_SHARE: f64 = 0.6;
const EVIDENCE: f64 = 0.5;
/// So much more wind than half an hour before is rising.
const RISES: Knots = Knots(5.0);
const RISES_OVER_MIN: usize = 30;
/// Means change slowly: looked at this often.
const HASTE_LOOKED_AT: Span = Span::from_secs(10);
/// What shortens the interval must last a little, and be gone for longer before it is forgotten: the time of the next
/// round must not jump about.
const PATIENCE: Patience = Patience { on: Span::from_mins(2), off: Span::from_mins(15) };

/// What can bring rounds nearer together.
#[derive(Clone, Copy, Debug)]
enum Haste {
    Windy,
    Rising,
    Shifted,
    Creeping,
}

impl Haste {
    const ALL: [Self; 4] = [Self::Windy, Self::Rising, Self::Shifted, Self::Creeping];
}

/// What the watch knows of rounds.
#[derive(Clone, Debug, Default)]
pub struct Rounds {
    /// The next counts from here: brought up, or the last round.
    from: Option<WatchTime>,
    /// Since when one is due. It stays due until it is made, whatever the weather does; and it is not late before
    /// anybody could know of it, when the interval is shortened.
    owed: Option<WatchTime>,
    done: Arc<Vec<RoundDone>>,
    haste: [Latch; Haste::ALL.len()],
    /// Mean winds of the last half hour, one a minute, oldest first.
    winds: Vec<Option<Knots>>,
}

impl Rounds {
    /// She is brought up, or stays after all: the next round counts from here.
    pub fn count_from(&mut self, at: WatchTime) {
        (self.from, self.owed) = (Some(at), None);
    }

    /// A new ride: no rounds have been made.
    pub fn begin_ride(&mut self) {
        *self = Self::default();
    }

    fn take_wind(&mut self, mean: Option<Knots>) {
        if self.winds.len() > RISES_OVER_MIN {
            self.winds.remove(0);
        }
        self.winds.push(mean);
    }

    /// How much the mean wind has risen in half an hour.
    fn rise(&self) -> Option<Knots> {
        let (then, now) = ((*self.winds.first()?)?, (*self.winds.last()?)?);
        (self.winds.len() > RISES_OVER_MIN).then_some(now - then)
    }
}

impl Watch {
    pub(in crate::watch) fn round(&mut self, at: WatchTime, made: RoundMade) {
        if self.ride.stage != Stage::BroughtUp {
            self.refuse(at, "Rounds are made when she is brought up.");
            return;
        }
        if made.checked.is_empty() && made.differs.is_empty() {
            self.refuse(at, "A round looks at something: tick what you looked at.");
            return;
        }
        let by = made.by.map(cut).or_else(|| self.on_watch(at).map(|turn| turn.name.to_string()));
        let mut done = RoundDone { at, by, checked: made.checked, differs: made.differs };
        done.checked.truncate(ITEMS_MAX);
        done.differs.truncate(ITEMS_MAX);
        for item in &mut done.checked {
            cut_item(item);
        }
        for differs in &mut done.differs {
            differs.note = cut(std::mem::take(&mut differs.note));
            cut_item(&mut differs.item);
        }
        self.night.happened(at, done.in_words(), false);
        let kept = Arc::make_mut(&mut self.rounds.done);
        if kept.len() == DONE_MAX {
            kept.remove(0);
        }
        kept.push(done);
        self.rounds.count_from(at);
    }

    /// One second: what brings rounds nearer together.
    pub(in crate::watch) fn rounds_second(&mut self, now: WatchTime) {
        if now.0.rem_euclid(60_000) == 0 {
            let mean = self.wind.speeds(now).map(|speeds| speeds.mean);
            self.rounds.take_wind(mean);
        }
        if now.0.rem_euclid(HASTE_LOOKED_AT.0) == 0 {
            for (i, haste) in Haste::ALL.into_iter().enumerate() {
                let so = self.ride.stage == Stage::BroughtUp && self.hastens(haste, now);
                self.rounds.haste[i].note(now, so, !so, PATIENCE);
            }
        }
        if self.rounds.owed.is_none() && self.round_due().is_some_and(|due| due <= now) {
            self.rounds.owed = Some(now);
        }
    }

    fn hastens(&self, haste: Haste, now: WatchTime) -> bool {
        let speeds = self.wind.speeds(now);
        let share = |of: f64| {
            speeds.is_some_and(|s| {
                s.mean.0 >= of * self.limits.wind_high.0 || s.gust.0 >= of * self.limits.gust_high.0
            })
        };
        match haste {
            Haste::Windy => share(WINDY_SHARE),
            Haste::Rising => share(RISING_SHARE) && self.rounds.rise().is_some_and(|rise| rise >= RISES),
            Haste::Shifted => {
                self.shift_deg(now).is_some_and(|deg| deg.abs() >= SHIFT_SHARE * self.limits.wind_shift_deg)
            }
            Haste::Creeping => {
                matches!(self.judged.state, HoldingState::Creeping | HoldingState::Dragging)
                    || self.judged.evidence >= EVIDENCE
            }
        }
    }

    fn shift_deg(&self, now: WatchTime) -> Option<f64> {
        let mean = self.wind.direction(now, self.limits.wind_window)?;
        self.wind.shift_origin().map(|origin| origin.turn_to(mean))
    }

    /// Why rounds come sooner than the crew's interval.
    fn shortened(&self, now: WatchTime) -> Vec<String> {
        let on = Haste::ALL.into_iter().zip(&self.rounds.haste).filter(|(_, latch)| latch.is_on());
        on.map(|(haste, _)| self.haste_in_words(haste, now)).collect()
    }

    fn haste_in_words(&self, haste: Haste, now: WatchTime) -> String {
        let speeds = self.wind.speeds(now);
        let (mean, gust) = speeds.map_or((0.0, 0.0), |s| (s.mean.0, s.gust.0));
        match haste {
            Haste::Windy => format!("wind {mean:.0} kn, gusts {gust:.0}, near your limits"),
            Haste::Rising => match self.rounds.rise() {
                Some(rise) if rise.0 >= 1.0 => format!("the wind has risen {:.0} kn in half an hour", rise.0),
                _ => "the wind has risen".into(),
            },
            Haste::Shifted => match self.shift_deg(now) {
                Some(deg) => format!("the wind has turned {:.0}°", deg.abs()),
                None => "the wind has turned".into(),
            },
            Haste::Creeping => "the anchor may be moving".into(),
        }
    }

    /// The interval as it is now: the crew's, halved for one reason, a third for more.
    fn round_interval(&self) -> Option<Span> {
        let every = self.limits.round_every?;
        let reasons = self.rounds.haste.iter().filter(|latch| latch.is_on()).count();
        let share = 1 + reasons.min(2) as i64;
        Some(Span(every.0 / share).max(LEAST_INTERVAL.min(every)))
    }

    /// When the next round is due, if one is asked for.
    pub(in crate::watch) fn round_due(&self) -> Option<WatchTime> {
        let from = self.rounds.from.filter(|_| self.ride.stage == Stage::BroughtUp)?;
        let interval = self.round_interval()?;
        Some(self.rounds.owed.unwrap_or(from + interval))
    }

    /// Who is on watch by the rota.
    pub(in crate::watch) fn on_watch(&self, now: WatchTime) -> Option<OnWatch> {
        rota::on_now(&self.settings.crew.rota, now)
    }

    /// Rounds and rota as the screen shows them.
    pub(in crate::watch) fn rounds_view(&self, now: WatchTime) -> RoundsView {
        let due = self.round_due();
        RoundsView {
            state: match due.map(|due| now.since(due)) {
                None => RoundState::None,
                Some(late) if late < Span::ZERO => RoundState::Ahead,
                Some(late) if late < self.limits.round_grace => RoundState::Due,
                Some(_) => RoundState::Overdue,
            },
            every: self.limits.round_every,
            every_now: self.round_interval(),
            shortened: if due.is_some() { self.shortened(now) } else { Vec::new() },
            due,
            lines: if self.ride.anchored() { self.round_lines(now) } else { Vec::new() },
            done: Arc::clone(&self.rounds.done),
            on_now: self.on_watch(now),
            next: rota::next(&self.settings.crew.rota, now),
        }
    }

    fn round_lines(&self, now: WatchTime) -> Vec<RoundLine> {
        let own = self.settings.crew.own_checks.iter().map(|words| RoundItem::Own(words.clone()));
        RoundItem::USUAL
            .into_iter()
            .chain(own)
            .map(|item| RoundLine { shows: self.shows(&item, now), item })
            .collect()
    }

    /// What the instruments say, to be compared with what is seen on deck.
    fn shows(&self, item: &RoundItem, now: WatchTime) -> String {
        match item {
            RoundItem::Bearings => {
                self.ride.drop_point().and(self.ride.lie()).map_or_else(String::new, |lie| {
                    let (distance, bearing) = lie.to_anchor();
                    format!("anchor {:.0} m off on {bearing}", distance.0)
                })
            }
            RoundItem::Depth => match (self.picture.depth(), self.water.depth_at(now)) {
                (Some(sounded), Some(tide)) => {
                    format!("{:.1} m by the sounder, {:.1} m by the tide at the anchor", sounded.0, tide.0)
                }
                (Some(sounded), None) => format!("{:.1} m by the sounder", sounded.0),
                (None, Some(tide)) => format!("{:.1} m by the tide at the anchor", tide.0),
                (None, None) => String::new(),
            },
            RoundItem::Wind => self.wind.speeds(now).map_or_else(String::new, |s| {
                let from = self.wind.direction(now, self.limits.wind_window);
                let from = from.map_or_else(String::new, |from| format!(" from {from}"));
                format!("{:.0} kn{from}, gusts {:.0}", s.mean.0, s.gust.0)
            }),
            RoundItem::Neighbours => self.nearest_neighbour(now).unwrap_or_default(),
            RoundItem::Lights | RoundItem::Snubber | RoundItem::Own(_) => String::new(),
        }
    }

    fn nearest_neighbour(&self, now: WatchTime) -> Option<String> {
        let nearest = self.traffic.nearest(now, self.ride.plane()?)?;
        let (distance, bearing) = (nearest.point.length_m(), nearest.point.bearing());
        Some(format!("{} {distance:.0} m from the anchor on {bearing}", nearest.called()))
    }
}

impl RoundDone {
    /// The round as the journal's reader sees it.
    fn in_words(&self) -> String {
        let by = self.by.as_deref().map_or_else(String::new, |by| format!(" by {by}"));
        let checked: Vec<&str> = self.checked.iter().map(RoundItem::words).collect();
        let differs: Vec<String> = self
            .differs
            .iter()
            .map(|d| match d.note.as_str() {
                "" => d.item.words().to_owned(),
                note => format!("{}: {note}", d.item.words()),
            })
            .collect();
        match (checked.is_empty(), differs.is_empty()) {
            (_, true) => format!("round{by}: {} in order", checked.join(", ")),
            (true, false) => format!("round{by}: differs: {}", differs.join("; ")),
            (false, false) => {
                format!("round{by}: differs: {}; {} in order", differs.join("; "), checked.join(", "))
            }
        }
    }
}

fn cut(mut words: String) -> String {
    let end = (0..=NOTE_MAX.min(words.len())).rev().find(|i| words.is_char_boundary(*i)).unwrap_or(0);
    words.truncate(end);
    words
}

fn cut_item(item: &mut RoundItem) {
    if let RoundItem::Own(words) = item {
        *words = cut(std::mem::take(words));
    }
}
