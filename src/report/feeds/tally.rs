//! What has come from one feed: how much, how often, and what was wrong with it.

use std::collections::BTreeMap;

use crate::watch::input::Link;
use crate::watch::nmea::{Observation, Rejected, Remark, RemarkClass};
use crate::watch::units::{Span, WatchTime};
use crate::watch::wire::Reader;

/// Kinds of sentence told apart. A boat has a dozen; a line of rubbish with right checksums must not fill the memory.
const KINDS_MAX: usize = 64;

/// What a feed can give that a watch can use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Gives {
    /// Position.
    Position,
    /// Speed over ground.
    Velocity,
    /// Heading, true or magnetic.
    Heading,
    /// Wind, apparent or true.
    Wind,
    /// Depth, below anything.
    Depth,
    /// Speed through the water.
    WaterSpeed,
    /// Other vessels, by AIS.
    Vessels,
}

impl Gives {
    const ALL: [Self; 7] = [
        Self::Position,
        Self::Velocity,
        Self::Heading,
        Self::Wind,
        Self::Depth,
        Self::WaterSpeed,
        Self::Vessels,
    ];

    /// The crew's word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Position => "position",
            Self::Velocity => "speed over ground",
            Self::Heading => "heading",
            Self::Wind => "wind",
            Self::Depth => "depth",
            Self::WaterSpeed => "speed through the water",
            Self::Vessels => "vessels (AIS)",
        }
    }

    fn of(observation: &Observation) -> Option<Self> {
        match observation {
            Observation::Fix(_) => Some(Self::Position),
            Observation::Velocity { .. } => Some(Self::Velocity),
            Observation::HeadingTrue(_) | Observation::HeadingMagnetic(_) => Some(Self::Heading),
            Observation::ApparentWind { .. }
            | Observation::TrueWindRelative { .. }
            | Observation::WindDirection { .. } => Some(Self::Wind),
            Observation::Depth { .. } => Some(Self::Depth),
            Observation::WaterSpeed(_) => Some(Self::WaterSpeed),
            Observation::Vessel(_) => Some(Self::Vessels),
            _ => None,
        }
    }
}

/// Things of one kind that came again and again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream {
    /// How many.
    pub count: u64,
    first: WatchTime,
    last: WatchTime,
}

impl Stream {
    fn new(at: WatchTime) -> Self {
        Self { count: 1, first: at, last: at }
    }

    fn again(&mut self, at: WatchTime) {
        self.count += 1;
        self.last = at;
    }

    /// How often a second, if it came again for long enough to judge: a log from a pipe comes all at once.
    #[must_use]
    pub fn per_second(&self) -> Option<f64> {
        let span = self.last.since(self.first);
        (span >= Span(500)).then(|| (self.count - 1) as f64 / span.seconds())
    }

    /// How often, in words: `10/s`, `every 3 s`, `once`. Instruments of one a second skip one now and then.
    #[must_use]
    pub fn often(&self) -> String {
        match self.per_second() {
            Some(rate) if rate >= 2.0 / 3.0 => format!("{rate:.0}/s"),
            Some(rate) => format!("every {:.0} s", 1.0 / rate),
            None if self.count == 1 => "once".to_owned(),
            None => format!("{} at once", self.count),
        }
    }
}

/// One feed's counts.
#[derive(Clone, Debug)]
pub struct Tally {
    /// How the feed stands.
    pub link: Link,
    /// When its last line came.
    pub last: Option<WatchTime>,
    /// Sentences of which all could be used.
    pub good: u64,
    /// Sentences of a receiver that says it has no position.
    pub without_fix: u64,
    /// Lines that the edge had to drop.
    pub dropped: u64,
    rejected: [u64; Rejected::COUNT],
    remarked: BTreeMap<usize, (Remark, u64)>,
    kinds: BTreeMap<String, Stream>,
    streams: BTreeMap<(Gives, [u8; 2], String), Stream>,
    reader: Reader,
    observations: Vec<Observation>,
}

