//! The loop that takes connections, over real ones: slow and silent clients, and a stop in the
//! middle of work.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use axum::Router;
use axum::routing::get;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use web::serve::{Limits, serve};

struct Running {
    address: SocketAddr,
    stop: oneshot::Sender<()>,
    ended: JoinHandle<bool>,
}

async fn start(limits: Limits) -> Running {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let pages = Router::new()
        .route("/", get(|| async { "here" }))
        .route("/large", get(|| async { "x".repeat(64 * 1024 * 1024) }))
        .route(
            "/slow",
            get(|| async {
                tokio::time::sleep(Duration::from_millis(300)).await;
                "at last"
            }),
        );
    let (stop, told) = oneshot::channel::<()>();
    let ended = tokio::spawn(serve(listener, pages, limits, async {
        let _ = told.await;
    }));
    Running { address, stop, ended }
}

async fn ask(address: SocketAddr, path: &str) -> TcpStream {
    let mut stream = TcpStream::connect(address).await.unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nhost: here\r\nconnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    stream
}

async fn rest(mut stream: TcpStream) -> String {
    let mut text = Vec::new();
    // A reset ends it as well as a close does.
    let _ =
        tokio::time::timeout(Duration::from_secs(20), stream.read_to_end(&mut text)).await.unwrap();
    String::from_utf8_lossy(&text).into_owned()
}

#[tokio::test]
async fn a_silent_and_a_dripping_client_are_let_go_and_others_are_answered() {
    let running = start(Limits { head: Duration::from_millis(300), ..Limits::default() }).await;
    let silent = TcpStream::connect(running.address).await.unwrap();
    let mut dripping = TcpStream::connect(running.address).await.unwrap();
    dripping.write_all(b"GET / HT").await.unwrap();
    assert!(rest(ask(running.address, "/").await).await.contains("here"));
    let begun = Instant::now();
    assert!(!rest(silent).await.contains("200 OK"));
    assert!(!rest(dripping).await.contains("200 OK"));
    assert!(begun.elapsed() < Duration::from_secs(10), "both were let go long before");
}

#[tokio::test]
async fn a_client_that_does_not_read_its_answer_is_let_go() {
    let limits = Limits { stall: Duration::from_millis(300), connections: 1, ..Limits::default() };
    let running = start(limits).await;
    let deaf = ask(running.address, "/large").await;
    // The one place is free again only once the deaf client has lost it.
    let next = ask(running.address, "/").await;
    assert!(rest(next).await.contains("here"));
    drop(deaf);
}

#[tokio::test]
async fn a_request_under_way_is_answered_after_the_stop_and_no_new_one_is_taken() {
    let running = start(Limits::default()).await;
    let under_way = ask(running.address, "/slow").await;
    let idle = TcpStream::connect(running.address).await.unwrap();
    tokio::time::sleep(Duration::from_millis(100)).await;
    running.stop.send(()).unwrap();
    assert!(rest(under_way).await.contains("at last"));
    assert!(running.ended.await.unwrap(), "nothing had to be cut");
    assert!(TcpStream::connect(running.address).await.is_err());
    drop(idle);
}

#[tokio::test]
async fn what_does_not_end_is_cut_when_the_time_to_drain_is_over() {
    let running = start(Limits { drain: Duration::from_millis(50), ..Limits::default() }).await;
    let _under_way = ask(running.address, "/slow").await;
    tokio::time::sleep(Duration::from_millis(100)).await;
    running.stop.send(()).unwrap();
    assert!(!running.ended.await.unwrap());
}

#[tokio::test]
async fn a_head_that_is_too_long_is_refused() {
    let running = start(Limits::default()).await;
    let mut stream = TcpStream::connect(running.address).await.unwrap();
    let long = format!("GET / HTTP/1.1\r\nhost: here\r\nx-long: {}\r\n\r\n", "x".repeat(70_000));
    let _ = stream.write_all(long.as_bytes()).await;
    assert!(rest(stream).await.contains(" 431 "));
}
