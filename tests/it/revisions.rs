//! Revisions of techniques over HTTP: made from the last in one step, cleared by a second person,
//! two side by side, and what they let go of.

use app::records::Base;
use app::work::Work;
use app::{Actor, checks, kinds};
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

/// The small record with A-1: K-1 in its first revision failed on T-1, from nadir.
async fn failed(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (
            Kind::Attempt,
            "code: A-1 | task: T-1 | excursion: E-36.1 | technique: K-1 | revision: 1 | side: nadir \
             | outcome: not completed | cause: 3 | minutes: 40 | words: the wrist met a bracket",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

const SECOND: [(&str, &str); 4] = [
    ("steps", "Turn the screw.\nPull along the rails."),
    ("changed", "Pulled along the rails, so that the wrist stays clear."),
    ("changes_work", "yes"),
    ("answers", "A-1"),
];

async fn shut(app: &TestApp) -> bool {
    let page = app.get("/families/F-1").await;
    let (_, told) = page.body.split_once("id=\"in-question\"").unwrap();
    told.contains("<tr data-code=\"T-1\">") && told.contains("blocked")
}

#[sqlx::test]
async fn a_change_of_the_work_resolves_its_failures_once_someone_else_clears_it(db: SqlitePool) {
    let app = failed(db).await;
    assert!(shut(&app).await);
    let form = app.get("/techniques/K-1/revise").await;
    assert!(form.body.contains("the wrist met a bracket"), "{}", form.body);
    let made = app.post("/techniques/K-1/revise", &SECOND).await;
    assert_eq!((made.status.as_u16(), &*made.location), (303, "/techniques/K-1#revisions"));

    // Written is not cleared, and its author clears nothing.
    assert!(shut(&app).await);
    let page = app.get("/techniques/K-1").await.body;
    assert!(page.contains("data-code=\"K-1.2\"") && page.contains("changes the work"), "{page}");
    assert!(page.contains("You wrote K-1.2 on 2030-11-21; another person clears it."), "{page}");
    assert!(!page.contains("/revisions/K-1.2/clear"), "{page}");
    let own = app.post("/revisions/K-1.2/clear", &[("evidence", "seen")]).await;
    assert_eq!(own.status, 409, "{}", own.body);

    let lead = app.another().signed_in(Role::Lead).await;
    lead.get("/techniques/K-1").await;
    let cleared = lead.post("/revisions/K-1.2/clear", &[("evidence", "run in the stand")]).await;
    assert_eq!(cleared.status, 303, "{}", cleared.body);
    assert!(!shut(&lead).await);
    let remedy = lead.get("/remedies/R-001").await.body;
    for told in ["Revision 2 of K-1", "verified", "every unit", "A-1", "run in the stand"] {
        assert!(remedy.contains(told), "{told}: {remedy}");
    }
    let page = lead.get("/techniques/K-1").await.body;
    assert!(page.contains("cleared by lead, 2030-11-21"), "{page}");

    // Taken back, the failure counts again.
    let back = lead.post("/revisions/K-1.2/undo", &[("why", "the stand had no bracket")]).await;
    assert_eq!(back.status, 303, "{}", back.body);
    assert!(shut(&lead).await);
    assert!(lead.get("/remedies/R-001").await.body.contains("withdrawn"));
    let report = checks::run(&lead.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

#[sqlx::test]
async fn an_attempt_keeps_the_revision_it_used_and_that_one_stays_as_it_flew(db: SqlitePool) {
    let app = failed(db).await;
    app.get("/techniques/K-1/edit").await;
    let edited = app.post("/techniques/K-1/edit", &[("steps", "Something else.")]).await;
    assert_eq!(edited.status, 422, "{}", edited.body);
    assert!(edited.body.contains("Revision 1 flew (A-1)"), "{}", edited.body);
    // Estimates may be told anew.
    app.get("/techniques/K-1/edit").await;
    let edited = app.post("/techniques/K-1/edit", &[("pessimistic", "50")]).await;
    assert_eq!(edited.status, 303, "{}", edited.body);

    app.get("/techniques/K-1/revise").await;
    assert_eq!(app.post("/techniques/K-1/revise", &SECOND).await.status, 303);
    let attempt = app.get("/attempts/A-1").await.body;
    assert!(attempt.contains("<dt>Revision</dt><dd>1</dd>"), "{attempt}");
    let page = app.get("/techniques/K-1").await.body;
    let (_, record) = page.split_once("Attempts by unit").unwrap();
    assert!(record.contains("/flights/G-36") && record.contains("rev 1"), "{record}");

    let both = app.get("/techniques/K-1/compare?a=1&b=2").await;
    assert_eq!(both.status, 200, "{}", both.body);
    assert!(both.body.contains("<ins>Turn the screw.</ins>"), "{}", both.body);
    assert!(both.body.contains("1 not completed"), "{}", both.body);
    assert_eq!(app.get("/techniques/K-404/compare").await.status, 404);
}

#[sqlx::test]
async fn a_revision_that_says_nothing_new_or_answers_another_is_refused_and_kept(db: SqlitePool) {
    let app = failed(db).await;
    let other = "code: A-2 | task: T-2 | excursion: E-36.1 | side: nadir \
                 | outcome: not completed | cause: 3 | words: by hand";
    made(&app.app, Kind::Attempt, other).await;
    app.get("/techniques/K-1/revise").await;
    let nothing = app.post("/techniques/K-1/revise", &[("steps", ""), ("changed", "")]).await;
    assert_eq!(nothing.status, 422, "{}", nothing.body);
    assert!(nothing.body.contains("Nothing differs from revision 1"), "{}", nothing.body);
    assert!(nothing.body.contains("Say what changes, and why"), "{}", nothing.body);

    let mut fields = SECOND;
    fields[3].1 = "A-2";
    let wrong = app.post("/techniques/K-1/revise", &fields).await;
    assert_eq!(wrong.status, 422, "{}", wrong.body);
    assert!(wrong.body.contains("A-2 was not tried with K-1"), "{}", wrong.body);
    assert!(wrong.body.contains("Pull along the rails."), "what was typed stands: {}", wrong.body);

    let mut fields = SECOND;
    fields[2].1 = "no";
    let wrong = app.post("/techniques/K-1/revise", &fields).await;
    assert!(wrong.body.contains("Only a change of the work resolves failures"), "{}", wrong.body);

    let viewer = app.another().signed_in(Role::Viewer).await;
    assert_eq!(viewer.get("/techniques/K-1/revise").await.status, 403);
    assert!(!viewer.get("/techniques/K-1").await.body.contains("/revise"));
}

#[sqlx::test]
async fn a_revision_beyond_any_count_is_refused_and_the_page_stands(db: SqlitePool) {
    let app = failed(db).await;
    for number in ["9223372036854775807", "10000", "0", "-1"] {
        app.get("/techniques/K-1/edit").await;
        let reply = app.post("/techniques/K-1/edit", &[("revision", number)]).await;
        assert_eq!(reply.status, 422, "{number}: {}", reply.body);
    }
    assert_eq!(app.get("/techniques/K-1").await.status, 200);
}

#[sqlx::test]
async fn evidence_longer_than_its_field_is_refused_with_the_bound(db: SqlitePool) {
    let app = failed(db).await;
    app.get("/techniques/K-1/revise").await;
    assert_eq!(app.post("/techniques/K-1/revise", &SECOND).await.status, 303);
    let lead = app.another().signed_in(Role::Lead).await;
    lead.get("/techniques/K-1").await;
    let endless = "x".repeat(20_001);
    let reply = lead.post("/revisions/K-1.2/clear", &[("evidence", &endless)]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("at most 20000 are kept"), "{}", reply.body);
}

#[sqlx::test]
async fn a_revision_typed_wrongly_comes_back_on_its_own_version(db: SqlitePool) {
    let app = failed(db).await;
    app.get("/techniques/K-1/revise").await;
    let mut first = app.hidden("/techniques/K-1/revise");
    let version = |fields: &[(String, String)]| {
        fields.iter().find(|(name, _)| name == "version").unwrap().1.clone()
    };
    let seen = version(&first);
    app.get("/techniques/K-1/edit").await;
    assert_eq!(app.post("/techniques/K-1/edit", &[("pessimistic", "50")]).await.status, 303);

    first.push(("steps".to_owned(), String::new()));
    first.push(("changed".to_owned(), String::new()));
    assert_eq!(app.post_only("/techniques/K-1/revise", &first).await.status, 422);
    assert_eq!(version(&app.hidden("/techniques/K-1/revise")), seen);
}

#[sqlx::test]
async fn nobody_clears_a_technique_by_its_form(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    let mut fields = vec![("code", "K-9"), ("name", "by hand"), ("family", "F-1")];
    fields.push(("state", "cleared"));
    app.get("/techniques/new").await;
    let reply = app.post("/techniques/new", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Another person clears revision 1"), "{}", reply.body);
    fields[3].1 = "rehearsed";
    app.get("/techniques/new").await;
    assert_eq!(app.post("/techniques/new", &fields).await.status, 303);
    fields[3].1 = "cleared";
    app.get("/techniques/K-9/edit").await;
    let reply = app.post("/techniques/K-9/edit", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    // The next revision of a cleared technique has not been cleared by that.
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    let mut cells = kinds::find(work.db(), Kind::Technique, "K-1").await.unwrap().unwrap();
    cells.set("notes", "pulled slowly");
    kinds::save_whole(&mut work, Kind::Technique, &cells, Base::Current).await.unwrap();
    cells.set("revision", "2");
    let done = kinds::save_whole(&mut work, Kind::Technique, &cells, Base::Current).await;
    let words = done.err().map(|failure| format!("{failure:?}")).unwrap_or_default();
    assert!(words.contains("Another person clears revision 2"), "{words}");
}
