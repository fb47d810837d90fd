//! A day with more results than one page has: seven rows on a page, and nothing lost between them.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::debrief::fly;
use crate::small_record::{lay, made, slot, task};
use crate::support::TestApp;

const DEBRIEF: &str = "/excursions/E-37.1/debrief";

/// A lead before a flown excursion of fourteen slots.
async fn fourteen(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    for number in 10..22 {
        let code = format!("T-{number}");
        made(&app.app, Kind::Task, &task(&code)).await;
        let seat = if number % 2 == 0 { "EV1" } else { "EV2" };
        made(&app.app, Kind::Slot, &slot(&format!("S-{number}"), &code, seat)).await;
    }
    fly(&app).await;
    app
}

fn rows(page: &str) -> usize {
    page.matches("id=\"row-r").count()
}

#[sqlx::test]
async fn saving_goes_on_to_the_next_rows(db: SqlitePool) {
    let app = fourteen(db).await;
    let first = app.get(DEBRIEF).await.body;
    assert_eq!(rows(&first), 7, "{first}");
    assert!(
        first.contains("0 of 14 complete") && first.contains("Save, then the next 7"),
        "{first}"
    );

    let done = [("r0-outcome", "done"), ("r0-minutes", "30"), ("do", "rows 2")];
    let reply = app.post(DEBRIEF, &done).await;
    assert_eq!((reply.status.as_u16(), reply.location), (303, format!("{DEBRIEF}?rows=2")));
    let second = app.get(&format!("{DEBRIEF}?rows=2")).await.body;
    assert_eq!(rows(&second), 7, "{second}");
    assert!(second.contains("1 of 14 complete"), "what was typed on the first page is saved");

    // A row of the second page is saved like any other, and the page stays.
    let done = [("r12-outcome", "done"), ("r12-minutes", "20"), ("do", "save")];
    let reply = app.post(DEBRIEF, &done).await;
    assert_eq!((reply.status.as_u16(), reply.location), (303, format!("{DEBRIEF}?rows=2")));
    assert!(app.get(DEBRIEF).await.body.contains("2 of 14 complete"));
}

#[sqlx::test]
async fn what_is_wanted_on_another_page_is_named_with_it(db: SqlitePool) {
    let app = fourteen(db).await;
    app.get(&format!("{DEBRIEF}?rows=2")).await;
    let reply = app.post(DEBRIEF, &[("do", "close")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert_eq!(rows(&reply.body), 7, "the first page on which something is wanted");
    assert_eq!(reply.body.matches("It is on page 2.").count(), 7, "{}", reply.body);
    assert!(reply.body.contains("href=\"#r0-outcome\"") && reply.body.contains("href=\"#rows\""));
    assert!(!reply.body.contains("href=\"#r12-outcome\""), "nothing leads where nothing stands");
}
