//! The link of a machine that stands by: it is made, followed, lost, made anew, and turned round when another machine is
//! to keep the watch.
//!
//! What is decided about that the keeper decides; this carries. A machine with a way makes its link itself. One without
//! waits for a link that was turned round at its door.

use std::time::Duration;

use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

use super::frame::{Asked, Change, Claim, Keeps, Place, Refused, Told};
use super::link::{Link, LinkError, Way};
use super::peer::{Behind, Left, Stream, serve};
use crate::watch::input::Command;

/// A lost link is made anew after this.
const AGAIN_AFTER: Duration = Duration::from_secs(2);
/// A link over which nothing comes for so long is made anew: a watch beats each second.
const DEAD_AFTER: Duration = Duration::from_secs(15);
/// A watch answers a claim within this.
const ANSWERS_WITHIN: Duration = Duration::from_secs(30);
/// Number of what is asked about the keeping of the watch: commands have others.
pub const CHANGES: u32 = 0;

/// What the keeper hears of its link.
pub enum News {
    /// There is a link, to this one. The keeper says what to do with it.
    Met(Keeps, oneshot::Sender<Meeting>),
    /// A message of it, and the length of its frame.
    Told(Told, u64),
    /// There is none any more, in words.
    Lost(String),
    /// The other machine follows this one from now on.
    Turned,
}

/// What is done with a link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Meeting {
    /// It is followed, from there on.
    Follow(Option<Place>),
    /// The other machine is to follow this one, which keeps the watch by that claim.
    Claims(Claim),
    /// Nothing.
    Leaves,
}

/// What the keeper wants of the other machine.
#[derive(Debug)]
pub enum Wish {
    /// A command is passed on.
    Act {
        /// Its number.
        number: u32,
        /// That.
        command: Box<Command>,
    },
    /// To keep the watch in its place.
    Take,
    /// It shall know that this one stands by, and whether its feeds give a position.
    Stand(bool),
    /// The link is let go: it is no longer followed.
    Leave,
}

/// The link of a machine that stands by.
pub struct Tether {
    /// Where the watch is reached; `None`: it comes by itself.
    pub way: Option<Way>,
    /// What lies behind this machine's own door.
    pub behind: Behind,
    /// To the keeper.
    pub news: mpsc::Sender<News>,
    /// From the keeper.
    pub wishes: mpsc::UnboundedReceiver<Wish>,
    /// Links that were turned round at the door.
    pub turned: mpsc::Receiver<Stream>,
}

impl Tether {
    /// Holds the link, the first of which may have been made, until the keeper has gone.
    pub async fn hold(mut self, first: Option<Link>) {
        // The other machine follows over a link that this one made.
        let mut serving: Option<JoinHandle<()>> = None;
        let mut link = first;
        while !self.news.is_closed() {
            if let Some(link) = link.take() {
                serving = self.keep_company(link).await.or(serving);
            }
            let is_followed = serving.as_ref().is_some_and(|serving| !serving.is_finished());
            tokio::select! {
                Some(stream) = self.turned.recv() => {
                    link = Link::over(stream.read, stream.write).await.ok();
                }
                wish = self.wishes.recv() => match wish {
                    Some(wish) => self.unheard(&wish).await,
                    None => return,
                },
                () = sleep(AGAIN_AFTER), if self.way.is_some() && !is_followed => link = self.again().await,
            }
        }
    }

    async fn again(&self) -> Option<Link> {
        Link::make(self.way.as_ref()?).await.ok()
    }

    /// What the keeper wants while there is no link.
    async fn unheard(&self, wish: &Wish) {
        let number = match wish {
            Wish::Act { number, .. } => *number,
            Wish::Take => CHANGES,
            Wish::Stand(_) | Wish::Leave => return,
        };
        let why = "Not done: there is no link to the machine that keeps the watch.".to_owned();
        let refused = Some(Refused { why, is_heard: true });
        self.tell(News::Told(Told::Answer(super::frame::Answer { number, refused }), 0)).await;
    }

