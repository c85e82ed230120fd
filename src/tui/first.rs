//! The first start: the caution, then what has to be known about the boat before she can be watched.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers, MouseButton, MouseEventKind};
use ratatui::layout::Rect;

use super::hits::{Hits, Target};
use super::overlay::form::{Did, Field, Form, Wrong};
use super::overlay::help::CAUTION;
use super::overlay::typed::{Bounds, of};
use super::palette::{Ink, Palette};
use super::scene::Scene;
use super::text::{Clock, Pen, wrap};
use crate::watch::boat::{Boat, Hull, Tackle, is_source, ranges};
use crate::watch::snapshot::Snapshot;
use crate::watch::units::Metres;
use jiff::tz::TimeZone;

/// What the crew told. The rest has defaults.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    /// Her name.
    pub name: String,
    /// One hull or more.
    pub hull: Hull,
    /// Length overall.
    pub loa: Metres,
    /// Greatest beam.
    pub beam: Metres,
    /// Draft.
    pub draft: Metres,
    /// Bow roller above the water.
    pub bow_height: Metres,
    /// Diameter of the chain's bar in millimetres; 0 for none.
    pub chain_mm: f64,
    /// Length of chain.
    pub chain: Metres,
    /// Position antenna aft of the bow roller.
    pub antenna_aft: Metres,
    /// Where the feed comes from, `serial:/dev/ttyUSB0@4800` or `udp:10110`.
    pub source: String,
}

/// How the first start ended.
#[derive(Clone, Debug, PartialEq)]
pub enum Done {
    /// Everything is told.
    Answers(Box<Answers>),
    /// Not now.
    Left,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Page {
    Caution,
    Boat,
}

/// The screen of the first start.
#[derive(Debug)]
pub struct FirstStart {
    page: Page,
    form: Form,
    /// The sources offered, as they stand in the choice; the last choice is another, typed.
    offered: Vec<String>,
    palette: Palette,
    hits: Hits,
}

const NAME: usize = 0;
const HULL: usize = 1;
const LOA: usize = 2;
const BEAM: usize = 3;
const DRAFT: usize = 4;
const BOW: usize = 5;
const CHAIN_MM: usize = 6;
const CHAIN: usize = 7;
const ANTENNA: usize = 8;
const SOURCE: usize = 9;
const OTHER: usize = 10;

const HULLS: [(Hull, &str); 3] =
    [(Hull::Monohull, "one hull"), (Hull::Catamaran, "two hulls"), (Hull::Trimaran, "three hulls")];

const LENGTHS: [(usize, Bounds); 7] = [
    (LOA, of(ranges::LOA_M)),
    (BEAM, of(ranges::BEAM_M)),
    (DRAFT, of(ranges::DRAFT_M)),
    (BOW, of(ranges::BOW_HEIGHT_M)),
    (CHAIN_MM, of(ranges::CHAIN_MM)),
    (CHAIN, of(ranges::CHAIN_M)),
    (ANTENNA, of(ranges::ANTENNA_AFT_OF_BOW_M)),
];

impl FirstStart {
    /// The first page. `ports` are the sources found, `serial:/dev/ttyUSB0@4800`; nothing is chosen behind the
    /// crew's back.
    #[must_use]
    pub fn new(ports: Vec<String>, palette: Palette) -> Self {
        let (boat, tackle) = (Boat::default(), Tackle::default());
        let mut sources: Vec<(String, String)> = ports
            .iter()
            .map(|port| (port.clone(), "Found on this computer. ← and → choose another.".to_owned()))
            .collect();
        sources.push(("another".to_owned(), "Written in the next line. ← and → choose.".to_owned()));
        let hulls = HULLS
            .iter()
            .map(|(_, word)| {
                ((*word).to_owned(), "How she takes the wind depends on it. ← and → choose.".to_owned())
            })
            .collect();
        let form = Form::new(vec![
            Field::words("name", "", "As it stands on her stern; it heads the screen and the reports."),
            Field::choice("hull", hulls),
            Field::number(
                "length",
                "m",
                Some(boat.loa.0),
                "Length overall: how far her stern reaches when she swings.",
            ),
            Field::number(
                "beam",
                "m",
                Some(boat.beam.0),
                "Greatest beam: drawn on the chart, and part of the wind load.",
            ),
            Field::number(
                "draft",
                "m",
                Some(boat.draft.0),
                "Waterline to the lowest point: for the water under the keel.",
            ),
            Field::number(
                "bow height",
                "m",
                Some(boat.bow_height.0),
                "Bow roller above the water: part of the scope.",
            ),
            Field::number(
                "chain",
                "mm",
                Some(tackle.chain_mm),
                "Diameter of its bar; 0 if she carries none.",
            ),
            Field::number(
                "chain length",
                "m",
                Some(tackle.chain.0),
                "Next to the anchor. Rope is added in boat.toml.",
            ),
            Field::number(
                "antenna aft of bow",
                "m",
                Some(boat.antenna_aft.0),
                "From the bow roller aft to the position antenna: without it the drop point is wrong by as much.",
            ),
            Field::choice("feed", sources),
            Field::words(
                "feed source",
                "udp:10110",
                "serial:PATH@BAUD, udp:PORT, tcp:HOST:PORT, gpsd:HOST:PORT or file:PATH",
            )
            .only(SOURCE, ports.len()),
        ]);
        Self { page: Page::Caution, form, offered: ports, palette, hits: Hits::default() }
    }

