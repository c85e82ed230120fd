//! `nightrode join`: another screen of a watch that runs here, or on another machine.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use anyhow::bail;
use clap::Args;

use super::Exit;
use super::joined::show;
use super::output::note;
use super::stand_by::{self, Stands};
use super::waiting::wait_for;
use super::watch::{LookArgs, look};
use crate::edge::door::find::{self, Found, Meant, NotOne};
use crate::edge::door::link::{Host, Way};
#[cfg(unix)]
use crate::edge::door::socket;
use crate::edge::feed::{Source, SourceError};
use crate::edge::live::NamedSource;
use crate::edge::places;
use crate::report::printable;
use crate::report::zone::Zone;

/// Flags of `join`.
#[derive(Args, Debug)]
pub struct JoinArgs {
    /// A watch on another machine, through your own ssh: ssh:HOST [default: the watch that runs here]; and this machine's
    /// own feeds, as for `watch`, each with a name of its own: bunk=serial:/dev/ttyUSB0@4800.
    #[arg(value_name = "ssh:HOST | FEED", conflicts_with = "pipe")]
    pub what: Vec<Joins>,
    /// Folder of the rides of a machine that stands by, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// Stand by without a screen; what happens is printed, a line each.
    #[arg(long, requires = "what")]
    pub headless: bool,
    /// The watch of this process, where several run.
    #[arg(long, value_name = "NUMBER")]
    pub process: Option<u32>,
    /// Pass what is said through the door to standard output, and standard input to it: for the other side of ssh.
    #[arg(long)]
    pub pipe: bool,
    /// Play no sounds. The terminal's bell rings when the watch falls silent.
    #[arg(long)]
    pub silent: bool,
    /// How the screen looks.
    #[command(flatten)]
    pub look: LookArgs,
}

/// A watch on another machine, or a feed of this one.
#[derive(Clone, Debug)]
pub enum Joins {
    /// The other machine.
    Host(Host),
    /// A feed: its name, if it has one, and its source.
    Feed(Option<String>, Source),
}

impl FromStr for Joins {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text.starts_with("ssh:") {
            return text.parse().map(Self::Host);
        }
        let (name, source) = match text.split_once('=') {
            Some((name, source)) if !name.contains(':') => (Some(name.to_owned()), source),
            _ => (None, text),
        };
        let source = source.parse().map_err(|wrong: SourceError| wrong.to_string())?;
        Ok(Self::Feed(name, source))
    }
}

/// Runs `nightrode join`.
///
/// # Errors
/// In words, why it cannot be joined.
pub fn run(args: JoinArgs, config: Option<&Path>, zone: &Zone) -> anyhow::Result<Exit> {
    let (host, sources) = sorted(args.what)?;
    if args.headless && sources.is_empty() {
        bail!("Without a screen this machine can only stand by, and for that it needs a feed of its own.");
    }
    let screen = if args.headless || args.pipe { None } else { Some(look(&args.look, zone)?) };
    let (way, station, far) = match host {
        Some(_) if args.process.is_some() => {
            bail!("--process names a watch on this machine, ssh:HOST one on another.")
        }
        Some(host) => {
            note(&format!("Hearing the ride so far from {} ...", host.name()));
            let station = format!("the watch on {}", host.name());
            (Way::Ssh { host, may_ask: true }, station, true)
        }
        None => match one_here(args.process) {
            Ok(found) if args.pipe => return pass(&found).map(|()| Exit::Done),
            Ok(found) => {
                let station = format!("the watch of process {}", found.keeps.process);
                (Way::Socket(found.path), station, false)
            }
            Err(not @ (NotOne::None | NotOne::NotThat { .. })) => {
                note(&printable(&not.to_string()));
                return Ok(Exit::NoneRuns);
            }
            Err(other) => return Err(other.into()),
        },
    };
    match screen {
        Some(screen) if sources.is_empty() => show(way, station, screen, far, args.silent, config, zone)?,
        screen => {
            let stands = Stands { way, station, sources, rides: args.rides, screen, silent: args.silent };
            stand_by::run(stands, config, zone)?;
        }
    }
    Ok(Exit::Done)
}

/// The other machine, and this one's feeds, each with a name.
fn sorted(what: Vec<Joins>) -> anyhow::Result<(Option<Host>, Vec<NamedSource>)> {
    let (mut hosts, mut sources) = (Vec::new(), Vec::<NamedSource>::new());
    for joins in what {
        match joins {
            Joins::Host(host) => hosts.push(host),
            Joins::Feed(name, source) => {
                let name = name.unwrap_or_else(|| format!("own{}", sources.len() + 1));
                if sources.iter().any(|other| other.name == name) {
                    bail!("Two feeds are called {name}. Give each a name of its own: `{name}2=…`.");
                }
                sources.push(NamedSource { name, source });
            }
        }
    }
    if hosts.len() > 1 {
        bail!("Only one watch can be joined at a time.");
    }
    Ok((hosts.pop(), sources))
}

fn one_here(process: Option<u32>) -> Result<Found, NotOne> {
    let asked = wait_for(find::the_one(places::doors(), process, Meant::Keeps));
    asked.map_err(|error| NotOne::Unreached(error.into()))?
}

/// Between standard input and output and the door, until either ends.
#[cfg(unix)]
fn pass(found: &Found) -> anyhow::Result<()> {
    socket::pass_through(&found.path)?;
    Ok(())
}

#[cfg(not(unix))]
fn pass(_: &Found) -> anyhow::Result<()> {
    anyhow::bail!("This system has no such door.")
}
