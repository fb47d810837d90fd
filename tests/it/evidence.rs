//! Photographs and files over HTTP: sent in, looked at, shown, taken away, put back.

use app::checks;
use app::config::Config;
use axum::body::Body;
use axum::http::{Request, header};
use domain::kinds::Kind;
use domain::words::Role;
use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::{Rgb, RgbImage};
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::{Reply, TestApp};

const EDGE: &str = "edge-of-the-parts";

/// The small record with a failed attempt `A-0901` at T-3, its finding `N-901`, and `O-91` outside.
async fn record(app: TestApp, role: Role) -> TestApp {
    let app = app.signed_in(role).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-02 | state: flown",
        ),
        (
            Kind::Attempt,
            "code: A-0901 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 3 | minutes: 45 | as_left: pushed back in",
        ),
        (Kind::Finding, "code: N-901 | attempts: A-0901 | cause: 3 | words: no room for the wrist"),
        (Kind::OutsideItem, "code: O-91 | what: hand line | worksite: W-B | state: in place"),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

/// A picture with colours that no other test has.
pub fn picture(width: u32, height: u32, seed: u8) -> RgbImage {
    let byte = |at: u32| u8::try_from(at).unwrap();
    let at = |x: u32, y: u32| [byte(x % 251) ^ seed, byte(y % 241), seed];
    RgbImage::from_fn(width, height, |x, y| Rgb(at(x, y)))
}

pub fn png(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture.write_with_encoder(PngEncoder::new(&mut bytes)).unwrap();
    bytes
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, 90)).unwrap();
    bytes
}

/// What a browser sends for the form, with these fields and one file.
fn body(fields: &[(String, String)], name: &str, content: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    for (field, value) in fields {
        let head = format!("--{EDGE}\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n");
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(value.as_bytes());
        body.extend_from_slice(b"\r\n");
    }
    let head = format!(
        "--{EDGE}\r\nContent-Disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\
         Content-Type: image/png\r\n\r\n"
    );
    body.extend_from_slice(head.as_bytes());
    body.extend_from_slice(content);
    body.extend_from_slice(format!("\r\n--{EDGE}--\r\n").as_bytes());
    body
}

async fn sent(app: &TestApp, body: Vec<u8>) -> Reply {
    let request = Request::post("/files/new")
        .header(header::CONTENT_TYPE, format!("multipart/form-data; boundary={EDGE}"))
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(body))
        .unwrap();
    app.send(request).await
}

async fn send(app: &TestApp, of: (&str, &str), name: &str, content: &[u8]) -> Reply {
    send_with(app, of, name, content, "the hook from nadir").await
}

/// Opens the form for a record, fills it in and sends it.
pub async fn send_with(
    app: &TestApp,
    of: (&str, &str),
    name: &str,
    content: &[u8],
    caption: &str,
) -> Reply {
    let (column, code) = of;
    let form = app.get(&format!("/files/new?{column}={code}")).await;
    assert_eq!(form.status, 200, "{}", form.body);
    let mut fields = app.hidden("/files/new");
    assert!(fields.contains(&(column.to_owned(), code.to_owned())), "{fields:?}");
    fields.push(("caption".to_owned(), caption.to_owned()));
    fields.push(("on_paper".to_owned(), "yes".to_owned()));
    sent(app, body(&fields, name, content)).await
}

