//! Attempts over HTTP: what cannot be is refused, what is unlikely is asked, and what should not
//! have been recorded is withdrawn.

use app::import::{self, Options, Report, Request};
use app::{Actor, checks};
use domain::kinds::Kind;
use domain::words::{Role, TaskState};
use exchange::days::DateOrder;
use sqlx::SqlitePool;

use crate::evidence::{picture, png};
use crate::small_record::{lay, made, standing_of};
use crate::support::{Reply, TestApp};

/// The small record, and the flown excursion E-36.1 of 5 June 2030, which lasted 6:00, with a slot
/// `S-9` of T-3.
pub(crate) async fn flown(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-05 | state: flown | actual: 6:00",
        ),
        (Kind::Family, "code: F-2 | name: pump"),
        (Kind::Technique, "code: K-2 | name: twist | family: F-2 | state: cleared"),
        (
            Kind::Task,
            "code: T-9 | title: Newer than the flight | family: F-1 | opened: 2030-06-06 \
             | sides: nadir",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

async fn imported(app: &TestApp, table: &str, options: Options) -> Report {
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let request = Request {
        kind: Kind::Attempt,
        table: app::import::Given::Bytes(table.as_bytes()),
        options,
    };
    import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap()
}

/// What cannot be, as the cells of a row, and a part of the sentence that refuses it.
const IMPOSSIBLE: [(&str, &str); 4] = [
    ("T-9,E-36.1,K-1,nadir,30", "before T-9 was opened on 2030-06-06"),
    ("T-3,E-36.1,K-2,nadir,30", "K-2 is for the family F-2"),
    ("T-3,E-36.1,K-1,aft,30", "has the access sides"),
    ("T-3,E-36.1,K-1,nadir,1800", "which lasted 6:00. Enter 1 to 360"),
];

#[sqlx::test]
async fn what_cannot_be_is_refused_on_the_form(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    for (row, says) in IMPOSSIBLE {
        let cells: Vec<&str> = row.split(',').collect();
        app.get("/attempts/new").await;
        let fields = [
            ("task", cells[0]),
            ("excursion", cells[1]),
            ("technique", cells[2]),
            ("side", cells[3]),
            ("minutes", cells[4]),
            ("outcome", "done"),
        ];
        let reply = app.post("/attempts/new", &fields).await;
        assert_eq!(reply.status, 422, "{row}");
        assert!(reply.body.contains(says), "{row}: {}", reply.body);
    }
    assert_eq!(app.get("/attempts/A-0001").await.status, 404);
}

#[sqlx::test]
async fn what_cannot_be_is_refused_in_a_table(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    for (row, says) in IMPOSSIBLE {
        let table = format!("task,excursion,technique,side,minutes,outcome\n{row},done\n");
        let report = imported(&app, &table, Options { confirms: true, ..Options::default() }).await;
        assert!(!report.committed && report.bad_rows == 1, "{row}: {report:?}");
        assert!(report.bad[0].reason.contains(says), "{row}: {report:?}");
    }
}

#[sqlx::test]
async fn an_attempt_outside_the_flight_of_its_excursion_is_refused(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let late = "code,task,excursion,technique,side,minutes,outcome\n\
                A-1,T-3,E-36.9,K-1,nadir,30,done\n";
    // The excursion came in from a table that did not look at the flight.
    let mut work =
        app::work::Work::begin(&app.app, &Actor { name: "lead".into(), role: Role::Lead }, None)
            .await
            .unwrap();
    sqlx::raw_sql(
        "INSERT INTO excursion (code, flight, number, day, state)
             VALUES ('E-36.9', 'G-36', 9, '2030-07-01', 'flown');
         INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
             VALUES ('excursion', 'E-36.9', 'test', 0, 'test', 0)",
    )
    .execute(work.db())
    .await
    .unwrap();
    work.finish("").await.unwrap();
    let report = imported(&app, late, Options::default()).await;
    assert!(report.bad[0].reason.contains("after G-36 landed on 2030-06-20"), "{report:?}");
}

#[sqlx::test]
async fn an_import_answers_about_unlikely_minutes_by_a_column_or_an_option_and_says_so(
    db: SqlitePool,
) {
    let app = flown(db, Role::Engineer).await;
    let plain =
        "code,task,excursion,outcome,minutes\nA-1,T-3,E-36.1,done,100\nA-2,T-2,E-36.1,done,\n";
    let report = imported(&app, plain, Options::default()).await;
    assert_eq!((report.bad_rows, report.committed), (2, false), "{report:?}");
    for (bad, says) in report.bad.iter().zip(["100 minutes is more than", "No minutes of work"]) {
        assert!(bad.reason.contains(says), "{report:?}");
        assert!(bad.reason.contains("“yes” in the column “confirmed”"), "{report:?}");
    }
    let column = "code,task,excursion,outcome,minutes,confirmed\n\
                  A-1,T-3,E-36.1,done,100,yes\nA-2,T-2,E-36.1,done,,\n";
    let report = imported(&app, column, Options::default()).await;
    assert_eq!(report.bad_rows, 1, "{report:?}");
    let report = imported(&app, plain, Options { confirms: true, ..Options::default() }).await;
    assert!(report.committed, "{report:?}");
    assert_eq!(report.confirmed, 2);
    assert!(report.notes.iter().any(|note| note.contains("confirmed by engineer: 2")));
    let page = app.get("/attempts/A-1").await.body;
    assert!(page.contains("100 min by engineer, from a table at 2030-11-21"), "{page}");
    // The same table again changes nothing.
    let again = imported(&app, plain, Options { confirms: true, ..Options::default() }).await;
    assert_eq!((again.known, again.changed), (2, 0), "{again:?}");
}

#[sqlx::test]
async fn a_date_that_could_be_either_is_asked_about_once_a_file(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let table =
        "code,title,opened\nT-31,First,03/04/2029\nT-32,Second,05/06/2029\nT-33,Third,2029-07-08\n";
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let run = |dates| {
        let options = Options { dates, skip_bad_rows: true, ..Options::default() };
        let request = Request {
            kind: Kind::Task,
            table: app::import::Given::Bytes(table.as_bytes()),
            options,
        };
        let (app, actor) = (app.app.clone(), actor.clone());
        async move { import::run(&app, &actor, &request, None, |_| {}).await.unwrap() }
    };
    let asks = run(None).await;
    assert!(!asks.committed && asks.bad_rows == 2, "even bad rows are not skipped: {asks:?}");
    let either = asks.either.unwrap();
    assert_eq!((either.line, either.text.as_str()), (2, "03/04/2029"));
    assert!(asks.bad[0].reason.contains("2029-04-03 or 2029-03-04"), "{:?}", asks.bad);

    let read = run(Some(DateOrder::DayFirst)).await;
    assert!(read.committed && read.taken == 3, "{read:?}");
    let page = app.get("/tasks/T-31/edit").await.body;
    assert!(page.contains("value=\"2029-04-03\""), "{page}");
}

#[sqlx::test]
async fn a_table_that_mixes_both_orders_is_asked_about_too(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let table = "code,title,opened\nT-31,First,03/18/2029\nT-32,Second,18/04/2029\n";
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let request = Request {
        kind: Kind::Task,
        table: app::import::Given::Bytes(table.as_bytes()),
        options: Options::default(),
    };
    let report = import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
    assert!(!report.committed, "{report:?}");
    assert_eq!((report.bad.len(), report.bad[0].line), (1, 3), "{report:?}");
}

/// The attempt A-1 of T-3 on E-36.1 in its slot S-9, the excursion closed with it.
async fn closed(db: SqlitePool, role: Role, outcome: &str) -> TestApp {
    let app = flown(db, role).await;
    for (kind, text) in [
        (
            Kind::Slot,
            "code: S-9 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | seats: EV1 | state: flown",
        ),
        (
            Kind::Attempt,
            &format!(
                "code: A-1 | task: T-3 | excursion: E-36.1 | slot: S-9 | technique: K-1 \
                 | side: nadir | cause: 3 | outcome: {outcome} | minutes: 30"
            ),
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

#[sqlx::test]
async fn a_withdrawn_attempt_leaves_its_slot_waiting_and_reopens_a_closed_debrief(db: SqlitePool) {
    let app = closed(db, Role::Engineer, "done").await;
    let lead = Actor { name: "lead".into(), role: Role::Lead };
    let mut work = app::work::Work::begin(&app.app, &lead, None).await.unwrap();
    let code = "E-36.1".into();
    if store::excursions::closed_at(work.db(), &code).await.unwrap().is_none() {
        app::debrief::close(&mut work, &code).await.unwrap();
    }
    work.finish("").await.unwrap();
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Done);

    let page = app.get("/attempts/A-1").await.body;
    assert!(page.contains("S-9 waits for its result again"), "{page}");
    assert!(page.contains("It is reopened"), "{page}");
    assert_eq!(app.post("/attempts/A-1/withdraw", &[("why", " ")]).await.status, 422);
    app.get("/attempts/A-1").await;
    let reply = app.post("/attempts/A-1/withdraw", &[("why", "wrong cassette")]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/tasks/T-3"));

    assert_eq!(app.get("/attempts/A-1").await.status, 404);
    assert_eq!(standing_of(&app.app, "T-3").await.0, TaskState::Set);
    let mut db = app.app.db.reader().await.unwrap();
    assert!(store::excursions::closed_at(&mut db, &code).await.unwrap().is_none());
    let log = app.get("/changes").await.body;
    assert!(log.contains("wrong cassette") && log.contains("A-1 was withdrawn"), "{log}");
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

#[sqlx::test]
async fn an_attempt_that_others_name_says_which_and_stays(db: SqlitePool) {
    let app = closed(db, Role::Engineer, "not completed").await;
    for (kind, text) in [
        (Kind::Finding, "code: N-1 | attempts: A-1 | cause: 3 | words: no room"),
        (Kind::Remedy, "code: R-1 | what: Offset grip | attempts: A-1"),
        (Kind::OutsideItem, "code: O-1 | what: strap | left_by: A-1"),
    ] {
        made(&app.app, kind, text).await;
    }
    let page = app.get("/attempts/A-1").await.body;
    for code in ["/findings/N-1", "/remedies/R-1", "/outside/O-1"] {
        let (_, section) = page.split_once("id=\"withdraw\"").unwrap();
        assert!(section.contains(code), "{code}: {section}");
    }
    assert!(!page.contains("action=\"/attempts/A-1/withdraw\""), "{page}");
    let reply = app.post("/attempts/A-1/withdraw", &[("why", "wrong")]).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("finding N-1, remedy R-1, outside item O-1"), "{}", reply.body);
    assert_eq!(app.get("/attempts/A-1").await.status, 200);
}

#[sqlx::test]
async fn a_viewer_does_not_withdraw(db: SqlitePool) {
    let app = closed(db, Role::Viewer, "done").await;
    assert!(!app.get("/attempts/A-1").await.body.contains("id=\"withdraw\""));
    assert_eq!(app.post("/attempts/A-1/withdraw", &[("why", "x")]).await.status, 403);
}

/// A slot of T-3 on E-36.1 that has no result yet.
pub(crate) async fn slotted(app: &TestApp) {
    let text = "code: S-9 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
                | seats: EV1 | state: flown";
    made(&app.app, Kind::Slot, text).await;
}

#[sqlx::test]
async fn the_form_offers_what_the_task_has_and_nothing_else(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    let page = app.get("/attempts/new?task=T-3").await.body;
    for there in ["value=\"K-1\"", "value=\"nadir\"", "value=\"E-36.1\"", "reach too tight"] {
        assert!(page.contains(there), "{there}: {page}");
    }
    for gone in ["value=\"K-2\"", "<option value=\"aft\"", "value=\"E-37.1\""] {
        assert!(!page.contains(gone), "{gone}: {page}");
    }
    let newer = app.get("/attempts/new?task=T-9").await.body;
    assert!(!newer.contains("value=\"E-36.1\""), "T-9 was opened after it: {newer}");
    let asks = app.get("/attempts/new").await.body;
    assert!(asks.contains("Open form") && !asks.contains("type=\"radio\""), "{asks}");
}

#[sqlx::test]
async fn the_form_says_whether_the_attempt_was_planned(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    slotted(&app).await;
    let page = app.get("/attempts/new?task=T-3").await.body;
    for place in ["value=\"E-36.1 as S-9\"", "value=\"E-36.1 not planned\""] {
        assert!(page.contains(place), "{place}: {page}");
    }
    let fields =
        |place| [("task", "T-3"), ("outcome", "done"), ("minutes", "30"), ("excursion", place)];
    let reply = app.post("/attempts/new", &fields("E-36.1")).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("S-9 was set for T-3 on E-36.1"), "{}", reply.body);

    app.get("/attempts/new?task=T-3").await;
    let reply = app.post("/attempts/new", &fields("E-36.1 not planned")).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/attempts/A-0001/edit").await.body;
    assert!(page.contains("value=\"E-36.1 not planned\" selected"), "{page}");

    app.get("/attempts/A-0001/edit").await;
    let planned = [("excursion", "E-36.1 as S-9"), ("words", "it was the planned try")];
    let reply = app.post("/attempts/A-0001/edit", &planned).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/attempts/A-0001").await.body;
    assert!(page.contains("/slots/S-9") && page.contains("it was the planned try"), "{page}");
    assert!(page.contains("30"), "what was not sent stays: {page}");
}

/// What a browser sends for a form with one photograph.
pub(crate) async fn with_photo(
    app: &TestApp,
    path: &str,
    fields: &[(&str, &str)],
    name: &str,
) -> Reply {
    with_photos(app, path, fields, name, 1).await
}

/// The same with several photographs in one field.
async fn with_photos(
    app: &TestApp,
    path: &str,
    fields: &[(&str, &str)],
    name: &str,
    count: u8,
) -> Reply {
    const EDGE: &str = "edge-of-the-parts";
    let mut all = app.hidden(path);
    all.extend(fields.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())));
    let mut body = Vec::new();
    for (field, text) in &all {
        let head = format!("--{EDGE}\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n");
        body.extend_from_slice(format!("{head}{text}\r\n").as_bytes());
    }
    for seed in 0..count {
        let head = format!(
            "--{EDGE}\r\nContent-Disposition: form-data; name=\"{name}\"; \
             filename=\"rail.png\"\r\nContent-Type: image/png\r\n\r\n"
        );
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(&png(&picture(64, 40, seed)));
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(format!("--{EDGE}--\r\n").as_bytes());
    let request = axum::http::Request::post(path)
        .header("content-type", format!("multipart/form-data; boundary={EDGE}"))
        .header("sec-fetch-site", "same-origin")
        .body(axum::body::Body::from(body))
        .unwrap();
    app.send(request).await
}

#[sqlx::test]
async fn a_photograph_comes_in_with_the_form_of_its_attempt(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [("excursion", "E-36.1"), ("outcome", "done"), ("minutes", "30")];
    let many = u8::try_from(domain::bounds::MAX_FORM_FILES + 1).unwrap();
    let reply = with_photos(&app, "/attempts/new", &fields, "photo", many).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("at most 40 now"), "{}", reply.body);
    assert_eq!(app.get("/files/FI-001").await.status, 404);

    app.get("/attempts/new?task=T-3").await;
    let reply = with_photo(&app, "/attempts/new", &fields, "photo").await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/tasks/T-3"));
    assert!(app.get("/attempts/A-0001").await.body.contains("/files/FI-001"));
}

/// What a form that came back sends again for the photograph that waits.
pub(crate) fn waiting_in(page: &str, field: &str) -> String {
    let (_, rest) = page.split_once(&format!("name=\"{field}\"")).expect(page);
    let (_, rest) = rest.split_once("value=\"").unwrap();
    rest.split_once('"').unwrap().0.to_owned()
}

#[sqlx::test]
async fn a_photograph_comes_in_with_its_row_of_the_debrief(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    slotted(&app).await;
    let lead = Actor { name: "lead".into(), role: Role::Lead };
    let mut work = app::work::Work::begin(&app.app, &lead, None).await.unwrap();
    store::excursions::set_closed(work.db(), &"E-36.1".into(), None).await.unwrap();
    work.finish("").await.unwrap();

    let path = "/excursions/E-36.1/debrief";
    app.get(path).await;
    let unfinished = [("r0-outcome", "not completed"), ("r0-words", "kept as typed")];
    let reply = with_photo(&app, path, &unfinished, "r0-photo").await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("its photographs wait for it"), "{}", reply.body);
    assert!(reply.body.contains("kept as typed"), "{}", reply.body);
    let waits = waiting_in(&reply.body, "r0-kept_photo");

    let done = [
        ("r0-outcome", "done"),
        ("r0-minutes", "30"),
        ("r0-kept_photo", waits.as_str()),
        ("do", "save"),
    ];
    app.get(path).await;
    let reply = app.post(path, &done).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get(path).await.body;
    assert!(page.contains("data-code=\"FI-001\""), "it stands in the row: {page}");
    assert!(app.get("/attempts/A-0001").await.body.contains("/files/FI-001"));
}

