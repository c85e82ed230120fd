//! `nightrode join`: another screen of a watch that runs here, or on another machine.

use clap::Args;

use super::Exit;
use super::joined::{here, show};
use super::output::note;
use super::waiting::wait_for;
use super::watch::{LookArgs, look};
use crate::edge::door::find::{self, Found, NotOne};
use crate::edge::door::link::{Host, Way};
#[cfg(unix)]
use crate::edge::door::socket;
use crate::edge::places;
use crate::report::printable;
use crate::report::zone::Zone;

/// Flags of `join`.
#[derive(Args, Debug)]
pub struct JoinArgs {
    /// A watch on another machine, through your own ssh: ssh:HOST [default: the watch that runs here].
    #[arg(value_name = "ssh:HOST", conflicts_with_all = ["process", "pipe"])]
    pub host: Option<Host>,
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

/// Runs `nightrode join`.
///
/// # Errors
/// In words, why it cannot be joined.
pub fn run(args: JoinArgs, zone: &Zone) -> anyhow::Result<Exit> {
    if let Some(host) = args.host {
        let screen = look(&args.look, zone)?;
        note(&format!("Hearing the ride so far from {} ...", host.name()));
        let station = format!("the watch on {}", host.name());
        let way = Way::Ssh { host, may_ask: true };
        show(way, station, screen, true, args.silent, zone)?;
        return Ok(Exit::Done);
    }
    match one_here(args.process) {
        Ok(found) if args.pipe => pass(&found)?,
        Ok(found) => here(&found, look(&args.look, zone)?, args.silent, zone)?,
        Err(not @ (NotOne::None | NotOne::NotThat { .. })) => {
            note(&printable(&not.to_string()));
            return Ok(Exit::NoneRuns);
        }
        Err(other) => return Err(other.into()),
    }
    Ok(Exit::Done)
}

fn one_here(process: Option<u32>) -> Result<Found, NotOne> {
    let asked = wait_for(find::the_one(places::doors(), process));
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
