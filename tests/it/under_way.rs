//! Imports that take longer than a moment, over HTTP.

use axum::body::Body;
use axum::http::{Request, header};
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{Reply, TestApp};

const EDGE: &str = "edge-of-the-parts";

/// Sends a table in, as the page's form does.
async fn send(app: &TestApp, kind: &str, table: &str) -> Reply {
    let page = app.get("/import").await;
    assert_eq!(page.status, 200);
    let csrf = app.hidden("/import").into_iter().find(|(name, _)| name == "csrf").unwrap().1;
    let part = |name: &str, value: &str| {
        format!("--{EDGE}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n")
    };
    let file = format!(
        "--{EDGE}\r\nContent-Disposition: form-data; name=\"file\"; filename=\"long.csv\"\r\n\
         Content-Type: text/csv\r\n\r\n{table}\r\n--{EDGE}--\r\n"
    );
    let body = [part("csrf", &csrf), part("kind", kind), file].concat();
    let request = Request::post("/import")
        .header(header::CONTENT_TYPE, format!("multipart/form-data; boundary={EDGE}"))
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(body))
        .unwrap();
    app.send(request).await
}

const TABLE: &str = "code,name\r\nL-1,pry bar\r\nL-2,spreader";

#[sqlx::test]
async fn a_table_that_takes_long_says_how_far_it_is_and_then_what_came_of_it(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let sent = send(&app, "tools", TABLE).await;
    assert_eq!(sent.status, 303, "{}", sent.body);
    let other = send(&app, "tools", "code,name\r\nL-9,other").await;
    let way = format!("{}/under-way", sent.location);

    // Nobody else gets to write while this is held, so the table has to wait.
    let held = app.app.db.begin().await.unwrap();
    let looked = app.get(&sent.location).await;
    assert_eq!((looked.status.as_u16(), &looked.location), (303, &way), "{}", looked.body);
    let waiting = app.get(&way).await;
    assert_eq!(waiting.headers["refresh"], "2");
    assert!(waiting.body.contains("The file is being read."), "{}", waiting.body);
    let again = app.get(&sent.location).await;
    assert_eq!(again.location, way, "a second look joins the first");
    let refused = app.get(&other.location).await;
    assert_eq!(refused.status, 409, "{}", refused.body);
    assert!(refused.body.contains("is being read already"), "{}", refused.body);

    drop(held);
    let through = app.get(&way).await;
    assert_eq!(through.status, 200, "{}", through.body);
    assert!(!through.headers.contains_key("refresh"));
    assert!(through.body.contains("<dt>New</dt><dd>2</dd>"), "{}", through.body);
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 1, "a look takes nothing");

    let taken = app.post(&sent.location, &[]).await;
    assert_eq!((taken.status.as_u16(), taken.location.as_str()), (303, "/tools"));
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 3);
}

#[sqlx::test]
async fn who_waits_too_long_for_a_table_hears_that_nothing_was_saved(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    app.get("/tools/new").await;
    let held = app.app.db.begin().await.unwrap();

    let late = app.post("/tools/new", &[("code", "L-1"), ("name", "pry bar")]).await;

    assert_eq!(late.status, 503, "{}", late.body);
    assert_eq!(late.headers["retry-after"], "10");
    assert!(late.body.contains("Nothing was changed. Other saves took too long."), "{}", late.body);
    drop(held);
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 1);
}

#[sqlx::test]
async fn a_run_that_nobody_knows_leads_back_to_the_table(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let sent = send(&app, "tools", TABLE).await;

    let gone = app.get(&format!("{}/under-way", sent.location)).await;

    assert_eq!((gone.status.as_u16(), gone.location), (303, sent.location));
}
