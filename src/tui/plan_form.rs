//! The plan as questions and answers: a form, then the page that it makes, and back to change an answer.

mod page;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyEvent, MouseEventKind};
use ratatui::layout::Rect;

use page::{PAGE_COLUMNS, PAGE_ROWS, Page};

use super::keys::{self, Act, Way};
use super::overlay::berth::{
    BRIDLED, OPEN_ABOUT, bridle_field, chosen_seabed, seabed_field, slope, slope_field, snubber,
    snubber_field,
};
use super::overlay::form::{Did, Field, Form, Wrong};
use super::overlay::typed;
use super::palette::Palette;
use super::shell::{FORM_COLUMNS, Frame, Shell};
use super::stands::Place;
use crate::watch::boat::ranges::{Range, VEERED_ENTERED_M, plan as ranges};
use crate::watch::plan::{Asked, AskedError, PlanError, TideAsked};
use crate::watch::rode::RodeError;
use crate::watch::snapshot::Stage;
use crate::watch::tide::stations::{Station, Stations};
use crate::watch::units::{Knots, Metres};
use crate::watch::way_out::WayOut;

/// What whoever shows the form has to do next.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// Calculate the plan, and [`PlanForm::answer`] with its page or with what is wrong.
    Calculate(Box<Asked>),
    /// Write the answers to a file, and [`PlanForm::report`] how that went.
    Write(Box<Asked>),
    /// Leave.
    Leave,
}

/// The form and its page.
#[derive(Debug)]
pub struct PlanForm {
    form: Form,
    /// What was asked before the form and has no field in it: marks, neighbours, a sheer.
    kept: Asked,
    /// The page, while it is looked at.
    page: Option<Page>,
    /// The answers that made it.
    answered: Option<Asked>,
    /// How something went.
    said: Option<String>,
    promise: String,
    shell: Shell,
}

const DEPTH: usize = 0;
const WIND: usize = 1;
const TIDE: usize = 2;
const TABLE: usize = 3;
const STATION: usize = 4;
const SEABED: usize = 5;
const WINDS: usize = 6;
const VEER: usize = 7;
const AT: usize = 8;
const UNTIL: usize = 9;
const GUST: usize = 10;
const FROM: usize = 11;
const STREAM: usize = 12;
const PLACE: usize = 13;
const WAY_OUT: usize = 14;
const FETCH: usize = 15;
const SLOPE: usize = 16;
const SNUBBER: usize = 17;
const BRIDLE: usize = 18;
const HERE: usize = 19;

/// The choices of the tide.
const NO_TIDE: usize = 0;
const TYPED: usize = 1;
const BY_STATION: usize = 2;

/// Stations named where words fit several.
const STATIONS_NAMED: usize = 4;

impl PlanForm {
    /// A form filled in with what is known. `boat` is whose boat it is calculated for.
    #[must_use]
    pub fn new(asked: Asked, boat: &str, palette: Palette) -> Self {
        let form = Form::new(fields(&asked));
        Self {
            form,
            kept: asked,
            page: None,
            answered: None,
            said: None,
            promise: format!(
                "Enter calculates for {boat}. Depth and wind are needed, all else has a usual value."
            ),
            shell: Shell::new(palette),
        }
    }

    /// Takes a key, a click or a paste.
    pub fn on_event(&mut self, event: &Event) -> Option<Step> {
        match (event, &self.page) {
            (Event::Paste(_), None) => {
                self.form.on_event(event);
            }
            (Event::Mouse(mouse), Some(_)) if mouse.kind == MouseEventKind::ScrollDown => self.scroll(1),
            (Event::Mouse(mouse), Some(_)) if mouse.kind == MouseEventKind::ScrollUp => self.scroll(-1),
            _ => {}
        }
        let key = self.shell.key(event, &mut self.form)?;
        match keys::act(key, self.place()) {
            Some(Act::Quit) => Some(Step::Leave),
            act if self.page.is_some() => self.page_key(act?),
            _ => self.form_key(key),
        }
    }

