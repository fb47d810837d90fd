//! What holds for every page: who may pass, what comes with the answer, what is refused, and that
//! nothing typed is lost.

use app::config::Config;
use app::demo;
use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{NOW, TestApp};

/// What answers whoever asks. A feed has a secret of its own in its address.
const OPEN: [&str; 7] = [
    "/feeds/{secret}/calendar.ics",
    "/feeds/{secret}/changes.atom",
    "/healthz",
    "/readyz",
    "/sign-in",
    "/static/{name}",
    "/welcome/{link}",
];

/// Every other address, the variable parts filled with something.
fn guarded() -> Vec<String> {
    let all = web::addresses_answered();
    for open in OPEN {
        assert!(all.iter().any(|path| path == open), "{open} is not there any more");
    }
    let guarded = all.iter().filter(|path| !OPEN.contains(&path.as_str()));
    let found: Vec<String> = guarded.map(|path| path.replace(['{', '}'], "")).collect();
    assert!(found.len() > 100, "{found:?}");
    found
}

#[sqlx::test]
async fn every_address_but_the_open_ones_asks_for_a_sign_in(db: SqlitePool) {
    let app = TestApp::new(db).await;
    for path in guarded() {
        for method in ["GET", "POST"] {
            let request = Request::builder().method(method).uri(&path).body(Body::empty()).unwrap();
            let reply = app.send(request).await;
            let led_away = reply.status == 303 && reply.location.starts_with("/sign-in");
            assert!(led_away || reply.status == 405, "{method} {path}: {}", reply.status);
        }
    }
}

#[sqlx::test]
async fn no_address_that_is_only_read_changes_the_record(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Administrator).await;
    let count = async || {
        let mut db = app.app.db.reader().await.unwrap();
        store::changes::last(&mut db).await.unwrap()
    };
    let before = count().await;
    let mut asked = 0;
    for route in web::addresses_answered() {
        // Codes that are there, so that whatever would act has something to act on.
        let mut path = route.clone();
        for (folder, code) in [
            ("/attempts/{code}", "/attempts/A-0101"),
            ("/constraints/{code}", "/constraints/CN-001"),
            ("/excursions/{code}", "/excursions/E-37.1"),
            ("/findings/{code}", "/findings/N-101"),
            ("/flights/{code}", "/flights/G-37"),
            ("/inhibits/{code}", "/inhibits/I-01"),
            ("/outside/{code}", "/outside/O-07"),
            ("/remedies/{code}", "/remedies/R-101"),
            ("/tasks/{code}", "/tasks/T-0142"),
        ] {
            path = path.replace(folder, code);
        }
        for method in ["GET", "HEAD"] {
            let path = path.replace(['{', '}'], "");
            let request = Request::builder().method(method).uri(&path).body(Body::empty()).unwrap();
            let reply = app.send(request).await;
            assert!(reply.status != 500, "{method} {path}");
            asked += 1;
        }
    }
    assert!(asked > 200, "{asked}");
    assert_eq!(count().await, before);
}

#[sqlx::test]
async fn a_field_for_a_password_never_shows_it(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let page = app.get("/sign-in").await.body;
    let mut found = Vec::new();
    let app = app.signed_in(Role::Administrator).await;
    for page in [page, app.get("/account").await.body, app.get("/people").await.body] {
        for input in page.split("<input").skip(1) {
            let input = input.split('>').next().unwrap().to_owned();
            let is_one = |name| input.contains(&format!(" name=\"{name}\""));
            if ["password", "current", "new"].into_iter().any(is_one) {
                assert!(input.contains("type=\"password\""), "{input}");
                found.push(input);
            }
        }
    }
    assert!(found.len() >= 3, "one to sign in, the old and the new one: {found:?}");
}

#[sqlx::test]
async fn every_answer_carries_the_headers_that_keep_a_browser_from_harm(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    let mut paths = guarded();
    paths.extend(
        ["/sign-in", "/healthz", "/readyz", "/no/such/page", "/static/no-such-file", "/people?%ff"]
            .map(str::to_owned),
    );
    let stranger = app.another();
    for path in paths {
        for browser in [&app, &stranger] {
            let reply = browser.get(&path).await;
            let header = |name| reply.header(name);
            assert_eq!(header("content-security-policy"), web::POLICY, "{path}");
            assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
            assert_eq!(header("referrer-policy"), "same-origin", "{path}");
            assert_eq!(header("cross-origin-opener-policy"), "same-origin", "{path}");
            assert_eq!(header("cross-origin-resource-policy"), "same-origin", "{path}");
            assert!(header("permissions-policy").contains("geolocation=()"), "{path}");
            assert_eq!(header("cache-control"), "no-store", "{path}");
            assert!(!header("x-request-id").is_empty(), "{path}");
            assert_eq!(header("access-control-allow-origin"), "", "{path}");
            if reply.is_html() {
                assert_eq!(header("content-type"), "text/html; charset=utf-8");
                // A paper as one file is saved and never shown; its style stands within it.
                if !header("content-disposition").starts_with("attachment") {
                    assert_no_inline(&path, &reply.body);
                }
            }
        }
    }
}