impl Default for Tally {
    fn default() -> Self {
        Self {
            link: Link::Opening,
            last: None,
            good: 0,
            without_fix: 0,
            dropped: 0,
            rejected: [0; Rejected::COUNT],
            remarked: BTreeMap::new(),
            kinds: BTreeMap::new(),
            streams: BTreeMap::new(),
            reader: Reader::default(),
            observations: Vec::new(),
        }
    }
}

impl Tally {
    /// Counts a line.
    pub fn hear(&mut self, at: WatchTime, line: &[u8]) {
        self.last = Some(at);
        let mut observations = std::mem::take(&mut self.observations);
        observations.clear();
        match self.reader.read(at, line, &mut observations) {
            Ok(told) => {
                match told.remark() {
                    None => self.good += 1,
                    Some(remark) => self.remarked.entry(remark.index()).or_insert((remark, 0)).1 += 1,
                }
                let name = told.name();
                again(&mut self.kinds, name.clone(), at);
                let given = observations.iter().enumerate();
                let mut gives: Vec<_> =
                    given.filter_map(|(n, o)| Some((Gives::of(o)?, told.talker_of(n)))).collect();
                if told.is_ais() {
                    gives.push((Gives::Vessels, told.talker_of(0)));
                }
                gives.dedup();
                for (gives, talker) in gives {
                    again(&mut self.streams, (gives, talker, name.clone()), at);
                }
                self.without_fix +=
                    u64::from(observations.iter().any(|o| matches!(o, Observation::NoFix { .. })));
            }
            Err(why) => self.rejected[why.index()] += 1,
        }
        self.observations = observations;
    }

    /// Refused lines, noise included.
    #[must_use]
    pub fn rejected(&self) -> u64 {
        self.rejected.iter().sum()
    }

    /// Refused sentences, without noise.
    #[must_use]
    pub fn damaged(&self) -> u64 {
        self.rejected() - self.rejected[Rejected::Noise.index()]
    }

    /// Everything that was heard as a sentence, used or not.
    #[must_use]
    pub fn heard(&self) -> u64 {
        self.good + self.remarked.values().map(|(_, count)| count).sum::<u64>()
    }

    /// Sentences whose sender had no value, or a wrong one, in a field.
    #[must_use]
    pub fn void(&self) -> u64 {
        self.of_class(|class| class != RemarkClass::Ignored)
    }

    /// Sentences that are right and of no use to a watch.
    #[must_use]
    pub fn ignored(&self) -> u64 {
        self.of_class(|class| class == RemarkClass::Ignored)
    }

    fn of_class(&self, wanted: impl Fn(RemarkClass) -> bool) -> u64 {
        self.remarked.values().filter(|(remark, _)| wanted(remark.class())).map(|(_, count)| count).sum()
    }

    /// Why sentences were refused, or not used whole: reason and how many, most frequent first.
    #[must_use]
    pub fn reasons(&self) -> Vec<(&'static str, u64)> {
        let rejected = Rejected::REASONS.into_iter().zip(self.rejected);
        let remarked = self.remarked.values().map(|(remark, count)| (remark.reason(), *count));
        let mut reasons: Vec<_> = rejected.chain(remarked).filter(|(_, count)| *count > 0).collect();
        reasons.sort_by_key(|&(_, count)| std::cmp::Reverse(count));
        reasons
    }

    /// Kinds of sentence by talker, such as `GPRMC`, and of other messages, most frequent first.
    #[must_use]
    pub fn sentences(&self) -> Vec<(String, &Stream)> {
        let named = |(name, stream): (&String, _)| (name.trim_end().to_owned(), stream);
        let mut sentences: Vec<(String, &Stream)> = self.kinds.iter().map(named).collect();
        sentences.sort_by_key(|(_, stream)| std::cmp::Reverse(stream.count));
        sentences
    }

