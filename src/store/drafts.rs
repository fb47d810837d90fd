//! Rows of a debrief that are not valid yet, kept as they were typed.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::ExcursionCode;
use domain::time::Moment;

/// One row as typed. `row` is the row's name on the form, `body` what its fields held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    pub row: String,
    pub body: String,
    pub typed_by: String,
    pub typed_at: Moment,
}

/// All drafts of one debrief.
pub async fn of_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<Draft>, StoreError> {
    Ok(sqlx::query_as!(
        Draft,
        r#"SELECT row, body, typed_by, typed_at AS "typed_at: Moment"
           FROM debrief_draft WHERE excursion = ? ORDER BY row"#,
        excursion
    )
    .fetch_all(db)
    .await?)
}

pub async fn get(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    row: &str,
) -> Result<Option<Draft>, StoreError> {
    Ok(sqlx::query_as!(
        Draft,
        r#"SELECT row, body, typed_by, typed_at AS "typed_at: Moment"
           FROM debrief_draft WHERE excursion = ? AND row = ?"#,
        excursion,
        row
    )
    .fetch_optional(db)
    .await?)
}

/// Keeps a draft in place of the one before.
pub async fn put(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    draft: &Draft,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO debrief_draft (excursion, row, body, typed_by, typed_at)
         VALUES (?, ?, ?, ?, ?)
         ON CONFLICT (excursion, row) DO UPDATE SET body = excluded.body,
             typed_by = excluded.typed_by, typed_at = excluded.typed_at",
        excursion,
        draft.row,
        draft.body,
        draft.typed_by,
        draft.typed_at
    )
    .execute(db)
    .await?;
    Ok(())
}

pub async fn delete(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    row: &str,
) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM debrief_draft WHERE excursion = ? AND row = ?", excursion, row)
        .execute(db)
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::world;

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_draft_stays_until_it_is_deleted(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let excursion = ExcursionCode::from("E-1");
        let draft = |row: &str, body: &str| Draft {
            row: row.to_owned(),
            body: body.to_owned(),
            typed_by: "engineer".to_owned(),
            typed_at: Moment(5),
        };
        put(db, &excursion, &draft("S-1", "outcome=")).await.unwrap();
        put(db, &excursion, &draft("S-1", "outcome=do")).await.unwrap();
        put(db, &excursion, &draft("new-1", "task=T-9")).await.unwrap();

        let kept = of_excursion(db, &excursion).await.unwrap();
        assert_eq!(kept, [draft("S-1", "outcome=do"), draft("new-1", "task=T-9")]);
        assert_eq!(get(db, &excursion, "S-1").await.unwrap().as_ref(), Some(&kept[0]));

        delete(db, &excursion, "S-1").await.unwrap();
        assert_eq!(get(db, &excursion, "S-1").await.unwrap(), None);
        assert_eq!(of_excursion(db, &excursion).await.unwrap().len(), 1);
    }
}
