//! A link that says nothing until it is opened, and breaks when what it says is not taken.
//!
//! The library below answers a request that it cannot read by itself. To whoever has not shown the key that would be a
//! hint, so it goes nowhere.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Sleep, sleep};

/// A phone takes something of what it is sent within this time, or loses its link.
pub(super) const TAKES_WITHIN: Duration = Duration::from_secs(10);

/// Whether it is open. Clones are the same.
#[derive(Clone, Debug, Default)]
pub(super) struct Opened(Arc<AtomicBool>);

impl Opened {
    /// The key was shown.
    pub(super) fn open(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    pub(super) fn is_open(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// The link.
pub(super) struct Mute<S> {
    stream: S,
    opened: Opened,
    waits: Option<Pin<Box<Sleep>>>,
}

impl<S> Mute<S> {
    pub(super) fn new(stream: S, opened: Opened) -> Self {
        Self { stream, opened, waits: None }
    }

    /// What came of a try to write, or that it has waited for too long.
    fn in_time<T>(&mut self, tried: Poll<io::Result<T>>, cx: &mut Context<'_>) -> Poll<io::Result<T>> {
        if tried.is_ready() {
            self.waits = None;
            return tried;
        }
        let waits = self.waits.get_or_insert_with(|| Box::pin(sleep(TAKES_WITHIN)));
        waits.as_mut().poll(cx).map(|()| Err(io::ErrorKind::TimedOut.into()))
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Mute<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, buf)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Mute<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        if !self.opened.is_open() {
            return Poll::Ready(Ok(bytes.len()));
        }
        let tried = Pin::new(&mut self.stream).poll_write(cx, bytes);
        self.in_time(tried, cx)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let tried = Pin::new(&mut self.stream).poll_flush(cx);
        self.in_time(tried, cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let tried = Pin::new(&mut self.stream).poll_shutdown(cx);
        self.in_time(tried, cx)
    }
}
