//! The rode in figures: a column for the moment looked at, for low and high water, and for some metres more.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::suppose::Suppose;
use crate::tui::keys::{Act, label};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, depth, knots, metres, rounded, wrap};
use crate::watch::grade::Grade;
use crate::watch::rode::ANGLES_DEG;
use crate::watch::snapshot::Stage;
use crate::watch::units::{Knots, Metres};
use crate::watch::what_if::{Answer, MORE, Riding};

/// Columns for the name of a row, and for each figure.
const NAME: u16 = 15;
const FIGURE: u16 = 8;

/// What it comes to, the most important first.
#[must_use]
pub fn verdict(scene: &Scene, answer: &Answer, suppose: &Suppose) -> Vec<(String, Ink)> {
    let snap = scene.snap;
    let mut said = Vec::new();
    if let Some(trouble) = &answer.trouble {
        said.push((trouble.to_string(), Ink::Trouble));
        return said;
    }
    if answer.veered.is_none() {
        let what = match snap.stage {
            Stage::NotSet => "No anchor down: no rode to show.".to_owned(),
            _ => format!("How much rode is out was not entered: {} enters it.", label(Act::VeerOut)),
        };
        said.push((what, Ink::Strong));
        return said;
    }
    let Some(then) = answer.then else {
        said.push((
            "Depth not known: no sounder heard, and none entered at letting go.".to_owned(),
            Ink::Strong,
        ));
        return said;
    };
    said.push(pull(answer, &then, suppose));
    said.extend(asked(&then));
    said.extend(keel(scene, answer, &then));
    let ink = |short| if short { Ink::Strong } else { Ink::Text };
    said.extend(snap.setting.proved.map(|proved| (proved.in_words(), ink(proved.short()))));
    said
}

/// What the anchor may be asked to hold, and the sea in it, where there is something to say of holding or sea.
fn asked(then: &Riding) -> Vec<(String, Ink)> {
    let Some(asked) = then.asked.filter(|asked| asked.hold.is_some() || asked.waves.is_some()) else {
        return Vec::new();
    };
    let ink = match asked.grade() {
        Some(Grade::Bad) => Ink::Trouble,
        Some(Grade::Tight) => Ink::Strong,
        Some(Grade::Good) | None => Ink::Text,
    };
    let mut said = vec![(asked.in_words(), ink)];
    said.extend(asked.sea_in_words().map(|words| (words, Ink::Text)));
    said
}

/// How the rode pulls at the anchor.
fn pull(answer: &Answer, then: &Riding, suppose: &Suppose) -> (String, Ink) {
    let Some(strain) = then.strain else {
        let hint = if suppose.what_if.wind.is_none() { " ↑ supposes a wind." } else { "" };
        return (format!("Wind not known, so no pull calculated.{hint}"), Ink::Strong);
    };
    let gust = answer.gust.map_or_else(|| "gusts".to_owned(), |gust| format!("gusts of {}", knots(gust)));
    let (mean_deg, gust_deg) = (strain.shape.angle_anchor_deg, strain.gust_angle_deg);
    if mean_deg >= 0.5 {
        let remedy = match answer.lies_flat_with {
            Some(length) if length > answer.carried => {
                format!(" Not even all {} aboard lay it flat.", metres(answer.carried))
            }
            Some(length) => format!(" {} out would lay it flat.", metres(Metres(length.0.ceil()))),
            None => String::new(),
        };
        return (format!("The pull lifts the anchor's shank by {mean_deg:.0}°.{remedy}"), Ink::Trouble);
    }
    let rests = match strain.shape.grounded.0 {
        grounded if grounded < 0.5 => "The last link just lifts".to_owned(),
        grounded if grounded < 1.5 => "1 m lies on the bottom".to_owned(),
        _ => format!("{} lie on the bottom", metres(strain.shape.grounded)),
    };
    match gust_deg {
        deg if deg > ANGLES_DEG[1] => (format!("{rests}, but {gust} pull {deg:.0}° up."), Ink::Trouble),
        deg if deg >= 0.5 => (format!("{rests}; {gust} pull {deg:.0}° up."), Ink::Strong),
        _ => (format!("{rests}, and some even in {gust}."), Ink::Strong),
    }
}

/// What water she has, if there is anything to say of it.
fn keel(scene: &Scene, answer: &Answer, then: &Riding) -> Option<(String, Ink)> {
    let limit = scene.snap.limits.under_keel;
    let (at, least) = match answer.low {
        Some((at, low)) if low.under_keel < then.under_keel => (super::moment(scene, at), low.under_keel),
        _ => ("now".to_owned(), then.under_keel),
    };
    let when = if at == "now" && answer.at != scene.snap.at { "then" } else { &at };
    Some(match least.0 {
        keel if keel < 0.0 => (format!("Aground by {} {when}.", depth(Metres(-keel))), Ink::Trouble),
        keel if keel < limit.0 => (format!("Only {} under the keel {when}.", depth(least)), Ink::Trouble),
        _ => (format!("Least {} under the keel {when}.", depth(least)), Ink::Text),
    })
}

/// One row: name, unit, what it shows of a riding, when that is trouble, and how soon it gives way.
struct Row {
    name: String,
    weight: u8,
    show: fn(&Riding) -> Option<String>,
    trouble: fn(&Scene, &Riding) -> bool,
}

