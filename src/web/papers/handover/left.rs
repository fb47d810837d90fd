//! What a flight left of its tasks, each by its last result there.

use std::collections::{BTreeMap, HashMap};

use crate::papers::hands::{Outing, ended, next_of, titled};
use crate::papers::{Bit, Line, Table, text};
use domain::attempts::Attempt;
use domain::codes::TaskCode;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::{ExcursionState, Outcome};

/// What became of the tasks of a flight, each by its last result there.
pub(super) struct Left<'a> {
    pub done: Vec<&'a Attempt>,
    pub begun: Vec<&'a Attempt>,
    pub not_reached: Vec<&'a Attempt>,
    pub deferred: Vec<(TaskCode, String)>,
    /// Without a result, and the excursion that owes it.
    pub owing: Vec<(TaskCode, String)>,
    /// How many of those that owe one have a result of another excursion.
    pub owing_beside: usize,
    pub unplanned: Vec<&'a Attempt>,
}

impl<'a> Left<'a> {
    pub fn of(outings: &'a [Outing], planned: &[TaskCode]) -> Self {
        let mut last: BTreeMap<&TaskCode, &Attempt> = BTreeMap::new();
        for outing in outings {
            for attempt in &outing.attempts {
                let before = last.get(&attempt.task);
                // On one excursion the later try counts; a later excursion counts before.
                let is_later = before.is_none_or(|before| {
                    before.excursion != attempt.excursion || before.pet_start <= attempt.pet_start
                });
                if is_later {
                    last.insert(&attempt.task, attempt);
                }
            }
        }
        let mut left = Self {
            done: Vec::new(),
            begun: Vec::new(),
            not_reached: Vec::new(),
            deferred: Vec::new(),
            owing: Vec::new(),
            owing_beside: 0,
            unplanned: Vec::new(),
        };
        for attempt in last.values().copied() {
            match attempt.outcome {
                Outcome::Done => left.done.push(attempt),
                Outcome::PartDone | Outcome::NotCompleted => left.begun.push(attempt),
                Outcome::NotReached => left.not_reached.push(attempt),
            }
            if !planned.contains(&attempt.task) {
                left.unplanned.push(attempt);
            }
        }
        // A result elsewhere does not tell what became of it on an excursion that was flown since.
        for task in planned.iter().filter(|task| last.contains_key(task)) {
            let owing: Vec<&str> = outings
                .iter()
                .filter(|outing| outing.excursion.state == Some(ExcursionState::Flown))
                .filter(|outing| outing.result(task).is_none() && outing.holds(task))
                .map(|outing| outing.excursion.code.0.as_str())
                .collect();
            if !owing.is_empty() {
                left.owing.push((task.clone(), owing.join(", ")));
                left.owing_beside += 1;
            }
        }
        for task in planned.iter().filter(|task| !last.contains_key(task)) {
            let deferred = outings
                .iter()
                .rev()
                .find_map(|outing| outing.deferral(task).map(|deferral| (outing, deferral)));
            let is_waiting = outings.iter().find(|outing| outing.holds(task));
            match (is_waiting, deferred) {
                (Some(outing), _) => {
                    left.owing.push((task.clone(), outing.excursion.code.0.to_string()));
                }
                (None, Some((outing, deferral))) => left.deferred.push((
                    task.clone(),
                    format!("{}, {}", outing.excursion.code.0, deferral.reason),
                )),
                (None, None) => left.owing.push((task.clone(), String::new())),
            }
        }
        left
    }

    /// Every other planned task: not reached, done, put off, without a result.
    pub fn table(&self, tasks: &HashMap<TaskCode, Task>, live: &[Slot]) -> Table {
        let heads = [("Task", 40), ("Result", 16), ("On, because of", 28), ("Next", 16)];
        let mut table = Table::of(&heads).or("Every planned task was begun and left.");
        for attempt in self.not_reached.iter().chain(&self.done) {
            let next = if attempt.outcome == Outcome::Done {
                Line::new()
            } else {
                next_of(&attempt.task, live)
            };
            table.rows.push(vec![
                titled(&attempt.task, tasks),
                ended(attempt),
                text(attempt.excursion.as_str()),
                next,
            ]);
        }
        for (task, words) in &self.deferred {
            let mark = vec![Bit::Mark("k-def", "deferred".to_owned())];
            table.rows.push(vec![titled(task, tasks), mark, text(words), next_of(task, live)]);
        }
        for (task, on) in &self.owing {
            let mark = vec![Bit::Mark("k-open", "no result yet".to_owned())];
            let mut on = text(on);
            on.extend([Bit::Text(if on.is_empty() { "" } else { ": " }.to_owned()), Bit::Blank]);
            table.rows.push(vec![titled(task, tasks), mark, on, next_of(task, live)]);
        }
        table
    }
}
