//! `nightrode act`: something is done on the watch that runs here, from a script, a switch, or another shell.

use anyhow::Context as _;
use clap::{Args, Subcommand};

use super::Exit;
use super::output::{note, print};
use super::waiting::wait_for;
use crate::edge::door::find::{self, Found, Meant, NotOne};
use crate::edge::door::frame::{Change, Refused};
use crate::edge::door::status::Status;
use crate::edge::places;
use crate::report::printable;
use crate::report::zone::Zone;
use crate::watch::input::Command;
use crate::watch::units::Metres;

/// Flags of `act`.
#[derive(Args, Debug)]
pub struct ActArgs {
    /// The watch of this process, where several run.
    #[arg(long, value_name = "NUMBER")]
    pub process: Option<u32>,
    /// What to do.
    #[command(subcommand)]
    pub deed: Deed,
}

/// What to do on the watch.
#[derive(Clone, Debug, Subcommand)]
pub enum Deed {
    /// Answer every alert that waits for an answer.
    Acknowledge,
    /// Sound off for 30 s.
    Silence,
    /// The anchor is let go, now: mark where the bow is.
    Mark,
    /// So much rode is out, in all.
    Veer {
        /// Metres.
        #[arg(value_name = "METRES")]
        metres: f64,
    },
    /// She is brought up: every alert is on from here.
    Up,
    /// After dragging: she lies to her anchor where she is now.
    LiesHere,
    /// The anchor is up: the ride ends.
    Aweigh,
    /// A remark for the journal.
    Note {
        /// The words.
        #[arg(value_name = "TEXT", required = true)]
        text: Vec<String>,
    },
    /// This machine, which stands by, keeps the watch from now on; the one that kept it stands by.
    Take,
    /// The machine that stands by keeps the watch from now on; this one stands by.
    HandOver,
    /// How the watch stands, in a few lines.
    Status {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

impl Deed {
    /// As the watch takes it; `None`: nothing is done, only asked.
    fn command(self) -> Option<Command> {
        Some(match self {
            Self::Acknowledge => Command::Acknowledge { kind: None },
            Self::Silence => Command::Silence,
            Self::Mark => Command::LetGo { veered: None, depth: None, place: String::new() },
            Self::Veer { metres } => Command::Veered { length: Metres(metres) },
            Self::Up => Command::BroughtUp,
            Self::LiesHere => Command::LiesHere,
            Self::Aweigh => Command::Aweigh,
            Self::Note { text } => Command::Note { text: text.join(" ") },
            Self::Take | Self::HandOver | Self::Status { .. } => return None,
        })
    }

    /// Which machine is to keep the watch.
    fn change(&self) -> Option<Change> {
        match self {
            Self::Take => Some(Change::Take),
            Self::HandOver => Some(Change::HandOver),
            _ => None,
        }
    }
}

/// Runs `nightrode act`.
///
/// # Errors
/// In words, what kept it from being done.
pub fn run(args: ActArgs, zone: &Zone) -> anyhow::Result<Exit> {
    wait_for(async {
        let change = args.deed.change();
        let meant = if change == Some(Change::Take) { Meant::StandsBy } else { Meant::Keeps };
        let found = match find::the_one(places::doors(), args.process, meant).await {
            Ok(found) => found,
            Err(not @ (NotOne::None | NotOne::NotThat { .. })) => {
                note(&printable(&not.to_string()));
                return Ok(Exit::NoneRuns);
            }
            Err(other) => return Err(other.into()),
        };
        let json = matches!(args.deed, Deed::Status { json: true });
        match (change, args.deed.command()) {
            (Some(change), _) => find::change(&found, change).await.map(done).map_err(Into::into),
            (None, Some(command)) => find::act(&found, command).await.map(done).map_err(Into::into),
            (None, None) => status(&found, json, zone).await,
        }
        .context("The watch could not be asked.")
    })?
}

fn done(refused: Option<Refused>) -> Exit {
    let Some(refused) = refused else { return Exit::Done };
    note(&printable(&refused.why));
    Exit::Refused
}

async fn status(found: &Found, json: bool, zone: &Zone) -> anyhow::Result<Exit> {
    let (text, status) = find::status(found).await?;
    print(&if json { format!("{text}\n") } else { words(&status, zone) })?;
    Ok(if status.judges { Exit::Done } else { Exit::Failed })
}

/// A few lines for people.
fn words(status: &Status, zone: &Zone) -> String {
    let place = if status.place.is_empty() { String::new() } else { format!(", {}", status.place) };
    let mut lines = vec![format!("{}{place}, {}", status.verdict_words, zone.moment(status.at))];
    if status.stands_by {
        lines.push(format!("This machine stands by: {} keeps the watch.", status.keeper));
    }
    if !status.judges {
        lines.push("The watch judges nothing. Look out by eye; end it and start it again.".to_owned());
    }
    let figures = [
        status.room_m.map(|room| format!("{room:.0} m to the circle")),
        status.rode_m.map(|rode| format!("{rode:.0} m of rode out")),
        status.under_keel_m.map(|depth| format!("{depth:.1} m under the keel")),
        status.wind_kn.map(|wind| format!("wind {wind:.0} kn")),
    ];
    let figures: Vec<String> = figures.into_iter().flatten().collect();
    if !figures.is_empty() {
        lines.push(figures.join(", "));
    }
    lines.extend(status.alerts.iter().map(|alert| format!("{}: {}", alert.kind.title(), alert.what)));
    lines.join("\n") + "\n"
}
