//! A prohibition never vanishes: whatever is recorded again or corrected, what an attempt forbids
//! stands in a constraint that its own end does not end.

use app::records::Base;
use app::work::Work;
use app::{Actor, checks, kinds};
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::constraints::{attempt, with_flown};
use crate::small_record::{cells, made};
use crate::support::TestApp;

const LEFT: &str = "left_after: 50 | forbids: Fan at half speed | safe_until: 2031-03-01";
const FAN: &[(&str, &str)] = &[("forbids", "Fan at half speed"), ("safe_until", "2031-03-01")];

/// Corrects an attempt on its form: these fields beside those that every attempt here has.
async fn corrected(app: &TestApp, code: &str, fields: &[(&str, &str)]) {
    let address = format!("/attempts/{code}/edit");
    app.get(&address).await;
    let mut typed: Vec<(String, String)> = app.hidden(&address);
    let usual = [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("seats", "EV1 C-1"),
        ("technique", "K-1"),
        ("side", "nadir"),
        ("minutes", "30"),
    ];
    let given = |name: &str| fields.iter().any(|(other, _)| *other == name);
    let usual = usual.iter().filter(|(name, _)| !given(name));
    typed.extend(usual.chain(fields).map(|&(name, text)| (name.to_owned(), text.to_owned())));
    let saved = app.post_only(&address, &typed).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
}

/// Code and words of the constraints in force, in the order of their codes.
async fn in_force(app: &TestApp) -> Vec<(String, String)> {
    let mut db = app.app.db.reader().await.unwrap();
    let read = app::constraints::read_all(&mut db, app.app.clock.now().day()).await.unwrap();
    read.in_force()
        .map(|one| (one.constraint.code.0.to_string(), one.constraint.forbidden.to_string()))
        .collect()
}

fn rows(all: &[(&str, &str)]) -> Vec<(String, String)> {
    all.iter().map(|&(code, words)| (code.to_owned(), words.to_owned())).collect()
}

async fn task_and_since(app: &TestApp, code: &str) -> (Option<String>, Option<String>) {
    let mut db = app.app.db.reader().await.unwrap();
    let today = app.app.clock.now().day();
    let (one, ..) = app::constraints::read(&mut db, code, today).await.unwrap();
    let constraint = one.constraint;
    (constraint.task.map(|t| t.to_string()), constraint.since.map(|day| day.to_string()))
}

async fn nothing_is_wrong(app: &TestApp) {
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);
}

#[sqlx::test]
async fn a_patch_that_ends_done_forbids_on_although_its_own_task_is_done(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", LEFT)).await;
    let patched = "forbids: fan at half speed.";
    made(&app.app, Kind::Attempt, &attempt("A-2", "T-3", "E-36.2", "done", patched)).await;
    assert_eq!(in_force(&app).await, rows(&[("CN-002", "fan at half speed.")]));
    nothing_is_wrong(&app).await;
}

#[sqlx::test]
async fn an_attempt_corrected_to_done_forbids_on_and_back_to_part_done_it_ends_with_its_task(
    db: SqlitePool,
) {
    let app = with_flown(db, Role::Lead).await;
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", LEFT)).await;
    corrected(&app, "A-1", &[FAN, &[("outcome", "done")]].concat()).await;
    assert_eq!(in_force(&app).await, rows(&[("CN-001", "Fan at half speed")]));
    assert_eq!(task_and_since(&app, "CN-001").await.0, None);
    nothing_is_wrong(&app).await;

    corrected(&app, "A-1", &[FAN, &[("outcome", "part done"), ("left_after", "50")]].concat())
        .await;
    assert_eq!(task_and_since(&app, "CN-001").await.0.as_deref(), Some("T-3"));
    nothing_is_wrong(&app).await;
}

