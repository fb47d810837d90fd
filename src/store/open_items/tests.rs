//! The list against what was put in, and its plans against the indexes.

use std::collections::BTreeSet;

use sqlx::{Execute, Sqlite, SqlitePool};

use super::*;
use crate::standing::{self, StandingRow, TaskWords};
use crate::tests::{plan, saved, world};
use crate::{register, words};
use domain::kinds::Kind;
use domain::tasks::Task;
use domain::time::Moment;
use domain::worksites::Worksite;

const EVERY_ORDER: [ReadOrder; 6] = [
    ReadOrder::Order,
    ReadOrder::Family,
    ReadOrder::Worksite,
    ReadOrder::Flight,
    ReadOrder::Danger,
    ReadOrder::Finds,
];
const EVERY_SORT: [Sort; 5] = [Sort::Rank, Sort::Code, Sort::Need, Sort::Carry, Sort::Title];

fn standing(task: &str, title: &str) -> StandingRow {
    StandingRow {
        task: task.into(),
        state: TaskState::Open,
        is_open: true,
        share_left: Share::WHOLE,
        left_unknown: None,
        carry_count: 0,
        deferred_before: 0,
        why: "never tried".to_owned(),
        why_words: "Never tried.".to_owned(),
        why_event: None,
        class: "9".to_owned(),
        need_day: "9999-12-31".to_owned(),
        need_from: None,
        in_danger: false,
        in_question: false,
        twice_same: false,
        held_tool: false,
        held_order: false,
        held_remedy: false,
        worksite: None,
        family: None,
        title: title.to_owned(),
        undated: false,
    }
}

fn day(text: &str) -> Day {
    domain::cells::Cell::read(text).unwrap()
}

/// Five open tasks and one done, each with one thing of its own.
async fn backlog(db: &mut SqliteConnection) {
    world(db).await;
    saved::<Worksite>(db, "code: W-C").await;
    for (code, title) in [
        ("T-1", "Cut"),
        ("T-2", "Bolt"),
        ("T-3", "Anchor"),
        ("T-4", "Drape"),
        ("T-5", "Earth"),
        ("T-6", "Fold"),
    ] {
        saved::<Task>(db, &format!("code: {code} | title: {title}")).await;
        register::enter(db, Kind::Task, code, "lead", Moment(0)).await.unwrap();
    }
    let rows = [
        StandingRow {
            class: PriorityClass::Restores.word().to_owned(),
            carry_count: 1,
            in_question: true,
            why: "failed".to_owned(),
            ..standing("T-1", "Cut")
        },
        StandingRow {
            class: PriorityClass::Safety.word().to_owned(),
            need_day: "2031-05-01".to_owned(),
            in_danger: true,
            worksite: Some("W-A".into()),
            ..standing("T-2", "Bolt")
        },
        StandingRow {
            class: PriorityClass::Safety.word().to_owned(),
            need_day: "2031-04-01".to_owned(),
            held_tool: true,
            family: Some("F-1".into()),
            state: TaskState::PartDone,
            share_left: Share(40),
            ..standing("T-3", "Anchor")
        },
        StandingRow {
            carry_count: 3,
            twice_same: true,
            held_remedy: true,
            ..standing("T-4", "Drape")
        },
        StandingRow {
            class: PriorityClass::Restores.word().to_owned(),
            carry_count: 2,
            held_order: true,
            family: Some("F-1".into()),
            undated: true,
            ..standing("T-5", "Earth")
        },
        StandingRow { state: TaskState::Done, is_open: false, ..standing("T-6", "Fold") },
    ];
    for row in &rows {
        standing::put(db, row).await.unwrap();
        let entry = register::find(db, Kind::Task, row.task.as_str()).await.unwrap().unwrap().entry;
        let notes = format!("jammed strap {}x", row.task);
        let words = TaskWords {
            entry,
            task: row.task.clone(),
            title: row.title.clone(),
            notes,
            record: String::new(),
        };
        standing::put_words(db, &words).await.unwrap();
        assert_eq!(standing::find(db, &row.task).await.unwrap().as_ref(), Some(row));
    }
    standing::put_flights(db, &"T-1".into(), &["G-1".into()]).await.unwrap();
    standing::put_flights(db, &"T-2".into(), &["G-1".into(), "G-2".into()]).await.unwrap();
}

