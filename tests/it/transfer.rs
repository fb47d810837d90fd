//! Export, restore and backup: nothing is lost on the way, nothing half done is left.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::Path;

use app::clock::Clock;
use app::config::Config;
use app::work::Work;
use app::{Actor, App, checks, demo, export, people};
use domain::cells::{Cell as _, Cells};
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::time::Moment;
use domain::words::Role;
use sha2::{Digest as _, Sha256};
use sqlx::ConnectOptions as _;
use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use store::transfer::{self, Value};
use store::{Contents, Db, Kept as _, schema};

use crate::command_line::{holdover, said};
use crate::evidence::{picture, png};
use crate::support::NOW;

const DATABASE: &str = "holdover.db";

async fn opened(folder: &Path) -> App {
    let db = Db::open(&folder.join(DATABASE)).await.unwrap();
    App::new(db, Clock::fixed(Moment::read(NOW).unwrap()), Config::default())
}

/// The demo with its pictures and a person, in a folder of its own.
async fn filled(folder: &Path) -> App {
    let app = opened(folder).await;
    let actor = Actor { name: "shell".into(), role: Role::Administrator };
    people::add(&app, &actor, None, "lead", Role::Lead, Some("wet gloves on a line"))
        .await
        .unwrap();
    demo::fill(&app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app
}

/// Every row of every table, as text.
async fn everything(app: &App) -> BTreeMap<String, Vec<String>> {
    let mut db = app.db.reader().await.unwrap();
    let mut all = BTreeMap::new();
    for table in transfer::tables(&mut db).await.unwrap() {
        let mut rows = Vec::new();
        transfer::rows(&mut db, &table, &mut |row: &[Value]| {
            rows.push(format!("{row:?}"));
            Ok(())
        })
        .await
        .unwrap();
        rows.sort_unstable();
        all.insert(table.name, rows);
    }
    all
}

fn files_of(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let Ok(entries) = fs::read_dir(folder.join("files")) else { return Vec::new() };
    let read = |entry: fs::DirEntry| {
        let name = entry.file_name().into_string().unwrap();
        (name, fs::read(entry.path()).unwrap())
    };
    let mut all: Vec<_> = entries.map(|entry| read(entry.unwrap())).collect();
    all.sort();
    all
}

#[tokio::test]
async fn the_round_trip_is_equal_record_by_record_and_file_by_file() {
    let (from, out, to) =
        (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let app = filled(from.path()).await;
    let manifest = export::export(&app, out.path(), &mut |_| {}).await.unwrap();
    let before = everything(&app).await;
    assert!(before.len() > 40 && manifest.rows() > 5_000, "{} rows", manifest.rows());
    assert!(!manifest.files.is_empty());
    // The tables of records go by the names under which people import them.
    for kind in [Kind::Task, Kind::Attempt, Kind::OutsideItem, Kind::Constraint] {
        assert!(out.path().join(format!("{}.csv", kind.plural())).is_file(), "{kind}");
    }

    export::restore(out.path(), to.path(), DATABASE, &mut |_| {}).await.unwrap();
    let restored = opened(to.path()).await;
    let after = everything(&restored).await;
    assert_eq!(before.keys().collect::<Vec<_>>(), after.keys().collect::<Vec<_>>());
    for (table, rows) in &before {
        assert_eq!(rows, &after[table], "{table}");
    }
    assert_eq!(files_of(from.path()), files_of(to.path()));
    assert_eq!(checks::run(&restored.db, |_, _| {}).await.unwrap().faults, []);
    let left: Vec<String> = fs::read_dir(to.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.starts_with("restoring-"))
        .collect();
    assert_eq!(left, Vec::<String>::new());
}

/// An export of a database at this step, with what `statements` put into it.
async fn exported(step: i64, statements: &'static str, out: &Path) -> i64 {
    let folder = tempfile::tempdir().unwrap();
    let options = SqliteConnectOptions::new().filename(folder.path().join(DATABASE));
    let mut db = options.create_if_missing(true).connect().await.unwrap();
    let steps = Migrator::new(Path::new("migrations")).await.unwrap();
    steps.run_to(step, &mut db).await.unwrap();
    sqlx::raw_sql(statements).execute(&mut db).await.unwrap();
    let contents = Contents::beside(&folder.path().join(DATABASE));
    let now = Moment::read(NOW).unwrap();
    export::export_of(&mut db, &contents, out, now, &mut |_| {}).await.unwrap().schema
}

#[tokio::test]
async fn an_export_of_an_older_schema_is_restored_there_and_brought_up_to_date() {
    let (out, to) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    // Columns that step 205 makes one cell of, and words that step 206 copies.
    let older = "INSERT INTO task (code, title, class, lighting)
            VALUES ('T-1', 'Tie the cable down', 2, 'any');
        INSERT INTO technique (code, name, state) VALUES ('K-1', 'Lever', 'cleared');
        INSERT INTO excursion (code, seats, state) VALUES ('E-1', '', 'planned');
        INSERT INTO slot (code, task, excursion, seats, state, trigger_minutes, then_technique,
            then_chance) VALUES ('S-1', 'T-1', 'E-1', '', 'set', 60, 'K-1', 25);
        INSERT INTO attempt (code, task, excursion, outcome, forbids)
            VALUES ('A-1', 'T-1', 'E-1', 'part done', 'row at 3 bar or less');
        INSERT INTO vehicle_constraint (code, forbidden, task)
            VALUES ('CN-1', 'row at 3 bar or less', 'T-1');
        INSERT INTO constraint_attempt (vehicle_constraint, attempt) VALUES ('CN-1', 'A-1')";
    assert_eq!(exported(190, older, out.path()).await, 190);
    let slots = fs::read_to_string(out.path().join("slots.csv")).unwrap();
    assert!(slots.contains("trigger_minutes") && !slots.contains("fallbacks"), "{slots}");

    export::restore(out.path(), to.path(), DATABASE, &mut |_| {}).await.unwrap();
    let restored = opened(to.path()).await;
    let mut db = restored.db.reader().await.unwrap();
    assert_eq!(schema::version(&mut db).await.unwrap(), schema::newest());
    let slot = Slot::find(&mut db, "S-1").await.unwrap().unwrap();
    assert_eq!(slot.fallbacks.show(), "K-1, after 60 min, needed 25 %");
    drop(db);
    let rows = everything(&restored).await;
    let stands_for = &rows["constraint_attempt"];
    assert!(stands_for.len() == 1 && stands_for[0].contains("row at 3 bar or less"), "{rows:?}");
}

#[tokio::test]
async fn an_export_of_a_newer_schema_is_refused_in_one_sentence() {
    let (out, to) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let newer = "INSERT INTO _sqlx_migrations (version, description, success, checksum,
            execution_time) VALUES (9001, 'newer', 1, x'00', 0)";
    assert_eq!(exported(schema::newest(), newer, out.path()).await, 9001);
    let refused = export::restore(out.path(), to.path(), DATABASE, &mut |_| {}).await;
    assert_eq!(
        refused.unwrap_err().to_string(),
        format!(
            "Nothing was restored: the export has schema 9001 and this program knows schemas up to \
             {}; restore it with the newer program that wrote it.",
            schema::newest()
        )
    );
    assert_eq!(fs::read_dir(to.path()).unwrap().count(), 0);
}

/// Photographs of one attempt, so many, each with bytes of its own.
async fn photographed(app: &App, attempt: &str, count: u8) {
    let actor = Actor { name: "keeper".into(), role: Role::Engineer };
    for seed in 0..count {
        let mut sent = app.db.contents().incoming().unwrap();
        sent.write_all(&png(&picture(40 + u32::from(seed), 30, seed))).unwrap();
        let looked = app::files::look_at(app, sent.reopen().unwrap(), &format!("left-{seed}.png"))
            .await
            .unwrap();
        let mut cells = Cells::default();
        cells.set("attempt", attempt);
        cells.set("caption", format!("photograph {seed}"));
        let mut work = Work::begin(app, &actor, None).await.unwrap();
        app::files::add(&mut work, looked, &cells).await.unwrap();
        work.finish("").await.unwrap();
    }
}

#[tokio::test]
async fn a_restored_record_with_hundreds_of_attachments_passes_the_check_file_by_file() {
    let folder = tempfile::tempdir().unwrap();
    let [from, out, to] = ["from", "out", "to"].map(|name| folder.path().join(name));
    for made in [&from, &to] {
        fs::create_dir(made).unwrap();
    }
    let app = filled(&from).await;
    photographed(&app, "A-0047", 250).await;
    let manifest = export::export(&app, &out, &mut |_| {}).await.unwrap();
    app.db.close().await;
    assert!(manifest.files.len() >= 250, "{}", manifest.files.len());
    let (code, _, err) = run(&to, &["restore", out.to_str().unwrap()]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    let (code, said, err) = run(&to, &["check"]);
    assert!(code == Some(0) && said.contains("nothing wrong"), "{said}{err}");

    // Each file under its own hash, the same bytes as before, and none beside them.
    let (before, after) = (files_of(&from), files_of(&to));
    assert_eq!(before, after);
    let named: Vec<&str> = manifest.files.iter().map(|file| &*file.sha256).collect();
    assert_eq!(after.iter().map(|(name, _)| &**name).collect::<Vec<_>>(), named);
    for (name, bytes) in &after {
        let hash: Vec<u8> = Sha256::digest(bytes).to_vec();
        let named = (0..name.len()).step_by(2);
        let named: Vec<u8> =
            named.map(|at| u8::from_str_radix(&name[at..at + 2], 16).unwrap()).collect();
        assert_eq!(named, hash);
    }
    // The check reads every one: a single byte of any is found.
    for at in [0, after.len() / 2, after.len() - 1] {
        let (name, bytes) = &after[at];
        let path = to.join("files").join(name);
        let mut changed = bytes.clone();
        *changed.last_mut().unwrap() ^= 1;
        fs::write(&path, changed).unwrap();
        let (code, said, _) = run(&to, &["check"]);
        assert!(code == Some(1) && said.contains(&name[..12]), "{name}: {said}");
        fs::write(&path, bytes).unwrap();
    }
}

#[tokio::test]
async fn what_holds_something_is_not_written_over() {
    let (from, out, to) =
        (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let app = opened(from.path()).await;
    fs::write(out.path().join("mine.txt"), "mine").unwrap();
    let refused = export::export(&app, out.path(), &mut |_| {}).await.unwrap_err().to_string();
    assert!(refused.contains("holds something already"), "{refused}");
    let out = tempfile::tempdir().unwrap();
    export::export(&app, out.path(), &mut |_| {}).await.unwrap();
    fs::write(to.path().join("mine.txt"), "mine").unwrap();
    let refused = export::restore(out.path(), to.path(), DATABASE, &mut |_| {}).await;
    let refused = refused.unwrap_err().to_string();
    assert!(refused.contains("holds something already"), "{refused}");
    assert_eq!(fs::read_dir(to.path()).unwrap().count(), 1);
}

#[tokio::test]
async fn a_truncated_or_edited_export_is_named_file_by_file_and_nothing_is_restored() {
    let (from, out) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let app = filled(from.path()).await;
    let manifest = export::export(&app, out.path(), &mut |_| {}).await.unwrap();
    let refused = async |expected: &[&str]| {
        let to = tempfile::tempdir().unwrap();
        let refused = export::restore(out.path(), to.path(), DATABASE, &mut |_| {}).await;
        let words = refused.unwrap_err().to_string();
        for part in expected {
            assert!(words.contains(part), "{part}: {words}");
        }
        assert_eq!(fs::read_dir(to.path()).unwrap().count(), 0, "{words}");
    };
    let tasks = out.path().join("tasks.csv");
    let whole = fs::read(&tasks).unwrap();
    fs::write(&tasks, &whole[..whole.len() - 7]).unwrap();
    refused(&["Nothing was restored.", "tasks.csv is truncated"]).await;

    let mut edited = whole.clone();
    let last = edited.len() - 3;
    edited[last] = if edited[last] == b'0' { b'1' } else { b'0' };
    fs::write(&tasks, &edited).unwrap();
    let picture = out.path().join("files").join(&manifest.files[0].sha256);
    let bytes = fs::read(&picture).unwrap();
    fs::write(&picture, [&bytes[..], b"x"].concat()).unwrap();
    refused(&["tasks.csv was edited", &manifest.files[0].sha256]).await;
    fs::write(&picture, bytes).unwrap();

    fs::remove_file(&tasks).unwrap();
    refused(&["tasks.csv cannot be read"]).await;
    fs::write(&tasks, &whole).unwrap();

    fs::write(out.path().join("more.csv"), "code\r\n").unwrap();
    refused(&["more.csv is not in the manifest"]).await;
    fs::remove_file(out.path().join("more.csv")).unwrap();

    let manifest = out.path().join(export::MANIFEST);
    let text = fs::read_to_string(&manifest).unwrap();
    fs::write(&manifest, &text[..text.len() / 2]).unwrap();
    refused(&["manifest.json is truncated or was edited"]).await;
    fs::write(&manifest, text.replacen("\"rows\": ", "\"rows\": 1", 1)).unwrap();
    refused(&["manifest.json was edited"]).await;
    fs::write(&manifest, &text).unwrap();

    let to = tempfile::tempdir().unwrap();
    export::restore(out.path(), to.path(), DATABASE, &mut |_| {}).await.unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_backup_while_fifty_people_save_is_the_state_of_one_moment() {
    const PEOPLE: usize = 50;
    let from = tempfile::tempdir().unwrap();
    let app = filled(from.path()).await;
    let stop = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    let saving: Vec<_> = (0..PEOPLE)
        .map(|at| {
            let (app, stop) = (app.clone(), stop.clone());
            tokio::spawn(async move {
                let actor = Actor { name: format!("person {at}"), role: Role::Lead };
                let mut saved = 0_u64;
                while !stop.load(std::sync::atomic::Ordering::Relaxed) {
                    // Two records in one transaction: a copy that has one of them has both.
                    let Ok(mut work) = Work::begin(&app, &actor, None).await else { continue };
                    for half in ["a", "b"] {
                        let code = format!("T-{at}-{saved}{half}");
                        let cells = [("code", code.as_str()), ("title", "Tie a cable down")]
                            .map(|(name, text)| (name.to_owned(), text.to_owned()));
                        let cells = cells.into_iter().collect();
                        app::kinds::save_whole(
                            &mut work,
                            Kind::Task,
                            &cells,
                            app::records::Base::New,
                        )
                        .await
                        .unwrap();
                    }
                    work.finish("").await.unwrap();
                    saved += 1;
                }
                saved
            })
        })
        .collect();
    tokio::time::sleep(std::time::Duration::from_millis(400)).await;
    let to = tempfile::tempdir().unwrap();
    let copy = to.path().join(DATABASE);
    let made = export::backup(&app, &copy, &to.path().join("files")).await.unwrap();
    assert!(made.bytes > 100_000 && made.files > 0, "{made:?}");
    tokio::time::sleep(std::time::Duration::from_millis(200)).await;
    stop.store(true, std::sync::atomic::Ordering::Relaxed);
    let mut saved = 0;
    for one in saving {
        saved += one.await.unwrap();
    }
    let restored = opened(to.path()).await;
    assert_eq!(checks::run(&restored.db, |_, _| {}).await.unwrap().faults, []);
    let rows = everything(&restored).await;
    let copied = rows["task"].iter().filter(|row| row.contains("Tie a cable down")).count();
    assert!(copied > 0 && copied % 2 == 0, "{copied} of {} in the copy", 2 * saved);
    assert!(u64::try_from(copied).unwrap() < 2 * saved, "people saved while it was copied");
    let again = export::backup(&app, &copy, &to.path().join("files")).await.unwrap_err();
    assert!(again.to_string().contains("is there already"), "{again}");
}

/// The program on this data directory: its exit status, what it said, and what it complained of.
fn run(data: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    said(&holdover(arguments, data, ""))
}

/// A call that is refused: exit status 1, nothing on standard output, one line that says why.
#[track_caller]
fn refused(data: &Path, arguments: &[&str], expected: &[&str]) {
    let (code, out, err) = run(data, arguments);
    assert_eq!((code, out.as_str()), (Some(1), ""), "{arguments:?} {err}");
    assert_eq!(err.lines().count(), 1, "{err}");
    assert!(err.starts_with("holdover: "), "{err}");
    for part in expected {
        assert!(err.contains(part), "{part}: {err}");
    }
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

#[tokio::test]
async fn the_program_exports_restores_and_copies_a_record_whole() {
    let folder = tempfile::tempdir().unwrap();
    let [from, out, to, copied] = ["from", "out", "to", "copied"].map(|n| folder.path().join(n));
    for made in [&from, &to, &copied] {
        fs::create_dir(made).unwrap();
    }
    filled(&from).await.db.close().await;
    let shown = |path: &Path| path.to_str().unwrap().to_owned();

    let (code, said, err) = run(&from, &["export", &shown(&out)]);
    assert!(code == Some(0) && said.starts_with("Exported ") && err.is_empty(), "{said}{err}");
    // The program has derived anew what the tests leave to it.
    let app = opened(&from).await;
    let before = everything(&app).await;
    app.db.close().await;
    let (code, said, err) = run(&to, &["restore", &shown(&out)]);
    assert!(code == Some(0) && said.starts_with("Restored ") && err.is_empty(), "{said}{err}");
    assert!(said.contains("People sign in again.") && said.lines().count() == 2, "{said}");
    let copy = folder.path().join("copy.db");
    let (code, said, err) = run(&from, &["backup", &shown(&copy)]);
    assert!(code == Some(0) && said.starts_with("Copied ") && err.is_empty(), "{said}{err}");
    assert!(said.contains("attachments are in ") && said.contains("holdover.db"), "{said}");
    // The copy is used as its last lines say.
    fs::rename(&copy, copied.join(DATABASE)).unwrap();
    fs::rename(folder.path().join("copy.db.files"), copied.join("files")).unwrap();
    for there in [&to, &copied] {
        let (code, said, err) = run(there, &["check"]);
        assert!(code == Some(0) && said.contains("nothing wrong"), "{said}{err}");
        assert_eq!(files_of(&from), files_of(there));
        let app = opened(there).await;
        assert_eq!(everything(&app).await, before);
        app.db.close().await;
    }

    // What is there already is left as it is.
    let kept = fs::read(copied.join(DATABASE)).unwrap();
    refused(&from, &["export", &shown(&out)], &["holds something already", "empty"]);
    refused(&copied, &["restore", &shown(&out)], &["holds something already"]);
    refused(&from, &["backup", &shown(&copied.join(DATABASE))], &["is there already"]);
    assert_eq!(fs::read(copied.join(DATABASE)).unwrap(), kept);
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).unwrap();
    refused(&empty, &["export", &shown(&folder.path().join("none"))], &["--data"]);
    refused(&empty, &["backup", &shown(&copy)], &["--data"]);
    assert!(!copy.exists() && !folder.path().join("none").exists());
    for incomplete in [&["export"][..], &["restore"], &["backup"]] {
        assert_eq!(run(&empty, incomplete).0, Some(2), "{incomplete:?}");
    }
}

#[tokio::test]
async fn the_program_names_every_wrong_file_of_an_export_and_restores_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let [from, out, to] = ["from", "out", "to"].map(|name| folder.path().join(name));
    for made in [&from, &to] {
        fs::create_dir(made).unwrap();
    }
    let app = filled(&from).await;
    let manifest = export::export(&app, &out, &mut |_| {}).await.unwrap();
    app.db.close().await;
    let call = ["restore", out.to_str().unwrap()];
    let check = |expected: &[&str]| {
        refused(&to, &call, expected);
        assert_eq!(names(&to), Vec::<String>::new());
    };

    let tasks = out.join("tasks.csv");
    let whole = fs::read_to_string(&tasks).unwrap();
    fs::write(&tasks, &whole[..whole.len() - 9]).unwrap();
    let flights = out.join("flights.csv");
    let other = fs::read_to_string(&flights).unwrap();
    fs::write(&flights, other.replacen("G-36", "G-66", 1)).unwrap();
    let picture = out.join("files").join(&manifest.files[0].sha256);
    let bytes = fs::read(&picture).unwrap();
    fs::remove_file(&picture).unwrap();
    let lost = format!("files/{} cannot be read", manifest.files[0].sha256);
    check(&["Nothing was restored.", "tasks.csv is truncated", "flights.csv was edited", &lost]);
    fs::write(&tasks, &whole).unwrap();
    fs::write(&flights, &other).unwrap();
    fs::write(&picture, &bytes).unwrap();

    fs::write(out.join("more.csv"), "code\r\n").unwrap();
    check(&["more.csv is not in the manifest"]);
    fs::remove_file(out.join("more.csv")).unwrap();
    let told = out.join(export::MANIFEST);
    let text = fs::read_to_string(&told).unwrap();
    fs::write(&told, &text[..text.len() / 2]).unwrap();
    check(&["manifest.json is truncated or was edited", "Export again"]);
    fs::remove_file(&told).unwrap();
    check(&["manifest.json cannot be read", "holdover export"]);
    fs::write(&told, text).unwrap();

    assert_eq!(run(&to, &call).0, Some(0), "whole again, it is restored");
}
