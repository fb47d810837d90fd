//! What the vehicle may not do over HTTP: constraints that attempts leave behind, what ends them,
//! who lifts them, and what hangs on their dates.

#![expect(
    clippy::disallowed_methods,
    reason = "a list is held against a plain query, which the macros would have to prepare"
)]

use std::collections::BTreeSet;

use app::{checks, demo};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::{Role, TaskState};
use sqlx::sqlite::SqlitePoolOptions;
use sqlx::{AssertSqlSafe, SqlitePool};
use store::standing;

use crate::small_record::{lay, made, standing_of};
use crate::support::{NOW, TestApp};

pub async fn with_flown(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-01 | landing: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-10-05 | state: flown \
             | planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 \
             | airlock: W-A",
        ),
        (
            Kind::Excursion,
            "code: E-36.2 | flight: G-36 | number: 2 | day: 2030-10-09 | state: flown \
             | planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 \
             | airlock: W-A",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    app.signed_in(role).await
}

pub fn attempt(code: &str, task: &str, excursion: &str, outcome: &str, rest: &str) -> String {
    format!(
        "code: {code} | task: {task} | excursion: {excursion} | seats: EV1 C-1 | technique: K-1 \
         | side: nadir | minutes: 30 | outcome: {outcome} | recorded_by: keeper | {rest}"
    )
}

fn row<'a>(page: &'a str, code: &str) -> &'a str {
    let (_, rest) = page
        .split_once(&format!("<tr data-code=\"{code}\""))
        .unwrap_or_else(|| panic!("{code} stands in no row: {page}"));
    rest.split("</tr>").next().unwrap()
}

#[sqlx::test]
async fn attempts_that_leave_the_same_thing_are_one_constraint_and_done_ends_it(db: SqlitePool) {
    let app = with_flown(db, Role::Viewer).await;
    let left = "left_after: 50 | forbids: Row at 3 bar or less | safe_until_flight: G-37";
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", left)).await;
    let again = "left_after: 30 | forbids: row at 3 bar or less. | safe_until: 2031-02-01";
    made(&app.app, Kind::Attempt, &attempt("A-2", "T-3", "E-36.2", "part done", again)).await;

    let page = app.get("/constraints").await.body;
    let row = row(&page, "CN-001");
    for part in ["/attempts/A-1\"", "/attempts/A-2\"", "2031-02-01", "T-3", "Nothing ends it"] {
        assert!(row.contains(part), "{part}: {row}");
    }
    // 21 November 2030 to 1 February 2031: 9 + 31 + 31 + 1 days; at the launch on 10 March 37 past.
    assert!(row.contains(">72</td>") && row.contains("</span> 37</span>"), "{row}");
    assert!(!page.contains("CN-002"), "{page}");

    made(&app.app, Kind::Attempt, &attempt("A-3", "T-3", "E-36.2", "done", "words: closed")).await;
    let page = app.get("/constraints").await.body;
    assert!(!page.contains("<tr data-code=\"CN-001\""), "{page}");
    assert!(page.contains("<li data-code=\"CN-001\" data-state=\"ended\">"), "{page}");
    assert!(page.contains("Ended on 2030-10-09 when"), "{page}");

    // The task opened again, the constraint is in force again.
    made(
        &app.app,
        Kind::Reopening,
        "task: T-3 | share_left: 20 | words: came loose | day: 2030-11-01",
    )
    .await;
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::PartDone);
    assert!(app.get("/constraints").await.body.contains("<tr data-code=\"CN-001\""));
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);
}

