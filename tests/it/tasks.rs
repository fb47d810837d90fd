//! The page of a task: what was tried, what the repeat guard refuses, and how it is set instead.

use domain::kinds::Kind;
use domain::words::{Role, TaskState};
use sqlx::SqlitePool;
use store::slot_history;

use crate::small_record::{lay, made, standing_of};
use crate::support::TestApp;

/// T-3 was tried twice with K-1 from nadir on a flight that has landed, and failed both times.
async fn tried_twice(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    let flight = "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown";
    made(&app.app, Kind::Flight, flight).await;
    for (number, attempt) in [(1, "A-0901"), (2, "A-0902")] {
        let excursion = format!(
            "code: E-36.{number} | flight: G-36 | number: {number} | day: 2030-06-0{number} \
             | state: flown"
        );
        made(&app.app, Kind::Excursion, &excursion).await;
        let tried = format!(
            "code: {attempt} | task: T-3 | excursion: E-36.{number} | technique: K-1 \
             | side: nadir | outcome: not completed | cause: 3 | minutes: 45 \
             | as_left: pushed back in {number}"
        );
        made(&app.app, Kind::Attempt, &tried).await;
    }
    app
}

/// The fields of the form that plans T-3 on E-37.2, by an approach.
fn plan<'a>(by: &'a str, act: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("cell", "T-3:E-37.2"),
        ("back", "/tasks/T-3"),
        ("approach", by),
        ("seats", "EV1"),
        ("share", ""),
        ("before", ""),
        ("do", act),
    ]
}

/// Everything that stands against the slot, passed over, so that one gate alone is looked at.
async fn gates_against(app: &TestApp) -> Vec<String> {
    let page = app.get("/tasks/T-3").await.body;
    let at = page.find("value=\"T-3:E-37.2\"").unwrap();
    let form = page[at..].split("</form>").next().unwrap();
    form.split("name=\"waive\" value=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .collect()
}

#[sqlx::test]
async fn tried_twice_from_one_side_it_is_refused_there_and_set_from_the_other(db: SqlitePool) {
    let app = tried_twice(db, Role::Lead).await;

    let page = app.get("/tasks/T-3").await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("data-code=\"T-3\" data-state=\"open\""), "{}", page.body);
    assert!(page.body.contains("Never tried here: from zenith with K-1"), "{}", page.body);
    let guard: Vec<&str> = page
        .body
        .split("data-gate=\"approach\" data-verdict=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap())
        .collect();
    assert_eq!(guard[..2], ["not-met", "met"], "tried first, then what is left");
    for attempt in ["A-0901", "A-0902"] {
        assert!(page.body.contains(&format!("href=\"/attempts/{attempt}\"")), "{attempt}");
    }
    let (first, second) =
        (page.body.find("pushed back in 1").unwrap(), page.body.find("pushed back in 2").unwrap());
    assert!(first < second, "in the order of events");

    let refused = app.post("/slots", &plan("K-1,nadir", "set")).await;
    assert_eq!(refused.status, 409);
    assert!(refused.body.contains("A-0901") && refused.body.contains("A-0902"));
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Open, "nothing was set");

    let others = gates_against(&app).await;
    assert!(!others.contains(&"approach".to_owned()), "{others:?}");
    let mut from_zenith = plan("K-1,zenith", "set");
    from_zenith.extend(others.iter().map(|gate| ("waive", gate.as_str())));
    from_zenith.push(("waiver", "figures that this small record lacks"));
    let set = app.post("/slots", &from_zenith).await;
    assert_eq!((set.status.as_u16(), set.location.as_str()), (303, "/tasks/T-3"), "{}", set.body);
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Set);
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("set on <a class=\"code\" href=\"/excursions/E-37.2\""), "{page}");
}

#[sqlx::test]
async fn a_lead_passes_the_repeat_guard_over_and_the_reason_is_kept(db: SqlitePool) {
    let app = tried_twice(db, Role::Lead).await;
    let mut gates = gates_against(&app).await;
    gates.push("approach".to_owned());
    let mut waived = plan("K-1,nadir", "set");
    waived.extend(gates.iter().map(|gate| ("waive", gate.as_str())));

    let silent = app.post("/slots", &waived).await;
    assert_eq!(silent.status, 422, "a waiver says why");

    app.get("/tasks/T-3").await;
    waived.push(("waiver", "the bracket is off since G-36"));
    let set = app.post("/slots", &waived).await;
    assert_eq!(set.status, 303, "{}", set.body);
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("the bracket is off since G-36"), "{page}");
    let mut db = app.app.db.reader().await.unwrap();
    let slots = store::slots::live_of_task(&mut db, &"T-3".into()).await.unwrap();
    let kept = slot_history::waivers_of(&mut db, &slots[0].code.0).await.unwrap();
    let approach = kept.iter().find(|waiver| waiver.gate.word() == "approach").unwrap();
    assert_eq!(
        (approach.who.as_str(), approach.reason.as_str()),
        ("lead", "the bracket is off since G-36")
    );
}

