//! The terminal: the screen on it, its keys, its bell, and its return to the shell whatever happens.

use std::io::{self, Write as _};
use std::mem::ManuallyDrop;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use crossterm::event::{DisableMouseCapture, EnableMouseCapture, Event, EventStream};
use crossterm::terminal::{
    BeginSynchronizedUpdate, EndSynchronizedUpdate, EnterAlternateScreen, LeaveAlternateScreen,
    disable_raw_mode, enable_raw_mode, window_size,
};
use crossterm::{execute, queue};
use futures_core::Stream as _;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use tokio::sync::{mpsc, oneshot, watch};

use super::keeper::Order;
use super::page::code::Shown;
use super::replay::Replay;
use super::said::Said;
use super::signals::asked_to_end;
use crate::tui::app::App;
use crate::tui::first::{Done, FirstStart};
use crate::tui::plan_form::{PlanForm, Step};
use crate::tui::replay::{self, Act, Playing};
use crate::tui::request::Request;
use crate::watch::alert::{AlertState, Sound};
use crate::watch::snapshot::Snapshot;
use crate::watch::units::Span;

/// Half of a flash: alerts flash once a second.
const FLASH: Duration = Duration::from_millis(500);
/// Width of a cell divided by its height where the terminal does not say.
const USUAL_ASPECT: f64 = 0.5;

/// A form is drawn anew this often though no key comes: so a terminal that has hung up is noticed.
const LOOK: Duration = Duration::from_secs(1);

/// The terminal while the screen has it. Dropping it gives it back.
pub struct Screen {
    /// Never dropped: it would print why it could not show the cursor, and to print on a terminal that has hung up panics.
    terminal: ManuallyDrop<Terminal<CrosstermBackend<io::Stdout>>>,
}

impl Screen {
    /// Takes the terminal: raw mode, a screen of its own, mouse.
    ///
    /// # Errors
    /// If standard output is no terminal, or it refuses.
    pub fn take() -> io::Result<Self> {
        enable_raw_mode()?;
        execute!(io::stdout(), EnterAlternateScreen, EnableMouseCapture)?;
        let terminal = Terminal::new(CrosstermBackend::new(io::stdout()))?;
        Ok(Self { terminal: ManuallyDrop::new(terminal) })
    }

    /// Draws a frame.
    fn draw(&mut self, app: &mut App, snapshot: &Snapshot, lit: bool) -> io::Result<()> {
        self.frame(|area, buf| app.render(snapshot, lit, area, buf))
    }

    /// Draws a frame whole: a terminal that knows synchronized output shows nothing of it until all of it has come, others
    /// take no notice of the two sequences.
    fn frame(&mut self, render: impl FnOnce(Rect, &mut Buffer)) -> io::Result<()> {
        queue!(io::stdout(), BeginSynchronizedUpdate)?;
        let drawn = self.terminal.draw(|frame| render(frame.area(), frame.buffer_mut())).map(|_| ());
        // Ended even after a failure: the terminal must not wait for the rest.
        execute!(io::stdout(), EndSynchronizedUpdate).and(drawn)
    }

