//! Tall words and figures side by side: what is wrong, the verdict, the room that is left.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use crate::tui::glyphs;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, metres, width};
use crate::tui::view::bar;
use crate::watch::snapshot::FixQuality;

/// Columns between two pieces.
const GAP: u16 = 4;

/// A word or a figure in tall letters, and up to three short lines beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// In tall letters.
    pub text: String,
    /// Its ink.
    pub ink: Ink,
    /// Beside it, from the top: unit and name.
    pub beside: Vec<String>,
    /// A bar below the lines beside it.
    pub bar: Option<f64>,
}

impl Piece {
    /// A word alone.
    #[must_use]
    pub fn word(text: &str, ink: Ink) -> Self {
        Self { text: text.to_owned(), ink, beside: Vec::new(), bar: None }
    }

    /// The columns that it takes.
    fn columns(&self, scale: u16) -> u16 {
        let beside = self.beside.iter().map(|line| width(line) + 1).max().unwrap_or(0);
        glyphs::columns(&self.text, scale).saturating_add(beside)
    }
}

/// How a room is named beside its figure, the most telling first. Some metres, and where that is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Naming {
    /// `m`, then its name in one line.
    Whole,
    /// `m`, then its name in two lines.
    Narrow,
    /// `m` alone: its name stands elsewhere.
    Bare,
}

/// The room in tall figures; `None` while it is not known.
#[must_use]
pub fn room(scene: &Scene, naming: Naming) -> Option<Piece> {
    let room = scene.snap.room?;
    let whole = metres(room.left);
    let (figures, unit) = whole.split_once(' ')?;
    let name = room.name();
    let beside = match (naming, name.split_once(" to ")) {
        (Naming::Whole, _) => vec![unit.to_owned(), name.to_owned()],
        (Naming::Narrow, Some((end, limit))) => vec![unit.to_owned(), format!("{end} to"), limit.to_owned()],
        _ => vec![unit.to_owned()],
    };
    let bar = (naming == Naming::Whole).then(|| bar::share(room.left.0, room.of.0));
    let ink = match scene.snap.fix.quality {
        _ if room.left.0 < 0.0 => Ink::Trouble,
        FixQuality::Good => Ink::Strong,
        // By a position that was good a while ago.
        _ => Ink::Dim,
    };
    Some(Piece { text: figures.to_owned(), ink, beside, bar })
}

/// Rows of tall pieces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tall {
    rows: Vec<Vec<Piece>>,
    scale: u16,
    /// Whether the room's name stands beside its figure.
    pub names_room: bool,
}

impl Tall {
    /// The words, then the room, in as few rows of so many columns as can be; its name in the most telling way that
    /// costs no row. `None` where a word is too wide at this scale.
    #[must_use]
    pub fn fitting(scene: &Scene, words: &[Piece], columns: u16, scale: u16) -> Option<Self> {
        let namings = [Naming::Whole, Naming::Narrow, Naming::Bare];
        let packed = namings.map(|naming| {
            let pieces: Vec<Piece> = words.iter().cloned().chain(room(scene, naming)).collect();
            (naming, pack(pieces, columns, scale))
        });
        let (naming, rows) = packed
            .into_iter()
            .filter_map(|(naming, rows)| Some((naming, rows?)))
            .min_by_key(|(_, rows)| rows.len())?;
        Some(Self { rows, scale, names_room: naming != Naming::Bare || scene.snap.room.is_none() })
    }

    /// The words alone. `None` where a word is too wide at this scale.
    #[must_use]
    pub fn of(words: &[Piece], columns: u16, scale: u16) -> Option<Self> {
        Some(Self { rows: pack(words.to_vec(), columns, scale)?, scale, names_room: true })
    }

    /// Rows of the terminal that it takes.
    #[must_use]
    pub fn height(&self) -> u16 {
        (self.rows.len() as u16 * (glyphs::rows(self.scale) + 1)).saturating_sub(1)
    }

