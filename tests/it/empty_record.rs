//! What a person meets who begins with an empty record and enters everything by hand.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::debrief::fly;
use crate::papers::sheet;
use crate::small_record::{lay, made};
use crate::support::{Reply, TestApp};
use crate::under_way::{send, through};

async fn empty(db: SqlitePool, role: Role) -> TestApp {
    TestApp::new(db).await.signed_in(role).await
}

/// Opens a form and sends it filled in so.
async fn typed(app: &TestApp, form: &str, fields: &[(&str, &str)]) -> Reply {
    let page = app.get(form).await;
    assert_eq!(page.status, 200, "{form}: {}", page.body);
    app.post(form.split('?').next().unwrap(), fields).await
}

/// The same where it is to be saved.
async fn saved(app: &TestApp, form: &str, fields: &[(&str, &str)]) -> Reply {
    let reply = typed(app, form, fields).await;
    assert_eq!(reply.status, 303, "{form}: {}", reply.body);
    reply
}

fn refused(reply: &Reply, words: &str) {
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains(words), "{words}: {}", reply.body);
}

async fn flown(app: &TestApp) {
    let flight = [("code", "G-1"), ("launch", "2030-05-01"), ("state", "flown")];
    saved(app, "/flights/new", &flight).await;
    let excursion =
        [("code", "E-1.1"), ("flight", "G-1"), ("day", "2030-05-04"), ("state", "flown")];
    saved(app, "/excursions/new", &excursion).await;
}

#[sqlx::test]
async fn a_past_excursion_that_a_person_adds_waits_for_its_results(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    flown(&app).await;
    let page = app.get("/excursions/E-1.1").await.body;
    assert!(page.contains("The debrief is open."), "{page}");
    let today = app.get("/").await.body;
    assert!(today.contains("/excursions/E-1.1/debrief"), "{today}");
    // A table of past excursions is history, and waits for nothing.
    let table = "code,flight,day,state\r\nE-1.2,G-1,2030-05-06,flown";
    let sent = send(&app, "excursions", table).await;
    through(&app, &sent.location).await;
    assert_eq!(app.post(&sent.location, &[]).await.status, 303);
    let page = app.get("/excursions/E-1.2").await.body;
    assert!(page.contains("The debrief is closed."), "{page}");
}

#[sqlx::test]
async fn an_attempt_before_its_task_was_opened_is_told_which_excursions_there_were(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    let form = app.get("/tasks/new").await.body;
    assert!(form.contains("Left empty: today"), "{form}");
    saved(&app, "/tasks/new", &[("title", "Swap the lamp")]).await;
    let form = app.get("/attempts/new?task=T-0001").await;
    assert!(form.unlinked().contains("No excursion is flown yet."), "{}", form.body);
    flown(&app).await;
    let form = app.get("/attempts/new?task=T-0001").await;
    let words = "No excursion is flown since T-0001 was opened on 2030-11-21. Flown before: E-1.1 on \
                 2030-05-04.";
    assert!(form.unlinked().contains(words), "{}", form.body);
    assert!(form.body.contains("href=\"/tasks/T-0001/edit#f-opened\""), "{}", form.body);
    let sent = app.post("/attempts/new", &[("task", "T-0001"), ("outcome", "done")]).await;
    refused(&sent, "No excursion is flown since");
    assert!(!sent.body.contains("it cannot stay empty"), "{}", sent.body);
    saved(&app, "/tasks/T-0001/edit", &[("opened", "2030-04-01")]).await;
    let form = app.get("/attempts/new?task=T-0001").await.body;
    assert!(form.contains("value=\"E-1.1\"") && !form.contains("is flown since"), "{form}");
}

