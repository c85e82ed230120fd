//! Tall letters and figures out of half blocks, for what must be read across a cabin.
//!
//! Six pixels high, so three rows of a terminal at scale one: half a cell is about as high as a cell is wide.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// Rows of the terminal that a line of tall text takes.
#[must_use]
pub const fn rows(scale: u16) -> u16 {
    3 * scale
}

/// Columns that `text` takes.
#[must_use]
pub fn columns(text: &str, scale: u16) -> u16 {
    let pixels: usize = text.chars().map(|c| width(glyph(c)) + 1).sum();
    u16::try_from(pixels.saturating_sub(1)).unwrap_or(u16::MAX).saturating_mul(scale)
}

/// The largest scale up to `most` at which `text` fits into the room; `None` if not even the smallest does.
#[must_use]
pub fn fitting(text: &str, room: (u16, u16), most: u16) -> Option<u16> {
    (1..=most).rev().find(|&scale| columns(text, scale) <= room.0 && rows(scale) <= room.1)
}

/// Writes `text` from the top left corner of `area`, cut at its edges. Gives the columns used.
pub fn put(buf: &mut Buffer, area: Rect, text: &str, scale: u16, style: Style) -> u16 {
    let area = area.intersection(buf.area);
    let mut x = 0;
    for c in text.chars() {
        let glyph = glyph(c);
        for row in 0..rows(scale).min(area.height) {
            for column in 0..(width(glyph) as u16 * scale) {
                let (px, top, bottom) = (column / scale, row * 2 / scale, (row * 2 + 1) / scale);
                let block = match (lit(glyph, px, top), lit(glyph, px, bottom)) {
                    (true, true) => '█',
                    (true, false) => '▀',
                    (false, true) => '▄',
                    (false, false) => continue,
                };
                if x + column < area.width
                    && let Some(cell) = buf.cell_mut((area.x + x + column, area.y + row))
                {
                    cell.set_char(block).set_style(style);
                }
            }
        }
        x = x.saturating_add((width(glyph) as u16 + 1) * scale);
    }
    x.saturating_sub(scale).min(area.width)
}

type Glyph = [&'static str; 6];

fn width(glyph: Glyph) -> usize {
    glyph[0].len()
}

fn lit(glyph: Glyph, x: u16, y: u16) -> bool {
    glyph.get(usize::from(y)).and_then(|row| row.as_bytes().get(usize::from(x))) == Some(&b'#')
}

/// The pixels of a character; a blank for one that has none.
const fn glyph(c: char) -> Glyph {
    match c.to_ascii_uppercase() {
        'A' => [" ## ", "#  #", "#  #", "####", "#  #", "#  #"],
        'B' => ["### ", "#  #", "### ", "#  #", "#  #", "### "],
        'C' => [" ###", "#   ", "#   ", "#   ", "#   ", " ###"],
        'D' => ["### ", "#  #", "#  #", "#  #", "#  #", "### "],
        'E' => ["####", "#   ", "### ", "#   ", "#   ", "####"],
        'F' => ["####", "#   ", "### ", "#   ", "#   ", "#   "],
        'G' => [" ###", "#   ", "#   ", "# ##", "#  #", " ###"],
        'H' => ["#  #", "#  #", "####", "#  #", "#  #", "#  #"],
        'I' => ["#", "#", "#", "#", "#", "#"],
        'J' => ["  ##", "   #", "   #", "   #", "#  #", " ## "],
        'K' => ["#  #", "# # ", "##  ", "##  ", "# # ", "#  #"],
        'L' => ["#   ", "#   ", "#   ", "#   ", "#   ", "####"],
        'M' => ["#   #", "## ##", "# # #", "# # #", "#   #", "#   #"],
        'N' => ["#   #", "##  #", "# # #", "# # #", "#  ##", "#   #"],
        'O' => [" ## ", "#  #", "#  #", "#  #", "#  #", " ## "],
        'P' => ["### ", "#  #", "#  #", "### ", "#   ", "#   "],
        'Q' => [" ## ", "#  #", "#  #", "#  #", "# # ", " # #"],
        'R' => ["### ", "#  #", "#  #", "### ", "# # ", "#  #"],
        'S' => [" ###", "#   ", " ## ", "   #", "   #", "### "],
        'T' => ["#####", "  #  ", "  #  ", "  #  ", "  #  ", "  #  "],
        'U' => ["#  #", "#  #", "#  #", "#  #", "#  #", " ## "],
        'V' => ["#   #", "#   #", "#   #", " # # ", " # # ", "  #  "],
        'W' => ["#   #", "#   #", "# # #", "# # #", "## ##", "#   #"],
        'X' => ["#   #", " # # ", "  #  ", "  #  ", " # # ", "#   #"],
        'Y' => ["#   #", " # # ", "  #  ", "  #  ", "  #  ", "  #  "],
        'Z' => ["####", "   #", "  # ", " #  ", "#   ", "####"],
        '0' => [" ## ", "#  #", "#  #", "#  #", "#  #", " ## "],
        '1' => ["  # ", " ## ", "  # ", "  # ", "  # ", " ###"],
        '2' => [" ## ", "#  #", "   #", "  # ", " #  ", "####"],
        '3' => ["### ", "   #", " ## ", "   #", "   #", "### "],
        '4' => ["#  #", "#  #", "####", "   #", "   #", "   #"],
        '5' => ["####", "#   ", "### ", "   #", "   #", "### "],
        '6' => [" ## ", "#   ", "### ", "#  #", "#  #", " ## "],
        '7' => ["####", "   #", "  # ", "  # ", " #  ", " #  "],
        '8' => [" ## ", "#  #", " ## ", "#  #", "#  #", " ## "],
        '9' => [" ## ", "#  #", " ###", "   #", "   #", " ## "],
        '.' => [" ", " ", " ", " ", " ", "#"],
        '-' | '−' => ["   ", "   ", "###", "   ", "   ", "   "],
        '°' => ["###", "# #", "###", "   ", "   ", "   "],
        '′' => ["#", "#", " ", " ", " ", " "],
        '?' => [" ## ", "#  #", "   #", "  # ", "    ", "  # "],
        _ => ["  ", "  ", "  ", "  ", "  ", "  "],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::alert::AlertKind;

    #[test]
    fn every_headline_has_all_its_letters() {
        for kind in AlertKind::ALL {
            for c in kind.title().chars().filter(|c| *c != ' ') {
                assert!(glyph(c).iter().any(|row| row.contains('#')), "{c} has no pixels");
            }
        }
    }

    #[test]
    fn every_row_of_a_letter_is_as_wide_as_the_first() {
        for c in ('A'..='Z').chain('0'..='9').chain(['.', '-', '°', '′', '?', ' ']) {
            assert!(glyph(c).iter().all(|row| row.len() == width(glyph(c))), "{c}");
        }
    }

    #[test]
    fn text_is_cut_at_its_area() {
        let mut buf = Buffer::empty(Rect::new(0, 0, 6, 3));
        let used = put(&mut buf, Rect::new(1, 0, 3, 2), "HI", 1, Style::new());
        let rows: Vec<String> =
            buf.content().chunks(6).map(|r| r.iter().map(|c| c.symbol()).collect()).collect();
        assert_eq!(rows, [" █    ", " █▀▀  ", "      "]);
        assert_eq!(used, 3);
    }
}
