//! Codes over HTTP: the next one is offered, one that looks like another is refused, and one that
//! nothing names can be changed.

use app::records::Base;
use app::work::Work;
use app::{Actor, Failure, checks, kinds};
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{cells, lay, made};
use crate::support::{Reply, TestApp};

async fn lead(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app
}

async fn make(app: &TestApp, folder: &str, fields: &[(&str, &str)]) -> Reply {
    app.get(&format!("/{folder}/new")).await;
    app.post(&format!("/{folder}/new"), fields).await
}

#[sqlx::test]
async fn the_next_code_in_the_teams_pattern_is_filled_in(db: SqlitePool) {
    let app = lead(db).await;
    let flight = app.get("/flights/new").await.body;
    assert!(flight.contains("name=\"code\" value=\"G-38\""), "{flight}");
    let excursion = app.get("/excursions/new?flight=G-37").await.body;
    assert!(excursion.contains("name=\"code\" value=\"E-37.3\""), "{excursion}");
    assert!(excursion.contains("name=\"number\" value=\"3\""), "{excursion}");

    // Without a flight in the address it is the one that launches next.
    let excursion = app.get("/excursions/new").await.body;
    assert!(excursion.contains("name=\"code\" value=\"E-37.3\""), "{excursion}");

    // One whose code runs ahead of the numbers, and a flight that has none yet.
    made(&app.app, Kind::Excursion, "code: E-37.7 | flight: G-37 | state: planned").await;
    let excursion = app.get("/excursions/new?flight=G-37").await.body;
    assert!(excursion.contains("name=\"code\" value=\"E-37.8\""), "{excursion}");
    made(&app.app, Kind::Flight, "code: G-38 | state: coming").await;
    let excursion = app.get("/excursions/new?flight=G-38").await.body;
    assert!(excursion.contains("name=\"code\" value=\"E-38.1\""), "{excursion}");
}

