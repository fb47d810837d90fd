//! What is saved is found again, for every kind of record, with every field filled and with every
//! optional one empty.

use std::fmt::Debug;

use sqlx::{AssertSqlSafe, Row as _, SqliteConnection, SqlitePool};

use crate::{Kept, StoreError};
use domain::attempts::Attempt;
use domain::cells::Cells;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::excursions::{Excursion, ExcursionTool};
use domain::families::{Family, Unit};
use domain::findings::{Cause, Exemption, Finding, Remedy};
use domain::flights::Flight;
use domain::inhibits::{Arrangement, Inhibit};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::revisions::Revision;
use domain::slots::Slot;
use domain::tasks::{Link, Task};
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::tools::Tool;
use domain::worksites::{Position, Route, Worksite};

/// The steps by which SQLite answers a statement.
pub(crate) async fn plan(db: &mut SqliteConnection, sql: &str) -> Vec<String> {
    #[expect(clippy::disallowed_methods, reason = "a plan can only be asked for at run time")]
    let steps = sqlx::query(AssertSqlSafe(format!("EXPLAIN QUERY PLAN {sql}")));
    steps.fetch_all(db).await.unwrap().iter().map(|row| row.get("detail")).collect()
}

/// A record from its cells, written `name: text | name: text`.
pub(crate) fn record<T: Kept>(cells: &str) -> T {
    let cells: Cells = cells
        .split('|')
        .map(|cell| cell.split_once(':').expect("a cell is written as name: text"))
        .map(|(name, text)| (name.trim().to_owned(), text.trim().to_owned()))
        .collect();
    for (name, _) in cells.iter() {
        assert!(T::COLUMNS.iter().any(|c| c.name == name), "{:?} has no column {name}", T::KIND);
    }
    T::parse(&cells).unwrap_or_else(|wrong| panic!("{:?}: {wrong:?}", T::KIND))
}

pub(crate) async fn saved<T: Kept>(db: &mut SqliteConnection, cells: &str) -> T {
    let record = record::<T>(cells);
    record.save(db).await.unwrap_or_else(|e| panic!("{cells}: {e:?}"));
    record
}

/// One record of each kind that others name, as bare as it may be, and some second ones.
pub(crate) async fn world(db: &mut SqliteConnection) {
    saved::<Flight>(db, "code: G-1 | state: flown").await;
    saved::<Flight>(db, "code: G-2").await;
    saved::<Worksite>(db, "code: W-A").await;
    saved::<Worksite>(db, "code: W-B").await;
    saved::<Family>(db, "code: F-1").await;
    saved::<Position>(db, "code: P-1 | worksite: W-A").await;
    saved::<Position>(db, "code: P-2").await;
    saved::<Unit>(db, "code: U-1 | family: F-1 | position: P-1").await;
    saved::<Cause>(
        db,
        "code: C-1 | words: fastener seized | cause_group: fasteners | scope: hardware",
    )
    .await;
    saved::<Cause>(db, "code: C-2 | words: time ran out | cause_group: plan | scope: outside")
        .await;
    saved::<Tool>(db, "code: L-1 | name: ratchet").await;
    saved::<Tool>(db, "code: L-2 | name: spreader").await;
    saved::<Excursion>(db, "code: E-1 | flight: G-1 | state: flown").await;
    saved::<Excursion>(db, "code: E-2 | flight: G-2 | state: planned").await;
    saved::<Task>(db, "code: T-1 | title: Free the clamp").await;
    saved::<Task>(db, "code: T-2 | title: Close the cover").await;
    saved::<Technique>(db, "code: K-1 | name: straight pull").await;
    saved::<Slot>(db, "code: S-1 | task: T-1 | excursion: E-1 | state: flown").await;
    saved::<Attempt>(db, "code: A-1 | task: T-1 | excursion: E-1 | outcome: not completed").await;
    saved::<Attempt>(db, "code: A-2 | task: T-2 | excursion: E-1 | outcome: done").await;
    saved::<Finding>(db, "code: N-1 | attempts: A-1").await;
    saved::<OutsideItem>(db, "code: O-1 | what: tether").await;
    saved::<Inhibit>(db, "code: I-1 | what: heater off").await;
}

