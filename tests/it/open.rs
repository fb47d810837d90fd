//! The backlog in pages: what is found, what stays out, and who may work on it.

use app::checks;
use domain::bounds::MAX_VIEWS;
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

async fn backlog(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    app
}

fn shows(body: &str, task: &str) -> bool {
    body.contains(&format!("<tr role=\"row\" data-row id=\"{task}\""))
}

#[sqlx::test]
async fn words_find_a_task_and_a_code_leads_to_it(db: SqlitePool) {
    let app = backlog(db, Role::Viewer).await;
    made(&app.app, Kind::Task, "code: T-7 | title: Grease the hinge | worksite: W-B").await;
    let found = app.get("/open?q=grease").await.body;
    assert!(shows(&found, "T-7") && !shows(&found, "T-3"), "{found}");
    let led = app.get("/open?q=T-7").await;
    assert_eq!((led.status.as_u16(), led.location.as_str()), (303, "/tasks/T-7"));
}

#[sqlx::test]
async fn what_matches_nothing_says_what_to_do_next(db: SqlitePool) {
    let app = backlog(db, Role::Viewer).await;
    let page = app.get("/open?q=nowhere+at+all").await;
    assert_eq!(page.status, 200);
    assert!(page.body.contains("Clear a filter."), "{}", page.body);
    assert!(!shows(&page.body, "T-3"));
}

#[sqlx::test]
async fn several_rows_are_dropped_together_with_a_reason_or_not_at_all(db: SqlitePool) {
    let app = backlog(db, Role::Lead).await;
    app.get("/open").await;
    let picked = [("pick", "T-3"), ("do", "drop"), ("back", "/open"), ("words", "")];
    let refused = app.post("/open/together", &picked).await;
    assert_eq!(refused.status, 422, "{}", refused.body);
    assert!(shows(&app.get("/open").await.body, "T-3"));
    let picked = [("pick", "T-3"), ("do", "drop"), ("back", "/open"), ("words", "moot by now")];
    assert_eq!(app.post("/open/together", &picked).await.status, 303);
    assert!(!shows(&app.get("/open").await.body, "T-3"));
    assert!(shows(&app.get("/open?state=dropped").await.body, "T-3"));
}

#[sqlx::test]
async fn a_parking_is_undone_from_its_confirmation(db: SqlitePool) {
    let app = backlog(db, Role::Lead).await;
    app.get("/parkings/new?task=T-3").await;
    let parked =
        app.post("/parkings/new", &[("task", "T-3"), ("why", "until the crane works")]).await;
    assert_eq!(parked.status, 303, "{}", parked.body);
    let page = app.get(&parked.location).await.body;
    let (_, rest) = page.split_once("action=\"/parkings/").expect(&page);
    let address = format!("/parkings/{}", rest.split('"').next().unwrap());
    assert!(shows(&app.get("/open?state=parked").await.body, "T-3"));

    let undone = app.post(&address, &[]).await;
    assert_eq!((undone.status.as_u16(), undone.location.as_str()), (303, "/tasks/T-3"));
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("Undone: T-3 is not parked."), "{page}");
    assert!(shows(&app.get("/open?state=open").await.body, "T-3"));
    // Once: what was undone is not undone again.
    let again = app.post(&address, &[]).await;
    assert_eq!(again.status, 409, "{}", again.body);
    assert!(again.body.contains("is undone already"), "{}", again.body);
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert!(report.faults.is_empty(), "{:?}", report.faults);
}

#[sqlx::test]
async fn several_parkings_are_undone_together_and_none_where_one_task_moved_on(db: SqlitePool) {
    let app = backlog(db, Role::Lead).await;
    made(&app.app, Kind::Task, "code: T-7 | title: Grease the hinge | worksite: W-B").await;
    let park =
        [("pick", "T-3"), ("pick", "T-7"), ("do", "park"), ("back", "/open"), ("why", "no crane")];
    app.get("/open").await;
    assert_eq!(app.post("/open/together", &park).await.status, 303);
    let page = app.get("/open").await.body;
    let (_, rest) = page.split_once("action=\"/parkings/").expect(&page);
    let address = format!("/parkings/{}", rest.split('"').next().unwrap());
    assert!(address.contains(','), "{address}");

    made(&app.app, Kind::Reopening, "task: T-7 | words: the crane works | share_left: 100").await;
    let refused = app.post(&address, &[]).await;
    assert_eq!(refused.status, 409);
    assert!(refused.body.contains("T-7 is not parked any more"), "{}", refused.body);
    assert!(shows(&app.get("/open?state=parked").await.body, "T-3"), "all or nothing");
}

