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
    /// Where the feeds come from, `serial:/dev/ttyUSB0@4800` or `udp:10110`; one at least.
    pub sources: Vec<String>,
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
    /// The sources offered, a field each; then whether there is another, and which.
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
/// The first source offered.
const SOURCE: usize = 10;

/// Sources that fit the smallest window, each with its label; a boat that has more adds them to boat.toml.
const SOURCES: [&str; 6] = ["feed", "second feed", "third feed", "fourth feed", "fifth feed", "sixth feed"];

/// The choices of a source: it is taken, or not.
const YES: usize = 0;

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
        let found: Vec<Offered> = found.into_iter().map(Into::into).take(SOURCES.len()).collect();
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
        let sources = self.sources()?;
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
        Ok(Answers { boat, tackle, sources })
    }

    /// What was ticked of the sources offered, and the one that was typed.
    fn sources(&self) -> Result<Vec<String>, Wrong> {
        let ticked = |(i, _): &(usize, &String)| self.form.chosen(SOURCE + i) == YES;
        let mut sources: Vec<String> =
            self.offered.iter().enumerate().filter(ticked).map(|(_, source)| source.clone()).collect();
        let another = SOURCE + self.offered.len();
        if self.form.chosen(another) == YES {
            let typed = self.form.read(another + 1, source)?;
            if !sources.contains(&typed) {
                sources.push(typed);
            }
        }
        if sources.is_empty() {
            let what = "Without a feed there is no position to watch. Take one with the space bar, or write another.";
            return Err(Wrong { field: SOURCE, what: what.to_owned() });
        }
        Ok(sources)
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
    let (boat, tackle) = (Boat::default(), Tackle::default());
    let metres = |label, value: Metres, about| Field::number(label, "m", Some(value.0), about);
    let mut fields = vec![
        Field::words("name", "", "As it stands on her stern; it heads the screen and the reports."),
        hull(),
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
    ];
    fields.extend(feeds(ports));
    fields
}

fn hull() -> Field {
    let about = "How she takes the wind depends on it. ← and → choose.";
    Field::choice("hull", HULLS.map(|(_, word)| (word.to_owned(), about.to_owned())).to_vec())
}

/// The sources that were found, each to be taken or left out: the first is proposed, for the others may say the same. Then one
/// that is written; where none was found, it is asked for.
fn feeds(found: &[Offered]) -> Vec<Field> {
    let ticked = |(i, offered): (usize, &Offered)| {
        let mut about = offered.about.clone();
        if let Some(first) = about.get_mut(..1) {
            first.make_ascii_uppercase();
        }
        let choice = |word: &str, deed: &str| {
            (format!("{word:<3} {}", offered.source), format!("{about}. ← and → {deed}."))
        };
        let of = vec![choice("yes", "leave it out"), choice("no", "take it")];
        Field::choice(SOURCES[i], of).choosing(usize::from(i > 0))
    };
    let another = [("yes", "Written in the next line. ← and → choose."), ("no", "← and → to write another.")];
    let another = another.map(|(word, about)| (word.to_owned(), about.to_owned())).to_vec();
    let about = "serial:PATH@BAUD, udp:PORT, tcp:HOST:PORT, gpsd:HOST, signalk:HOST, can:can0 or file:PATH";
    let at = SOURCE + found.len();
    let mut fields: Vec<Field> = found.iter().enumerate().map(ticked).collect();
    fields.push(Field::choice("another feed", another).choosing(usize::from(!found.is_empty())));
    fields.push(Field::words("feed source", "udp:10110", about).only(at, YES));
    fields
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
        assert_eq!(answers.sources, ["serial:/dev/ttyUSB0@4800"]);
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
    fn another_source_can_be_typed_beside_those_found_or_in_their_place() {
        let to_feed = "⏎Marram⇥⇥⇥⇥⇥⇥⇥⇥⇥⇥";
        for (keys, sources) in [
            ("⇥ ⇥udp:10111⏎", vec!["serial:/dev/ttyUSB0@4800", "udp:10111"]),
            (" ⇥ ⇥udp:10111⏎", vec!["udp:10111"]),
        ] {
            let Some(Done::Answers(answers)) = typed(&mut first(), &format!("{to_feed}{keys}")) else {
                panic!("not done")
            };
            assert_eq!(answers.sources, sources);
        }
        assert_eq!(typed(&mut first(), &format!("{to_feed} ⏎")), None, "none at all is no watch");
    }

    #[test]
    fn several_of_those_found_can_be_taken_and_only_the_first_is_proposed() {
        let found = || {
            let found = ["udp:10110", "signalk:localhost:3000", "can:can0"].map(str::to_owned);
            FirstStart::new(found.to_vec(), Palette::default())
        };
        let Some(Done::Answers(answers)) = typed(&mut found(), "⏎Marram⏎") else { panic!("not done") };
        assert_eq!(answers.sources, ["udp:10110"]);
        let Some(Done::Answers(answers)) = typed(&mut found(), "⏎Marram⇥⇥⇥⇥⇥⇥⇥⇥⇥⇥⇥⇥ ⏎")
        else {
            panic!("not done")
        };
        assert_eq!(answers.sources, ["udp:10110", "can:can0"]);
        let mut nothing = FirstStart::new(Vec::<String>::new(), Palette::default());
        let Some(Done::Answers(answers)) = typed(&mut nothing, "⏎Marram⏎") else { panic!("not done") };
        assert_eq!(answers.sources, ["udp:10110"], "where nothing was found, one is asked for");
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