/// Saves the record full, then bare under its own code, and finds each as it was.
async fn comes_back<T: Kept + Debug>(db: &mut SqliteConnection, full: &str, bare: &str) {
    let full = record::<T>(full);
    let cells = full.cells();
    let left_empty: Vec<&str> =
        T::COLUMNS.iter().map(|c| c.name).filter(|name| cells.get(name).is_empty()).collect();
    // A unit never keeps the worksite, and an attempt says either what is left or what it added.
    let empty: &[&str] = match T::KIND {
        Kind::Unit => &["worksite"],
        Kind::Attempt => &["left_after"],
        _ => &[],
    };
    assert_eq!(left_empty, empty, "of {:?}", T::KIND);
    let bare = record::<T>(bare);
    assert_eq!(T::find(db, full.code()).await.unwrap(), None);

    for each in [&full, &bare] {
        each.save(db).await.unwrap_or_else(|e| panic!("{each:?}: {e:?}"));
        assert_eq!(T::find(db, each.code()).await.unwrap().as_ref(), Some(each));
    }

    let walked = T::after(db, "", 1_000).await.unwrap();
    assert!(walked.contains(&bare));
    assert!(walked.is_sorted_by_key(|each| each.code().to_owned()));
    assert_eq!(T::after(db, "", 1).await.unwrap()[..], walked[..1]);
    assert_eq!(T::after(db, walked[0].code(), 1_000).await.unwrap()[..], walked[1..]);
}

async fn open(pool: &SqlitePool) -> sqlx::pool::PoolConnection<sqlx::Sqlite> {
    let mut db = pool.acquire().await.unwrap();
    world(&mut db).await;
    db
}

#[sqlx::test(migrations = "../../migrations")]
async fn flights_worksites_routes_and_positions_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Flight>(
        db,
        "code: G-9 | name: Ninth | launch: 2031-03-01 | landing: 2031-03-14 | sequence: 2
         | state: under way | notes: short",
        "code: G-9",
    )
    .await;
    comes_back::<Worksite>(
        db,
        "code: W-9 | name: Keel | setup: 10 | cleanup: 5 | map_x: 12.5 | map_y: 80 | notes: dark",
        "code: W-9",
    )
    .await;
    comes_back::<Route>(
        db,
        "code: Q-9 | from_site: W-A | to_site: W-B | minutes: 4 | minutes_back: 6 | aid: O-1
         | notes: along the boom",
        "code: Q-9 | from_site: W-B | to_site: W-A | minutes: 4",
    )
    .await;
    comes_back::<Position>(db, "code: P-9 | worksite: W-A | notes: outer row", "code: P-9").await;
}

#[sqlx::test(migrations = "../../migrations")]
async fn families_and_units_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Family>(db, "code: F-9 | name: Clamps | notes: five of them", "code: F-9").await;
    comes_back::<Unit>(
        db,
        "code: U-9 | family: F-1 | serial: 007 | position: P-1 | from_day: 2031-01-02
         | until_day: 2031-02-03 | notes: spare",
        "code: U-8 | family: F-1",
    )
    .await;
}

#[sqlx::test(migrations = "../../migrations")]
async fn techniques_rehearsals_and_tools_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Technique>(
        db,
        "code: K-9 | name: pry | family: F-1 | task: T-1 | revision: 3 | state: cleared
         | sides: nadir, zenith-port | tools: L-1, L-2 | seats: 2 | optimistic: 10 | likely: 20
         | pessimistic: 45 | rehearsal_demanded: yes | training_demanded: yes | may_pause: yes | steps: one | notes: gentle",
        "code: K-9 | name: pry | revision: 1",
    )
    .await;
    comes_back::<Qualification>(
        db,
        "code: QU-9 | crew: C-4 | technique: K-1 | revision: 1 | side: nadir | day: 2031-01-02
         | place: tank | notes: twice",
        "code: QU-9 | crew: C-4 | technique: K-1",
    )
    .await;
    comes_back::<domain::declines::Decline>(
        db,
        "code: DO-9 | attempt: A-1 | task: T-2 | words: no room | author: engineer
         | written_on: 2031-01-02",
        "code: DO-9 | attempt: A-1 | task: T-2",
    )
    .await;
    comes_back::<domain::constraints::Constraint>(
        db,
        "code: CN-9 | forbidden: fan at half speed | function: loop B | owner: thermal console
         | attempts: A-1 | outside_items: O-1 | findings: N-1 | since: 2031-01-01
         | safe_until: 2031-06-01 | safe_until_flight: G-2 | safe_until_words: next inspection
         | task: T-1 | ends_when: bolt at value | author: engineer | lifted_by: lead
         | lifted_on: 2031-01-05 | lift_reason: seen to hold | lift_evidence: N-1
         | checked: here",
        "code: CN-9 | forbidden: fan off",
    )
    .await;
    comes_back::<Revision>(
        db,
        "code: K-1.9 | technique: K-1 | number: 9 | changed: a longer handle | changes_work: yes
         | answers: A-1 | author: other | made_on: 2031-01-02 | cleared_by: lead
         | cleared_on: 2031-01-04 | evidence: seen in the tank | sides: aft | tools: L-1
         | seats: 1 | optimistic: 10 | likely: 20 | pessimistic: 30 | steps: turn it
         | checked: here",
        "code: K-1.9 | technique: K-1 | number: 9",
    )
    .await;
    comes_back::<Rehearsal>(
        db,
        "code: H-9 | technique: K-1 | revision: 2 | side: aft | kind: 1-g | day: 2031-01-02
         | success: yes | minutes: 30 | notes: warm",
        "code: H-9 | technique: K-1 | kind: tank",
    )
    .await;
    comes_back::<Tool>(
        db,
        "code: L-9 | name: hook | mass: 1.25 | volume: 0.5 | on_board: 2 | arrives_with: G-2
         | counted_on: 2031-01-02 | arriving: 3 | returns_with: G-2 | going_down: 2 | state: broken
         | notes: bent",
        "code: L-9 | name: hook",
    )
    .await;
}