#[sqlx::test]
async fn an_engineer_pencils_a_shut_approach_and_cannot_set_it(db: SqlitePool) {
    let app = tried_twice(db, Role::Engineer).await;
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("value=\"pencil\"") && !page.contains("value=\"set\""), "{page}");

    assert_eq!(app.post("/slots", &plan("K-1,nadir", "set")).await.status, 403);

    let pencilled = app.post("/slots", &plan("K-1,nadir", "pencil")).await;
    assert_eq!(pencilled.status, 303, "{}", pencilled.body);
    let page = app.get("/tasks/T-3").await.body;
    let candidate = page.split("data-code=\"E-37.2\"").nth(1).unwrap();
    assert!(candidate.starts_with(" data-verdict=\"does-not-fit\""), "{candidate}");
    assert!(candidate.contains("data-gate=\"approach\" data-verdict=\"not-met\""), "{candidate}");
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Open, "a pencil changes nothing");
}

#[sqlx::test]
async fn what_is_done_from_the_page_comes_back_to_it(db: SqlitePool) {
    let app = tried_twice(db, Role::Lead).await;
    let parking = "/parkings/new?task=T-3";
    assert!(app.get("/tasks/T-3").await.body.contains(&format!("href=\"{parking}\"")));
    app.get(parking).await;

    let parked = app.post("/parkings/new", &[("task", "T-3"), ("why", "waits for parts")]).await;

    assert_eq!(parked.location, "/tasks/T-3");
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("data-state=\"parked\"") && page.contains("waits for parts"), "{page}");
    assert!(page.contains("share_left=100\">Open task again"), "{page}");
    assert!(!page.contains("name=\"do\" value=\"pencil\""), "what rests is planned nowhere");
}

#[sqlx::test]
async fn a_contingency_is_triggered_once_with_its_reason(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    made(&app.app, Kind::Link, "task: T-3 | kind: only if | other: T-1").await;
    assert!(!standing_of(&app.app, "T-3").await.2, "kept out");
    assert!(app.get("/tasks/T-3").await.body.contains("action=\"/tasks/T-3/condition-met\""));

    let done = app.post("/tasks/T-3/condition-met", &[("why", "T-1 came loose")]).await;

    assert_eq!((done.status.as_u16(), done.location.as_str()), (303, "/tasks/T-3"));
    assert!(standing_of(&app.app, "T-3").await.2, "in the backlog");
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("because T-1 came loose"), "{page}");
    assert!(!page.contains("/tasks/T-3/condition-met"), "once");
    // A page that was open before the address had its word sends to the former one.
    assert_eq!(app.post("/tasks/T-3/trigger", &[("why", "again")]).await.status, 409);
    assert_eq!(app.post("/tasks/T-2/condition-met", &[("why", "no")]).await.status, 409);
}

#[sqlx::test]
async fn a_viewer_reads_everything_and_is_offered_nothing(db: SqlitePool) {
    let app = tried_twice(db, Role::Viewer).await;
    let page = app.get("/tasks/T-3").await;
    assert_eq!(page.status, 200);
    for offer in ["/attempts/new", "/parkings/new", "/edit\"", "action=\"/slots"] {
        assert!(!page.body.contains(offer), "{offer}");
    }
    assert_eq!(app.get("/tasks/T-99").await.status, 404);
}

#[sqlx::test]
async fn a_position_at_an_unknown_worksite_is_refused_by_its_field(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(&app.app, Kind::Position, "code: C-14 | worksite: W-B").await;
    made(&app.app, Kind::Position, "code: C-15").await;
    for position in ["C-14", "C-15", "C-99"] {
        app.get("/tasks/T-1/edit").await;
        let typed = [("position", position), ("worksite", "W-404")];
        let reply = app.post("/tasks/T-1/edit", &typed).await;
        assert_eq!(reply.status, 422, "{position}: {}", reply.body);
        assert!(reply.body.contains("There is no worksite W-404"), "{}", reply.body);
    }
}
