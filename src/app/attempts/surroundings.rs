//! The records around one attempt, and what is wrong with it when they are known.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::left::LeftOf;
use crate::records::and_unknown_codes;
use crate::{Failure, swaps};
use domain::attempts::Attempt;
use domain::cells::{Cells, FieldError};
use domain::codes::{FlightCode, SlotCode, TechniqueCode};
use domain::confirmations::Doubt;
use domain::debrief::{ResultContext, check_attempt, follow_pet, minutes_disagree};
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::history::Left;
use domain::plausible::{AttemptContext, impossible, question, unlikely};
use domain::records::Record as _;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::units::Minutes;
use domain::words::Outcome;
use store::findings::time_ran_out;
use store::{Kept, StoreError};

/// The records that an attempt names, as far as they exist; nothing without its task or excursion.
#[boxed]
pub(crate) async fn known(
    db: &mut SqliteConnection,
    attempt: &Attempt,
) -> Result<Option<AttemptContext>, StoreError> {
    let Some(task) = Task::find(db, attempt.task.as_str()).await? else { return Ok(None) };
    let Some(excursion) = Excursion::find(db, attempt.excursion.as_str()).await? else {
        return Ok(None);
    };
    let flight = named::<Flight>(db, excursion.flight.as_ref().map(FlightCode::as_str)).await?;
    let opened_after =
        named::<Flight>(db, task.opened_after.as_ref().map(FlightCode::as_str)).await?;
    let technique =
        named::<Technique>(db, attempt.technique.as_ref().map(TechniqueCode::as_str)).await?;
    let slot = named::<Slot>(db, attempt.slot.as_ref().map(SlotCode::as_str)).await?;
    let estimate = slot
        .and_then(|slot| slot.likely)
        .or_else(|| technique.as_ref().and_then(|technique| technique.likely))
        .or(task.likely);
    Ok(Some(AttemptContext { task, excursion, flight, opened_after, technique, estimate }))
}

async fn named<R: Kept>(
    db: &mut SqliteConnection,
    code: Option<&str>,
) -> Result<Option<R>, StoreError> {
    match code {
        Some(code) => R::find(db, code).await,
        None => Ok(None),
    }
}

/// What contradicts itself in an attempt. A table may not know what is left, a cause or a time; what it
/// contradicts is still wrong.
#[boxed]
pub(crate) async fn contradictions(
    db: &mut SqliteConnection,
    attempt: &Attempt,
    actual: Option<Minutes>,
    left_before: Option<Left>,
    from_table: bool,
) -> Result<Vec<FieldError>, StoreError> {
    let time_ran_out = says_time_ran_out(db, attempt).await?;
    let mut wrong = check_attempt(attempt, &ResultContext { actual, time_ran_out, left_before });
    if from_table {
        wrong.retain(|error| ["pet_start", "pet_end"].contains(&error.field.as_str()));
        wrong.extend(minutes_disagree(attempt));
    }
    Ok(wrong)
}

/// Whether the cause of an attempt is of a kind that says that time ran out.
#[boxed]
pub(crate) async fn says_time_ran_out(
    db: &mut SqliteConnection,
    attempt: &Attempt,
) -> Result<bool, StoreError> {
    let Some(cause) = &attempt.cause else { return Ok(false) };
    Ok(time_ran_out(db).await?.contains(cause))
}

/// All that is wrong with an attempt. What was wrong in the same words before the edit is left to
/// stand, so that an old record can be completed.
#[boxed]
pub(crate) async fn wrong(
    db: &mut SqliteConnection,
    attempt: &Attempt,
    known: &AttemptContext,
    before: Option<&Attempt>,
    from_table: bool,
) -> Result<Vec<FieldError>, Failure> {
    let left_before = if !from_table && attempt.outcome.may_leave_some() {
        Some(left_before(db, attempt, before).await?)
    } else {
        None
    };
    let actual = known.excursion.actual;
    let mut wrong = contradictions(db, attempt, actual, left_before, from_table).await?;
    if !says_anew(before, attempt) {
        // What the record said before asks for its answer on the first page.
        wrong.retain(|error| error.field != "left_after");
    }
    wrong.extend(impossible(attempt, known));
    if !from_table {
        wrong.extend(swaps::lacks(attempt, &known.task));
    }
    if let Some(before) = before.filter(|_| !wrong.is_empty())
        && let Some(around) = self::known(db, before).await?
    {
        let stood = impossible(before, &around);
        wrong.retain(|error| !stood.contains(error));
    }
    Ok(wrong)
}

