//! What an empty record has been given so far.

use sqlx::SqliteConnection;

use crate::StoreError;

/// Which of the first things are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a step that is done or not")]
pub struct FirstStepsTaken {
    /// Somebody beside the first administrator.
    pub people: bool,
    pub flight: bool,
    pub excursion: bool,
    pub worksite: bool,
    pub family: bool,
    pub task: bool,
}

pub async fn given(db: &mut SqliteConnection) -> Result<FirstStepsTaken, StoreError> {
    Ok(sqlx::query_as!(
        FirstStepsTaken,
        r#"SELECT (SELECT COUNT(*) FROM (SELECT 1 FROM person LIMIT 2)) > 1 AS "people!: bool",
               EXISTS (SELECT 1 FROM flight) AS "flight!: bool",
               EXISTS (SELECT 1 FROM excursion) AS "excursion!: bool",
               EXISTS (SELECT 1 FROM worksite) AS "worksite!: bool",
               EXISTS (SELECT 1 FROM family) AS "family!: bool",
               EXISTS (SELECT 1 FROM task) AS "task!: bool""#
    )
    .fetch_one(db)
    .await?)
}
