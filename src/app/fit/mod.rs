//! What the fit says, asked and answered in the record's own codes.

mod approaches;
mod crews;
mod judged;
mod load;
mod openings;

use async_recursion::async_recursion as boxed;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use sqlx::SqliteConnection;

pub use judged::{Judged, JudgedGate};
pub use load::{board, board_seen, board_then};
pub use openings::{Opening, openings};

use crate::{Failure, Reader};
use compute::fit::{
    self, Added, Ask, Constants, ExcursionAt, Explained, Guard, Matrix, Part, Place, Room, SlotAt,
    Snapshot, TaskAt,
};
use compute::value::Values;
use domain::codes::{ExcursionCode, TaskCode};
use domain::excursions::Excursion;
use domain::repeat_guard::Approach;
use domain::slots::Slot;
use domain::words::GateName;
use store::StoreError;
use typed_index_collections::TiVec;

/// The snapshot with the codes that lead into it.
#[derive(Debug, Clone)]
pub struct Board {
    pub snapshot: Snapshot,
    pub constants: Constants,
    /// What every task of the snapshot is worth.
    pub values: Values,
    rows: HashMap<TaskCode, TaskAt>,
    columns: HashMap<ExcursionCode, ExcursionAt>,
    /// The coming excursions as records, in the snapshot's order.
    pub excursions: TiVec<ExcursionAt, Excursion>,
    /// The live slots of each coming excursion, in the snapshot's order.
    pub slots: TiVec<ExcursionAt, TiVec<SlotAt, Slot>>,
}

impl Board {
    pub fn task_at(&self, task: &TaskCode) -> Option<TaskAt> {
        self.rows.get(task).copied()
    }

    pub fn excursion_at(&self, excursion: &ExcursionCode) -> Option<ExcursionAt> {
        self.columns.get(excursion).copied()
    }

    /// One task held against one excursion; its slot there, where it has one, as it stands.
    pub fn judge(&self, task: &TaskCode, excursion: &ExcursionCode, ask: &Ask) -> Option<Judged> {
        let (task, excursion) = (self.task_at(task)?, self.excursion_at(excursion)?);
        let explained = fit::one_cell(&self.snapshot, &self.constants, task, excursion, ask);
        Some(self.judged(task, &explained))
    }

    /// Tasks held against excursions; nothing for a code that the board does not know.
    pub fn judge_each(
        &self,
        cells: &[(&TaskCode, &ExcursionCode)],
        ask: &Ask,
    ) -> Vec<Option<Judged>> {
        let at = |(task, excursion): &(&TaskCode, &ExcursionCode)| {
            Some((self.task_at(task)?, self.excursion_at(excursion)?))
        };
        let places: Vec<Option<(TaskAt, ExcursionAt)>> = cells.iter().map(at).collect();
        let known: Vec<(TaskAt, ExcursionAt)> = places.iter().flatten().copied().collect();
        let explained = fit::some_cells(&self.snapshot, &self.constants, &known, ask);
        let mut explained = explained.into_iter();
        let judged = |place: Option<(TaskAt, ExcursionAt)>| {
            let (task, _) = place?;
            Some(self.judged(task, &explained.next()?))
        };
        places.into_iter().map(judged).collect()
    }

    /// The verdicts of the slots for which this holds, each on its own excursion.
    pub(crate) fn own_cells(&self, wanted: impl Fn(&Slot) -> bool) -> Matrix {
        self.own_cells_and(&HashSet::new(), wanted)
    }

    /// The same, and these tasks on every excursion.
    pub(crate) fn own_cells_and(
        &self,
        whole: &HashSet<TaskAt>,
        wanted: impl Fn(&Slot) -> bool,
    ) -> Matrix {
        let mut own = HashSet::new();
        for (column, slots) in self.slots.iter_enumerated() {
            for slot in slots.iter().filter(|slot| wanted(slot)) {
                own.extend(self.task_at(&slot.task).map(|task| (task, column)));
            }
        }
        fit::matrix_where(&self.snapshot, &self.constants, |task, excursion| {
            whole.contains(&task) || own.contains(&(task, excursion))
        })
    }

    /// Where these tasks stand; not those that the board does not know.
    pub(crate) fn all_at(&self, tasks: &[TaskCode]) -> HashSet<TaskAt> {
        tasks.iter().filter_map(|task| self.task_at(task)).collect()
    }

