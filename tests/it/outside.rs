//! The outside list over HTTP: limits, the ways that need an item, who brings it back.

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{FLOWN, lay, made};
use crate::support::{NOW, TestApp};

/// The demo on its day, and somebody signed in.
async fn demo_as(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.signed_in(role).await
}

/// The table row of an item.
fn row<'a>(page: &'a str, code: &str) -> &'a str {
    let (_, rest) = page
        .split_once(&format!("<tr data-code=\"{code}\""))
        .unwrap_or_else(|| panic!("{code} stands in no row: {page}"));
    rest.split("</tr>").next().unwrap()
}

/// The items of a list, in its order.
fn items(page: &str) -> Vec<&str> {
    let rows = page.split("<tr data-code=\"").skip(1);
    rows.filter_map(|rest| rest.split('"').next()).collect()
}

/// The slot of a task in the table of an excursion.
fn slot_of<'a>(page: &'a str, task: &str) -> &'a str {
    let link = format!("href=\"/tasks/{task}\"");
    let rows = page.split("<tr data-code=\"").skip(1);
    let mut own = rows.filter(|row| row.split("</tr>").next().unwrap().contains(&link));
    own.next().unwrap_or_else(|| panic!("{task}: {page}")).split('"').next().unwrap()
}

#[sqlx::test]
async fn the_list_says_what_runs_out_first_and_between_which_flights(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;

    let list = app.get("/outside").await.body;
    let order = items(&list);
    // Worked out by hand from since and limit: O-08 10 December 2030, O-12 30 December 2030,
    // O-03 4 April 2031 and O-04, whose date comes before its 3000 days, 15 June 2031.
    assert_eq!(order[..4], ["O-08", "O-12", "O-03", "O-04"], "{order:?}");
    let strut = row(&list, "O-04");
    assert!(strut.contains("2031-06-15"), "{strut}");
    assert!(
        strut.contains("runs out between <a class=\"code\" href=\"/flights/G-37\">"),
        "{strut}"
    );
    // 21 November to 15 June: 206 days; from the launch of G-37 on 18 March 89; G-38 on 22 July −37.
    for left in [">206</td>", ">89</td>", ">−37</span>"] {
        assert!(strut.contains(left), "{left}: {strut}");
    }
    assert!(!list.contains("action=\"/outside/O-04/task\""), "a viewer makes nothing");

    let soon = app.get("/outside?limit=G-37").await.body;
    assert_eq!(items(&soon), ["O-08", "O-12"]);
    assert!(soon.contains("2 items of 12"), "{soon}");
    let nobody = app.get("/outside?back=nobody&state=in+place").await.body;
    assert_eq!(items(&nobody), ["O-04", "O-02"]);
    let file = app.get("/outside.csv?back=nobody&state=in+place").await.body;
    assert_eq!(file.lines().count(), 3, "{file}");
    assert!(file.starts_with("code,what,worksite") && file.contains("2031-06-15"), "{file}");
    let none = app.get("/outside?q=nothing+is+called+so").await.body;
    assert!(none.contains("Nothing matches"), "{none}");
}

#[sqlx::test]
async fn an_aid_names_its_ways_and_the_set_slot_that_would_lose_its_own(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let warning = "brings <a class=\"code\" href=\"/outside/O-07\">O-07</a> in and removes the route \
                   <a class=\"code\" href=\"/routes/Q-13\">Q-13</a>: <a class=\"code\" \
                   href=\"/slots/S-0165\">S-0165</a> (<a class=\"code\" \
                   href=\"/tasks/T-0151\">T-0151</a>), set on <a class=\"code\" \
                   href=\"/excursions/E-38.1\">E-38.1</a>, would have no translation path";

    let item = app.get("/outside/O-07").await.body;
    assert!(item.contains(warning), "{item}");
    assert!(item.contains("Bringing <a class=\"code\" href=\"/outside/O-07\">O-07</a> in now"));
    let (_, ways) = item.split_once("aria-label=\"Routes that need it\"").unwrap();
    let direction = |from: &str, to: &str, minutes: u8| {
        format!(
            "<td><a class=\"code\" href=\"/worksites/{from}\">{from}</a></td><td><a class=\"code\" \
             href=\"/worksites/{to}\">{to}</a></td><td class=\"num\">{minutes}</td>"
        )
    };
    assert!(ways.contains(&direction("W-KEEL4", "W-BOOM", 9)), "{ways}");
    assert!(ways.contains(&direction("W-BOOM", "W-KEEL4", 11)), "{ways}");
    assert!(item.contains("Marked: the route from W-KEEL4 to W-BOOM, 9 / 11 min."), "{item}");
    assert!(!item.contains("method=\"post\" action=\"/outside"), "a viewer changes nothing");

    for page in ["/outside", "/excursions/E-37.3", "/excursions/E-38.1"] {
        let body = app.get(page).await.body;
        assert!(body.contains(warning), "{page}: {body}");
    }
    let other = app.get("/excursions/E-37.1").await.body;
    assert!(!other.contains("id=\"lost-paths\""), "{other}");
}