#[sqlx::test(migrations = "../../migrations")]
async fn excursions_and_their_tools_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Excursion>(
        db,
        "code: E-9 | flight: G-2 | number: 3 | day: 2031-03-05 | state: planned | planned: 6:30
         | limit: 7:00 | egress: 30 | ingress: 25 | seats: EV1 C-4, EV2 C-7 | airlock: W-A
         | deferrable: yes | flown_chance: 80 | arm_windows: 2:40-4:45, 5:10-5:55
         | orbit_period: 92.6 | orbit_altitude: 400 | beta: -12.5 | first_sunrise: 0:14
         | oxygen: 0.5 | scrubber: 0.7 | water: 4 | battery: 8:00 | bag_out: 40 | bag_in: 35
         | tools: L-1, L-2 | egress_at: 2031-03-05 08:12 | actual: 6:41 | ended_early: glove
         | notes: calm",
        "code: E-9 | state: called off",
    )
    .await;
    comes_back::<ExcursionTool>(
        db,
        "code: M-9 | excursion: E-1 | tool: L-1 | taken_out: 4 | brought_in: 2 | left_outside: 1
         | broken: 1 | lost: 1 | not_counted: bag sealed",
        "code: M-9 | excursion: E-1 | tool: L-1 | taken_out: 4",
    )
    .await;
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_excursion_without_a_state_is_not_saved(pool: SqlitePool) {
    let db = &mut open(&pool).await;

    let refused = record::<Excursion>("code: E-9").save(db).await;

    assert!(matches!(refused, Err(StoreError::Corrupt { table: "excursion", .. })));
}

#[sqlx::test(migrations = "../../migrations")]
async fn tasks_links_and_slots_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Task>(
        db,
        "code: T-9 | title: Swap it | family: F-1 | position: P-1 | worksite: W-A
         | sides: nadir, port | class: 3 | needed_by_flight: G-2 | needed_by_day: 2031-04-01
         | late_means: no cooling | late_is_moot: yes | back_inside_by: G-2 | optimistic: 20
         | likely: 30 | pessimistic: 60 | estimator: mechanisms | seats: 2 | work_rate: heavy
         | lighting: daylight only | arm: yes | takes_out: 12 | brings_in: 9
         | needs_inhibits: I-1
         | inhibits: heater off | hazards: sharp edge | notes: as before | opened: 2030-01-01
         | opened_after: G-1 | from_excursion: E-1 | triggered: yes",
        "code: T-9 | title: Swap it",
    )
    .await;
    comes_back::<Inhibit>(
        db,
        "code: I-9 | what: pump off | owner: thermal | lead: 60 | cost: one loop | notes: locked",
        "code: I-9 | what: pump off",
    )
    .await;
    comes_back::<Arrangement>(
        db,
        "code: AR-9 | inhibit: I-1 | excursion: E-2 | state: arranged | from_pet: 1:00
         | until_pet: 2:30 | notes: by voice",
        "code: AR-9 | inhibit: I-1 | excursion: E-2",
    )
    .await;
    comes_back::<Link>(
        db,
        "code: J-9 | task: T-1 | kind: same visit as | other: T-2 | words: one visit",
        "code: J-9 | task: T-1 | kind: needs | other: T-2",
    )
    .await;
    comes_back::<Slot>(
        db,
        "code: S-9 | task: T-1 | excursion: E-2 | technique: K-1 | side: nadir-forward
         | seats: EV1, EV2 | place: 2 | state: set | share: 50 | stopping_point: after step 4
         | if_it_fails: tie it down | must_do: yes | set_on: 2031-02-01 | optimistic: 10
         | likely: 20 | pessimistic: 30 | estimator: mechanisms | waived_gate: approach
         | waiver: the lead takes it | stopping_share: 40 | not_before: 3:20
         | fallbacks: K-1 from nadir, after 25 min, needed 30 %, when no turn at 40 N·m",
        "code: S-9 | task: T-1 | excursion: E-2",
    )
    .await;
}

