//! The facts of the moment, one line each: label, value with its unit, then what it means.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, priority_word};
use crate::tui::text::{self, Pen, ago, depth, knots, metres, point, shift};
use crate::tui::view::bar;
use crate::watch::alert::AlertState;
use crate::watch::snapshot::{FixQuality, HeadingBasis, MarkedHow, Reading, Stage};
use crate::watch::units::{Metres, Span, WatchTime};

/// One fact.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fact {
    /// Its name.
    pub label: &'static str,
    /// Its value; empty when nothing is known.
    pub value: String,
    /// The value's ink.
    pub ink: Option<Ink>,
    /// A bar behind the value.
    pub bar: Option<f64>,
    /// What it means, most important first.
    pub notes: Vec<(String, Ink)>,
    /// The less, the sooner it gives way when rows are short.
    pub weight: u8,
}

impl Fact {
    fn new(label: &'static str, weight: u8, value: impl Into<String>) -> Self {
        Self { label, weight, value: value.into(), ..Self::default() }
    }

    fn in_ink(mut self, ink: Ink) -> Self {
        self.ink = Some(ink);
        self
    }

    fn note(mut self, text: impl Into<String>) -> Self {
        self.notes.push((text.into(), Ink::Text));
        self
    }

    fn note_in(mut self, ink: Ink, text: impl Into<String>) -> Self {
        self.notes.push((text.into(), ink));
        self
    }
}

/// A value older than this is shown with its age even before its sensor counts as lost.
const OLD: Span = Span::from_secs(10);

/// The facts in reading order.
#[must_use]
pub fn facts(scene: &Scene) -> Vec<Fact> {
    let mut all: Vec<Fact> = place(scene).into_iter().collect();
    all.extend([anchor(scene), room(scene), wind(scene), water(scene), scope(scene), load(scene)]);
    all.push(heading(scene));
    all.extend(stream(scene));
    all.push(fix(scene));
    all
}

/// What the book knows of the place that she comes to. At anchor it is no news.
fn place(scene: &Scene) -> Option<Fact> {
    let near = scene.snap.near.as_ref().filter(|_| scene.snap.stage == Stage::NotSet)?;
    let mut fact = Fact::new("place", 8, near.name.to_string())
        .note_in(Ink::Dim, format!("{} {}", metres(near.distance), near.bearing));
    for note in &near.notes {
        fact = fact.note_in(Ink::Trouble, note.clone());
    }
    for sector in &near.barred {
        fact = fact.note(format!("not in winds {} to {}", sector.from, sector.to));
    }
    if !near.shelter.is_empty() {
        fact = fact.note(format!("shelter: {}", near.shelter));
    }
    if let Some(ride) = &near.last_ride {
        fact = fact.note_in(Ink::Dim, format!("last time: {}", ride.held));
    }
    Some(fact)
}

fn anchor(scene: &Scene) -> Fact {
    let snap = scene.snap;
    if snap.drop.is_none() {
        return Fact::new("anchor", 9, "").note("none down: d as it goes");
    }
    let Some((distance, bearing)) = snap.anchor_off else {
        return Fact::new("anchor", 9, "").note("marked, but no position");
    };
    let mut fact = Fact::new("anchor", 9, format!("{}  {bearing}", metres(distance)));
    if let Some(moved) = snap.holding.moved {
        let (far, way) = (metres(moved.distance), moved.bearing);
        let since = scene.clock.hm(moved.since);
        fact = fact.note_in(Ink::Trouble, format!("moved {far} toward {way} since {since}"));
    }
    if let Some(remark) = &snap.holding.remark {
        fact = fact.note(remark.clone());
    }
    if snap.bow.is_none() {
        fact = fact.note_in(Ink::Dim, "from the antenna");
    }
    if snap.drop.is_some_and(|drop| drop.how == MarkedHow::Antenna) {
        fact = fact.note_in(Ink::Dim, "marked at the antenna, not the bow");
    }
    fact
}

fn room(scene: &Scene) -> Fact {
    let snap = scene.snap;
    let Some(room) = snap.room else {
        let why = if snap.drop.is_none() { "no anchor, no circle" } else { "no position" };
        return Fact::new("room", 8, "").note_in(Ink::Dim, why);
    };
    let mut fact = Fact::new("room", 8, metres(room.left));
    fact.bar = Some(bar::share(room.left.0, room.of.0));
    fact.ink = (room.left.0 < 0.0).then_some(Ink::Trouble);
    if let Some(circle) = snap.set_circle {
        fact = fact.note_in(Ink::Dim, format!("circle {}", metres(circle)));
    }
    if let Some((farthest, point)) = snap.farthest {
        let when = scene.clock.hm(point.at);
        fact = fact.note_in(Ink::Dim, format!("farthest {} at {when}", metres(farthest)));
    }
    fact
}