    /// Draws a form until an event comes.
    fn event_of_form(&mut self, mut render: impl FnMut(Rect, &mut Buffer)) -> io::Result<Event> {
        loop {
            self.frame(&mut render)?;
            if crossterm::event::poll(LOOK)? {
                return crossterm::event::read();
            }
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        give_back();
    }
}

/// Gives the terminal back to the shell. Harmless if it was never taken, or given back before.
pub fn give_back() {
    // On the way out nobody is left to hear that even this failed.
    let _ = execute!(io::stdout(), DisableMouseCapture, LeaveAlternateScreen, crossterm::cursor::Show);
    let _ = disable_raw_mode();
}

/// Width of a cell divided by its height, from the terminal's size in pixels.
#[must_use]
pub fn cell_aspect() -> f64 {
    let Ok(size) = window_size() else { return USUAL_ASPECT };
    if size.width == 0 || size.height == 0 || size.columns == 0 || size.rows == 0 {
        return USUAL_ASPECT;
    }
    let cell = |pixels: u16, cells: u16| f64::from(pixels) / f64::from(cells);
    (cell(size.width, size.columns) / cell(size.height, size.rows)).clamp(0.3, 1.0)
}

/// Rings the terminal's bell.
pub fn ring() {
    let mut out = io::stdout();
    let _ = out.write_all(b"\x07").and_then(|()| out.flush());
}

/// Asks the few facts of a first start, before there is a watch.
///
/// # Errors
/// If the terminal cannot be drawn on or read.
pub fn ask_first(mut first: FirstStart) -> io::Result<Done> {
    let mut screen = Screen::take()?;
    loop {
        let event = screen.event_of_form(|area, buf| first.render(area, buf))?;
        if let Some(done) = first.on_event(&event) {
            return Ok(done);
        }
    }
}

/// Asks for a plan. `act` does what a step asks for, and reports to the form how that went.
///
/// # Errors
/// If the terminal cannot be drawn on or read.
pub fn ask_plan(mut form: PlanForm, mut act: impl FnMut(Step, &mut PlanForm)) -> io::Result<()> {
    let mut screen = Screen::take()?;
    loop {
        let event = screen.event_of_form(|area, buf| form.render(area, buf))?;
        match form.on_event(&event) {
            Some(Step::Leave) => return Ok(()),
            Some(step) => act(step, &mut form),
            None => {}
        }
    }
}

/// Why the screen is left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Left {
    /// The crew quit.
    Quit,
    /// The terminal is gone: the watch goes on without it.
    Gone,
}

/// What the screen hangs between: what it shows, and where it passes the crew's orders on to.
pub struct Gallery {
    /// The newest snapshot.
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    /// Words for the crew.
    pub notices: mpsc::UnboundedReceiver<Said>,
    /// What the crew wants done.
    pub orders: mpsc::UnboundedSender<Order>,
    /// What is shown to a phone.
    pub phone: Shown,
}

/// Shows the watch until the crew quits, the terminal goes away, or `stop` says so.
///
/// # Errors
/// If the terminal cannot be taken.
pub async fn show(mut app: App, gallery: Gallery, mut stop: oneshot::Receiver<()>) -> io::Result<Left> {
    let Gallery { mut snapshots, mut notices, orders, phone } = gallery;
    let mut screen = Screen::take()?;
    let mut events = EventStream::new();
    let mut lit = true;
    // Its own beat: what comes meanwhile, however often, neither holds the flash up nor hurries it.
    let mut flash = tokio::time::interval(FLASH);
    flash.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        let snapshot = Arc::clone(&snapshots.borrow_and_update());
        if screen.draw(&mut app, &snapshot, lit).is_err() {
            return Ok(Left::Gone);
        }
        tokio::select! {
            event = next_event(&mut events) => {
                let Some(Ok(event)) = event else { return Ok(Left::Gone) };
                for request in app.on_event(&event, &snapshot) {
                    match request {
                        Request::Crew(command) => drop(orders.send(Order::Crew(command))),
                        Request::ChangePlaces => drop(orders.send(Order::ChangePlaces)),
                        Request::PhoneCode => match phone.now() {
                            Ok(code) => app.show_code(code),
                            Err(why) => app.notice(why, snapshot.at),
                        },
                        // Only a recorded night is played.
                        Request::Replay(_) => {}
                        Request::Quit => return Ok(Left::Quit),
                    }
                }
            }
            _ = &mut stop => return Ok(Left::Quit),
            changed = snapshots.changed() => if changed.is_err() { return Ok(Left::Gone) },
            Some(said) = notices.recv() => match said {
                Said::Notice(words) => app.notice(words, snapshot.at),
                Said::Unwatched(words) => app.unwatched(words),
                Said::Caption(words) => app.caption(words),
                Said::Post { stands_by, words } => app.post(stands_by, words),
            },
            _ = flash.tick(), if flashes(&app, &snapshot) => lit = !lit,
        }
        if !flashes(&app, &snapshot) {
            lit = true;
        }
    }
}

/// A frame of a replay that runs lasts so long.
const FRAME: Duration = Duration::from_millis(50);
/// No more is done between two frames: a held key still shows where it leads. Our choice.
const MOST_REQUESTS: usize = 32;

