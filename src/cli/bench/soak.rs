//! `holdover bench soak`: people who ask for one page after the other for a long time, over loopback
//! connections, and save something now and then; and the memory that the service holds meanwhile.

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::{Duration, Instant};

use clap::{ArgMatches, Args};
use serde_json::json;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

use crate::bench::figures::{Times, memory_now, memory_peak};
use crate::bench::pages;
use crate::settings::Everywhere;
use crate::{Failed, data};

/// So often the memory is looked at.
const LOOKS: u32 = 30;
/// Every so many requests a person saves something: the theme of their own pages.
const SAVES: u32 = 25;
/// The memory is flat where the last third holds at most so much more than the middle one.
const MORE: f64 = 1.1;

#[derive(Debug, Args)]
pub struct Soak {
    /// How long, in minutes
    #[arg(long, default_value_t = 30.0)]
    minutes: f64,
    /// How many requests a second, of all people together
    #[arg(long, default_value_t = 50)]
    rate: u32,
    /// How many people ask
    #[arg(long, default_value_t = 10)]
    people: u32,
    /// Print the figures as JSON, and nothing else, on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn run(call: &Soak, given: &ArgMatches) -> Result<(), Failed> {
    if call.rate == 0 || call.people == 0 || call.minutes.is_nan() || call.minutes <= 0.0 {
        return Err(Failed::Usage(
            "a soak needs a time, a rate and people above 0; leave them out for 30 minutes, 50 and 10."
                .to_owned(),
        ));
    }
    let app = data::of(given).await?;
    let (paths, cookie, csrf) = pages::to_soak(&app).await?;
    let paths = Arc::new(paths);
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.map_err(unheard)?;
    let address = listener.local_addr().map_err(unheard)?;
    let limits = web::serve::Limits::default();
    let pages = web::router(app.clone());
    tokio::spawn(web::serve::serve(listener, pages, limits, std::future::pending()));
    let whole = Duration::from_secs_f64(call.minutes * 60.0);
    let begun = Instant::now();
    let every = Duration::from_secs(1) * call.people / call.rate;
    let mut asking = Vec::new();
    for number in 0..call.people {
        let person = Person {
            paths: Arc::clone(&paths),
            address,
            head: format!("host: {address}\r\ncookie: {cookie}\r\nsec-fetch-site: same-origin"),
            csrf: csrf.clone(),
            number,
        };
        // They do not all ask at the same moment.
        let first = begun + every * number / call.people;
        asking.push(tokio::spawn(person.ask_until(first, begun + whole, every)));
    }
    let mut held = Vec::new();
    for look in 1..=LOOKS {
        tokio::time::sleep_until((begun + whole * look / LOOKS).into()).await;
        let now = memory_now().unwrap_or_default();
        if !call.json {
            println!("after {:5.1} minutes: {now:.1} MB", begun.elapsed().as_secs_f64() / 60.0);
        }
        held.push(now);
    }
    let (mut times, mut refused) = (Vec::new(), 0);
    for person in asking {
        let (of_one, bad) = person.await.map_err(|cause| Failed::Asked(cause.to_string()))?;
        times.extend(of_one);
        refused += bad;
    }
    let (asked, taken) = (times.len(), begun.elapsed());
    app.db.close().await;
    report(call, &held, asked, refused, &Times::of(times), taken)
}

fn report(
    call: &Soak,
    held: &[f64],
    asked: usize,
    refused: usize,
    times: &Times,
    taken: Duration,
) -> Result<(), Failed> {
    let third = held.len() / 3;
    let middle = most(&held[third..2 * third]);
    let last = most(&held[2 * third..]);
    if call.json {
        let waits = json!({ "p50": times.within(0.5), "p99": times.within(0.99) });
        let body = json!({
            "asked": asked, "refused": refused, "seconds": taken.as_secs_f64(), "wait_ms": waits,
            "held_mb": held, "peak_mb": memory_peak(),
        });
        println!("{body}");
    } else {
        println!(
            "{asked} requests of {} people in {taken:.0?}, {refused} not answered: p50 {:.1} ms, p99 \
             {:.1} ms; {middle:.1} MB at most in the middle third, {last:.1} MB in the last",
            call.people,
            times.within(0.5),
            times.within(0.99),
        );
    }
    if refused > 0 {
        return Err(Failed::Asked(format!("{refused} of {asked} requests were not answered")));
    }
    if last > middle * MORE {
        return Err(Failed::Asked(format!(
            "the memory grows: {middle:.1} MB in the middle third of the time, {last:.1} MB in the last"
        )));
    }
    Ok(())
}

fn most(held: &[f64]) -> f64 {
    held.iter().copied().fold(0.0, f64::max)
}

#[expect(clippy::needless_pass_by_value, reason = "it stands where errors are mapped")]
fn unheard(cause: std::io::Error) -> Failed {
    Failed::Asked(format!("the loopback connection failed: {cause}"))
}

/// One person who asks for one page after the other.
struct Person {
    paths: Arc<Vec<String>>,
    address: SocketAddr,
    head: String,
    csrf: String,
    number: u32,
}

impl Person {
    /// Asks at a steady pace; gives how long each answer took, and how many were none.
    async fn ask_until(
        self,
        first: Instant,
        until: Instant,
        every: Duration,
    ) -> (Vec<Duration>, usize) {
        let (mut times, mut refused) = (Vec::new(), 0);
        let mut next = first;
        // Each goes through the pages from another place on, so that all are asked for at any time.
        let mut at = self.number as usize * 17;
        for turn in 1_u32.. {
            tokio::time::sleep_until(next.into()).await;
            if Instant::now() >= until {
                break;
            }
            next += every;
            let request = if turn.is_multiple_of(SAVES) {
                let body = format!("csrf={}&theme=system", self.csrf);
                format!(
                    "POST /account/theme HTTP/1.1\r\n{}\r\ncontent-type: \
                     application/x-www-form-urlencoded\r\ncontent-length: {}\r\nconnection: \
                     close\r\n\r\n{body}",
                    self.head,
                    body.len()
                )
            } else {
                at += 1;
                let path = &self.paths[at % self.paths.len()];
                format!("GET {path} HTTP/1.1\r\n{}\r\nconnection: close\r\n\r\n", self.head)
            };
            let begun = Instant::now();
            if let Ok(true) = answered(self.address, &request).await {
                times.push(begun.elapsed());
            } else {
                tracing::warn!(line = request.lines().next(), "not answered");
                refused += 1;
            }
        }
        (times, refused)
    }
}

/// Sends a request and reads the answer to its end; tells whether it is a page or leads to one.
async fn answered(address: SocketAddr, request: &str) -> std::io::Result<bool> {
    let mut stream = TcpStream::connect(address).await?;
    stream.write_all(request.as_bytes()).await?;
    let mut first = Vec::new();
    let mut part = vec![0; 16 * 1024];
    loop {
        let read = stream.read(&mut part).await?;
        if read == 0 {
            break;
        }
        if first.len() < 12 {
            first.extend(&part[..read.min(12)]);
        }
    }
    Ok(first.starts_with(b"HTTP/1.1 2") || first.starts_with(b"HTTP/1.1 3"))
}
