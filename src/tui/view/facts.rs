//! The facts of the moment, one line each: label, value with its unit, then what it means.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::keys::{Act, label};
use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, alert_ink, priority_word, stands};
use crate::tui::text::{self, Pen, ago, depth, knots, metres, point, shift};
use crate::watch::alert::AlertState;
use crate::watch::grade::Grade;
use crate::watch::snapshot::{FixQuality, HeadingBasis, MarkedHow, Reading, Snapshot, Stage};
use crate::watch::units::{Metres, Newtons, Span, WatchTime};

/// One fact.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fact {
    /// Its name.
    pub label: &'static str,
    /// Its value; empty when nothing is known.
    pub value: String,
    /// The value's ink.
    pub ink: Option<Ink>,
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
    all.push(anchor(scene));
    all.extend(circle(scene));
    all.extend([wind(scene), water(scene), scope(scene), load(scene)]);
    all.push(heading(scene));
    all.extend(stream(scene));
    all.extend(swell(scene));
    all.extend(pressure(scene));
    all.extend([fix(scene), position(scene)]);
    all.extend(judged(scene));
    all.extend(marked(scene));
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
        return Fact::new("anchor", 9, "").note(format!("none down: {} as it goes", label(Act::LetGo)));
    }
    let Some((distance, bearing)) = snap.anchor_off else {
        return Fact::new("anchor", 9, "").note("marked, but no position");
    };
    let from = format!("from the {}", scene.point_word().to_lowercase());
    let mut fact = Fact::new("anchor", 9, format!("{}  {bearing}", metres(distance))).note_in(Ink::Dim, from);
    if let Some(moved) = snap.holding.moved {
        fact = fact.note_in(Ink::Trouble, scene.moved(&moved));
    }
    if let Some(remark) = &snap.holding.remark {
        fact = fact.note(remark.clone());
    }
    if snap.drop.is_some_and(|drop| drop.how == MarkedHow::Antenna) {
        fact = fact.note_in(Ink::Dim, "marked at the antenna, not the bow");
    }
    if let Some((farthest, point)) = snap.farthest {
        fact =
            fact.note_in(Ink::Dim, format!("farthest {} at {}", metres(farthest), scene.clock.hm(point.at)));
    }
    fact
}

/// What the judge can see with tonight's instruments.
fn judged(scene: &Scene) -> Option<Fact> {
    let allows = scene.snap.holding.allows?;
    let mut fact = Fact::new("drag", 4, format!("shows after {}", metres(allows.called_at())));
    if let Some((sensor, called)) = allows.would_help() {
        fact = fact.note_in(Ink::Dim, format!("{} with {sensor}", metres(called)));
    }
    if let Some(receiver) = allows.of_the_receiver() {
        fact = fact.note(receiver);
    }
    Some(fact)
}

/// The room itself stands tall at the top.
fn circle(scene: &Scene) -> Option<Fact> {
    let fact = Fact::new("circle", 8, metres(scene.snap.circle.set?)).note_in(Ink::Dim, "about the anchor");
    Some(match scene.snap.reach {
        Some(reach) => fact.note_in(Ink::Dim, format!("rode reaches {}", metres(reach))),
        None => fact,
    })
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
            None => return Fact::new("depth", 7, "").note_in(Ink::Dim, "no sounder, no tide entered"),
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
    if let Some(offset) = view.offset_unlike {
        fact = fact.note_in(Ink::Trouble, format!("sounder's offset {:+.1}: not as entered?", offset.0));
    }
    if let Some(words) = sea(snap) {
        fact = fact.note_in(Ink::Dim, words);
    }
    fact
}

/// How the sea stands off the tide, where it is more than its doubt: `sea 0.3 below the tide ±0.1`.
fn sea(snap: &Snapshot) -> Option<String> {
    let correction = snap.tide.correction.filter(|c| c.by.0.abs() >= 0.1)?;
    let side = if correction.by.0 < 0.0 { "below" } else { "above" };
    let doubt = text::rounded((correction.doubt.0 * 10.0).ceil() / 10.0, 1);
    let age = snap.at.since(correction.at);
    let age = if age >= Span::from_mins(10) { format!(", {age} ago") } else { String::new() };
    let by = text::rounded(correction.by.0.abs(), 1);
    Some(format!("sea {by} {side} the tide ±{doubt} by the {}{age}", correction.by_what.word()))
}

