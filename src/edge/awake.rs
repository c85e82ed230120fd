//! Does the computer stay awake while an anchor is down? systemd's logind is asked to let it neither sleep, nor idle, nor
//! mind its lid; with the anchor aweigh, or the watch's end, it is given back.
//!
//! Each of the three is asked for alone: a user who is logged in from afar may be refused one and given another. What is
//! refused but set to do nothing anyway is no trouble.
//!
//! # Source
//! org.freedesktop.login1(5): `Inhibit`, `CanSuspend`, `HandleLidSwitch`, `IdleAction`; org.freedesktop.timedate1(5):
//! `NTPSynchronized`.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::watch;
use tokio::time::timeout;
use zbus::{Connection, DBusError as _, OwnedFd};

use super::computer::can_sleep;
use crate::watch::input::{Awake, Device};
use crate::watch::snapshot::{Snapshot, Stage};

/// After a refusal, and for the clock, it is asked again so often.
const AGAIN: Duration = Duration::from_secs(60);
/// Nobody who does not answer within this holds anything up.
const ANSWER_WITHIN: Duration = Duration::from_secs(10);

#[zbus::proxy(
    interface = "org.freedesktop.login1.Manager",
    default_service = "org.freedesktop.login1",
    default_path = "/org/freedesktop/login1"
)]
trait LoginManager {
    fn inhibit(&self, what: &str, who: &str, why: &str, mode: &str) -> zbus::Result<OwnedFd>;
    fn can_suspend(&self) -> zbus::Result<String>;
    #[zbus(property(emits_changed_signal = "false"))]
    fn handle_lid_switch(&self) -> zbus::Result<String>;
    #[zbus(property(emits_changed_signal = "false"))]
    fn idle_action(&self) -> zbus::Result<String>;
}

#[zbus::proxy(
    interface = "org.freedesktop.timedate1",
    default_service = "org.freedesktop.timedate1",
    default_path = "/org/freedesktop/timedate1"
)]
trait TimeDate {
    #[zbus(property(emits_changed_signal = "false"), name = "NTPSynchronized")]
    fn ntp_synchronized(&self) -> zbus::Result<bool>;
}

/// What ends the watch: what logind calls it, what the crew calls it, and the line of logind.conf that settles it.
const WAYS: [(&str, &str, &str); 3] = [
    ("sleep", "sleep", "sleep.target masked"),
    ("idle", "idling", "IdleAction=ignore"),
    ("handle-lid-switch", "a closed lid", "HandleLidSwitch=ignore"),
];

/// What asking came to.
#[derive(Debug, Default)]
struct Asked {
    /// Given back by dropping it.
    _held: Vec<OwnedFd>,
    awake: Awake,
}

impl Asked {
    /// Nothing is held.
    fn empty(awake: Awake) -> Self {
        Self { _held: Vec::new(), awake }
    }
}

/// Asks to be kept awake, in each of the ways.
async fn ask(bus: &Connection) -> Asked {
    let manager = match LoginManagerProxy::new(bus).await {
        Ok(manager) => manager,
        Err(error) => return Asked::empty(refused(&["sleep"], &plain(&error), "")),
    };
    let (mut held, mut missing, mut settings, mut why) = (Vec::new(), Vec::new(), Vec::new(), String::new());
    for (what, called, setting) in WAYS {
        match manager.inhibit(what, "nightrode", "The anchor watch is kept", "block").await {
            Ok(lock) => held.push(lock),
            Err(_) if does_nothing(&manager, what).await => {}
            Err(error) => {
                missing.push(called);
                settings.push(setting);
                why = plain(&error);
            }
        }
    }
    let awake = if missing.is_empty() { Awake::Kept } else { refused(&missing, &why, &settings.join(", ")) };
    Asked { _held: held, awake }
}

/// Whether that is set to do nothing anyway.
async fn does_nothing(manager: &LoginManagerProxy<'_>, what: &str) -> bool {
    match what {
        "sleep" => manager.can_suspend().await.is_ok_and(|can| can == "na" || can == "no"),
        "idle" => manager.idle_action().await.is_ok_and(|action| action == "ignore"),
        _ => manager.handle_lid_switch().await.is_ok_and(|action| action == "ignore"),
    }
}

