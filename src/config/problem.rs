//! What is wrong with a file, shown where it is wrong.

use std::fmt;
use std::ops::Range;

/// One thing wrong, or odd, in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The key, with its table: `boat.loa_m`. Empty where the text as a whole is not TOML.
    pub key: String,
    /// Line, counted from 1.
    pub line: usize,
    /// What is wrong and what would be allowed.
    pub what: String,
    /// Column of the first character concerned, counted from 1.
    column: usize,
    /// How many characters are concerned, at least 1.
    width: usize,
    /// The line's text.
    source: String,
}

impl Problem {
    /// A problem at the bytes `span` of `text`.
    pub(super) fn at(text: &str, span: Range<usize>, key: String, what: String) -> Self {
        let start = floor_char_boundary(text, span.start);
        let line_start = text[..start].rfind('\n').map_or(0, |newline| newline + 1);
        let source = text[line_start..].lines().next().unwrap_or_default();
        let column = text[line_start..start].chars().count();
        let end = floor_char_boundary(text, span.end.max(start));
        let width = text[start..end].lines().next().unwrap_or_default().chars().count();
        Self {
            key,
            line: text[..start].matches('\n').count() + 1,
            what,
            column: column + 1,
            width: width.max(1),
            source: source.to_owned(),
        }
    }
}

/// The last character boundary at or before `index`.
fn floor_char_boundary(text: &str, index: usize) -> usize {
    let index = index.min(text.len());
    (0..=index).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0)
}

/// Longest piece of a line that is shown: a line can be a megabyte long.
const SHOWN: usize = 100;

impl fmt::Display for Problem {
    /// The problem, then the line with a mark under the place.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = self.line.to_string();
        let gutter = " ".repeat(number.len());
        // A long line is shown from a little before the place.
        let skip = if self.column > SHOWN { self.column - SHOWN / 2 } else { 0 };
        let shown: String = self
            .source
            .chars()
            .skip(skip)
            .take(SHOWN)
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        let indent = " ".repeat(self.column - 1 - skip);
        let marks = "^".repeat(self.width.min(SHOWN));
        writeln!(f, "line {number}: {}", self.what)?;
        writeln!(f, "{gutter} |")?;
        writeln!(f, "{number} | {}", shown.trim_end())?;
        write!(f, "{gutter} | {indent}{marks}")
    }
}

/// Everything wrong, or odd, in one file, in order of line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems {
    /// The file's name, as the crew knows it.
    pub file: String,
    /// What is wrong.
    pub list: Vec<Problem>,
}

impl Problems {
    /// True if nothing is.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, problem) in self.list.iter().enumerate() {
            let gap = if i == 0 { "" } else { "\n\n" };
            write!(f, "{gap}{}, {problem}", self.file)?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_is_shown_under_its_place() {
        let text = "[boat]\nname = \"Märren\"\nloa_m = 333 # long\n";
        let start = text.find("333").unwrap();
        let problem = Problem::at(text, start..start + 3, "boat.loa_m".into(), "loa_m is too long".into());
        assert_eq!(
            problem.to_string(),
            "line 3: loa_m is too long\n  |\n3 | loa_m = 333 # long\n  |         ^^^"
        );
    }

    #[test]
    fn columns_count_characters_not_bytes() {
        let text = "ää = 1";
        let problem = Problem::at(text, 7..8, String::new(), "x".into());
        assert!(problem.to_string().ends_with("1 | ää = 1\n  |      ^"), "{problem}");
    }

    #[test]
    fn places_outside_the_text_and_endless_lines_do_no_harm() {
        let text = format!("a = {}", "9".repeat(100_000));
        for span in [0..0, 50_000..60_000, 100_004..100_004, 200_000..300_000] {
            let shown = Problem::at(&text, span, String::new(), "x".into()).to_string();
            assert!(shown.len() < 600, "{}", shown.len());
        }
    }
}
