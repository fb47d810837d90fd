//! The form of an attempt: its approach as one answer, what is filled in, the photographs of one that
//! comes back, and what its notice says.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::attempts::{flown, slotted, waiting_in, with_photo};
use crate::small_record::made;

#[sqlx::test]
async fn the_photographs_of_a_refused_attempt_wait_for_their_sender_alone(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let wrong = [("task", "T-3"), ("excursion", "E-36.1"), ("outcome", "done"), ("minutes", "999")];
    let reply = with_photo(&app, "/attempts/new", &wrong, "photo").await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("1 entry needs correcting"), "no word on it: {}", reply.body);
    let waits = waiting_in(&reply.body, "kept_photo");
    assert!(waits.ends_with(" rail.png"), "{waits}");
    assert_eq!(app.get("/files/FI-001").await.status, 404);

    // Another account does not get it by its name.
    let other = app.another();
    other.person("engineer-2", Role::Engineer).await;
    other.sign_in("engineer-2").await;
    other.get("/attempts/new?task=T-3").await;
    let right = [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("outcome", "done"),
        ("minutes", "30"),
        ("kept_photo", waits.as_str()),
    ];
    let reply = other.post("/attempts/new", &right).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("rail.png is no longer kept"), "{}", reply.body);

    // It waits through a second refusal, and is the attempt's once that is recorded.
    let mut again = right;
    again[3].1 = "998";
    let reply = app.post("/attempts/new", &again).await;
    assert_eq!(waiting_in(&reply.body, "kept_photo"), waits);
    let reply = app.post("/attempts/new", &right).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(app.get("/attempts/A-0001").await.body.contains("/files/FI-001"));
    let folder = app.app.db.contents().path("x");
    let left: Vec<String> = std::fs::read_dir(folder.parent().unwrap())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name.starts_with("incoming-"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[sqlx::test]
async fn an_approach_is_one_answer_with_what_is_known_of_it(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let failed = "code: A-0001 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
                  | cause: 3 | outcome: not completed | minutes: 30";
    made(&app.app, Kind::Attempt, failed).await;
    let page = app.get("/attempts/new?task=T-3").await.body;
    assert!(
        page.contains("type=\"radio\" id=\"f-approach\" name=\"approach\" value=\"K-1,"),
        "{page}"
    );
    assert!(page.contains("from nadir") && page.contains("K-1 · blocked: A-0001"), "{page}");
    assert!(page.contains("value=\"other\""), "{page}");
    assert!(page.contains("Estimate "), "{page}");

    let fields = [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("approach", "K-1,nadir"),
        ("minutes", "30"),
        ("outcome", "done"),
    ];
    let reply = app.post("/attempts/new", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/attempts/A-0002/edit").await.body;
    assert!(page.contains("value=\"K-1,nadir\" checked"), "{page}");

    // Another approach is typed beside it; so is none.
    let none = [("approach", "other"), ("technique", ""), ("side", "")];
    let reply = app.post("/attempts/A-0002/edit", &none).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/attempts/A-0002/edit").await.body;
    assert!(!page.contains("value=\"K-1,nadir\" checked"), "{page}");
}

#[sqlx::test]
async fn a_new_attempt_is_filled_from_the_one_slot_that_waits_for_it(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let page = app.get("/attempts/new?task=T-3").await.body;
    assert!(!page.contains("\" checked"), "nothing is known: {page}");
    slotted(&app).await;
    let page = app.get("/attempts/new?task=T-3").await.body;
    assert!(page.contains("value=\"E-36.1 as S-9\" selected"), "{page}");
    assert!(page.contains("value=\"K-1,nadir\" checked"), "{page}");
    let other = app.get("/attempts/new?task=T-3&excursion=E-99").await.body;
    assert!(!other.contains("value=\"E-36.1 as S-9\" selected"), "what is asked stands: {other}");
    let fields =
        [("task", "T-3"), ("excursion", "E-36.1 as S-9"), ("outcome", "done"), ("minutes", "30")];
    assert_eq!(app.post("/attempts/new", &fields).await.status, 303);
    let page = app.get("/attempts/new?task=T-3").await.body;
    assert!(!page.contains("value=\"E-36.1 as S-9\" selected"), "it has its result: {page}");
}

#[sqlx::test]
async fn the_notice_after_an_attempt_says_what_changed(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let pencil = "code: S-8 | task: T-3 | excursion: E-37.1 | technique: K-1 | side: nadir \
                  | seats: EV1 | state: pencilled";
    made(&app.app, Kind::Slot, pencil).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("approach", "K-1,nadir"),
        ("minutes", "30"),
        ("cause", "3"),
        ("outcome", "not completed"),
        ("left_after", "60"),
    ];
    let reply = app.post("/attempts/new", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(&reply.location).await.body;
    let (_, notice) = page.split_once("role=\"status\"").unwrap();
    let notice: String = notice.chars().take(900).collect();
    for says in ["stays open with", "60", "from nadir is blocked for it now", "its pencil on"] {
        assert!(notice.contains(says), "{says}: {notice}");
    }
    assert!(
        notice.contains("/attempts/A-0001/finding") && notice.contains("Write finding"),
        "{notice}"
    );
}

#[sqlx::test]
async fn all_that_is_wrong_is_said_at_once_and_nothing_typed_is_lost(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("side", "aft"),
        ("technique", "K-2"),
        ("minutes", "1800"),
        ("outcome", "not completed"),
        ("words", "jammed <hard>"),
    ];
    let reply = app.post("/attempts/new", &fields).await;
    assert_eq!(reply.status, 422);
    for id in ["f-side-error", "f-technique-error", "f-minutes-error", "f-cause-error"] {
        assert!(reply.body.contains(&format!("id=\"{id}\"")), "{id}: {}", reply.body);
    }
    assert!(reply.body.contains("jammed &#60;hard&#62;"), "{}", reply.body);
    assert!(reply.body.contains("value=\"not completed\" checked"), "{}", reply.body);
}

#[sqlx::test]
async fn what_is_missing_unknown_and_unreadable_is_said_together(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let typed = [
        ("task", "T-3"),
        ("outcome", "not completed"),
        ("minutes", "soon"),
        ("tools", "L-999"),
        ("safe_until", "later"),
    ];
    let reply = app.post("/attempts/new", &typed).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    let named =
        |field: &str| reply.body.contains(&format!("id=\"f-{}-error\"", field.replace('_', "-")));
    for field in ["excursion", "cause", "minutes", "tools", "safe_until"] {
        assert!(named(field), "{field} is not said: {}", reply.body);
    }
    assert!(reply.body.contains("There is no tool L-999"), "{}", reply.body);

    app.get("/tasks/new").await;
    let typed = [("title", "Stow it"), ("opened", "later"), ("worksite", "W-NONE")];
    let reply = app.post("/tasks/new", &typed).await;
    assert_eq!(reply.status, 422);
    for field in ["opened", "worksite"] {
        let id = format!("id=\"f-{}-error\"", field.replace('_', "-"));
        assert!(reply.body.contains(&id), "{field}: {}", reply.body);
    }
}

#[sqlx::test]
async fn photographs_of_two_versions_wait_for_the_choice_between_them(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [("task", "T-3"), ("excursion", "E-36.1"), ("outcome", "done"), ("minutes", "30")];
    assert_eq!(app.post("/attempts/new", &fields).await.status, 303);
    app.get("/attempts/A-0001/edit").await;
    let other = app.another();
    other.sign_in("engineer").await;
    other.get("/attempts/A-0001/edit").await;
    let reply = other.post("/attempts/A-0001/edit", &[("words", "from the recorder")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let mine = [("minutes", "31"), ("words", "mine")];
    let both = with_photo(&app, "/attempts/A-0001/edit", &mine, "photo").await;
    assert_eq!(both.status, 409, "{}", both.body);
    assert!(both.body.contains("The photographs you sent wait here"), "{}", both.body);
    let waits = waiting_in(&both.body, "kept_photo");

    app.get("/attempts/A-0001/edit").await;
    let chosen = [("minutes", "31"), ("words", "mine"), ("kept_photo", waits.as_str())];
    let saved = app.post("/attempts/A-0001/edit", &chosen).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
    assert!(app.get("/attempts/A-0001").await.body.contains("/files/FI-001"));
}

#[sqlx::test]
async fn what_follows_from_each_end_stands_beside_the_form(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let page = app.get("/attempts/new?task=T-3").await.body;
    let (_, after) = page.split_once("<h3>After recording</h3>").expect(&page);
    let after = after.split("</aside>").next().unwrap();
    for (outcome, words) in [
        ("done", "leaves the backlog."),
        ("part done", "stays open with what is left of it."),
        ("not completed", "its approach is blocked for this unit"),
        ("not reached", "Nothing is held against its approach."),
    ] {
        let (_, line) = after.split_once(&format!("data-outcome=\"{outcome}\"")).expect(after);
        assert!(line.split("</li>").next().unwrap().contains(words), "{outcome}: {line}");
    }
    // Of an attempt that is corrected, all of that has followed.
    made(
        &app.app,
        Kind::Attempt,
        "code: A-900 | task: T-3 | excursion: E-36.1 | outcome: done | minutes: 30",
    )
    .await;
    assert!(!app.get("/attempts/A-900/edit").await.body.contains("After recording"));
}
