//! Today and Plan: the state of the campaign, what a person can do, and what stands there for who
//! only reads.

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;
use store::open_items::{self, Filter};

use crate::small_record::{FLOWN, lay, made};
use crate::support::{NOW, TestApp};

#[sqlx::test]
async fn an_excursion_that_was_flown_and_not_closed_leads_to_its_debrief(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    assert!(!app.get("/").await.body.contains("/excursions/E-37.1/debrief"));
    app.wait_until(FLOWN, "lead").await;
    app.get("/excursions/E-37.1").await;
    assert_eq!(app.post("/excursions/E-37.1/flown", &[]).await.status, 303);
    let page = app.get("/").await.body;
    assert!(page.contains("href=\"/excursions/E-37.1/debrief\""), "{page}");
    assert!(page.contains("Continue debrief of E-37.1"), "{page}");
}

#[sqlx::test]
async fn a_task_at_risk_stands_first_with_the_one_act_that_it_needs(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(
        &app.app,
        Kind::Task,
        "code: T-900 | title: Close the vent | class: 1 | needed_by_flight: G-37",
    )
    .await;
    let page = app.get("/").await.body;
    let (_, yours) = page.split_once("id=\"yours\"").unwrap();
    let first = yours.split("</li>").next().unwrap();
    assert!(
        first.contains("Close the vent is needed by <a class=\"code\"")
            && first.contains("/flights/G-37")
    );
    assert!(first.contains("has no slot"), "{first}");
    assert!(first.contains("class=\"act\""), "{first}");
}

#[sqlx::test]
async fn from_today_to_a_set_slot_are_two_presses_where_everything_holds(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(
        &app.app,
        Kind::Task,
        "code: T-4 | title: Swap the last one | family: F-1 | worksite: W-B | sides: nadir, zenith \
         | class: 2 | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1 \
         | work_rate: moderate | lighting: any | needed_by_flight: G-37",
    )
    .await;
    let page = app.get("/").await.body;
    let act = page
        .split("class=\"act\" href=\"")
        .skip(1)
        .filter_map(|rest| rest.split_once("</a>"))
        .map(|(act, _)| act)
        .find(|act| act.contains("T-4") && act.contains("Set it on"))
        .unwrap_or_else(|| panic!("no act sets T-4: {page}"));
    let address = act.split('"').next().unwrap().replace("&#38;", "&");
    let (path, _) = address.split_once('#').unwrap();
    let opened = app.get(path).await.body;
    assert!(opened.contains("name=\"do\" value=\"set\""), "{opened}");
}

#[sqlx::test]
async fn who_only_reads_sees_the_state_and_no_calls(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    let page = app.get("/").await.body;
    for part in
        ["id=\"campaign\"", "Backlog per flight", "id=\"classes\"", "Next flight", "Last flight"]
    {
        assert!(page.contains(part), "{part}");
    }
    assert!(page.contains("id=\"constraints\"") && page.contains("href=\"/constraints/"), "{page}");
    for call in ["id=\"yours\"", "id=\"team\"", "class=\"act\""] {
        assert!(!page.contains(call), "{call}");
    }
}

#[sqlx::test]
async fn the_backlog_per_flight_adds_up_to_what_is_open(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let mut reader = app.app.reader().await.unwrap();
    let campaign = app::campaign::seen(&mut reader).await.unwrap();
    let db = &mut *reader;
    let past: Vec<_> = campaign.burn_up.iter().filter(|column| !column.is_ahead).collect();
    let open = open_items::count(db, &Filter::default()).await.unwrap();
    assert_eq!(past.last().unwrap().open, open);
    let opened: i64 = past.iter().map(|column| column.opened).sum();
    let ended: i64 = past.iter().map(|column| column.ended).sum();
    assert_eq!(opened - ended, open);
    // Six flown flights and what was before; three coming ones.
    assert_eq!((past.len(), campaign.burn_up.len()), (7, 10));
    let marks: i64 = campaign.legs.iter().map(|leg| leg.needs.all()).sum();
    assert_eq!(campaign.classes.iter().map(|class| class.open).sum::<i64>(), open);
    assert!(marks > 0 && marks <= open, "{marks} of {open}");
}