    const fn place(&self) -> Place {
        if self.page.is_some() { Place::PlanPage } else { Place::PlanForm }
    }

    fn form_key(&mut self, key: KeyEvent) -> Option<Step> {
        match self.form.on_event(&Event::Key(key)) {
            Did::Typing => None,
            Did::Left => Some(Step::Leave),
            Did::Sent => match self.read() {
                Ok(asked) => {
                    self.answered = Some(asked.clone());
                    Some(Step::Calculate(Box::new(asked)))
                }
                Err(wrong) => {
                    self.form.show(wrong);
                    None
                }
            },
        }
    }

    fn page_key(&mut self, act: Act) -> Option<Step> {
        self.said = None;
        match act {
            Act::Move(Way::Down) => self.scroll(1),
            Act::Move(Way::Up) => self.scroll(-1),
            Act::Move(Way::Right) => self.shift(8),
            Act::Move(Way::Left) => self.shift(-8),
            Act::Page(Way::Down) => self.scroll(PAGE_ROWS),
            Act::Page(Way::Up) => self.scroll(-PAGE_ROWS),
            // To its ends.
            Act::Page(Way::Left) => self.scroll(isize::MIN),
            Act::Page(Way::Right) => self.scroll(isize::MAX),
            Act::Leave => self.page = None,
            Act::WritePlan => return self.answered.clone().map(|asked| Step::Write(Box::new(asked))),
            _ => {}
        }
        None
    }

    fn scroll(&mut self, by: isize) {
        if let Some(page) = &mut self.page {
            page.down = page.down.saturating_add_signed(by).min(page.lines.len() * 4);
        }
    }

    fn shift(&mut self, by: isize) {
        if let Some(page) = &mut self.page {
            page.aside = page.aside.saturating_add_signed(by).min(PAGE_COLUMNS);
        }
    }

    /// Shows the page, or what is wrong beside its answer.
    pub fn answer(&mut self, page: Result<&str, &AskedError>) {
        match page {
            Ok(page) => {
                self.page =
                    Some(Page { lines: page.lines().map(str::to_owned).collect(), down: 0, aside: 0 });
            }
            Err(error) => self.form.show(Wrong { field: self.field_of(error), what: in_form(error) }),
        }
    }

    /// Says how something went.
    pub fn report(&mut self, words: String) {
        self.said = Some(words);
    }

    fn read(&self) -> Result<Asked, Wrong> {
        let form = &self.form;
        let number = |field, within: Range| form.read(field, |text| within.read_or_none(text));
        let words = |field| Some(form.text(field).trim().to_owned()).filter(|text| !text.is_empty());
        let depth = form.read(DEPTH, |text| ranges::DEPTH_M.read(text))?;
        // The wind by the hour is a wind expected too.
        let by_hour = !form.text(WINDS).trim().is_empty() || self.kept.wind_file.is_some();
        let wind = match form.text(WIND).trim() {
            "" if by_hour => None,
            _ => Some(form.read(WIND, |text| ranges::WIND_KN.read(text))?),
        };
        let tide = match form.chosen(TIDE) {
            TYPED => TideAsked::Typed(form.text(TABLE).trim().to_owned()),
            BY_STATION => TideAsked::Station(form.read(STATION, station)?),
            _ => TideAsked::Nothing,
        };
        let wind_from = form.read(FROM, |text| match text.trim() {
            "" => Ok(None),
            text => typed::bearing(text).map(Some),
        })?;
        Ok(Asked {
            depth: Some(Metres(depth)),
            wind: wind.map(Knots),
            tide,
            seabed: chosen_seabed(form.chosen(SEABED)),
            veered: number(VEER, VEERED_ENTERED_M)?.map(Metres),
            at: words(AT),
            until: words(UNTIL),
            gust: number(GUST, ranges::GUST_KN)?.map(Knots),
            wind_from,
            winds: words(WINDS),
            way_out: form.read(WAY_OUT, |text| match text.trim() {
                "" => Ok(None),
                text => WayOut::read(text).map(Some),
            })?,
            stream: number(STREAM, ranges::STREAM_KN)?.map(Knots),
            place: words(PLACE),
            fetch: words(FETCH),
            slope: form.read(SLOPE, slope)?,
            snubber: form.read(SNUBBER, snubber)?,
            bridle: form.chosen(BRIDLE) == BRIDLED,
            here: form.read(HERE, |text| match text.trim() {
                "" => Ok(None),
                text => typed::position(text).map(Some),
            })?,
            ..self.kept.clone()
        })
    }

