//! How long to wait before a lost feed is tried again?

use std::time::Duration;

use super::Patience;

/// Waits that double with each failure.
pub(in crate::edge) struct Backoff {
    patience: Patience,
    next: Duration,
}

impl Backoff {
    pub(in crate::edge) fn new(patience: Patience) -> Self {
        Self { patience, next: patience.retry_first }
    }

    /// The wait before the next attempt.
    pub(in crate::edge) fn next_wait(&mut self) -> Duration {
        let wait = self.next;
        self.next = (wait * 2).min(self.patience.retry_longest);
        wait
    }

    /// The feed delivered lines for so long. A feed that comes and goes within a few seconds, again and again, is no
    /// success: it would fill the journal with its comings and goings.
    pub(in crate::edge) fn was_open_for(&mut self, time: Duration) {
        if time >= self.patience.retry_longest {
            self.next = self.patience.retry_first;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn waits_s(backoff: &mut Backoff, count: usize) -> Vec<f64> {
        (0..count).map(|_| backoff.next_wait().as_secs_f64()).collect()
    }

    #[test]
    fn waits_double_to_a_quarter_of_a_minute() {
        let mut backoff = Backoff::new(Patience::default());
        assert_eq!(waits_s(&mut backoff, 8), [0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 15.0, 15.0]);
    }

    #[test]
    fn a_feed_that_stayed_is_tried_again_soon_and_one_that_flickers_is_not() {
        let mut backoff = Backoff::new(Patience::default());
        waits_s(&mut backoff, 3);
        backoff.was_open_for(Duration::from_secs(2));
        assert_eq!(waits_s(&mut backoff, 1), [4.0]);
        backoff.was_open_for(Duration::from_secs(60));
        assert_eq!(waits_s(&mut backoff, 1), [0.5]);
    }
}