#[sqlx::test]
async fn a_photograph_is_kept_by_its_hash_and_shown_where_it_belongs(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;

    let reply = send(&app, ("attempt", "A-0901"), "jam.jpg", &jpeg(&picture(900, 600, 1))).await;

    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/attempts/A-0901"));
    for (page, says) in [
        ("/attempts/A-0901", "the hook from nadir"),
        ("/tasks/T-3", "the hook from nadir"),
        ("/findings/N-901", "the hook from nadir"),
        ("/files/FI-001", "JPEG picture"),
    ] {
        let shown = app.get(page).await;
        assert_eq!(shown.status, 200, "{page}");
        assert!(shown.body.contains(says) && shown.body.contains("/files/FI-001"), "{page}");
    }
    let page = app.get("/tasks/T-3").await.body;
    assert!(page.contains("width=\"480\" height=\"320\" alt=\"the hook from nadir\""), "{page}");
    // The address that the page gives names the content, so the browser keeps what it gets there.
    let (_, rest) = page.split_once("<img src=\"/files/FI-001/preview?v=").unwrap();
    let preview = format!("/files/FI-001/preview?v={}", rest.split('"').next().unwrap());
    let kept = "private, max-age=31536000, immutable";
    assert_eq!(app.get(&preview).await.header("cache-control"), kept);
    for plain in ["/files/FI-001/preview", "/files/FI-001/preview?v=0123456789abcdef"] {
        assert_eq!(app.get(plain).await.header("cache-control"), "no-store", "{plain}");
    }
    let whole = app.get("/files/FI-001/content").await;
    assert_eq!(whole.header("content-type"), "image/jpeg");
    assert_eq!(whole.header("content-security-policy"), "sandbox; default-src 'none'");
    assert_eq!(whole.header("x-content-type-options"), "nosniff");
    let said = whole.header("content-disposition");
    assert!(said.starts_with("inline; filename=\"jam.jpg\""), "{said}");
    let hash = hash_of(&app, "FI-001").await;
    let kept = std::fs::read(app.app.db.contents().path(&hash)).unwrap();
    assert_eq!(whole.header("content-length"), kept.len().to_string());
    assert!(kept.starts_with(&[0xff, 0xd8, 0xff]));
    assert_eq!(app.get("/files/FI-001/preview").await.header("content-type"), "image/jpeg");
    assert!(app.get("/changes").await.body.contains("FI-001"));
    for (words, found) in [("hook+nadir", true), ("jam.jpg", true), (&hash[..12], false)] {
        let page = app.get(&format!("/search?q={words}")).await.body;
        assert_eq!(page.contains("data-code=\"FI-001\""), found, "{words}: {page}");
    }
}

async fn hash_of(app: &TestApp, code: &str) -> String {
    let mut db = app.app.db.reader().await.unwrap();
    let file = app::kinds::find(&mut db, Kind::File, code).await.unwrap().unwrap();
    file.get("hash").to_owned()
}

#[sqlx::test]
async fn a_text_is_saved_and_never_looked_at_as_a_page(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    let text = "turns,torque N·m\n9,12 of the first bolt\n";
    let reply = send(&app, ("finding", "N-901"), "turns.csv", text.as_bytes()).await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/findings/N-901"));

    let content = app.get("/files/FI-001/content").await;
    assert_eq!(content.body, text);
    assert_eq!(content.header("content-type"), "text/plain; charset=utf-8");
    assert!(content.header("content-disposition").starts_with("attachment; "));
    assert_eq!(content.header("content-security-policy"), "sandbox; default-src 'none'");
    assert_eq!(app.get("/files/FI-001/preview").await.status, 404);

    let pdf = b"%PDF-1.4\n1 0 obj << >> endobj\ntrailer << >>\n%%EOF\n";
    let reply = send(&app, ("outside_item", "O-91"), "drawing.pdf", pdf).await;
    assert_eq!((reply.status.as_u16(), &*reply.location), (303, "/outside/O-91"));
    assert!(app.get("/outside/O-91").await.body.contains("/files/FI-002"));
    let content = app.get("/files/FI-002/content").await;
    assert_eq!(content.header("content-type"), "application/pdf");
    assert!(content.header("content-disposition").starts_with("attachment; "));
}

/// Refused with a sentence beside the field, with what was typed still there.
async fn refused(app: &TestApp, name: &str, content: &[u8], status: u16, says: &str) {
    let reply = send(app, ("attempt", "A-0901"), name, content).await;
    assert_eq!(reply.status, status, "{name}: {}", reply.body);
    let error = reply.body.split("id=\"f-file-error\"").nth(1).unwrap_or_default();
    let error = error.split("</p>").next().unwrap();
    assert!(error.contains(says), "{name}: {error}");
    assert!(reply.body.contains("value=\"the hook from nadir\""), "{name}: the caption is lost");
    assert!(reply.body.contains("name=\"attempt\" value=\"A-0901\""), "{name}");
    assert!(reply.body.contains("<title>Error: "), "{name}");
    assert_eq!(app.get("/files/FI-001").await.status, 404, "{name} was kept");
}