#[sqlx::test]
async fn only_another_account_than_its_author_lifts_it_with_reason_and_evidence(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    app.person("engineer", Role::Engineer).await;
    app.get("/constraints/new").await;
    let typed = [("forbidden", "Bay door 5 not to be opened"), ("function", "bay 5")];
    let made = app.post("/constraints/new", &typed).await;
    assert_eq!(made.location, "/constraints/CN-001", "{}", made.body);

    let own = app.get("/constraints/CN-001").await.body;
    assert!(own.contains("on 2030-11-21; another person lifts it."), "{own}");
    assert!(!own.contains("/constraints/CN-001/lift"), "{own}");
    let lift = [("lift_reason", "opened by hand in the stand"), ("lift_evidence", "N-001")];
    let refused = app.post("/constraints/CN-001/lift", &lift).await;
    assert_eq!(refused.status, 409, "{}", refused.body);
    assert!(refused.body.contains("another person lifts it"), "{}", refused.body);

    let other = app.another();
    other.sign_in("engineer").await;
    other.get("/constraints/CN-001").await;
    let bare = [("lift_reason", "opened by hand in the stand"), ("lift_evidence", "")];
    let bare = other.post("/constraints/CN-001/lift", &bare).await;
    assert_eq!(bare.status, 422, "{}", bare.body);
    assert!(bare.body.contains("Name what shows it"), "{}", bare.body);
    let lifted = other.post("/constraints/CN-001/lift", &lift).await;
    assert_eq!(lifted.status, 303, "{}", lifted.body);
    let page = other.get("/constraints").await.body;
    assert!(page.contains("Lifted by engineer on 2030-11-21: opened by hand"), "{page}");
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);

    other.get("/constraints/CN-001").await;
    let back = other.post("/constraints/CN-001/put-back", &[("why", "the hinge cracked")]).await;
    assert_eq!(back.status, 303, "{}", back.body);
    assert!(other.get("/constraints").await.body.contains("<tr data-code=\"CN-001\""));
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);
}

#[sqlx::test]
async fn its_date_binds_the_task_that_ends_it(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    let need = async || {
        let mut db = app.app.db.reader().await.unwrap();
        let row = standing::find(&mut db, &"T-1".into()).await.unwrap().unwrap();
        (row.need_day, row.need_from, row.in_danger)
    };
    assert_eq!(need().await, ("9999-12-31".to_owned(), None, false));
    // Its slot is set on 11 March 2031.
    let left = "left_after: 50 | forbids: Fan at half speed | safe_until: 2031-03-01";
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-1", "E-36.1", "part done", left)).await;
    assert_eq!(need().await, ("2031-03-01".to_owned(), Some("CN-001".to_owned()), true));
    let home = app.get("/").await.body;
    assert!(home.contains("10 days late"), "{home}");
    let head = app.get("/tasks/T-1").await.body;
    let (_, head) = head.split_once("<dt>Needed by</dt>").unwrap();
    let head = head.split("</dd>").next().unwrap();
    let binds = head.contains("/constraints/CN-001\"") && head.contains("2031-03-01, binds first");
    assert!(binds, "{head}");
    let gates = app.get("/excursions/E-37.1").await.body;
    assert!(
        gates.contains("Too late for <a class=\"code\" href=\"/constraints/CN-001\">"),
        "{gates}"
    );
    let open = app.get("/open").await.body;
    assert!(
        open.contains(
            "2031-03-01 <span class=\"second\"><a class=\"code\" href=\"/constraints/CN-001\">"
        ),
        "{open}"
    );

    // An earlier limit of what the task brings in binds before it; a later one does not.
    let item =
        "code: O-01 | what: strap | since: 2030-10-05 | brought_back_by: T-1 | state: in place";
    made(&app.app, Kind::OutsideItem, &format!("{item} | limit_until: 2031-02-20")).await;
    assert_eq!(need().await.1.as_deref(), Some("O-01"));
    app.get("/outside/O-01").await;
    app.post("/outside/O-01/end", &[("state", "brought in"), ("ended_on", "2030-11-20")]).await;
    assert_eq!(need().await.1.as_deref(), Some("CN-001"));

    // Corrected to a later date, the slot ends it in time.
    app.get("/constraints/CN-001/edit").await;
    let edited = app.post("/constraints/CN-001/edit", &[("safe_until", "2031-03-11")]).await;
    assert_eq!(edited.status, 303, "{}", edited.body);
    assert_eq!(need().await, ("2031-03-11".to_owned(), Some("CN-001".to_owned()), false));
    assert!(app.get("/constraints").await.body.contains(": on its date."));
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);
}

