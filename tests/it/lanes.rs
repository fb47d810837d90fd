//! The lanes of a planned excursion over HTTP: the drawing, moving, what a change does, the way
//! back, and slots that stop fitting because something else changed.

use domain::kinds::Kind;
use domain::words::{DeferralReason, Role, SlotState, TaskState};
use sqlx::SqlitePool;
use store::{endings, slots};

use crate::small_record::{lay, made, standing_of};
use crate::support::{Reply, TestApp};

const PLANNED: &str = "/excursions/E-37.1";

async fn lead(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app
}

/// The live slots of an excursion in their order: code, task, seats, state.
async fn order(app: &TestApp, excursion: &str) -> Vec<(String, String, String, SlotState)> {
    let mut db = app.app.db.reader().await.unwrap();
    let all = slots::of_excursion(&mut db, &excursion.into()).await.unwrap();
    all.into_iter()
        .filter(|slot| matches!(slot.state, SlotState::Pencilled | SlotState::Set))
        .map(|s| (s.code.0.to_string(), s.task.to_string(), s.seats.names(), s.state))
        .collect()
}

async fn tasks(app: &TestApp) -> Vec<String> {
    order(app, "E-37.1").await.into_iter().map(|(_, task, ..)| task).collect()
}

/// Sends a form of the excursion's page, as it stands now.
async fn act(app: &TestApp, slot: &str, act: &str, fields: &[(&str, &str)]) -> Reply {
    app.get(PLANNED).await;
    app.post(&format!("{PLANNED}/slots/{slot}/{act}"), fields).await
}

/// Takes the last change back by the page's own form.
async fn take_back(app: &TestApp, fields: &[(&str, &str)]) -> Reply {
    let page = app.get(PLANNED).await;
    let form = page.body.split("data-lanes-undo").next().unwrap();
    let action = form.rsplit("action=\"").next().unwrap().split('"').next().unwrap().to_owned();
    app.post(&action, fields).await
}

fn section<'a>(page: &'a str, class: &str) -> &'a str {
    let (_, rest) = page.split_once(class).unwrap_or_else(|| panic!("no {class} in {page}"));
    rest.split("</section>").next().unwrap()
}

#[sqlx::test]
async fn the_lanes_stand_drawn_with_their_words_and_links(db: SqlitePool) {
    let app = lead(db).await;
    let page = app.get(PLANNED).await.body;
    // By hand: egress 0:30, 6 min of travel, 5 of setup, then both work from 0:41 to 1:12 (mean of
    // 20, 30, 45 is 30.83 minutes); 5 of cleanup, 6 back, 28 of ingress: 1:51.
    for said in [
        "<svg class=\"lane-drawing\"",
        "data-slot=\"S-1\"",
        "href=\"/tasks/T-1\"",
        "EV1: egress 0:00 to 0:30; travel to W-B 0:30 to 0:36; setup 0:36 to 0:41; T-1 0:41 to 1:12",
        "cleanup 1:12 to 1:17; travel to W-A 1:17 to 1:23; ingress 1:23 to 1:51.",
        "limit 7:00",
        "start by ",
        "Signs in the lanes",
    ] {
        assert!(page.contains(said), "{said} is missing in {page}");
    }
    let sampled = page.split("data-sampled>").nth(1).unwrap().split("</p>").next().unwrap();
    assert!(sampled.contains("10,000 draws") && sampled.contains("agree"), "{sampled}");
    assert!(page.contains("planning aid"), "the caution stands in the foot");
}

