//! The debrief: all results of one flown excursion, saved as they are typed, closed when nothing
//! is missing. What did not end `done` is back in the backlog in the same transaction.

use std::collections::{BTreeMap, BTreeSet};

use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::attempts::around;
use crate::app::excursions::allowed;
use crate::app::records::{Base, Ruled, current, remove, write};
use crate::app::slots::step;
use crate::app::tokens::hex;
use crate::app::work::Work;
use crate::domain::attempts::Attempt;
use crate::domain::cells::{Cells, FieldError};
use crate::domain::codes::{ExcursionCode, SlotCode, TaskCode};
use crate::domain::debrief::{Missing, SetSlot, check_attempt, missing};
use crate::domain::endings::Deferral;
use crate::domain::excursions::{Excursion, ExcursionTool};
use crate::domain::kinds::Kind;
use crate::domain::outside::OutsideItem;
use crate::domain::records::Record;
use crate::domain::roles::Action;
use crate::domain::slots::Slot;
use crate::domain::tasks::Task;
use crate::domain::time::Moment;
use crate::domain::words::{DeferralPhase, ExcursionState, Outcome, SlotState};
use crate::store::drafts::Draft;
use crate::store::{
    Kept, attempts, drafts, endings, excursions, imports, outside, register, slots, tasks,
};

/// The choice beside the outcomes: it was taken off.
pub const DEFERRED: &str = "deferred";

/// One line of the debrief: one result of a slot, or of work that was not planned.
#[derive(Debug, Clone)]
pub struct Row {
    /// The slot's code, or a name of the row's own.
    pub key: String,
    pub slot: Option<Slot>,
    pub task: TaskCode,
    pub title: String,
    pub attempt: Option<Attempt>,
    pub deferral: Option<Deferral>,
    /// What was typed and is no result yet, with what is wrong with it.
    pub draft: Option<(Cells, Vec<FieldError>)>,
}

/// The fields of one row, in the order in which they are typed.
pub const FIELDS: &[&str] = &[
    "task",
    "outcome",
    "pet_start",
    "pet_end",
    "minutes",
    "share",
    "seats",
    "technique",
    "side",
    "cause",
    "words",
    "last_step",
    "as_left",
    "safe_until",
    "safe_until_flight",
    "forbids",
    "temporary",
    "function_after",
    "measured",
    "tools",
    "defer_reason",
    "defer_phase",
    "to_excursion",
];

impl Row {
    pub fn is_complete(&self) -> bool {
        self.draft.is_none() && (self.attempt.is_some() || self.deferral.is_some())
    }

    /// A further try of a task that has its result here already, or work that was not planned.
    pub fn is_extra(&self) -> bool {
        self.slot.as_ref().is_none_or(|slot| slot.code.0.as_str() != self.key)
    }

    /// What the fields of this row hold: as typed, as recorded, or what the slot planned.
    pub fn cells(&self) -> Cells {
        if let Some((typed, _)) = &self.draft {
            return typed.clone();
        }
        if let Some(attempt) = &self.attempt {
            return attempt.cells();
        }
        let mut cells = Cells::default();
        if let Some(slot) = &self.slot {
            let planned = slot.cells();
            for name in ["seats", "technique", "side"] {
                cells.set(name, planned.get(name));
            }
        }
        cells.set("task", self.task.as_str());
        if let Some(deferral) = &self.deferral {
            let said = deferral.cells();
            cells.set("outcome", DEFERRED);
            cells.set("words", said.get("words"));
            cells.set("defer_reason", said.get("reason"));
            cells.set("defer_phase", said.get("phase"));
            cells.set("to_excursion", said.get("to_excursion"));
        }
        cells
    }

    /// Differs wherever the fields of the row differ; a form sends back the one it was made with.
    pub fn stamp(&self) -> String {
        stamp(&self.cells())
    }
}

