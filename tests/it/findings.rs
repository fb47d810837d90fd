//! Findings and remedies in pages: nobody reviews or verifies their own.

use holdover::domain::kinds::Kind;
use holdover::domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

/// N-900 explains A-900, written by the person who is signed in.
async fn written(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    made(
        &app.app,
        Kind::Flight,
        "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown",
    )
    .await;
    made(
        &app.app,
        Kind::Excursion,
        "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-01 | state: flown",
    )
    .await;
    made(
        &app.app,
        Kind::Attempt,
        "code: A-900 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir | outcome: not completed | cause: 3",
    )
    .await;
    app.get("/findings/new").await;
    let fields = [
        ("code", "N-900"),
        ("attempts", "A-900"),
        ("cause", "3"),
        ("words", "A bracket is in the way."),
    ];
    let made = app.post("/findings/new", &fields).await;
    assert_eq!(made.status, 303, "{}", made.body);
    app
}

#[sqlx::test]
async fn nobody_reviews_their_own_finding(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    let page = app.get("/findings/N-900").await.body;
    assert!(!page.contains("action=\"/findings/N-900/review\""), "{page}");
    assert_eq!(app.post("/findings/N-900/review", &[]).await.status, 409);
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    assert_eq!(other.post("/findings/N-900/review", &[]).await.status, 303);
    assert!(other.get("/findings/N-900").await.body.contains("reviewed</span> by lead"));
}

#[sqlx::test]
async fn a_remedy_is_done_by_its_owner_and_verified_by_another(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    app.get("/remedies/new").await;
    let fields = [
        ("code", "R-900"),
        ("what", "Cut the bracket"),
        ("finding", "N-900"),
        ("attempts", "A-900"),
        ("owner", "engineer"),
        ("reach", "this unit"),
    ];
    let made = app.post("/remedies/new", &fields).await;
    assert_eq!(made.status, 303, "{}", made.body);
    app.get("/findings/N-900").await;
    let done = [("to", "done"), ("evidence", "cut in the rig")];
    assert_eq!(app.post("/remedies/R-900/move", &done).await.status, 303);
    app.get("/findings/N-900").await;
    let own = app.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    assert_eq!(own.status, 409, "{}", own.body);
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    let verified =
        other.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    assert_eq!(verified.status, 303, "{}", verified.body);
}

/// A second flown excursion, later than the one on which A-900 was made.
async fn flown_later(app: &TestApp) {
    made(
        &app.app,
        Kind::Excursion,
        "code: E-36.2 | flight: G-36 | number: 2 | day: 2030-06-15 | state: flown",
    )
    .await;
}

/// R-900 answers A-900 for every unit and is verified between the two excursions.
async fn verified(app: &TestApp) {
    made(
        &app.app,
        Kind::Remedy,
        "code: R-900 | what: Cut the bracket | finding: N-900 | attempts: A-900 | owner: tools \
         | reach: every unit | state: verified | verified_by: lead | verified_on: 2030-06-10",
    )
    .await;
}

async fn failed_again(app: &TestApp) {
    made(
        &app.app,
        Kind::Attempt,
        "code: A-901 | task: T-3 | excursion: E-36.2 | technique: K-1 | side: nadir \
         | outcome: not completed | cause: 3 | words: The bracket again.",
    )
    .await;
}

