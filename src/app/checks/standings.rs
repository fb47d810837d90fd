//! How every task stands, derived again from its events and compared with what is stored.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use crate::sisters;
use crate::standing::{MAX_TASKS_AT_ONCE, Recomputed, recompute};
use domain::codes::{FamilyCode, FlightCode, TaskCode};
use store::standing::{StandingRow, TaskWords};
use store::told::NotHeldRow;
use store::{affected, standing, tasks, told};

/// Of so many tasks that differ each is named; the rest are counted.
const NAMED: usize = 100;

/// Goes through the tasks family by family, so that the record of a family is read once and
/// nothing grows with the number of tasks.
pub(super) async fn compared(
    db: &mut SqliteConnection,
    mut progress: impl FnMut(usize, usize) + Send,
) -> Result<Vec<String>, Failure> {
    let calendar = Calendar::load(db).await?;
    let sizes = tasks::family_sizes(db).await?;
    let all: usize = sizes.iter().map(|(_, count)| whole(*count)).sum();
    let (mut found, mut more, mut done) = (Vec::new(), 0, 0);
    let families = sizes.iter().filter_map(|(family, n)| Some((family.as_ref()?, whole(*n))));
    for families in together(families) {
        let batch = tasks::of_families(db, &families).await?;
        more += batch_compared(db, &calendar, &batch, &mut found).await?;
        done += batch.len();
        progress(done, all);
    }
    let mut after = String::new();
    loop {
        let batch = tasks::without_family(db, &after, at_once()).await?;
        let Some(last) = batch.last() else { break };
        last.as_str().clone_into(&mut after);
        more += batch_compared(db, &calendar, &batch, &mut found).await?;
        done += batch.len();
        progress(done, all);
    }
    found.extend(affected::of_nobody(db).await?.into_iter().map(|family| {
        format!("{family} has no task, and sister units affected are stored for it")
    }));
    if more > 0 {
        found.push(format!("and {more} more"));
    }
    Ok(found)
}

fn whole(count: i64) -> usize {
    usize::try_from(count).unwrap_or(0)
}

fn at_once() -> i64 {
    i64::try_from(MAX_TASKS_AT_ONCE).unwrap_or(i64::MAX)
}

/// Families in batches of so many tasks; a larger family stands alone.
fn together<'a>(families: impl Iterator<Item = (&'a FamilyCode, usize)>) -> Vec<Vec<FamilyCode>> {
    let (mut batches, mut batch, mut held) = (Vec::new(), Vec::new(), 0);
    for (family, size) in families {
        if held > 0 && held + size > MAX_TASKS_AT_ONCE {
            batches.push(std::mem::take(&mut batch));
            held = 0;
        }
        batch.push(family.clone());
        held += size;
    }
    batches.push(batch);
    batches
}

/// Compares some tasks; gives the number of those that differ and are not named any more.
async fn batch_compared(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    batch: &[TaskCode],
    found: &mut Vec<String>,
) -> Result<usize, Failure> {
    let (derived, dossier) = recompute(db, calendar.clone(), batch).await?;
    let entries: Vec<i64> = derived.iter().map(|task| task.words.entry).collect();
    let rows: HashMap<TaskCode, StandingRow> =
        standing::these(db, batch).await?.into_iter().map(|row| (row.task.clone(), row)).collect();
    let words: HashMap<i64, TaskWords> =
        standing::task_words(db, &entries).await?.into_iter().map(|w| (w.entry, w)).collect();
    let mut flights: HashMap<TaskCode, Vec<FlightCode>> = HashMap::new();
    for (task, flight) in standing::flights_of(db, batch).await? {
        flights.entry(task).or_default().push(flight);
    }
    let mut not_held: HashMap<TaskCode, Vec<NotHeldRow>> = HashMap::new();
    for row in told::not_held_on(db, batch).await? {
        not_held.entry(row.task.clone()).or_default().push(row);
    }
    let mut more = 0;
    for family in sisters::differing(db, &dossier).await? {
        let words = format!("{family}: the sister units affected differ from those stored");
        if found.len() < NAMED {
            found.push(words);
        } else {
            more += 1;
        }
    }
    for task in &derived {
        let code = &task.row.task;
        // One that is missing altogether is named by the check of the tasks.
        let mut differs = rows.get(code).map_or_else(Vec::new, |stored| differences(stored, task));
        if flights.get(code).map_or(&[][..], Vec::as_slice) != task.flights {
            differs.push(format!("it touches {}", listed(&task.flights)));
        }
        if words.get(&task.words.entry).is_some_and(|stored| *stored != task.words) {
            differs.push("its words in the search differ".to_owned());
        }
        for told in &task.told {
            differs.push(format!("what {} says differs from what is stored", told.attempt));
        }
        if not_held.get(code).map_or(&[][..], Vec::as_slice) != task.not_held {
            differs.push("the remedies that did not hold differ from those stored".to_owned());
        }
        if differs.is_empty() {
            continue;
        }
        if found.len() < NAMED {
            let differs = differs.join("; ");
            found.push(format!("{code}: its stored state differs from its events: {differs}"));
        } else {
            more += 1;
        }
    }
    Ok(more)
}

fn listed(flights: &[FlightCode]) -> String {
    if flights.is_empty() {
        return "no flight".to_owned();
    }
    flights.iter().map(FlightCode::as_str).collect::<Vec<_>>().join(", ")
}

/// What is stored and what the events say, for each column that differs.
fn differences(stored: &StandingRow, now: &Recomputed) -> Vec<String> {
    let (old, new) = (stored, &now.row);
    let mut found = Vec::new();
    let mut hold = |name: &str, stored: &dyn std::fmt::Debug, now: &dyn std::fmt::Debug| {
        let (stored, now) = (format!("{stored:?}"), format!("{now:?}"));
        if stored != now {
            found.push(format!("{name} is stored as {stored} and is {now}"));
        }
    };
    hold("state", &old.state.word(), &new.state.word());
    hold("% left", &old.share_left.0, &new.share_left.0);
    hold("% left unknown after", &old.left_unknown, &new.left_unknown);
    hold("carry count", &old.carry_count, &new.carry_count);
    hold("last reason", &old.why_words, &new.why_words);
    hold("kind of reason", &old.why, &new.why);
    hold("last event", &old.why_event, &new.why_event);
    hold("deferred before launch", &old.deferred_before, &new.deferred_before);
    hold("in the backlog", &old.is_open, &new.is_open);
    hold("class", &old.class, &new.class);
    hold("needed by", &old.need_day, &new.need_day);
    hold("at risk", &old.in_danger, &new.in_danger);
    hold("approach questioned", &old.in_question, &new.in_question);
    hold("same approach tried twice", &old.twice_same, &new.twice_same);
    hold("waits for a tool", &old.held_tool, &new.held_tool);
    hold("waits for a task", &old.held_order, &new.held_order);
    hold("waits for a remedy", &old.held_remedy, &new.held_remedy);
    hold("worksite", &old.worksite, &new.worksite);
    hold("family", &old.family, &new.family);
    hold("title", &old.title, &new.title);
    hold("undated", &old.undated, &new.undated);
    if found.is_empty() && old != new {
        found.push("some column of it".to_owned());
    }
    found
}
