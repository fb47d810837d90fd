//! Tables that ask too much, and people who may not send any: refused with the bound, in bounded
//! time and memory.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime};

use app::{Actor, import, sweep};
use axum::body::Body;
use axum::http::{Request, header};
use domain::bounds::{MAX_TABLE_COLUMNS, MAX_TABLE_ROWS};
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::TestApp;
use crate::under_way::send;

/// A call of the program: what it said, and the most memory that it held, in MB.
fn measured(arguments: &[&str], directory: &Path) -> (Option<i32>, String, u64) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_holdover"))
        .args(arguments)
        .env("HOLDOVER_DATA", directory)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    while child.try_wait().unwrap().is_none() {
        let told = std::fs::read_to_string(&status).unwrap_or_default();
        let peak = told.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let peak = peak.and_then(|text| text.trim().trim_end_matches(" kB").parse::<u64>().ok());
        most = most.max(peak.unwrap_or(0) / 1_000);
        std::thread::sleep(Duration::from_millis(10));
    }
    let output = child.wait_with_output().unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8_lossy(&said).into_owned(), most)
}

/// Writes a table in pieces; gives its path.
fn table(directory: &Path, name: &str, pieces: impl Iterator<Item = Vec<u8>>) -> String {
    let path = directory.join(name);
    let mut file = std::io::BufWriter::new(std::fs::File::create(&path).unwrap());
    pieces.for_each(|piece| file.write_all(&piece).unwrap());
    file.flush().unwrap();
    path.to_str().unwrap().to_owned()
}

// The bound of memory is the project's own: 200 MB for a table of 100 MB.
#[test]
#[cfg(target_os = "linux")]
fn a_table_of_a_hundred_megabytes_is_read_in_less_than_two_hundred() {
    // Rows as tables have them, and rows that nearly reach their own bound.
    for (letters, count) in [(51_000, 2_000), (990_000, 102)] {
        let folder = tempfile::tempdir().unwrap();
        let text = "x".repeat(letters);
        let rows = (0..count).map(|number| format!("L-{number},tool,{text}\n").into_bytes());
        let heads = std::iter::once(b"code,name,remarks of theirs\n".to_vec());
        let path = table(folder.path(), "large.csv", heads.chain(rows));
        assert!(std::fs::metadata(&path).unwrap().len() > 100_000_000);

        let (code, said, most) = measured(&["import", "tools", &path, "--dry-run"], folder.path());

        assert_eq!(code, Some(0), "{said}");
        let words = format!("{count} of {count} rows of tools would be imported as new");
        assert!(said.contains(&words), "{said}");
        println!("most memory at {letters} letters a row: {most} MB");
        assert!((1..200).contains(&most), "{most} MB");
    }
}

/// How often a run looked at a row on the copy before it saved.
async fn looks(app: &TestApp, rows: usize, name: &str) -> usize {
    let actor = Actor { name: "engineer".into(), role: Role::Engineer };
    let lines = (0..rows).map(|n| format!("L-{rows}{n},{name} {n}\n"));
    let table = format!("code,name\n{}", lines.collect::<String>());
    let table = import::Given::Bytes(table.as_bytes());
    let request = import::Request { kind: Kind::Tool, table, options: import::Options::default() };
    let mut looks = 0;
    let told = |far: import::Far| looks += usize::from(far.is_look);
    let report = import::run(&app.app, &actor, &request, None, told).await.unwrap();
    assert!(report.committed, "{:?}", report.bad);
    looks
}

#[sqlx::test]
async fn a_table_of_few_long_rows_is_timed_before_it_is_saved(db: SqlitePool) {
    let app = TestApp::new(db).await;
    assert_eq!(looks(&app, 20, "bar").await, 0, "few and short");
    // Blanks around a name are no part of it.
    assert_eq!(looks(&app, 30, &format!("{}bar", " ".repeat(10_000))).await, 30, "few and long");
}

#[test]
#[cfg(target_os = "linux")]
fn tables_beyond_their_bounds_are_refused_soon_and_in_little_memory() {
    let folder = tempfile::tempdir().unwrap();
    let heads = || std::iter::once(b"code,name\n".to_vec());
    let piece = |text: &str| text.repeat(1_000_000 / text.len()).into_bytes();
    let commas = std::iter::repeat_with(|| piece(",")).take(63);
    let many = std::iter::repeat_with(|| piece("L-1,tool\n")).take(14);
    let wide = std::iter::repeat_with(|| piece("head,")).take(5);
    let quote = std::iter::once(b"L-1,\"".to_vec()).chain(commas.clone());
    for (name, pieces, words) in [
        ("commas.csv", heads().chain(commas).collect::<Vec<_>>(), "200 columns"),
        ("many.csv", heads().chain(many).collect(), "at most 200000 rows"),
        ("wide.csv", wide.collect(), "200 columns"),
        ("quote.csv", heads().chain(quote).collect(), "longer than 1000 kB"),
    ] {
        let path = table(folder.path(), name, pieces.into_iter());
        let begun = std::time::Instant::now();
        let (code, said, most) = measured(&["import", "tools", &path, "--dry-run"], folder.path());
        println!("{name}: {:?}, {most} MB", begun.elapsed());
        assert_eq!(code, Some(1), "{name}: {said}");
        assert!(said.contains(words), "{name}: {said}");
        assert!(most < 100, "{name}: {most} MB");
        assert!(begun.elapsed() < Duration::from_secs(30), "{name}: {:?}", begun.elapsed());
    }
}