/// The policy forbids inline style and script; nothing of the kind may stand in a page.
fn assert_no_inline(path: &str, body: &str) {
    let markup = body.to_lowercase();
    for tag in markup.split('<').skip(1).filter_map(|rest| rest.split('>').next()) {
        assert!(!tag.contains(" style="), "{path}: {tag}");
        assert!(!tag.starts_with("style"), "{path}: {tag}");
        assert!(!tag.starts_with("script") || tag.contains(" src=\"/static/"), "{path}: {tag}");
        assert!(!tag.contains(" onclick=") && !tag.contains(" onload="), "{path}: {tag}");
        assert!(!tag.contains("javascript:"), "{path}: {tag}");
    }
    assert!(!markup.contains("http://") && !markup.contains("https://"), "{path}: another host");
}

#[sqlx::test]
async fn a_file_may_be_kept_for_ever_and_a_page_never(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let css = app.get(web::assets::APP_CSS).await;
    assert_eq!(css.status, 200);
    assert_eq!(css.header("cache-control"), "public, max-age=31536000, immutable");
    assert_eq!(css.header("content-type"), "text/css; charset=utf-8");
}

#[sqlx::test]
async fn a_fault_of_ours_is_one_calm_page_that_gives_nothing_away(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.app.db.clone().close().await;
    let reply = app.get("/people").await;
    assert_eq!(reply.status, 500);
    assert!(reply.body.contains("Something went wrong on our side"));
    assert!(reply.body.contains(reply.header("x-request-id")));
    assert_eq!(reply.header("content-security-policy"), web::POLICY);
    for leak in ["pool", "sqlx", "SELECT", "src/"] {
        assert!(!reply.body.contains(leak), "{leak}");
    }
    assert_eq!(app.get("/healthz").await.status, 200);
    let ready = app.get("/readyz").await;
    assert_eq!((ready.status.as_u16(), &*ready.body), (503, "not ready; the log says why\n"));
}

#[sqlx::test]
async fn the_service_is_ready_when_its_database_takes_a_write(db: SqlitePool) {
    let app = TestApp::new(db).await;
    assert_eq!(app.get("/readyz").await.status, 200);
}

#[sqlx::test]
async fn a_missing_page_is_ours_whoever_asks(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let reply = app.get("/no/such/page").await;
    assert_eq!(reply.status, 404);
    assert!(reply.body.contains("There is no such page") && reply.body.contains("/sign-out"));
    let reply = app.another().get("/no/such/page").await;
    assert!(reply.status == 404 && !reply.body.contains("/sign-out"));
    let reply = app.get("/account/theme").await;
    assert!(reply.status == 405 && reply.body.contains("does not accept this request"));
    assert_eq!(reply.header("allow"), "POST");
}

#[sqlx::test]
async fn a_form_without_the_token_of_its_session_is_not_taken_and_not_lost(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    let other = app.another();
    other.person("marit", Role::Administrator).await;
    other.sign_in("marit").await;
    other.get("/people").await;
    let foreign = other.hidden("/people")[0].1.clone();
    for csrf in ["", "0000", foreign.as_str()] {
        app.get("/people").await;
        let fields = [("csrf", csrf), ("name", "eve of the <north>"), ("role", "lead")];
        let reply = app.post("/people", &fields).await;
        assert_eq!(reply.status, 403, "{csrf}");
        assert!(reply.body.contains("value=\"eve of the &#60;north&#62;\""), "{}", reply.body);
        assert!(!app.get("/people").await.body.contains("eve"));
    }
    // What stands on the refused page can be sent from there.
    app.get("/people").await;
    app.post("/people", &[("csrf", ""), ("name", "ebba"), ("role", "lead")]).await;
    let reply = app.post("/people", &[("name", "ebba"), ("role", "lead")]).await;
    assert_eq!(reply.status, 200);
}