fn wind(scene: &Scene) -> Fact {
    let wind = &scene.snap.wind;
    let (at, value) = match &wind.apparent {
        Reading::Never => return Fact::new("wind", 7, "").note_in(Ink::Dim, "no wind sensor heard"),
        Reading::Lost { last, at } => return lost(scene, "wind", 7, *at, knots(last.1)),
        Reading::Now { value, at, .. } => (*at, *value),
    };
    let speed = wind.mean.unwrap_or(value.1);
    let from = match wind.mean_direction.or(wind.direction) {
        Some(direction) => format!("{}  {direction}", knots(speed)),
        None => {
            let side = if value.0 < 0.0 { "port" } else { "starboard" };
            format!("{}  {:.0}° {side}", knots(speed), value.0.abs())
        }
    };
    let mut fact = aged(scene, Fact::new("wind", 7, from), at);
    if let Some(gust) = wind.gust {
        fact = fact.note(format!("gusts {}", text::rounded(gust.0, 0)));
    }
    if let Some(turn) = wind.shift_deg {
        let ink = if turn.abs() >= scene.snap.limits.wind_shift_deg { Ink::Trouble } else { Ink::Text };
        fact = fact.note_in(ink, format!("{} since brought up", shift(turn)));
    }
    fact
}

fn water(scene: &Scene) -> Fact {
    let (snap, view) = (scene.snap, &scene.snap.depth);
    let mut fact = match &view.sounded {
        Reading::Now { value, at, .. } => aged(scene, Fact::new("depth", 7, depth(*value)), *at),
        Reading::Lost { last, at } => lost(scene, "depth", 7, *at, depth(*last)),
        Reading::Never => match view.predicted {
            Some(by_tide) => {
                Fact::new("depth", 7, depth(by_tide)).note_in(Ink::Dim, "by the tide, no sounder")
            }
            None => return Fact::new("depth", 7, "").note_in(Ink::Dim, "no sounder, no tide told"),
        },
    };
    let trouble = |keel: Metres| if keel.0 < snap.limits.under_keel.0 { Ink::Trouble } else { Ink::Text };
    if let Some(keel) = view.under_keel {
        fact = fact.note_in(trouble(keel), format!("under keel {}", text::rounded(keel.0, 1)));
    }
    if let Some((least, at)) = view.least_under_keel {
        let words = format!("least {} at {}", text::rounded(least.0, 1), scene.clock.hm(at));
        fact = fact.note_in(trouble(least), words);
    }
    fact
}

fn scope(scene: &Scene) -> Fact {
    let rode = &scene.snap.rode;
    let Some(veered) = rode.veered else {
        let hint = if scene.snap.stage == Stage::NotSet { "nothing out" } else { "length out not told: +" };
        return Fact::new("rode", 6, "").note_in(Ink::Dim, hint);
    };
    let mut fact = Fact::new("rode", 6, format!("{} out", metres(veered)));
    if let Some(scope) = rode.scope {
        fact = fact.note(format!("scope {}", text::rounded(scope, 1)));
    }
    if let Some((least, at)) = rode.least_scope {
        let ink = if least < scene.snap.limits.scope { Ink::Trouble } else { Ink::Text };
        fact = fact.note_in(ink, format!("least {} at {}", text::rounded(least, 1), scene.clock.hm(at)));
    }
    fact
}

fn load(scene: &Scene) -> Fact {
    let rode = &scene.snap.rode;
    let Some(load) = rode.load else {
        return Fact::new("load", 3, "").note_in(Ink::Dim, "not known without wind");
    };
    let mut fact = Fact::new("load", 3, format!("{} kN", text::rounded(load.0 / 1000.0, 1)));
    match (rode.angle_anchor_deg, rode.lift_off) {
        (Some(angle), _) if angle >= 0.5 => {
            fact = fact.note_in(Ink::Trouble, format!("pulls the anchor up by {angle:.0}°"));
        }
        (_, Some(wind)) => fact = fact.note(format!("chain lifts off at {}", knots(wind))),
        _ => {}
    }
    fact
}

