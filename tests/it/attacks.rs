//! What one signed-in person could send to stop the service or fill its disk: refused with its bound
//! before anything is made of it.

use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use app::config::Config;
use axum::body::Body;
use axum::http::{Request, header};
use domain::bounds::{MAX_DRAFT_BYTES, MAX_FILE_PARTS, MAX_FORM_FILES, MAX_PRACTICES, MAX_PRESSES};
use domain::words::Role;
use sqlx::SqlitePool;
use store::Db;
use tempfile::TempDir;

use crate::debrief::fly;
use crate::evidence::{picture, png};
use crate::small_record::{FLOWN, lay};
use crate::support::{Reply, TestApp};

const EDGE: &str = "edge-of-the-parts";
const DEBRIEF: &str = "/excursions/E-37.1/debrief";
/// Every address that takes files.
const DOORS: [&str; 5] = ["/files/new", DEBRIEF, "/attempts/new", "/attempts/A-1/edit", "/import"];

fn part(head: &str, body: &[u8]) -> Vec<u8> {
    let head = format!("--{EDGE}\r\nContent-Disposition: form-data; {head}\r\n\r\n");
    [head.as_bytes(), body, b"\r\n"].concat()
}

fn field(name: &str, value: &str) -> Vec<u8> {
    part(&format!("name=\"{name}\""), value.as_bytes())
}

fn file(name: &str, bytes: &[u8]) -> Vec<u8> {
    part(&format!("name=\"{name}\"; filename=\"jam.png\""), bytes)
}

/// Sends a form of these parts, one after the other; beside the answer, how many of them were read.
async fn sent(app: &TestApp, path: &str, parts: Vec<Vec<u8>>) -> (Reply, usize) {
    let read = Arc::new(AtomicUsize::new(0));
    let count = Arc::clone(&read);
    let end = format!("--{EDGE}--\r\n").into_bytes();
    let pieces = parts.into_iter().chain([end]).map(move |piece| {
        count.fetch_add(1, Ordering::Relaxed);
        Ok::<_, Infallible>(piece)
    });
    let request = Request::post(path)
        .header(header::CONTENT_TYPE, format!("multipart/form-data; boundary={EDGE}"))
        .header("sec-fetch-site", "same-origin")
        .body(Body::from_stream(futures_util::stream::iter(pieces)))
        .unwrap();
    let reply = app.send(request).await;
    (reply, read.load(Ordering::Relaxed))
}

/// The token of the session, as the first part of a form.
async fn token(app: &TestApp) -> Vec<u8> {
    app.get("/account").await;
    field("csrf", &csrf(app))
}

fn csrf(app: &TestApp) -> String {
    app.hidden("/nowhere").into_iter().find(|(name, _)| name == "csrf").unwrap().1
}

/// The names in the folder of the contents.
/// What stands there for good: a photograph that waits for its form goes by age.
fn on_disk(app: &TestApp) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(app.app.db.contents().path("")) else { return Vec::new() };
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| !name.starts_with("incoming-photo-"));
    names.sort();
    names
}

/// A lead at the small record in a folder of its own: those of other tests share one for contents.
async fn alone(folder: &TempDir) -> TestApp {
    let db = Db::open(&folder.path().join("holdover.db")).await.unwrap();
    let lead = TestApp::of(db, Config::default()).signed_in(Role::Lead).await;
    lay(&lead.app).await;
    lead
}

/// A person of this role there, with E-37.1 flown.
async fn flown(folder: &TempDir, role: Role) -> TestApp {
    let lead = alone(folder).await;
    fly(&lead).await;
    if role == Role::Lead {
        return lead;
    }
    lead.another().signed_in(role).await
}

#[tokio::test]
async fn who_may_not_keep_files_is_refused_at_every_door_before_one_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Viewer).await;
    let photograph = png(&picture(90, 60, 31));
    for door in DOORS {
        let mut form = vec![token(&app).await];
        form.extend((0..30).map(|_| file("r0-photo", &photograph)));
        let (reply, read) = sent(&app, door, form).await;
        assert_eq!(reply.status, 403, "{door}: {}", reply.body);
        assert!(reply.body.contains("may not"), "{door}");
        assert!(read <= 1, "{door}: {read} parts were read");
        assert_eq!(on_disk(&app), Vec::<String>::new(), "{door}");
    }
}

#[tokio::test]
async fn a_debrief_that_takes_no_result_keeps_no_file_and_what_was_typed() {
    let folder = tempfile::tempdir().unwrap();
    let app = alone(&folder).await;
    for (door, status) in [(DEBRIEF, 409), ("/excursions/E-NOPE/debrief", 404)] {
        let photograph = file("r0-photo", &png(&picture(90, 60, 32)));
        let form = vec![token(&app).await, field("r0-words", "the pin turned"), photograph];
        let (reply, _) = sent(&app, door, form).await;
        assert_eq!(reply.status, status, "{door}: {}", reply.body);
        assert!(reply.body.contains("the pin turned"), "{door}: {}", reply.body);
        assert_eq!(on_disk(&app), Vec::<String>::new(), "{door}");
    }
}

