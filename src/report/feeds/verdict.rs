//! Is there enough for a watch? What the feeds give together, and what is missing means.

use serde::Serialize;

use super::FeedHeard;
use super::tally::{Gives, Stream};
use crate::watch::allows::Allows;
use crate::watch::holding::Means;
use crate::watch::input::Link;
use crate::watch::units::Metres;

/// Positions further apart than this are reported: a third of the silence after which a position counts as lost, 15 s.
const SLOW_S: f64 = 5.0;

/// Part of the sentences that may arrive damaged before it is reported. Our choice: a sound line loses far fewer.
const DAMAGED_PART_MAX: f64 = 0.05;

/// Whether a quantity comes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "status")]
pub enum Status {
    /// It comes.
    Yes {
        /// How many came.
        count: u64,
        /// How often a second; `None` if that is not known.
        per_second: Option<f64>,
        /// How often, in words.
        often: String,
        /// The feed that gives it most often.
        feed: String,
    },
    /// A receiver talks but says that it has no position.
    NoFix,
    /// It does not come.
    No,
}

/// What the feeds give together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// Position: without it there is no watch.
    pub position: Status,
    /// Heading.
    pub heading: Status,
    /// Wind.
    pub wind: Status,
    /// Depth.
    pub depth: Status,
    /// What that means, and what to do; the most important first.
    pub advice: Vec<String>,
}

impl Verdict {
    /// Of all feeds together.
    #[must_use]
    pub fn of(feeds: &[FeedHeard]) -> Self {
        let mut verdict = Self {
            position: position(feeds),
            heading: status(feeds, Gives::Heading),
            wind: status(feeds, Gives::Wind),
            depth: status(feeds, Gives::Depth),
            advice: Vec::new(),
        };
        verdict.advice = verdict.meaning();
        verdict.advice.extend(verdict.allowed(feeds));
        verdict.advice.extend(feeds.iter().filter_map(trouble));
        verdict
    }

    /// Whether a watch can be kept at all.
    #[must_use]
    pub fn has_position(&self) -> bool {
        matches!(self.position, Status::Yes { .. })
    }

    /// `position yes 1/s, heading yes 10/s, wind no, depth no`.
    #[must_use]
    pub fn in_one_line(&self) -> String {
        let quantities = [
            ("position", &self.position),
            ("heading", &self.heading),
            ("wind", &self.wind),
            ("depth", &self.depth),
        ];
        let words = quantities.map(|(name, status)| match status {
            Status::Yes { often, .. } => format!("{name} yes {often}"),
            Status::NoFix => format!("{name} not yet"),
            Status::No => format!("{name} no"),
        });
        words.join(", ")
    }

    /// What these instruments allow the judge to see, once it knows the receiver.
    fn allowed(&self, feeds: &[FeedHeard]) -> Option<String> {
        let is_there = |status: &Status| matches!(status, Status::Yes { .. });
        let means = Means {
            velocity: is_there(&status(feeds, Gives::Velocity)),
            wind: is_there(&self.wind),
            heading: is_there(&self.heading),
            depth: is_there(&self.depth),
            mark: true,
            wander: Metres(0.0),
        };
        let allows = Allows { means, holds_still: false };
        let receiver = allows.of_the_receiver().map(|words| format!(" {words}")).unwrap_or_default();
        self.has_position().then(|| format!("{} That is with a good receiver.{receiver}", allows.words()))
    }

    fn meaning(&self) -> Vec<String> {
        let mut meaning = Vec::new();
        let mut add = |words: &str| meaning.push(words.to_owned());
        match &self.position {
            Status::Yes { count, per_second, .. }
                if *count == 1 || per_second.is_some_and(|rate| rate < 1.0 / SLOW_S) =>
            {
                add(
                    "Positions come slowly: the watch sees late that she moves. Set the receiver to one a second.",
                )
            }
            Status::Yes { .. } => {}
            Status::NoFix => add(
                "No watch can be kept yet: a receiver talks but has no position. Give it a clear view of the sky and \
                 some minutes.",
            ),
            Status::No => add(
                "No watch can be kept: nothing gives a position. Connect a GNSS receiver, or check its power, its cable \
                 and where it sends to.",
            ),
        }
        if self.heading == Status::No {
            add(
                "Without a heading the drop point is marked at the antenna, not at the bow, and the circle is less \
                 sharp by the distance between them.",
            );
        }
        if self.wind == Status::No {
            add("Without wind, a shift or a rising wind raises no alert: watch the sky yourself.");
        }
        if self.depth == Status::No {
            add(
                "Without a depth, shallow water raises no alert, and you must type the depth when you let go.",
            );
        }
        if meaning.is_empty() {
            meaning.push("The watch has all that it can use.".to_owned());
        }
        meaning
    }
}

