//! Lists taken away as files over HTTP.

use app::import::{self, Options, Request};
use app::{Actor, demo, kinds};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::roles::keeper;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;
use web::addresses;

use crate::small_record::{lay, made};
use crate::support::{NOW, TestApp};
use crate::under_way::{send_bytes, through};

#[sqlx::test]
async fn every_kind_is_taken_away_as_it_can_be_brought_in(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;

    for kind in Kind::IMPORTED {
        let role = keeper(*kind);
        let actor = Actor { name: role.word().into(), role };
        let folder = addresses::folder(*kind);
        let file = app.get(&format!("/{folder}.csv")).await;
        assert_eq!(file.status, 200, "{folder}: {}", file.body);
        assert_eq!(file.headers["content-type"], "text/csv; charset=utf-8; header=present");
        let name = format!("attachment; filename=\"{folder}.csv\"");
        assert_eq!(file.headers["content-disposition"], name.as_str());
        let heads: Vec<&str> = kinds::columns(*kind).iter().map(|column| column.name).collect();
        assert_eq!(file.body.lines().next(), Some(heads.join(",").as_str()), "{folder}");

        let options = Options { dry_run: true, ..Options::default() };
        let request = Request {
            kind: *kind,
            table: app::import::Given::Bytes(file.body.as_bytes()),
            options,
        };
        let report = import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();

        assert!(report.rows > 0, "the demo has none of {folder}");
        assert_eq!((report.known, report.bad), (report.rows, Vec::new()), "{folder}");
    }
}

#[sqlx::test]
async fn a_narrowed_list_gives_a_file_of_what_it_shows(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(&app.app, Kind::Tool, "code: L-2 | name: spreader | on_board: 1 | state: usable").await;

    let page = app.get("/tools?q=spreader").await;
    assert!(page.body.contains("href=\"/tools.csv?q=spreader\""), "{}", page.body);
    let file = app.get("/tools.csv?q=spreader").await;
    assert!(file.body.contains("L-2") && !file.body.contains("L-1"), "{}", file.body);

    let page = app.get("/excursions?state=flown").await;
    assert!(page.body.contains("href=\"/excursions.csv?q=&#38;state=flown\""), "{}", page.body);
    assert_eq!(app.get("/excursions.csv?state=flown").await.body.lines().count(), 1);
    assert_eq!(app.get("/excursions.csv?state=planned").await.body.lines().count(), 3);

    assert_eq!(app.get("/findings.csv?show=open").await.body.lines().count(), 1);
    assert_eq!(app.get("/history.csv?outcome=done").await.body.lines().count(), 1);
    assert_eq!(app.get("/history.csv?what=deferrals").await.body.lines().count(), 1);

    let log = app.get("/changes.csv").await;
    let seen = app.get("/changes").await;
    let newest = log.body.lines().nth(1).unwrap();
    let hash = newest.rsplit(',').next().unwrap();
    assert!(hash.len() == 64 && seen.body.contains(hash), "{newest}");
}

#[sqlx::test]
async fn a_long_kind_comes_whole_and_each_record_once(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let rows = (0..2_001).map(|number| format!("L-{number:04},tool {number}\n"));
    let table: String = std::iter::once("code,name\n".to_owned()).chain(rows).collect();
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let options = Options::default();
    let request =
        Request { kind: Kind::Tool, table: app::import::Given::Bytes(table.as_bytes()), options };
    let report = import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
    assert_eq!(report.taken, 2_001);

    let file = app.get("/tools.csv").await;

    let codes: Vec<&str> =
        file.body.lines().skip(1).filter_map(|line| line.split(',').next()).collect();
    assert_eq!(codes.len(), 2_001);
    assert!(codes.windows(2).all(|pair| pair[0] < pair[1]));
}

#[sqlx::test]
async fn nobody_takes_a_list_away_without_signing_in(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let file = app.get("/tasks.csv").await;
    assert_eq!((file.status.as_u16(), file.location.as_str()), (303, "/sign-in?next=%2Ftasks.csv"));
}

#[sqlx::test]
async fn every_kind_is_a_workbook_that_is_read_back_as_the_same_records(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    for kind in Kind::IMPORTED {
        let folder = addresses::folder(*kind);
        let (status, bytes) = app.get_bytes(&format!("/{folder}.xlsx")).await;
        assert_eq!(status, 200, "{folder}");
        assert!(exchange::xlsx::is_workbook(&bytes), "{folder}");
        let role = keeper(*kind);
        let actor = Actor { name: role.word().into(), role };
        let options = Options { dry_run: true, ..Options::default() };
        let request = Request { kind: *kind, table: app::import::Given::Bytes(&bytes), options };
        let report = import::run(&app.app, &actor, &request, None, |_| {}).await.unwrap();
        assert!(report.rows > 0, "{folder}");
        assert_eq!((report.known, report.bad), (report.rows, Vec::new()), "{folder}");
    }
}

#[sqlx::test]
async fn a_workbook_is_imported_on_the_page_and_its_rows_keep_their_numbers(db: SqlitePool) {
    use domain::cells::Input;
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let columns = [
        ("code", Input::Line),
        ("name", Input::Line),
        ("mass", Input::Number),
        ("of theirs", Input::Day),
    ];
    let row = |cells: [&str; 4]| cells.map(str::to_owned).to_vec();
    let rows = [
        row(["L-1", "=1+1", "1.5", "2031-03-18"]),
        row(["", "", "", ""]),
        row(["L-2", "pry bar", "much", ""]),
    ];
    let book = exchange::xlsx::write("tools", &columns, rows).unwrap();
    let sent = send_bytes(&app, "tools", &book).await;
    assert_eq!(sent.status, 303, "{}", sent.body);
    let page = through(&app, &sent.location).await.body;
    assert!(page.contains("The sheet “tools” was read"), "{page}");
    assert!(page.contains("of theirs") && page.contains("“much”"), "{page}");
    // Row 3 of the sheet is blank, so the bad one is row 4.
    assert!(page.contains(">4<"), "{page}");
}
