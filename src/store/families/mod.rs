//! Families of identical units, and the units with the places where they stood.

use sqlx::SqliteConnection;

use crate::{StoreError, kept};
use domain::cells::{Line, Prose};
use domain::codes::{FamilyCode, Own};
use domain::families::Family;

mod units;

pub use units::{
    SwappedStay, forget_swapped, keep_swapped, of_family, stays, stays_of_family, swapped, unit_at,
    units_with_stays_at, write_stays,
};

macro_rules! family_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Family,
            r#"SELECT code AS "code: Own<FamilyCode>", name AS "name: Line", notes AS "notes: Prose"
               FROM family "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Family, family_rows,
    "INSERT INTO family (code, name, notes)
     VALUES (?1, ?2, ?3)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, notes = excluded.notes",
    code, name, notes
}

/// The families whose code or name holds what was typed, by code.
pub async fn matching(
    db: &mut SqliteConnection,
    typed: &str,
    offset: i64,
    most: i64,
) -> Result<Vec<Family>, StoreError> {
    Ok(family_rows!(
        "WHERE instr(lower(code || ' ' || COALESCE(name, '')), lower(?1)) > 0
               ORDER BY code LIMIT ?2 OFFSET ?3",
        typed,
        most,
        offset
    )
    .fetch_all(db)
    .await?)
}

/// How many there are of them.
pub async fn count_matching(db: &mut SqliteConnection, typed: &str) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64" FROM family
           WHERE instr(lower(code || ' ' || COALESCE(name, '')), lower(?)) > 0"#,
        typed
    )
    .fetch_one(db)
    .await?)
}