fn position(feeds: &[FeedHeard]) -> Status {
    match status(feeds, Gives::Position) {
        Status::No if feeds.iter().any(|feed| feed.tally.without_fix > 0) => Status::NoFix,
        status => status,
    }
}

fn status(feeds: &[FeedHeard], wanted: Gives) -> Status {
    let streams = feeds.iter().filter_map(|feed| Some((feed, feed.tally.stream(wanted)?)));
    let rate = |stream: &Stream| stream.per_second().unwrap_or(0.0);
    match streams.max_by(|(_, a), (_, b)| rate(a).total_cmp(&rate(b))) {
        Some((feed, stream)) => {
            let feed = feed.name.clone();
            Status::Yes { count: stream.count, per_second: stream.per_second(), often: stream.often(), feed }
        }
        None => Status::No,
    }
}

/// What is wrong with a feed, and what to do.
fn trouble(feed: &FeedHeard) -> Option<String> {
    let (name, tally) = (&feed.name, &feed.tally);
    let (heard, damaged) = (tally.heard(), tally.damaged());
    let part = damaged as f64 / (heard + damaged).max(1) as f64;
    if let Link::Lost { why } = &tally.link {
        return Some(format!("{name}: {why}."));
    }
    if heard == 0 && tally.rejected() > 0 {
        return Some(format!(
            "{name}: what comes is no NMEA 0183. On a serial line the rate may be wrong: leave it out, and it is found \
             by listening."
        ));
    }
    if heard == 0 {
        return Some(format!("{name}: nothing came. Is the instrument switched on, and does it send here?"));
    }
    // The first sentence is usually cut: the listening begins in the middle of it.
    if damaged > 2 && part > DAMAGED_PART_MAX {
        return Some(format!(
            "{name}: {:.0} % of the sentences arrive damaged. A loose or long cable, or two instruments on one input?",
            part * 100.0
        ));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::super::Tally;
    use super::*;
    use crate::watch::units::WatchTime;

    fn feed(link: Link, lines: &[&[u8]]) -> FeedHeard {
        let mut tally = Tally::default();
        tally.link = link;
        for (second, line) in lines.iter().enumerate() {
            tally.hear(WatchTime(second as i64 * 1000), line);
        }
        FeedHeard { name: "gps".to_owned(), source: "udp:10110".to_owned(), tally }
    }

    fn advice(feed: FeedHeard) -> String {
        Verdict::of(&[feed]).advice.join("\n")
    }

    const HDT: &[u8] = b"$GPHDT,236.7,T*35";

    #[test]
    fn a_receiver_without_a_fix_is_not_a_missing_receiver() {
        let verdict = Verdict::of(&[feed(Link::Open, &[b"$GPRMC,,V,,,,,,,,,,N*53"])]);
        assert_eq!(verdict.position, Status::NoFix);
        assert!(verdict.in_one_line().starts_with("position not yet"));
        assert!(verdict.advice[0].contains("clear view of the sky"));
        assert!(!verdict.has_position());
    }

    #[test]
    fn each_trouble_has_its_own_words() {
        let lost = Link::Lost { why: "it is unplugged".to_owned() };
        assert!(advice(feed(lost, &[HDT])).contains("gps: it is unplugged."));
        assert!(advice(feed(Link::Open, &[])).contains("gps: nothing came."));
        assert!(advice(feed(Link::Open, &[b"\xff\x00", b"\xfe"])).contains("the rate may be wrong"));
        let broken: &[u8] = b"$GPHDT,236.7,T*00";
        assert!(advice(feed(Link::Open, &[HDT, broken, broken, broken])).contains("75 % of the sentences"));
        assert!(!advice(feed(Link::Open, &[broken, HDT, HDT])).contains("damaged"));
    }

    #[test]
    fn slow_positions_are_told_of() {
        let rmc: &[u8] = b"$GPRMC,020304.00,A,5012.3456,N,00512.3456,W,0.1,047.0,030626,,,A*4A";
        let pause = [b"#".as_slice(); 9];
        let lines = [&[rmc][..], &pause, &[rmc]].concat();
        let verdict = Verdict::of(&[feed(Link::Open, &lines)]);
        assert!(verdict.has_position());
        assert!(verdict.advice[0].starts_with("Positions come slowly"), "{:?}", verdict.advice);
    }

    #[test]
    fn the_best_feed_of_each_quantity_counts() {
        let mut fast = feed(Link::Open, &[HDT, HDT]);
        fast.name = "compass".to_owned();
        fast.tally.hear(WatchTime(1100), HDT);
        let verdict = Verdict::of(&[feed(Link::Open, &[HDT, HDT]), fast]);
        assert!(matches!(verdict.heading, Status::Yes { feed, .. } if feed == "compass"));
    }
}