#[sqlx::test]
async fn an_excursion_with_a_result_stays_flown(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    flown(&app).await;
    // Without a result it can be corrected.
    saved(&app, "/excursions/E-1.1/edit", &[("state", "planned")]).await;
    saved(&app, "/excursions/E-1.1/edit", &[("state", "flown")]).await;
    made(&app.app, Kind::Task, "code: T-1 | title: Swap the lamp").await;
    made(&app.app, Kind::Attempt, "task: T-1 | excursion: E-1.1 | outcome: done").await;
    for state in ["planned", "called off"] {
        let reply = typed(&app, "/excursions/E-1.1/edit", &[("state", state)]).await;
        refused(
            &reply,
            "E-1.1 has the result A-0001; it stays flown. Undo it in the debrief first.",
        );
    }
}

/// A task set on a flown excursion by a technique that needs two tools, none of them counted.
async fn with_tools(app: &TestApp) {
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Tool, "code: L-8 | name: crank | on_board: 1"),
        (Kind::Tool, "code: L-9 | name: hook | on_board: 1"),
        (
            Kind::Technique,
            "code: K-9 | name: by crank | family: F-1 | state: cleared | sides: nadir \
             | tools: L-8, L-9 | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1",
        ),
        (
            Kind::Slot,
            "code: S-9 | task: T-3 | excursion: E-37.1 | technique: K-9 | side: nadir \
             | seats: EV1 | state: set",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    fly(app).await;
}

#[sqlx::test]
async fn the_tools_of_set_tasks_are_asked_for_and_never_called_accounted_for(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    with_tools(&app).await;
    let debrief = app.get("/excursions/E-37.1/debrief").await.body;
    for tool in ["L-8", "L-9"] {
        assert!(debrief.contains(&format!("-tool\" value=\"{tool}\"")), "{tool}: {debrief}");
    }
    let handover = sheet(&app.get("/flights/G-37/handover").await.body);
    assert!(handover.contains("L-8 crank not counted on E-37.1"), "{handover}");
    assert!(!handover.contains("Every tool is accounted for"), "{handover}");

    // Sent without a count it is no count; one that is typed leaves the other asked for.
    let address = "/excursions/E-37.1/debrief";
    let sent = app.post(address, &[]).await;
    assert_eq!(sent.status, 303, "{}", sent.body);
    app.get(address).await;
    let counts = [("t0-taken_out", "1"), ("t0-brought_in", "1")];
    let sent = app.post(address, &counts).await;
    assert_eq!(sent.status, 303, "{}", sent.body);
    let debrief = app.get(address).await.body;
    assert!(debrief.contains("name=\"t0-version\"") && !debrief.contains("name=\"t1-version\""));
    assert!(debrief.contains("name=\"t1-tool\" value=\"L-9\""), "{debrief}");
    let handover = sheet(&app.get("/flights/G-37/handover").await.body);
    assert!(handover.contains("L-9 hook not counted on E-37.1"), "{handover}");
    assert!(!handover.contains("L-8 crank not counted"), "{handover}");
}

#[sqlx::test]
async fn needed_by_is_not_set_while_both_fields_are_empty(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    saved(&app, "/tasks/new", &[("title", "Swap the lamp")]).await;
    app.get("/open").await;
    let picked = [("pick", "T-0001"), ("do", "need"), ("back", "/open")];
    refused(&app.post("/open/together", &picked).await, "Enter a flight or a date.");
    let mut dated = picked.to_vec();
    dated.push(("needed_by_day", "2031-01-01"));
    assert_eq!(app.post("/open/together", &dated).await.status, 303);
}

