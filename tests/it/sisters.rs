//! Sister units over HTTP: which are affected by a failure and what is done about it in one step, the three ways
//! out of a question, what worked and is offered, and what a swapped unit takes along.

use app::checks;
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

const FAILED: &str = "code: A-1 | task: T-1 | excursion: E-36.1 | technique: K-1 | side: nadir \
                      | outcome: not completed | cause: 3 | minutes: 40";

/// The small record with a flown excursion, on which K-1 failed from nadir on T-1; T-2 is set that
/// way on E-37.1, T-3 is open.
async fn failed(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (Kind::Attempt, FAILED),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

/// The part of a page behind a mark, up to another.
fn part<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    let (_, rest) = page.split_once(from).unwrap_or_else(|| panic!("{from} is not there: {page}"));
    rest.split(to).next().unwrap()
}

/// The row of a unit in a section of a page; empty where it has none.
fn row<'a>(page: &'a str, section: &str, task: &str) -> &'a str {
    let Some((_, rest)) = page.split_once(&format!("id=\"{section}\"")) else { return "" };
    let within = rest.split("</section>").next().unwrap();
    let found = within.split_once(&format!("<tr data-code=\"{task}\">"));
    found.map_or("", |(_, rest)| rest.split("</tr>").next().unwrap())
}

async fn questioned(app: &TestApp, task: &str) -> bool {
    let page = app.get("/families/F-1").await.body;
    row(&page, "in-question", task).contains("questioned")
}

#[sqlx::test]
async fn a_failure_is_told_on_the_pages_where_people_are_with_what_to_do(db: SqlitePool) {
    let app = failed(db).await;
    for (address, section) in [
        ("/families/F-1", "in-question"),
        ("/tasks/T-1", "sisters"),
        ("/excursions/E-36.1", "sisters"),
    ] {
        let page = app.get(address).await.body;
        let set = row(&page, section, "T-2");
        assert!(
            set.contains("questioned") && set.contains("/excursions/E-37.1"),
            "{address}: {set}"
        );
        for act in ["/slots/S-2/withdraw", "/slots/S-2/move", "/exemptions/new"] {
            assert!(set.contains(&format!("action=\"{act}\"")), "{address}, {act}: {set}");
        }
        let open = row(&page, section, "T-3");
        assert!(open.contains("value=\"K-1,zenith\""), "another approach is offered: {open}");
        assert!(!open.contains("value=\"K-1,nadir\""), "{open}");
    }
    let home = app.get("/today/all").await.body;
    assert!(home.contains("Approaches questioned on open units"), "{home}");
    let call = part(&home, "Approaches questioned on open units", "</section>");
    assert!(call.contains("Questioned on T-2 (set on ") && call.contains(", T-3."), "{call}");
    assert!(call.contains("/families/F-1#in-question"), "{call}");

    // A viewer reads it and is offered nothing.
    let viewer = app.another().signed_in(Role::Viewer).await;
    let page = viewer.get("/families/F-1").await.body;
    let set = row(&page, "in-question", "T-2");
    assert!(set.contains("questioned") && !set.contains("<form"), "{set}");
}

#[sqlx::test]
async fn a_set_slot_is_taken_off_or_moved_and_an_open_unit_pencilled_in_one_step(db: SqlitePool) {
    let app = failed(db).await;
    app.get("/families/F-1").await;
    let fields = [("reason", "awaiting the ground's answer"), ("words", "until T-1 is understood")];
    let moved = app.post("/slots/S-2/move", &[("to", "E-37.2"), fields[0], fields[1]]).await;
    assert_eq!((moved.status.as_u16(), &*moved.location), (303, "/families/F-1"), "{}", moved.body);
    let page = app.get("/families/F-1").await.body;
    let set = row(&page, "in-question", "T-2");
    assert!(set.contains("/excursions/E-37.2"), "{set}");
    let slot = part(set, "action=\"/slots/", "/withdraw\"");
    let off = app.post(&format!("/slots/{slot}/withdraw"), &fields).await;
    assert_eq!((off.status.as_u16(), &*off.location), (303, "/families/F-1"), "{}", off.body);
    let page = app.get("/families/F-1").await.body;
    assert!(!row(&page, "in-question", "T-2").contains("/excursions/"), "it is off");

    let fields =
        [("cell", "T-3:E-37.2"), ("approach", "K-1,zenith"), ("seats", "EV1"), ("do", "pencil")];
    let pencilled = app.post("/slots", &fields).await;
    assert_eq!(pencilled.status, 303, "{}", pencilled.body);
    let task = app.get("/tasks/T-3").await.body;
    assert!(task.contains("pencilled on E-37.2") || task.contains("pencilled"), "{task}");
}

