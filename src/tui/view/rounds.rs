//! Rounds: when the next is due and whose it is, what to look at, and what earlier ones found.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::keys::{Act, label};
use crate::tui::overlay::forms::wakes_for;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, cut, metres, width, wrap};
use crate::watch::lights::Shown;
use crate::watch::marks::{Bearings, MarkView, TakenView};
use crate::watch::rounds::{OnWatch, RoundDone, RoundItem, RoundState, RoundsView};
use crate::watch::snapshot::Stage;

/// From so many columns the earlier rounds stand beside the next one.
const BESIDE: u16 = 100;
/// Columns of the item before what the instruments say of it.
const ITEM: u16 = 20;

/// Rows that are looked through for something to read; forty marks and a week of rounds fit.
const ROWS_MAX: u16 = 400;

/// Draws the view from row `down`, or from as far down as there is something to read; gives that row.
pub fn render(scene: &Scene, down: u16, area: Rect, buf: &mut Buffer) -> u16 {
    let whole = Rect { x: 0, y: 0, width: area.width, height: ROWS_MAX };
    let mut page = Buffer::empty(whole);
    page.set_style(whole, scene.palette.ground());
    let blank = page[(0, 0)].clone();
    draw(scene, whole, &mut page);
    let written = |row: u16| (0..whole.width).any(|x| page[(x, row)] != blank);
    let rows = (0..ROWS_MAX).rev().find(|row| written(*row)).map_or(0, |row| row + 1);
    let down = down.min(rows.saturating_sub(area.height));
    let shown = area.intersection(buf.area);
    for y in 0..shown.height.min(rows.saturating_sub(down)) {
        for x in 0..shown.width {
            buf[(shown.x + x, shown.y + y)] = page[(x, down + y)].clone();
        }
    }
    let mut pen = Pen::new(buf, area);
    if rows.saturating_sub(down) > area.height && area.height > 0 {
        pen.put_more(area.height - 1, "↓ more", scene.ink(Ink::Boat));
    }
    if down > 0 {
        pen.put_more(0, "↑ more", scene.ink(Ink::Boat));
    }
    down
}

fn draw(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let area = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    let (left, right) = if area.width >= BESIDE {
        let left = area.width * 3 / 5;
        (
            Rect { width: left - 2, ..area },
            Some(Rect { x: area.x + left + 1, width: area.width - left - 1, ..area }),
        )
    } else {
        (area, None)
    };
    let below = |used: u16| Rect { y: left.y + used, height: left.height.saturating_sub(used), ..left };
    let mut used = next(scene, left, buf);
    used += lights(scene, below(used), buf);
    used += leaving(scene, below(used), buf);
    used += bearings(scene, below(used), buf);
    let behind = right.unwrap_or(below(used));
    made(scene, behind, buf);
}

/// The round that comes: when, whose, why so soon, and its list. Gives the rows used.
fn next(scene: &Scene, area: Rect, buf: &mut Buffer) -> u16 {
    let view = &scene.snap.rounds;
    let mut pen = Pen::new(buf, area);
    let mut y = 0;
    let mut say = |text: &str, ink, y: &mut u16| {
        for line in wrap(text, area.width) {
            pen.put(0, *y, &line, scene.ink(ink));
            *y += 1;
        }
    };
    let (words, ink) = due(scene, view);
    say(&words, ink, &mut y);
    for line in rota(scene, view) {
        say(&line, Ink::Text, &mut y);
    }
    if let Some(when) = wakes_for(scene.snap.wakes_for, scene.clock) {
        say(&format!("You are woken {when}."), Ink::Text, &mut y);
    }
    if let (Some(every), Some(now), false) = (view.every, view.every_now, view.shortened.is_empty()) {
        let why = view.shortened.join(", ");
        say(&format!("Every {now} instead of {every}: {why}."), Ink::Trouble, &mut y);
    }
    y += 1;
    list(scene, view, area, y, buf)
}

/// What to look at, with what the instruments show of it and what the last round found.
fn list(scene: &Scene, view: &RoundsView, area: Rect, mut y: u16, buf: &mut Buffer) -> u16 {
    let mut pen = Pen::new(buf, area);
    for line in &view.lines {
        pen.put_within(0, y, ITEM - 1, line.item.words(), scene.ink(Ink::Text));
        let differed = view.done.last().and_then(|round| note_on(round, &line.item));
        let shows = wrap(&line.shows, area.width.saturating_sub(ITEM));
        for shown in &shows {
            pen.put(ITEM, y, shown, scene.ink(Ink::Dim));
            y += 1;
        }
        y += u16::from(shows.is_empty());
        if let Some(note) = differed {
            for line in wrap(&format!("last time: {note}"), area.width.saturating_sub(ITEM)) {
                pen.put(ITEM, y, &line, scene.ink(Ink::Trouble));
                y += 1;
            }
        }
    }
    (y + 1).min(area.height)
}