/// The pressure of the air and how it has changed.
fn pressure(scene: &Scene) -> Option<Fact> {
    let (hpa, change) = scene.snap.depth.pressure?;
    let fact = Fact::new("air", 4, format!("{} hPa", text::rounded(hpa, 0)));
    Some(match change {
        Some(change) if change <= -1.0 => fact.note(format!("fell {} in 3 h", text::rounded(-change, 0))),
        Some(change) if change >= 1.0 => fact.note(format!("rose {} in 3 h", text::rounded(change, 0))),
        Some(_) => fact.note_in(Ink::Dim, "steady for 3 h"),
        None => fact,
    })
}

/// How she moves in the sea, where an instrument measures it.
fn swell(scene: &Scene) -> Option<Fact> {
    let motion = scene.snap.motion?;
    let value = motion.sea.map_or_else(String::new, |sea| format!("{} m", text::rounded(sea.height.0, 1)));
    let mut fact = Fact::new("sea", 2, value);
    if let Some(sea) = motion.sea {
        fact = fact.note(format!("every {} s, by her heave", text::rounded(sea.period_s, 1)));
    }
    if let Some((degrees, period_s)) = motion.pitch {
        let every = text::rounded(period_s, 1);
        fact = fact.note_in(Ink::Dim, format!("pitches {}° every {every} s", text::rounded(degrees, 0)));
    }
    Some(fact)
}

fn scope(scene: &Scene) -> Fact {
    let rode = &scene.snap.rode;
    let Some(veered) = rode.veered else {
        let hint =
            if scene.snap.stage == Stage::NotSet { "nothing out" } else { "length out not entered: +" };
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
    if let Some((asked, hold)) = rode.asked.and_then(|asked| Some((asked, asked.hold?))) {
        let kilo = |force: Newtons| text::rounded(force.0 / 1000.0, 1);
        let may = kilo(asked.pull);
        fact = match asked.grade() {
            Some(Grade::Bad) => {
                fact.note_in(Ink::Trouble, format!("may pull {may}, holds {} at best", kilo(hold.most)))
            }
            Some(Grade::Tight) => {
                fact.note_in(Ink::Strong, format!("may pull {may}, may hold only {}", kilo(hold.least)))
            }
            _ => fact.note(format!("may pull {may}, holds {}", kilo(hold.least))),
        };
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
                    format!("compass, {} from the sensor", variation(value.variation_deg))
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
                fix.sigma.map_or_else(|| "good".to_owned(), |s| format!("within {}", metres(s * 2.0)));
            Fact::new("fix", 5, within)
        }
        FixQuality::Doubtful { why } => {
            Fact::new("fix", 5, "doubtful").in_ink(Ink::Trouble).note(why.short())
        }
        FixQuality::Lost => Fact::new("fix", 5, "none").in_ink(Ink::Trouble),
    };
    fact.note_in(Ink::Dim, from)
}

/// Where she is, as it is read into a radio; what is old says so.
fn position(scene: &Scene) -> Fact {
    let fix = &scene.snap.fix;
    let Some(position) = fix.position else {
        return Fact::new("position", 4, "").note_in(Ink::Dim, "none has come yet");
    };
    let fact = Fact::new("position", 4, position.to_string());
    let age = fix.at.map(|at| scene.snap.at.since(at));
    match (&fix.quality, age) {
        (FixQuality::Lost | FixQuality::Never, Some(age)) => {
            fact.in_ink(Ink::Dim).note_in(Ink::Trouble, format!("{age} old"))
        }
        _ => fact,
    }
}

/// Where the anchor was marked.
fn marked(scene: &Scene) -> Option<Fact> {
    Some(Fact::new("marked", 0, scene.snap.drop?.position.to_string()).in_ink(Ink::Dim))
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
    let alerts = standing(scene, area.width);
    let mut y = facts_in(scene, area, alerts.len(), buf);
    let mut pen = Pen::new(buf, area);
    if !alerts.is_empty() {
        y += u16::from(usize::from(y) + alerts.len() < usize::from(area.height));
        for (line, ink) in alerts {
            pen.put(0, y, &line, scene.ink(ink));
            y += 1;
        }
    }
    y = coming(scene, &mut pen, y);
    past(scene, &mut pen, y);
}

