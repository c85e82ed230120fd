//! `nightrode page`: the code that opens the page for a phone, and a new key for it.

use std::io::IsTerminal as _;
use std::net::SocketAddr;
use std::path::Path;

use anyhow::Context as _;
use clap::Args;

use super::folders;
use super::output::{print, print_drawing};
use crate::config::page_table::page_address;
use crate::edge::page::key::Key;
use crate::edge::page::{Setup, code};
use crate::edge::places;

/// Flags of `page`.
#[derive(Args, Debug)]
pub struct PageArgs {
    /// The address of the page, instead of that in boat.toml: 192.168.1.5:8460.
    #[arg(long, value_name = "ADDRESS", value_parser = address)]
    pub at: Option<SocketAddr>,
    /// Make a new key first: every phone that has the page loses it within seconds and must read the new code.
    #[arg(long)]
    pub renew: bool,
}

/// An address and a port, as `boat.toml` has it.
pub(super) fn address(text: &str) -> Result<SocketAddr, String> {
    page_address(text).ok_or_else(|| "a number address and a port, like 192.168.1.5:8460".to_owned())
}

/// How the page for phones is served, if it is.
///
/// # Errors
/// If its key can be kept nowhere.
pub(super) fn served(address: Option<SocketAddr>, acknowledge: bool) -> anyhow::Result<Option<Setup>> {
    let Some(address) = address else { return Ok(None) };
    let key = places::page_key().context(
        "There can be no page for phones: no home folder is known here in which its key could be kept.",
    )?;
    Ok(Some(Setup { address, acknowledge, key }))
}

/// Runs `nightrode page`.
///
/// # Errors
/// In words, why there is no page, or no key for it.
pub fn run(args: &PageArgs, config: Option<&Path>) -> anyhow::Result<()> {
    let (path, boat) = folders::boat(config)?;
    let page = boat.map(|boat| boat.page).unwrap_or_default();
    let named = args.at.or(page.address).with_context(|| {
        format!(
            "There is no page for phones: {} names no address for it. Write there, with this computer's address on the \
             boat's network:\n[page]\naddress = \"192.168.1.5:8460\"",
            path.display()
        )
    })?;
    let at = code::reachable(named).with_context(|| {
        format!(
            "The page is served on every address of this computer ({named}), and it has none just now. Name one with --at."
        )
    })?;
    let file = places::page_key().context("No home folder is known here in which the key could be kept.")?;
    let key = if args.renew { Key::make(&file) } else { Key::read_or_make(&file) };
    let key = key.with_context(|| format!("No key can be kept in {}.", file.display()))?;
    let address = code::address(at, &key);
    print_drawing(&code::drawn(&address, std::io::stdout().is_terminal()).unwrap_or_default())?;
    let may = if page.acknowledge { "sees the watch and can acknowledge alerts" } else { "sees the watch" };
    print(&format!(
        "\n{address}\n\nWhoever has this address {may}. `nightrode page --renew` makes it worthless.\n"
    ))
}
