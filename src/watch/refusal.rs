//! Why a command was not carried out. Each wording stands once: here, or beside the error that it passes on.

use super::ride::MoveError;
use super::rode::RodeError;
use super::water::TideRefused;

/// Why a command was not carried out, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// A snubber that cannot be.
    #[error("That is no snubber to calculate with: {0}")]
    Snubber(RodeError),
    /// Letting go while an anchor is down.
    #[error("The anchor is down already. Weigh first, or move the drop point.")]
    AnchorDown,
    /// Something that is done to an anchor that is down.
    #[error("There is no anchor down: let go first.")]
    NoAnchorDown,
    /// Brought up, and nothing was let go.
    #[error("Brought up follows on letting go: let go first.")]
    NotSetting,
    /// She lies here now, and was not brought up.
    #[error("She lies here once she is brought up: enter brought up first.")]
    NotBroughtUp,
    /// She lies here now, and nobody knows where that is.
    #[error("There is no position to judge from. Wait for one.")]
    NoPositionToJudge,
    /// An answer, and nothing was asked.
    #[error("No anchor check goes on: begin one first.")]
    NoCheck,
    /// A rehearsal while the real thing sounds.
    #[error("An alert sounds: this is no rehearsal. Answer the alert first.")]
    AlertSounds,
    /// An answer to a rehearsal that was not asked for.
    #[error("The alarm was not rehearsed.")]
    NoRehearsal,
    /// Staying, and nobody weighs.
    #[error("She is not weighing.")]
    NotWeighing,
    /// Veering while heaving in.
    #[error("She is weighing. Let her stay first.")]
    Weighing,
    /// Rode at letting go.
    #[error(
        "The length of rode must be more than 0 and at most 1000 m. Enter the metres that are out, or none yet."
    )]
    Rode,
    /// Rode in all, while the anchor is down.
    #[error("Rode can be veered or shortened while the anchor is down, to between 0 and 1000 m in all.")]
    RodeInAll,
    /// Rode that is to be veered.
    #[error("The length to veer must be more than 0 and at most 1000 m.")]
    RodeToVeer,
    /// Depth at the anchor.
    #[error("The depth at the anchor is entered while it is down: more than 0, at most 1000 m.")]
    Depth,
    /// A depth, and no place that has it.
    #[error("No drop point is marked, so there is no place that has this depth.")]
    NoDropPoint,
    /// A name, and no place to bear it.
    #[error("No anchor is down, so there is no place to name.")]
    NoPlace,
    /// A drop point that cannot be moved there.
    #[error(transparent)]
    Move(#[from] MoveError),
    /// A tide that cannot be taken.
    #[error(transparent)]
    Tide(#[from] TideRefused),
    /// A reconnaissance while the anchor is down.
    #[error("The anchor is down: soundings of the place are taken before it is let go.")]
    ReconTooLate,
    /// The end of a reconnaissance that nobody began.
    #[error("No reconnaissance goes on.")]
    NoRecon,
    /// A pull of the engine, and no anchor to pull on.
    #[error("There is nothing to pull on: let the anchor go first.")]
    NothingToPullOn,
    /// A transit without a pull.
    #[error("There is no pull that a transit could show.")]
    NoPullToSee,
    /// Neutral without a pull.
    #[error("No pull goes on: enter how hard the engine pulls first.")]
    NoPull,
    /// Drift without a position.
    #[error("There is no trusted position to measure drift from.")]
    NoPositionForDrift,
    /// An acknowledgement of nothing.
    #[error("No alert waits for an answer.")]
    NothingToAnswer,
    /// A round before she is brought up.
    #[error("Rounds are made when she is brought up.")]
    RoundTooEarly,
    /// A round of nothing.
    #[error("A round looks at something: tick what you looked at.")]
    EmptyRound,
    /// A mark by bearing and distance, and no position to measure from.
    #[error("There is no position, so a bearing and a distance lead nowhere. Enter the mark's position.")]
    NoPositionForMark,
    /// A mark's name that is empty or too long.
    #[error("A mark needs a name of at most 60 letters.")]
    MarkName,
    /// A mark's name that another has.
    #[error("There is a mark of that name already. Take it away first, or give this one another name.")]
    MarkNameTaken,
    /// More marks than are kept.
    #[error("There are forty marks already, more than anybody looks at. Take some away.")]
    TooManyMarks,
    /// A transit of marks that are not there.
    #[error("A transit is of two marks that have been entered. Enter them first, each by itself.")]
    TransitOfUnknown,
    /// A mark that is not there.
    #[error("There is no mark of that name.")]
    NoSuchMark,
    /// A bearing of a mark that is not there.
    #[error("There is no mark of that name. Enter the mark first.")]
    NoMarkToTake,
}

impl Refusal {
    /// True for what one key asks for on deck, perhaps without a look at the screen: whoever pressed it must hear that
    /// nothing came of it. What is entered in a form is refused where the eyes are.
    #[must_use]
    pub const fn is_heard(&self) -> bool {
        match self {
            Self::AnchorDown
            | Self::NoAnchorDown
            | Self::NotSetting
            | Self::NotBroughtUp
            | Self::NoPositionToJudge
            | Self::NoCheck
            | Self::AlertSounds
            | Self::NoRehearsal
            | Self::NotWeighing
            | Self::Weighing
            | Self::ReconTooLate
            | Self::NoRecon
            | Self::NothingToPullOn
            | Self::NoPullToSee
            | Self::NoPull
            | Self::NoPositionForDrift
            | Self::NothingToAnswer
            | Self::RoundTooEarly => true,
            Self::Rode
            | Self::Snubber(_)
            | Self::RodeInAll
            | Self::RodeToVeer
            | Self::Depth
            | Self::NoDropPoint
            | Self::NoPlace
            | Self::Move(_)
            | Self::Tide(_)
            | Self::EmptyRound
            | Self::NoPositionForMark
            | Self::MarkName
            | Self::MarkNameTaken
            | Self::TooManyMarks
            | Self::TransitOfUnknown
            | Self::NoSuchMark
            | Self::NoMarkToTake => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_on_deck_is_refused_aloud_and_a_form_where_the_eyes_are() {
        assert!(Refusal::NothingToAnswer.is_heard() && Refusal::NoPull.is_heard());
        assert!(!Refusal::MarkName.is_heard() && !Refusal::Depth.is_heard());
    }
}
