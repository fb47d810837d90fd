//! The small language of these tests: `TestApp::new(db)`, `app.signed_in(Role::Lead)`,
//! `app.get("/open")`, `app.post("/people", &[("name", "…")])`, `reply.status`.

use std::collections::BTreeMap;
use std::io::Write;
use std::net::SocketAddr;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use app::clock::Clock;
use app::config::Config;
use app::{Actor, App, people};
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, Request, StatusCode, header};
use cli::log::filter;
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::Role;
use http_body_util::BodyExt as _;
use sqlx::SqlitePool;
use store::Db;
use tower::ServiceExt as _;
use tracing::instrument::WithSubscriber as _;

/// When every test plays, unless it moves the clock.
pub const NOW: &str = "2030-11-21T14:20:00Z";

/// The service on a fresh database, and one browser.
pub struct TestApp {
    pub app: App,
    router: Router,
    /// From where this browser asks.
    pub address: SocketAddr,
    cookies: Mutex<BTreeMap<String, String>>,
    page: Mutex<String>,
}

/// An answer, read whole.
#[derive(Debug, Clone)]
pub struct Reply {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: String,
    /// Where it leads; empty where it leads nowhere.
    pub location: String,
}

impl TestApp {
    /// The pool that `sqlx::test` gives is not opened our way, so the same file is opened again.
    pub async fn new(db: SqlitePool) -> Self {
        Self::with(db, Config::default()).await
    }

    pub async fn with(db: SqlitePool, config: Config) -> Self {
        let file = db.connect_options().get_filename().to_owned();
        db.close().await;
        Self::of(Db::open(&file).await.unwrap(), config)
    }

    /// The service on a database that is open already, with these settings.
    pub fn of(db: Db, config: Config) -> Self {
        let clock = Clock::fixed(Moment::read(NOW).unwrap());
        let app = App::new(db, clock, config);
        Self {
            router: web::router(app.clone()),
            app,
            address: SocketAddr::from(([127, 0, 0, 1], 50_000)),
            cookies: Mutex::default(),
            page: Mutex::default(),
        }
    }

    /// A second browser at the same service, signed out.
    pub fn another(&self) -> Self {
        Self {
            app: self.app.clone(),
            router: self.router.clone(),
            address: self.address,
            cookies: Mutex::default(),
            page: Mutex::default(),
        }
    }

    /// Adds a person with this role, called as the role, and signs them in.
    pub async fn signed_in(self, role: Role) -> Self {
        let name = role.word();
        self.person(name, role).await;
        self.sign_in(name).await;
        self
    }

    /// Adds a person whose password is `password_of(name)`.
    pub async fn person(&self, name: &str, role: Role) {
        let actor = Actor { name: "shell".into(), role: Role::Administrator };
        let password = password_of(name);
        people::add(&self.app, &actor, None, name, role, Some(&password)).await.unwrap();
    }

    pub async fn sign_in(&self, name: &str) {
        self.get("/sign-in").await;
        let reply =
            self.post("/sign-in", &[("name", name), ("password", &password_of(name))]).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
    }

    pub async fn get(&self, path: &str) -> Reply {
        let request = Request::get(path).body(Body::empty()).unwrap();
        let reply = self.send(request).await;
        if reply.is_html() {
            self.page.lock().unwrap().clone_from(&reply.body);
        }
        reply
    }

    /// A file as it is sent, whatever it holds.
    pub async fn get_bytes(&self, path: &str) -> (StatusCode, Vec<u8>) {
        let mut request = Request::get(path).body(Body::empty()).unwrap();
        request.extensions_mut().insert(ConnectInfo(self.address));
        let cookies: Vec<String> = self
            .cookies
            .lock()
            .unwrap()
            .iter()
            .map(|(name, value)| format!("{name}={value}"))
            .collect();
        request.headers_mut().insert(header::COOKIE, cookies.join("; ").parse().unwrap());
        let response = self.router.clone().oneshot(request).await.unwrap();
        let status = response.status();
        (status, response.into_body().collect().await.unwrap().to_bytes().to_vec())
    }

    /// Sends a form of the last page: its hidden fields go along, unless the test gives its own.
    pub async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Reply {
        let mut all: Vec<(String, String)> =
            fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
        for (name, value) in self.hidden(path) {
            if !all.iter().any(|(known, _)| *known == name) {
                all.push((name, value));
            }
        }
        self.post_only(path, &all).await
    }

    /// Sends exactly these fields.
    pub async fn post_only(&self, path: &str, fields: &[(String, String)]) -> Reply {
        let mut body = form_urlencoded::Serializer::new(String::new());
        body.extend_pairs(fields);
        let request = Request::post(path)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
            .body(Body::from(body.finish()))
            .unwrap();
        let reply = self.send(request).await;
        if reply.is_html() {
            self.page.lock().unwrap().clone_from(&reply.body);
        }
        reply
    }