#[sqlx::test]
async fn the_worksite_beside_a_position_is_kept_or_refused(db: SqlitePool) {
    let app = empty(db, Role::Engineer).await;
    for code in ["PB", "KR"] {
        saved(&app, "/worksites/new", &[("code", code), ("name", code)]).await;
    }
    saved(&app, "/families/new", &[("code", "F-1"), ("name", "lamp")]).await;
    saved(&app, "/units/new", &[("code", "U-1"), ("family", "F-1"), ("position", "P-1")]).await;
    let edit = "/units/U-1/edit";
    let reply = saved(&app, edit, &[("worksite", "PB")]).await;
    let page = app.get(&reply.location).await.body;
    assert!(page.contains("Position P-1 is at PB now."), "{page}");
    assert!(!page.contains("nothing differs"), "{page}");
    assert!(app.get("/worksites/PB").await.body.contains("P-1"));
    let elsewhere = "Position P-1 is at PB, and KR is entered.";
    refused(&typed(&app, edit, &[("worksite", "KR")]).await, elsewhere);
    let nowhere = [("code", "U-2"), ("family", "F-1"), ("worksite", "KR")];
    refused(&typed(&app, "/units/new", &nowhere).await, "Enter the position of the unit at KR.");

    let task = [("title", "Swap the lamp"), ("position", "P-1"), ("worksite", "KR")];
    refused(&typed(&app, "/tasks/new", &task).await, elsewhere);
    let task = [("title", "Swap the lamp"), ("position", "P-1"), ("worksite", "PB")];
    saved(&app, "/tasks/new", &task).await;

    // In a table nobody can be asked: the position of that name at KR is another one.
    let table = "code,family,position,worksite\r\nU-3,F-1,P-1,KR\r\nU-4,F-1,P-1,PB";
    let sent = send(&app, "units", table).await;
    through(&app, &sent.location).await;
    let done = app.post(&sent.location, &[]).await;
    assert_eq!(done.status, 303, "{}", done.body);
    assert!(app.get("/units/U-3").await.body.contains("KR P-1"));
    assert!(app.get("/worksites/KR").await.body.contains("KR P-1"));
    assert!(!app.get("/units/U-4").await.body.contains("PB P-1"));
}

#[sqlx::test]
async fn an_import_that_is_stopped_says_why_at_the_top(db: SqlitePool) {
    let app = empty(db, Role::Engineer).await;
    let table = "code,title,worksite,likely\r\nT-1,Swap,ZZ,20\r\nT-2,Turn,ZZ,soon";
    let sent = send(&app, "tasks", table).await;
    let look = through(&app, &sent.location).await.body;
    assert!(!look.contains("There is no worksite ZZ"), "the good row adds it: {look}");
    assert!(!look.contains("role=\"alert\""), "{look}");
    let reply = app.post(&sent.location, &[]).await;
    refused(&reply, "Nothing is imported: 1 row is refused.");
    let (top, _) = reply.body.split_once("<h1>").unwrap();
    assert!(top.contains("Nothing is imported: 1 row is refused."), "{}", reply.body);

    let dates = "code,title,opened\r\nT-1,Swap,03/04/2030";
    let sent = send(&app, "tasks", dates).await;
    through(&app, &sent.location).await;
    let reply = app.post(&sent.location, &[]).await;
    let (top, _) = reply.body.split_once("<h1>").unwrap();
    assert!(top.contains("until the order of day and month is chosen"), "{}", reply.body);
}

#[sqlx::test]
async fn a_task_of_a_table_without_a_date_asks_for_opened_on(db: SqlitePool) {
    let app = empty(db, Role::Engineer).await;
    let sent = send(&app, "tasks", "code,title\r\nT-1,Swap").await;
    through(&app, &sent.location).await;
    let done = app.post(&sent.location, &[]).await;
    assert_eq!(done.status, 303, "{}", done.body);
    for address in ["/open", "/tasks/T-1"] {
        let page = app.get(address).await.body;
        assert!(!page.contains("something in its history has no date"), "{address}: {page}");
    }
}

#[sqlx::test]
async fn an_empty_record_speaks_of_no_filter_and_asks_a_viewer_for_nothing(db: SqlitePool) {
    let app = empty(db, Role::Viewer).await;
    for (address, words) in [
        ("/history", "No attempt is recorded yet."),
        ("/history?what=deferrals", "No deferral is recorded yet."),
        ("/findings", "No action is open."),
        ("/open", "No task is open."),
        ("/flights", "No flight is recorded yet."),
    ] {
        let page = app.get(address).await.body;
        assert!(page.contains(words), "{address}: {page}");
        for untrue in
            ["Clear a filter", "Clear all filters", "Add the first one", "every failure has"]
        {
            assert!(!page.contains(untrue), "{address}, {untrue}: {page}");
        }
    }
    assert!(app.get("/history?side=aft").await.body.contains("Clear a filter"));
    assert!(app.get("/findings?overdue=yes").await.body.contains("Clear all filters"));

    let lead = app.another().signed_in(Role::Lead).await;
    assert!(lead.get("/open").await.body.contains("Add the first one"));
    saved(&lead, "/flights/new", &[("code", "G-1"), ("launch", "2031-05-01")]).await;
    saved(&lead, "/excursions/new", &[("code", "E-1.1"), ("flight", "G-1"), ("day", "2031-05-04")])
        .await;
    let page = lead.get("/excursions/E-1.1").await.body;
    assert!(!page.contains("matrix</a> says why"), "{page}");
}

