//! Offers that were let go.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, Prose};
use domain::codes::{AttemptCode, DeclineCode, Own, TaskCode};
use domain::declines::Decline;
use domain::time::Day;

macro_rules! decline_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Decline,
            r#"SELECT code AS "code: Own<DeclineCode>", attempt AS "attempt: AttemptCode",
                   task AS "task: TaskCode", words AS "words: Prose", author AS "author: Line",
                   written_on AS "written_on: Day"
               FROM decline "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Decline, decline_rows,
    "INSERT INTO decline (code, attempt, task, words, author, written_on)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)
     ON CONFLICT (code) DO UPDATE SET attempt = excluded.attempt, task = excluded.task,
         words = excluded.words, author = excluded.author, written_on = excluded.written_on",
    code, attempt, task, words, author, written_on
}

/// The offers that these tasks let go.
pub async fn of_tasks(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<Decline>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(decline_rows!("WHERE task IN (SELECT value FROM json_each(?)) ORDER BY code", tasks)
        .fetch_all(db)
        .await?)
}
