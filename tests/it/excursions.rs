//! Excursions over HTTP: planned with their slots, flown, called off, and their notes made of use.

use domain::kinds::Kind;
use domain::words::{Role, TaskState};
use sqlx::SqlitePool;

use crate::small_record::{FLOWN, lay, made, standing_of};
use crate::support::TestApp;

const PLANNED: &str = "/excursions/E-37.1";
const NOTES: &str = "Latch 4 was stiff.\nThe cassette jammed half out; cover left on.";

async fn lead(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app
}

/// A flown excursion without slots whose story stands in its notes alone.
async fn told(app: &TestApp) {
    let text = format!("code: E-9 | number: 9 | day: 2029-05-04 | state: flown | notes: {NOTES}");
    made(&app.app, Kind::Excursion, &text).await;
}

#[sqlx::test]
async fn a_planned_excursion_shows_its_slots_minutes_and_margins(db: SqlitePool) {
    let app = lead(db).await;
    let page = app.get(PLANNED).await;
    assert_eq!(page.status, 200, "{}", page.body);
    for said in [
        "data-code=\"S-1\" data-state=\"set\" data-verdict=\"fits\"",
        "Ends inside its limit",
        "6:30 · 7:00",
        "K-1 from nadir",
        "data-gate=\"time\" data-verdict=\"met\"",
    ] {
        assert!(page.body.contains(said), "{said} is missing in {}", page.body);
    }
    // By hand: egress 0:30, 6 min of travel, 5 of setup, then the work begins at 0:41.
    assert!(page.body.contains(">0:41–"), "{}", page.body);
}