fn refused(missing: &[&str], why: &str, settings: &str) -> Awake {
    let set = if settings.is_empty() { String::new() } else { format!("; set {settings}") };
    Awake::Refused { why: format!("{} not held off ({why}){set}", missing.join(" and ")) }
}

/// The words of an answer without the name of its kind.
fn plain(error: &zbus::Error) -> String {
    let words = match error {
        zbus::Error::MethodError(_, Some(words), _) => words.clone(),
        zbus::Error::FDO(known) => known.description().unwrap_or_default().to_owned(),
        other => other.to_string(),
    };
    words.trim_end_matches('.').to_owned()
}

/// Asks within its time. Without a bus nobody can be asked.
async fn ask_in_time(bus: Option<&Connection>) -> Asked {
    let nobody = |why| Asked::empty(refused(&["sleep"], why, ""));
    let Some(bus) = bus else { return nobody("nobody answers on the system's bus") };
    let asked = timeout(ANSWER_WITHIN, ask(bus)).await;
    asked.unwrap_or_else(|_| nobody("the login manager does not answer"))
}

/// Whether the network sets the clock; `None`: nobody says.
async fn clock_set(bus: Option<&Connection>) -> Option<bool> {
    let ask = async { TimeDateProxy::new(bus?).await.ok()?.ntp_synchronized().await.ok() };
    timeout(ANSWER_WITHIN, ask).await.ok().flatten()
}

/// The system's bus, if there is one.
async fn system_bus() -> Option<Connection> {
    timeout(ANSWER_WITHIN, Connection::system()).await.ok()?.ok()
}

/// Asks once, and gives it back: whether the computer would be kept awake, and whether the network sets its clock.
pub async fn ask_once() -> (Awake, Option<bool>) {
    let bus = system_bus().await;
    let clock = clock_set(bus.as_ref()).await;
    if !can_sleep(Path::new("/sys")) {
        return (Awake::Kept, clock);
    }
    (ask_in_time(bus.as_ref()).await.awake, clock)
}

/// Keeps the computer awake while an anchor is down, until the watch ends.
pub async fn keep_awake(snapshots: watch::Receiver<Arc<Snapshot>>, report: impl Fn(Device)) {
    let bus = system_bus().await;
    follow(snapshots, bus.as_ref(), can_sleep(Path::new("/sys")), report).await;
}

