//! Families of identical units, and the units with the places where they stood.

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{FamilyCode, Own};
use crate::domain::families::Family;
use crate::store::kept;

mod units;

pub use units::{Stay, stays, unit_at};

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