#[sqlx::test]
async fn a_form_from_another_site_is_refused_even_with_the_token(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    app.get("/account").await;
    let csrf = app.hidden("/account/theme")[0].1.clone();
    let send = |name: &'static str, value: &'static str| {
        Request::post("/account/theme")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header(header::HOST, "holdover.example")
            .header(name, value)
            .body(Body::from(format!("csrf={csrf}&theme=night")))
            .unwrap()
    };
    for request in [
        send("sec-fetch-site", "cross-site"),
        send("sec-fetch-site", "same-site"),
        send("origin", "http://elsewhere.example"),
    ] {
        let reply = app.send(request).await;
        assert!(reply.status == 403 && reply.body.contains("came from somewhere else"));
    }
    assert_eq!(app.send(send("origin", "http://holdover.example")).await.status, 303);
}

#[sqlx::test]
async fn a_sign_in_form_is_bound_to_its_browser(db: SqlitePool) {
    let app = TestApp::new(db).await;
    app.person("marit", Role::Viewer).await;
    app.get("/sign-in").await;
    let form = app.hidden("/sign-in");
    let planted = app.another();
    let mut fields = form.clone();
    fields.push(("name".into(), "marit".into()));
    fields.push(("password".into(), crate::support::password_of("marit")));
    let reply = planted.post_only("/sign-in", &fields).await;
    assert_eq!(reply.status, 403);
    assert!(reply.body.contains("value=\"marit\""));
    assert!(planted.cookie("holdover-session").is_none());
}

#[sqlx::test]
async fn a_form_sent_after_the_session_ended_comes_back_after_the_sign_in(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let key = app.hidden("/people").into_iter().find(|(name, _)| name == "form_key").unwrap().1;
    app.wait_minutes(61);
    let reply = app.post("/people", &[("name", "märit\nof two lines"), ("role", "lead")]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/sign-in?next=%2Fheld"));
    assert!(app.get(&reply.location).await.body.contains("what you sent was kept"));

    // Somebody else at the same browser does not see it.
    app.person("marit", Role::Lead).await;
    let stranger = app.another();
    stranger.set_cookie("holdover-held", &app.cookie("holdover-held").unwrap());
    stranger.sign_in("marit").await;
    assert_eq!(stranger.get("/held").await.location, "/");

    let right = crate::support::password_of("administrator");
    let reply = app.post("/sign-in", &[("name", "administrator"), ("password", &right)]).await;
    assert_eq!(reply.location, "/held");
    let page = app.get("/held").await;
    assert!(page.body.contains("This form was held"));
    assert!(page.body.contains("märit\nof two lines</textarea>"), "{}", page.body);
    assert!(page.body.contains(&key), "the key stays, so that it counts once");
    assert!(app.get("/held").await.body.contains("märit"), "it is still there on a second look");

    let reply = app.post("/people", &[("name", "märit"), ("role", "lead")]).await;
    assert_eq!(reply.status, 200);
    assert!(reply.body.contains("märit"));
    assert_eq!(app.get("/held").await.location, "/", "taken, so it is gone");
    assert!(app.cookie("holdover-held").is_none());
}

#[sqlx::test]
async fn a_held_form_keeps_no_password_and_can_be_thrown_away(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    app.get("/account").await;
    app.wait_minutes(61);
    let fields = [("current", "secret one"), ("new", "secret two"), ("theme", "night")];
    app.post("/account/password", &fields).await;
    app.sign_in("viewer").await;
    let page = app.get("/held").await;
    assert!(page.body.contains("night") && !page.body.contains("secret"));
    app.post("/held/discard", &[]).await;
    assert_eq!(app.get("/held").await.location, "/");
}

#[sqlx::test]
async fn a_script_whose_session_ended_is_told_so(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let request = Request::post("/account/theme")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin")
        .header("sec-fetch-mode", "cors")
        .body(Body::from("theme=night"))
        .unwrap();
    assert_eq!(app.send(request).await.status, 401);
}

#[sqlx::test]
async fn a_body_beyond_the_limit_is_refused_with_its_length_said_or_not(db: SqlitePool) {
    let config = Config { form_limit: 10_000, ..Config::default() };
    let app = TestApp::with(db, config).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let csrf = app.hidden("/people")[0].1.clone();
    let form = |length: usize| format!("csrf={csrf}&role=lead&name={}", "n".repeat(length));
    let post = || {
        Request::post("/people")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
    };
    let said =
        post().header(header::CONTENT_LENGTH, 10_500).body(Body::from(form(10_500))).unwrap();
    let unsaid = post()
        .body(Body::from_stream(futures_util::stream::iter(
            form(10_500)
                .into_bytes()
                .chunks(1_000)
                .map(<[u8]>::to_vec)
                .map(Ok::<_, std::io::Error>)
                .collect::<Vec<_>>(),
        )))
        .unwrap();
    for request in [said, unsaid] {
        let reply = app.send(request).await;
        assert_eq!(reply.status, StatusCode::PAYLOAD_TOO_LARGE);
        assert!(reply.body.contains("Too much was sent at once"));
        assert!(reply.body.contains("reads at most 10 kB at once"), "{}", reply.body);
    }
    let within = post().body(Body::from(form(5_000))).unwrap();
    assert_eq!(app.send(within).await.status, 422, "read whole, and the name is too long");
}

#[sqlx::test]
async fn cookies_are_ours_alone_and_over_tls_where_there_is_tls(db: SqlitePool) {
    let config = Config { secure_cookies: true, ..Config::default() };
    let app = TestApp::with(db, config).await;
    let reply = app.get("/sign-in").await;
    let cookie = reply.header("set-cookie");
    assert!(cookie.starts_with("__Host-holdover-visit="), "{cookie}");
    for part in ["HttpOnly", "SameSite=Lax", "Secure", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("Domain"));
    assert!(reply.header("strict-transport-security").contains("max-age=31536000"));
    app.person("marit", Role::Viewer).await;
    app.sign_in("marit").await;
    let token = app.cookie("__Host-holdover-session").unwrap();
    let page = app.get("/account").await;
    assert!(page.status == 200 && !page.body.contains(&token));
}

#[sqlx::test]
async fn the_way_back_after_a_sign_in_never_leads_elsewhere(db: SqlitePool) {
    let app = TestApp::new(db).await;
    app.person("marit", Role::Viewer).await;
    let right = crate::support::password_of("marit");
    for next in
        ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "/sign-out"]
    {
        let browser = app.another();
        browser.get("/sign-in").await;
        let fields = [("name", "marit"), ("password", right.as_str()), ("next", next)];
        assert_eq!(browser.post("/sign-in", &fields).await.location, "/", "{next}");
    }
}