#[sqlx::test]
async fn what_keeps_an_excursion_from_being_timed_leads_to_its_field(db: SqlitePool) {
    let app = lead(db).await;
    app.get("/excursions/E-37.1/edit").await;
    let version = app.hidden("/excursions/E-37.1/edit");
    assert!(version.iter().any(|(name, _)| name == "version"), "{version:?}");
    let reply = app.post("/excursions/E-37.1/edit", &[("limit", ""), ("planned", "")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let page = app.get(PLANNED).await;
    assert!(page.body.contains("href=\"/excursions/E-37.1/edit#f-limit\""), "{}", page.body);
    assert!(page.body.contains("Whether it ends inside its limit is unknown"));
    assert!(!page.body.contains("Ends inside its limit"), "no chance without a limit");
}

#[sqlx::test]
async fn a_task_is_pencilled_set_moved_and_taken_off_from_here(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    let task = [("task", "T-3"), ("technique", "K-1"), ("side", "zenith"), ("seats", "EV2")];
    let reply =
        app.post("/excursions/E-37.1/slots", &[&task[..], &[("do", "pencil")]].concat()).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(PLANNED).await;
    let code = slot_of(&app, "T-3").await;
    assert!(page.body.contains(&format!("data-code=\"{code}\" data-state=\"pencilled\"")));
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Open, "a pencil changes no state");

    let at = |act: &str| format!("/excursions/E-37.1/slots/{code}/{act}");
    assert_eq!(app.post(&at("set"), &[]).await.status, 303);
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Set);

    app.get(PLANNED).await;
    assert_eq!(app.post(&at("earlier"), &[]).await.status, 303);
    let page = app.get(PLANNED).await;
    let places: Vec<usize> = ["S-1", &code, "S-2"]
        .iter()
        .map(|s| page.body.find(&format!("id=\"slot-{s}\"")).unwrap())
        .collect();
    assert!(places.is_sorted(), "{places:?}");

    // A set slot is not taken off without a reason.
    let reply = app.post(&at("withdraw"), &[]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    app.get(PLANNED).await;
    let reply = app.post(&at("move"), &[("to", "E-37.2"), ("reason", "time")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(app.get("/excursions/E-37.2").await.body.contains("T-3"));
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Set);
}

async fn slot_of(app: &TestApp, task: &str) -> String {
    let mut db = app.app.db.reader().await.unwrap();
    let live = store::slots::live_of_task(&mut db, &task.into()).await.unwrap();
    live[0].code.0.to_string()
}

#[sqlx::test]
async fn a_gate_refuses_and_a_waiver_that_names_it_lets_pass(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    // Nobody chose a seat, and none of the task's work is known: the gates cannot tell.
    made(&app.app, Kind::Task, "code: T-9 | title: Look behind panel 2 | lighting: any").await;
    let task = [("task", "T-9"), ("do", "set")];
    let reply = app.post("/excursions/E-37.1/slots", &task).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("time”, cannot tell"), "{}", reply.body);
    assert!(reply.body.contains("value=\"T-9\""), "what was typed is kept");

    let page = &reply.body;
    let refused = page.split("errors-head").nth(2).unwrap();
    let gates: Vec<&str> = domain::words::GateName::WORDS
        .iter()
        .copied()
        .filter(|gate| {
            refused.contains(&format!("{gate}”, cannot tell"))
                || refused.contains(&format!("{gate}”, not met"))
        })
        .collect();
    let mut fields = vec![("task", "T-9"), ("do", "set"), ("waiver", "a look costs nothing")];
    fields.extend(gates.iter().map(|gate| ("waive", *gate)));
    let reply = app.post("/excursions/E-37.1/slots", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(app.get(PLANNED).await.body.contains("a look costs nothing"));
}

#[sqlx::test]
async fn a_gate_that_turned_since_its_slot_was_set_is_named(db: SqlitePool) {
    let app = lead(db).await;
    assert!(!app.get(PLANNED).await.body.contains("Checks that changed"), "nothing turned yet");
    app.get("/excursions/E-37.1/edit").await;
    let shorter = [("limit", "1:00"), ("planned", "1:00")];
    assert_eq!(app.post("/excursions/E-37.1/edit", &shorter).await.status, 303);

    let page = app.get(PLANNED).await.body;
    let turned = page.split("Checks that changed").nth(1).unwrap();
    let turned = turned.split("</section>").next().unwrap();
    assert!(turned.contains("data-gate=\"time\" data-verdict=\"not-met\""), "{turned}");
    assert!(turned.contains("It was met on 2030-11-21 14:20"), "{turned}");
    // Gates that nobody checks never turn.
    assert!(!turned.contains("not checked"), "{turned}");
}

#[sqlx::test]
async fn calling_off_loses_nothing(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    let reply = app.post("/excursions/E-37.1/call-off", &[("why", "")]).await;
    assert_eq!(reply.status, 422);
    app.get(PLANNED).await;
    let reply = app.post("/excursions/E-37.1/call-off", &[("why", "suit 2 leaks")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let mut db = app.app.db.reader().await.unwrap();
    let code = "E-37.1".into();
    let gone = store::endings::deferrals_of_excursion(&mut db, &code).await.unwrap();
    let why: Vec<_> = gone.iter().map(|d| (d.task.to_string(), d.reason.word())).collect();
    let given_up = |task: &str| (task.to_owned(), "excursion given up");
    assert_eq!(why, [given_up("T-1"), given_up("T-2")]);
    assert_eq!(gone[0].words.as_str(), "suit 2 leaks");
    for task in ["T-1", "T-2"] {
        assert_eq!(standing_of(&app.app, task).await.0, TaskState::Open);
    }
    assert!(app.get(PLANNED).await.body.contains("excursion given up"));
}

#[sqlx::test]
async fn nothing_is_recorded_on_what_was_not_flown(db: SqlitePool) {
    let app = lead(db).await;
    app.get("/attempts/new").await;
    let tried = [
        ("task", "T-1"),
        ("excursion", "E-37.1"),
        ("slot", "S-1"),
        ("outcome", "done"),
        ("minutes", "30"),
    ];
    let reply = app.post("/attempts/new", &tried).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("E-37.1 is still planned"), "{}", reply.body);
    let page = app.get("/excursions/E-37.1/debrief").await;
    assert!(page.body.contains("has not been flown"), "{}", page.body);

    app.wait_until(FLOWN, "lead").await;
    app.get(PLANNED).await;
    let reply = app.post("/excursions/E-37.1/flown", &[]).await;
    assert_eq!(reply.location, "/excursions/E-37.1/debrief");
    app.get("/attempts/new").await;
    let reply = app.post("/attempts/new", &tried).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

#[sqlx::test]
async fn words_of_the_notes_become_records_and_stay_marked(db: SqlitePool) {
    let app = lead(db).await;
    told(&app).await;
    let page = app.get("/excursions/E-9").await;
    assert!(!page.body.contains("<mark>"));

    let asked = "/excursions/E-9/words?make=attempt&quote=The+cassette%20%20jammed+half+out";
    let reply = app.get(asked).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let form = app.get(&reply.location).await;
    assert!(form.body.contains("“The cassette jammed half out”"), "{}", form.body);
    assert!(form.body.contains("value=\"E-9\""), "{}", form.body);

    // Nothing is guessed: without an outcome there is no attempt; side and technique may be left.
    let words = ("words", "“The cassette jammed half out”");
    let excursion = ("excursion", "E-9");
    let reply = app.post("/attempts/new", &[("task", "T-1"), excursion, words]).await;
    assert_eq!(reply.status, 422);
    let fields = [
        ("task", "T-1"),
        excursion,
        words,
        ("outcome", "not completed"),
        ("minutes", "20"),
        ("cause", "3"),
    ];
    let reply = app.post("/attempts/new", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let page = app.get("/excursions/E-9").await;
    assert!(page.body.contains("<mark>The cassette jammed half out<sup><a href=\"/attempts/A-"));

    let reply = app.get("/excursions/E-9/words?make=task&quote=Latch+4+was+stiff.").await;
    assert!(reply.location.starts_with("/tasks/new?from_excursion=E-9&opened=2029-05-04&notes="));
    let reply = app.get("/excursions/E-9/words?make=deferral&quote=Latch+4").await;
    assert!(reply.location.starts_with("/deferrals/new?excursion=E-9&phase=during&day=2029-05-04"));
}

#[sqlx::test]
async fn words_that_do_not_stand_in_the_notes_make_nothing(db: SqlitePool) {
    let app = lead(db).await;
    told(&app).await;
    let reply = app.get("/excursions/E-9/words?make=task&quote=never+said").await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("do not stand in the notes"), "{}", reply.body);
    assert!(reply.body.contains("never said</textarea>"), "what was typed is kept");
    let reply = app.get("/excursions/E-9/words?make=flight&quote=Latch+4").await;
    assert_eq!(reply.status, 422);
}

#[sqlx::test]
async fn excursions_are_found_by_the_words_of_their_notes(db: SqlitePool) {
    let app = lead(db).await;
    told(&app).await;
    let found = app.get("/excursions?q=cassette").await;
    assert!(found.body.contains("1 excursion<") && found.body.contains("E-9"), "{}", found.body);
    assert!(!found.body.contains("data-code=\"E-37.1\""));
    assert!(app.get("/excursions?q=zebra").await.body.contains("No excursion matches"));
    assert!(app.get("/excursions").await.body.contains("data-code=\"E-37.2\""));
}

#[sqlx::test]
async fn old_flights_fold_away_and_are_there_when_asked_for(db: SqlitePool) {
    let app = lead(db).await;
    for n in 1..=30 {
        let text = format!("code: G-{n} | launch: 20{:02}-01-01 | state: flown", n % 30);
        made(&app.app, Kind::Flight, &text).await;
    }
    let page = app.get("/flights").await;
    let shown = |body: &str| body.matches("<section class=\"sec\" data-code=\"G-").count();
    assert_eq!(shown(&page.body), 7, "six flown and the coming one");
    assert!(page.body.contains("24 older flights"), "{}", page.body);
    assert_eq!(shown(&app.get("/flights?older=1").await.body), 20);
    assert_eq!(shown(&app.get("/flights?older=2").await.body), 4);
}

#[sqlx::test]
async fn a_flight_says_what_its_excursions_took_and_what_waits_for_it(db: SqlitePool) {
    let app = lead(db).await;
    let tool = "code: L-7 | name: spreader | arrives_with: G-37 | state: usable";
    made(&app.app, Kind::Tool, tool).await;
    let task = "code: T-8 | title: Seal the vent | needed_by_flight: G-37 | lighting: any";
    made(&app.app, Kind::Task, task).await;
    let page = app.get("/flights/G-37").await;
    for said in ["2 set", "L-7", "spreader", "Seal the vent", "/excursions/new?flight=G-37"] {
        assert!(page.body.contains(said), "{said} is missing in {}", page.body);
    }
    assert_eq!(app.get("/flights/G-99").await.status, 404);
    assert_eq!(app.get("/excursions/E-99").await.status, 404);
}

#[sqlx::test]
async fn a_viewer_sees_no_way_to_change_and_has_none(db: SqlitePool) {
    let app = lead(db).await;
    let other = app.another().signed_in(Role::Viewer).await;
    let page = other.get(PLANNED).await;
    assert!(!page.body.contains("Plan an open task") && !page.body.contains("Call off excursion"));
    let reply = other.post("/excursions/E-37.1/call-off", &[("why", "x")]).await;
    assert_eq!(reply.status, 403);
    let reply = other.post("/excursions/E-37.1/slots/S-1/withdraw", &[("reason", "time")]).await;
    assert_eq!(reply.status, 403);
    let reply = other.post("/excursions/E-37.1/slots/S-1/earlier", &[]).await;
    assert_eq!(reply.status, 403);
}

#[sqlx::test]
async fn an_excursion_is_not_marked_as_flown_before_its_day(db: SqlitePool) {
    let app = lead(db).await;
    assert!(app.get(PLANNED).await.body.contains("It can be marked as flown from 2031-03-10 on."));
    let reply = app.post("/excursions/E-37.1/flown", &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("E-37.1 is dated 2031-03-11."), "{}", reply.body);
    app.get("/excursions/E-37.1/edit").await;
    let reply = app.post("/excursions/E-37.1/edit", &[("state", "flown")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    let early = [("code", "E-37.8"), ("flight", "G-37"), ("day", "2031-03-12"), ("state", "flown")];
    app.get("/excursions/new").await;
    assert_eq!(app.post("/excursions/new", &early).await.status, 422);

    // Clocks differ, by a day at most.
    app.wait_until("2031-03-09T23:59:00Z", "lead").await;
    app.get(PLANNED).await;
    assert_eq!(app.post("/excursions/E-37.1/flown", &[]).await.status, 409);
    app.wait_minutes(1);
    app.get(PLANNED).await;
    assert_eq!(app.post("/excursions/E-37.1/flown", &[]).await.status, 303);
}

#[sqlx::test]
async fn an_excursion_dated_outside_its_flight_is_refused(db: SqlitePool) {
    let app = lead(db).await;
    app.get("/flights/G-37/edit").await;
    assert_eq!(app.post("/flights/G-37/edit", &[("landing", "2031-03-20")]).await.status, 303);
    for (day, why) in [
        ("2031-03-09", "E-37.1 is dated 2031-03-09, before G-37 launches on 2031-03-10"),
        ("2031-03-21", "E-37.1 is dated 2031-03-21, after G-37 lands on 2031-03-20"),
    ] {
        app.get("/excursions/E-37.1/edit").await;
        let reply = app.post("/excursions/E-37.1/edit", &[("day", day)]).await;
        assert_eq!(reply.status, 422, "{}", reply.body);
        assert!(reply.body.contains(why), "{}", reply.body);
    }
    app.get("/excursions/E-37.1/edit").await;
    assert_eq!(app.post("/excursions/E-37.1/edit", &[("day", "2031-03-20")]).await.status, 303);
}

/// Sends the edit of G-37 with this launch; the page that comes back asks about the excursions.
async fn slip(app: &TestApp, launch: &str) -> String {
    app.get("/flights/G-37/edit").await;
    let typed = [("launch", launch), ("notes", "range conflict")];
    let asked = app.post("/flights/G-37/edit", &typed).await;
    assert_eq!(asked.status, 422, "{}", asked.body);
    asked.body
}

#[sqlx::test]
async fn a_slip_of_the_launch_asks_whether_the_excursions_move_along(db: SqlitePool) {
    let app = lead(db).await;
    // 150 days later: the training of 2031-01-10 is older than 180 days then.
    let asked = slip(&app, "2031-08-07").await;
    assert!(asked.contains("G-37 launches 150 days later"), "{asked}");
    let (moved, left) = asked.split_once("If they keep their dates").unwrap();
    assert!(moved.contains("<td>2031-03-11</td><td>2031-08-08</td>"), "{moved}");
    assert!(moved.contains("T-1 on E-37.1: trained turns from met to note."), "{moved}");
    assert!(left.contains("E-37.1 is dated 2031-03-11, before G-37 launches on 2031-08-07."));
    assert!(!left.contains("trained turns"), "{left}");
    assert!(app.get("/flights/G-37").await.body.contains("2031-03-10"), "nothing is saved yet");

    slip(&app, "2031-08-07").await;
    let reply = app.post("/flights/G-37/edit", &[("move_excursions", "yes")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/flights/G-37").await.body;
    for said in ["2031-08-07", "2031-08-08", "2031-08-09", "range conflict"] {
        assert!(page.contains(said), "{said}: {page}");
    }
    assert!(!page.contains("before G-37 launches"), "{page}");
    let log = app.get("/changes?kind=excursion&code=E-37.1").await.body;
    assert!(log.contains("2031-08-08"), "{log}");
}

#[sqlx::test]
async fn a_slip_of_a_flight_that_brings_a_tool_names_the_slot_that_lacks_it(db: SqlitePool) {
    let app = lead(db).await;
    let gates = domain::words::GateName::WORDS.join(", ");
    let technique = "code: K-5 | name: with the spreader | family: F-1 | state: cleared \
                     | sides: nadir | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1 \
                     | tools: L-5";
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2031-02-01 | state: coming".to_owned()),
        (
            Kind::Tool,
            "code: L-5 | name: spreader | on_board: 0 | arrives_with: G-36 | arriving: 2 \
             | state: usable"
                .to_owned(),
        ),
        (Kind::Technique, technique.to_owned()),
        (
            Kind::Slot,
            format!(
                "code: S-9 | task: T-3 | excursion: E-37.1 | technique: K-5 | side: nadir \
                 | seats: EV1 | state: set | waived_gate: {gates} | waiver: to see"
            ),
        ),
    ] {
        made(&app.app, kind, &text).await;
    }
    let slipped = |launch: &'static str| {
        let app = &app;
        async move {
            app.get("/flights/G-36/edit").await;
            let reply = app.post("/flights/G-36/edit", &[("launch", launch)]).await;
            assert_eq!(reply.status, 303, "{}", reply.body);
            app.get(&reply.location).await.body
        }
    };
    let page = slipped("2031-02-11").await;
    assert!(!page.contains("turns from"), "it is there in time all the same: {page}");
    let page = slipped("2031-04-01").await;
    let said = "tools and hardware turns from met to not met.";
    assert!(page.contains(said) && page.contains("T-3") && page.contains("E-37.1"), "{page}");
}

#[sqlx::test]
async fn excursions_that_keep_their_dates_are_named_on_the_page_of_their_flight(db: SqlitePool) {
    let app = lead(db).await;
    slip(&app, "2031-03-31").await;
    let reply = app.post("/flights/G-37/edit", &[("move_excursions", "no")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/flights/G-37").await.body;
    for code in ["E-37.1 is dated 2031-03-11", "E-37.2 is dated 2031-03-12"] {
        assert!(page.contains(&format!("{code}, before G-37 launches on 2031-03-31.")), "{page}");
    }
    // They stay open to any other edit.
    app.get("/excursions/E-37.1/edit").await;
    assert_eq!(app.post("/excursions/E-37.1/edit", &[("notes", "so")]).await.status, 303);
}

#[sqlx::test]
async fn excursions_do_not_move_past_the_landing(db: SqlitePool) {
    let app = lead(db).await;
    app.get("/flights/G-37/edit").await;
    assert_eq!(app.post("/flights/G-37/edit", &[("landing", "2031-03-20")]).await.status, 303);
    let asked = slip(&app, "2031-03-19").await;
    assert!(asked.contains("E-37.2 is dated 2031-03-21, after G-37 lands on 2031-03-20."));
    let reply = app.post("/flights/G-37/edit", &[("move_excursions", "yes")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Change the landing too"), "{}", reply.body);
}

#[sqlx::test]
async fn a_waiver_longer_than_its_field_is_refused_with_the_bound(db: SqlitePool) {
    let app = lead(db).await;
    app.get(PLANNED).await;
    made(&app.app, Kind::Task, "code: T-9 | title: Look behind panel 2 | lighting: any").await;
    let long = "long ".repeat(61);
    let mut fields = vec![("task", "T-9"), ("do", "set"), ("waiver", long.as_str())];
    let gates = domain::words::GateName::WORDS;
    fields.extend(gates.iter().map(|gate| ("waived_gate", *gate)));
    let reply = app.post("/excursions/E-37.1/slots", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("304 characters; at most 300 are kept"), "{}", reply.body);

    // A text of the reason is bounded too.
    let endless = "x".repeat(20_001);
    app.get(PLANNED).await;
    let fields = [("reason", "time"), ("words", endless.as_str())];
    let reply = app.post("/excursions/E-37.1/slots/S-1/withdraw", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("at most 20000 are kept"), "{}", reply.body);
}
