//! What is said of the record where something goes wrong on our side: before the commit, at it, and
//! after it; on pages and to scripts alike.

use axum::http::StatusCode;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::debrief::mark_flown;
use crate::small_record::{FLOWN, lay};
use crate::support::{Reply, TestApp, logged, password_of};

async fn sql(app: &TestApp, sql: &'static str) {
    let mut tx = app.app.db.begin().await.unwrap();
    sqlx::raw_sql(sql).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
}

/// Lets every commit fail that follows a write to the log of presses or the drafts.
// Source: SQLite documentation, Foreign Key Support, section 4.2 (a deferred constraint that is
// violated fails the commit).
const NO_COMMIT: &str = "
    CREATE TABLE nobody (code TEXT PRIMARY KEY) STRICT;
    CREATE TABLE fault (of TEXT REFERENCES nobody (code) DEFERRABLE INITIALLY DEFERRED) STRICT;
    CREATE TRIGGER no_press AFTER INSERT ON day_press BEGIN INSERT INTO fault VALUES ('x'); END;
    CREATE TRIGGER no_draft AFTER INSERT ON debrief_draft BEGIN INSERT INTO fault VALUES ('x'); END;
    CREATE TRIGGER no_form AFTER INSERT ON taken_form BEGIN INSERT INTO fault VALUES ('x'); END;";
/// Lets every write to them fail.
const NO_WRITE: &str = "
    CREATE TRIGGER no_press BEFORE INSERT ON day_press BEGIN SELECT RAISE(ABORT, 'full'); END;
    CREATE TRIGGER no_draft BEFORE INSERT ON debrief_draft BEGIN SELECT RAISE(ABORT, 'full'); END;
    CREATE TRIGGER no_form BEFORE INSERT ON taken_form BEGIN SELECT RAISE(ABORT, 'full'); END;";

const DEBRIEF: &str = "/excursions/E-37.1/debrief";
const DAY: &str = "/excursions/E-37.2/day";
/// The day of the excursion after the one that is flown.
const NEXT_DAY: &str = "2031-03-12T14:20:00Z";

/// One excursion is flown, the next is under way.
async fn flown(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "lead").await;
    mark_flown(&app).await;
    app.wait_until(NEXT_DAY, "lead").await;
    app.get(DAY).await;
    let egress = [("key", "e1"), ("press", "egress"), ("egress_at", "2031-03-12 12:30")];
    let reply = app.post(&format!("{DAY}/press"), &egress).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    app
}

/// Everything that a script writes.
async fn quiet_saves(app: &TestApp) -> [Reply; 2] {
    app.get(DEBRIEF).await;
    let row = [("r0-key", "extra 1"), ("r0-task", "T-3"), ("r0-words", "it turned")];
    let row = app.post(&format!("{DEBRIEF}/rows"), &row).await;
    app.get(DAY).await;
    let press = [("key", "k1"), ("press", "undo"), ("undoes", "e1")];
    [row, app.post(&format!("{DAY}/press"), &press).await]
}

fn is_json(reply: &Reply) -> bool {
    reply.header("content-type") == "application/json"
}

#[sqlx::test]
async fn a_script_is_told_what_a_page_says_and_the_cause_is_logged(db: SqlitePool) {
    let app = flown(db).await;
    sql(&app, NO_COMMIT).await;
    let log = logged(async {
        for reply in quiet_saves(&app).await {
            assert_eq!(reply.status, 500, "{}", reply.body);
            assert!(is_json(&reply), "{}", reply.body);
            assert!(reply.body.contains("It may have been saved, or not"), "{}", reply.body);
            assert!(!reply.body.contains("Not saved"), "{}", reply.body);
        }
    })
    .await;
    assert_eq!(log.matches("a commit failed").count(), 2, "{log}");
    assert!(log.contains("FOREIGN KEY"), "{log}");
    let page = app.post(DAY, &[("press", "undo"), ("undoes", "e1")]).await;
    assert_eq!(page.status, 500);
    assert!(page.body.contains("It may have been saved, or not"), "{}", page.body);
}

