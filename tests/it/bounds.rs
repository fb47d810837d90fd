//! What a request may hold is bounded, and what nobody asked for is not kept.

use std::time::Duration;

use app::sweep;
use axum::body::Body;
use axum::http::{Request, header};
use domain::bounds::{MAX_HELD_BYTES, MAX_HELD_FORMS, MAX_LIST_ENTRIES};
use domain::words::Role;
use sqlx::{Connection as _, SqliteConnection, SqlitePool};

use crate::small_record::lay;
use crate::support::{TestApp, logged, password_of};

async fn held_forms(app: &TestApp) -> i64 {
    counted(app, "SELECT count(*) FROM held_form").await
}

#[expect(
    clippy::disallowed_methods,
    reason = "the checked macros have a schema in the store alone"
)]
async fn counted(app: &TestApp, sql: &'static str) -> i64 {
    let mut db = app.app.db.reader().await.unwrap();
    sqlx::query_scalar(sql).fetch_one(&mut *db).await.unwrap()
}

#[sqlx::test]
async fn a_word_of_six_thousand_letters_is_refused_wherever_words_are_searched(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    for letters in [61, 3_000, 6_000] {
        for page in ["search", "open", "history", "slots", "excursions", "tools", "open.csv"] {
            let reply = app.get(&format!("/{page}?q={}", "a".repeat(letters))).await;
            assert!([400, 414].contains(&reply.status.as_u16()), "{page}: {}", reply.status);
            let bound = match letters {
                61 => "at most 60",
                3_000 => "at most 400",
                _ => "at most 4096",
            };
            assert!(reply.body.contains(bound), "{page}: {}", reply.body);
        }
    }
    let many_words = "bolt+".repeat(100);
    let reply = app.get(&format!("/search?q={many_words}")).await;
    assert!(reply.status == 400 && reply.body.contains("at most 400"), "{}", reply.body);
    assert_eq!(app.get(&format!("/search?q={}", "a".repeat(60))).await.status, 200);
}

#[sqlx::test]
async fn a_head_that_is_too_long_is_refused_in_words(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    for (letters, status) in [(15_000, 200), (17_000, 431)] {
        let request = Request::get("/open").header("x-long", "x".repeat(letters));
        let reply = app.send(request.body(Body::empty()).unwrap()).await;
        assert_eq!(reply.status, status, "{}", reply.body);
        assert_eq!(reply.body.contains("at most 16384 are read"), status == 431);
    }
}

#[sqlx::test]
async fn a_list_beyond_its_bound_is_refused_at_its_field(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    app.get("/findings/new").await;
    let codes: Vec<String> = (0..=MAX_LIST_ENTRIES).map(|n| format!("A-{n:06}")).collect();
    let reply = app.post("/findings/new", &[("attempts", &codes.join(", "))]).await;
    assert_eq!(reply.status, 422);
    let words = format!("This list has {} entries; at most 500 are kept.", MAX_LIST_ENTRIES + 1);
    assert!(reply.body.contains(&words), "{}", reply.body);
}

#[sqlx::test]
async fn a_busy_writer_delays_no_page_that_only_reads(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let writer = app.app.db.begin().await.unwrap();
    for _ in 0..3 {
        // Long enough for the use of the session to be noted.
        app.wait_minutes(5);
        let reply = tokio::time::timeout(Duration::from_secs(8), app.get("/open")).await;
        assert_eq!(reply.expect("the page waits for the writer").status, 200);
    }
    // What was noted in memory counts: the session goes on.
    app.wait_minutes(50);
    assert_eq!(app.get("/account").await.status, 200);
    drop(writer);
}

// Source: SQLite documentation, File Locking And Concurrency In SQLite Version 3 (another process that
// holds the lock to write).
#[sqlx::test]
async fn a_file_that_another_program_locks_delays_no_page_that_only_reads(db: SqlitePool) {
    let file = db.connect_options();
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let mut other = SqliteConnection::connect_with(&file).await.unwrap();
    sqlx::raw_sql("BEGIN IMMEDIATE").execute(&mut other).await.unwrap();
    for _ in 0..2 {
        app.wait_minutes(5);
        for page in ["/", "/open", "/search?q=bolt"] {
            let reply = tokio::time::timeout(Duration::from_secs(8), app.get(page)).await;
            assert_eq!(reply.expect("the page waits for the lock").status, 200, "{page}");
        }
    }
    drop(other);
}

