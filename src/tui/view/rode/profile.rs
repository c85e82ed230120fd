//! The rode from the side: bottom, anchor, chain and rope, the boat, and the sea at now, high and low water.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::dots::{Dot, Dots, Pattern};
use crate::tui::palette::Ink;
use crate::tui::plot::spread;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, depth, knots, metres, rounded, width};
use crate::watch::boat::Hull;
use crate::watch::units::Metres;
use crate::watch::what_if::{Answer, Riding};

/// Columns at the right edge for the levels of the sea.
const LEVELS: u16 = 17;
/// Metres shown before the anchor and behind the stern.
const BEFORE_M: f64 = 3.0;
const BEHIND_M: f64 = 2.0;
/// Metres shown above the bow roller at the highest water.
const ABOVE_M: f64 = 1.6;
/// The fewest rows in which a rode can be told from a line; below that heights are drawn larger.
const ROWS_LEAST: f64 = 7.0;
/// How much larger heights may be drawn.
const TIMES: [f64; 9] = [1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
/// Dots below the line of the bottom.
const GROUND: f64 = 4.0;

// Layers of ink, lower ones first.
const LEVEL: u8 = 0;
const SEA: u8 = 1;
const GHOST: u8 = 2;
const BED: u8 = 3;
const RODE: u8 = 5;
const BOAT: u8 = 6;

/// How metres become dots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Dots along for a metre.
    along: f64,
    /// Dots up for a metre.
    up: f64,
    /// How much larger heights are drawn than lengths.
    times: f64,
    /// Rows of the picture without its ruler.
    rows: u16,
    /// Columns of the picture without the levels.
    columns: u16,
}

impl Scale {
    /// The largest true scale in so many columns and rows; heights larger where it would be too flat to see. `None`
    /// without depth or rode, or where there is no room.
    #[must_use]
    pub fn fitting(scene: &Scene, answer: &Answer, columns: u16, rows: u16) -> Option<Self> {
        let then = answer.then?;
        if columns < LEVELS + 24 || rows < 5 {
            return None;
        }
        let (snap, boat) = (scene.snap, &scene.snap.settings.boat);
        let out_m = snap.rode.veered.map_or(0.0, |v| v.0).max(then.veered.0);
        let length_m = BEFORE_M + (out_m / 5.0).ceil() * 5.0 + boat.loa.0 + BEHIND_M;
        let deepest_m = answer.high.map_or(0.0, |(_, high)| high.depth.0).max(then.depth.0).max(boat.draft.0);
        let height_m = deepest_m.ceil() + boat.bow_height.0 + ABOVE_M;
        if !(length_m.is_finite() && height_m.is_finite() && length_m > 0.0 && height_m > 0.0) {
            return None;
        }
        let aspect = if scene.cell_aspect.is_finite() { scene.cell_aspect.clamp(0.2, 2.0) } else { 0.5 };
        let rows_most = f64::from(rows - 1);
        let columns = columns - LEVELS;
        let mut along = f64::from(columns) * 2.0 / length_m;
        // A dot is half a cell wide and a quarter of a cell high.
        let up = |along: f64| along * 2.0 * aspect;
        let rows_at = |along: f64, times: f64| (up(along) * times * height_m + GROUND) / 4.0;
        if rows_at(along, 1.0) > rows_most {
            along *= (rows_most * 4.0 - GROUND).max(1.0) / (up(along) * height_m);
        }
        let fits = |times: &f64| rows_at(along, *times) <= rows_most;
        let times = TIMES
            .into_iter()
            .filter(fits)
            .find(|times| rows_at(along, *times) >= ROWS_LEAST.min(rows_most - 1.0))
            .or(TIMES.into_iter().rfind(fits))
            .unwrap_or(1.0);
        let rows = rows_at(along, times).ceil().clamp(4.0, rows_most) as u16;
        Some(Self { along, up: up(along) * times, times, rows, columns })
    }

    /// Rows of the picture with its ruler.
    #[must_use]
    pub fn rows(&self) -> u16 {
        self.rows + 1
    }

