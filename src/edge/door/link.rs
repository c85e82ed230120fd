//! The other side of the door: a link to a watch, on this machine or through `ssh`.

use std::io;
use std::path::PathBuf;
use std::process::Stdio;
use std::str::FromStr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _};
use tokio::process::{Child, Command};
use tokio::time::timeout;

use super::frame::{Asked, Cutter, Frame, Keeps, LONGEST_TOLD, Told, Wrong, greeted, greeting};

/// A watch on this machine answers within this time.
const ANSWERS_WITHIN: Duration = Duration::from_secs(10);
/// One behind `ssh` may first ask the crew for a passphrase.
const LOGS_IN_WITHIN: Duration = Duration::from_secs(120);
/// What is read at once.
const PIECE: usize = 1 << 16;
/// So much of what `ssh` complains of is kept.
const COMPLAINT: usize = 400;

/// What keeps a link from being made, or ends it.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    /// The system.
    #[error("{0}")]
    Io(#[from] io::Error),
    /// What came makes no sense.
    #[error("{0}")]
    Wrong(#[from] Wrong),
    /// The watch said why.
    #[error("{0}")]
    TurnedAway(String),
    /// The other side ended it, with the last words of whatever carried it.
    #[error("The link has ended.{}", if .0.is_empty() { String::new() } else { format!(" {}", .0) })]
    Ended(String),
    /// No answer.
    #[error("Nothing answers there within {} s.", .0.as_secs())]
    Silent(Duration),
}

/// Where a watch is reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// By a socket of this machine.
    Socket(PathBuf),
    /// On another machine.
    Ssh {
        /// As `ssh` takes it.
        host: Host,
        /// Whether it may ask for a passphrase: not under a screen.
        may_ask: bool,
    },
}

/// A host as `ssh` takes it: a name of its configuration, or USER@ADDRESS.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Host(String);

impl Host {
    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.0
    }
}

impl FromStr for Host {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let name = text.strip_prefix("ssh:").ok_or("a watch on another machine is named ssh:HOST")?;
        let is_plain = |c: char| c.is_alphanumeric() || "@.:_-[]%".contains(c);
        if name.is_empty() || name.starts_with('-') || name.len() > 255 || !name.chars().all(is_plain) {
            return Err(format!(
                "{name:?} is no host that ssh could mean; a host is a name, an address or USER@HOST"
            ));
        }
        Ok(Self(name.to_owned()))
    }
}

/// The words with which `ssh` is started: nothing of the host is taken for an option, and nothing reaches a shell but
/// words of this program.
#[must_use]
pub fn ssh_words(host: &Host, may_ask: bool) -> Vec<String> {
    let ask = if may_ask { "BatchMode=no" } else { "BatchMode=yes" };
    let words = ["-T", "-o", ask, "-o", "ConnectTimeout=10", "-o", "ServerAliveInterval=5", "-o"];
    let words =
        words.into_iter().chain(["ServerAliveCountMax=2", "--", &host.0, "nightrode", "join", "--pipe"]);
    words.map(str::to_owned).collect()
}

/// A link to a watch.
pub struct Link {
    read: Box<dyn AsyncRead + Send + Unpin>,
    write: Box<dyn AsyncWrite + Send + Unpin>,
    cutter: Cutter,
    piece: Vec<u8>,
    complaint: Complaint,
    /// Killed with the link.
    child: Option<Child>,
    keeps: Keeps,
}

impl Link {
    /// Makes a link.
    ///
    /// # Errors
    /// In words, why there is none.
    pub async fn make(way: &Way) -> Result<Self, LinkError> {
        match way {
            Way::Socket(path) => Self::by_socket(path).await,
            Way::Ssh { host, may_ask } => Self::by_ssh(host, *may_ask).await,
        }
    }

    #[cfg(unix)]
    async fn by_socket(path: &std::path::Path) -> Result<Self, LinkError> {
        let (read, write) = tokio::net::UnixStream::connect(path).await?.into_split();
        Self::greet(Box::new(read), Box::new(write), None, Complaint::default(), ANSWERS_WITHIN).await
    }

    #[cfg(not(unix))]
    async fn by_socket(_: &std::path::Path) -> Result<Self, LinkError> {
        Err(io::Error::from(io::ErrorKind::Unsupported).into())
    }

    async fn by_ssh(host: &Host, may_ask: bool) -> Result<Self, LinkError> {
        let mut child = Command::new("ssh")
            .args(ssh_words(host, may_ask))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn()?;
        let missing = || io::Error::other("ssh has no pipes");
        let read = child.stdout.take().ok_or_else(missing)?;
        let write = child.stdin.take().ok_or_else(missing)?;
        let complaint = Complaint::default();
        if let Some(stderr) = child.stderr.take() {
            tokio::spawn(complaint.clone().listen(stderr));
        }
        let within = if may_ask { LOGS_IN_WITHIN } else { ANSWERS_WITHIN };
        Self::greet(Box::new(read), Box::new(write), Some(child), complaint, within).await
    }

    /// A link over any two streams.
    ///
    /// # Errors
    /// As [`Link::make`].
    pub async fn over(
        read: impl AsyncRead + Send + Unpin + 'static,
        write: impl AsyncWrite + Send + Unpin + 'static,
    ) -> Result<Self, LinkError> {
        Self::greet(Box::new(read), Box::new(write), None, Complaint::default(), ANSWERS_WITHIN).await
    }

