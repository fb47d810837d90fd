//! `holdover bench pages`: the pages people look at most, through the very router that serves
//! them, each beside the queries that it cannot do without.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, StatusCode, header};
use clap::{ArgMatches, Args};
use http_body_util::BodyExt as _;
use serde_json::json;
use tower::ServiceExt as _;

use crate::bench::figures::{Times, memory_peak, timed};
use crate::settings::Everywhere;
use crate::{Failed, data};
use app::alike::{self, Of};
use app::calendar::Calendar;
use app::search::PAGE as FINDS;
use app::sessions::{self, Caller};
use app::{App, backlog, whole_task};
use domain::codes::AttemptCode;
use domain::kinds::Kind;
use domain::words::{Role, TaskState};
use store::open_items::{Filter, PAGE, Sort};
use store::words::Wanted;
use store::{history, measured, open_items, people, search, words};
use web::cookies::Crumb;

#[derive(Debug, Args)]
pub struct Pages {
    /// Only pages whose address contains this
    #[arg(long, default_value = "")]
    only: String,
    /// How often each page is asked for
    #[arg(long, default_value_t = 100)]
    times: usize,
    /// Print the figures as JSON, and nothing else, on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    everywhere: Everywhere,
}

/// A page and the queries that stand behind it.
struct Case {
    path: String,
    bare: Bare,
}

enum Bare {
    /// A page of the list alone.
    List(Filter, Sort, i64),
    /// All that one task's page reads.
    Task(String),
    /// The full-text query of a search alone: ranked, or the newest first where too many match.
    Words(String, bool),
    /// The attempts like the last failure at a task, alone.
    Alike(Vec<AttemptCode>),
    /// No query of its own to hold the page against.
    Nothing,
}

struct Figures {
    path: String,
    page: Times,
    bare: Times,
    bytes: usize,
}

pub async fn run(call: &Pages, given: &ArgMatches) -> Result<(), Failed> {
    let app = data::of(given).await?;
    let (cookie, session) = signed_in(&app).await?;
    let cases = cases(&app).await?;
    let router = web::router(app.clone());
    let mut all = Vec::new();
    for case in cases.into_iter().filter(|case| case.path.contains(&call.only)) {
        let figures = measure(&app, &router, &cookie, case, call.times.max(1)).await?;
        if !call.json {
            print(&figures);
        }
        all.push(figures);
    }
    sessions::end(&app, &session).await?;
    app.db.close().await;
    if call.json {
        println!("{}", as_json(&all));
    } else if let Some(peak) = memory_peak() {
        println!("memory at its peak: {peak:.0} MB");
    }
    Ok(())
}

/// A session of some active lead, or of a person made for it.
async fn signed_in(app: &App) -> Result<(String, Vec<u8>), Failed> {
    const NAME: &str = "measure";
    let found = {
        let mut db = app.db.reader().await?;
        people::list(&mut db).await?
    };
    let lead = found.into_iter().find(|person| person.active && person.role == Role::Lead);
    let name = if let Some(lead) = lead {
        lead.name
    } else {
        let mut tx = app.db.begin().await?;
        people::add(&mut tx, NAME, Role::Lead, "", app.clock.now()).await?;
        tx.commit().await.map_err(app::Failure::from)?;
        NAME.to_owned()
    };
    let caller = Caller { address: IpAddr::V4(Ipv4Addr::LOCALHOST), agent: NAME.to_owned() };
    let token = sessions::open(app, &name, &caller, None).await?;
    let cookie = Crumb::Session.holding(token.show(), &app.config);
    Ok((format!("{}={}", cookie.name(), cookie.value()), token.hash()))
}

