//! Tools: how many there are and where, and which tasks are derived again when one comes, breaks or is lost.

use crate::Failure;
use crate::records::Ruled;
use crate::work::Work;
use domain::excursions::ExcursionTool;
use domain::tools::Tool;
use store::reach;

mod counts;
mod hands;

pub use counts::{ToolCount, as_they_stand, ledgers};
pub use hands::{Demand, ToolDemand, ToolInHand, demands, wanted};

impl Ruled for Tool {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        tool: &mut Self,
    ) -> Result<(), Failure> {
        if tool.on_board.is_some_and(|count| count < 0) {
            return Err(Failure::field("on_board", "A count is 0 or more."));
        }
        if tool.arriving.is_some_and(|count| count < 1) {
            return Err(Failure::field("arriving", "A flight brings at least one."));
        }
        if tool.going_down.is_some_and(|count| count < 1) {
            return Err(Failure::field("going_down", "A flight takes down at least one."));
        }
        if tool.counted_on.is_some_and(|day| day > work.today) {
            return Err(Failure::field("counted_on", "That day is still to come."));
        }
        // A count that is typed anew holds from today on, unless its day is typed with it.
        let unchanged_day = before.is_none_or(|before| before.counted_on == tool.counted_on);
        let new_count = before.is_none_or(|before| before.on_board != tool.on_board);
        if tool.on_board.is_some()
            && (tool.counted_on.is_none() || (before.is_some() && new_count && unchanged_day))
        {
            tool.counted_on = Some(work.today);
        }
        Ok(())
    }

    async fn reach(work: &mut Work, tool: &Self) -> Result<(), Failure> {
        touch_users(work, tool.code.0.as_str()).await
    }
}

impl Ruled for ExcursionTool {
    async fn prepare(
        _work: &mut Work,
        _before: Option<&Self>,
        row: &mut Self,
    ) -> Result<(), Failure> {
        let counts = [
            ("taken_out", Some(row.taken_out)),
            ("brought_in", row.brought_in),
            ("broken", row.broken),
            ("left_outside", row.left_outside),
            ("lost", row.lost),
        ];
        for (field, count) in counts {
            if count.is_some_and(|count| count < 0) {
                return Err(Failure::field(field, "A count is 0 or more."));
            }
        }
        let came_in = row.brought_in.unwrap_or(0);
        if row.broken.is_some_and(|broken| broken > came_in) {
            let words = format!("{came_in} came in; no more than that can have come in broken.");
            return Err(Failure::field("broken", words));
        }
        Ok(())
    }

    async fn reach(work: &mut Work, row: &Self) -> Result<(), Failure> {
        touch_users(work, row.tool.as_str()).await
    }
}

/// What waits for a tool is derived again when its count changes.
async fn touch_users(work: &mut Work, tool: &str) -> Result<(), Failure> {
    for task in reach::tasks_that_use(work.db(), &tool.into()).await? {
        work.touch(&task);
    }
    Ok(())
}
