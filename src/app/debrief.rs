//! The debrief: all results of one flown excursion, saved as they are typed, closed when nothing
//! is missing. What did not end `done` is back in the backlog in the same transaction.

use std::collections::{BTreeMap, BTreeSet};

use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::excursions::allowed;
use crate::app::records::{Base, current, remove, write};
use crate::app::work::Work;
use crate::domain::attempts::Attempt;
use crate::domain::cells::{Cells, FieldError};
use crate::domain::codes::{ExcursionCode, TaskCode};
use crate::domain::debrief::{Missing, SetSlot, missing};
use crate::domain::endings::Deferral;
use crate::domain::excursions::{Excursion, ExcursionTool};
use crate::domain::kinds::Kind;
use crate::domain::outside::OutsideItem;
use crate::domain::records::Record;
use crate::domain::roles::Action;
use crate::domain::slots::Slot;
use crate::domain::tasks::Task;
use crate::domain::time::Moment;
use crate::domain::words::{ExcursionState, Outcome, SlotState};
use crate::store::drafts::Draft;
use crate::store::{
    Kept, attempts, drafts, endings, excursions, imports, outside, register, slots, tasks,
};

/// The choice beside the outcomes: it was taken off.
pub const DEFERRED: &str = "deferred";

/// One line of the debrief: a slot, or work that was not planned.
#[derive(Debug, Clone)]
pub struct Row {
    /// The slot's code, or a name of the row's own.
    pub key: String,
    pub slot: Option<Slot>,
    pub task: TaskCode,
    pub title: String,
    pub attempts: Vec<Attempt>,
    pub deferral: Option<Deferral>,
    /// What was typed and is not valid yet, with what is wrong with it.
    pub draft: Option<(Cells, Vec<FieldError>)>,
}

impl Row {
    pub fn is_complete(&self) -> bool {
        self.draft.is_none() && (!self.attempts.is_empty() || self.deferral.is_some())
    }
}

/// Everything about the results of one excursion.
#[derive(Debug, Clone)]
pub struct Debrief {
    pub excursion: Excursion,
    pub version: i64,
    pub closed_at: Option<Moment>,
    pub rows: Vec<Row>,
    pub tools: Vec<ExcursionTool>,
    pub left_outside: Vec<OutsideItem>,
    pub missing: Vec<Missing>,
    /// The tasks that closing returns to the backlog.
    pub returns: Vec<TaskCode>,
}

/// Reads the debrief of an excursion.
pub async fn read(db: &mut SqliteConnection, code: &str) -> Result<Debrief, Failure> {
    let not_there = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(not_there)?;
    let registered = register::find(db, Kind::Excursion, code).await?.ok_or_else(not_there)?;
    let code = excursion.code.0.clone();
    let tried = attempts::of_excursion(db, &code).await?;
    let deferred = endings::deferrals_of_excursion(db, &code).await?;
    let typed = drafts::of_excursion(db, &code).await?;
    let here = slots::of_excursion(db, &code).await?;
    let mut rows = rows_of_slots(here, &tried, &deferred);
    rows.extend(rows_without_slot(&tried, &rows));
    add_drafts(&mut rows, &typed);
    let titles = titles(db, &rows).await?;
    for row in &mut rows {
        row.title = titles.get(&row.task).cloned().unwrap_or_default();
    }
    let tools = excursions::tools_of(db, &code).await?;
    let missing = what_is_missing(&rows, &tools);
    let returns = rows
        .iter()
        .filter(|row| row.is_complete())
        .filter(|row| row.attempts.iter().all(|attempt| attempt.outcome != Outcome::Done))
        .map(|row| row.task.clone())
        .collect::<BTreeSet<_>>();
    Ok(Debrief {
        closed_at: excursions::closed_at(db, &code).await?,
        left_outside: outside::left_by_excursion(db, &code).await?,
        version: registered.version,
        excursion,
        rows,
        tools,
        missing,
        returns: returns.into_iter().collect(),
    })
}

/// The slots that were set at launch, in their order.
fn rows_of_slots(here: Vec<Slot>, tried: &[Attempt], deferred: &[Deferral]) -> Vec<Row> {
    let of = |slot: Slot| {
        let own = Some(slot.code.0.clone());
        let attempts: Vec<Attempt> = tried.iter().filter(|a| a.slot == own).cloned().collect();
        let deferral = deferred.iter().find(|d| d.slot == own).cloned();
        let counts = matches!(slot.state, SlotState::Set | SlotState::Flown)
            || !attempts.is_empty()
            || deferral
                .as_ref()
                .is_some_and(|d| d.phase != crate::domain::words::DeferralPhase::BeforeLaunch);
        counts.then(|| Row {
            key: slot.code.0.as_str().to_owned(),
            task: slot.task.clone(),
            slot: Some(slot),
            title: String::new(),
            attempts,
            deferral,
            draft: None,
        })
    };
    here.into_iter().filter_map(of).collect()
}