    /// The field that an error speaks of.
    fn field_of(&self, error: &AskedError) -> usize {
        let tide = if self.form.chosen(TIDE) == BY_STATION { STATION } else { TABLE };
        match error {
            AskedError::Missing { what: "wind" } => WIND,
            AskedError::Winds(_) | AskedError::WindFile { .. } => WINDS,
            AskedError::NotATime { text } if self.form.text(UNTIL).trim().starts_with(text.as_str()) => UNTIL,
            AskedError::NotATime { .. } => AT,
            AskedError::Fetch(_) => FETCH,
            AskedError::Tide(_) | AskedError::Station(_) => tide,
            AskedError::Rode(error) | AskedError::Plan(PlanError::Rode(error)) => match error {
                RodeError::NotCarried { .. } | RodeError::TooShort { .. } => VEER,
                _ => DEPTH,
            },
            AskedError::Plan(PlanError::GustBelowMean { .. }) => GUST,
            AskedError::Plan(PlanError::OddStay) => UNTIL,
            AskedError::Plan(PlanError::RodeShorterThanDepth { .. }) => VEER,
            AskedError::Plan(PlanError::NoTideAtStart { .. }) => tide,
            AskedError::Plan(PlanError::OutOfRange { what, .. } | PlanError::LooksLikeFeet { what, .. }) => {
                let what = what.to_lowercase();
                let fields =
                    [("gust", GUST), ("wind", WIND), ("stream", STREAM), ("veer", VEER), ("rode", VEER)];
                fields.into_iter().find(|(word, _)| what.contains(word)).map_or(DEPTH, |(_, field)| field)
            }
            AskedError::Missing { .. } | AskedError::Plan(PlanError::AgroundAlready { .. }) => DEPTH,
        }
    }

    /// Draws the form or the page.
    pub fn render(&mut self, area: Rect, buf: &mut Buffer) {
        let place = self.place();
        let Self { form, page, shell, said, promise, .. } = self;
        let (title, hints) = match page {
            None => ("BEFORE LETTING GO", form.hints(place, "calculate")),
            Some(_) => ("THE PLAN", keys::hints(place, Stage::NotSet, false)),
        };
        let frame = Frame { title, hints: &hints, said: said.as_deref() };
        shell.render(&frame, area, buf, |scene, inner, buf, hits| match page {
            None => {
                let inner = Rect { width: inner.width.min(FORM_COLUMNS), ..inner };
                form.render(scene, Some(promise), inner, buf, hits);
            }
            Some(page) => page.render(scene, inner, buf),
        });
    }
}

