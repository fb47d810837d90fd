//! The calendar and the feed of changes under personal addresses.

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::lay;
use crate::support::{NOW, TestApp};

/// The path of an address that the page shows.
fn path(page: &str, file: &str) -> String {
    let at = page.split("/feeds/").find(|rest| rest[64..].starts_with(&format!("/{file}")));
    let secret = &at.unwrap_or_else(|| panic!("{page}"))[..64];
    format!("/feeds/{secret}/{file}")
}

async fn made(app: &TestApp) -> (String, String) {
    app.get("/account/feeds").await;
    let page = app.post("/account/feeds", &[]).await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert_eq!(page.header("cache-control"), "no-store");
    (path(&page.body, "calendar.ics"), path(&page.body, "changes.atom"))
}

/// The properties of the event whose summary begins so, unfolded.
fn event(calendar: &str, summary: &str) -> Vec<(String, String)> {
    let plain = calendar.replace("\r\n ", "");
    let event = plain
        .split("BEGIN:VEVENT\r\n")
        .skip(1)
        .map(|rest| rest.split("END:VEVENT").next().unwrap())
        .find(|event| event.contains(&format!("SUMMARY:{summary}")))
        .unwrap_or_else(|| panic!("{summary}: {plain}"));
    event
        .lines()
        .filter_map(|line| line.split_once(':'))
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .collect()
}

fn value<'a>(event: &'a [(String, String)], name: &str) -> &'a str {
    event.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value)
}

