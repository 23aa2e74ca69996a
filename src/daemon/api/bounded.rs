//! A listener whose connections are few and short: whoever reads or writes slowly is cut off.

use axum::serve::Listener;
use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::Sleep;

/// So many connections are served at once; more wait to be accepted.
const MOST: usize = 256;
/// No connection lasts longer.
const LIFETIME: Duration = Duration::from_secs(30);

/// A listener, on a Unix socket or a port.
#[derive(Debug)]
pub(super) struct Bounded<L> {
    listener: L,
    places: Arc<Semaphore>,
    lifetime: Duration,
}

impl<L> Bounded<L> {
    pub(super) fn new(listener: L) -> Self {
        Self {
            listener,
            places: Arc::new(Semaphore::new(MOST)),
            lifetime: LIFETIME,
        }
    }
}

impl<L: Listener> Listener for Bounded<L> {
    type Io = Brief<L::Io>;
    type Addr = L::Addr;

    async fn accept(&mut self) -> (Brief<L::Io>, L::Addr) {
        // The semaphore is never closed; without a place a connection is served all the same.
        let place = Arc::clone(&self.places).acquire_owned().await.ok();
        let (stream, address) = Listener::accept(&mut self.listener).await;
        let end = Box::pin(tokio::time::sleep(self.lifetime));
        (
            Brief {
                stream,
                end,
                _place: place,
            },
            address,
        )
    }

    fn local_addr(&self) -> io::Result<L::Addr> {
        self.listener.local_addr()
    }
}

/// A connection that ends after its lifetime.
#[derive(Debug)]
pub(super) struct Brief<S> {
    stream: S,
    end: Pin<Box<Sleep>>,
    _place: Option<OwnedSemaphorePermit>,
}

impl<S> Brief<S> {
    /// An error once the lifetime is over; also has the task woken then.
    fn is_over(&mut self, cx: &mut Context<'_>) -> Option<io::Error> {
        let over = self.end.as_mut().poll(cx).is_ready();
        over.then(|| io::Error::from(io::ErrorKind::TimedOut))
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Brief<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        match self.is_over(cx) {
            Some(over) => Poll::Ready(Err(over)),
            None => Pin::new(&mut self.stream).poll_read(cx, buffer),
        }
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Brief<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        match self.is_over(cx) {
            Some(over) => Poll::Ready(Err(over)),
            None => Pin::new(&mut self.stream).poll_write(cx, bytes),
        }
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        match self.is_over(cx) {
            Some(over) => Poll::Ready(Err(over)),
            None => Pin::new(&mut self.stream).poll_flush(cx),
        }
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}
