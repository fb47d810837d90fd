//! From a failed attempt to its finding and remedy without typing anything twice.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

const FORM: &str = "/attempts/A-900/finding";

async fn failed(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-01 | state: flown",
        ),
        (
            Kind::Attempt,
            "code: A-900 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 3 | words: A bracket met the wrist.",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

#[sqlx::test]
async fn the_form_knows_what_the_attempt_says_and_asks_for_eight_things_at_most(db: SqlitePool) {
    let app = failed(db, Role::Engineer).await;
    let page = app.get("/attempts/A-900").await.body;
    assert!(page.contains(&format!("href=\"{FORM}\">Write finding")), "{page}");
    let form = app.get(FORM).await.body;
    assert!(form.contains("A bracket met the wrist.</textarea>"), "{form}");
    assert!(form.contains("<option value=\"3\" selected>reach too tight</option>"), "{form}");
    assert!(form.contains("value=\"engineer\""), "the owner is whoever writes, until changed");
    assert!(form.contains("<option value=\"G-37\" selected>"), "due before the next flight");
    let (_, in_view) = form.split_once("<form class=\"attempt\"").unwrap();
    let (in_view, _) = in_view.split_once("</form>").unwrap();
    let fields = ["<select ", "<textarea ", "<input id="];
    let count: usize = fields.iter().map(|field| in_view.matches(field).count()).sum();
    assert!((5..=8).contains(&count), "{count} fields: {in_view}");
}

#[sqlx::test]
async fn finding_and_remedy_are_written_together(db: SqlitePool) {
    let app = failed(db, Role::Engineer).await;
    app.get(FORM).await;
    let fields = [
        ("words", "The bracket is in the way."),
        ("cause", "3"),
        ("contributing", "17"),
        ("confidence", "likely"),
        ("what", "Another side, from zenith"),
        ("owner", "tools"),
        ("needed_by", "G-37"),
        ("reach", "every unit"),
    ];
    let reply = app.post(FORM, &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.body;
    for words in ["reach too tight", "time ran out", "Another side, from zenith", "owner tools"] {
        assert!(page.contains(words), "{words}: {page}");
    }
    // Once it is explained, its page leads to the finding instead.
    let again = app.get(FORM).await;
    assert_eq!((again.status.as_u16(), again.location), (303, reply.location.clone()));
    let page = app.get("/attempts/A-900").await.body;
    assert!(page.contains(">Open finding<"), "{page}");
}

#[sqlx::test]
async fn what_is_missing_is_said_at_once_and_nothing_typed_is_lost(db: SqlitePool) {
    let app = failed(db, Role::Engineer).await;
    app.get(FORM).await;
    let fields = [("words", ""), ("cause", ""), ("what", "A longer lever"), ("needed_by", "G-99")];
    let reply = app.post(FORM, &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Say what failed."), "{}", reply.body);
    assert!(reply.body.contains("Choose the main cause"), "{}", reply.body);
    assert!(reply.body.contains("value=\"A longer lever\""), "{}", reply.body);
    assert!(!app.get("/findings?show=all").await.body.contains("data-code=\"N-"));
    // Without a decision on what must change the finding stands alone.
    app.get(FORM).await;
    let alone = [("words", "It jammed."), ("cause", "3"), ("what", ""), ("reach", "this unit")];
    let reply = app.post(FORM, &alone).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.body;
    assert!(page.contains("No remedy yet."), "{page}");
}

#[sqlx::test]
async fn a_remedy_is_done_and_verified_on_its_own_page(db: SqlitePool) {
    let app = failed(db, Role::Engineer).await;
    app.get(FORM).await;
    let fields = [("words", "Jam."), ("cause", "3"), ("what", "Grease it"), ("owner", "engineer")];
    let finding = app.post(FORM, &fields).await.location;
    let page = app.get(&finding).await.body;
    let code = page.split("/remedies/R-").nth(1).unwrap().split(['"', '/']).next().unwrap();
    let remedy = format!("/remedies/R-{code}");
    let page = app.get(&remedy).await.body;
    assert!(page.contains("Mark as done") && !page.contains("Verify remedy"), "{page}");
    let step = format!("{remedy}/move");
    let reply = app.post(&step, &[("to", "done"), ("evidence", "in the rig")]).await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, &*remedy), "{}", reply.body);
    // Whoever did it does not verify it.
    assert!(!app.get(&remedy).await.body.contains("Verify remedy"));

    let lead = app.another().signed_in(Role::Lead).await;
    lead.get(&finding).await;
    assert_eq!(lead.post(&format!("{finding}/review"), &[]).await.status, 303);
    assert!(lead.get(&remedy).await.body.contains("Verify remedy"));
    let reply = lead.post(&step, &[("to", "verified"), ("evidence", "in the rig")]).await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, &*remedy), "{}", reply.body);
}

#[sqlx::test]
async fn a_viewer_is_offered_no_finding_and_told_whom_to_ask(db: SqlitePool) {
    let app = failed(db, Role::Viewer).await;
    assert!(!app.get("/attempts/A-900").await.body.contains("Write finding"));
    let reply = app.get(FORM).await;
    assert_eq!(reply.status, 403);
    assert!(reply.body.contains("Ask an engineer or a lead."), "{}", reply.body);
}
