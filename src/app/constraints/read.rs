//! Constraints with what their standing depends on: the task and the slot that end them, the items
//! that they name, who may lift them.

use async_recursion::async_recursion as boxed;
use std::collections::{HashMap, HashSet};

use sqlx::SqliteConnection;

use super::bounds::landing;
use crate::Failure;
use crate::calendar::Calendar;
use crate::four_eyes::Touches;
use domain::codes::{AttemptCode, ExcursionCode, OutsideCode, TaskCode};
use domain::constraints::{
    Constraint, ConstraintState, EndingSlot, Ends, Facts, ending_slot, ends, until,
};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::records::Record as _;
use domain::time::Day;
use domain::words::SlotState;
use store::constraints::Source;
use store::{Kept, attempts, constraints, outside};

/// A constraint as it stands.
#[derive(Debug, Clone)]
pub struct InForce {
    pub constraint: Constraint,
    pub state: ConstraintState,
    pub until: Option<Day>,
    /// The day on which its task was done, where it is.
    pub task_done: Option<Option<Day>>,
    /// The day on which its task was done before it was left behind, which does not end it.
    pub done_before: Option<Day>,
    /// The coming slot that ends it.
    pub slot: Option<EndingSlot>,
    pub ends: Ends,
    /// The outside items that hang on it: those that it names, and those that its attempts left.
    pub items: Vec<OutsideItem>,
    /// The attempts that left it behind.
    pub since: Vec<Source>,
}

impl InForce {
    /// Whether somebody has to see to it: past its date, or nothing ends it in time.
    pub fn is_pressing(&self) -> bool {
        self.state == ConstraintState::PastDate
            || self.state == ConstraintState::InForce
                && (!matches!(self.ends, Ends::InTime(_)) || self.is_pencilled_only())
    }

    /// Whether the slot that would end it in time is a pencilled one.
    pub fn is_pencilled_only(&self) -> bool {
        matches!(self.ends, Ends::InTime(_))
            && self.slot.as_ref().is_some_and(|slot| slot.state == SlotState::Pencilled)
    }
}

/// Every constraint, ended and lifted ones too, in the order of their codes.
#[derive(Debug, Clone, Default)]
pub struct Read {
    pub all: Vec<InForce>,
    pub calendar: Calendar,
}

impl Read {
    pub fn in_force(&self) -> impl Iterator<Item = &InForce> {
        self.all.iter().filter(|one| one.state.holds())
    }
}

#[boxed]
pub async fn read_all(db: &mut SqliteConnection, today: Day) -> Result<Read, Failure> {
    let all = constraints::all(db).await?;
    let calendar = Calendar::load(db).await?;
    Ok(Read { all: stand(db, &calendar, all, today).await?, calendar })
}

/// One constraint, and who touched it.
#[boxed]
pub async fn read(
    db: &mut SqliteConnection,
    code: &str,
    today: Day,
) -> Result<(InForce, Touches, Calendar), Failure> {
    let missing = || Failure::NotFound(Kind::Constraint, code.to_owned());
    let constraint = Constraint::find(db, code).await?.ok_or_else(missing)?;
    let touches = Touches::of(db, Kind::Constraint, &[constraint.code().to_owned()]).await?;
    let calendar = Calendar::load(db).await?;
    let one = stand(db, &calendar, vec![constraint], today).await?.pop().ok_or_else(missing)?;
    Ok((one, touches, calendar))
}

/// The constraints that these tasks end.
#[boxed]
pub async fn for_tasks(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
    today: Day,
) -> Result<Vec<InForce>, Failure> {
    let all = constraints::ended_by(db, tasks).await?;
    let calendar = Calendar::load(db).await?;
    stand(db, &calendar, all, today).await
}

/// What an excursion leaves and ends: the constraints that its attempts left behind, however they
/// stand today, and those that ended because a task was done or their items came in on it.
#[boxed]
pub async fn for_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    today: Day,
) -> Result<(Vec<InForce>, Vec<InForce>), Failure> {
    let tried = attempts::of_excursion(db, excursion).await?;
    let codes: Vec<AttemptCode> = tried.iter().map(|attempt| attempt.code.0.clone()).collect();
    let tasks: Vec<TaskCode> = tried
        .iter()
        .filter(|attempt| attempt.outcome == domain::words::Outcome::Done)
        .map(|attempt| attempt.task.clone())
        .collect();
    let calendar = Calendar::load(db).await?;
    let left = constraints::left_by(db, &codes).await?;
    let left = stand(db, &calendar, left, today).await?;
    let day = calendar.excursions.get(excursion).and_then(|on| on.row.day);
    let all = constraints::all(db).await?;
    let mut ended = stand(db, &calendar, all, today).await?;
    ended.retain(|one| {
        let by_task = one.constraint.task.as_ref().is_some_and(|task| tasks.contains(task));
        let by_items = one.constraint.task.is_none()
            && day.is_some()
            && one.items.iter().filter_map(|item| item.ended_on).max() == day;
        one.state == ConstraintState::Ended && (by_task || by_items)
    });
    Ok((left, ended))
}

/// Whether a task was done before the last source of a constraint: what was left after that is not
/// ended by it.
fn is_before(done: Option<Day>, constraint: &Constraint, sources: &[Source]) -> bool {
    let left = sources.iter().filter(|one| constraint.attempts.contains(&one.attempt));
    let last = left.filter_map(|one| one.day).max().or(constraint.since);
    done.zip(last).is_some_and(|(done, last)| done < last)
}

async fn stand(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    all: Vec<Constraint>,
    today: Day,
) -> Result<Vec<InForce>, Failure> {
    let tasks: Vec<TaskCode> = all.iter().filter_map(|one| one.task.clone()).collect();
    let done: HashMap<TaskCode, Option<Day>> =
        constraints::done_on(db, &tasks).await?.into_iter().collect();
    let slots = constraints::coming_slots(db, &tasks).await?;
    let sources: Vec<AttemptCode> = all.iter().flat_map(|one| one.attempts.0.clone()).collect();
    let sources = constraints::sources(db, &sources).await?;
    let items = outside::all(db).await?;
    let mut standing = Vec::with_capacity(all.len());
    for constraint in all {
        let named: HashSet<&OutsideCode> = constraint.outside_items.iter().collect();
        let landing = constraint.safe_until_flight.as_ref().and_then(|f| landing(calendar, f));
        let until = until(constraint.safe_until, landing);
        let task_done = constraint.task.as_ref().and_then(|task| done.get(task).copied());
        let (task_done, done_before) = match task_done {
            Some(done) if is_before(done, &constraint, &sources) => (None, done),
            done => (done, None),
        };
        let facts = Facts {
            until,
            task_done,
            items: items
                .iter()
                .filter(|item| named.contains(&item.code.0))
                .map(|item| item.state)
                .collect(),
        };
        let left = |item: &&OutsideItem| {
            named.contains(&item.code.0)
                || item.left_by.as_ref().is_some_and(|by| constraint.attempts.contains(by))
        };
        let slot = ending_slot(constraint.task.as_ref(), &slots).cloned();
        standing.push(InForce {
            state: constraint.state(&facts, today),
            until,
            task_done: facts.task_done,
            done_before,
            ends: ends(until, slot.as_ref()),
            slot,
            items: items.iter().filter(left).cloned().collect(),
            since: sources
                .iter()
                .filter(|source| constraint.attempts.contains(&source.attempt))
                .cloned()
                .collect(),
            constraint,
        });
    }
    Ok(standing)
}
