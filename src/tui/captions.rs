//! Captions for a newcomer who watches the whole job: what the crew does now, and why.
//!
//! They follow from the snapshot alone, so that they fit whatever is shown.

use super::deck::{self, Step};
use super::scene::waits;
use crate::watch::alert::Priority;
use crate::watch::rounds::RoundState;
use crate::watch::setting::PullKind;
use crate::watch::snapshot::{Snapshot, Stage, Verdict};
use crate::watch::units::Span;

/// What is new stays in the caption for so long.
const NEWS: Span = Span::from_mins(20);

/// The caption of a moment.
#[must_use]
pub fn caption(snap: &Snapshot) -> &'static str {
    if let Some(alert) = snap.alerts.iter().find(|alert| waits(alert)) {
        return match alert.priority {
            Priority::Alarm => {
                "An alarm: it sounds until somebody answers it and its cause is gone. Look out first, then press a."
            }
            _ => {
                "A warning waits for an answer: it sounds again each minute and rises to an alarm when nobody comes. \
                 a answers it; its reason says what to look at."
            }
        };
    }
    match deck::step(snap) {
        Some(step) => at_step(step),
        None => riding(snap),
    }
}

const fn at_step(step: Step) -> &'static str {
    match step {
        Step::Before => {
            "She comes in. Nothing is down yet, and nothing is watched but depth, wind and the feeds. Before the anchor \
             goes they sail over the place."
        }
        Step::Sounding => {
            "Sounding: each depth is kept with its place and reckoned to the lowest tide of the night. Could she touch \
             anywhere as she swings?"
        }
        Step::Veering => {
            "The anchor is down and the bow's place is marked. The rode is counted out by its marks, as much as the high \
             water to come asks for."
        }
        Step::Pulling(PullKind::Slow) => {
            "Slow astern: the rode stretches and the anchor bites. The distance should come to a stand near the reach of \
             the rode."
        }
        Step::Pulling(PullKind::HalfThrottle) => {
            "About half throttle astern, held. The bow must stand; what it moves is told with the receiver's own error."
        }
        Step::Pulling(PullKind::HardBurst) => {
            "A short hard burst astern, as a gust would pull. An anchor that holds this has been tried."
        }
        Step::Neutral => {
            "Neutral, and look: did the rode come taut, did the anchor hold? The program says what it saw; the crew takes \
             a bearing of its own."
        }
        Step::Lying => "All is out. Whether she is brought up is the crew's to say.",
        Step::HeavingIn => {
            "Morning. They motor up to the anchor and heave in as the rode falls slack: the windlass lifts chain, it does \
             not haul the boat."
        }
        Step::UpAndDown => "Up and down: the rode leads straight to the anchor. Her own lift breaks it out.",
        Step::Aweigh => {
            "Aweigh. The ride has ended and is kept on the disk: nightrode review tells how she held."
        }
    }
}

fn riding(snap: &Snapshot) -> &'static str {
    let rounds = &snap.rounds;
    if matches!(rounds.state, RoundState::Due | RoundState::Overdue) {
        return "A round is due: on deck, look at what the list says (4), and tell it with r.";
    }
    if rounds.done.last().is_some_and(|round| snap.at.since(round.at) < NEWS) {
        return "A round was made: what was in order and what differed stands in the rounds (4) and in the journal.";
    }
    match snap.verdict {
        Verdict::Holding if snap.stage == Stage::BroughtUp && snap.at.since(snap.stage_since) < NEWS => {
            "Brought up, by the crew's word. Every alert is on; evidence grows that she may be left alone."
        }
        Verdict::Holding => {
            "The night, faster than it lasts. One place of the anchor explains every position seen, so she holds. v goes \
             through the views."
        }
        Verdict::CannotJudge | Verdict::NoFix => {
            "The positions do not allow a judgement just now. It says so, rather than guess."
        }
        Verdict::Creeping | Verdict::Dragging | Verdict::Outside => {
            "She may not be where she was. The word, the reason and what to do stand at the top."
        }
        Verdict::NotSet | Verdict::Setting | Verdict::Weighing => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_watch_that_has_just_begun_is_captioned_from_the_beginning() {
        assert!(caption(&Snapshot::default()).starts_with("She comes in."));
    }
}