/// A workbook of these parts beside those that every workbook has.
fn workbook(directory: &Path, name: &str, sheet: &[u8], more: &[(&str, &[u8])]) -> String {
    let relations = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let package = "http://schemas.openxmlformats.org/package/2006/relationships";
    let root = format!(
        "<Relationships xmlns=\"{package}\"><Relationship Id=\"r1\" Type=\"{relations}/officeDocument\" \
         Target=\"xl/workbook.xml\"/></Relationships>"
    );
    let own = format!(
        "<Relationships xmlns=\"{package}\"><Relationship Id=\"r1\" Type=\"{relations}/worksheet\" \
         Target=\"worksheets/sheet1.xml\"/></Relationships>"
    );
    let book = format!(
        "<workbook xmlns=\"{MAIN}\" xmlns:r=\"{relations}\"><sheets><sheet name=\"tools\" \
         sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
    );
    let parts: [(&str, &[u8]); 4] = [
        ("_rels/.rels", root.as_bytes()),
        ("xl/workbook.xml", book.as_bytes()),
        ("xl/_rels/workbook.xml.rels", own.as_bytes()),
        ("xl/worksheets/sheet1.xml", sheet),
    ];
    let path = directory.join(name);
    let mut packed = zip::ZipWriter::new(std::fs::File::create(&path).unwrap());
    let options = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated);
    for (part, bytes) in parts.iter().chain(more) {
        packed.start_file(*part, options).unwrap();
        packed.write_all(bytes).unwrap();
    }
    packed.finish().unwrap();
    path.to_str().unwrap().to_owned()
}

// Source: ECMA-376 part 1, annex A (the namespace of spreadsheets), 2016.
const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";

fn rows(cells: &str) -> Vec<u8> {
    format!("<worksheet xmlns=\"{MAIN}\"><sheetData>{cells}</sheetData></worksheet>").into_bytes()
}

fn words(at: &str, text: &str) -> String {
    format!("<c r=\"{at}\" t=\"inlineStr\"><is><t>{text}</t></is></c>")
}

/// The bounds of a second and of 100 MB are the project's own.
#[test]
#[cfg(target_os = "linux")]
fn a_workbook_that_is_a_bomb_is_refused_within_a_second_and_a_hundred_megabytes() {
    let folder = tempfile::tempdir().unwrap();
    let heads = format!("<row r=\"1\">{}{}</row>", words("A1", "code"), words("B1", "name"));
    let good = format!("{heads}<row r=\"2\">{}{}</row>", words("A2", "L-1"), words("B2", "bar"));
    let far = |at: &str| {
        let row = at.trim_start_matches(char::is_alphabetic);
        rows(&format!("{good}<row r=\"{row}\">{}</row>", words(at, "far")))
    };
    let blanks = rows(&format!("{good}{}", " ".repeat(400_000_000)));
    // The exponential growth of entities that name entities.
    let grown: String = (1..10)
        .map(|at| format!("<!ENTITY e{at} \"{}\">", format!("&e{};", at - 1).repeat(10)))
        .collect::<Vec<_>>()
        .concat();
    let grown = format!("<!DOCTYPE worksheet [<!ENTITY e0 \"xxxxxxxxxx\">{grown}]>");
    let entities =
        [grown.as_bytes(), &rows(&format!("{heads}<row r=\"2\">{}</row>", words("A2", "&e9;")))]
            .concat();
    let shared =
        format!("<sst xmlns=\"{MAIN}\" uniqueCount=\"90000000000\"><si><t>a</t></si></sst>");
    let text = "x".repeat(30_000);
    let long = format!("<sst xmlns=\"{MAIN}\"><si><t>{text}</t></si></sst>");
    let again: String = (2..9_000)
        .map(|at| format!("<row r=\"{at}\"><c r=\"A{at}\" t=\"s\"><v>0</v></c></row>"))
        .collect::<Vec<_>>()
        .concat();
    let again = rows(&format!("{heads}{again}"));
    let path = workbook(folder.path(), "good.xlsx", &rows(&good), &[]);
    let (code, said, plain) = measured(&["import", "tools", &path, "--dry-run"], folder.path());
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("1 of 1 rows of tools would be imported as new"), "{said}");
    println!("a workbook of one row: {plain} MB");
    let none: &[(&str, &[u8])] = &[];
    let room = format!("<sst xmlns=\"{MAIN}\">{}</sst>", " ".repeat(33_000_000));
    for (name, sheet, more, says) in [
        (
            "texts.xlsx",
            rows(&good),
            &[("xl/sharedStrings.xml", room.as_bytes())][..],
            "more than 32 MB or 2000000 tags",
        ),
        ("far.xlsx", far("XFD1048576"), none, "column 16384"),
        ("right.xlsx", far("XFD2"), none, "column 16384"),
        ("below.xlsx", far("A1048576"), none, "row 1048576"),
        ("blanks.xlsx", blanks, none, "unpacks to more than 64 MB"),
        ("entities.xlsx", entities, none, "document type"),
        (
            "room.xlsx",
            rows(&good),
            &[("xl/sharedStrings.xml", shared.as_bytes())],
            "shares more texts",
        ),
        ("again.xlsx", again, &[("xl/sharedStrings.xml", long.as_bytes())], "more than 64 MB"),
    ] {
        let path = workbook(folder.path(), name, &sheet, more);
        let bytes = std::fs::metadata(&path).unwrap().len();
        let begun = std::time::Instant::now();
        let (code, said, most) = measured(&["import", "tools", &path, "--dry-run"], folder.path());
        let took = begun.elapsed();
        println!("{name}: {bytes} bytes, {took:?}, {most} MB: {said}");
        assert_eq!(code, Some(1), "{name}: {said}");
        assert!(said.contains(says), "{name}: {said}");
        assert!(most < 100, "{name}: {most} MB");
        assert!(took < Duration::from_secs(1), "{name}: {took:?}");
    }
}