    async fn greet(
        read: Box<dyn AsyncRead + Send + Unpin>,
        write: Box<dyn AsyncWrite + Send + Unpin>,
        child: Option<Child>,
        complaint: Complaint,
        within: Duration,
    ) -> Result<Self, LinkError> {
        let (cutter, piece) = (Cutter::new(LONGEST_TOLD), vec![0; PIECE]);
        let mut link = Self { read, write, cutter, piece, complaint, child, keeps: Keeps::default() };
        timeout(within, link.be_greeted()).await.map_err(|_| LinkError::Silent(within))??;
        Ok(link)
    }

    async fn be_greeted(&mut self) -> Result<(), LinkError> {
        self.write.write_all(greeting().as_bytes()).await?;
        self.write.flush().await?;
        let line = loop {
            if let Some(line) = self.cutter.greeting()? {
                break line;
            }
            self.read().await?;
        };
        greeted(&line)?;
        match self.told().await?.0 {
            Told::Keeps(keeps) => self.keeps = keeps,
            _ => return Err(Wrong::Stranger.into()),
        }
        Ok(())
    }

    /// Who keeps the watch behind the door.
    #[must_use]
    pub fn keeps(&self) -> &Keeps {
        &self.keeps
    }

    /// The same link the other way round: what else has come over it, both directions, and what carries them.
    #[must_use]
    pub fn turned(self) -> (impl AsyncRead + AsyncWrite + Send + Unpin + 'static, Option<Child>) {
        let Self { read, write, mut cutter, child, .. } = self;
        let read = std::io::Cursor::new(cutter.rest()).chain(read);
        (tokio::io::join(read, write), child)
    }

    /// The next message, and the length of its frame. Nothing is lost when this is dropped while it waits.
    ///
    /// # Errors
    /// Why the link has ended.
    pub async fn told(&mut self) -> Result<(Told, u64), LinkError> {
        loop {
            if let Some(frame) = self.cutter.next_frame()? {
                return read(&frame);
            }
            self.read().await?;
        }
    }

    /// A message that has come already.
    ///
    /// # Errors
    /// As [`Link::told`].
    pub fn told_already(&mut self) -> Result<Option<(Told, u64)>, LinkError> {
        self.cutter.next_frame()?.as_ref().map(read).transpose()
    }

    /// Asks something.
    ///
    /// # Errors
    /// Why the link has ended.
    pub async fn ask(&mut self, asked: &Asked) -> Result<(), LinkError> {
        let mut out = Vec::new();
        asked.put(&mut out);
        let taken = timeout(ANSWERS_WITHIN, async {
            self.write.write_all(&out).await?;
            self.write.flush().await
        });
        taken.await.map_err(|_| LinkError::Silent(ANSWERS_WITHIN))??;
        Ok(())
    }

    async fn read(&mut self) -> Result<(), LinkError> {
        match self.read.read(&mut self.piece).await? {
            0 => {
                // What carried the link says why a moment after its end.
                self.complaint.ended().await;
                Err(LinkError::Ended(self.complaint.words()))
            }
            count => {
                self.cutter.push(&self.piece[..count]);
                Ok(())
            }
        }
    }
}

fn read(frame: &Frame) -> Result<(Told, u64), LinkError> {
    match Told::read(frame)? {
        Told::Leave(why) => Err(LinkError::TurnedAway(why)),
        told => Ok((told, frame.whole())),
    }
}

/// What `ssh`, or the program on the other side, says on standard error.
#[derive(Clone, Default)]
struct Complaint(Arc<Mutex<Vec<u8>>>, Arc<tokio::sync::Notify>);

impl Complaint {
    async fn listen(self, mut stderr: impl AsyncRead + Unpin) {
        let mut piece = [0; COMPLAINT];
        while let Ok(count @ 1..) = stderr.read(&mut piece).await {
            let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            kept.extend_from_slice(&piece[..count]);
            let beyond = kept.len().saturating_sub(COMPLAINT);
            kept.drain(..beyond);
        }
        self.1.notify_one();
    }

    /// Waits a little for the last words.
    async fn ended(&self) {
        if Arc::strong_count(&self.1) > 1 {
            let _ = timeout(Duration::from_secs(1), self.1.notified()).await;
        }
    }

    fn words(&self) -> String {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let text = String::from_utf8_lossy(&kept);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_never_an_option_nor_a_word_for_a_shell() {
        for bad in
            ["ssh:", "ssh:-oProxyCommand=x", "ssh:a b", "ssh:a;b", "ssh:$(x)", "ssh:a\nb", "nav", "ssh:`x`"]
        {
            assert!(bad.parse::<Host>().is_err(), "{bad}");
        }
        let host: Host = "ssh:crew@192.168.7.2".parse().unwrap();
        let words = ssh_words(&host, false);
        let at = words.iter().position(|word| word == "--").unwrap();
        assert_eq!(words[at + 1..], ["crew@192.168.7.2", "nightrode", "join", "--pipe"]);
        assert!("ssh:nav".parse::<Host>().is_ok() && "ssh:[fe80::1%wlan0]".parse::<Host>().is_ok());
    }
}
