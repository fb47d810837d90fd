//! Large tables are worked out on a copy while others save, and come in as a whole: as if they had
//! been saved row by row, with what others saved in between.

use std::collections::BTreeMap;
use std::path::Path;

use app::clock::Clock;
use app::config::Config;
use app::{Actor, App, Failure, checks, import};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use store::Db;
use store::staging::{Put, Staging};
use store::transfer::{self, Value};
use tokio::runtime::Handle;

use crate::small_record::{lay, made};
use crate::support::NOW;

/// More rows than are saved without being worked out before.
const ROWS: u64 = 600;

async fn laid(folder: &Path) -> App {
    let db = Db::open(&folder.join("holdover.db")).await.unwrap();
    let app = App::new(db, Clock::fixed(Moment::read(NOW).unwrap()), Config::default());
    lay(&app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-11-01 | state: flown",
        ),
    ] {
        made(&app, kind, text).await;
    }
    app
}

/// Imports a table; `meanwhile` is called for every row that is gone through on a copy, with how
/// often that row has been gone through.
async fn imported(
    app: &App,
    kind: Kind,
    table: &str,
    mut meanwhile: impl FnMut(u64, u64) + Send,
) -> Result<import::Report, Failure> {
    let actor = Actor { name: "lead".into(), role: Role::Lead };
    let table = import::Given::Bytes(table.as_bytes());
    let options = import::Options { confirms: true, ..import::Options::default() };
    let request = import::Request { kind, table, options };
    let mut times = BTreeMap::new();
    let told = |far: import::Far| {
        if far.is_look {
            let times = times.entry(far.through).or_insert(0);
            *times += 1;
            meanwhile(far.through, *times);
        }
    };
    import::run(app, &actor, &request, None, told).await
}

/// Saves a record while the caller cannot wait for it.
fn at_once(app: &App, kind: Kind, text: &str) {
    tokio::task::block_in_place(|| Handle::current().block_on(made(app, kind, text)));
}

/// Every row of every table, without what counts the commits.
async fn everything(app: &App) -> BTreeMap<String, Vec<String>> {
    let mut db = app.db.reader().await.unwrap();
    let mut all = BTreeMap::new();
    for table in transfer::tables(&mut db).await.unwrap() {
        if table.name == "data_version" {
            continue;
        }
        let mut rows = Vec::new();
        let mut keep = |row: &[Value]| {
            rows.push(format!("{row:?}"));
            Ok(())
        };
        transfer::rows(&mut db, &table, &mut keep).await.unwrap();
        // What every record begins with is as old as its file.
        rows.retain(|row| !row.contains("Text(\"holdover\")"));
        rows.sort_unstable();
        all.insert(table.name, rows);
    }
    all
}

fn assert_same(one: &BTreeMap<String, Vec<String>>, other: &BTreeMap<String, Vec<String>>) {
    assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>());
    for (table, rows) in one {
        let theirs = &other[table];
        assert_eq!(rows.len(), theirs.len(), "{table}");
        let differs = rows.iter().zip(theirs).find(|(row, their)| row != their);
        assert!(differs.is_none(), "{table}: {differs:#?}");
    }
}

async fn faults(app: &App) -> Vec<checks::Fault> {
    checks::run(&app.db, |_, _| {}).await.unwrap().faults
}

/// Sisters of the small record's tasks, each with its number; with or without codes of their own.
fn sisters(numbers: std::ops::Range<u64>, with_codes: bool) -> String {
    let head = "title,family,worksite,sides,class,optimistic,likely,pessimistic,seats,opened\n";
    let row = |number| {
        let code = if with_codes { format!("T-9{number:03},") } else { String::new() };
        format!("{code}Swap cassette {number},F-1,W-B,nadir,3,20,30,45,1,2028-01-01\n")
    };
    let code = if with_codes { "code," } else { "" };
    format!("{code}{head}{}", numbers.map(row).collect::<String>())
}

