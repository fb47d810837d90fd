//! `holdover bench pages`: every page, through the very router that serves it, beside the list that
//! people look at most in the same run; those of the list and of a task beside the queries that they
//! cannot do without, too.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::time::{Duration, Instant};

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
use app::App;
use app::sessions::{self, Caller};
use domain::words::Role;
use store::{measured, people};
use web::cookies::CookieName;

mod cases;
mod passing;
mod sweep;

use cases::{Bare, Case, bare_queries, cases};
use passing::Passing;

/// What each page is held against.
const LIST: &str = "/open";
/// So many of the slowest are named at the end.
const SLOWEST: usize = 10;
/// A record of more tasks is held to the bounds of a large one.
const LARGE: i64 = 10_000;
/// Elements and bytes of the page of a task, at the most, however large the record is.
const MAX_NODES: usize = 2_500;
const MAX_TASK_BYTES: usize = 150_000;
/// Times the queries that a page cannot do without, where they are known.
const MAX_TIMES_QUERIES: f64 = 3.0;
/// Megabytes at the peak.
const MAX_MEMORY: f64 = 300.0;
/// An address at which the peak grew by so many megabytes is named.
const MIN_GROWTH: f64 = 15.0;

#[derive(Debug, Args)]
pub struct Pages {
    /// Only pages whose address contains this
    #[arg(long, default_value = "")]
    only: String,
    /// How often each page is asked for
    #[arg(long, default_value_t = 100)]
    times: usize,
    /// A page is asked for less often where that would take longer than so many seconds
    #[arg(long, default_value_t = 10)]
    seconds: u64,
    /// Print the figures as JSON, and nothing else, on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    everywhere: Everywhere,
}

/// What a page may take.
#[derive(Debug, Clone, Copy)]
struct Bounds {
    /// Times the list.
    ratio: f64,
    bytes: usize,
}

impl Bounds {
    const fn of(tasks: i64) -> Self {
        if tasks > LARGE {
            Self { ratio: 4.0, bytes: 200_000 }
        } else {
            Self { ratio: 3.0, bytes: 150_000 }
        }
    }
}

/// What came back.
#[derive(Debug, Clone, Copy)]
pub(super) struct Answer {
    status: StatusCode,
    bytes: usize,
    /// Elements; nothing where it is no page.
    nodes: Option<usize>,
}

struct Figures {
    path: String,
    /// The first time it was asked for, before anything of it was known.
    first: Duration,
    page: Times,
    /// The list, asked for in the same turns.
    list: Times,
    /// The queries of the page alone, where they are known.
    bare: Option<Times>,
    answer: Answer,
}

impl Figures {
    fn ratio(&self) -> f64 {
        ratio(self.page.within(0.5), self.list.within(0.5))
    }

    /// What is too much of it. A file or a picture is no page and may be as long as it is.
    fn over(&self, bounds: Bounds) -> Vec<String> {
        let Some(nodes) = self.answer.nodes else { return Vec::new() };
        let mut over = Vec::new();
        if self.ratio() > bounds.ratio {
            over.push(format!("{:.1} times the list", self.ratio()));
        }
        let of_a_task = is_of_a_task(&self.path);
        let most = if of_a_task { MAX_TASK_BYTES.min(bounds.bytes) } else { bounds.bytes };
        if self.answer.bytes > most {
            over.push(format!("{} bytes", self.answer.bytes));
        }
        if nodes > MAX_NODES && of_a_task {
            over.push(format!("{nodes} elements"));
        }
        let queries = self.bare.as_ref().map_or(0.0, |bare| bare.within(0.5));
        let times = ratio(self.page.within(0.5), queries);
        if times > MAX_TIMES_QUERIES {
            over.push(format!("{times:.1} times its queries"));
        }
        over
    }
}

fn is_of_a_task(path: &str) -> bool {
    path.starts_with("/tasks/")
}