#[sqlx::test]
async fn a_block_moves_along_and_between_lanes_and_the_answer_tells_the_margin(db: SqlitePool) {
    let app = lead(db).await;
    // Both on EV1: the second waits for the first, 30.83 minutes later.
    let reply = act(&app, "S-2", "place", &[("seats", "EV1"), ("before", "S-2")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("T-2 is worked by EV1 now. Time left at P80: 4:"), "{page}");
    // Beside each other they end at 1:51 at the mean, some ten minutes later at P80.
    let was = |from: &str| page.contains(&format!(" left, set tasks only, was {from}"));
    assert!(was("4:5") || was("5:0"), "{page}");
    assert!(page.contains("No check changed."), "{page}");
    let change = section(&page, "change-side");
    assert!(change.contains("Time left at P80") && change.contains("Undo"), "{change}");

    let reply = act(&app, "S-2", "place", &[("seats", "EV1"), ("before", "S-1")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-2", "T-1"]);
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("T-2 is worked by EV1, right before T-1, now."), "{page}");

    let reply = act(&app, "S-2", "place", &[("seats", "EV2"), ("before", "")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-2"]);
    // A set slot stays set.
    assert!(order(&app, "E-37.1").await.iter().all(|slot| slot.3 == SlotState::Set));
    assert_eq!(standing_of(&app.app, "T-2").await.0, TaskState::Set);
}

#[sqlx::test]
async fn what_stays_or_is_out_of_date_is_not_moved(db: SqlitePool) {
    let app = lead(db).await;
    let reply = act(&app, "S-2", "place", &[("before", "S-2")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("T-2 is worked there already."), "{}", reply.body);
    assert!(reply.body.contains("class=\"lane-drawing\""), "the page itself answers");

    app.get(PLANNED).await;
    let version = ("version", "0");
    let path = "/excursions/E-37.1/slots/S-2/place";
    let reply = app.post(path, &[("seats", "EV1"), ("before", "S-2"), version]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("in the meantime"), "{}", reply.body);
    let seats = order(&app, "E-37.1").await[1].2.clone();
    assert_eq!(seats, "EV2");
}

#[sqlx::test]
async fn a_move_that_turns_a_gate_of_another_slot_says_so(db: SqlitePool) {
    let app = lead(db).await;
    // T-2 needs T-1; both stand in that order, on one lane.
    made(&app.app, Kind::Link, "task: T-2 | kind: needs | other: T-1").await;
    act(&app, "S-2", "place", &[("seats", "EV1"), ("before", "S-2")]).await;
    // The slot that is moved asks its own gates, which a waiver passes; the other one is told about.
    let waiver = ("waiver", "The bar is out already.");
    let gates = ["time", "order of work", "suit supplies"].map(|gate| ("waive", gate));
    let fields = [&[("seats", "EV1"), ("before", ""), waiver][..], &gates].concat();
    let reply = act(&app, "S-1", "place", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(PLANNED).await.body;
    let change = section(&page, "change-side");
    assert!(change.contains("data-gate=\"order-of-work\" data-verdict=\"not-met\""), "{change}");
    assert!(change.contains("It was met."), "{change}");
    assert!(change.contains("href=\"/tasks/T-1\""), "its sentence names what it waits for");
    // And it is said on the first page, with the day on which it was met.
    let home = app.get("/").await.body;
    assert!(home.contains("set slot that no longer fits"), "{home}");
    let group = app.get("/today/all").await.body;
    let group = group.split("Set slots that no longer fit").nth(1).unwrap();
    let group = group.split("</section>").next().unwrap();
    assert_eq!(group.matches("<li ").count(), 1, "the slot once, {group}");
    assert_eq!(group.matches("The check “").count(), 3, "with all that changed, {group}");
    assert!(home.contains("“order of work” was met on 2030-11-21 and is not met now"), "{home}");

    let reply = take_back(&app, &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-2"]);
    assert!(!app.get("/today/all").await.body.contains("Set slots that no longer fit"));
}

#[sqlx::test]
async fn a_refused_move_names_the_gate_and_a_waiver_lets_it_pass(db: SqlitePool) {
    let app = lead(db).await;
    made(&app.app, Kind::Link, "task: T-2 | kind: needs | other: T-1").await;
    let fields = [("seats", "EV2"), ("before", "S-1")];
    let reply = act(&app, "S-2", "place", &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("order of work”, not met"), "{}", reply.body);
    assert!(reply.body.contains("data-act=\"place\" open"), "its form is open, {}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-2"], "nothing was moved");

    let waived = [("waive", "order of work"), ("waiver", "T-1 may wait for the swap.")];
    let also = [("waive", "time"), ("waive", "suit supplies")];
    let reply = act(&app, "S-2", "place", &[&fields[..], &waived, &also].concat()).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-2", "T-1"]);
    assert!(app.get(PLANNED).await.body.contains("T-1 may wait for the swap."));
}

#[sqlx::test]
async fn an_added_pencil_goes_where_it_fits_best_and_is_taken_back_in_one_step(db: SqlitePool) {
    let app = lead(db).await;
    let page = app.get(PLANNED).await.body;
    let tray = section(&page, "tray-side");
    assert!(tray.contains("data-offer=\"T-3\"") && tray.contains("leaves "), "{tray}");

    let fields = [("task", "T-3"), ("technique", "K-1"), ("side", "nadir"), ("do", "pencil")];
    let reply = app.post(&format!("{PLANNED}/slots"), &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let there = order(&app, "E-37.1").await;
    let added = there.iter().find(|slot| slot.1 == "T-3").unwrap();
    assert!(["EV1", "EV2"].contains(&added.2.as_str()), "{added:?}");
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("class=\"work pencil\""), "{page}");
    // The notice itself has the way back.
    let notice = page.split("class=\"notice\"").nth(1).unwrap().split("</div>").next().unwrap();
    assert!(notice.contains("/excursions/E-37.1/undo/1") && notice.contains("Undo"));
    // It stays there when the page is loaded again, and goes with the next page.
    let again = app.get(PLANNED).await.body;
    assert!(again.contains("class=\"notice\""), "{again}");
    app.get("/open").await;
    app.get("/open").await;
    assert!(!app.get(PLANNED).await.body.contains("class=\"notice\""), "it was left");

    let reply = take_back(&app, &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-2"]);
    assert!(app.get(PLANNED).await.body.contains("Undone. It was: “T-3 is pencilled on E-37.1.”"));
    // And once more: what was taken back comes again.
    let reply = take_back(&app, &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(order(&app, "E-37.1").await.len(), 3);
}

#[sqlx::test]
async fn a_set_slot_leaves_with_its_reason_and_comes_back_as_it_was(db: SqlitePool) {
    let app = lead(db).await;
    let reply = act(&app, "S-1", "withdraw", &[]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("id=\"f-reason-S-1-withdraw-error\""), "{}", reply.body);
    assert!(reply.body.contains("data-act=\"withdraw\" open"), "{}", reply.body);

    let why = [("reason", "priority"), ("words", "The latches go first.")];
    let reply = act(&app, "S-1", "withdraw", &why).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-2"]);

    let reply = take_back(&app, &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-2"], "at its old place");
    let (code, _, seats, state) = order(&app, "E-37.1").await.remove(0);
    assert_ne!(code, "S-1", "a withdrawn slot stays withdrawn");
    assert_eq!((seats.as_str(), state), ("EV1", SlotState::Set));
    assert_eq!(standing_of(&app.app, "T-1").await.0, TaskState::Set);
    let mut db = app.app.db.reader().await.unwrap();
    let told = endings::deferrals_of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    assert_eq!(told.len(), 1, "the deferral stays told");
    assert_eq!(told[0].reason, DeferralReason::Priority);
}

#[sqlx::test]
async fn a_setting_is_undone_at_once_as_if_it_had_not_been_made(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    let fields = [("task", "T-3"), ("technique", "K-1"), ("side", "nadir"), ("do", "set")];
    let reply = app.post(&format!("{PLANNED}/slots"), &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(PLANNED).await.body;
    let notice = page.split("class=\"notice\"").nth(1).unwrap().split("</div>").next().unwrap();
    assert!(notice.contains("/undo/"), "{notice}");

    let reply = take_back(&app, &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Open);
    let mut db = app.app.db.reader().await.unwrap();
    let told = endings::deferrals_of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    assert_eq!(told.len(), 0, "nothing was deferred");
}

#[sqlx::test]
async fn taking_back_a_setting_later_asks_for_the_reason(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    let fields = [("task", "T-3"), ("technique", "K-1"), ("side", "nadir"), ("do", "set")];
    let reply = app.post(&format!("{PLANNED}/slots"), &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    app.wait_minutes(61);
    app.sign_in("lead").await;

    let reply = take_back(&app, &[]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("id=\"f-reason-undo-error\""), "{}", reply.body);
    let reply = take_back(&app, &[("reason", "time")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-2"]);
}

#[sqlx::test]
async fn a_move_to_another_excursion_is_taken_back_from_there(db: SqlitePool) {
    let app = lead(db).await;
    let why = [("to", "E-37.2"), ("reason", "grouped elsewhere")];
    let reply = act(&app, "S-2", "move", &why).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(order(&app, "E-37.2").await.len(), 1);
    let reply = take_back(&app, &[("reason", "grouped elsewhere")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(order(&app, "E-37.2").await.is_empty());
    assert_eq!(tasks(&app).await, ["T-1", "T-2"]);
}

#[sqlx::test]
async fn nothing_is_taken_back_once_something_else_was_changed(db: SqlitePool) {
    let app = lead(db).await;
    act(&app, "S-2", "place", &[("seats", "EV1"), ("before", "S-2")]).await;
    let path = "/excursions/E-37.1/undo/1";
    made(&app.app, Kind::Slot, "task: T-3 | excursion: E-37.1 | state: pencilled").await;
    app.get(PLANNED).await;
    let reply = app.post(path, &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("were changed since"), "{}", reply.body);
    assert!(!reply.body.contains("data-lanes-undo"), "it is not offered either");
    let reply = app.post("/excursions/E-37.1/undo/7", &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
}

#[sqlx::test]
async fn a_slot_that_stops_fitting_is_named_with_what_turned_it(db: SqlitePool) {
    let app = lead(db).await;
    assert!(!app.get("/today/all").await.body.contains("no longer fit"));
    app.get("/excursions/E-37.1/edit").await;
    let shorter = [("limit", "1:00"), ("planned", "1:00")];
    assert_eq!(app.post("/excursions/E-37.1/edit", &shorter).await.status, 303);

    let home = app.get("/today/all").await.body;
    let group = home.split("Set slots that no longer fit").nth(1).unwrap();
    let group = group.split("</section>").next().unwrap();
    assert!(group.contains("“time” was met on 2030-11-21 and is not met now: "), "{group}");
    assert!(group.contains("/excursions/E-37.1#slot-S-1"), "{group}");
    assert!(!group.contains("not checked"), "what nobody checks never turns: {group}");
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("past the limit."), "{page}");
    assert!(page.contains("2 checks have changed since their slots were set."), "{page}");
    assert!(page.contains(">past it 1:01<") && page.contains(">none left<"), "{page}");
}

#[sqlx::test]
async fn a_slot_whose_check_cannot_be_told_any_more_is_named_in_a_sentence(db: SqlitePool) {
    let app = lead(db).await;
    app.get("/excursions/E-37.1/edit").await;
    assert_eq!(app.post("/excursions/E-37.1/edit", &[("limit", "")]).await.status, 303);

    let home = app.get("/today/all").await.body;
    let group = home.split("Set slots that no longer fit").nth(1).unwrap();
    assert!(group.contains("“time” was met on 2030-11-21 and is unknown now: "), "{group}");
    assert!(!group.contains("is cannot"), "{group}");
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("It was met on 2030-11-21"), "{page}");
}

#[sqlx::test]
async fn a_slot_nobody_can_time_is_left_out_and_said(db: SqlitePool) {
    let app = lead(db).await;
    let pencil = "task: T-3 | excursion: E-37.1 | state: pencilled | technique: K-1 | side: nadir \
                  | seats: EV3";
    made(&app.app, Kind::Slot, pencil).await;
    let page = app.get(PLANNED).await.body;
    assert!(page.contains("class=\"lane-drawing\""), "{page}");
    assert!(page.contains("Not drawn until more is recorded: <a"), "{page}");
    assert!(
        page.contains("set tasks only · unknown with 1 pencilled"),
        "no chance with it: {page}"
    );
    let ends_of_it = page
        .split("P80 end ")
        .skip(1)
        .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
    assert_eq!(ends_of_it.count(), 0, "and no end: {page}");
}

#[sqlx::test]
async fn an_engineer_moves_pencils_alone_and_a_viewer_reads(db: SqlitePool) {
    let app = lead(db).await;
    let engineer = app.another().signed_in(Role::Engineer).await;
    engineer.get(PLANNED).await;
    let task = [("task", "T-3"), ("seats", "EV2"), ("before", "S-2"), ("do", "pencil")];
    let reply = engineer.post(&format!("{PLANNED}/slots"), &task).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(tasks(&app).await, ["T-1", "T-3", "T-2"]);
    let page = engineer.get(PLANNED).await.body;
    assert_eq!(page.matches("class=\"handle\"").count(), 1, "its pencil alone");
    let reply = engineer.post(&format!("{PLANNED}/slots/S-1/place"), &[("seats", "EV2")]).await;
    assert_eq!(reply.status, 403, "{}", reply.body);

    let viewer = app.another().signed_in(Role::Viewer).await;
    let page = viewer.get(PLANNED).await.body;
    assert!(page.contains("class=\"lane-drawing\"") && !page.contains("class=\"handle\""));
    assert!(!page.contains("Undo") && !page.contains("Pencil task"));
    let reply = viewer.post(&format!("{PLANNED}/undo/1"), &[]).await;
    assert_eq!(reply.status, 403, "{}", reply.body);
}