/// What was left of the task before an attempt, which does not count itself where it is recorded.
#[boxed]
pub(crate) async fn left_before(
    db: &mut SqliteConnection,
    attempt: &Attempt,
    recorded: Option<&Attempt>,
) -> Result<Left, Failure> {
    let left = LeftOf::load(db, std::slice::from_ref(&attempt.task)).await?;
    let own = recorded.map(|recorded| &recorded.code.0);
    Ok(left.before(&attempt.task, &attempt.excursion, attempt.pet_start, own))
}

/// Whether an edit says something new about how the work ended.
fn says_anew(before: Option<&Attempt>, attempt: &Attempt) -> bool {
    before.is_none_or(|before| {
        (before.outcome, before.said()) != (attempt.outcome, attempt.said())
            || before.task != attempt.task
    })
}

/// The question about unlikely minutes, as something that is wrong until it is answered.
pub(crate) fn ask(asked: Doubt, known: &AttemptContext, from_table: bool) -> FieldError {
    let what_to_do = match (asked, from_table) {
        (_, true) => {
            "Correct the row, write “yes” in the column “confirmed”, or import with unlikely \
             minutes confirmed (--confirm-unlikely)."
        }
        (Doubt::NoMinutes, false) => "Enter them, or confirm that they are unknown.",
        (Doubt::Minutes(_) | Doubt::Anything, false) => "Correct them, or confirm them.",
    };
    FieldError::new("confirmed", format!("{} {what_to_do}", question(asked, known)))
}

/// The same for something that is being typed: all that is wrong, and the question.
#[boxed]
pub(crate) async fn wrong_or_asked(
    db: &mut SqliteConnection,
    attempt: &Attempt,
    before: Option<&Attempt>,
) -> Result<Vec<FieldError>, Failure> {
    let mut attempt = attempt.clone();
    if let Some(before) = before {
        follow_pet(before, &mut attempt);
    }
    let attempt = &attempt;
    let Some(known) = known(db, attempt).await? else {
        return Ok(contradictions(db, attempt, None, None, false).await?);
    };
    let mut wrong = wrong(db, attempt, &known, before, false).await?;
    if let Some(asked) = unlikely(attempt, known.estimate)
        && !before.is_some_and(|before| unlikely(before, known.estimate) == Some(asked))
        && !attempt.confirmed.as_ref().is_some_and(|sent| sent.answers(asked))
        && !wrong.iter().any(|error| ["minutes", "pet_start", "pet_end"].contains(&&*error.field))
    {
        wrong.push(ask(asked, &known, false));
    }
    if says_anew(before, attempt) {
        wrong.extend(not_reached_unplanned(attempt));
    }
    Ok(wrong)
}

/// A code that no record has, in the place of one that is missing.
const NOBODY: &str = "NONE";

/// Reads what was typed and says everything that is wrong with it at once: what cannot be read is set
/// aside while the rest is held against the record.
#[boxed]
pub(crate) async fn read_typed(
    db: &mut SqliteConnection,
    cells: &Cells,
    before: Option<&Attempt>,
) -> Result<(Option<Attempt>, Vec<FieldError>), Failure> {
    let mut wrong = match Attempt::parse(cells) {
        Ok(attempt) => {
            let wrong = wrong_or_asked(db, &attempt, before).await?;
            let wrong = and_unknown_codes(db, Attempt::COLUMNS, cells, wrong).await?;
            return Ok((Some(attempt), wrong));
        }
        Err(wrong) => and_unknown_codes(db, Attempt::COLUMNS, cells, wrong).await?,
    };
    let mut readable = cells.clone();
    for error in &wrong {
        let is_needed = ["task", "excursion"].contains(&&*error.field);
        readable.set(error.field.as_str(), if is_needed { NOBODY } else { "" });
    }
    if let Ok(attempt) = Attempt::parse(&readable) {
        let unread: Vec<String> = wrong.iter().map(|error| error.field.clone()).collect();
        let is_unread = |name: &str| unread.iter().any(|field| field == name);
        let asks_minutes = !["minutes", "pet_start", "pet_end"].into_iter().any(is_unread);
        let mut more = wrong_or_asked(db, &attempt, before).await?;
        more.retain(|error| {
            !is_unread(&error.field) && (asks_minutes || error.field != "confirmed")
        });
        wrong.extend(more);
    }
    Ok((None, wrong))
}

/// Work that was never begun was planned: by its slot, or by the words of whoever records it.
fn not_reached_unplanned(attempt: &Attempt) -> Option<FieldError> {
    let asks = attempt.outcome == Outcome::NotReached
        && attempt.slot.is_none()
        && attempt.words.is_empty();
    asks.then(|| {
        FieldError::new(
            "words",
            format!(
                "No slot says that {} was planned on {}. Choose its slot, or say in words why it \
                 was not reached.",
                attempt.task, attempt.excursion
            ),
        )
    })
}