#[sqlx::test]
async fn the_backlog_ranks_by_the_date_that_binds_first(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    for (task, day) in [("T-6", "2031-05-01"), ("T-7", "2031-06-01")] {
        let text = format!("{} | needed_by_day: {day}", crate::small_record::task(task));
        made(&app.app, Kind::Task, &text).await;
    }
    let first = async |address: &str| {
        let page = app.get(address).await.body;
        let place = |task: &str| page.find(&format!("data-code=\"{task}\"")).unwrap();
        if place("T-6") < place("T-7") { "T-6" } else { "T-7" }
    };
    let orders = ["/open", "/open?sort=need"];
    for address in orders {
        assert_eq!(first(address).await, "T-6", "{address}: the earlier date of their own");
    }
    // What T-7 ends is safe until April only, so T-7 is needed before T-6.
    let text = "forbidden: Row at 3 bar or less | task: T-7 | safe_until: 2031-04-01";
    made(&app.app, Kind::Constraint, text).await;
    for address in orders {
        assert_eq!(first(address).await, "T-7", "{address}: its constraint binds earlier");
    }
    // Once the constraint has ended, its date binds no more.
    app.get("/constraints/CN-001").await;
    let lift = [("lift_reason", "held at 5 bar in the stand"), ("lift_evidence", "N-001")];
    let lifted = app.post("/constraints/CN-001/lift", &lift).await;
    assert_eq!(lifted.status, 303, "{}", lifted.body);
    for address in orders {
        assert_eq!(first(address).await, "T-6", "{address}: lifted");
    }
}

#[sqlx::test]
async fn an_attempt_that_is_corrected_or_withdrawn_takes_its_constraint_along(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    let left = "left_after: 50 | forbids: Fan at half speed | safe_until: 2031-03-01";
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", left)).await;
    app.get("/attempts/A-1/edit").await;
    let edited = [("forbids", "Fan at a third of its speed"), ("safe_until", "2031-03-02")];
    let mut fields: Vec<(String, String)> = app.hidden("/attempts/A-1/edit");
    for (name, text) in [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("seats", "EV1 C-1"),
        ("technique", "K-1"),
        ("side", "nadir"),
        ("minutes", "30"),
        ("outcome", "part done"),
        ("left_after", "50"),
    ]
    .iter()
    .chain(&edited)
    {
        fields.push(((*name).to_owned(), (*text).to_owned()));
    }
    let saved = app.post_only("/attempts/A-1/edit", &fields).await;
    assert_eq!(saved.status, 303, "{}", saved.body);
    let page = app.get("/constraints").await.body;
    let row = row(&page, "CN-001");
    assert!(row.contains("Fan at a third of its speed") && row.contains("2031-03-02"), "{row}");

    app.get("/attempts/A-1").await;
    let gone = app.post("/attempts/A-1/withdraw", &[("why", "typed for the wrong task")]).await;
    assert_eq!(gone.status, 303, "{}", gone.body);
    assert!(!app.get("/constraints").await.body.contains("CN-001"));
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);
}

async fn demo_as(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.signed_in(role).await
}

/// Rows of a CSV file as text, in a table of a fresh database that knows nothing of the service.
async fn loaded(plain: &SqlitePool, table: &str, csv: &str) {
    let csv = csv.trim_start_matches('\u{feff}');
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let heads: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let columns: Vec<String> = heads.iter().map(|head| format!("\"{head}\" TEXT")).collect();
    let create = format!("CREATE TABLE {table} ({})", columns.join(", "));
    sqlx::query(AssertSqlSafe(create)).execute(plain).await.unwrap();
    let holes = vec!["?"; heads.len()].join(", ");
    for record in reader.records() {
        let record = record.unwrap();
        let insert = AssertSqlSafe(format!("INSERT INTO {table} VALUES ({holes})"));
        let mut insert = sqlx::query(insert);
        for cell in &record {
            insert = insert.bind(cell.to_owned());
        }
        insert.execute(plain).await.unwrap();
    }
}

