//! `nightrode signalk`: who a Signal K server is, by its greeting and its certificate, and the token for it.

use std::io::BufRead as _;
use std::path::Path;
use std::time::Duration;

use anyhow::{Context as _, bail, ensure};
use clap::Args;
use futures_util::StreamExt as _;
use tokio::time::timeout;
use tokio_tungstenite::tungstenite::Message;

use super::folders;
use super::output::{note, print};
use super::waiting::wait_for;
use crate::edge::feed::{Patience, ServerKeys, SignalKServer, Socket, Source, Token, open_stream};
use crate::report::printable;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct SignalKArgs {
    /// The server, as it stands in boat.toml: signalk:HOST[:PORT], or signalk-wss:HOST[:PORT] with TLS.
    #[arg(value_name = "SERVER")]
    pub server: Source,
    /// Read a token from standard input, a line, and keep it for this server.
    #[arg(long)]
    pub token: bool,
    /// Forget the server's certificate and token, after it was set up anew.
    #[arg(long, conflicts_with = "token")]
    pub forget: bool,
}

pub(super) fn run(args: &SignalKArgs, config: Option<&Path>) -> anyhow::Result<()> {
    let Source::SignalK(to) = &args.server else {
        bail!("{} is no Signal K server. Write signalk:HOST or signalk-wss:HOST.", args.server)
    };
    let keys = ServerKeys::beside(&folders::config(config)?);
    if args.forget {
        let known = keys.forget(&to.server)?;
        return print(if known {
            "Forgotten. The next certificate is taken for the server's own.\n"
        } else {
            "Nothing was kept of it.\n"
        });
    }
    if args.token {
        keep_token(to, &keys)?;
    }
    print(&wait_for(look_at(to, &keys))??)
}

fn keep_token(to: &SignalKServer, keys: &ServerKeys) -> anyhow::Result<()> {
    note(&format!("The token for {to}, in one line:"));
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line).context("Standard input cannot be read")?;
    let token = Token::new(&line).context(
        "That is no token: one line without spaces, up to 4096 signs, as the server's page shows it. Nothing was kept.",
    )?;
    keys.keep_token(&to.server, &token)?;
    Ok(())
}

/// What the server says of itself, and what is kept of it.
async fn look_at(to: &SignalKServer, keys: &ServerKeys) -> anyhow::Result<String> {
    let was_known = keys.certificate(&to.server)?.is_some();
    let socket = open_stream(to, keys, Patience::default()).await.map_err(|why| anyhow::anyhow!("{why}"))?;
    let greeting = greeting(socket).await.with_context(|| format!("{to} gives no greeting"))?;
    let text = |key: &str| greeting[key].as_str().unwrap_or("not said").chars().take(120).collect::<String>();
    let mut page =
        format!("server       {} {}\nboat         {}\n", text("name"), text("version"), text("self"));
    if let Some(sum) = keys.certificate(&to.server)? {
        let how = if was_known { "as it was met first" } else { "met now, and kept from now on" };
        page.push_str(&format!(
            "certificate  SHA-256 {sum}\n             {how}; compare it with the server's own\n"
        ));
    } else {
        page.push_str(
            "certificate  none: what is said can be read and changed on the way (signalk-wss: has TLS)\n",
        );
    }
    let token =
        if keys.token(&to.server)?.is_some() { "kept, and sent to this server alone" } else { "none" };
    page.push_str(&format!("token        {token}\n"));
    Ok(page.lines().map(|line| printable(line) + "\n").collect())
}

async fn greeting(mut socket: Socket) -> anyhow::Result<serde_json::Value> {
    let within = Duration::from_secs(10);
    while let Some(message) = timeout(within, socket.next()).await.context("It says nothing for 10 s")? {
        if let Message::Text(text) = message? {
            ensure!(text.len() <= 65_536, "Its greeting is too long to be one");
            return Ok(serde_json::from_str(&text)?);
        }
    }
    bail!("It closed the connection")
}
