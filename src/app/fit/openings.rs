//! What would make it fit, in the record's own codes.

use super::Board;
use crate::Failure;
use async_recursion::async_recursion as boxed;
use compute::fit::{self, Ask, ExcursionAt, Part, TaskAt, change_sentence};
use domain::words::SlotVerdict;
use store::StoreError;

/// One set of changes that opens a slot.
#[derive(Debug, Clone)]
pub struct Opening {
    pub changes: Vec<Vec<Part>>,
    pub verdict: SlotVerdict,
    /// The value that is given up by it.
    pub cost: f64,
}

/// The sets of changes that would open each of these cells; none where a slot may be set as it
/// is. Trying them takes the processor and no connection.
#[boxed]
pub async fn openings(
    board: &Board,
    task: TaskAt,
    cells: Vec<(ExcursionAt, Ask)>,
) -> Result<Vec<Vec<Opening>>, Failure> {
    if cells.is_empty() {
        return Ok(Vec::new());
    }
    let (snapshot, constants) = (board.snapshot.clone(), board.constants);
    let values = board.values.clone();
    let look = move || {
        let of = |(excursion, ask): (ExcursionAt, Ask)| {
            let words = |change: &fit::Change| change_sentence(&snapshot, task, excursion, change);
            fit::openings(&snapshot, &constants, &values, task, excursion, &ask)
                .into_iter()
                .map(|opening| Opening {
                    changes: opening.changes.iter().map(words).collect(),
                    verdict: opening.verdict,
                    cost: opening.cost,
                })
                .collect()
        };
        cells.into_iter().map(of).collect()
    };
    let stopped = |cause| StoreError::Unusable(format!("trying changes stopped: {cause}"));
    Ok(tokio::task::spawn_blocking(look).await.map_err(stopped)?)
}
