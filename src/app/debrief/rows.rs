//! The rows of a debrief: one a result, those that are there and those that are waited for.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, BTreeSet};

use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;

use super::results::wrong_in;
use crate::Failure;
use crate::left::LeftOf;
use crate::tokens::hex;
use domain::attempts::Attempt;
use domain::cells::{Cell as _, Cells, FieldError};
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::day::added::task_of;
use domain::endings::Deferral;
use domain::history::Left;
use domain::records::Record as _;
use domain::slots::Slot;
use domain::units::{Pet, Share};
use domain::words::{DeferralPhase, Outcome, SlotState};
use store::drafts::Draft;
use store::{attempts, day, drafts, endings, findings, slots};

/// The choice beside the outcomes: it was taken off.
pub const DEFERRED: &str = "deferred";

/// One line of the debrief: one result of a slot, or of work that was not planned.
#[derive(Debug, Clone)]
pub struct DebriefRow {
    /// The slot's code, or a name of the row's own.
    pub key: String,
    pub slot: Option<Slot>,
    pub task: TaskCode,
    pub title: String,
    pub attempt: Option<Attempt>,
    pub deferral: Option<Deferral>,
    /// What was typed and is no result yet, with what is wrong with it.
    pub draft: Option<(Cells, Vec<FieldError>)>,
    /// `None` while the task of the row is not chosen.
    pub left: Option<LeftHere>,
    /// What was pressed for it on the board of the day. It fills the row, and is no result.
    pub board: Option<Cells>,
}

/// How much of the task is left around one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftHere {
    /// Before the attempt of the row, or the one that is to be entered.
    pub before: Left,
    /// After the attempt of the row.
    pub after: Option<Left>,
}

/// The fields of one row, in the order in which they are typed.
pub const FIELDS: &[&str] = &[
    "task",
    "outcome",
    "pet_start",
    "pet_end",
    "minutes",
    "left_after",
    "seats",
    "technique",
    "side",
    "cause",
    "words",
    "symptom",
    "indications",
    "tried",
    "lighting",
    "temperature",
    "time_left",
    "last_step",
    "as_left",
    "safe_until",
    "safe_until_flight",
    "forbids",
    "temporary",
    "outside_after",
    "outside_items",
    "came_out",
    "went_in",
    "function_after",
    "measured",
    "tools",
    "confirmed",
    "add_side",
    "defer_reason",
    "defer_phase",
    "to_excursion",
];

impl DebriefRow {
    pub fn is_complete(&self) -> bool {
        self.draft.is_none() && (self.attempt.is_some() || self.deferral.is_some())
    }

    /// It waits for its result, and nobody typed any of it.
    pub fn is_empty(&self) -> bool {
        self.attempt.is_none() && self.deferral.is_none() && self.draft.is_none()
    }

