//! Slots through their life over HTTP: pulled forward, deferred, carried, and taken along when an
//! excursion is closed or called off; which techniques can be set.

use app::{Actor, checks, standing};
use domain::kinds::Kind;
use domain::words::{Role, SlotState, TaskState};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _, SqlitePool};
use store::{endings, slots, standing as standings};

use crate::debrief::mark_flown;
use crate::small_record::{lay, made, standing_of};
use crate::support::{Reply, TestApp};

const PLANNED: &str = "/excursions/E-37.1";

async fn lead(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app
}

/// Moves a slot from the page of its excursion.
async fn moved(app: &TestApp, from: &str, slot: &str, fields: &[(&str, &str)]) -> Reply {
    app.get(from).await;
    app.post(&format!("{from}/slots/{slot}/move"), fields).await
}

/// The live slot of a task: code, excursion, state.
async fn live(app: &TestApp, task: &str) -> (String, String, SlotState) {
    let mut db = app.app.db.reader().await.unwrap();
    let slot = slots::live_of_task(&mut db, &task.into()).await.unwrap().remove(0);
    (slot.code.0.to_string(), slot.excursion.to_string(), slot.state)
}

async fn state_of(app: &TestApp, slot: &str) -> SlotState {
    let mut db = app.app.db.reader().await.unwrap();
    let mut all = slots::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    all.retain(|one| one.code.0.as_str() == slot);
    all.remove(0).state
}

async fn deferred_before_launch(app: &TestApp, task: &str) -> i64 {
    let mut db = app.app.db.reader().await.unwrap();
    standings::find(&mut db, &task.into()).await.unwrap().unwrap().deferred_before
}

