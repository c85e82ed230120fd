//! A drawn screen as an SVG picture: dots and blocks as shapes, so that they are sharp and need no font; words as text.

use std::collections::BTreeMap;
use std::fmt::Write;

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

const CELL_W: usize = 10;
const CELL_H: usize = 20;
/// Where a letter stands in its cell, and how large it is.
const BASELINE: usize = 15;
const FONT_PX: usize = 16;

/// The picture of a screen whose colours are all 24 bits.
pub fn picture(buf: &Buffer) -> String {
    let (columns, rows) = (usize::from(buf.area.width), usize::from(buf.area.height));
    let (width, height) = (columns * CELL_W, rows * CELL_H);
    let ground = buf.content().first().map_or("#000".to_owned(), |cell| rgb(cell.bg));
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" font-size=\"{FONT_PX}\" \
         font-family=\"'DejaVu Sans Mono','Menlo','Consolas',monospace\">\n<rect width=\"{width}\" \
         height=\"{height}\" fill=\"{ground}\"/>\n"
    );
    let mut shapes = Shapes::default();
    let mut words = String::new();
    for (y, row) in buf.content().chunks(columns.max(1)).enumerate() {
        let mut x = 0;
        while x < row.len() {
            let alike = row[x..].iter().take_while(|cell| style(cell) == style(&row[x])).count();
            let run = &row[x..x + alike];
            let back = rgb(run[0].bg);
            if back != ground {
                shapes.block(&back, x * CELL_W, y * CELL_H, alike * CELL_W, CELL_H);
            }
            write_run(run, (x, y), &mut shapes, &mut words);
            x += alike;
        }
    }
    shapes.print(&mut svg);
    svg.push_str(&words);
    svg.push_str("</svg>\n");
    svg
}

/// Pictures of one size side by side, each under its name.
pub fn sheet(pictures: &[(&str, String)], columns: usize, (wide, high): (u16, u16)) -> String {
    let (w, h) = (usize::from(wide) * CELL_W, usize::from(high) * CELL_H);
    let (step_x, step_y) = (w + 2 * CELL_W, h + 3 * CELL_H);
    let rows = pictures.len().div_ceil(columns);
    let (width, height) = (columns * step_x, rows * step_y);
    let mut sheet = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" font-size=\"{FONT_PX}\" \
         font-family=\"'DejaVu Sans Mono','Menlo','Consolas',monospace\">\n<rect width=\"{width}\" \
         height=\"{height}\" fill=\"#808080\"/>\n"
    );
    for (i, (name, picture)) in pictures.iter().enumerate() {
        let (x, y) = (i % columns * step_x + CELL_W, i / columns * step_y + CELL_H * 3 / 2);
        let _ = writeln!(sheet, "<text x=\"{x}\" y=\"{}\" fill=\"#ffffff\">{name}</text>", y - CELL_H / 2);
        let place = format!("<svg x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" ");
        sheet.push_str(&picture.replacen("<svg ", &place, 1));
    }
    sheet + "</svg>\n"
}

fn style(cell: &Cell) -> (Color, Color, Modifier) {
    (cell.fg, cell.bg, cell.modifier)
}

fn rgb(colour: Color) -> String {
    match colour {
        Color::Rgb(r, g, b) => format!("#{r:02x}{g:02x}{b:02x}"),
        other => panic!("a picture needs 24-bit colours, not {other:?}"),
    }
}

/// Cells of one style: shapes to the shapes, the rest as words.
fn write_run(run: &[Cell], (x, y): (usize, usize), shapes: &mut Shapes, words: &mut String) {
    let ink = rgb(run[0].fg);
    let mut word: Option<(usize, String)> = None;
    let mut close = |word: &mut Option<(usize, String)>| {
        let Some((start, text)) = word.take() else { return };
        let long = text.chars().count() * CELL_W;
        let heavy = if run[0].modifier.contains(Modifier::BOLD) { " font-weight=\"bold\"" } else { "" };
        let text = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        let (left, base) = (start * CELL_W, y * CELL_H + BASELINE);
        let _ = writeln!(
            words,
            "<text x=\"{left}\" y=\"{base}\" fill=\"{ink}\"{heavy} textLength=\"{long}\">{text}</text>"
        );
    };
    for (i, cell) in run.iter().enumerate() {
        let symbol = cell.symbol().chars().next().unwrap_or(' ');
        if symbol == ' ' || shapes.take(symbol, &ink, (x + i) * CELL_W, y * CELL_H) {
            close(&mut word);
        } else {
            word.get_or_insert_with(|| (x + i, String::new())).1.push(symbol);
        }
    }
    close(&mut word);
}

/// Paths by colour: what is filled, and where dots stand.
#[derive(Default)]
struct Shapes {
    /// In the order in which a colour first came, so that a ground lies below what is on it.
    filled: Vec<(String, String)>,
    dots: BTreeMap<String, String>,
}

impl Shapes {
    /// Draws the character if it is a shape.
    fn take(&mut self, symbol: char, ink: &str, x: usize, y: usize) -> bool {
        let (w, h) = (CELL_W, CELL_H);
        let mid = h / 2 - 1;
        match symbol {
            '\u{2800}'..='\u{28ff}' => self.braille(symbol as u32 - 0x2800, ink, x, y),
            '\u{2581}'..='\u{2588}' => {
                let tall = h * (symbol as usize - 0x2580) / 8;
                self.block(ink, x, y + h - tall, w, tall);
            }
            '▀' => self.block(ink, x, y, w, h / 2),
            '─' => self.block(ink, x, y + mid, w, 2),
            '━' => self.block(ink, x, y + mid - 1, w, 4),
            '╌' => {
                self.block(ink, x + 1, y + mid, 3, 2);
                self.block(ink, x + 6, y + mid, 3, 2);
            }
            '│' => self.block(ink, x + w / 2 - 1, y, 2, h),
            '├' | '┤' | '┼' => {
                self.block(ink, x + w / 2 - 1, y, 2, h);
                let (left, long) = match symbol {
                    '├' => (w / 2, w / 2),
                    '┤' => (0, w / 2),
                    _ => (0, w),
                };
                self.block(ink, x + left, y + mid, long, 2);
            }
            _ => return false,
        }
        true
    }

    fn block(&mut self, ink: &str, x: usize, y: usize, w: usize, h: usize) {
        let at = self.filled.iter().position(|(colour, _)| colour == ink).unwrap_or_else(|| {
            self.filled.push((ink.to_owned(), String::new()));
            self.filled.len() - 1
        });
        let _ = write!(self.filled[at].1, "M{x} {y}h{w}v{h}h-{w}z");
    }

    fn braille(&mut self, bits: u32, ink: &str, x: usize, y: usize) {
        // Unicode's numbering: column by column for the upper three rows, then the lowest row.
        const PLACES: [(usize, usize); 8] = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)];
        let path = self.dots.entry(ink.to_owned()).or_default();
        for (bit, (column, row)) in PLACES.into_iter().enumerate() {
            if bits >> bit & 1 == 1 {
                let _ = write!(path, "M{}.5 {}.5h0", x + 2 + 5 * column, y + 2 + 5 * row);
            }
        }
    }

    fn print(&self, svg: &mut String) {
        for (ink, path) in &self.filled {
            let _ = writeln!(svg, "<path fill=\"{ink}\" d=\"{path}\"/>");
        }
        for (ink, path) in &self.dots {
            let _ = writeln!(
                svg,
                "<path stroke=\"{ink}\" stroke-width=\"3.4\" stroke-linecap=\"round\" d=\"{path}\"/>"
            );
        }
    }
}
