//! A connection that is given up where the other side takes nothing of what is sent to it.

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Sleep, sleep};

/// A stream whose writes end with an error after so long without progress. Reading has limits of its own: of the
/// head, and of each part of a body.
pub(crate) struct Patient {
    stream: TcpStream,
    patience: Duration,
    /// Runs while a write waits.
    waiting: Option<Pin<Box<Sleep>>>,
}

impl Patient {
    pub(crate) fn new(stream: TcpStream, patience: Duration) -> Self {
        Self { stream, patience, waiting: None }
    }

    fn bear<T>(&mut self, done: Poll<io::Result<T>>, context: &mut Context<'_>) -> Poll<io::Result<T>> {
        if done.is_ready() {
            self.waiting = None;
            return done;
        }
        let waiting = self.waiting.get_or_insert_with(|| Box::pin(sleep(self.patience)));
        match waiting.as_mut().poll(context) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl AsyncRead for Patient {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context<'_>, to: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, to)
    }
}

impl AsyncWrite for Patient {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let done = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.bear(done, context)
    }
    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let done = Pin::new(&mut self.stream).poll_flush(context);
        self.bear(done, context)
    }
    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