#[sqlx::test]
async fn bad_files_are_answered_in_words(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    let small = picture(40, 30, 2);
    let page = b"<html><script>alert(1)</script></html>".as_slice();
    refused(&app, "jam.png", page, 422, "holds a web page").await;
    refused(&app, "notes.html", b"plain words", 422, "ends in .html, but what it holds is a plain")
        .await;
    refused(&app, "jam.png", &jpeg(&small), 422, "ends in .png, but what it holds is a JPEG").await;
    refused(&app, "tool.exe", b"MZ\x90\0\x03\0", 422, "none of the kinds that are kept").await;
    let whole = jpeg(&small);
    refused(&app, "jam.jpg", &whole[..whole.len() / 2], 422, "cut short or damaged").await;
    let whole = png(&small);
    refused(&app, "jam.png", &whole[..whole.len() / 2], 422, "cut short or damaged").await;
    refused(&app, "jam.png", &hundred_megapixels(), 422, "has 100 megapixels; at most 25").await;
    refused(&app, "empty.txt", b"", 422, "Choose a file that is not empty").await;
}

/// A PNG that says it is 10,000 pixels wide and high.
// Source: ISO/IEC 15948 (PNG), sections 5.3, 5.5 and 11.2.2, 2004; the check sum of this head was
// worked out with Python's zlib.crc32.
fn hundred_megapixels() -> Vec<u8> {
    let head = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\x27\x10\0\0\x27\x10\x08\x02\0\0\0".as_slice();
    [head, &CRC, b"\0\0\0\x10IDAT0123456789abcdef"].concat()
}
const CRC: [u8; 4] = [0x35, 0x2c, 0xf5, 0x70];

#[sqlx::test]
async fn a_file_beyond_the_limit_is_told_so_and_leaves_nothing(db: SqlitePool) {
    let config = Config { file_limit: 4_000, ..Config::default() };
    let app = record(TestApp::with(db, config).await, Role::Engineer).await;
    let noise: Vec<u8> = (0..4_001_u32).map(|n| b'a' + u8::try_from(n % 23).unwrap()).collect();
    refused(&app, "long.txt", &noise, 413, "larger than 4 kB").await;
    let reply = send(&app, ("attempt", "A-0901"), "long.txt", &[b'x'; 12_000]).await;
    assert_eq!(reply.status, 413);
    assert!(reply.body.contains("Too much was sent at once"));
    assert!(reply.body.contains("reads at most 8 kB at once"), "{}", reply.body);
    let reply = send(&app, ("attempt", "A-0901"), "fits.txt", &noise[..4_000]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

#[sqlx::test]
async fn other_forms_keep_their_own_limit(db: SqlitePool) {
    let config = Config { form_limit: 4_000, ..Config::default() };
    let app = record(TestApp::with(db, config).await, Role::Engineer).await;
    app.get("/tasks/T-3/edit").await;
    let long = "x".repeat(8_000);
    assert_eq!(app.post("/tasks/T-3/edit", &[("notes", &long)]).await.status, 413);
}

#[sqlx::test]
async fn a_name_with_folders_and_hidden_letters_is_only_a_name(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    for (sent_as, shown) in [
        ("../../../etc/cron.d/evil.txt", "evil.txt"),
        ("C:\\Windows\\System32\\evil.txt", "evil.txt"),
        ("<img src=x onerror=alert(1)>.txt", "&#60;img src=x onerror=alert(1)&#62;.txt"),
    ] {
        let text = format!("the text of {sent_as}");
        let reply = send(&app, ("attempt", "A-0901"), sent_as, text.as_bytes()).await;
        assert_eq!(reply.status, 303, "{sent_as}: {}", reply.body);
        let page = app.get("/attempts/A-0901").await;
        let code = page.body.rsplit("data-code=\"FI-").next().unwrap().split('"').next().unwrap();
        let page = app.get(&format!("/files/FI-{code}")).await;
        assert!(page.body.contains(&format!("<dt>File name</dt><dd>{shown}</dd>")), "{sent_as}");
        let said = app.get(&format!("/files/FI-{code}/content")).await;
        let said = said.header("content-disposition").to_owned();
        assert!(!said.contains("..") && !said.contains(['/', '\\', '<']), "{said}");
    }
}

#[sqlx::test]
async fn only_those_who_may_edit_the_record_add_to_it(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    send(&app, ("attempt", "A-0901"), "a.txt", b"who may").await;

    let viewer = app.another().signed_in(Role::Viewer).await;
    assert_eq!(viewer.get("/files/new?attempt=A-0901").await.status, 403);
    let page = viewer.get("/files/FI-001").await;
    assert!(page.body.contains(">Download<") && !page.body.contains("/remove"));
    assert!(!viewer.get("/attempts/A-0901").await.body.contains("/files/new"));
    let fields = viewer.hidden("/files/new");
    assert_eq!(sent(&viewer, body(&fields, "a.txt", b"who may not")).await.status, 403);
    assert_eq!(viewer.post("/files/FI-001/remove", &[]).await.status, 403);

    let stranger = app.another();
    for path in ["/files/FI-001", "/files/FI-001/content", "/files/FI-001/preview"] {
        assert_eq!(stranger.get(path).await.status, 303, "{path}");
    }
    assert_eq!(sent(&stranger, body(&[], "a.txt", b"nobody")).await.status, 303);

    app.get("/files/new?attempt=A-0901").await;
    let mut fields = app.hidden("/files/new");
    fields.retain(|(name, _)| name != "csrf");
    assert_eq!(sent(&app, body(&fields, "a.txt", b"no token")).await.status, 403);
    assert_eq!(app.get("/files/FI-002").await.status, 404);
}

#[sqlx::test]
async fn the_same_form_twice_counts_once(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    app.get("/files/new?attempt=A-0901").await;
    let fields = app.hidden("/files/new");
    let form = body(&fields, "a.txt", b"sent twice");
    assert_eq!(sent(&app, form.clone()).await.location, "/attempts/A-0901");
    assert_eq!(sent(&app, form).await.location, "/attempts/A-0901");
    assert_eq!(app.get("/files/FI-002").await.status, 404);
}

#[sqlx::test]
async fn a_file_names_one_record_that_is_there(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    app.get("/files/new").await;
    let mut fields = app.hidden("/files/new");
    let reply = sent(&app, body(&fields, "a.txt", b"of nothing")).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("belongs to one record"), "{}", reply.body);
    fields.push(("attempt".to_owned(), "A-0901".to_owned()));
    fields.push(("finding".to_owned(), "N-901".to_owned()));
    let reply = sent(&app, body(&fields, "a.txt", b"of two")).await;
    assert!(reply.body.contains("belongs to one record"), "{}", reply.body);
    fields.pop();
    fields.last_mut().unwrap().1 = "A-0999".to_owned();
    let reply = sent(&app, body(&fields, "a.txt", b"of none")).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("There is no attempt A-0999"), "{}", reply.body);
}