#[sqlx::test]
async fn a_flight_or_an_excursion_without_a_code_is_asked_for_one(db: SqlitePool) {
    let app = lead(db).await;
    let reply = make(&app, "excursions", &[("flight", "G-37"), ("code", "")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("The next one of G-37 is E-37.3."), "{}", reply.body);
    let reply = make(&app, "flights", &[("state", "coming"), ("code", "")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("The next one is G-38."), "{}", reply.body);
}

#[sqlx::test]
async fn a_code_that_looks_like_another_is_refused_with_the_other(db: SqlitePool) {
    let app = lead(db).await;
    // Small, a letter l for the figure, Cyrillic Te.
    for code in ["t-1", "T-l", "\u{422}-1"] {
        let reply = make(&app, "tasks", &[("code", code), ("title", "x")]).await;
        assert_eq!(reply.status, 422, "{code}: {}", reply.body);
        assert!(reply.body.contains("could be taken for T-1"), "{code}: {}", reply.body);
    }
    let reply = make(&app, "tasks", &[("code", "W-K\u{415}\u{415}L"), ("title", "x")]).await;
    assert!(reply.body.contains("mixes letters of different scripts"), "{}", reply.body);
    let reply = make(&app, "tasks", &[("code", "T\u{2800}9"), ("title", "x")]).await;
    assert!(reply.body.contains("a character that nobody sees"), "{}", reply.body);
    // Composed and decomposed letters are one code.
    assert_eq!(make(&app, "tasks", &[("code", "T-\u{c5}"), ("title", "x")]).await.status, 303);
    let reply = make(&app, "tasks", &[("code", "T-A\u{30a}"), ("title", "x")]).await;
    assert!(reply.body.contains("is taken"), "{}", reply.body);
    // Another kind may have a code of the same look.
    assert_eq!(make(&app, "tools", &[("code", "t-1"), ("name", "x")]).await.status, 303);
}

#[sqlx::test]
async fn a_code_that_is_part_of_an_address_is_refused(db: SqlitePool) {
    let app = lead(db).await;
    for (folder, code) in
        [("tools", "causes"), ("worksites", "get-ahead"), ("outside", "settle"), ("tasks", "New")]
    {
        let named = [("code", code), ("title", "x"), ("what", "x"), ("name", "x")];
        let reply = make(&app, folder, &named).await;
        assert_eq!(reply.status, 422, "{folder}/{code}: {}", reply.body);
        assert!(reply.body.contains("Choose another") || reply.body.contains("choose another"));
    }
}

#[sqlx::test]
async fn a_table_brings_no_code_that_looks_like_another(db: SqlitePool) {
    let app = lead(db).await;
    let actor = Actor { name: "lead".into(), role: Role::Lead };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    work.creates_missing = true;
    let mut said = Vec::new();
    for (kind, text) in [
        (Kind::Task, "code: t-1 | title: x"),
        // The flight would be made because it is named.
        (Kind::Excursion, "code: E-9.1 | flight: g-37 | state: flown"),
        (Kind::Worksite, "code: causes"),
    ] {
        match kinds::save_whole(&mut work, kind, &cells(text), Base::New).await {
            Err(refused @ (Failure::Invalid(_) | Failure::Refused(_))) => {
                said.push(refused.to_string());
            }
            other => panic!("{text}: {other:?}"),
        }
    }
    assert!(said[0].contains("could be taken for T-1"), "{said:?}");
    assert!(said[1].contains("could be taken for G-37"), "{said:?}");
    assert!(said[2].contains("part of an address"), "{said:?}");
}

#[sqlx::test]
async fn a_code_is_checked_while_it_is_typed(db: SqlitePool) {
    let app = lead(db).await;
    for (asked, told) in [
        ("folder=excursions&code=E-37.1", "E-37.1 is taken"),
        ("folder=excursions&code=e-37.1", "could be taken for E-37.1"),
        ("folder=excursions&code=E-37.3", "null"),
        ("folder=excursions&code=E-37.1&now=E-37.1", "null"),
        ("folder=nothing&code=E-37.1", "null"),
    ] {
        let reply = app.get(&format!("/codes/check?{asked}")).await;
        assert_eq!(reply.status, 200, "{asked}");
        assert!(reply.body.contains(told), "{asked}: {}", reply.body);
    }
}

#[sqlx::test]
async fn a_code_that_nothing_names_is_changed_and_the_log_says_so(db: SqlitePool) {
    let app = lead(db).await;
    made(&app.app, Kind::Excursion, "code: E-37.9 | flight: G-37 | day: 2031-03-12").await;
    app.get("/excursions/E-37.9/edit").await;
    let typed = [("code", "E-37.3"), ("notes", "renamed with this")];
    let reply = app.post("/excursions/E-37.9/edit", &typed).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/excursions/E-37.3"));

    let page = app.get("/excursions/E-37.3").await;
    assert!(page.status == 200 && page.body.contains("renamed with this"), "{}", page.body);
    assert_eq!(app.get("/excursions/E-37.9").await.status, 404);
    for (code, told) in [("E-37.9", "given another code"), ("E-37.3", "renamed")] {
        let log = app.get(&format!("/changes?kind=excursion&code={code}")).await.body;
        assert!(log.contains(told), "{code}: {log}");
    }
    let found = app.get("/search?q=renamed+with").await.body;
    assert!(found.contains("E-37.3") && !found.contains("E-37.9"), "{found}");
    // The code that is free again can be had by another record.
    made(&app.app, Kind::Excursion, "code: E-37.9 | flight: G-37 | day: 2031-03-13").await;
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

#[sqlx::test]
async fn a_code_that_others_name_stays_and_they_are_told(db: SqlitePool) {
    let app = lead(db).await;
    for (record, to, named) in [
        ("excursions/E-37.1", "E-37.4", "slot S-1, slot S-2"),
        ("flights/G-37", "G-40", "excursion E-37.1, excursion E-37.2"),
        ("worksites/W-B", "W-C", "route"),
        ("families/F-1", "F-2", "technique K-1"),
    ] {
        app.get(&format!("/{record}/edit")).await;
        let reply = app.post(&format!("/{record}/edit"), &[("code", to)]).await;
        assert_eq!(reply.status, 422, "{record}: {}", reply.body);
        let (_, code) = record.split_once('/').unwrap();
        let told = format!("{code} keeps its code while other records name it: ");
        assert!(reply.body.contains(&told) && reply.body.contains(named), "{}", reply.body);
        assert_eq!(app.get(&format!("/{record}")).await.status, 200);
    }
    // Nothing names the tool; another code of the same look is refused all the same.
    app.get("/tools/L-1/edit").await;
    let reply = app.post("/tools/L-1/edit", &[("code", "l-1")]).await;
    assert_eq!(reply.status, 303, "its own look is no other record: {}", reply.body);
}

#[sqlx::test]
async fn excursions_of_a_flight_stand_by_date(db: SqlitePool) {
    let app = lead(db).await;
    made(&app.app, Kind::Excursion, "code: E-37.9 | flight: G-37 | number: 9 | day: 2031-03-10")
        .await;
    made(&app.app, Kind::Excursion, "code: E-37.5 | flight: G-37 | number: 5").await;
    let page = app.get("/flights/G-37").await.body;
    let at = |code: &str| page.find(&format!("href=\"/excursions/{code}\"")).unwrap();
    let order = ["E-37.9", "E-37.1", "E-37.2", "E-37.5"].map(at);
    assert!(order.is_sorted(), "{order:?}");
}

#[sqlx::test]
async fn older_codes_that_look_alike_are_told_by_the_check(db: SqlitePool) {
    let app = lead(db).await;
    for code in ["L-20", "L-99", "Ł-7"] {
        made(&app.app, Kind::Tool, &format!("code: {code} | name: pry bar")).await;
    }
    // As an older program left them: with a letter O, and with looks that nobody kept.
    let mut tx = app.app.db.begin().await.unwrap();
    sqlx::raw_sql(
        "PRAGMA defer_foreign_keys = on;
         UPDATE register SET code = 'L-2O' WHERE code = 'L-99';
         UPDATE tool SET code = 'L-2O' WHERE code = 'L-99';
         DELETE FROM code_look WHERE code IN ('L-99', 'Ł-7');
         INSERT INTO code_look VALUES ('tool', 'shape L-2O', 'L-2O');
         INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
             SELECT kind, 'ł-7', made_by, made_at, changed_by, changed_at FROM register
             WHERE code = 'Ł-7';
         INSERT INTO code_look VALUES ('tool', 'case ł-7', 'ł-7')",
    )
    .execute(&mut *tx)
    .await
    .unwrap();
    tx.commit().await.unwrap();
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    let told = report.notes.join("\n");
    assert!(told.contains("tool L-20 and tool L-2O could be taken for one another"), "{told}");
    assert!(told.contains("tool Ł-7 and tool ł-7 could be taken for one another"), "{told}");
    assert_eq!(report.notes.len(), 2, "{told}");
}