    /// Nothing but the board of the day fills it.
    pub fn is_from_board(&self) -> bool {
        self.is_empty() && self.board.is_some()
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
        if let Some(board) = self.board.as_ref().filter(|_| self.is_from_board()) {
            for (name, text) in board.iter() {
                cells.set(name, text);
            }
        }
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

    /// What the field of what is left shows: as typed, as recorded, else what follows from the
    /// attempt, else what was left before.
    pub fn left_shown(&self) -> String {
        let cells = self.cells();
        let said = cells.get("left_after");
        if !said.is_empty() {
            return said.to_owned();
        }
        let Some(left) = &self.left else { return String::new() };
        // At a stopping point of which nobody said how much is done there, a person says what is left.
        if self.stopped() {
            return String::new();
        }
        let left = match (&self.draft, &self.attempt) {
            (None, Some(attempt)) if attempt.outcome.may_leave_some() => left.after.as_ref(),
            _ => Some(&left.before),
        };
        left.and_then(Left::known).map_or_else(String::new, |left| left.show())
    }

    /// It ended at its stopping point by the board, and nobody has typed any of it.
    fn stopped(&self) -> bool {
        let ends = |board: &Cells| board.get("outcome") == Outcome::PartDone.word();
        self.is_from_board() && self.board.as_ref().is_some_and(ends)
    }

    /// What is left of a task that ended at its stopping point, where the slot says how much of its work
    /// is done there: 1 to 99 % after part done.
    fn add_left_at_stopping_point(&mut self) {
        if !self.stopped() {
            return;
        }
        let before = self.left.as_ref().and_then(|left| left.before.known());
        let slot = self.slot.as_ref();
        let done = slot.and_then(|slot| Some((slot.share, slot.stopping_share?)));
        let (Some(before), Some((planned, done)), Some(board)) = (before, done, &mut self.board)
        else {
            return;
        };
        let work = planned.map_or(before.0, |planned| planned.0.min(before.0));
        let left = Share((before.0 - (work * done.0 + 50) / 100).clamp(1, 99));
        board.set("left_after", left.show());
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

/// Every result that is there or is waited for, planned ones first.
#[boxed]
pub(super) async fn all(
    db: &mut SqliteConnection,
    code: &ExcursionCode,
) -> Result<Vec<DebriefRow>, Failure> {
    let mut tried = attempts::of_excursion(db, code).await?;
    tried.sort_by_key(|attempt| {
        let code = attempt.code.0.as_str().to_owned();
        (code.len(), code)
    });
    let deferred = endings::deferrals_of_excursion(db, code).await?;
    let typed = drafts::of_excursion(db, code).await?;
    let here = slots::of_excursion(db, code).await?;
    let mut rows: Vec<DebriefRow> =
        here.iter().flat_map(|slot| rows_of_slot(slot, &tried, &deferred)).collect();
    rows.extend(rows_without_slot(&tried, &here));
    add_board(db, code, &mut rows, &here).await?;
    add_drafts(db, code, &mut rows, &here, &typed).await?;
    look_at_what_is_left(db, code, &mut rows).await?;
    Ok(rows)
}

/// Says how much was left around each row.
#[boxed]
pub async fn look_at_what_is_left(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    rows: &mut [DebriefRow],
) -> Result<(), Failure> {
    let tasks: Vec<TaskCode> = rows.iter().map(|row| row.task.clone()).collect();
    let left = LeftOf::load(db, &tasks).await?;
    for row in rows {
        let own = row.attempt.as_ref().map(|attempt| &attempt.code.0);
        let pet = match (&row.draft, &row.attempt) {
            (Some((typed, _)), _) => Pet::read(typed.get("pet_start")).ok(),
            (None, Some(attempt)) => attempt.pet_start,
            (None, None) => {
                let pressed = row.board.as_ref().map_or("", |board| board.get("pet_start"));
                Pet::read(pressed).ok()
            }
        };
        row.left = (!row.task.is_blank()).then(|| LeftHere {
            before: left.before(&row.task, excursion, pet, own),
            after: own.and_then(|code| left.after(code)),
        });
        row.add_left_at_stopping_point();
    }
    Ok(())
}

/// The results of a slot that was set at launch: the first under the slot's own code, so that a
/// form finds it again.
fn rows_of_slot(slot: &Slot, tried: &[Attempt], deferred: &[Deferral]) -> Vec<DebriefRow> {
    let own = Some(&slot.code.0);
    let attempts: Vec<&Attempt> = tried.iter().filter(|a| a.slot.as_ref() == own).collect();
    let deferral = deferred
        .iter()
        .find(|d| d.slot.as_ref() == own && d.phase != DeferralPhase::BeforeLaunch)
        .cloned();
    let counts = matches!(slot.state, SlotState::Set | SlotState::Flown)
        || !attempts.is_empty()
        || deferral.is_some();
    let row = |key: String, attempt: Option<&Attempt>, deferral: Option<Deferral>| DebriefRow {
        key,
        task: slot.task.clone(),
        slot: Some(slot.clone()),
        title: String::new(),
        attempt: attempt.cloned(),
        deferral,
        draft: None,
        left: None,
        board: None,
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

fn rows_without_slot(tried: &[Attempt], here: &[Slot]) -> Vec<DebriefRow> {
    let planned: BTreeSet<&SlotCode> = here.iter().map(|slot| &slot.code.0).collect();
    tried
        .iter()
        .filter(|attempt| attempt.slot.as_ref().is_none_or(|slot| !planned.contains(slot)))
        .map(|attempt| DebriefRow {
            key: attempt.code.0.as_str().to_owned(),
            slot: None,
            task: attempt.task.clone(),
            title: String::new(),
            attempt: Some(attempt.clone()),
            deferral: None,
            draft: None,
            left: None,
            board: None,
        })
        .collect()
}

/// Fills the rows of slots that were pressed for on the board of the day; work that was added there and
/// begun gets a row of its own.
async fn add_board(
    db: &mut SqliteConnection,
    code: &ExcursionCode,
    rows: &mut Vec<DebriefRow>,
    here: &[Slot],
) -> Result<(), Failure> {
    let presses = day::presses(db, code, None).await?;
    if presses.is_empty() {
        return Ok(());
    }
    let causes = findings::time_ran_out(db).await?;
    let cause = causes.first().map(domain::codes::CauseCode::as_str);
    let mut filled = crate::day::prefilled(&presses, here, cause);
    for row in rows.iter_mut().filter(|row| !row.is_extra()) {
        let slot = row.slot.as_ref().map(|slot| slot.code.0.clone());
        row.board = slot.and_then(|slot| filled.remove(&slot));
    }
    for (name, cells) in filled {
        let Some(task) = task_of(&name) else { continue };
        // Once it has its result, that is its row.
        let has_result = |row: &DebriefRow| row.slot.is_none() && row.task == task;
        if !rows.iter().any(has_result) {
            rows.push(DebriefRow {
                key: format!("added {task}"),
                slot: None,
                task,
                title: String::new(),
                attempt: None,
                deferral: None,
                draft: None,
                left: None,
                board: Some(cells),
            });
        }
    }
    Ok(())
}

async fn add_drafts(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    rows: &mut Vec<DebriefRow>,
    here: &[Slot],
    typed: &[Draft],
) -> Result<(), Failure> {
    for draft in typed {
        let cells: Cells = serde_json::from_str::<BTreeMap<String, String>>(&draft.body)
            .unwrap_or_default()
            .into_iter()
            .collect();
        if let Some(row) = rows.iter_mut().find(|row| row.key == draft.row) {
            let beside = (row.slot.as_ref(), row.attempt.as_ref());
            let wrong = wrong_in(db, excursion, beside, &cells).await?;
            row.draft = Some((cells, wrong));
            continue;
        }
        let slot = here.iter().find(|slot| slot.code.0.as_str() == cells.get("slot"));
        let wrong = wrong_in(db, excursion, (slot, None), &cells).await?;
        let new = DebriefRow {
            key: draft.row.clone(),
            task: slot.map_or_else(|| TaskCode::from(cells.get("task")), |s| s.task.clone()),
            slot: slot.cloned(),
            title: String::new(),
            attempt: None,
            deferral: None,
            draft: Some((cells, wrong)),
            left: None,
            board: None,
        };
        // Beside the other results of its slot.
        let beside = rows.iter().rposition(|row| new.slot.is_some() && row.slot == new.slot);
        rows.insert(beside.map_or(rows.len(), |at| at + 1), new);
    }
    Ok(())
}
