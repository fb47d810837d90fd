//! What the page of a planned excursion shows of the fit, calculated once for all who read it.

use std::sync::Arc;

use super::drawn::TimedPlan;
use app::day::{AtLaunch, at_launch};
use app::fit::{self, Board, Judged};
use app::read::StoreError;
use app::{Failure, Reader};
use compute::fit::{Ask, ExcursionAt, Matrix, matrix_where};
use domain::codes::{ExcursionCode, TaskCode};

pub(super) struct PlanCalculation {
    pub board: Arc<Board>,
    /// Where the excursion stands on the board.
    pub column: Option<ExcursionAt>,
    pub plan: Option<TimedPlan>,
    /// The set tasks before the day, as its board has them.
    pub launch: Option<AtLaunch>,
    /// Every task of the board on this excursion.
    pub matrix: Matrix,
    /// Each slot of it.
    pub judged: Vec<Option<Judged>>,
}

impl PlanCalculation {
    /// With these tasks on the board, beside those of its slots.
    pub async fn seen(
        db: &mut Reader,
        wanted: &[TaskCode],
        code: &ExcursionCode,
    ) -> Result<Arc<Self>, Failure> {
        let tasks: Vec<&str> = wanted.iter().map(TaskCode::as_str).collect();
        let place = db.place(format!("{code} with {}", tasks.join(" ")));
        let calculation = place.get_or_try_init(|| async {
            let board = fit::board_seen(db, wanted).await?;
            let column = board.excursion_at(code);
            Self::out(board, column).await.map(Arc::new)
        });
        calculation.await.cloned()
    }

    /// Done beside the other requests.
    async fn out(board: Arc<Board>, column: Option<ExcursionAt>) -> Result<Self, Failure> {
        let stopped = |cause| StoreError::Unusable(format!("timing the lanes stopped: {cause}"));
        let all = move || {
            let here = column.into_iter().flat_map(|at| &board.slots[at]);
            let cells: Vec<_> = here.map(|slot| (&slot.task, &slot.excursion)).collect();
            let judged = board.judge_each(&cells, &Ask::default());
            let plan = column.map(|at| TimedPlan::of(&board, at));
            let launch = column.and_then(|at| at_launch(&board, at));
            let (snapshot, constants) = (&board.snapshot, &board.constants);
            let matrix =
                matrix_where(snapshot, constants, |_, excursion| Some(excursion) == column);
            Self { board, column, plan, launch, matrix, judged }
        };
        Ok(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
    }
}
