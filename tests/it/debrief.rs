//! The debrief over HTTP: nothing is lost, nothing is overwritten, and it closes only when
//! everything has its answer.

use domain::kinds::Kind;
use domain::words::{Role, TaskState};
use sqlx::SqlitePool;

use crate::left_over::{faults, tries};
use crate::small_record::{FLOWN, lay, made, standing_of};
use crate::support::{Reply, TestApp};

pub const DEBRIEF: &str = "/excursions/E-37.1/debrief";
pub const ROWS: &str = "/excursions/E-37.1/debrief/rows";

/// A lead before the flown excursion E-37.1, whose slots S-1 and S-2 wait for their results.
pub async fn flown(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    fly(&app).await;
    app
}

pub async fn fly(app: &TestApp) {
    app.wait_until(FLOWN, "lead").await;
    mark_flown(app).await;
}

pub async fn mark_flown(app: &TestApp) {
    use app::work::Work;
    use app::{Actor, excursions};
    let actor = Actor { name: "lead".into(), role: Role::Lead };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    excursions::mark_flown(&mut work, "E-37.1").await.unwrap();
    work.finish("").await.unwrap();
}

/// Sends the debrief form as it stands on the page with these fields filled in.
pub async fn send(app: &TestApp, fields: &[(&str, &str)]) -> Reply {
    app.get(DEBRIEF).await;
    app.post(DEBRIEF, fields).await
}

pub async fn attempts(app: &TestApp) -> Vec<(String, String)> {
    let mut db = app.app.db.reader().await.unwrap();
    let found = store::attempts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    found.iter().map(|a| (a.task.to_string(), a.outcome.word().to_owned())).collect()
}

#[sqlx::test]
async fn an_excursion_closes_only_when_everything_has_its_answer(db: SqlitePool) {
    let app = flown(db).await;
    made(&app.app, Kind::ExcursionTool, "excursion: E-37.1 | tool: L-1 | taken_out: 2").await;

    let fields = [("r0-outcome", "done"), ("r0-minutes", "30"), ("do", "close")];
    let reply = send(&app, &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("Say how T-2 ended"), "{}", reply.body);
    assert!(reply.body.contains("L-1: 2 went out and none is accounted for"));
    assert!(reply.body.contains("href=\"#r1-outcome\""), "the summary leads to the row");

    // What was right is saved all the same.
    assert_eq!(attempts(&app).await, [("T-1".to_owned(), "done".to_owned())]);

    let fields = [
        ("r1-outcome", "not completed"),
        ("r1-minutes", "30"),
        ("r1-cause", "3"),
        ("r1-as_left", "half out, cover on"),
        ("t0-brought_in", "1"),
        ("do", "close"),
    ];
    let reply = send(&app, &fields).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("2 went out, and in, left outside and lost make 1"));

    let reply = send(&app, &[("t0-lost", "1"), ("do", "close")]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/excursions/E-37.1"));

    // What did not end done is in the backlog at once, what did is not.
    assert_eq!(standing_of(&app.app, "T-1").await.0, TaskState::Done);
    assert_eq!(standing_of(&app.app, "T-2").await.0, TaskState::Open);
    assert!(standing_of(&app.app, "T-2").await.2);
    assert!(app.get("/open").await.body.contains("data-code=\"T-2\""));
}