#[sqlx::test]
async fn a_slot_that_is_moved_says_whose_way_it_takes(db: SqlitePool) {
    let app = demo_as(db, Role::Lead).await;

    app.get("/slots").await;
    let reply = app.post("/slots/S-0162/move", &[("to", "E-37.1")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let told = app.get(&reply.location).await.unlinked();
    assert!(told.contains("T-0150 is pencilled on E-37.1 now."), "{told}");
    assert!(told.contains("pencilled on E-37.1, brings O-07 in and removes the route Q-13"));

    // After the set slot nobody loses a way.
    let moved = app.get("/excursions/E-37.1").await.body;
    let slot = slot_of(&moved, "T-0150");
    let act = format!("/excursions/E-37.1/slots/{slot}/move");
    let reply = app.post(&act, &[("to", "E-38.2")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let told = app.get(&reply.location).await.unlinked();
    assert!(told.contains("is pencilled on E-38.2 now."), "{told}");
    assert!(!told.contains("removes the route"), "{told}");
    assert!(!app.get("/today/all").await.body.contains("Translation paths at risk"));

    // Back before it, on the page of the excursion: the answer and the last change say it.
    app.get("/excursions/E-37.2").await;
    let new =
        [("task", "T-0150"), ("technique", "K-RETRIEVE"), ("side", "zenith"), ("do", "pencil")];
    let moved = app.get("/excursions/E-38.2").await.body;
    let slot = slot_of(&moved, "T-0150");
    let act = format!("/excursions/E-38.2/slots/{slot}/withdraw");
    assert_eq!(app.post(&act, &[]).await.status, 303);
    app.get("/excursions/E-37.2").await;
    let reply = app.post("/excursions/E-37.2/slots", &new).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let reply = app.get(&reply.location).await;
    let (told, words) = (reply.body.clone(), reply.unlinked());
    let (_, notice) = words.split_once("role=\"status\"").unwrap();
    let notice = notice.split("</p>").next().unwrap();
    assert!(notice.contains("removes the route Q-13"), "{notice}");
    let (_, change) = told.split_once("id=\"change\"").unwrap();
    assert!(change.split("</section>").next().unwrap().contains("/routes/Q-13"), "{change}");
}

#[sqlx::test]
async fn an_aid_that_comes_in_early_by_the_clock_says_whose_way_it_takes(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    let task = "opened: 2030-10-01 | class: 3 | seats: 1 | work_rate: light | lighting: any";
    let gates = domain::words::GateName::WORDS.join(", ");
    let waiver = format!("waived_gate: {gates} | waiver: to see what it does");
    for (kind, text) in [
        (Kind::Worksite, "code: W-C | name: rail | setup: 0 | cleanup: 0".to_owned()),
        (Kind::Worksite, "code: W-D | name: mast | setup: 0 | cleanup: 0".to_owned()),
        (Kind::Route, "from_site: W-A | to_site: W-C | minutes: 6".to_owned()),
        (
            Kind::Task,
            format!(
                "code: T-7 | title: Wipe the lens | worksite: W-D | optimistic: 110 | likely: 120 \
                 | pessimistic: 130 | {task}"
            ),
        ),
        (
            Kind::Task,
            format!(
                "code: T-8 | title: Bring in the rope | worksite: W-C | optimistic: 10 | likely: 15 \
                 | pessimistic: 20 | {task}"
            ),
        ),
        (
            Kind::OutsideItem,
            "code: O-1 | what: rope | worksite: W-B | brought_back_by: T-8 | state: in place"
                .to_owned(),
        ),
        (
            Kind::Route,
            "code: Q-9 | from_site: W-B | to_site: W-D | minutes: 4 | aid: O-1".to_owned(),
        ),
        // In the order of the slots the lens comes first. By the clock EV1 has the rope before 2:00,
        // and EV2 is at the lens until after 3:00.
        (
            Kind::Slot,
            format!(
                "code: S-7 | task: T-7 | excursion: E-37.1 | seats: EV2 | state: set | {waiver}"
            ),
        ),
        (
            Kind::Slot,
            format!(
                "code: S-8 | task: T-8 | excursion: E-37.1 | seats: EV1 | state: set | {waiver}"
            ),
        ),
    ] {
        made(&app.app, kind, &text).await;
    }
    let lost = |page: &str| {
        let section = page.split("id=\"lost-paths\"").nth(1).unwrap_or_default();
        let said = "brings O-1 in and removes the route Q-9: S-7 (T-7)";
        section.split("</ul>").next().unwrap().contains(said)
    };
    let page = app.get("/excursions/E-37.1").await.body;
    assert!(lost(&page), "{page}");
    assert!(app.get("/today/all").await.body.contains("Translation paths at risk"));

    // EV1 waits with the rope until EV2 is back: nobody loses a way.
    app.get("/excursions/E-37.1").await;
    let later = [("not_before", "4:30"), ("waiver", "to see")];
    let gates = domain::words::GateName::WORDS.iter().map(|gate| ("waive", *gate));
    let fields: Vec<(&str, &str)> = later.into_iter().chain(gates).collect();
    let reply = app.post("/excursions/E-37.1/slots/S-8/change", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/excursions/E-37.1").await.body;
    assert!(!lost(&page), "{page}");
    assert!(!app.get("/today/all").await.body.contains("Translation paths at risk"));
}

#[sqlx::test]
async fn one_press_makes_the_task_that_brings_it_back_and_a_second_makes_none(db: SqlitePool) {
    let app = demo_as(db, Role::Engineer).await;
    let item = app.get("/outside/O-04").await.body;
    assert!(item.contains("Nobody brings it back yet."), "{item}");

    let reply = app.post("/outside/O-04/task", &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let task = reply.location.strip_prefix("/tasks/").unwrap().to_owned();
    let made = app.get(&reply.location).await.body;
    assert!(made.contains("Bring in the bridging strut from the starboard radiator"), "{made}");
    let form = app.get(&format!("/tasks/{task}/edit")).await.body;
    // The limit ends on 15 June 2031: G-37 has landed by then, G-38 has not.
    for typed in ["name=\"worksite\" value=\"W-RADS\"", "name=\"back_inside_by\" value=\"G-37\""] {
        assert!(form.contains(typed), "{typed}: {form}");
    }
    assert!(form.contains("Its exposure limit ends on 2031-06-15"), "{form}");

    // From a page that was open all the while.
    let again = app.post("/outside/O-04/task", &[("form_key", "another-page")]).await;
    assert_eq!(again.location, reply.location);
    assert!(app.get(&again.location).await.unlinked().contains("brings O-04 back in already"));
    let item = app.get("/outside/O-04").await.body;
    assert!(item.contains(&format!("href=\"/tasks/{task}\"")), "{item}");
    assert!(!item.contains("action=\"/outside/O-04/task\""), "{item}");
    let list = app.get("/open?q=bridging+strut").await.body;
    assert_eq!(list.matches("Bring in the bridging strut").count(), 1, "{list}");
}

#[sqlx::test]
async fn an_item_that_is_gone_has_no_task_to_make_and_a_viewer_may_not(db: SqlitePool) {
    let app = demo_as(db, Role::Lead).await;
    app.get("/outside/O-09").await;
    let reply = app.post("/outside/O-09/task", &[]).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("O-09 is lost; nothing is left to bring back in."));

    let viewer = app.another().signed_in(Role::Viewer).await;
    viewer.get("/outside/O-02").await;
    assert_eq!(viewer.post("/outside/O-02/task", &[]).await.status, 403);
    assert_eq!(viewer.post("/outside/O-02/end", &[("state", "lost")]).await.status, 403);
}

#[sqlx::test]
async fn taking_an_aid_off_the_list_says_who_has_no_way_now(db: SqlitePool) {
    let app = demo_as(db, Role::Engineer).await;
    app.get("/outside/O-07").await;
    let wrong = [("state", "brought in"), ("ended_on", "2030-13-01")];
    let reply = app.post("/outside/O-07/end", &wrong).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("value=\"2030-13-01\""), "{}", reply.body);
    assert!(reply.body.contains("is not a date"), "{}", reply.body);
    let ahead = [("state", "brought in"), ("ended_on", "2031-03-01")];
    let reply = app.post("/outside/O-07/end", &ahead).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("That day is still to come."), "{}", reply.body);

    let reply = app.post("/outside/O-07/end", &[("state", "brought in"), ("ended_on", "")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let item = app.get(&reply.location).await.unlinked();
    let (_, notice) = item.split_once("role=\"status\"").unwrap();
    assert!(
        notice.contains("O-07 is brought in. O-07 is not in place any more, and the route Q-13"),
        "{notice}"
    );
    assert!(item.contains("It was brought in on 2030-11-21."), "{item}");
    let home = app.get("/today/all").await.body;
    assert!(
        home.contains("Translation paths at risk")
            && home.contains("is gone, and with it the translation path to")
    );
    let late = app.post("/outside/O-07/end", &[("state", "lost")]).await;
    assert_eq!(late.status, 409);
}

#[sqlx::test]
async fn a_limit_as_a_date_is_kept_and_one_before_it_went_out_is_refused(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    made(&app.app, Kind::Worksite, "code: W-A").await;
    app.get("/outside/new").await;
    let typed = [
        ("what", "cover"),
        ("worksite", "W-A"),
        ("since", "2030-10-01"),
        ("limit_until", "2030-09-01"),
        ("state", "in place"),
    ];
    let reply = app.post("/outside/new", &typed).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("The limit ends before it went out"), "{}", reply.body);

    let mut right = typed;
    right[3].1 = "2030-12-01";
    let reply = app.post("/outside/new", &right).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let item = app.get(&reply.location).await.body;
    assert!(item.contains("10 days are left of its exposure limit"), "{item}");
    assert!(item.contains("with no flight dated ahead"), "{item}");
    let list = app.get("/outside").await.body;
    assert!(row(&list, "O-01").contains(">10</td>"), "{list}");
}

/// The forms that ask about one attempt and one item.
fn asked(page: &str, attempt: &str) -> bool {
    page.contains(&format!("<li data-code=\"{attempt}\"><p>"))
}

#[sqlx::test]
async fn the_list_asks_which_is_right_and_a_press_corrects_the_list(db: SqlitePool) {
    let app = demo_as(db, Role::Engineer).await;
    let list = app.get("/outside").await.body;
    assert!(asked(&list, "A-0097") && asked(&list, "A-0113"), "{list}");
    assert_eq!(list.matches("action=\"/outside/settle\"").count(), 2);
    assert!(app.get("/outside/O-01").await.body.contains("says “item brought in”; the list has"));
    let home = app.get("/today/all").await.body;
    assert!(home.contains("Differences from the outside list"), "{home}");

    app.get("/outside").await;
    let settle = |attempt: &'static str, item: &'static str, right: &'static str| {
        [("attempt", attempt), ("item", item), ("right", right), ("back", "/outside")]
    };
    let reply = app.post("/outside/settle", &settle("A-0097", "O-01", "record")).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let reply = app.get(&reply.location).await;
    let (told, words) = (reply.body.clone(), reply.unlinked());
    assert!(words.contains("O-01, Portable foot restraint, is brought in now."), "{told}");
    assert!(!asked(&told, "A-0097"), "{told}");
    // It came in on the day of that excursion, and the log says why.
    let item = app.get("/outside/O-01").await.body;
    assert!(item.contains("It was brought in on 2030-02-11."), "{item}");
    assert!(item.contains("the record of A-0097 is right"), "{item}");

    let reply = app.post("/outside/settle", &settle("A-0113", "", "record")).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let reply = app.get(&reply.location).await;
    let (told, words) = (reply.body.clone(), reply.unlinked());
    assert!(words.contains("O-13, wire tie round the hose bead, is on the list now."), "{told}");
    assert!(row(&told, "O-13").contains("/attempts/A-0113"), "{told}");
    assert!(!told.contains("action=\"/outside/settle\""), "{told}");
    assert!(!app.get("/today/all").await.body.contains("Differences from the outside list"));

    let again = app.post("/outside/settle", &settle("A-0113", "", "record")).await;
    assert_eq!(again.status, 409);
    assert!(again.body.contains("settled already"), "{}", again.body);
}

#[sqlx::test]
async fn a_press_corrects_the_record_where_the_list_is_right(db: SqlitePool) {
    let app = demo_as(db, Role::Engineer).await;
    app.get("/outside").await;
    let found = [("attempt", "A-0097"), ("item", "O-01"), ("right", "list")];
    let reply = app.post("/outside/settle", &found).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let attempt = app.get("/attempts/A-0097").await.body;
    assert!(attempt.contains("<dd>temporary hardware left</dd>"), "{attempt}");
    assert!(attempt.contains("the outside list is right"), "{attempt}");

    let found = [("attempt", "A-0113"), ("item", ""), ("right", "list")];
    let reply = app.post("/outside/settle", &found).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let attempt = app.get("/attempts/A-0113").await.body;
    assert!(attempt.contains("<dd>nothing left</dd>"), "{attempt}");
    let list = app.get("/outside").await.body;
    assert!(!list.contains("id=\"disagreements\"") && list.contains("12 items"), "{list}");

    let neither = [("attempt", "A-0097"), ("item", "O-01"), ("right", "both")];
    assert_eq!(app.post("/outside/settle", &neither).await.status, 422);
    let viewer = app.another().signed_in(Role::Viewer).await;
    viewer.get("/outside").await;
    assert_eq!(viewer.post("/outside/settle", &found).await.status, 403);
}

#[sqlx::test]
async fn a_task_that_was_to_bring_it_back_ended_done_and_the_item_is_asked_about(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | landing: 2030-11-10 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (Kind::Attempt, "code: A-1 | task: T-3 | excursion: E-36.1 | outcome: done"),
        (
            Kind::OutsideItem,
            "code: O-01 | what: strap | since: 2030-01-01 | worksite: W-B | brought_back_by: T-3",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    let app = app.signed_in(Role::Engineer).await;
    let item = app.get("/outside/O-01").await.body;
    assert!(item.contains("ended done, which brings it in; the list has"), "{item}");
    assert!(item.contains("which was to bring it back, is done."), "{item}");

    let found =
        [("attempt", "A-1"), ("item", "O-01"), ("right", "list"), ("back", "/outside/O-01")];
    let reply = app.post("/outside/settle", &found).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/outside/O-01"));
    let page = app.get("/outside/O-01").await;
    let (item, told) = (&page.body, page.unlinked());
    assert!(told.contains("A-1 left O-01 in place; nobody brings it back yet."), "{told}");
    assert!(item.contains("action=\"/outside/O-01/task\"") && !asked(item, "A-1"), "{item}");
}

#[sqlx::test]
async fn a_debrief_says_what_is_outside_and_where_the_list_disagrees(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let item =
        "code: O-01 | what: strap | since: 2030-01-01 | worksite: W-B | brought_back_by: T-1";
    made(&app.app, Kind::OutsideItem, item).await;
    let app = app.signed_in(Role::Lead).await;
    app.wait_until(FLOWN, "lead").await;
    app.get("/excursions/E-37.1").await;
    assert_eq!(app.post("/excursions/E-37.1/flown", &[]).await.status, 303);

    let debrief = app.get("/excursions/E-37.1/debrief").await.body;
    assert!(debrief.contains("This task brings O-01 back in."), "{debrief}");
    let typed = [
        ("r0-outcome", "part done"),
        ("r0-minutes", "30"),
        ("r0-share", "40"),
        ("r0-temporary", "tie"),
        ("r0-outside_after", "nothing left"),
        ("do", "save"),
    ];
    let reply = app.post("/excursions/E-37.1/debrief", &typed).await;
    let shown = if reply.status == 303 { app.get(&reply.location).await } else { reply };
    assert!(shown.body.contains("Temporary hardware is named: choose"), "{}", shown.body);

    let mut right = typed;
    right[3].1 = "";
    let reply = app.post("/excursions/E-37.1/debrief", &right).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let shown = app.get(&reply.location).await.body;
    assert!(shown.contains("What is recorded here and the outside list disagree"), "{shown}");
    assert!(shown.contains("says “nothing left”; the list has"), "{shown}");
}
