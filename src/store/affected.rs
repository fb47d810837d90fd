//! Stored copies of which open units of each family an approach affects. Written only by the
//! operation that derives them.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::cells::List;
use domain::codes::{AttemptCode, FamilyCode, TaskCode, TechniqueCode};
use domain::repeat_guard::SisterEffect;
use domain::sides::Side;

/// One approach and the open units that it affects. Its table keeps the name that exports know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Affected {
    pub what: SisterEffect,
    pub family: FamilyCode,
    pub technique: TechniqueCode,
    pub side: Side,
    /// The failure that put it in question on the first unit, or the attempt that ended `done`.
    pub attempt: AttemptCode,
    /// How many open units are affected.
    pub units: i64,
    /// The tasks of the first of them.
    pub named: List<TaskCode>,
}

impl Affected {
    /// By this they are kept in order.
    pub fn key(&self) -> (&str, &str, &str, &str) {
        (self.what.word(), self.family.as_str(), self.technique.as_str(), self.side.as_str())
    }
}

macro_rules! affected_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Affected,
            r#"SELECT what AS "what: SisterEffect", family AS "family: FamilyCode",
                   technique AS "technique: TechniqueCode", side AS "side: Side",
                   attempt AS "attempt: AttemptCode", units, named AS "named: List<TaskCode>"
               FROM heard "# + $rest
            $(, $value)*
        )
    };
}

/// Every approach that affects open units of these families, in its order.
pub async fn of_families(
    db: &mut SqliteConnection,
    families: &[FamilyCode],
) -> Result<Vec<Affected>, StoreError> {
    let families = json_array(families.iter().map(FamilyCode::as_str));
    Ok(affected_rows!(
        "WHERE family IN (SELECT value FROM json_each(?))
         ORDER BY what, family, technique, side",
        families
    )
    .fetch_all(db)
    .await?)
}

/// A part of those of all families.
pub async fn page(
    db: &mut SqliteConnection,
    what: SisterEffect,
    offset: i64,
    most: i64,
) -> Result<Vec<Affected>, StoreError> {
    Ok(affected_rows!(
        "WHERE what = ? ORDER BY family, technique, side LIMIT ? OFFSET ?",
        what,
        most,
        offset
    )
    .fetch_all(db)
    .await?)
}

/// The approaches that affect most open units.
pub async fn most_units(db: &mut SqliteConnection, most: i64) -> Result<Vec<Affected>, StoreError> {
    Ok(affected_rows!("ORDER BY units DESC, family, technique, side, what LIMIT ?", most)
        .fetch_all(db)
        .await?)
}

/// How many approaches affect open units.
pub async fn count(db: &mut SqliteConnection, what: SisterEffect) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT COUNT(*) FROM heard WHERE what = ?"#, what)
        .fetch_one(db)
        .await?)
}

/// Families of which something is stored though no task is theirs any more.
pub async fn of_nobody(db: &mut SqliteConnection) -> Result<Vec<FamilyCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT DISTINCT family AS "family: FamilyCode" FROM heard
           WHERE NOT EXISTS (SELECT 1 FROM task WHERE task.family = heard.family)
           ORDER BY family"#
    )
    .fetch_all(db)
    .await?)
}

/// Replaces the rows of these families.
pub async fn replace(
    db: &mut SqliteConnection,
    families: &[FamilyCode],
    rows: &[Affected],
) -> Result<(), StoreError> {
    let families = json_array(families.iter().map(FamilyCode::as_str));
    sqlx::query!("DELETE FROM heard WHERE family IN (SELECT value FROM json_each(?))", families)
        .execute(&mut *db)
        .await?;
    for row in rows {
        sqlx::query!(
            "INSERT INTO heard (what, family, technique, side, attempt, units, named)
             VALUES (?, ?, ?, ?, ?, ?, ?)",
            row.what,
            row.family,
            row.technique,
            row.side,
            row.attempt,
            row.units,
            row.named
        )
        .execute(&mut *db)
        .await?;
    }
    Ok(())
}