#[sqlx::test]
async fn a_task_set_at_launch_and_not_done_at_landing_was_carried_once(db: SqlitePool) {
    let app = flown(db).await;
    let fields = [
        ("r0-outcome", "part done"),
        ("r0-minutes", "30"),
        ("r0-left_after", "60"),
        ("r0-cause", "3"),
        ("r1-outcome", "deferred"),
        ("r1-defer_reason", "time"),
        ("do", "close"),
    ];
    let reply = send(&app, &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    // Still in flight: nothing has landed, so nothing is carried yet.
    assert_eq!(standing_of(&app.app, "T-1").await, (TaskState::PartDone, 0, true));

    land_flight(&app).await;

    // Rule 10 (docs/rules.md): flown flights with a set slot at launch.
    assert_eq!(standing_of(&app.app, "T-1").await.1, 1);
    assert_eq!(standing_of(&app.app, "T-2").await.1, 1);
    assert_eq!(standing_of(&app.app, "T-3").await.1, 0);
}

async fn land_flight(app: &TestApp) {
    use app::Actor;
    use app::records::{Base, save};
    use app::work::Work;
    use domain::flights::Flight;
    use domain::words::FlightState;
    use store::Kept as _;
    let actor = Actor { name: "lead".into(), role: Role::Lead };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    let mut flight = Flight::find(work.db(), "G-37").await.unwrap().unwrap();
    flight.state = FlightState::Flown;
    save(&mut work, flight, Base::Current).await.unwrap();
    work.finish("").await.unwrap();
}

#[sqlx::test]
async fn one_task_may_be_tried_several_times_and_other_work_done_beside_the_plan(db: SqlitePool) {
    let app = flown(db).await;
    send(&app, &[("r0-outcome", "not completed"), ("r0-minutes", "30"), ("r0-cause", "3")]).await;
    let reply = send(&app, &[("do", "another S-1")]).await;
    assert_eq!(reply.location, "/excursions/E-37.1/debrief?another=S-1#another");
    let page = app.get("/excursions/E-37.1/debrief?another=S-1").await;
    assert!(page.body.contains("value=\"S-1 another\""), "{}", page.body);
    let reply = app
        .post(DEBRIEF, &[("r2-outcome", "done"), ("r2-minutes", "30"), ("r2-side", "zenith")])
        .await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    app.get("/excursions/E-37.1/debrief?another=unplanned").await;
    let reply = app
        .post(DEBRIEF, &[("r3-task", "T-3"), ("r3-outcome", "done"), ("r3-minutes", "30")])
        .await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let mut found = attempts(&app).await;
    found.sort();
    let tried = |task: &str, outcome: &str| (task.to_owned(), outcome.to_owned());
    assert_eq!(found, [tried("T-1", "done"), tried("T-1", "not completed"), tried("T-3", "done")]);
}

#[sqlx::test]
async fn a_closed_debrief_takes_nothing_until_it_is_reopened_with_a_reason(db: SqlitePool) {
    let app = flown(db).await;
    let fields = [
        ("r0-outcome", "done"),
        ("r0-minutes", "30"),
        ("r1-outcome", "done"),
        ("r1-minutes", "30"),
        ("do", "close"),
    ];
    assert_eq!(send(&app, &fields).await.status, 303);
    assert_eq!(standing_of(&app.app, "T-2").await.0, TaskState::Done);

    app.get(DEBRIEF).await;
    let reply = app.post(DEBRIEF, &[("r1-key", "S-2"), ("r1-outcome", "not reached")]).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("reopen it first"), "{}", reply.body);

    let reopen = "/excursions/E-37.1/debrief/reopen";
    app.get(DEBRIEF).await;
    assert_eq!(app.post(reopen, &[("why", " ")]).await.status, 422);
    app.get(DEBRIEF).await;
    assert_eq!(app.post(reopen, &[("why", "the wrong row")]).await.status, 303);

    let fields = [("r1-outcome", "not reached"), ("r1-minutes", ""), ("do", "close")];
    assert_eq!(send(&app, &fields).await.status, 303);
    assert_eq!(standing_of(&app.app, "T-2").await.0, TaskState::Open, "derived again");
}

#[sqlx::test]
async fn a_result_in_the_wrong_row_is_taken_back_and_waited_for_again(db: SqlitePool) {
    let app = flown(db).await;
    send(&app, &[("r0-outcome", "done"), ("r0-minutes", "30")]).await;
    let code = async || {
        let mut db = app.app.db.reader().await.unwrap();
        let found = store::attempts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
        found[0].code.0.to_string()
    };
    let first = code().await;
    let take_back = async || {
        app.get(DEBRIEF).await;
        let reply = app.post("/excursions/E-37.1/debrief/undo", &[("row", "S-1")]).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
        assert!(attempts(&app).await.is_empty());
        assert_eq!(standing_of(&app.app, "T-1").await.0, TaskState::Set);
    };
    take_back().await;
    // People may still speak of the first one, so the next goes by another code.
    send(&app, &[("r0-outcome", "done"), ("r0-minutes", "30")]).await;
    assert!(code().await > first, "{first} is not given again");
    take_back().await;
    let reply = send(&app, &[("r1-outcome", "done"), ("r1-minutes", "30"), ("do", "close")]).await;
    assert!(reply.body.contains("Say how T-1 ended"), "{}", reply.body);
}

