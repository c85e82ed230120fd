//! The whole screen, drawn: what stands where at this size, then each part in its place.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::App;
use crate::tui::console;
use crate::tui::deck::{self, Deck};
use crate::tui::hits::Hits;
use crate::tui::keys::{self, Act, Hint};
use crate::tui::layout::{self, Parts, Size};
use crate::tui::palette::Ink;
use crate::tui::replay::{self, Playing};
use crate::tui::scene::{Scene, waits};
use crate::tui::stands::{Place, View};
use crate::tui::text::{Pen, wrap};
use crate::tui::view::band::{Band, Given};
use crate::tui::view::rode::suppose::Suppose;
use crate::tui::view::{
    alerts, cockpit, facts, feeds, figures, header, health, keybar, night, panes, position, rode, rounds,
    small, strip, swing, timebar,
};
use crate::watch::snapshot::Snapshot;
use crate::watch::what_if::{self, Answer};

/// Rows that a notice takes at most.
const NOTICE_ROWS: usize = 4;
/// A step's name is as tall on a small window as it would be on one of so many rows.
const SLIM_STEP: u16 = 14;
/// Rows that verdict and alert keep in a window too small for the screens.
const SMALL_TOP: u16 = 2;

/// What is drawn, before anything is: all that is worked out stands here.
struct Sheet {
    size: Size,
    /// What fills the body.
    place: Place,
    band: Option<Band>,
    /// The step on deck, where it fills the body.
    deck: Option<Deck>,
    /// The rode as it is or is supposed, where it fills the body.
    rode: Option<(Suppose, Answer)>,
    /// What is said above the keys.
    notice: Vec<String>,
    notice_ink: Ink,
    /// Rows of the night's strip.
    strip: u16,
}

impl Sheet {
    /// Rows of the header below a band that says what is so now.
    fn below_band(&self) -> Option<u16> {
        self.band.as_ref().and_then(Band::below)
    }

    /// The word of the step on deck.
    fn step(&self) -> Option<&'static str> {
        self.deck.as_ref().map(|deck| deck.word)
    }

    /// The step's name, or the verdict, has the upper part of the screen for itself.
    fn is_big(&self) -> bool {
        self.below_band().is_none() && (self.deck.is_some() || self.place == Place::Figures)
    }
}

impl App {
    /// Draws the whole screen. `lit` is the half of the one-second flash that it is in.
    pub fn render(&mut self, snap: &Snapshot, lit: bool, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        // What was said before the watch had a time counts from its first.
        if let Some((_, at)) = self.notice.as_mut().filter(|(_, at)| *at == Snapshot::default().at) {
            *at = snap.at;
        }
        let clock = self.clock.clone();
        let scene = Scene { snap, palette: self.palette, clock: &clock, lit, cell_aspect: self.cell_aspect };
        let mut hits = Hits::default();
        self.size = Size::of(area);
        buf.set_style(area, self.palette.ground());
        if area.width < small::LEAST.0 || area.height < small::LEAST.1 {
            self.little(&scene, area, buf, &mut hits);
        } else {
            self.whole(&scene, area, buf, &mut hits);
        }
        if !lit && scene.unheard() {
            buf.set_style(area, self.palette.flashed());
        }
        if !self.braille {
            console::simplify(area, buf);
        }
        self.hits = hits;
    }

    /// A window too small for the screens: what lies over the view still shows what it asks.
    fn little(&mut self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        small::render(scene, self.unwatched.as_deref(), self.noticed(scene.snap.at), area, buf);
        let hints = self.hints(scene.snap);
        let Some(overlay) = &mut self.over else { return };
        let keys = area.height.min(1);
        let top = (area.height - keys).min(SMALL_TOP);
        let under = Rect { y: area.y + top, height: area.height - keys - top, ..area };
        overlay.settle(scene.snap, under);
        overlay.render(scene, under, buf, hits);
        let row = Rect { y: under.bottom(), height: keys, ..area };
        keybar::render(scene, &hints, row, buf, hits);
    }

