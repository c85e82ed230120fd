//! A console whose font has no braille: dots become half-blocks, and the few other signs what its font has.
//!
//! The kernel's own console draws 256 signs, in most fonts those of code page 437: half-blocks, shades and plain lines are
//! among them, braille, eighths of a block and dashed lines are not.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// The first and the last sign of braille.
const BRAILLE: std::ops::RangeInclusive<u32> = 0x2800..=0x28ff;
/// The dots of the upper half of a braille cell, in Unicode's numbering; the others are in the lower.
const UPPER: u32 = 0x01 | 0x02 | 0x08 | 0x10;

/// Redraws an area with signs that the console has.
pub fn simplify(area: Rect, buf: &mut Buffer) {
    let area = area.intersection(buf.area);
    for (x, y) in (area.top()..area.bottom()).flat_map(|y| (area.left()..area.right()).map(move |x| (x, y))) {
        let Some(cell) = buf.cell_mut((x, y)) else { continue };
        let mut signs = cell.symbol().chars();
        if let (Some(sign), None) = (signs.next(), signs.next())
            && !sign.is_ascii()
        {
            cell.set_char(plain(sign));
        }
    }
}

/// The nearest sign that the console has.
const fn plain(sign: char) -> char {
    let code = sign as u32;
    if code >= *BRAILLE.start() && code <= *BRAILLE.end() {
        return half_block(code - *BRAILLE.start());
    }
    match sign {
        '▁' | '▂' | '▃' => '▄',
        '▅' | '▆' | '▇' => '█',
        '╌' | '┄' | '−' | '–' => '-',
        '━' | '╍' => '=',
        '▸' | '▶' => '►',
        '┊' | '┃' | '▏' => '│',
        '╳' | '×' => 'x',
        '◇' => '♦',
        '‹' => '<',
        '›' => '>',
        '…' => '»',
        '′' | '’' => '\'',
        '″' => '"',
        other => other,
    }
}

/// The half-blocks in which any of the dots lie.
const fn half_block(dots: u32) -> char {
    match (dots & UPPER != 0, dots & !UPPER != 0) {
        (true, true) => '█',
        (true, false) => '▀',
        (false, true) => '▄',
        (false, false) => ' ',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn braille_becomes_the_halves_that_hold_a_dot() {
        let shown: String = "⠁⠂⠄⡀⢀⠠⠐⠈⣿⠀".chars().map(plain).collect();
        assert_eq!(shown, "▀▀▄▄▄▄▀▀█ ");
        let mut buf = Buffer::with_lines(["⠁╌a░°"]);
        simplify(buf.area, &mut buf);
        assert_eq!(buf, Buffer::with_lines(["▀-a░°"]));
    }
}
