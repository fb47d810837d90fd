//! Families of identical units, and the units with the places where they stood.

use crate::{kept, shelf};
use domain::cells::{Line, Prose};
use domain::codes::{FamilyCode, Own};
use domain::families::Family;

mod units;

pub use units::{
    SwappedStay, forget_swapped, keep_swapped, of_family, stays, stays_of_family, swapped, unit_at,
    units_with_stays_at, write_stays,
};

macro_rules! family_rows {
    ($rest:literal $(+ $more:literal)* $(, $value:expr)*) => {
        sqlx::query_as!(
            Family,
            r#"SELECT code AS "code: Own<FamilyCode>", name AS "name: Line", notes AS "notes: Prose"
               FROM family "# + $rest $(+ $more)*
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

shelf! { Family, family_rows, "family", "code || ' ' || COALESCE(name, '')" }