#[sqlx::test]
async fn a_slot_that_was_shut_after_it_was_set_is_kept_by_a_waiver_alone(db: SqlitePool) {
    let app = failed(db).await;
    let second = "code: A-2 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
                  | outcome: not completed | cause: 3 | minutes: 35";
    made(&app.app, Kind::Attempt, second).await;
    let page = app.get("/families/F-1").await.body;
    let set = row(&page, "in-question", "T-2");
    assert!(set.contains("blocked") && set.contains("/slots/S-2/keep"), "{set}");
    assert!(set.contains("name=\"attempts\" value=\"A-1, A-2\""), "both can be exempted: {set}");
    assert!(
        !row(&page, "in-question", "T-1").contains("name=\"attempts\" value=\"A-1"),
        "its own stays"
    );
    let bare = app.post("/slots/S-2/keep", &[("waive", "approach"), ("waiver", "")]).await;
    assert_eq!(bare.status, 422, "{}", bare.body);
    app.get("/families/F-1").await;
    let kept = app.post("/slots/S-2/keep", &[("waiver", "the last bracket is off here")]).await;
    assert_eq!((kept.status.as_u16(), &*kept.location), (303, "/families/F-1"), "{}", kept.body);
    let slot = app.get("/slots/S-2").await.body;
    assert!(slot.contains("the last bracket is off here") && slot.contains(">set<"), "{slot}");
    let engineer = app.another().signed_in(Role::Engineer).await;
    engineer.get("/families/F-1").await;
    let no = engineer.post("/slots/S-2/keep", &[("waive", "approach"), ("waiver", "so")]).await;
    assert_eq!(no.status, 403, "{}", no.body);
}

#[sqlx::test]
async fn a_question_ends_by_a_verified_remedy_that_reaches_the_unit(db: SqlitePool) {
    let app = failed(db).await;
    let remedy = |code: &str, reach: &str, state: &str| {
        format!(
            "code: {code} | what: offset grip | attempts: A-1 | owner: tools | reach: {reach} \
             | state: {state} | done_on: 2030-11-10{}",
            if state == "verified" { " | verified_by: lead" } else { "" }
        )
    };
    // On this unit alone, or only done, it does not reach the sister.
    made(&app.app, Kind::Remedy, &remedy("R-1", "this unit", "verified")).await;
    made(&app.app, Kind::Remedy, &remedy("R-2", "every unit", "done")).await;
    assert!(questioned(&app, "T-2").await);
    made(&app.app, Kind::Remedy, &remedy("R-3", "every unit", "verified")).await;
    assert!(!questioned(&app, "T-2").await);
    let home = app.get("/today/all").await.body;
    assert!(!home.contains("Approaches questioned on open units"), "{home}");
}

#[sqlx::test]
async fn a_question_ends_by_a_later_done_on_a_sister(db: SqlitePool) {
    let app = failed(db).await;
    let done = |code: &str, side: &str| {
        format!(
            "code: {code} | task: T-3 | excursion: E-36.2 | technique: K-1 | side: {side} \
             | outcome: done | minutes: 30"
        )
    };
    let second = "code: E-36.2 | flight: G-36 | number: 2 | day: 2030-11-03 | state: flown";
    made(&app.app, Kind::Excursion, second).await;
    // Another side says nothing about this one.
    made(&app.app, Kind::Attempt, &done("A-2", "zenith")).await;
    assert!(questioned(&app, "T-2").await);
    made(&app.app, Kind::Attempt, &done("A-3", "nadir")).await;
    assert!(!questioned(&app, "T-2").await);
    // The unit itself stays shut: a done counts where its failure was.
    let page = app.get("/families/F-1").await.body;
    assert!(row(&page, "in-question", "T-1").contains("blocked"), "{page}");
}

#[sqlx::test]
async fn a_question_ends_by_a_reviewed_exemption_written_in_one_step(db: SqlitePool) {
    let app = failed(db).await;
    let engineer = app.another().signed_in(Role::Engineer).await;
    engineer.get("/families/F-1").await;
    let fields = [("task", "T-2"), ("attempts", "A-1"), ("words", "no bracket stands there")];
    let made = engineer.post("/exemptions/new", &fields).await;
    assert_eq!((made.status.as_u16(), &*made.location), (303, "/tasks/T-2"), "{}", made.body);
    assert!(questioned(&app, "T-2").await, "nobody has reviewed it");
    engineer.get("/tasks/T-2").await;
    let own = engineer.post("/exemptions/X-001/review", &[]).await;
    assert_eq!(own.status, 409, "nobody reviews their own: {}", own.body);
    app.get("/tasks/T-2").await;
    assert_eq!(app.post("/exemptions/X-001/review", &[]).await.status, 303);
    assert!(!questioned(&app, "T-2").await);
    assert!(questioned(&app, "T-3").await, "it was written for T-2 alone");
}