#[sqlx::test(migrations = "../../migrations")]
async fn attempts_and_other_events_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Attempt>(
        db,
        "code: A-9 | task: T-1 | excursion: E-1 | slot: S-1 | seats: EV1 C-4 | technique: K-1
         | revision: 2 | side: nadir | pet_start: 1:10 | pet_end: 2:05 | minutes: 55
         | outcome: part done | share: 40 | planned_share: 100 | cause: C-1 | words: it jammed
         | measured: grip force 180 N (limit 200 N); turns 9 | last_step: 4 | as_left: half open
         | safe_until: 2031-06-01 | safe_until_flight: G-2 | forbids: heating | temporary: strap
         | outside_after: temporary hardware left | outside_items: O-1, O-2 | function_after: not restored | tools: L-1, L-2 | unit: U-1 | serial: 001
         | came_out: 001 | went_in: not recorded
         | worksite: W-A | cut_off: 50 | recorded_by: engineer | symptom: a click
         | indications: current rose | tried: by hand; with the bar | lighting: night
         | temperature: -31 | time_left: 45 | operated: 1200
         | confirmed: 55 min by lead at 2030-11-21 14:20 | came_out: 0007 | went_in: 0012",
        "code: A-9 | task: T-1 | excursion: E-1 | outcome: part done | left_after: 60",
    )
    .await;
    comes_back::<Deferral>(
        db,
        "code: D-9 | task: T-1 | excursion: E-1 | slot: S-1 | phase: during | reason: time
         | words: late | decided_by: lead | to_excursion: E-2 | day: 2031-03-05",
        "code: D-9 | task: T-1 | excursion: E-1 | phase: before launch | reason: priority",
    )
    .await;
    comes_back::<Closure>(
        db,
        "code: Z-9 | task: T-1 | kind: duplicate of | duplicate_of: T-2 | words: the same
         | evidence: both titles | day: 2031-03-05",
        "code: Z-9 | task: T-1 | kind: moot",
    )
    .await;
    comes_back::<Parking>(
        db,
        "code: B-9 | task: T-1 | why: awaiting a part | until_day: 2031-03-05 | until_flight: G-2
         | day: 2031-01-01",
        "code: B-9 | task: T-1 | why: awaiting a part",
    )
    .await;
    comes_back::<Reopening>(
        db,
        "code: Y-9 | task: T-1 | share_left: 30 | words: it leaks | day: 2031-03-05",
        "code: Y-9 | task: T-1 | share_left: 100 | words: it leaks",
    )
    .await;
}

#[sqlx::test(migrations = "../../migrations")]
async fn findings_remedies_and_outside_items_come_back(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    comes_back::<Cause>(
        db,
        "code: C-9 | words: seal stuck | cause_group: seals | scope: approach",
        "code: C-9 | words: seal stuck | cause_group: seals | scope: diagnosis",
    )
    .await;
    comes_back::<Finding>(
        db,
        "code: N-9 | attempts: A-1, A-2 | cause: C-1 | contributing: C-2 | words: it seized
         | evidence: torque trace | recommended_technique: K-1 | recommended_side: port
         | author: engineer | written_on: 2031-03-07 | reviewed_by: other
         | reviewed_on: 2031-03-09 | confirmed: on camera | confidence: likely
         | disposition: replaced | checked: here",
        "code: N-9",
    )
    .await;
    comes_back::<Remedy>(
        db,
        "code: R-9 | what: a spreader | finding: N-1 | attempts: A-1, A-2 | reach: every unit
         | technique: K-1 | revision: 2 | owner: tools | needed_by: G-2 | opened_on: 2031-03-09
         | state: verified | done_on: 2031-04-01 | verified_by: other | verified_on: 2031-04-02
         | evidence: tank run | checked: by clearing the revision",
        "code: R-9 | what: a spreader",
    )
    .await;
    comes_back::<Exemption>(
        db,
        "code: X-9 | task: T-2 | attempts: A-1, A-2 | words: another thread | author: engineer
         | written_on: 2031-03-07 | reviewed_by: other | reviewed_on: 2031-03-09
         | checked: imported, not checked here",
        "code: X-9 | task: T-2",
    )
    .await;
    comes_back::<OutsideItem>(
        db,
        "code: O-9 | what: restraint | worksite: W-A | purpose: foothold | left_by: A-1
         | since: 2031-03-05 | limit_days: 365 | limit_until: 2032-01-01 | tool: L-1 | brought_back_by: T-2
         | returns_with: G-2
         | state: brought in | ended_on: 2031-05-05 | notes: worn",
        "code: O-9 | what: restraint",
    )
    .await;
}