#[sqlx::test]
async fn a_viewer_reads_the_debrief_and_changes_nothing(db: SqlitePool) {
    let app = flown(db).await;
    let other = app.another().signed_in(Role::Viewer).await;
    let page = other.get(DEBRIEF).await;
    assert_eq!(page.status, 200);
    assert!(!page.body.contains("Close the excursion"));
    let reply = other
        .post(DEBRIEF, &[("r0-key", "S-1"), ("r0-outcome", "done"), ("r0-minutes", "30")])
        .await;
    assert_eq!(reply.status, 403);
    assert!(attempts(&app).await.is_empty());
}

#[sqlx::test]
async fn what_an_earlier_result_leaves_less_of_a_later_slot_plans_no_more_than_that(
    db: SqlitePool,
) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    let slot = "technique: K-1 | side: nadir | seats: EV1 | state: set";
    for (code, excursion, share) in [("S-8", "E-37.1", 40), ("S-9", "E-37.2", 60)] {
        let text = format!("code: {code} | task: T-3 | excursion: {excursion} | share: {share}");
        made(&app.app, Kind::Slot, &format!("{text} | {slot}")).await;
    }
    fly(&app).await;
    app.get(DEBRIEF).await;

    let row = [("r9-key", "S-8"), ("r9-slot", "S-8"), ("r9-task", "T-3")];
    let result = [
        ("r9-outcome", "part done"),
        ("r9-minutes", "30"),
        ("r9-left_after", "30"),
        ("r9-cause", "3"),
    ];
    let reply = app.post(ROWS, &[&row[..], &result[..]].concat()).await;
    assert_eq!(reply.status, 200, "{}", reply.body);

    let mut reader = app.app.db.reader().await.unwrap();
    let live = store::slots::live_of_task(&mut reader, &"T-3".into()).await.unwrap();
    let plans: Vec<_> = live.iter().map(|s| (s.code.0.as_str(), s.share.map(|s| s.0))).collect();
    assert_eq!(plans, [("S-9", Some(30))]);
    let report = app::checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

#[sqlx::test]
async fn minutes_past_three_times_the_estimate_are_asked_once_and_kept_with_the_answer(
    db: SqlitePool,
) {
    let app = flown(db).await;
    let reply = send(&app, &[("r0-outcome", "done"), ("r0-minutes", "91")]).await;
    assert_eq!(reply.status, 303);
    let page = app.get(DEBRIEF).await;
    assert!(attempts(&app).await.is_empty(), "nothing is recorded before the answer");
    assert!(
        page.body.contains("91 minutes is more than three times the estimate"),
        "{}",
        page.body
    );
    assert!(page.body.contains("name=\"r0-confirmed\" type=\"checkbox\" value=\"91 min\""));

    // The answer holds for the minutes that it names.
    let other = [("r0-outcome", "done"), ("r0-minutes", "95"), ("r0-confirmed", "91 min")];
    assert_eq!(send(&app, &other).await.status, 303);
    assert!(attempts(&app).await.is_empty());
    let same = [("r0-outcome", "done"), ("r0-minutes", "91"), ("r0-confirmed", "91 min")];
    assert_eq!(send(&app, &same).await.status, 303);
    let kept = attempt_of(&app, "T-1").await.confirmed.unwrap();
    assert_eq!(domain::cells::Cell::show(&kept), "91 min by lead at 2031-03-11 14:20");

    // What stays as it was is not asked about again; a new value is.
    let words = [("r0-outcome", "done"), ("r0-minutes", "91"), ("r0-words", "slow bolts")];
    send(&app, &words).await;
    let now = attempt_of(&app, "T-1").await;
    assert_eq!((now.words.as_str(), now.confirmed), ("slow bolts", Some(kept)));
    send(&app, &[("r0-outcome", "done"), ("r0-minutes", "99")]).await;
    assert_eq!(attempt_of(&app, "T-1").await.minutes, now.minutes);
    assert!(app.get(DEBRIEF).await.body.contains("99 minutes is more than three times"));
}

