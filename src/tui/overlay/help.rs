//! Explanations: what a view shows and its keys; what an alert means, what to do, and how far to trust it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::Topic;
use crate::tui::keys::{self, Key};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stands::{Place, View};
use crate::tui::text::{Pen, wrap};
use crate::watch::snapshot::Snapshot;

/// The caution that stands over everything.
///
/// # Source
/// COLREG 1972, Rule 5: every vessel shall at all times maintain a proper look-out by sight and hearing.
pub const CAUTION: &str = "An aid, not a look-out. COLREG Rule 5 asks every vessel for a proper look-out by sight and \
                           hearing, at anchor too. A receiver can err, a cable can part, a computer can stop: go on \
                           deck, take bearings, and keep an anchor watch as the place demands.";

/// What heads an explanation.
#[must_use]
pub fn title(topic: Topic) -> String {
    match topic {
        Topic::Alert(kind) => kind.title().to_owned(),
        Topic::Recorded(_) => "HELP: A RECORDED NIGHT".to_owned(),
        Topic::Place(place) => format!("HELP: {}", place.name().to_uppercase()),
    }
}

/// The explanation in lines of at most `columns`.
#[must_use]
pub fn lines(topic: Topic, snap: &Snapshot, columns: u16) -> Vec<(String, Ink)> {
    let wrapped = |text: &str, ink| wrap(text, columns).into_iter().map(move |line| (line, ink));
    let mut lines = Vec::new();
    match topic {
        Topic::Alert(kind) => {
            let about = kind.about();
            lines.extend(wrapped(about.means, Ink::Text));
            lines.extend(wrapped(&format!("To do: {}", about.action), Ink::Strong));
            lines.extend(wrapped(about.trust, Ink::Text));
        }
        Topic::Place(place) => {
            lines.extend(wrapped(about(place), Ink::Text));
            lines.extend(key_lines(keys::rows(place, snap.stage), columns));
            if place == Place::View(View::Rounds) {
                lines.extend(snap.lights.law().iter().flat_map(|line| wrapped(line, Ink::Text)));
            }
        }
        Topic::Recorded(place) => {
            lines.extend(wrapped(RECORDED, Ink::Text));
            lines.extend(key_lines(keys::rows(Place::Recorded, snap.stage), columns));
            lines.extend(wrapped(about(place), Ink::Text));
            let looks = |row: &&Key| row.acts.iter().all(|(_, act)| !act.changes_the_watch());
            let own = |row: &&Key| !row.at.contains(&Place::Recorded) && looks(row);
            lines.extend(key_lines(keys::rows(place, snap.stage).filter(own), columns));
        }
    }
    lines.extend(wrapped(CAUTION, Ink::Dim));
    lines
}

/// Columns of a key's name before what it does.
const LABEL: usize = 10;

/// A line or more for each key: what it is called, then what it does.
fn key_lines(rows: impl Iterator<Item = &'static Key>, columns: u16) -> Vec<(String, Ink)> {
    let room = columns.saturating_sub(LABEL as u16);
    let one = |row: &Key| {
        let labels = std::iter::once(row.label).chain(std::iter::repeat(""));
        let lines = wrap(row.does, room).into_iter().zip(labels);
        lines.map(|(line, label)| (format!("{label:<LABEL$}{line}"), Ink::Boat)).collect::<Vec<_>>()
    };
    rows.flat_map(one).collect()
}

/// What a replay shows.
const RECORDED: &str = "A recorded night: every view shows what the watch showed at the moment above the bar. The bar is \
                        the whole night: the denser, the farther out she lay, █ beyond the circle, ╳ where nobody \
                        watched or nothing was received; below it ! alerts, ~ wind shifts, · what the crew did. Click \
                        on it, or draw along it, to go there. Nothing is changed, written or sounded.";

/// The farthest that an explanation scrolls in so many columns and rows: its last line in the last row.
#[must_use]
pub fn down_max(topic: Topic, snap: &Snapshot, columns: u16, rows: u16) -> u16 {
    let beyond = lines(topic, snap, columns).len().saturating_sub(usize::from(rows));
    u16::try_from(beyond).unwrap_or(u16::MAX)
}

