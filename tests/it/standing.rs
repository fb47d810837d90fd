//! Whatever is made, moved to another task, changed or taken back: what is stored of every task is
//! what its events say.

use app::checks;
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::standing_life::{DEEDS, World, world};
use crate::support::TestApp;

/// So many things happen in one life.
const STEPS: usize = 150;

async fn what_is_stored_is_what_the_events_say(pool: SqlitePool, seed: u64) -> World {
    let mut world = world(pool, seed).await;
    assert_eq!(world.faults().await, [] as [String; 0]);
    world.live(STEPS).await;
    world
}

#[sqlx::test]
async fn every_event_that_is_made_moved_changed_or_taken_back_is_followed(pool: SqlitePool) {
    let world = what_is_stored_is_what_the_events_say(pool, 1).await;
    // A life in which a kind never changes proves nothing about it.
    let never: Vec<&str> = DEEDS
        .iter()
        .map(|(kind, _)| kind.word())
        .filter(|kind| !world.done.keys().any(|(done, _)| done == kind))
        .collect();
    assert!(never.is_empty(), "never done: {never:?} of {:?}", world.done);
}

#[sqlx::test]
async fn every_event_is_followed_in_a_second_life(pool: SqlitePool) {
    what_is_stored_is_what_the_events_say(pool, 2).await;
}

#[sqlx::test]
async fn a_parking_that_is_moved_to_another_task_leaves_the_first_one_open(pool: SqlitePool) {
    use domain::words::TaskState;

    use crate::small_record::standing_of;
    let app = TestApp::new(pool).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(&app.app, Kind::Parking, "code: B-1 | task: T-3 | why: no tool for it").await;
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Parked);

    app.get("/parkings/B-1/edit").await;
    let reply = app.post("/parkings/B-1/edit", &[("task", "T-2"), ("why", "no tool for it")]).await;

    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Open);
    let faults = checks::run(&app.app.db, |_, _| {}).await.unwrap().faults;
    assert_eq!(faults, []);
}
