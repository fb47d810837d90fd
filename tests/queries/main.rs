//! A page asks the database as often for many rows as for few. A binary of its own, because the
//! queries are counted by a listener that hears the whole process.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on stops where it stands")]

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use app::clock::Clock;
use app::config::Config;
use app::sessions::{self, Caller, SignIn};
use app::{Actor, App, fill, people};
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, header};
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::Role;
use http_body_util::BodyExt as _;
use load::{Load, Size};
use store::Db;
use tower::ServiceExt as _;
use tracing::field::{Field, Visit};
use tracing::{Event, Subscriber};
use tracing_subscriber::Layer;
use tracing_subscriber::layer::{Context, SubscriberExt as _};

static ASKED: AtomicUsize = AtomicUsize::new(0);
/// What was asked for, in short, and how often.
static SAID: Mutex<BTreeMap<String, usize>> = Mutex::new(BTreeMap::new());

/// Counts the statements that the database library tells of.
struct Count;

struct Summary(Option<String>);

impl Visit for Summary {
    fn record_str(&mut self, field: &Field, value: &str) {
        if field.name() == "summary" {
            self.0 = Some(value.to_owned());
        }
    }
    fn record_debug(&mut self, _: &Field, _: &dyn std::fmt::Debug) {}
}

impl<S: Subscriber> Layer<S> for Count {
    fn on_event(&self, event: &Event<'_>, _: Context<'_, S>) {
        if event.metadata().target() == "sqlx::query" {
            ASKED.fetch_add(1, Ordering::SeqCst);
            let mut summary = Summary(None);
            event.record(&mut summary);
            let mut said = SAID.lock().unwrap();
            *said.entry(summary.0.unwrap_or_default()).or_default() += 1;
        }
    }
}

/// A record of this size, and a lead who looks at it.
struct Looked {
    app: App,
    router: Router,
    cookie: String,
    /// The code of the first excursion that is ahead.
    ahead: String,
    _folder: tempfile::TempDir,
}

impl Looked {
    async fn at(tasks: usize, attempts: usize) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let db = Db::open(&folder.path().join("holdover.db")).await.unwrap();
        let clock = Clock::fixed(Moment::read("2030-11-21T14:20:00Z").unwrap());
        let app = App::new(db, clock, Config::default());
        let load = Load::new(Size { tasks, attempts, seed: 1 }, app.clock.now().day());
        fill::fill(&app, &load, |_| {}).await.unwrap();
        let shell = Actor { name: "shell".into(), role: Role::Administrator };
        let password = "wet gloves hang on a line";
        people::add(&app, &shell, None, "lead", Role::Lead, Some(password)).await.unwrap();
        let caller = Caller { address: IpAddr::V4(Ipv4Addr::LOCALHOST), agent: "test".to_owned() };
        let signed_in = sessions::begin(&app, "lead", password, &caller, None).await.unwrap();
        let SignIn::Done(token) = signed_in else { panic!("{signed_in:?}") };
        let name =
            if app.config.secure_cookies { "__Host-holdover-session" } else { "holdover-session" };
        let cookie = format!("{name}={}", token.show());
        let ahead = load.first_ahead();
        Self { router: web::router(app.clone()), app, cookie, ahead, _folder: folder }
    }

    /// How many statements a page takes after a save, so that nothing is known of the record yet: the
    /// fewest of some requests, because one may open a connection or note that the session is in use.
    async fn asked_for(&self, path: &str) -> usize {
        let path = &path.replace("AHEAD", &self.ahead);
        let mut fewest = usize::MAX;
        for _ in 0..4 {
            let mut tx = self.app.db.begin().await.unwrap();
            store::forms::move_data_version(&mut tx).await.unwrap();
            tx.commit().await.unwrap();
            ASKED.store(0, Ordering::SeqCst);
            SAID.lock().unwrap().clear();
            self.get(path).await;
            fewest = fewest.min(ASKED.load(Ordering::SeqCst));
        }
        fewest
    }

    async fn get(&self, path: &str) {
        let mut request =
            Request::get(path).header(header::COOKIE, &*self.cookie).body(Body::empty()).unwrap();
        let from = SocketAddr::from((Ipv4Addr::LOCALHOST, 50_000));
        request.extensions_mut().insert(ConnectInfo(from));
        let answer = self.router.clone().oneshot(request).await.unwrap();
        assert_eq!(answer.status(), 200, "{path}");
        answer.into_body().collect().await.unwrap();
    }
}

#[tokio::test]
async fn a_page_asks_as_often_for_many_rows_as_for_few() {
    let heard = tracing_subscriber::registry().with(Count);
    tracing::subscriber::set_global_default(heard).unwrap();
    let few = Looked::at(100, 1_000).await;
    let many = Looked::at(600, 6_000).await;
    let mut differ = Vec::new();
    for path in [
        "/",
        "/open",
        "/open?sort=title",
        "/open?q=strap",
        "/open?state=done",
        "/open?site=W-01",
        "/tasks/T-000001",
        "/tasks/T-000001/events",
        "/families/F-00000",
        "/affected",
        "/links",
        "/history",
        "/flights",
        "/flights/G-2",
        "/excursions",
        "/excursions/E-2.1",
        "/excursions/AHEAD",
        "/slots",
        "/findings",
        "/findings?show=all",
        "/findings/causes",
        "/findings/causes?by=technique",
        "/search?q=strap+latch",
        "/outside",
        "/worksites",
        "/worksites/W-01",
        "/techniques",
        "/tools",
        "/families",
        "/changes",
    ] {
        let at_few = few.asked_for(path).await;
        let said_few = SAID.lock().unwrap().clone();
        let at_many = many.asked_for(path).await;
        let said_many = SAID.lock().unwrap().clone();
        assert!(at_few > 2, "nothing was counted of {path}");
        if at_few != at_many {
            differ.push(format!("{path}: {at_few} queries for few rows, {at_many} for many"));
            let more = said_many.iter().filter(|(text, count)| said_few.get(*text) != Some(count));
            differ.extend(more.map(|(text, count)| format!("    {count} times {text}")));
        }
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}
