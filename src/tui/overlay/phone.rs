//! The code by which a phone's camera opens the page: as large as it must be, beside it what it is worth.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, wrap};

/// Light modules about a code: half of what ISO/IEC 18004 asks for, so that it fits into a small window. Above and below
/// one is enough for cameras (tried with a reader that is not ours), which brings it into twenty rows.
const QUIET: usize = 2;
const QUIET_ABOVE: usize = 1;
/// Columns left of it.
const MARGIN: u16 = 1;
/// Columns between code and words, and those that words want beside it; with fewer they stand nowhere.
const GAP: u16 = 2;
const WORDS_LEAST: u16 = 16;

/// What a phone is shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhoneCode {
    /// The address that opens the page, key included.
    pub address: String,
    /// The modules of its code, row by row: as many columns as rows, `true` is dark.
    pub modules: Vec<Vec<bool>>,
    /// Whether alerts can be acknowledged on the page.
    pub acknowledges: bool,
}

impl PhoneCode {
    /// Columns and rows of the code with its margin, two rows of modules in each.
    fn size(&self) -> (u16, u16) {
        let modules = self.modules.len();
        let rows = (modules + 2 * QUIET_ABOVE).div_ceil(2);
        (u16::try_from(modules + 2 * QUIET).unwrap_or(u16::MAX), u16::try_from(rows).unwrap_or(u16::MAX))
    }

    /// Rows that it wants, its heading included.
    #[must_use]
    pub fn height(&self) -> u16 {
        self.size().1.saturating_add(1)
    }

    /// The part of an area beside the code where it has no row to spare above it: there the heading stands.
    #[must_use]
    pub fn heading_in(&self, area: Rect) -> Rect {
        let (columns, rows) = self.size();
        let beside = (MARGIN + columns + GAP).min(area.width);
        let is_tight = area.height == rows && beside < area.width;
        if is_tight { Rect { x: area.x + beside, width: area.width - beside, ..area } } else { area }
    }

    fn fits(&self, area: Rect) -> bool {
        let (columns, rows) = self.size();
        columns <= area.width && rows <= area.height
    }

    /// What it is for, and what it is worth.
    fn words(&self) -> String {
        let may =
            if self.acknowledges { "sees the watch and can acknowledge alerts" } else { "sees the watch" };
        format!(
            "Point the camera of a phone on the boat's network at it. Whoever has it {may}: `nightrode page --renew` makes \
             it worthless."
        )
    }

    /// Draws the code, and the words beside it. Where the code has no room its address stands for it.
    pub fn render(&self, scene: &Scene, whole: Rect, buf: &mut Buffer) {
        let is_tight = self.heading_in(whole) != whole;
        let above = u16::from(!is_tight).min(whole.height);
        let area = Rect {
            x: whole.x + MARGIN.min(whole.width),
            y: whole.y + above,
            width: whole.width.saturating_sub(2 * MARGIN),
            height: whole.height - above,
        };
        if !self.fits(area) {
            let (columns, rows) = self.size();
            let words = format!(
                "The code needs {columns} columns and {rows} rows. There are fewer here, or an alert or a notice has them: \
                 make the window larger, or type this address, which it holds:"
            );
            let mut said = wrap(&words, area.width);
            said.extend(pieces(&self.address, area.width));
            return lines(scene, said, area, buf);
        }
        let (columns, rows) = self.size();
        let (dark, style) = scene.palette.code();
        let mut pen = Pen::new(buf, area);
        for y in 0..rows {
            let line: String = (0..columns).map(|x| self.sign(x, y, dark)).collect();
            pen.put(0, y, &line, style);
        }
        let beside = columns + GAP;
        let width = area.width.saturating_sub(beside);
        if width >= WORDS_LEAST {
            // Below the heading, and a row of air.
            let top = if is_tight { 2 } else { 1 };
            let height = area.height.saturating_sub(top);
            let words = Rect { x: area.x + beside, y: area.y + top.min(area.height), width, height };
            lines(scene, wrap(&self.words(), width), words, buf);
        }
    }

    /// The sign of a cell: its two modules, of which the dark ones are drawn, or the light ones.
    fn sign(&self, x: u16, y: u16, draws_dark: bool) -> char {
        let is_dark = |row: usize| {
            let column = usize::from(x).checked_sub(QUIET);
            let row = row.checked_sub(QUIET_ABOVE);
            let module = row.and_then(|row| self.modules.get(row)?.get(column?));
            module.copied().unwrap_or(false)
        };
        let above = usize::from(y) * 2;
        match (is_dark(above) == draws_dark, is_dark(above + 1) == draws_dark) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        }
    }
}

/// A word that is longer than a row, in rows.
fn pieces(word: &str, columns: u16) -> Vec<String> {
    let letters: Vec<char> = word.chars().collect();
    letters.chunks(usize::from(columns.max(1))).map(|piece| piece.iter().collect()).collect()
}

fn lines(scene: &Scene, said: Vec<String>, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    for (y, line) in (0..area.height).zip(said) {
        pen.put(0, y, &line, scene.ink(Ink::Text));
    }
}