    async fn tell(&self, news: News) {
        // A keeper that has gone needs none.
        let _ = self.news.send(news).await;
    }

    /// Asks the keeper what to do with a link, and does it. Gives the task in which the other machine is served, if it
    /// follows from now on.
    async fn keep_company(&mut self, mut link: Link) -> Option<JoinHandle<()>> {
        let (answer, answered) = oneshot::channel();
        self.tell(News::Met(link.keeps().clone(), answer)).await;
        let ended = match answered.await.ok()? {
            Meeting::Leaves => return None,
            Meeting::Claims(claim) => claims(&mut link, claim).await,
            Meeting::Follow(from) => {
                let ended = self.follow(&mut link, from).await;
                match &ended {
                    Ok(()) => self.tell(News::Turned).await,
                    Err(why) => self.tell(News::Lost(why.to_string())).await,
                }
                ended
            }
        };
        ended.ok()?;
        Some(self.serve(link))
    }

    /// Follows until the link is lost, or this machine is to keep the watch.
    async fn follow(&mut self, link: &mut Link, from: Option<Place>) -> Result<(), LinkError> {
        link.ask(&Asked::Follow { from }).await?;
        loop {
            tokio::select! {
                told = timeout(DEAD_AFTER, link.told()) => {
                    let (told, whole) = told.map_err(|_| LinkError::Silent(DEAD_AFTER))??;
                    if told == Told::Turned {
                        return Ok(());
                    }
                    self.tell(News::Told(told, whole)).await;
                }
                Some(wish) = self.wishes.recv() => match asked(wish) {
                    Some(asked) => link.ask(&asked).await?,
                    None => return Err(LinkError::TurnedAway("It is let go.".to_owned())),
                },
            }
        }
    }

    /// The other machine follows this one over the link that was turned round.
    fn serve(&self, link: Link) -> JoinHandle<()> {
        let (behind, turned) = (self.behind.clone(), self.behind.turned.clone());
        tokio::spawn(async move {
            // What carries the link lives as long as it.
            let (stream, _child) = link.turned();
            if let Ok(Left::Turned(mut stream)) = serve(stream, behind).await {
                if let Some(child) = _child {
                    stream.read = Box::new(Carried { read: stream.read, _child: child });
                }
                if let Some(turned) = turned {
                    let _ = turned.send(stream).await;
                }
            }
        })
    }
}

/// Reads from what a process carries; the process is killed with it.
struct Carried {
    read: Box<dyn tokio::io::AsyncRead + Send + Unpin>,
    _child: tokio::process::Child,
}

impl tokio::io::AsyncRead for Carried {
    fn poll_read(
        mut self: std::pin::Pin<&mut Self>,
        context: &mut std::task::Context<'_>,
        into: &mut tokio::io::ReadBuf<'_>,
    ) -> std::task::Poll<std::io::Result<()>> {
        std::pin::Pin::new(&mut self.read).poll_read(context, into)
    }
}

/// What is asked of the other machine; `None`: the link is let go.
fn asked(wish: Wish) -> Option<Asked> {
    Some(match wish {
        Wish::Act { number, command } => Asked::Act { number, command },
        Wish::Take => Asked::Change { number: CHANGES, change: Change::Yield { claim: None } },
        Wish::Stand(good) => Asked::Stand { good },
        Wish::Leave => return None,
    })
}

/// Has the other machine follow this one.
async fn claims(link: &mut Link, claim: Claim) -> Result<(), LinkError> {
    let change = Change::Yield { claim: Some(claim) };
    link.ask(&Asked::Change { number: CHANGES, change }).await?;
    loop {
        let told = timeout(ANSWERS_WITHIN, link.told()).await;
        match told.map_err(|_| LinkError::Silent(ANSWERS_WITHIN))??.0 {
            Told::Turned => return Ok(()),
            Told::Answer(answer) if answer.number == CHANGES => {
                return Err(LinkError::TurnedAway(answer.refused.map_or_else(String::new, |not| not.why)));
            }
            _ => {}
        }
    }
}