#[sqlx::test]
async fn a_moved_excursion_keeps_its_uid_and_raises_its_sequence(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let app = app.signed_in(Role::Lead).await;
    let (calendar, _) = made(&app).await;
    // Without a session, and from another browser.
    let stranger = app.another();
    let reply = stranger.get(&calendar).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert_eq!(reply.header("content-type"), "text/calendar; charset=utf-8");
    // Source: RFC 5545, section 3.1: lines end with CRLF and hold at most 75 octets.
    assert!(reply.body.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')));
    let before = event(&reply.body, "Excursion E-37.2");
    assert_eq!(value(&before, "DTSTART;VALUE=DATE"), "20310312");
    assert_eq!(value(&before, "DTEND;VALUE=DATE"), "20310313");

    app.get("/excursions/E-37.2/edit").await;
    let moved = app.post("/excursions/E-37.2/edit", &[("day", "2031-03-14")]).await;
    assert_eq!(moved.status, 303, "{}", moved.body);
    let after = event(&stranger.get(&calendar).await.body, "Excursion E-37.2");
    assert_eq!(value(&after, "DTSTART;VALUE=DATE"), "20310314");
    let sequence = |event: &[(String, String)]| value(event, "SEQUENCE").parse::<i64>().unwrap();
    assert!(sequence(&after) > sequence(&before), "{before:?} {after:?}");
    assert_eq!(value(&after, "UID"), value(&before, "UID"));
    assert!(value(&after, "DESCRIPTION").contains("flight rules"), "{after:?}");
}

#[sqlx::test]
async fn every_excursion_and_every_due_date_stands_in_the_calendar_once(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let airlock = "planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 \
                   | airlock: W-A | state: planned";
    for (kind, text) in [
        (Kind::Flight, "code: G-40 | state: coming".to_owned()),
        (
            Kind::Excursion,
            format!("code: E-40.1 | flight: G-40 | number: 1 | day: 2032-01-05 | {airlock}"),
        ),
        (Kind::Excursion, format!("code: E-X | day: 2032-02-05 | {airlock}")),
        (
            Kind::Task,
            "code: T-9 | title: Look at it | class: 3 | needed_by_day: 2031-05-01 | seats: 1"
                .to_owned(),
        ),
        (
            Kind::Inhibit,
            "code: I-1 | what: pump off | owner: thermal console | lead: 60".to_owned(),
        ),
        (Kind::Arrangement, "inhibit: I-1 | excursion: E-37.1 | state: asked".to_owned()),
        // The same code as that of a task, which a kind of its own may have.
        (
            Kind::OutsideItem,
            "code: O-1 | what: strap | since: 2030-10-05 | limit_until: 2031-02-20 \
             | state: in place"
                .to_owned(),
        ),
    ] {
        crate::small_record::made(&app.app, kind, &text).await;
    }
    let app = app.signed_in(Role::Lead).await;
    let (calendar, _) = made(&app).await;
    let text = app.get(&calendar).await.body;
    for (summary, day) in [
        ("Excursion E-40.1", "20320105"),
        ("Excursion E-X", "20320205"),
        ("Task T-9 needed by 2031-05-01", "20310501"),
        // G-37 is launched on 10 March 2031; two weeks before it is 24 February.
        ("Agree I-1 on E-37.1", "20310224"),
        ("Exposure limit of O-1", "20310220"),
    ] {
        let event = event(&text, summary);
        assert_eq!(value(&event, "DTSTART;VALUE=DATE"), day, "{summary}");
        assert!(value(&event, "DESCRIPTION").contains("flight rules"), "{event:?}");
    }
    let plain = text.replace("\r\n ", "");
    let uids: Vec<&str> = plain.lines().filter(|line| line.starts_with("UID:")).collect();
    let each: std::collections::BTreeSet<&str> = uids.iter().copied().collect();
    assert_eq!(each.len(), uids.len(), "{uids:?}");
}

#[sqlx::test]
async fn a_due_date_that_moves_with_its_flight_raises_its_sequence(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let flight = "code: G-38 | launch: 2031-06-10 | landing: 2031-06-30 | state: coming";
    crate::small_record::made(&app.app, Kind::Flight, flight).await;
    let constraint = "code: V-1 | forbidden: Row at 3 bar or less | since: 2030-11-01 \
                      | safe_until_flight: G-38";
    crate::small_record::made(&app.app, Kind::Constraint, constraint).await;
    let app = app.signed_in(Role::Lead).await;
    app.get("/flights/G-37/edit").await;
    let landing = app.post("/flights/G-37/edit", &[("landing", "2031-03-25")]).await;
    assert_eq!(landing.status, 303, "{}", landing.body);
    let (calendar, _) = made(&app).await;
    let due = async || event(&app.get(&calendar).await.body, "Constraint V-1");
    let sequence = |event: &[(String, String)]| value(event, "SEQUENCE").parse::<i64>().unwrap();
    let before = due().await;
    assert_eq!(value(&before, "DTSTART;VALUE=DATE"), "20310630");
    app.get("/flights/G-38/edit").await;
    let moved = app.post("/flights/G-38/edit", &[("landing", "2031-07-20")]).await;
    assert_eq!(moved.status, 303, "{}", moved.body);
    let after = due().await;
    assert_eq!(value(&after, "DTSTART;VALUE=DATE"), "20310720");
    assert!(sequence(&after) > sequence(&before), "{before:?} {after:?}");
    // Another flight takes its place, one that was written long before.
    app.get("/constraints/V-1/edit").await;
    let other = app.post("/constraints/V-1/edit", &[("safe_until_flight", "G-37")]).await;
    assert_eq!(other.status, 303, "{}", other.body);
    let earlier = due().await;
    assert_eq!(value(&earlier, "DTSTART;VALUE=DATE"), "20310325");
    assert!(sequence(&earlier) > sequence(&after), "{after:?} {earlier:?}");
}

#[sqlx::test]
async fn an_address_is_personal_and_leads_nowhere_once_it_is_revoked(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    let (calendar, changes) = made(&app).await;
    let stranger = app.another();
    assert_eq!(stranger.get(&changes).await.status, 200);
    assert_eq!(stranger.get(&format!("{changes}?view=V-404")).await.status, 404);
    let (again, _) = made(&app).await;
    assert_ne!(calendar, again);
    assert_eq!(stranger.get(&calendar).await.status, 404, "the first one was replaced");
    assert_eq!(stranger.get(&again).await.status, 200);
    assert_eq!(stranger.post(&again, &[]).await.status, 405, "it only reads");
    app.get("/account/feeds").await;
    assert_eq!(app.post("/account/feeds/revoke", &[]).await.status, 303);
    assert_eq!(stranger.get(&again).await.status, 404);
    assert_eq!(stranger.get("/feeds/abc/calendar.ics").await.status, 404);
}

#[sqlx::test]
async fn the_feed_of_a_saved_view_holds_the_changes_of_its_tasks_alone(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let app = app.signed_in(Role::Lead).await;
    let (_, changes) = made(&app).await;
    let stranger = app.another();
    let all = stranger.get(&changes).await.body;
    assert!(all.starts_with("<?xml version=\"1.0\" encoding=\"utf-8\"?>"), "{all}");
    assert!(all.contains("<title>task T-1 made</title>"), "{all}");
    app.get("/open?class=3").await;
    let kept = app.post("/open/views", &[("name", "third"), ("query", "q=T-2")]).await;
    assert_eq!(kept.status, 303, "{}", kept.body);
    let narrowed = stranger.get(&format!("{changes}?view=V-001")).await.body;
    assert!(narrowed.contains("task T-2 made"), "{narrowed}");
    assert!(!narrowed.contains("task T-1 made"), "{narrowed}");
    let entries = narrowed.matches("<entry>").count();
    assert!(entries >= 1 && entries < all.matches("<entry>").count());
}

#[sqlx::test]
async fn the_change_by_which_a_task_leaves_its_view_stands_in_the_feed(db: SqlitePool) {
    let app = crate::constraints::with_flown(db, Role::Lead).await;
    let (_, changes) = made(&app).await;
    app.get("/open").await;
    let kept = app.post("/open/views", &[("name", "third"), ("query", "q=T-3")]).await;
    assert_eq!(kept.status, 303, "{}", kept.body);
    let failed = "words: stuck | cause: 3 | left_after: 100";
    for (code, excursion, outcome, rest) in
        [("A-1", "E-36.1", "not completed", failed), ("A-2", "E-36.2", "done", "words: closed")]
    {
        let text = crate::constraints::attempt(code, "T-3", excursion, outcome, rest);
        crate::small_record::made(&app.app, Kind::Attempt, &text).await;
    }
    let cause = "code: N-001 | attempts: A-1 | words: why it stuck";
    crate::small_record::made(&app.app, Kind::Finding, cause).await;
    let feed = app.get(&format!("{changes}?view=V-001")).await.body;
    for title in ["task T-3 made", "attempt A-2 made", "finding N-001 made"] {
        assert!(feed.contains(title), "{title}: {feed}");
    }
    assert!(!feed.contains("T-2"), "{feed}");
    let own = format!("<link rel=\"self\" href=\"{changes}?view=V-001\"/>");
    assert!(feed.contains(&own) && feed.contains("<link href=\"/attempts/A-1\"/>"), "{feed}");
    assert!(!feed.contains("urn:holdover:change:"), "{feed}");
}

#[sqlx::test]
async fn an_edited_cell_by_which_a_task_leaves_its_view_stands_in_the_feed(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let bay = "code: W-C | name: far bay | setup: 5 | cleanup: 5";
    crate::small_record::made(&app.app, Kind::Worksite, bay).await;
    let app = app.signed_in(Role::Lead).await;
    let (_, changes) = made(&app).await;
    app.get("/open").await;
    let query = "class=3&site=W-B&q=cassette";
    let kept = app.post("/open/views", &[("name", "bay"), ("query", query)]).await;
    assert_eq!(kept.status, 303, "{}", kept.body);
    let edited = async |task: &str, cells: &[(&str, &str)]| {
        app.get(&format!("/tasks/{task}/edit")).await;
        let reply = app.post(&format!("/tasks/{task}/edit"), cells).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
    };
    let titles = async || {
        let feed = app.get(&format!("{changes}?view=V-001")).await.body;
        let titles = feed.split("<entry>\n<title>").skip(1);
        titles.map(|rest| rest.split('<').next().unwrap().to_owned()).collect::<Vec<_>>()
    };
    let of = |all: &[String], task: &str| {
        all.iter().filter(|title| title.contains(&format!("task {task} "))).count()
    };
    assert_eq!(of(&titles().await, "T-2"), 1, "made, and nothing since");

    // One leaves by its class, and what is changed later is no matter of the view.
    edited("T-2", &[("class", "2")]).await;
    let left = titles().await;
    assert_eq!(of(&left, "T-2"), 2, "{left:?}");
    edited("T-2", &[("notes", "later")]).await;
    edited("T-2", &[("worksite", "W-C")]).await;
    let later = titles().await;
    assert_eq!(of(&later, "T-2"), 2, "{later:?}");
    // One leaves by its words. One that was never in the view leaves nothing in it.
    edited("T-3", &[("title", "Swap battery")]).await;
    edited("T-1", &[("title", "Swap cassette again")]).await;
    let all = titles().await;
    assert_eq!((of(&all, "T-3"), of(&all, "T-1")), (2, 2), "{all:?}");
    let never = "code: T-8 | title: Swap cassette 8 | class: 3 | worksite: W-C | seats: 1";
    crate::small_record::made(&app.app, Kind::Task, never).await;
    edited("T-8", &[("class", "2")]).await;
    let all = titles().await;
    assert_eq!(of(&all, "T-8"), 0, "{all:?}");
}

#[sqlx::test]
async fn links_of_a_feed_are_whole_addresses_and_lead_to_pages_that_are_there(db: SqlitePool) {
    let service = "https://holdover.example";
    let config = app::config::Config { public_url: Some(service.to_owned()), ..Default::default() };
    let app = TestApp::with(db, config).await;
    lay(&app.app).await;
    let app = app.signed_in(Role::Lead).await;
    app.get("/open").await;
    app.post("/open/views", &[("name", "third"), ("query", "q=T-2")]).await;
    // Each saved view stands on the page with the whole address of its feed, once, and then with
    // what is added to the address that was copied.
    app.get("/account/feeds").await;
    let page = app.post("/account/feeds", &[]).await.body;
    let changes = path(&page, "changes.atom");
    assert!(page.contains(&format!("{service}{changes}?view=V-001</dd>")), "{page}");
    let later = app.get("/account/feeds").await.body;
    assert!(later.contains("<dt>third</dt><dd class=\"code\">?view=V-001</dd>"), "{later}");
    // Source: RFC 4287, section 4.2.7.1 (an href is an IRI reference, resolved where it is relative),
    // 2005: readers of feeds keep no base, so that ours are whole.
    let feed = app.get(&changes).await.body;
    let links: Vec<&str> = feed
        .split("<link ")
        .skip(1)
        .filter_map(|rest| rest.split_once("href=\"")?.1.split('"').next())
        .collect();
    assert!(links.len() > 10, "{feed}");
    assert!(feed.contains("person lead"), "{feed}");
    for link in links {
        let path = link.strip_prefix(service).unwrap_or_else(|| panic!("{link}"));
        assert_ne!(app.get(path).await.status, 404, "{link}");
    }
}