async fn cases(app: &App) -> Result<Vec<Case>, Failed> {
    let mut db = app.db.reader().await?;
    let largest = measured::largest_family(&mut db).await?;
    let busiest = measured::busiest_task(&mut db).await?;
    let of_largest = match &largest {
        Some(family) => measured::open_task_of(&mut db, family).await?,
        None => None,
    };
    let flight = measured::last_flown(&mut db).await?;
    let worksite = measured::some_worksite(&mut db).await?;
    let total = open_items::count(&mut db, &Filter::default()).await?;
    let middle = total / PAGE / 2 + 1;
    let open = Filter::default;
    let list = |query: String, filter, sort, page| Case {
        path: if query.is_empty() { "/open".to_owned() } else { format!("/open?{query}") },
        bare: Bare::List(filter, sort, page),
    };
    let mut cases = vec![
        list(String::new(), open(), Sort::Rank, 1),
        list(format!("page={middle}"), open(), Sort::Rank, middle),
        list("sort=code".to_owned(), open(), Sort::Code, 1),
        list("sort=need".to_owned(), open(), Sort::Need, 1),
        list("sort=carry".to_owned(), open(), Sort::Carry, 1),
        list("sort=title".to_owned(), open(), Sort::Title, 1),
        list("in_danger=yes".to_owned(), Filter { in_danger: true, ..open() }, Sort::Rank, 1),
        list("in_question=yes".to_owned(), Filter { in_question: true, ..open() }, Sort::Rank, 1),
        list("twice=yes".to_owned(), Filter { twice_same: true, ..open() }, Sort::Carry, 1),
        list(
            "state=done".to_owned(),
            Filter { state: Some(TaskState::Done), ..open() },
            Sort::Rank,
            1,
        ),
    ];
    if let Some(family) = largest {
        let filter = Filter { family: Some(family.clone()), ..open() };
        cases.push(list(format!("family={family}"), filter.clone(), Sort::Rank, 1));
        cases.push(list(format!("family={family}&sort=title"), filter, Sort::Title, 1));
    }
    if let Some(flight) = flight {
        let filter = Filter { flight: Some(flight.clone()), ..open() };
        cases.push(list(format!("flight={flight}"), filter, Sort::Rank, 1));
    }
    if let Some(site) = worksite {
        let filter = Filter { worksite: Some(site.clone()), ..open() };
        cases.push(list(format!("site={site}&sort=need"), filter, Sort::Need, 1));
    }
    // As it is typed, letter by letter.
    for typed in ["st", "str", "strap", "strap la", "strap latch seized", "connector 417 dust"] {
        let query = format!("q={}", typed.replace(' ', "+"));
        cases.push(list(query, Filter { words: words::asked(typed), ..open() }, Sort::Rank, 1));
    }
    // Common words, rare ones, several, one letter wrong, and narrowed to a kind.
    for (typed, right, among) in [
        ("strap", "strap", &[][..]),
        ("strap 417", "strap 417", &[]),
        ("strap 417 handrail dust", "strap 417 handrail dust", &[]),
        ("connectr 417", "connector 417", &[]),
        ("half seated 998", "half seated 998", &[]),
        ("swap the hinge 4711", "swap the hinge 4711", &[]),
        ("hinge 512 dust", "hinge 512 dust", &[Kind::Attempt, Kind::Deferral]),
    ] {
        let wanted: Vec<Wanted> =
            right.split(' ').map(|word| Wanted::Typed(word.to_owned())).collect();
        let Some(asked) = words::everywhere(&wanted, among) else { continue };
        let ranked = measured::count(&mut db, &asked).await? <= search::RANKED;
        let narrowed = if among.is_empty() { "" } else { "&among=attempts" };
        let path = format!("/search?q={}{narrowed}", typed.replace(' ', "+"));
        cases.push(Case { path, bare: Bare::Words(asked, ranked) });
    }
    for path in ["/findings", "/findings/causes", "/findings/causes?by=technique", "/history"] {
        cases.push(Case { path: path.to_owned(), bare: Bare::Nothing });
    }
    let calendar = Calendar::load(&mut db).await?;
    for task in [busiest.clone(), of_largest.clone()].into_iter().flatten() {
        let tries = history::tries_of(&mut db, std::slice::from_ref(&task)).await?;
        if let Some(attempt) = alike::last_failure(&calendar, &tries) {
            let path = format!("/tasks/{task}#alike");
            cases.push(Case { path, bare: Bare::Alike(vec![attempt]) });
        }
    }
    for task in [busiest, of_largest].into_iter().flatten() {
        cases.push(Case { path: format!("/tasks/{task}"), bare: Bare::Task(task.to_string()) });
    }
    Ok(cases)
}

