//! A sheet of braille dots, two by four to a cell, with an ink for each cell.
//!
//! Braille works in every terminal and font; a cell shows the ink of the uppermost thing in it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::palette::{Ink, Palette};

/// A point on the sheet in dots, from its top left corner.
pub type Dot = (f64, f64);

/// How a line is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// Unbroken.
    Solid,
    /// One dot in so many.
    Every(u32),
    /// As many dots on, then as many off.
    Dashes(u32, u32),
}

impl Pattern {
    fn shows(self, walked: u32) -> bool {
        match self {
            Self::Solid => true,
            Self::Every(n) => walked.is_multiple_of(n.max(1)),
            Self::Dashes(on, off) => walked % on.saturating_add(off).max(1) < on,
        }
    }
}

/// Dots over an area of the screen.
#[derive(Clone, Debug)]
pub struct Dots {
    area: Rect,
    cells: Vec<CellDots>,
}

#[derive(Clone, Copy, Debug, Default)]
struct CellDots {
    bits: u8,
    ink: Option<Ink>,
    layer: u8,
}

impl Dots {
    /// An empty sheet over `area`.
    #[must_use]
    pub fn new(area: Rect) -> Self {
        Self { area, cells: vec![CellDots::default(); usize::from(area.width) * usize::from(area.height)] }
    }

    /// Width in dots.
    #[must_use]
    pub fn width(&self) -> f64 {
        f64::from(self.area.width) * 2.0
    }

    /// Height in dots.
    #[must_use]
    pub fn height(&self) -> f64 {
        f64::from(self.area.height) * 4.0
    }

    /// Sets one dot; off the sheet, nothing. A higher layer gives a cell its ink.
    pub fn dot(&mut self, (x, y): Dot, ink: Ink, layer: u8) {
        if !(x >= 0.0 && y >= 0.0 && x < self.width() && y < self.height()) {
            return;
        }
        // In range by the check above, so the casts keep the value.
        let (x, y) = (x as usize, y as usize);
        let Some(cell) = self.cells.get_mut((y / 4) * usize::from(self.area.width) + x / 2) else { return };
        cell.bits |= BITS[y % 4][x % 2];
        if cell.ink.is_none() || layer >= cell.layer {
            cell.ink = Some(ink);
            cell.layer = layer;
        }
    }

    /// A straight line; what is off the sheet is cut.
    pub fn line(&mut self, from: Dot, to: Dot, ink: Ink, layer: u8) {
        self.path(&[from, to], Pattern::Solid, ink, layer);
    }

    /// Lines from point to point; what is off the sheet is cut.
    pub fn path(&mut self, points: &[Dot], pattern: Pattern, ink: Ink, layer: u8) {
        let mut walked = 0_u32;
        for pair in points.windows(2) {
            let Some((from, to)) = self.clip(pair[0], pair[1]) else { continue };
            let steps = (to.0 - from.0).abs().max((to.1 - from.1).abs()).ceil().max(1.0);
            let mut step = 0.0;
            while step < steps {
                if pattern.shows(walked) {
                    let t = step / steps;
                    self.dot((from.0 + t * (to.0 - from.0), from.1 + t * (to.1 - from.1)), ink, layer);
                }
                walked = walked.wrapping_add(1);
                step += 1.0;
            }
        }
        if let (Pattern::Solid, Some(&last)) = (pattern, points.last()) {
            self.dot(last, ink, layer);
        }
    }

    /// A filled polygon with its edge.
    pub fn fill(&mut self, corners: &[Dot], ink: Ink, layer: u8) {
        let Some(&first) = corners.first() else { return };
        let rows = corners.iter().map(|c| c.1).filter(|y| y.is_finite());
        let top = rows.clone().fold(f64::INFINITY, f64::min).clamp(0.0, self.height()).floor();
        let bottom = rows.fold(f64::NEG_INFINITY, f64::max).clamp(0.0, self.height()).ceil();
        let mut y = top + 0.5;
        while y < bottom {
            for (left, right) in crossings(corners, y) {
                let mut x = left.max(0.0).round() + 0.5;
                while x < right.min(self.width()) {
                    self.dot((x, y), ink, layer);
                    x += 1.0;
                }
            }
            y += 1.0;
        }
        self.path(corners, Pattern::Solid, ink, layer);
        if let Some(&last) = corners.last() {
            self.line(last, first, ink, layer);
        }
    }

