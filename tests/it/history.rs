//! All attempts and deferrals, searched, with what stops work.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

#[sqlx::test]
async fn attempts_are_found_by_words_outcome_and_side_and_their_causes_counted(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
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
    for (code, rest) in [
        ("A-901", "side: nadir | outcome: not completed | cause: 3 | words: the wrist stops"),
        (
            "A-902",
            "side: zenith | outcome: not completed | cause: 17 | minutes: 20 | words: the clock stops",
        ),
    ] {
        let attempt =
            format!("code: {code} | task: T-3 | excursion: E-36.1 | technique: K-1 | {rest}");
        made(&app.app, Kind::Attempt, &attempt).await;
    }
    let row = |code: &str| format!("data-code=\"{code}\"");
    let all = app.get("/history").await.body;
    assert!(all.contains(&row("A-901")) && all.contains(&row("A-902")), "{all}");
    assert!(all.contains("reach too tight: 1, 50 %"), "{all}");
    let words = app.get("/history?q=wrist").await.body;
    assert!(words.contains(&row("A-901")) && !words.contains(&row("A-902")), "{words}");
    let both = app.get("/history?q=stops").await.body;
    let at = |page: &str, code: &str| page.find(&row(code)).expect("it is listed");
    assert!(at(&both, "A-902") < at(&both, "A-901"), "the newest first: {both}");
    assert!(at(&all, "A-902") < at(&all, "A-901") && both.contains("2 attempts"), "{both}");
    let narrowed = app.get("/history?q=stops&side=nadir").await.body;
    assert!(narrowed.contains(&row("A-901")) && !narrowed.contains(&row("A-902")), "{narrowed}");
    // A letter alone begins no word.
    let letter = app.get("/history?q=w").await.body;
    assert!(!letter.contains(&row("A-901")), "{letter}");
    let side = app.get("/history?side=zenith").await.body;
    assert!(side.contains(&row("A-902")) && !side.contains(&row("A-901")), "{side}");
    assert!(!all.contains("Record attempt"), "a viewer is not offered what they may not do");
}