#[sqlx::test]
async fn a_caption_is_corrected_and_a_file_taken_away_and_put_back(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    let bytes = png(&picture(50, 40, 3));
    send(&app, ("attempt", "A-0901"), "jam.png", &bytes).await;
    let hash = hash_of(&app, "FI-001").await;

    let form = app.get("/files/FI-001/edit").await;
    assert!(!form.body.contains("name=\"hash\"") && form.body.contains("name=\"on_paper\""));
    let edited = [("caption", "the hook, from zenith"), ("on_paper", "no"), ("hash", "0")];
    let edited = app.post("/files/FI-001/edit", &edited).await;
    assert_eq!(edited.status, 303, "{}", edited.body);
    assert_eq!(hash_of(&app, "FI-001").await, hash, "only operations write what a file is");
    let page = app.get("/files/FI-001").await;
    assert!(
        page.body.contains("the hook, from zenith") && page.body.contains("the hook from nadir")
    );
    let printed = app.get("/attempts/A-0901").await;
    assert!(printed.body.contains("<ul class=\"shots no-print\">"), "nothing is picked any more");

    app.get("/files/FI-001").await;
    let gone = app.post("/files/FI-001/remove", &[("why", "of another bay")]).await;
    assert_eq!((gone.status.as_u16(), &*gone.location), (303, "/attempts/A-0901"));
    assert_eq!(app.get("/files/FI-001").await.status, 404);
    let log = app.get("/changes").await.body;
    assert!(log.contains("file removed") && log.contains("of another bay"), "{log}");
    assert_eq!(checks::run(&app.app.db, |_, _| {}).await.unwrap().faults, []);

    app.post("/sign-out", &[]).await;
    app.sign_in("engineer").await;
    let page = app.get("/attempts/A-0901").await;
    assert!(!page.body.contains("FI-001"), "{}", page.body);
    let entry = taken_away(&app).await;
    let back = app.post(&format!("/files/put-back/{entry}"), &[]).await;
    assert_eq!((back.status.as_u16(), &*back.location), (303, "/attempts/A-0901"), "{}", back.body);
    let page = app.get("/files/FI-001").await;
    assert!(page.body.contains("the hook, from zenith"));
    assert_eq!(app.get("/files/FI-001/content").await.status, 200);

    let other = app.post(&format!("/files/put-back/{}", entry - 1), &[]).await;
    assert_eq!(other.status, 409, "only what was taken away is put back");
}

