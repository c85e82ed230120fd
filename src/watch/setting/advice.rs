//! What to do next while digging in, and whether she may be left.

use super::{Advice, Doing, Held, PullKind, PullSeen, Target, Taut};
use crate::watch::units::{Metres, Span};

/// After a pull one looks for so long.
const LOOK: Span = Span::from_secs(30);

/// What is known when advice is asked.
#[derive(Clone, Copy, Debug)]
pub struct Standing<'a> {
    /// What the crew is at.
    pub doing: Doing,
    /// Rode out.
    pub veered: Option<Metres>,
    /// How much is to be out.
    pub target: Option<Target>,
    /// The last pull.
    pub last: Option<&'a PullSeen>,
    /// How long ago its engine went into neutral.
    pub neutral_for: Option<Span>,
    /// Whether a transit was taken, or there is none, is entered.
    pub transit_known: bool,
    /// What became of it in the last pull is not.
    pub asks_transit: bool,
}

/// What to do next, and why.
#[must_use]
pub fn advise(standing: &Standing) -> Advice {
    match (standing.doing, standing.last) {
        (Doing::Pulling(kind), Some(seen)) => while_pulling(kind, seen),
        (Doing::Veering, _) => veer_on(standing),
        (_, Some(_)) if standing.asks_transit => say(
            "Look at your transit",
            "Does it still stand in line? What you see counts beside the positions.",
        ),
        (_, Some(seen)) => after(seen, standing.neutral_for.unwrap_or_default()),
        (_, None) if !standing.transit_known => say(
            "Line up two things ashore, abeam",
            "If they open while the engine pulls, she goes astern: your eyes against the receiver.",
        ),
        (_, None) => pull(PullKind::Slow, "Stretch the rode and let the anchor bite.".into()),
    }
}

fn say(next: impl Into<String>, why: impl Into<String>) -> Advice {
    Advice { next: next.into(), why: why.into(), pull: None }
}

fn pull(kind: PullKind, why: String) -> Advice {
    let next = match kind {
        PullKind::Slow => "Slow astern",
        PullKind::HalfThrottle => "Half throttle astern",
        PullKind::HardBurst => "A short hard burst astern",
    };
    Advice { pull: Some(kind), ..say(next, why) }
}

fn veer_on(standing: &Standing) -> Advice {
    let out = standing.veered.unwrap_or_default();
    let Some(target) = standing.target else { return say("Veer as she falls back", "") };
    say(
        format!("Veer to {:.0} m as she falls back", target.length.0),
        format!(
            "{:.0} m are out. {:.0} m give a scope of {:.1} at high water.",
            out.0, target.length.0, target.scope
        ),
    )
}

fn while_pulling(kind: PullKind, seen: &PullSeen) -> Advice {
    let long_enough = kind.least();
    match (seen.held, seen.taut) {
        (Held::Moved, Taut::Taut) => say("Neutral", "The rode was taut and she goes on: the anchor moves."),
        (Held::Moved, _) if seen.lasted > PullKind::Slow.least() => {
            say("Neutral", "She does not stop: the anchor comes with her.")
        }
        (Held::Moved | Held::Untried, _) => say("Pull on", "She has not come to a stop yet."),
        (Held::Held, _) if seen.lasted >= long_enough => {
            say("Neutral, and look", "She has stood still long enough.")
        }
        (Held::Held, _) => say("Pull on", "She stands still; give the anchor time."),
        (Held::Unknown, _) if seen.lasted >= long_enough => {
            say("Neutral, and look", "The position does not show it.")
        }
        (Held::Unknown, _) => say("Pull on", "Watch a transit abeam."),
    }
}

