//! One peer at the door: what it asks, and what it is told. It may be slow, or hostile.

use std::io;
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _};
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::time::{Instant, MissedTickBehavior, interval, sleep_until, timeout};

use super::frame::{
    Answer, Asked, Change, Cutter, Keeps, LONGEST_ASKED, Place, Refused, Told, Words, greeted, greeting,
};
use super::past::{Past, Piece};
use super::post::Post;
use super::status::Status;
use crate::edge::watchdog::Pulse;
use crate::watch::input::Command;
use crate::watch::snapshot::Snapshot;

/// A peer says who it is within this time, or goes.
const GREETS_WITHIN: Duration = Duration::from_secs(5);
/// A peer takes what it is sent within this time, or goes.
const TAKES_WITHIN: Duration = Duration::from_secs(10);
/// A peer that follows nothing asks within this time, or goes: it holds a place that others want.
const ASKS_WITHIN: Duration = Duration::from_secs(10);
/// The watch says so often that it judges.
const BEAT_EVERY: Duration = Duration::from_secs(1);
/// A peer asks no more than this in a second: a crew's fastest finger asks ten times.
const ASKS_A_SECOND: u32 = 50;
/// What who acts hears where no answer comes.
pub const NOT_TAKEN: &str = "The watch did not take it: it judges nothing. Look at it.";
/// What is read of a peer at once.
const PIECE: usize = 8192;

/// A command that came through the door, and where its answer goes.
#[derive(Debug)]
pub struct Order {
    /// That.
    pub command: Command,
    /// Why it was not carried out; nothing where it was.
    pub answer: oneshot::Sender<Option<Refused>>,
}

/// That another machine is to keep the watch, and where the answer goes.
#[derive(Debug)]
pub struct Handing {
    /// Which.
    pub change: Change,
    /// Why it does not; nothing where it does.
    pub answer: oneshot::Sender<Option<Refused>>,
}

/// Both directions of a link, whatever carries it.
pub struct Stream {
    /// What comes.
    pub read: Box<dyn AsyncRead + Send + Unpin>,
    /// What goes.
    pub write: Box<dyn AsyncWrite + Send + Unpin>,
}

/// How a peer was left.
pub enum Left {
    /// It has gone.
    Gone,
    /// It keeps the watch from now on, and this side follows it over the same link.
    Turned(Stream),
}

/// What lies behind the door. Clones are the same.
#[derive(Clone)]
pub struct Behind {
    /// Who keeps the watch.
    pub keeps: Keeps,
    /// All that it heard.
    pub past: Past,
    /// Beats as long as it judges.
    pub pulse: Pulse,
    /// How it stands.
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    /// What it says to the crew.
    pub words: broadcast::Sender<Words>,
    /// Takes commands.
    pub orders: mpsc::Sender<Order>,
    /// What this machine is to the watch.
    pub post: Post,
    /// Takes changes of the machine that keeps it; `None`: it is never another.
    pub handings: Option<mpsc::Sender<Handing>>,
    /// Takes links over which another machine is followed from now on.
    pub turned: Option<mpsc::Sender<Stream>>,
}

/// Serves a peer until it goes, or is too slow, or says what means nothing.
///
/// # Errors
/// Why the link was given up.
pub async fn serve<S>(stream: S, behind: Behind) -> io::Result<Left>
where
    S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let (link, post) = (behind.post.link(), behind.post.clone());
    let mut peer = Peer {
        words: behind.words.subscribe(),
        news: behind.past.news(),
        offers: behind.post.offers(),
        link,
        stream,
        cutter: Cutter::new(LONGEST_ASKED),
        follows: Follows::No,
        beaten: 0,
        asked: (Instant::now(), 0),
        behind,
    };
    let left = match peer.greet().await {
        Ok(()) => peer.keep_company().await,
        Err(why) => Err(why),
    };
    post.gone(link);
    match left? {
        Company::Left => Ok(Left::Gone),
        Company::Turned => {
            let (read, write) = tokio::io::split(peer.stream);
            Ok(Left::Turned(Stream { read: Box::new(read), write: Box::new(write) }))
        }
    }
}

/// How a peer's company ended.
enum Company {
    Left,
    Turned,
}

/// Turns a peer away, in words.
///
/// # Errors
/// It would not hear them.
pub async fn turn_away<S: AsyncWrite + Unpin>(mut stream: S, why: &str) -> io::Result<()> {
    let mut out = greeting().into_bytes();
    Told::Leave(why.to_owned()).put(&mut out);
    within(stream.write_all(&out)).await
}

