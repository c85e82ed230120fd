//! What is about her: alerts that stand, other vessels, the next round, and what has happened.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::facts;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, metres, rounded};
use crate::watch::snapshot::VesselView;
use crate::watch::units::{Metres, Span};

/// Vessels that are listed: those nearest.
const VESSELS_MOST: usize = 5;
/// Columns of the names.
const NAMES: u16 = 10;

/// Draws it, as far as rows go.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let y = alerts(scene, &mut pen);
    let y = vessels(scene, &mut pen, y + 1);
    let y = round(scene, &mut pen, y + 1);
    facts::past(scene, &mut pen, y);
}

fn alerts(scene: &Scene, pen: &mut Pen) -> u16 {
    let lines = facts::standing(scene, pen.width());
    if lines.is_empty() {
        let none = if scene.headline().is_some() { "no other alerts" } else { "no alerts" };
        pen.put(0, 0, none, scene.ink(Ink::Dim));
        return 1;
    }
    let mut y = 0;
    for (line, ink) in lines {
        pen.put(0, y, &line, scene.ink(ink));
        y += 1;
    }
    y
}

/// The vessels that have a transponder, the nearest first, by their distance from the anchor as on the chart.
fn vessels(scene: &Scene, pen: &mut Pen, mut y: u16) -> u16 {
    let vessels = &scene.snap.vessels;
    if vessels.is_empty() {
        pen.put(0, y, "no vessel with a transponder within 2 M", scene.ink(Ink::Dim));
        return y + 1;
    }
    for vessel in vessels.iter().take(VESSELS_MOST) {
        let ink = if vessel.closes_in.is_some() { Ink::Trouble } else { Ink::Text };
        let name = vessel.called();
        pen.put_within(0, y, NAMES.max(pen.width() / 3), &name, scene.ink(ink));
        pen.put(NAMES.max(pen.width() / 3) + 1, y, &lies(vessel), scene.ink(ink));
        y += 1;
    }
    pen.put(0, y, "distances from the anchor", scene.ink(Ink::Dim));
    y + 1
}

fn lies(vessel: &VesselView) -> String {
    let (far, way) = (metres(Metres(vessel.point.length_m())), vessel.point.bearing());
    let speed = vessel.sog.map_or_else(String::new, |sog| format!("  {} kn", rounded(sog.0, 1)));
    let closes = match vessel.closes_in {
        None => String::new(),
        Some(Span::ZERO) => "  at the circle".to_owned(),
        Some(span) => format!("  at the circle in {span}"),
    };
    format!("{far}  {way}{speed}{closes}")
}

/// When the next round is due, and whose it is.
fn round(scene: &Scene, pen: &mut Pen, y: u16) -> u16 {
    let rounds = &scene.snap.rounds;
    pen.put(0, y, "round", scene.ink(Ink::Dim));
    let (words, ink) = match rounds.due {
        None => ("no interval set".to_owned(), Ink::Dim),
        Some(due) if due > scene.snap.at => (scene.clock.hm(due), Ink::Strong),
        Some(due) => (format!("was due at {}", scene.clock.hm(due)), Ink::Strong),
    };
    let mut x = pen.put(NAMES, y, &words, scene.ink(ink));
    for (who, when) in [(&rounds.on_now, "on watch"), (&rounds.next, "next")] {
        if let Some(who) = who {
            x = pen.put(x + 2, y, &format!("{} {when}", who.name), scene.ink(Ink::Text));
        }
    }
    y + 1
}
