//! A watch's ties to other machines: what it stands by, and what stands by it.

use anyhow::{Context as _, ensure};
use tokio::sync::mpsc;

use super::{Cast, StandsBy};
use crate::edge::door::frame::Keeps;
use crate::edge::door::link::{Link, Way};
use crate::edge::door::peer::{Behind, Handing, Stream};
use crate::edge::door::post::Post;
use crate::edge::door::tether::{News, Tether, Wish};
use crate::edge::join::without_questions;
use crate::edge::keeper::{Keeper, Tie};
use crate::report::zone::Zone;
use crate::watch::words::capital;

/// Messages that wait for the keeper: each may be a packed block.
const NEWS: usize = 8;
/// Changes of the machine that keeps the watch that wait for the keeper.
const HANDINGS: usize = 4;

/// A watch's ties, before the link is held.
pub(super) struct Tied {
    way: Option<Way>,
    post: Post,
    news: mpsc::Sender<News>,
    wishes: mpsc::UnboundedReceiver<Wish>,
    handings: mpsc::Sender<Handing>,
    turned: mpsc::Sender<Stream>,
    turned_in: mpsc::Receiver<Stream>,
}

/// A link to the watch that is stood by, with questions where `ssh` has some.
pub(super) async fn link_to(other: &StandsBy, cast: &Cast) -> anyhow::Result<Link> {
    let station = capital(&other.station);
    let link = Link::make(&other.way).await.with_context(|| format!("{station} cannot be joined."))?;
    let keeps = link.keeps();
    let ours = env!("CARGO_PKG_VERSION");
    ensure!(
        keeps.version == ours,
        "{station} is kept by version {} of the program, and this is {ours}: they might judge differently. Use the same on \
         both.",
        keeps.version
    );
    ensure!(
        !keeps.simulated,
        "{station} is a simulated night, which no real feed can go on with. Without a feed it can be joined."
    );
    if let Cast::Feeds(sources) = cast
        && let Some(both) = sources.iter().find(|source| keeps.feeds.contains(&source.name))
    {
        anyhow::bail!(
            "{station} has a feed called {} itself. Give this machine's another name: `bunk={}`.",
            both.name,
            both.source
        );
    }
    Ok(link)
}

/// The name of this machine; one more watch on it is told from the first.
pub(super) fn machine(stands_by: Option<&StandsBy>) -> String {
    let name = name();
    match stands_by {
        Some(StandsBy { way: Way::Socket(_), .. }) => format!("{name}, second watch"),
        _ => name,
    }
}

#[cfg(unix)]
fn name() -> String {
    rustix::system::uname().nodename().to_string_lossy().into_owned()
}

#[cfg(not(unix))]
fn name() -> String {
    std::env::var("COMPUTERNAME").unwrap_or_else(|_| "this computer".to_owned())
}

impl Tied {
    /// Ties a keeper.
    pub(super) fn beside(
        keeper: &mut Keeper,
        stands_by: Option<StandsBy>,
        keeps: &Keeps,
        zone: &Zone,
    ) -> Self {
        let (news, news_in) = mpsc::channel(NEWS);
        let (wishes_in, wishes) = mpsc::unbounded_channel();
        let (handings, handings_in) = mpsc::channel(HANDINGS);
        let (turned, turned_in) = mpsc::channel(1);
        let post = Post::default();
        keeper.tie(Tie {
            news: news_in,
            wishes: wishes_in,
            handings: handings_in,
            post: post.clone(),
            machine: keeps.machine.clone(),
            zone: zone.clone(),
        });
        let way = stands_by.map(|other| {
            // On the same machine that one sounds already.
            keeper.stand_by(other.station, matches!(other.way, Way::Ssh { .. }));
            without_questions(other.way)
        });
        Self { way, post, news, wishes, handings, turned, turned_in }
    }

    pub(super) fn post(&self) -> Post {
        self.post.clone()
    }

    pub(super) fn handings(&self) -> mpsc::Sender<Handing> {
        self.handings.clone()
    }

    pub(super) fn turned(&self) -> mpsc::Sender<Stream> {
        self.turned.clone()
    }

    /// What holds the link.
    pub(super) fn tether(self, behind: Behind) -> Tether {
        let Self { way, news, wishes, turned_in, .. } = self;
        Tether { way, behind, news, wishes, turned: turned_in }
    }
}
