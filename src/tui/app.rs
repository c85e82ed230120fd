//! The screen's own state: what is shown, how it is looked at, what lies over it. Keys in, requests out.

mod acts;
mod drawing;
mod events;

use super::hits::Hits;
use super::layout::Size;
use super::options::Options;
use super::overlay::Overlay;
use super::overlay::phone::PhoneCode;
use super::palette::Palette;
use super::replay::Playing;
use super::stands::{Place, Shown, View};
use super::text::Clock;
use super::view::night;
use super::view::rode::suppose::Suppose;
use super::view::swing::Look;
use crate::watch::alert::AlertKind;
use crate::watch::checks::Checks;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};

/// The screen.
#[derive(Clone, Debug)]
pub struct App {
    palette: Palette,
    clock: Clock,
    /// The terminal's font has braille.
    braille: bool,
    cell_aspect: f64,
    checks: Checks,
    /// What the crew has asked to see.
    shown: Shown,
    /// What lies over it.
    over: Option<Overlay>,
    /// The recorded night that is shown, if it is one.
    playing: Option<Playing>,
    /// The window as it was last drawn.
    size: Size,
    /// What the crew of a demonstration does, and why.
    caption: String,
    notice: Option<(String, WatchTime)>,
    /// Longer on the watch's own clock where that runs faster.
    notice_for: Span,
    /// The watch judges nothing: what is shown is what was, and this is what is so.
    unwatched: Option<String>,
    /// How the chart is looked at.
    look: Look,
    /// How the night is looked at.
    night: night::look::Look,
    /// What is supposed on the rode view.
    suppose: Suppose,
    /// The alert picked in the list.
    alert: Option<AlertKind>,
    /// The feed picked in the list.
    feed: usize,
    /// Rows that the rounds are scrolled down by.
    rounds_down: u16,
    hits: Hits,
    /// It is another screen of a watch that runs elsewhere.
    joined: bool,
}

impl App {
    /// A screen on the swing view.
    #[must_use]
    pub fn new(options: Options) -> Self {
        let swing = View::Swing;
        Self {
            palette: Palette { light: options.light, colours: options.colours },
            clock: Clock::new(options.time_zone),
            braille: options.braille,
            cell_aspect: options.cell_aspect,
            checks: options.checks,
            shown: if options.tall { Shown::Tall(swing) } else { Shown::Whole(swing) },
            over: None,
            playing: None,
            size: Size::Wide,
            caption: options.joined.as_deref().map(joined_words).unwrap_or_default(),
            notice: None,
            notice_for: options.notice_for,
            unwatched: None,
            look: Look::default(),
            night: night::look::Look::default(),
            suppose: Suppose::default(),
            alert: None,
            feed: 0,
            rounds_down: 0,
            hits: Hits::default(),
            joined: options.joined.is_some(),
        }
    }

    /// Shows a recorded night, as it stands now, instead of a watch that is kept.
    pub fn show_recorded(&mut self, playing: Playing) {
        self.playing = Some(playing);
    }

    /// Shows a line for some seconds: what the watch refused, and why.
    pub fn notice(&mut self, text: String, at: WatchTime) {
        self.notice = Some((text, at));
    }

    /// Shows the code that opens the page on a phone, over whatever stands there, unless the crew is at something else.
    pub fn show_code(&mut self, code: PhoneCode) {
        self.over.get_or_insert(Overlay::Phone(code));
    }

    /// The watch has stopped judging, in words, or judges again.
    pub fn unwatched(&mut self, words: Option<String>) {
        self.unwatched = words;
    }

    /// True while nobody watches.
    #[must_use]
    pub const fn is_unwatched(&self) -> bool {
        self.unwatched.is_some()
    }

    /// What this machine is to the watch; while it stands by, to leave its screen ends no watch.
    pub fn post(&mut self, stands_by: bool, words: String) {
        self.joined = stands_by;
        self.caption = words;
    }

    /// Says above the keys what the crew of a demonstration does, and why, until the next caption.
    pub fn caption(&mut self, text: String) {
        self.caption = text;
    }

    /// The uppermost thing on the screen: its keys act.
    #[must_use]
    pub fn place(&self, snap: &Snapshot) -> Place {
        self.over.as_ref().map_or_else(|| self.ground(snap), Overlay::place)
    }

    /// What stands below whatever lies over it.
    fn ground(&self, snap: &Snapshot) -> Place {
        self.shown.place(self.size, snap.stage)
    }

    /// What was refused, while it is still news.
    fn noticed(&self, now: WatchTime) -> Option<&str> {
        let (text, at) = self.notice.as_ref()?;
        // A recorded night has a time of its own: there a notice stays until the next key.
        (self.playing.is_some() || now.since(*at) < self.notice_for).then_some(text)
    }
}

/// What a joined screen says above its keys.
fn joined_words(station: &str) -> String {
    format!("JOINED: {station} keeps this. It goes on when you leave (q).")
}