    /// The dot of a point: metres from the anchor, metres above the bottom.
    fn dot(&self, (along_m, up_m): (f64, f64)) -> Dot {
        ((along_m + BEFORE_M) * self.along, self.bed() - 1.0 - up_m * self.up)
    }

    /// The dots' row of the bottom.
    fn bed(&self) -> f64 {
        f64::from(self.rows) * 4.0 - GROUND
    }

    /// The row of a height, with its fraction.
    fn row(&self, up_m: f64) -> f64 {
        self.dot((0.0, up_m)).1 / 4.0
    }

    /// The column of a length, if it is on the picture.
    fn column(&self, along_m: f64) -> Option<u16> {
        let x = self.dot((along_m, 0.0)).0 / 2.0;
        (x >= 0.0 && x < f64::from(self.columns)).then_some(x as u16)
    }
}

/// Draws the picture and its ruler.
pub fn render(scene: &Scene, answer: &Answer, supposed: bool, scale: &Scale, area: Rect, buf: &mut Buffer) {
    let Some(then) = answer.then else { return };
    let sheet = Rect { width: scale.columns, height: scale.rows.min(area.height), ..area };
    let mut dots = Dots::new(sheet);
    let reach_m = then.strain.map_or(then.farthest.0, |strain| strain.shape.reach.0);
    bottom(&mut dots, scale);
    sea(answer, &then, &mut dots, scale);
    anchor(&mut dots, scale);
    if supposed {
        let now: Vec<Dot> = scene.snap.rode.shape.iter().map(|point| scale.dot(*point)).collect();
        dots.path(&now, Pattern::Every(3), Ink::Dim, GHOST);
    }
    rode(answer, &then, &mut dots, scale);
    // Where it is shallower than her draft she sits on the bottom.
    let float_m = then.depth.0.max(scene.snap.settings.boat.draft.0);
    boat(scene, reach_m, float_m, &mut dots, scale);
    clearance(&then, reach_m + 0.5 * scene.snap.settings.boat.loa.0, &mut dots, scale);
    dots.print(scene.palette, buf);
    let mut pen = Pen::new(buf, area);
    words(scene, answer, &then, reach_m, scale, &mut pen);
    levels(scene, answer, &then, scale, &mut pen);
    ruler(scene, scale, &mut pen);
}

/// A level line: one dot in so many.
fn level(dots: &mut Dots, y: f64, every: u32, ink: Ink, layer: u8) {
    let mut x = 0;
    while f64::from(x) < dots.width() {
        dots.dot((f64::from(x), y), ink, layer);
        x += every.max(1);
    }
}

/// The bottom, hatched as ground is.
fn bottom(dots: &mut Dots, scale: &Scale) {
    let bed = scale.bed();
    level(dots, bed, 1, Ink::Dim, BED);
    let mut x = 3.0;
    while x < dots.width() {
        dots.line((x, bed + 1.0), (x - 2.0, bed + 3.0), Ink::Dim, BED);
        x += 6.0;
    }
}

/// The sea as it stands, and as it will stand at high and low water.
fn sea(answer: &Answer, then: &Riding, dots: &mut Dots, scale: &Scale) {
    let (_, now) = scale.dot((0.0, then.depth.0));
    for (_, turn) in [answer.high, answer.low].into_iter().flatten() {
        let (_, y) = scale.dot((0.0, turn.depth.0));
        if (y - now).abs() >= 2.0 {
            level(dots, y, 5, Ink::Dim, LEVEL);
        }
    }
    level(dots, now, 1, Ink::Text, SEA);
}

/// An anchor dug in: no scale could show it, so it is a mark of a size of its own.
fn anchor(dots: &mut Dots, scale: &Scale) {
    let (x, y) = scale.dot((0.0, 0.0));
    dots.line((x, y), (x - 4.0, y + 3.0), Ink::Strong, RODE);
    dots.line((x - 6.0, y + 1.0), (x - 4.0, y + 4.0), Ink::Strong, RODE);
    dots.line((x - 4.0, y + 4.0), (x - 1.0, y + 4.0), Ink::Strong, RODE);
}

