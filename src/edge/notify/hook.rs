//! A command of the crew's own, run at each change of an alert: a message to a phone, a lamp, a horn.
//!
//! The contract stands in `docs/sailing/alerts.md`. No shell is involved unless the crew names one: the words of `boat.toml`
//! are the command and its arguments, and nothing of the alert is ever put among them.

use std::process::{ExitStatus, Stdio};
use std::sync::Arc;
use std::time::Duration;
use std::{io, thread};

use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWriteExt as _};
use tokio::process::{Child, Command};
use tokio::sync::{Semaphore, mpsc};
use tokio::time::{sleep, timeout};

use super::Trouble;
use super::survivor::Survivor;
use crate::edge::folder::journal::{Record, What, timestamp};
use crate::watch::alert::{AlertChange, AlertState, Priority};
use crate::watch::input::{Command as CrewCommand, Event};
use crate::watch::rehearsal;
use crate::watch::units::WatchTime;

/// How many may run at once: a slow one must not keep an alarm waiting. Our choice.
const AT_ONCE: usize = 4;
/// How many changes may wait for their turn. Our choice: more than a night has.
const WAITING: usize = 256;
/// How long one may run before it is ended: a mail over a bad link. Our choice.
const LONGEST: Duration = Duration::from_secs(60);
/// One that failed is run again after these: a mast or a router that was away for a moment. Then it has failed. Our choice.
const AGAIN_AFTER: [Duration; 2] = [Duration::from_secs(10), Duration::from_secs(30)];
/// How many may wait to be run again; those beyond have failed at once. Our choice: more than an alarm has changes.
const WAITING_AGAIN: usize = 32;
/// How much of its complaints is kept.
const MOST_COMPLAINT: usize = 1024;

/// The running hook.
#[derive(Clone, Debug)]
pub struct Hook {
    queue: mpsc::Sender<News>,
    trouble: Trouble,
}

/// What it is run for.
#[derive(Clone, Debug)]
enum News {
    /// A change of an alert.
    Change(AlertChange),
    /// A rehearsal of the alarm: no alert.
    Rehearsal(WatchTime),
}

/// How one run went wrong.
#[derive(Debug, thiserror::Error)]
enum HookError {
    #[error("it cannot be started ({0})")]
    NotStarted(io::Error),
    #[error("it was still running after {} s and was ended", .after.as_secs())]
    TooLong { after: Duration },
    #[error("it ended with {status}{}{complaint}", if complaint.is_empty() { "" } else { ": " })]
    Failed { status: ExitStatus, complaint: String },
}

impl Hook {
    /// Starts the thread that runs `argv`: a command and its arguments. The thread ends with this handle.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub(super) fn start(argv: Vec<String>, boat: String, trouble: Trouble) -> io::Result<Self> {
        let (queue, waiting) = mpsc::channel(WAITING);
        let survivor = Survivor::start().inspect_err(|error| tracing::warn!("hooks outlive a kill: {error}"));
        let survivor = survivor.ok();
        let runner = Runner {
            argv,
            boat,
            longest: LONGEST,
            again_after: AGAIN_AFTER,
            trouble: trouble.clone(),
            survivor,
        };
        // A runtime of its own: to start a program from a dead network disk can take for ever.
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        thread::Builder::new()
            .name("alert-hook".into())
            .spawn(move || runtime.block_on(runner.run(waiting)))?;
        Ok(Self { queue, trouble })
    }

    /// Has the command run for this change, as soon as there is room.
    pub(in crate::edge) fn change(&self, change: &AlertChange) {
        self.pass(News::Change(change.clone()));
    }

    /// Has the command run for a rehearsal of the alarm.
    pub(super) fn rehearse(&self, at: WatchTime) {
        self.pass(News::Rehearsal(at));
    }

    fn pass(&self, news: News) {
        if self.queue.try_send(news).is_err() {
            let words = format!("The alert hook is left out: {WAITING} runs of it wait already.");
            self.trouble.report(words.clone());
            self.trouble.given_up(words);
        }
    }
}

struct Runner {
    argv: Vec<String>,
    boat: String,
    longest: Duration,
    again_after: [Duration; AGAIN_AFTER.len()],
    trouble: Trouble,
    survivor: Option<Survivor>,
}

impl Runner {
    async fn run(self, mut waiting: mpsc::Receiver<News>) {
        let places = Arc::new(Semaphore::new(AT_ONCE));
        let again = Arc::new(Semaphore::new(WAITING_AGAIN));
        let runner = Arc::new(self);
        while let Some(news) = waiting.recv().await {
            let Ok(place) = places.clone().acquire_owned().await else { return };
            let (runner, places, again) = (runner.clone(), places.clone(), again.clone());
            tokio::spawn(async move {
                let first = runner.once(&news).await;
                drop(place);
                runner.see_to_it(&news, first, &places, &again).await;
            });
        }
    }

