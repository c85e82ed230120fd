//! The card for the chart table: what is needed to watch her by eye when everything electric is off.

use std::fmt::Write as _;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::svg::{Anchor, Spot, Svg};
use crate::watch::ahead::{NightAhead, Sea, head as head_of_hours, row};
use crate::watch::boat::Sector;
use crate::watch::geo::Local;
use crate::watch::marks::{Bearings, MarkView};
use crate::watch::slope;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Metres, Span, TrueBearing, WatchTime};

/// Depths are given so many hours ahead.
const HOURS: i64 = 14;

/// The card as text. Times are in the zone, which the card names.
#[must_use]
pub fn text(snap: &Snapshot, zone: &TimeZone) -> String {
    let mut out = String::new();
    for line in lines(snap, zone) {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

fn lines(snap: &Snapshot, zone: &TimeZone) -> Vec<String> {
    let clock = Clock { zone };
    let mut lines = head(snap, &clock);
    lines.extend(bearings(snap));
    lines.extend(depths(snap, &clock));
    lines.extend(limits(snap));
    lines.extend(watches(snap, &clock));
    lines.extend(IF.iter().map(|line| (*line).to_owned()));
    lines
}

/// What to do, in the order in which it is done: common practice, no source; the look-out is COLREG Rule 5, signals in
/// fog at anchor Rule 35(g), distress calls the GMDSS.
const IF: [&str; 14] = [
    "IF SHE DRAGS     Engine on, look out, all hands. Veer if there is room; if she does not bring",
    "                 up, weigh and anchor again, or stand off. Never let the rode run out alone.",
    "IF FOG COMES     The bell rapidly for five seconds each minute (COLREG 35(g)); under 20 m",
    "                 instead another efficient signal every two minutes (35(i), (j)). Light on.",
    "IF THE ENGINE    Second anchor ready, rode veered, sails ready to hoist. Ask for help early.",
    "FAILS",
    "CALL             Distress: VHF channel 16, MAYDAY three times, name, position, what is wrong.",
    "",
    "  coastguard ____________________    harbour ____________________",
    "",
    "  neighbour  ____________________    ashore  ____________________",
    "",
    "An aid. A proper look-out is still required (COLREG Rule 5); local rules and licensed practice",
    "come first.",
];

struct Clock<'a> {
    zone: &'a TimeZone,
}

impl Clock<'_> {
    fn format(&self, at: WatchTime, format: &str) -> String {
        Timestamp::from_millisecond(at.0).map_or_else(
            |_| String::new(),
            |stamp| stamp.to_zoned_datetime(self.zone.clone()).strftime(format).to_string(),
        )
    }
}

fn head(snap: &Snapshot, clock: &Clock) -> Vec<String> {
    let boat = &snap.settings.boat.name;
    let place = if snap.place.is_empty() { String::new() } else { format!(" at {}", snap.place) };
    let mut lines = vec![
        format!(
            "ANCHOR CARD      {boat}{place}, made {}",
            clock.format(snap.at, "%a %-d %b %Y %H:%M (UTC%:z)")
        ),
        String::new(),
    ];
    let mut row = |label: &str, words: String| lines.push(format!("{label:17}{words}"));
    match snap.drop {
        Some(drop) => {
            let depth = drop.depth.map_or_else(String::new, |m| format!(" in {:.1} m", m.0));
            row("drop point", drop.position.to_string());
            row("let go", format!("{}{depth}", clock.format(drop.let_go, "%a %H:%M")));
        }
        None => row("drop point", "not marked".into()),
    }
    if let Some(veered) = snap.rode.veered {
        let reach = snap.reach.map_or_else(String::new, |m| format!(", reaches {:.0} m now", m.0));
        row("rode", format!("{:.0} m out{reach}", veered.0));
    }
    if let Some(circle) = snap.circle.radius() {
        row("circle", format!("{:.0} m about the drop point: all of her should stay within it", circle.0));
    }
    if let Some(way) = snap.way_out {
        row("way out", format!("{}, {:.1} nm", both(snap, way.course), way.distance_nm));
    }
    if let Some((distance, bearing)) = snap.anchor_off {
        row(
            "anchor",
            format!("{:.0} m from the bow on {} when this was made", distance.0, both(snap, bearing)),
        );
    }
    lines.push(String::new());
    lines
}

