//! Flights, with the day by which they are ordered.

use sqlx::SqliteConnection;

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{FlightCode, Own};
use crate::domain::flights::Flight;
use crate::domain::time::Day;
use crate::domain::words::FlightState;
use crate::store::{Kept, StoreError};

impl Kept for Flight {
    async fn find(db: &mut SqliteConnection, code: &str) -> Result<Option<Self>, StoreError> {
        Ok(sqlx::query_as!(
            Flight,
            r#"SELECT code AS "code: Own<FlightCode>", name AS "name: Line", launch AS "launch: Day",
                   landing AS "landing: Day", sequence, state AS "state: FlightState",
                   notes AS "notes: Prose"
               FROM flight WHERE code = ?"#,
            code
        )
        .fetch_optional(db)
        .await?)
    }

    async fn save(&self, db: &mut SqliteConnection) -> Result<(), StoreError> {
        sqlx::query!(
            "INSERT INTO flight (code, name, launch, landing, sequence, state, notes)
             VALUES (?, ?, ?, ?, ?, ?, ?)
             ON CONFLICT (code) DO UPDATE SET name = excluded.name, launch = excluded.launch,
                 landing = excluded.landing, sequence = excluded.sequence, state = excluded.state,
                 notes = excluded.notes",
            self.code,
            self.name,
            self.launch,
            self.landing,
            self.sequence,
            self.state,
            self.notes
        )
        .execute(db)
        .await?;
        Ok(())
    }

    async fn after(
        db: &mut SqliteConnection,
        after: &str,
        most: i64,
    ) -> Result<Vec<Self>, StoreError> {
        Ok(sqlx::query_as!(
            Flight,
            r#"SELECT code AS "code: Own<FlightCode>", name AS "name: Line", launch AS "launch: Day",
                   landing AS "landing: Day", sequence, state AS "state: FlightState",
                   notes AS "notes: Prose"
               FROM flight WHERE code > ? ORDER BY code LIMIT ?"#,
            after,
            most
        )
        .fetch_all(db)
        .await?)
    }
}