    /// The columns of its last row, of which words may stand to the right.
    #[must_use]
    pub fn last_columns(&self) -> u16 {
        self.rows.last().map_or(0, |row| columns(row, self.scale))
    }

    /// Draws it. With `over`, all of it is in that ink.
    pub fn put(&self, scene: &Scene, over: Option<Ink>, area: Rect, buf: &mut Buffer) {
        for (n, row) in (0_u16..).zip(&self.rows) {
            let high = glyphs::rows(self.scale);
            let y = area.y.saturating_add(n * (high + 1));
            let mut x = area.x;
            for piece in row {
                let spot = Rect { x, y, width: area.right().saturating_sub(x), height: high };
                put(scene, piece, (over, self.scale), spot.intersection(area), buf);
                x = x.saturating_add(piece.columns(self.scale) + GAP * self.scale);
            }
        }
    }
}

fn put(scene: &Scene, piece: &Piece, (over, scale): (Option<Ink>, u16), area: Rect, buf: &mut Buffer) {
    let ink = over.unwrap_or(piece.ink);
    // A line under half blocks would be read as part of the letter.
    let style = scene.ink(ink).remove_modifier(Modifier::UNDERLINED);
    let x = glyphs::put(buf, area, &piece.text, scale, style) + 1;
    let mut pen = Pen::new(buf, area);
    for (y, line) in (0..).zip(&piece.beside) {
        let ink = if y == 0 { ink } else { over.unwrap_or(Ink::Text) };
        pen.put(x, y, line, scene.ink(ink));
    }
    if let Some(share) = piece.bar.filter(|_| over.is_none()) {
        let long = piece.beside.iter().map(|line| width(line)).max().unwrap_or(0);
        bar::put(scene, &mut pen, (x, 2), long, share, ink);
    }
}

fn columns(row: &[Piece], scale: u16) -> u16 {
    let gap = GAP * scale;
    row.iter().map(|piece| piece.columns(scale) + gap).sum::<u16>().saturating_sub(gap)
}

/// Pieces in as few rows as can be. What does not go into one breaks after the first word, so that verdict and room stay
/// together; a word that is too wide breaks at its blank.
fn pack(pieces: Vec<Piece>, most: u16, scale: u16) -> Option<Vec<Vec<Piece>>> {
    if columns(&pieces, scale) <= most {
        return Some(vec![pieces]);
    }
    let (first, rest) = pieces.split_first()?;
    if first.columns(scale) > most {
        let (head, tail) = first.text.split_once(' ')?;
        let word = |text: &str| Piece { text: text.to_owned(), ..first.clone() };
        let below = std::iter::once(word(tail)).chain(rest.iter().cloned()).collect();
        return Some(std::iter::once(vec![word(head)]).chain(pack(below, most, scale)?).collect());
    }
    if rest.is_empty() {
        return None;
    }
    Some(std::iter::once(vec![first.clone()]).chain(pack(rest.to_vec(), most, scale)?).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(words: &[&str], most: u16) -> Option<Vec<usize>> {
        let pieces = words.iter().map(|word| Piece::word(word, Ink::Text)).collect();
        pack(pieces, most, 1).map(|rows| rows.iter().map(Vec::len).collect())
    }

    #[test]
    fn words_go_into_as_few_rows_as_they_fit() {
        assert_eq!(rows(&["WIND SHIFT", "HOLDING", "16"], 120), Some(vec![3]));
        assert_eq!(rows(&["WIND SHIFT", "HOLDING", "16"], 58), Some(vec![1, 2]));
        assert_eq!(rows(&["WIND SHIFT", "HOLDING", "16"], 82), Some(vec![1, 2]));
        assert_eq!(rows(&["CANNOT JUDGE", "16"], 58), Some(vec![1, 2]));
        assert_eq!(rows(&["CANNOT", "16"], 20), None);
    }
}
