//! If–then over HTTP: the list of a slot is made, ordered, checked and undone, stands on the brief,
//! and the board offers the next of it.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{FLOWN, lay, made};
use crate::support::TestApp;

const LIST: &str = "/slots/S-1/if-then";
const DAY: &str = "/excursions/E-37.1/day";

/// The small record with two more techniques of the family, a lead signed in.
async fn with_techniques(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    for (code, tools) in [("K-2", ""), ("K-3", " | tools: L-2")] {
        if !tools.is_empty() {
            let tool = "code: L-2 | name: cutter | on_board: 0 | state: usable";
            made(&app.app, Kind::Tool, tool).await;
        }
        let text = format!(
            "code: {code} | name: way {code} | family: F-1 | state: cleared | sides: nadir \
             | optimistic: 10 | likely: 20 | pessimistic: 30 | seats: 1{tools}"
        );
        made(&app.app, Kind::Technique, &text).await;
        for crew in ["C-1", "C-2"] {
            let text = format!("crew: {crew} | technique: {code} | day: 2031-01-10 | place: tank");
            made(&app.app, Kind::Qualification, &text).await;
        }
    }
    app
}

/// Sends rows of approach, minutes, words and per cent, as the page stands.
async fn save(app: &TestApp, rows: &[[&str; 4]], button: &str) -> crate::support::Reply {
    let page = app.get(LIST).await;
    assert_eq!(page.status, 200, "{}", page.body);
    let mut fields = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        for (part, value) in ["approach", "after", "when", "needed"].iter().zip(row) {
            fields.push((format!("then-{at}-{part}"), (*value).to_owned()));
        }
    }
    fields.push(("row".to_owned(), button.to_owned()));
    let sent: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    app.post(LIST, &sent).await
}

async fn kept(app: &TestApp) -> String {
    use domain::cells::Cell as _;
    use store::Kept as _;
    let mut db = app.app.db.reader().await.unwrap();
    let slot = domain::slots::Slot::find(&mut db, "S-1").await.unwrap().unwrap();
    slot.fallbacks.show()
}

const K2: [&str; 4] = ["K-2 from nadir", "25", "or slips", "40"];
const LEAVE: [&str; 4] = ["leave as is", "15", "", "50"];

#[sqlx::test]
async fn a_list_is_made_ordered_shortened_and_undone(db: SqlitePool) {
    let app = with_techniques(db).await;
    let page = app.get(LIST).await.body;
    for said in ["Add a fallback", "K-1 from nadir: no attempt in the record", "leave as is"] {
        assert!(page.contains(said), "{said} is missing in {page}");
    }
    let reply = save(&app, &[K2, LEAVE], "").await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(reply.location, LIST, "it leads back to the list that was saved");
    let both = "K-2 from nadir, after 25 min, needed 40 %, when or slips; \
                leave as is, after 15 min, needed 50 %";
    assert_eq!(kept(&app).await, both);
    let page = app.get(LIST).await;
    assert!(page.body.contains("The if–then of T-1 is changed"), "{}", page.body);
    assert!(page.body.contains("with the list"), "the minutes are the mixture: {}", page.body);

    // Another approach goes before it, and the last one leaves.
    let k1 = ["K-1 from zenith", "20", "", "30"];
    save(&app, &[K2, k1, LEAVE], "up 1").await;
    assert!(kept(&app).await.starts_with("K-1 from zenith, after 20 min, needed 30 %; K-2"));
    save(&app, &[k1, K2, LEAVE], "remove 2").await;
    assert!(kept(&app).await.ends_with("when or slips"), "{}", kept(&app).await);

    // The way back is that of every change of slots.
    app.get("/excursions/E-37.1").await;
    let mut db = app.app.db.reader().await.unwrap();
    let now = app.app.clock.now();
    let last = app::slots::effect::last(&mut db, &"E-37.1".into(), now).await.unwrap().unwrap();
    drop(db);
    let reply = app.post(&format!("/excursions/E-37.1/undo/{}", last.number), &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(kept(&app).await.contains("leave as is"), "{}", kept(&app).await);
}

#[sqlx::test]
async fn what_is_wrong_with_a_list_is_said_and_nothing_typed_is_lost(db: SqlitePool) {
    let app = with_techniques(db).await;
    let wrong = save(&app, &[["K-2 from nadir", "soon", "", "140"], ["", "10", "", ""]], "").await;
    assert_eq!(wrong.status, 422);
    for said in ["“soon” is not a time", "from 0 to 100", "Choose an approach", "value=\"soon\""]
    {
        assert!(wrong.body.contains(said), "{said} is missing in {}", wrong.body);
    }
    let reply = save(&app, &[LEAVE, K2], "").await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("Nothing follows “leave as is”"), "{}", reply.body);
    for (approach, said) in [("K-77", "There is no technique K-77"), ("K-9", "K-9 is not for T-1")]
    {
        if approach == "K-9" {
            made(&app.app, Kind::Family, "code: F-2 | name: pump").await;
            let other = "code: K-9 | name: other | family: F-2 | state: cleared | sides: nadir";
            made(&app.app, Kind::Technique, other).await;
        }
        let reply = save(&app, &[[approach, "10", "", ""]], "").await;
        assert_eq!(reply.status, 422, "{}", reply.body);
        assert!(reply.body.contains(said), "{said} is missing in {}", reply.body);
    }
    assert_eq!(kept(&app).await, "");

    // Two people: the second one’s form is on an older version, and overwrites nothing.
    let other = app.another();
    other.sign_in("lead").await;
    other.get(LIST).await;
    save(&app, &[K2], "").await;
    let fields = [("then-0-approach", "leave as is"), ("then-0-after", "5")];
    let reply = other.post(LIST, &fields).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(kept(&app).await.starts_with("K-2"));
}

