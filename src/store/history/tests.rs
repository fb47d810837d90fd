//! Every event of a task is gathered, once, with the cause that decides.

use sqlx::{SqliteConnection, SqlitePool};

use super::*;
use crate::register;
use crate::slot_history::{self, GateThen, Step};
use crate::tests::{saved, world};
use domain::attempts::Attempt;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::findings::{Exemption, Finding, Remedy};
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::{GateName, GateVerdict, Reach, RemedyState};

async fn enter(db: &mut SqliteConnection, records: &[(Kind, &str)]) {
    for (kind, code) in records {
        register::enter(db, *kind, code, "lead", Moment(0)).await.unwrap();
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_last_reviewed_finding_with_a_cause_decides(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    enter(db, &[(Kind::Attempt, "A-1")]).await;
    let found = async |db: &mut SqliteConnection| {
        tries_of(db, &["T-1".into()]).await.unwrap().remove(0).found_cause
    };
    saved::<Finding>(db, "code: N-1 | attempts: A-1 | cause: C-1 | author: engineer").await;
    assert_eq!(found(db).await, None, "nobody has reviewed it");

    let reviewed = "attempts: A-1 | reviewed_by: other";
    saved::<Finding>(db, &format!("code: N-1 | cause: C-1 | {reviewed} | reviewed_on: 2031-01-01"))
        .await;
    assert_eq!(found(db).await, Some("C-1".into()));
    saved::<Finding>(db, &format!("code: N-2 | cause: C-2 | {reviewed} | reviewed_on: 2031-01-05"))
        .await;
    saved::<Finding>(db, &format!("code: N-3 | {reviewed} | reviewed_on: 2031-02-01")).await;

    assert_eq!(found(db).await, Some("C-2".into()));
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_kind_of_event_is_there_with_its_entry(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Deferral>(
        db,
        "code: D-1 | task: T-1 | excursion: E-2 | phase: before launch | reason: time",
    )
    .await;
    saved::<Closure>(db, "code: Z-1 | task: T-1 | kind: moot").await;
    saved::<Parking>(db, "code: B-1 | task: T-1 | why: waits").await;
    saved::<Reopening>(db, "code: Y-1 | task: T-1 | share_left: 30 | words: it leaks").await;
    enter(
        db,
        &[
            (Kind::Task, "T-1"),
            (Kind::Slot, "S-1"),
            (Kind::Attempt, "A-1"),
            (Kind::Deferral, "D-1"),
            (Kind::Closure, "Z-1"),
            (Kind::Parking, "B-1"),
            (Kind::Reopening, "Y-1"),
            (Kind::Task, "T-2"),
            (Kind::Attempt, "A-2"),
        ],
    )
    .await;

    let events = events_of(db, &["T-1".into(), "T-404".into()], Texts::Read).await.unwrap();

    let entries = [
        events.openings[0].entry,
        events.slots[0].entry,
        events.attempts[0].entry,
        events.deferrals[0].entry,
        events.closures[0].entry,
        events.parkings[0].entry,
        events.reopenings[0].entry,
    ];
    // In the order of entry, after the kinds of cause with which a record begins.
    let first = entries[0];
    assert_eq!(entries.map(|entry| entry - first), [0, 1, 2, 3, 4, 5, 6]);
    assert_eq!((events.openings.len(), events.attempts.len(), events.slots.len()), (1, 1, 1));
    assert_eq!(events.reopenings[0].share_left, Some(Share(30)));
    assert_eq!(events.parkings[0].share_left, None);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_slot_says_when_it_was_set_and_which_gate_was_worst(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Slot>(db, "code: S-2 | task: T-1 | excursion: E-2").await;
    enter(db, &[(Kind::Slot, "S-1"), (Kind::Slot, "S-2")]).await;
    for (state, at) in [(SlotState::Pencilled, 1), (SlotState::Set, 2), (SlotState::Withdrawn, 3)] {
        let step = Step { state, at: Moment(at), who: "lead".to_owned(), why: None };
        slot_history::add_step(db, &"S-1".into(), &step).await.unwrap();
    }
    let gate = |gate, verdict| GateThen { gate, verdict, reason: "so".to_owned(), at: Moment(2) };
    let gates = [
        gate(GateName::Time, GateVerdict::Tight),
        gate(GateName::Tools, GateVerdict::CannotTell),
        gate(GateName::Seats, GateVerdict::Met),
    ];
    slot_history::replace_gates(db, &"S-1".into(), &gates).await.unwrap();

    let slots = events_of(db, &["T-1".into()], Texts::Read).await.unwrap().slots;

    assert_eq!((slots[0].set_at, slots[0].withdrawn_at), (Some(Moment(2)), Some(Moment(3))));
    assert_eq!(slots[0].first_set_at, slots[0].set_at);
    assert_eq!(slots[0].worst_gate.as_deref(), Some("cannot tell"));
    assert_eq!((slots[1].set_at, slots[1].worst_gate.as_deref()), (None, None));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_familys_record_has_its_tries_answers_and_exemptions(pool: SqlitePool) {
    let db = &mut pool.acquire().await.unwrap();
    world(db).await;
    saved::<Task>(db, "code: T-1 | title: Free the clamp | family: F-1 | position: P-1").await;
    saved::<Task>(db, "code: T-3 | title: Free the other | family: F-1").await;
    saved::<Attempt>(db, "code: A-3 | task: T-1 | excursion: E-1 | outcome: done | side: aft")
        .await;
    saved::<Remedy>(db, "code: R-1 | what: a spreader | attempts: A-1, A-3 | reach: every unit")
        .await;
    saved::<Exemption>(db, "code: X-1 | task: T-3 | attempts: A-1 | reviewed_by: other").await;
    enter(db, &[(Kind::Attempt, "A-1"), (Kind::Attempt, "A-3"), (Kind::Remedy, "R-1")]).await;

    let sisters = tasks_of_families(db, &["F-1".into()]).await.unwrap();
    let tasks: Vec<TaskCode> = sisters.into_iter().map(|sister| sister.task).collect();
    let tries = tries_of(db, &tasks).await.unwrap();
    let answers = answers_to(db, &tasks).await.unwrap();
    let exempted = exemptions_of(db, &tasks).await.unwrap();

    assert_eq!(tasks, ["T-1".into(), "T-3".into()]);
    let positions: Vec<_> = tries.iter().map(|t| (t.code.as_str(), t.position.clone())).collect();
    assert_eq!(positions, [("A-1", None), ("A-3", Some("P-1".into()))]);
    let named: Vec<&str> = answers.iter().map(|answer| answer.attempt.as_str()).collect();
    assert_eq!(named, ["A-1", "A-3"]);
    assert_eq!((answers[0].reach, answers[0].state), (Reach::EveryUnit, RemedyState::Open));
    assert!(exempted[0].is_reviewed);
    let now = units_now(db, &["P-1".into(), "P-2".into()]).await.unwrap();
    assert_eq!(now, [("P-1".into(), "U-1".into())]);
}
