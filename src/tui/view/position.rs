//! Where she is, large enough to be read into a radio; then where her anchor lies.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::glyphs;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, ago, metres, wrap};
use crate::watch::geo::Position;
use crate::watch::snapshot::FixQuality;

/// The widest longitude, so that nothing jumps.
const WIDEST: &str = "000°00.000′W";

/// Draws it: how good the position is, latitude and longitude as tall as the area allows, and the rest in lines below.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let area = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    let (quality, ink) = quality(scene);
    let mut y = put_lines(scene, &[(quality, ink)], area, 0, buf);
    if let Some(position) = scene.snap.fix.position {
        y = tall(scene, position, ink, below(area, y), buf) + y;
    }
    let lines = lines(scene);
    let spare = usize::from(y) + lines.len() < usize::from(area.height);
    put_lines(scene, &lines, area, y + u16::from(spare), buf);
}

fn below(area: Rect, rows: u16) -> Rect {
    let rows = rows.min(area.height);
    Rect { y: area.y + rows, height: area.height - rows, ..area }
}

/// What position this is: its age, and whether it can be trusted.
fn quality(scene: &Scene) -> (String, Ink) {
    let fix = &scene.snap.fix;
    let age = fix.at.map_or_else(String::new, |at| ago(scene.snap.at.since(at)));
    match (&fix.quality, fix.position) {
        (_, None) | (FixQuality::Never, _) => ("No position has come yet.".to_owned(), Ink::Trouble),
        (FixQuality::Good, _) => {
            let within = fix.sigma.map_or_else(String::new, |s| format!(", within {}", metres(s * 2.0)));
            (format!("Own position by the antenna, {age}{within}"), Ink::Strong)
        }
        (FixQuality::Doubtful { why }, _) => {
            (format!("Own position, {age}, not to be trusted: {why}"), Ink::Trouble)
        }
        (FixQuality::Lost, _) => (format!("Last position, {age}: none comes now"), Ink::Trouble),
    }
}

/// Latitude above longitude, in tall letters even where that leaves no row for anything else: this is what is read into a
/// radio. Gives the rows used.
fn tall(scene: &Scene, position: Position, ink: Ink, area: Rect, buf: &mut Buffer) -> u16 {
    // Below both, three lines must have room.
    let rows = area.height.saturating_sub(6) / 2;
    let least = || glyphs::fitting(WIDEST, (area.width, area.height.saturating_sub(1) / 2), 1);
    let scale = glyphs::fitting(WIDEST, (area.width, rows), 3).or_else(least);
    let parts = [position.latitude(), position.longitude()];
    let Some(scale) = scale else {
        Pen::new(buf, area).put(0, 1, &position.to_string(), scene.ink(ink));
        return 2;
    };
    let each = glyphs::rows(scale) + 1;
    let clear = u16::from(area.height > 2 * each + 1);
    for (n, text) in (0..).zip(&parts) {
        // To the right, so that minutes stand under minutes.
        let indent = glyphs::columns(WIDEST, scale).saturating_sub(glyphs::columns(text, scale));
        let spot = below(area, clear + n * each);
        let spot = Rect { x: spot.x + indent, width: spot.width.saturating_sub(indent), ..spot };
        glyphs::put(buf, spot, text, scale, scene.ink(ink));
    }
    clear + 2 * each - 1
}

fn lines(scene: &Scene) -> Vec<(String, Ink)> {
    let snap = scene.snap;
    let boat = match snap.settings.boat.name.as_str() {
        "" => String::new(),
        name => format!("{name}   "),
    };
    let time = format!("{boat}{} local time   {} UTC", scene.clock.hm(snap.at), scene.utc());
    let mut lines = vec![(time, Ink::Text)];
    if let Some(drop) = snap.drop {
        lines.push((format!("Anchor   {}", drop.position), Ink::Strong));
        if let Some((distance, bearing)) = snap.anchor_off {
            let point = scene.point_word().to_lowercase();
            lines.push((format!("         {} from the {point}, {bearing}", metres(distance)), Ink::Text));
        }
    }
    lines
}

fn put_lines(scene: &Scene, lines: &[(String, Ink)], area: Rect, top: u16, buf: &mut Buffer) -> u16 {
    let mut pen = Pen::new(buf, area);
    let mut y = top;
    for (text, ink) in lines {
        for line in wrap(text, area.width) {
            pen.put(0, y, &line, scene.ink(*ink));
            y += 1;
        }
    }
    y
}