/// The entry of the log that took the last file away.
async fn taken_away(app: &TestApp) -> i64 {
    let mut db = app.app.db.reader().await.unwrap();
    let newest = store::changes::newest(&mut db, i64::MAX, None, 50).await.unwrap();
    let file = |change: &&store::changes::Change| {
        change.kind == Kind::File && change.action == "taken back"
    };
    newest.iter().find(file).unwrap().seq
}

#[sqlx::test]
async fn taking_away_offers_the_way_back_at_once(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    send(&app, ("attempt", "A-0901"), "a.txt", b"back at once").await;
    app.get("/files/FI-001").await;
    app.post("/files/FI-001/remove", &[]).await;
    let page = app.get("/attempts/A-0901").await;
    let undo = page.body.split("action=\"/files/put-back/").nth(1).expect("a way back");
    let entry = undo.split('"').next().unwrap();
    // Another that comes meanwhile has a code of its own.
    send(&app, ("attempt", "A-0901"), "b.txt", b"in its place").await;
    let back = app.post(&format!("/files/put-back/{entry}"), &[]).await;
    assert_eq!(back.status, 303, "{}", back.body);
    assert_eq!(app.get("/files/FI-001/content").await.body, "back at once");
    assert_eq!(app.get("/files/FI-002/content").await.body, "in its place");
}

#[sqlx::test]
async fn an_attempt_with_files_is_not_taken_back_from_under_them(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Lead).await;
    made(&app.app, Kind::Attempt, "code: A-0902 | task: T-3 | excursion: E-36.1 | outcome: done")
        .await;
    send(&app, ("attempt", "A-0902"), "a.txt", b"of the wrong row").await;
    app.get("/excursions/E-36.1/debrief").await;
    let reply = app.post("/excursions/E-36.1/debrief/undo", &[("result", "A-0902")]).await;
    assert_ne!(reply.status, 303, "{}", reply.location);
    assert_eq!(app.get("/attempts/A-0902").await.status, 200);
}

#[sqlx::test]
async fn the_check_names_a_content_that_is_gone_or_was_changed(db: SqlitePool) {
    let app = record(TestApp::new(db).await, Role::Engineer).await;
    send(&app, ("attempt", "A-0901"), "a.png", &png(&picture(600, 500, 4))).await;
    send(&app, ("attempt", "A-0901"), "b.txt", b"this text will be changed").await;
    let run = || async {
        let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
        let words = report.faults.into_iter().map(|fault| (fault.check, fault.words));
        words.collect::<Vec<_>>()
    };
    assert_eq!(run().await, []);
    let contents = app.app.db.contents();
    let changed = contents.path(&hash_of(&app, "FI-002").await);
    std::fs::write(&changed, "this text was changed").unwrap();
    std::fs::remove_file(contents.path(&hash_of(&app, "FI-001").await)).unwrap();
    let found = run().await;
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].1.starts_with("the content of FI-001 is missing: files/"), "{found:?}");
    assert!(found[1].1.starts_with("the content of FI-002 was changed"), "{found:?}");
    // What a page cannot give, it says so and does not fall over.
    assert_eq!(app.get("/files/FI-001/content").await.status, 500);
    assert_eq!(app.get("/files/FI-001").await.status, 200);
    // Sent in once more, it is whole again.
    send(&app, ("attempt", "A-0901"), "a.png", &png(&picture(600, 500, 4))).await;
    send(&app, ("attempt", "A-0901"), "b.txt", b"this text will be changed").await;
    assert_eq!(run().await, []);
}