// Source: SQLite documentation, PRAGMA max_page_count (SQLITE_FULL, as on a full disk).
#[sqlx::test]
async fn a_full_disk_leaves_what_can_be_read_and_says_what_was_not_saved(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    let mut tx = app.app.db.begin().await.unwrap();
    sqlx::raw_sql("PRAGMA max_page_count = 1").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    // Somebody saves until there is no room.
    let words = "nothing but words ".repeat(1_000);
    let mut refused = None;
    for number in 0..60 {
        app.get("/tasks/new").await;
        let title = format!("stow{number}");
        let fields = [("title", title.as_str()), ("from_excursion", "E-37.1"), ("notes", &words)];
        let reply = app.post("/tasks/new", &fields).await;
        if reply.status != 303 {
            refused = Some((title, reply));
            break;
        }
    }
    let (title, reply) = refused.expect("the disk is never full");
    assert!(reply.status.is_server_error(), "{}", reply.status);
    assert!(reply.body.contains("Nothing was changed"), "{}", reply.body);
    assert!(!app.get("/open").await.body.contains(&title), "it is in the list");
    for _ in 0..3 {
        app.wait_minutes(30);
        for page in ["/", "/open", "/search?q=words"] {
            assert_eq!(app.get(page).await.status, 200, "{page}");
        }
    }
}

#[sqlx::test]
async fn a_writer_that_fails_delays_no_page_that_only_reads(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let mut tx = app.app.db.begin().await.unwrap();
    // Every note fails from now on, as it does on a full disk.
    sqlx::raw_sql(
        "CREATE TRIGGER no_notes BEFORE UPDATE ON session BEGIN SELECT RAISE(ABORT, 'full'); END",
    )
    .execute(&mut *tx)
    .await
    .unwrap();
    tx.commit().await.unwrap();
    for _ in 0..3 {
        app.wait_minutes(30);
        assert_eq!(app.get("/open").await.status, 200);
    }
}

#[sqlx::test]
async fn nothing_of_somebody_unknown_is_kept(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let fields = [("title".to_owned(), "a".repeat(100_000)), ("csrf".to_owned(), String::new())];
    for _ in 0..5 {
        let reply = app.post_only("/tasks/new", &fields).await;
        assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/sign-in?form=not-kept"));
    }
    app.set_cookie("holdover-session", "c".repeat(64).as_str());
    app.post_only("/tasks/new", &fields).await;
    assert_eq!(held_forms(&app).await, 0);
    let page = app.get("/sign-in?form=not-kept").await;
    assert!(page.body.contains("the form was not saved"), "{}", page.body);
}

#[sqlx::test]
async fn what_is_kept_of_an_ended_session_is_small_few_and_short(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    app.wait_minutes(61);
    for n in 0..6 {
        let fields = [("title".to_owned(), format!("kept {n}"))];
        app.post_only("/tasks/new", &fields).await;
    }
    assert_eq!(held_forms(&app).await, MAX_HELD_FORMS);
    let large = [("title".to_owned(), "a".repeat(MAX_HELD_BYTES))];
    let reply = app.post_only("/tasks/new", &large).await;
    assert_eq!(reply.location, "/sign-in?form=not-kept");
    assert_eq!(held_forms(&app).await, MAX_HELD_FORMS);
    app.wait_minutes(61);
    sweep::once(&app.app).await.unwrap();
    assert_eq!(held_forms(&app).await, 0);
}

