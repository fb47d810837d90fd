//! Signing in and out, sessions, people.

use app::Actor;
use app::config::Config;
use domain::words::Role;
use sqlx::SqlitePool;
use store::changes;

use crate::support::{TestApp, password_of};

const WRONG: [(&str, &str); 2] = [("name", "marit"), ("password", "wet gloves, wrong line")];

#[sqlx::test]
async fn nobody_sees_a_page_before_signing_in_and_everybody_does_after(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let reply = app.get("/account?x=1").await;
    assert_eq!(reply.status, 303);
    assert_eq!(reply.location, "/sign-in?next=%2Faccount%3Fx%3D1");

    app.person("marit", Role::Engineer).await;
    app.get(&reply.location).await;
    let right = password_of("marit");
    let reply = app.post("/sign-in", &[("name", "Marit"), ("password", &right)]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/account?x=1"));

    let page = app.get("/account").await;
    assert_eq!(page.status, 200);
    assert!(page.body.contains("marit, engineer"));
}

#[sqlx::test]
async fn a_wrong_password_keeps_the_name_and_says_no_more_than_an_unknown_name(db: SqlitePool) {
    let app = TestApp::new(db).await;
    app.person("marit", Role::Engineer).await;
    app.get("/sign-in").await;
    let wrong = app.post("/sign-in", &WRONG).await;
    assert_eq!(wrong.status, 401);
    assert!(wrong.body.contains("value=\"marit\""));
    assert!(!wrong.body.contains("wrong line"), "a password never comes back");

    let unknown = app.post("/sign-in", &[("name", "nobody"), WRONG[1]]).await;
    assert_eq!(unknown.status, 401);
    assert_eq!(unknown.body.replace("nobody", "marit"), wrong.body);
}

#[sqlx::test]
async fn wrong_passwords_make_one_wait_longer_and_longer_but_not_a_colleague(db: SqlitePool) {
    let app = TestApp::new(db).await;
    app.person("marit", Role::Engineer).await;
    app.get("/sign-in").await;
    for _ in 0..5 {
        assert_eq!(app.post("/sign-in", &WRONG).await.status, 401);
    }
    let right = password_of("marit");
    let early = app.post("/sign-in", &[("name", "marit"), ("password", &right)]).await;
    assert_eq!(early.status, 429, "even the right password waits");
    assert_eq!(early.header("retry-after"), "1");

    let mut colleague = app.another();
    colleague.address.set_ip([192, 0, 2, 9].into());
    colleague.sign_in("marit").await;

    app.wait_minutes(1);
    assert_eq!(app.post("/sign-in", &WRONG).await.status, 401);
    let again = app.post("/sign-in", &WRONG).await;
    assert_eq!((again.status.as_u16(), again.header("retry-after")), (429, "2"));
    app.wait_minutes(1);
    app.sign_in("marit").await;
}

#[sqlx::test]
async fn a_session_ends_an_hour_after_its_last_use_and_a_day_after_it_began(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    for _ in 0..24 {
        app.wait_minutes(59);
        assert_eq!(app.get("/account").await.status, 200);
    }
    app.wait_minutes(25);
    assert_eq!(app.get("/account").await.status, 303, "a day is over");

    app.sign_in("viewer").await;
    app.wait_minutes(61);
    assert_eq!(app.get("/account").await.status, 303, "an hour without use");
}

#[sqlx::test]
async fn a_token_is_of_no_use_after_the_next_sign_in_nor_after_signing_out(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let first = app.cookie("holdover-session").unwrap();
    let visitor = app.another();
    visitor.person("marit", Role::Viewer).await;
    visitor.set_cookie("holdover-session", &first);
    assert_eq!(visitor.get("/account").await.status, 200, "the token itself is what counts");

    // The old cookie is still sent with the next sign-in, as a planted one would be.
    let other = app.another();
    other.get("/sign-in").await;
    other.set_cookie("holdover-session", &first);
    let right = password_of("viewer");
    other.post("/sign-in", &[("name", "viewer"), ("password", &right)]).await;
    let second = other.cookie("holdover-session").unwrap();
    assert_ne!(first, second);
    assert_eq!(visitor.get("/account").await.status, 303, "the first token has ended");

    other.get("/account").await;
    assert_eq!(other.post("/sign-out", &[]).await.location, "/sign-in");
    other.set_cookie("holdover-session", &second);
    assert_eq!(other.get("/account").await.status, 303);
}

#[sqlx::test]
async fn a_person_has_ten_sessions_and_the_one_begun_first_goes(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let mut browsers = Vec::new();
    for _ in 0..10 {
        app.wait_minutes(1);
        let browser = app.another();
        browser.sign_in("viewer").await;
        browsers.push(browser);
    }
    assert_eq!(app.get("/account").await.status, 303);
    assert_eq!(browsers[0].get("/account").await.status, 200);
}

#[sqlx::test]
async fn a_person_sees_their_sessions_and_ends_any(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let other = app.another();
    other.sign_in("viewer").await;
    let stranger = app.another().signed_in(Role::Lead).await;

    let page = app.get("/account").await;
    assert_eq!(page.body.matches("name=\"session\"").count(), 1);
    let session = app.hidden("/account/sessions/end");
    let session = session.iter().find(|(name, _)| name == "session").unwrap().1.clone();
    stranger.get("/account").await;
    stranger.post("/account/sessions/end", &[("session", &session)]).await;
    assert_eq!(other.get("/account").await.status, 200, "nobody ends another person's session");

    app.post("/account/sessions/end", &[]).await;
    assert_eq!(other.get("/account").await.status, 303);
}

#[sqlx::test]
async fn a_new_password_needs_the_current_one_and_ends_the_other_sessions(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let other = app.another();
    other.sign_in("viewer").await;
    let fresh = "seven gulls over the breakwater";
    let current = password_of("viewer");

    app.get("/account").await;
    let wrong = [("current", "not the one in use"), ("new", fresh), ("again", fresh)];
    let reply = app.post("/account/password", &wrong).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("not your current password"));
    let short = [("current", current.as_str()), ("new", "short"), ("again", "short")];
    let reply = app.post("/account/password", &short).await;
    assert!(reply.status == 422 && reply.body.contains("at least 15 characters"));
    let reply = app
        .post("/account/password", &[("current", &current), ("new", fresh), ("again", "seven")])
        .await;
    assert!(reply.status == 422 && reply.body.contains("not the same"));

    let right = [("current", current.as_str()), ("new", fresh), ("again", fresh)];
    let reply = app.post("/account/password", &right).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/account"));
    assert!(app.get("/account").await.body.contains("Your password is changed"));
    assert!(!app.get("/account").await.body.contains("Your password is changed"), "said once");
    assert_eq!(other.get("/account").await.status, 303);
    app.another().get("/sign-in").await;
    let visitor = app.another();
    visitor.get("/sign-in").await;
    let reply = visitor.post("/sign-in", &[("name", "viewer"), ("password", fresh)]).await;
    assert_eq!(reply.status, 303);
}

