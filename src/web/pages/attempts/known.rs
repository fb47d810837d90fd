//! What is known so far, beside the form of an attempt: the task's carry line, what happened to
//! units of the same design, and what the repeat guard says of each approach.

use app::read::Connection;

use crate::drawings::carry_line::{Style, small};
use crate::drawings::columns::Columns;
use crate::drawings::markup::Drawing;
use crate::linked::{Piece, ended, linked};
use crate::marks;
use crate::pages::carry;
use app::Failure;
use app::dossier::Dossier;
use app::read::{slots, standing};
use domain::repeat_guard::{Approach, Judgement, judge};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::Outcome;

/// So many tries of sisters and so many approaches are named.
const NAMED: usize = 6;

/// The column; nothing of it for a task that is not known yet.
#[derive(Default)]
pub(crate) struct Known {
    pub columns: Columns,
    pub line: Option<Drawing>,
    pub stands: Vec<Piece>,
    pub tries: Vec<SisterTry>,
    /// Tries that are not named.
    pub more: usize,
    pub guard: Vec<Vec<Piece>>,
    /// What follows from each way to end; empty where the attempt stands already.
    pub after: Vec<Follows>,
}

/// What follows from an attempt that ends so.
pub(crate) struct Follows {
    pub outcome: &'static str,
    pub mark: &'static str,
    pub words: Vec<Piece>,
}

/// One try of the unit or of a sister.
pub(crate) struct SisterTry {
    pub mark: &'static str,
    pub outcome: &'static str,
    pub unit: String,
    pub by: String,
    pub attempt: String,
}

impl Known {
    pub fn is_empty(&self) -> bool {
        self.line.is_none()
    }

    pub async fn of(db: &mut Connection, task: Option<&Task>) -> Result<Self, Failure> {
        let Some(task) = task else { return Ok(Self::default()) };
        let code = &task.code.0;
        let dossier = Dossier::load(db, std::slice::from_ref(code)).await?;
        let standing = standing::find(db, code).await?;
        let columns = carry::columns(&dossier.calendar);
        let Some(opening) = carry::opening(&dossier, code) else { return Ok(Self::default()) };
        let at_risk = standing.as_ref().is_some_and(|row| row.in_danger);
        let line =
            small(&carry::trace(&dossier, &columns, opening, at_risk).line, "known", Style::Headed);
        let record = dossier.family_of(opening).unwrap_or_else(|| dossier.no_family());
        let unit = dossier.unit_of(code);
        let mut tries: Vec<&domain::repeat_guard::Try> = record.tries.iter().collect();
        tries.sort_by_key(|tried| tried.attempt.clone());
        let more = tries.len().saturating_sub(NAMED);
        let shown: Vec<SisterTry> = tries
            .iter()
            .rev()
            .take(NAMED)
            .map(|tried| {
                let outcome = tried.account.outcome;
                let place = tried.unit.position.as_ref();
                SisterTry {
                    mark: marks::of(&outcome),
                    outcome: outcome.word(),
                    unit: place.map_or_else(String::new, ToString::to_string),
                    by: tried.approach.to_string(),
                    attempt: tried.attempt.to_string(),
                }
            })
            .collect();
        let mut approaches: Vec<Approach> = Vec::new();
        for tried in tries.iter().rev() {
            if tried.approach != Approach::default() && !approaches.contains(&tried.approach) {
                approaches.push(tried.approach.clone());
            }
        }
        approaches.truncate(NAMED);
        let guard = approaches
            .iter()
            .map(|approach| linked(&judged(approach, &judge(&unit, approach, record.record()))))
            .collect();
        let stands = standing.map_or_else(String::new, |row| {
            let left =
                if row.is_open { format!(" {} left.", row.share_left) } else { String::new() };
            format!("{}{left}", ended(&row.why_words))
        });
        Ok(Self {
            line: Some(line),
            columns,
            stands: linked(&stands),
            tries: shown,
            more,
            guard,
            after: Vec::new(),
        })
    }

    /// With what follows from each way to end.
    pub async fn and_after(mut self, db: &mut Connection, task: &Task) -> Result<Self, Failure> {
        let live = slots::live_of_task(db, &task.code.0).await?;
        self.after = after(task, &live);
        Ok(self)
    }
}

/// By rules 1, 3, 4 and 5 (docs/rules.md), for whichever outcome is chosen.
fn after(task: &Task, live: &[Slot]) -> Vec<Follows> {
    let code = &task.code.0;
    let (units, offered) = match &task.family {
        Some(family) => (
            format!(" and questioned on the open units of {family}"),
            format!(" An approach that is new to {family} is offered to its open units."),
        ),
        None => (String::new(), String::new()),
    };
    let slots: Vec<String> = live
        .iter()
        .filter(|slot| slot.technique.is_some() || slot.side.is_some())
        .map(|slot| format!("{} on {}", slot.state.word(), slot.excursion))
        .collect();
    let marked = match slots.as_slice() {
        [] => String::new(),
        all => format!(" A slot by that approach stays and is marked: {}.", all.join(", ")),
    };
    let ends = [
        (Outcome::Done, format!("{code} leaves the backlog.{offered}")),
        (Outcome::PartDone, format!("{code} stays open with what is left of it.")),
        (
            Outcome::NotCompleted,
            format!(
                "{code} stays open. Unless something outside the work stopped it, its approach is \
                 blocked for this unit{units}.{marked}"
            ),
        ),
        (Outcome::NotReached, format!("{code} stays open. Nothing is held against its approach.")),
    ];
    let follows = |(outcome, words): (Outcome, String)| Follows {
        outcome: outcome.word(),
        mark: marks::of(&outcome),
        words: linked(&words),
    };
    ends.into_iter().map(follows).collect()
}

fn judged(approach: &Approach, judgement: &Judgement) -> String {
    let against: Vec<String> = judgement.attempts().iter().map(ToString::to_string).collect();
    let because =
        if against.is_empty() { String::new() } else { format!(": {}", against.join(", ")) };
    format!("{approach}: {}{because}.", judgement.word())
}