#[sqlx::test]
async fn the_list_equals_a_plain_query_over_the_exported_tables(db: SqlitePool) {
    let app = demo_as(db, Role::Lead).await;
    let plain = SqlitePoolOptions::new().max_connections(1).connect("sqlite::memory:").await;
    let plain = plain.unwrap();
    for (table, address) in [
        ("constraints", "/constraints.csv"),
        ("attempts", "/attempts.csv"),
        ("flights", "/flights.csv"),
        ("excursions", "/excursions.csv"),
        ("slots", "/slots.csv"),
    ] {
        let csv = app.get(address).await;
        assert_eq!(csv.status, 200, "{address}");
        loaded(&plain, table, &csv.body).await;
    }
    // In force: not lifted, and the task that ends it has no attempt that ended done. Its date is
    // the earlier of its own and the landing of its flight; the set slots of a task come first.
    let query = "
        SELECT c.code, c.forbidden,
            MIN(COALESCE(NULLIF(c.safe_until, ''), '9999'),
                COALESCE(NULLIF(f.landing, ''), NULLIF(f.launch, ''), '9999')) AS until,
            COALESCE((SELECT s.excursion || ' ' || e.day || ' ' || s.state FROM slots s
                JOIN excursions e ON e.code = s.excursion
                WHERE s.task = c.task AND s.state IN ('set', 'pencilled') AND e.state = 'planned'
                ORDER BY s.state = 'pencilled', e.day LIMIT 1), '') AS ends
        FROM constraints c LEFT JOIN flights f ON f.code = c.safe_until_flight
        WHERE c.lifted_by = '' AND NOT EXISTS
            (SELECT 1 FROM attempts a WHERE a.task = c.task AND a.outcome = 'done')
        ORDER BY c.code";
    let expected: Vec<(String, String, String, String)> =
        sqlx::query_as(query).fetch_all(&plain).await.unwrap();

    let page = app.get("/constraints").await.body;
    let shown: BTreeSet<&str> =
        page.split("<tr data-code=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let codes: BTreeSet<&str> = expected.iter().map(|row| row.0.as_str()).collect();
    assert_eq!(shown, codes);
    assert_eq!(expected.len(), 7, "{expected:?}");
    let today = &NOW[..10];
    let (mut past, mut late, mut nothing, mut pencilled) = (0, 0, 0, 0);
    for (code, forbidden, until, ends) in &expected {
        let row = row(&page, code);
        assert!(row.contains(forbidden.as_str()), "{forbidden}: {row}");
        assert!(row.contains(until.as_str()), "{until}: {row}");
        let mut ends = ends.split(' ');
        let [excursion, day, state] = [(); 3].map(|()| ends.next().unwrap_or_default());
        assert!(row.contains(excursion) && row.contains(day), "{excursion}: {row}");
        assert_eq!(
            row.contains("after its date"),
            !day.is_empty() && day > until.as_str(),
            "{row}"
        );
        let is_past = until.as_str() < today;
        assert_eq!(row.contains("data-state=\"past-its-date\""), is_past, "{row}");
        past += u8::from(is_past);
        late += u8::from(!is_past && !day.is_empty() && day > until.as_str());
        nothing += u8::from(excursion.is_empty());
        let in_time = !is_past && day <= until.as_str();
        pencilled += u8::from(in_time && state == "pencilled");
    }
    // The demo tells one of each: past its date, ended after its date, ended by nothing, ended by a
    // pencilled slot, which is no set one.
    assert_eq!((past, late, nothing, pencilled), (1, 1, 1, 1), "{expected:?}");
    assert!(
        page.contains(
            "7 constraints are in force. 1 is past its date, 1 is ended only after its date, \
             1 is ended by nothing, 1 is ended by a pencilled slot only, 3 are ended in time."
        ),
        "{page}"
    );
    let home = app.get("/").await.body;
    for code in ["CN-003", "CN-004", "CN-007"] {
        assert!(home.contains(&format!("/constraints/{code}\"")), "{code}: {home}");
    }
    // What ends in time stands in the list of those in force alone: it is no alarm.
    let (before, rest) = home.split_once("aria-label=\"Constraints in force\"").unwrap();
    let (_, after) = rest.split_once("</table>").unwrap();
    assert!(![before, after].concat().contains("/constraints/CN-001\""), "{home}");
}

#[sqlx::test]
async fn every_as_left_of_the_demo_that_forbids_something_is_a_constraint(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let plain = SqlitePoolOptions::new().max_connections(1).connect("sqlite::memory:").await;
    let plain = plain.unwrap();
    for table in ["constraints", "attempts"] {
        loaded(&plain, table, &app.get(&format!("/{table}.csv")).await.body).await;
    }
    let without: Vec<(String,)> = sqlx::query_as(
        "SELECT code FROM attempts WHERE forbids <> '' AND NOT EXISTS (SELECT 1 FROM constraints
             WHERE ', ' || constraints.attempts || ',' LIKE '%, ' || attempts.code || ',%')",
    )
    .fetch_all(&plain)
    .await
    .unwrap();
    assert_eq!(without, []);
    let forbidding: (i64,) = sqlx::query_as("SELECT COUNT(*) FROM attempts WHERE forbids <> ''")
        .fetch_one(&plain)
        .await
        .unwrap();
    assert!(forbidding.0 >= 10, "{forbidding:?}");
}

