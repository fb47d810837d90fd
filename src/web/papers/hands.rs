//! Lines that several papers share: how a task ended on an excursion, what it was left as, what is
//! planned for it next.

use std::collections::HashMap;

use app::read::Connection;

use super::{Bit, Line, text};
use app::Failure;
use app::calendar::Calendar;
use app::constraints::{InForce, Read};
use app::debrief::uncounted;
use app::read::{attempts, endings, excursions, slots, tasks};
use domain::attempts::Attempt;
use domain::codes::{TaskCode, ToolCode};
use domain::constraints::Ends;
use domain::endings::Deferral;
use domain::excursions::{Excursion, ExcursionTool};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::{Outcome, SlotState};

/// One excursion with all that was planned and done on it.
pub(super) struct Outing {
    pub excursion: Excursion,
    /// Set or flown; withdrawn ones are left out.
    pub slots: Vec<Slot>,
    pub attempts: Vec<Attempt>,
    pub deferrals: Vec<Deferral>,
    pub tools: Vec<ExcursionTool>,
    /// Tools that were to be taken and that nobody counted.
    pub uncounted: Vec<ToolCode>,
    pub is_closed: bool,
}

pub(super) async fn outing(db: &mut Connection, excursion: Excursion) -> Result<Outing, Failure> {
    let code = excursion.code.0.clone();
    let mut slots = slots::of_excursion(db, &code).await?;
    slots.retain(|slot| slot.state != SlotState::Withdrawn);
    let tools = excursions::tools_of(db, &code).await?;
    let is_closed = excursions::closed_at(db, &code).await?.is_some();
    Ok(Outing {
        slots,
        attempts: attempts::of_excursion(db, &code).await?,
        deferrals: endings::deferrals_of_excursion(db, &code).await?,
        uncounted: uncounted(db, &excursion, &tools, is_closed).await?,
        tools,
        is_closed,
        excursion,
    })
}

impl Outing {
    /// The last result of a task here.
    pub fn result(&self, task: &TaskCode) -> Option<&Attempt> {
        self.attempts.iter().filter(|attempt| attempt.task == *task).max_by_key(|a| a.pet_start)
    }

    /// Whether a slot here is set for a task.
    pub fn holds(&self, task: &TaskCode) -> bool {
        self.slots.iter().any(|slot| slot.task == *task && slot.state == SlotState::Set)
    }

    pub fn deferral(&self, task: &TaskCode) -> Option<&Deferral> {
        self.deferrals.iter().find(|deferral| deferral.task == *task)
    }
}

/// The titles of these tasks.
pub(super) async fn tasks_by_code(
    db: &mut Connection,
    codes: &[TaskCode],
) -> Result<HashMap<TaskCode, Task>, Failure> {
    let found = tasks::these(db, codes).await?;
    Ok(found.into_iter().map(|task| (task.code.0.clone(), task)).collect())
}

/// `T-0118 Release hose clip 3`.
pub(super) fn titled(task: &TaskCode, tasks: &HashMap<TaskCode, Task>) -> Line {
    let title = tasks.get(task).map_or("", |task| task.title.as_str());
    vec![Bit::Code(task.to_string()), Bit::Text(format!(" {title}"))]
}

/// The mark and the word of an outcome: `40 % left`.
pub(super) fn ended(attempt: &Attempt) -> Line {
    let mark = crate::marks::of(&attempt.outcome);
    let words = match (attempt.outcome, attempt.left_after) {
        (Outcome::PartDone, Some(left)) => format!("part done, {} % left", left.0),
        (outcome, _) => outcome.word().to_owned(),
    };
    vec![Bit::Mark(mark, words)]
}

/// The coming slots in the order in which their excursions are flown.
pub(super) async fn live(db: &mut Connection, calendar: &Calendar) -> Result<Vec<Slot>, Failure> {
    let mut live = slots::coming_slots(db).await?;
    live.sort_by_key(|slot| calendar.place(&slot.excursion));
    Ok(live)
}

/// `E-37.1 set`, of all slots that a task holds ahead.
pub(super) fn next_of(task: &TaskCode, live: &[Slot]) -> Line {
    let mut own: Vec<&Slot> = live.iter().filter(|slot| slot.task == *task).collect();
    own.sort_by_key(|slot| slot.state != SlotState::Set);
    if own.is_empty() {
        return vec![Bit::Text("no slot".to_owned())];
    }
    let words: Vec<String> =
        own.iter().map(|slot| format!("{} {}", slot.excursion, slot.state)).collect();
    text(&words.join(", "))
}

/// The rows of a table of constraints in force: what, because of, safe until, ended by, in time.
pub(super) fn constraint_rows(read: &Read) -> Vec<Vec<Line>> {
    let mut all: Vec<&InForce> = read.in_force().collect();
    all.sort_by_key(|one| (one.until.is_none(), one.until, one.constraint.code.0.clone()));
    all.into_iter().map(constraint_row).collect()
}

fn constraint_row(one: &InForce) -> Vec<Line> {
    let constraint = &one.constraint;
    let mut what = vec![Bit::Bold(constraint.forbidden.to_string())];
    what.push(Bit::Text(" ".to_owned()));
    what.push(Bit::Code(constraint.code.0.to_string()));
    let mut because: Vec<String> =
        one.since.iter().map(|source| source.attempt.to_string()).collect();
    because.extend(one.items.iter().map(|item| item.code.0.to_string()));
    let ends = match &one.slot {
        Some(slot) => format!("{} done, {} {}", slot.task, slot.excursion, slot.state),
        None => constraint.task.as_ref().map_or_else(
            || "nothing".to_owned(),
            |task| match one.done_before {
                Some(day) => format!("nothing; {task} was done on {day}, before this was left"),
                None => format!("{task} done; it has no slot"),
            },
        ),
    };
    let days = |days: i64| if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
    let in_time = match (one.state, one.ends) {
        (domain::constraints::ConstraintState::PastDate, _) => {
            vec![Bit::Warn("past its date".to_owned())]
        }
        (_, Ends::InTime(_)) if one.is_pencilled_only() => {
            vec![Bit::Warn("pencilled only".to_owned())]
        }
        (_, Ends::Nothing) => vec![Bit::Warn("nothing ends it".to_owned())],
        (_, Ends::Undated) => vec![Bit::Warn("date unknown".to_owned())],
        (_, Ends::TooLate(after)) => vec![Bit::Warn(format!("{} after", days(after)))],
        (_, Ends::InTime(None)) => vec![Bit::Text("no date".to_owned())],
        (_, Ends::InTime(Some(0))) => vec![Bit::Text("on its date".to_owned())],
        (_, Ends::InTime(Some(before))) => vec![Bit::Text(format!("{} before", days(before)))],
    };
    vec![
        what,
        text(&because.join(", ")),
        text(&crate::pages::constraints::safe_until(one)),
        text(&ends),
        in_time,
    ]
}

/// A word as it begins a sentence.
pub(super) fn capital(word: &str) -> String {
    crate::page::capital(word)
}