#[sqlx::test]
async fn what_worked_is_offered_until_it_is_planned_or_let_go_with_a_reason(db: SqlitePool) {
    let app = failed(db).await;
    let done = "code: A-2 | task: T-1 | excursion: E-36.1 | technique: K-1 | side: zenith \
                | outcome: done | minutes: 30";
    made(&app.app, Kind::Attempt, done).await;
    let home = app.get("/today/all").await.body;
    let call = part(&home, "Approaches that worked on a sister unit", "</section>");
    assert!(call.contains("A-2 ended done") && call.contains("/families/F-1#offered"), "{call}");

    let page = app.get("/families/F-1").await.body;
    assert!(row(&page, "offered", "T-3").contains("Dismiss"), "{page}");
    let bare = app.post("/declined-offers/new", &[("attempt", "A-2"), ("task", "T-3")]).await;
    assert_eq!(bare.status, 422, "a reason is asked for: {}", bare.body);
    app.get("/families/F-1").await;
    let fields = [("attempt", "A-2"), ("task", "T-3"), ("words", "a strut is in the way")];
    let gone = app.post("/declined-offers/new", &fields).await;
    assert_eq!(gone.status, 303, "{}", gone.body);
    let page = app.get("/families/F-1").await.body;
    assert!(row(&page, "offered", "T-3").is_empty(), "{page}");
    assert!(page.contains("a strut is in the way"), "{page}");
    assert!(!row(&page, "offered", "T-2").is_empty(), "T-2 is still offered it");
    let log = app.get("/changes").await.body;
    assert!(log.contains("DO-001"), "{log}");

    app.get("/families/F-1").await;
    let again = app.post("/declined-offers/DO-001/undo", &[]).await;
    assert_eq!(again.status, 303, "{}", again.body);
    let page = app.get("/families/F-1").await.body;
    let offer = row(&page, "offered", "T-3");
    assert!(offer.contains("name=\"approach\" value=\"K-1,zenith\""), "{offer}");
    let fields = [
        ("cell", "T-3:E-37.2"),
        ("approach", "K-1,zenith"),
        ("seats", "EV1"),
        ("back", "/families/F-1"),
        ("do", "set"),
    ];
    let set = app.post("/slots", &fields).await;
    assert_eq!(set.status, 303, "{}", set.body);
    let page = app.get("/families/F-1").await.body;
    assert!(row(&page, "offered", "T-3").is_empty(), "it is set that way: {page}");
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

const DONE_FROM_ZENITH: &str = "code: A-2 | task: T-1 | excursion: E-36.1 | technique: K-1 \
                                | side: zenith | outcome: done | minutes: 30";

/// The technique K-1 of the small record, in another state.
async fn k1_is(app: &TestApp, state: &str) {
    let lead = app.another();
    lead.sign_in("lead").await;
    lead.get("/techniques/K-1/edit").await;
    let reply = lead.post("/techniques/K-1/edit", &[("state", state)]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

#[sqlx::test]
async fn a_drafted_or_withdrawn_technique_is_never_offered_to_sisters(db: SqlitePool) {
    let app = failed(db).await;
    made(&app.app, Kind::Attempt, DONE_FROM_ZENITH).await;
    let offers = async |task: &str| {
        let page = app.get("/families/F-1").await.body;
        let other = row(&page, "in-question", "T-3").contains("value=\"K-1,zenith\"");
        (!row(&page, "offered", task).is_empty(), other)
    };
    for (state, offered) in
        [("cleared", true), ("withdrawn", false), ("drafted", false), ("rehearsed", true)]
    {
        k1_is(&app, state).await;
        assert_eq!(offers("T-3").await, (offered, offered), "{state}");
        let home = app.get("/today/all").await.body;
        assert_eq!(home.contains("A-2 ended done"), offered, "{state}");
    }
}

#[sqlx::test]
async fn an_approach_that_is_questioned_on_a_unit_is_not_offered_there(db: SqlitePool) {
    let app = failed(db).await;
    made(&app.app, Kind::Attempt, DONE_FROM_ZENITH).await;
    let page = app.get("/families/F-1").await.body;
    assert!(!row(&page, "offered", "T-3").is_empty(), "it is clear there: {page}");
    assert!(row(&page, "in-question", "T-3").contains("value=\"K-1,zenith\""));
    // It fails on another sister after that.
    let second = "code: E-36.2 | flight: G-36 | number: 2 | day: 2030-11-03 | state: flown";
    made(&app.app, Kind::Excursion, second).await;
    let failed = "code: A-3 | task: T-2 | excursion: E-36.2 | technique: K-1 | side: zenith \
                  | outcome: not completed | cause: 3 | minutes: 40";
    made(&app.app, Kind::Attempt, failed).await;
    let page = app.get("/families/F-1").await.body;
    let section = page.split("id=\"in-question\"").nth(1).unwrap();
    let zenith = section.split("K-1</a> from zenith").nth(1).unwrap();
    assert!(zenith.contains("<tr data-code=\"T-3\">"), "it is in question there: {zenith}");
    assert!(row(&page, "offered", "T-3").is_empty(), "and not offered at once: {page}");
    assert!(!row(&page, "in-question", "T-3").contains("value=\"K-1,zenith\""), "{page}");
}

#[sqlx::test]
async fn a_swapped_unit_takes_along_what_its_hardware_caused(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Cause, "code: 4 | words: thread galled | cause_group: hardware | scope: hardware"),
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
        (Kind::Position, "code: KEEL4 | worksite: W-B"),
        (Kind::Position, "code: KEEL5 | worksite: W-B"),
        (
            Kind::Unit,
            "code: U-1 | family: F-1 | serial: SN-01 | position: KEEL4 | from_day: 2030-01-01",
        ),
        (
            Kind::Unit,
            "code: U-2 | family: F-1 | serial: SN-02 | position: KEEL5 | from_day: 2030-01-01",
        ),
        (
            Kind::Task,
            "code: T-4 | title: Pull it at keel 4 | family: F-1 | position: KEEL4 | sides: nadir",
        ),
        (
            Kind::Task,
            "code: T-5 | title: Pull it at keel 5 | family: F-1 | position: KEEL5 | sides: nadir",
        ),
        (
            Kind::Attempt,
            "code: A-1 | task: T-4 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 4 | minutes: 40",
        ),
        (
            Kind::Attempt,
            "code: A-2 | task: T-4 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 3 | minutes: 20",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    let page = app.get("/families/F-1").await.body;
    assert!(!page.contains("id=\"moved\""), "nothing has moved yet: {page}");

    // The two change places.
    for (unit, from, to) in [("U-1", "KEEL4", "KEEL5"), ("U-2", "KEEL5", "KEEL4")] {
        moved(&app, unit, from, to).await;
    }

    let page = app.get("/families/F-1").await.body;
    let told = part(&page, "id=\"moved\"", "</section>");
    assert!(told.contains("came with the unit U-1, SN-01, from KEEL4"), "{told}");
    assert!(told.contains("stayed at the position, where U-1, SN-01, stood then"), "{told}");
    for (task, with, without) in [("T-5", "A-1", "A-2"), ("T-4", "A-2", "A-1")] {
        let page = app.get(&format!("/tasks/{task}")).await.body;
        let apart = part(&page, "<ul class=\"apart\">", "</ul>");
        let line = |code: &str| part(apart, &format!("data-code=\"{code}\""), "</li>");
        assert!(line(with).contains("counts here"), "{task}: {apart}");
        assert!(line(without).contains("does not count here"), "{task}: {apart}");
    }
    let hardware = app.get("/tasks/T-5").await.body;
    assert!(part(&hardware, "data-code=\"A-1\" data-state=\"", "\"").starts_with("hardware"));
    assert!(part(&hardware, "data-code=\"A-2\" data-state=\"", "\"").starts_with("place"));
}

/// Ends the stay of a unit and begins the next.
async fn moved(app: &TestApp, unit: &str, from: &str, to: &str) {
    use domain::roles::keeper;
    let actor = app::Actor { name: "keeper".into(), role: keeper(Kind::Unit) };
    let table = format!(
        "code,family,position,from_day,until_day\n\
         {unit},F-1,{from},2030-01-01,2030-11-10\n{unit},F-1,{to},2030-11-10,\n"
    );
    let request = app::import::Request {
        kind: Kind::Unit,
        table: app::import::Given::Bytes(table.as_bytes()),
        options: app::import::Options::default(),
    };
    let report = app::import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
    assert_eq!(report.bad_rows, 0, "{:?}", report.bad);
}
