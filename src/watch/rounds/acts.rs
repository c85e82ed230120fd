//! Rounds as they are made, when the next is due, and how they are shown.

use crate::watch::refusal::Refusal;
use std::sync::Arc;

use super::haste::{Haste, RISES_OVER_MIN};
use super::rota;
use super::{OnWatch, RoundDone, RoundItem, RoundLine, RoundMade, RoundState, RoundsView};
use crate::watch::Watch;
use crate::watch::latch::Latch;
use crate::watch::snapshot::Stage;
use crate::watch::units::{Knots, Span, WatchTime};

/// Rounds that are kept.
const DONE_MAX: usize = 100;
/// Words of a round longer than this are cut: the journal is no place for floods.
const NOTE_MAX: usize = 500;
/// Items of one round that are kept.
const ITEMS_MAX: usize = 40;
/// What the watch knows of rounds.
#[derive(Clone, Debug, Default)]
pub struct Rounds {
    /// The next counts from here: brought up, or the last round.
    from: Option<WatchTime>,
    /// Since when one is due. It stays due until it is made, whatever the weather does; and it is not late before
    /// anybody could know of it, when the interval is shortened.
    owed: Option<WatchTime>,
    done: Arc<Vec<RoundDone>>,
    pub(super) haste: [Latch; Haste::ALL.len()],
    /// Mean winds of the last half hour, one a minute, oldest first.
    winds: Vec<Option<Knots>>,
}

impl Rounds {
    /// She is brought up, or stays after all: the next round counts from here.
    pub fn count_from(&mut self, at: WatchTime) {
        (self.from, self.owed) = (Some(at), None);
    }

    /// A round since then found the lights in order.
    pub fn lights_seen_since(&self, at: WatchTime) -> bool {
        self.done
            .iter()
            .rev()
            .take_while(|round| round.at >= at)
            .any(|round| round.checked.contains(&RoundItem::Lights))
    }

    /// The crew changed the interval: what was due by the old one is not any more.
    pub fn interval_entered(&mut self) {
        self.owed = None;
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
    pub(super) fn rise(&self) -> Option<Knots> {
        let (then, now) = ((*self.winds.first()?)?, (*self.winds.last()?)?);
        (self.winds.len() > RISES_OVER_MIN).then_some(now - then)
    }
}

impl Watch {
    pub(in crate::watch) fn round(&mut self, at: WatchTime, made: RoundMade) {
        if self.ride.stage != Stage::BroughtUp {
            self.refuse(at, Refusal::RoundTooEarly);
            return;
        }
        if made.checked.is_empty() && made.differs.is_empty() {
            self.refuse(at, Refusal::EmptyRound);
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
        self.look_for_haste(now);
        if self.rounds.owed.is_none() && self.round_due().is_some_and(|due| due <= now) {
            self.rounds.owed = Some(now);
        }
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
                let arcs = self.mark_arcs(now);
                if !arcs.is_empty() {
                    return arcs;
                }
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
            RoundItem::Lights => match self.sun.is_up() {
                Some(true) => "the ball, by day".into(),
                Some(false) => "the anchor light, until sunrise".into(),
                None => String::new(),
            },
            RoundItem::Snubber | RoundItem::Own(_) => String::new(),
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
