//! The excursions on which a task can have been tried, each with the slot that it can have filled.

use sqlx::SqliteConnection;

use crate::forms::Choice;
use app::Failure;
use app::attempts::form::{NOT_PLANNED, place};
use domain::codes::{ExcursionCode, SlotCode};
use domain::excursions::Excursion;
use domain::tasks::Task;
use domain::words::{ExcursionState, SlotState};
use store::{Kept as _, slots};

/// More excursions than any team flies.
const MAX_READ: i64 = 5_000;
/// The newest of them are offered.
const OFFERED: usize = 200;

pub(super) struct Places {
    pub choices: Vec<Choice>,
    /// The excursions on which the task had a slot.
    pub with_slots: Vec<(ExcursionCode, SlotCode)>,
}

/// Those flown since the task was opened, newest first, and `chosen`, whatever it is.
pub(super) async fn places(
    db: &mut SqliteConnection,
    task: Option<&Task>,
    chosen: &str,
) -> Result<Places, Failure> {
    let opened = task.and_then(|task| task.opened);
    let found_on = task.and_then(|task| task.from_excursion.as_ref());
    let mut flown = Excursion::after(db, "", MAX_READ).await?;
    flown.retain(|excursion| {
        excursion.state == Some(ExcursionState::Flown)
            && (excursion.day.is_none()
                || excursion.day >= opened
                || found_on == Some(&excursion.code.0)
                || excursion.code.0.as_str() == chosen)
    });
    flown.sort_by(|one, other| other.day.cmp(&one.day).then(other.code.0.cmp(&one.code.0)));
    flown.truncate(OFFERED);
    let of_task = match task {
        Some(task) => slots::of_task(db, &task.code.0).await?,
        None => Vec::new(),
    };
    let counts = |state| matches!(state, SlotState::Set | SlotState::Flown);
    let with_slots: Vec<(ExcursionCode, SlotCode)> = of_task
        .iter()
        .filter(|slot| counts(slot.state))
        .map(|slot| (slot.excursion.clone(), slot.code.0.clone()))
        .collect();
    let mut choices = vec![Choice::new("", "choose")];
    for excursion in &flown {
        let code = &excursion.code.0;
        let day = excursion.day.map_or_else(|| "date unknown".to_owned(), |day| day.to_string());
        let mut slots = with_slots.iter().filter(|(there, _)| there == code).peekable();
        if slots.peek().is_none() {
            choices.push(Choice::new(code.as_str(), format!("{code}, {day}")));
            continue;
        }
        for (_, slot) in slots {
            let words = format!("{code}, {day} · planned as {slot}");
            choices.push(Choice::new(place(code.as_str(), Some(slot.as_str())), words));
        }
        let words = format!("{code}, {day} · {NOT_PLANNED}");
        choices.push(Choice::new(place(code.as_str(), None), words));
    }
    Ok(Places { choices, with_slots })
}
