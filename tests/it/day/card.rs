//! The late card, and the chances of a plan before its day.

use app::demo;
use compute::fit::{Counting, excursion_as_planned};
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use super::engineer;
use crate::support::{NOW, TestApp};
use crate::walk::demo_as;

#[sqlx::test]
async fn the_late_card_stands_on_one_sheet(db: SqlitePool) {
    let app = engineer(db).await;
    let page = app.get("/excursions/E-37.1/late-card").await;
    assert_eq!(page.status, 200, "{}", page.body);
    for said in [
        "Late card for",
        "End of egress",
        "late by",
        "90 min",
        "Turn back by, at P80",
        "Flight control decides",
    ] {
        assert!(page.body.contains(said), "{said} is missing in {}", page.body);
    }
    assert!(page.body.contains("keep all"), "{}", page.body);
}

#[sqlx::test]
async fn the_late_card_is_a_file_that_points_nowhere(db: SqlitePool) {
    let app = engineer(db).await;
    let page = app.get("/excursions/E-37.1/late-card").await.body;
    assert!(page.contains("href=\"/excursions/E-37.1/late-card.html\""), "{page}");
    let file = app.get("/excursions/E-37.1/late-card.html").await;
    assert_eq!(file.status, 200, "{}", file.body);
    let named = "attachment; filename=\"late-card-E-37.1.html\"";
    assert_eq!(file.header("content-disposition"), named);
    for outside in ["<script", "<link", "@import", "<a ", "src=\"", "href=\"/", "url(\"/"] {
        assert!(!file.body.contains(outside), "{outside}");
    }
    // The same table, cell by cell.
    assert_eq!(cells(&file.body), cells(&page));
    assert!(cells(&page).len() > 10 && file.body.contains("Flight control decides"));
}

/// What stands in the cells of a late card, line by line: the words with their marks.
fn cells(page: &str) -> Vec<String> {
    let all = page.split("<td").skip(1).filter_map(|cell| cell.split("</td>").next());
    all.map(str::to_owned).collect()
}

#[sqlx::test]
async fn a_full_excursion_of_the_demo_has_something_to_drop_to_shorten_and_to_turn_back(
    db: SqlitePool,
) {
    let app = demo_as(db, Role::Engineer).await;
    let page = app.get("/excursions/E-38.1/late-card").await.body;
    let cells = cells(&page);
    for (mark, words) in [("k-drop", "drop"), ("k-part", "shorten"), ("k-turn", "turn back")] {
        let with = |cell: &&String| cell.contains(mark) && cell.contains(words);
        assert!(cells.iter().any(|cell| with(&cell)), "no cell says {words}: {page}");
    }
    assert!(cells.iter().any(|cell| cell.contains("keep all")), "{page}");
}

#[sqlx::test]
async fn both_calculations_of_a_plan_give_the_demo_the_same_chance(db: SqlitePool) {
    // The excursion's chance is drawn by the timeline, that of its board by the day: two programs of
    // one law, each from its own draws.
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let mut reader = app.app.db.reader().await.unwrap();
    let board = app::fit::board(&mut reader, &[]).await.unwrap();
    let mut compared = 0;
    for (at, excursion) in board.excursions.iter().enumerate() {
        let Some(launch) = app::day::at_launch(&board, at) else { continue };
        let planned = excursion_as_planned(&board.snapshot, at, Counting::Set, &board.constants);
        let chance = planned.timing.and_then(|timing| timing.chance);
        let Some(chance) = chance else { continue };
        let points = (chance - launch.chance).abs() * 100.0;
        assert!(points < 1.0, "{}: {chance} and {}", excursion.code.0, launch.chance);
        assert!(launch.reached.values().all(|reached| *reached >= launch.chance - 1e-9));
        compared += 1;
    }
    assert!(compared >= 6, "{compared}");
}

#[sqlx::test]
async fn the_replay_of_the_demo_says_what_was_expected_and_what_was_reached(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/history/reached").await.body;
    let (_, lead) = page.split_once("<p class=\"lead\">").unwrap();
    let lead = lead.split("</p>").next().unwrap();
    assert!(lead.contains("125 set tasks of flown excursions: 114.0 were expected"), "{lead}");
    assert!(lead.contains("104 were."), "{lead}");
    // By hand, from the attempts and deferrals of the demo's tables: those of its flown excursions.
    let mut reader = app.app.db.reader().await.unwrap();
    let replay = app::day::replay(&mut reader).await.unwrap();
    let mut reached = 0;
    for one in &replay.tasks {
        let tried = store::attempts::of_excursion(&mut reader, &one.excursion).await.unwrap();
        let own = tried.iter().filter(|attempt| attempt.task == one.task);
        let any = own.clone().any(|attempt| attempt.outcome.word() != "not reached");
        assert_eq!(any, one.reached, "{} on {}", one.task, one.excursion);
        reached += usize::from(any);
    }
    assert_eq!(reached, 104);
}