#[sqlx::test]
async fn a_form_that_was_taken_is_never_said_to_be_lost_when_it_is_sent_again(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    app.get("/tools/new").await;
    let mut form = app.hidden("/tools/new");
    form.push(("name".into(), "Short hook".into()));
    let taken = app.post_only("/tools/new", &form).await;
    assert_eq!(taken.status, 303, "{}", taken.body);
    // Twice in one session.
    let again = app.post_only("/tools/new", &form).await;
    assert_eq!(again.location, taken.location);
    assert!(app.get(&again.location).await.body.contains("sent and saved before"));
    // By “back”, after the session has ended.
    app.wait_minutes(61);
    let ended = app.post_only("/tools/new", &form).await;
    assert!(ended.location.starts_with("/sign-in?next=%2Ftools%2F"), "{}", ended.location);
    // By “back”, in a session of its own.
    app.sign_in("engineer").await;
    let other = app.post_only("/tools/new", &form).await;
    assert_eq!((other.status.as_u16(), &other.location), (303, &taken.location), "{}", other.body);
    let page = app.get(&other.location).await.body;
    assert!(
        page.contains("sent and saved before") && !page.contains("nothing was changed"),
        "{page}"
    );
    // One that was not taken is still shown again.
    let fresh: Vec<_> = form
        .into_iter()
        .map(
            |(name, value)| if name == "form_key" { (name, "other".into()) } else { (name, value) },
        )
        .collect();
    assert_eq!(app.post_only("/tools/new", &fresh).await.status, 403);
}

#[sqlx::test]
async fn a_refused_form_stands_under_the_labels_of_its_page(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    app.get("/tools/new").await;
    let fields = [("name", "Hook"), ("on_board", "2"), ("state", "usable")];
    let typed: Vec<(String, String)> =
        fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
    let stale = app.post_only("/tools/new", &typed).await;
    assert_eq!(stale.status, 403);
    assert!(stale.body.contains(">Count aboard</label>"), "{}", stale.body);
    assert!(stale.body.contains("<select id=\"held-2\" name=\"state\""), "{}", stale.body);
    assert!(!stale.body.contains("On board</label>"), "{}", stale.body);
}