/// What she shows now and next, in one line: the rules stand in the help. Gives the rows used.
fn lights(scene: &Scene, area: Rect, buf: &mut Buffer) -> u16 {
    let view = &scene.snap.lights;
    if view.now.is_empty() || area.height < 2 {
        return 0;
    }
    let list = |shown: &[Shown]| shown.iter().map(|one| one.short).collect::<Vec<_>>().join(" and ");
    let then = view.until.map(|until| format!(", from {} {}", scene.clock.hm(until), list(&view.then)));
    let words = format!("{} now{}", list(&view.now), then.unwrap_or_default());
    let mut pen = Pen::new(buf, area);
    pen.put(0, 0, "show", scene.ink(Ink::Dim));
    let lines = wrap(&words, area.width.saturating_sub(ITEM));
    for (y, line) in (0..area.height).zip(&lines) {
        pen.put(ITEM, y, line, scene.ink(Ink::Text));
    }
    (lines.len() as u16 + 1).min(area.height)
}

/// Whether she may be left, and why not yet. Gives the rows used.
fn leaving(scene: &Scene, area: Rect, buf: &mut Buffer) -> u16 {
    let Some(leaving) = &scene.snap.setting.leaving else { return 0 };
    let mut pen = Pen::new(buf, area);
    let held = leaving.held_for.map_or_else(String::new, |held| format!("held for {held}; "));
    let words = if leaving.reasonable {
        format!("{held}reasonable, if your marks stood")
    } else {
        format!("not yet: {}", leaving.not_yet.join("; "))
    };
    pen.put(0, 0, "leaving her", scene.ink(Ink::Dim));
    let lines = wrap(&words, area.width.saturating_sub(ITEM));
    for (y, line) in (0..area.height).zip(&lines) {
        pen.put(ITEM, y, line, scene.ink(Ink::Text));
    }
    (lines.len() as u16 + 1).min(area.height)
}

/// Marks with their arcs, what is seen now, and what was taken by hand. Gives the rows used.
fn bearings(scene: &Scene, area: Rect, buf: &mut Buffer) -> u16 {
    let snap = scene.snap;
    if snap.marks.is_empty() {
        return 0;
    }
    let mut pen = Pen::new(buf, area);
    let north = snap.variation_deg.map_or_else(
        || "arcs in ° true".to_owned(),
        |deg| format!("arcs in ° true; M is {:.0}° {}", deg.abs(), if deg > 0.0 { "less" } else { "more" }),
    );
    pen.put(0, 0, "marks", scene.ink(Ink::Dim));
    pen.put(ITEM, 0, &north, scene.ink(Ink::Dim));
    let mut y = 1;
    for mark in snap.marks.iter() {
        pen.put_within(0, y, ITEM - 1, &mark.name, scene.ink(Ink::Text));
        let x = pen.put(ITEM, y, &arc_words(mark), scene.ink(Ink::Text));
        if let Some(taken) = mark.taken {
            let (words, ink) = taken_words(scene, &taken);
            let beside = x + 3 + width(&words) <= area.width;
            y += u16::from(!beside);
            pen.put(if beside { x + 3 } else { ITEM }, y, &words, scene.ink(ink));
        }
        y += 1;
    }
    if let Some(cross) = &snap.cross {
        let off = cross.off.map_or_else(String::new, |(far, way)| {
            format!("{} {way} of the bow by the receiver, ", metres(far))
        });
        let words =
            format!("{off}cocked hat {}, at {}", metres(cross.fix.longest_side), scene.clock.hm(cross.at));
        pen.put(0, y, "fix by three", scene.ink(Ink::Text));
        pen.put(ITEM, y, &words, scene.ink(Ink::Text));
        y += 1;
    }
    (y + 1).min(area.height)
}

fn arc_words(mark: &MarkView) -> String {
    if let (Some(most), Some(now)) = (mark.opening_deg, mark.open_now_deg) {
        return format!("opens {most:.1}° at most, {:.1}° now", now.abs());
    }
    let arc = |arc: Bearings| match arc {
        Bearings::AllRound => "all round".to_owned(),
        Bearings::Between { from, to } => format!("{from} to {to}"),
    };
    // The circle allows for the lowest water; with more of it she swings less, and the arc is narrower.
    let tide =
        if mark.arc_now == mark.arc { String::new() } else { format!("; tide now {}", arc(mark.arc_now)) };
    let seen = mark.seen.map_or_else(String::new, |seen| format!("; seen {seen}"));
    format!("{}{tide}{seen}", arc(mark.arc))
}

