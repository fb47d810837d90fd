//! What a result leaves of its task: asked for, shown, read of older records, and held against the work.

use domain::kinds::Kind;
use domain::repeat_guard::Tells;
use domain::units::{Minutes, Share};
use domain::words::{Role, TaskState};
use sqlx::SqlitePool;

use crate::debrief::{DEBRIEF, attempts, flown, send};
use crate::small_record::standing_of;
use crate::support::TestApp;

fn left_now(page: &str, row: &str) -> String {
    let name = format!("name=\"{row}-left_after\"");
    let tag =
        page.split("<input").find(|tag| tag.contains(&name)).unwrap_or_else(|| panic!("{page}"));
    let value = tag.split("value=\"").nth(1).unwrap_or("\"");
    value.split('"').next().unwrap().to_owned()
}

async fn left(app: &TestApp, task: &str) -> domain::history::Left {
    let mut db = app.app.db.reader().await.unwrap();
    store::standing::find(&mut db, &task.into()).await.unwrap().unwrap().left()
}

#[sqlx::test]
async fn what_is_left_is_shown_asked_for_and_never_ends_the_task(db: SqlitePool) {
    let app = flown(db).await;
    let page = app.get(DEBRIEF).await.body;
    assert!(page.contains("Left before: 100 %."), "{page}");
    assert_eq!(left_now(&page, "r0"), "100");

    // Left as it was shown, the field says nothing.
    let reply = app
        .post(DEBRIEF, &[("r0-outcome", "part done"), ("r0-cause", "3"), ("r0-left_after", "100")])
        .await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(app.get(DEBRIEF).await.body.contains("Say how much of the task is left now"));
    assert!(attempts(&app).await.is_empty());

    for (nothing, words) in [("0", "choose “done”"), ("100", "Part done leaves 1 to 99 %")] {
        app.get(DEBRIEF).await;
        let row = [("r0-outcome", "part done"), ("r0-cause", "3"), ("r0-left_after", nothing)];
        let all = [&row[..], &[("r0-left_shown", "")]].concat();
        app.post(DEBRIEF, &all).await;
        let page = app.get(DEBRIEF).await.body;
        assert!(page.contains(words), "{page}");
        assert!(attempts(&app).await.is_empty());
    }

    let part = [
        ("r0-outcome", "part done"),
        ("r0-cause", "3"),
        ("r0-minutes", "30"),
        ("r0-left_after", "40"),
    ];
    send(&app, &part).await;
    assert_eq!(left(&app, "T-1").await.to_string(), "40 %");
    let page = app.get("/excursions/E-37.1/debrief?another=S-1").await.body;
    assert_eq!(left_now(&page, "r0"), "40", "what was recorded");
    assert_eq!(left_now(&page, "r2"), "40", "what is left before the next try");
    assert!(page.contains("Left before: 40 %."), "{page}");

    let more = [
        ("r2-outcome", "not completed"),
        ("r2-cause", "3"),
        ("r2-minutes", "30"),
        ("r2-left_after", "70"),
    ];
    app.post(DEBRIEF, &more).await;
    let page = app.get(DEBRIEF).await.body;
    assert!(page.contains("40 % was left before: “not completed” leaves at most that"), "{page}");
    // Kept as typed, the row stands beside the other result of its slot.
    let less = [("r1-left_after", "30")];
    app.post(DEBRIEF, &less).await;
    assert_eq!(attempts(&app).await.len(), 2);
    assert_eq!(left(&app, "T-1").await.to_string(), "30 %");
    assert_eq!(standing_of(&app.app, "T-1").await.0, TaskState::PartDone);
}

/// Imports attempts as the files of older records hold them.
async fn import(app: &TestApp, rows: &str) {
    use app::Actor;
    use app::import::{Options, Request, run};
    let head = "code,task,excursion,slot,outcome,share,cause,minutes\n";
    let text = format!("{head}{rows}");
    let request = Request {
        kind: Kind::Attempt,
        table: app::import::Given::Bytes(text.as_bytes()),
        options: Options::default(),
    };
    let actor = Actor { name: "lead".into(), role: Role::Lead };
    let report = run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
    assert_eq!((report.committed, report.bad), (true, Vec::new()));
}

pub async fn faults(app: &TestApp) -> Vec<String> {
    let report = app::checks::run(&app.app.db, |_, _| {}).await.unwrap();
    report.faults.into_iter().map(|fault| fault.words).collect()
}