#[sqlx::test]
async fn a_failure_after_a_verified_remedy_reopens_the_question_everywhere(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    verified(&app).await;
    let page = app.get("/findings/N-900").await.body;
    assert!(!page.contains("did not hold"), "nothing failed since: {page}");

    failed_again(&app).await;
    let said = "R-900</a> was verified on 2030-06-10 and did not hold: \
                <a class=\"code\" href=\"/attempts/A-901\">A-901</a> failed on 2030-06-15";
    for address in ["/findings/N-900", "/findings", "/"] {
        let page = app.get(address).await.body;
        assert!(page.contains(said), "{address}: {page}");
        assert!(page.contains("The same kind of cause again: reach too tight."), "{address}");
    }
    assert!(app.get("/findings/N-900").await.body.contains("The question is open again"));
    let listed = app.get("/findings?show=reopened").await.body;
    assert!(listed.contains("data-code=\"N-900\"") && listed.contains("reopened</span>"));
    assert!(app.get("/remedies/R-900").await.body.contains("<dt>Did not hold</dt>"));
    let task = app.get("/tasks/T-3").await.body;
    assert!(task.contains("<b>did not hold:</b> <a class=\"code\" href=\"/attempts/A-901\">"));
    // The guard needs no rule of its own: no remedy that came before it names that failure.
    assert!(task.contains("data-verdict=\"not-met\""), "{task}");
}

#[sqlx::test]
async fn a_remedy_that_names_the_new_failure_closes_the_question(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    verified(&app).await;
    failed_again(&app).await;
    made(
        &app.app,
        Kind::Remedy,
        "code: R-901 | what: Another way in | finding: N-900 | attempts: A-901 | owner: tools \
         | reach: every unit | state: verified | verified_by: lead | verified_on: 2030-06-18",
    )
    .await;
    let page = app.get("/findings/N-900").await.body;
    assert!(page.contains("It failed again, and was answered"), "{page}");
    assert!(page.contains("did not hold, answered since:"), "{page}");
    assert!(!app.get("/findings?show=reopened").await.body.contains("data-code=\"N-900\""));
    assert!(!app.get("/").await.body.contains("Questions reopened"));
}

#[sqlx::test]
async fn what_waits_is_told_by_person_and_step_and_its_counts_agree_with_its_rows(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    made(
        &app.app,
        Kind::Remedy,
        "code: R-900 | what: Cut the bracket | finding: N-900 | attempts: A-900 | owner: tools \
         | reach: this unit | needed_by: G-36 | state: open",
    )
    .await;
    // Failed half a year ago, and no finding names it.
    made(
        &app.app,
        Kind::Attempt,
        "code: A-905 | task: T-2 | excursion: E-36.1 | technique: K-1 | side: zenith \
         | outcome: not completed | cause: 3",
    )
    .await;
    let page = app.get("/findings").await.body;
    assert!(page.contains("3 steps wait; 2 of them are overdue."), "{page}");
    let row = |page: &str, code: &str| page.contains(&format!("<tr data-code=\"{code}\""));
    assert!(row(&page, "N-900") && row(&page, "R-900") && row(&page, "A-905"), "{page}");

    for (address, rows) in [
        ("/findings?step=carry+out+a+remedy&who=tools&overdue=yes", vec!["R-900"]),
        ("/findings?step=review+a+finding&who=anyone+but+engineer", vec!["N-900"]),
        ("/findings?step=write+a+finding&who=any+engineer&overdue=yes", vec!["A-905"]),
        ("/findings?overdue=yes", vec!["A-905", "R-900"]),
        // The author is not asked to review their own finding.
        ("/findings?who=me", vec!["A-905"]),
    ] {
        let page = app.get(address).await.body;
        for code in ["N-900", "R-900", "A-905"] {
            assert_eq!(row(&page, code), rows.contains(&code), "{address} {code}: {page}");
        }
    }
    let file = app.get("/findings.csv?show=waits&overdue=yes").await.body;
    assert_eq!(file.lines().count(), 3, "{file}");
    assert!(app.get("/findings?who=me").await.body.contains("/findings/new?attempt=A-905"));
}

#[sqlx::test]
async fn work_that_was_done_in_the_end_waits_for_no_finding(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    failed_again(&app).await;
    assert!(app.get("/findings").await.body.contains("<tr data-code=\"A-901\""));
    made(
        &app.app,
        Kind::Attempt,
        "code: A-902 | task: T-3 | excursion: E-36.2 | technique: K-1 | side: zenith \
         | pet_start: 3:00 | outcome: done",
    )
    .await;
    assert!(!app.get("/findings").await.body.contains("<tr data-code=\"A-901\""));
}
