//! `holdover check` only looks, and the service looks before it starts.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::SystemTime;

use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _};

use crate::command_line::{Served, holdover, said};

/// A record with some tools, whose service was stopped.
fn record(folder: &Path) {
    let rows = (0..400).map(|number| format!("L-{number},tool {number}\n"));
    let table = folder.join("tools.csv");
    fs::write(&table, format!("code,name\n{}", rows.collect::<String>())).unwrap();
    let done = said(&holdover(&["import", "tools", table.to_str().unwrap()], folder, ""));
    assert_eq!(done.0, Some(0), "{done:?}");
    fs::remove_file(table).unwrap();
}

/// Every file with its bytes and the time at which it was written last.
fn everything(folder: &Path) -> BTreeMap<String, (Vec<u8>, SystemTime)> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().to_string_lossy().into_owned();
        let written = entry.metadata().unwrap().modified().unwrap();
        let bytes = fs::read(entry.path()).unwrap_or_default();
        found.insert(name, (bytes, written));
    }
    found
}

fn check(folder: &Path) -> (Option<i32>, String, String) {
    said(&holdover(&["check"], folder, ""))
}

#[test]
fn a_check_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    record(folder.path());
    let before = everything(folder.path());

    let (code, out, err) = check(folder.path());

    assert!(code == Some(0) && out.contains("nothing wrong"), "{out}{err}");
    assert_eq!(everything(folder.path()), before);
}

/// The program where somebody may call it who may not read our folders.
#[cfg(target_os = "linux")]
fn callable(by_anybody: &Path) -> std::path::PathBuf {
    let program = by_anybody.join("holdover");
    fs::copy(env!("CARGO_BIN_EXE_holdover"), &program).unwrap();
    program
}

#[test]
#[cfg(target_os = "linux")]
fn a_check_reads_a_directory_in_which_nobody_may_write() {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
    use std::os::unix::process::CommandExt as _;

    let around = tempfile::tempdir().unwrap();
    let program = callable(around.path());
    let folder = around.path().join("data");
    fs::create_dir(&folder).unwrap();
    record(&folder);
    let mode =
        |path: &Path, bits| fs::set_permissions(path, fs::Permissions::from_mode(bits)).unwrap();
    mode(&folder.join("holdover.db"), 0o444);
    mode(around.path(), 0o755);
    mode(&folder, 0o555);
    let before = everything(&folder);
    let mut call = std::process::Command::new(&program);
    call.args(["check", "--data"]).arg(&folder).current_dir("/");
    // Whoever may write everywhere looks as somebody who may not.
    if fs::metadata(around.path()).unwrap().uid() == 0 {
        call.uid(65_534).gid(65_534);
        let probe = std::process::Command::new("touch")
            .arg(folder.join("written"))
            .uid(65_534)
            .gid(65_534)
            .output()
            .unwrap();
        assert!(!probe.status.success(), "the directory can be written to");
    }

    let (code, out, err) = said(&call.output().unwrap());

    assert!(code == Some(0) && out.contains("nothing wrong"), "{out}{err}");
    assert_eq!(everything(&folder), before);
    mode(&folder, 0o755);
}

#[test]
fn a_check_beside_changes_that_are_not_in_the_file_yet_sees_them_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    record(folder.path());
    let mut served = Served::start(&["--data", "."], folder.path());
    served.until("listening");
    let (code, out, err) = check(folder.path());
    assert!(code == Some(0) && out.contains("nothing wrong"), "while it runs: {out}{err}");
    // What the changes of a killed service leave: the file of changes, without the shared memory.
    let left = tempfile::tempdir().unwrap();
    for name in ["holdover.db", "holdover.db-wal"] {
        fs::copy(folder.path().join(name), left.path().join(name)).unwrap();
    }
    assert_eq!(served.stop(), Some(0));
    let before = everything(left.path());
    assert!(!before["holdover.db-wal"].0.is_empty(), "the first link was written");

    let (code, out, err) = check(left.path());

    assert!(code == Some(0) && out.contains("nothing wrong"), "{out}{err}");
    assert_eq!(everything(left.path()), before);
}

