//! Swaps over HTTP: a result that is done asks for the serial that came out and the one that went
//! in, moves the stays of both units, and refuses what contradicts them.

use app::checks;
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;
use store::families;

use crate::small_record::{lay, made};
use crate::support::{Reply, TestApp};

/// T-4 swaps the pack at pump A, where U-1, PP 003, stands; U-2, PP 007, waits in rack 2, U-3,
/// PP 005, stands at pump B. It was tried on the flown E-36.1, on 2030-11-01.
async fn flown(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: planned",
        ),
        (Kind::Family, "code: F-PUMP | name: pump pack"),
        (Kind::Position, "code: pump A | worksite: W-B"),
        (Kind::Position, "code: pump B | worksite: W-B"),
        (Kind::Position, "code: rack 2 | worksite: W-A"),
        (
            Kind::Unit,
            "code: U-1 | family: F-PUMP | serial: PP 003 | position: pump A | from_day: 2026-03-02",
        ),
        (
            Kind::Unit,
            "code: U-2 | family: F-PUMP | serial: PP 007 | position: rack 2 | from_day: 2026-03-02",
        ),
        (
            Kind::Unit,
            "code: U-3 | family: F-PUMP | serial: PP 005 | position: pump B | from_day: 2026-03-02",
        ),
        (
            Kind::Task,
            "code: T-4 | title: Swap pump pack A | family: F-PUMP | position: pump A \
             | worksite: W-B | sides: aft | swaps_unit: yes | opened: 2030-10-01",
        ),
        (Kind::Slot, "code: S-4 | task: T-4 | excursion: E-36.1 | seats: EV1 | state: pencilled"),
    ] {
        made(&app.app, kind, text).await;
    }
    app.get("/excursions/E-36.1").await;
    let reply = app.post("/excursions/E-36.1/flown", &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    app
}

/// The stays of a unit, written `position from..until`.
async fn stays(app: &TestApp, unit: &str) -> Vec<String> {
    let mut db = app.app.db.reader().await.unwrap();
    let all = families::stays(&mut db, &unit.into()).await.unwrap();
    let day =
        |day: Option<domain::time::Day>| day.map_or_else(|| "?".to_owned(), |day| day.to_string());
    all.iter()
        .map(|stay| format!("{} {}..{}", stay.position, day(stay.from_day), day(stay.until_day)))
        .collect()
}

/// Records an attempt at T-4 by its form.
async fn tried(app: &TestApp, outcome: &str, out: &str, into: &str) -> Reply {
    app.get("/attempts/new").await;
    let fields = [
        ("code", "A-9"),
        ("task", "T-4"),
        ("excursion", "E-36.1"),
        ("outcome", outcome),
        ("minutes", "60"),
        ("came_out", out),
        ("went_in", into),
    ];
    app.post("/attempts/new", &fields).await
}

