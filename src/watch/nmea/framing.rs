//! From a stream of bytes to lines, one sentence each.

/// Longest sentence taken, in bytes, without its TAG block. The standard allows 82; devices send more.
pub const MAX_SENTENCE: usize = 1024;

/// Longest JSON object taken, in bytes: a server's delta with all that a watch asks for is a tenth of it. Our choice.
pub const MAX_OBJECT: usize = 8192;

/// Longest TAG blocks taken, all together.
const MAX_TAGS: usize = 1024;

/// Cuts a stream into lines: at CR, LF and NUL, and wherever a new sentence or TAG block begins.
///
/// `$`, `!` and `\` are reserved by the standard: inside a sentence they can only mean that its end was lost. A line
/// that grows too long is handed on once, cut to just over the limit so that the parser refuses it, and the rest is
/// skipped up to the next line end or start. Memory is bounded by the two limits. Blank lines are not handed on,
/// blanks at the end are taken off. A JSON object, which begins with `{"`, goes on to the line's end: these characters
/// may stand in its strings.
#[derive(Clone, Debug, Default)]
pub struct LineSplitter {
    /// The part of the line that came with earlier reads.
    carried: Vec<u8>,
    stage: Stage,
    /// Bytes of the line so far, and of those, its TAG blocks.
    len: usize,
    tags: usize,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Stage {
    #[default]
    Start,
    InTag,
    AfterTag,
    InSentence,
    InNoise,
    /// After a `{` at the start, and after the `"` that makes it an object.
    AfterBrace,
    InObject,
    /// The line was too long and has been handed on.
    Skipping,
}

impl LineSplitter {
    /// A splitter at the start of a line.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the bytes of one read, and calls `each` with every line they complete.
    pub fn push(&mut self, bytes: &[u8], mut each: impl FnMut(&[u8])) {
        // First byte of the current line in `bytes`.
        let mut from = 0;
        for (at, &byte) in bytes.iter().enumerate() {
            let before = self.stage;
            match (byte, before) {
                (b'\r' | b'\n' | 0, _) => {
                    self.hand_on(&bytes[from..at], &mut each);
                    from = at + 1;
                    continue;
                }
                (_, Stage::InObject) => {}
                (b'$' | b'!', Stage::Start | Stage::AfterTag) => self.stage = Stage::InSentence,
                (b'{', Stage::Start | Stage::AfterTag) => self.stage = Stage::AfterBrace,
                (b'"', Stage::AfterBrace) => self.stage = Stage::InObject,
                (b'\\', Stage::Start | Stage::AfterTag) => self.stage = Stage::InTag,
                (b'\\', Stage::InTag) => self.stage = Stage::AfterTag,
                // A stray start character in front of a sentence; some receivers write `$$`.
                (b'$' | b'!', Stage::InSentence) if self.len == 1 => {
                    self.carried.clear();
                    from = at;
                    self.len = 0;
                }
                (b'$' | b'!' | b'\\', _) => {
                    self.hand_on(&bytes[from..at], &mut each);
                    from = at;
                    self.stage = if byte == b'\\' { Stage::InTag } else { Stage::InSentence };
                }
                (_, Stage::Start | Stage::AfterTag) => self.stage = Stage::InNoise,
                _ => {}
            }
            if self.stage == Stage::Skipping {
                continue;
            }
            self.len += 1;
            if matches!(self.stage, Stage::InTag | Stage::AfterTag) {
                self.tags = self.len;
            }
            let most = if self.stage == Stage::InObject { MAX_OBJECT } else { MAX_SENTENCE };
            if self.tags > MAX_TAGS || self.len - self.tags > most {
                self.hand_on(&bytes[from..=at], &mut each);
                self.stage = Stage::Skipping;
            }
        }
        if self.stage != Stage::Skipping {
            self.carried.extend_from_slice(&bytes[from.min(bytes.len())..]);
        }
    }

    /// The stream or datagram has ended: hands on what is left as a last line.
    pub fn finish(&mut self, mut each: impl FnMut(&[u8])) {
        self.hand_on(&[], &mut each);
    }

