//! Which schema a database has.

use sqlx::SqliteConnection;

use crate::store::StoreError;

/// The number of the last migration that was run.
pub async fn version(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COALESCE(MAX(version), 0) AS "version!: i64" FROM _sqlx_migrations WHERE success = 1"#
    )
    .fetch_one(db)
    .await?)
}