fn rows(answer: &Answer) -> Vec<Row> {
    fn never(_: &Scene, _: &Riding) -> bool {
        false
    }
    fn wind(at: Option<Knots>) -> Option<String> {
        // Wind that nobody has seen at sea level is no figure to calculate with.
        Some(at.filter(|wind| wind.0 < 200.0).map_or_else(|| "never".to_owned(), |wind| rounded(wind.0, 0)))
    }
    let row = |name: &str, weight, show, trouble| Row { name: name.to_owned(), weight, show, trouble };
    let gusts =
        answer.gust.map_or_else(|| "° up, gusts".to_owned(), |g| format!("° up, gust {}", rounded(g.0, 0)));
    vec![
        row("depth m", 5, |r| Some(rounded(r.depth.0, 1)), never),
        row(
            "under keel m",
            8,
            |r| Some(rounded(r.under_keel.0, 1)),
            |s, r| r.under_keel < s.snap.limits.under_keel,
        ),
        row("scope", 9, |r| Some(rounded(r.scope, 1)), |s, r| r.scope < s.snap.limits.scope),
        row(
            "on bottom m",
            7,
            |r| Some(rounded(r.strain?.shape.grounded.0, 0)),
            |_, r| r.strain.is_some_and(|s| s.shape.grounded.0 < 0.5),
        ),
        row(
            "may pull kN",
            2,
            |r| Some(rounded(r.asked?.pull.0 / 1000.0, 1)),
            |_, r| r.asked.is_some_and(|asked| asked.grade() == Some(Grade::Bad)),
        ),
        row("anchor kN", 3, |r| Some(rounded(r.strain?.shape.tension_anchor.0 / 1000.0, 1)), never),
        row("bow kN", 1, |r| Some(rounded(r.strain?.shape.tension_bow.0 / 1000.0, 1)), never),
        row(
            "° up at anchor",
            4,
            |r| Some(rounded(r.strain?.shape.angle_anchor_deg, 0)),
            |_, r| r.strain.is_some_and(|s| s.shape.angle_anchor_deg >= 0.5),
        ),
        row(
            &gusts,
            6,
            |r| Some(rounded(r.strain?.gust_angle_deg, 0)),
            |_, r| r.strain.is_some_and(|s| s.gust_angle_deg > ANGLES_DEG[1]),
        ),
        row("lifts at kn", 9, |r| wind(r.winds.lifts), never),
        row("5° up at kn", 0, |r| wind(r.winds.five_degrees), never),
        row("8° up at kn", 2, |r| wind(r.winds.eight_degrees), never),
    ]
}

/// Draws the table, as many rows as fit, the most useful ones.
pub fn render(scene: &Scene, answer: &Answer, suppose: &Suppose, area: Rect, buf: &mut Buffer) {
    let Some(then) = answer.then else { return };
    let mut pen = Pen::new(buf, area);
    let figure = FIGURE + (area.width.saturating_sub(NAME + 4 * FIGURE) / 4).min(4);
    let more_at = if answer.high.is_some() { "at HW" } else { "" };
    let first = if suppose.any() { "what if" } else { "now" };
    let mut columns: Vec<(String, String, Riding)> =
        vec![(first.to_owned(), scene.clock.hm(answer.at), then)];
    for (word, turn) in [("LW", answer.low), ("HW", answer.high)] {
        if let Some((at, riding)) = turn {
            columns.push((word.to_owned(), scene.clock.hm(at), riding));
        }
    }
    if let Some(more) = answer.more {
        columns.push((format!("+ {}", metres(MORE)), more_at.to_owned(), more));
    }
    for (n, (head, time, _)) in (1..).zip(&columns) {
        let ink = if n == 1 && suppose.any() { Ink::Picked } else { Ink::Text };
        pen.put_right(NAME + n * figure, 0, head, scene.ink(ink));
        pen.put_right(NAME + n * figure, 1, time, scene.ink(Ink::Dim));
    }
    let mut shown = rows(answer);
    let room = usize::from(area.height.saturating_sub(2));
    for weight in 0..=9 {
        if shown.len() > room {
            shown.retain(|row| row.weight != weight);
        }
    }
    footnote(scene, answer, shown.len() as u16 + 3, &mut pen);
    for (y, row) in (2..area.height).zip(&shown) {
        pen.put_within(0, y, NAME, &row.name, scene.ink(Ink::Dim));
        for (n, (_, _, riding)) in (1..).zip(&columns) {
            let (text, ink) = match (row.show)(riding) {
                None => ("–".to_owned(), Ink::Dim),
                Some(text) if (row.trouble)(scene, riding) => (text, Ink::Trouble),
                Some(text) => (text, if n == 1 { Ink::Strong } else { Ink::Text }),
            };
            pen.put_right(NAME + n * figure, y, &text, scene.ink(ink));
        }
    }
}

/// How far to trust it, if there is room to say so.
fn footnote(scene: &Scene, answer: &Answer, top: u16, pen: &mut Pen) {
    let words = format!(
        "Calculated, not measured: wind on a boat of her size, stream as it runs. A gust catches her while she sheers. {} \
         {} of rode aboard.",
        if answer.then.and_then(|then| then.asked).is_some_and(|asked| asked.waves.is_some()) {
            "A wave catches her in a gust."
        } else {
            "Waves and snatching come on top."
        },
        metres(answer.carried)
    );
    let lines = wrap(&words, pen.width());
    if usize::from(pen.height().saturating_sub(top)) >= lines.len() {
        for (y, line) in (top..).zip(lines) {
            pen.put(0, y, &line, scene.ink(Ink::Dim));
        }
    }
}
