//! The first start: the caution, then what has to be known about the boat before she can be watched.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::Event;
use ratatui::layout::Rect;

use super::keys::{self, Act};
use super::overlay::form::{Did, Field, Form, Wrong};
use super::overlay::help::CAUTION;
use super::palette::{Ink, Palette};
use super::scene::Scene;
use super::shell::{FORM_COLUMNS, Frame, Shell};
use super::stands::Place;
use super::text::{Pen, wrap};
use crate::watch::boat::ranges::{self, Range};
use crate::watch::boat::{Boat, Hull, Tackle, is_source};
use crate::watch::snapshot::Stage;
use crate::watch::units::Metres;

/// What the crew entered. The rest has defaults.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    /// The boat.
    pub boat: Boat,
    /// Her rode.
    pub tackle: Tackle,
    /// Where the feed comes from, `serial:/dev/ttyUSB0@4800` or `udp:10110`.
    pub source: String,
}

/// A source that is proposed to the crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offered {
    /// As it is written in boat.toml.
    pub source: String,
    /// What it is and gives.
    pub about: String,
}

impl From<String> for Offered {
    fn from(source: String) -> Self {
        Self { source, about: "named in the command, or heard on this computer".to_owned() }
    }
}

/// How the first start ended.
#[derive(Clone, Debug, PartialEq)]
pub enum Done {
    /// Everything is entered.
    Answers(Box<Answers>),
    /// Not now.
    Left,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Page {
    Caution,
    Boat,
}

impl Page {
    const fn place(self) -> Place {
        match self {
            Self::Caution => Place::Caution,
            Self::Boat => Place::First,
        }
    }
}

/// The screen of the first start.
#[derive(Debug)]
pub struct FirstStart {
    page: Page,
    form: Form,
    /// The sources offered, as they stand in the choice; the last choice is another, typed.
    offered: Vec<String>,
    shell: Shell,
}

const NAME: usize = 0;
const HULL: usize = 1;
const LOA: usize = 2;
const BEAM: usize = 3;
const DRAFT: usize = 4;
const BOW: usize = 5;
const SOUNDER: usize = 6;
const CHAIN_MM: usize = 7;
const CHAIN: usize = 8;
const ANTENNA: usize = 9;
const SOURCE: usize = 10;
const OTHER: usize = 11;

const HULLS: [(Hull, &str); 3] =
    [(Hull::Monohull, "one hull"), (Hull::Catamaran, "two hulls"), (Hull::Trimaran, "three hulls")];

const LENGTHS: [(usize, Range); 8] = [
    (LOA, ranges::LOA_M),
    (BEAM, ranges::BEAM_M),
    (DRAFT, ranges::DRAFT_M),
    (BOW, ranges::BOW_HEIGHT_M),
    (SOUNDER, ranges::SOUNDER_BELOW_WATER_M),
    (CHAIN_MM, ranges::CHAIN_MM),
    (CHAIN, ranges::CHAIN_M),
    (ANTENNA, ranges::ANTENNA_AFT_OF_BOW_M),
];

impl FirstStart {
    /// The first page. `found` are the sources named or found, `serial:/dev/ttyUSB0@4800`; nothing is chosen behind the
    /// crew's back.
    #[must_use]
    pub fn new(found: Vec<impl Into<Offered>>, palette: Palette) -> Self {
        let found: Vec<Offered> = found.into_iter().map(Into::into).collect();
        let form = Form::new(fields(&found));
        let offered = found.into_iter().map(|found| found.source).collect();
        Self { page: Page::Caution, form, offered, shell: Shell::new(palette) }
    }

    /// Takes a key, a click or a paste.
    pub fn on_event(&mut self, event: &Event) -> Option<Done> {
        if let (Event::Paste(_), Page::Boat) = (event, self.page) {
            self.form.on_event(event);
        }
        let key = self.shell.key(event, &mut self.form)?;
        match (self.page, keys::act(key, self.page.place())) {
            (_, Some(Act::Quit)) | (Page::Caution, Some(Act::Leave)) => return Some(Done::Left),
            (Page::Caution, Some(Act::Send)) => self.page = Page::Boat,
            (Page::Caution, _) => {}
            (Page::Boat, _) => match self.form.on_event(&Event::Key(key)) {
                Did::Typing => {}
                Did::Left => self.page = Page::Caution,
                Did::Sent => match self.answers() {
                    Ok(answers) => return Some(Done::Answers(Box::new(answers))),
                    Err(wrong) => self.form.show(wrong),
                },
            },
        }
        None
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
        let [loa, beam, draft, bow_height, sounder, chain_mm, chain, antenna_aft] = numbers;
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
        let boat = Boat {
            name,
            hull,
            loa: Metres(loa),
            beam: Metres(beam),
            draft: Metres(draft),
            bow_height: Metres(bow_height),
            sounder_below_water: Metres(sounder),
            antenna_aft: Metres(antenna_aft),
            ..Boat::default()
        };
        let tackle = Tackle { chain_mm, chain: Metres(chain), ..Tackle::default() };
        Ok(Answers { boat, tackle, source })
    }

