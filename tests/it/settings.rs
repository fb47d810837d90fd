//! The settings page: who may change what, and what the gates make of it.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

/// The small record with an excursion for crew of two codes, of which one has no rates.
async fn record(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    app
}

async fn administrator(app: &TestApp) -> TestApp {
    app.person("keeper", Role::Administrator).await;
    let keeper = app.another();
    keeper.sign_in("keeper").await;
    keeper
}

#[sqlx::test]
async fn supplies_cannot_be_told_until_rates_are_entered_or_accepted_by_name(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    made(&app.app, Kind::Worksite, "code: W-A | name: airlock | setup: 0 | cleanup: 0").await;
    made(&app.app, Kind::Flight, "code: G-37 | launch: 2031-03-10 | state: coming").await;
    made(
        &app.app,
        Kind::Excursion,
        "code: E-37.1 | flight: G-37 | number: 1 | day: 2031-03-11 | state: planned | limit: 7:00 \
         | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 | airlock: W-A | oxygen: 0.9 \
         | scrubber: 0.9 | water: 6 | battery: 9:00",
    )
    .await;
    made(
        &app.app,
        Kind::Task,
        "code: T-1 | title: Wipe the hatch | worksite: W-A | optimistic: 20 | likely: 30 \
         | pessimistic: 45 | seats: 1 | work_rate: light",
    )
    .await;
    let gate = "data-gate=\"suit-supplies\" data-verdict=\"";
    let verdict =
        |body: &str| body.split(gate).nth(1).unwrap().split('"').next().unwrap().to_owned();
    let cell = "/slots?cell=T-1:E-37.1";

    let before = app.get(cell).await.body;
    assert_eq!(verdict(&before), "cannot-tell");
    assert!(before.contains("href=\"/settings#suits\""), "{before}");
    let excursion = app.get("/excursions/E-37.1").await.body;
    assert!(excursion.contains("No rates hold for the suit of EV1"), "{excursion}");

    let page = app.get("/settings").await.body;
    assert!(page.contains("suit design rates, 2013") && page.contains("experiment 13587"));
    assert!(!page.contains("/settings/suits/accept"), "a lead is not offered what they may not do");
    assert_eq!(app.post("/settings/suits/accept", &[]).await.status, 403);

    let keeper = administrator(&app).await;
    assert!(keeper.get("/settings").await.body.contains("/settings/suits/accept"));
    let reply = keeper.post("/settings/suits/accept", &[]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/settings#suits"));
    let page = keeper.get("/settings").await.body;
    assert!(page.contains("data-code=\"SU-001\"") && !page.contains("/settings/suits/accept"));
    let again = keeper.post("/settings/suits/accept", &[]).await;
    assert_eq!(again.status, 409, "{}", again.body);
    assert!(again.body.contains("SU-001 holds the rates of every other seat already"));
    assert_eq!(verdict(&app.get(cell).await.body), "met");

    // A crew code of its own that uses up the scrubber.
    let heavy = "crew: C-2 | light: 600 | moderate: 700 | heavy: 800 | overhead: 800 \
        | quotient: 0.85 | leakage: 8 | external_work: 0 | electrics: 69 | environment: 0 \
        | water_heat: 2.45 | source: logs";
    made(&app.app, Kind::SuitRates, heavy).await;
    made(
        &app.app,
        Kind::Slot,
        "task: T-1 | excursion: E-37.1 | seats: EV2 | state: pencilled | technique: ",
    )
    .await;
    let excursion = app.get("/excursions/E-37.1").await.body;
    assert!(excursion.contains("First to run out: scrubber of EV2"), "{excursion}");
}

#[sqlx::test]
async fn a_bound_that_was_changed_turns_the_gates_that_rest_on_it(db: SqlitePool) {
    let app = record(db).await;
    let keeper = administrator(&app).await;
    let verdict = "data-gate=\"suit-supplies\" data-verdict=\"tight\"";
    let cell = "/slots?cell=T-3:E-37.2";
    assert!(!app.get(cell).await.body.contains(verdict));

    for (field, text, says) in [
        ("tight_from", "90", "must be tight from less than that"),
        ("tight_from", "101", "write a whole number from 0 to 100"),
        ("near_critical_beta", "45", "lies outside 0 to 30 °"),
        ("rehearsal_days", "0", "from 1 to 3650"),
    ] {
        keeper.get("/settings/TEAM/edit").await;
        let reply = keeper.post("/settings/TEAM/edit", &[(field, text)]).await;
        assert_eq!(reply.status, 422, "{field} {text}");
        assert!(reply.body.contains(says), "{field} {text}: {}", reply.body);
    }
    keeper.get("/settings/new").await;
    let other = keeper.post("/settings/new", &[("code", "MINE")]).await;
    assert!(other.body.contains("There is one record of settings, TEAM"), "{}", other.body);

    keeper.get("/settings/TEAM/edit").await;
    let reply =
        keeper.post("/settings/TEAM/edit", &[("supply_reserve", "8:00"), ("why", "")]).await;
    assert_eq!(reply.status, 422, "a figure of safety has a source");
    let source = ("why", "Flight rules of the team, section 4, 2030");
    let reply = keeper.post("/settings/TEAM/edit", &[("supply_reserve", "8:00"), source]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(app.get(cell).await.body.contains(verdict));
    assert!(app.get("/settings").await.body.contains("A reserve of 480 min"));
    assert!(app.get("/changes").await.body.contains("/settings/TEAM"));
    assert_eq!(app.get("/settings/TEAM/edit").await.status, 403);
}

#[sqlx::test]
async fn a_default_that_matters_to_safety_is_said_until_the_team_accepts_it(db: SqlitePool) {
    let app = record(db).await;
    let keeper = administrator(&app).await;
    keeper.get("/settings/TEAM/edit").await;
    let nothing = ["tight_from", "met_from", "supply_reserve", "why"].map(|field| (field, ""));
    assert_eq!(keeper.post("/settings/TEAM/edit", &nothing).await.status, 303);
    let cell = "/slots?cell=T-3:E-37.2";
    let before = app.get(cell).await.body;
    // Rates are entered, the reserve is not accepted: the supplies are unknown.
    assert!(
        before.contains("data-gate=\"suit-supplies\" data-verdict=\"cannot-tell\""),
        "{before}"
    );
    assert!(before.contains("The reserve of 30 min of every suit supply is a default"), "{before}");
    assert!(
        before.contains("Tight from 50 %, met from 80 %: defaults without a source"),
        "{before}"
    );
    assert!(before.contains("href=\"/settings#bounds\""), "{before}");
    let page = app.get("/settings").await.body;
    assert_eq!(
        page.matches("default, no source").count(),
        5,
        "three figures, the words above them, the leakage: {page}"
    );
    assert!(!page.contains("/settings/figures/accept"), "a lead is not offered it");
    let refused = app.post("/settings/figures/accept", &[("figure", "met_from")]).await;
    assert_eq!(refused.status, 403);

    for figure in ["supply_reserve", "tight_from", "met_from"] {
        keeper.get("/settings").await;
        let reply = keeper.post("/settings/figures/accept", &[("figure", figure)]).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
    }
    keeper.get("/settings").await;
    let other = keeper.post("/settings/figures/accept", &[("figure", "slow_by")]).await;
    assert_eq!(other.status, 409, "{}", other.body);
    let page = keeper.get("/settings").await.body;
    assert_eq!(
        page.matches("entered by keeper, 2030-11-21").count(),
        4,
        "one of them the suit's: {page}"
    );
    assert!(page.contains("Reserve of every suit supply, min: the default is accepted."), "{page}");
    let after = app.get(cell).await.body;
    assert!(after.contains("data-gate=\"suit-supplies\" data-verdict=\"met\""), "{after}");
    assert!(!after.contains("defaults without a source"), "{after}");
}
