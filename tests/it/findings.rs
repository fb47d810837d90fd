//! Findings and remedies in pages: nobody reviews or verifies their own.

use holdover::domain::kinds::Kind;
use holdover::domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

/// N-900 explains A-900, written by the person who is signed in.
async fn written(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    made(
        &app.app,
        Kind::Flight,
        "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown",
    )
    .await;
    made(
        &app.app,
        Kind::Excursion,
        "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-01 | state: flown",
    )
    .await;
    made(
        &app.app,
        Kind::Attempt,
        "code: A-900 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir | outcome: not completed | cause: 3",
    )
    .await;
    app.get("/findings/new").await;
    let fields = [
        ("code", "N-900"),
        ("attempts", "A-900"),
        ("cause", "3"),
        ("words", "A bracket is in the way."),
    ];
    let made = app.post("/findings/new", &fields).await;
    assert_eq!(made.status, 303, "{}", made.body);
    app
}

#[sqlx::test]
async fn nobody_reviews_their_own_finding(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    let page = app.get("/findings/N-900").await.body;
    assert!(!page.contains("action=\"/findings/N-900/review\""), "{page}");
    assert_eq!(app.post("/findings/N-900/review", &[]).await.status, 409);
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    assert_eq!(other.post("/findings/N-900/review", &[]).await.status, 303);
    assert!(other.get("/findings/N-900").await.body.contains("reviewed</span> by lead"));
}

#[sqlx::test]
async fn a_remedy_is_done_by_its_owner_and_verified_by_another(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    app.get("/remedies/new").await;
    let fields = [
        ("code", "R-900"),
        ("what", "Cut the bracket"),
        ("finding", "N-900"),
        ("attempts", "A-900"),
        ("owner", "engineer"),
        ("reach", "this unit"),
    ];
    let made = app.post("/remedies/new", &fields).await;
    assert_eq!(made.status, 303, "{}", made.body);
    app.get("/findings/N-900").await;
    let done = [("to", "done"), ("evidence", "cut in the rig")];
    assert_eq!(app.post("/remedies/R-900/move", &done).await.status, 303);
    app.get("/findings/N-900").await;
    let own = app.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    assert_eq!(own.status, 409, "{}", own.body);
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    let verified =
        other.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    assert_eq!(verified.status, 303, "{}", verified.body);
}