    fn whole(&mut self, scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let sheet = self.sheet(scene, area);
        let mut parts = self.parts(scene, &sheet, area);
        let over = self.over.as_mut().map(|overlay| {
            let area = parts.under(overlay.height(scene, area.width));
            overlay.settle(scene.snap, area);
            area
        });
        if let Some(band) = &sheet.band {
            band.render(scene, parts.band, buf, hits);
        }
        head(scene, &sheet, parts.header, buf);
        self.body(scene, &sheet, parts.body, buf, hits);
        if self.is_unwatched() {
            // All of it is what was.
            buf.set_style(parts.body, scene.ink(Ink::Dim));
        }
        match &self.playing {
            Some(playing) => timebar::render(scene, playing, parts.strip, buf, hits),
            None => strip::render(scene, parts.strip, buf, hits),
        }
        if let (Some(overlay), Some(area)) = (&self.over, over) {
            overlay.render(scene, area, buf, hits);
        }
        let mut pen = Pen::new(buf, parts.notice);
        for (y, line) in (0..).zip(&sheet.notice) {
            pen.put(1, y, line, scene.ink(sheet.notice_ink));
        }
        self.keys(scene, parts.keys, buf, hits);
    }

    /// Works out what is drawn.
    fn sheet(&self, scene: &Scene, area: Rect) -> Sheet {
        let size = self.size;
        let place = self.ground(scene.snap);
        let refused = self.noticed(scene.snap.at);
        let words = refused.unwrap_or(&self.caption);
        let four = place == Place::View(View::Swing) && size == Size::Large && self.over.is_none();
        let rode = (place == Place::View(View::Rode) || four).then(|| {
            let suppose = if four { Suppose::default() } else { self.suppose.settled(scene.snap) };
            (suppose, what_if::answer(scene.snap, &suppose.what_if))
        });
        let notice: Vec<String> =
            wrap(words, area.width.saturating_sub(2)).into_iter().take(NOTICE_ROWS).collect();
        let strip = self.strip_rows(scene, place);
        let deck = place.is_deck().then(|| deck::deck(scene)).flatten();
        Sheet {
            size,
            place,
            band: self.band(
                scene,
                place,
                deck.as_ref(),
                (layout::band_rows(area, strip, notice.len() as u16), area.width),
            ),
            deck,
            rode,
            strip,
            notice,
            notice_ink: if refused.is_some() { Ink::Strong } else { Ink::Boat },
        }
    }

    fn band(
        &self,
        scene: &Scene,
        place: Place,
        deck: Option<&Deck>,
        (rows, columns): (u16, u16),
    ) -> Option<Band> {
        let typing = self.over.as_ref().is_some_and(|over| over.place().is_typed_into());
        let brief = place == Place::View(View::Alerts) && self.size <= Size::Middling;
        let below = self.rows_below(scene, deck, columns);
        let covered = self.over.is_some();
        let given = Given { columns, rows, brief, typing, covered, below };
        match &self.unwatched {
            Some(words) => Some(Band::unwatched(scene, words, given)),
            None => Band::of(scene, given),
        }
    }

    /// Rows of verdict and room, or of the step on deck, below an alert that says neither.
    fn rows_below(&self, scene: &Scene, deck: Option<&Deck>, columns: u16) -> u16 {
        let said = scene.headline().is_some_and(|head| scene.is_verdict(head.kind));
        let spare = u16::from(self.size > Size::Middling);
        let scale = if self.size == Size::Large { 2 } else { 1 };
        match deck {
            None if said => 0,
            _ if self.over.is_some() && self.size <= Size::Middling => 1,
            _ => header::height_under(scene, deck.map(|deck| deck.word), columns, scale) + spare,
        }
    }

    /// Where everything goes.
    fn parts(&self, scene: &Scene, sheet: &Sheet, area: Rect) -> Parts {
        let band = sheet.band.as_ref().map_or(0, Band::height);
        let header = self.header_rows(scene, sheet, area);
        layout::parts(area, band, header, sheet.strip, sheet.notice.len() as u16)
    }

    fn header_rows(&self, scene: &Scene, sheet: &Sheet, area: Rect) -> u16 {
        if let Some(rows) = sheet.below_band() {
            return rows;
        }
        let size = sheet.size;
        let spare = u16::from(size > Size::Slim);
        match size {
            _ if self.over.is_some() && size <= Size::Middling => 1,
            // On deck the words below the figures need the rows more than the step's name does.
            Size::Slim | Size::Middling
                if sheet.deck.is_some() && (size == Size::Slim || !sheet.notice.is_empty()) =>
            {
                let area = Rect { height: area.height.min(SLIM_STEP), ..area };
                header::big_height(word(scene, sheet), area) + spare
            }
            _ if sheet.is_big() => header::big_height(word(scene, sheet), area) + spare,
            Size::Large => header::height(scene, area.width, 2) + spare,
            _ => header::height(scene, area.width, 1) + u16::from(size > Size::Middling),
        }
    }

