//! The page that the answers make, as it is looked at: broken to fit, coloured by what is wrong.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, width, wrap};
use crate::watch::words::lead;

/// A page and where it is looked at.
#[derive(Debug)]
pub(super) struct Page {
    pub(super) lines: Vec<String>,
    /// Rows above the window.
    pub(super) down: usize,
    /// Columns of the table left of the window.
    pub(super) aside: usize,
}

/// Columns of the widest page.
pub(super) const PAGE_COLUMNS: usize = 96;
/// Rows that a page key moves by.
pub(super) const PAGE_ROWS: isize = 12;

impl Page {
    /// Draws the page, its last line never above the bottom of the window. Sentences are broken to fit; a table would
    /// be none if it were, so it is moved sideways.
    pub(super) fn render(&mut self, scene: &Scene, area: Rect, buf: &mut Buffer) {
        let mut pen = Pen::new(buf, area);
        let rows = self.rows(area.width);
        self.down = self.down.min(rows.len().saturating_sub(usize::from(area.height)));
        for (y, (line, ink)) in (0..area.height).zip(rows.iter().skip(self.down)) {
            pen.put(0, y, line, scene.ink(*ink));
        }
        if self.down + usize::from(area.height) < rows.len() && area.height > 0 {
            pen.put_more(area.height - 1, "↓ more", scene.ink(Ink::Boat));
        }
    }

    fn rows(&mut self, columns: u16) -> Vec<(String, Ink)> {
        let mut rows = Vec::new();
        let mut in_table = false;
        let widest = self.lines.iter().map(|line| usize::from(width(line))).max().unwrap_or(0);
        self.aside = self.aside.min(widest.saturating_sub(usize::from(columns)));
        for line in &self.lines {
            let word = line.split_whitespace().next().unwrap_or_default();
            // The table by the hour stands between its heading and the next empty line.
            in_table = (in_table || word == "time") && !word.is_empty();
            let ink = ink(line, word, in_table);
            if in_table {
                rows.push((line.chars().skip(self.aside).collect(), ink));
            } else {
                rows.extend(broken(line, columns).into_iter().map(|row| (row, ink)));
            }
        }
        rows
    }
}

/// As the night is coloured on watch: what is bad in the colour of trouble, what is tight bright. The words say the same.
pub(super) fn ink(line: &str, word: &str, in_table: bool) -> Ink {
    // A row of the night ends with what is wrong, `BAD` before what is bad; a good one ends with a figure.
    let ends_in_words = || line.trim_end().ends_with(|c: char| c.is_ascii_alphabetic());
    match word {
        "bad" | "BAD" => Ink::Trouble,
        "VEER" | "tight" => Ink::Strong,
        _ if in_table && line.contains("  BAD ") => Ink::Trouble,
        _ if in_table && line.contains('/') && ends_in_words() => Ink::Strong,
        _ => Ink::Text,
    }
}

/// A line broken to fit, what follows under its first words.
fn broken(line: &str, columns: u16) -> Vec<String> {
    if width(line) <= columns {
        return vec![line.to_owned()];
    }
    let indent = line.len() - line.trim_start().len();
    let hang = lead(line);
    let hang = if hang * 2 > usize::from(columns) { indent.min(usize::from(columns) / 2) } else { hang };
    let (head, rest) = line.split_at(hang);
    let room = columns.saturating_sub(width(head)).max(1);
    let under = " ".repeat(usize::from(width(head)));
    let rows = wrap(rest, room).into_iter().enumerate();
    rows.map(|(n, row)| format!("{}{row}", if n == 0 { head } else { &under })).collect()
}