    /// Whose form the lines have, and what they give: `NMEA 2000 as text; gives position 10/s`.
    #[must_use]
    pub fn in_short(&self) -> String {
        let mut forms: Vec<&str> = Vec::new();
        for (name, _) in self.sentences() {
            let form = match name.as_str() {
                name if name.starts_with("PGN ") => "NMEA 2000 as text",
                name if name.starts_with("Signal K") => "Signal K",
                name if name.contains("JSON") => "JSON",
                _ => "NMEA 0183",
            };
            if !forms.contains(&form) {
                forms.push(form);
            }
        }
        let gives: Vec<_> =
            self.gives().map(|(gives, stream)| format!("{} {}", gives.word(), stream.often())).collect();
        let gives = match gives.as_slice() {
            [] if self.without_fix > 0 => "no position yet".to_owned(),
            [] => "gives nothing the watch can use".to_owned(),
            gives => format!("gives {}", gives.join(", ")),
        };
        match forms.as_slice() {
            [] => "of a form that is not known here".to_owned(),
            forms => format!("{}; {gives}", forms.join(", ")),
        }
    }

    /// What it gives, and of the kinds of sentence that give it the most frequent: a receiver gives each position in
    /// several sentences.
    pub fn gives(&self) -> impl Iterator<Item = (Gives, &Stream)> {
        Gives::ALL.into_iter().filter_map(|gives| {
            let streams = self.streams.iter().filter(|((what, ..), _)| *what == gives);
            let best = streams.map(|(_, stream)| stream).max_by_key(|stream| stream.count)?;
            Some((gives, best))
        })
    }

    /// The most frequent stream of one thing.
    #[must_use]
    pub fn stream(&self, wanted: Gives) -> Option<&Stream> {
        self.gives().find(|(gives, _)| *gives == wanted).map(|(_, stream)| stream)
    }
}

fn again<K: Ord>(streams: &mut BTreeMap<K, Stream>, kind: K, at: WatchTime) {
    if let Some(stream) = streams.get_mut(&kind) {
        stream.again(at);
    } else if streams.len() < KINDS_MAX {
        streams.insert(kind, Stream::new(at));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(body: &str) -> Vec<u8> {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}").into_bytes()
    }

    fn words(times_ms: &[i64]) -> String {
        let mut stream = Stream::new(WatchTime(times_ms[0]));
        for &at in &times_ms[1..] {
            stream.again(WatchTime(at));
        }
        stream.often()
    }

    #[test]
    fn how_often_is_said_as_a_sailor_says_it() {
        assert_eq!(words(&[0]), "once");
        assert_eq!(words(&[0, 0, 3]), "3 at once");
        assert_eq!(words(&[0, 1_000, 2_000, 4_000, 5_000]), "1/s");
        assert_eq!(words(&[0, 1_010, 2_020]), "1/s");
        assert_eq!(words(&[0, 100, 200, 300, 400, 500]), "10/s");
        assert_eq!(words(&[0, 2_000, 4_000]), "every 2 s");
    }

    #[test]
    fn positions_told_in_several_sentences_count_once() {
        let mut tally = Tally::default();
        for second in 0..10 {
            let at = WatchTime(second * 1000);
            tally.hear(at, &line("GPRMC,020304,A,5012.345,N,00512.345,W,0.1,,030626,,,A"));
            tally.hear(at, &line("GPGLL,5012.345,N,00512.345,W,020304,A,A"));
        }
        assert_eq!(tally.stream(Gives::Position).unwrap().often(), "1/s");
        assert_eq!(tally.good, 20);
    }

    #[test]
    fn every_line_is_counted_once() {
        let mut tally = Tally::default();
        tally.hear(WatchTime(0), &line("HEHDT,231.5,T"));
        tally.hear(WatchTime(0), &line("GPRMC,020304,V,,,,,,,030626,,,N"));
        tally.hear(WatchTime(0), &line("IIVLW,01459,N,000.0,N"));
        tally.hear(WatchTime(0), b"$HEHDT,231.5,T*00");
        tally.hear(WatchTime(0), b"\xff\xfe");
        let counts = (tally.good, tally.void(), tally.ignored(), tally.rejected(), tally.damaged());
        assert_eq!(counts, (1, 1, 1, 2, 1));
        assert_eq!((tally.heard(), tally.without_fix), (3, 1));
    }

    #[test]
    fn kinds_without_end_are_not_kept() {
        let mut tally = Tally::default();
        for n in 0..1000 {
            tally.hear(WatchTime(n), &line(&format!("XX{n:03},1")));
        }
        assert_eq!(tally.sentences().len(), KINDS_MAX);
        assert_eq!(tally.heard(), 1000);
    }
}
