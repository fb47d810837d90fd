//! The excursions on which a task can have been tried, each with the slot that it can have filled.

use app::read::Connection;

use crate::addresses;
use crate::forms::Choice;
use crate::linked::{Piece, linked};
use app::Failure;
use app::attempts::form::{NOT_PLANNED, place};
use app::read::{Found as _, attempts, slots};
use domain::cells::Cells;
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::{ExcursionState, SlotState};

/// More excursions than any team flies.
const MAX_READ: i64 = 5_000;
/// The newest of them are offered.
const OFFERED: usize = 200;
/// So many of those flown before the task was opened are named.
const NAMED: usize = 3;

pub(super) struct Places {
    /// Why none is offered, and what to do.
    pub none: Option<Vec<Piece>>,
    pub choices: Vec<Choice>,
    /// The excursions on which the task had a slot.
    pub with_slots: Vec<(ExcursionCode, SlotCode)>,
}

/// What a new attempt is taken to be: the one result that the task waits for on a flown excursion, by
/// the approach that its slots share. What the address says stands.
pub(super) async fn planned(db: &mut Connection, mut cells: Cells) -> Result<Cells, Failure> {
    let task = TaskCode::from(cells.get("task").trim());
    let of_task = slots::of_task(db, &task).await?;
    let filled: Vec<SlotCode> =
        attempts::of_task(db, &task).await?.into_iter().filter_map(|tried| tried.slot).collect();
    let mut waits = Vec::new();
    for slot in of_task.iter().filter(|slot| counts(slot.state) && !filled.contains(&slot.code.0)) {
        let excursion = Excursion::find(db, slot.excursion.as_str()).await?;
        if excursion.is_some_and(|found| found.state == Some(ExcursionState::Flown)) {
            waits.push(slot);
        }
    }
    let asked = cells.get("excursion").trim().to_owned();
    waits.retain(|slot| asked.is_empty() || asked == slot.excursion.as_str());
    if let [slot] = waits.as_slice() {
        cells.set("excursion", place(slot.excursion.as_str(), Some(slot.code.0.as_str())));
        if cells.get("seats").is_empty() {
            cells.set("seats", slot.cells().get("seats"));
        }
    }
    let live = |slot: &&Slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled);
    let mut by: Vec<(&str, &str)> = Vec::new();
    let all: Vec<Cells> = match waits.as_slice() {
        [slot] => vec![slot.cells()],
        _ => of_task.iter().filter(live).map(Slot::cells).collect(),
    };
    by.extend(all.iter().map(|slot| (slot.get("technique"), slot.get("side"))));
    by.sort_unstable();
    by.dedup();
    if let [(technique, side)] = by.as_slice()
        && cells.get("technique").is_empty()
        && cells.get("side").is_empty()
    {
        cells.set("technique", *technique);
        cells.set("side", *side);
    }
    Ok(cells)
}

const fn counts(state: SlotState) -> bool {
    matches!(state, SlotState::Set | SlotState::Flown)
}

/// Those flown since the task was opened, newest first, and `chosen`, whatever it is.
pub(super) async fn places(
    db: &mut Connection,
    task: Option<&Task>,
    chosen: &str,
) -> Result<Places, Failure> {
    let opened = task.and_then(|task| task.opened);
    let found_on = task.and_then(|task| task.from_excursion.as_ref());
    let mut flown = Excursion::after(db, "", MAX_READ).await?;
    flown.retain(|excursion| excursion.state == Some(ExcursionState::Flown));
    flown.sort_by(|one, other| other.day.cmp(&one.day).then(other.code.0.cmp(&one.code.0)));
    let may_be = |excursion: &Excursion| {
        excursion.day.is_none()
            || excursion.day >= opened
            || found_on == Some(&excursion.code.0)
            || excursion.code.0.as_str() == chosen
    };
    let none = match task {
        Some(task) if !flown.iter().any(may_be) => Some(none_offered(task, &flown)),
        _ => None,
    };
    flown.retain(may_be);
    flown.truncate(OFFERED);
    let of_task = match task {
        Some(task) => slots::of_task(db, &task.code.0).await?,
        None => Vec::new(),
    };
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
    Ok(Places { none, choices, with_slots })
}

/// Why no excursion can be chosen, and what to do about it.
fn none_offered(task: &Task, flown: &[Excursion]) -> Vec<Piece> {
    let code = &task.code.0;
    let earlier: Vec<String> = flown
        .iter()
        .take(NAMED)
        .filter_map(|one| Some(format!("{} on {}", one.code.0, one.day?)))
        .collect();
    let (Some(opened), [_, ..]) = (task.opened, earlier.as_slice()) else {
        let words = format!("No excursion is flown yet. Add the one on which {code} was tried: ");
        let mut words = linked(&words);
        words.push(Piece::Field("/excursions/new".to_owned(), "add excursion".to_owned()));
        words.push(Piece::Words(".".to_owned()));
        return words;
    };
    let more = match flown.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let mut words = linked(&format!(
        "No excursion is flown since {code} was opened on {opened}. Flown before: {}{more}. ",
        earlier.join(", ")
    ));
    let at = addresses::field(Kind::Task, code.as_str(), "opened");
    words.push(Piece::Field(at, format!("Change Opened on of {code}")));
    words.push(Piece::Words(" if it was open then.".to_owned()));
    words
}