#[sqlx::test]
async fn addresses_with_the_words_of_before_ask_the_same(db: SqlitePool) {
    let app = backlog(db, Role::Lead).await;
    let pairs = [
        ("/open?in_danger=yes", "/open?at_risk=yes"),
        ("/open?in_question=yes", "/open?questioned=yes"),
        ("/open?held=tool", "/open?waiting_for=tool"),
        ("/slots?gate=time", "/slots?check=time"),
    ];
    for (before, now) in pairs {
        let filters = |body: &str| {
            let from = body.find("class=\"active\"").unwrap_or_else(|| panic!("{now}: {body}"));
            body[from..].split("</div>").next().unwrap().to_owned()
        };
        let (before, now) = (app.get(before).await.body, app.get(now).await.body);
        assert_eq!(filters(&before), filters(&now));
    }
}

#[sqlx::test]
async fn a_viewer_is_offered_nothing_and_refused_all_the_same(db: SqlitePool) {
    let app = backlog(db, Role::Viewer).await;
    let page = app.get("/open").await.body;
    assert!(!page.contains("name=\"pick\"") && !page.contains("/tasks/new"), "{page}");
    let picked = [("pick", "T-3"), ("do", "drop"), ("back", "/open"), ("words", "moot")];
    assert_eq!(app.post("/open/together", &picked).await.status, 403);
}

#[sqlx::test]
async fn a_view_is_kept_under_a_name_and_is_nobody_elses(db: SqlitePool) {
    let app = backlog(db, Role::Engineer).await;
    app.get("/open").await;
    let kept = app.post("/open/views", &[("name", "Bay work"), ("query", "site=W-B")]).await;
    assert_eq!((kept.status.as_u16(), kept.location.as_str()), (303, "/open?site=W-B"));
    assert!(app.get("/open").await.body.contains("Bay work"));
    let other = app.another().signed_in(Role::Viewer).await;
    assert!(!other.get("/open").await.body.contains("Bay work"));
}

#[sqlx::test]
async fn a_way_back_with_a_line_break_leads_to_the_backlog(db: SqlitePool) {
    let app = backlog(db, Role::Lead).await;
    app.get("/open").await;
    let back = "/open?state=open\r\nset-cookie: a=b";
    let picked = [("pick", "T-3"), ("do", "drop"), ("back", back), ("words", "moot by now")];
    let reply = app.post("/open/together", &picked).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/open"));
    let page = app.get("/open").await.body;
    let notice = page.split("class=\"notice\"").nth(1).unwrap().split("</div>").next().unwrap();
    assert!(notice.contains("Dropped 1 task: T-3."), "{notice}");
}

#[sqlx::test]
async fn saved_views_have_their_bounds_and_one_saved_again_leaves_nothing_behind(db: SqlitePool) {
    let app = backlog(db, Role::Engineer).await;
    let keep = |name: String, query: String| {
        let app = &app;
        async move {
            // A form of its own each time.
            app.get("/open").await;
            app.post("/open/views", &[("name", &*name), ("query", &*query)]).await
        }
    };
    let refused = keep("long".to_owned(), format!("why={}", "x".repeat(5_000))).await;
    assert_eq!(refused.status, 422, "{}", refused.body);
    assert!(refused.body.contains("at most 4096"), "{}", refused.body);
    let refused = keep("words".to_owned(), format!("q={}", "x".repeat(500))).await;
    assert_eq!(refused.status, 422, "{}", refused.body);
    assert!(refused.body.contains("at most 400"), "{}", refused.body);
    for at in 0..MAX_VIEWS {
        assert_eq!(keep(format!("view {at}"), "site=W-B".to_owned()).await.status, 303);
    }
    let refused = keep("one more".to_owned(), "site=W-B".to_owned()).await;
    assert_eq!(refused.status, 409);
    assert!(refused.body.contains("50 saved views"), "{}", refused.body);
    // One of the same name takes the place of the one before, and the register names no other.
    assert_eq!(keep("view 3".to_owned(), "site=W-A".to_owned()).await.status, 303);
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert!(report.faults.is_empty(), "{:?}", report.faults);
}