/// What is asked, in the order of the numbers above, filled in with what is known.
fn fields(asked: &Asked) -> Vec<Field> {
    let words =
        |label, text: &Option<String>, about| Field::words(label, text.as_deref().unwrap_or(""), about);
    let metres = |label, length: Option<Metres>, about| Field::number(label, "m", length.map(|m| m.0), about);
    let knots = |label, speed: Option<Knots>, about| Field::number(label, "kn", speed.map(|kn| kn.0), about);
    let [tide, table, station] = tide_fields(&asked.tide);
    let wind_from = asked.wind_from.map(|d| d.degrees());
    vec![
        metres("depth", asked.depth, "From the surface, where the anchor is to lie."),
        knots("wind expected", asked.wind, "Mean of ten minutes, the most of the stay."),
        tide,
        table,
        station,
        seabed_field(asked.seabed),
        words(
            "wind by the hour",
            &asked.winds,
            "From the forecast: 18: SW 15 g22, 00: W 25 g35, 04: NW 18. May be left empty.",
        ),
        metres("rode", asked.veered, "What you think of veering. Empty asks what is advised."),
        words("sounded at", &asked.at, "When the depth was sounded: 18:30. Empty is now."),
        words("leaving at", &asked.until, "When you mean to leave: 08:30. Empty is twelve hours later."),
        knots("gusts", asked.gust, "Gusts of three seconds. Empty is 1.4 times the mean."),
        Field::number("wind from", "°", wind_from, "Degrees true, for barred winds and neighbours."),
        knots("stream", asked.stream, "Its greatest rate; the worst angle to the wind counts."),
        words("place", &asked.place, "For the head of the page."),
        words(
            "way out",
            &asked.way_out.map(|way| way.typed()),
            "The true course that is safe from there, and nautical miles: 140 0.4.",
        ),
        words("open water", &asked.fetch, OPEN_ABOUT),
        slope_field(asked.slope),
        snubber_field(asked.snubber),
        bridle_field(asked.bridle),
        words(
            "position",
            &asked.here.map(|here| format!("{:.5} {:.5}", here.lat_deg(), here.lon_deg())),
            "Where the anchor is to lie, 54.2034 10.4127: for a station's doubt and the wind of a file.",
        ),
    ]
}

/// Where the tide comes from, and the two ways to enter it.
fn tide_fields(tide: &TideAsked) -> [Field; 3] {
    let (chosen, table, station) = match tide {
        TideAsked::Nothing => (NO_TIDE, "", ""),
        TideAsked::Typed(table) => (TYPED, table.as_str(), ""),
        TideAsked::Station(id) => (BY_STATION, "", id.as_str()),
    };
    let as_printed =
        "HW 20:10 4.8, LW 02:25 0.9, times by your clock; a table in another zone begins with it: UT, UTC+1";
    let by_name = "Its name or id, or a position to be near: 50.20,-3.77";
    [
        Field::choice("tide", tides()).choosing(chosen),
        Field::words("from the table", table, as_printed).only(TIDE, TYPED),
        Field::words("station", station, by_name).only(TIDE, BY_STATION),
    ]
}

fn tides() -> Vec<(String, String)> {
    [
        ("none", "The depth stays as it is. ← and → choose."),
        ("from the local table", "Its high and low waters, in the next line. ← and → choose."),
        ("of a station", "A gauge whose tide is known, in the next line. ← and → choose."),
    ]
    .map(|(word, about)| (word.to_owned(), about.to_owned()))
    .to_vec()
}

/// The id of the station that is meant: by id, by words that fit one alone. Near a position, or where several fit, the
/// crew reads which there are.
fn station(text: &str) -> Result<String, String> {
    let text = text.trim();
    if text.is_empty() {
        return Err(
            "Nothing is written here. Write a station's name or id, or a position to be near.".to_owned()
        );
    }
    let stations = Stations::bundled().map_err(|error| error.to_string())?;
    if stations.by_id(text).is_some() {
        return Ok(text.to_owned());
    }
    if let Ok(position) = typed::position(text) {
        let near: Vec<&Station> =
            stations.nearest(position, STATIONS_NAMED).iter().map(|near| near.station).collect();
        return Err(format!("Nearest are {}. Write one of them.", named(&near)));
    }
    match stations.holding(text)[..] {
        [] => Err(format!(
            "No station is called \"{text}\". Write a part of its name, or a position to be near."
        )),
        [one] => Ok(one.id.clone()),
        ref several => Err(format!("{} stations fit: {}. Write one of them.", several.len(), named(several))),
    }
}

fn named(stations: &[&Station]) -> String {
    let shown = stations.iter().take(STATIONS_NAMED);
    let mut names: Vec<String> = shown.map(|station| format!("{} ({})", station.id, station.name)).collect();
    if stations.len() > STATIONS_NAMED {
        names.push("…".to_owned());
    }
    names.join(", ")
}

