//! A listener whose connections are few and short: whoever reads or writes slowly is cut off.

use axum::serve::Listener;
use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::UnixStream;
use tokio::net::unix::SocketAddr;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::Sleep;

/// So many connections are served at once; more wait to be accepted.
const MOST: usize = 256;
/// No connection lasts longer.
const LIFETIME: Duration = Duration::from_secs(30);

/// A listener on a Unix socket.
#[derive(Debug)]
pub(super) struct Bounded {
    listener: tokio::net::UnixListener,
    places: Arc<Semaphore>,
    lifetime: Duration,
}

impl Bounded {
    pub(super) fn new(listener: tokio::net::UnixListener) -> Self {
        Self {
            listener,
            places: Arc::new(Semaphore::new(MOST)),
            lifetime: LIFETIME,
        }
    }
}

impl Listener for Bounded {
    type Io = Brief;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Brief, SocketAddr) {
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

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.listener.local_addr()
    }
}

/// A connection that ends after its lifetime.
#[derive(Debug)]
pub(super) struct Brief {
    stream: UnixStream,
    end: Pin<Box<Sleep>>,
    _place: Option<OwnedSemaphorePermit>,
}

impl Brief {
    /// An error once the lifetime is over; also has the task woken then.
    fn is_over(&mut self, cx: &mut Context<'_>) -> Option<io::Error> {
        let over = self.end.as_mut().poll(cx).is_ready();
        over.then(|| io::Error::from(io::ErrorKind::TimedOut))
    }
}

impl AsyncRead for Brief {
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

impl AsyncWrite for Brief {
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