fn after(seen: &PullSeen, neutral_for: Span) -> Advice {
    match (seen.held, seen.taut) {
        (Held::Moved, _) => say(
            "Veer more and pull again, or weigh and try another spot",
            "The anchor moved under the engine; a gust pulls as hard.",
        ),
        (Held::Held, Taut::Short) => say(
            "Find out why she stopped short",
            "The rode may be fouled or heaped, or less is out than entered. Count the marks; else weigh and let go anew.",
        ),
        (Held::Untried, _) => {
            pull(PullKind::Slow, "The rode never came taut: the anchor has not been tried.".into())
        }
        _ if neutral_for < LOOK => {
            say("Look", "In neutral she comes ahead a little as the chain sinks, then lies still.")
        }
        (held, _) => {
            let found =
                if held == Held::Held { "It held" } else { "The position did not show whether it held" };
            match seen.kind {
                PullKind::Slow => pull(PullKind::HalfThrottle, format!("{found} slow astern.")),
                PullKind::HalfThrottle => pull(PullKind::HardBurst, format!("{found} at half throttle.")),
                PullKind::HardBurst => say(
                    "Say brought up, if your own marks say so too",
                    format!("{found} in the hard burst. The word is yours."),
                ),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::units::WatchTime;

    fn seen(kind: PullKind, held: Held, taut: Taut, seconds: i64) -> PullSeen {
        PullSeen {
            kind,
            began: WatchTime(0),
            ended: None,
            lasted: Span::from_secs(seconds),
            moved: None,
            toward: None,
            speed_m_per_min: None,
            uncertainty: Metres(1.0),
            distance: None,
            reach: None,
            taut,
            held,
            rpm: None,
            sprang_back: None,
            transit: None,
            reason: "",
            words: String::new(),
        }
    }

    fn next(doing: Doing, last: Option<&PullSeen>, neutral_s: i64) -> Advice {
        let neutral_for = Some(Span::from_secs(neutral_s));
        let (transit_known, asks_transit) = (true, false);
        advise(&Standing {
            doing,
            veered: Some(Metres(30.0)),
            target: None,
            last,
            neutral_for,
            transit_known,
            asks_transit,
        })
    }

    #[test]
    fn pulls_are_advised_in_their_order_as_long_as_they_hold() {
        use PullKind::{HalfThrottle, HardBurst, Slow};
        assert_eq!(next(Doing::Lying, None, 0).pull, Some(Slow));
        for (kind, then) in [(Slow, Some(HalfThrottle)), (HalfThrottle, Some(HardBurst)), (HardBurst, None)] {
            let held = seen(kind, Held::Held, Taut::Taut, 40);
            assert_eq!(next(Doing::Checking(kind), Some(&held), 5).pull, None, "look first");
            assert_eq!(next(Doing::Checking(kind), Some(&held), 40).pull, then);
        }
    }

    #[test]
    fn an_anchor_that_moved_or_was_never_tried_is_not_pulled_harder() {
        let moved = seen(PullKind::HardBurst, Held::Moved, Taut::Taut, 20);
        assert!(next(Doing::Checking(PullKind::HardBurst), Some(&moved), 60).next.contains("weigh"));
        let untried = seen(PullKind::HalfThrottle, Held::Untried, Taut::Not, 20);
        assert_eq!(
            next(Doing::Checking(PullKind::HalfThrottle), Some(&untried), 60).pull,
            Some(PullKind::Slow)
        );
        let short = seen(PullKind::Slow, Held::Held, Taut::Short, 60);
        assert!(next(Doing::Checking(PullKind::Slow), Some(&short), 60).next.contains("short"));
    }

    #[test]
    fn a_burst_is_over_sooner_than_a_steady_pull() {
        for (kind, seconds) in [(PullKind::Slow, 30), (PullKind::HardBurst, 10)] {
            let held = seen(kind, Held::Held, Taut::Taut, seconds);
            assert!(next(Doing::Pulling(kind), Some(&held), 0).next.starts_with("Neutral"));
            let sooner = seen(kind, Held::Held, Taut::Taut, seconds - 1);
            assert_eq!(next(Doing::Pulling(kind), Some(&sooner), 0).next, "Pull on");
        }
    }
}
