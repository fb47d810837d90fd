//! The late card, and the chances of a plan before its day.

use app::demo;
use compute::fit::{Counting, excursion_as_planned};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use super::{DAY, engineer};
use crate::small_record::made;
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
    for (at, excursion) in board.excursions.iter_enumerated() {
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
    println!("replay of the demo: {lead}");
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

/// E-38.1 with T-3 alone, in a limit that it fills: 30 + 6 + 5 + 30 + 5 + 6 + 28 minutes are 1:50 of 1:55.
async fn short_day(app: &TestApp, battery: &str) {
    let short = format!(
        "code: E-38.1 | flight: G-37 | number: 8 | day: 2031-03-14 | state: planned | planned: 1:50 \
         | limit: 1:55 | egress: 30 | ingress: 28 | seats: EV1 C-1 | airlock: W-A | deferrable: yes \
         | oxygen: 0.9 | scrubber: 0.9 | water: 6 | battery: {battery}"
    );
    made(&app.app, Kind::Excursion, &short).await;
    let slot = "code: S-9 | task: T-3 | excursion: E-38.1 | technique: K-1 | side: nadir \
        | seats: EV1 | state: set | must_do: yes";
    made(&app.app, Kind::Slot, slot).await;
}

#[sqlx::test]
async fn the_board_holds_what_runs_out_first_against_the_reserve(db: SqlitePool) {
    // The end at P80 lies some minutes after 1:50, so a battery of 2:10 lasts less than 30 beyond it.
    let app = engineer(db).await;
    short_day(&app, "2:10").await;
    let page = app.get("/excursions/E-38.1/day").await.body;
    let (_, said) = page.split_once("data-reserve>").unwrap();
    let said = said.split("</p>").next().unwrap();
    assert!(said.contains("tight"), "{said}");
    assert!(said.contains("EV1 battery runs out first, at 2:10: 0:1"), "{said}");
    assert!(said.contains("after the P80 end; 0:30 is kept back"), "{said}");
    let page = app.get(DAY).await.body;
    let (_, said) = page.split_once("data-reserve>").unwrap();
    assert!(said.split("</p>").next().unwrap().contains("met"), "{said}");
}

#[sqlx::test]
async fn where_nothing_is_left_to_do_the_card_says_turn_back(db: SqlitePool) {
    let app = engineer(db).await;
    short_day(&app, "9:00").await;
    let page = app.get("/excursions/E-38.1/late-card").await.body;
    let (_, table) = page.split_once("late-grid").unwrap();
    let cells = cells(table.split("</table>").next().unwrap());
    // A row of egress, one of T-3; each a planned PET and six latenesses.
    assert_eq!(cells.len(), 14, "{table}");
    let (egress, end) = (&cells[6], &cells[13]);
    assert!(egress.contains("must-do tasks no longer fit"), "{egress}");
    assert!(end.contains("turn back at once</b>"), "{end}");
    assert!(end.contains("work here had to end by 1:1"), "{end}");
    assert!(!end.contains("must-do"), "{end}");
    // The sheet of the brief says the same.
    let brief = app.get("/excursions/E-38.1/brief").await.body;
    assert!(brief.contains("turn back at once") && brief.contains("must-do tasks no longer fit"));
}