async fn follow(
    mut snapshots: watch::Receiver<Arc<Snapshot>>,
    bus: Option<&Connection>,
    may_sleep: bool,
    report: impl Fn(Device),
) {
    let (mut asked, mut set) = (Asked::default(), None);
    let mut clock = tokio::time::interval(AGAIN);
    loop {
        let due = tokio::select! {
            biased;
            _ = clock.tick() => true,
            changed = snapshots.changed() => match changed {
                Ok(()) => false,
                Err(_) => return,
            },
        };
        let anchored = snapshots.borrow_and_update().stage != Stage::NotSet;
        let told = asked.awake.clone();
        match (anchored, &asked.awake) {
            (false, _) => asked = Asked::default(),
            (true, Awake::NotAsked) if !may_sleep => asked = Asked::empty(Awake::Kept),
            (true, Awake::NotAsked) => asked = ask_in_time(bus).await,
            (true, Awake::Refused { .. }) if due => asked = ask_in_time(bus).await,
            (true, _) => {}
        }
        if asked.awake != told {
            report(Device::Awake { awake: asked.awake.clone() });
        }
        if due {
            let now = clock_set(bus).await;
            if now != set {
                set = now;
                report(Device::ClockSet { by_network: now });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read as _;
    use std::os::unix::net::UnixStream;
    use std::sync::Mutex;

    use tokio::sync::mpsc;
    use zbus::connection::Builder;
    use zbus::{Guid, fdo};

    use super::*;

    /// A login manager that gives what it is told to give. The other ends of what it gave are kept.
    #[derive(Clone, Default)]
    struct Manager {
        refuses: Arc<Mutex<Vec<&'static str>>>,
        lid: &'static str,
        given: Arc<Mutex<Vec<(String, UnixStream)>>>,
    }

    #[zbus::interface(name = "org.freedesktop.login1.Manager")]
    impl Manager {
        fn inhibit(&self, what: &str, _who: &str, _why: &str, mode: &str) -> fdo::Result<OwnedFd> {
            assert_eq!(mode, "block");
            if self.refuses.lock().unwrap().contains(&what) {
                return Err(fdo::Error::AccessDenied("Permission denied.".into()));
            }
            let (ours, theirs) = UnixStream::pair().unwrap();
            self.given.lock().unwrap().push((what.to_owned(), ours));
            Ok(OwnedFd::from(std::os::fd::OwnedFd::from(theirs)))
        }

        fn can_suspend(&self) -> &'static str {
            "yes"
        }

        #[zbus(property)]
        fn handle_lid_switch(&self) -> &'static str {
            self.lid
        }

        #[zbus(property)]
        fn idle_action(&self) -> &'static str {
            "ignore"
        }
    }

    /// Both ends of a bus of two.
    async fn bus_to(manager: Manager) -> (Connection, Connection) {
        let (one, other) = UnixStream::pair().unwrap();
        let server = Builder::unix_stream(one)
            .server(Guid::generate())
            .p2p()
            .serve_at("/org/freedesktop/login1", manager)
            .build();
        let client = Builder::unix_stream(other).p2p().build();
        let (server, client) = tokio::join!(server, client);
        (server.unwrap(), client.unwrap())
    }

    fn at(stage: Stage) -> Arc<Snapshot> {
        Arc::new(Snapshot { stage, ..Snapshot::default() })
    }

    async fn next_awake(heard: &mut mpsc::UnboundedReceiver<Device>) -> Awake {
        loop {
            if let Device::Awake { awake } = heard.recv().await.expect("a report") {
                return awake;
            }
        }
    }

    #[tokio::test]
    async fn the_computer_is_kept_awake_while_an_anchor_is_down_and_given_back_afterwards() {
        let manager = Manager { lid: "suspend", ..Manager::default() };
        let (_server, client) = bus_to(manager.clone()).await;
        let (stage, snapshots) = watch::channel(at(Stage::NotSet));
        let (report, mut heard) = mpsc::unbounded_channel();
        let following = tokio::spawn(async move {
            follow(snapshots, Some(&client), true, |device| drop(report.send(device))).await;
        });
        stage.send_replace(at(Stage::Setting));
        assert_eq!(next_awake(&mut heard).await, Awake::Kept);
        let whats: Vec<String> = manager.given.lock().unwrap().iter().map(|(what, _)| what.clone()).collect();
        assert_eq!(whats, ["sleep", "idle", "handle-lid-switch"]);
        stage.send_replace(at(Stage::NotSet));
        assert_eq!(next_awake(&mut heard).await, Awake::NotAsked);
        // Given back: the other end is closed.
        for (_, ours) in manager.given.lock().unwrap().iter_mut() {
            assert_eq!(ours.read(&mut [0]).unwrap(), 0);
        }
        drop(stage);
        following.await.unwrap();
    }

    #[tokio::test]
    async fn what_is_refused_is_named_with_what_to_set_and_what_does_nothing_is_not() {
        let manager = Manager { lid: "suspend", ..Manager::default() };
        *manager.refuses.lock().unwrap() = vec!["handle-lid-switch", "idle"];
        let (_server, client) = bus_to(manager).await;
        let Asked { _held: held, awake } = ask_in_time(Some(&client)).await;
        assert_eq!(held.len(), 1);
        let why = "a closed lid not held off (Permission denied); set HandleLidSwitch=ignore".to_owned();
        assert_eq!(awake, Awake::Refused { why });
        let manager = Manager { lid: "ignore", ..Manager::default() };
        *manager.refuses.lock().unwrap() = vec!["handle-lid-switch"];
        let (_server, client) = bus_to(manager).await;
        assert_eq!(ask_in_time(Some(&client)).await.awake, Awake::Kept);
    }

    #[tokio::test]
    async fn without_a_bus_it_is_said_and_without_a_sleep_nothing_is_missed() {
        assert!(matches!(ask_in_time(None).await.awake, Awake::Refused { .. }));
        let (_stage, snapshots) = watch::channel(at(Stage::BroughtUp));
        let (report, mut heard) = mpsc::unbounded_channel();
        let following = tokio::spawn(follow(snapshots, None, false, move |device| drop(report.send(device))));
        assert_eq!(next_awake(&mut heard).await, Awake::Kept);
        following.abort();
    }
}
