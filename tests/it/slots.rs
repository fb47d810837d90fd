//! The matrix of slots over HTTP: what may be set, what is refused and how a refusal reads.

use holdover::app::demo;
use holdover::domain::cells::Cell as _;
use holdover::domain::time::Moment;
use holdover::domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{NOW, Reply, TestApp};

/// The demo record with a lead, an engineer and a viewer, the lead signed in.
async fn skerry(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.person("engineer", Role::Engineer).await;
    app.person("viewer", Role::Viewer).await;
    app.signed_in(Role::Lead).await
}

/// Opens a cell and sends its first form with these fields changed.
async fn plan(app: &TestApp, cell: &str, fields: &[(&str, &str)]) -> Reply {
    let page = app.get(&format!("/slots?cell={cell}")).await;
    assert_eq!(page.status, 200, "{}", page.body);
    let (_, excursion) = cell.split_once(':').unwrap();
    assert!(page.body.contains(&format!("href=\"/excursions/{excursion}\"")), "{cell} is not open");
    app.post("/slots", fields).await
}

/// The gate's verdict in the opened cell.
fn gate<'a>(page: &'a str, gate: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("data-gate=\"{gate}\" data-verdict=\"")).unwrap();
    rest.split('"').next().unwrap()
}

/// The row of a task.
fn row<'a>(page: &'a str, task: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("<tr data-code=\"{task}\"")).unwrap();
    rest.split("</tr>").next().unwrap()
}

#[sqlx::test]
async fn fits_and_tight_may_be_set_and_cannot_tell_asks_for_a_waiver(db: SqlitePool) {
    let app = skerry(db).await;

    // It fits.
    let reply = plan(&app, "T-0162:E-37.1", &[("do", "set")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/slots?q=T-0162").await;
    assert!(row(&page.body, "T-0162").contains("k-set"), "{}", page.body);

    // It is tight: the last tool of its kind.
    let opened = app.get("/slots?cell=T-0119:E-37.2").await;
    assert_eq!(gate(&opened.body, "tools-and-hardware"), "tight");
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    // Nobody estimated it, so the time cannot be told.
    let opened = app.get("/slots?cell=T-0171:E-37.1").await;
    assert_eq!(gate(&opened.body, "time"), "cannot-tell");
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("time, cannot tell"), "{}", reply.body);

    // A waiver of another gate is none, and one without a reason neither.
    let reply = app.post("/slots", &[("do", "set"), ("waive", "tools and hardware")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    let reply = app.post("/slots", &[("do", "set"), ("waive", "time")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Write down why"), "{}", reply.body);

    let reason = "The ground has walked it in the tank: 20 minutes.";
    let reply = app.post("/slots", &[("do", "set"), ("waive", "time"), ("waiver", reason)]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/slots?cell=T-0171:E-37.1").await;
    assert!(page.body.contains(&format!("Waived: time. {reason}")), "{}", page.body);
}

#[sqlx::test]
async fn a_shut_approach_is_refused_with_its_attempts_and_what_is_left(db: SqlitePool) {
    let app = skerry(db).await;
    let shut = [("do", "set"), ("approach", "K-LEVER,nadir")];

    let reply = plan(&app, "T-0142:E-37.2", &shut).await;

    // The demo tells of two jams from this side, and of a lever that nobody tried from another.
    assert_eq!(reply.status, 409, "{}", reply.body);
    for said in ["approach, not met", "A-0", "Approaches left: K-LEVER from starboard"] {
        assert!(reply.body.contains(said), "{said} is missing in {}", reply.body);
    }
    assert_eq!(gate(&reply.body, "approach"), "not-met", "the page shows what was asked");
    let page = app.get("/slots?q=T-0142").await;
    assert!(!row(&page.body, "T-0142").contains("k-set"), "nothing was set");

    // It can be pencilled, with the same gate against it; then set with a waiver.
    let pencil = [("do", "pencil"), ("approach", "K-LEVER,nadir")];
    let reply = plan(&app, "T-0142:E-37.2", &pencil).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/slots?cell=T-0142:E-37.2").await;
    assert_eq!(gate(&page.body, "approach"), "not-met");
    let action = action_of(&page.body, "/set");
    let reply = app.post(&action, &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    let waiver = [("waive", "approach"), ("waiver", "A new cassette; the jam was the old frame.")];
    let reply = app.post(&action, &waiver).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

/// The address of the open cell's form that ends so.
fn action_of(page: &str, end: &str) -> String {
    page.split("action=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .find(|action| action.starts_with("/slots/") && action.ends_with(end))
        .unwrap_or_else(|| panic!("no form ends in {end}: {page}"))
        .to_owned()
}

#[sqlx::test]
async fn a_set_slot_leaves_with_a_reason_and_a_viewer_only_reads(db: SqlitePool) {
    let app = skerry(db).await;
    let page = app.get("/slots?cell=T-0114:E-37.1").await;
    let (off, away) = (action_of(&page.body, "/withdraw"), action_of(&page.body, "/move"));

    let reply = app.post(&off, &[]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Say why it is taken off"), "{}", reply.body);
    let reason = [("to", "E-37.2"), ("reason", "priority"), ("words", "The latches go first.")];
    let reply = app.post(&away, &reason).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(reply.location.contains("cell=T-0114:E-37.2"), "{}", reply.location);
    let page = app.get("/deferrals").await;
    assert!(page.body.contains("T-0114"), "the move left a deferral");

    let engineer = app.another();
    engineer.sign_in("engineer").await;
    let reply = plan(&engineer, "T-0162:E-37.1", &[("do", "set")]).await;
    assert_eq!(reply.status, 403, "{}", reply.body);
    let reply = plan(&engineer, "T-0162:E-37.1", &[("do", "pencil")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let viewer = app.another();
    viewer.sign_in("viewer").await;
    let page = viewer.get("/slots?cell=T-0119:E-37.2").await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("data-gate=\"time\""), "a viewer reads the gates");
    assert!(!page.body.contains("Set it") && !page.body.contains("Pencil it"));
    let fields = [("cell", "T-0119:E-37.2"), ("approach", ","), ("seats", "EV1")];
    for act in ["set", "pencil"] {
        let with = [fields.as_slice(), &[("do", act)]].concat();
        let reply = viewer.post("/slots", &with).await;
        assert_eq!(reply.status, 403, "{}", reply.body);
    }
}

#[sqlx::test]
async fn filters_narrow_the_rows_and_stand_in_the_address(db: SqlitePool) {
    let app = skerry(db).await;

    // Of the demo's tasks only the one beyond the transfer line waits for a way there.
    let page = app.get("/slots?gate=routes+and+outside+items").await;
    assert_eq!(page.body.matches("<tr data-code=").count(), 1, "{}", page.body);
    assert!(row(&page.body, "T-0150").contains("data-verdict=\"does-not-fit\""));
    assert!(page.body.contains("gate=routes%20and%20outside%20items&#38;cell=T-0150:E-37.1"));

    let all = app.get("/slots").await;
    assert_eq!(all.body.matches("<tr data-code=").count(), 25);
    assert!(all.body.contains("href=\"/slots?page=2\""), "{}", all.body);
    let none = app.get("/slots?q=zzzz").await;
    assert!(none.body.contains("No open item matches"), "{}", none.body);
    let parked = app.get("/slots?page=2").await;
    assert!(row(&parked.body, "T-0152").contains("held against no excursion"));
}
