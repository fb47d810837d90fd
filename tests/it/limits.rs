//! A value past its limit says so wherever it is read.

use app::Actor;
use app::import::{self, Options, Request};
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

const REACHED: &str = "torque 40 ft·lbf (limit 35 N·m); gap 4 mm (limit 1 mm); \
                       preload 31 N·m (at least 35 N·m); grip force 90 N (limit 200 N)";

/// An attempt at T-3 that reached these values, with a finding.
async fn reached(db: SqlitePool, values: &str) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    let attempt = format!(
        "code: A-0901 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
         | outcome: not completed | cause: 3 | minutes: 45 | measured: {values}"
    );
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-02 | state: flown",
        ),
        (Kind::Attempt, attempt.as_str()),
        (Kind::Finding, "code: N-901 | attempts: A-0901 | cause: 3 | words: no room"),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

#[sqlx::test]
async fn a_value_past_its_limit_says_so_on_every_page(db: SqlitePool) {
    let app = reached(db, REACHED).await;
    for path in [
        "/tasks/T-3",
        "/attempts/A-0901",
        "/findings/N-901",
        "/history",
        "/excursions/E-36.1/debrief",
    ] {
        let page = app.get(path).await;
        assert_eq!(page.status, 200, "{path}");
        for value in ["40 ft·lbf (limit 35 N·m)", "gap 4 mm (limit 1 mm)"] {
            // It stands in a field or in the change history too, where nothing is said of it.
            let says = |after: &str| {
                let told: String = after.chars().take(400).collect();
                told.split_once("past its limit").is_some_and(|(mark, _)| mark.contains("#k-err"))
            };
            let told = page.body.split(value).skip(1).any(says);
            assert!(told, "{path} does not say with a mark that {value} is past its limit");
        }
        assert!(page.body.contains("short of its limit"), "{path}");
        for good in page.body.split("grip force 90 N (limit 200 N)").skip(1) {
            let good: String = good.chars().take(60).collect();
            assert!(!good.contains("its limit"), "{path}: {good}");
        }
    }
    // Source: NIST SP 811, appendix B.8, 2008: 40 × 1.355 818 N·m = 54.2 N·m.
    assert!(app.get("/attempts/A-0901").await.body.contains("(54.2 N·m"));
    let file = app.get("/history.csv").await.body;
    assert!(file.contains("torque 40 ft·lbf (limit 35 N·m): past its limit"), "{file}");
    assert!(file.contains("preload 31 N·m (at least 35 N·m): short of its limit"), "{file}");
    assert!(!file.contains("200 N): "), "{file}");
}

#[sqlx::test]
async fn a_value_within_its_limit_says_nothing(db: SqlitePool) {
    let app = reached(db, "torque 35 N·m (limit 35 N·m); gap 1 mm (limit 1 mm)").await;
    for path in ["/tasks/T-3", "/attempts/A-0901", "/findings/N-901", "/history"] {
        let page = app.get(path).await.body;
        assert!(!page.contains("past its limit") && !page.contains("short of its limit"), "{path}");
    }
}

#[sqlx::test]
async fn an_import_names_what_lies_past_its_limit(db: SqlitePool) {
    let app = reached(db, "turns 9").await;
    let table = "code,task,excursion,outcome,cause,minutes,measured\n\
                 A-0910,T-3,E-36.1,not completed,3,10,torque 41 N·m (limit 35 N·m)\n\
                 A-0911,T-3,E-36.1,not completed,3,10,torque 34 N·m (limit 35 N·m)\n";
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let options = Options { dry_run: true, ..Options::default() };
    let request = Request {
        kind: Kind::Attempt,
        table: app::import::Given::Bytes(table.as_bytes()),
        options,
    };

    let report = import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();

    assert_eq!((report.taken, report.bad.len()), (2, 0), "{report:?}");
    let past: Vec<_> = report
        .past_limits
        .iter()
        .map(|one| (one.line, one.value.as_str(), one.judgement))
        .collect();
    assert_eq!(past, [(2, "torque 41 N·m (limit 35 N·m)", "past its limit")]);
}
