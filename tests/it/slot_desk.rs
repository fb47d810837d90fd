//! The one desk for slots over HTTP: whichever page a form comes from, it is read by the same
//! parser, does the same, and is answered with its effect and the way back.

use domain::kinds::Kind;
use domain::words::{Role, SlotState};
use sqlx::SqlitePool;
use store::slots;

use crate::small_record::{lay, made};
use crate::support::{Reply, TestApp};

const PLANNED: &str = "/excursions/E-37.1";
const CELL: &str = "/slots?cell=T-3:E-37.1";

async fn lead(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app
}

/// The live slots of E-37.1 as task, seats and state.
async fn there(app: &TestApp) -> Vec<(String, String, SlotState)> {
    let mut db = app.app.db.reader().await.unwrap();
    let all = slots::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    all.into_iter()
        .filter(|slot| matches!(slot.state, SlotState::Pencilled | SlotState::Set))
        .map(|slot| (slot.task.to_string(), slot.seats.names(), slot.state))
        .collect()
}

/// The notice above the page to which an answer leads.
async fn notice(app: &TestApp, reply: &Reply) -> String {
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.unlinked();
    let rest = page.split("class=\"notice\" role=\"status\"").nth(1).unwrap_or_default();
    rest.split("</div>").next().unwrap().to_owned()
}

/// Presses the button of a notice.
async fn undo(app: &TestApp, notice: &str) -> Reply {
    let action = notice.split("action=\"").nth(1).expect("the notice has a way back");
    let action = action.split('"').next().unwrap().to_owned();
    app.post(&action, &[]).await
}

#[sqlx::test]
async fn every_page_that_plans_a_slot_is_told_the_effect_and_has_a_way_back(db: SqlitePool) {
    let app = lead(db).await;
    let before = there(&app).await;
    let pencil = [("seats", "EV2"), ("do", "pencil")];
    let cell = ("cell", "T-3:E-37.1");
    let approach = ("approach", "K-1,nadir");
    for (page, action, fields) in [
        (CELL, "/slots", vec![cell, approach]),
        ("/tasks/T-3", "/slots", vec![cell, approach, ("back", "/tasks/T-3")]),
        ("/families/F-1", "/slots", vec![cell, approach, ("back", "/families/F-1")]),
        (
            PLANNED,
            "/excursions/E-37.1/slots",
            vec![("task", "T-3"), ("technique", "K-1"), ("side", "nadir")],
        ),
    ] {
        app.get(page).await;
        let reply = app.post(action, &[&fields[..], &pencil].concat()).await;
        let said = notice(&app, &reply).await;
        assert!(said.contains("T-3 is pencilled on E-37.1. Time left at P80"), "{page}: {said}");
        assert!(said.contains("/excursions/E-37.1/undo/"), "{page}: {said}");
        let there_now = there(&app).await;
        let added = ("T-3".to_owned(), "EV2".to_owned(), SlotState::Pencilled);
        assert!(there_now.contains(&added), "{page}: {there_now:?}");
        let back = undo(&app, &said).await;
        assert_eq!(back.status, 303, "{page}: {}", back.body);
        assert!(back.location.starts_with(page.split('?').next().unwrap()), "{}", back.location);
        assert_eq!(there(&app).await, before, "{page}");
    }
}

