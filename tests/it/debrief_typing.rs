//! A debrief while it is typed: what is not complete is kept, and nothing is overwritten unseen.

use domain::words::Role;
use sqlx::SqlitePool;

use crate::debrief::{DEBRIEF, ROWS, attempts, flown, send};
use crate::support::TestApp;

#[sqlx::test]
async fn what_is_not_complete_is_kept_as_typed_and_comes_back(db: SqlitePool) {
    let app = flown(db).await;
    let fields = [
        ("r0-outcome", "not completed"),
        ("r0-minutes", "30"),
        ("r0-words", "It <would> not turn"),
    ];
    let reply = send(&app, &fields).await;
    assert_eq!(reply.status, 303, "a draft is no fault of the form");

    let page = app.get(DEBRIEF).await;
    assert!(page.body.contains("It &#60;would&#62; not turn"), "{}", page.body);
    assert!(page.body.contains("Choose what stopped it"));
    assert!(attempts(&app).await.is_empty());

    let reply = app
        .post(DEBRIEF, &[("r0-outcome", "not completed"), ("r0-minutes", "30"), ("r0-cause", "3")])
        .await;
    assert_eq!(reply.status, 303);
    assert_eq!(attempts(&app).await, [("T-1".to_owned(), "not completed".to_owned())]);
}

#[sqlx::test]
async fn a_row_saved_while_typing_answers_what_is_wanted(db: SqlitePool) {
    let app = flown(db).await;
    app.get(DEBRIEF).await;
    let stamp = hidden(&app, "r0-version");
    let row = [("r0-key", "S-1"), ("r0-slot", "S-1"), ("r0-task", "T-1"), ("r0-version", &stamp)];
    let typed =
        [&row[..], &[("r0-outcome", "part done"), ("r0-minutes", "30"), ("r0-left_after", "")]]
            .concat();

    let reply = app.post(ROWS, &typed).await;
    let told: serde_json::Value = serde_json::from_str(&reply.body).unwrap();
    assert_eq!(told["errors"][0]["field"], "r0-left_after");
    assert_eq!(told["words"], "kept 14:20 UTC, 1 field to complete");

    let version = told["version"].as_str().unwrap().to_owned();
    let row =
        [("r0-key", "S-1"), ("r0-slot", "S-1"), ("r0-task", "T-1"), ("r0-version", &*version)];
    let typed =
        [&row[..], &[("r0-outcome", "part done"), ("r0-minutes", "30"), ("r0-left_after", "60")]]
            .concat();
    let reply = app.post(ROWS, &typed).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert!(reply.body.contains("saved 14:20 UTC"), "{}", reply.body);
    assert_eq!(attempts(&app).await, [("T-1".to_owned(), "part done".to_owned())]);
}

fn hidden(app: &TestApp, name: &str) -> String {
    let fields = app.hidden(DEBRIEF);
    fields.into_iter().find(|(known, _)| known == name).unwrap().1
}

#[sqlx::test]
async fn a_part_without_its_version_overwrites_nothing(db: SqlitePool) {
    let app = flown(db).await;
    let first = [("head-notes", "as flown"), ("r0-outcome", "done"), ("r0-words", "it turned")];
    assert_eq!(send(&app, &first).await.status, 303);

    app.get(DEBRIEF).await;
    let mut fields = app.hidden(DEBRIEF);
    fields.retain(|(name, _)| !["head-version", "r0-version"].contains(&name.as_str()));
    let typed = [("head-notes", "doctored"), ("r0-outcome", "done"), ("r0-words", "doctored")];
    fields.extend(typed.map(|(name, text)| (name.to_owned(), text.to_owned())));
    let reply = app.post_only(DEBRIEF, &fields).await;

    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("without the version of E-37.1"), "{}", reply.body);
    assert!(reply.body.contains("now “it turned”, yours “doctored”"), "{}", reply.body);
    let page = app.get(DEBRIEF).await.body;
    assert!(page.contains("as flown") && page.contains("it turned") && !page.contains("doctored"));
}

/// What was typed wrongly comes back on the version that it was typed on: were it sent back on the
/// newest, it would overwrite what another person saved since.
#[sqlx::test]
async fn a_wrong_part_comes_back_on_its_own_version(db: SqlitePool) {
    let app = flown(db).await;
    app.get(DEBRIEF).await;
    let seen = hidden(&app, "head-version");
    let fields = app.hidden(DEBRIEF);
    assert_eq!(send(&app, &[("head-notes", "by another")]).await.status, 303);

    let mut wrong = fields;
    wrong.push(("head-actual".to_owned(), "six hours or so".to_owned()));
    wrong.push(("head-notes".to_owned(), "mine".to_owned()));
    assert_eq!(app.post_only(DEBRIEF, &wrong).await.status, 422);
    assert_eq!(hidden(&app, "head-version"), seen);
    let again = app.post(DEBRIEF, &[("head-actual", "6:00"), ("head-notes", "mine")]).await;

    assert_eq!(again.status, 409, "{}", again.body);
    assert!(again.body.contains("now “by another”, yours “mine”"), "{}", again.body);
}

#[sqlx::test]
async fn minutes_that_disagree_with_the_pet_are_not_taken_without_a_word(db: SqlitePool) {
    let app = flown(db).await;
    let times = [("r0-outcome", "done"), ("r0-pet_start", "1:00"), ("r0-pet_end", "1:45")];
    send(&app, &[&times[..], &[("r0-minutes", "30")]].concat()).await;
    let page = app.get(DEBRIEF).await.body;
    assert!(page.contains("PET from and to make 45 min, and 30 min are typed"), "{page}");
    assert!(attempts(&app).await.is_empty());

    send(&app, &[&times[..], &[("r0-minutes", "45")]].concat()).await;
    assert_eq!(attempts(&app).await.len(), 1);
    // Minutes that followed from the PET follow it again.
    send(&app, &[("r0-pet_end", "1:50")]).await;
    let mut db = app.app.db.reader().await.unwrap();
    let found = store::attempts::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    assert_eq!(found[0].minutes.map(|minutes| minutes.0), Some(50));
}

#[sqlx::test]
async fn two_people_at_one_debrief_overwrite_nothing_unseen(db: SqlitePool) {
    let app = flown(db).await;
    let other = app.another();
    other.person("marit", Role::Engineer).await;
    other.sign_in("marit").await;
    app.get(DEBRIEF).await;
    other.get(DEBRIEF).await;

    let theirs = [("r0-outcome", "done"), ("r0-minutes", "30"), ("r0-as_left", "latched")];
    assert_eq!(other.post(DEBRIEF, &theirs).await.status, 303);

    // A row that was not touched here is not sent back over theirs.
    let reply = app.post(DEBRIEF, &[("r1-outcome", "not reached")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(attempts(&app).await.len(), 2);

    // A row that both changed shows both.
    other.get(DEBRIEF).await;
    app.get(DEBRIEF).await;
    let again = [("r1-outcome", "not reached"), ("r1-as_left", "spare in the bag")];
    assert_eq!(other.post(DEBRIEF, &again).await.status, 303);
    let reply =
        app.post(DEBRIEF, &[("r1-outcome", "not reached"), ("r1-as_left", "on deck")]).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("now “spare in the bag”, yours “on deck”"), "{}", reply.body);

    // Sent again it is a decision.
    let reply =
        app.post(DEBRIEF, &[("r1-outcome", "not reached"), ("r1-as_left", "on deck")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(app.get(DEBRIEF).await.body.contains("on deck"));
}