#[sqlx::test]
async fn a_result_without_minutes_is_asked_about_unless_the_work_was_not_reached(db: SqlitePool) {
    let app = flown(db).await;
    send(&app, &[("r0-outcome", "done"), ("r1-outcome", "not reached")]).await;
    assert_eq!(attempts(&app).await, [("T-2".to_owned(), "not reached".to_owned())]);
    assert!(app.get(DEBRIEF).await.body.contains("No minutes of work are recorded"));
    send(&app, &[("r0-outcome", "done"), ("r0-confirmed", "no minutes")]).await;
    let kept = attempt_of(&app, "T-1").await.confirmed.unwrap();
    assert!(domain::cells::Cell::show(&kept).starts_with("no minutes by lead"));
}

async fn attempt_of(app: &TestApp, task: &str) -> domain::attempts::Attempt {
    let mut db = app.app.db.reader().await.unwrap();
    let found = store::attempts::of_task(&mut db, &task.into()).await.unwrap();
    found.into_iter().next().unwrap()
}

#[sqlx::test]
async fn a_row_of_what_cannot_be_is_kept_as_typed_and_says_why(db: SqlitePool) {
    let app = flown(db).await;
    for (kind, text) in [
        (Kind::Family, "code: F-2 | name: pump"),
        (Kind::Technique, "code: K-2 | name: twist | family: F-2 | state: cleared"),
    ] {
        made(&app.app, kind, text).await;
    }
    for (field, value, says) in [
        ("r0-technique", "K-2", "K-2 is for the family F-2, and T-1 belongs to F-1"),
        ("r0-side", "aft", "T-1 has the access sides nadir, zenith, not aft"),
        ("r0-minutes", "1800", "1800 minutes is longer than the limit of E-37.1, 7:00"),
    ] {
        send(&app, &[("r0-outcome", "done"), ("r0-minutes", "30"), (field, value)]).await;
        let page = app.get(DEBRIEF).await.body;
        assert!(page.contains(says), "{field}: {page}");
        assert!(attempts(&app).await.is_empty(), "{field}");
    }
    // A side that the record did not know is added in the same form.
    let added = [
        ("r0-outcome", "done"),
        ("r0-minutes", "30"),
        ("r0-side", ""),
        ("r0-technique", "K-1"),
        ("r0-add_side", "aft"),
    ];
    send(&app, &added).await;
    assert_eq!(attempt_of(&app, "T-1").await.side.unwrap().as_str(), "aft");
    let mut db = app.app.db.reader().await.unwrap();
    let task = store::tasks::these(&mut db, &["T-1".into()]).await.unwrap().remove(0);
    assert!(task.sides.iter().any(|side| side.as_str() == "aft"));
}

#[sqlx::test]
async fn work_at_a_task_that_was_set_there_says_whether_it_fills_that_slot(db: SqlitePool) {
    let app = flown(db).await;
    app.get("/excursions/E-37.1/debrief?another=unplanned").await;
    let row = [("r2-task", "T-1"), ("r2-outcome", "done"), ("r2-minutes", "30")];
    let reply = app.post(DEBRIEF, &row).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(attempts(&app).await.is_empty(), "nothing is attached in silence");
    let page = app.get(DEBRIEF).await.body;
    assert!(page.contains("S-1 was set for T-1 on E-37.1"), "{page}");

    let row = [&row[..], &[("r2-slot", "not planned")]].concat();
    assert_eq!(app.post(DEBRIEF, &row).await.status, 303);
    assert_eq!(attempt_of(&app, "T-1").await.slot, None);
    let missing = send(&app, &[("do", "close")]).await;
    assert!(missing.body.contains("Say how T-1 ended"), "S-1 still waits: {}", missing.body);
}

