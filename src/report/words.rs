//! Words on paper, in lines of a width that every terminal has.

/// Width of the text in columns.
pub(super) const WIDTH: usize = 96;

/// A blank at which no line is broken.
pub(super) const NO_BREAK: char = '\u{a0}';

/// `text` as it may go to a terminal. A control character, which came with a name or a file, could move the cursor, hide
/// words or change the terminal: it shows as `�`.
#[must_use]
pub fn printable(text: &str) -> String {
    let shown =
        |c: char| if c.is_control() && !matches!(c, '\n' | '\t') { char::REPLACEMENT_CHARACTER } else { c };
    text.chars().map(shown).collect()
}

/// `text` in lines of at most [`WIDTH`] columns, each behind `indent`.
pub(super) fn push_wrapped(out: &mut String, indent: &str, text: &str) {
    let mut column = 0;
    for word in text.split(' ') {
        let width = word.chars().count();
        if column == 0 {
            out.push_str(indent);
            column = indent.len();
        } else if column + 1 + width > WIDTH {
            out.push('\n');
            out.push_str(indent);
            out.push_str("  ");
            column = indent.len() + 2;
        } else {
            out.push(' ');
            column += 1;
        }
        out.push_str(&word.replace(NO_BREAK, " "));
        column += width;
    }
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_of_others_reaches_the_terminal_as_a_command() {
        let name = "Hollow\u{1b}[2J Ness\u{9b}31m\u{7f}\r";
        assert_eq!(printable(name), "Hollow\u{fffd}[2J Ness\u{fffd}31m\u{fffd}\u{fffd}");
        assert_eq!(printable("54°12.000′N\n\tß"), "54°12.000′N\n\tß");
    }
}