    /// Hands on the line that ends with `tail` and starts a new one.
    fn hand_on(&mut self, tail: &[u8], each: &mut impl FnMut(&[u8])) {
        if self.stage != Stage::Skipping {
            // A line that lies whole in one read is not copied.
            let line = if self.carried.is_empty() {
                tail
            } else {
                self.carried.extend_from_slice(tail);
                &self.carried
            };
            let line = line.trim_ascii_end();
            if !line.is_empty() {
                each(line);
            }
        }
        self.carried.clear();
        self.stage = Stage::Start;
        self.len = 0;
        self.tags = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(bytes: &[u8]) -> Vec<String> {
        let mut splitter = LineSplitter::new();
        let mut lines = Vec::new();
        let mut keep = |line: &[u8]| lines.push(String::from_utf8_lossy(line).into_owned());
        splitter.push(bytes, &mut keep);
        splitter.finish(&mut keep);
        lines
    }

    #[test]
    fn any_line_end_ends_a_line_and_blank_ones_vanish() {
        assert_eq!(
            lines(b"\r\n$A*00\r\n\n$B*00\r$C*00  \n\0$D*00\0$E*00"),
            ["$A*00", "$B*00", "$C*00", "$D*00", "$E*00"]
        );
    }

    #[test]
    fn sentences_run_together_are_parted() {
        assert_eq!(lines(b"xy$A*00$B*00 !C,12$D"), ["xy", "$A*00", "$B*00", "!C,12", "$D"]);
    }

    #[test]
    fn a_json_object_is_one_line_whatever_its_strings_hold() {
        let object = r#"{"$source":"a!b\\c","values":[]}"#;
        let tagged = format!("\\s:a*00\\{object}");
        assert_eq!(lines(format!("{tagged}\r\n$A*00\r\n{object}\n").as_bytes()), [&tagged, "$A*00", object]);
        assert_eq!(lines(b"{$A*00\r\n{x!B*00"), ["{", "$A*00", "{x", "!B*00"], "a brace alone is noise");
    }

    #[test]
    fn stray_start_characters_are_passed_over() {
        assert_eq!(lines(b"$$$A*00\r\n!$B*00\r\n$\r\n"), ["$A*00", "$B*00", "$"]);
    }

    #[test]
    fn a_tag_block_stays_with_its_sentence() {
        assert_eq!(lines(b"\\s:a*00\\$A*00\\s:b*00\\!B*00\r\n"), ["\\s:a*00\\$A*00", "\\s:b*00\\!B*00"]);
        assert_eq!(lines(b"\\s:a*00\\\\s:b*00\\$A*00\r\n"), ["\\s:a*00\\\\s:b*00\\$A*00"]);
        assert_eq!(lines(b"\\s:a*00\\noise\r\n"), ["\\s:a*00\\noise"]);
    }

    #[test]
    fn an_unclosed_tag_block_ends_where_a_sentence_begins() {
        assert_eq!(lines(b"\\s:a*00$A*00\r\n"), ["\\s:a*00", "$A*00"]);
    }

    #[test]
    fn a_line_without_end_is_told_once_and_memory_stays_bounded() {
        let mut splitter = LineSplitter::new();
        let mut lengths = Vec::new();
        splitter.push(b"$GPRMC,", |_| {});
        for _ in 0..1000 {
            splitter.push(&[b'1'; 997], |line| lengths.push(line.len()));
            assert!(splitter.carried.len() <= MAX_SENTENCE + 1);
        }
        splitter.push(b"$GPHDT,236.7,T*35\r\n", |line| lengths.push(line.len()));
        assert_eq!(lengths, [MAX_SENTENCE + 1, 17]);
    }

    #[test]
    fn a_logged_over_long_line_reads_back_as_it_was() {
        let mut raw = b"$GPRMC,".to_vec();
        raw.resize(4000, b'1');
        let once = lines(&raw);
        let mut logged = b"\\s:gps,c:1767225600000*6C\\".to_vec();
        logged.extend_from_slice(once[0].as_bytes());
        let twice = lines(&logged);
        assert_eq!(twice.len(), 1);
        assert_eq!(twice[0].as_bytes(), logged);
    }
}