fn heading(scene: &Scene) -> Fact {
    match &scene.snap.heading {
        Reading::Never => Fact::new("heading", 2, "").note_in(Ink::Dim, "no heading sensor heard"),
        Reading::Lost { last, at } => lost(scene, "heading", 2, *at, last.bearing.to_string()),
        Reading::Now { value, at, .. } => {
            let basis = match value.basis {
                HeadingBasis::True => "true".to_owned(),
                HeadingBasis::FeedVariation => {
                    format!("compass, {} told by it", variation(value.variation_deg))
                }
                HeadingBasis::ModelVariation => {
                    format!("compass, {} by model", variation(value.variation_deg))
                }
            };
            aged(scene, Fact::new("heading", 2, value.bearing.to_string()), *at).note_in(Ink::Dim, basis)
        }
    }
}

fn variation(degrees_east: Option<f64>) -> String {
    let degrees = degrees_east.unwrap_or(0.0);
    format!("{:.0}° {}", degrees.abs(), if degrees < 0.0 { "W" } else { "E" })
}

fn stream(scene: &Scene) -> Option<Fact> {
    let (sets, rate) = scene.snap.stream?;
    Some(
        Fact::new("stream", 1, format!("{} kn", text::rounded(rate.0, 1)))
            .note(format!("sets {sets} {}", point(sets))),
    )
}

fn fix(scene: &Scene) -> Fact {
    let fix = &scene.snap.fix;
    let age = fix.at.map(|at| ago(scene.snap.at.since(at)));
    let from = match (&fix.source, &age) {
        (Some(source), Some(age)) => format!("{source} {age}"),
        (None, Some(age)) => age.clone(),
        _ => String::new(),
    };
    let fact = match &fix.quality {
        FixQuality::Never => return Fact::new("fix", 5, "").note("no position has come yet"),
        FixQuality::Good => {
            let within =
                fix.sigma.map_or_else(|| "good".to_owned(), |s| format!("good to {}", metres(s * 2.0)));
            Fact::new("fix", 5, within)
        }
        FixQuality::Doubtful { why } => {
            Fact::new("fix", 5, "doubtful").in_ink(Ink::Trouble).note(why.clone())
        }
        FixQuality::Lost => Fact::new("fix", 5, "none").in_ink(Ink::Trouble),
    };
    fact.note_in(Ink::Dim, from)
}

/// A sensor that was there: its last value, dim, with the time that it has been silent.
fn lost(scene: &Scene, label: &'static str, weight: u8, at: WatchTime, last: String) -> Fact {
    let gone = scene.snap.at.since(at);
    Fact::new(label, weight, last).in_ink(Ink::Dim).note_in(Ink::Trouble, format!("silent for {gone}"))
}

fn aged(scene: &Scene, fact: Fact, at: WatchTime) -> Fact {
    let age = scene.snap.at.since(at);
    if age > OLD { fact.in_ink(Ink::Dim).note_in(Ink::Dim, format!("{age} old")) } else { fact }
}

/// Draws the facts, then alerts that stand, what comes and what was, as far as rows go.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let wide = area.width >= 42;
    let columns = if wide { Columns { value: 9, note: 25 } } else { Columns { value: 8, note: 19 } };
    let mut pen = Pen::new(buf, area);
    let mut all: Vec<(u8, Vec<Row>)> =
        facts(scene).into_iter().map(|f| (f.weight, f.rows(columns, area.width))).collect();
    let alerts = standing(scene, area.width);
    let mut spare = usize::from(area.height).saturating_sub(alerts.len());
    // Second lines go first, then whole facts, the least important before the others.
    let total = |all: &[(u8, Vec<Row>)]| all.iter().map(|(_, rows)| rows.len()).sum::<usize>();
    for keep in [2, 1] {
        for weight in 0..=9 {
            if total(&all) > spare {
                all.iter_mut().filter(|(w, _)| *w == weight).for_each(|(_, rows)| rows.truncate(keep));
            }
        }
    }
    for weight in 0..=9 {
        if total(&all) > spare {
            all.retain(|(w, _)| *w != weight);
        }
    }
    let mut y = 0;
    for row in all.iter().flat_map(|(_, rows)| rows) {
        row.put(scene, &mut pen, y, columns);
        y += 1;
    }
    spare = spare.saturating_sub(usize::from(y));
    if !alerts.is_empty() {
        y += u16::from(spare > 0);
        spare = spare.saturating_sub(1);
        for (line, ink) in alerts {
            pen.put(0, y, &line, scene.ink(ink));
            y += 1;
        }
    }
    events(scene, &mut pen, y, spare);
}

