//! What presses may say after others: nothing ends before it started, an undo names a press that is
//! there, nobody works once the crew is inside, and a time to turn back does not pass in silence.

use domain::words::Role;
use sqlx::SqlitePool;

use super::{DAY, begun, kept, press, saved};
use crate::debrief::mark_flown;
use crate::small_record::{FLOWN, lay};
use crate::support::TestApp;

#[sqlx::test]
async fn once_the_crew_is_inside_the_board_has_ended_and_leads_on(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    let early = press(&app, "i", "inside", &[("pet", "0:40")]).await;
    assert_eq!(early.status, 422, "{}", early.body);
    assert!(early.body.contains("T-1 started at PET 0:41"), "{}", early.body);
    assert!(early.body.contains("correct or undo that press first"), "{}", early.body);
    saved(&app, "i", "inside", "1:30").await;
    app.wait_minutes(50);

    let page = app.get(DAY).await.body;
    assert!(page.contains("the excursion has ended at PET 1:30"), "{page}");
    assert!(page.contains("<span data-day-pet>1:30</span>"), "PET stands: {page}");
    assert!(page.contains("href=\"/excursions/E-37.1\">Excursion</a>"), "{page}");
    for gone in ["expected to", "value=\"started", "limit in", "Best drop set", "Fits the wait"] {
        assert!(!page.contains(gone), "{gone}: {page}");
    }
    // T-1 was under way, T-2 was not begun.
    assert!(page.contains("How did T-1 end?") && page.contains("not reached: T-2"), "{page}");
    let late = press(&app, "d", "done S-1", &[("pet", "1:45")]).await;
    assert_eq!(late.status, 422, "{}", late.body);
    assert!(late.body.contains("The crew was inside at PET 1:30"), "{}", late.body);
    saved(&app, "d", "done S-1", "1:10").await;
    let told: serde_json::Value =
        serde_json::from_str(&app.get("/excursions/E-37.1/day/state").await.body).unwrap();
    assert_eq!(told["pet"].as_i64(), Some(90));

    // Undone, the day goes on.
    assert_eq!(press(&app, "u", "undo", &[("undoes", "i")]).await.status, 200);
    let page = app.get(DAY).await.body;
    assert!(page.contains("<span data-day-pet>2:40</span>"), "{page}");
    assert!(page.contains("value=\"started S-2\""), "{page}");
}

#[sqlx::test]
async fn the_board_of_an_excursion_that_is_flown_takes_no_press(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "lead").await;
    press(&app, "e", "egress", &[("egress_at", "2031-03-11 12:30")]).await;
    mark_flown(&app).await;
    app.wait_minutes(1);
    let reply = press(&app, "k", "started S-1", &[("pet", "0:41")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("Enter what else happened in its debrief"), "{}", reply.body);
    assert!(!app.get(DAY).await.body.contains("name=\"press\""));
    // Sent again, a press that was saved is no new one.
    assert_eq!(press(&app, "e", "egress", &[]).await.status, 200);
    assert_eq!(kept(&app).await, 1);
}

#[sqlx::test]
async fn an_end_before_its_start_is_refused_with_the_start(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "1:20").await;
    for what in ["done S-1", "not completed S-1", "dropped S-1"] {
        let reply = press(&app, "k2", what, &[("pet", "1:10")]).await;
        assert_eq!(reply.status, 422, "{}", reply.body);
        assert!(reply.body.contains("T-1 was started at PET 1:20"), "{}", reply.body);
        assert!(reply.body.contains("Correct the start first"), "{}", reply.body);
    }
    assert_eq!(kept(&app).await, 2);
    // Without scripts the page says the same, as a sentence.
    let fields = [("press", "done S-1"), ("pet", "1:10")];
    let page = app.post(DAY, &fields).await.body;
    assert!(page.contains(">T-1 was started at PET 1:20"), "{page}");
    assert!(!page.contains("Pet:") && !page.contains("PET of the press: T-1"), "{page}");
}

#[sqlx::test]
async fn an_undo_says_what_it_undoes_and_what_counts_then(db: SqlitePool) {
    let app = begun(db).await;
    let reply = press(&app, "u", "undo", &[("undoes", "nothing")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("is not on this board"), "{}", reply.body);
    saved(&app, "a", "started S-1", "0:41").await;
    saved(&app, "b", "started S-1", "0:42").await;
    saved(&app, "c", "started S-1", "0:43").await;
    // Replaced by a later one, and undone so that it does not come back.
    let reply = press(&app, "u1", "undo", &[("undoes", "a")]).await.body;
    assert!(reply.contains("Saved: undo of T-1 started at PET 0:41."), "{reply}");
    assert!(reply.contains("“T-1 started at PET 0:43” of engineer still counts"), "{reply}");
    let reply = press(&app, "u2", "undo", &[("undoes", "c")]).await.body;
    assert!(reply.contains("“T-1 started at PET 0:42” of engineer counts again"), "{reply}");
    let again = press(&app, "u3", "undo", &[("undoes", "c")]).await;
    assert_eq!(again.status, 409, "{}", again.body);
    assert!(again.body.contains("engineer has undone “T-1 started at PET 0:43” already"));
    assert_eq!(press(&app, "u4", "undo", &[("undoes", "u2")]).await.status, 409);
    let sent_again = press(&app, "u2", "undo", &[("undoes", "c")]).await;
    assert!(sent_again.body.contains("it counts once"), "{}", sent_again.body);
}

#[sqlx::test]
async fn a_time_to_turn_back_does_not_pass_in_silence(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    assert!(!app.get(DAY).await.body.contains("turn back at once"));
    // Of 7:00 the way home leaves 6:15 to 6:20.
    app.wait_minutes(275);
    app.sign_in("engineer").await;
    let page = app.get(DAY).await.body;
    let (_, lead) = page.split_once("class=\"lead\"").unwrap();
    let first = lead.split("</span>").next().unwrap();
    assert!(first.contains("EV1: turn back at once, 6:1"), "{first}");
    assert!(first.contains("has passed; flight control decides."), "{first}");
    let (_, seat) = page.split_once("aria-labelledby=\"seat1\"").unwrap();
    let (before, _) = seat.split_once("<dl").unwrap();
    assert!(before.contains("EV1: turn back at once"), "{before}");
    assert!(page.contains("<span class=\"late\">passed</span>"), "{page}");
}
