//! Lays out the demo scenario: its tables go through the same import as everybody's, its pictures
//! through the same look.

use async_recursion::async_recursion as boxed;
use std::io::Write as _;

use crate::import::{self, Given, Options, Report, Request};
use crate::work::Work;
use crate::{Actor, App, Failure, files, four_eyes};
use demo::pictures::{DemoFile, FILES};
use demo::tables::TABLES;
use demo::{NOMINAL_DAY, shifted};
use domain::cells::{Cell as _, Cells};
use domain::kinds::Kind;
use domain::roles::keeper;
use domain::time::Day;
use domain::words::Role;
use store::{StoreError, changes, people, register, schema};

/// Fills an empty record with the demo scenario, laid out so that `day` is its present day.
#[boxed]
pub async fn fill(app: &App, day: Day) -> Result<(), Failure> {
    let nominal = Day::read(NOMINAL_DAY).map_err(broken)?;
    let days = day.since(nominal);
    for (kind, text) in TABLES {
        take(app, *kind, text, days).await?;
    }
    for file in FILES {
        show(app, file).await?;
    }
    let mut tx = app.db.begin().await?;
    // Laying it out is no news to anybody.
    let last = changes::last(&mut tx).await?;
    for person in people::list(&mut tx).await? {
        people::set_seen_change(&mut tx, &person.name, last).await?;
    }
    schema::mark_demo_whole(&mut tx).await?;
    Ok(tx.commit().await?)
}

async fn take(app: &App, kind: Kind, text: &str, days: i64) -> Result<(), Failure> {
    let text = shifted(kind, text, days).map_err(broken)?;
    // What was judged before the demo begins is history, as it is for everybody.
    let options = Options { history: four_eyes::judging(kind).is_some(), ..Options::default() };
    let request = Request { kind, table: Given::Bytes(text.as_bytes()), options };
    let report = import::run(app, &filler(kind), &request, None, |_| {}).await?;
    if report.committed { Ok(()) } else { Err(broken(first_trouble(kind, &report))) }
}

/// Adds a picture or a text to its record, unless it is there.
async fn show(app: &App, file: &DemoFile) -> Result<(), Failure> {
    if register::find(&mut *app.db.reader().await?, Kind::File, file.code).await?.is_some() {
        return Ok(());
    }
    let bytes = file.bytes().map_err(|cause| broken(cause.to_string()))?;
    let mut sent = app.db.contents().incoming().map_err(StoreError::from)?;
    sent.write_all(&bytes).map_err(StoreError::from)?;
    let looked = files::look_at(app, sent.reopen().map_err(StoreError::from)?, file.name).await?;
    let (kind, code) = file.of;
    let mut cells = Cells::default();
    cells.set("code", file.code);
    cells.set(kind.word().replace(' ', "_"), code);
    cells.set("caption", file.caption);
    cells.set("on_paper", file.on_paper.show());
    let mut work = Work::begin(app, &filler(Kind::File), None).await?;
    files::add(&mut work, looked, &cells).await?;
    work.finish("").await?;
    Ok(())
}

fn broken(why: String) -> Failure {
    Failure::Internal(StoreError::Corrupt { table: "demo", why })
}

/// Whoever may write records of that kind. Techniques are an engineer's, so that the lead of the
/// demo can clear what waits for a second person.
fn filler(kind: Kind) -> Actor {
    let role = match kind {
        Kind::Technique => Role::Engineer,
        kind if four_eyes::judging(kind).is_some() => Role::Administrator,
        kind => keeper(kind),
    };
    Actor { name: role.word().to_owned(), role }
}

fn first_trouble(kind: Kind, report: &Report) -> String {
    let told: Vec<String> = report
        .bad
        .iter()
        .take(20)
        .map(|bad| format!("{} line {}, {}: {}", kind.plural(), bad.line, bad.column, bad.reason))
        .collect();
    told.join("\n")
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::checks;
    use crate::clock::Clock;
    use crate::config::Config;
    use domain::time::Moment;
    use store::Db;

    #[sqlx::test(migrations = "../../migrations")]
    async fn the_scenario_obeys_the_rules_that_everybody_obeys(pool: SqlitePool) {
        let file = pool.connect_options().get_filename().to_owned();
        pool.close().await;
        let db = Db::open(&file).await.unwrap();
        let day = Day::read("2031-02-03").unwrap();
        let app = App::new(db, Clock::fixed(Moment::of_day(day)), Config::default());

        fill(&app, day).await.unwrap();

        let report = checks::run(&app.db, |_, _| {}).await.unwrap();
        assert_eq!(report.faults, []);
    }
}