#[tokio::test]
async fn twenty_thousand_parts_are_not_read_to_their_end() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Engineer).await;
    let mut form = vec![token(&app).await];
    form.extend((0..20_000).map(|n| file(&format!("f{n}"), b"")));
    let (reply, read) = sent(&app, DEBRIEF, form).await;
    assert_eq!(reply.status, 413, "{}", reply.body);
    assert!(reply.body.contains("more than 300 places for files"), "{}", reply.body);
    assert!(read <= MAX_FILE_PARTS + 3, "{read} parts were read");
    assert_eq!(on_disk(&app), Vec::<String>::new());

    let long = format!("name=\"a\"; filename=\"{}\"", "n".repeat(17_000));
    let (reply, _) = sent(&app, DEBRIEF, vec![token(&app).await, part(&long, b"x")]).await;
    assert_eq!(reply.status, 413, "{}", reply.body);
    assert!(reply.body.contains("longer than 16384 bytes"), "{}", reply.body);
}

/// The form of the debrief as its page has it, with these parts.
async fn debriefed(app: &TestApp, more: Vec<Vec<u8>>) -> Reply {
    app.get(DEBRIEF).await;
    let own = app.hidden(DEBRIEF).into_iter().map(|(name, value)| field(&name, &value));
    let mut form: Vec<Vec<u8>> = own.collect();
    form.sort_by_key(|part| !String::from_utf8_lossy(part).contains("name=\"csrf\""));
    form.extend(more);
    sent(app, DEBRIEF, form).await.0
}

#[tokio::test]
async fn what_no_row_names_does_not_stay_on_the_disk() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Lead).await;
    let photograph = png(&picture(900, 600, 33));
    // An attempt that is not valid, beside a photograph that is.
    let form = || async {
        let task = field("task", "T-3");
        vec![token(&app).await, task, file("photo", &photograph)]
    };
    let (reply, _) = sent(&app, "/attempts/new", form().await).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert_eq!(on_disk(&app), Vec::<String>::new(), "of an attempt that is not valid");

    // Rows are saved and photographs named before the page fails.
    let mut tx = app.app.db.begin().await.unwrap();
    let broken = "CREATE TRIGGER no_form BEFORE INSERT ON taken_form \
                  BEGIN SELECT RAISE(ABORT, 'full'); END";
    sqlx::raw_sql(broken).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    let row = || vec![field("r0-outcome", "done"), field("r0-minutes", "30")];
    let mut more = row();
    more.push(file("r0-photo", &photograph));
    let reply = debriefed(&app, more.clone()).await;
    assert_eq!(reply.status, 500, "{}", reply.body);
    assert!(reply.body.contains("Nothing was changed"), "{}", reply.body);
    assert_eq!(on_disk(&app), Vec::<String>::new(), "of a debrief that broke off");

    let mut tx = app.app.db.begin().await.unwrap();
    sqlx::raw_sql("DROP TRIGGER no_form").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    let reply = debriefed(&app, more).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(on_disk(&app).len(), 2, "the photograph and its preview");
}

#[tokio::test]
async fn of_one_photograph_more_than_a_debrief_may_bring_none_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Lead).await;
    let small = file("r0-photo", &png(&picture(8, 8, 34)));
    let mut more = vec![field("r0-outcome", "done"), field("r0-minutes", "30")];
    more.extend(std::iter::repeat_n(small, MAX_FORM_FILES + 1));
    let reply = debriefed(&app, more).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("More than 40 photographs"), "{}", reply.body);
    assert!(reply.body.contains("none of them is kept"), "{}", reply.body);
    assert_eq!(on_disk(&app), Vec::<String>::new());
}

/// What anybody signed in may send; it may wait for the writer.
fn is_for_everybody(path: &str) -> bool {
    let own = ["/account", "/held", "/looked", "/sign-out", "/open/views"];
    own.iter().any(|start| path.starts_with(start))
}

#[sqlx::test]
async fn a_viewer_is_refused_everywhere_without_waiting_for_the_writer(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    lay(&app.app).await;
    app.get("/account").await;
    let csrf = csrf(&app);
    let open = ["/feeds/", "/sign-in", "/welcome/", "/static/", "/healthz", "/readyz"];
    let all = web::addresses_answered();
    let paths = all.iter().filter(|path| !open.iter().any(|start| path.starts_with(start)));
    let paths: Vec<String> = paths.map(|path| path.replace(['{', '}'], "")).collect();
    let writer = app.app.db.begin().await.unwrap();
    let mut refused = 0;
    for path in paths.iter().filter(|path| !is_for_everybody(path)) {
        let form = [("csrf".to_owned(), csrf.clone())];
        let asked = tokio::time::timeout(Duration::from_secs(5), app.post_only(path, &form)).await;
        let reply = asked.unwrap_or_else(|_| panic!("{path} waits for the writer"));
        assert!([403, 405].contains(&reply.status.as_u16()), "{path}: {}", reply.status);
        refused += usize::from(reply.status == 403);
    }
    assert!(refused > 80, "{refused}");
    drop(writer);
}