#[sqlx::test]
async fn a_slot_begins_no_earlier_than_its_start_on_purpose(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    let planned = [
        ("task", "T-3"),
        ("technique", "K-1"),
        ("side", "nadir"),
        ("seats", "EV2"),
        ("not_before", "4:05"),
        ("do", "pencil"),
    ];
    let reply = app.post("/excursions/E-37.1/slots", &planned).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let stored = async || {
        let mut db = app.app.db.reader().await.unwrap();
        let all = slots::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
        let own = all.into_iter().find(|slot| slot.task.as_str() == "T-3");
        own.map(|slot| (slot.code.0.to_string(), slot.not_before.map(|pet| pet.0)))
    };
    let (code, start) = stored().await.unwrap();
    assert_eq!(start, Some(245));
    // The page of the excursion has it in the form of the slot, and works it from then on.
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("value=\"4:05\""), "the start stands in the form");
    assert!(page.contains("4:05"), "{page}");
    // No start is none: as soon as it can begin.
    let change = format!("/excursions/E-37.1/slots/{code}/change");
    let reply = app.post(&change, &[("not_before", "")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(stored().await.unwrap().1, None);
    // What is no time is named.
    app.get(PLANNED).await;
    let reply = app.post(&change, &[("not_before", "soon")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
}

#[sqlx::test]
async fn setting_moving_and_removing_in_the_matrix_tell_their_effect(db: SqlitePool) {
    let app = lead(db).await;
    app.get(CELL).await;
    let fields = [("approach", "K-1,nadir"), ("seats", "EV2"), ("do", "set")];
    let said = notice(&app, &app.post("/slots", &fields).await).await;
    assert!(said.contains("T-3 is set on E-37.1. Time left at P80"), "{said}");
    assert!(said.contains("/excursions/E-37.1/undo/"), "{said}");

    app.get("/slots?cell=T-1:E-37.1").await;
    let why = [("reason", "priority")];
    let reply = app.post("/slots/S-1/withdraw", &why).await;
    let said = notice(&app, &reply).await;
    assert!(said.contains("T-1 is removed from E-37.1. Time left at P80"), "{said}");
    let back = undo(&app, &said).await;
    assert_eq!(back.status, 303, "{}", back.body);
    assert!(there(&app).await.contains(&("T-1".to_owned(), "EV1".to_owned(), SlotState::Set)));

    app.get("/slots?cell=T-2:E-37.1").await;
    let to = [("to", "E-37.2"), ("reason", "priority")];
    let said = notice(&app, &app.post("/slots/S-2/move", &to).await).await;
    assert!(said.contains("T-2 is set on E-37.2 now. Time left at P80"), "{said}");
    // The way back is a move to an earlier excursion, which asks for nothing.
    assert_eq!(undo(&app, &said).await.status, 303);
    assert!(there(&app).await.iter().any(|(task, ..)| task == "T-2"));
}

#[sqlx::test]
async fn words_that_no_list_holds_are_refused_on_every_page(db: SqlitePool) {
    let app = lead(db).await;
    let before = there(&app).await;
    let matrix = [("cell", "T-3:E-37.1"), ("seats", "EV2")];
    let lanes = [("task", "T-3"), ("seats", "EV2")];
    for (page, action, base) in
        [(CELL, "/slots", &matrix), (PLANNED, "/excursions/E-37.1/slots", &lanes)]
    {
        for (wrong, said) in [
            (("waive", "gravity"), "“gravity” is not a check of this service"),
            (("approach", "K-1 from nadir"), "is not an approach"),
            (("reason", "mood"), "“mood” is not a reason of a deferral"),
            (("do", "throw"), "“throw” is not known"),
            (("share", "many"), "many"),
        ] {
            app.get(page).await;
            let reply = app.post(action, &[&base[..], &[wrong]].concat()).await;
            assert_eq!(reply.status, 422, "{page} {wrong:?}: {}", reply.body);
            assert!(reply.body.contains(said), "{page} {wrong:?}: {}", reply.body);
        }
    }
    // A reason that is too long for its field is refused before it bars every later edit.
    app.get("/slots?cell=T-1:E-37.1").await;
    let long = "w".repeat(301);
    let reply = app.post("/slots/S-1/keep", &[("waive", "time"), ("waiver", &long)]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("301 characters"), "{}", reply.body);
    assert_eq!(there(&app).await, before);
}

#[sqlx::test]
async fn a_slot_is_planned_and_changed_under_its_old_addresses_too(db: SqlitePool) {
    let app = lead(db).await;
    let reply = app.get("/slots/new").await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/slots"));
    let reply = app.get("/slots/S-1/edit").await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/excursions/E-37.1#slot-S-1"));
    assert_eq!(app.get("/slots/S-404/edit").await.status, 404);

    app.get(PLANNED).await;
    let fields = [("task", "T-3"), ("excursion", "E-37.1"), ("seats", "EV2")];
    let said = notice(&app, &app.post("/slots/new", &fields).await).await;
    assert!(said.contains("T-3 is pencilled on E-37.1. Time left"), "{said}");

    let page = app.get(PLANNED).await.body;
    let form = page.split("action=\"/excursions/E-37.1/slots/S-1/change\"").nth(1).unwrap();
    let version = form.split("name=\"version\" value=\"").nth(1).unwrap();
    let version = version.split('"').next().unwrap().to_owned();
    let change = [("stopping_point", "cover on"), ("version", version.as_str())];
    let said = notice(&app, &app.post("/slots/S-1/edit", &change).await).await;
    assert!(said.contains("The slot of T-1 is changed."), "{said}");
    // The version has moved on.
    app.get(PLANNED).await;
    let change = [("stopping_point", "cover off"), ("version", version.as_str())];
    let reply = app.post("/slots/S-1/edit", &change).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    let reply = app.post("/slots/S-1/juggle", &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
}

#[sqlx::test]
async fn waivers_say_what_they_never_cover_and_hazards_stand_where_a_slot_is_set(db: SqlitePool) {
    let app = lead(db).await;
    let hazard = "Sharp edge on the bracket; keep the glove clear.";
    let text = format!(
        "code: T-7 | title: Swap it | family: F-1 | worksite: W-B | sides: nadir, zenith \
         | class: 3 | seats: 1 | lighting: any | opened: 2030-10-01 | hazards: {hazard}"
    );
    made(&app.app, Kind::Task, &text).await;
    let needs = "task: T-7 | kind: needs | other: T-3";
    made(&app.app, Kind::Link, needs).await;
    let scope = "A waiver passes over a check of this service only, never a flight rule or a \
                 hazard control.";
    for page in ["/slots?cell=T-7:E-37.1", "/tasks/T-7"] {
        let page = app.get(page).await.body;
        assert!(page.contains(scope), "{page}");
        assert!(page.contains(&format!("<b>Hazards:</b> {hazard}")), "{page}");
    }
    let page = app.get(PLANNED).await.body;
    assert!(page.contains(scope) && !page.contains(hazard), "{page}");
    assert!(page.contains("No hazard is recorded for these tasks."), "{page}");

    // A refused form shows the hazards of the task that was typed.
    let fields = [("task", "T-7"), ("seats", "EV2"), ("do", "set")];
    let reply = app.post("/excursions/E-37.1/slots", &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains(&format!("<b>Hazards:</b> {hazard}")), "{}", reply.body);

    let fields = [("task", "T-7"), ("seats", "EV2"), ("do", "pencil")];
    assert_eq!(app.post("/excursions/E-37.1/slots", &fields).await.status, 303);
    let page = app.get(PLANNED).await.body;
    let section = page.split("id=\"hazards\"").nth(1).unwrap().split("</section>").next().unwrap();
    assert!(section.contains("/tasks/T-7") && section.contains(hazard), "{section}");
}

/// The verdict of the check “order of work” where a task would stand.
async fn order_of_work(app: &TestApp, task: &str, excursion: &str) -> String {
    let page = app.get(&format!("/slots?cell={task}:{excursion}")).await.body;
    let rest = page.split("data-gate=\"order-of-work\" data-verdict=\"").nth(1).unwrap();
    rest.split('"').next().unwrap().to_owned()
}

#[sqlx::test]
async fn links_of_every_kind_bind_where_a_slot_is_set_as_they_are_read(db: SqlitePool) {
    let app = lead(db).await;
    made(&app.app, Kind::Task, "code: T-9 | title: Fit the strap | opened: 2030-10-01").await;
    // T-1 is set on E-37.1, T-9 is open.
    for (at, (link, first, second)) in [
        ("task: X | kind: needs | other: T-1", "met", "met"),
        ("task: X | kind: undoes | other: T-1", "met", "met"),
        ("task: X | kind: same visit as | other: T-1", "met", "not-met"),
        ("task: T-1 | kind: same visit as | other: X", "met", "not-met"),
        ("task: X | kind: continues | other: T-9", "met", "met"),
        ("task: X | kind: makes permanent | other: T-9", "met", "met"),
        ("task: T-9 | kind: needs | other: X", "met", "met"),
        ("task: X | kind: needs | other: T-9", "not-met", "not-met"),
        ("task: X | kind: undoes | other: T-9", "not-met", "not-met"),
    ]
    .into_iter()
    .enumerate()
    {
        let task = format!("T-2{at}");
        let text = format!(
            "code: {task} | title: Swap it | family: F-1 | worksite: W-B | sides: nadir, zenith \
             | class: 3 | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1 \
             | work_rate: moderate | lighting: any | opened: 2030-10-01"
        );
        made(&app.app, Kind::Task, &text).await;
        made(&app.app, Kind::Link, &link.replace('X', &task)).await;
        let found = [
            order_of_work(&app, &task, "E-37.1").await,
            order_of_work(&app, &task, "E-37.2").await,
        ];
        assert_eq!(found, [first, second], "{link}");
    }
}