#[sqlx::test]
async fn a_corrected_task_or_excursion_is_carried_over(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", LEFT)).await;
    let part = [("outcome", "part done"), ("left_after", "50")];
    corrected(&app, "A-1", &[FAN, &part, &[("excursion", "E-36.2")]].concat()).await;
    let expected = (Some("T-3".to_owned()), Some("2030-10-09".to_owned()));
    assert_eq!(task_and_since(&app, "CN-001").await, expected);

    // A table may correct the task, which the form does not ask for.
    let row = format!("{} | confirmed: yes", attempt("A-1", "T-2", "E-36.2", "part done", LEFT));
    let actor = Actor { name: "keeper".into(), role: Role::Engineer };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    kinds::save_whole(&mut work, Kind::Attempt, &cells(&row), Base::Current).await.unwrap();
    work.finish("").await.unwrap();
    assert_eq!(task_and_since(&app, "CN-001").await.0.as_deref(), Some("T-2"));
    assert_eq!(in_force(&app).await.len(), 1);
    nothing_is_wrong(&app).await;
}

#[sqlx::test]
async fn of_two_sources_one_corrected_to_forbid_something_else_makes_its_own(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", LEFT)).await;
    let again = LEFT.replace("50", "30");
    made(&app.app, Kind::Attempt, &attempt("A-2", "T-3", "E-36.2", "part done", &again)).await;
    assert_eq!(in_force(&app).await.len(), 1);
    let other = [("outcome", "part done"), ("left_after", "50"), ("forbids", "Fan off")];
    corrected(&app, "A-1", &other).await;
    let both = rows(&[("CN-001", "Fan at half speed"), ("CN-002", "Fan off")]);
    assert_eq!(in_force(&app).await, both);
    nothing_is_wrong(&app).await;

    // Back again, it is one constraint with two sources.
    corrected(&app, "A-1", &[FAN, &[("outcome", "part done"), ("left_after", "50")]].concat())
        .await;
    assert_eq!(in_force(&app).await, rows(&[("CN-001", "Fan at half speed")]));
    nothing_is_wrong(&app).await;
}

#[sqlx::test]
async fn a_lifted_one_does_not_cover_what_its_attempt_forbids_once_corrected(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", LEFT)).await;
    app.get("/constraints/CN-001").await;
    let lift = [("lift_reason", "fan looked at"), ("lift_evidence", "N-001")];
    let lifted = app.post("/constraints/CN-001/lift", &lift).await;
    assert_eq!(lifted.status, 303, "{}", lifted.body);
    assert_eq!(in_force(&app).await, []);
    let part = [("outcome", "part done"), ("left_after", "50")];
    corrected(&app, "A-1", &[&part[..], &[("forbids", "Fan off")]].concat()).await;
    assert_eq!(in_force(&app).await, rows(&[("CN-002", "Fan off")]));
    nothing_is_wrong(&app).await;
}

#[sqlx::test]
async fn a_task_done_before_does_not_end_what_is_left_on_it_later(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "done", "words: closed")).await;
    made(&app.app, Kind::Attempt, &attempt("A-2", "T-3", "E-36.2", "part done", LEFT)).await;
    assert_eq!(in_force(&app).await, rows(&[("CN-001", "Fan at half speed")]));
}

#[sqlx::test]
async fn two_tasks_that_leave_the_same_thing_end_it_only_once_both_are_done(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    for (code, task) in [("A-1", "T-3"), ("A-2", "T-2")] {
        made(&app.app, Kind::Attempt, &attempt(code, task, "E-36.1", "part done", LEFT)).await;
    }
    made(&app.app, Kind::Attempt, &attempt("A-3", "T-3", "E-36.2", "done", "words: closed")).await;
    assert_eq!(in_force(&app).await, rows(&[("CN-002", "Fan at half speed")]));
    made(&app.app, Kind::Attempt, &attempt("A-4", "T-2", "E-36.2", "done", "words: closed")).await;
    assert_eq!(in_force(&app).await, []);
}
