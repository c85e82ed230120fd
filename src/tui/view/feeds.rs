//! Every feed: whether it runs, what it delivers, for what it is believed, what was refused.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, ago, rounded, wrap};
use crate::watch::input::Link;
use crate::watch::snapshot::{FeedView, FixQuality, Snapshot};
use crate::watch::units::Span;

/// A feed that is open but silent for longer than this does not deliver. Common practice, no source.
const SILENT: Span = Span::from_secs(15);

/// What is missing for a full watch, in a line, and whether that is trouble.
#[must_use]
pub fn verdict(snap: &Snapshot) -> (String, bool) {
    let missing: Vec<&str> = [
        (snap.heading.now().is_none(), "heading"),
        (snap.wind.apparent.now().is_none() && snap.wind.direction.is_none(), "wind"),
        (snap.depth.sounded.now().is_none(), "depth"),
    ]
    .into_iter()
    .filter_map(|(gone, name)| gone.then_some(name))
    .collect();
    let list = match missing[..] {
        [] => String::new(),
        [one] => one.to_owned(),
        [ref first @ .., last] => format!("{} or {last}", first.join(", ")),
    };
    match (&snap.fix.quality, list.as_str()) {
        (FixQuality::Good, "") => {
            ("Nothing is missing: position, heading, wind and depth come.".to_owned(), false)
        }
        (FixQuality::Good, list) => {
            (format!("She can be judged. No {list} comes; the judgement is less sharp."), false)
        }
        (FixQuality::Doubtful { why }, _) => {
            (format!("The position cannot be trusted: {why}. She is not judged."), true)
        }
        (FixQuality::Never, _) if snap.feeds.is_empty() => {
            ("No feed is set up, so no position can come. She is not watched.".to_owned(), true)
        }
        (FixQuality::Never | FixQuality::Lost, _) => (
            "No position comes. She can move without an alarm: check the receiver and its cable.".to_owned(),
            true,
        ),
    }
}

/// What these instruments allow the judge to see.
fn allowed(snap: &Snapshot) -> Vec<String> {
    let allows = snap.holding.allows.into_iter();
    allows
        .flat_map(|allows| [Some(allows.words()), allows.of_the_receiver().map(str::to_owned)])
        .flatten()
        .collect()
}

/// Draws the verdict, then the feeds from the picked one as far as rows go.
pub fn render(scene: &Scene, picked: usize, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let inner = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    let mut pen = Pen::new(buf, inner);
    let (text, trouble) = verdict(scene.snap);
    let mut said = vec![(text, if trouble { Ink::Trouble } else { Ink::Strong })];
    said.extend(allowed(scene.snap).into_iter().map(|text| (text, Ink::Text)));
    let mut y = 0;
    for (text, ink) in &said {
        for line in wrap(text, inner.width) {
            pen.put(0, y, &line, scene.ink(*ink));
            y += 1;
        }
    }
    y += 1;
    let blocks: Vec<Vec<(String, Ink)>> =
        scene.snap.feeds.iter().map(|feed| block(scene, feed, inner.width)).collect();
    let rows = |blocks: &[Vec<(String, Ink)>]| blocks.iter().map(|b| b.len() + 1).sum::<usize>();
    let picked = picked.min(blocks.len().saturating_sub(1));
    let room = usize::from(inner.height.saturating_sub(y));
    let mut first = 0;
    while first < picked && rows(&blocks[first..=picked]) > room + 1 {
        first += 1;
    }
    let goes_on = rows(&blocks[first..]) > room + 1;
    for (index, lines) in blocks.iter().enumerate().skip(first) {
        if y >= inner.height {
            break;
        }
        let tall = (lines.len() as u16).min(inner.height - y);
        hits.add(Rect { y: inner.y + y, height: tall, ..inner }, Target::Row(index));
        for (i, (line, ink)) in lines.iter().enumerate().take(usize::from(tall)) {
            let here = i == 0 && index == picked && blocks.len() > 1;
            if here {
                pen.blank(y..y + 1, scene.ink(Ink::Picked));
            }
            pen.put(u16::from(i > 0) * 2, y, line, scene.ink(if here { Ink::Picked } else { *ink }));
            y += 1;
        }
        y += 1;
    }
    if goes_on {
        pen.put_more(inner.height.saturating_sub(1), "↓ more", scene.ink(Ink::Boat));
    }
}

/// A feed in lines.
fn block(scene: &Scene, feed: &FeedView, columns: u16) -> Vec<(String, Ink)> {
    let now = scene.snap.at;
    let silent = feed.last_good.is_none_or(|at| now.since(at) > SILENT);
    let since = now.since(feed.link_since);
    let (link, ink) = match &feed.link {
        Link::Opening => (format!("opening for {since}"), Ink::Trouble),
        Link::Open if silent => (format!("open for {since}, but silent"), Ink::Trouble),
        Link::Open => (format!("open for {since}"), Ink::Strong),
        Link::Lost { why } => (format!("lost for {since}, tried again by itself: {why}"), Ink::Trouble),
        Link::Ended => (format!("ended {since} ago"), Ink::Trouble),
    };
    let last = feed
        .last_good
        .map_or("nothing good yet".to_owned(), |at| format!("last good {}", ago(now.since(at))));
    let room = columns.saturating_sub(2);
    let mut lines = vec![(format!("{}  {link}", feed.name), ink)];
    let mut say = |text: String, ink| lines.extend(wrap(&text, room).into_iter().map(|line| (line, ink)));
    let rate = |(name, rate): &(&str, f64)| format!("{name}\u{a0}{}/s", rounded(*rate, 1));
    let rates: Vec<String> = feed.delivers.iter().map(rate).collect();
    let rates = if rates.is_empty() { "delivers nothing now".to_owned() } else { rates.join("   ") };
    say(format!("{last}   {rates}"), Ink::Text);
    say(
        match feed.believed_for[..] {
            [] => "believed for nothing: others come first, or it gives nothing".to_owned(),
            ref some => format!("believed for {}", some.join(", ")),
        },
        Ink::Text,
    );
    let refused: Vec<String> = feed.rejected.iter().map(|(why, count)| format!("{why} {count}")).collect();
    let refused = if refused.is_empty() { "none refused".to_owned() } else { refused.join(", ") };
    say(format!("good {}   unused {}   {refused}", feed.good, feed.unused), Ink::Dim);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_boat_without_feeds_is_told_that_she_is_not_watched() {
        let (text, trouble) = verdict(&Snapshot::default());
        assert!(trouble && text.contains("not watched"));
    }

    #[test]
    fn what_is_missing_beside_a_position_is_named() {
        let mut snap = Snapshot::default();
        snap.fix.quality = FixQuality::Good;
        assert_eq!(
            verdict(&snap).0,
            "She can be judged. No heading, wind or depth comes; the judgement is less sharp."
        );
    }
}
