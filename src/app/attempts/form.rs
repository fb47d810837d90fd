//! The form of an attempt: what its own questions mean for the record. Pages and debrief rows read
//! it alike.

use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::records::{Base, write};
use crate::app::work::Work;
use crate::domain::cells::{Cell as _, Cells, FieldError};
use crate::domain::codes::{ExcursionCode, TaskCode};
use crate::domain::sides::Side;
use crate::domain::slots::Slot;
use crate::domain::tasks::Task;
use crate::domain::words::SlotState;
use crate::store::{Kept as _, slots};

/// The answer that an attempt fills no slot.
pub const NOT_PLANNED: &str = "not planned";

/// The slot that was set for a task on an excursion.
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