    /// Any request, with the cookies of this browser.
    pub async fn send(&self, mut request: Request<Body>) -> Reply {
        request.extensions_mut().insert(ConnectInfo(self.address));
        let cookies: Vec<String> = self
            .cookies
            .lock()
            .unwrap()
            .iter()
            .map(|(name, value)| format!("{name}={value}"))
            .collect();
        if !cookies.is_empty() {
            request.headers_mut().insert(header::COOKIE, cookies.join("; ").parse().unwrap());
        }
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        for cookie in parts.headers.get_all(header::SET_COOKIE) {
            let text = cookie.to_str().unwrap();
            let (name, rest) = text.split_once('=').unwrap();
            let value = rest.split(';').next().unwrap();
            let mut cookies = self.cookies.lock().unwrap();
            if text.contains("Max-Age=0") {
                cookies.remove(name);
            } else {
                cookies.insert(name.to_owned(), value.to_owned());
            }
        }
        let body = body.collect().await.unwrap().to_bytes();
        let location = parts.headers.get(header::LOCATION).map_or("", |to| to.to_str().unwrap());
        Reply {
            status: parts.status,
            location: location.to_owned(),
            body: on_one_line(String::from_utf8_lossy(&body).into_owned(), &parts.headers),
            headers: parts.headers,
        }
    }

    pub fn cookie(&self, name: &str) -> Option<String> {
        self.cookies.lock().unwrap().get(name).cloned()
    }

    pub fn set_cookie(&self, name: &str, value: &str) {
        self.cookies.lock().unwrap().insert(name.to_owned(), value.to_owned());
    }

    /// The hidden fields of the form of the last page that goes to this path; where there is
    /// none, the token of the page and a key that was never used.
    pub fn hidden(&self, path: &str) -> Vec<(String, String)> {
        static COUNT: AtomicU64 = AtomicU64::new(0);
        let page = self.page.lock().unwrap().clone();
        let form = page
            .split("<form")
            .skip(1)
            .filter_map(|rest| rest.split("</form>").next())
            .filter(|form| !form.contains("method=\"get\""))
            .find(|form| form.contains(&format!("action=\"{path}\"")));
        if let Some(form) = form {
            return hidden_inputs(form);
        }
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let mut fields: Vec<_> =
            hidden_inputs(&page).into_iter().filter(|(name, _)| name == "csrf").take(1).collect();
        fields.push(("form_key".to_owned(), format!("test-{count}")));
        fields
    }

    /// Lets time pass until this moment. Sessions end meanwhile, so this person signs in again.
    pub async fn wait_until(&self, moment: &str, name: &str) {
        let minutes = (Moment::read(moment).unwrap().0 - self.app.clock.now().0) / 60_000;
        self.wait_minutes(minutes);
        self.sign_in(name).await;
    }

    pub fn wait_minutes(&self, minutes: i64) {
        self.app.clock.advance_minutes(minutes);
    }
}

/// A page as its reader sees it: where a template breaks a line and sets the next one in, there is a
/// blank, or nothing between two elements. Other replies stay as they are.
fn on_one_line(body: String, headers: &HeaderMap) -> String {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    if !kind.is_some_and(|kind| kind.starts_with("text/html")) {
        return body;
    }
    let mut lines = body.split('\n');
    let mut page = lines.next().unwrap_or_default().to_owned();
    for line in lines {
        if let Some(rest) = line.strip_prefix("  ") {
            let rest = rest.trim_start();
            if !(page.ends_with('>') && rest.starts_with('<')) {
                page.push(' ');
            }
            page.push_str(rest);
        } else {
            page.push('\n');
            page.push_str(line);
        }
    }
    page
}

impl Reply {
    /// The page without its links: sentences in which codes lead somewhere, whole.
    pub fn unlinked(&self) -> String {
        let mut bits = self.body.split("<a ");
        let first = bits.next().unwrap_or_default().to_owned();
        let rest = bits.map(|bit| bit.split_once('>').map_or("", |(_, words)| words));
        rest.fold(first, |all, bit| all + &bit.replacen("</a>", "", 1))
    }

    pub fn is_html(&self) -> bool {
        self.header("content-type").starts_with("text/html")
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }
}

/// A password that passes the rules and follows from the name.
pub fn password_of(name: &str) -> String {
    format!("{name} hangs wet gloves on a line")
}

fn hidden_inputs(markup: &str) -> Vec<(String, String)> {
    markup
        .split("<input type=\"hidden\" name=\"")
        .skip(1)
        .filter_map(|rest| {
            let (name, rest) = rest.split_once("\" value=\"")?;
            let value = rest.split('"').next()?;
            Some((name.to_owned(), value.to_owned()))
        })
        .collect()
}

/// What the log said.
#[derive(Clone, Default)]
struct Log(Arc<Mutex<Vec<u8>>>);

impl Log {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Runs this and gives what the log said of it.
pub async fn logged(act: impl Future<Output = ()>) -> String {
    let log = Log::default();
    let writer = log.clone();
    let subscriber = tracing_subscriber::fmt()
        .with_ansi(false)
        .with_env_filter(filter("trace"))
        .with_writer(move || writer.clone())
        .finish();
    act.with_subscriber(subscriber).await;
    log.text()
}

/// The same as the lines that a service writes which nobody watches.
pub async fn logged_as_json(act: impl Future<Output = ()>) -> Vec<serde_json::Value> {
    let log = Log::default();
    let writer = log.clone();
    let subscriber = tracing_subscriber::fmt()
        .with_env_filter(filter("trace"))
        .json()
        .flatten_event(true)
        .with_current_span(false)
        .with_writer(move || writer.clone())
        .finish();
    act.with_subscriber(subscriber).await;
    log.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}
