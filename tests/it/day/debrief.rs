//! What a day ends in: the debrief begins with what was pressed, that of a rehearsal leaves nothing.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use super::{DAY, engineer, kept, press, saved};
use crate::debrief::mark_flown;
use crate::small_record::{FLOWN, lay, made};
use crate::support::TestApp;
use crate::walk::{attribute, main_of, plain, tags};

/// The row of a task.
fn row_of<'p>(page: &'p str, task: &str) -> &'p str {
    let (_, rest) = page.split_once(&format!("<tr data-code=\"{task}\">")).unwrap();
    rest.split("</tr>").next().unwrap()
}

#[sqlx::test]
async fn a_practice_run_leaves_nothing(db: SqlitePool) {
    let app = engineer(db).await;
    app.get(DAY).await;
    let reply = app.post("/excursions/E-37.1/practice", &[("pace", "60")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let run = reply.location.clone();
    assert!(run.starts_with("/excursions/E-37.1/practice/"), "{run}");
    let page = app.get(&run).await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("leaves no record") && page.body.contains("60 times faster"));

    // Two minutes of life are two hours of the excursion: the crew has called.
    app.wait_minutes(2);
    let page = app.get(&run).await;
    assert!(page.body.contains("data-day-pet>2:00<"), "{}", page.body);
    assert!(page.body.contains("ready to start T-1"), "{}", page.body);
    let other = app.another();
    other.sign_in("engineer").await;
    other.get(&run).await;
    let fields = [("key", "p1"), ("press", "started S-1"), ("pet", "0:41")];
    let reply = other.post(&format!("{run}/press"), &fields).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    let page = app.get(&run).await;
    assert!(page.body.contains("since 0:41"), "the other browser sees it: {}", page.body);

    // The other task was never begun; once the crew is inside, time ran out for it.
    let rows = app.get(&format!("{run}/debrief")).await.body;
    assert!(row_of(&rows, "T-2").contains("to be entered"), "{rows}");
    let fields = [("key", "p2"), ("press", "inside"), ("pet", "1:58")];
    assert_eq!(app.post(&format!("{run}/press"), &fields).await.status, 200);
    let rows = app.get(&format!("{run}/debrief")).await.body;
    let left = row_of(&rows, "T-2");
    assert!(left.contains("not reached") && left.contains("time ran out"), "{left}");
    assert!(app.get(&run).await.body.contains("Read the practice debrief"));

    let debrief = app.get(&format!("{run}/debrief")).await;
    assert!(debrief.body.contains("0:41–"), "{}", debrief.body);
    let gone = app.post(&format!("{run}/discard"), &[]).await;
    assert_eq!(gone.status, 303, "{}", gone.body);
    assert_eq!(kept(&app).await, 0);
    let page = app.get(&run).await;
    assert_eq!(page.status, 409, "{}", page.body);
    assert!(page.body.contains("it was discarded"), "{}", page.body);
    let mut db = app.app.db.reader().await.unwrap();
    assert!(store::day::runs_of(&mut db, &"E-37.1".into()).await.unwrap().is_empty());
}

/// Answers every call of the crew until it is inside: where, and what it called.
async fn rehearsed(app: &TestApp, day: &str) -> (String, Vec<String>) {
    app.get(DAY).await;
    let fields = [("pace", "60"), ("day_number", day)];
    let reply = app.post("/excursions/E-37.1/practice", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let run = reply.location.clone();
    let mut calls = Vec::new();
    for _ in 0..60 {
        app.app.clock.advance_minutes(1);
        let page = app.get(&run).await.body;
        let Some((_, call)) = page.split_once("class=\"call\"") else { continue };
        let value = |name: &str| {
            let (_, rest) = call.split_once(&format!("name=\"{name}\" value=\"")).unwrap();
            rest.split('"').next().unwrap().to_owned()
        };
        let (what, pet) = (value("press"), value("pet"));
        calls.push(format!("{what} {pet}"));
        let key = format!("r{}", calls.len());
        let fields = [("key", key.as_str()), ("press", &what), ("pet", &pet)];
        let reply = app.post(&format!("{run}/press"), &fields).await;
        assert_eq!(reply.status, 200, "{}", reply.body);
        if what == "inside" {
            break;
        }
    }
    (run, calls)
}

#[sqlx::test]
async fn the_crew_of_a_rehearsal_calls_inside_and_the_same_day_can_be_rehearsed_again(
    db: SqlitePool,
) {
    let app = engineer(db).await;
    let (run, calls) = rehearsed(&app, "4711").await;
    assert!(app.get(&run).await.body.contains("day number 4711"));
    assert!(calls.last().is_some_and(|call| call.starts_with("inside")), "{calls:?}");
    assert_eq!(calls.iter().filter(|call| call.starts_with("done")).count(), 2, "{calls:?}");
    let (_, again) = rehearsed(&app, "4711").await;
    assert_eq!(calls, again);
    let (_, other) = rehearsed(&app, "4712").await;
    assert_ne!(calls, other);
    let fields = [("pace", "60"), ("day_number", "next week")];
    let reply = app.post("/excursions/E-37.1/practice", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
}

/// A lead before the board two hours after egress began.
async fn two_hours_outside(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "lead").await;
    press(&app, "e", "egress", &[]).await;
    app.wait_minutes(120);
    app.sign_in("lead").await;
    app
}

#[sqlx::test]
async fn the_debrief_begins_with_what_was_pressed(db: SqlitePool) {
    let app = two_hours_outside(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    saved(&app, "k2", "done S-1", "1:20").await;
    saved(&app, "k4", "inside", "1:58").await;
    let board = app.get(DAY).await.body;
    assert!(board.contains("inside at 1:58"), "{board}");
    mark_flown(&app).await;

    let page = app.get("/excursions/E-37.1/debrief").await;
    assert!(page.body.contains("filled from the board of the day, not saved yet"), "{}", page.body);
    assert!(page.body.contains("value=\"0:41\"") && page.body.contains("value=\"1:20\""));
    // Egress and the time inside too, each with where it came from.
    assert!(
        page.body.contains("name=\"head-egress_at\" value=\"2031-03-11 14:20\""),
        "{}",
        page.body
    );
    assert!(page.body.contains("name=\"head-actual\" value=\"1:58\""), "{}", page.body);
    assert_eq!(page.body.matches("From the board of the day, not saved yet.").count(), 2);
    let attempts = async || {
        let mut db = app.app.db.reader().await.unwrap();
        let found = store::attempts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
        found.iter().map(|one| (one.task.to_string(), one.outcome.word())).collect::<Vec<_>>()
    };
    assert!(attempts().await.is_empty(), "nothing is a result before a person saves it");

    // The form as the page filled it, sent unchanged.
    let fields = form_of(&page.body, "/excursions/E-37.1/debrief");
    assert!(fields.contains(&("r1-cause".to_owned(), "17".to_owned())), "{fields:?}");
    let fields: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let reply = app.post("/excursions/E-37.1/debrief", &fields).await;
    assert!(reply.status == 303 || reply.status == 200, "{}", reply.body);
    let found = attempts().await;
    assert!(found.contains(&("T-1".to_owned(), "done")), "{found:?}");
    assert!(found.contains(&("T-2".to_owned(), "not reached")), "{found:?}");
    let mut db = app.app.db.reader().await.unwrap();
    let stored = store::attempts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    let of = |task: &str| stored.iter().find(|one| one.task.as_str() == task).unwrap();
    assert_eq!(of("T-2").cause.as_ref().map(domain::codes::CauseCode::as_str), Some("17"));
    let times = |task: &str| (of(task).pet_start.map(|at| at.0), of(task).pet_end.map(|at| at.0));
    assert_eq!((times("T-1"), times("T-2")), ((Some(41), Some(80)), (None, None)));
}

#[sqlx::test]
async fn a_task_under_way_can_be_dropped_and_its_row_says_that_time_ran_out(db: SqlitePool) {
    let app = two_hours_outside(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    let board = app.get(DAY).await.body;
    for ends in ["done S-1", "not completed S-1", "dropped S-1"] {
        assert!(board.contains(&format!("value=\"{ends}\"")), "{ends}: {board}");
    }
    saved(&app, "k2", "dropped S-1", "1:05").await;
    let board = app.get(DAY).await.body;
    assert!(board.contains("dropped 1:05"), "its block says so: {board}");
    assert!(!board.contains("value=\"started S-1\""), "it has ended: {board}");
    // It was reached: 1 ended, and what is left of the other.
    assert!(board.contains("Reached: 1 ended"), "{board}");
    saved(&app, "k3", "inside", "1:58").await;
    mark_flown(&app).await;
    let address = "/excursions/E-37.1/debrief";
    let page = app.get(address).await.body;
    let fields = form_of(&page, address);
    let of = |name: &str| {
        let field = fields.iter().find(|(known, _)| known == &format!("r0-{name}"));
        field.map_or("", |(_, value)| value.as_str())
    };
    let row = ["outcome", "cause", "pet_start", "pet_end"].map(of);
    assert_eq!(row, ["not completed", "17", "0:41", "1:05"], "{fields:?}");
}

#[sqlx::test]
async fn a_task_left_at_its_stopping_point_has_the_rest_of_it_left(db: SqlitePool) {
    let app = two_hours_outside(db).await;
    let slot = "code: S-9 | task: T-3 | excursion: E-37.1 | technique: K-1 | side: nadir \
        | seats: EV1 | state: set | stopping_point: bolts back in | stopping_share: 40";
    made(&app.app, Kind::Slot, slot).await;
    saved(&app, "k1", "started S-9", "0:41").await;
    saved(&app, "k2", "at stopping point S-9", "1:05").await;
    mark_flown(&app).await;
    let address = "/excursions/E-37.1/debrief";
    let fields = form_of(&app.get(address).await.body, address);
    let left: Vec<&str> = fields
        .iter()
        .filter(|(name, _)| name.ends_with("-left_after"))
        .map(|(_, value)| value.as_str())
        .collect();
    // By hand: all of it was left, and 40 % of that is done at the stopping point.
    assert!(left.contains(&"60"), "{fields:?}");
}

/// What a browser sends for a form as its page filled it: fields, ticks, choices and texts.
pub(super) fn form_of(page: &str, action: &str) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    let (mut inside, mut choosing, mut first) = (false, None::<String>, None::<String>);
    for (tag, text) in tags(main_of(page)) {
        let of = |name: &str| attribute(tag, name).map(plain);
        let has = |word: &str| tag.split([' ', '\n', '=']).any(|part| part == word);
        match tag.split([' ', '\n']).next().unwrap_or_default() {
            "form" => inside = of("action").as_deref() == Some(action),
            "/form" => inside = false,
            _ if !inside => {}
            "input" => {
                let is_choice = matches!(of("type").as_deref(), Some("checkbox" | "radio"));
                let left_out = matches!(of("type").as_deref(), Some("file")) || has("disabled");
                if let Some(name) = of("name").filter(|_| !left_out)
                    && (!is_choice || has("checked"))
                {
                    fields.push((name, of("value").unwrap_or_default()));
                }
            }
            "textarea" => fields.extend(of("name").map(|name| (name, plain(text)))),
            "select" => (choosing, first) = (of("name"), None),
            "option" => {
                let value = of("value").unwrap_or_else(|| plain(text));
                if has("selected") {
                    fields.extend(choosing.take().map(|name| (name, value)));
                } else {
                    first.get_or_insert(value);
                }
            }
            "/select" => {
                let unchosen = choosing.take().zip(first.take());
                fields.extend(unchosen);
            }
            _ => {}
        }
    }
    fields.retain(|(name, _)| !["csrf", "form_key"].contains(&name.as_str()));
    fields
}