async fn no_faults(app: &TestApp) {
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

/// The notice above a page, as text.
fn notice(page: &str) -> &str {
    let rest = page.split("class=\"notice\" role=\"status\"").nth(1).unwrap_or_default();
    rest.split("</p>").next().unwrap()
}

#[sqlx::test]
async fn a_set_slot_that_is_pulled_forward_is_a_move_and_no_deferral(db: SqlitePool) {
    let app = lead(db).await;
    // Later is a deferral, which asks for its reason.
    let reply = moved(&app, PLANNED, "S-1", &[("to", "E-37.2")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    let reply = moved(&app, PLANNED, "S-1", &[("to", "E-37.2"), ("reason", "priority")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(deferred_before_launch(&app, "T-1").await, 1);

    // Earlier is not, and asks for none.
    let (slot, ..) = live(&app, "T-1").await;
    let words = [("to", "E-37.1"), ("words", "the tool came early")];
    let reply = moved(&app, "/excursions/E-37.2", &slot, &words).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let (_, excursion, state) = live(&app, "T-1").await;
    assert_eq!((excursion.as_str(), state), ("E-37.1", SlotState::Set));
    assert_eq!(deferred_before_launch(&app, "T-1").await, 1, "the move wrote no deferral");

    // The task tells of it, with who, when and why.
    let page = app.get("/tasks/T-1").await.body;
    let row = page.split(&format!("<tr data-code=\"{slot}\"")).nth(1).expect("the move has a row");
    let row = row.split("</tr>").next().unwrap();
    for said in ["moved earlier, to E-37.1", "E-37.2", "the tool came early", "lead", "2030-11-21"]
    {
        assert!(row.contains(said), "{said}: {row}");
    }
    assert!(page.contains("1 deferral, 1 move to an earlier excursion"), "{page}");
    no_faults(&app).await;
}

#[sqlx::test]
async fn taking_back_a_move_to_a_later_excursion_is_no_deferral_either(db: SqlitePool) {
    let app = lead(db).await;
    let why = [("to", "E-37.2"), ("reason", "grouped elsewhere")];
    assert_eq!(moved(&app, PLANNED, "S-1", &why).await.status, 303);
    app.get(PLANNED).await;
    let reply = app.post("/excursions/E-37.1/undo/1", &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(live(&app, "T-1").await.1, "E-37.1");
    let mut db = app.app.db.reader().await.unwrap();
    let from_there = endings::deferrals_of_excursion(&mut db, &"E-37.2".into()).await.unwrap();
    assert_eq!(from_there.len(), 0, "nothing was deferred from E-37.2");
    drop(db);
    assert!(app.get("/tasks/T-1").await.body.contains("moved earlier, to E-37.1"));
    no_faults(&app).await;
}

#[sqlx::test]
async fn a_deferral_to_an_earlier_excursion_is_refused_with_what_to_do(db: SqlitePool) {
    let app = lead(db).await;
    made(
        &app.app,
        Kind::Slot,
        "task: T-3 | excursion: E-37.2 | technique: K-1 | side: nadir | state: set",
    )
    .await;
    app.get("/deferrals/new").await;
    let fields = [
        ("task", "T-3"),
        ("excursion", "E-37.2"),
        ("phase", "before launch"),
        ("reason", "priority"),
        ("to_excursion", "E-37.1"),
    ];
    let reply = app.post("/deferrals/new", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("E-37.1 comes before E-37.2"), "{}", reply.body);
    assert_eq!(live(&app, "T-3").await.2, SlotState::Set);
}

/// A flight that is launched on that day and landed in the end, with one set slot that was set now,
/// on 2030-11-21, and is deferred in flight; how often T-3 was carried then.
async fn carried_after(db: SqlitePool, launch: &str) -> i64 {
    let app = lead(db).await;
    let flight = |state: &str| format!("code: G-36 | launch: {launch} | state: {state}");
    made(&app.app, Kind::Flight, &flight("coming")).await;
    let there = "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-12-20 | state: planned \
                 | planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 \
                 | airlock: W-A | oxygen: 0.9 | scrubber: 0.9 | water: 6 | battery: 9:00";
    made(&app.app, Kind::Excursion, there).await;
    for kind in ["rehearsal", "qualification"] {
        let practised = "technique: K-1 | day: 2030-11-01";
        match kind {
            "rehearsal" => {
                let text = format!("{practised} | kind: tank | success: yes");
                made(&app.app, Kind::Rehearsal, &text).await;
            }
            _ => {
                for crew in ["C-1", "C-2"] {
                    let text = format!("{practised} | crew: {crew} | place: tank");
                    made(&app.app, Kind::Qualification, &text).await;
                }
            }
        }
    }
    let slot = "code: S-9 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
                | seats: EV1 | state: set";
    made(&app.app, Kind::Slot, slot).await;
    for state in ["under way", "flown"] {
        if state == "flown" {
            app.wait_minutes(60 * 24 * 29);
            app.sign_in("lead").await;
            app.get("/excursions/E-36.1").await;
            let why = [("reason", "time")];
            let reply = app.post("/excursions/E-36.1/slots/S-9/withdraw", &why).await;
            assert_eq!(reply.status, 303, "{}", reply.body);
        }
        app.get("/flights/G-36/edit").await;
        let reply = app.post("/flights/G-36/edit", &[("state", state), ("launch", launch)]).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
    }
    let told = {
        let mut db = app.app.db.reader().await.unwrap();
        endings::deferrals_of_excursion(&mut db, &"E-36.1".into()).await.unwrap()
    };
    assert_eq!(told.len(), 1);
    assert_eq!(told[0].phase.word(), "in flight before egress");
    no_faults(&app).await;
    standing_of(&app.app, "T-3").await.1
}

#[sqlx::test]
async fn a_slot_set_at_launch_and_deferred_in_flight_is_carried(db: SqlitePool) {
    assert_eq!(carried_after(db, "2030-12-10").await, 1);
}

#[sqlx::test]
async fn a_slot_set_after_launch_and_deferred_in_flight_is_not_carried(db: SqlitePool) {
    assert_eq!(carried_after(db, "2030-11-20").await, 0);
}

#[sqlx::test]
async fn a_drafted_or_withdrawn_technique_is_pencilled_and_never_set(db: SqlitePool) {
    let app = lead(db).await;
    for (state, code) in [("drafted", "K-2"), ("withdrawn", "K-3")] {
        let technique = format!(
            "code: {code} | name: twist and pull | family: F-1 | state: {state} | sides: nadir \
             | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1"
        );
        made(&app.app, Kind::Technique, &technique).await;
        let approach = format!("{code},nadir");
        let cell = [("cell", "T-3:E-37.1"), ("approach", approach.as_str()), ("seats", "EV1")];
        let waiver = [("waive", "approach"), ("waiver", "we trust it")];
        app.get("/slots?cell=T-3:E-37.1").await;
        let set = [&cell[..], &[("do", "set")], &waiver].concat();
        let reply = app.post("/slots", &set).await;
        assert_eq!(reply.status, 422, "{state}: {}", reply.body);
        assert!(reply.body.contains(&format!("{code} is {state}, so it can be pencilled")));

        let reply = app.post("/slots", &[&cell[..], &[("do", "pencil")]].concat()).await;
        assert_eq!(reply.status, 303, "{state}: {}", reply.body);
        let page = app.get("/slots?cell=T-3:E-37.1").await.body;
        let check = page.split("data-gate=\"approach\" data-verdict=\"").nth(1).unwrap();
        assert!(check.starts_with("not-met"), "{state}: {check}");
        let (slot, ..) = live(&app, "T-3").await;
        let reply = app.post(&format!("/slots/{slot}/set"), &waiver).await;
        assert_eq!(reply.status, 422, "{state}: {}", reply.body);
        app.get("/slots?cell=T-3:E-37.1").await;
        let reply = app.post(&format!("/slots/{slot}/withdraw"), &[]).await;
        assert_eq!(reply.status, 303, "{state}: {}", reply.body);
    }
    // Nor by a file.
    let row = "task,excursion,technique,side,seats,state\nT-3,E-37.1,K-2,nadir,EV1,set\n";
    let actor = Actor { name: "keeper".into(), role: Role::Lead };
    let request = app::import::Request {
        kind: Kind::Slot,
        table: app::import::Given::Bytes(row.as_bytes()),
        options: app::import::Options::default(),
    };
    let report = app::import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
    assert_eq!(report.bad_rows, 1, "{:?}", report.bad);
}

const PENCIL: &str = "code: S-9 | task: T-3 | excursion: E-37.1 | technique: K-1 | side: nadir \
                      | seats: EV1 | state: pencilled";

#[sqlx::test]
async fn what_was_flown_is_answered_in_its_debrief(db: SqlitePool) {
    let app = lead(db).await;
    app.wait_minutes(60 * 24 * 111);
    app.sign_in("lead").await;
    mark_flown(&app).await;
    let why = [("to", "E-37.2"), ("reason", "time")];
    app.get("/slots").await;
    let reply = app.post("/slots/S-1/move", &why).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("E-37.1 was flown. Record in its debrief"), "{}", reply.body);
    assert_eq!(standing_of(&app.app, "T-1").await.0, TaskState::Set);
    // The matrix shows the slot and offers no move.
    let cell = app.get("/slots?cell=T-1:E-37.2").await.body;
    assert!(!cell.contains("/slots/S-1/move"), "{cell}");
    no_faults(&app).await;
}

#[sqlx::test]
async fn closing_a_debrief_withdraws_its_pencils_and_names_them(db: SqlitePool) {
    let app = lead(db).await;
    made(&app.app, Kind::Slot, PENCIL).await;
    app.wait_minutes(60 * 24 * 111);
    app.sign_in("lead").await;
    mark_flown(&app).await;
    let debrief = "/excursions/E-37.1/debrief";
    let page = app.get(debrief).await.body;
    assert!(page.contains("Closing withdraws the pencils T-3 (S-9)"), "{page}");
    let fields = [
        ("r0-outcome", "done"),
        ("r0-minutes", "30"),
        ("r1-outcome", "not completed"),
        ("r1-cause", "3"),
        ("r1-minutes", "40"),
        ("do", "close"),
    ];
    let reply = app.post(debrief, &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.body;
    let said = notice(&page);
    assert!(said.contains("Pencils withdrawn: T-3 (S-9)."), "{said}");
    assert!(said.contains("Back in the backlog: T-2."), "{said}");
    assert_eq!(state_of(&app, "S-9").await, SlotState::Withdrawn);
    let log = app.get("/changes").await.body;
    assert!(log.contains("the debrief of E-37.1 was closed"), "{log}");
    no_faults(&app).await;
}

#[sqlx::test]
async fn calling_off_names_every_slot_and_pencil_before_and_after(db: SqlitePool) {
    let app = lead(db).await;
    made(&app.app, Kind::Slot, PENCIL).await;
    let page = app.get(PLANNED).await.body;
    let confirmation = page.split("id=\"call-off\"").nth(1).unwrap();
    let confirmation = confirmation.split("</section>").next().unwrap();
    for (slot, becomes) in
        [("S-1", "set, deferred"), ("S-2", "set, deferred"), ("S-9", "pencilled")]
    {
        let line = confirmation.split(&format!("<li data-code=\"{slot}\">")).nth(1);
        let line = line.unwrap_or_else(|| panic!("{slot}: {confirmation}"));
        assert!(line.split("</li>").next().unwrap().contains(becomes), "{line}");
    }
    let reply = app.post("/excursions/E-37.1/call-off", &[("why", "suit 2 leaks")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.body;
    let said = notice(&page);
    assert!(said.contains("Deferred and back in the backlog: T-1 (S-1), T-2 (S-2)."), "{said}");
    assert!(said.contains("Pencils withdrawn: T-3 (S-9)."), "{said}");
    no_faults(&app).await;
}

#[sqlx::test]
async fn an_edit_of_the_state_does_not_call_off_slots_unnamed(db: SqlitePool) {
    let app = lead(db).await;
    app.get("/excursions/E-37.1/edit").await;
    let reply = app.post("/excursions/E-37.1/edit", &[("state", "called off")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Slots on E-37.1: T-1 (S-1), T-2 (S-2)."), "{}", reply.body);
    assert_eq!(state_of(&app, "S-1").await, SlotState::Set);
    // Without slots there is nothing to name.
    app.get("/excursions/E-37.2/edit").await;
    let reply = app.post("/excursions/E-37.2/edit", &[("state", "called off")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

#[sqlx::test]
async fn pencils_that_an_earlier_version_left_are_found_and_withdrawn_on_opening(db: SqlitePool) {
    let file = db.connect_options().get_filename().to_owned();
    let app = lead(db).await;
    made(&app.app, Kind::Slot, PENCIL).await;
    let mut raw = SqliteConnectOptions::new().filename(file).connect().await.unwrap();
    let closed = "UPDATE excursion SET state = 'flown', closed_at = 1 WHERE code = 'E-37.1';
        UPDATE derived SET rules = 0";
    sqlx::raw_sql(closed).execute(&mut raw).await.unwrap();
    raw.close().await.unwrap();
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    let pencils = report.faults.iter().find(|fault| fault.check == "pencils").unwrap();
    assert_eq!(pencils.words, "S-9 (T-3) is pencilled, and E-37.1 is closed");

    standing::renew(&app.app).await.unwrap();

    assert_eq!(state_of(&app, "S-9").await, SlotState::Withdrawn);
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert!(report.faults.iter().all(|fault| fault.check != "pencils"), "{:?}", report.faults);
}