    /// Runs it again and again where it failed, while others are run, and says what came of it.
    async fn see_to_it(
        &self,
        news: &News,
        first: Result<(), HookError>,
        places: &Semaphore,
        waiting: &Semaphore,
    ) {
        let Err(error) = first else { return self.trouble.over() };
        let mut words = self.failed_words(&error);
        self.trouble.report(words.clone());
        let waits = waiting.try_acquire();
        for wait in self.again_after.iter().take(if waits.is_ok() { usize::MAX } else { 0 }) {
            sleep(*wait).await;
            let Ok(_place) = places.acquire().await else { break };
            match self.once(news).await {
                Ok(()) => return self.trouble.over(),
                Err(error) => words = self.failed_words(&error),
            }
        }
        self.trouble.given_up(words);
    }

    fn failed_words(&self, error: &HookError) -> String {
        format!("The alert hook {} failed: {error}.", self.argv.first().map_or("", String::as_str))
    }

    async fn once(&self, news: &News) -> Result<(), HookError> {
        let mut child = self.command(news).spawn().map_err(HookError::NotStarted)?;
        let group = child.id();
        self.survives(group, Survivor::runs);
        let done = self.see_through(&mut child, news).await;
        self.survives(group, Survivor::has_ended);
        done
    }

    fn survives(&self, group: Option<u32>, say: fn(&Survivor, u32)) {
        if let (Some(survivor), Some(group)) = (&self.survivor, group) {
            say(survivor, group);
        }
    }

    async fn see_through(&self, child: &mut Child, news: &News) -> Result<(), HookError> {
        let ended = timeout(self.longest, attend(child, news)).await;
        let Ok(ended) = ended else {
            end_all(child).await;
            return Err(HookError::TooLong { after: self.longest });
        };
        let (status, complaint) = ended.map_err(HookError::NotStarted)?;
        if status.success() { Ok(()) } else { Err(HookError::Failed { status, complaint }) }
    }

    fn command(&self, news: &News) -> Command {
        let (program, arguments) = self.argv.split_first().map_or(("", &[][..]), |(p, a)| (p.as_str(), a));
        let mut command = Command::new(program);
        command.args(arguments).envs(environment(&self.boat, news));
        command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped()).kill_on_drop(true);
        // What it starts itself belongs to it and is ended with it.
        #[cfg(unix)]
        command.process_group(0);
        command
    }
}

