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
    let refused = send(&app, "by-heads", "").await;
    assert_eq!(refused.status, 422, "{}", refused.body);
    assert!(refused.body.contains("not empty"), "{}", refused.body);
}

#[sqlx::test]
async fn a_table_that_tells_no_kind_is_kept_and_its_person_is_asked_once(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    for table in ["when,who,remark\r\nyesterday,C-11,went well", "code,name\r\nL-1,pry bar"] {
        let sent = send(&app, "by-heads", table).await;
        assert_eq!(sent.status, 303, "{}", sent.body);
        let asked = app.get(&sent.location).await.body;
        assert!(asked.contains("do not tell what its rows are"), "{asked}");
        let (code, _) = sent.location.split_once('?').unwrap();
        let first = table.split_once("\r\n").unwrap().1.split(',').next().unwrap();
        assert!(
            asked.contains(&format!("<td>{first}</td>")),
            "the first rows stand there: {asked}"
        );
        // Said once, without the file.
        let said = app.post(&format!("{code}/kind"), &[("kind", "tools")]).await;
        assert_eq!((said.status.as_u16(), said.location.as_str()), (303, code), "{}", said.body);
        let page = through(&app, code).await.body;
        assert!(page.contains("tools, nothing imported yet"), "{page}");
    }
}

#[sqlx::test]
async fn the_first_rows_stand_under_the_columns_that_they_would_fill(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    let rows =
        (1..=7).map(|row| format!("J-{row},Latch {row},Keel 4,0:40,2,2031-03-0{row},open\r\n"));
    let table = format!(
        "Job No,Description,Location,Est. time,Priority,Due,Status\r\n{}",
        rows.collect::<String>()
    );
    let sent = send(&app, "by-heads", &table).await;
    let page = through(&app, &sent.location).await.body;
    assert!(page.contains("Its heads fit tasks: Job No, Description"), "{page}");
    let (_, first) = page.split_once("<h2>First rows</h2>").unwrap();
    let first = first.split("</table>").next().unwrap();
    for head in [
        "Title <span class=\"second\">from “Description”",
        "Work minutes, likely <span class=\"second\">from “Est. time”",
        "Needed by date <span class=\"second\">from “Due”",
        "Status, left out",
    ] {
        assert!(first.contains(head), "{head}: {first}");
    }
    assert!(first.contains("Latch 5") && !first.contains("Latch 6"), "five rows: {first}");
    assert!(page.contains("<dt>New</dt><dd>7</dd>"), "{page}");
    let taken = app.post(&sent.location, &[]).await;
    let taken = if taken.location.ends_with("under-way") {
        through(&app, &sent.location).await
    } else {
        taken
    };
    assert_eq!(taken.status, 303, "{}", taken.body);
    assert!(app.get("/tasks/J-3").await.body.contains("Latch 3"));
}

#[sqlx::test]
async fn an_engineer_hears_before_sending_which_columns_are_a_leads(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let page = app.get("/import").await.body;
    assert!(page.contains("<b>tasks</b>: A lead sets Class, Needed by flight"), "{page}");
    assert!(page.contains("<b>Not as engineer</b>: flights"), "{page}");
    let table = "title,worksite,class,needed by,minutes\r\nTurn the cover,W-1,2,G-1,40";
    let sent = send(&app, "by-heads", table).await;
    let page = through(&app, &sent.location).await.body;
    assert!(!page.contains("Rows refused"), "{page}");
    assert!(page.contains("class, left out"), "{page}");
    assert!(page.contains("<dt>New</dt><dd>1</dd>"), "{page}");
}

#[sqlx::test]
async fn two_heads_for_one_column_are_asked_about_and_a_list_of_people_is_told(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    let table = "title,site,description,notes,minutes\r\nTurn the cover,W-1,slowly,by hand,40";
    let sent = send(&app, "tasks", table).await;
    let page = through(&app, &sent.location).await.body;
    assert!(
        page.contains("“description” and “notes” both stand for Notes. “description” is left out"),
        "{page}"
    );
    assert!(page.contains("<dt>New</dt><dd>1</dd>"), "{page}");
    let people = send(&app, "by-heads", "Name,Role,Email,Shift\r\nC-1,lead,x,a").await;
    assert_eq!(people.status, 422);
    assert!(people.body.contains("looks like a list of people"), "{}", people.body);
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
