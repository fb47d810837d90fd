//! Saves what is typed into the rows of a debrief, and takes it back.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, HashMap};

use sqlx::SqliteConnection;

use super::open_for_results;
use super::rows::{self, DEFERRED, DebriefRow, FIELDS, stamp};
use crate::Failure;
use crate::attempts::form::{settle, settle_left, settle_slot};
use crate::attempts::surroundings::read_typed;
use crate::attempts::withdraw::take_out;
use crate::excursions::allowed;
use crate::records::{Base, Ruled, remove, write};
use crate::slots::result;
use crate::work::Work;
use domain::attempts::Attempt;
use domain::bounds::{MAX_DEBRIEF_ROWS, MAX_DRAFT_BYTES};
use domain::cells::{Cells, FieldError};
use domain::codes::ExcursionCode;
use domain::endings::Deferral;
use domain::records::Record;
use domain::roles::Action;
use domain::slots::Slot;
use store::drafts::Draft;
use store::{Kept as _, drafts, imports};

/// What came of saving one row.
#[derive(Debug, Clone)]
pub enum RowSaved {
    Recorded(String),
    /// Kept as typed; this is wrong with it.
    Draft(Vec<FieldError>),
    /// It says what it said when the form was made.
    Unchanged,
    /// Somebody else changed it in the meantime: nothing was overwritten; this is what it says now.
    MovedOn(Box<DebriefRow>),
}

/// One row as a form sends it.
#[derive(Debug, Clone)]
pub struct TypedRow {
    pub key: String,
    /// The stamp that the form was made with; a row that was not there yet has none.
    pub seen: Option<String>,
    pub cells: Cells,
    /// What the field of what is left showed when the form was made. Sent back unchanged, the field
    /// says nothing new.
    pub left_shown: String,
    /// Saved while typing: a further try is kept as typed until the person sends the form.
    pub quiet: bool,
}

/// Saves rows as they were typed, each a result once it is valid and a draft before; gives what came
/// of each, in their order. The rows that are there are read once for all of them.
#[boxed]
pub async fn save_rows(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: Vec<TypedRow>,
) -> Result<Vec<RowSaved>, Failure> {
    allowed(work, Action::RecordAttempt)?;
    open_for_results(work.db(), excursion).await?;
    let mut there: HashMap<String, DebriefRow> = rows::all(work.db(), excursion)
        .await?
        .into_iter()
        .map(|row| (row.key.clone(), row))
        .collect();
    let new = typed.iter().filter(|row| !there.contains_key(&row.key)).count();
    if there.len() + new > MAX_DEBRIEF_ROWS && new > 0 {
        return Err(Failure::Refused(format!(
            "This debrief would have {} results; at most {MAX_DEBRIEF_ROWS} are kept for one \
             excursion. Nothing of this form was saved. Leave out results that are there twice.",
            there.len() + new
        )));
    }
    let mut saved = Vec::with_capacity(typed.len());
    for row in typed {
        let there = there.remove(&row.key);
        saved.push(Box::pin(save_row(work, excursion, row, there)).await?);
    }
    Ok(saved)
}