/// Whether a peer follows, and where it has come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Follows {
    No,
    /// There is more for it to hear.
    Behind(Option<Place>),
    /// It has heard everything, and been told so.
    Up(Place),
}

struct Peer<S> {
    stream: S,
    behind: Behind,
    words: broadcast::Receiver<Words>,
    news: watch::Receiver<()>,
    offers: watch::Receiver<u64>,
    /// The number of this link.
    link: u64,
    cutter: Cutter,
    follows: Follows,
    /// The pulse as it was last passed on.
    beaten: u64,
    /// What was asked in the second that began then.
    asked: (Instant, u32),
}

impl<S: AsyncRead + AsyncWrite + Unpin> Peer<S> {
    async fn greet(&mut self) -> io::Result<()> {
        self.write(greeting().as_bytes()).await?;
        let line = timeout(GREETS_WITHIN, async {
            loop {
                if let Some(line) = self.cutter.greeting().map_err(io::Error::other)? {
                    return Ok::<_, io::Error>(line);
                }
                self.read().await?;
            }
        });
        let line = line.await.map_err(io::Error::other)??;
        if let Err(wrong) = greeted(&line) {
            self.tell(&Told::Leave(wrong.to_string())).await?;
            return Err(io::Error::other(wrong));
        }
        self.tell(&Told::Keeps(self.behind.post.of(&self.behind.keeps))).await
    }

    async fn keep_company(&mut self) -> io::Result<Company> {
        let mut beat = interval(BEAT_EVERY);
        beat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let (mut piece, mut heard) = (vec![0; PIECE], Instant::now());
        // It may have come together with the greeting.
        if self.listen().await? {
            return Ok(Company::Turned);
        }
        loop {
            let is_behind = matches!(self.follows, Follows::Behind(_));
            tokio::select! {
                _ = beat.tick() => self.beat().await?,
                read = self.stream.read(&mut piece) => {
                    let count = read?;
                    if count == 0 {
                        return Ok(Company::Left);
                    }
                    heard = Instant::now();
                    self.cutter.push(&piece[..count]);
                    if self.listen().await? {
                        return Ok(Company::Turned);
                    }
                }
                () = sleep_until(heard + ASKS_WITHIN), if self.follows == Follows::No => {
                    return Err(io::Error::new(io::ErrorKind::TimedOut, "it asks nothing"));
                }
                Ok(()) = self.offers.changed(), if self.follows != Follows::No => {
                    self.tell(&Told::Offered).await?;
                }
                Ok(words) = self.words.recv(), if self.follows != Follows::No => {
                    self.tell(&Told::Words(words)).await?;
                }
                changed = self.news.changed(), if matches!(self.follows, Follows::Up(_)) => {
                    changed.map_err(io::Error::other)?;
                    self.follow().await?;
                }
                () = std::future::ready(()), if is_behind => self.follow().await?,
            }
        }
    }

    /// That the watch judges, if it does.
    async fn beat(&mut self) -> io::Result<()> {
        let beats = self.behind.pulse.count();
        if beats == self.beaten || self.follows == Follows::No {
            return Ok(());
        }
        self.beaten = beats;
        self.tell(&Told::Beat).await
    }

    /// Tells the next piece, or that this was all.
    async fn follow(&mut self) -> io::Result<()> {
        let place = match self.follows {
            Follows::No => return Ok(()),
            Follows::Behind(place) => place,
            Follows::Up(place) => Some(place),
        };
        self.news.mark_unchanged();
        let piece = self.behind.past.after(place);
        if let Piece::Gone = piece {
            let why = "The ride is longer than the watch keeps for those who come later: no other screen can join it.";
            self.tell(&Told::Leave(why.to_owned())).await?;
            return Err(io::Error::other(why));
        }
        match (piece.through(), self.follows, place) {
            (Some((frames, next)), before, _) => {
                self.write(&frames).await?;
                let is_up = matches!(before, Follows::Up(then) if then.tale == next.tale);
                self.follows = if is_up { Follows::Up(next) } else { Follows::Behind(Some(next)) };
            }
            (None, Follows::Behind(_), Some(place)) => {
                self.tell(&Told::Now).await?;
                self.follows = Follows::Up(place);
            }
            (None, ..) => {}
        }
        Ok(())
    }