    /// Takes a key, a click or a paste.
    pub fn on_event(&mut self, event: &Event) -> Option<Done> {
        match event {
            Event::Key(key) if key.kind == KeyEventKind::Release => None,
            Event::Key(key)
                if key.modifiers.contains(KeyModifiers::CONTROL) && key.code == KeyCode::Char('c') =>
            {
                Some(Done::Left)
            }
            Event::Key(key) if self.page == Page::Caution => match key.code {
                KeyCode::Enter => {
                    self.page = Page::Boat;
                    None
                }
                KeyCode::Esc | KeyCode::Char('q') => Some(Done::Left),
                _ => None,
            },
            Event::Mouse(mouse) => {
                if let (MouseEventKind::Down(MouseButton::Left), Some((Target::Row(row), _))) =
                    (mouse.kind, self.hits.at(mouse.column, mouse.row))
                {
                    self.form.pick(row);
                }
                None
            }
            Event::Key(_) | Event::Paste(_) if self.page == Page::Boat => match self.form.on_event(event) {
                Did::Typing => None,
                Did::Left => {
                    self.page = Page::Caution;
                    None
                }
                Did::Sent => match self.answers() {
                    Ok(answers) => Some(Done::Answers(Box::new(answers))),
                    Err(wrong) => {
                        self.form.tell(wrong);
                        None
                    }
                },
            },
            _ => None,
        }
    }

    fn answers(&self) -> Result<Answers, Wrong> {
        let form = &self.form;
        let name = form.read(NAME, |text| match text.trim() {
            "" => Err("She has no name yet. Write it.".to_owned()),
            name => Ok(name.to_owned()),
        })?;
        let mut numbers = [0.0; LENGTHS.len()];
        for (number, (field, within)) in numbers.iter_mut().zip(LENGTHS) {
            *number = form.read(field, |text| within.read(text))?;
        }
        let [loa, beam, draft, bow_height, chain_mm, chain, antenna_aft] = numbers;
        let wrong = |field, what: &str| Err(Wrong { field, what: what.to_owned() });
        if antenna_aft > loa {
            return wrong(ANTENNA, "The antenna would stand behind her stern. Make it less than her length.");
        }
        if chain > 0.0 && chain_mm == 0.0 {
            return wrong(
                CHAIN_MM,
                "She carries chain, so its diameter is needed. Write it, or no length of chain.",
            );
        }
        let source = match self.offered.get(form.chosen(SOURCE)) {
            Some(port) => port.clone(),
            None => form.read(OTHER, source)?,
        };
        let hull = HULLS.get(form.chosen(HULL)).map_or(Hull::Monohull, |(hull, _)| *hull);
        Ok(Answers {
            name,
            hull,
            loa: Metres(loa),
            beam: Metres(beam),
            draft: Metres(draft),
            bow_height: Metres(bow_height),
            chain_mm,
            chain: Metres(chain),
            antenna_aft: Metres(antenna_aft),
            source,
        })
    }

