//! How much of a task was left around its attempts, read from the record.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use domain::codes::{AttemptCode, ExcursionCode, TaskCode};
use domain::history::left::{Change, LeftBeforeAndAfter, Step, around};
use domain::history::{Left, Phase};
use domain::units::Pet;
use domain::words::Outcome;
use store::history::{self, AttemptRow, ParkingOrReopening};

/// Comes after everything that was entered.
const LAST: i64 = i64::MAX;

/// What was left around every attempt of some tasks.
pub(crate) fn of_attempts(
    calendar: &Calendar,
    attempts: &[AttemptRow],
    reopenings: &[ParkingOrReopening],
) -> HashMap<AttemptCode, LeftBeforeAndAfter> {
    let mut by_task: HashMap<&TaskCode, (Vec<&AttemptRow>, Vec<Step>)> = HashMap::new();
    for tried in attempts {
        let (tries, _) = by_task.entry(&tried.task).or_default();
        tries.push(tried);
    }
    for turned in reopenings {
        if let Some((_, steps)) = by_task.get_mut(&turned.task) {
            steps.push(reopened(calendar, turned));
        }
    }
    let mut all = HashMap::with_capacity(attempts.len());
    for (tries, reopenings) in by_task.into_values() {
        let steps: Vec<Step> =
            tries.iter().map(|tried| attempted(calendar, tried)).chain(reopenings).collect();
        let codes = tries.iter().map(|tried| tried.code.clone());
        all.extend(codes.zip(around(&steps)));
    }
    all
}

fn attempted(calendar: &Calendar, tried: &AttemptRow) -> Step {
    Step {
        code: tried.code.to_string(),
        when: calendar.on(&tried.excursion, Phase::During, tried.pet_start, tried.entry),
        what: Change::Tried { outcome: tried.outcome, said: tried.said() },
    }
}

fn reopened(calendar: &Calendar, turned: &ParkingOrReopening) -> Step {
    Step {
        code: turned.code.clone(),
        when: calendar.on_day(turned.day, Some(turned.made_at), turned.entry),
        what: Change::Reopened { left: turned.share_left.unwrap_or_default() },
    }
}

/// The attempts and reopenings of some tasks.
pub(crate) struct LeftOf {
    calendar: Calendar,
    attempts: Vec<AttemptRow>,
    reopenings: Vec<ParkingOrReopening>,
}

impl LeftOf {
    #[boxed]
    pub async fn load(db: &mut SqliteConnection, tasks: &[TaskCode]) -> Result<Self, Failure> {
        Ok(Self {
            calendar: Calendar::load(db).await?,
            attempts: history::tries_of(db, tasks).await?,
            reopenings: history::reopenings_of(db, tasks).await?,
        })
    }

    /// What is left before an attempt on that excursion from that minute on (unknown: at its end).
    /// `own` names the attempt where it is recorded already: it does not count itself.
    pub fn before(
        &self,
        task: &TaskCode,
        excursion: &ExcursionCode,
        pet: Option<Pet>,
        own: Option<&AttemptCode>,
    ) -> Left {
        let of_task = self.attempts.iter().filter(|tried| tried.task == *task);
        let entry = of_task
            .clone()
            .find(|tried| Some(&tried.code) == own)
            .map_or(LAST, |tried| tried.entry);
        let probe = Step {
            code: own.map_or_else(String::new, ToString::to_string),
            when: self.calendar.on(excursion, Phase::During, pet, entry),
            what: Change::Tried { outcome: Outcome::NotReached, said: None },
        };
        let tries = of_task
            .filter(|tried| Some(&tried.code) != own)
            .map(|tried| attempted(&self.calendar, tried));
        let turns = self
            .reopenings
            .iter()
            .filter(|turned| turned.task == *task)
            .map(|turned| reopened(&self.calendar, turned));
        let steps: Vec<Step> = std::iter::once(probe).chain(tries).chain(turns).collect();
        around(&steps).swap_remove(0).before
    }

    /// What is left after a recorded attempt.
    pub fn after(&self, code: &AttemptCode) -> Option<Left> {
        let task = &self.attempts.iter().find(|tried| tried.code == *code)?.task;
        let of_task: Vec<AttemptRow> =
            self.attempts.iter().filter(|tried| tried.task == *task).cloned().collect();
        let mut all = of_attempts(&self.calendar, &of_task, &self.reopenings);
        all.remove(code).map(|around| around.after)
    }
}
