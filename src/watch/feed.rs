//! Feeds: their names, what each has delivered, and what was refused.

use std::sync::Arc;

use super::input::{FeedId, Link};
use super::nmea::{Observation, Rejected, Remark};
use super::snapshot::FeedView;
use super::units::{Span, WatchTime};
use super::wire::{Reader, Told};

/// Feeds that are told apart; lines of any further feed are refused.
pub const FEEDS_MAX: usize = 32;
/// Priority of a feed that the settings do not name.
const UNNAMED: u8 = 100;
/// Rates are counted over this long.
const RATE_WINDOW: Span = Span::from_secs(10);

/// What a feed can deliver, as its panel lists it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Position.
    Position,
    /// Heading.
    Heading,
    /// Wind.
    Wind,
    /// Depth.
    Depth,
    /// Speed through the water.
    WaterSpeed,
    /// Engine revolutions.
    Revolutions,
}

impl Quantity {
    const COUNT: usize = 6;
    const NAMES: [&'static str; Self::COUNT] =
        ["position", "heading", "wind", "depth", "speed through water", "engine"];

    /// Its name on the screen.
    #[must_use]
    pub const fn name(self) -> &'static str {
        Self::NAMES[self as usize]
    }

    /// What an observation delivers, if the watch uses it.
    #[must_use]
    pub fn of(observation: &Observation) -> Option<Self> {
        Some(match observation {
            Observation::Fix(_) => Self::Position,
            Observation::HeadingTrue(_) | Observation::HeadingMagnetic(_) => Self::Heading,
            Observation::ApparentWind { .. }
            | Observation::TrueWindRelative { .. }
            | Observation::WindDirection { speed: Some(_), .. } => Self::Wind,
            Observation::Depth { .. } => Self::Depth,
            Observation::WaterSpeed(_) => Self::WaterSpeed,
            Observation::Revolutions { .. } => Self::Revolutions,
            _ => return None,
        })
    }
}

/// One feed and its counters.
#[derive(Clone, Debug)]
pub struct Feed {
    name: Arc<str>,
    priority: u8,
    link: Link,
    link_since: WatchTime,
    last_good: Option<WatchTime>,
    good: u64,
    rejected: [u64; Rejected::COUNT],
    remarked: [u64; Remark::COUNT],
    rate_from: WatchTime,
    counting: [u32; Quantity::COUNT],
    rates: [f64; Quantity::COUNT],
    reader: Reader,
}

impl Feed {
    fn new(name: &str, priority: u8) -> Self {
        Self {
            name: name.into(),
            priority,
            link: Link::Opening,
            link_since: WatchTime(0),
            last_good: None,
            good: 0,
            rejected: [0; Rejected::COUNT],
            remarked: [0; Remark::COUNT],
            rate_from: WatchTime(0),
            counting: [0; Quantity::COUNT],
            rates: [0.0; Quantity::COUNT],
            reader: Reader::default(),
        }
    }

    /// Its name, as in the log.
    #[must_use]
    pub fn name(&self) -> &Arc<str> {
        &self.name
    }

    /// 0 is believed first.
    #[must_use]
    pub fn priority(&self) -> u8 {
        self.priority
    }

    /// How its edge task stands.
    pub fn set_link(&mut self, at: WatchTime, link: Link) {
        if self.link != link {
            self.link = link;
            self.link_since = at;
        }
    }

    /// Reads one of its lines, and appends what that says to `out`.
    ///
    /// # Errors
    /// Why nothing of it is used.
    pub fn read<'a>(
        &mut self,
        at: WatchTime,
        line: &'a [u8],
        out: &mut Vec<Observation>,
    ) -> Result<Told<'a>, Rejected> {
        self.reader.read(at, line, out)
    }

    /// Counts a refused line.
    pub fn count_rejected(&mut self, why: Rejected) {
        self.rejected[why.index()] += 1;
    }

    /// Counts a good sentence, and its remark if it has one.
    pub fn count_good(&mut self, at: WatchTime, remark: Option<Remark>) {
        self.last_good = Some(at);
        match remark {
            Some(remark) => self.remarked[remark.index()] += 1,
            None => self.good += 1,
        }
    }

    /// Counts a quantity towards the rate at which it comes.
    pub fn count_quantity(&mut self, quantity: Quantity) {
        self.counting[quantity as usize] += 1;
    }

    /// Closes the rates' window when it is over.
    pub fn roll_rates(&mut self, now: WatchTime) {
        let span = now.since(self.rate_from);
        if span < RATE_WINDOW {
            return;
        }
        // The first window began before the feed did.
        let seconds = if self.rate_from == WatchTime(0) { RATE_WINDOW.seconds() } else { span.seconds() };
        for (rate, count) in self.rates.iter_mut().zip(&mut self.counting) {
            *rate = f64::from(std::mem::take(count)) / seconds;
        }
        self.rate_from = now;
    }

    /// As the crew sees it; `believed_for` is the picture's to say.
    #[must_use]
    pub fn view(&self, believed_for: Vec<&'static str>) -> FeedView {
        let mut rejected: Vec<_> = Rejected::REASONS
            .iter()
            .zip(self.rejected)
            .chain(Remark::REASONS.iter().zip(self.remarked))
            .filter(|(_, count)| *count > 0)
            .map(|(reason, count)| (*reason, count))
            .collect();
        rejected.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        FeedView {
            name: Arc::clone(&self.name),
            link: self.link.clone(),
            link_since: self.link_since,
            last_good: self.last_good,
            good: self.good,
            unused: self.remarked.iter().sum(),
            rejected,
            delivers: Quantity::NAMES
                .iter()
                .zip(self.rates)
                .filter(|(_, rate)| *rate > 0.0)
                .map(|(name, rate)| (*name, rate))
                .collect(),
            believed_for,
        }
    }
}

/// All feeds, in the order of their numbers.
#[derive(Clone, Debug, Default)]
pub struct Feeds {
    feeds: Vec<Feed>,
}

impl Feeds {
    /// The feeds that the settings name, numbered from 0.
    #[must_use]
    pub fn new(settings: &[super::boat::FeedSettings]) -> Self {
        let feeds = settings.iter().take(FEEDS_MAX).map(|f| Feed::new(&f.name, f.priority)).collect();
        Self { feeds }
    }

    /// The number of the feed of that name, adding it if it is new; `None` when there are too many.
    pub fn named(&mut self, name: &str) -> Option<FeedId> {
        let known = self.feeds.iter().position(|f| &*f.name == name);
        let index = known.or_else(|| {
            (self.feeds.len() < FEEDS_MAX).then(|| {
                self.feeds.push(Feed::new(name, UNNAMED));
                self.feeds.len() - 1
            })
        })?;
        Some(FeedId(index as u8))
    }

    /// The feed of that number.
    pub fn get_mut(&mut self, id: FeedId) -> Option<&mut Feed> {
        self.feeds.get_mut(usize::from(id.0))
    }

    /// The feed of that number.
    #[must_use]
    pub fn get(&self, id: FeedId) -> Option<&Feed> {
        self.feeds.get(usize::from(id.0))
    }

    /// Every feed with its number.
    pub fn iter(&self) -> impl Iterator<Item = (FeedId, &Feed)> {
        self.feeds.iter().enumerate().map(|(index, feed)| (FeedId(index as u8), feed))
    }

    /// Closes the window of every feed's rates where it is over.
    pub fn roll_rates(&mut self, now: WatchTime) {
        for feed in &mut self.feeds {
            feed.roll_rates(now);
        }
    }
}