fn taken_words(scene: &Scene, taken: &TakenView) -> (String, Ink) {
    let at = scene.clock.hm(taken.at);
    if taken.outside_deg >= 0.5 {
        (format!("by eye {} at {at}: {:.0}° outside", taken.bearing, taken.outside_deg), Ink::Trouble)
    } else {
        (format!("by eye {} at {at}: within", taken.bearing), Ink::Text)
    }
}

fn note_on<'a>(round: &'a RoundDone, item: &RoundItem) -> Option<&'a str> {
    let differs = round.differs.iter().find(|differs| differs.item == *item)?;
    Some(if differs.note.is_empty() { "differed" } else { &differs.note })
}

fn due(scene: &Scene, view: &RoundsView) -> (String, Ink) {
    let now = scene.snap.at;
    match (view.state, view.due) {
        _ if scene.snap.stage != Stage::BroughtUp && view.state == RoundState::None => {
            ("No round is asked for before she is brought up.".into(), Ink::Text)
        }
        (RoundState::None, _) | (_, None) => {
            let (often, round) = (label(Act::Limits), label(Act::Round));
            (
                format!("No rounds are asked for. {often} sets how often. {round} enters one all the same."),
                Ink::Text,
            )
        }
        (RoundState::Ahead, Some(due)) => {
            (format!("NEXT ROUND at {}, in {}", scene.clock.hm(due), due.since(now)), Ink::Strong)
        }
        (RoundState::Due, Some(due)) => (
            format!("ROUND DUE since {}: {} when it is made", scene.clock.hm(due), label(Act::Round)),
            Ink::Strong,
        ),
        (RoundState::Overdue, Some(due)) => (
            format!("ROUND OVERDUE by {}: {} when it is made", now.since(due), label(Act::Round)),
            Ink::Trouble,
        ),
    }
}

fn rota(scene: &Scene, view: &RoundsView) -> Vec<String> {
    let until = |turn: &OnWatch| scene.clock.hm(turn.until);
    match (&view.on_now, &view.next) {
        (Some(now), Some(next)) => {
            let from = scene.clock.hm(next.from);
            vec![format!("{} on watch until {}, then {} from {from}", now.name, until(now), next.name)]
        }
        (Some(now), None) => vec![format!("{} on watch until {}", now.name, until(now))],
        (None, Some(next)) => {
            vec![format!("nobody on watch by the rota; {} from {}", next.name, scene.clock.hm(next.from))]
        }
        (None, None) => Vec::new(),
    }
}

/// Earlier rounds, the latest first: when, whose, and what differed.
fn made(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let done = &scene.snap.rounds.done;
    if area.height < 2 {
        return;
    }
    let title = match done.len() {
        0 => "No round was made yet.".to_owned(),
        1 => "one round made".to_owned(),
        n => format!("{n} rounds made"),
    };
    pen.put(0, 0, &title, scene.ink(Ink::Dim));
    let mut y = 1;
    for round in done.iter().rev() {
        let time = scene.clock.hm(round.at);
        pen.put(0, y, &time, scene.ink(Ink::Text));
        let who = round.by.as_deref().unwrap_or_default();
        pen.put_within(TIME, y, TIME + WHO - 1, who, scene.ink(Ink::Dim));
        let x = if done.iter().any(|round| round.by.is_some()) { TIME + WHO } else { TIME };
        for (line, ink) in found(round, area.width.saturating_sub(x)) {
            pen.put(x, y, &line, scene.ink(ink));
            y += 1;
        }
        if y >= area.height {
            return;
        }
    }
}

/// Columns of a time of day, and of a name.
const TIME: u16 = 7;
const WHO: u16 = 8;

fn found(round: &RoundDone, columns: u16) -> Vec<(String, Ink)> {
    let mut lines: Vec<(String, Ink)> = Vec::new();
    for differs in &round.differs {
        let words = match differs.note.as_str() {
            "" => format!("{} differs", differs.item.words()),
            note => format!("{}: {note}", differs.item.words()),
        };
        lines.extend(wrap(&words, columns).into_iter().map(|line| (line, Ink::Trouble)));
    }
    let in_order = match (round.checked.len(), round.differs.len()) {
        (0, 0) => "made".to_owned(),
        (0, _) => return lines,
        (n, 0) => format!("all {n} in order"),
        (n, _) => format!("the other {n} in order"),
    };
    lines.push((cut(&in_order, columns.max(width("made"))), Ink::Text));
    lines
}
