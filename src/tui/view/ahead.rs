//! The night ahead as a table: the worst hour and why, what more rode would change, then the hours.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, wrap};
use crate::watch::ahead::{AheadHour, NightAhead, Sea, head, row};
use crate::watch::plan::Grade;

/// Rows that a table of a night wants where there is room.
pub const ROWS: u16 = 12;
/// Columns from which the sea stands beside the load.
const WITH_SEA: u16 = 100;
/// Letters of a time.
const TIME: usize = 5;

/// Draws the worst hour in words and the hours below it. Where there are not rows for all, the worst is among those shown.
pub fn render(scene: &Scene, night: &NightAhead, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let show = |at| scene.clock.hm(at);
    let ink = ink(night.grade());
    let mut y = 0;
    // The words give way to the hours: half of the rows at most.
    let most = area.height / 2;
    let said = [
        (Some(night.worst_in_words(show)), ink),
        (Some(night.sea_in_words()), Ink::Text),
        (Some(night.more_in_words()), Ink::Text),
        (night.uncovered_in_words(show), Ink::Dim),
    ];
    for (words, ink) in said.into_iter().filter_map(|(words, ink)| Some((words?, ink))) {
        let lines = wrap(&words, area.width);
        if y > 0 && y + lines.len() as u16 > most {
            break;
        }
        for line in lines {
            pen.put(0, y, &line, scene.ink(ink));
            y += 1;
        }
    }
    table(
        scene,
        night,
        Rect { y: area.y + y.min(area.height), height: area.height.saturating_sub(y), ..area },
        buf,
    );
}

/// The hours alone.
pub fn table(scene: &Scene, night: &NightAhead, area: Rect, buf: &mut Buffer) {
    if area.height < 2 {
        return;
    }
    let mut pen = Pen::new(buf, area);
    // The sea has columns of its own where what is wrong still has room behind them.
    let sea = if area.width >= WITH_SEA { night.sea() } else { Sea::InLoad };
    pen.put(0, 0, &head(TIME, sea), scene.ink(Ink::Dim));
    for (y, hour) in (1..area.height).zip(shown(night, usize::from(area.height) - 1)) {
        pen.put(0, y, &row(hour, &scene.clock.hm(hour.at), sea), scene.ink(ink(hour.grade())));
    }
}

/// So many of the hours, evenly, with the worst among them.
fn shown(night: &NightAhead, rows: usize) -> Vec<&AheadHour> {
    let (hours, worst) = (&night.hours, night.worst().at);
    let step = hours.len().div_ceil(rows.max(1)).max(1);
    let mut picked: Vec<&AheadHour> = hours.iter().step_by(step).collect();
    if !picked.iter().any(|hour| hour.at == worst) {
        // In the place of the one before it.
        let at = picked.iter().rposition(|hour| hour.at < worst).unwrap_or(0);
        if let Some(place) = picked.get_mut(at) {
            *place = night.worst();
        }
    }
    picked
}

const fn ink(grade: Grade) -> Ink {
    match grade {
        Grade::Bad => Ink::Trouble,
        Grade::Tight => Ink::Strong,
        Grade::Good => Ink::Text,
    }
}
