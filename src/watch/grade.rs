//! How good is an answer of the plan, or an hour of the night ahead?

/// How good a verdict is, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// As it should be.
    Good,
    /// It may do; look again.
    Tight,
    /// It will not do.
    Bad,
}

impl Grade {
    /// One word for the margin.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Tight => "tight",
            Self::Bad => "BAD",
        }
    }
}