async fn measure(
    app: &App,
    router: &Router,
    cookie: &str,
    case: Case,
    times: usize,
) -> Result<Figures, Failed> {
    let (mut page, mut bare) = (Vec::new(), Vec::new());
    let mut bytes = 0;
    // Page and queries take turns, so that both meet the same weather; the first turn warms up.
    for turn in 0..=times {
        bytes = timed(&mut page, asked(router, &case.path, cookie)).await?;
        timed(&mut bare, bare_queries(app, &case.bare)).await?;
        if turn == 0 {
            forget(&mut page, &mut bare);
        }
    }
    Ok(Figures { path: case.path, page: Times::of(page), bare: Times::of(bare), bytes })
}

fn forget(page: &mut Vec<Duration>, bare: &mut Vec<Duration>) {
    page.clear();
    bare.clear();
}

/// Asks for a page and reads it to its end; gives its length.
async fn asked(router: &Router, path: &str, cookie: &str) -> Result<usize, Failed> {
    let bad = |why: String| Failed::Asked(format!("{path} was not answered: {why}"));
    // What stands behind the mark is a place on the page, not asked of the service.
    let asked = path.split('#').next().unwrap_or(path);
    let mut request = Request::get(asked)
        .header(header::COOKIE, cookie)
        .body(Body::empty())
        .map_err(|cause| bad(cause.to_string()))?;
    request.extensions_mut().insert(ConnectInfo(SocketAddr::from((Ipv4Addr::LOCALHOST, 50_000))));
    let answer = match router.clone().oneshot(request).await {
        Ok(answer) => answer,
        Err(never) => match never {},
    };
    if answer.status() != StatusCode::OK {
        return Err(bad(answer.status().to_string()));
    }
    let body = answer.into_body().collect().await.map_err(|cause| bad(cause.to_string()))?;
    Ok(body.to_bytes().len())
}

async fn bare_queries(app: &App, bare: &Bare) -> Result<(), Failed> {
    let mut db = app.db.reader().await?;
    match bare {
        Bare::List(filter, sort, page) => {
            backlog::list(&mut db, "nobody", filter, *sort, (page - 1) * PAGE, PAGE).await?;
        }
        Bare::Task(code) => {
            whole_task::read(&mut db, code).await?;
        }
        Bare::Words(asked, true) => {
            measured::best_matches(&mut db, asked, FINDS).await?;
        }
        Bare::Words(asked, false) => {
            search::newest(&mut db, asked, 0, FINDS).await?;
        }
        Bare::Alike(attempts) => {
            let calendar = Calendar::load(&mut db).await?;
            alike::read(&mut db, &calendar, &Of::Attempts(attempts.clone())).await?;
        }
        Bare::Nothing => {}
    }
    Ok(())
}

fn print(figures: &Figures) {
    let (page, bare) = (&figures.page, &figures.bare);
    println!(
        "{:<34} page p50 {:7.2} ms  p99 {:7.2} ms   queries p50 {:7.2} ms  p99 {:7.2} ms   ratio {:4.2} {:4.2}   {:6} bytes",
        figures.path,
        page.within(0.5),
        page.within(0.99),
        bare.within(0.5),
        bare.within(0.99),
        ratio(page.within(0.5), bare.within(0.5)),
        ratio(page.within(0.99), bare.within(0.99)),
        figures.bytes
    );
}

fn ratio(page: f64, bare: f64) -> f64 {
    if bare > 0.0 { page / bare } else { f64::NAN }
}

fn as_json(all: &[Figures]) -> serde_json::Value {
    let pages: Vec<_> = all
        .iter()
        .map(|one| {
            let at = |times: &Times| json!({ "p50": times.within(0.5), "p99": times.within(0.99) });
            json!({
                "path": one.path,
                "page_ms": at(&one.page),
                "queries_ms": at(&one.bare),
                "ratio": {
                    "p50": ratio(one.page.within(0.5), one.bare.within(0.5)),
                    "p99": ratio(one.page.within(0.99), one.bare.within(0.99)),
                },
                "bytes": one.bytes,
            })
        })
        .collect();
    json!({ "pages": pages, "memory_peak_mb": memory_peak() })
}