pub async fn run(call: &Pages, given: &ArgMatches) -> Result<(), Failed> {
    let app = data::of(given).await?;
    let bounds = Bounds::of(measured::count_tasks(&mut *app.db.reader().await?).await?);
    let lead = signed_in(&app, Role::Lead).await?;
    let administrator = signed_in(&app, Role::Administrator).await?;
    let asking = Asking { router: web::router(app.clone()), who: [lead.0, administrator.0] };
    let mut all = Vec::new();
    let passing = Passing::begin(&app).await?;
    let (cases, unasked) = all_cases(&app, &asking, &call.only, Some(&passing)).await?;
    let mut peaks = vec![("at the start".to_owned(), memory_peak().unwrap_or(0.0))];
    for case in cases {
        let figures = measure(&app, &asking, case, call).await?;
        peaks.extend(memory_peak().map(|peak| (figures.path.clone(), peak)));
        if !call.json {
            print(&figures, bounds);
        }
        all.push(figures);
    }
    passing.end(&app).await?;
    for session in [lead.1, administrator.1] {
        sessions::end(&app, &session).await?;
    }
    app.db.close().await;
    if call.json {
        println!("{}", as_json(&all, bounds));
    } else {
        print_slowest(&mut all);
        if !unasked.is_empty() {
            println!("not asked, the record has none: {}", unasked.join(", "));
        }
        if let Some(peak) = memory_peak() {
            println!("memory at its peak: {peak:.0} MB{}", growth(&peaks));
        }
    }
    let over: Vec<&Figures> = all.iter().filter(|one| !one.over(bounds).is_empty()).collect();
    let mut named: Vec<String> =
        over.iter().map(|one| format!("{} ({})", one.path, one.over(bounds).join(", "))).collect();
    if let Some(peak) = memory_peak().filter(|peak| *peak > MAX_MEMORY) {
        named.push(format!("memory at its peak ({peak:.0} MB, at most {MAX_MEMORY:.0})"));
    }
    if named.is_empty() {
        return Ok(());
    }
    Err(Failed::Asked(format!(
        "{} of {} pages are over their bounds (p50 {} times that of {LIST}, {} bytes, {MAX_NODES} \
         elements): {}",
        over.len(),
        all.len(),
        bounds.ratio,
        bounds.bytes,
        named.join("; ")
    )))
}

/// Where the peak grew, in words.
fn growth(peaks: &[(String, f64)]) -> String {
    let steps = peaks.windows(2).filter(|pair| pair[1].1 - pair[0].1 >= MIN_GROWTH);
    let named: Vec<String> =
        steps.map(|pair| format!("{:.0} MB at {}", pair[1].1, pair[1].0)).collect();
    if named.is_empty() { String::new() } else { format!("; it grew to {}", named.join(", ")) }
}

/// The pages with known queries, then every other address of the route table; those alone that contain
/// this. Then the addresses of which the record has nothing to ask for.
async fn all_cases(
    app: &App,
    asking: &Asking,
    only: &str,
    passing: Option<&Passing>,
) -> Result<(Vec<Case>, Vec<String>), Failed> {
    let mut unasked = Vec::new();
    let mut all = cases(app).await?;
    all.retain(|case| case.path.contains(only));
    let mut db = app.db.reader().await?;
    for route in web::addresses_answered() {
        let known: Vec<&str> = all.iter().map(|case| case.path.as_str()).collect();
        let mut paths = sweep::fill(&mut db, &route).await?;
        if let Some(path) = passing.and_then(|passing| passing.path(&route)) {
            paths = Some(vec![path]);
        }
        let is_unknown = paths.is_none();
        let is_nothing = paths.as_ref().is_some_and(Vec::is_empty) && route.contains(only);
        let is_new = |path: &String| path.contains(only) && !known.contains(&path.as_str());
        let new: Vec<String> = paths.unwrap_or_default().into_iter().filter(is_new).collect();
        if (new.is_empty() && !is_unknown && !is_nothing) || !asking.is_looked_at(&route).await? {
            continue;
        }
        if is_nothing {
            unasked.push(route);
            continue;
        }
        if is_unknown {
            return Err(Failed::Asked(format!("the sweep does not know what to ask of {route}")));
        }
        all.extend(new.into_iter().map(|path| Case { path, bare: Bare::Nothing }));
    }
    Ok((all, unasked))
}

/// Every address that is swept, without a place on a page.
pub(super) async fn addresses(app: &App, asking: &Asking) -> Result<Vec<String>, Failed> {
    let (cases, _) = all_cases(app, asking, "", None).await?;
    let bare = |case: &Case| case.path.split('#').next().unwrap_or_default().to_owned();
    Ok(cases.iter().map(bare).collect())
}

