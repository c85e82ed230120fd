//! Words on paper, in lines of a width that every terminal has.

/// Width of the text in columns.
pub(super) const WIDTH: usize = 96;

/// A blank at which no line is broken.
pub(super) const NO_BREAK: char = '\u{a0}';

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