/// Draws the explanation from row `down`.
pub fn render(scene: &Scene, topic: Topic, down: u16, area: Rect, buf: &mut Buffer) {
    let lines = lines(topic, scene.snap, area.width);
    let mut pen = Pen::new(buf, area);
    let down = usize::from(down).min(lines.len().saturating_sub(usize::from(area.height)));
    for (y, (line, ink)) in (0..area.height).zip(lines.iter().skip(down)) {
        // A key's name stands out from what it does.
        let label = if *ink == Ink::Boat { LABEL } else { 0 };
        let label = line.char_indices().nth(label).map_or(line.len(), |(at, _)| at);
        let x = pen.put(0, y, &line[..label], scene.ink(*ink));
        pen.put(x, y, &line[label..], scene.ink(if *ink == Ink::Boat { Ink::Text } else { *ink }));
    }
    if down + usize::from(area.height) < lines.len() && area.height > 0 {
        pen.put_more(area.height - 1, "↓ more", scene.ink(Ink::Boat));
    }
}

/// What stands there, in plain words.
const fn about(place: Place) -> &'static str {
    match place {
        Place::View(view) => about_view(view),
        Place::Figures | Place::SlimFigures => {
            "The watch in tall figures: the verdict, how much room is left to the nearest limit, and what matters next."
        }
        Place::Deck | Place::SlimDeck => {
            "The step at hand on deck: three figures that are measured now, below them what was seen and what to do. \
             Enter is always what comes next, named in the bottom row; + and - count marks of the rode over the roller."
        }
        _ => "",
    }
}

const fn about_view(view: View) -> &'static str {
    match view {
        View::Swing => {
            "The anchor is in the middle, the boat where she lies, her track fading with age. The thin ring is how far \
             her rode reaches now, the strong one the circle beyond which OUTSIDE is raised; hatched sectors are winds \
             you barred. Room is the metres from her stern, or from her bow where that lies farther out, to the circle. \
             Drag evidence is how much of what the alarm asks \
             for speaks for a moving anchor: at 100 % it is raised. 100 % is that threshold, not certainty."
        }
        View::Rode => {
            "The rode from the side: what lies on the bottom, what is lifted, chain heavy and rope broken. Dotted levels \
             are the sea at high and low water. Below, in figures, now, low and high water, and 5 m more: kn are winds on \
             her bow at which the last link lifts or the pull at the anchor points 5° or 8° up. Gusts catch her while \
             she sheers. All is calculated from wind, stream and boat, not measured; waves come on top. While \
             something is supposed, WHAT IF stands over it, and the thin line is the rode as it is."
        }
        View::Night => {
            "The night from letting go as graphs on one time, the present at the dotted line: how far from the anchor \
             her stern lay, with the circle and where a straight rode would bring it, wind with gusts, depth by sounder and tide, heading and where the wind came from. Where nothing was \
             heard nothing is drawn. The ruler shows what was so at a moment."
        }
        View::Rounds => {
            "What to look at on deck, with what the instruments say of it: believe your eyes first. A round that nobody \
             logs is a caution when it is due, then a warning, then an alarm. Strong or rising wind, a shift, or an \
             anchor that may creep make rounds come sooner. Who is on watch comes from boat.toml. Each mark has the arc \
             in which it is seen from the circle that is set, the arc that the tide leaves now, where it is seen from \
             the bow, and what you took by eye. Lights and shapes are those of COLREG Rule 30 for a vessel at anchor, \
             by her length and the time of sunset."
        }
        View::Alerts => {
            "Every alert that is not over, the most urgent first. Not acknowledged: it waits for a. Acknowledged: \
             it stands until its cause is gone. Over, not acknowledged: its cause is gone, yet nobody saw it. A caution asks \
             for nothing."
        }
        View::Feeds => {
            "Every feed, what it delivers a second, and for what it is believed. If a feed is lost the next in \
             priority is believed. Unused sentences are sound but say nothing that is needed; refused ones are \
             damaged: many of them mean a bad cable, a wrong speed or two senders on one line."
        }
        View::Position => {
            "Where the antenna is, in degrees and minutes on WGS84, as it is read into a radio: latitude first, then \
             longitude, then the time in UTC. While no position comes the last one stands, with its age. Below, where \
             the anchor was marked."
        }
        View::Health => {
            "Whether the computer lasts the night. Power is what the battery itself says; old ones end sooner. Sleep says \
             whether the system lets the watch keep the computer awake, also with the lid closed: try the lid once by \
             day. The disk is the one of the rides. Read once a minute. What to do about each: the page Aboard."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::alert::AlertKind;

    #[test]
    fn every_alert_and_view_is_explained_with_the_caution() {
        let snap = Snapshot::default();
        let topics =
            AlertKind::ALL.map(Topic::Alert).into_iter().chain(View::ALL.map(Place::View).map(Topic::Place));
        for topic in topics {
            let text: Vec<String> = lines(topic, &snap, 58).into_iter().map(|(line, _)| line).collect();
            assert!(text.join(" ").contains("An aid, not a look-out"), "{topic:?}");
        }
    }
}