    /// Puts the dots on the screen, over what is there.
    pub fn print(&self, palette: Palette, buf: &mut Buffer) {
        for (i, cell) in self.cells.iter().enumerate() {
            let Some(ink) = cell.ink else { continue };
            let (column, row) = (i % usize::from(self.area.width), i / usize::from(self.area.width));
            // Both are below the area's own width and height.
            let place = (self.area.x + column as u16, self.area.y + row as u16);
            if let Some(target) = buf.cell_mut(place) {
                let glyph = char::from_u32(0x2800 + u32::from(cell.bits)).unwrap_or(' ');
                // A line below dots would be read as part of them.
                let style = palette.style(ink).remove_modifier(Modifier::UNDERLINED);
                target.set_char(glyph).set_style(style);
            }
        }
    }

    /// The part of a line that lies on the sheet (Liang and Barsky 1984); `None` off it or without finite ends.
    fn clip(&self, from: Dot, to: Dot) -> Option<(Dot, Dot)> {
        if ![from.0, from.1, to.0, to.1].iter().all(|v| v.is_finite()) {
            return None;
        }
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let edges = [(-dx, from.0), (dx, self.width() - from.0), (-dy, from.1), (dy, self.height() - from.1)];
        let (mut start, mut end) = (0.0_f64, 1.0_f64);
        for (p, q) in edges {
            if p == 0.0 {
                if q < 0.0 {
                    return None;
                }
            } else if p < 0.0 {
                start = start.max(q / p);
            } else {
                end = end.min(q / p);
            }
        }
        let at = |t: f64| (from.0 + t * dx, from.1 + t * dy);
        (start <= end).then(|| (at(start), at(end)))
    }
}

/// Unicode's numbering of the dots in a braille cell, by row and column.
const BITS: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// Where the row at `y` runs inside the polygon: pairs of left and right, by the even-odd rule.
fn crossings(corners: &[Dot], y: f64) -> Vec<(f64, f64)> {
    let mut xs: Vec<f64> = Vec::new();
    for (i, &(x0, y0)) in corners.iter().enumerate() {
        let (x1, y1) = corners[(i + 1) % corners.len()];
        if (y0 <= y) != (y1 <= y) {
            xs.push(x0 + (y - y0) / (y1 - y0) * (x1 - x0));
        }
    }
    xs.sort_by(f64::total_cmp);
    xs.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printed(dots: &Dots) -> Vec<String> {
        let mut buf = Buffer::empty(dots.area);
        dots.print(Palette::default(), &mut buf);
        let width = usize::from(dots.area.width).max(1);
        buf.content().chunks(width).map(|row| row.iter().map(|c| c.symbol()).collect()).collect()
    }

    #[test]
    fn dots_stand_where_unicode_numbers_them() {
        let mut dots = Dots::new(Rect::new(0, 0, 2, 1));
        dots.dot((0.0, 0.0), Ink::Text, 0);
        dots.dot((3.9, 3.9), Ink::Text, 0);
        dots.dot((4.0, 0.0), Ink::Text, 0);
        dots.dot((f64::NAN, -1.0), Ink::Text, 0);
        assert_eq!(printed(&dots), ["⠁⢀"]);
    }

    #[test]
    fn a_line_from_far_off_is_cut_at_the_edge() {
        let mut dots = Dots::new(Rect::new(0, 0, 3, 1));
        dots.line((-1e12, 2.0), (1e12, 2.0), Ink::Text, 0);
        assert_eq!(printed(&dots), ["⠤⠤⠤"]);
    }

    #[test]
    fn a_filled_square_has_no_holes() {
        let mut dots = Dots::new(Rect::new(0, 0, 2, 1));
        dots.fill(&[(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)], Ink::Text, 0);
        assert_eq!(printed(&dots), ["⣿⣿"]);
    }
}
