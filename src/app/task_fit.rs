//! One open task held against every coming excursion, for its page.

use async_recursion::async_recursion as boxed;
use std::sync::Arc;

use crate::fit::{self, Board, Judged, Opening};
use crate::{Failure, Reader};
use compute::fit::{Ask, ExcursionAt, Room, Standing, rooms};
use domain::codes::TaskCode;
use domain::verdicts::badness;
use domain::words::SlotVerdict;
use store::StoreError;
use typed_index_collections::TiVec;

/// A task on the board of the coming excursions.
#[derive(Debug)]
pub struct TaskFit {
    pub board: Arc<Board>,
    /// The coming excursions on which it could be put, best first; none once it has ended.
    pub candidates: Vec<(ExcursionAt, Judged)>,
    /// Minutes left before the limit of each candidate at P80, with its set tasks and this one.
    pub left: Vec<Option<f64>>,
    /// What every coming excursion has left before its limit.
    pub rooms: TiVec<ExcursionAt, Room>,
    /// What would open the first of those that do not fit.
    pub openings: Vec<(ExcursionAt, Vec<Opening>)>,
}

/// Judged once for all who read the same state of the record.
#[boxed]
pub async fn seen(db: &mut Reader, task: &TaskCode, open: bool) -> Result<Arc<TaskFit>, Failure> {
    let place = db.place(format!("{task} {open}"));
    let fit = place.get_or_try_init(|| async { judged(db, task, open).await.map(Arc::new) });
    fit.await.cloned()
}

#[boxed]
async fn judged(db: &mut Reader, task: &TaskCode, open: bool) -> Result<TaskFit, Failure> {
    let board = fit::board_seen(db, std::slice::from_ref(task)).await?;
    let (own, known) = (task.clone(), Arc::clone(&board));
    let all = move || {
        let candidates = if open { candidates(&known, &own) } else { Vec::new() };
        let cells: Vec<(ExcursionAt, &Judged)> =
            candidates.iter().map(|(at, judged)| (*at, judged)).collect();
        let left = known.task_at(&own).map_or_else(Vec::new, |at| known.left_with(at, &cells));
        let rooms = rooms(&known.snapshot, &known.constants);
        (candidates, left, rooms)
    };
    let stopped = |cause| StoreError::Unusable(format!("judging the task stopped: {cause}"));
    let (candidates, left, rooms) = tokio::task::spawn_blocking(all).await.map_err(stopped)?;
    let openings = openings(&board, task, &candidates).await?;
    Ok(TaskFit { board, candidates, left, rooms, openings })
}

fn candidates(board: &Board, task: &TaskCode) -> Vec<(ExcursionAt, Judged)> {
    let cells: Vec<_> =
        board.excursions.iter().map(|excursion| (task, &excursion.code.0)).collect();
    let judged = board.excursions.keys().zip(board.judge_each(&cells, &Ask::default()));
    let mut all: Vec<(ExcursionAt, Judged)> =
        judged.filter_map(|(at, judged)| Some((at, judged?))).collect();
    all.sort_by_key(|(at, judged)| (badness(judged.verdict), *at));
    all
}

/// Of so many excursions it is said what would make the task fit.
const OPENED: usize = 4;

async fn openings(
    board: &Board,
    task: &TaskCode,
    candidates: &[(ExcursionAt, Judged)],
) -> Result<Vec<(ExcursionAt, Vec<Opening>)>, Failure> {
    let at = board.task_at(task);
    let Some(at) = at.filter(|&at| board.snapshot.tasks[at].standing == Standing::Open) else {
        return Ok(Vec::new());
    };
    let closed = |(_, judged): &&(ExcursionAt, Judged)| {
        !matches!(judged.verdict, SlotVerdict::Fits | SlotVerdict::Tight)
    };
    let cells: Vec<ExcursionAt> =
        candidates.iter().filter(closed).take(OPENED).map(|(there, _)| *there).collect();
    let asked = cells.iter().map(|&there| (there, Ask::default())).collect();
    let told = fit::openings(board, at, asked).await?;
    Ok(cells.into_iter().zip(told).collect())
}
