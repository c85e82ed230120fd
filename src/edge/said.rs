//! What is said to the crew beside the snapshot: on the screen, or as lines where there is none.

/// Words for whoever looks at the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// What was refused or has ended; it goes after a while.
    Notice(String),
    /// The watch judges nothing, in words; `None` once it judges again.
    Unwatched(Option<String>),
    /// What this machine is to the watch.
    Post {
        /// Another machine keeps it: to leave this screen ends no watch.
        stands_by: bool,
        /// In words.
        words: String,
    },
    /// What the crew of a demonstration does, and why; it stays until the next.
    Caption(String),
}