/// Chain heavy, rope light. Without wind its shape is not known: a straight, broken line.
fn rode(answer: &Answer, then: &Riding, dots: &mut Dots, scale: &Scale) {
    if answer.line.is_empty() {
        let ends = [scale.dot((0.0, 0.0)), scale.dot((then.farthest.0, then.height.0))];
        dots.path(&ends, Pattern::Dashes(2, 4), Ink::Text, RODE);
        return;
    }
    let line: Vec<Dot> = answer.line.iter().map(|point| scale.dot(*point)).collect();
    let joint = answer.rope_from.min(line.len() - 1);
    dots.path(&line[..=joint], Pattern::Solid, Ink::Strong, RODE);
    dots.path(&line[joint..], Pattern::Dashes(2, 2), Ink::Strong, RODE);
}

/// Her side, bow to the left: heights are parts of the freeboard, depths parts of the draft, lengths of the hull.
fn boat(scene: &Scene, reach_m: f64, float_m: f64, dots: &mut Dots, scale: &Scale) {
    let boat = &scene.snap.settings.boat;
    let at = |aft: f64, up: f64| {
        let up_m = if up < 0.0 { up * boat.draft.0 } else { up * boat.bow_height.0.max(0.3) };
        scale.dot((reach_m + aft * boat.loa.0, float_m + up_m))
    };
    // Plausible yachts, nothing more.
    const SLOOP: [(f64, f64); 18] = [
        (0.0, 1.0),
        (0.06, 0.0),
        (0.2, -0.2),
        (0.37, -0.32),
        (0.43, -1.0),
        (0.57, -1.0),
        (0.58, -0.32),
        (0.76, -0.22),
        (0.83, -0.2),
        (0.86, -0.7),
        (0.91, -0.7),
        (0.91, -0.1),
        (0.96, 0.0),
        (1.0, 0.75),
        (0.66, 0.78),
        (0.62, 1.3),
        (0.4, 1.4),
        (0.34, 0.92),
    ];
    const CAT: [(f64, f64); 14] = [
        (0.0, 1.0),
        (0.03, 0.0),
        (0.1, -0.35),
        (0.4, -0.5),
        (0.45, -1.0),
        (0.62, -1.0),
        (0.64, -0.5),
        (0.93, -0.25),
        (0.97, 0.0),
        (1.0, 0.6),
        (0.88, 0.85),
        (0.8, 1.7),
        (0.5, 1.85),
        (0.36, 1.0),
    ];
    let outline: &[(f64, f64)] = match boat.hull {
        Hull::Monohull => &SLOOP,
        Hull::Catamaran | Hull::Trimaran => &CAT,
    };
    let corners: Vec<Dot> = outline.iter().map(|&(aft, up)| at(aft, up)).collect();
    dots.fill(&corners, Ink::Boat, BOAT);
    // The mast goes on above the picture.
    dots.line(at(0.42, 1.0), at(0.42, 99.0), Ink::Boat, BOAT);
    let (mast, boom) = (at(0.42, 1.0), at(0.82, 1.0));
    let up = 1.9 * scale.up;
    dots.line((mast.0, mast.1 - up), (boom.0, boom.1 - up), Ink::Boat, BOAT);
}

/// From keel to bottom.
fn clearance(then: &Riding, along_m: f64, dots: &mut Dots, scale: &Scale) {
    let (x, top) = scale.dot((along_m, then.under_keel.0));
    let (from, to) = (top.floor() + 2.0, scale.bed() - 1.0);
    if from < to {
        dots.path(&[(x, from), (x, to)], Pattern::Every(2), Ink::Text, SEA);
    }
}

fn words(scene: &Scene, answer: &Answer, then: &Riding, reach_m: f64, scale: &Scale, pen: &mut Pen) {
    let x = pen.put(0, 0, &wind_words(answer), scene.ink(Ink::Text));
    if answer.rope.0 > 0.0 {
        let chain = metres(then.veered - answer.rope);
        pen.put(
            x + 3,
            0,
            &format!("chain {chain} ━━━  rope {} ╍╍╍", metres(answer.rope)),
            scene.ink(Ink::Dim),
        );
    }
    let last = scale.rows.saturating_sub(1);
    // What lies on the bottom, above it: there is only water.
    if let Some(strain) = then.strain.filter(|strain| strain.shape.grounded.0 >= 0.5)
        && last >= 3
        && let Some(start) = scale.column(1.0)
    {
        let text = format!("{} on the bottom", metres(strain.shape.grounded));
        let room = (strain.shape.grounded.0 * scale.along / 2.0) as u16;
        if room > width(&text) + 2 {
            pen.put(start, last - 2, &text, scene.ink(Ink::Text));
        }
    }
    under_keel(scene, then, reach_m, scale, pen);
}