#[sqlx::test]
async fn what_is_of_no_use_any_more_is_removed_by_age(db: SqlitePool) {
    const FORMS: &str = "SELECT count(*) FROM taken_form";
    const SESSIONS: &str = "SELECT count(*) FROM session";
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    app.get("/tasks/new").await;
    app.post("/account/theme", &[("theme", "night")]).await;
    app.get("/people").await;
    lay(&app.app).await;
    app.get("/tasks/new").await;
    let reply = app.post("/tasks/new", &[("title", "Swap the lamp"), ("code", "T-0900")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let before = counted(&app, FORMS).await;
    assert!(before > 0 && counted(&app, SESSIONS).await == 1);
    sweep::once(&app.app).await.unwrap();
    assert_eq!(counted(&app, FORMS).await, before, "still young");
    app.wait_minutes(8 * 24 * 60);
    sweep::once(&app.app).await.unwrap();
    assert_eq!((counted(&app, FORMS).await, counted(&app, SESSIONS).await), (0, 0));
}

#[sqlx::test]
async fn guessing_the_current_password_is_limited_as_at_the_sign_in(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let new = "a lamp over the wet deck";
    let guess = async |current: &str| {
        app.get("/account").await;
        app.post("/account/password", &[("current", current), ("new", new), ("again", new)]).await
    };
    for _ in 0..5 {
        assert!(guess("wrong").await.body.contains("not your current password"));
    }
    let sixth = guess(&password_of("viewer")).await;
    assert_eq!(sixth.status, 422);
    assert!(sixth.body.contains("Too many wrong passwords"), "{}", sixth.body);
    app.wait_minutes(1);
    assert_eq!(guess(&password_of("viewer")).await.status, 303);
}

#[sqlx::test]
async fn a_refusal_by_role_is_logged(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let said = logged(async {
        assert_eq!(app.get("/files/new").await.status, 403);
    })
    .await;
    assert!(said.contains("refused: not allowed") && said.contains("viewer"), "{said}");
}

#[sqlx::test]
async fn each_request_is_logged_with_who_asked(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    let said = logged(async {
        assert_eq!(app.get("/flights").await.status, 200);
        assert_eq!(app.another().get("/open").await.status, 303);
    })
    .await;
    let told = |line: &&str, path: &str| line.contains(path) && line.contains("finished");
    let line = |path: &str| said.lines().find(|line| told(line, path)).unwrap().to_owned();
    assert!(line("/flights").contains("person") && line("/flights").contains("\"lead\""), "{said}");
    assert!(!line("/open").contains("person"), "{said}");
}

#[sqlx::test]
async fn the_number_of_a_request_is_ours(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let request = Request::get("/sign-in").header("x-request-id", "of-the-client");
    let reply = app.send(request.body(Body::empty()).unwrap()).await;
    assert_eq!(reply.header("x-request-id").len(), 36, "{}", reply.header("x-request-id"));
}

#[sqlx::test]
async fn a_form_of_another_session_is_logged_whichever_way_it_is_packed(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let said = logged(async {
        let body =
            "--e\r\nContent-Disposition: form-data; name=\"csrf\"\r\n\r\nanother\r\n--e--\r\n";
        let request = Request::post("/import")
            .header(header::CONTENT_TYPE, "multipart/form-data; boundary=e")
            .header("sec-fetch-site", "same-origin")
            .body(Body::from(body))
            .unwrap();
        assert_eq!(app.send(request).await.status, 403);
    })
    .await;
    assert!(said.contains("the token is not of its session"), "{said}");
}

#[sqlx::test]
async fn the_log_has_no_name_that_was_typed_at_a_sign_in_that_failed(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let typed = "wet-gloves-typed-as-a-name";
    let said = logged(async {
        app.get("/sign-in").await;
        for _ in 0..8 {
            app.post("/sign-in", &[("name", typed), ("password", "wrong")]).await;
        }
        app.get("/welcome/0123456789abcdef0123456789abcdef").await;
        let request = Request::post(format!("/tasks/new?next={typed}"))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from("title=x"))
            .unwrap();
        app.send(request).await;
    })
    .await;
    assert!(said.contains("a password was wrong") && said.contains("/sign-in"), "{said}");
    assert!(!said.contains(typed), "{said}");
    assert!(!said.contains("0123456789abcdef"), "{said}");
}
