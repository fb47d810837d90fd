//! Times of presses: none from the future, none from long ago, and a clock that is set back loses no
//! correction.

use sqlx::SqlitePool;

use super::{DAY, begun, kept, press, saved};

#[sqlx::test]
async fn a_clock_that_is_set_back_keeps_the_minutes(db: SqlitePool) {
    let app = begun(db).await;
    app.wait_minutes(60);
    saved(&app, "k1", "started S-1", "2:49").await;
    app.app.clock.advance_minutes(-40);
    let page = app.get(DAY).await;
    assert!(page.body.contains("<span data-day-pet>2:49</span>"), "{}", page.body);
    assert!(page.body.contains("data-last=\"169\""), "the script holds to it too: {}", page.body);
}

#[sqlx::test]
async fn a_correction_after_a_set_back_counts(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "1:40").await;
    app.app.clock.advance_minutes(-40);
    // From a page without scripts, and from one whose clock is still that of before.
    saved(&app, "k2", "started S-1", "1:38").await;
    assert!(app.get(DAY).await.body.contains("since 1:38"));
    let ahead = (app.app.clock.now().0 + 40 * 60_000).to_string();
    let fields = [("pet", "1:36"), ("pressed_at", ahead.as_str())];
    let reply = press(&app, "a3", "started S-1", &fields).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert!(app.get(DAY).await.body.contains("since 1:36"));
    saved(&app, "a4", "started S-1", "1:35").await;
    assert!(app.get(DAY).await.body.contains("since 1:35"));
}

#[sqlx::test]
async fn a_press_of_a_page_whose_clock_is_fast_does_not_beat_the_correction_after_it(
    db: SqlitePool,
) {
    let app = begun(db).await;
    let ahead = (app.app.clock.now().0 + 3 * 60_000).to_string();
    let fields = [("pet", "1:40"), ("pressed_at", ahead.as_str())];
    press(&app, "z", "started S-1", &fields).await;
    saved(&app, "a", "started S-1", "1:38").await;
    assert!(app.get(DAY).await.body.contains("since 1:38"));
}

#[sqlx::test]
async fn a_press_from_long_ago_is_refused_in_words(db: SqlitePool) {
    let app = begun(db).await;
    let now = app.app.clock.now().0;
    let day = 24 * 60 * 60_000;
    for at in [i64::MIN, 0, now - day - 1] {
        let at = at.to_string();
        let reply = press(&app, "k", "started S-1", &[("pet", "1:40"), ("pressed_at", &at)]).await;
        assert_eq!(reply.status, 422, "{at}: {}", reply.body);
        assert!(reply.body.contains("more than a day ago"), "{at}: {}", reply.body);
    }
    assert_eq!(kept(&app).await, 1);
    let at = (now - day / 12).to_string();
    let reply = press(&app, "k", "started S-1", &[("pet", "0:20"), ("pressed_at", &at)]).await;
    assert_eq!(reply.status, 422, "two hours ago the clock stood at 0:00: {}", reply.body);
    let reply = press(&app, "k", "started S-1", &[("pet", "0:01"), ("pressed_at", &at)]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    let at = i64::MAX.to_string();
    let reply = press(&app, "l", "started S-1", &[("pressed_at", &at)]).await;
    assert_eq!(reply.status, 200, "it is pressed now: {}", reply.body);
}

#[sqlx::test]
async fn a_pet_that_has_not_come_yet_is_refused_in_words(db: SqlitePool) {
    let app = begun(db).await;
    let reply = press(&app, "k", "started S-1", &[("pet", "10:42")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("PET 10:42 has not come yet: the clock is at 1:50"));
    let reply = press(&app, "k", "inside", &[("pet", "1:53")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert_eq!(kept(&app).await, 1);
    // Clocks differ by a minute or two.
    saved(&app, "k", "started S-1", "1:52").await;
    // Before the clock runs nothing has a PET.
    press(&app, "u", "undo", &[("undoes", "e1")]).await;
    let reply = press(&app, "m", "started S-2", &[("pet", "1:40")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
}

#[sqlx::test]
async fn the_state_tells_a_page_that_slept_what_time_it_is(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "1:41").await;
    let told = app.get("/excursions/E-37.1/day/state").await.body;
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!(told["now"], app.app.clock.now().0);
    assert_eq!((told["last"].as_i64(), told["pet"].as_i64()), (Some(101), Some(110)));
}
