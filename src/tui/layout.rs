//! Where the parts of the screen go at each size.

use ratatui::layout::Rect;

/// How much room the window gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Size {
    /// From 60×20: figures, no chart.
    Slim,
    /// From 80×24: chart and facts side by side, the strip in one row.
    Middling,
    /// From 100×30: tall verdict, the strip in three rows.
    Wide,
    /// From 160×50: taller strip.
    Large,
}

impl Size {
    /// The size of an area.
    #[must_use]
    pub fn of(area: Rect) -> Self {
        match (area.width, area.height) {
            (160.., 50..) => Self::Large,
            (100.., 30..) => Self::Wide,
            (80.., 24..) => Self::Middling,
            _ => Self::Slim,
        }
    }
}

/// The parts of the screen, top to bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parts {
    /// The alert, if one asks for the crew.
    pub band: Rect,
    /// Verdict, place, time.
    pub header: Rect,
    /// The view.
    pub body: Rect,
    /// The night.
    pub strip: Rect,
    /// What was refused, just above the keys.
    pub notice: Rect,
    /// Keys.
    pub keys: Rect,
}

impl Parts {
    /// Makes room for what lies over the view: `rows` from below the view and the strip, which goes. If too little
    /// of the view would be left, it goes too.
    #[must_use]
    pub fn under(&mut self, rows: u16) -> Rect {
        let whole = Rect { height: self.body.height + self.strip.height, ..self.body };
        let rows = if whole.height < rows + VIEW_LEAST { whole.height } else { rows };
        self.body.height = whole.height - rows;
        self.strip = Rect { y: self.body.bottom(), height: 0, ..self.body };
        Rect { y: self.body.bottom(), height: rows, ..whole }
    }
}

/// Rows of a view that are worth showing above what lies over it.
const VIEW_LEAST: u16 = 10;

/// Cuts an area into its parts: `band` rows for an alert, `header`, `strip` and `notice` rows as wished, as far as they
/// go.
#[must_use]
pub fn parts(area: Rect, band: u16, header: u16, strip: u16, notice: u16) -> Parts {
    let keys = area.height.min(1);
    let notice = notice.min(area.height / 4);
    let rest = area.height - keys - notice.min(area.height - keys);
    let notice = area.height - keys - rest;
    let band = band.min(band_most(area));
    let header = header.min(rest - band);
    let strip = strip.min((rest - band - header) / 3);
    let body = rest - band - header - strip;
    let row = |y: u16, height: u16| Rect { y: area.y + y, height, ..area };
    Parts {
        band: row(0, band),
        header: row(band, header),
        body: row(band + header, body),
        strip: row(band + header + body, strip),
        notice: row(rest, notice),
        keys: row(rest + notice, keys),
    }
}

/// Rows that an alert may take above `strip` and `notice`: the picture keeps at least half of the screen. A small window
/// has none, and its figures do with fewer.
#[must_use]
pub fn band_rows(area: Rect, strip: u16, notice: u16) -> u16 {
    let picture = if Size::of(area) == Size::Slim { SLIM_LEAST } else { area.height / 2 };
    area.height.saturating_sub(1 + strip + notice + picture).min(band_most(area))
}

/// Whatever happens, the view keeps something.
const fn band_most(area: Rect) -> u16 {
    area.height * 3 / 5
}

/// Rows of figures that are worth showing below an alert.
const SLIM_LEAST: u16 = 7;

/// Columns of the facts at least: `backed 118° since brought up` is a fact in one row.
const FACTS_LEAST: u16 = 38;

/// Chart and facts beside each other.
#[must_use]
pub fn chart_and_facts(body: Rect) -> (Rect, Rect) {
    let facts = (body.width * 2 / 5).clamp(FACTS_LEAST, 62).min(body.width);
    let chart = body.width - facts;
    let gap = 2.min(chart);
    (
        Rect { x: body.x + 1.min(chart), width: (chart - gap).saturating_sub(1), ..body },
        Rect { x: body.x + chart, width: facts.saturating_sub(1), ..body },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_fill_the_screen_without_overlap() {
        for height in 1..80 {
            for (band, header, strip, notice) in [(0, 4, 5, 0), (9, 1, 2, 2), (99, 99, 99, 99), (0, 0, 0, 0)]
            {
                let area = Rect::new(0, 0, 80, height);
                let p = parts(area, band, header, strip, notice);
                let all = [p.band, p.header, p.body, p.strip, p.notice, p.keys];
                assert_eq!(all.iter().map(|part| part.height).sum::<u16>(), height);
                assert!(all.windows(2).all(|pair| pair[0].bottom() == pair[1].y));
            }
        }
    }
}