/// A bearing by both norths, where the variation is known.
fn both(snap: &Snapshot, bearing: TrueBearing) -> String {
    match snap.variation_deg {
        Some(variation) => format!("{bearing} T, {} M", bearing.turned(-variation)),
        None => format!("{bearing} T"),
    }
}

fn variation_words(snap: &Snapshot) -> String {
    match snap.variation_deg {
        Some(deg) => format!("variation {:.1}° {}", deg.abs(), if deg < 0.0 { "W" } else { "E" }),
        None => "variation not known".into(),
    }
}

fn bearings(snap: &Snapshot) -> Vec<String> {
    let mut lines = vec![format!("BEARINGS         from anywhere in the circle; {}", variation_words(snap))];
    if snap.marks.is_empty() {
        lines.push("  No marks are entered. Take bearings of three and write them here:".into());
        for _ in 0..3 {
            lines.push(
                "  ____________________  ______° at ______   ______° at ______   ______° at ______".into(),
            );
        }
        lines.push(String::new());
        return lines;
    }
    lines.push(format!("  {:20}{:16}{:16}{}", "mark", "true", "magnetic", "seen, when"));
    for mark in snap.marks.iter() {
        lines.push(format!("  {:20}{}", cut(&mark.name, 19), arc_columns(snap, mark)));
    }
    lines.push(String::new());
    lines
}

fn arc_columns(snap: &Snapshot, mark: &MarkView) -> String {
    if let Some(opening) = mark.opening_deg {
        return format!("in line; opens {opening:.1}° at most");
    }
    let blank = "____° at ____  ____° at ____";
    match mark.arc {
        Bearings::AllRound => format!("{:32}{blank}", "all round: in the circle"),
        Bearings::Between { from, to } => {
            let compass = snap.variation_deg.map_or_else(String::new, |variation| {
                format!("{} to {} M", from.turned(-variation), to.turned(-variation))
            });
            format!("{:16}{compass:16}{blank}", format!("{from} to {to}"))
        }
    }
}

fn cut(text: &str, most: usize) -> String {
    text.chars().take(most).collect()
}

/// Depth by the tide at the drop point at `at`.
fn depth_at(snap: &Snapshot, at: WatchTime) -> Option<Metres> {
    let curve = &snap.tide.curve;
    let after = curve.partition_point(|(then, _)| *then < at);
    let ((before_at, before), (after_at, later)) = match (after.checked_sub(1), curve.get(after)) {
        (_, Some(&(then, depth))) if then == at => return Some(depth),
        (Some(i), Some(&next)) => (curve[i], next),
        _ => return None,
    };
    let share = at.since(before_at).0 as f64 / after_at.since(before_at).0.max(1) as f64;
    Some(before + (later - before) * share)
}

fn depths(snap: &Snapshot, clock: &Clock) -> Vec<String> {
    if let Some(night) = snap.ahead.night.as_deref() {
        return ahead(snap, night, clock);
    }
    let mut lines =
        vec!["DEPTHS           at the drop point, by the tide; and under the keel there".to_owned()];
    let hour = 3_600_000;
    let first = WatchTime((snap.at.0 + hour - 1).div_euclid(hour) * hour);
    let cells: Vec<String> = (0..HOURS)
        .map(|i| first + Span(i * hour))
        .filter_map(|at| {
            let depth = depth_at(snap, at)?;
            let keel = depth - snap.settings.boat.draft;
            Some(format!("{}  {:4.1} m  {:4.1}", clock.format(at, "%H:%M"), depth.0, keel.0))
        })
        .collect();
    if cells.is_empty() {
        lines.push("  No tide is entered: sound, and write it down. ____ m at ____   ____ m at ____".into());
    }
    for three in cells.chunks(3) {
        lines.push(format!("  {}", three.join("      ")));
    }
    if let Some((least, at)) = snap.depth.least_under_keel {
        lines.push(format!("  least under keel {:.1} m at {}", least.0, clock.format(at, "%H:%M")));
    }
    lines.extend(depths_round(snap));
    lines.push(String::new());
    lines
}