#[sqlx::test]
async fn plan_draws_the_campaign_and_the_worksites_as_links(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Engineer).await;
    let page = app.get("/plan").await.body;
    assert!(page.contains("href=\"/open?site=W-"), "{page}");
    assert!(page.contains("class=\"seat-bar\"") && page.contains("class=\"dates\""), "{page}");
    // Every coming excursion has its seats, what it is expected to reach, and a column below.
    for code in ["E-37.1", "E-38.2", "E-39.1"] {
        assert!(page.contains(&format!("{code} by seat")), "{code}");
    }
    assert!(page.contains("</b> set") && page.contains(" with pencilled"), "{page}");
    assert!(page.contains("/plan?cell=T-0142:E-37.2") && page.contains("needed by the landing"));
    for (from, to) in [("/learn", "/findings"), ("/library", "/techniques")] {
        let reply = app.get(from).await;
        assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, to));
    }
}

#[sqlx::test]
async fn a_failure_without_a_finding_is_called_with_the_page_that_takes_it(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Engineer).await;
    let page = app.get("/today/all").await.body;
    let (_, group) = page.split_once("id=\"unexplained\"").expect("no such group");
    let group = group.split("</section>").next().unwrap();
    assert!(group.contains("Failures without a finding"), "{group}");
    assert!(group.contains("No finding explains it yet."), "{group}");
    assert!(!group.contains("k-late"), "no date binds it: {group}");
    assert!(group.contains("href=\"/attempts/A-0011/finding\""), "{group}");
    assert!(group.contains("Write finding on A-0011"), "{group}");
    assert!(group.contains("href=\"/findings?step=write%20a%20finding\""), "{group}");
}

#[sqlx::test]
async fn an_empty_record_has_a_today_and_a_plan(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    for address in ["/", "/plan", "/today/all"] {
        let reply = app.get(address).await;
        assert_eq!(reply.status, 200, "{address}");
        assert!(!reply.body.contains("NaN"), "{address}");
    }
}

/// The points of a person: the code and the act of each, and the group in which it stands.
async fn points(app: &TestApp, address: &str) -> Vec<(String, String, String)> {
    let page = app.get(address).await.body;
    let mut found = Vec::new();
    for group in page.split("<section class=\"sec\" id=\"").skip(1) {
        let id = group.split('"').next().unwrap().to_owned();
        for row in group.split("<li data-code=\"").skip(1) {
            let code = row.split('"').next().unwrap().to_owned();
            let act = row.split("class=\"act\"").nth(1).and_then(|act| act.split_once('>'));
            let act = act.map_or("", |(_, rest)| rest.split('<').next().unwrap()).to_owned();
            found.push((code, act, id.clone()));
        }
    }
    assert!(!found.is_empty(), "{page}");
    found
}

#[sqlx::test]
async fn yours_is_what_a_role_is_there_for_and_every_act_has_a_verb(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Lead).await;
    let engineer = app.another();
    engineer.person("engineer", Role::Engineer).await;
    engineer.sign_in("engineer").await;
    let team = points(&app, "/today/all").await.len();
    for (who, others) in [
        (&app, &["sisters-questioned", "sisters-worked", "reopened"][..]),
        (&engineer, &["stopped", "lost-paths"][..]),
    ] {
        let yours = points(who, "/today/all?mine=yes").await;
        assert!(yours.len() < team, "{} of {team}", yours.len());
        for (code, act, group) in &yours {
            assert!(!others.contains(&group.as_str()), "{code} in {group}");
            assert!(!act.is_empty(), "{code} in {group}");
            for no_act in ["Look at", "See "] {
                assert!(!act.starts_with(no_act), "{code}: {act}");
            }
        }
    }
    // Who has a slot already is moved by a lead alone.
    let moves = |points: &[(String, String, String)]| {
        points.iter().any(|(_, act, _)| act.starts_with("Move "))
    };
    assert!(moves(&points(&app, "/today/all?mine=yes").await));
    assert!(!moves(&points(&engineer, "/today/all?mine=yes").await));
}

#[sqlx::test]
async fn a_constraint_counts_with_the_task_at_risk_that_ends_it(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Lead).await;
    let all = points(&app, "/today/all").await;
    let at_risk: Vec<&str> = all
        .iter()
        .filter(|(_, _, group)| group == "at-risk")
        .map(|(code, _, _)| code.as_str())
        .collect();
    assert!(at_risk.contains(&"T-0167"), "{all:?}");
    let constraints = app.get("/constraints").await.body;
    assert!(constraints.contains("T-0167"), "it ends one: {constraints}");
    let ended = all.iter().filter(|(_, act, group)| {
        group == "constraints" && at_risk.iter().any(|task| act.contains(task))
    });
    assert_eq!(ended.count(), 0, "{all:?}");
}

