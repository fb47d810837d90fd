//! Time left before the limit: one figure, on every page that shows it, with the plan it belongs to.

use app::{demo, fit};
use compute::fit::room_words;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::{NOW, TestApp};

/// The words for every coming excursion.
async fn words(app: &TestApp) -> Vec<(String, String)> {
    let mut db = app.app.reader().await.unwrap();
    let rooms = fit::rooms(&mut db).await.unwrap();
    let mut all: Vec<(String, String)> =
        rooms.iter().map(|(code, room)| (code.to_string(), room_words(room))).collect();
    all.sort();
    all
}

#[sqlx::test]
async fn the_same_figure_stands_on_every_page_that_shows_it(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Lead).await;
    let all = words(&app).await;
    assert!(all.len() > 5 && all.iter().any(|(_, words)| words.contains("pencilled")), "{all:?}");
    let (matrix, flights) = (app.get("/slots").await.body, app.get("/flights").await.body);
    // The page of a task says it of the candidates that stand whole.
    let task = app.get("/tasks/T-0142").await.body;
    assert!(all.iter().filter(|(_, words)| task.contains(words)).count() >= 4, "{task}");
    for (excursion, words) in all {
        let planned = app.get(&format!("/excursions/{excursion}")).await.body;
        let cell = app.get(&format!("/slots?cell=T-0142:{excursion}")).await.body;
        let pages = [
            ("the excursion", &planned),
            ("the matrix", &matrix),
            ("the opened cell", &cell),
            ("the flights", &flights),
        ];
        for (page, body) in pages {
            assert!(body.contains(&words), "{excursion}: “{words}” is not on the page of {page}");
        }
    }
}

/// A page without its tags.
fn plain(page: &str) -> String {
    let outside = page.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text));
    outside.collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What stands between two texts.
fn between<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    let (_, rest) = page.split_once(from).unwrap_or_else(|| panic!("no {from} in {page}"));
    rest.split(to).next().unwrap()
}

