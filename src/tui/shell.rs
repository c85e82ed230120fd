//! The shell of a form that has the screen to itself: a title, the form or its page, and the keys.

use jiff::tz::TimeZone;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyEvent, KeyEventKind, KeyModifiers, MouseButton, MouseEventKind};
use ratatui::layout::Rect;

use super::hits::{Hits, Target};
use super::keys::Hint;
use super::overlay::form::Form;
use super::palette::{Ink, Palette};
use super::scene::Scene;
use super::text::{Clock, Pen};
use super::view::keybar;
use crate::watch::snapshot::Snapshot;

/// Columns beyond which a form's lines are no easier to read.
pub const FORM_COLUMNS: u16 = 90;

/// The shell, as it was last drawn.
#[derive(Debug)]
pub struct Shell {
    palette: Palette,
    hits: Hits,
}

/// What stands about a form.
#[derive(Clone, Debug)]
pub struct Frame<'a> {
    /// Its title.
    pub title: &'a str,
    /// Its keys, the most useful first.
    pub hints: &'a [Hint],
    /// How something went; it stands in place of the keys.
    pub said: Option<&'a str>,
}

impl Shell {
    /// A shell in these colours.
    #[must_use]
    pub fn new(palette: Palette) -> Self {
        Self { palette, hits: Hits::default() }
    }

    /// The key that an event is: pressed, or clicked on in the bottom row. A click on a field goes to it.
    pub fn key(&self, event: &Event, form: &mut Form) -> Option<KeyEvent> {
        match event {
            Event::Key(key) if key.kind != KeyEventKind::Release => Some(*key),
            Event::Mouse(mouse) if mouse.kind == MouseEventKind::Down(MouseButton::Left) => {
                match self.hits.at(mouse.column, mouse.row)?.0 {
                    Target::Key(code) => Some(KeyEvent::new(code, KeyModifiers::NONE)),
                    Target::Row(row) => {
                        form.pick(row);
                        None
                    }
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// Draws it about a body.
    pub fn render(
        &mut self,
        frame: &Frame,
        area: Rect,
        buf: &mut Buffer,
        body: impl FnOnce(&Scene, Rect, &mut Buffer, &mut Hits),
    ) {
        let area = area.intersection(buf.area);
        let (snap, clock) = (Snapshot::default(), Clock::new(TimeZone::UTC));
        let scene = Scene { snap: &snap, palette: self.palette, clock: &clock, lit: true, cell_aspect: 0.5 };
        let mut hits = Hits::default();
        let mut pen = Pen::new(buf, area);
        pen.blank(0..area.height, self.palette.ground());
        pen.put(1, 0, frame.title, scene.ink(Ink::Strong));
        let row =
            Rect { y: area.bottom().saturating_sub(1), height: area.height.saturating_sub(1).min(1), ..area };
        match frame.said {
            Some(said) => {
                Pen::new(buf, row).put(1, 0, said, scene.ink(Ink::Text));
            }
            None => keybar::render(&scene, frame.hints, row, buf, &mut hits),
        }
        let inner = Rect {
            x: area.x + 1.min(area.width),
            y: area.y + 2.min(area.height),
            width: area.width.saturating_sub(2),
            height: area.height.saturating_sub(4),
        };
        body(&scene, inner, buf, &mut hits);
        self.hits = hits;
    }
}