#[sqlx::test]
async fn every_approach_of_the_list_is_checked(db: SqlitePool) {
    let app = with_techniques(db).await;
    // The cutter that K-3 needs is not aboard.
    let k3 = ["K-3 from nadir", "25", "", "20"];
    let reply = save(&app, &[K2, k3], "").await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("Fallback"), "{}", reply.body);
    assert!(reply.body.contains("L-2"), "it names the tool: {}", reply.body);
    assert!(reply.body.contains("value=\"or slips\""), "what was typed stays: {}", reply.body);
    assert_eq!(kept(&app).await, "");
    let reply = save(&app, &[K2], "").await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    // A viewer reads it and changes nothing.
    let viewer = app.another().signed_in(Role::Viewer).await;
    let page = viewer.get(LIST).await;
    assert!(page.body.contains("K-2 from nadir after 25 min"), "{}", page.body);
    assert!(!page.body.contains("then-0-approach"), "{}", page.body);
    let sent = [("then-0-approach", "leave as is"), ("then-0-after", "5")];
    assert_eq!(viewer.post(LIST, &sent).await.status, 403);
}

#[sqlx::test]
async fn the_list_stands_on_the_brief_the_excursion_and_in_the_changes(db: SqlitePool) {
    let app = with_techniques(db).await;
    save(&app, &[K2, LEAVE], "").await;
    let brief = app.get("/excursions/E-37.1/brief").await.body;
    let first = brief.find("1. After 25 min, or when or slips: ").expect(&brief);
    let second = brief.find("2. After 15 min: ").expect(&brief);
    assert!(first < second);
    let page = app.get("/excursions/E-37.1").await.body;
    assert!(page.contains("1. K-2 from nadir after 25 min"), "{page}");
    let changes = app.get("/changes").await.body;
    assert!(changes.contains("Fallbacks") || changes.contains("fallbacks"), "{changes}");
}

async fn press(app: &TestApp, key: &str, what: &str, more: &[(&str, &str)]) -> u16 {
    app.get(DAY).await;
    let mut fields = vec![("key", key), ("press", what)];
    fields.extend_from_slice(more);
    let reply = app.post(&format!("{DAY}/press"), &fields).await;
    assert!(reply.status == 200 || reply.status == 409 || reply.status == 422, "{}", reply.body);
    reply.status.as_u16()
}

#[sqlx::test]
async fn the_board_offers_the_next_fallback_and_counts_the_one_that_was_taken(db: SqlitePool) {
    let app = with_techniques(db).await;
    save(&app, &[K2, LEAVE], "").await;
    app.wait_until(FLOWN, "lead").await;
    press(&app, "e", "egress", &[]).await;
    app.wait_minutes(60);
    press(&app, "s", "started S-1", &[("pet", "0:40")]).await;
    let page = app.get(DAY).await.body;
    assert!(!page.contains("Use K-2"), "its 25 minutes have not passed: {page}");
    app.wait_minutes(6);
    let page = app.get(DAY).await.body;
    assert!(
        page.contains("Use K-2 from nadir") && page.contains("name=\"step\" value=\"1\""),
        "{page}"
    );

    app.wait_minutes(10);
    assert_eq!(press(&app, "f", "fallback used S-1", &[("step", "1"), ("pet", "1:16")]).await, 200);
    let page = app.get(DAY).await.body;
    assert!(page.contains("fallback K-2 from nadir since 1:16"), "{page}");
    assert!(page.contains("36 min went before it and count as late"), "{page}");
    assert!(!page.contains("Use K-2"), "{page}");
    // By hand: the list takes 0.6 · 31 + 0.4 · (25 + 0.5 · 20 + 0.5 · 15) = 36 min of work; now it
    // takes 36 and 15 to 20 more.
    let late = page.split("class=\"lateness late\"").nth(1).expect(&page);
    assert!(late.split("</span>").next().unwrap().contains("min late"), "{late}");

    // The second one leaves the work: it is told and not pressed.
    app.wait_minutes(16);
    let page = app.get(DAY).await.body;
    assert!(page.contains("leave as is. Press how the task ended"), "{page}");
    assert_eq!(press(&app, "g", "fallback used S-1", &[("step", "2")]).await, 409);
    assert_eq!(press(&app, "h", "fallback used S-1", &[("step", "3")]).await, 422);

    // Undone, the first is offered again.
    press(&app, "u", "undo", &[("undoes", "f")]).await;
    assert!(app.get(DAY).await.body.contains("Use K-2 from nadir"));
    // And taken up for good, it stands in the debrief.
    press(&app, "f2", "fallback used S-1", &[("step", "1"), ("pet", "1:17")]).await;
    press(&app, "d", "done S-1", &[("pet", "1:31")]).await;
    let mut db = app.app.db.reader().await.unwrap();
    let presses = store::day::presses(&mut db, &"E-37.1".into(), None).await.unwrap();
    let slots = store::slots::of_excursion(&mut db, &"E-37.1".into()).await.unwrap();
    let filled = app::day::prefilled(&presses, &slots, None);
    assert_eq!(filled[&"S-1".into()].get("technique"), "K-2");
}
