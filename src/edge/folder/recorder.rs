//! The hand that writes the ride down: takes everything at once, writes it when the disk allows.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::disk::Shelf;
use super::journal::{Header, Record, What};
use super::lock::{lock, lock_journal};
use super::reader::{Entry, Recorded, RideReader};
use super::writer::{Left, Writer};
use super::{FolderError, JOURNAL, NIGHT, tail};
use crate::config::RideFile;
use crate::watch::alert::AlertChange;
use crate::watch::input::Event;
use crate::watch::nmea::write_tag;
use crate::watch::units::WatchTime;

/// How much is kept of the night while the disk takes nothing: about two days of a busy network.
const MOST_NIGHT: usize = 16 << 20;
/// How much is kept of the journal while the disk takes nothing.
const MOST_JOURNAL: usize = 4 << 20;
/// The night is written this often.
const FLUSH_EVERY: Duration = Duration::from_secs(1);
/// With nothing to write the folder is looked after this often.
const LOOK_EVERY: Duration = Duration::from_secs(5);
/// After a failure the next try comes this much later.
const RETRY_AFTER: Duration = Duration::from_secs(3);
/// A disk that has not answered for this long has failed.
const ANSWER_WITHIN: Duration = Duration::from_secs(10);

/// Who does the writing.
#[derive(Clone, Debug)]
pub enum Hand {
    /// A thread of each recorder's own.
    Thread,
    /// Whoever turns this: for tests, in which nothing happens by itself.
    Turned(Turned),
}

/// Writers that write when they are turned.
#[derive(Clone, Default)]
pub struct Turned(Arc<Mutex<Vec<Work>>>);

/// A recorder's buffers, and what writes them.
type Work = (Arc<Shared>, Arc<Mutex<Writer>>);

impl Turned {
    /// Has every writer write what waits.
    pub fn turn(&self) {
        let works = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        for (shared, writer) in works {
            let mut writer = writer.lock().unwrap_or_else(PoisonError::into_inner);
            shared.round(&mut writer, shared.lock());
        }
    }

    /// Forgets the writers of watches that have ended; their locks end with them.
    pub fn forget(&self) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }
}

impl fmt::Debug for Turned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Turned")
    }
}

/// Writes one ride, on a thread of its own. None of its methods waits for the disk, but for [`Self::flush`].
///
/// Dropping it writes what is left, if the disk takes it within two seconds.
#[derive(Debug)]
pub struct Recorder {
    shared: Arc<Shared>,
    hand: Hand,
}

/// A ride taken up again.
#[derive(Debug)]
pub struct Resumed {
    /// Writes on where the ride was left.
    pub recorder: Recorder,
    /// Bytes of torn last lines that were cut off the night and the journal.
    pub cut: u64,
    /// Of these, those of the journal: it is forced to the disk with each line, so a torn one is rare, and may be an act.
    pub cut_of_journal: u64,
}

#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    /// Something for the writer to do.
    work: Condvar,
    /// The writer has done a round.
    done: Condvar,
}

/// What the watch has handed over and the writer has not yet taken.
#[derive(Debug, Default)]
struct State {
    night: Vec<u8>,
    journal: Vec<u8>,
    ride: Option<RideFile>,
    place: Option<String>,
    /// Those lines of the journal that are acts of the crew.
    acts: Vec<u8>,
    lost_lines: u64,
    last: WatchTime,
    folder: Option<PathBuf>,
    fault: Option<String>,
    /// The writer is at the disk since then.
    writing_since: Option<Instant>,
    /// Rounds asked for and rounds done.
    asked: u64,
    done: u64,
    quit: bool,
    ended: bool,
}

impl Recorder {
    /// Begins a ride in a new folder below `rides`. The folder is made by the writer: what goes wrong with it shows
    /// in [`Self::health`].
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub fn begin(rides: &Path, at: WatchTime, ride: RideFile) -> io::Result<Self> {
        Self::begin_on(&Shelf::at(rides), at, ride)
    }