async fn no_faults(app: &TestApp) {
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

const BEFORE: [&str; 2] = ["pump A 2026-03-02..?", "rack 2 2026-03-02..?"];

async fn nothing_moved(app: &TestApp) {
    assert_eq!(
        [stays(app, "U-1").await, stays(app, "U-2").await],
        BEFORE.map(|stay| vec![stay.to_owned()])
    );
}

#[sqlx::test]
async fn a_swap_that_is_done_asks_for_both_serials_and_moves_both_units(db: SqlitePool) {
    let app = flown(db).await;
    let reply = tried(&app, "done", "", "").await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    for said in ["give the serial that came out", "give the serial that went in"] {
        assert!(reply.body.contains(said), "{said}: {}", reply.body);
    }
    nothing_moved(&app).await;

    let reply = tried(&app, "done", "pp 003", "U-2").await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(stays(&app, "U-1").await, ["pump A 2026-03-02..2030-11-01"]);
    let into = ["rack 2 2026-03-02..2030-11-01", "pump A 2030-11-01..?"];
    assert_eq!(stays(&app, "U-2").await, into);
    let log = app.get("/changes").await.body;
    assert!(log.contains("U-1") && log.contains("U-2"), "{log}");
    no_faults(&app).await;
}

#[sqlx::test]
async fn a_swap_that_contradicts_the_stays_is_refused_with_why(db: SqlitePool) {
    let app = flown(db).await;
    for (out, into, said) in [
        ("PP 005", "PP 007", "PP 005 (U-3) stood at pump B on that day"),
        ("PP 007", "PP 005", "By the record U-1 stood at pump A on 2030-11-01 and after it."),
        ("PP 003", "PP 003", "cannot be the one that went in"),
        ("PP 003", "PP 999", "No unit of F-PUMP has the serial or code “PP 999”."),
        ("PP 999", "PP 007", "No unit of F-PUMP has the serial or code “PP 999”."),
    ] {
        let reply = tried(&app, "done", out, into).await;
        assert_eq!(reply.status, 422, "{out} {into}: {}", reply.body);
        assert!(reply.body.contains(said), "{said}: {}", reply.body);
        assert!(reply.body.contains(out), "what was typed is kept");
    }
    let reply = tried(&app, "not reached", "PP 003", "PP 007").await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    nothing_moved(&app).await;
    no_faults(&app).await;
}

#[sqlx::test]
async fn a_serial_that_nobody_read_is_said_so(db: SqlitePool) {
    let app = flown(db).await;
    let reply = tried(&app, "done", "not recorded", "PP 007").await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    // By the record it was U-1 that stood there.
    assert_eq!(stays(&app, "U-1").await, ["pump A 2026-03-02..2030-11-01"]);
    assert_eq!(stays(&app, "U-2").await.len(), 2);
    no_faults(&app).await;
}

#[sqlx::test]
async fn a_correction_puts_the_units_back_before_it_moves_them(db: SqlitePool) {
    let app = flown(db).await;
    let reply = tried(&app, "done", "PP 003", "PP 007").await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let edit = "/attempts/A-9/edit";

    // Saved as it is, nothing moves twice.
    app.get(edit).await;
    let same = [
        ("task", "T-4"),
        ("excursion", "E-36.1"),
        ("outcome", "done"),
        ("minutes", "60"),
        ("came_out", "PP 003"),
        ("went_in", "PP 007"),
        ("words", "Bolt 3 came at 48."),
    ];
    let reply = app.post(edit, &same).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(stays(&app, "U-2").await, ["rack 2 2026-03-02..2030-11-01", "pump A 2030-11-01..?"]);

    // The serial was misread: it was the pack of pump B that went in.
    app.get(edit).await;
    let mut other = same;
    other[5] = ("went_in", "PP 005");
    let reply = app.post(edit, &other).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(stays(&app, "U-2").await, ["rack 2 2026-03-02..?"]);
    assert_eq!(stays(&app, "U-3").await, ["pump B 2026-03-02..2030-11-01", "pump A 2030-11-01..?"]);
    no_faults(&app).await;
}

#[sqlx::test]
async fn the_debrief_row_of_a_swap_asks_for_the_serials(db: SqlitePool) {
    let app = flown(db).await;
    let debrief = "/excursions/E-36.1/debrief";
    app.get(&format!("{debrief}?another=T-4")).await;
    let base = [("r0-task", "T-4"), ("r0-outcome", "done"), ("r0-minutes", "60")];
    app.post(debrief, &[&base[..], &[("do", "save")]].concat()).await;
    let page = app.get(debrief).await.body;
    assert!(page.contains("Serial that came out"), "{page}");
    assert!(page.contains("By the record PP 003 stands there."), "{page}");
    nothing_moved(&app).await;

    let serials = [("r0-came_out", "PP 003"), ("r0-went_in", "PP 007"), ("do", "save")];
    let reply = app.post(debrief, &[&base[..], &serials].concat()).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(stays(&app, "U-1").await, ["pump A 2026-03-02..2030-11-01"]);
    no_faults(&app).await;
}

#[sqlx::test]
async fn the_form_asks_for_both_serials_beside_whatever_else_is_wrong(db: SqlitePool) {
    let app = flown(db).await;
    let page = app.get("/attempts/new?task=T-4").await.body;
    for there in ["name=\"came_out\"", "name=\"went_in\"", "By the record PP 003 stands there."] {
        assert!(page.contains(there), "{there}: {page}");
    }
    assert!(!app.get("/attempts/new?task=T-1").await.body.contains("name=\"came_out\""));

    app.get("/attempts/new?task=T-4").await;
    let fields = [("task", "T-4"), ("excursion", "E-36.1"), ("outcome", "done")];
    let reply = app.post("/attempts/new", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    for field in ["f-came-out", "f-went-in", "f-confirmed"] {
        assert!(reply.body.contains(&format!("href=\"#{field}\"")), "{field}: {}", reply.body);
    }
    nothing_moved(&app).await;
}