    /// Draws the page.
    pub fn render(&mut self, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        let (snap, clock) = (Snapshot::default(), Clock::new(TimeZone::UTC));
        let scene = Scene { snap: &snap, palette: self.palette, clock: &clock, lit: true, cell_aspect: 0.5 };
        let mut hits = Hits::default();
        let mut pen = Pen::new(buf, area);
        pen.blank(0..area.height, self.palette.ground());
        let inner = Rect {
            x: area.x + 1.min(area.width),
            y: area.y + 2.min(area.height),
            width: area.width.saturating_sub(2).min(90),
            height: area.height.saturating_sub(4),
        };
        let (title, keys) = match self.page {
            Page::Caution => ("BEFORE THE FIRST WATCH", "Enter I have read it   Esc leave"),
            Page::Boat => ("THE BOAT", "Enter done   Tab next   Esc back"),
        };
        pen.put(1, 0, title, scene.ink(Ink::Strong));
        if area.height > 1 {
            pen.put(1, area.height - 1, keys, scene.ink(Ink::Boat));
        }
        match self.page {
            Page::Caution => {
                let mut pen = Pen::new(buf, inner);
                let mut lines: Vec<(String, Ink)> =
                    wrap(CAUTION, inner.width).into_iter().map(|line| (line, Ink::Strong)).collect();
                lines.push((String::new(), Ink::Text));
                lines.extend(wrap(NEXT, inner.width).into_iter().map(|line| (line, Ink::Text)));
                for (y, (line, ink)) in (0..inner.height).zip(lines) {
                    pen.put(0, y, &line, scene.ink(ink));
                }
            }
            Page::Boat => self.form.render(&scene, Some(WILL), inner, buf, &mut hits),
        }
        self.hits = hits;
    }
}

/// What comes after the caution.
const NEXT: &str = "It judges by position, wind and depth whether the anchor holds, and wakes you if it does not. For \
                    that it needs a few facts about the boat; they are asked on the next page and can be changed \
                    later in boat.toml.";

const WILL: &str = "Enter writes them to boat.toml and begins the watch.";

fn source(text: &str) -> Result<String, String> {
    let text = text.trim();
    // Standard input is no feed for a screen: it has the keys.
    if is_source(text) && text != "-" {
        return Ok(text.to_owned());
    }
    Err(format!("\"{text}\" is no source. Write one like udp:10110 or serial:/dev/ttyUSB0@4800."))
}

#[cfg(test)]
mod tests {
    use ratatui::crossterm::event::KeyEvent;

    use super::*;

    fn typed(first: &mut FirstStart, keys: &str) -> Option<Done> {
        let code = |c| match c {
            '⏎' => KeyCode::Enter,
            '⇥' => KeyCode::Tab,
            '⎋' => KeyCode::Esc,
            c => KeyCode::Char(c),
        };
        keys.chars().find_map(|c| first.on_event(&Event::Key(KeyEvent::new(code(c), KeyModifiers::NONE))))
    }

    fn first() -> FirstStart {
        FirstStart::new(vec!["serial:/dev/ttyUSB0@4800".to_owned()], Palette::default())
    }

    #[test]
    fn the_caution_comes_first_and_then_the_boat() {
        let Some(Done::Answers(answers)) = typed(&mut first(), "⏎Marram⏎") else { panic!("not done") };
        assert_eq!((answers.name.as_str(), answers.loa), ("Marram", Boat::default().loa));
        assert_eq!(answers.source, "serial:/dev/ttyUSB0@4800");
    }

    #[test]
    fn nothing_is_taken_while_something_is_wrong() {
        let mut first = first();
        assert_eq!(typed(&mut first, "⏎⏎"), None);
        assert_eq!(typed(&mut first, "Marram⇥⇥9⏎"), None, "109 m long");
        assert_eq!(typed(&mut first, "⎋"), None);
        assert_eq!(typed(&mut first, "q"), Some(Done::Left));
    }

    #[test]
    fn another_source_can_be_typed() {
        let Some(Done::Answers(answers)) = typed(&mut first(), "⏎Marram⇥⇥⇥⇥⇥⇥⇥⇥⇥ ⇥0⏎")
        else {
            panic!("not done")
        };
        assert_eq!(answers.source, "udp:101100");
    }

    #[test]
    fn any_size_can_be_drawn() {
        let mut first = first();
        for page in [Page::Caution, Page::Boat] {
            first.page = page;
            for (columns, rows) in [(0, 0), (1, 1), (20, 3), (60, 20), (200, 60)] {
                let area = Rect::new(0, 0, columns, rows);
                first.render(area, &mut Buffer::empty(area));
            }
        }
    }
}
