//! A step on deck: three tall figures, and below them what was seen and what to do.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::deck::Deck;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, whole_sentences, wrap};
use crate::tui::view::figures;

/// Rows that the words get before the figures grow beyond their smallest size.
const WORDS: u16 = 5;
/// Rows of three figures at their smallest, with a row between them.
const FIGURES: u16 = 11;

/// Draws figures, then words as far as rows go.
pub fn render(scene: &Scene, deck: &Deck, area: Rect, buf: &mut Buffer) {
    let columns = area.width.saturating_sub(2);
    let asked = (rows_of(&deck.says, columns) + 1).min(WORDS.max(area.height / 3));
    let words = asked.min(area.height.saturating_sub(FIGURES));
    let above = Rect { height: area.height - words, ..area };
    let used = figures::render(scene, &deck.figures, above, buf).min(above.height);
    let below = Rect { y: area.y + used, height: area.height - used, ..area };
    // What is left is one entry at least, which may still be too long.
    let lines: Vec<(String, Ink)> = fitting(&deck.says, columns, below.height)
        .iter()
        .flat_map(|(text, ink)| {
            whole_sentences(text, columns, below.height).into_iter().map(|line| (line, *ink))
        })
        .collect();
    let mut pen = Pen::new(buf, below);
    let first = u16::from(below.height > lines.len() as u16);
    for (y, (line, ink)) in (first..below.height).zip(&lines) {
        pen.put(1, y, line, scene.ink(*ink));
    }
}

fn rows(text: &str, columns: u16) -> u16 {
    wrap(text, columns).len() as u16
}

fn rows_of(says: &[(String, Ink)], columns: u16) -> u16 {
    says.iter().map(|(text, _)| rows(text, columns)).sum()
}

/// Entries that stay whole as long as any other can be spared: what was seen or is to be done, and what comes next.
const KEPT: usize = 2;

/// As much as these rows hold, in whole sentences: half a sentence misleads. The last sentences of what follows the first
/// entry go before all else, then the least important entries, and only then the end of the first.
fn fitting(says: &[(String, Ink)], columns: u16, height: u16) -> Vec<(String, Ink)> {
    let mut says = says.to_vec();
    while rows_of(&says, columns) > height {
        let can_go = |(text, _): &(String, Ink)| text.contains(". ") && rows(text, columns) > 1;
        let later = says.iter().skip(1).rposition(can_go).map(|i| i + 1);
        let shortened =
            later.or_else(|| (says.len() <= KEPT && says.first().is_some_and(can_go)).then_some(0));
        match shortened {
            Some(i) => {
                let end = says[i].0.rfind(". ").map_or(0, |stop| stop + 1);
                says[i].0.truncate(end);
            }
            None if says.len() > 1 => {
                says.pop();
            }
            None => break,
        }
    }
    says
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(says: &[(String, Ink)]) -> Vec<&str> {
        says.iter().map(|(text, _)| text.as_str()).collect()
    }

    #[test]
    fn short_of_rows_whole_sentences_go_and_the_first_stays() {
        let says =
            ["Held. It moved 1.4 m, no more than the receiver wanders.", "Next: burst. A gust pulls harder."]
                .map(|text| (text.to_owned(), Ink::Text));
        assert_eq!(fitting(&says, 30, 4).len(), 2);
        assert_eq!(words(&fitting(&says, 30, 4)), words(&says));
        assert_eq!(words(&fitting(&says, 30, 3)), [says[0].0.as_str(), "Next: burst."]);
        assert_eq!(words(&fitting(&says, 30, 2)), ["Held.", "Next: burst."]);
        assert_eq!(words(&fitting(&says, 30, 1)), ["Held."]);
        let more =
            [says[0].clone(), ("Next mark: red.".to_owned(), Ink::Text), ("Look out.".to_owned(), Ink::Text)];
        assert_eq!(words(&fitting(&more, 30, 3)), [more[0].0.as_str(), "Next mark: red."]);
        assert_eq!(words(&fitting(&says, 30, 0)), ["Held."], "cut by the area, never emptied");
    }
}
