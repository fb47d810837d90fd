//! Inhibits and training: what a slot asks of them, and how a person answers.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

/// The small record with T-3 in need of I-1, and a lead at it.
async fn record(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(&app.app, Kind::Inhibit, "code: I-1 | what: Bay heater off | owner: power | lead: 45")
        .await;
    made(
        &app.app,
        Kind::Task,
        "code: T-4 | title: Swap the bay heater | family: F-1 | worksite: W-B | sides: nadir \
         | class: 3 | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1 \
         | work_rate: moderate | needs_inhibits: I-1",
    )
    .await;
    app
}

fn verdict<'a>(page: &'a str, gate: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("data-gate=\"{gate}\" data-verdict=\"")).unwrap();
    rest.split('"').next().unwrap()
}

const CELL: &str = "/slots?cell=T-4:E-37.1";

#[sqlx::test]
async fn a_slot_waits_for_its_inhibit_and_an_engineer_takes_it_on_step_by_step(db: SqlitePool) {
    let app = record(db).await;
    let page = app.get(CELL).await.body;
    assert_eq!(verdict(&page, "inhibits"), "not-met");
    assert!(page.contains("is not asked for; power, 45 min ahead."), "{page}");
    assert!(page.contains("href=\"/inhibits/I-1\""), "{page}");
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("inhibits”, not met"), "{}", reply.body);
    // Pencilled, it shows what it needs on the excursion's page.
    assert_eq!(app.post("/slots", &[("do", "pencil")]).await.status, 303);
    let page = app.get("/excursions/E-37.1").await.body;
    let row = page.split("<li data-code=\"I-1\"").nth(1).unwrap();
    assert!(row.contains("not asked") && row.contains("Mark as asked"), "{row}");
    assert!(row.contains("/tasks/T-4"), "{row}");

    app.person("engineer", Role::Engineer).await;
    let engineer = app.another();
    engineer.sign_in("engineer").await;
    for (to, state) in [("asked", "not-met"), ("arranged", "met"), ("in place", "met")] {
        engineer.get("/excursions/E-37.1").await;
        let step = [("inhibit", "I-1"), ("to", to)];
        let reply = engineer.post("/excursions/E-37.1/inhibits", &step).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
        assert_eq!(verdict(&app.get(CELL).await.body, "inhibits"), state, "{to}");
    }
    let page = app.get("/inhibits/I-1").await.body;
    assert!(page.contains("<tr data-code=\"E-37.1\" data-state=\"in-place\""), "{page}");
    assert!(page.contains("/tasks/T-4"), "{page}");

    // In place too late for the work: the page says from when.
    let page = engineer.get("/arrangements/AR-001/edit").await.body;
    assert!(page.contains("name=\"from_pet\""), "{page}");
    let version =
        page.split("name=\"version\" value=\"").nth(1).unwrap().split('"').next().unwrap();
    let fields = [
        ("inhibit", "I-1"),
        ("excursion", "E-37.1"),
        ("state", "arranged"),
        ("from_pet", "6:00"),
        ("version", version),
    ];
    let reply = engineer.post("/arrangements/AR-001/edit", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(CELL).await.body;
    assert_eq!(verdict(&page, "inhibits"), "not-met");
    assert!(page.contains("is in place from 6:00 on; the work does not fit into that"), "{page}");

    // Two records cannot say how far it is on one excursion, and nobody releases it without a PET.
    let twice = [("inhibit", "I-1"), ("excursion", "E-37.1"), ("state", "asked")];
    engineer.get("/arrangements/new").await;
    let reply = engineer.post("/arrangements/new", &twice).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("AR-001 says how far I-1 is on E-37.1 already"), "{}", reply.body);
    let released = [("inhibit", "I-1"), ("excursion", "E-37.2"), ("state", "released")];
    let reply = engineer.post("/arrangements/new", &released).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("write the PET"), "{}", reply.body);
}

#[sqlx::test]
async fn a_viewer_reads_inhibits_and_takes_none_on(db: SqlitePool) {
    let app = record(db).await;
    app.person("viewer", Role::Viewer).await;
    let viewer = app.another();
    viewer.sign_in("viewer").await;
    let page = viewer.get("/inhibits/I-1").await.body;
    assert!(page.contains("Bay heater off") && !page.contains("Mark as asked"), "{page}");
    let step = [("inhibit", "I-1"), ("to", "asked")];
    let reply = viewer.post("/excursions/E-37.1/inhibits", &step).await;
    assert_eq!(reply.status, 403, "{}", reply.body);
    let list = viewer.get("/inhibits?q=power").await.body;
    assert!(list.contains("<tr data-code=\"I-1\"") && !list.contains("/inhibits/new"), "{list}");
}

#[sqlx::test]
async fn training_that_is_demanded_is_asked_of_whoever_sits_there(db: SqlitePool) {
    let app = record(db).await;
    let cell = "/slots?cell=T-3:E-37.1";
    assert_eq!(verdict(&app.get(cell).await.body, "trained"), "met");
    assert_eq!(verdict(&app.get(cell).await.body, "rehearsal"), "met");
    made(
        &app.app,
        Kind::Technique,
        "code: K-2 | name: wedge | task: T-3 | sides: nadir | rehearsal_demanded: yes \
         | training_demanded: yes | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1",
    )
    .await;
    let cell = "/slots?cell=T-3:E-37.1&by=K-2,nadir";
    let page = app.get(cell).await.body;
    assert_eq!(verdict(&page, "rehearsal"), "not-met");
    assert_eq!(verdict(&page, "trained"), "not-met");
    assert!(page.contains("never trained, and the technique demands it."), "{page}");
    for seat in ["C-1", "c-2"] {
        let text = format!("crew: {seat} | technique: K-2 | revision: 1 | day: 2031-01-12");
        made(&app.app, Kind::Qualification, &text).await;
    }
    assert_eq!(verdict(&app.get(cell).await.body, "trained"), "met");
    let page = app.get("/techniques/K-2").await.body;
    assert!(page.contains("Demanded of whoever does it."), "{page}");
    assert!(page.contains("<th scope=\"row\">C-1</th>"), "{page}");

    // Nobody is trained in a revision that is still to be written.
    app.get("/qualifications/new?technique=K-2").await;
    let fields = [("crew", "C-1"), ("technique", "K-2"), ("revision", "2")];
    let reply = app.post("/qualifications/new", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("K-2 is in revision 1; write that or an older one."));
}