#[sqlx::test]
async fn a_form_that_comes_back_wrong_keeps_the_version_that_it_was_made_on(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [("task", "T-3"), ("excursion", "E-36.1"), ("outcome", "done"), ("minutes", "30")];
    assert_eq!(app.post("/attempts/new", &fields).await.status, 303);

    app.get("/attempts/A-0001/edit").await;
    let other = app.another();
    other.sign_in("engineer").await;
    other.get("/attempts/A-0001/edit").await;
    let reply = other.post("/attempts/A-0001/edit", &[("words", "from the recorder")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let reply = app.post("/attempts/A-0001/edit", &[("minutes", "1800")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    let reply = app.post("/attempts/A-0001/edit", &[("minutes", "31"), ("words", "mine")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("from the recorder") && reply.body.contains("mine"));
    assert!(app.get("/attempts/A-0001").await.body.contains("from the recorder"));
}

#[sqlx::test]
async fn a_form_with_photographs_of_an_ended_session_is_not_kept_and_says_so(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    app.wait_minutes(61);
    let fields = [("excursion", "E-36.1"), ("outcome", "done"), ("minutes", "30")];
    let reply = with_photo(&app, "/attempts/new", &fields, "photo").await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/sign-in?form=not-kept"));
    app.sign_in("engineer").await;
    assert_eq!(app.get("/attempts/A-0001").await.status, 404);
}

#[sqlx::test]
async fn a_form_says_what_it_cannot_read_and_what_cannot_be_at_once(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [
        ("task", "T-3"),
        ("excursion", "E-36.1"),
        ("technique", "K-2"),
        ("side", "aft"),
        ("minutes", "many"),
        ("outcome", "done"),
    ];
    let reply = app.post("/attempts/new", &fields).await;
    assert_eq!(reply.status, 422);
    for wrong in ["K-2 is for the family F-2", "has the access sides", "f-minutes-error"] {
        assert!(reply.body.contains(wrong), "{wrong}: {}", reply.body);
    }
    assert!(!reply.body.contains("No minutes of work are recorded"), "they were typed");
}

#[sqlx::test]
async fn work_that_was_not_reached_names_its_slot_or_says_why(db: SqlitePool) {
    let app = flown(db, Role::Engineer).await;
    app.get("/attempts/new?task=T-3").await;
    let fields = [("task", "T-3"), ("excursion", "E-36.1"), ("outcome", "not reached")];
    let asked = app.post("/attempts/new", &fields).await;
    assert_eq!(asked.status, 422, "{}", asked.body);
    assert!(asked.body.contains("say in words why it was not reached"), "{}", asked.body);
    let said = [&fields[..], &[("words", "The airlock was late.")]].concat();
    let reply = app.post("/attempts/new", &said).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}
