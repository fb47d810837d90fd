//! `holdover bench writes`: so many people save rows of a debrief at once, over loopback
//! connections, each going on as soon as the answer is there.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use clap::{ArgMatches, Args};
use serde_json::json;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

use crate::bench::figures::Times;
use crate::settings::Everywhere;
use crate::{Failed, data};
use app::App;
use app::sessions::{self, Caller};
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::words::Role;
use store::{measured, people};
use web::cookies::CookieName;

#[derive(Debug, Args)]
pub struct Writes {
    /// How many people save at once
    #[arg(long, default_value_t = 50)]
    people: usize,
    /// How long, in seconds
    #[arg(long, default_value_t = 10)]
    seconds: u64,
    /// How long each looks at the answer before the next row, in milliseconds
    #[arg(long, default_value_t = 1_000)]
    pause: u64,
    /// Print the figures as JSON, and nothing else, on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    everywhere: Everywhere,
}

type Row = (SlotCode, TaskCode, ExcursionCode);

pub async fn run(call: &Writes, given: &ArgMatches) -> Result<(), Failed> {
    let app = data::of(given).await?;
    let rows = {
        let mut db = app.db.reader().await?;
        measured::waiting_slots(&mut db, i64::try_from(call.people).unwrap_or(i64::MAX)).await?
    };
    if rows.is_empty() {
        return Err(Failed::Asked(
            "no slot waits for its result; open a debrief first, or fill a record with bench fill."
                .to_owned(),
        ));
    }
    let (cookie, csrf) = signed_in(&app).await?;
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.map_err(unheard)?;
    let address = listener.local_addr().map_err(unheard)?;
    let limits = web::serve::Limits::default();
    tokio::spawn(web::serve::serve(
        listener,
        web::router(app.clone()),
        limits,
        std::future::pending(),
    ));
    let until = Instant::now() + Duration::from_secs(call.seconds);
    let refused = Arc::new(AtomicUsize::new(0));
    let mut at_work = Vec::new();
    for person in 0..call.people {
        let typist = Typist {
            row: rows[person % rows.len()].clone(),
            head: format!("host: {address}\r\ncookie: {cookie}\r\nsec-fetch-site: same-origin"),
            csrf: csrf.clone(),
            person,
            refused: Arc::clone(&refused),
        };
        let pause = Duration::from_millis(call.pause);
        at_work.push(tokio::spawn(async move {
            // They did not all begin at the same moment.
            tokio::time::sleep(pause * u32::try_from(person % 50).unwrap_or(0) / 50).await;
            typist.type_until(address, until, pause).await
        }));
    }
    let mut waits = Vec::new();
    for person in at_work {
        let of_one = person.await.map_err(|cause| Failed::Asked(cause.to_string()))?;
        waits.extend(of_one.map_err(unheard)?);
    }
    let refused = refused.load(Ordering::Relaxed);
    let saved = waits.len();
    let times = Times::of(waits);
    app.db.close().await;
    if call.json {
        let body = json!({
            "people": call.people, "saved": saved, "refused": refused,
            "wait_ms": { "p50": times.within(0.5), "p99": times.within(0.99), "most": times.within(1.0) },
        });
        println!("{body}");
    } else {
        println!(
            "{} people, {saved} rows saved, {refused} refused: waited p50 {:.1} ms, p99 {:.1} ms, at most {:.1} ms",
            call.people,
            times.within(0.5),
            times.within(0.99),
            times.within(1.0)
        );
    }
    Ok(())
}

#[expect(clippy::needless_pass_by_value, reason = "it stands where errors are mapped")]
fn unheard(cause: std::io::Error) -> Failed {
    Failed::Asked(format!("the loopback connection failed: {cause}"))
}

async fn signed_in(app: &App) -> Result<(String, String), Failed> {
    const NAME: &str = "measure";
    let known = people::find(&mut *app.db.reader().await?, NAME).await?;
    if known.is_none() {
        let mut tx = app.db.begin().await?;
        people::add(&mut tx, NAME, Role::Lead, "", app.clock.now()).await?;
        tx.commit().await.map_err(app::Failure::from)?;
    }
    let caller = Caller { address: IpAddr::V4(Ipv4Addr::LOCALHOST), agent: NAME.to_owned() };
    let token = sessions::open(app, NAME, &caller, None).await?;
    let sessions::SessionState::Open(session, _) = sessions::look_up(app, &token).await? else {
        return Err(Failed::Asked("the session did not hold".to_owned()));
    };
    let cookie = CookieName::Session.holding(token.show(), &app.config);
    Ok((format!("{}={}", cookie.name(), cookie.value()), session.csrf))
}

/// One person who types into one row.
struct Typist {
    row: Row,
    head: String,
    csrf: String,
    person: usize,
    refused: Arc<AtomicUsize>,
}

impl Typist {
    async fn type_until(
        &self,
        address: std::net::SocketAddr,
        until: Instant,
        pause: Duration,
    ) -> std::io::Result<Vec<Duration>> {
        let mut stream = TcpStream::connect(address).await?;
        stream.set_nodelay(true)?;
        let mut waits = Vec::new();
        let mut count = 0;
        while Instant::now() < until {
            count += 1;
            let request = self.request(count);
            let begun = Instant::now();
            stream.write_all(request.as_bytes()).await?;
            if answer(&mut stream).await? == 200 {
                waits.push(begun.elapsed());
            } else {
                self.refused.fetch_add(1, Ordering::Relaxed);
            }
            tokio::time::sleep(pause).await;
        }
        Ok(waits)
    }

    fn request(&self, count: usize) -> String {
        let (slot, task, excursion) = &self.row;
        let words = format!("Save {count} of person {}.", self.person);
        let fields = [
            ("csrf", self.csrf.as_str()),
            ("r0-key", slot.as_str()),
            ("r0-slot", slot.as_str()),
            ("r0-task", task.as_str()),
            ("r0-outcome", "not completed"),
            ("r0-cause", "19"),
            ("r0-words", &words),
        ];
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        format!(
            "POST /excursions/{excursion}/debrief/rows HTTP/1.1\r\n{}\r\n\
             content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
            self.head,
            body.len()
        )
    }
}

/// Reads one whole answer; gives its status.
async fn answer(stream: &mut TcpStream) -> std::io::Result<u16> {
    let mut bytes = Vec::new();
    let mut block = [0; 4_096];
    loop {
        if let Some((status, length)) = whole(&bytes)
            && bytes.len() >= length
        {
            return Ok(status);
        }
        let read = stream.read(&mut block).await?;
        if read == 0 {
            return Err(std::io::ErrorKind::UnexpectedEof.into());
        }
        bytes.extend_from_slice(&block[..read]);
    }
}

/// The status of an answer and the length that it will have, once its head is there.
fn whole(bytes: &[u8]) -> Option<(u16, usize)> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (head, _) = text.split_once("\r\n\r\n")?;
    let status = head.split(' ').nth(1)?.parse().ok()?;
    let length = head
        .lines()
        .filter_map(|line| line.split_once(": "))
        .find(|(name, _)| name.eq_ignore_ascii_case("content-length"))
        .and_then(|(_, value)| value.parse::<usize>().ok())
        .unwrap_or(0);
    Some((status, head.len() + 4 + length))
}