#[sqlx::test]
async fn what_a_task_would_leave_is_what_is_left_once_it_is_set(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    let cell = app.get("/slots?cell=T-3:E-37.1").await.body;
    let would = between(&cell, "with this task and the set ones ", ".").to_owned();
    let task = app.get("/tasks/T-3").await.body;
    let there = between(&task, "data-code=\"E-37.1\"", "</summary>");
    assert!(there.contains(&format!("<span>{would} ")), "{would} in {there}");
    let matrix = app.get("/slots?q=T-3").await.body;
    assert!(matrix.contains(&format!("{would} left")), "{would} in {matrix}");
    let tray = app.get("/excursions/E-37.1").await.body;
    assert!(tray.contains(&format!("leaves {would} at P80 beside the set tasks")), "{tray}");

    app.get("/slots?cell=T-3:E-37.1").await;
    let reply = app.post("/slots", &[("do", "set"), ("seats", "EV1")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let after = app.get(&reply.location).await.unlinked();
    let said = format!("T-3 is set on E-37.1. Time left at P80: {would} left, set tasks only");
    assert!(after.contains(&said), "{said} in {after}");
    let page = app.get("/excursions/E-37.1").await.body;
    assert!(page.contains(&format!("{would} left, set tasks only")), "{would} in {page}");
}

#[sqlx::test]
async fn pencilled_tasks_are_spread_over_the_seats(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    // Two pencils without seats on an empty excursion: one after the other in one seat they take
    // half an hour more than side by side.
    for task in ["T-2", "T-3"] {
        let pencil = format!(
            "task: {task} | excursion: E-37.2 | state: pencilled | technique: K-1 | side: nadir"
        );
        made(&app.app, Kind::Slot, &pencil).await;
    }
    let (_, both) = words(&app).await.remove(1);
    let page = app.get("/excursions/E-37.2").await.body;
    assert!(page.contains(&both) && both.contains("with 2 pencilled"), "{both}: {page}");
    assert!(!page.contains("Not drawn until"), "{page}");
    // By hand: 30 out, 6 of travel, 5 of setup, some 31 of work, 5 of cleanup, 6 back, 28 in: 1:51
    // of 7:00 at the mean for each seat alone, and 2:22 for one seat with both.
    let with = between(&both, "· ", " with");
    assert!(with.starts_with("5:") || with.starts_with("4:5"), "{both}");

    // Pencilled from the page, each goes to the seat that is free.
    app.get("/excursions/E-37.1").await;
    for task in ["T-3"] {
        let fields = [("task", task), ("technique", "K-1"), ("side", "nadir"), ("do", "pencil")];
        let reply = app.post("/excursions/E-37.1/slots", &fields).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
    }
    let page = app.get("/excursions/E-37.1").await.body;
    let (_, now) = words(&app).await.remove(0);
    assert!(page.contains(&format!("Time left at P80: {now}, was ")), "{now}: {page}");
}

#[sqlx::test]
async fn the_headline_says_what_it_promises_and_every_chance_how_it_came_about(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    let page = app.get("/excursions/E-37.1").await.body;
    let lead = between(&page, "<p class=\"lead\">", "</p>");
    assert!(
        lead.contains(
            "Ends inside its limit: over 99 %, if every task succeeds; tasks may stop early."
        ),
        "{lead}"
    );
    // Both set tasks are reached in nearly every draw; a limit that one of them fills up is not.
    let reached = |page: &str| -> Vec<String> {
        page.split("data-reached>")
            .skip(1)
            .map(|rest| rest.split('<').next().unwrap().to_owned())
            .collect()
    };
    assert_eq!(reached(&page), ["over 99 %", "over 99 %"]);
    assert!(lead.contains("2.0 of 2 set tasks are expected to be reached."), "{lead}");
    // Of a set task the opened cell says the same; of another, what it would be.
    let cell = app.get("/slots?cell=T-1:E-37.1").await.body;
    assert_eq!(reached(&cell), ["over 99 %"]);
    assert!(plain(&cell).contains("2.0 of 2 set tasks are expected to be reached"), "{cell}");
    let cell = app.get("/slots?cell=T-3:E-37.1").await.body;
    assert!(
        plain(&cell).contains("Set here, it is reached with over 99 %, and 3.0 of 3 set tasks")
    );
    for address in ["/excursions/E-37.1", "/slots?cell=T-3:E-37.1", "/tasks/T-3"] {
        let page = app.get(address).await.body;
        let how = between(&page, "data-how>", "</details>");
        for said in [
            "lognormal",
            "What does not vary",
            "logarithms have standard deviations of 0.12",
            "Suit supplies",
            "the last 30 min of each are never planned",
        ] {
            assert!(how.contains(said), "{said} is missing on {address}: {how}");
        }
    }
    let how = between(&page, "data-how>", "</details>");
    assert!(how.contains("10,000 draws of the plan with the set tasks, from seed 37"), "{how}");

    // Both tasks on one seat, and a limit between the ends of the two: 1:51 and 2:22 by hand.
    app.get("/excursions/E-37.1").await;
    let one_seat = [("seats", "EV1"), ("before", "S-2")];
    assert_eq!(app.post("/excursions/E-37.1/slots/S-2/place", &one_seat).await.status, 303);
    app.get("/excursions/E-37.1/edit").await;
    let short = [("limit", "2:10"), ("planned", "2:10")];
    assert_eq!(app.post("/excursions/E-37.1/edit", &short).await.status, 303);
    let page = app.get("/excursions/E-37.1").await.body;
    let [first, second] = &reached(&page)[..] else { panic!("{page}") };
    let share = |text: &str| text.trim_end_matches(" %").parse::<f64>().unwrap_or(100.0);
    assert!(share(first) > 85.0 && share(second) < 30.0, "{first}, {second}");
    let lead = between(&page, "<p class=\"lead\">", "</p>");
    assert!(lead.contains(" %, if every task succeeds"), "{lead}");
    let sum = (share(first) + share(second)) / 100.0;
    let said = between(lead, "P80: ", " of 2 set tasks");
    let said: f64 = said.rsplit(' ').next().unwrap().parse().unwrap();
    assert!((said - sum).abs() < 0.06, "{said} is not the sum of {first} and {second}");
    // The board before the day, and the opened cell, have the same.
    let board = app.get("/excursions/E-37.1/day").await.body;
    for (task, own) in [("T-1", first), ("T-2", second)] {
        let row = between(&board, &format!("<tr data-code=\"{task}\">"), "</tr>");
        assert!(row.contains(&format!("data-reached><b>{own}</b>")), "{task} {own}: {row}");
        let cell = app.get(&format!("/slots?cell={task}:E-37.1")).await.body;
        assert_eq!(&reached(&cell), std::slice::from_ref(own), "{task}");
    }
}
