//! A bar of what is left of something.

use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::Pen;

/// The part that `left` is of `whole`, `0.0..=1.0`; nothing when there is no whole.
#[must_use]
pub fn share(left: f64, whole: f64) -> f64 {
    let share = left / whole;
    if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 }
}

/// Draws the bar, `columns` long, at column and row.
pub fn put(scene: &Scene, pen: &mut Pen, (x, y): (u16, u16), columns: u16, share: f64, ink: Ink) {
    let full = (share * f64::from(columns)).round() as usize;
    let rest = usize::from(columns).saturating_sub(full);
    let x = pen.put(x, y, &"━".repeat(full), scene.ink(ink));
    pen.put(x, y, &"╌".repeat(rest), scene.ink(Ink::Faint));
}