/// An error's words without the flags, which a form has not.
fn in_form(error: &AskedError) -> String {
    match error {
        AskedError::Missing { what } => format!("No {what} given. A plan needs at least depth and wind."),
        AskedError::Plan(PlanError::LooksLikeFeet { what, value }) => {
            format!(
                "{what} of {:.1} m is very much for a small yacht: is it in feet? Metres are wanted.",
                value.0
            )
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use ratatui::crossterm::event::{KeyCode, KeyModifiers};

    use super::page::ink;
    use super::*;
    use crate::tui::palette::Ink;
    use crate::watch::rode::Seabed;

    fn press(form: &mut PlanForm, code: KeyCode) -> Option<Step> {
        form.on_event(&Event::Key(KeyEvent::new(code, KeyModifiers::NONE)))
    }

    fn typed(form: &mut PlanForm, keys: &str) -> Option<Step> {
        let code = |c| match c {
            '⏎' => KeyCode::Enter,
            '⇥' => KeyCode::Tab,
            '⎋' => KeyCode::Esc,
            '→' => KeyCode::Right,
            c => KeyCode::Char(c),
        };
        keys.chars().find_map(|c| press(form, code(c)))
    }

    fn screen(form: &mut PlanForm, (columns, rows): (u16, u16)) -> String {
        let area = Rect::new(0, 0, columns, rows);
        let mut buf = Buffer::empty(area);
        form.render(area, &mut buf);
        let across = usize::from(columns).max(1);
        let rows = buf.content().chunks(across).map(|row| row.iter().map(|c| c.symbol()).collect::<String>());
        rows.collect::<Vec<_>>().join("\n")
    }

    fn form() -> PlanForm {
        PlanForm::new(Asked::default(), "Marram", Palette::default())
    }

    #[test]
    fn a_bad_hour_of_the_night_is_in_the_colour_of_trouble_and_a_tight_one_bright() {
        let row = "     23:00 W   25 g35   5.3   3.5   4.6  12°   5.1/2.9  090°    -";
        let night = |why: &str| ink(&format!("{row}  {why}"), "23:00", true);
        assert_eq!(
            [night("BAD load, pull"), night("scope"), night("")],
            [Ink::Trouble, Ink::Strong, Ink::Text]
        );
        assert_eq!(ink("  BAD    Aground at LW 02:25.", "BAD", false), Ink::Trouble);
        assert_eq!(ink("  22:00          5.3 m       3.5 m  4.6", "22:00", true), Ink::Text);
    }

    #[test]
    fn depth_wind_and_a_typed_tide_make_a_plan() {
        let mut form = form();
        let step = typed(&mut form, "5.3⇥18⇥→⇥LW 14:00 1.0, HW 20:10 4.8⏎");
        let Some(Step::Calculate(asked)) = step else { panic!("{step:?}") };
        assert_eq!((asked.depth, asked.wind), (Some(Metres(5.3)), Some(Knots(18.0))));
        assert_eq!(asked.tide, TideAsked::Typed("LW 14:00 1.0, HW 20:10 4.8".into()));
        assert_eq!((asked.seabed, asked.veered, asked.at), (None, None, None));
    }

    #[test]
    fn what_is_missing_or_wrong_is_told_beside_its_answer() {
        let mut form = form();
        assert_eq!(typed(&mut form, "⏎"), None);
        assert!(screen(&mut form, (80, 24)).contains("Nothing is written here"));
        assert!(typed(&mut form, "1.2⇥18⏎").is_some());
        let error = AskedError::Plan(PlanError::AgroundAlready { depth: Metres(1.2), draft: Metres(1.8) });
        form.answer(Err(&error));
        let shown = screen(&mut form, (80, 24));
        assert!(shown.contains("less than her draft") && shown.contains("›depth"), "{shown}");
        let error = AskedError::Plan(PlanError::GustBelowMean { gust: Knots(9.0), mean: Knots(18.0) });
        form.answer(Err(&error));
        assert!(screen(&mut form, (80, 24)).contains("›gusts"));
    }

    #[test]
    fn the_page_is_read_written_and_left_for_another_answer() {
        let mut form = form();
        assert!(typed(&mut form, "5⇥18⏎").is_some());
        let page: Vec<String> = (0..40).map(|n| format!("line {n}")).collect();
        form.answer(Ok(&page.join("\n")));
        assert!(screen(&mut form, (80, 24)).contains("line 0"));
        press(&mut form, KeyCode::End);
        assert!(screen(&mut form, (80, 24)).contains("line 39"));
        assert!(
            matches!(typed(&mut form, "w"), Some(Step::Write(asked)) if asked.depth == Some(Metres(5.0)))
        );
        form.report("Written.".to_owned());
        assert!(screen(&mut form, (80, 24)).contains("Written."));
        assert_eq!(typed(&mut form, "⎋"), None);
        assert!(screen(&mut form, (80, 24)).contains("BEFORE LETTING GO"));
        assert_eq!(typed(&mut form, "⎋"), Some(Step::Leave));
    }

    #[test]
    fn nothing_of_a_wide_page_is_lost_in_a_narrow_window() {
        let mut form = form();
        assert!(typed(&mut form, "5⇥18⏎").is_some());
        let words = "  good   Pull at the anchor along the bottom in the mean wind, 8° up in a gust while she sheers.";
        let table = format!("  time {}lifts at", " ".repeat(80));
        form.answer(Ok(&format!("{words}\n\n{table}\n  14:59 {}21 kn\n", " ".repeat(80))));
        let before = screen(&mut form, (60, 20));
        assert!(
            before.contains("sheers.") && before.contains("time") && !before.contains("21 kn"),
            "{before}"
        );
        (0..9).for_each(|_| assert_eq!(press(&mut form, KeyCode::Right), None));
        let after = screen(&mut form, (60, 20));
        assert!(after.contains("21 kn") && after.contains("  good   Pull at"), "{after}");
    }

    #[test]
    fn a_station_is_found_by_its_name_and_several_are_offered() {
        assert_eq!(station("newlyn").unwrap(), "ticon/newlyn-new-gbr-bodc");
        assert!(station("port").unwrap_err().contains("stations fit"));
        assert!(station("50.10,-5.54").unwrap_err().contains("newlyn"));
        assert!(station("Hollow Ness").unwrap_err().contains("No station"));
    }

    #[test]
    fn what_was_told_by_flags_stands_in_the_form_and_the_rest_is_kept() {
        let entered = Asked {
            depth: Some(Metres(4.2)),
            wind: Some(Knots(22.0)),
            seabed: Some(Seabed::Mud),
            sheer_deg: Some(20.0),
            ..Asked::default()
        };
        let step = typed(&mut PlanForm::new(entered.clone(), "Marram", Palette::default()), "⏎");
        assert_eq!(step, Some(Step::Calculate(Box::new(entered))));
    }

    proptest! {
        #[test]
        fn any_keys_at_any_size_leave_it_standing(
            keys in prop::collection::vec(prop::sample::select(vec![
                KeyCode::Enter, KeyCode::Tab, KeyCode::BackTab, KeyCode::Right, KeyCode::Down, KeyCode::PageDown,
                KeyCode::Char('7'), KeyCode::Char('-'), KeyCode::Char('x'), KeyCode::Char('é'), KeyCode::Backspace,
            ]), 0..40),
            columns in 0..200_u16,
            rows in 0..60_u16,
        ) {
            let mut form = form();
            for key in keys {
                if let Some(Step::Calculate(_)) = press(&mut form, key) {
                    form.answer(Ok("VEER 31 m\n\n  tight  Afloat"));
                }
                screen(&mut form, (columns, rows));
            }
        }
    }
}