    /// Does what was asked. Gives whether this side follows the peer from now on.
    async fn listen(&mut self) -> io::Result<bool> {
        while let Some(frame) = self.cutter.next_frame().map_err(io::Error::other)? {
            self.count()?;
            match Asked::read(&frame).map_err(io::Error::other)? {
                Asked::Follow { from } => self.follows = Follows::Behind(from),
                Asked::Status => {
                    let status = self.status();
                    self.tell(&Told::Status(status)).await?;
                }
                Asked::Act { number, command } => self.act(number, *command).await?,
                Asked::Stand { good } => self.behind.post.stands(self.link, good),
                Asked::Change { number, change } => {
                    if self.change(number, change).await? {
                        return Ok(true);
                    }
                }
            }
        }
        Ok(false)
    }

    /// Another machine is to keep the watch. Gives whether that is the peer.
    async fn change(&mut self, number: u32, change: Change) -> io::Result<bool> {
        let yields = matches!(change, Change::Yield { .. });
        let refused = match &self.behind.handings {
            Some(handings) => {
                let (answer, answered) = oneshot::channel();
                let handing = Handing { change, answer };
                let asked = handings.send(handing);
                let asked = async { asked.await.map_err(|_| ()).and(answered.await.map_err(|_| ())) };
                timeout(TAKES_WITHIN, asked).await.unwrap_or(Err(())).unwrap_or_else(|()| Some(hangs()))
            }
            None => Some(Refused { why: "No other machine can keep this watch.".to_owned(), is_heard: true }),
        };
        if !yields || refused.is_some() {
            self.tell(&Told::Answer(Answer { number, refused })).await?;
            return Ok(false);
        }
        // The peer hears all that was heard here, and then that it is its turn.
        while let Follows::Up(place) | Follows::Behind(Some(place)) = self.follows
            && let Some((frames, next)) = self.behind.past.after(Some(place)).through()
        {
            self.write(&frames).await?;
            self.follows = Follows::Behind(Some(next));
        }
        self.tell(&Told::Turned).await?;
        Ok(true)
    }

    fn status(&self) -> String {
        let snapshot = Arc::clone(&self.behind.snapshots.borrow());
        let keeps = self.behind.post.of(&self.behind.keeps);
        let status = Status::of(&snapshot, &keeps, self.behind.pulse.is_judging());
        serde_json::to_string(&status).unwrap_or_default()
    }

    /// A peer that asks without end loses its link.
    fn count(&mut self) -> io::Result<()> {
        let (since, count) = &mut self.asked;
        if since.elapsed() > Duration::from_secs(1) {
            (*since, *count) = (Instant::now(), 0);
        }
        *count += 1;
        if *count > ASKS_A_SECOND { Err(io::Error::other("it asks without end")) } else { Ok(()) }
    }

    /// The keeper stamps the command, keeps it and answers.
    async fn act(&mut self, number: u32, command: Command) -> io::Result<()> {
        let (answer, answered) = oneshot::channel();
        let gone = |_| io::Error::other("the watch ends");
        // A keeper that hangs holds this peer up, and nobody else.
        let order = Order { command, answer };
        let refused = timeout(TAKES_WITHIN, async {
            self.behind.orders.send(order).await.map_err(|_| io::Error::other("the watch ends"))?;
            answered.await.map_err(gone)
        });
        let refused = match refused.await {
            Ok(refused) => refused?,
            Err(_) => Some(hangs()),
        };
        self.tell(&Told::Answer(Answer { number, refused })).await
    }

    async fn tell(&mut self, told: &Told) -> io::Result<()> {
        let mut out = Vec::new();
        told.put(&mut out);
        self.write(&out).await
    }

    async fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        within(self.stream.write_all(bytes)).await
    }

    async fn read(&mut self) -> io::Result<()> {
        let mut piece = [0; 64];
        match self.stream.read(&mut piece).await? {
            0 => Err(io::ErrorKind::UnexpectedEof.into()),
            count => {
                self.cutter.push(&piece[..count]);
                Ok(())
            }
        }
    }
}

/// The keeper answers nothing.
fn hangs() -> Refused {
    Refused { why: NOT_TAKEN.to_owned(), is_heard: true }
}

async fn within(taking: impl Future<Output = io::Result<()>>) -> io::Result<()> {
    timeout(TAKES_WITHIN, taking).await.map_err(|_| io::Error::from(io::ErrorKind::TimedOut))?
}
