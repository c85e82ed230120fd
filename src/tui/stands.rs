//! What stands on the screen.

/// What the screen can show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// The swing chart and the facts.
    #[default]
    Swing,
    /// The rode from the side, and the tide.
    Rode,
    /// The night as graphs.
    Night,
    /// Rounds and who is on watch.
    Rounds,
    /// Every alert.
    Alerts,
    /// Every feed.
    Feeds,
}

impl View {
    /// In the order of the keys 1 to 6.
    pub const ALL: [Self; 6] =
        [Self::Swing, Self::Rode, Self::Night, Self::Rounds, Self::Alerts, Self::Feeds];

    /// The view so many places on, round and round.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let here = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        Self::ALL[(here + by) % Self::ALL.len()]
    }
}