#[sqlx::test]
async fn who_may_take_in_no_such_table_is_refused_before_it_is_read(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let page = app.get("/import").await.body;
    assert!(page.contains("A viewer may not import tables") && !page.contains("type=\"file\""));

    // A form made by hand: the answer comes while its body is still on its way.
    let csrf = app.hidden("/sign-out").into_iter().find(|(name, _)| name == "csrf").unwrap().1;
    let start = format!(
        "--e\r\nContent-Disposition: form-data; name=\"csrf\"\r\n\r\n{csrf}\r\n--e\r\n\
         Content-Disposition: form-data; name=\"kind\"\r\n\r\ntools\r\n--e\r\n\
         Content-Disposition: form-data; name=\"file\"; filename=\"t.csv\"\r\n\r\ncode,name\r\n"
    );
    let start = futures_util::stream::iter([Ok::<_, std::io::Error>(start.into_bytes())]);
    let endless = futures_util::StreamExt::chain(start, futures_util::stream::pending());
    let request = Request::post("/import")
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=e")
        .header("sec-fetch-site", "same-origin")
        .body(Body::from_stream(endless))
        .unwrap();
    let refused = app.send(request).await;
    assert_eq!(refused.status, 403, "{}", refused.body);
    assert!(refused.body.contains("may not import tables"), "{}", refused.body);

    let engineer = app.another().signed_in(Role::Engineer).await;
    let page = engineer.get("/import").await.body;
    assert!(page.contains("value=\"tools\"") && !page.contains("value=\"flights\""), "{page}");
    let refused = send(&engineer, "flights", "code,launch,state\r\nG-1,2031-03-10,coming").await;
    assert_eq!(refused.status, 403, "{}", refused.body);
}

#[sqlx::test]
async fn a_table_beyond_its_bounds_says_so_on_the_page(db: SqlitePool) {
    let config = app::config::Config { table_limit: 1_000_000, ..app::config::Config::default() };
    let app = TestApp::with(db, config).await.signed_in(Role::Engineer).await;
    let bounds = format!(
        "At most {MAX_TABLE_ROWS} rows, {MAX_TABLE_COLUMNS} columns and 1 MB in one table."
    );
    assert!(app.get("/import").await.body.contains(&bounds));
    let large = send(&app, "tools", &"code,name\r\n".repeat(100_000)).await;
    assert_eq!(large.status, 422, "{}", large.body);
    assert!(large.body.contains("larger than 1 MB, the most for one file"), "{}", large.body);
    let wide = send(&app, "tools", &",".repeat(500)).await;
    let page = app.get(&wide.location).await.body;
    assert!(page.contains("a table has at most 200 columns"), "{page}");
}

#[sqlx::test]
async fn tables_that_nobody_took_are_removed_by_age(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let mut sent = Vec::new();
    for number in 0..4 {
        let reply = send(&app, "tools", &format!("code,name\r\nL-{number},tool")).await;
        sent.push(reply.location.trim_start_matches("/import/").to_owned());
        app.app.clock.advance_minutes(1);
    }
    let contents = app.app.db.contents().clone();
    assert!(!contents.table(&sent[0]).exists(), "each person keeps their last three");
    assert_eq!(app.get(&format!("/import/{}", sent[0])).await.status, 409);

    let old = SystemTime::now() - Duration::from_hours(25);
    let file = std::fs::File::options().write(true).open(contents.table(&sent[1])).unwrap();
    file.set_modified(old).unwrap();
    sweep::once(&app.app).await.unwrap();

    assert!(!contents.table(&sent[1]).exists() && contents.table(&sent[2]).exists());
    let gone = app.get(&format!("/import/{}", sent[1])).await;
    assert_eq!(gone.status, 409, "{}", gone.body);
    assert!(gone.body.contains("send the file again"), "{}", gone.body);
}