#[sqlx::test]
async fn a_thirteenth_word_is_refused_wherever_words_are_searched(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    for page in ["search", "open", "history", "slots", "excursions", "tools", "open.csv"] {
        let reply = app.get(&format!("/{page}?q={}", "bolt+".repeat(13))).await;
        assert_eq!(reply.status, 400, "{page}");
        assert!(reply.body.contains("13 words; at most 12"), "{page}: {}", reply.body);
    }
    assert_eq!(app.get(&format!("/search?q={}", "bolt+".repeat(12))).await.status, 200);
}

#[sqlx::test]
async fn a_full_board_takes_no_press_but_one_that_it_has(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "engineer").await;
    let press = async |key: &str| {
        app.get("/excursions/E-37.1/day").await;
        let fields = [("key", key), ("press", "egress"), ("egress_at", "2031-03-11 12:30")];
        app.post("/excursions/E-37.1/day/press", &fields).await
    };
    assert_eq!(press("first").await.status, 200);
    let mut tx = app.app.db.begin().await.unwrap();
    let fill = format!(
        "WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < {MAX_PRESSES}) \
         INSERT INTO day_press (excursion, key, act, egress_at, pressed_at, saved_at, who) \
         SELECT excursion, 'k' || i, act, egress_at, pressed_at, saved_at, who FROM day_press, n"
    );
    sqlx::raw_sql(sqlx::AssertSqlSafe(fill)).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    let reply = press("one more").await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("2000 presses, the most"), "{}", reply.body);
    assert_eq!(press("first").await.status, 200, "it counts once");
}

#[sqlx::test]
async fn practices_at_once_are_bounded(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    for n in 0..=MAX_PRACTICES {
        app.get("/excursions/E-37.1").await;
        let reply = app.post("/excursions/E-37.1/practice", &[("pace", "60")]).await;
        assert_eq!(reply.status, if n < MAX_PRACTICES { 303 } else { 409 }, "{n}: {}", reply.body);
        if n == MAX_PRACTICES {
            assert!(reply.body.contains("20 practices"), "{}", reply.body);
        }
    }
}

#[tokio::test]
async fn a_row_is_kept_as_typed_up_to_its_bound_and_with_its_own_fields() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Lead).await;
    app.get(DEBRIEF).await;
    let rows = format!("{DEBRIEF}/rows");
    let long = "w".repeat(MAX_DRAFT_BYTES);
    let fields = [("r0-key", "extra 1"), ("r0-task", "T-3"), ("r0-words", long.as_str())];
    let reply = app.post(&rows, &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("at most 131072 are kept as typed"), "{}", reply.body);
    assert!(reply.body.starts_with("{\"words\":\"Not saved: "), "{}", reply.body);

    app.get(DEBRIEF).await;
    let fields = [("r0-key", "extra 1"), ("r0-task", "T-3"), ("r0-no_such_field", "x")];
    assert_eq!(app.post(&rows, &fields).await.status, 200);
    let mut db = app.app.db.reader().await.unwrap();
    let drafts = store::drafts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    assert_eq!(drafts.len(), 1);
    assert!(!drafts[0].body.contains("no_such_field"), "{}", drafts[0].body);
}

#[tokio::test]
async fn tools_beyond_the_bound_of_a_debrief_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Lead).await;
    app.get(DEBRIEF).await;
    let mut fields = app.hidden(DEBRIEF);
    fields.extend((0..201).map(|n| (format!("t{n}-tool"), "L-1".to_owned())));
    let reply = app.post_only(DEBRIEF, &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("201 tools; at most 200"), "{}", reply.body);
}

#[tokio::test]
async fn a_page_stands_whatever_marks_its_words_hold() {
    let folder = tempfile::tempdir().unwrap();
    let app = flown(&folder, Role::Lead).await;
    let marks = format!("{}{}", "“".repeat(10_000), "”".repeat(10_000));
    app.get("/excursions/E-37.1/edit").await;
    let reply = app.post("/excursions/E-37.1/edit", &[("notes", &marks)]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    app.get("/tasks/new").await;
    let fields = [("title", "marks"), ("from_excursion", "E-37.1"), ("notes", &marks)];
    let reply = app.post("/tasks/new", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(app.get("/excursions/E-37.1").await.status, 200);
}