#[sqlx::test]
async fn a_theme_stays_with_its_person(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    app.get("/account").await;
    app.post("/account/theme", &[("theme", "night")]).await;
    assert!(app.get("/account").await.body.contains("data-theme=\"night\""));
    let reply = app.post("/account/theme", &[("theme", "neon")]).await;
    assert_eq!(reply.status, 422);
}

#[sqlx::test]
async fn only_an_administrator_manages_people(db: SqlitePool) {
    let app = TestApp::new(db).await;
    for role in [Role::Viewer, Role::Engineer, Role::Lead] {
        let browser = app.another().signed_in(role).await;
        assert_eq!(browser.get("/people").await.status, 403, "{role}");
        browser.get("/account").await;
        let reply = browser.post("/people", &[("name", "eve"), ("role", "administrator")]).await;
        assert_eq!(reply.status, 403, "{role}");
    }
    let administrator = app.another().signed_in(Role::Administrator).await;
    assert!(!administrator.get("/people").await.body.contains("eve"));
}

#[sqlx::test]
async fn a_role_and_switching_off_count_from_the_next_request(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    let marit = app.another();
    marit.person("marit", Role::Administrator).await;
    marit.sign_in("marit").await;
    assert_eq!(marit.get("/people").await.status, 200);

    app.get("/people").await;
    app.post("/people/marit/role", &[("role", "viewer")]).await;
    assert_eq!(marit.get("/people").await.status, 403);

    app.get("/people").await;
    app.post("/people/marit/active", &[("active", "no")]).await;
    assert_eq!(marit.get("/account").await.status, 303);
    marit.get("/sign-in").await;
    let right = password_of("marit");
    let reply = marit.post("/sign-in", &[("name", "marit"), ("password", &right)]).await;
    assert_eq!(reply.status, 401);
}

