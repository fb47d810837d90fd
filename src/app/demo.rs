//! Lays out the demo scenario: its tables go through the same import as everybody's.

use crate::app::import::{self, Options, Report, Request};
use crate::app::{Actor, App, Failure};
use crate::demo::tables::TABLES;
use crate::demo::{NOMINAL_DAY, shifted};
use crate::domain::cells::Cell as _;
use crate::domain::kinds::Kind;
use crate::domain::roles::keeper;
use crate::domain::time::Day;
use crate::store::{StoreError, changes, people, schema};

/// Fills an empty record with the demo scenario, laid out so that `day` is its present day.
pub async fn fill(app: &App, day: Day) -> Result<(), Failure> {
    let nominal = Day::read(NOMINAL_DAY).map_err(broken)?;
    let days = day.since(nominal);
    for (kind, text) in TABLES {
        take(app, *kind, text, days).await?;
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
    let request = Request { kind, bytes: text.as_bytes(), options: Options::default() };
    let report = import::run(app, &filler(kind), &request, None, |_, _| {}).await?;
    if report.committed { Ok(()) } else { Err(broken(first_trouble(kind, &report))) }
}

fn broken(why: String) -> Failure {
    Failure::Internal(StoreError::Corrupt { table: "demo", why })
}

/// Whoever may write records of that kind.
fn filler(kind: Kind) -> Actor {
    let role = keeper(kind);
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
    use crate::app::checks;
    use crate::clock::Clock;
    use crate::config::Config;
    use crate::domain::time::Moment;
    use crate::store::Db;

    #[sqlx::test]
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