#[sqlx::test]
async fn today_names_those_that_are_not_ended_in_time(db: SqlitePool) {
    let app = demo_as(db, Role::Lead).await;
    let page = app.get("/").await.body;
    for (code, words) in [
        ("CN-003", "past its date and still in force."),
        // By hand: G-37 lands on 3 April 2031, E-38.1 is on 25 July: 27 + 31 + 30 + 25 days.
        ("CN-007", "113 days late"),
        ("CN-004", "has no slot"),
    ] {
        assert!(page.contains(&format!("/constraints/{code}\"")), "{code}: {page}");
        assert!(page.contains(words), "{words}: {page}");
    }
}

#[sqlx::test]
async fn the_debrief_says_what_is_new_and_what_ended(db: SqlitePool) {
    let app = with_flown(db, Role::Lead).await;
    let left = "left_after: 50 | forbids: Fan at half speed | safe_until: 2031-03-01";
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", left)).await;
    made(&app.app, Kind::Attempt, &attempt("A-2", "T-3", "E-36.2", "done", "words: closed")).await;
    let new = "left_after: 60 | forbids: Row at 3 bar or less | safe_until_flight: G-37";
    made(&app.app, Kind::Attempt, &attempt("A-3", "T-2", "E-36.2", "part done", new)).await;

    let page = app.get("/excursions/E-36.2/debrief").await.body;
    let section =
        page.split("id=\"constraints\"").nth(1).unwrap().split("</section>").next().unwrap();
    assert!(section.contains("<li data-code=\"CN-002\" data-state=\"in-force\">"), "{section}");
    assert!(
        section
            .contains("Row at 3 bar or less, safe until <a class=\"code\" href=\"/flights/G-37\">"),
        "{section}"
    );
    assert!(section.contains("<li data-code=\"CN-001\" data-state=\"ended\">"), "{section}");
    // An excursion that a person entered as flown waits to be closed.
    app.get("/excursions/E-36.2/debrief").await;
    let closed = app.post("/excursions/E-36.2/debrief", &[("do", "close")]).await;
    assert_eq!(closed.status, 303, "{}", closed.body);
    let page = app.get(&closed.location).await.body;
    assert!(page.contains("From now on: Row at 3 bar or less, safe until"), "{page}");
    assert!(page.contains("Ended: Fan at half speed."), "{page}");
}

#[sqlx::test]
async fn one_that_begins_in_the_future_is_refused_and_a_task_done_before_it_is_said(
    db: SqlitePool,
) {
    let app = with_flown(db, Role::Lead).await;
    app.get("/constraints/new").await;
    let ahead = [("forbidden", "Bay door 5 not to be opened"), ("since", "2031-02-01")];
    let refused = app.post("/constraints/new", &ahead).await;
    assert_eq!(refused.status, 422, "{}", refused.body);
    assert!(refused.body.contains("2031-02-01 is still to come"), "{}", refused.body);
    assert!(refused.body.contains("Bay door 5 not to be opened"), "nothing typed is lost");

    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "done", "words: in")).await;
    let late = "forbidden: Fan at half speed | task: T-3 | since: 2030-11-01";
    made(&app.app, Kind::Constraint, late).await;
    let page = app.get("/constraints").await.body;
    let row = row(&page, "CN-001");
    assert!(row.contains("was done on 2030-10-05, before this was left"), "{row}");
    assert!(!row.contains("has no slot"), "{row}");
}

#[sqlx::test]
async fn the_list_prints_with_its_time_and_the_caution_on_every_sheet(db: SqlitePool) {
    let page = demo_as(db, Role::Viewer).await.get("/constraints").await.body;
    let (_, head) = page.split_once("<div class=\"run-head\">").unwrap();
    let head = head.split("</thead>").next().unwrap();
    assert!(head.contains("/constraints") && head.contains("as of 2030-325 14:20 UTC"), "{head}");
    let (_, foot) = page.split_once("class=\"run-foot\">").unwrap();
    assert!(foot.split("</tfoot>").next().unwrap().contains("planning aid"), "{foot}");
    assert!(page.contains("data-print"), "{page}");
}