/// Shows a recorded night until the crew leaves it.
///
/// # Errors
/// If the terminal cannot be taken, drawn on or read, or the night cannot be read again.
pub fn replay(mut app: App, mut replay: Replay, speed: f64) -> io::Result<()> {
    let ended = asked_to_end()?;
    let mut screen = Screen::take()?;
    let night = Arc::clone(replay.night());
    let mut playing = Playing { now: replay.now(), night, runs: false, speed };
    let (mut flashed, mut drawn) = (Instant::now(), Instant::now());
    let mut lit = true;
    while !ended.load(Ordering::Relaxed) {
        let snapshot = replay.snapshot();
        playing.now = replay.now();
        playing.runs &= playing.now < playing.night.to;
        app.show_recorded(playing.clone());
        screen.draw(&mut app, &snapshot, lit)?;
        let patience = if playing.runs { FRAME } else { FLASH };
        let requests = requests_within(patience, &mut app, &snapshot)?;
        for request in latest_moment_only(requests) {
            match request {
                Request::Quit => return Ok(()),
                Request::Replay(act) => play(&mut replay, &mut playing, act)?,
                // The screen sends none for a recorded night.
                Request::Crew(_) | Request::ChangePlaces | Request::PhoneCode => {}
            }
        }
        if playing.runs {
            let passed = drawn.elapsed().as_secs_f64() * playing.speed;
            replay.seek(replay.now() + Span::from_millis((passed * 1000.0) as i64))?;
        }
        drawn = Instant::now();
        if flashed.elapsed() >= FLASH {
            (flashed, lit) = (Instant::now(), !flashes(&app, &snapshot) || !lit);
        }
    }
    Ok(())
}

/// What the crew wants: waits for an event, and takes all that have come by then.
fn requests_within(patience: Duration, app: &mut App, snapshot: &Snapshot) -> io::Result<Vec<Request>> {
    let mut requests = Vec::new();
    let mut patience = patience;
    while requests.len() < MOST_REQUESTS && crossterm::event::poll(patience)? {
        requests.extend(app.on_event(&crossterm::event::read()?, snapshot));
        patience = Duration::ZERO;
    }
    Ok(requests)
}

/// A hand that draws along the bar is faster than the night: of moments in a row only the last is gone to.
fn latest_moment_only(requests: Vec<Request>) -> Vec<Request> {
    let mut latest: Vec<Request> = Vec::new();
    for request in requests {
        let is_moment = |request: &Request| matches!(request, Request::Replay(Act::To(_)));
        if is_moment(&request) && latest.last().is_some_and(is_moment) {
            latest.pop();
        }
        latest.push(request);
    }
    latest
}

/// Does what the crew wants of the replay.
fn play(replay: &mut Replay, playing: &mut Playing, act: replay::Act) -> io::Result<()> {
    let to = match act {
        Act::RunOrStop => {
            playing.runs = !playing.runs;
            // From its end it runs anew.
            if playing.runs && playing.now >= playing.night.to { playing.night.from } else { return Ok(()) }
        }
        Act::Speed { faster } => {
            playing.speed = playing.changed(faster);
            return Ok(());
        }
        Act::Step(by) => replay.now() + by,
        Act::Mark { forward } => match replay.mark_from(replay.now(), forward) {
            Some(mark) => mark.at,
            None if forward => playing.night.to,
            None => playing.night.from,
        },
        Act::To(at) => at,
    };
    replay.seek(to)
}

/// Whether anything flashes: otherwise nothing is drawn but what changes.
fn flashes(app: &App, snapshot: &Snapshot) -> bool {
    app.is_unwatched()
        || snapshot.sound != Sound::Quiet
        || snapshot.alerts.iter().any(|a| {
            matches!(
                a.state,
                AlertState::Unacknowledged | AlertState::Silenced { .. } | AlertState::Rectified
            )
        })
}

async fn next_event(events: &mut EventStream) -> Option<io::Result<Event>> {
    std::future::poll_fn(|context| std::pin::Pin::new(&mut *events).poll_next(context)).await
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::units::WatchTime;

    #[test]
    fn of_moments_drawn_along_only_the_last_is_gone_to() {
        let to = |second| Request::Replay(Act::To(WatchTime(second)));
        let other = || Request::Replay(Act::RunOrStop);
        let drawn = vec![to(1), to(2), other(), to(3), to(4), to(5)];
        assert_eq!(latest_moment_only(drawn), [to(2), other(), to(5)]);
    }
}