fn rows_without_slot(tried: &[Attempt], planned: &[Row]) -> Vec<Row> {
    let covered: BTreeSet<&str> = planned
        .iter()
        .flat_map(|row| row.attempts.iter().map(|attempt| attempt.code.0.as_str()))
        .collect();
    let mut by_task: BTreeMap<TaskCode, Vec<Attempt>> = BTreeMap::new();
    for attempt in tried.iter().filter(|attempt| !covered.contains(attempt.code.0.as_str())) {
        by_task.entry(attempt.task.clone()).or_default().push(attempt.clone());
    }
    by_task
        .into_iter()
        .map(|(task, attempts)| Row {
            key: format!("task {task}"),
            slot: None,
            task,
            title: String::new(),
            attempts,
            deferral: None,
            draft: None,
        })
        .collect()
}

fn add_drafts(rows: &mut Vec<Row>, typed: &[Draft]) {
    for draft in typed {
        let cells: Cells = serde_json::from_str::<BTreeMap<String, String>>(&draft.body)
            .unwrap_or_default()
            .into_iter()
            .collect();
        let wrong = wrong_in(&cells);
        if let Some(row) = rows.iter_mut().find(|row| row.key == draft.row) {
            row.draft = Some((cells, wrong));
        } else {
            rows.push(Row {
                key: draft.row.clone(),
                slot: None,
                task: TaskCode::from(cells.get("task")),
                title: String::new(),
                attempts: Vec::new(),
                deferral: None,
                draft: Some((cells, wrong)),
            });
        }
    }
}

async fn titles(
    db: &mut SqliteConnection,
    rows: &[Row],
) -> Result<BTreeMap<TaskCode, String>, Failure> {
    let codes: Vec<TaskCode> = rows.iter().map(|row| row.task.clone()).collect();
    let found = tasks::these(db, &codes).await?;
    Ok(found.into_iter().map(|task: Task| (task.code.0, task.title.0)).collect())
}

fn what_is_missing(rows: &[Row], tools: &[ExcursionTool]) -> Vec<Missing> {
    let set: Vec<SetSlot> = rows
        .iter()
        .filter_map(|row| row.slot.as_ref())
        .map(|slot| SetSlot { slot: slot.code.0.clone(), task: slot.task.clone() })
        .collect();
    let answered = rows
        .iter()
        .filter(|row| !row.attempts.is_empty() || row.deferral.is_some())
        .filter_map(|row| row.slot.as_ref().map(|slot| slot.code.0.clone()))
        .collect();
    let unfinished: Vec<_> = rows
        .iter()
        .filter(|row| row.draft.is_some())
        .map(|row| (row.slot.as_ref().map(|slot| slot.code.0.clone()), row.task.clone()))
        .collect();
    missing(&set, &answered, &unfinished, tools)
}

/// What came of saving one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowSaved {
    Recorded(String),
    /// Kept as typed; this is wrong with it.
    Draft(Vec<FieldError>),
}

/// Saves one row as it was typed: a result once it is valid, a draft before.
pub async fn save_row(
    work: &mut Work,
    excursion: &ExcursionCode,
    key: &str,
    typed: Cells,
) -> Result<RowSaved, Failure> {
    allowed(work, Action::RecordAttempt)?;
    open_for_results(work, excursion).await?;
    let slot = Slot::find(work.db(), key).await?.filter(|slot| slot.excursion == *excursion);
    imports::mark(work.db()).await?;
    match result_of(work, excursion, slot.as_ref(), &typed).await {
        Ok(code) => {
            imports::keep(work.db()).await?;
            drafts::delete(work.db(), excursion, key).await?;
            Ok(RowSaved::Recorded(code))
        }
        Err(Failure::Invalid(wrong)) => {
            imports::back(work.db()).await?;
            let body: BTreeMap<&str, &str> = typed.iter().collect();
            let draft = Draft {
                row: key.to_owned(),
                body: serde_json::to_string(&body).unwrap_or_default(),
                typed_by: work.actor.name.clone(),
                typed_at: work.now,
            };
            drafts::put(work.db(), excursion, &draft).await?;
            Ok(RowSaved::Draft(wrong))
        }
        Err(other) => Err(other),
    }
}

/// Takes back what was typed into a row and is no result yet.
pub async fn drop_draft(
    work: &mut Work,
    excursion: &ExcursionCode,
    key: &str,
) -> Result<(), Failure> {
    allowed(work, Action::RecordAttempt)?;
    Ok(drafts::delete(work.db(), excursion, key).await?)
}