    fn strip_rows(&self, scene: &Scene, place: Place) -> u16 {
        match (place, self.size) {
            _ if self.playing.is_some() => timebar::ROWS,
            // These views have the night in themselves.
            (Place::View(View::Rode | View::Night) | Place::Figures | Place::Deck, _) => 0,
            (_, Size::Slim) => 0,
            // An alert wants its rows more than the strip does.
            (_, Size::Middling) if scene.headline().is_some() => 0,
            (_, Size::Middling) => 2,
            (_, Size::Wide) => 4,
            (_, Size::Large) => 7,
        }
    }

    fn body(&mut self, scene: &Scene, sheet: &Sheet, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
        match (sheet.place, &sheet.deck, &sheet.rode) {
            (_, Some(deck), _) => cockpit::render(scene, deck, area, buf),
            (Place::View(View::Swing), _, Some((_, answer))) => {
                panes::render(scene, self.look, answer, area, buf, hits);
            }
            (_, _, Some((suppose, answer))) => rode::render(scene, answer, suppose, area, buf, hits),
            (Place::View(View::Night), ..) => night::render(scene, &self.night, area, buf, hits),
            (Place::View(View::Rounds), ..) => {
                self.rounds_down = rounds::render(scene, self.rounds_down, area, buf);
            }
            (Place::View(View::Alerts), ..) => alerts::render(scene, self.alert, area, buf, hits),
            (Place::View(View::Feeds), ..) => feeds::render(scene, self.feed, area, buf, hits),
            (Place::View(View::Position), ..) => position::render(scene, area, buf),
            (Place::View(View::Health), ..) => health::render(scene, area, buf),
            (Place::View(View::Swing), ..) => {
                let (chart, side) = layout::chart_and_facts(area);
                swing::render(scene, self.look, chart, buf);
                facts::render(scene, side, buf);
            }
            _ => {
                figures::render(scene, &figures::riding(scene, !sheet.is_big()), area, buf);
            }
        }
    }

    fn keys(&self, scene: &Scene, row: Rect, buf: &mut Buffer, hits: &mut Hits) {
        let stop = match self.over {
            // "No alerts" is no news of a watch that judges nothing.
            None if self.is_unwatched() => row.width,
            Some(_) => row.width,
            None => keybar::count(scene, row, buf, hits),
        };
        keybar::render(scene, &self.hints(scene.snap), Rect { width: stop, ..row }, buf, hits);
    }

    /// The keys that act now, the most useful first.
    #[must_use]
    pub fn hints(&self, snap: &Snapshot) -> Vec<Hint> {
        let waiting = self.playing.is_none() && snap.alerts.iter().any(waits);
        match (&self.over, &self.playing) {
            (Some(overlay), _) => overlay.hints(snap, waiting),
            (None, Some(playing)) => recorded(playing, snap),
            (None, None) => {
                let place = self.ground(snap);
                match deck::hints(snap).filter(|_| place.is_deck()) {
                    Some(hints) => hints.into_iter().filter(|hint| keys::acts_at(*hint, place)).collect(),
                    None => {
                        let hints = keys::hints(place, snap.stage, waiting);
                        hints.into_iter().filter(|hint| has_use(*hint, place, snap)).collect()
                    }
                }
            }
        }
    }
}

/// False for a key of the list of alerts while there is none.
fn has_use(hint: Hint, place: Place, snap: &Snapshot) -> bool {
    let is = |act| place == Place::View(View::Alerts) && hint == keys::hint(act, place);
    !alerts::listed(snap).is_empty()
        || ![Act::Acknowledge, Act::AcknowledgeAll, Act::Open].into_iter().any(is)
}

/// The keys of a recorded night.
fn recorded(playing: &Playing, snap: &Snapshot) -> Vec<Hint> {
    let mut hints = keys::hints(Place::Recorded, snap.stage, false);
    let run = keys::hint(Act::Replay(replay::Act::RunOrStop), Place::Recorded);
    for hint in hints.iter_mut().filter(|hint| playing.runs && **hint == run) {
        *hint = hint.saying("stop");
    }
    hints
}

/// The tall word: the step on deck, else the verdict.
fn word(scene: &Scene, sheet: &Sheet) -> &'static str {
    sheet.deck.as_ref().map_or(scene.snap.verdict.word(), |deck| deck.word)
}

fn head(scene: &Scene, sheet: &Sheet, area: Rect, buf: &mut Buffer) {
    let spare = u16::from(sheet.size > Size::Slim);
    if sheet.below_band().is_some() {
        header::render_under(scene, sheet.step(), area, buf);
    } else if sheet.is_big() && area.height > 1 {
        let area = Rect { height: area.height.saturating_sub(spare), ..area };
        header::big(scene, word(scene, sheet), area, buf);
    } else {
        header::render(scene, area, buf);
    }
}