/// The water under the keel, behind it.
fn under_keel(scene: &Scene, then: &Riding, reach_m: f64, scale: &Scale, pen: &mut Pen) {
    let Some(x) = scale.column(reach_m + 0.62 * scene.snap.settings.boat.loa.0) else { return };
    let ink = if then.under_keel < scene.snap.limits.under_keel { Ink::Trouble } else { Ink::Text };
    let words = match then.under_keel.0 {
        keel if keel < 0.0 => ["aground by ", &depth(Metres(-keel)), ""].concat(),
        _ => [&depth(then.under_keel), " under keel"].concat(),
    };
    let room = scale.columns.saturating_sub(x + 1);
    let words = if width(&words) > room { depth(then.under_keel) } else { words };
    // Beside the gap where it is a row high, else on the row above the bottom.
    let last = f64::from(scale.rows.saturating_sub(2));
    let keel = then.under_keel.0.max(0.0);
    let middle = scale.row(keel / 2.0).floor();
    let row = if middle > scale.row(keel).floor() { middle.clamp(0.0, last) } else { last };
    pen.put_within(x + 1, row as u16, scale.columns, &words, scene.ink(ink));
}

/// The wind, from ahead, its arrow the longer the harder it blows.
fn wind_words(answer: &Answer) -> String {
    match answer.wind {
        Some(wind) if wind.0 >= 0.5 => {
            let shaft = "─".repeat((wind.0 / 4.0).clamp(1.0, 16.0) as usize);
            format!("{shaft}▸ {}", knots(wind))
        }
        Some(_) => "calm".to_owned(),
        None => "wind not known".to_owned(),
    }
}

/// The sea's levels with their depths, at the right edge.
fn levels(scene: &Scene, answer: &Answer, then: &Riding, scale: &Scale, pen: &mut Pen) {
    let now = if answer.at == scene.snap.at { "now".to_owned() } else { super::moment(scene, answer.at) };
    let mut all = vec![(scale.row(then.depth.0), (now, then.depth, Ink::Strong))];
    for (at, turn) in [answer.high, answer.low].into_iter().flatten().filter(|(at, _)| *at != answer.at) {
        all.push((scale.row(turn.depth.0), (super::moment(scene, at), turn.depth, Ink::Dim)));
    }
    for (row, (name, deep, ink)) in spread(all, scale.rows.saturating_sub(1)) {
        let x = scale.columns + 1;
        pen.put(x, row, &name, scene.ink(ink));
        pen.put_right(scale.columns + LEVELS, row, &depth(deep), scene.ink(ink));
    }
}

/// Metres from the anchor below the bottom, and how true the picture is.
fn ruler(scene: &Scene, scale: &Scale, pen: &mut Pen) {
    let y = scale.rows;
    let truth = if scale.times == 1.0 {
        "to scale".to_owned()
    } else {
        format!("heights × {}", rounded(scale.times, usize::from(scale.times.fract() != 0.0)))
    };
    let stop = pen.put_right(scale.columns + LEVELS, y, &truth, scene.ink(Ink::Dim));
    let step_m =
        [5.0, 10.0, 20.0, 50.0, 100.0].into_iter().find(|m| m * scale.along >= 24.0).unwrap_or(200.0);
    for n in 0..40_u32 {
        let along_m = f64::from(n) * step_m;
        let Some(x) = scale.column(along_m) else { break };
        let text = if n == 0 { "anchor".to_owned() } else { metres(Metres(along_m)) };
        let start = x.saturating_sub(width(&text) / 2);
        if start + width(&text) + 1 < stop.min(scale.columns) {
            pen.put(start, y, &text, scene.ink(Ink::Dim));
        }
    }
}