/// Makes an attempt or a deferral of a typed row; one that was there is changed.
async fn result_of(
    work: &mut Work,
    excursion: &ExcursionCode,
    slot: Option<&Slot>,
    typed: &Cells,
) -> Result<String, Failure> {
    let mut cells = typed.clone();
    cells.set("excursion", excursion.as_str());
    if let Some(slot) = slot {
        cells.set("slot", slot.code.0.as_str());
        cells.set("task", slot.task.as_str());
    }
    let own = slot.map(|slot| slot.code.0.clone());
    let tried: Vec<Attempt> = attempts::of_excursion(work.db(), excursion)
        .await?
        .into_iter()
        .filter(|attempt| own.is_some() && attempt.slot == own)
        .collect();
    let deferred = endings::deferrals_of_excursion(work.db(), excursion)
        .await?
        .into_iter()
        .find(|deferral| own.is_some() && deferral.slot == own);
    if typed.get("outcome") == DEFERRED {
        let deferral = deferral_of(&cells)?;
        for attempt in tried {
            remove::<Attempt>(work, attempt.code.0.as_str()).await?;
        }
        return keep(work, deferral, deferred).await;
    }
    let attempt = Attempt::parse(&cells).map_err(Failure::Invalid)?;
    if let Some(deferral) = deferred {
        remove::<Deferral>(work, deferral.code.0.as_str()).await?;
    }
    let before = match attempt.code() {
        "" if typed.get("another") == "yes" => None,
        "" => tried.into_iter().next(),
        code => Attempt::find(work.db(), code).await?,
    };
    keep(work, attempt, before).await
}

async fn keep<R: crate::app::records::Ruled>(
    work: &mut Work,
    mut record: R,
    before: Option<R>,
) -> Result<String, Failure> {
    let base = match &before {
        Some(before) => {
            record.set_code(before.code().to_owned());
            Base::Current
        }
        None => Base::New,
    };
    Ok(write(work, record, base).await?.record.code().to_owned())
}

/// The deferral's own fields stand beside the attempt's under names of their own.
fn deferral_of(cells: &Cells) -> Result<Deferral, Failure> {
    let mut own = Cells::default();
    for (name, from) in [
        ("task", "task"),
        ("excursion", "excursion"),
        ("slot", "slot"),
        ("words", "words"),
        ("reason", "defer_reason"),
        ("to_excursion", "to_excursion"),
    ] {
        own.set(name, cells.get(from));
    }
    let phase = cells.get("defer_phase");
    own.set("phase", if phase.is_empty() { "during" } else { phase });
    Deferral::parse(&own).map_err(|wrong| {
        let renamed = wrong.into_iter().map(|error| match error.field.as_str() {
            "reason" => FieldError::new("defer_reason", "Choose why it was taken off."),
            _ => error,
        });
        Failure::Invalid(renamed.collect())
    })
}

/// What is wrong with a draft, as far as its cells alone tell.
fn wrong_in(cells: &Cells) -> Vec<FieldError> {
    if cells.get("outcome").is_empty() {
        return vec![FieldError::new("outcome", "Say how it ended.")];
    }
    if cells.get("outcome") == DEFERRED {
        return match deferral_of(cells) {
            Err(Failure::Invalid(wrong)) => wrong,
            _ => Vec::new(),
        };
    }
    match Attempt::parse(cells) {
        Err(wrong) => wrong,
        Ok(attempt) => crate::domain::debrief::check_attempt(
            &attempt,
            crate::app::attempts::around(&attempt, None),
        ),
    }
}

/// Refuses results for an excursion that is closed or has not been flown.
async fn open_for_results(work: &mut Work, code: &ExcursionCode) -> Result<Excursion, Failure> {
    let excursion = current::<Excursion>(work, code.as_str()).await?;
    if excursion.state != Some(ExcursionState::Flown) {
        return Err(Failure::Refused(format!(
            "{code} has not been flown; mark it as flown first."
        )));
    }
    if excursions::closed_at(work.db(), code).await?.is_some() {
        return Err(Failure::Refused(format!("The debrief of {code} is closed; reopen it first.")));
    }
    Ok(excursion)
}

/// Closes an excursion once everything has its answer.
pub async fn close(work: &mut Work, code: &ExcursionCode) -> Result<(), Failure> {
    allowed(work, Action::CloseExcursion)?;
    open_for_results(work, code).await?;
    let debrief = read(work.db(), code.as_str()).await?;
    if !debrief.missing.is_empty() {
        let sentences: Vec<String> = debrief.missing.iter().map(Missing::to_string).collect();
        return Err(Failure::Refused(sentences.join(" ")));
    }
    let now = work.now;
    excursions::set_closed(work.db(), code, Some(now)).await?;
    work.log(Kind::Excursion, code.as_str(), "closed", None, None).await?;
    touch_all(work, code).await
}

/// Opens a closed excursion again; everything that hangs on it is derived anew.
pub async fn reopen(work: &mut Work, code: &ExcursionCode, why: &str) -> Result<(), Failure> {
    allowed(work, Action::ReopenExcursion)?;
    if why.trim().is_empty() {
        return Err(Failure::field("why", "Say why the debrief is opened again."));
    }
    if excursions::closed_at(work.db(), code).await?.is_none() {
        return Err(Failure::Refused(format!("The debrief of {code} is open already.")));
    }
    work.because(why);
    excursions::set_closed(work.db(), code, None).await?;
    work.log(Kind::Excursion, code.as_str(), "reopened", None, None).await?;
    touch_all(work, code).await
}

async fn touch_all(work: &mut Work, code: &ExcursionCode) -> Result<(), Failure> {
    for slot in slots::of_excursion(work.db(), code).await? {
        work.touch(&slot.task);
    }
    for attempt in attempts::of_excursion(work.db(), code).await? {
        work.touch(&attempt.task);
    }
    Ok(())
}
