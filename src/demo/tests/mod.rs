//! What the tables must hold: the counts of the scenario, codes that resolve, days and minutes
//! that agree, coming slots that can be set, and prose in which no text is said twice.

mod ahead;
mod counts;
mod days;
mod minutes;
mod references;
mod shift;
mod texts;

use std::collections::BTreeMap;

use crate::tables::TABLES;
use domain::attempts::Attempt;
use domain::cells::{Cell, Cells};
use domain::codes::{ExcursionCode, TaskCode};
use domain::endings::{Closure, Deferral, Reopening};
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::records::Record;
use domain::time::Day;

/// The rows of every table of a kind, by column.
fn rows(wanted: Kind) -> Vec<Cells> {
    let mut found = Vec::new();
    for (_, text) in TABLES.iter().filter(|(kind, _)| *kind == wanted) {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let head = reader.headers().unwrap().clone();
        for row in reader.records() {
            let row = row.unwrap();
            let cells =
                head.iter().zip(&row).map(|(name, cell)| (name.to_owned(), cell.to_owned()));
            found.push(cells.collect());
        }
    }
    found
}

fn all<R: Record>() -> Vec<R> {
    let parse = |cells: &Cells| {
        R::parse(cells).unwrap_or_else(|wrong| panic!("{} {cells:?}: {wrong:?}", R::KIND))
    };
    rows(R::KIND).iter().map(parse).collect()
}

fn by_code<R: Record>() -> BTreeMap<String, R> {
    all::<R>().into_iter().map(|record| (record.code().to_owned(), record)).collect()
}

fn today() -> Day {
    Day::read(super::NOMINAL_DAY).unwrap()
}

/// The day of an excursion, for telling what came first.
fn day_of(excursions: &BTreeMap<String, Excursion>, code: &ExcursionCode) -> Day {
    excursions[code.as_str()].day.unwrap()
}

fn launches() -> BTreeMap<String, Day> {
    all::<Flight>().into_iter().map(|f| (f.code().to_owned(), f.launch.unwrap())).collect()
}

/// Whether the task has ended: closed, or done with nothing reopened since.
fn has_ended(task: &TaskCode, excursions: &BTreeMap<String, Excursion>) -> bool {
    use domain::words::Outcome;
    let done = all::<Attempt>()
        .into_iter()
        .filter(|a| a.task == *task && a.outcome == Outcome::Done)
        .map(|a| day_of(excursions, &a.excursion));
    let closed = all::<Closure>().into_iter().filter(|c| c.task == *task).filter_map(|c| c.day);
    let reopened = all::<Reopening>().into_iter().filter(|r| r.task == *task).filter_map(|r| r.day);
    match (done.chain(closed).max(), reopened.max()) {
        (Some(end), Some(again)) => end > again,
        (end, _) => end.is_some(),
    }
}

fn deferrals_by_slot() -> BTreeMap<String, Deferral> {
    let named = |d: Deferral| Some((d.slot.clone()?.as_str().to_owned(), d));
    all::<Deferral>().into_iter().filter_map(named).collect()
}
