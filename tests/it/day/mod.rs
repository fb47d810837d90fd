//! The day of an excursion over HTTP: presses count once in whatever order they arrive, practice
//! leaves nothing, and the debrief begins with what was pressed.

use domain::words::Role;
use sqlx::SqlitePool;

use crate::debrief::mark_flown;
use crate::small_record::{FLOWN, lay};
use crate::support::{Reply, TestApp};

mod added;
mod after;
mod card;
mod clock;
mod debrief;
mod replayed;
mod windows;

const DAY: &str = "/excursions/E-37.1/day";
const PRESS: &str = "/excursions/E-37.1/day/press";

/// The small record, months before E-37.1.
async fn months_before(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    app
}

/// The same on the day on which E-37.1 is planned.
async fn engineer(db: SqlitePool) -> TestApp {
    let app = months_before(db).await;
    app.wait_until(FLOWN, "engineer").await;
    app
}

/// A press as the script sends it.
async fn press(app: &TestApp, key: &str, what: &str, more: &[(&str, &str)]) -> Reply {
    app.get(DAY).await;
    let mut fields = vec![("key", key), ("press", what)];
    fields.extend_from_slice(more);
    app.post(PRESS, &fields).await
}

async fn saved(app: &TestApp, key: &str, what: &str, pet: &str) {
    let reply = press(app, key, what, &[("pet", pet)]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
}

/// The clock has run for 1:50.
async fn begun(db: SqlitePool) -> TestApp {
    let app = engineer(db).await;
    let reply = press(&app, "e1", "egress", &[("egress_at", "2031-03-11 12:30")]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    app
}

async fn kept(app: &TestApp) -> usize {
    let mut db = app.app.db.reader().await.unwrap();
    store::day::presses(&mut db, &"E-37.1".into(), None).await.unwrap().len()
}

#[sqlx::test]
async fn the_board_asks_for_egress_and_then_shows_each_seat(db: SqlitePool) {
    let app = engineer(db).await;
    let page = app.get(DAY).await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("Egress has begun"), "{}", page.body);
    assert!(page.body.contains("Flight control decides"), "the caution stands on the board");
    assert!(!page.body.contains("value=\"started S-1\""), "no press before the clock runs");

    // Without scripts the button is a form.
    let reply = app.post(DAY, &[("press", "egress"), ("egress_at", "2031-03-11 13:20")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(DAY).await;
    assert!(page.body.contains("<span data-day-pet>1:00</span>"), "{}", page.body);
    for said in ["value=\"started S-1\"", "Remaining tasks", "Turn back by", "Best drop set now"] {
        assert!(page.body.contains(said), "{said} is missing in {}", page.body);
    }
}

#[sqlx::test]
async fn the_lanes_of_the_board_show_what_the_excursions_lanes_show(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    let drawing = |page: &str| {
        let (_, drawn) = page.split_once("<svg class=\"lane-drawing\"").unwrap();
        drawn.split("</svg>").next().unwrap().to_owned()
    };
    let board = drawing(&app.get(DAY).await.body);
    let plan = drawing(&app.get("/excursions/E-37.1").await.body);
    for sign in ["class=\"setup\"", "class=\"go\"", ">to W-B<", ">egress<", ">ingress<"] {
        assert!(plan.contains(sign), "{sign}: {plan}");
        assert!(board.contains(sign), "{sign}: {board}");
    }
    assert!(board.contains("class=\"done-block\"") && board.contains(">now 1:50<"), "{board}");
    assert!(board.contains(">69 min so far<"), "{board}");
    assert!(!board.contains("href="), "no target smaller than a thumb: {board}");
}

#[sqlx::test]
async fn the_clock_is_started_on_the_day_and_no_other(db: SqlitePool) {
    let app = months_before(db).await;
    let page = app.get(DAY).await.body;
    assert!(page.contains("E-37.1 is dated 2031-03-11. Its clock can be started from 2031-03-10"));
    assert!(page.contains("Rehearse, 60 times faster"), "practice is offered instead: {page}");
    assert!(!page.contains("value=\"egress\""), "{page}");
    let early = press(&app, "e", "egress", &[]).await;
    assert_eq!(early.status, 409, "{}", early.body);
    assert!(early.body.contains("Rehearse the day instead"), "{}", early.body);
    assert_eq!(kept(&app).await, 0);

    // A day early or late is a matter of time zones.
    app.wait_until("2031-03-10T23:50:00Z", "engineer").await;
    assert!(app.get(DAY).await.body.contains("value=\"egress\""));
    app.wait_until("2031-03-13T00:10:00Z", "engineer").await;
    assert!(app.get(DAY).await.body.contains("Its clock can be started from"));
}

#[sqlx::test]
async fn the_clock_of_a_flown_or_called_off_excursion_is_not_started(db: SqlitePool) {
    use app::work::Work;
    use app::{Actor, excursions};
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "lead").await;
    let actor = Actor { name: "lead".into(), role: Role::Lead };
    mark_flown(&app).await;
    let page = app.get(DAY).await.body;
    assert!(page.contains("E-37.1 is flown. Its clock is not started any more"), "{page}");
    assert!(!page.contains("value=\"egress\"") && !page.contains("Rehearse,"), "{page}");
    let reply = press(&app, "e", "egress", &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);

    let other = "/excursions/E-37.2/day";
    app.wait_until("2031-03-12T14:20:00Z", "lead").await;
    assert!(app.get(other).await.body.contains("value=\"egress\""));
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    excursions::call_off(&mut work, "E-37.2", "weather on the ground").await.unwrap();
    work.finish("").await.unwrap();
    let page = app.get(other).await.body;
    assert!(page.contains("E-37.2 is called off. Its clock is not started"), "{page}");
    assert!(!page.contains("value=\"egress\""), "{page}");
}

#[sqlx::test]
async fn presses_that_waited_ten_minutes_count_after_the_excursion_is_flown(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "lead").await;
    press(&app, "e", "egress", &[]).await;
    app.wait_minutes(90);
    app.sign_in("lead").await;
    let now = app.app.clock.now().0;
    mark_flown(&app).await;
    // The server was away for ten minutes; the page held these back, with their times.
    let at = |ago: i64| (now - ago * 60_000).to_string();
    for (key, what, pet, ago) in [
        ("a", "started S-1", "1:20", 10),
        ("b", "done S-1", "1:26", 4),
        ("c", "started S-2", "1:28", 2),
    ] {
        let reply = press(&app, key, what, &[("pet", pet), ("pressed_at", &at(ago))]).await;
        assert_eq!(reply.status, 200, "{}", reply.body);
    }
    assert_eq!(kept(&app).await, 4);
    let mut db = app.app.db.reader().await.unwrap();
    let presses = store::day::presses(&mut db, &"E-37.1".into(), None).await.unwrap();
    let times: Vec<i64> =
        presses.iter().skip(1).map(|one| (now + 30_000 - one.pressed_at.0) / 60_000).collect();
    assert_eq!(times, [10, 4, 2], "each keeps the time at which it was pressed");
}

#[sqlx::test]
async fn a_press_counts_once_and_can_be_undone(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    let again = press(&app, "k1", "started S-1", &[("pet", "0:41")]).await;
    assert!(again.body.contains("saved before; it counts once"), "{}", again.body);
    assert_eq!(kept(&app).await, 2);
    let page = app.get(DAY).await;
    assert!(page.body.contains("since 0:41"), "{}", page.body);
    assert!(page.body.contains("value=\"done S-1\""), "{}", page.body);

    saved(&app, "k2", "done S-1", "1:20").await;
    let page = app.get(DAY).await;
    assert!(page.body.contains("done 1:20") && !page.body.contains("value=\"done S-1\""));
    let reply = press(&app, "k3", "undo", &[("undoes", "k2")]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    let page = app.get(DAY).await;
    assert!(page.body.contains("value=\"done S-1\""), "it is under way again");
    assert!(page.body.contains("<td>undone</td>"));
}

#[sqlx::test]
async fn presses_that_waited_take_their_place(db: SqlitePool) {
    let app = begun(db).await;
    app.wait_minutes(90);
    app.sign_in("engineer").await;
    let now = app.app.clock.now().0;
    let at = |minutes: i64| (now - minutes * 60_000).to_string();
    // The end arrives before the start, both late, and the start twice.
    let end = at(5);
    press(&app, "b", "done S-1", &[("pet", "1:20"), ("pressed_at", &end)]).await;
    let start = at(45);
    for _ in 0..2 {
        press(&app, "a", "started S-1", &[("pet", "0:41"), ("pressed_at", &start)]).await;
    }
    assert_eq!(kept(&app).await, 3);
    let page = app.get(DAY).await;
    assert!(page.body.contains("done 1:20"), "{}", page.body);
    // Pressed before the start was saved, and for a minute before it: the start stays.
    let early = at(3);
    let start = press(&app, "c", "started S-2", &[("pet", "1:25")]).await;
    assert!(start.body.contains("Saved: T-2 started at PET 1:25."), "{}", start.body);
    let end = press(&app, "d", "done S-2", &[("pet", "1:10"), ("pressed_at", &early)]).await;
    assert_eq!(end.status, 200, "{}", end.body);
    assert!(end.body.contains("the start stays"), "{}", end.body);
    let page = app.get(DAY).await;
    assert!(page.body.contains("its time is before the start"), "{}", page.body);
}

#[sqlx::test]
async fn what_cannot_be_is_refused_in_words(db: SqlitePool) {
    let app = engineer(db).await;
    let early = press(&app, "k", "started S-1", &[]).await;
    assert_eq!(early.status, 409, "{}", early.body);
    assert!(early.body.contains("egress has begun"), "{}", early.body);
    press(&app, "e", "egress", &[]).await;
    for (what, pet, status, said) in [
        ("started S-77", "0:41", 422, "not set on E-37.1"),
        ("started S-1", "0:99", 422, "not a time"),
        ("started S-1", "31:00", 422, "at most 24:00"),
        ("undo", "", 422, "Choose the press"),
        ("jumped S-1", "0:41", 422, "Choose what was pressed"),
    ] {
        let reply = press(&app, "x", what, &[("pet", pet)]).await;
        assert_eq!(reply.status, status, "{what}: {}", reply.body);
        assert!(reply.body.contains(said), "{what}: {}", reply.body);
    }
    assert_eq!(kept(&app).await, 1);
}

#[sqlx::test]
async fn a_viewer_reads_and_presses_nothing(db: SqlitePool) {
    let app = begun(db).await;
    let viewer = app.another().signed_in(Role::Viewer).await;
    let page = viewer.get(DAY).await;
    assert_eq!(page.status, 200);
    assert!(!page.body.contains("data-press"), "{}", page.body);
    let reply = viewer.post(PRESS, &[("key", "v"), ("press", "started S-1")]).await;
    assert_eq!(reply.status, 403, "{}", reply.body);
    let reply = viewer.post("/excursions/E-37.1/practice", &[("pace", "60")]).await;
    assert_eq!(reply.status, 403);
    assert_eq!(kept(&app).await, 1);
}

#[sqlx::test]
async fn two_browsers_that_press_at_once_lose_nothing(db: SqlitePool) {
    let app = begun(db).await;
    app.wait_minutes(200);
    app.sign_in("engineer").await;
    let other = app.another();
    other.sign_in("engineer").await;
    app.get(DAY).await;
    other.get(DAY).await;
    let both: Vec<_> = (0..20)
        .map(|at| {
            let from = if at % 2 == 0 { &app } else { &other };
            let (key, pet) = (format!("w{at}"), format!("1:{:02}", at + 10));
            async move {
                let fields = [("key", key.as_str()), ("press", "started S-1"), ("pet", &pet)];
                from.post(PRESS, &fields).await.status
            }
        })
        .collect();
    let all = futures_util::future::join_all(both).await;
    assert!(all.iter().all(|status| *status == 200), "{all:?}");
    assert_eq!(kept(&app).await, 21);
    let page = app.get(DAY).await.body;
    // One start counts, the last that was saved; nineteen are replaced.
    assert_eq!(page.matches("<td>replaced by a later press</td>").count(), 19, "{page}");
    let now = |seat: &str| {
        let (_, rest) = page.split_once(&format!("aria-labelledby=\"{seat}\"")).unwrap();
        let (_, rest) = rest.split_once("class=\"now-task\"").unwrap();
        rest.split("</dl>").next().unwrap().to_owned()
    };
    assert!(now("seat1").contains(">T-1</a>"), "{}", now("seat1"));
    assert!(now("seat2").contains("On the way"), "{}", now("seat2"));
    let mut db = app.app.db.reader().await.unwrap();
    let presses = store::day::presses(&mut db, &"E-37.1".into(), None).await.unwrap();
    let last = presses.iter().max_by_key(|press| press.number).unwrap().pet.unwrap();
    assert!(now("seat1").contains(&format!("since {last}")), "{last}: {}", now("seat1"));
}

#[sqlx::test]
async fn a_seat_that_left_a_task_for_another_is_asked_how_it_ended(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app.wait_until(FLOWN, "lead").await;
    press(&app, "e1", "egress", &[("egress_at", "2031-03-11 12:30")]).await;
    app.get("/excursions/E-37.1").await;
    let both = [("seats", "EV1, EV2"), ("before", "")];
    assert_eq!(app.post("/excursions/E-37.1/slots/S-2/place", &both).await.status, 303);
    let page = app.get(DAY).await.body;
    assert!(page.contains("EV1 begins another task first"), "{page}");
    saved(&app, "a", "started S-1", "0:41").await;
    let page = app.get(DAY).await.body;
    assert!(!page.contains("How did") && page.contains("Waiting for EV1"), "{page}");
    // EV2 begins the task of both, and EV1 with it.
    saved(&app, "b", "started S-2", "1:20").await;
    let page = app.get(DAY).await.body;
    assert!(page.contains("How did T-1 end? PET"), "{page}");
    saved(&app, "c", "not completed S-1", "1:18").await;
    let page = app.get(DAY).await.body;
    assert!(!page.contains("How did") && page.contains("not completed 1:18"), "{page}");
}

#[sqlx::test]
async fn a_second_egress_moves_the_clock_and_no_press(db: SqlitePool) {
    let app = begun(db).await;
    saved(&app, "k1", "started S-1", "0:41").await;
    let reply = press(&app, "e2", "egress", &[("egress_at", "2031-03-11 12:50")]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    let page = app.get(DAY).await.body;
    assert!(page.contains("<span data-day-pet>1:30</span>"), "{page}");
    assert!(page.contains("Egress 2031-03-11 12:50 UTC") && page.contains("since 0:41"), "{page}");
    press(&app, "u", "undo", &[("undoes", "e2")]).await;
    assert!(app.get(DAY).await.body.contains("<span data-day-pet>1:50</span>"));
}

#[sqlx::test]
async fn the_figures_of_the_board_are_those_of_a_calculation_by_hand(db: SqlitePool) {
    let app = begun(db).await;
    // EV1 works at W-B since 0:41, EV2 has ended there at 1:20 and has nothing more to do.
    saved(&app, "a", "started S-1", "0:41").await;
    saved(&app, "b", "started S-2", "0:41").await;
    saved(&app, "c", "done S-2", "1:20").await;
    let page = app.get(DAY).await.body;
    let section = |id: &str| {
        let (_, rest) = page.split_once(&format!("id=\"{id}\"")).unwrap();
        rest.split("</table>").next().unwrap().to_owned()
    };
    // By hand: 5 min of cleanup, 6 of travel and 28 of ingress are 39 at the mean. Of 7:00 that
    // leaves 6:21; at P80, with deviations of 10 to 15 % of each, some three minutes less.
    let turn = section("turn-back");
    for seat in ["EV1", "EV2"] {
        let (_, row) = turn.split_once(&format!("<b>{seat}</b>")).unwrap();
        let by = row.split("data-label=\"By PET\"><b>").nth(1).unwrap().split('<').next().unwrap();
        assert!(("6:15"..="6:20").contains(&by), "{seat} {by}");
        assert!(row.contains("0:05 + 0:06 + 0:28"), "{row}");
    }
    // The task under way ends far inside the limit and is begun: reached for sure.
    assert!(page.contains("2.0 of 2 tasks are expected to be reached"), "{page}");
    assert!(page.contains("the chance to end inside the limit is over 99 %"), "{page}");
    assert!(section("windows").contains("No remaining task needs a window"));
    // By hand: 9 hours of battery from 0:00 last until 9:00.
    let supplies = section("supplies");
    let (_, battery) = supplies.split_once("attery").unwrap();
    assert!(battery.contains("9:00"), "{battery}");
}
