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

/// The head of a request must be there within this time, also that of the next on the same line.
const HEAD_LIMIT: Duration = Duration::from_secs(10);
/// A head is no longer than this.
const LONGEST_HEAD: usize = 16 * 1024;
/// Connections at once; those beyond wait in the queue of the system.
const MOST_CONNECTIONS: usize = 10_500;
/// Requests that were taken are answered within this time after the service was told to stop.
const DRAIN: Duration = Duration::from_secs(25);

/// Serves until `stop` is done, then answers what was taken. False where something had to be cut.
pub async fn serve(listener: TcpListener, pages: Router, stop: impl Future<Output = ()>) -> bool {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new()).header_read_timeout(HEAD_LIMIT).max_header_size(LONGEST_HEAD);
    let open = GracefulShutdown::new();
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
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
        let connection = open.watch(http.serve_connection(TokioIo::new(stream), service));
        tokio::spawn(async move {
            if let Err(cause) = connection.await {
                tracing::debug!(%peer, %cause, "a connection ended");
            }
            drop(place);
        });
    }
    drop(listener);
    tokio::time::timeout(DRAIN, open.shutdown()).await.is_ok()
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