#[sqlx::test]
async fn an_action_without_an_owner_is_no_more_than_none(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    let history = "code,flight,day,state\r\nE-1.1,G-1,2030-05-04,flown";
    let sent = send(&app, "excursions", history).await;
    through(&app, &sent.location).await;
    assert_eq!(app.post(&sent.location, &[]).await.status, 303);
    made(&app.app, Kind::Task, "code: T-1 | title: Swap the lamp").await;
    let failed = "task: T-1 | excursion: E-1.1 | outcome: not completed | cause: 3";
    made(&app.app, Kind::Attempt, failed).await;
    let handover = sheet(&app.get("/flights/G-1/handover").await.body);
    assert!(handover.contains("1 action without an owner"), "{handover}");
    assert!(!handover.contains("No action is owed"), "{handover}");
}

#[sqlx::test]
async fn the_first_code_has_an_example_and_the_focus(db: SqlitePool) {
    let app = empty(db, Role::Lead).await;
    for (form, example) in [("/flights/new", "G-1"), ("/excursions/new", "E-1.1")] {
        let page = app.get(form).await.body;
        assert!(page.contains(&format!("For example {example}")), "{form}: {page}");
        assert!(!page.contains("in your pattern is filled in"), "{form}: {page}");
        let (_, field) = page.split_once("id=\"f-code\"").unwrap();
        assert!(field.split('>').next().unwrap().contains("autofocus"), "{form}: {page}");
    }
    saved(&app, "/flights/new", &[("code", "G-1"), ("launch", "2031-05-01")]).await;
    let page = app.get("/flights/new").await.body;
    assert!(page.contains("in your pattern is filled in"), "{page}");
}

#[sqlx::test]
async fn a_worksite_is_named_and_a_route_is_recorded_once(db: SqlitePool) {
    let app = empty(db, Role::Engineer).await;
    refused(&typed(&app, "/worksites/new", &[]).await, "Name: Fill this in");
    for code in ["PB", "KR"] {
        saved(&app, "/worksites/new", &[("code", code), ("name", code)]).await;
    }
    let route = [("from_site", "PB"), ("to_site", "KR"), ("minutes", "6")];
    saved(&app, "/routes/new", &route).await;
    let back = [("from_site", "KR"), ("to_site", "PB"), ("minutes", "7")];
    for again in [route, back] {
        refused(&typed(&app, "/routes/new", &again).await, "Q-001 leads from PB to KR already.");
    }
    saved(&app, "/families/new", &[("code", "F 1"), ("name", "lamp")]).await;
    let family = app.get("/families/F%201").await.body;
    assert!(family.contains("href=\"/units/new?family=F%201\""), "{family}");
    saved(&app, "/tasks/new", &[("title", "Swap the lamp")]).await;
    let task = app.get("/tasks/T-0001").await.body;
    assert!(!task.contains("Park, drop, link"), "{task}");
}

#[sqlx::test]
async fn a_name_where_a_code_is_wanted_names_the_code(db: SqlitePool) {
    let app = empty(db, Role::Engineer).await;
    saved(&app, "/worksites/new", &[("code", "AL"), ("name", "Airlock")]).await;
    let task = [("title", "Swap the lamp"), ("worksite", "Airlock")];
    let words = "There is no worksite Airlock; AL is named Airlock. Enter AL.";
    refused(&typed(&app, "/tasks/new", &task).await, words);
}
