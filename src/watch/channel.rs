//! One quantity, several sources: which is believed, and since when.

use super::tuning::channel::{PROVING, SILENT_MAX, SILENT_MIN, SOURCES_MAX};
use super::units::{Span, WatchTime};

/// Order of belief, lowest first: configured priority, then what the quantity itself prefers.
pub type Rank = (u8, u8);

/// One source's latest value.
#[derive(Clone, Debug)]
pub struct Heard<K, T> {
    /// Which source.
    pub key: K,
    /// Its place in the order of belief.
    pub rank: Rank,
    /// Its latest value.
    pub value: T,
    /// When that came.
    pub at: WatchTime,
    since: WatchTime,
    interval: Span,
}

impl<K, T> Heard<K, T> {
    /// Whether it still speaks.
    #[must_use]
    pub fn fresh(&self, now: WatchTime) -> bool {
        now.since(self.at) <= Span((3 * self.interval.0).clamp(SILENT_MIN.0, SILENT_MAX.0))
    }
}

/// The sources of one quantity.
#[derive(Clone, Debug)]
pub struct Channel<K, T> {
    heard: Vec<Heard<K, T>>,
    believed: Option<K>,
}

impl<K, T> Default for Channel<K, T> {
    fn default() -> Self {
        Self { heard: Vec::new(), believed: None }
    }
}

impl<K: Copy + PartialEq, T> Channel<K, T> {
    /// Takes a value from a source.
    pub fn hear(&mut self, at: WatchTime, key: K, rank: Rank, value: T) {
        if let Some(entry) = self.heard.iter_mut().find(|h| h.key == key) {
            if !entry.fresh(at) {
                entry.since = at;
            }
            let gap = at.since(entry.at).0;
            // Several sentences of one cycle carry the same quantity: only the gaps between cycles count.
            if gap > 50 {
                entry.interval = Span((entry.interval.0 * 7 + gap.min(10_000)) / 8);
            }
            (entry.rank, entry.value, entry.at) = (rank, value, at);
        } else if self.heard.len() < SOURCES_MAX {
            let interval = Span::from_secs(1);
            self.heard.push(Heard { key, rank, value, at, since: at, interval });
        }
    }

    /// The source to believe now: the best that speaks, and once chosen it stays until a better one has proved
    /// itself or it falls silent.
    pub fn believe(&mut self, now: WatchTime) -> Option<&Heard<K, T>> {
        let current = self.believed.and_then(|key| self.heard.iter().find(|h| h.key == key && h.fresh(now)));
        let best = self
            .heard
            .iter()
            .filter(|h| h.fresh(now) && (current.is_none() || now.since(h.since) >= PROVING))
            .min_by_key(|h| h.rank);
        let chosen = match (current, best) {
            (Some(current), Some(best)) if best.rank < current.rank => Some(best),
            (Some(current), _) => Some(current),
            (None, best) => best,
        };
        self.believed = chosen.map(|h| h.key).or(self.believed);
        chosen
    }

    /// The source that was believed last, whether or not it still speaks.
    #[must_use]
    pub fn last(&self) -> Option<&Heard<K, T>> {
        self.heard.iter().find(|h| Some(h.key) == self.believed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hear(channel: &mut Channel<u8, u8>, second: i64, source: u8) {
        channel.hear(WatchTime(second * 1000), source, (source, 0), source);
    }

    #[test]
    fn a_silent_source_is_left_within_seconds_and_taken_back_when_it_returns() {
        let mut channel = Channel::default();
        let mut believed = Vec::new();
        for s in 0..60 {
            hear(&mut channel, s, 2);
            if !(20..40).contains(&s) {
                hear(&mut channel, s, 1);
            }
            believed.push(channel.believe(WatchTime(s * 1000)).unwrap().value);
        }
        assert_eq!(believed[10], 1);
        assert_eq!(believed.iter().skip(20).position(|b| *b == 2), Some(4), "left after four seconds");
        assert_eq!(
            believed.iter().skip(40).position(|b| *b == 1),
            Some(5),
            "taken back when it has proved itself"
        );
    }

    #[test]
    fn when_all_are_silent_none_is_believed_but_the_last_is_remembered() {
        let mut channel = Channel::default();
        hear(&mut channel, 0, 1);
        assert!(channel.believe(WatchTime(0)).is_some());
        assert!(channel.believe(WatchTime(60_000)).is_none());
        assert_eq!(channel.last().unwrap().value, 1);
    }

    #[test]
    fn ever_new_sources_do_not_grow_memory() {
        let mut channel = Channel::default();
        for source in 0..=255 {
            hear(&mut channel, 0, source);
        }
        assert_eq!(channel.heard.len(), SOURCES_MAX);
    }
}