/// Saving it breaks the rule that the schema holds.
async fn breaks<T: Kept>(db: &mut SqliteConnection, rule: &str, cells: &str) {
    let refused = record::<T>(cells).save(db).await;
    let Err(StoreError::Database(sqlx::Error::Database(cause))) = refused else {
        panic!("{cells} was taken");
    };
    assert!(cause.message().contains(rule), "{cells}: {}", cause.message());
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_schema_holds_plain_facts(pool: SqlitePool) {
    let db = &mut open(&pool).await;
    breaks::<Flight>(
        db,
        "launch <= landing",
        "code: G-9 | launch: 2031-03-02 | landing: 2031-03-01",
    )
    .await;
    breaks::<Route>(
        db,
        "from_site <> to_site",
        "code: Q | from_site: W-A | to_site: W-A | minutes: 1",
    )
    .await;
    breaks::<Task>(db, "optimistic <= likely", "code: T-9 | title: x | optimistic: 9 | likely: 3")
        .await;
    breaks::<Task>(db, "seats IN (1, 2)", "code: T-9 | title: x | seats: 3").await;
    breaks::<Link>(db, "task <> other", "code: J-9 | task: T-1 | kind: needs | other: T-1").await;
    breaks::<Slot>(db, "waiver IS NULL", "code: S-9 | task: T-1 | excursion: E-2 | waiver: so")
        .await;
    breaks::<Slot>(db, "FOREIGN KEY", "code: S-9 | task: T-404 | excursion: E-2").await;
    breaks::<Attempt>(
        db,
        "pet_start <= pet_end",
        "code: A-9 | task: T-1 | excursion: E-1 | outcome: done | pet_start: 2:00 | pet_end: 1:00",
    )
    .await;
    breaks::<Closure>(db, "duplicate_of", "code: Z-9 | task: T-1 | kind: duplicate of").await;
    breaks::<Closure>(db, "duplicate_of", "code: Z-9 | task: T-1 | kind: moot | duplicate_of: T-2")
        .await;
    breaks::<Reopening>(db, "share_left", "code: Y-9 | task: T-1 | share_left: 0 | words: x").await;
    breaks::<Finding>(db, "reviewed_by", "code: N-9 | author: Ada | reviewed_by: ada").await;
    breaks::<Finding>(db, "FOREIGN KEY", "code: N-9 | attempts: A-404").await;
    breaks::<Exemption>(
        db,
        "reviewed_by",
        "code: X-9 | task: T-1 | author: Ada | reviewed_by: ADA",
    )
    .await;
    breaks::<Remedy>(db, "verified_by", "code: R-9 | what: x | state: verified").await;
    breaks::<Remedy>(
        db,
        "verified_by",
        "code: R-9 | what: x | state: verified | owner: Ada | verified_by: ada",
    )
    .await;
    saved::<ExcursionTool>(db, "code: M-1 | excursion: E-1 | tool: L-1 | taken_out: 1").await;
    breaks::<ExcursionTool>(db, "UNIQUE", "code: M-2 | excursion: E-1 | tool: L-1 | taken_out: 1")
        .await;
}

#[tokio::test]
async fn a_reader_sees_one_state_whatever_is_committed_in_between() {
    let folder = tempfile::tempdir().unwrap();
    let db = crate::Db::open(&folder.path().join("holdover.db")).await.unwrap();
    let mut work = db.begin().await.unwrap();
    saved::<Flight>(&mut work, "code: G-1 | notes: first words").await;
    work.commit().await.unwrap();

    let mut reader = db.reader().await.unwrap();
    assert!(Flight::find(&mut reader, "G-1").await.unwrap().is_some());
    let mut work = db.begin().await.unwrap();
    saved::<Flight>(&mut work, "code: G-1 | notes: other words").await;
    saved::<Flight>(&mut work, "code: G-2").await;
    work.commit().await.unwrap();

    let same = Flight::find(&mut reader, "G-1").await.unwrap().unwrap();
    assert_eq!(same.notes.as_str(), "first words");
    assert!(Flight::find(&mut reader, "G-2").await.unwrap().is_none());
    drop(reader);
    let mut next = db.reader().await.unwrap();
    let changed = Flight::find(&mut next, "G-1").await.unwrap().unwrap();
    assert_eq!(changed.notes.as_str(), "other words");
}