async fn save_row(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: TypedRow,
    there: Option<DebriefRow>,
) -> Result<RowSaved, Failure> {
    let TypedRow { key, seen, cells: mut typed, left_shown, quiet } = typed;
    // A field that was not sent stays as it is.
    let stands = there.as_ref().map(DebriefRow::cells).unwrap_or_default();
    for name in FIELDS.iter().filter(|name| stands.has(name)) {
        if !typed.has(name) {
            typed.set(*name, stands.get(name));
        }
    }
    settle_left(&mut typed, &stands, &left_shown);
    let is_draft = there.as_ref().is_some_and(|row| row.draft.is_some());
    let sent = stamp(&typed);
    let now = there.as_ref().map(DebriefRow::stamp);
    // A row that the board of the day filled is no result until a person sends the form.
    let waits = is_draft || there.as_ref().is_some_and(DebriefRow::is_from_board);
    let as_seen = seen.as_ref() == Some(&sent) && (quiet || !waits);
    if as_seen || (now.as_ref() == Some(&sent) && (quiet && !is_draft || !waits)) {
        return Ok(RowSaved::Unchanged);
    }
    // A form that does not say what it was made with may still fill in what is empty.
    let is_other = |row: &&DebriefRow| now != seen && (seen.is_some() || !row.is_empty());
    if let Some(row) = there.as_ref().filter(is_other) {
        return Ok(RowSaved::MovedOn(Box::new(row.clone())));
    }
    let slot_code = if typed.get("slot").is_empty() { key.as_str() } else { typed.get("slot") };
    let slot = Slot::find(work.db(), slot_code).await?.filter(|slot| slot.excursion == *excursion);
    let extra = slot.as_ref().is_none_or(|slot| slot.code.0.as_str() != key);
    let result = there.as_ref().filter(|row| row.attempt.is_some() || row.deferral.is_some());
    if quiet && extra && result.is_none() {
        keep_draft(work, excursion, &key, &typed).await?;
        let slot = slot.as_ref();
        return Ok(RowSaved::Draft(wrong_in(work.db(), excursion, (slot, None), &typed).await?));
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
    // Of what a form sends, a row has these alone.
    let own = |name: &str| FIELDS.contains(&name) || name == "slot";
    let body: BTreeMap<&str, &str> = typed.iter().filter(|(name, _)| own(name)).collect();
    let body = serde_json::to_string(&body).unwrap_or_default();
    if key.len() + body.len() > MAX_DRAFT_BYTES {
        return Err(Failure::Refused(format!(
            "A row that is not complete yet has {} bytes; at most {MAX_DRAFT_BYTES} are kept as \
             typed. Nothing of this form was \
             saved. Shorten its words.",
            key.len() + body.len()
        )));
    }
    let draft =
        Draft { row: key.to_owned(), body, typed_by: work.actor.name.clone(), typed_at: work.now };
    Ok(drafts::put(work.db(), excursion, &draft).await?)
}

/// Takes back what was typed into a row and is no result yet.
#[boxed]
pub async fn drop_draft(
    work: &mut Work,
    excursion: &ExcursionCode,
    key: &str,
) -> Result<(), Failure> {
    allowed(work, Action::RecordAttempt)?;
    Ok(drafts::delete(work.db(), excursion, key).await?)
}

/// Takes a row back: what was typed into it, else its result. The log keeps what it said.
#[boxed]
pub async fn take_back(
    work: &mut Work,
    excursion: &ExcursionCode,
    key: &str,
) -> Result<(), Failure> {
    allowed(work, Action::RecordAttempt)?;
    open_for_results(work.db(), excursion).await?;
    let all = rows::all(work.db(), excursion).await?;
    let Some(row) = all.iter().find(|row| row.key == key) else {
        return Err(Failure::Refused("That row is gone already.".to_owned()));
    };
    if row.draft.is_some() {
        return drop_draft(work, excursion, key).await;
    }
    if let Some(attempt) = &row.attempt {
        take_out(work, &attempt.code.0).await?;
    }
    if let Some(deferral) = &row.deferral {
        remove::<Deferral>(work, deferral.code.0.as_str()).await?;
    }
    let Some(slot) = &row.slot else { return Ok(()) };
    result::wait_again(work, &slot.code.0).await
}

/// Makes an attempt or a deferral of a typed row; one that was there is changed.
async fn result_of(
    work: &mut Work,
    excursion: &ExcursionCode,
    slot: Option<&Slot>,
    there: Option<&DebriefRow>,
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
            take_out(work, &attempt.code.0).await?;
        }
        return keep(work, deferral, deferred).await;
    }
    if typed.get("outcome").is_empty() {
        return Err(Failure::field("outcome", "Say how it ended."));
    }
    let mut wrong = match settle(work, &mut cells, tried.is_none()).await {
        Ok(()) => Vec::new(),
        Err(Failure::Invalid(wrong)) => wrong,
        Err(other) => return Err(other),
    };
    let (attempt, more) = read_typed(work.db(), &cells, tried.as_ref()).await?;
    wrong.extend(more);
    let Some(attempt) = attempt.filter(|_| wrong.is_empty()) else {
        return Err(Failure::Invalid(wrong));
    };
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
            "reason" => FieldError::new("defer_reason", "Choose why it was removed."),
            _ => error,
        });
        Failure::Invalid(renamed.collect())
    })
}

/// What is wrong with a draft, beside its slot and the attempt that it changes.
#[boxed]
pub(super) async fn wrong_in(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    (slot, before): (Option<&Slot>, Option<&Attempt>),
    typed: &Cells,
) -> Result<Vec<FieldError>, Failure> {
    if typed.get("outcome").is_empty() {
        return Ok(vec![FieldError::new("outcome", "Say how it ended.")]);
    }
    if typed.get("outcome") == DEFERRED {
        return match deferral_of(typed) {
            Err(Failure::Invalid(wrong)) => Ok(wrong),
            Err(other) => Err(other),
            Ok(_) => Ok(Vec::new()),
        };
    }
    // The excursion is named by the debrief, not by the row.
    let mut whole = typed.clone();
    whole.set("excursion", excursion.as_str());
    if let Some(slot) = slot {
        whole.set("slot", slot.code.0.as_str());
        whole.set("task", slot.task.as_str());
    }
    let asks_slot = settle_slot(db, &mut whole, before.is_none()).await?;
    let added = whole.get("add_side").to_owned();
    if !added.is_empty() {
        whole.set("side", added);
    }
    let (_, mut wrong) = read_typed(db, &whole, before).await?;
    if !whole.get("add_side").is_empty() {
        wrong.retain(|error| error.field != "side");
    }
    wrong.extend(asks_slot);
    Ok(wrong)
}