/// The field of what is left, as the page shows it: its value.
#[sqlx::test]
async fn a_result_that_is_moved_to_another_task_leaves_its_slot_waiting(db: SqlitePool) {
    let app = flown(db).await;
    let failed = [("r0-outcome", "not completed"), ("r0-cause", "3"), ("r0-minutes", "30")];
    send(&app, &failed).await;
    let code = tries(&app, "T-1").await[0].code.to_string();
    let address = format!("/attempts/{code}/edit");

    app.get(&address).await;
    let fields = [
        ("task", "T-3"),
        ("excursion", "E-37.1"),
        ("slot", "S-1"),
        ("outcome", "not completed"),
        ("cause", "3"),
        ("minutes", "30"),
    ];
    let reply = app.post(&address, &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    assert_eq!(standing_of(&app.app, "T-1").await.0, TaskState::Set);
    assert_eq!(tries(&app, "T-3").await[0].slot, None);
    let close = [("r1-outcome", "done"), ("r1-minutes", "30"), ("do", "close")];
    let reply = send(&app, &close).await;
    assert!(reply.body.contains("Say how T-1 ended"), "{}", reply.body);
    assert_eq!(faults(&app).await, [] as [String; 0]);
}

#[sqlx::test]
async fn a_debrief_has_a_bounded_number_of_results_and_says_the_bound(db: SqlitePool) {
    let app = flown(db).await;
    let names: Vec<(String, String)> = (1..202)
        .flat_map(|n| {
            [
                (format!("r{n}0-key"), format!("new {n}")),
                (format!("r{n}0-task"), "T-3".to_owned()),
                (format!("r{n}0-outcome"), "not reached".to_owned()),
                (format!("r{n}0-words"), format!("no time, {n}")),
            ]
        })
        .collect();
    let fields: Vec<(&str, &str)> =
        names.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let reply = send(&app, &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("at most 200 are kept"), "{}", reply.body);
}

#[sqlx::test]
async fn nothing_alarms_before_anybody_typed(db: SqlitePool) {
    let app = flown(db).await;
    made(&app.app, Kind::ExcursionTool, "excursion: E-37.1 | tool: L-1 | taken_out: 2").await;
    let page = app.get(DEBRIEF).await.body;
    assert!(!page.contains("class=\"wrong\"") && !page.contains("result wants"), "{page}");
    assert!(page.contains("Not counted yet."), "{page}");
    let asked = send(&app, &[("do", "close")]).await;
    assert_eq!(asked.status, 409);
    assert!(asked.body.contains("result wants"), "{}", asked.body);
    assert!(asked.body.contains("none is accounted for"), "{}", asked.body);
}

#[sqlx::test]
async fn a_saved_failure_leads_to_its_finding_in_one_press_and_then_to_what_was_written(
    db: SqlitePool,
) {
    let app = flown(db).await;
    let fields = [
        ("r0-outcome", "not completed"),
        ("r0-minutes", "30"),
        ("r0-cause", "3"),
        ("r0-words", "The bracket met the wrist."),
    ];
    let saved = send(&app, &fields).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
    let page = app.get(DEBRIEF).await.body;
    let form = "/attempts/A-0001/finding";
    assert!(page.contains(&format!("href=\"{form}\">Write finding")), "{page}");
    let notice = page.split("class=\"notice\"").nth(1).unwrap().split("</div>").next().unwrap();
    assert!(notice.contains("href=\"/attempts/A-0001\""), "it leads to the attempt: {notice}");
    assert!(app.get(form).await.body.contains("The bracket met the wrist.</textarea>"));
    let written = app.post(form, &[("cause", "3"), ("words", "The bracket met the wrist.")]).await;
    assert_eq!(written.status, 303, "{}", written.body);
    let page = app.get(DEBRIEF).await.body;
    assert!(page.contains("Open finding N-"), "{page}");
    assert!(!page.contains("Write finding"), "{page}");
}

#[sqlx::test]
async fn a_row_says_everything_that_is_wrong_in_one_round(db: SqlitePool) {
    let app = flown(db).await;
    let fields = [
        ("r0-outcome", "part done"),
        ("r0-pet_start", "soon"),
        ("r0-side", "aft"),
        ("r0-left_after", ""),
        ("r0-safe_until", "later"),
    ];
    send(&app, &fields).await;
    let page = app.get(DEBRIEF).await.body;
    for wrong in ["has the access sides", "how much of the task is left now"] {
        assert!(page.contains(wrong), "{wrong}: {page}");
    }
    for field in ["r0-pet-start-error", "r0-safe-until-error"] {
        assert!(page.contains(field), "{field}: {page}");
    }
}
