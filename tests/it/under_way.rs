//! Imports that take longer than a moment, over HTTP.

use axum::body::Body;
use axum::http::{Request, header};
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{Reply, TestApp};

const EDGE: &str = "edge-of-the-parts";

/// Sends a table in, as the page's form does.
pub async fn send(app: &TestApp, kind: &str, table: &str) -> Reply {
    send_bytes(app, kind, table.as_bytes()).await
}

/// The same for what is no text.
pub async fn send_bytes(app: &TestApp, kind: &str, table: &[u8]) -> Reply {
    let page = app.get("/import").await;
    assert_eq!(page.status, 200);
    let csrf = app.hidden("/import").into_iter().find(|(name, _)| name == "csrf").unwrap().1;
    let part = |name: &str, value: &str| {
        format!("--{EDGE}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n")
    };
    let file = format!(
        "--{EDGE}\r\nContent-Disposition: form-data; name=\"file\"; filename=\"long.csv\"\r\n\
         Content-Type: text/csv\r\n\r\n"
    );
    let end = format!("\r\n--{EDGE}--\r\n");
    let start = [part("csrf", &csrf), part("kind", kind), file].concat();
    let body = [start.as_bytes(), table, end.as_bytes()].concat();
    let request = Request::post("/import")
        .header(header::CONTENT_TYPE, format!("multipart/form-data; boundary={EDGE}"))
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(body))
        .unwrap();
    app.send(request).await
}

#[sqlx::test]
async fn the_heads_of_a_table_tell_what_its_rows_are(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let sent = send(&app, "by-heads", "code,name,mass,volume,on_board\r\nL-1,pry bar,1,1,2").await;
    assert_eq!(sent.status, 303, "{}", sent.body);
    let page = through(&app, &sent.location).await.body;
    assert!(page.contains("tools, nothing imported yet"), "{page}");
    for (table, says) in [
        ("when,who,remark\r\nyesterday,C-11,went well", "do not tell what its rows are"),
        ("code,name\r\nL-1,pry bar", "do not tell what its rows are"),
        ("", "not empty"),
    ] {
        let refused = send(&app, "by-heads", table).await;
        assert_eq!(refused.status, 422, "{}", refused.body);
        assert!(refused.body.contains(says), "{}", refused.body);
    }
}

const TABLE: &str = "code,name\r\nL-1,pry bar\r\nL-2,spreader";

#[sqlx::test]
async fn a_table_that_takes_long_says_how_far_it_is_and_then_what_came_of_it(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let sent = send(&app, "tools", TABLE).await;
    assert_eq!(sent.status, 303, "{}", sent.body);
    let other = send(&app, "tools", "code,name\r\nL-9,other").await;
    let way = format!("{}/under-way", sent.location);

    // Nobody else gets to write while this is held, so the table has to wait to be taken.
    app.get("/import").await;
    let held = app.app.db.begin().await.unwrap();
    let taking = app.post(&sent.location, &[]).await;
    assert_eq!((taking.status.as_u16(), &taking.location), (303, &way), "{}", taking.body);
    let waiting = app.get(&way).await;
    assert_eq!(waiting.headers["refresh"], "2");
    assert!(waiting.body.contains("The file is being read."), "{}", waiting.body);
    let again = app.get(&sent.location).await;
    assert_eq!(again.location, way, "a look joins what is under way");
    let refused = app.get(&other.location).await;
    assert_eq!(refused.status, 409, "{}", refused.body);
    assert!(refused.body.contains("is being read already"), "{}", refused.body);
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 1, "nothing is taken yet");

    drop(held);
    let through = through(&app, &way).await;
    assert_eq!((through.status.as_u16(), through.location.as_str()), (303, "/tools"));
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 3);
}

#[sqlx::test]
async fn a_look_waits_for_nobody_and_holds_nobody_up(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let sent = send(&app, "tools", TABLE).await;

    let held = app.app.db.begin().await.unwrap();
    let looked = through(&app, &sent.location).await;
    drop(held);

    assert_eq!(looked.status, 200, "{}", looked.body);
    assert!(looked.body.contains("<dt>New</dt><dd>2</dd>"), "{}", looked.body);
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 1, "a look takes nothing");
}

/// Asks until a table is through; gives the page that says what came of it, or would come.
pub async fn through(app: &TestApp, address: &str) -> Reply {
    let mut page = app.get(address).await;
    let mut address = address.to_owned();
    loop {
        if page.location.ends_with("/under-way") {
            address.clone_from(&page.location);
        } else if !page.headers.contains_key("refresh") {
            return page;
        } else {
            assert!(page.body.contains("Stop"), "{}", page.body);
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        }
        page = app.get(&address).await;
    }
}

/// A table of so many tools.
fn tools(count: usize) -> String {
    (0..count).fold("code,name\r\n".to_owned(), |mut table, number| {
        use std::fmt::Write as _;
        write!(table, "L-{number},tool {number}\r\n").unwrap();
        table
    })
}

#[sqlx::test]
async fn a_large_table_is_gone_through_while_others_save_and_is_taken_whole(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let other = app.another();
    other.sign_in("engineer").await;
    let sent = send(&app, "tools", &tools(3_000)).await;
    app.get("/import").await;
    let taking = app.post(&sent.location, &[]).await;
    assert_eq!(taking.location, format!("{}/under-way", sent.location), "{}", taking.body);

    // It is gone through on a copy; a save in between does not wait for it.
    let begun = std::time::Instant::now();
    other.get("/worksites/new").await;
    let saved = other.post("/worksites/new", &[("code", "W-1"), ("name", "bay")]).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
    assert!(begun.elapsed().as_secs() < 5, "{:?}", begun.elapsed());
    assert_eq!(other.get("/tools.csv").await.body.lines().count(), 1, "nothing is there by halves");

    let through = through(&app, &taking.location).await;
    assert_eq!(through.location, "/tools", "{}", through.body);
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 3_001);
}

#[sqlx::test]
async fn a_table_under_way_can_be_stopped_and_nothing_of_it_is_taken(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let sent = send(&app, "tools", &tools(20_000)).await;
    app.get("/import").await;
    let way = app.post(&sent.location, &[]).await.location;
    assert_eq!(way, format!("{}/under-way", sent.location));
    app.get(&way).await;

    let stopped = app.post(&format!("{}/stop", sent.location), &[]).await;

    assert_eq!((stopped.status.as_u16(), stopped.location.as_str()), (303, "/import"));
    assert!(app.get("/import").await.body.contains("Stopped; nothing was changed."));
    assert_eq!(app.get("/tools.csv").await.body.lines().count(), 1);
    // Another may begin at once.
    let small = send(&app, "tools", TABLE).await;
    assert_eq!(through(&app, &small.location).await.status, 200);
}

#[sqlx::test]
async fn who_waits_too_long_for_a_table_is_told_that_nothing_was_saved(db: SqlitePool) {
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