/// Hours of the night ahead that the card has room for.
const HOURS_AHEAD: usize = 9;

/// The night by the wind that was entered, with its depths.
fn ahead(snap: &Snapshot, night: &NightAhead, clock: &Clock) -> Vec<String> {
    let show = |at| clock.format(at, "%H:%M");
    let mut lines =
        vec!["NIGHT AHEAD      by the wind that was entered; depth and keel in m, load in kN".to_owned()];
    let mut words = wrapped(&night.worst_in_words(show), 92);
    words.extend(wrapped(&night.sea_in_words(), 92));
    words.extend(wrapped(&night.more_in_words(), 92));
    lines.extend(words.into_iter().map(|line| format!("  {line}")));
    lines.push(format!("  {}", head_of_hours(5, Sea::InLoad)));
    let step = night.hours.len().div_ceil(HOURS_AHEAD).max(1);
    let worst = night.worst().at;
    let hours = night.hours.iter().enumerate().filter(|(i, hour)| i % step == 0 || hour.at == worst);
    lines.extend(hours.map(|(_, hour)| format!("  {}", row(hour, &show(hour.at), Sea::InLoad))));
    if let Some((least, at)) = snap.depth.least_under_keel {
        lines.push(format!("  least under keel {:.1} m at {}", least.0, show(at)));
    }
    lines.push(String::new());
    lines
}

/// Broken between words.
fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last().map_or(0, |line| line.chars().count());
        if last > 0 && last + 1 + word.chars().count() > columns {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}

/// Depths over the circle at the lowest water, where the bottom is known to slope.
fn depths_round(snap: &Snapshot) -> Vec<String> {
    let Some((view, circle)) = snap.recon.slope.zip(snap.circle.radius()) else { return Vec::new() };
    let head = format!(
        "  the bottom {}; at the lowest water, at the anchor and {:.0} m from it, north up:",
        view.fitted.slope.in_words(),
        circle.0
    );
    let round = slope::round(&view.fitted.slope, view.lowest, circle);
    std::iter::once(head).chain(slope::map(&round, view.lowest).map(|row| format!("  {row}"))).collect()
}

fn limits(snap: &Snapshot) -> Vec<String> {
    let limits = &snap.limits;
    let mut lines = vec![format!(
        "LIMITS           wind {:.0} kn, gusts {:.0}; shift {:.0}°; under keel {:.1} m; scope {:.1}",
        limits.wind_high.0, limits.gust_high.0, limits.wind_shift_deg, limits.under_keel.0, limits.scope
    )];
    if !limits.barred.is_empty() {
        let sectors: Vec<String> =
            limits.barred.iter().map(|Sector { from, to }| format!("{from} to {to}")).collect();
        lines.push(format!("  winds barred: {}", sectors.join(", ")));
    }
    if let Some(reference) = snap.wind.reference {
        lines.push(format!("  wind when brought up: from {reference} true"));
    }
    lines.push(String::new());
    lines
}

