//! Explanations: what a view shows and its keys; what an alert means, what to do, and how far to trust it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::Topic;
use crate::tui::keys;
use crate::tui::palette::Ink;
use crate::tui::replay;
use crate::tui::scene::Scene;
use crate::tui::stands::View;
use crate::tui::text::{KEEP, Pen, wrap};
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
pub const fn title(topic: Topic) -> &'static str {
    match topic {
        Topic::Alert(kind) => kind.title(),
        Topic::Replay(_) => "HELP: A RECORDED NIGHT",
        Topic::View(View::Swing) => "HELP: SWING",
        Topic::View(View::Rode) => "HELP: RODE AND TIDE",
        Topic::View(View::Night) => "HELP: NIGHT",
        Topic::View(View::Rounds) => "HELP: ROUNDS",
        Topic::View(View::Alerts) => "HELP: ALERTS",
        Topic::View(View::Feeds) => "HELP: FEEDS",
    }
}

/// The explanation in lines of at most `columns`.
#[must_use]
pub fn lines(topic: Topic, snap: &Snapshot, columns: u16) -> Vec<(String, Ink)> {
    let mut lines = Vec::new();
    let mut say = |text: &str, ink| lines.extend(wrap(text, columns).into_iter().map(|line| (line, ink)));
    match topic {
        Topic::Alert(kind) => {
            let about = kind.about();
            say(about.means, Ink::Text);
            say(&format!("To do: {}", about.action), Ink::Strong);
            say(about.trust, Ink::Text);
        }
        Topic::View(view) => {
            say(about(view), Ink::Text);
            let hints = keys::hints(view, snap.stage, false);
            let keys: Vec<String> = hints.iter().map(|hint| format!("{} {}", hint.key, hint.word)).collect();
            let keys = ["1 to 6 views".to_owned(), "a acknowledge".to_owned(), "s silence 30 s".to_owned()]
                .into_iter()
                .chain(keys);
            say(&together(keys), Ink::Boat);
        }
        Topic::Replay(view) => {
            say(RECORDED, Ink::Text);
            let hints = replay::hints(false).into_iter();
            let keys = hints.map(|hint| format!("{} {}", hint.key, hint.word));
            say(&together(keys.chain(["1 to 6 views".to_owned()])), Ink::Boat);
            say(about(view), Ink::Text);
        }
    }
    say(CAUTION, Ink::Dim);
    lines
}

/// Keys and words in a row; a key and its word stay together.
fn together(keys: impl Iterator<Item = String>) -> String {
    let keys: Vec<String> = keys.map(|key| key.replace(' ', &KEEP.to_string())).collect();
    keys.join("   ")
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
        pen.put(0, y, line, scene.ink(*ink));
    }
    if down + usize::from(area.height) < lines.len() && area.height > 0 {
        pen.put_right(area.width, area.height - 1, " ↓ more", scene.ink(Ink::Boat));
    }
}

const fn about(view: View) -> &'static str {
    match view {
        View::Swing => {
            "The anchor is in the middle, the boat where she lies, her track fading with age. The thin ring is how far \
             her rode reaches now, the strong one the circle beyond which OUTSIDE is raised; hatched sectors are winds \
             you barred. Room is metres left to the nearest limit. Movement is how far the positions speak for a \
             moving anchor: 0 % none, 100 % certain."
        }
        View::Rode => {
            "The rode from the side: what lies on the bottom, what is lifted, chain heavy and rope broken. Dotted levels \
             are the sea at high and low water. Below, in figures, now, low and high water, and 5 m more: kn are winds on \
             her bow at which the last link lifts or the pull at the anchor points 5° or 8° up. Gusts catch her while \
             she sheers. All is worked out from wind, stream and boat, not measured; waves come on top. Left and right \
             choose wind, rode or tide, up and down change it: WHAT IF stands over all that is then only supposed, the \
             thin line is the rode as it is, and 0 goes back to now."
        }
        View::Night => {
            "The night as graphs on one time, the present at the dotted line: distance from the anchor with circle and \
             reach, wind with gusts, depth by sounder and tide, heading and where the wind came from. Where nothing was \
             heard nothing is drawn. Left and right lay a ruler on a moment and tell what was so then, up and down go \
             from event to event; z and Z show less or more time, 0 goes back to now."
        }
        View::Rounds => {
            "What to look at on deck, with what the instruments say of it: believe your eyes first. r begins to tell a \
             round when you are back: y for what is in order, x for what differs, in your words. A round that nobody \
             tells is a caution when it is due, then a warning, then an alarm. Strong or rising wind, a shift, or an \
             anchor that may creep make rounds come sooner. Who is on watch comes from boat.toml. Each mark has the arc \
             in which it is seen from the circle that is set, the arc that the tide leaves now, where it is seen from \
             the bow, and what you took by eye."
        }
        View::Alerts => {
            "Every alert that is not over, the most urgent first. Unanswered means nobody has pressed a. Answered \
             stands until its cause is gone. Gone unanswered: its cause is away, yet nobody saw it. A caution asks for \
             nothing."
        }
        View::Feeds => {
            "Every feed, what it delivers a second, and for what it is believed. If a feed is lost the next in \
             priority is believed. Unused sentences are sound but say nothing that is needed; refused ones are \
             damaged: many of them mean a bad cable, a wrong speed or two senders on one line."
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
        let topics = AlertKind::ALL.map(Topic::Alert).into_iter().chain(View::ALL.map(Topic::View));
        for topic in topics {
            let text: Vec<String> = lines(topic, &snap, 58).into_iter().map(|(line, _)| line).collect();
            assert!(text.join(" ").contains("An aid, not a look-out"), "{topic:?}");
        }
    }
}