#[test]
fn a_file_that_holds_no_record_is_told_as_what_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("holdover.db");
    fs::write(&file, b"").unwrap();
    let (code, _, err) = check(folder.path());
    assert!(code == Some(1) && err.contains("holdover.db is empty"), "{err}");
    fs::write(&file, b"no database at all, but long enough to be read as one, so to speak")
        .unwrap();
    let (code, _, err) = check(folder.path());
    assert!(code == Some(1) && err.contains("cannot be read as a database"), "{err}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    // Changes without their database are no new record.
    fs::write(&file, b"").unwrap();
    fs::write(folder.path().join("holdover.db-wal"), b"changes").unwrap();
    let serve = ["serve", "--listen", "127.0.0.1:0"];
    let (code, _, err) = said(&holdover(&serve, folder.path(), ""));
    assert!(code == Some(1) && err.contains("restore a backup"), "{err}");
}

/// Runs statements behind the service's back.
fn behind(folder: &Path, statements: &'static str) {
    let file = folder.join("holdover.db");
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let options = SqliteConnectOptions::new()
            .filename(file)
            .foreign_keys(false)
            .pragma("ignore_check_constraints", "on");
        let mut raw = options.connect().await.unwrap();
        sqlx::raw_sql(statements).execute(&mut raw).await.unwrap();
        raw.close().await.unwrap();
    });
}

#[test]
fn an_older_schema_is_not_brought_up_to_date_by_a_check() {
    let folder = tempfile::tempdir().unwrap();
    record(folder.path());
    behind(
        folder.path(),
        "DELETE FROM _sqlx_migrations WHERE version = (SELECT MAX(version) FROM _sqlx_migrations)",
    );
    let before = everything(folder.path());
    let (code, _, err) = check(folder.path());
    assert!(code == Some(1) && err.contains("start the service once"), "{err}");
    assert_eq!(everything(folder.path()), before);
}

#[test]
fn what_cannot_be_read_is_listed_and_the_rest_is_looked_at() {
    let folder = tempfile::tempdir().unwrap();
    record(folder.path());
    behind(
        folder.path(),
        "UPDATE register SET kind = 'no kind' WHERE code = 'L-7' AND kind = 'tool';
         DELETE FROM tool WHERE code = 'L-8'",
    );
    let (code, out, err) = check(folder.path());
    assert_eq!(code, Some(1), "{out}{err}");
    assert!(out.contains("register: "), "{out}");
    assert!(out.contains("L-8"), "a second fault is told as well: {out}");
}

/// Writes over a page with rows of tools; what the tables are can still be read.
fn damage(file: &Path) {
    let mut bytes = fs::read(file).unwrap();
    let row = b"tool 200";
    let at = bytes.windows(row.len()).position(|part| part == row).unwrap() / 4096 * 4096;
    bytes[at..at + 4096].fill(0xa5);
    fs::write(file, bytes).unwrap();
}

#[test]
fn a_damaged_page_is_listed_by_the_check_and_refused_by_the_service() {
    let folder = tempfile::tempdir().unwrap();
    record(folder.path());
    damage(&folder.path().join("holdover.db"));

    let (code, out, err) = check(folder.path());
    assert_eq!(code, Some(1), "{out}{err}");
    assert!(out.contains("integrity: ") && err.contains("things are wrong"), "{out}{err}");

    let serve = ["serve", "--listen", "127.0.0.1:0"];
    let begun = std::time::Instant::now();
    let (code, _, err) = said(&holdover(&serve, folder.path(), ""));
    assert!(
        code == Some(1) && err.contains("is damaged") && err.contains("holdover check"),
        "{err}"
    );
    assert!(begun.elapsed().as_secs() < 10, "{:?}", begun.elapsed());

    // Half of a file, as a copy that broke off leaves it.
    let file = folder.path().join("holdover.db");
    let bytes = fs::read(&file).unwrap();
    fs::write(&file, &bytes[..bytes.len() / 2]).unwrap();
    let (code, _, err) = said(&holdover(&serve, folder.path(), ""));
    assert!(code == Some(1) && err.contains("restore a backup"), "{err}");
}

#[test]
fn the_service_says_loudly_which_photograph_is_not_there() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let data = data.to_str().unwrap();
    let demo = ["--demo", "--demo-day", "2030-11-21", "--data", data];
    let mut served = Served::start(&demo, folder.path());
    served.until("listening");
    assert_eq!(served.stop(), Some(0));
    let files = Path::new(data).join("files");
    let mut there: Vec<_> = fs::read_dir(&files).unwrap().map(|one| one.unwrap().path()).collect();
    there.sort();
    fs::remove_file(&there[0]).unwrap();

    let mut served = Served::start(&demo, folder.path());
    let told = served.until("a photograph or file is damaged");
    assert_eq!(told["level"], "ERROR");
    assert!(told["fault"].as_str().unwrap().contains("is missing: files/"), "{told}");
    served.until("listening");
    assert_eq!(served.stop(), Some(0));
}
