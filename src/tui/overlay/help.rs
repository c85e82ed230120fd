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
use crate::watch::alert::AlertKind;
use crate::watch::snapshot::Snapshot;

/// The caution that stands over everything.
///
/// # Source
/// COLREG 1972, Rule 5: every vessel shall at all times maintain a proper look-out by sight and hearing.
pub const CAUTION: &str = "An aid, not a look-out. COLREG Rule 5 asks every vessel for a proper look-out by sight and \
                           hearing, at anchor too. A receiver can err, a cable can part, a computer can stop: go on \
                           deck, take bearings, and keep an anchor watch as the place demands.";

/// An alert in plain words.
struct About {
    means: &'static str,
    todo: &'static str,
    trust: &'static str,
}

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
            let about = alert(kind);
            say(about.means, Ink::Text);
            say(&format!("To do: {}", about.todo), Ink::Strong);
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

fn alert(kind: AlertKind) -> About {
    let about = |means, todo, trust| About { means, todo, trust };
    match kind {
        AlertKind::Drag => about(
            "The positions seen cannot be explained with the anchor where it was: it moves.",
            "look out and take a bearing. Start the engine. Veer if there is room; else weigh and anchor again.",
            "A drop point marked wrongly, or a receiver that wanders, can look alike. Believe it until you have seen \
             otherwise.",
        ),
        AlertKind::Creep => about(
            "The anchor probably moves, slowly. It is likely, not certain.",
            "look out, take a bearing on two marks, feel the rode. Have the engine ready.",
            "A long swing in a new stream can look like it for a while. It rises to DRAGGING if it goes on.",
        ),
        AlertKind::Outside => about(
            "She lies farther from the drop point than the circle allows, for longer than was set.",
            "look out. If she drags, act; if the circle is too small or the drop point wrong, press l or d.",
            "The circle is geometry alone: inside it she can drag too.",
        ),
        AlertKind::FixLost => about(
            "No feed gives a valid position. She can move and no alarm will tell.",
            "go on deck and take bearings. Check the receiver's power, cable and aerial; press f for the feeds.",
            "Until it is back only your eyes watch.",
        ),
        AlertKind::FixDoubtful => about(
            "Positions come, but they contradict themselves or do not change as positions must.",
            "take bearings. Switch the receiver off and on, or let another feed be believed.",
            "While it lasts she is not judged.",
        ),
        AlertKind::WindShift => about(
            "The mean wind has turned since she was brought up, or blows from a sector that you barred.",
            "see where she will lie now, what is to leeward, and whether the anchor turned with her.",
            "At a turn of the wind an anchor may break out and set again, or not.",
        ),
        AlertKind::WindHigh => about(
            "Mean wind or gust is above the limit.",
            "check snubber and chafe, veer if there is room, have the engine ready.",
            "The limit is yours, not the anchor's: what it holds depends on the ground.",
        ),
        AlertKind::Shallow => about(
            "There is less water under the keel than you wanted.",
            "look at the tide: does it still fall? Shorten, or move to deeper water.",
            "The sounder sees the water below itself, not where she swings to.",
        ),
        AlertKind::Shoaling => about(
            "At a low water ahead there will be less under the keel than you wanted.",
            "move to deeper water while there is time, or see that she may take the ground there.",
            "Wind and air pressure move the water by decimetres: a prediction does not know them.",
        ),
        AlertKind::ScopeShort => about(
            "At a high water ahead the rode will be too short for the depth.",
            "veer if there is room to swing, or have more rode ready.",
            "Scope alone does not hold a boat: a heavy chain needs less, a gale more.",
        ),
        AlertKind::DepthOdd => about(
            "Sounder and predicted tide disagree by more than the limit.",
            "check the tide you told and the sounder's offset. Perhaps she lies over other ground than at first.",
            "Weed, fish and a steep bottom mislead a sounder; weather moves the tide.",
        ),
        AlertKind::TideEnds => about(
            "The tide that was told ends soon: after it no depth can be foretold.",
            "press t and tell the next high and low waters.",
            "Until then only the depth now is watched.",
        ),
        AlertKind::HeadingLost => about(
            "The heading is gone. The bow's place is guessed from the aerial.",
            "check the compass and its cable.",
            "She is still judged, less sharply.",
        ),
        AlertKind::WindLost => about(
            "The wind sensor is silent. No shift and no strong wind will raise an alert.",
            "check its cable, and watch the wind yourself.",
            "She is still judged.",
        ),
        AlertKind::DepthLost => about(
            "The sounder is silent. Shallow water will raise no alert except by the tide.",
            "switch it on, check its cable; use the lead.",
            "She is still judged.",
        ),
        AlertKind::Closing => about(
            "Another vessel comes near the swing circle.",
            "look out. Show a light on deck, call her, have fenders ready.",
            "Only vessels with a transponder are seen: most small boats have none.",
        ),
        AlertKind::RoundDue => about(
            "It is time for a round on deck.",
            "bearings, rode, chafe, light, neighbours. Then press a.",
            "The screen does not replace it.",
        ),
        AlertKind::LightDue => about(
            "Sunset or sunrise: the anchor light or the ball is to be changed.",
            "light in and ball down, or the other way about. Then press a.",
            "COLREG Rule 30 sets the signals of a vessel at anchor.",
        ),
        AlertKind::Gap => about(
            "The watch did not run for a while: the computer slept, stopped or lost its time.",
            "take bearings and see whether she still lies where she did. Keep the computer awake.",
            "What happened in between is not known.",
        ),
        AlertKind::PowerLow => about(
            "The computer's battery is nearly empty.",
            "put it on the boat's supply now. When it stops, nothing watches.",
            "Old batteries end sooner than they say.",
        ),
        AlertKind::DiskLow => about(
            "The ride is not being written: the disk is full or its folder gone.",
            "make room. The watch goes on meanwhile.",
            "What is not written cannot be replayed or gone on with.",
        ),
        AlertKind::SoundFailed => about(
            "Alert sounds do not play. An alarm will show, not wake you.",
            "plug in a loudspeaker, turn it up, and try the sound. Until then somebody stays awake.",
            "A sound that plays can still be too soft for a cabin in wind.",
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
