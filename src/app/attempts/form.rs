//! The form of an attempt: what its own questions mean for the record. Pages and debrief rows read
//! it alike.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use super::record;
use super::surroundings::read_typed;
use crate::Failure;
use crate::records::{Base, write};
use crate::work::Work;
use domain::attempts::Attempt;
use domain::cells::{Cell as _, Cells, FieldError};
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::sides::Side;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::{Outcome, SlotState};
use store::{Kept as _, slots};

/// The answer that an attempt fills no slot.
pub const NOT_PLANNED: &str = "not planned";

/// The answer that the approach is none of those offered: its technique and side are typed beside it.
pub const OTHER_APPROACH: &str = "other";

/// Takes the answer to the approach apart into technique and side, `K-7,starboard`.
pub fn settle_approach(cells: &mut Cells) {
    let answer = cells.get("approach").to_owned();
    if let Some((technique, side)) = answer.split_once(',') {
        cells.set("technique", technique);
        cells.set("side", side);
    }
}

/// How the form names an excursion together with the slot that the attempt fills there, or with the
/// answer that it fills none.
pub fn place(excursion: &str, slot: Option<&str>) -> String {
    match slot {
        Some(slot) => format!("{excursion} as {slot}"),
        None => format!("{excursion} {NOT_PLANNED}"),
    }
}

/// The place that cells name: the slot that they hold, or none where the task had one there.
pub fn place_of(cells: &Cells, with_slots: &[(ExcursionCode, SlotCode)]) -> String {
    let excursion = cells.get("excursion").trim();
    if excursion.contains(' ') || excursion.is_empty() {
        return excursion.to_owned();
    }
    match cells.get("slot").trim() {
        NOT_PLANNED => place(excursion, None),
        "" if cells.get("code").is_empty() => excursion.to_owned(),
        "" if with_slots.iter().all(|(there, _)| there.as_str() != excursion) => {
            excursion.to_owned()
        }
        "" => place(excursion, None),
        slot => place(excursion, Some(slot)),
    }
}

/// Takes a place apart again.
fn split_place(cells: &mut Cells) {
    let place = cells.get("excursion").trim().to_owned();
    let Some((excursion, rest)) = place.split_once(' ') else { return };
    cells.set("excursion", excursion);
    cells.set("slot", rest.strip_prefix("as ").unwrap_or(rest).trim());
}

/// What the field of what is left says: sent back as the form showed it, nothing new; beside an
/// outcome that leaves nothing, nothing at all.
pub fn settle_left(typed: &mut Cells, stands: &Cells, shown: &str) {
    if !shown.is_empty() && typed.get("left_after").trim() == shown {
        typed.set("left_after", stands.get("left_after"));
    }
    let leaves_some = Outcome::read(typed.get("outcome")).is_some_and(Outcome::may_leave_some);
    if typed.has("left_after") && !leaves_some {
        typed.set("left_after", "");
    }
}

/// Saves what was typed into the form: a new attempt, or one that is corrected.
#[boxed]
pub async fn save(work: &mut Work, mut cells: Cells, base: Base) -> Result<Attempt, Failure> {
    split_place(&mut cells);
    let settled = settle(work, &mut cells, base == Base::New).await;
    let mut wrong = match settled {
        Ok(()) => Vec::new(),
        Err(Failure::Invalid(wrong)) => wrong,
        Err(other) => return Err(other),
    };
    // Everything that is wrong, and what is asked, is said at once.
    let before = Attempt::find(work.db(), cells.get("code")).await?;
    let (attempt, more) = read_typed(work.db(), &cells, before.as_ref()).await?;
    wrong.extend(more);
    let Some(attempt) = attempt.filter(|_| wrong.is_empty()) else {
        return Err(Failure::Invalid(wrong));
    };
    match base {
        Base::New => record(work, attempt).await,
        Base::Version(_) | Base::Current => {
            Ok(crate::records::save(work, attempt, base).await?.record)
        }
    }
}

/// The slot that was set for a task on an excursion.
#[boxed]
pub(crate) async fn slot_there(
    db: &mut SqliteConnection,
    task: &TaskCode,
    excursion: &ExcursionCode,
) -> Result<Option<Slot>, Failure> {
    let of_task = slots::of_task(db, task).await?;
    Ok(of_task.into_iter().find(|slot| {
        slot.excursion == *excursion && matches!(slot.state, SlotState::Set | SlotState::Flown)
    }))
}

/// Turns the answers of the form into cells of the record: which slot the attempt fills, and a
/// side that the task did not have. `is_new` asks about a slot that nobody spoke of.
#[boxed]
pub(crate) async fn settle(
    work: &mut Work,
    cells: &mut Cells,
    is_new: bool,
) -> Result<(), Failure> {
    let mut wrong: Vec<FieldError> = Vec::new();
    wrong.extend(settle_slot(work.db(), cells, is_new).await?);
    let added = cells.get("add_side").trim().to_owned();
    if !added.is_empty() {
        match Side::read(&added) {
            Ok(side) => add_side(work, cells, side).await?,
            Err(message) => wrong.push(FieldError::new("add_side", message)),
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
}

/// What the answer about the slot means. A new attempt at a task that was set on that excursion
/// says whether it fills that slot: nothing is attached, and nothing left open, in silence.
#[boxed]
pub(crate) async fn settle_slot(
    db: &mut SqliteConnection,
    cells: &mut Cells,
    is_new: bool,
) -> Result<Option<FieldError>, Failure> {
    match cells.get("slot").trim() {
        NOT_PLANNED => cells.set("slot", ""),
        "" if is_new => {
            let task = TaskCode::from(cells.get("task").trim());
            let excursion = ExcursionCode::from(cells.get("excursion").trim());
            if let Some(slot) = slot_there(db, &task, &excursion).await? {
                let code = &slot.code.0;
                return Ok(Some(FieldError::new(
                    "slot",
                    format!(
                        "{code} was set for {task} on {excursion}. Choose “planned as {code}” or \
                         “{NOT_PLANNED}”."
                    ),
                )));
            }
        }
        _ => {}
    }
    Ok(None)
}

/// The side is that of the attempt, and one more of the task where its sides are known.
async fn add_side(work: &mut Work, cells: &mut Cells, side: Side) -> Result<(), Failure> {
    cells.set("side", side.as_str());
    let Some(mut task) = Task::find(work.db(), cells.get("task").trim()).await? else {
        return Ok(());
    };
    if task.sides.is_empty() || task.sides.contains(&side) {
        return Ok(());
    }
    task.sides.0.push(side);
    let why = work.why().map(str::to_owned);
    work.because("an attempt was made from this side");
    write(work, task, Base::Current).await?;
    work.because(why.unwrap_or_default());
    Ok(())
}
