//! Tools over HTTP: how many are aboard, where the rest is, who is short of one.

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::{NOW, TestApp};

async fn demo_as(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.signed_in(role).await
}

/// The part of a page from an id to the end of its section.
fn part<'a>(page: &'a str, id: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("id=\"{id}\"")).unwrap_or_else(|| panic!("{page}"));
    rest.split("</section>").next().unwrap()
}

/// The cells of the row that begins so.
fn cells<'a>(part: &'a str, begins: &str) -> Vec<&'a str> {
    let (_, row) = part.split_once(begins).unwrap_or_else(|| panic!("{begins}: {part}"));
    let row = row.split("</tr>").next().unwrap();
    let each = row.split("<td").skip(1);
    each.map(|cell| cell.split_once('>').unwrap().1.split("</td>").next().unwrap()).collect()
}

#[sqlx::test]
async fn the_page_of_a_tool_makes_the_sum_and_says_where_each_is(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    // Two long pliers counted before G-36, one lost on E-36.1; worked out by hand.
    let pliers = app.get("/tools/L-009").await.body;
    let now = cells(part(&pliers, "count"), "<th scope=\"row\">Now</th>");
    assert_eq!(now[1..7], ["2", "0", "1", "0", "0", "0"], "{now:?}");
    assert_eq!(now[7], "<b>1</b>");
    let lost = part(&pliers, "where");
    assert!(lost.contains("1 lost on <a class=\"code\" href=\"/excursions/E-36.1\""), "{lost}");

    // One crank came in broken.
    let crank = app.get("/tools/L-016").await.body;
    assert!(part(&crank, "where").contains("1 came in broken on"), "{crank}");

    // The restraint outside stands on the list, and T-0115, set on E-38.2, brings it in.
    let restraint = app.get("/tools/L-021").await.body;
    let outside = part(&restraint, "where");
    assert!(outside.contains("/outside/O-01") && outside.contains("/worksites/W-RADP"));
    assert!(outside.contains("2031-07-29"), "{outside}");
    let sum = part(&restraint, "count");
    let after = |flight: &str| {
        let begins = format!("After <a class=\"code\" href=\"/flights/{flight}\">");
        cells(sum, &begins)[7].to_owned()
    };
    assert_eq!((after("G-37").as_str(), after("G-38").as_str()), ("<b>2</b>", "<b>3</b>"));

    // What comes with a flight is aboard after it.
    let list = app.get("/tools?q=sleeve").await.body;
    let sleeve = cells(&list, "<tr data-code=\"L-024\"");
    assert_eq!(sleeve[1..4], ["0", "2", "2"], "{sleeve:?}");
    let hands = part(&app.get("/tools/L-011").await.body, "where").to_owned();
    let gun = cells(&hands, "<tr data-code=\"S-0154\"");
    assert_eq!(gun[3], "EV2", "{gun:?}");
    assert!(gun[4].contains(" to "), "{gun:?}");
}

#[sqlx::test]
async fn a_debrief_that_loses_the_last_one_tells_who_is_short(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Tool, "code: L-2 | name: crank | on_board: 1 | counted_on: 2030-10-01"),
        (
            Kind::Technique,
            "code: K-2 | name: by crank | family: F-1 | state: cleared | sides: nadir | tools: L-2 \
             | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1",
        ),
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (
            Kind::Slot,
            "code: S-3 | task: T-3 | excursion: E-37.2 | technique: K-2 | side: nadir | seats: EV1 \
             | state: pencilled",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    let app = app.signed_in(Role::Engineer).await;
    let page = app.get("/tools/L-2").await.body;
    assert!(page.contains("No coming excursion is short of it."), "{page}");

    app.get("/excursion-tools/new").await;
    let typed = [
        ("excursion", "E-36.1"),
        ("tool", "L-2"),
        ("taken_out", "1"),
        ("brought_in", "1"),
        ("broken", "2"),
    ];
    let reply = app.post("/excursion-tools/new", &typed).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("no more than that can have come in broken"), "{}", reply.body);
    let mut right = typed;
    right[4].1 = "1";
    assert_eq!(app.post("/excursion-tools/new", &right).await.status, 303);

    let page = app.get("/tools/L-2").await.body;
    assert!(page.contains("0 aboard and usable."), "{page}");
    let short = cells(part(&page, "wanted"), "<tr data-code=\"E-37.2\"");
    assert_eq!((short[1], short[2]), ("1", "0"), "{short:?}");
    assert!(short[3].contains("1 short."), "{short:?}");
    assert!(app.get("/tools").await.body.contains("1 short on"));
    // The gate of the slot goes by the same count.
    let cell = app.get("/slots?cell=T-3:E-37.2").await.body;
    assert!(cell.contains("is not aboard, and no flight brings it."), "{cell}");

    // Counted anew, it is there again, from today on.
    app.get("/tools/L-2/edit").await;
    let counted = [("name", "crank"), ("on_board", "1"), ("counted_on", "2030-11-21")];
    assert_eq!(app.post("/tools/L-2/edit", &counted).await.status, 303);
    assert!(app.get("/tools/L-2").await.body.contains("1 aboard and usable."));
}

#[sqlx::test]
async fn two_lanes_that_want_the_last_one_are_named(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Tool, "code: L-2 | name: crank | on_board: 1"),
        (
            Kind::Technique,
            "code: K-2 | name: by crank | family: F-1 | state: cleared | sides: nadir | tools: L-2 \
             | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1",
        ),
        (Kind::Task, "code: T-4 | title: Another | family: F-1 | worksite: W-B | sides: nadir"),
        (
            Kind::Slot,
            "code: S-3 | task: T-3 | excursion: E-37.2 | technique: K-2 | side: nadir | seats: EV1 \
             | state: pencilled",
        ),
        (
            Kind::Slot,
            "code: S-4 | task: T-4 | excursion: E-37.2 | technique: K-2 | side: nadir | seats: EV2 \
             | state: pencilled",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    let app = app.signed_in(Role::Viewer).await;
    let page = app.get("/tools/L-2").await.body;
    let short = cells(part(&page, "wanted"), "<tr data-code=\"E-37.2\"");
    assert_eq!((short[1], short[2]), ("2", "1"), "{short:?}");
    let words = short[3].replace("<a class=\"code\" href=\"/slots/", "").replace("</a>", "");
    assert!(words.contains("need the last one at the same time"), "{words}");
    assert!(page.contains("Short of it: "), "{page}");
}

#[sqlx::test]
async fn a_new_count_holds_from_today_and_a_day_to_come_is_refused(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    app.get("/tools/new").await;
    let typed = [("name", "crank"), ("on_board", "2"), ("counted_on", "2031-01-01")];
    let reply = app.post("/tools/new", &typed).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("That day is still to come."), "{}", reply.body);
    let reply = app.post("/tools/new", &[("name", "crank"), ("on_board", "2")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.body;
    assert!(page.contains("2 on <time datetime=\"2030-11-21\">"), "{page}");
}