/// The pages that a soak asks for, and the cookie and the form token of a lead who does.
pub(super) async fn to_soak(app: &App) -> Result<(Vec<String>, String, String), Failed> {
    let (lead, _) = signed_in(app, Role::Lead).await?;
    let (administrator, _) = signed_in(app, Role::Administrator).await?;
    let asking = Asking { router: web::router(app.clone()), who: [lead.clone(), administrator] };
    let mut paths = Vec::new();
    for path in addresses(app, &asking).await? {
        let response = asking.ask(&path, &lead).await?;
        if response.status() == StatusCode::OK && is_page(&response) {
            paths.push(path);
        }
    }
    let token = lead.split_once('=').map_or("", |(_, token)| token);
    let Some(token) = app::tokens::Token::read(token) else {
        return Err(Failed::Asked("the session has no token".to_owned()));
    };
    let sessions::SessionState::Open(session, _) = sessions::look_up(app, &token).await? else {
        return Err(Failed::Asked("the session did not hold".to_owned()));
    };
    Ok((paths, lead, session.csrf))
}

/// Whether an answer is a page, and not a file, a picture or a few words.
fn is_page(response: &axum::response::Response) -> bool {
    // A paper that is saved as a file holds its fonts and is no page either.
    let is_saved = response.headers().contains_key(header::CONTENT_DISPOSITION);
    let kind = response.headers().get(header::CONTENT_TYPE).filter(|_| !is_saved);
    kind.and_then(|kind| kind.to_str().ok()).is_some_and(|kind| kind.starts_with("text/html"))
}

/// Some active person of a role, or one made for it.
async fn person(app: &App, role: Role) -> Result<String, Failed> {
    let known = {
        let mut db = app.db.reader().await?;
        people::list(&mut db).await?
    };
    let one = known.into_iter().find(|person| person.active && person.role == role);
    if let Some(person) = one {
        return Ok(person.name);
    }
    let name = format!("measure-{role}");
    let mut tx = app.db.begin().await?;
    people::add(&mut tx, &name, role, "", app.clock.now()).await?;
    tx.commit().await.map_err(app::Failure::from)?;
    Ok(name)
}

/// A session of such a person.
pub(super) async fn signed_in(app: &App, role: Role) -> Result<(String, Vec<u8>), Failed> {
    let name = person(app, role).await?;
    let caller = Caller { address: IpAddr::V4(Ipv4Addr::LOCALHOST), agent: "measure".to_owned() };
    let token = sessions::open(app, &name, &caller, None).await?;
    let cookie = CookieName::Session.holding(token.show(), &app.config);
    Ok((format!("{}={}", cookie.name(), cookie.value()), token.hash()))
}

async fn measure(app: &App, asking: &Asking, case: Case, call: &Pages) -> Result<Figures, Failed> {
    let (mut page, mut list, mut bare) = (Vec::new(), Vec::new(), Vec::new());
    // The first turn warms up. Page, list and queries take turns, so that all meet the same weather.
    let begun = Instant::now();
    let answer = asking.answer(&case.path).await?;
    let first = begun.elapsed();
    timed(&mut list, asking.answer(LIST)).await?;
    if answer.nodes.is_none() {
        // A file may be a whole table: asking for it once is enough.
        let (page, list) = (Times::of(vec![first]), Times::of(list));
        return Ok(Figures { path: case.path, first, page, list, bare: None, answer });
    }
    list.clear();
    let times = call.times.max(1);
    let until = Instant::now() + Duration::from_secs(call.seconds);
    for turn in 0..times {
        if turn >= 5 && Instant::now() > until {
            break;
        }
        timed(&mut page, asking.answer(&case.path)).await?;
        timed(&mut list, asking.answer(LIST)).await?;
        if !matches!(case.bare, Bare::Nothing) {
            timed(&mut bare, bare_queries(app, &case.bare)).await?;
        }
    }
    let bare = (!bare.is_empty()).then(|| Times::of(bare));
    Ok(Figures {
        path: case.path,
        first,
        page: Times::of(page),
        list: Times::of(list),
        bare,
        answer,
    })
}

/// Who asks, of the very router that serves people.
pub(super) struct Asking {
    pub router: Router,
    /// The cookies of a lead, who looks at most pages, and of an administrator.
    pub who: [String; 2],
}

impl Asking {
    /// Whether an address of the table is one that is looked at, and not only posted to.
    async fn is_looked_at(&self, route: &str) -> Result<bool, Failed> {
        // What stands in the variable parts does not matter to the question.
        let path = route.replace(['{', '}'], "");
        let [_, administrator] = &self.who;
        let response = self.ask(&path, administrator).await?;
        Ok(response.status() != StatusCode::METHOD_NOT_ALLOWED)
    }