async fn codes(db: &mut SqliteConnection, filter: &Filter, sort: Sort) -> Vec<String> {
    let rows = page(db, filter, sort, 0, PAGE).await.unwrap();
    let codes: Vec<String> = rows.iter().map(|row| row.task.to_string()).collect();
    assert_eq!(count(db, filter).await.unwrap(), i64::try_from(codes.len()).unwrap());
    codes
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_list_is_sorted_as_asked(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    backlog(db).await;
    let all = Filter::default();
    assert_eq!(codes(db, &all, Sort::Rank).await, ["T-3", "T-2", "T-5", "T-1", "T-4"]);
    assert_eq!(codes(db, &all, Sort::Code).await, ["T-1", "T-2", "T-3", "T-4", "T-5"]);
    assert_eq!(codes(db, &all, Sort::Need).await, ["T-3", "T-2", "T-1", "T-5", "T-4"]);
    assert_eq!(codes(db, &all, Sort::Carry).await, ["T-4", "T-5", "T-1", "T-2", "T-3"]);
    assert_eq!(codes(db, &all, Sort::Title).await, ["T-3", "T-2", "T-1", "T-4", "T-5"]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_part_of_the_list_is_sorted_like_the_whole(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    backlog(db).await;
    let everything = Filter { words: words::asked("jam strap"), ..Filter::default() };
    for sort in EVERY_SORT {
        let whole = codes(db, &Filter::default(), sort).await;
        assert_eq!(codes(db, &everything, sort).await, whole, "{sort:?}");
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn each_filter_keeps_what_it_names(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    backlog(db).await;
    let all = Filter::default;
    let cases: Vec<(Filter, &[&str])> = vec![
        (Filter { words: words::asked("T-3x"), ..all() }, &["T-3"]),
        (Filter { words: words::asked("nowhere"), ..all() }, &[]),
        (Filter { flight: Some("G-1".into()), ..all() }, &["T-2", "T-1"]),
        (Filter { worksite: Some("W-A".into()), ..all() }, &["T-2"]),
        (Filter { family: Some("F-1".into()), ..all() }, &["T-3", "T-5"]),
        (Filter { class: Some(PriorityClass::Restores), ..all() }, &["T-5", "T-1"]),
        (Filter { why: Some("failed".to_owned()), ..all() }, &["T-1"]),
        (Filter { carried_at_least: Some(2), ..all() }, &["T-5", "T-4"]),
        (Filter { needed_by: Some(day("2031-04-15")), ..all() }, &["T-3"]),
        (Filter { in_question: true, ..all() }, &["T-1"]),
        (Filter { in_danger: true, ..all() }, &["T-2"]),
        (Filter { twice_same: true, ..all() }, &["T-4"]),
        (Filter { held: Some(Blocker::Tool), ..all() }, &["T-3"]),
        (Filter { held: Some(Blocker::Order), ..all() }, &["T-5"]),
        (Filter { held: Some(Blocker::Remedy), ..all() }, &["T-4"]),
        (Filter { held: Some(Blocker::Free), ..all() }, &["T-2", "T-1"]),
        (Filter { state: Some(TaskState::PartDone), ..all() }, &["T-3"]),
        (Filter { state: Some(TaskState::Done), ..all() }, &["T-6"]),
        (Filter { family: Some("F-1".into()), held: Some(Blocker::Order), ..all() }, &["T-5"]),
    ];
    for (filter, expected) in cases {
        assert_eq!(codes(db, &filter, Sort::Rank).await, expected, "{filter:?}");
        let (mut sorted, mut same) = (codes(db, &filter, Sort::Title).await, expected.to_vec());
        sorted.sort();
        same.sort_unstable();
        assert_eq!(sorted, same, "{filter:?} by title");
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn pages_follow_each_other(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    backlog(db).await;
    let mut seen = Vec::new();
    for offset in [0, 2, 4, 6] {
        seen.extend(page(db, &Filter::default(), Sort::Rank, offset, 2).await.unwrap());
    }
    assert_eq!(seen, page(db, &Filter::default(), Sort::Rank, 0, PAGE).await.unwrap());
    let anchor = &seen[0];
    assert_eq!((anchor.share_left, anchor.held_tool), (Share(40), true));
    assert_eq!(anchor.need_day, Some(day("2031-04-01")));
}

fn sql_of<'q>(query: impl Execute<'q, Sqlite>) -> String {
    query.sql().as_str().to_owned()
}

fn page_sql(along: ReadOrder, sort: Sort) -> String {
    let (filter, most, offset) = (Filter::default(), 50_i64, 0_i64);
    let asked = filter.asked();
    list!(query => sql_of(query), along, sort, asked, most, offset)
}

fn count_sql(along: ReadOrder) -> String {
    let filter = Filter::default();
    let asked = filter.asked();
    tally!(query => sql_of(query), along, asked)
}

fn reads_a_table_whole(step: &str) -> bool {
    step.starts_with("SCAN") && !step.contains("INDEX") && !step.contains("VIRTUAL TABLE")
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_list_is_read_by_an_index(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    let mut used = BTreeSet::new();
    for along in EVERY_ORDER {
        let mut statements: Vec<String> =
            EVERY_SORT.iter().map(|sort| page_sql(along, *sort)).collect();
        statements.push(count_sql(along));
        for sql in statements {
            let steps = plan(db, &sql).await;
            assert!(!steps.iter().any(|step| reads_a_table_whole(step)), "{along:?}: {steps:#?}");
            used.extend(steps.into_iter().filter(|step| step.contains("standing_")));
        }
    }
    for index in ["rank", "code", "need", "carry", "title", "site", "family", "danger"] {
        assert!(used.iter().any(|step| step.contains(index)), "{index} is never used: {used:#?}");
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_usual_lists_are_never_sorted(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    let usual = EVERY_SORT.iter().map(|sort| (ReadOrder::Order, *sort));
    for (along, sort) in
        usual.chain([(ReadOrder::Family, Sort::Rank), (ReadOrder::Worksite, Sort::Rank)])
    {
        let steps = plan(db, &page_sql(along, sort)).await;
        assert!(
            !steps.iter().any(|step| step.contains("B-TREE")),
            "{along:?} {sort:?}: {steps:#?}"
        );
    }
}