/// Draws the facts in the rows but `kept`, the most important ones where there is no room for all. Gives the rows used.
pub fn facts_in(scene: &Scene, area: Rect, kept: usize, buf: &mut Buffer) -> u16 {
    let wide = area.width >= 42;
    let columns = if wide { Columns { value: 9, note: 25 } } else { Columns { value: 9, note: 19 } };
    let all = facts(scene).into_iter().map(|f| (f.weight, f.rows(columns, area.width))).collect();
    let shown = fitting(all, usize::from(area.height).saturating_sub(kept));
    let mut pen = Pen::new(buf, area);
    let mut y = 0;
    for row in &shown {
        row.put(scene, &mut pen, y, columns);
        y += 1;
    }
    y
}

/// Rows of one fact at most where rows are short.
const FACT_ROWS: usize = 5;

/// As many rows as fit: last lines go first, those that say trouble after the others, then whole facts, the least important
/// before the others.
fn fitting(mut all: Vec<(u8, Vec<Row>)>, rows: usize) -> Vec<Row> {
    let total = |all: &[(u8, Vec<Row>)]| all.iter().map(|(_, rows)| rows.len()).sum::<usize>();
    let troubled = |rows: &[Row], keep: usize| rows.iter().skip(keep).any(Row::says_trouble);
    for kept in [true, false] {
        for keep in (1..=FACT_ROWS).rev() {
            for weight in 0..=9 {
                if total(&all) > rows {
                    let wanted =
                        |(w, rows): &&mut (u8, Vec<Row>)| *w == weight && !(kept && troubled(rows, keep));
                    all.iter_mut().filter(wanted).for_each(|(_, rows)| shorten(rows, keep));
                }
            }
        }
    }
    for weight in 0..=9 {
        if total(&all) > rows {
            all.retain(|(w, _)| *w != weight);
        }
    }
    all.into_iter().flat_map(|(_, rows)| rows).collect()
}

/// Keeps the first rows of a fact. A note that would be cut in the middle goes whole: half of it misleads.
fn shorten(rows: &mut Vec<Row>, keep: usize) {
    while rows.len() > keep {
        let gone = rows.pop();
        if gone.is_some_and(|row| row.goes_on)
            && let Some(last) = rows.last_mut()
        {
            last.notes.pop();
        }
    }
    rows.retain(|row| !row.label.is_empty() || !row.notes.is_empty());
}

/// Rows for the reason of an alert that does not take the top of the screen; all of it stands in the list of alerts.
const REASON_ROWS: u16 = 2;

/// Alerts that do not take the top of the screen, a line or two each. What is over has its own line at the top.
pub fn standing(scene: &Scene, columns: u16) -> Vec<(String, Ink)> {
    let mut lines = Vec::new();
    for alert in scene.standing().filter(|alert| stands(alert)) {
        let (title, word) = (alert.kind.title(), priority_word(alert.priority));
        let acknowledged = alert.state == AlertState::Acknowledged;
        let heads = [format!("{title}  {word}, acknowledged"), format!("{title}  acknowledged")];
        let fits = |head: &String| acknowledged && text::width(head) <= columns;
        let head = heads.into_iter().find(fits).unwrap_or_else(|| format!("{title}  {word}"));
        lines.push((text::cut(&head, columns), alert_ink(alert)));
        let why = text::whole_sentences(&scene.why(alert), columns.saturating_sub(2), REASON_ROWS);
        lines.extend(why.into_iter().map(|line| (format!("  {line}"), Ink::Text)));
    }
    lines
}

/// What comes, a line each, below row `y`, as far as rows go. Gives the row below it.
pub fn coming(scene: &Scene, pen: &mut Pen, y: u16) -> u16 {
    let coming = &scene.snap.coming;
    let mut y = y;
    if y + 2 > pen.height() || coming.is_empty() {
        return y;
    }
    y += 1;
    for next in coming {
        if y < pen.height() {
            pen.put(0, y, &scene.clock.hm(next.at), scene.ink(Ink::Strong));
            pen.put(TIME, y, &next.text, scene.ink(Ink::Text));
            y += 1;
        }
    }
    y
}

/// Lines of what was, at most.
const PAST_MOST: usize = 12;

