//! What sentences are made with, whatever they say.

/// With a capital at the beginning.
#[must_use]
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Where the words of a line begin: behind its indent, and behind what stands before them with a gap of two blanks
/// (`  tight  Afloat`) or as a bullet (`  - No tide`). In bytes.
#[must_use]
pub fn lead(line: &str) -> usize {
    let indent = line.len() - line.trim_start().len();
    let text = &line[indent..];
    if text.starts_with("- ") {
        return indent + 2;
    }
    let Some(gap) = text.find("  ") else { return indent };
    indent + gap + text[gap..].len() - text[gap..].trim_start().len()
}