fn watches(snap: &Snapshot, clock: &Clock) -> Vec<String> {
    let rota = &snap.settings.crew.rota;
    let mut lines = Vec::new();
    if !rota.is_empty() {
        let midnight = snap.at.0.div_euclid(86_400_000) * 86_400_000;
        let at = |minute: u16| clock.format(WatchTime(midnight + i64::from(minute) * 60_000), "%H:%M");
        let turns: Vec<String> = rota
            .iter()
            .map(|turn| format!("{} {} to {}", turn.name, at(turn.from_min), at(turn.to_min)))
            .collect();
        lines.push(format!("WATCHES          {}", turns.join("; ")));
    }
    if let Some(every) = snap.limits.round_every {
        lines.push(format!(
            "ROUNDS           every {every}: bearings, lights, snubber, depth, wind, neighbours"
        ));
    }
    if !lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

/// A4 upright at 96 units to the inch.
const PAGE: Spot = (794.0, 1123.0);
const MARGIN: f64 = 48.0;
const LINE: f64 = 15.5;
/// The sketch stands in the corner that the first rows leave free.
const SKETCH: f64 = 210.0;

/// The card as a picture that prints on A4, and reduced by half on A5.
#[must_use]
pub fn svg(snap: &Snapshot, zone: &TimeZone) -> String {
    let mut svg = Svg::default();
    let mut y = MARGIN + LINE;
    for line in lines(snap, zone) {
        let class =
            if line.chars().take(4).all(|c| c.is_ascii_uppercase() || c == ' ') && !line.starts_with(' ') {
                "mono head"
            } else {
                "mono"
            };
        svg.text(class, (MARGIN, y), Anchor::Start, &line.replace(' ', "\u{a0}"));
        y += LINE;
    }
    sketch(&mut svg, snap, (PAGE.0 / 2.0, y + SKETCH * 0.62));
    svg.file(
        PAGE,
        "Anchor card",
        "Drop point, circle, bearings, depths, limits and what to do, for the chart table.",
    )
}

/// Circle, drop point and the arc of each mark, north up.
fn sketch(svg: &mut Svg, snap: &Snapshot, centre: Spot) {
    let Some(circle) = snap.circle.radius().filter(|circle| circle.0 > 0.0) else { return };
    let radius = SKETCH * 0.22;
    let at = |bearing: TrueBearing, far: f64| {
        (centre.0 + far * bearing.radians().sin(), centre.1 - far * bearing.radians().cos())
    };
    svg.circle("limit", centre, radius);
    svg.line("cross", (centre.0 - 5.0, centre.1), (centre.0 + 5.0, centre.1));
    svg.line("cross", (centre.0, centre.1 - 5.0), (centre.0, centre.1 + 5.0));
    if let Some(bow) = snap.bow.or(snap.antenna) {
        let scaled = bow.scaled(radius / circle.0);
        svg.circle("limit", (centre.0 + scaled.east_m, centre.1 - scaled.north_m), 4.0);
    }
    let north = at(TrueBearing::new(0.0), radius + 16.0);
    svg.text("mono head", north, Anchor::Middle, "N");
    for mark in snap.marks.iter().filter(|mark| mark.far.is_none()) {
        let Bearings::Between { from, to } = mark.arc else { continue };
        // Both tangents to the circle, towards the mark.
        for edge in [from, to] {
            let side = if edge == from { 90.0 } else { -90.0 };
            let touch = Local::polar(edge.turned(side), radius);
            let start = (centre.0 + touch.east_m, centre.1 - touch.north_m);
            let along = Local::polar(edge, SKETCH * 0.42);
            svg.line("dashed", start, (start.0 + along.east_m, start.1 - along.north_m));
        }
        let name = at(mark.bearing, SKETCH * 0.60);
        svg.text("mono", (name.0, name.1 + 4.0), Anchor::Middle, &mark.name);
    }
    let under = (centre.0, centre.1 + SKETCH * 0.72);
    let mut words = String::new();
    let _ =
        write!(words, "circle {:.0} m, north up; dashed: between these lines each mark is seen", circle.0);
    svg.text("mono", under, Anchor::Middle, &words);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What fits the page at the size of its letters.
    const WIDTH: usize = 96;

    #[test]
    fn a_sloping_bottom_is_on_the_card_as_a_small_map() {
        use crate::watch::slope::{Fitted, Slope};
        let slope = Slope { falls_to: TrueBearing::new(90.0), gradient: 0.05 };
        let fitted = Fitted { slope, depth: Metres(3.0), doubt: 0.001, rough: Metres(0.1), of: 40 };
        let mut snap = Snapshot::default();
        snap.recon.slope = Some(crate::watch::setting::SlopeView { fitted, lowest: Metres(4.0) });
        snap.circle.set = Some(Metres(40.0));
        let card = text(&snap, &TimeZone::UTC);
        assert!(card.contains("the bottom falls to 090° by 5 in 100"), "{card}");
        assert!(card.contains("2.0     (4.0)       6.0"), "{card}");
    }

    #[test]
    fn a_card_without_anything_has_room_to_write() {
        let card = text(&Snapshot::default(), &TimeZone::UTC);
        assert!(card.contains("drop point       not marked") && card.contains("______° at"), "{card}");
        assert!(card.contains("COLREG Rule 5"));
        assert!(card.lines().all(|line| line.chars().count() <= WIDTH), "{card}");
        assert!(svg(&Snapshot::default(), &TimeZone::UTC).ends_with("</svg>\n"));
    }
}
