//! Get-aheads added on the board: a task of the day and of its debrief, never a slot of the record.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use super::{DAY, PRESS, begun, kept, press, saved};
use crate::debrief::mark_flown;
use crate::small_record::{FLOWN, lay, made};
use crate::support::TestApp;

/// What the form of a get-ahead sends beside its button.
const FOR_EV2: [(&str, &str); 4] =
    [("seat", "EV2"), ("technique", "K-1"), ("side", "nadir"), ("before", "")];

async fn slots_of(app: &TestApp, task: &str) -> usize {
    let mut db = app.app.db.reader().await.unwrap();
    store::slots::of_task(&mut db, &task.into()).await.unwrap().len()
}

/// The seat's part of the board.
fn seat<'p>(page: &'p str, name: &str) -> &'p str {
    let (_, rest) = page.split_once(&format!("aria-labelledby=\"{name}\"")).unwrap();
    rest.split("</section>").next().unwrap()
}

#[sqlx::test]
async fn a_get_ahead_is_offered_added_worked_and_undone_on_the_board_alone(db: SqlitePool) {
    let app = begun(db).await;
    let page = app.get(DAY).await.body;
    let (_, offers) = page.split_once("id=\"aheads\"").unwrap();
    let (_, row) = offers.split_once("<tr data-code=\"T-3\">").unwrap();
    let row = row.split("</tr>").next().unwrap();
    assert!(row.contains("value=\"added T-3\"") && row.contains("name=\"seat\""), "{row}");

    // Without scripts the button is a form.
    let mut fields = vec![("press", "added T-3")];
    fields.extend(FOR_EV2);
    let reply = app.post(DAY, &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(DAY).await.body;
    assert!(page.contains("Saved: T-3 added for EV2"), "{page}");
    let there = seat(&page, "seat2");
    assert!(there.contains(">T-3</a> Swap cassette T-3"), "{there}");
    assert!(there.contains("get-ahead, added on the board"), "{there}");
    assert!(page.contains("<td>T-3 added for EV2</td>"), "{page}");
    assert!(page.contains("of 3 tasks are expected to be reached"), "{page}");
    assert!(!page.contains("value=\"added T-3\""), "it is not offered again: {page}");

    // It is timed and pressed as every other task of its seat.
    saved(&app, "a", "started S-2", "0:41").await;
    saved(&app, "b", "done S-2", "1:20").await;
    let page = app.get(DAY).await.body;
    let there = seat(&page, "seat2");
    assert!(there.contains("value=\"started #T-3\""), "{there}");
    saved(&app, "c", "started #T-3", "1:20").await;
    let page = app.get(DAY).await.body;
    assert!(
        seat(&page, "seat2").contains("since <b>1:20") || page.contains("since 1:20"),
        "{page}"
    );

    // While it is under way it stands; after its start is undone it can be undone too.
    let add = {
        let mut db = app.app.db.reader().await.unwrap();
        let all = store::day::presses(&mut db, &"E-37.1".into(), None).await.unwrap();
        all.into_iter().find(|press| press.adds.is_some()).unwrap().key
    };
    let reply = press(&app, "u1", "undo", &[("undoes", &add)]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("T-3 has been started; undo that first"), "{}", reply.body);
    assert_eq!(press(&app, "u2", "undo", &[("undoes", "c")]).await.status, 200);
    assert_eq!(press(&app, "u3", "undo", &[("undoes", &add)]).await.status, 200);
    let page = app.get(DAY).await.body;
    assert!(page.contains("of 2 tasks are expected to be reached"), "{page}");
    assert!(page.contains("<td>Undo of T-3 added for EV2 at PET 1:50</td>"), "{page}");
    assert!(page.contains("value=\"added T-3\""), "it is offered again: {page}");
    assert_eq!(slots_of(&app, "T-3").await, 0);
}

#[sqlx::test]
async fn what_cannot_be_added_is_refused_in_words(db: SqlitePool) {
    let app = begun(db).await;
    assert_eq!(press(&app, "a", "added T-3", &FOR_EV2).await.status, 200);
    // The same press sent again counts once; another one for the task says why it does not count.
    let again = press(&app, "a", "added T-3", &FOR_EV2).await;
    assert_eq!(again.status, 200, "{}", again.body);
    assert!(again.body.contains("it counts once"), "{}", again.body);
    let mut for_ev1 = FOR_EV2;
    for_ev1[0].1 = "EV1";
    for (what, fields, status, said) in [
        ("added T-3", for_ev1, 409, "T-3 is added for EV2 already"),
        ("added T-1", FOR_EV2, 409, "T-1 is set on E-37.1 as S-1 already"),
        ("added T-99", FOR_EV2, 422, "There is no task T-99"),
        ("added", FOR_EV2, 422, "There is no task"),
        (
            "added T-3",
            [("seat", "EV7"), FOR_EV2[1], FOR_EV2[2], FOR_EV2[3]],
            422,
            "has no seat EV7",
        ),
        ("added T-3", [("seat", ""), FOR_EV2[1], FOR_EV2[2], FOR_EV2[3]], 422, "Choose the seats"),
        ("started #T-98", FOR_EV2, 422, "not set on E-37.1 any more"),
    ] {
        let reply = press(&app, "x", what, &fields).await;
        assert_eq!(reply.status, status, "{what}: {}", reply.body);
        assert!(reply.body.contains(said), "{what}: {}", reply.body);
    }
    let task = crate::small_record::task("T-4");
    made(&app.app, Kind::Task, &task).await;
    let unknown = [FOR_EV2[0], ("technique", "K-77"), FOR_EV2[2], FOR_EV2[3]];
    let reply = press(&app, "x", "added T-4", &unknown).await;
    assert!(reply.status == 422 && reply.body.contains("no technique K-77"), "{}", reply.body);
    assert_eq!(kept(&app).await, 2);

    let viewer = app.another().signed_in(Role::Viewer).await;
    let page = viewer.get(DAY).await.body;
    assert!(!page.contains("value=\"added"), "{page}");
    let mut fields = vec![("key", "v"), ("press", "added T-4")];
    fields.extend(FOR_EV2);
    assert_eq!(viewer.post(PRESS, &fields).await.status, 403);
    assert_eq!(kept(&app).await, 2);
}

#[sqlx::test]
async fn a_task_that_is_set_since_keeps_what_was_pressed_for_it(db: SqlitePool) {
    let app = begun(db).await;
    assert_eq!(press(&app, "a", "added T-3", &FOR_EV2).await.status, 200);
    saved(&app, "b", "started #T-3", "1:10").await;
    // Set on another excursion, it goes on here, and the board says so.
    let slot = "task: T-3 | technique: K-1 | side: nadir | seats: EV2 | state: set";
    made(&app.app, Kind::Slot, &format!("code: S-7 | excursion: E-37.2 | {slot}")).await;
    let page = app.get(DAY).await.body;
    let there = seat(&page, "seat2");
    assert!(there.contains("also set on E-37.2 as S-7") && there.contains("since"), "{there}");
}

#[sqlx::test]
async fn a_task_that_gets_a_slot_here_goes_on_as_that_slot(db: SqlitePool) {
    let app = begun(db).await;
    assert_eq!(press(&app, "a", "added T-3", &FOR_EV2).await.status, 200);
    saved(&app, "b", "started #T-3", "1:10").await;
    let slot = "task: T-3 | technique: K-1 | side: nadir | seats: EV2 | state: set";
    made(&app.app, Kind::Slot, &format!("code: S-8 | excursion: E-37.1 | {slot}")).await;
    let page = app.get(DAY).await.body;
    let there = seat(&page, "seat2");
    assert!(there.contains("value=\"done S-8\"") && !there.contains("#T-3"), "{there}");
    assert!(page.contains("set on the excursion since"), "{page}");
    assert!(page.contains("of 3 tasks are expected to be reached"), "{page}");
    // A page that was loaded before sends the name of the added work.
    saved(&app, "c", "done #T-3", "1:40").await;
    assert!(app.get(DAY).await.body.contains("done 1:40"));
}

#[sqlx::test]
async fn added_work_that_was_begun_has_a_row_in_the_debrief_until_it_has_a_result(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(&app.app, Kind::Task, &crate::small_record::task("T-4")).await;
    app.wait_until(FLOWN, "lead").await;
    press(&app, "e", "egress", &[]).await;
    app.wait_minutes(120);
    app.sign_in("lead").await;
    assert_eq!(press(&app, "a", "added T-3", &FOR_EV2).await.status, 200);
    assert_eq!(press(&app, "b", "added T-4", &FOR_EV2).await.status, 200);
    saved(&app, "c", "started #T-3", "0:50").await;
    saved(&app, "d", "done #T-3", "1:25").await;
    saved(&app, "f", "inside", "1:58").await;
    mark_flown(&app).await;

    let address = "/excursions/E-37.1/debrief";
    let page = app.get(address).await.body;
    let (_, row) = page.split_once("data-code=\"T-3\"").unwrap();
    let row = row.split("</fieldset>").next().unwrap();
    for said in [
        "not planned · filled from the board of the day, not saved yet",
        "value=\"0:50\"",
        "value=\"1:25\"",
        "value=\"added T-3\"",
    ] {
        assert!(row.contains(said), "{said}: {row}");
    }
    // What was added and never begun was promised to nobody.
    assert!(!page.contains("data-code=\"T-4\""), "{page}");
    let mut db = app.app.db.reader().await.unwrap();
    let debrief = app::debrief::read(&mut db, "E-37.1").await.unwrap();
    let words: Vec<String> = debrief.missing.iter().map(ToString::to_string).collect();
    assert!(words.iter().any(|words| words.contains("T-3 was added and begun")), "{words:?}");
    drop(db);

    // Sent as it stands, it is a result, and its row is that of the attempt.
    let fields = super::debrief::form_of(&page, address);
    let pairs: Vec<(&str, &str)> = fields.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    let reply = app.post(address, &pairs).await;
    assert!(reply.status == 303 || reply.status == 200, "{}", reply.body);
    let mut db = app.app.db.reader().await.unwrap();
    let all = store::attempts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    let own: Vec<_> = all.iter().filter(|attempt| attempt.task.as_str() == "T-3").collect();
    assert_eq!(own.len(), 1, "{all:?}");
    assert!(own[0].slot.is_none() && own[0].outcome.word() == "done");
    assert_eq!(own[0].seats.names(), "EV2");
    let debrief = app::debrief::read(&mut db, "E-37.1").await.unwrap();
    assert_eq!(debrief.rows.iter().filter(|row| row.task.as_str() == "T-3").count(), 1);
    assert!(!debrief.missing.iter().any(|missing| missing.to_string().contains("T-3")));
}

#[sqlx::test]
async fn a_get_ahead_for_two_seats_is_offered_where_both_are_free_and_worked_by_both(
    db: SqlitePool,
) {
    let app = begun(db).await;
    let task = crate::small_record::task("T-5").replace("seats: 1", "seats: 2");
    made(&app.app, Kind::Task, &task).await;
    let page = app.get(DAY).await.body;
    let (_, offers) = page.split_once("id=\"aheads\"").unwrap();
    let (_, row) =
        offers.split_once("<tr data-code=\"T-5\">").unwrap_or_else(|| panic!("{offers}"));
    let row = row.split("</tr>").next().unwrap();
    assert!(row.contains("name=\"seat\" value=\"EV1, EV2\""), "{row}");
    assert!(row.contains("EV1 and EV2"), "{row}");

    let alone = press(&app, "x", "added T-5", &FOR_EV2).await;
    assert_eq!(alone.status, 422, "{}", alone.body);
    assert!(alone.body.contains("T-5 needs 2 seats; it is added for EV2"), "{}", alone.body);
    let for_both = [("seat", "EV1, EV2"), FOR_EV2[1], FOR_EV2[2], FOR_EV2[3]];
    let reply = press(&app, "a", "added T-5", &for_both).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert!(reply.body.contains("T-5 added for EV1 and EV2"), "{}", reply.body);
    let page = app.get(DAY).await.body;
    assert!(seat(&page, "seat1").contains("T-5, with EV2"), "{page}");
    assert!(seat(&page, "seat2").contains("T-5, with EV1"), "{page}");
    assert!(page.contains("of 3 tasks are expected to be reached"), "{page}");
    // One block across both lanes.
    assert!(page.contains("data-task=\"T-5\" data-lanes=\"0 1\""), "{page}");

    // Begun by one of the two it is under way for both, and ends for both.
    saved(&app, "b", "started #T-5", "1:40").await;
    let page = app.get(DAY).await.body;
    for name in ["seat1", "seat2"] {
        let there = seat(&page, name);
        assert!(there.contains("since 1:40") && there.contains("value=\"done #T-5\""), "{there}");
    }
    saved(&app, "c", "done #T-5", "1:50").await;
    assert!(app.get(DAY).await.body.contains("done 1:50"));
}