/// Attempts on those sisters, of which every third failed and every third is done.
fn attempts(numbers: std::ops::Range<u64>) -> String {
    let row = |number: u64| {
        let (outcome, cause) = [("done", ""), ("not completed", "3"), ("part done", "3")]
            [usize::try_from(number % 3).unwrap()];
        let left = if outcome == "part done" { "40" } else { "" };
        format!("T-9{number:03},E-36.1,K-1,nadir,{outcome},{cause},{left},{number}\n")
    };
    let head = "task,excursion,technique,side,outcome,cause,share_left,minutes\n";
    format!("{head}{}", numbers.map(row).collect::<String>())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_large_table_leaves_the_same_record_as_its_parts_row_by_row() {
    let (one, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (whole, parts) = (laid(one.path()).await, laid(other.path()).await);
    for (kind, table) in [
        (
            Kind::Task,
            &(|numbers| sisters(numbers, true)) as &dyn Fn(std::ops::Range<u64>) -> String,
        ),
        (Kind::Attempt, &attempts),
    ] {
        let report = imported(&whole, kind, &table(0..ROWS), |_, _| {}).await.unwrap();
        assert!(report.committed && report.taken == ROWS, "{report:?}");
        for part in [0..ROWS / 2, ROWS / 2..ROWS] {
            let gone_through_before = |_, _| panic!("this is saved row by row");
            let report = imported(&parts, kind, &table(part), gone_through_before).await.unwrap();
            assert!(report.committed, "{report:?}");
        }
    }
    assert_same(&everything(&whole).await, &everything(&parts).await);
    assert_eq!(faults(&whole).await, []);
    // Nothing of the copy is left beside the record.
    let left: Vec<_> = std::fs::read_dir(one.path().join("files")).into_iter().flatten().collect();
    assert!(left.is_empty(), "{left:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_others_save_meanwhile_stays_and_takes_none_of_the_codes() {
    let folder = tempfile::tempdir().unwrap();
    let app = laid(folder.path()).await;
    let mut theirs = 0;
    let report = imported(&app, Kind::Task, &sisters(0..ROWS, false), |row, _| {
        if row % 100 == 0 {
            theirs += 1;
            at_once(&app, Kind::Task, &format!("title: Theirs {theirs} | worksite: W-B"));
        }
    })
    .await
    .unwrap();
    assert!(report.committed, "{report:?}");
    assert_eq!(report.first_codes[0], "T-0004");
    let mut db = app.db.reader().await.unwrap();
    let mut titles = BTreeMap::new();
    for code in ["T-0004", "T-0603", "T-0604", "T-0609"] {
        let cells = app::kinds::find(&mut db, Kind::Task, code).await.unwrap();
        titles.insert(code, cells.unwrap().get("title").to_owned());
    }
    drop(db);
    let wanted = ["Swap cassette 0", "Swap cassette 599", "Theirs 1", "Theirs 6"];
    assert_eq!(titles.values().collect::<Vec<_>>(), wanted);
    assert_eq!(faults(&app).await, []);
    // What was kept for the table is free again: the next task follows.
    assert_eq!(made(&app, Kind::Task, "title: Theirs 7 | worksite: W-B").await, "T-0610");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_failure_that_others_record_meanwhile_questions_the_sisters_that_come_in() {
    let folder = tempfile::tempdir().unwrap();
    let app = laid(folder.path()).await;
    let failed = "task: T-1 | excursion: E-36.1 | technique: K-1 | side: nadir \
                  | outcome: not completed | cause: 3 | minutes: 40";
    let report = imported(&app, Kind::Task, &sisters(0..ROWS, true), |row, _| {
        if row == 300 {
            at_once(&app, Kind::Attempt, failed);
        }
    })
    .await
    .unwrap();
    assert!(report.committed, "{report:?}");
    assert_eq!(faults(&app).await, [], "the check derives anew how every task stands");
    let rows = everything(&app).await;
    assert_eq!(rows["heard"].len(), 1, "{:?}", rows["heard"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_table_is_worked_out_again_where_others_change_what_it_names() {
    let folder = tempfile::tempdir().unwrap();
    let app = laid(folder.path()).await;
    imported(&app, Kind::Task, &sisters(0..ROWS, true), |_, _| {}).await.unwrap();
    let before = everything(&app).await;
    let edit = |times: u64| format!("code: T-9100 | title: Swap it, said {times} | worksite: W-B");
    let save = |text: &str| {
        let save = async {
            let actor = Actor { name: "engineer".into(), role: Role::Lead };
            let mut work = app::work::Work::begin(&app, &actor, None).await.unwrap();
            let cells = crate::small_record::cells(text);
            let base = app::records::Base::Current;
            app::kinds::save_whole(&mut work, Kind::Task, &cells, base).await.unwrap();
            work.finish("").await.unwrap();
        };
        tokio::task::block_in_place(|| Handle::current().block_on(save));
    };

    // Every time: nothing comes in, and what the others saved stands.
    let mut tries = 0;
    let refused = imported(&app, Kind::Attempt, &attempts(0..ROWS), |row, times| {
        if row == ROWS {
            tries = times;
            save(&edit(times));
        }
    })
    .await
    .unwrap_err();
    assert_eq!(tries, 3);
    let words = refused.to_string();
    assert!(words.contains("3 times in a row, the last time task T-9100"), "{words}");
    assert!(words.contains("Nothing was imported"), "{words}");
    let after = everything(&app).await;
    assert_eq!(after["attempt"], before["attempt"]);
    assert!(after["task"].iter().any(|row| row.contains("Swap it, said 3")));

    // Once: the second try takes in what stands then.
    let report = imported(&app, Kind::Attempt, &attempts(0..ROWS), |row, times| {
        if (row, times) == (ROWS, 1) {
            save(&edit(4));
        }
    })
    .await
    .unwrap();
    assert!(report.committed, "{report:?}");
    let after = everything(&app).await;
    assert_eq!(after["attempt"].len(), before["attempt"].len() + usize::try_from(ROWS).unwrap());
    assert!(after["task"].iter().any(|row| row.contains("Swap it, said 4")));
    assert_eq!(faults(&app).await, []);
}

#[tokio::test(flavor = "multi_thread")]
async fn two_tables_at_once_both_come_in() {
    let folder = tempfile::tempdir().unwrap();
    let app = laid(folder.path()).await;
    let tools = (0..ROWS).map(|number| format!("L-9{number},bar {number}"));
    let tools = format!("code,name\n{}", tools.collect::<Vec<String>>().join("\n"));
    let tasks = sisters(0..ROWS, false);
    let (one, other) = tokio::join!(
        imported(&app, Kind::Task, &tasks, |_, _| {}),
        imported(&app, Kind::Tool, &tools, |_, _| {})
    );
    assert!(one.unwrap().committed && other.unwrap().committed);
    assert_eq!(faults(&app).await, []);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_stopped_half_way_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let app = laid(folder.path()).await;
    let before = everything(&app).await;
    let copy = app.db.copied().await.unwrap();
    let mut tx = copy.db.begin().await.unwrap();
    let staging = Staging::begin(&mut tx).await.unwrap();
    tx.commit().await.unwrap();
    let aside = App::new(copy.db.clone(), app.clock.clone(), Config::default());
    for number in 0..3 {
        made(&aside, Kind::Tool, &format!("code: L-9{number} | name: bar")).await;
    }
    drop(aside);
    let copy = copy.close().await;
    let attached = app.db.attach(&copy).await.unwrap();
    for parts in [0, 1, 2] {
        let mut tx = app.db.begin().await.unwrap();
        let mut left = parts;
        let put = staging.put_in(&mut tx, |_, _| {
            left -= 1;
            left >= 0
        });
        assert!(matches!(put.await.unwrap(), Put::Stopped { .. }), "{parts}");
        tx.rollback().await.unwrap();
        assert_same(&everything(&app).await, &before);
    }
    let mut tx = app.db.begin().await.unwrap();
    let put = staging.put_in(&mut tx, |_, _| true).await.unwrap();
    assert!(matches!(put, Put::In { .. }), "{put:?}");
    tx.commit().await.unwrap();
    attached.detach().await.unwrap();
    assert_eq!(everything(&app).await["tool"].len(), before["tool"].len() + 3);
    assert_eq!(faults(&app).await, []);
}
