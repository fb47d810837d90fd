//! The search over everything, over HTTP.

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::{NOW, TestApp};

/// The codes of the finds, in their order.
fn codes(page: &str) -> Vec<&str> {
    page.split("<li data-code=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

#[sqlx::test]
async fn words_are_found_wherever_they_stand_and_marked(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    lay(&app.app).await;
    let outside = "code: O-1 | what: tether at the bay | worksite: W-B | purpose: to hold on";
    made(&app.app, Kind::OutsideItem, outside).await;
    made(&app.app, Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown").await;
    let flown = "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown";
    made(&app.app, Kind::Excursion, flown).await;
    let attempt = "code: A-1 | task: T-1 | excursion: E-36.1 | outcome: not completed | cause: 3 \
                   | words: The grip met a <bracket> and stopped | as_left: half out, tethered";
    made(&app.app, Kind::Attempt, attempt).await;

    let found = app.get("/search?q=bracket").await;
    assert_eq!(codes(&found.body), ["A-1"], "{}", found.body);
    assert!(found.body.contains("<mark>bracket</mark>&#62; and stopped"), "{}", found.body);
    assert!(found.body.contains("href=\"/tasks/T-1\"") && found.body.contains("1 record has them"));

    let begun = app.get("/search?q=teth").await;
    assert_eq!(codes(&begun.body), ["O-1", "A-1"], "a title weighs more: {}", begun.body);
    let narrowed = app.get("/search?q=teth&among=attempts").await;
    assert_eq!(codes(&narrowed.body), ["A-1"]);
    assert!(codes(&app.get("/search?q=teth+zenith").await.body).is_empty());

    // A letter alone is a word of its own, also as the end of a code.
    assert!(codes(&app.get("/search?q=a").await.body).contains(&"A-1"), "“met a”");
    assert!(codes(&app.get("/search?q=b+tethered").await.body).is_empty());
    let kind = app.get("/search?q=attempt").await;
    assert!(codes(&kind.body).is_empty(), "the name of a kind is not a word of its records");
}

#[sqlx::test]
async fn one_wrong_letter_is_forgiven_and_said(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;

    let right = app.get("/search?q=cassette").await;
    assert!(codes(&right.body).contains(&"T-0142"), "{}", right.body);
    assert!(!right.body.contains("searched for “"));
    for slip in ["casette", "cassettte", "casdette", "cassetet"] {
        let found = app.get(&format!("/search?q={slip}")).await;
        assert!(found.body.contains("searched for “cassette”"), "{slip}: {}", found.body);
        assert!(codes(&found.body).contains(&"T-0142"), "{slip}");
    }
    let nothing = app.get("/search?q=qqqqqqqq").await;
    assert!(nothing.body.contains("No record has all of these words"), "{}", nothing.body);
}

#[sqlx::test]
async fn a_typed_code_leads_to_its_record_and_nonsense_does_no_harm(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    lay(&app.app).await;

    assert_eq!(app.get("/search?q=t-1").await.location, "/tasks/T-1");
    assert_eq!(app.get("/search?q=E-37.2").await.location, "/excursions/E-37.2");
    for odd in
        ["%22", "a%22b", "%28", "NEAR%28a%2Cb%29", "code%3Ax", "-", "T-9999", "%F0%9F%9B%B0", "%00"]
    {
        let answer = app.get(&format!("/search?q={odd}&page=999&among=zzz")).await;
        assert_eq!(answer.status, 200, "{odd}: {}", answer.body);
    }
    let blank = app.get("/search").await;
    assert!(blank.body.contains("one wrong letter is forgiven"), "{}", blank.body);
}

#[sqlx::test]
async fn what_was_changed_is_found_by_its_new_words_alone(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    assert_eq!(codes(&app.get("/search?q=pry").await.body), ["L-1"]);

    app.get("/tools/L-1/edit").await;
    let saved = app
        .post(
            "/tools/L-1/edit",
            &[("code", "L-1"), ("name", "spreader"), ("on_board", "3"), ("state", "usable")],
        )
        .await;
    assert_eq!(saved.status, 303, "{}", saved.body);

    assert!(codes(&app.get("/search?q=pry").await.body).is_empty());
    assert_eq!(codes(&app.get("/search?q=spreader").await.body), ["L-1"]);
}

#[sqlx::test]
async fn a_code_leads_to_its_record_as_it_is_spoken(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    for typed in ["T-0142", "t-142", "T142", "t+142", "T-0142,"] {
        assert_eq!(
            app.get(&format!("/search?q={typed}")).await.location,
            "/tasks/T-0142",
            "{typed}"
        );
    }
    assert_eq!(app.get("/search?q=e+36.2").await.location, "/excursions/E-36.2");
    assert_eq!(app.get("/search?q=N7").await.location, "", "one digit may be anything");
    assert_eq!(app.get("/search?q=M6").await.location, "", "a size of bolt is a word");
}

#[sqlx::test]
async fn every_page_has_the_search_and_everything_that_was_written_is_in_it(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    for page in
        ["/", "/open", "/tasks/T-0142", "/findings", "/findings/causes", "/slots", "/changes"]
    {
        let body = app.get(page).await.body;
        assert!(body.contains("action=\"/search\"") && body.contains("id=\"q-all\""), "{page}");
    }
    // One find of each kind that the search promises, by words that stand in it alone.
    for (words, code) in [
        ("filter cassette C-14", "T-0142"),
        ("needle second eyelet", "A-0011"),
        ("galled eighth of a turn", "N-009"),
        ("tie gun one hand", "R-013"),
        ("captive screw rails", "F-CASSETTE"),
    ] {
        let found = app.get(&format!("/search?q={}", words.replace(' ', "+"))).await;
        assert!(codes(&found.body).contains(&code), "{words}: {:?}", codes(&found.body));
        assert!(found.body.contains("<mark>"), "{words}");
    }
}

#[sqlx::test]
async fn a_letter_is_forgiven_within_a_hyphenated_word(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    lay(&app.app).await;
    let outside = "code: O-1 | what: half-seated blanket | worksite: W-B";
    made(&app.app, Kind::OutsideItem, outside).await;
    assert_eq!(codes(&app.get("/search?q=half-seated").await.body), ["O-1"]);
    let slip = app.get("/search?q=half-saeted").await;
    assert_eq!(codes(&slip.body), ["O-1"], "{}", slip.body);
    assert!(slip.body.contains("searched for “seated”"));
}