#[sqlx::test]
async fn the_last_administrator_stays_one(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let reply = app.post("/people/administrator/role", &[("role", "viewer")]).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("last administrator"));
    app.get("/people").await;
    let reply = app.post("/people/administrator/active", &[("active", "no")]).await;
    assert_eq!(reply.status, 409);
}

#[sqlx::test]
async fn a_person_added_chooses_a_password_by_a_link_that_works_once(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let reply = app.post("/people", &[("name", "marit"), ("role", "lead")]).await;
    assert_eq!(reply.status, 200);
    let link = link_in(&reply.body);
    assert!(!app.get("/people").await.body.contains(&link), "shown once");

    let marit = app.another();
    let page = marit.get(&link).await;
    assert!(page.status == 200 && page.body.contains("Choose a password, marit"));
    let reply = marit
        .post(&link, &[("password", "marit marit marit"), ("again", "marit marit marit")])
        .await;
    assert!(reply.status == 422 && reply.body.contains("can be guessed"));
    let fresh = "seven gulls over the breakwater";
    let reply = marit.post(&link, &[("password", fresh), ("again", fresh)]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/"));
    assert!(marit.get("/account").await.body.contains("marit, lead"));
    assert_eq!(app.another().get(&link).await.status, 410);
}

#[sqlx::test]
async fn a_link_for_a_new_password_holds_for_a_day_and_the_old_one_until_then(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.person("marit", Role::Lead).await;
    app.get("/people").await;
    let first = link_in(&app.post("/people/marit/reset", &[]).await.body);
    app.get("/people").await;
    let link = link_in(&app.post("/people/marit/reset", &[]).await.body);
    assert_eq!(app.another().get(&first).await.status, 410, "a newer link voids the older");
    app.another().sign_in("marit").await;
    assert_eq!(app.another().get(&link).await.status, 200);
    app.wait_minutes(24 * 60);
    assert_eq!(app.another().get(&link).await.status, 410);
}

#[sqlx::test]
async fn the_first_administrator_comes_by_a_link_and_only_while_there_is_nobody(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let link = app::people::first_link(&app.app).await.unwrap();
    let address = format!("/welcome/{}", link.show());
    assert!(app.get(&address).await.body.contains("Add the first administrator"));
    let fresh = "seven gulls over the breakwater";
    let reply =
        app.post(&address, &[("name", "marit"), ("password", fresh), ("again", fresh)]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(app.get("/people").await.status, 200);

    let late = app::people::first_link(&app.app).await.unwrap();
    assert_eq!(app.another().get(&format!("/welcome/{}", late.show())).await.status, 410);
}

#[sqlx::test]
async fn the_same_form_twice_counts_once(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let mut form = app.hidden("/people");
    form.extend([("name".into(), "marit".into()), ("role".into(), "lead".into())]);
    let (one, other) =
        tokio::join!(app.post_only("/people", &form), app.post_only("/people", &form));
    let mut statuses = [one.status.as_u16(), other.status.as_u16()];
    statuses.sort_unstable();
    assert_eq!(statuses, [200, 303], "one is taken, the other led to where it went");
    let page = app.get("/people").await;
    assert_eq!(page.body.matches("<th scope=\"row\">marit</th>").count(), 1);
}

#[sqlx::test]
async fn what_is_done_to_people_is_in_the_change_log_and_no_secret_is(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let link = link_in(&app.post("/people", &[("name", "marit"), ("role", "lead")]).await.body);
    app.get("/people").await;
    app.post("/people/marit/role", &[("role", "viewer")]).await;
    app.get("/people").await;
    app.post("/people/marit/active", &[("active", "no")]).await;
    let mut reader = app.app.db.reader().await.unwrap();
    let log = changes::since(&mut reader, 0, 100).await.unwrap();
    let told: Vec<String> =
        log.iter().map(|entry| format!("{}: {} {}", entry.who, entry.code, entry.action)).collect();
    assert_eq!(
        told,
        [
            "shell: administrator added",
            "administrator: marit added",
            "administrator: marit role changed",
            "administrator: marit switched off"
        ]
    );
    let all = format!("{log:?}");
    let token = link.trim_start_matches("/welcome/");
    for secret in [&password_of("administrator"), token, "argon2"] {
        assert!(!all.contains(secret));
    }
}

#[sqlx::test]
async fn a_link_is_shown_with_the_address_of_the_service(db: SqlitePool) {
    let mut app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    app.get("/people").await;
    let request = |app: &TestApp, name: &str| {
        let mut body = form_urlencoded::Serializer::new(String::new());
        body.extend_pairs(app.hidden("/people")).extend_pairs([("name", name), ("role", "lead")]);
        axum::http::Request::post("/people")
            .header("content-type", "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
            .header("host", "desk.example:8080")
            .body(axum::body::Body::from(body.finish()))
            .unwrap()
    };
    let shown = app.send(request(&app, "marit")).await.body;
    assert!(shown.contains(">http://desk.example:8080/welcome/"), "{shown}");

    let config = app::config::Config {
        public_url: Some("https://holdover.example".to_owned()),
        ..app::config::Config::default()
    };
    app = TestApp::of(app.app.db.clone(), config);
    app.sign_in("administrator").await;
    app.get("/people").await;
    let shown = app.send(request(&app, "odd")).await.body;
    assert!(shown.contains(">https://holdover.example/welcome/"), "{shown}");
}

#[sqlx::test]
async fn people_from_the_shell_need_an_administrator(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let lead = Actor { name: "lead".into(), role: Role::Lead };
    let refused = app::people::add(&app.app, &lead, None, "marit", Role::Viewer, None).await;
    assert!(matches!(refused, Err(app::Failure::Forbidden(_))));
}

#[sqlx::test]
async fn the_demo_shows_its_sign_ins_and_nothing_else_does(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let page = app.get("/sign-in").await;
    assert!(!page.body.contains("Sign-ins of this demo"));
    let made = app::people::demo_sign_ins(&app.app).await.unwrap();
    let again = app::people::demo_sign_ins(&app.app).await.unwrap();
    assert_eq!(made.len(), 4);
    assert_ne!(made[0].password, again[0].password);
    app.get("/sign-in").await;
    let lead = [("name", again[0].name.as_str()), ("password", again[0].password.as_str())];
    assert_eq!(app.post("/sign-in", &lead).await.status, 303);
    let config = Config { demo_sign_ins: again, ..Config::default() };
    assert_eq!(config.demo_sign_ins[0].role, "lead");
}

fn link_in(body: &str) -> String {
    let (_, rest) = body.split_once("href=\"/welcome/").unwrap();
    format!("/welcome/{}", rest.split('"').next().unwrap())
}

#[sqlx::test]
async fn the_list_of_people_is_a_file_for_administrators_alone(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Administrator).await;
    let other = app.another().signed_in(Role::Lead).await;
    let file = app.get("/people.csv").await;
    assert_eq!(file.status, 200);
    let lines: Vec<&str> = file.body.trim_start_matches('\u{feff}').lines().collect();
    assert_eq!(lines[0], "name,role,active,made_on");
    assert!(lines.iter().any(|line| line.starts_with("lead,lead,yes,")), "{lines:?}");
    for secret in ["argon2", "hash", "$"] {
        assert!(!file.body.contains(secret), "{secret}");
    }
    assert_eq!(app.get("/people.xlsx").await.status, 200);
    for path in ["/people.csv", "/people.xlsx"] {
        assert_eq!(other.get(path).await.status, 403, "{path}");
    }
}