/// Rows for the reason of an alert that does not take the top of the screen; all of it stands in the list of alerts.
const REASON_ROWS: usize = 2;

/// Alerts that do not take the top of the screen, a line or two each.
fn standing(scene: &Scene, columns: u16) -> Vec<(String, Ink)> {
    let mut lines = Vec::new();
    for alert in scene.standing() {
        let (word, ink) = match alert.state {
            AlertState::Acknowledged => ("acknowledged", Ink::Trouble),
            _ => (priority_word(alert.priority), Ink::Trouble),
        };
        lines.push((text::cut(&format!("{}  {word}", alert.kind.title()), columns), ink));
        let mut why = text::wrap(&alert.reason.what, columns.saturating_sub(2));
        if why.len() > REASON_ROWS {
            let rest = why.split_off(REASON_ROWS - 1).join(" ");
            why.push(text::cut(&rest, columns.saturating_sub(2)));
        }
        lines.extend(why.into_iter().map(|line| (format!("  {line}"), Ink::Text)));
    }
    lines
}

/// What comes, then what was, a line each.
fn events(scene: &Scene, pen: &mut Pen, mut y: u16, mut spare: usize) {
    let past = scene.snap.happenings.iter().rev();
    let coming = &scene.snap.coming;
    if spare >= 2 && !coming.is_empty() {
        y += 1;
        spare -= 1;
        for next in coming.iter().take(spare) {
            pen.put(0, y, &scene.clock.hm(next.at), scene.ink(Ink::Strong));
            pen.put(TIME, y, &next.text, scene.ink(Ink::Text));
            y += 1;
            spare -= 1;
        }
    }
    if spare >= 3 {
        y += 1;
        spare -= 1;
        for was in past.take(spare.min(12)) {
            let ink = if was.alert { Ink::Trouble } else { Ink::Dim };
            pen.put(0, y, &scene.clock.hm(was.at), scene.ink(Ink::Dim));
            pen.put(TIME, y, &was.text, scene.ink(ink));
            y += 1;
        }
    }
}

/// Columns that a time of day takes with the gap behind it.
const TIME: u16 = 7;

/// Where values and notes begin.
#[derive(Clone, Copy)]
struct Columns {
    value: u16,
    note: u16,
}

/// One row of the panel.
struct Row {
    label: &'static str,
    value: Option<(String, Ink)>,
    bar: Option<(f64, Ink)>,
    /// Column and words.
    notes: Vec<(u16, String, Ink)>,
}

impl Fact {
    /// The fact in rows: notes beside the value as far as they fit, the others below it.
    fn rows(&self, columns: Columns, width: u16) -> Vec<Row> {
        let ink = self.ink.unwrap_or(Ink::Strong);
        let value = (!self.value.is_empty()).then(|| (self.value.clone(), ink));
        let bar = self.bar.map(|share| (share, ink));
        let mut rows = vec![Row { label: self.label, value, bar, notes: Vec::new() }];
        let mut x = match (&self.value, bar) {
            (value, None) if value.is_empty() => columns.value,
            (value, None) => columns.note.max(columns.value + text::width(value) + 2),
            (_, Some(_)) => width,
        };
        let pieces = self.notes.iter().flat_map(|(words, ink)| {
            text::wrap(words, width.saturating_sub(columns.value)).into_iter().map(move |line| (line, ink))
        });
        for (words, ink) in pieces.filter(|(words, _)| !words.is_empty()) {
            if x + text::width(&words) > width && x > columns.value {
                rows.push(Row { label: "", value: None, bar: None, notes: Vec::new() });
                x = columns.value;
            }
            if let Some(row) = rows.last_mut() {
                row.notes.push((x, words.clone(), *ink));
            }
            x += text::width(&words) + 2;
        }
        rows
    }
}

impl Row {
    fn put(&self, scene: &Scene, pen: &mut Pen, y: u16, columns: Columns) {
        pen.put(0, y, self.label, scene.ink(Ink::Dim));
        let mut x = columns.value;
        if let Some((value, ink)) = &self.value {
            x = pen.put(x, y, value, scene.ink(*ink));
        }
        if let Some((share, ink)) = self.bar {
            // The bar begins in one column whatever the figures are, so that it does not jump.
            let start = (columns.value + 8).max(x + 2);
            bar::put(scene, pen, (start, y), pen.width().saturating_sub(start).min(24), share, ink);
        }
        for (x, words, ink) in &self.notes {
            pen.put(*x, y, words, scene.ink(*ink));
        }
    }
}