/// Tells the fields of a row as they stood from the fields as they are, whoever changed them.
pub fn stamp(cells: &Cells) -> String {
    let mut hasher = Sha256::new();
    for name in FIELDS {
        let text = cells.get(name).replace("\r\n", "\n");
        hasher.update(text.trim());
        hasher.update([0]);
    }
    hex(&hasher.finalize()[..8])
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
    let mut rows = rows(db, &code).await?;
    let titles = titles(db, &rows).await?;
    for row in &mut rows {
        row.title = titles.get(&row.task).cloned().unwrap_or_default();
    }
    let tools = excursions::tools_of(db, &code).await?;
    let missing = what_is_missing(&rows, &tools);
    let done: BTreeSet<&TaskCode> = rows
        .iter()
        .filter(|row| row.attempt.as_ref().is_some_and(|tried| tried.outcome == Outcome::Done))
        .map(|row| &row.task)
        .collect();
    let returns: BTreeSet<TaskCode> = rows
        .iter()
        .filter(|row| row.is_complete() && !done.contains(&row.task))
        .map(|row| row.task.clone())
        .collect();
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

/// Every result that is there or is waited for, planned ones first.
async fn rows(db: &mut SqliteConnection, code: &ExcursionCode) -> Result<Vec<Row>, Failure> {
    let mut tried = attempts::of_excursion(db, code).await?;
    tried.sort_by_key(|attempt| {
        let code = attempt.code.0.as_str().to_owned();
        (code.len(), code)
    });
    let deferred = endings::deferrals_of_excursion(db, code).await?;
    let typed = drafts::of_excursion(db, code).await?;
    let here = slots::of_excursion(db, code).await?;
    let mut rows: Vec<Row> =
        here.iter().flat_map(|slot| rows_of_slot(slot, &tried, &deferred)).collect();
    rows.extend(rows_without_slot(&tried, &here));
    add_drafts(&mut rows, &here, &typed);
    Ok(rows)
}

/// The results of a slot that was set at launch: the first under the slot's own code, so that a
/// form finds it again.
fn rows_of_slot(slot: &Slot, tried: &[Attempt], deferred: &[Deferral]) -> Vec<Row> {
    let own = Some(&slot.code.0);
    let attempts: Vec<&Attempt> = tried.iter().filter(|a| a.slot.as_ref() == own).collect();
    let deferral = deferred
        .iter()
        .find(|d| d.slot.as_ref() == own && d.phase != DeferralPhase::BeforeLaunch)
        .cloned();
    let counts = matches!(slot.state, SlotState::Set | SlotState::Flown)
        || !attempts.is_empty()
        || deferral.is_some();
    let row = |key: String, attempt: Option<&Attempt>, deferral: Option<Deferral>| Row {
        key,
        task: slot.task.clone(),
        slot: Some(slot.clone()),
        title: String::new(),
        attempt: attempt.cloned(),
        deferral,
        draft: None,
    };
    let key = slot.code.0.as_str();
    let further = |attempt: &&Attempt| {
        let name = format!("{key} {}", attempt.code.0);
        row(name, Some(attempt), None)
    };
    let mut rows = Vec::new();
    if deferral.is_some() {
        rows.push(row(key.to_owned(), None, deferral));
        rows.extend(attempts.iter().map(further));
    } else if counts {
        rows.push(row(key.to_owned(), attempts.first().copied(), None));
        rows.extend(attempts.iter().skip(1).map(further));
    }
    rows
}

fn rows_without_slot(tried: &[Attempt], here: &[Slot]) -> Vec<Row> {
    let planned: BTreeSet<&SlotCode> = here.iter().map(|slot| &slot.code.0).collect();
    tried
        .iter()
        .filter(|attempt| attempt.slot.as_ref().is_none_or(|slot| !planned.contains(slot)))
        .map(|attempt| Row {
            key: attempt.code.0.as_str().to_owned(),
            slot: None,
            task: attempt.task.clone(),
            title: String::new(),
            attempt: Some(attempt.clone()),
            deferral: None,
            draft: None,
        })
        .collect()
}

fn add_drafts(rows: &mut Vec<Row>, here: &[Slot], typed: &[Draft]) {
    for draft in typed {
        let cells: Cells = serde_json::from_str::<BTreeMap<String, String>>(&draft.body)
            .unwrap_or_default()
            .into_iter()
            .collect();
        let wrong = wrong_in(&cells);
        if let Some(row) = rows.iter_mut().find(|row| row.key == draft.row) {
            row.draft = Some((cells, wrong));
            continue;
        }
        let slot = here.iter().find(|slot| slot.code.0.as_str() == cells.get("slot"));
        let new = Row {
            key: draft.row.clone(),
            task: slot.map_or_else(|| TaskCode::from(cells.get("task")), |s| s.task.clone()),
            slot: slot.cloned(),
            title: String::new(),
            attempt: None,
            deferral: None,
            draft: Some((cells, wrong)),
        };
        // Beside the other results of its slot.
        let beside = rows.iter().rposition(|row| new.slot.is_some() && row.slot == new.slot);
        rows.insert(beside.map_or(rows.len(), |at| at + 1), new);
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
        .filter(|row| !row.is_extra())
        .filter_map(|row| row.slot.as_ref())
        .map(|slot| SetSlot { slot: slot.code.0.clone(), task: slot.task.clone() })
        .collect();
    let answered = rows
        .iter()
        .filter(|row| row.attempt.is_some() || row.deferral.is_some())
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
#[derive(Debug, Clone)]
pub enum RowSaved {
    Recorded(String),
    /// Kept as typed; this is wrong with it.
    Draft(Vec<FieldError>),
    /// It says what it said when the form was made.
    Unchanged,
    /// Somebody else changed it in the meantime: nothing was overwritten; this is what it says now.
    MovedOn(Box<Row>),
}

/// One row as a form sends it.
#[derive(Debug, Clone)]
pub struct TypedRow {
    pub key: String,
    /// The stamp that the form was made with; without one nobody can have changed it.
    pub seen: Option<String>,
    pub cells: Cells,
    /// Saved while typing: a further try is kept as typed until the person sends the form.
    pub quiet: bool,
}

/// Saves one row as it was typed: a result once it is valid, a draft before.
pub async fn save_row(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: TypedRow,
) -> Result<RowSaved, Failure> {
    allowed(work, Action::RecordAttempt)?;
    open_for_results(work, excursion).await?;
    let TypedRow { key, seen, cells: mut typed, quiet } = typed;
    let there = rows(work.db(), excursion).await?.into_iter().find(|row| row.key == key);
    // A field that was not sent stays as it is.
    let stands = there.as_ref().map(Row::cells).unwrap_or_default();
    for name in FIELDS.iter().filter(|name| stands.has(name)) {
        if !typed.has(name) {
            typed.set(*name, stands.get(name));
        }
    }
    let is_draft = there.as_ref().is_some_and(|row| row.draft.is_some());
    if let Some(seen) = &seen {
        let sent = stamp(&typed);
        let now = there.as_ref().map(Row::stamp);
        if (sent == *seen && (quiet || !is_draft)) || (now.as_ref() == Some(&sent) && !is_draft) {
            return Ok(RowSaved::Unchanged);
        }
        if let Some(row) = there.as_ref().filter(|_| now.as_ref() != Some(seen)) {
            return Ok(RowSaved::MovedOn(Box::new(row.clone())));
        }
    }
    let slot_code = if typed.get("slot").is_empty() { key.as_str() } else { typed.get("slot") };
    let slot = Slot::find(work.db(), slot_code).await?.filter(|slot| slot.excursion == *excursion);
    let extra = slot.as_ref().is_none_or(|slot| slot.code.0.as_str() != key);
    let result = there.as_ref().filter(|row| row.attempt.is_some() || row.deferral.is_some());
    if quiet && extra && result.is_none() {
        keep_draft(work, excursion, &key, &typed).await?;
        return Ok(RowSaved::Draft(wrong_in(&typed)));
    }
    imports::mark(work.db()).await?;
    match result_of(work, excursion, slot.as_ref(), there.as_ref(), &typed).await {
        Ok(code) => {
            imports::keep(work.db()).await?;
            drafts::delete(work.db(), excursion, &key).await?;
            Ok(RowSaved::Recorded(code))
        }
        Err(Failure::Invalid(wrong)) => {
            imports::back(work.db()).await?;
            keep_draft(work, excursion, &key, &typed).await?;
            Ok(RowSaved::Draft(wrong))
        }
        Err(other) => Err(other),
    }
}

async fn keep_draft(
    work: &mut Work,
    excursion: &ExcursionCode,
    key: &str,
    typed: &Cells,
) -> Result<(), Failure> {
    let body: BTreeMap<&str, &str> = typed.iter().collect();
    let draft = Draft {
        row: key.to_owned(),
        body: serde_json::to_string(&body).unwrap_or_default(),
        typed_by: work.actor.name.clone(),
        typed_at: work.now,
    };
    Ok(drafts::put(work.db(), excursion, &draft).await?)
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

/// Takes a row back: what was typed into it, else its result. The log keeps what it said.
pub async fn take_back(
    work: &mut Work,
    excursion: &ExcursionCode,
    key: &str,
) -> Result<(), Failure> {
    allowed(work, Action::RecordAttempt)?;
    open_for_results(work, excursion).await?;
    let all = rows(work.db(), excursion).await?;
    let Some(row) = all.iter().find(|row| row.key == key) else {
        return Err(Failure::Refused("That row is gone already.".to_owned()));
    };
    if row.draft.is_some() {
        return drop_draft(work, excursion, key).await;
    }
    if let Some(attempt) = &row.attempt {
        remove::<Attempt>(work, attempt.code.0.as_str()).await?;
    }
    if let Some(deferral) = &row.deferral {
        remove::<Deferral>(work, deferral.code.0.as_str()).await?;
    }
    let Some(slot) = &row.slot else { return Ok(()) };
    let others = all.iter().filter(|other| other.key != key && other.slot.as_ref() == Some(slot));
    if others.into_iter().all(|other| other.attempt.is_none() && other.deferral.is_none()) {
        // It waits for its result again, as it did at landing.
        let slot = current::<Slot>(work, slot.code.0.as_str()).await?;
        if slot.state != SlotState::Set {
            step(work, slot, SlotState::Set, None).await?;
        }
    }
    Ok(())
}

/// Makes an attempt or a deferral of a typed row; one that was there is changed.
async fn result_of(
    work: &mut Work,
    excursion: &ExcursionCode,
    slot: Option<&Slot>,
    there: Option<&Row>,
    typed: &Cells,
) -> Result<String, Failure> {
    let tried = there.and_then(|row| row.attempt.clone());
    let deferred = there.and_then(|row| row.deferral.clone());
    let mut cells = tried.as_ref().map(Record::cells).unwrap_or_default();
    for (name, text) in typed.iter() {
        cells.set(name, text);
    }
    cells.set("excursion", excursion.as_str());
    if let Some(slot) = slot {
        cells.set("slot", slot.code.0.as_str());
        cells.set("task", slot.task.as_str());
    }
    if typed.get("outcome") == DEFERRED {
        let deferral = deferral_of(&cells)?;
        if let Some(attempt) = tried {
            remove::<Attempt>(work, attempt.code.0.as_str()).await?;
        }
        return keep(work, deferral, deferred).await;
    }
    if typed.get("outcome").is_empty() {
        return Err(Failure::field("outcome", "Say how it ended."));
    }
    let attempt = Attempt::parse(&cells).map_err(Failure::Invalid)?;
    let actual = current::<Excursion>(work, excursion.as_str()).await?.actual;
    let wrong = check_attempt(&attempt, around(&attempt, actual));
    if !wrong.is_empty() {
        return Err(Failure::Invalid(wrong));
    }
    if let Some(deferral) = deferred {
        remove::<Deferral>(work, deferral.code.0.as_str()).await?;
    }
    keep(work, attempt, tried).await
}

async fn keep<R: Ruled>(
    work: &mut Work,
    mut record: R,
    before: Option<R>,
) -> Result<String, Failure> {
    let base = if before.is_some() { Base::Current } else { Base::New };
    record.set_code(before.map_or_else(String::new, |before| before.code().to_owned()));
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
    // The excursion is named by the debrief, not by the row.
    let mut whole = cells.clone();
    whole.set("excursion", "E-0");
    match Attempt::parse(&whole) {
        Err(wrong) => wrong,
        Ok(attempt) => check_attempt(&attempt, around(&attempt, None)),
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