    /// The same on any disk.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub fn begin_on(shelf: &Shelf, at: WatchTime, ride: RideFile) -> io::Result<Self> {
        let header = Header::new(at, &ride.settings);
        let writer = Writer::begin(shelf, header, ride.place.clone());
        Self::start(&shelf.hand, writer, State { ride: Some(ride), last: at, ..State::default() })
    }

    /// Takes up the ride in `folder`: locks it, cuts off torn last lines, and writes on at their end. Read the ride
    /// with [`RideReader`] after this and before anything is written.
    ///
    /// # Errors
    /// If another watch keeps it, or it cannot be read or written.
    pub fn resume(folder: &Path, at: WatchTime) -> Result<Resumed, FolderError> {
        let rides = folder.parent().map(Path::to_owned).unwrap_or_default();
        Self::resume_on(&Shelf::at(rides), folder, at)
    }

    /// The same on any disk.
    ///
    /// # Errors
    /// If another watch keeps it, or it cannot be read or written.
    pub fn resume_on(shelf: &Shelf, folder: &Path, at: WatchTime) -> Result<Resumed, FolderError> {
        let lock = lock(&shelf.disk, folder)?;
        // A `.lock` that was deleted lets nobody in: whoever writes the journal holds it too.
        let journal_lock = lock_journal(&shelf.disk, folder)?;
        let mut cuts = [0; 2];
        for (name, cut) in [NIGHT, JOURNAL].into_iter().zip(&mut cuts) {
            let path = folder.join(name);
            if shelf.disk.status(&path).is_ok_and(|status| status.is_file) {
                let opened = shelf.disk.open_to_write(&path);
                *cut = opened
                    .and_then(|mut file| tail::cut_torn_line(file.as_mut()))
                    .map_err(FolderError::io(&path))?;
            }
        }
        let mut journal = RideReader::journal_of(&shelf.disk, folder)?;
        let header = journal.header().cloned().unwrap_or_else(|| Header::new(at, journal.settings()));
        let acts = read_acts(folder, &mut journal)?;
        let left = Left { header, lock, journal_lock, acts, next_number: journal.next_number() };
        let writer = Writer::resume(shelf, folder.to_owned(), left);
        let state = State { folder: Some(folder.to_owned()), last: at, ..State::default() };
        let recorder = Self::start(&shelf.hand, writer, state).map_err(FolderError::io(folder))?;
        Ok(Resumed { recorder, cut: cuts.iter().sum(), cut_of_journal: cuts[1] })
    }

    fn start(hand: &Hand, writer: Writer, state: State) -> io::Result<Self> {
        let shared =
            Arc::new(Shared { state: Mutex::new(state), work: Condvar::new(), done: Condvar::new() });
        let recorder = Self { shared: shared.clone(), hand: hand.clone() };
        match hand {
            Hand::Thread => {
                thread::Builder::new().name("ride-writer".into()).spawn(move || shared.run(writer))?;
            }
            Hand::Turned(turned) => {
                let work = (shared, Arc::new(Mutex::new(writer)));
                turned.0.lock().unwrap_or_else(PoisonError::into_inner).push(work);
            }
        }
        Ok(recorder)
    }

    /// Keeps a received line, as it came.
    pub fn line(&self, source: &str, at: WatchTime, bytes: &[u8]) {
        let mut state = self.shared.lock();
        state.last = at;
        if state.night.len() + bytes.len() > MOST_NIGHT {
            state.lost_lines += 1;
            return;
        }
        let start = state.night.len();
        write_tag(source, at.0, bytes, &mut state.night);
        // A line feed inside a line would make two of it.
        state.night[start..].iter_mut().filter(|b| **b == b'\n').for_each(|b| *b = b' ');
        state.night.extend_from_slice(b"\r\n");
    }

    /// So many lines were not taken, before they came here.
    pub fn lost(&self, lines: u64) {
        self.shared.lock().lost_lines += lines;
    }

    /// Keeps an input of the watch, at once.
    pub fn event(&self, at: WatchTime, event: &Event) {
        self.journal(at, What::Event(event.clone()));
    }

    /// Keeps a change of an alert, at once.
    pub fn alert(&self, change: &AlertChange) {
        self.journal(change.at, What::Alert(change.clone()));
    }

    fn journal(&self, at: WatchTime, what: What) {
        let is_act = matches!(what, What::Event(Event::Crew(_)));
        let line = Record::new(at, what).to_line();
        let mut state = self.shared.lock();
        state.last = at;
        if state.journal.len() + line.len() <= MOST_JOURNAL {
            state.journal.extend_from_slice(&line);
            if is_act {
                state.acts.extend_from_slice(&line);
            }
            drop(state);
            self.shared.work.notify_one();
        }
    }

    /// Replaces `ride.toml`.
    pub fn ride(&self, ride: RideFile) {
        self.shared.lock().ride = Some(ride);
        self.shared.work.notify_one();
    }

    /// Gives the folder the name of the place: for a recording that began before the anchor was let go.
    pub fn name_place(&self, place: &str) {
        self.shared.lock().place = Some(place.to_owned());
        self.shared.work.notify_one();
    }

    /// The ride's folder, once there is one.
    #[must_use]
    pub fn folder(&self) -> Option<PathBuf> {
        self.shared.lock().folder.clone()
    }

    /// Whether everything is being written. Ask each second.
    ///
    /// # Errors
    /// Why not, in words.
    pub fn health(&self) -> Result<(), String> {
        let state = self.shared.lock();
        if state.writing_since.is_some_and(|since| since.elapsed() > ANSWER_WITHIN) {
            return Err("the disk does not answer".into());
        }
        state.fault.clone().map_or(Ok(()), Err)
    }

    /// Has everything written now, waiting at most `wait`.
    ///
    /// # Errors
    /// Why it could not be written, in words.
    pub fn flush(&self, wait: Duration) -> Result<(), String> {
        let mut state = self.shared.lock();
        state.asked += 1;
        let asked = state.asked;
        if let Hand::Turned(turned) = &self.hand {
            drop(state);
            turned.turn();
            return self.shared.lock().fault.clone().map_or(Ok(()), Err);
        }
        self.shared.work.notify_one();
        let waited =
            self.shared.done.wait_timeout_while(state, wait, |state| state.done < asked && !state.ended);
        let (state, timeout) = waited.unwrap_or_else(PoisonError::into_inner);
        if timeout.timed_out() {
            return Err("the disk does not answer".into());
        }
        state.fault.clone().map_or(Ok(()), Err)
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        let mut state = self.shared.lock();
        state.quit = true;
        if let Hand::Turned(_) = &self.hand {
            return;
        }
        self.shared.work.notify_one();
        let wait = Duration::from_secs(2);
        // A disk that hangs must not keep the program from ending.
        drop(self.shared.done.wait_timeout_while(state, wait, |state| !state.ended));
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        // A thread that panicked while it held the lock left buffers that are still good to write.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn run(&self, mut writer: Writer) {
        let mut wait = Duration::ZERO;
        loop {
            let state = self.wait_for_work(wait);
            let quit = state.quit;
            wait = if self.round(&mut writer, state) { LOOK_EVERY } else { RETRY_AFTER };
            if quit {
                break;
            }
        }
        // Whoever waits for the end may take the ride up at once: the lock must be free by then.
        drop(writer);
        self.lock().ended = true;
        self.done.notify_all();
    }

    /// Writes what waits, once. Whether all went well.
    fn round(&self, writer: &mut Writer, mut state: MutexGuard<'_, State>) -> bool {
        let asked = state.asked;
        take_over(&mut state, writer);
        state.writing_since = Some(Instant::now());
        drop(state);

        let result = writer.write();

        let mut state = self.lock();
        state.writing_since = None;
        state.folder = writer.folder().or(state.folder.take());
        state.done = asked;
        let went_well = result.is_ok();
        state.fault = result.err().map(|error| error.to_string());
        self.done.notify_all();
        went_well
    }

    /// Waits until something must be written, `longest` at most. Lines wait for their second; after a failure
    /// everything waits for the next try.
    fn wait_for_work(&self, longest: Duration) -> MutexGuard<'_, State> {
        let begun = Instant::now();
        let mut state = self.lock();
        loop {
            let waited = begun.elapsed();
            let works = state.fault.is_none();
            let urgent = !state.journal.is_empty() || state.ride.is_some() || state.place.is_some();
            let second_is_up = !state.night.is_empty() && waited >= FLUSH_EVERY;
            let now = state.quit || state.asked > state.done || (works && (urgent || second_is_up));
            let Some(left) = longest.checked_sub(waited).filter(|left| !now && !left.is_zero()) else {
                return state;
            };
            // Lines come in without a word: look for them each second.
            let nap = left.min(FLUSH_EVERY);
            state = self.work.wait_timeout(state, nap).unwrap_or_else(PoisonError::into_inner).0;
        }
    }
}