    /// Minutes left before the limit of each of these excursions at P80, with its set tasks and
    /// this task in the place that was found for it.
    pub fn left_with(&self, task: TaskAt, cells: &[(ExcursionAt, &Judged)]) -> Vec<Option<f64>> {
        let placed = cells.iter().filter_map(|(excursion, judged)| {
            let (excursion, place) = (*excursion, judged.place?);
            Some(Added { excursion, task, approach: judged.approach_at, share: None, place })
        });
        let placed: Vec<Added> = placed.collect();
        let mut left = fit::left_with(&self.snapshot, &self.constants, &placed).into_iter();
        cells.iter().map(|(_, judged)| judged.place.and_then(|_| left.next()).flatten()).collect()
    }

    /// The best place for a task beside what is set and pencilled on an excursion.
    pub fn place_beside_pencilled(
        &self,
        task: TaskAt,
        excursion: ExcursionAt,
        ask: &Ask,
    ) -> Option<Place> {
        let (snapshot, constants) = (&self.snapshot, &self.constants);
        fit::place_beside_pencilled(snapshot, constants, task, excursion, ask)
    }

    /// What the fit said, in the record's own codes.
    pub fn judged(&self, task: TaskAt, explained: &Explained) -> Judged {
        let gates = GateName::ALL
            .iter()
            .map(|&gate| {
                let verdict = explained.cell.gate(gate);
                let mut reasons: Vec<Vec<Part>> = explained
                    .reasons
                    .iter()
                    .filter(|(name, of, _)| *name == gate && *of == verdict)
                    .map(|(_, _, reason)| fit::sentence(&self.snapshot, task, reason))
                    .collect();
                if reasons.is_empty() {
                    let reason = explained.reason(gate);
                    reasons.push(fit::sentence(&self.snapshot, task, &reason));
                }
                reasons.dedup();
                JudgedGate { gate, verdict, reasons }
            })
            .collect();
        let approaches = &self.snapshot.tasks[task].approaches;
        let named =
            |a: &fit::Approach| Approach { technique: a.technique.clone(), side: a.side.clone() };
        let free = |a: &&fit::Approach| {
            !matches!(a.guard, Guard::Blocked | Guard::Drafted | Guard::Withdrawn)
        };
        Judged {
            verdict: explained.cell.verdict,
            gates,
            place: explained.cell.place,
            approach: explained.cell.approach.map(|at| named(&approaches[at])),
            approach_at: explained.cell.approach,
            left: approaches.iter().filter(free).map(named).collect(),
        }
    }
}

/// What each coming excursion has left before its limit.
pub type Rooms = HashMap<ExcursionCode, Room>;

/// Times every coming excursion, which takes the processor and no connection.
#[boxed]
pub async fn rooms(db: &mut Reader) -> Result<Arc<Rooms>, Failure> {
    rooms_with(db, &[]).await
}

/// The same from the board that these tasks stand on, where they are not known yet.
#[boxed]
pub(crate) async fn rooms_with(db: &mut Reader, tasks: &[TaskCode]) -> Result<Arc<Rooms>, Failure> {
    let place = db.place("time left");
    let rooms = place.get_or_try_init(|| async {
        let board = board_seen(db, tasks).await?;
        let all = move || Arc::new(rooms_of(&board));
        let stopped =
            |cause| StoreError::Unusable(format!("timing the excursions stopped: {cause}"));
        Ok::<_, Failure>(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
    });
    rooms.await.cloned()
}

/// The same of a board that was loaded. It takes the processor: called beside the requests.
pub(crate) fn rooms_of(board: &Board) -> Rooms {
    let rooms = fit::rooms(&board.snapshot, &board.constants);
    board.excursions.iter().map(|excursion| excursion.code.0.clone()).zip(rooms).collect()
}

/// Judges a slot as it stands, pencilled or set.
#[boxed]
pub(crate) async fn judge_slot(db: &mut SqliteConnection, slot: &Slot) -> Result<Judged, Failure> {
    let board = board(db, std::slice::from_ref(&slot.task)).await?;
    board.judge(&slot.task, &slot.excursion, &Ask::default()).ok_or_else(|| {
        Failure::Refused(format!(
            "{} is not among the coming excursions; set the task on one that is planned.",
            slot.excursion
        ))
    })
}
