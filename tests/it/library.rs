//! The library over HTTP: lists, searches, and what an entry says of the record.

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::{NOW, TestApp};

/// The table row of an entry.
fn row<'a>(page: &'a str, code: &str) -> &'a str {
    let (_, rest) = page
        .split_once(&format!("<tr data-code=\"{code}\""))
        .unwrap_or_else(|| panic!("{code} stands in no row: {page}"));
    rest.split("</tr>").next().unwrap()
}

#[sqlx::test]
async fn every_shelf_lists_its_entries_and_each_entry_opens(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;

    for shelf in ["worksites", "techniques", "tools", "families"] {
        let list = app.get(&format!("/{shelf}")).await;
        assert_eq!(list.status, 200, "{}", list.body);
        assert!(!list.body.contains(&format!("/{shelf}/new")), "a viewer makes none");
        let codes: Vec<&str> = list
            .body
            .split("<tr data-code=\"")
            .skip(1)
            .filter_map(|rest| rest.split('"').next())
            .filter(|code| list.body.contains(&format!("href=\"/{shelf}/{code}\"")))
            .collect();
        assert!(codes.len() >= 10, "{shelf}: {codes:?}");
        for code in codes {
            let entry = app.get(&format!("/{shelf}/{code}")).await;
            assert_eq!(entry.status, 200, "{shelf}/{code}: {}", entry.body);
            assert!(entry.body.contains(&format!("<h1 data-code=\"{code}\"")));
        }
        let missing = app.get(&format!("/{shelf}/NONE-1")).await;
        assert_eq!(missing.status, 404);
    }

    // Counted in the demo's table of attempts.
    let lever = app.get("/techniques/K-LEVER").await;
    let (_, record) = lever.body.split_once("<h2>Attempts by side").unwrap();
    let told = "nadir <span class=\"second\">1 done, 3 not completed, 1 not reached</span>";
    assert!(record.contains(told), "{record}");
    assert!(record.contains("starboard <span class=\"second\">1 done</span>"), "{record}");

    let found = app.get("/tools?q=spreader").await;
    let all = app.get("/tools").await;
    let rows = |page: &str| page.matches("<tr data-code=").count();
    assert!(rows(&found.body) >= 1 && rows(&found.body) < rows(&all.body));
    let none = app.get("/tools?q=zzzz").await;
    assert!(none.body.contains("No entry matches"), "{}", none.body);
}

#[sqlx::test]
async fn an_empty_shelf_says_what_to_do_and_a_new_entry_appears(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let page = app.get("/worksites").await;
    assert!(page.body.contains("No worksite is recorded yet"), "{}", page.body);
    assert!(page.body.contains("href=\"/worksites/new\""), "{}", page.body);

    made(&app.app, Kind::Worksite, "code: W-A | name: Porch | setup: 5").await;
    made(&app.app, Kind::Worksite, "code: W-B").await;
    made(&app.app, Kind::OutsideItem, "code: O-1 | what: rail | worksite: W-A").await;
    let way = "code: Q-1 | from_site: W-A | to_site: W-B | minutes: 7 | minutes_back: 9 | aid: O-1";
    made(&app.app, Kind::Route, way).await;

    let page = app.get("/worksites").await;
    let porch = row(&page.body, "W-A");
    assert!(porch.contains("Porch") && porch.contains("href=\"/outside/O-1\""), "{porch}");
    assert!(porch.contains(">5</td>") && porch.contains(">unknown</td>"), "{porch}");
    let way = row(&page.body, "Q-1");
    assert!(way.contains(">7</td>") && way.contains(">9</td>"), "{way}");
    assert!(!way.contains("no route now"), "{way}");

    // Once the aid is brought in, the way is cut.
    app.get("/outside/O-1/edit").await;
    let reply = app.post("/outside/O-1/edit", &[("what", "rail"), ("state", "brought in")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(app.get("/outside/O-1").await.status, 200);
    let page = app.get("/worksites/W-B").await;
    assert!(row(&page.body, "Q-1").contains("no route now"), "{}", page.body);
}

#[sqlx::test]
async fn a_technique_says_that_it_may_pause_at_sunset(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    made(&app.app, Kind::Technique, "code: K-1 | name: pin | may_pause: yes").await;
    made(&app.app, Kind::Technique, "code: K-2 | name: wedge").await;
    assert!(app.get("/techniques/K-1").await.body.contains("<dd>may pause at sunset</dd>"));
    assert!(!app.get("/techniques/K-2").await.body.contains("<dd>may pause at sunset</dd>"));
}

#[sqlx::test]
async fn a_failure_is_told_to_the_sisters_and_a_new_success_offered(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (
            Kind::Attempt,
            "code: A-1 | task: T-1 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 3 | minutes: 40",
        ),
        (Kind::Finding, "code: N-1 | attempts: A-1 | cause: 3 | words: no room for the wrist"),
    ] {
        made(&app.app, kind, text).await;
    }
    let app = app.signed_in(Role::Engineer).await;

    let family = app.get("/families/F-1").await;
    let (_, told) = family.body.split_once("id=\"in-question\"").unwrap();
    assert!(row(told, "T-1").contains("blocked"), "{told}");
    let sister = row(told, "T-2");
    assert!(sister.contains("questioned") && sister.contains("/attempts/A-1"), "{sister}");
    assert!(sister.contains("/excursions/E-37.1"), "its set slot is named: {sister}");
    assert!(sister.contains("action=\"/exemptions/new\""), "{sister}");
    assert!(!told.contains("id=\"offered\""), "{told}");
    let finding = app.get("/findings/N-1").await;
    let (_, affected) = finding.body.split_once("id=\"sisters\"").unwrap();
    assert!(row(affected, "T-3").contains("questioned"), "{affected}");

    // An exempt unit is no longer affected once another person has reviewed the exemption.
    let exempt = "code: X-1 | task: T-3 | attempts: A-1 | words: no bracket there | author: other \
                  | reviewed_by: lead | reviewed_on: 2030-11-20";
    made(&app.app, Kind::Exemption, exempt).await;
    let finding = app.get("/findings/N-1").await;
    let (_, affected) = finding.body.split_once("id=\"sisters\"").unwrap();
    assert!(!affected.contains("data-code=\"T-3\""), "{affected}");

    let done = "code: A-2 | task: T-1 | excursion: E-36.1 | technique: K-1 | side: zenith \
                | outcome: done | minutes: 30";
    made(&app.app, Kind::Attempt, done).await;
    let family = app.get("/families/F-1").await;
    let (_, offered) = family.body.split_once("id=\"offered\"").unwrap();
    assert!(offered.contains("from zenith") && offered.contains("/attempts/A-2"), "{offered}");
    assert!(row(offered, "T-2").contains("/tasks/T-2#slots"), "{offered}");
}