    /// Asks for a page and reads it to its end.
    pub async fn answer(&self, path: &str) -> Result<Answer, Failed> {
        let [lead, administrator] = &self.who;
        let mut response = self.ask(path, lead).await?;
        if response.status() == StatusCode::FORBIDDEN {
            response = self.ask(path, administrator).await?;
        }
        let status = response.status();
        // What is refused has a page too, which is measured as any other.
        if status.is_server_error() {
            return Err(unanswered(path, &status.to_string()));
        }
        let is_page = is_page(&response);
        let mut body = response.into_body();
        let (mut bytes, mut nodes, mut before) = (0, 0, 0);
        while let Some(frame) = body.frame().await {
            let frame = frame.map_err(|cause| unanswered(path, &cause.to_string()))?;
            let Some(part) = frame.data_ref() else { continue };
            bytes += part.len();
            for byte in part {
                nodes += usize::from(before == b'<' && byte.is_ascii_alphabetic());
                before = *byte;
            }
        }
        Ok(Answer { status, bytes, nodes: is_page.then_some(nodes) })
    }

    async fn ask(&self, path: &str, cookie: &str) -> Result<axum::response::Response, Failed> {
        // What stands behind the mark is a place on the page, not asked of the service.
        let asked = path.split('#').next().unwrap_or(path);
        let mut request = Request::get(asked)
            .header(header::COOKIE, cookie)
            .body(Body::empty())
            .map_err(|cause| unanswered(path, &cause.to_string()))?;
        let from = SocketAddr::from((Ipv4Addr::LOCALHOST, 50_000));
        request.extensions_mut().insert(ConnectInfo(from));
        match self.router.clone().oneshot(request).await {
            Ok(answer) => Ok(answer),
            Err(never) => match never {},
        }
    }
}

fn unanswered(path: &str, why: &str) -> Failed {
    Failed::Asked(format!("{path} was not answered: {why}"))
}

fn print(figures: &Figures, bounds: Bounds) {
    let page = &figures.page;
    let bare = figures.bare.as_ref().map_or_else(String::new, |bare| {
        format!(
            "   queries p50 {:7.2} ms, ratio {:4.2}",
            bare.within(0.5),
            ratio(page.within(0.5), bare.within(0.5))
        )
    });
    let nodes = figures.answer.nodes.map_or_else(|| "-".to_owned(), |nodes| nodes.to_string());
    let over = figures.over(bounds);
    let answered = figures.answer.status.as_str();
    let verdict =
        if over.is_empty() { answered.to_owned() } else { format!("OVER: {}", over.join(", ")) };
    println!(
        "{:<44} first {:8.2} ms  p50 {:8.2} ms  p99 {:8.2} ms  {:5.2} x list  {:7} bytes {:>5} elements  {verdict}{bare}",
        figures.path,
        figures.first.as_secs_f64() * 1_000.0,
        page.within(0.5),
        page.within(0.99),
        figures.ratio(),
        figures.answer.bytes,
        nodes,
    );
}

fn print_slowest(all: &mut [Figures]) {
    all.sort_by(|a, b| b.page.within(0.5).total_cmp(&a.page.within(0.5)));
    let pages = all.iter().filter(|one| one.answer.nodes.is_some()).take(SLOWEST);
    println!("the slowest:");
    for one in pages {
        let (p50, p99) = (one.page.within(0.5), one.page.within(0.99));
        println!("  {:<44} p50 {p50:.1} ms, p99 {p99:.1} ms, {:.2} x list", one.path, one.ratio());
    }
}

fn ratio(page: f64, bare: f64) -> f64 {
    if bare > 0.0 { page / bare } else { f64::NAN }
}

fn as_json(all: &[Figures], bounds: Bounds) -> serde_json::Value {
    let pages: Vec<_> = all
        .iter()
        .map(|one| {
            let at = |times: &Times| json!({ "p50": times.within(0.5), "p99": times.within(0.99) });
            json!({
                "path": one.path,
                "first_ms": one.first.as_secs_f64() * 1_000.0,
                "page_ms": at(&one.page),
                "list_ms": at(&one.list),
                "queries_ms": one.bare.as_ref().map(at),
                "times_the_list": one.ratio(),
                "bytes": one.answer.bytes,
                "elements": one.answer.nodes,
                "over": one.over(bounds),
            })
        })
        .collect();
    json!({ "pages": pages, "memory_peak_mb": memory_peak() })
}

#[cfg(test)]
mod tests;