    /// Draws the page.
    pub fn render(&mut self, area: Rect, buf: &mut Buffer) {
        let Self { page, form, shell, .. } = self;
        let place = page.place();
        let (title, hints) = match page {
            Page::Caution => ("BEFORE THE FIRST WATCH", keys::hints(place, Stage::NotSet, false)),
            Page::Boat => ("THE BOAT", form.hints(place, "save, begin the watch")),
        };
        let frame = Frame { title, hints: &hints, said: None };
        shell.render(&frame, area, buf, |scene, inner, buf, hits| {
            let inner = Rect { width: inner.width.min(FORM_COLUMNS), ..inner };
            match page {
                Page::Caution => caution(scene, inner, buf),
                Page::Boat => form.render(scene, Some(WILL), inner, buf, hits),
            }
        });
    }
}

fn caution(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let strong = wrap(CAUTION, area.width).into_iter().map(|line| (line, Ink::Strong));
    let rest = wrap(NEXT, area.width).into_iter().map(|line| (line, Ink::Text));
    for (y, (line, ink)) in (0..area.height).zip(strong.chain([(String::new(), Ink::Text)]).chain(rest)) {
        pen.put(0, y, &line, scene.ink(ink));
    }
}

/// What is asked, in the order of the numbers above.
fn fields(ports: &[Offered]) -> Vec<Field> {
    let [hull, feed, other] = choices(ports);
    let (boat, tackle) = (Boat::default(), Tackle::default());
    let metres = |label, value: Metres, about| Field::number(label, "m", Some(value.0), about);
    vec![
        Field::words("name", "", "As it stands on her stern; it heads the screen and the reports."),
        hull,
        metres("length", boat.loa, "Length overall: how far her stern reaches when she swings."),
        metres("beam", boat.beam, "Greatest beam: drawn on the chart, and part of the wind load."),
        metres("draft", boat.draft, "Waterline to the lowest point: for the water under the keel."),
        metres("bow height", boat.bow_height, "Bow roller above the water: part of the scope."),
        metres(
            "sounder below water",
            boat.sounder_below_water,
            "Its transducer below the surface: depth is counted from the surface.",
        ),
        Field::number("chain", "mm", Some(tackle.chain_mm), "Diameter of its bar; 0 if she carries none."),
        metres("chain length", tackle.chain, "Next to the anchor. Rope is added in boat.toml."),
        metres(
            "antenna aft of bow",
            boat.antenna_aft,
            "From the bow roller aft to the position antenna: without it the anchor is marked wrong by as much.",
        ),
        feed,
        other,
    ]
}

/// Hull, feed, and the feed that is written.
fn choices(ports: &[Offered]) -> [Field; 3] {
    let hulls = HULLS.map(|(_, word)| {
        (word.to_owned(), "How she takes the wind depends on it. ← and → choose.".to_owned())
    });
    let found = |found: &Offered| {
        let mut about = found.about.clone();
        if let Some(first) = about.get_mut(..1) {
            first.make_ascii_uppercase();
        }
        (found.source.clone(), format!("{about}. ← and → choose another."))
    };
    let another = ("another".to_owned(), "Written in the next line. ← and → choose.".to_owned());
    let sources = ports.iter().map(found).chain([another]).collect();
    let about = "serial:PATH@BAUD, udp:PORT, tcp:HOST:PORT, gpsd:HOST:PORT or file:PATH";
    [
        Field::choice("hull", hulls.to_vec()),
        Field::choice("feed", sources),
        Field::words("feed source", "udp:10110", about).only(SOURCE, ports.len()),
    ]
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
    use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

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
        assert_eq!((answers.boat.name.as_str(), answers.boat.loa), ("Marram", Boat::default().loa));
        assert_eq!(answers.source, "serial:/dev/ttyUSB0@4800");
    }

    #[test]
    fn nothing_is_taken_while_something_is_wrong() {
        let mut first = first();
        assert_eq!(typed(&mut first, "⏎⏎"), None);
        assert_eq!(typed(&mut first, "Marram⇥⇥109⏎"), None, "109 m long");
        assert_eq!(typed(&mut first, "⎋"), None);
        assert_eq!(typed(&mut first, "q"), Some(Done::Left));
    }

    #[test]
    fn another_source_can_be_typed() {
        let Some(Done::Answers(answers)) = typed(&mut first(), "⏎Marram⇥⇥⇥⇥⇥⇥⇥⇥⇥⇥ ⇥udp:10111⏎")
        else {
            panic!("not done")
        };
        assert_eq!(answers.source, "udp:10111");
    }

    #[test]
    fn lengths_are_read_with_a_comma_or_in_feet_and_take_the_place_of_what_stood_there() {
        let Some(Done::Answers(answers)) = typed(&mut first(), "⏎Marram⇥⇥32ft⇥3,1⏎") else {
            panic!("not done")
        };
        assert!((answers.boat.loa.0 - 9.7536).abs() < 1e-9 && answers.boat.beam == Metres(3.1));
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