#[sqlx::test]
async fn who_only_reads_is_told_of_constraints_and_offered_no_rehearsal(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    let page = app.get("/").await.body;
    assert!(page.contains("constraints are in force") && page.contains(" late."), "{page}");
    assert!(page.contains("class=\"cdraw\"") && page.contains("days left"), "{page}");
    assert!(!page.contains("rehearsal"), "{page}");
}

#[sqlx::test]
async fn plan_names_what_is_at_risk_under_the_flight_that_needs_it(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Lead).await;
    let page = app.get("/plan").await.body;
    let (_, leg) = page.split_once("<tbody data-code=\"G-37\">").expect(&page);
    let leg = leg.split("</tbody>").next().unwrap();
    let (_, needs) = leg.split_once("<tr class=\"when need\"").expect(leg);
    let needs = needs.split("</tr>").next().unwrap();
    assert!(needs.contains("T-0167") && needs.contains(" fits"), "{needs}");
    // Both figures of one baseline: set tasks only, and with the pencilled ones.
    assert!(leg.contains("</b>, set tasks only<span class=\"second\">"), "{leg}");
    assert!(leg.contains(" pencilled</span>"), "{leg}");
}

#[sqlx::test]
async fn a_call_says_how_far_a_debrief_is_and_what_hangs_on_a_review(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Lead).await;
    let page = app.get("/today/all").await.body;
    assert!(page.contains("2 of 5 results are in."), "{page}");
    // T-0165 is set by a waiver of its blocked approach, which N-014 explains.
    assert!(page.contains("with a waiver until this is reviewed."), "{page}");
}

#[sqlx::test]
async fn a_flight_stands_where_its_dates_say_and_one_under_way_is_planned_for(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    // Today is 2030-11-21.
    for (code, launch, landing, state) in [
        ("F-1", "2030-10-01", "2030-11-10", "flown"),
        ("F-2", "2030-11-15", "2031-01-20", "under way"),
        ("F-3", "2030-11-21", "2031-05-20", "coming"),
    ] {
        app.get("/flights/new").await;
        let fields = [("code", code), ("launch", launch), ("landing", landing)];
        let reply = app.post("/flights/new", &fields).await;
        assert_eq!(reply.status, 303, "{}", reply.body);
        let page = app.get(&reply.location).await.unlinked();
        let told = page.contains(&format!("its state is “{state}”"));
        assert_eq!(told, state != "coming", "{page}");
        let list = app.get("/flights").await.body;
        let row = list.split(&format!("data-code=\"{code}\"")).nth(1).unwrap();
        assert!(row.split("</tr>").next().unwrap().contains(state), "{code}: {row}");
    }
    made(
        &app.app,
        Kind::Excursion,
        "code: E-2.1 | flight: F-2 | number: 1 | day: 2030-12-20 | state: planned",
    )
    .await;
    let plan = app.get("/plan").await.body;
    assert!(!plan.contains("No flight is coming") && !plan.contains("No excursion is coming"));
    assert!(plan.split("id=\"coming\"").last().unwrap().contains("E-2.1"), "{plan}");
    let today = app.get("/").await.unlinked();
    assert!(today.contains("under way, lands 2031-01-20, in 60 days"), "{today}");
}

#[sqlx::test]
async fn what_is_past_its_date_and_not_marked_as_flown_is_asked_for(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    let flight = "code: G-38 | launch: 2031-06-01 | landing: 2031-06-20 | state: coming";
    made(&app.app, Kind::Flight, flight).await;
    assert!(!app.get("/").await.body.contains("as flown</a>"));
    app.wait_until("2031-12-01T09:00Z", "lead").await;
    let page = app.get("/").await.body;
    for (address, words) in [
        ("/excursions/E-37.1#flown", "Mark E-37.1 as flown"),
        ("/flights/G-38/edit", "Mark G-38 as flown"),
    ] {
        assert!(page.contains(&format!("href=\"{address}\">{words}</a>")), "{page}");
    }
}
