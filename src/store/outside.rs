//! What was left outside on purpose.

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{AttemptCode, OutsideCode, Own, TaskCode, WorksiteCode};
use crate::domain::outside::OutsideItem;
use crate::domain::time::Day;
use crate::domain::words::OutsideState;
use crate::store::kept;

macro_rules! outside_item_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            OutsideItem,
            r#"SELECT code AS "code: Own<OutsideCode>", what AS "what: Line",
                   worksite AS "worksite: WorksiteCode", purpose AS "purpose: Line",
                   left_by AS "left_by: AttemptCode", since AS "since: Day", limit_days,
                   brought_back_by AS "brought_back_by: TaskCode",
                   state AS "state: OutsideState", ended_on AS "ended_on: Day",
                   notes AS "notes: Prose"
               FROM outside_item "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    OutsideItem, outside_item_rows,
    "INSERT INTO outside_item (code, what, worksite, purpose, left_by, since, limit_days,
         brought_back_by, state, ended_on, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)
     ON CONFLICT (code) DO UPDATE SET what = excluded.what, worksite = excluded.worksite,
         purpose = excluded.purpose, left_by = excluded.left_by, since = excluded.since,
         limit_days = excluded.limit_days, brought_back_by = excluded.brought_back_by,
         state = excluded.state, ended_on = excluded.ended_on, notes = excluded.notes",
    code, what, worksite, purpose, left_by, since, limit_days, brought_back_by, state, ended_on,
    notes
}
