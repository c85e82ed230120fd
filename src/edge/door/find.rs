//! Which watches run on this machine, and which of them is meant?

use std::fmt::Write as _;
use std::path::PathBuf;

use super::frame::{Answer, Asked, Change, Keeps, Refused, Told};
use super::link::{Link, LinkError, Way};
use super::status::Status;
use crate::watch::input::Command;

/// A watch that runs on this machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// Its socket.
    pub path: PathBuf,
    /// Who keeps it.
    pub keeps: Keeps,
}

impl Found {
    /// It in a line, for who has to choose.
    #[must_use]
    pub fn line(&self) -> String {
        let Keeps { process, boat, rides, simulated, stands_by, .. } = &self.keeps;
        let boat = if boat.is_empty() { "a boat without a name" } else { boat };
        let what = if *simulated { "a simulated night".to_owned() } else { format!("rides in {rides}") };
        let standing = if *stands_by { ", stands by" } else { "" };
        format!("process {process}: {boat}, {what}{standing}")
    }
}

/// Why no single watch is meant.
#[derive(Debug, thiserror::Error)]
pub enum NotOne {
    /// None runs.
    #[error("No watch runs on this machine under this user. `nightrode watch` begins one.")]
    None,
    /// None of that number.
    #[error("No watch runs here as process {process}.{}", listed(.others))]
    NotThat {
        /// The number.
        process: u32,
        /// Those that run.
        others: Vec<Found>,
    },
    /// Several run.
    #[error("Several watches run here. Name one with --process:{}", listed(.0))]
    Several(Vec<Found>),
    /// It answers, and not in words that this program knows.
    #[error("A watch runs here, and cannot be reached: {0}")]
    Unreached(LinkError),
}

fn listed(found: &[Found]) -> String {
    found.iter().fold(String::new(), |mut list, found| {
        let _ = write!(list, "\n  {}", found.line());
        list
    })
}

/// The watches that answer behind these sockets, and the first complaint of one that answers otherwise.
pub async fn running(sockets: Vec<PathBuf>) -> (Vec<Found>, Option<LinkError>) {
    let (mut found, mut trouble) = (Vec::new(), None);
    for path in sockets {
        match Link::make(&Way::Socket(path.clone())).await {
            Ok(link) => found.push(Found { path, keeps: link.keeps().clone() }),
            // A socket that a dead watch left.
            Err(LinkError::Io(_)) => {}
            Err(other) => trouble = trouble.or(Some(other)),
        }
    }
    (found, trouble)
}

/// Of several watches on one machine, the one that is meant where none is named.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meant {
    /// The one that keeps the watch.
    Keeps,
    /// The one that stands by.
    StandsBy,
}

/// The one that is meant: that of the process that is named, else the only real one of that kind, else the only one.
///
/// # Errors
/// If there is none, or it is not clear which.
pub async fn the_one(sockets: Vec<PathBuf>, process: Option<u32>, meant: Meant) -> Result<Found, NotOne> {
    let (found, trouble) = running(sockets).await;
    chosen(found, process, meant).map_err(|not| match (not, trouble) {
        (NotOne::None, Some(trouble)) => NotOne::Unreached(trouble),
        (not, _) => not,
    })
}

fn chosen(mut found: Vec<Found>, process: Option<u32>, meant: Meant) -> Result<Found, NotOne> {
    if let Some(process) = process {
        return match found.iter().position(|found| found.keeps.process == process) {
            Some(at) => Ok(found.swap_remove(at)),
            None => Err(NotOne::NotThat { process, others: found }),
        };
    }
    if found.iter().any(|found| !found.keeps.simulated) {
        found.retain(|found| !found.keeps.simulated);
    }
    let is_meant = |found: &Found| found.keeps.stands_by == (meant == Meant::StandsBy);
    if found.iter().any(is_meant) {
        found.retain(is_meant);
    }
    match found.len() {
        0 => Err(NotOne::None),
        1 => Ok(found.swap_remove(0)),
        _ => Err(NotOne::Several(found)),
    }
}

/// Gives a watch a command. Gives why it was refused, if it was.
///
/// # Errors
/// Why it could not be given.
pub async fn act(found: &Found, command: Command) -> Result<Option<Refused>, LinkError> {
    answered(found, Asked::Act { number: 1, command: Box::new(command) }).await
}

/// Has another machine keep the watch. Gives why not, if so.
///
/// # Errors
/// Why it could not be asked.
pub async fn change(found: &Found, change: Change) -> Result<Option<Refused>, LinkError> {
    answered(found, Asked::Change { number: 1, change }).await
}

async fn answered(found: &Found, asked: Asked) -> Result<Option<Refused>, LinkError> {
    let mut link = Link::make(&Way::Socket(found.path.clone())).await?;
    link.ask(&asked).await?;
    loop {
        if let (Told::Answer(Answer { number: 1, refused }), _) = link.told().await? {
            return Ok(refused);
        }
    }
}

/// How a watch stands: as JSON, and read.
///
/// # Errors
/// Why it could not be asked.
pub async fn status(found: &Found) -> Result<(String, Status), LinkError> {
    let mut link = Link::make(&Way::Socket(found.path.clone())).await?;
    link.ask(&Asked::Status).await?;
    loop {
        if let (Told::Status(text), _) = link.told().await? {
            let status = serde_json::from_str(&text).map_err(std::io::Error::other)?;
            return Ok((text, status));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(process: u32, simulated: bool) -> Found {
        let keeps = Keeps { process, simulated, boat: "Marram".into(), ..Keeps::default() };
        Found { path: PathBuf::from(process.to_string()), keeps }
    }

    #[test]
    fn the_real_watch_is_meant_unless_another_is_named() {
        let all = || vec![found(1, true), found(2, false)];
        assert_eq!(chosen(all(), None, Meant::Keeps).unwrap().keeps.process, 2);
        assert_eq!(chosen(all(), Some(1), Meant::Keeps).unwrap().keeps.process, 1);
        assert!(matches!(chosen(all(), Some(3), Meant::Keeps), Err(NotOne::NotThat { process: 3, .. })));
        assert!(matches!(chosen(Vec::new(), None, Meant::Keeps), Err(NotOne::None)));
        let two = chosen(vec![found(1, false), found(2, false)], None, Meant::Keeps).unwrap_err().to_string();
        assert!(two.contains("process 1: Marram") && two.contains("process 2"), "{two}");
        let both = || {
            let mut second = found(2, false);
            second.keeps.stands_by = true;
            vec![found(1, false), second]
        };
        for (meant, process) in [(Meant::Keeps, 1), (Meant::StandsBy, 2)] {
            assert_eq!(chosen(both(), None, meant).unwrap().keeps.process, process);
        }
    }
}
