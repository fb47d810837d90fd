//! The manifest of a flight: what comes up with it, and what goes down.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::constraints::with_flown;
use crate::paper_words::{holds, part, rows, words_of};
use crate::small_record::made;
use crate::support::TestApp;

#[sqlx::test]
async fn the_manifest_down_says_what_returns_with_the_flight_and_how_it_comes_in(db: SqlitePool) {
    let app = with_flown(db, Role::Engineer).await;
    made(&app.app, Kind::Flight, "code: G-38 | launch: 2031-07-22 | state: coming").await;
    let tool = "code: L-7 | name: restraint | on_board: 2 | state: usable | mass: 6.5 | volume: 40";
    made(&app.app, Kind::Tool, tool).await;
    let out = "since: 2030-10-05 | state: in place";
    for (code, rest) in [
        ("O-1", format!("what: restraint | tool: L-7 | brought_back_by: T-1 | {out}")),
        ("O-2", format!("what: strap | returns_with: G-37 | {out}")),
        (
            "O-3",
            "what: bag | returns_with: G-37 | since: 2030-10-05 | state: brought in \
             | ended_on: 2030-10-09"
                .to_owned(),
        ),
        ("O-4", format!("what: drum | returns_with: G-38 | brought_back_by: T-2 | {out}")),
        ("O-5", "what: hook | returns_with: G-37 | since: 2030-10-05 | state: lost".to_owned()),
    ] {
        made(&app.app, Kind::OutsideItem, &format!("code: {code} | {rest}")).await;
    }
    let down = async |app: &TestApp, flight: &str| {
        let words = words_of(app, &format!("/flights/{flight}/requests")).await;
        part(&words, "Manifest, down", "Also down:").to_owned()
    };
    let first = down(&app, "G-37").await;
    for row in [
        "O-1 restraint 1 T-1 , E-37.1 set",
        "6.5 40.0",
        "O-2 strap 1 ▲ nobody G-37",
        "O-3 bag 1 is inside G-37",
    ] {
        holds(&first, row);
    }
    // Tools go down by their own record, so many at once; one on the outside list is that item.
    let tool = "name: torque key | on_board: 4 | state: usable | mass: 1.5 | returns_with: G-37";
    made(&app.app, Kind::Tool, &format!("code: L-8 | {tool} | going_down: 2")).await;
    app.get("/tools/L-7/edit").await;
    let saved = app.post("/tools/L-7/edit", &[("returns_with", "G-37")]).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
    let with_tools = down(&app, "G-37").await;
    holds(&with_tools, "L-8 torque key 2 is inside G-37 3.0");
    assert!(!with_tools.contains("L-7 restraint"), "{with_tools}");
    holds(&with_tools, "Together 9.5 kg, 40.0 l, as far as known.");
    app.get("/tools/L-8/edit").await;
    let none = app.post("/tools/L-8/edit", &[("going_down", "0")]).await;
    assert!(none.status == 422 && none.body.contains("takes down at least one"), "{}", none.body);
    assert!(app.get("/tools/L-8").await.body.contains("<dt>Returns with</dt>"));
    let file = rows(&app, "tools").await;
    let row = file.iter().find(|one| one["code"] == "L-8").unwrap();
    assert_eq!((&*row["returns_with"], &*row["going_down"]), ("G-37", "2"));
    // One that returns with another flight stands there; one that is lost returns with none.
    assert!(!first.contains("O-4") && !first.contains("O-5"), "{first}");
    holds(&down(&app, "G-38").await, "O-4 drum 1 T-2 , E-37.1 set G-38");

    // On its form, in its own page and in its file.
    app.get("/outside/O-1/edit").await;
    let saved = app.post("/outside/O-1/edit", &[("returns_with", "G-38")]).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
    let page = app.get("/outside/O-1").await.body;
    assert!(page.contains("<dt>Returns with</dt><dd>") && page.contains("/flights/G-38"), "{page}");
    let file = rows(&app, "outside").await;
    assert_eq!(file.iter().find(|one| one["code"] == "O-1").unwrap()["returns_with"], "G-38");
    assert!(!down(&app, "G-37").await.contains("O-1 "), "it returns with G-38 now");
}