/// Hands what has come in to the writer. While the writer still has something that the disk did not take, the rest
/// stays here, where its size is watched.
fn take_over(state: &mut State, writer: &mut Writer) {
    if let Some(ride) = state.ride.take() {
        writer.ride = Some(ride);
    }
    if let Some(place) = state.place.take() {
        writer.place = Some(place);
    }
    if writer.night.is_empty() {
        writer.night = std::mem::take(&mut state.night);
    }
    if writer.journal.is_empty() {
        writer.journal = std::mem::take(&mut state.journal);
        writer.journal_acts = std::mem::take(&mut state.acts);
        if state.lost_lines > 0 && state.night.is_empty() {
            let lost = std::mem::take(&mut state.lost_lines);
            writer.journal.extend(Record::new(state.last, What::LostLines(lost)).to_line());
        }
    }
}

/// The crew's acts in the journal of a ride that is taken up.
fn read_acts(folder: &Path, journal: &mut RideReader) -> Result<Vec<u8>, FolderError> {
    let mut acts = Vec::new();
    for entry in journal {
        let Entry { at, what } = entry.map_err(FolderError::io(folder))?;
        if let Recorded::Event(event @ Event::Crew(_)) = what
            && acts.len() < MOST_JOURNAL
        {
            acts.extend(Record::new(at, What::Event(event)).to_line());
        }
    }
    Ok(acts)
}
