//! What the reading functions of each aggregate give, on one small record.

use sqlx::{SqliteConnection, SqlitePool};

use crate::findings::Shown;
use crate::tests::{saved, world};
use crate::{
    attempts, endings, excursions, findings, flights, outside, register, remedies, slots, tasks,
    techniques,
};
use domain::attempts::Attempt;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::excursions::{Excursion, ExcursionTool};
use domain::findings::{Exemption, Finding, Remedy};
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::records::Record;
use domain::slots::Slot;
use domain::tasks::{Link, Task};
use domain::techniques::{Rehearsal, Technique};
use domain::time::{Day, Moment};
use domain::words::LinkKind;

fn codes<T: Record>(records: &[T]) -> Vec<&str> {
    records.iter().map(Record::code).collect()
}

fn day(text: &str) -> Day {
    domain::cells::Cell::read(text).unwrap()
}

async fn ordered(db: &mut SqliteConnection, flights: &[&str]) {
    for flight in flights {
        flights::save_order_day(db, &(*flight).into()).await.unwrap();
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn flights_stand_in_the_order_of_their_days(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Flight>(db, "code: G-1 | state: flown").await;
    saved::<Flight>(db, "code: G-3 | state: flown | launch: 2030-06-01").await;
    saved::<Flight>(db, "code: G-4 | sequence: 2").await;
    saved::<Flight>(db, "code: G-5 | sequence: 1").await;
    saved::<Excursion>(db, "code: E-2 | flight: G-2 | day: 2030-05-09 | state: planned").await;
    saved::<Excursion>(db, "code: E-3 | flight: G-2 | day: 2030-05-07 | state: planned").await;
    ordered(db, &["G-1", "G-2", "G-3", "G-4", "G-5"]).await;

    let order = flights::in_order(db).await.unwrap();

    let order: Vec<_> = order.iter().map(|f| (f.code.as_str(), f.order_day.as_str())).collect();
    assert_eq!(
        order,
        [
            ("G-1", "0000-00-00"),
            ("G-2", "2030-05-07"),
            ("G-3", "2030-06-01"),
            ("G-5", "9999-12-31"),
            ("G-4", "9999-12-31"),
        ]
    );
}

#[sqlx::test(migrations = "../../migrations")]
async fn excursions_are_coming_until_flown_and_owe_results_until_closed(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Flight>(db, "code: G-3 | launch: 2031-01-01").await;
    saved::<Flight>(db, "code: G-4 | launch: 2031-02-01 | state: cancelled").await;
    saved::<Excursion>(db, "code: E-3.2 | flight: G-3 | number: 2 | state: planned").await;
    saved::<Excursion>(db, "code: E-3.1 | flight: G-3 | number: 1 | state: planned").await;
    saved::<Excursion>(db, "code: E-4.1 | flight: G-4 | number: 1 | state: planned").await;
    saved::<ExcursionTool>(db, "code: M-1 | excursion: E-1 | tool: L-2 | taken_out: 1").await;
    saved::<ExcursionTool>(db, "code: M-2 | excursion: E-1 | tool: L-1 | taken_out: 1").await;
    ordered(db, &["G-1", "G-2", "G-3", "G-4"]).await;
    let flown = "E-1".into();

    assert_eq!(codes(&excursions::coming(db).await.unwrap()), ["E-3.1", "E-3.2", "E-2"]);
    assert_eq!(codes(&excursions::of_flight(db, &"G-3".into()).await.unwrap()), ["E-3.1", "E-3.2"]);
    assert_eq!(codes(&excursions::tools_of(db, &flown).await.unwrap()), ["M-2", "M-1"]);
    assert_eq!(codes(&excursions::to_debrief(db).await.unwrap()), ["E-1"]);
    excursions::set_closed(db, &flown, Some(Moment(7))).await.unwrap();
    assert_eq!(excursions::closed_at(db, &flown).await.unwrap(), Some(Moment(7)));
    assert!(excursions::to_debrief(db).await.unwrap().is_empty());
    excursions::set_closed(db, &flown, None).await.unwrap();
    assert_eq!(codes(&excursions::to_debrief(db).await.unwrap()), ["E-1"]);
    assert_eq!(excursions::closed_at(db, &"E-404".into()).await.unwrap(), None);
}

#[sqlx::test(migrations = "../../migrations")]
async fn tasks_are_found_by_family_and_position_and_know_their_links(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Task>(db, "code: T-3 | title: Fold it | family: F-1 | position: P-1").await;
    saved::<Task>(db, "code: T-4 | title: Hold it | family: F-1").await;
    saved::<Link>(db, "code: J-1 | task: T-3 | kind: needs | other: T-1 | words: it is in the way")
        .await;
    saved::<Link>(db, "code: J-2 | task: T-2 | kind: same visit as | other: T-3").await;
    saved::<Link>(db, "code: J-3 | task: T-4 | kind: needs | other: T-2").await;

    assert_eq!(codes(&tasks::of_family(db, &"F-1".into()).await.unwrap()), ["T-3", "T-4"]);
    assert_eq!(codes(&tasks::by_position(db, &"P-1".into()).await.unwrap()), ["T-3"]);
    assert_eq!(tasks::sisters(db, &"T-3".into()).await.unwrap(), ["T-4".into()]);
    assert!(tasks::sisters(db, &"T-1".into()).await.unwrap().is_empty());
    let both = ["T-4".into(), "T-1".into()];
    assert_eq!(codes(&tasks::these(db, &both).await.unwrap()), ["T-1", "T-4"]);
    assert_eq!(codes(&tasks::links_among(db, &both).await.unwrap()), ["J-1", "J-3"]);
    let needs = tasks::all_needs(db).await.unwrap();
    assert_eq!(needs[0], ("J-1".into(), "T-3".into(), "T-1".into()));
    assert_eq!(needs.len(), 2);
    let links = tasks::links_of(db, &"T-3".into()).await.unwrap();
    let seen: Vec<_> =
        links.iter().map(|l| (l.kind, l.from_here, l.other.as_str(), l.title.as_str())).collect();
    assert_eq!(
        seen,
        [
            (LinkKind::Needs, true, "T-1", "Free the clamp"),
            (LinkKind::SameVisit, false, "T-2", "Close the cover"),
        ]
    );
}

#[sqlx::test(migrations = "../../migrations")]
async fn codes_are_offered_by_how_they_begin(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    for (kind, code) in
        [(Kind::Task, "T-2"), (Kind::Task, "T-10"), (Kind::Tool, "T-1"), (Kind::Task, "U-1")]
    {
        register::enter(db, kind, code, "lead", Moment(0)).await.unwrap();
    }
    assert_eq!(register::codes(db, Kind::Task, "T-", 9).await.unwrap(), ["T-10", "T-2"]);
    assert_eq!(register::codes(db, Kind::Task, "", 2).await.unwrap(), ["T-10", "T-2"]);
    assert!(register::codes(db, Kind::Task, "T-3", 9).await.unwrap().is_empty());
}

#[sqlx::test(migrations = "../../migrations")]
async fn slots_are_read_by_task_by_excursion_and_as_what_is_to_come(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Slot>(db, "code: S-2 | task: T-1 | excursion: E-2 | state: set").await;
    saved::<Slot>(db, "code: S-3 | task: T-2 | excursion: E-2 | place: 2").await;
    saved::<Slot>(db, "code: S-4 | task: T-2 | excursion: E-2 | place: 1 | state: withdrawn").await;
    saved::<Slot>(db, "code: S-5 | task: T-2 | excursion: E-1 | state: set").await;

    assert_eq!(codes(&slots::of_task(db, &"T-1".into()).await.unwrap()), ["S-1", "S-2"]);
    assert_eq!(codes(&slots::live_of_task(db, &"T-1".into()).await.unwrap()), ["S-2"]);
    let on_it = slots::of_excursion(db, &"E-2".into()).await.unwrap();
    assert_eq!(codes(&on_it), ["S-4", "S-3", "S-2"], "without a place it comes last");
    assert_eq!(codes(&slots::coming_slots(db).await.unwrap()), ["S-3", "S-2"]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn attempts_and_endings_are_read_by_what_they_belong_to(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Attempt>(
        db,
        "code: A-3 | task: T-1 | excursion: E-1 | slot: S-1 | outcome: done | pet_start: 2:00",
    )
    .await;
    saved::<Attempt>(
        db,
        "code: A-4 | task: T-1 | excursion: E-1 | slot: S-1 | outcome: part done | pet_start: 1:00",
    )
    .await;
    let task = "T-1".into();
    for (code, excursion) in [("D-1", "E-1"), ("D-2", "E-2")] {
        let cells = format!(
            "code: {code} | task: T-1 | excursion: {excursion} | phase: during | reason: time"
        );
        saved::<Deferral>(db, &cells).await;
    }
    saved::<Closure>(db, "code: Z-1 | task: T-1 | kind: moot").await;
    saved::<Closure>(db, "code: Z-2 | task: T-2 | kind: moot").await;
    saved::<Parking>(db, "code: B-1 | task: T-1 | why: waits").await;
    saved::<Reopening>(db, "code: Y-1 | task: T-1 | share_left: 30 | words: it leaks").await;

    assert_eq!(codes(&attempts::of_task(db, &task).await.unwrap()), ["A-1", "A-3", "A-4"]);
    let on_it = attempts::of_excursion(db, &"E-1".into()).await.unwrap();
    assert_eq!(codes(&on_it), ["A-4", "A-3", "A-1", "A-2"], "without a PET it comes last");
    assert_eq!(codes(&attempts::of_slot(db, &"S-1".into()).await.unwrap()), ["A-4", "A-3"]);
    assert_eq!(codes(&endings::deferrals_of_task(db, &task).await.unwrap()), ["D-1", "D-2"]);
    let deferred = endings::deferrals_of_excursion(db, &"E-2".into()).await.unwrap();
    assert_eq!(codes(&deferred), ["D-2"]);
    assert_eq!(codes(&endings::closures_of_task(db, &task).await.unwrap()), ["Z-1"]);
    assert_eq!(codes(&endings::parkings_of_task(db, &task).await.unwrap()), ["B-1"]);
    assert_eq!(codes(&endings::reopenings_of_task(db, &task).await.unwrap()), ["Y-1"]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn findings_are_listed_by_what_they_still_lack(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Flight>(db, "code: G-2 | launch: 2031-05-01").await;
    ordered(db, &["G-1", "G-2"]).await;
    let done = "attempts: A-1 | author: engineer | reviewed_by: other";
    saved::<Finding>(db, &format!("code: N-2 | {done} | written_on: 2031-01-01")).await;
    saved::<Finding>(db, &format!("code: N-3 | {done} | written_on: 2031-01-02")).await;
    saved::<Remedy>(db, "code: R-1 | what: one | finding: N-1 | needed_by: G-1 | state: done")
        .await;
    saved::<Remedy>(db, "code: R-2 | what: two | finding: N-2 | needed_by: G-2").await;
    saved::<Remedy>(db, "code: R-3 | what: three | finding: N-3 | state: withdrawn").await;

    let mut shown = Vec::new();
    for (which, today) in [
        (Shown::All, "2031-04-01"),
        (Shown::Open, "2031-04-01"),
        (Shown::WithoutRemedy, "2031-04-01"),
        (Shown::Overdue, "2031-04-01"),
        (Shown::Overdue, "2031-05-01"),
    ] {
        let (rows, count) = findings::page(db, which, day(today), 0, 50).await.unwrap();
        assert_eq!(count, i64::try_from(rows.len()).unwrap());
        shown.push(codes(&rows).join(" "));
    }
    assert_eq!(shown, ["N-3 N-2 N-1", "N-1", "N-3", "N-1", "N-2 N-1"]);

    let (rows, count) = findings::page(db, Shown::All, day("2031-04-01"), 1, 1).await.unwrap();
    assert_eq!((codes(&rows), count), (vec!["N-2"], 3));
    let of_task = findings::of_task(db, &"T-1".into()).await.unwrap();
    assert_eq!(codes(&of_task), ["N-1", "N-2", "N-3"]);
    let due = remedies::due(db).await.unwrap();
    let due: Vec<&str> = due.iter().map(|due| due.code.as_str()).collect();
    assert_eq!(due, ["R-1", "R-2"]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn remedies_exemptions_and_techniques_are_read_by_family_and_task(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Task>(db, "code: T-1 | title: Free the clamp | family: F-1").await;
    saved::<Remedy>(db, "code: R-1 | what: one | finding: N-1 | attempts: A-1").await;
    saved::<Remedy>(db, "code: R-2 | what: two | attempts: A-2").await;
    saved::<Exemption>(db, "code: X-1 | task: T-1 | attempts: A-2").await;
    saved::<Technique>(db, "code: K-2 | name: pry | family: F-1").await;
    saved::<Technique>(db, "code: K-3 | name: cut | task: T-1").await;
    saved::<Rehearsal>(db, "code: H-1 | technique: K-2 | kind: tank | day: 2031-01-01").await;
    saved::<Rehearsal>(db, "code: H-2 | technique: K-2 | kind: 1-g | day: 2031-02-01").await;
    let (task, family) = ("T-1".into(), "F-1".into());

    assert_eq!(codes(&remedies::of_task(db, &task).await.unwrap()), ["R-1"]);
    assert_eq!(codes(&remedies::of_finding(db, &"N-1".into()).await.unwrap()), ["R-1"]);
    assert_eq!(codes(&remedies::answering(db, &family).await.unwrap()), ["R-1"]);
    assert_eq!(codes(&findings::exemptions_of_task(db, &task).await.unwrap()), ["X-1"]);
    let ways = techniques::for_task(db, &task, Some(&family)).await.unwrap();
    assert_eq!(codes(&ways), ["K-2", "K-3"]);
    assert_eq!(codes(&techniques::for_task(db, &"T-2".into(), None).await.unwrap()), [""; 0]);
    assert_eq!(codes(&techniques::rehearsals_of(db, &"K-2".into()).await.unwrap()), ["H-2", "H-1"]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_is_outside_is_read_by_place_by_who_left_it_and_who_brings_it_back(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<OutsideItem>(db, "code: O-2 | what: cover | worksite: W-A | left_by: A-1").await;
    saved::<OutsideItem>(
        db,
        "code: O-3 | what: strap | worksite: W-A | left_by: A-2 | state: brought in
         | brought_back_by: T-2",
    )
    .await;

    assert_eq!(codes(&outside::in_place(db).await.unwrap()), ["O-1", "O-2"]);
    assert_eq!(codes(&outside::at_worksite(db, &"W-A".into()).await.unwrap()), ["O-2"]);
    let left = outside::left_by_excursion(db, &"E-1".into()).await.unwrap();
    assert_eq!(codes(&left), ["O-2", "O-3"]);
    assert_eq!(codes(&outside::brought_back_by(db, &"T-2".into()).await.unwrap()), ["O-3"]);
}
