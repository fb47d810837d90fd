//! What the log says of operations: what was saved, what was refused and why, and what was slow.

use std::time::Duration;

use app::Actor;
use app::work::Work;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{TestApp, logged, logged_as_json};

fn line<'a>(said: &'a str, words: &[&str]) -> &'a str {
    said.lines()
        .find(|line| words.iter().all(|word| line.contains(word)))
        .unwrap_or_else(|| panic!("no line with {words:?} in {said}"))
}

#[sqlx::test]
async fn a_save_is_told_with_kind_code_role_and_time(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    let said = logged(async {
        app.get("/worksites/new").await;
        let cells = [("code", "W-KEEL4"), ("name", "Keel truss, bay 4")];
        assert_eq!(app.post("/worksites/new", &cells).await.status, 303);
    })
    .await;

    let saved = line(&said, &["operation{", " saved", "changes=1"]);
    for word in ["role=\"lead\"", "kind=\"worksite\"", "code=\"W-KEEL4\"", " ms=", "commit_ms="] {
        assert!(saved.contains(word), "{word} is missing in {saved}");
    }
    assert!(saved.contains("request{id="), "the request is told too: {saved}");
}

#[sqlx::test]
async fn a_line_of_json_tells_the_same(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    let lines = logged_as_json(async {
        app.get("/worksites/new").await;
        let cells = [("code", "W-KEEL4"), ("name", "Keel truss, bay 4")];
        assert_eq!(app.post("/worksites/new", &cells).await.status, 303);
    })
    .await;

    let saved = lines.iter().find(|line| line["message"] == "saved" && line["changes"] == 1);
    let spans = saved.unwrap()["spans"].as_array().unwrap();
    let within = |name: &str| spans.iter().find(|span| span["name"] == name).unwrap();
    let operation = within("operation");
    let told = ["role", "kind", "code"].map(|field| operation[field].as_str().unwrap());
    assert_eq!(told, ["lead", "worksite", "W-KEEL4"]);
    assert!(within("request")["id"].is_string() || within("request")["id"].is_number());
}

#[sqlx::test]
async fn a_refused_operation_is_told_with_what_has_to_be_mended(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    let said = logged(async {
        app.get("/excursions/new").await;
        let cells = [("code", "E-37.1"), ("flight", "G-99")];
        assert_eq!(app.post("/excursions/new", &cells).await.status, 422);
    })
    .await;

    let refused = line(&said, &["not saved", "why="]);
    for word in [
        "kind=\"excursion\"",
        "code=\"E-37.1\"",
        "role=\"lead\"",
        "flight: There is no flight G-99",
    ] {
        assert!(refused.contains(word), "{word} is missing in {refused}");
    }
    line(&said, &["form not taken", "status=422", "role=\"lead\""]);
}

#[sqlx::test]
async fn an_operation_that_keeps_the_writer_long_is_warned_of(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let lead = Actor { name: "somebody".into(), role: Role::Lead };
    let said = logged(async {
        let work = Work::begin(&app.app, &lead, None).await.unwrap();
        tokio::time::sleep(Duration::from_millis(1_050)).await;
        drop(work);
    })
    .await;
    let slow = line(&said, &["WARN", "slow: no other save could begin"]);
    assert!(slow.contains("role=\"lead\"") && !slow.contains("somebody"), "{slow}");

    let said = logged(async {
        Work::begin(&app.app, &lead, None).await.unwrap().finish("/").await.unwrap();
    })
    .await;
    assert!(!said.contains("slow:"), "{said}");
}

#[sqlx::test]
async fn a_page_that_reads_long_is_warned_of(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let said = logged(async {
        let reader = app.app.db.reader().await.unwrap();
        tokio::time::sleep(Duration::from_millis(1_050)).await;
        drop(reader);
    })
    .await;
    line(&said, &["WARN", "slow: one page read for so long", "ms="]);
}
