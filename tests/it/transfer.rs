//! Export, restore and backup: nothing is lost on the way, nothing half done is left.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use app::clock::Clock;
use app::config::Config;
use app::work::Work;
use app::{Actor, App, checks, demo, export, people};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use store::Db;
use store::transfer::{self, Value};

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
