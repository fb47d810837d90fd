//! The loop that takes connections. Ours, because a browser that never ends its request, or never
//! begins one, must not hold a connection for ever.

use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::ConnectInfo;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tower::ServiceExt as _;

use crate::write_timeout::WriteTimeout;

/// How long a client may take, and how many there may be.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// The head of a request must be there within this time, also that of the next on the same
    /// connection.
    pub head: Duration,
    /// An answer of which nothing is taken for so long is given up.
    pub stall: Duration,
    /// A head is read up to so many bytes. That is more than pages answer to, so that who sends one
    /// that is somewhat too long is told why; a longer one is cut off.
    pub head_bytes: usize,
    /// Connections at once; those beyond wait in the queue of the system.
    pub connections: usize,
    /// Requests under way are answered within this time once the service was told to stop.
    pub drain: Duration,
}

/// The most bytes of a head to which a page answers.
pub(crate) const MAX_HEAD_BYTES: usize = 16 * 1024;

impl Default for Limits {
    fn default() -> Self {
        Self {
            head: Duration::from_secs(10),
            stall: Duration::from_secs(30),
            head_bytes: 4 * MAX_HEAD_BYTES,
            connections: 10_500,
            drain: Duration::from_secs(25),
        }
    }
}

/// Serves until `stop` is done, then answers what was taken. False where something had to be cut.
pub async fn serve(
    listener: TcpListener,
    pages: Router,
    limits: Limits,
    stop: impl Future<Output = ()>,
) -> bool {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        .header_read_timeout(limits.head)
        .max_header_size(limits.head_bytes);
    let open = GracefulShutdown::new();
    let places = Arc::new(Semaphore::new(limits.connections));
    let mut stop = std::pin::pin!(stop);
    loop {
        let next = tokio::select! {
            next = accept(&listener, &places) => next,
            () = &mut stop => break,
        };
        let Some((stream, peer, place)) = next else { break };
        let pages = pages.clone();
        let service = service_fn(move |mut request: hyper::Request<Incoming>| {
            request.extensions_mut().insert(ConnectInfo(peer));
            pages.clone().oneshot(request)
        });
        let connection = open.watch(
            http.serve_connection(TokioIo::new(WriteTimeout::new(stream, limits.stall)), service),
        );
        tokio::spawn(async move {
            if let Err(cause) = connection.await {
                tracing::debug!(%peer, %cause, "a connection ended");
            }
            drop(place);
        });
    }
    drop(listener);
    tokio::time::timeout(limits.drain, open.shutdown()).await.is_ok()
}

type Accepted = (TcpStream, SocketAddr, tokio::sync::OwnedSemaphorePermit);

/// The next connection, once there is a place for it. A failure (no more files, say) is logged
/// and tried again, because it passes.
async fn accept(listener: &TcpListener, places: &Arc<Semaphore>) -> Option<Accepted> {
    let place = Arc::clone(places).acquire_owned().await.ok()?;
    loop {
        match listener.accept().await {
            Ok((stream, peer)) => {
                // Small answers leave at once; without it only slower.
                let _ = stream.set_nodelay(true);
                return Some((stream, peer, place));
            }
            Err(cause) => {
                tracing::warn!(%cause, "a connection could not be taken");
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }
    }
}
