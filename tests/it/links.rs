//! Links between tasks over HTTP: chains, rings refused by name, what each kind does.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made, standing_of};
use crate::support::TestApp;

/// The small record with T-4 and T-5: T-5 needs T-4, T-4 needs T-3; T-1 and T-2 are set.
async fn chained(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Task, "code: T-4 | title: Fit the sleeve | class: 2"),
        (Kind::Task, "code: T-5 | title: Fill the line | class: 1"),
        (Kind::Link, "code: J-1 | task: T-5 | kind: needs | other: T-4"),
        (Kind::Link, "code: J-2 | task: T-4 | kind: needs | other: T-3 | words: it lies beneath"),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

/// The part of a page from one mark to another.
fn part<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    let (_, rest) = page.split_once(from).unwrap_or_else(|| panic!("{from} is not there: {page}"));
    rest.split(to).next().unwrap()
}

#[sqlx::test]
async fn a_chain_names_the_first_unfinished_cause_and_what_waits(db: SqlitePool) {
    let app = chained(db).await;
    let page = app.get("/tasks/T-5").await.body;
    let links = part(&page, "id=\"links\"", "</section>");
    let sentence = part(links, "<p class=\"prose\">", "</p>");
    assert!(sentence.contains("Waits for T-3, open, on no excursion."), "{sentence}");
    let drawn = part(links, "<svg width", "</svg>");
    for told in ["T-5 needs T-4. ", ">T-3</text>", ">on no excursion</text>"] {
        assert!(drawn.contains(told), "{told}: {drawn}");
    }
    let list = part(links, "Comes before T-5", "</details>");
    assert!(list.contains("data-code=\"T-4\"") && list.contains("data-code=\"T-3\""), "{list}");
    assert_eq!(list.matches("<ul").count(), list.matches("</ul>").count(), "{list}");
    assert_eq!(list.matches("<li").count(), list.matches("</li>").count(), "{list}");

    let page = app.get("/tasks/T-3").await.body;
    let sentence = part(part(&page, "id=\"links\"", "</section>"), "<p class=\"prose\">", "</p>");
    assert!(sentence.contains("It waits for no other task. 2 tasks wait for it"), "{sentence}");
    // Weights 100 and 55 of classes 1 and 2.
    let all = app.get("/links").await.body;
    let row = part(&all, "<tr data-code=\"T-3\"", "</tr>");
    assert!(row.contains("<td class=\"num\">2</td><td class=\"num\">155</td>"), "{row}");
    assert!(!part(&all, "id=\"holds-up\"", "</section>").contains("<tr data-code=\"T-4\""));
    assert!(part(&all, "id=\"all\"", "</section>").contains("it lies beneath"));
}

#[sqlx::test]
async fn a_link_that_would_close_a_ring_is_refused_naming_the_whole_ring(db: SqlitePool) {
    let app = chained(db).await;
    for (kind, other) in [("needs", "T-5"), ("undoes", "T-5"), ("continues", "T-4")] {
        app.get("/links/new").await;
        let fields = [("task", "T-3"), ("kind", kind), ("other", other)];
        let refused = app.post("/links/new", &fields).await;
        assert_eq!(refused.status, 422, "{}", refused.body);
        let ring = if other == "T-5" {
            format!("T-3 {kind} T-5, T-5 needs T-4, T-4 needs T-3")
        } else {
            format!("T-3 {kind} T-4, T-4 needs T-3")
        };
        assert!(refused.body.contains(&ring), "{ring}: {}", refused.body);
        assert!(refused.body.contains("value=\"T-3\""), "what was typed stands");
    }
    // From a file too, with its line; a link both ways alike makes no ring.
    let table = "task,kind,other\nT-3,needs,T-5\n";
    let actor = app::Actor { name: "lead".into(), role: Role::Lead };
    let request = app::import::Request {
        kind: Kind::Link,
        table: app::import::Given::Bytes(table.as_bytes()),
        options: app::import::Options::default(),
    };
    let report = app::import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
    assert_eq!((report.bad_rows, report.committed), (1, false));
    assert!(report.bad[0].reason.contains("T-3 needs T-5, T-5 needs T-4"), "{:?}", report.bad);
    made(&app.app, Kind::Link, "task: T-3 | kind: same visit as | other: T-5").await;
}

#[sqlx::test]
async fn what_was_made_permanent_is_left_to_close_and_its_hardware_to_bring_in(db: SqlitePool) {
    let app = chained(db).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (Kind::Task, "code: T-6 | title: Patch the elbow"),
        (Kind::Task, "code: T-7 | title: Sleeve on the elbow"),
        (
            Kind::Attempt,
            "code: A-1 | task: T-6 | excursion: E-36.1 | outcome: part done | share: 60 \
             | cause: 17 | minutes: 30 | words: half of it",
        ),
        (Kind::OutsideItem, "code: O-1 | what: half shell | left_by: A-1"),
        (Kind::Link, "code: J-6 | task: T-7 | kind: makes permanent | other: T-6"),
    ] {
        made(&app.app, kind, text).await;
    }
    let page = app.get("/tasks/T-7").await.body;
    assert!(page.contains("the temporary fix of"), "{page}");
    assert!(!page.contains("Close T-6"), "{page}");
    let done = "task: T-7 | kind: done by the arm | words: the arm slid it on";
    made(&app.app, Kind::Closure, done).await;

    for address in ["/tasks/T-7", "/tasks/T-6", "/links"] {
        let page = app.get(address).await.body;
        assert!(page.contains(">Close T-6</a>"), "{address}: {page}");
        assert!(page.contains("half shell, was left by T-6"), "{address}: {page}");
        assert!(page.contains(">Say who brings O-1 in</a>"), "{address}: {page}");
    }
    let viewer = app.another().signed_in(Role::Viewer).await;
    assert!(!viewer.get("/links").await.body.contains("Close T-6"));
    app.get("/closures/new?task=T-6&kind=moot&words=made+permanent").await;
    let fields = [("task", "T-6"), ("kind", "moot"), ("words", "made permanent")];
    assert_eq!(app.post("/closures/new", &fields).await.status, 303);
    assert!(!app.get("/links").await.body.contains("Close T-6"));
}

#[sqlx::test]
async fn what_undoes_comes_after_and_a_contingency_waits_for_its_trigger(db: SqlitePool) {
    let app = chained(db).await;
    made(&app.app, Kind::Link, "task: T-1 | kind: undoes | other: T-3").await;
    // T-1 is set before T-3 is, so its order of work does not hold any more.
    let page = app.get("/slots?cell=T-1:E-37.2").await.body;
    let gate = part(&page, "data-gate=\"order-of-work\"", "</li>");
    assert!(gate.contains("not-met") || gate.contains("not met"), "{gate}");
    let page = app.get("/tasks/T-1").await.body;
    assert!(page.contains("until then there is nothing to undo"), "{page}");

    made(&app.app, Kind::Task, "code: T-8 | title: Cut it off | class: 1").await;
    made(&app.app, Kind::Link, "task: T-8 | kind: only if | other: T-3").await;
    assert!(!standing_of(&app.app, "T-8").await.2, "it is kept out of the backlog");
    let page = app.get("/tasks/T-8").await.body;
    assert!(page.contains("It waits for its condition."), "{page}");
    let fired = app.post("/tasks/T-8/condition-met", &[("why", "the bolt sheared")]).await;
    assert_eq!(fired.status, 303, "{}", fired.body);
    assert!(standing_of(&app.app, "T-8").await.2);
    assert!(app.get("/tasks/T-8").await.body.contains("It waits for no other task."));
}