#[sqlx::test]
async fn what_failed_before_its_commit_changed_nothing_and_says_so(db: SqlitePool) {
    let app = flown(db).await;
    sql(&app, NO_WRITE).await;
    let log = logged(async {
        for reply in quiet_saves(&app).await {
            assert_eq!(reply.status, 500, "{}", reply.body);
            assert!(
                is_json(&reply) && reply.body.contains("Nothing was changed"),
                "{}",
                reply.body
            );
        }
    })
    .await;
    assert_eq!(log.matches("an operation failed").count(), 2, "{log}");
    app.get("/tasks/new").await;
    let page = app.post("/tasks/new", &[("title", "one more")]).await;
    assert_eq!(page.status, 500);
    assert!(page.body.contains("Nothing was changed"), "{}", page.body);
}

/// It waits as long as people wait for the writer: fifteen seconds, once for all.
#[sqlx::test]
async fn a_writer_that_does_not_come_free_is_told_with_a_time_to_try_again(db: SqlitePool) {
    let app = flown(db).await;
    app.get(DAY).await;
    let hidden = app.hidden(DAY);
    let form = |more: &[(&str, &str)]| {
        let more = more.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned()));
        hidden.iter().filter(|(name, _)| name == "csrf").cloned().chain(more).collect::<Vec<_>>()
    };
    let row = form(&[("r0-key", "extra 1"), ("r0-task", "T-3")]);
    let press = form(&[("key", "k1"), ("press", "egress")]);
    let page = form(&[("form_key", "k2"), ("press", "egress")]);
    let writer = app.app.db.begin().await.unwrap();
    let (rows, day) = (format!("{DEBRIEF}/rows"), format!("{DAY}/press"));
    let (row, press, page) = tokio::join!(
        app.post_only(&rows, &row),
        app.post_only(&day, &press),
        app.post_only(DAY, &page)
    );
    drop(writer);
    for reply in [&row, &press, &page] {
        assert_eq!(reply.status, StatusCode::SERVICE_UNAVAILABLE, "{}", reply.body);
        assert_eq!(reply.header("retry-after"), "10");
        assert!(reply.body.contains("Nothing was changed"), "{}", reply.body);
    }
    assert!(is_json(&row) && is_json(&press) && page.is_html());
}

#[sqlx::test]
async fn a_script_is_refused_by_role_as_json_and_by_session_as_a_page(db: SqlitePool) {
    let app = flown(db).await;
    let viewer = app.another().signed_in(Role::Viewer).await;
    for reply in quiet_saves(&viewer).await {
        assert_eq!(reply.status, 403, "{}", reply.body);
        assert!(is_json(&reply) && reply.body.contains("may not"), "{}", reply.body);
    }
    let stale = [("csrf".to_owned(), "0".repeat(64)), ("key".to_owned(), "k".to_owned())];
    let reply = app.post_only(&format!("{DAY}/press"), &stale).await;
    assert!(reply.status == 403 && reply.is_html(), "{}", reply.body);
}

#[sqlx::test]
async fn a_form_that_was_taken_is_answered_though_the_held_one_stays(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    app.wait_minutes(61);
    app.post("/people", &[("name", "ebba"), ("role", "lead")]).await;
    app.get("/sign-in?next=%2Fheld").await;
    let password = password_of("administrator");
    app.post("/sign-in", &[("name", "administrator"), ("password", &password)]).await;
    sql(
        &app,
        "CREATE TRIGGER stays BEFORE DELETE ON held_form BEGIN SELECT RAISE(ABORT, 'full'); END",
    )
    .await;
    app.get("/held").await;
    let reply = app.post("/people", &[("name", "ebba"), ("role", "lead")]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert!(!reply.body.contains("Nothing was changed"));
    assert!(app.get("/people").await.body.contains("ebba"));
}

#[sqlx::test]
async fn a_password_that_was_set_is_not_denied_where_no_session_opens(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let made = app.post("/people", &[("name", "ebba"), ("role", "lead")]).await;
    let link = made.body.split("/welcome/").nth(1).unwrap();
    let link: String = link.chars().take_while(char::is_ascii_alphanumeric).collect();
    let guest = app.another();
    let at = format!("/welcome/{link}");
    assert_eq!(guest.get(&at).await.status, 200);
    sql(
        &app,
        "CREATE TRIGGER none BEFORE INSERT ON session BEGIN SELECT RAISE(ABORT, 'full'); END",
    )
    .await;
    let password = password_of("ebba");
    let reply = guest.post(&at, &[("password", &password), ("again", &password)]).await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/sign-in"), "{}", reply.body);
    sql(&app, "DROP TRIGGER none").await;
    assert!(guest.get("/sign-in").await.body.contains("Your password is set"));
    guest.sign_in("ebba").await;
}