#[sqlx::test]
async fn old_shares_that_reach_the_whole_leave_the_task_open_and_ask_for_an_answer(db: SqlitePool) {
    let app = flown(db).await;
    import(&app, "A-1,T-3,E-37.1,,part done,60,3,30\nA-2,T-3,E-37.1,,part done,60,3,30\n").await;

    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::PartDone);
    assert_eq!(left(&app, "T-3").await.to_string(), "unknown, at most 40 %");
    assert!(app.get("/tasks/T-3").await.body.contains("unknown, at most 40 %"));
    assert!(app.get("/open").await.body.contains("% left unknown"));
    let found = faults(&app).await;
    assert!(found.len() == 1 && found[0].starts_with("T-3 is not done, and A-2"), "{found:?}");
    let home = app.get("/").await.body;
    assert!(home.contains("leaves 0 %, and the task is not done"), "{home}");
    assert!(home.contains("/attempts/A-2/edit#f-left-after"), "{home}");

    // The act that mends it leads to the field, and correcting something else is not refused.
    let form = app.get("/attempts/A-2/edit").await;
    assert!(form.body.contains("id=\"f-left-after\""), "{}", form.body);
    let all = [
        ("task", "T-3"),
        ("excursion", "E-37.1"),
        ("outcome", "part done"),
        ("cause", "3"),
        ("minutes", "30"),
    ];
    let other = [&all[..], &[("left_after", ""), ("words", "the pin sat loose")]].concat();
    let reply = app.post("/attempts/A-2/edit", &other).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    app.get("/attempts/A-2/edit").await;
    let answer = [&all[..], &[("left_after", "15"), ("words", "the pin sat loose")]].concat();
    let reply = app.post("/attempts/A-2/edit", &answer).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    assert_eq!(left(&app, "T-3").await.to_string(), "15 %");
    assert_eq!(faults(&app).await, [] as [String; 0]);
    assert!(!app.get("/").await.body.contains("tasks with % left unknown"));
    assert!(!app.get("/today/all").await.body.contains("% left unknown"));
}

pub async fn tries(app: &TestApp, task: &str) -> Vec<store::history::AttemptRow> {
    let mut db = app.app.db.reader().await.unwrap();
    let mut found = store::history::tries_of(&mut db, &[task.into()]).await.unwrap();
    found.sort_by_key(|tried| tried.entry);
    found
}

#[sqlx::test]
async fn a_sum_below_the_whole_is_read_as_before(db: SqlitePool) {
    let app = flown(db).await;
    import(&app, "A-1,T-3,E-37.1,,part done,60,3,30\nA-2,T-3,E-37.1,,part done,30,3,30\n").await;
    assert_eq!(left(&app, "T-3").await.to_string(), "10 %");
    // A row of the debrief shows what follows from the old shares, and keeps them untouched.
    let page = app.get(DEBRIEF).await.body;
    assert_eq!((left_now(&page, "r2"), left_now(&page, "r3")), ("40".into(), "10".into()));
    let reply = app.post(DEBRIEF, &[("r3-left_after", "10"), ("r3-outcome", "part done")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let found = tries(&app, "T-3").await;
    let said = found.iter().map(|tried| (tried.left_after, tried.share)).collect::<Vec<_>>();
    assert_eq!(said, [(None, Some(Share(60))), (None, Some(Share(30)))]);
}

#[sqlx::test]
async fn time_that_ran_out_is_held_against_the_part_of_the_work_that_was_left(db: SqlitePool) {
    let app = flown(db).await;
    let part = [
        ("r0-outcome", "part done"),
        ("r0-cause", "3"),
        ("r0-minutes", "30"),
        ("r0-left_after", "50"),
    ];
    send(&app, &part).await;
    let page = app.get("/excursions/E-37.1/debrief?another=S-1").await;
    assert_eq!(page.status, 200);
    let ran_out = [
        ("r2-outcome", "not completed"),
        ("r2-cause", "17"),
        ("r2-minutes", "20"),
        ("r2-technique", "K-1"),
        ("r2-side", "nadir"),
    ];
    let reply = app.post(DEBRIEF, &ran_out).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    // Source: common practice, a three-point estimate of 20, 30 and 45 minutes has the mean
    // 30.83 and the standard deviation 4.17; lognormal, eight of ten tries at the whole work end
    // within 34.2 minutes and at half of it within 17.1.
    let found = tries(&app, "T-1").await;
    assert_eq!(found[1].cut_off, Some(Minutes(17)));
    // Twenty minutes are more than half of the work may take.
    assert_eq!(found[1].told, Tells::Failure);
}
