//! The last change of the slots of each excursion, with the way back from it.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::ExcursionCode;
use domain::time::Moment;

/// A change as it is kept; effect and way back are JSON of the operations that write and read them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaneChange {
    /// Counts the changes of one excursion.
    pub number: i64,
    pub at: Moment,
    pub who: String,
    pub words: String,
    pub effect: String,
    pub way_back: String,
}

pub async fn last(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Option<LaneChange>, StoreError> {
    Ok(sqlx::query_as!(
        LaneChange,
        r#"SELECT number, at AS "at: Moment", who, words, effect, way_back
           FROM lane_change WHERE excursion = ?"#,
        excursion
    )
    .fetch_optional(db)
    .await?)
}

/// Puts a change in place of the one before; gives its number. That of `change` is left aside.
pub async fn keep(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    change: &LaneChange,
) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        "INSERT INTO lane_change (excursion, number, at, who, words, effect, way_back)
         VALUES (?1, 1, ?2, ?3, ?4, ?5, ?6)
         ON CONFLICT (excursion) DO UPDATE SET number = number + 1, at = ?2, who = ?3,
             words = ?4, effect = ?5, way_back = ?6
         RETURNING number",
        excursion,
        change.at,
        change.who,
        change.words,
        change.effect,
        change.way_back
    )
    .fetch_one(db)
    .await?)
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::world;

    #[sqlx::test(migrations = "../../migrations")]
    async fn the_last_change_takes_the_place_of_the_one_before(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let excursion = ExcursionCode::from("E-2");
        assert_eq!(last(db, &excursion).await.unwrap(), None);
        let change = |words: &str| LaneChange {
            number: 0,
            at: Moment(7),
            who: "lead".to_owned(),
            words: words.to_owned(),
            effect: "{}".to_owned(),
            way_back: "[]".to_owned(),
        };

        assert_eq!(keep(db, &excursion, &change("moved")).await.unwrap(), 1);
        assert_eq!(keep(db, &excursion, &change("moved back")).await.unwrap(), 2);

        let kept = last(db, &excursion).await.unwrap();
        assert_eq!(kept, Some(LaneChange { number: 2, ..change("moved back") }));
    }
}