/// What the command finds in its environment.
fn environment(boat: &str, news: &News) -> [(&'static str, String); 9] {
    match news {
        News::Change(change) => of_change(boat, change),
        News::Rehearsal(at) => of_rehearsal(boat, *at),
    }
}

/// No value of it is one that an alert has: a hook that looks for an alert finds none.
fn of_rehearsal(boat: &str, at: WatchTime) -> [(&'static str, String); 9] {
    [
        ("NIGHTRODE_BOAT", clean(boat)),
        ("NIGHTRODE_TIME", timestamp(at)),
        ("NIGHTRODE_CHANGE", "rehearsed".into()),
        ("NIGHTRODE_KIND", "rehearsal".into()),
        ("NIGHTRODE_TITLE", rehearsal::TITLE.into()),
        ("NIGHTRODE_PRIORITY", "rehearsal".into()),
        ("NIGHTRODE_STATE", "rehearsal".into()),
        ("NIGHTRODE_WHAT", "The crew rehearses the alarm. Nothing is wrong.".into()),
        ("NIGHTRODE_ACTION", "Tell them whether this came through.".into()),
    ]
}

/// An operating system takes no zero byte there.
fn clean(text: &str) -> String {
    text.replace('\0', " ")
}

fn of_change(boat: &str, change: &AlertChange) -> [(&'static str, String); 9] {
    let alert = &change.alert;
    let priority = match alert.priority {
        Priority::Alarm => "alarm",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
    };
    let state = match alert.state {
        AlertState::Normal => "normal",
        AlertState::Unacknowledged => "unacknowledged",
        AlertState::Silenced { .. } => "silenced",
        AlertState::Acknowledged => "acknowledged",
        AlertState::Rectified => "rectified",
    };
    let what_happened = serde_json::to_value(change.change).ok();
    let what_happened = what_happened.as_ref().and_then(|word| word.as_str()).unwrap_or_default();
    [
        ("NIGHTRODE_BOAT", clean(boat)),
        ("NIGHTRODE_TIME", timestamp(change.at)),
        ("NIGHTRODE_CHANGE", what_happened.to_owned()),
        ("NIGHTRODE_KIND", alert.kind.name().to_owned()),
        ("NIGHTRODE_TITLE", alert.kind.title().to_owned()),
        ("NIGHTRODE_PRIORITY", priority.to_owned()),
        ("NIGHTRODE_STATE", state.to_owned()),
        ("NIGHTRODE_WHAT", clean(&alert.reason.what)),
        ("NIGHTRODE_ACTION", clean(&alert.reason.action)),
    ]
}

/// Hands the change to the command and waits for its end; gives the beginning of what it complained.
async fn attend(child: &mut Child, news: &News) -> io::Result<(ExitStatus, String)> {
    let (stdin, stderr) = (child.stdin.take(), child.stderr.take());
    let mut line = serde_json::to_vec(&match news {
        News::Change(change) => Record::new(change.at, What::Alert(change.clone())),
        News::Rehearsal(at) => Record::new(*at, What::Event(Event::Crew(CrewCommand::Rehearse))),
    })?;
    line.push(b'\n');
    let mut said = Vec::new();
    let status = {
        let talk = async {
            if let Some(mut stdin) = stdin {
                // A command that does not read is free not to.
                let _ = stdin.write_all(&line).await;
            }
            if let Some(stderr) = stderr {
                keep_beginning(stderr, &mut said).await;
            }
        };
        tokio::pin!(talk);
        let mut talked = false;
        let status = loop {
            tokio::select! {
                status = child.wait() => break status?,
                () = &mut talk, if !talked => talked = true,
            }
        };
        if !talked {
            // Its last words may still be in the pipe; what it left running may hold the pipe for ever.
            let _ = timeout(Duration::from_millis(100), &mut talk).await;
        }
        status
    };
    let complaint = String::from_utf8_lossy(&said);
    Ok((status, complaint.split_whitespace().collect::<Vec<_>>().join(" ")))
}

async fn keep_beginning(mut from: impl AsyncRead + Unpin, said: &mut Vec<u8>) {
    let mut buffer = [0; 512];
    while let Ok(count @ 1..) = from.read(&mut buffer).await {
        let room = MOST_COMPLAINT - said.len();
        said.extend_from_slice(&buffer[..count.min(room)]);
    }
}

/// Ends the command and everything it started.
async fn end_all(child: &mut Child) {
    #[cfg(unix)]
    if let Some(group) = child.id().and_then(|id| rustix::process::Pid::from_raw(id.cast_signed())) {
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
    }
    let _ = child.kill().await;
}

#[cfg(all(test, unix))]
mod tests {
    use std::time::Instant;

    use super::*;
    use crate::edge::keeper::Order;
    use crate::watch::alert::{Alert, AlertKind, Change, Reason};
    use crate::watch::input::Device;

    /// 2026-06-03 02:14:00 UTC.
    const AT: WatchTime = WatchTime(1_780_452_840_000);

    fn change() -> AlertChange {
        let reason = Reason {
            what: "41 m from the anchor; $(touch broken) `touch broken` \"; touch broken".into(),
            action: "Start the engine.".into(),
        };
        let alert = Alert {
            kind: AlertKind::Drag,
            priority: Priority::Alarm,
            state: AlertState::Unacknowledged,
            raised: AT,
            rectified: None,
            escalated: false,
            reason,
        };
        AlertChange { at: AT, change: Change::Raised, alert }
    }

    fn once(argv: &[&str], longest: Duration) -> Result<(), String> {
        once_for(News::Change(change()), argv, longest)
    }

    fn once_for(news: News, argv: &[&str], longest: Duration) -> Result<(), String> {
        let (notices, _) = mpsc::unbounded_channel();
        let argv = argv.iter().map(|word| (*word).to_owned()).collect();
        let trouble = Trouble::new(notices);
        let again_after = [Duration::ZERO; 2];
        let runner = Runner { argv, boat: "Marram".into(), longest, again_after, trouble, survivor: None };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        runtime.block_on(runner.once(&news)).map_err(|error| error.to_string())
    }

    #[test]
    fn the_command_finds_the_alert_in_its_environment_and_on_standard_input_and_runs_none_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().display().to_string();
        let script = "cd \"$0\" && cat > line && printf '%s|' \"$NIGHTRODE_BOAT\" \"$NIGHTRODE_TIME\" \
                      \"$NIGHTRODE_CHANGE\" \"$NIGHTRODE_KIND\" \"$NIGHTRODE_TITLE\" \"$NIGHTRODE_PRIORITY\" \
                      \"$NIGHTRODE_STATE\" \"$NIGHTRODE_WHAT\" \"$NIGHTRODE_ACTION\" > words";
        assert_eq!(once(&["/bin/sh", "-c", script, &place], LONGEST), Ok(()));
        let read = |name| std::fs::read_to_string(folder.path().join(name)).unwrap();
        let what = change().alert.reason.what;
        let words = format!(
            "Marram|2026-06-03T02:14:00.000Z|raised|drag|DRAGGING|alarm|unacknowledged|{what}|Start the engine.|"
        );
        assert_eq!(read("words"), words);
        let record: Record = serde_json::from_str(&read("line")).unwrap();
        assert_eq!(record.what, What::Alert(change()));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2, "nothing else was made");
    }

    #[test]
    fn a_rehearsal_has_no_word_that_an_alert_has() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().display().to_string();
        let script = "cd \"$0\" && cat > line && printf '%s|' \"$NIGHTRODE_CHANGE\" \"$NIGHTRODE_KIND\" \
                      \"$NIGHTRODE_TITLE\" \"$NIGHTRODE_PRIORITY\" \"$NIGHTRODE_STATE\" > words";
        assert_eq!(once_for(News::Rehearsal(AT), &["/bin/sh", "-c", script, &place], LONGEST), Ok(()));
        let read = |name| std::fs::read_to_string(folder.path().join(name)).unwrap();
        assert_eq!(read("words"), "rehearsed|rehearsal|REHEARSAL|rehearsal|rehearsal|");
        let record: Record = serde_json::from_str(&read("line")).unwrap();
        assert_eq!(record.what, What::Event(Event::Crew(CrewCommand::Rehearse)), "as the journal has it");
    }

    #[test]
    fn one_that_fails_is_told_with_its_first_words() {
        let why = once(&["/bin/sh", "-c", "echo no route to the mast >&2; exit 3"], LONGEST).unwrap_err();
        assert_eq!(why, "it ended with exit status: 3: no route to the mast");
        let why = once(&["/no/such/command"], LONGEST).unwrap_err();
        assert!(why.starts_with("it cannot be started"), "{why}");
    }

    /// Runs it for so many changes, one after another, with its waits left out; gives what the keeper hears.
    fn told_of(changes: usize, script: &str, folder: &std::path::Path) -> Vec<Order> {
        let (notices, _said) = mpsc::unbounded_channel();
        let (keeper, mut heard) = mpsc::unbounded_channel();
        let argv = ["/bin/sh", "-c", script, &folder.display().to_string()].map(str::to_owned).to_vec();
        let trouble = Trouble::new(notices).of_the_hook(keeper);
        let again_after = [Duration::ZERO; 2];
        let runner =
            Runner { argv, boat: "Marram".into(), longest: LONGEST, again_after, trouble, survivor: None };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        runtime.block_on(async {
            let (places, waiting) = (Semaphore::new(1), Semaphore::new(1));
            for _ in 0..changes {
                let news = News::Change(change());
                let first = runner.once(&news).await;
                runner.see_to_it(&news, first, &places, &waiting).await;
            }
        });
        drop(runner);
        std::iter::from_fn(|| heard.try_recv().ok()).collect()
    }

    fn device(order: &Order) -> Option<&str> {
        match order {
            Order::Device(Device::Hook { failed }) => failed.as_deref(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn one_that_fails_is_run_three_times_and_only_then_the_watch_hears_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let orders = told_of(1, "echo run >>\"$0/runs\"; echo no route >&2; exit 3", folder.path());
        assert_eq!(std::fs::read_to_string(folder.path().join("runs")).unwrap(), "run\nrun\nrun\n");
        assert_eq!(orders.len(), 1, "{orders:?}");
        assert_eq!(
            device(&orders[0]),
            Some("The alert hook /bin/sh failed: it ended with exit status: 3: no route.")
        );

        let folder = tempfile::tempdir().unwrap();
        let twice = "echo run >>\"$0/runs\"; test $(wc -l <\"$0/runs\") -ge 3";
        assert_eq!(told_of(1, twice, folder.path()), [], "the third run went through");
    }

    #[test]
    fn the_watch_hears_once_that_it_failed_and_once_that_it_goes_through_again() {
        let folder = tempfile::tempdir().unwrap();
        let script = "echo run >>\"$0/runs\"; test $(wc -l <\"$0/runs\") -gt 6";
        let orders = told_of(4, script, folder.path());
        let heard: Vec<bool> = orders.iter().map(|order| device(order).is_some()).collect();
        assert_eq!(heard, [true, false], "{orders:?}");
    }

    #[test]
    fn one_that_never_ends_is_ended_with_all_it_started() {
        let begun = Instant::now();
        let script = "tail -f /dev/null & tail -f /dev/null";
        let why = once(&["/bin/sh", "-c", script], Duration::from_millis(200)).unwrap_err();
        assert!(why.contains("still running"), "{why}");
        // Its own ending is all that is waited for.
        assert!(begun.elapsed() < LONGEST);
    }

    #[test]
    fn one_that_neither_reads_nor_stops_talking_does_no_harm() {
        assert_eq!(once(&["/bin/sh", "-c", "exec <&-; yes | head -c 100000 >&2"], LONGEST), Ok(()));
    }
}
