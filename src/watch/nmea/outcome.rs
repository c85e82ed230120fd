//! What came of a line: refused with a reason, or heard with a remark.
//!
//! Both are closed and numbered, so that a feed's counters are plain arrays.

use std::fmt;

/// Why nothing of a line may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rejected {
    /// Line noise, or bytes of another protocol: no sentence begins here. Not a fault of a sentence.
    Noise,
    /// The end of a sentence whose `$` or `!` was lost.
    StartLost,
    /// A byte that is not printable ASCII, inside a sentence. An XOR checksum cannot see a NUL.
    Unprintable,
    /// Longer than `MAX_SENTENCE`: two sentences run together, or no end at all.
    TooLong,
    /// No `*hh` at the end; usually a sentence cut short.
    MissingChecksum,
    /// `*` without two hexadecimal digits behind it.
    MalformedChecksum,
    /// The sentence was altered on its way.
    BadChecksum {
        /// The checksum it carries.
        printed: u8,
        /// The checksum its characters make.
        computed: u8,
    },
    /// Something follows the checksum on the same line.
    TextAfterChecksum,
    /// The address is not two capitals or digits of talker and three of type.
    BadAddress,
    /// An encapsulated sentence (AIS) behind `$`, or another behind `!`.
    WrongStart,
    /// A TAG block without an end, or without a sentence.
    BrokenTag,
    /// Fields that the sentence cannot do without are not there.
    TooFewFields,
    /// The value that the sentence exists for is not a number.
    NotANumber,
    /// The value that the sentence exists for is one that no instrument can measure.
    OutOfRange,
    /// An AIS payload that is no message: wrong symbols, too few bits, or parts that do not fit together.
    BadPayload,
    /// Numbers with a decimal comma, which parts fields: nothing can be told from them.
    DecimalComma,
    /// A line of an NMEA 2000 network that is cut short or written wrongly.
    BrokenFrame,
    /// A JSON object that is cut short, or says its values in another form than its standard has.
    BrokenObject,
}

impl Rejected {
    /// How many kinds there are; `index` is always below it.
    pub const COUNT: usize = 18;

    /// A number for counting.
    #[must_use]
    pub fn index(self) -> usize {
        match self {
            Self::Noise => 0,
            Self::StartLost => 1,
            Self::Unprintable => 2,
            Self::TooLong => 3,
            Self::MissingChecksum => 4,
            Self::MalformedChecksum => 5,
            Self::BadChecksum { .. } => 6,
            Self::TextAfterChecksum => 7,
            Self::BadAddress => 8,
            Self::WrongStart => 9,
            Self::BrokenTag => 10,
            Self::TooFewFields => 11,
            Self::NotANumber => 12,
            Self::OutOfRange => 13,
            Self::BadPayload => 14,
            Self::DecimalComma => 15,
            Self::BrokenFrame => 16,
            Self::BrokenObject => 17,
        }
    }

    /// The words for each index.
    pub const REASONS: [&'static str; Self::COUNT] = [
        "noise, no sentence in it",
        "start of the sentence lost",
        "character that no sentence may hold",
        "too long",
        "no checksum",
        "checksum not readable",
        "wrong checksum",
        "text after the checksum",
        "address not readable",
        "starts with the wrong character",
        "TAG block broken off",
        "too few fields",
        "value not a number",
        "value out of range",
        "AIS message not readable",
        "decimal comma: set the instrument to a point",
        "NMEA 2000 frame not readable",
        "JSON not readable",
    ];

    /// The reason in a few plain words.
    #[must_use]
    pub fn reason(self) -> &'static str {
        Self::REASONS[self.index()]
    }

    /// Whether it was a sentence at all that was refused; noise between sentences is not.
    #[must_use]
    pub fn is_fault(self) -> bool {
        self != Self::Noise
    }
}

impl fmt::Display for Rejected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadChecksum { printed, computed } => {
                write!(f, "wrong checksum: it says {printed:02X}, its characters make {computed:02X}")
            }
            other => f.write_str(other.reason()),
        }
    }
}

impl std::error::Error for Rejected {}

/// What kept a well-formed sentence from being used whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remark {
    /// It says itself that it has nothing: status `V`, mode `N`, quality 0.
    Void,
    /// A position or heading that is estimated, typed in or simulated, not measured.
    NotMeasured,
    /// Every value is empty.
    Empty,
    /// A position with a part missing.
    PositionIncomplete,
    /// A position that is no place on earth, or not written as degrees and minutes.
    PositionUnusable,
    /// Exactly 0° N 0° E, which some receivers send before their first fix.
    PositionZero,
    /// A field that is not a number; read as missing.
    NotANumber,
    /// A field out of range; read as missing.
    OutOfRange,
    /// A time of day that does not exist; read as missing.
    BadTime,
    /// A date that does not exist; read as missing.
    BadDate,
    /// A year before 2000 or after 2079: a receiver before its first fix, or after its week counter rolled over.
    YearUnlikely,
    /// The TAG block's own checksum is wrong: its time and source are not used, the sentence is.
    TagDropped,
    /// A maker's own sentence.
    Proprietary,
    /// A question to another instrument.
    Query,
    /// A type the standard knows and a watch has no use for.
    NotNeeded,
    /// A type nobody here knows.
    UnknownType,
    /// A part of a message in several frames did not come.
    PartLost,
    /// Measured long before what the same source has already told.
    Stale,
}

/// Which of the three ways a remark counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RemarkClass {
    /// The instrument says it has nothing to say.
    Void,
    /// Something in the sentence is wrong and was left out.
    Flaw,
    /// Not for us.
    Ignored,
}

impl Remark {
    /// How many kinds there are; `index` is always below it.
    pub const COUNT: usize = 18;

    /// A number for counting.
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// The words for each index.
    pub const REASONS: [&'static str; Self::COUNT] = [
        "marked invalid by the sender",
        "estimated, typed in or simulated",
        "all values empty",
        "position incomplete",
        "position impossible",
        "position 0°N 0°E, as sent before a first fix",
        "a field is not a number",
        "a field is out of range",
        "time impossible",
        "date impossible",
        "year unlikely",
        "TAG block has a wrong checksum",
        "maker's own sentence",
        "query",
        "type without use for the watch",
        "unknown type",
        "a part of the message was lost",
        "measured long before",
    ];

    /// The reason in a few plain words.
    #[must_use]
    pub fn reason(self) -> &'static str {
        Self::REASONS[self.index()]
    }

    /// The remark on a sentence that gives no position.
    pub(in crate::watch) fn from_no_fix(why: super::NoFix) -> Self {
        use super::NoFix;
        match why {
            NoFix::Void => Self::Void,
            NoFix::Estimated | NoFix::Manual | NoFix::Simulated => Self::NotMeasured,
            NoFix::Unusable => Self::PositionIncomplete,
        }
    }

    /// How it counts.
    #[must_use]
    pub fn class(self) -> RemarkClass {
        match self {
            Self::Void | Self::NotMeasured | Self::Empty => RemarkClass::Void,
            Self::Proprietary | Self::Query | Self::NotNeeded | Self::UnknownType => RemarkClass::Ignored,
            _ => RemarkClass::Flaw,
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.reason())
    }
}
