//! What needs a person, and what is left when nothing does.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{FLOWN, lay, made};
use crate::support::TestApp;

#[sqlx::test]
async fn an_excursion_that_was_flown_and_not_closed_leads_to_its_debrief(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    assert!(!app.get("/").await.body.contains("/excursions/E-37.1/debrief"));
    app.wait_until(FLOWN, "lead").await;
    app.get("/excursions/E-37.1").await;
    assert_eq!(app.post("/excursions/E-37.1/flown", &[]).await.status, 303);
    let page = app.get("/").await.body;
    assert!(page.contains("href=\"/excursions/E-37.1/debrief\""), "{page}");
}

#[sqlx::test]
async fn a_late_item_stands_there_with_codes_that_are_links(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    lay(&app.app).await;
    made(
        &app.app,
        Kind::Task,
        "code: T-900 | title: Close the vent | class: 1 | needed_by_flight: G-37",
    )
    .await;
    let page = app.get("/").await.body;
    assert!(
        page.contains("Close the vent, needed by <a class=\"code\" href=\"/flights/G-37\">"),
        "{page}"
    );
}