/// What was, the latest first, below row `y`, if there are rows for more than one. What is over is in no alarm's colour.
pub fn past(scene: &Scene, pen: &mut Pen, y: u16) {
    if y + 3 > pen.height() {
        return;
    }
    for (y, was) in (y + 1..pen.height()).zip(scene.snap.happenings.iter().rev().take(PAST_MOST)) {
        let ink = if was.alert { Ink::Text } else { Ink::Dim };
        pen.put(0, y, &scene.clock.hm(was.at), scene.ink(Ink::Dim));
        pen.put(TIME, y, &was.text, scene.ink(ink));
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
    /// Column and words.
    notes: Vec<(u16, String, Ink)>,
    /// Its first note began on the row before.
    goes_on: bool,
}

impl Fact {
    /// The fact in rows: notes beside the value as far as they fit, the others below it.
    fn rows(&self, columns: Columns, width: u16) -> Vec<Row> {
        let ink = self.ink.unwrap_or(Ink::Strong);
        let value = (!self.value.is_empty()).then(|| (self.value.clone(), ink));
        let mut rows = vec![Row { label: self.label, value, notes: Vec::new(), goes_on: false }];
        let mut x = match self.value.as_str() {
            "" => columns.value,
            value => columns.note.max(columns.value + text::width(value) + 2),
        };
        let pieces = self.notes.iter().flat_map(|(words, ink)| {
            let lines = text::wrap(words, width.saturating_sub(columns.value));
            lines.into_iter().enumerate().map(move |(n, line)| (line, *ink, n > 0))
        });
        for (words, ink, goes_on) in pieces.filter(|(words, ..)| !words.is_empty()) {
            if x + text::width(&words) > width && x > columns.value {
                rows.push(Row { label: "", value: None, notes: Vec::new(), goes_on });
                x = columns.value;
            }
            if let Some(row) = rows.last_mut() {
                row.notes.push((x, words.clone(), ink));
            }
            x += text::width(&words) + 2;
        }
        rows
    }
}

impl Row {
    fn says_trouble(&self) -> bool {
        self.notes.iter().any(|(_, _, ink)| *ink == Ink::Trouble)
    }

    fn put(&self, scene: &Scene, pen: &mut Pen, y: u16, columns: Columns) {
        pen.put(0, y, self.label, scene.ink(Ink::Dim));
        if let Some((value, ink)) = &self.value {
            pen.put(columns.value, y, value, scene.ink(*ink));
        }
        for (x, words, ink) in &self.notes {
            pen.put(*x, y, words, scene.ink(*ink));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_that_would_be_cut_in_the_middle_goes_whole() {
        let fact = Fact::new("wind", 7, "12 kn  233°").note("gusts 21").note("backed 18° since brought up");
        let columns = Columns { value: 9, note: 19 };
        let said = |width, keep| {
            let mut rows = fact.rows(columns, width);
            shorten(&mut rows, keep);
            let words = |row: &Row| row.notes.iter().map(|(_, words, _)| words.clone()).collect::<Vec<_>>();
            rows.iter().map(words).collect::<Vec<_>>()
        };
        assert_eq!(said(36, 2), [vec!["gusts 21"], vec!["backed 18° since brought up"]]);
        assert_eq!(said(30, 3)[1..], [vec!["backed 18° since"], vec!["brought up"]]);
        assert_eq!(said(30, 2), [vec!["gusts 21"]]);
        assert_eq!(said(30, 1), [vec!["gusts 21"]]);
    }

    #[test]
    fn short_of_rows_what_says_trouble_stays_longest() {
        let calm = Fact::new("anchor", 9, "32 m").note("from the bow").note("farthest 34 m at 23:54");
        let turned = Fact::new("wind", 7, "12 kn")
            .note("gusts 21")
            .note_in(Ink::Trouble, "backed 52° since brought up");
        let columns = Columns { value: 9, note: 19 };
        let said = |rows| {
            let all = [&calm, &turned].map(|fact| (fact.weight, fact.rows(columns, 38))).into();
            let words =
                |row: Row| row.notes.into_iter().map(|(_, words, _)| words).collect::<Vec<_>>().join(", ");
            fitting(all, rows).into_iter().map(words).collect::<Vec<_>>()
        };
        assert_eq!(said(3), ["from the bow", "gusts 21", "backed 52° since brought up"]);
        assert_eq!(said(2), ["from the bow", "gusts 21"]);
        assert_eq!(said(1), ["from the bow"]);
    }
}
