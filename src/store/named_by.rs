//! Which records name another one by its code.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::kinds::Kind;

/// A record that names another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Naming {
    pub kind: Kind,
    pub code: String,
}

/// So many are enough to say why a code stays.
const MAX_NAMED: i64 = 20;

macro_rules! naming {
    ($db:ident, $code:ident, $query:literal) => {
        sqlx::query_as!(
            Naming,
            r#"SELECT kind AS "kind!: Kind", code AS "code!: String" FROM ("#
                + $query
                + ") ORDER BY kind, code LIMIT ?2",
            $code,
            MAX_NAMED
        )
        .fetch_all(&mut *$db)
        .await?
    };
}

/// The records that name this one. Kinds whose codes are never changed have none here.
pub async fn all(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
) -> Result<Vec<Naming>, StoreError> {
    Ok(match kind {
        Kind::Flight => naming!(
            db,
            code,
            "SELECT 'excursion' AS kind, code FROM excursion WHERE flight = ?1
             UNION SELECT 'tool', code FROM tool WHERE arrives_with = ?1
             UNION SELECT 'tool', code FROM tool WHERE returns_with = ?1
             UNION SELECT 'task', code FROM task
                 WHERE ?1 IN (needed_by_flight, back_inside_by, opened_after)
             UNION SELECT 'outside item', code FROM outside_item WHERE returns_with = ?1
             UNION SELECT 'attempt', code FROM attempt WHERE safe_until_flight = ?1
             UNION SELECT 'constraint', code FROM vehicle_constraint WHERE safe_until_flight = ?1
             UNION SELECT 'parking', code FROM parking WHERE until_flight = ?1
             UNION SELECT 'remedy', code FROM remedy WHERE needed_by = ?1"
        ),
        Kind::Excursion => naming!(
            db,
            code,
            "SELECT 'task' AS kind, code FROM task WHERE from_excursion = ?1
             UNION SELECT 'slot', code FROM slot WHERE excursion = ?1
             UNION SELECT 'attempt', code FROM attempt WHERE excursion = ?1
             UNION SELECT 'deferral', code FROM deferral WHERE ?1 IN (excursion, to_excursion)
             UNION SELECT 'excursion tool', code FROM excursion_tool WHERE excursion = ?1
             UNION SELECT 'arrangement', code FROM arrangement WHERE excursion = ?1
             UNION SELECT 'attempt', 'typed in its debrief' FROM debrief_draft
                 WHERE excursion = ?1
             UNION SELECT 'excursion', 'pressed on its day' FROM day_press WHERE excursion = ?1
             UNION SELECT 'excursion', 'rehearsed' FROM day_run WHERE excursion = ?1"
        ),
        Kind::Worksite => naming!(
            db,
            code,
            "SELECT 'route' AS kind, code FROM route WHERE ?1 IN (from_site, to_site)
             UNION SELECT 'position', code FROM position WHERE worksite = ?1
             UNION SELECT 'excursion', code FROM excursion WHERE airlock = ?1
             UNION SELECT 'task', code FROM task WHERE worksite = ?1
             UNION SELECT 'attempt', code FROM attempt WHERE worksite = ?1
             UNION SELECT 'outside item', code FROM outside_item WHERE worksite = ?1"
        ),
        Kind::Position => naming!(
            db,
            code,
            "SELECT 'unit' AS kind, unit AS code FROM stay WHERE position = ?1
             UNION SELECT 'task', code FROM task WHERE position = ?1
             UNION SELECT 'attempt', code FROM attempt WHERE position = ?1"
        ),
        Kind::Family => naming!(
            db,
            code,
            "SELECT 'unit' AS kind, code FROM unit WHERE family = ?1
             UNION SELECT 'technique', code FROM technique WHERE family = ?1
             UNION SELECT 'task', code FROM task WHERE family = ?1"
        ),
        Kind::Tool => naming!(
            db,
            code,
            "SELECT 'technique' AS kind, technique AS code FROM technique_tool WHERE tool = ?1
             UNION SELECT 'excursion tool', code FROM excursion_tool WHERE tool = ?1
             UNION SELECT 'outside item', code FROM outside_item WHERE tool = ?1
             UNION SELECT 'excursion', code FROM excursion
                 WHERE instr(', ' || tools || ',', ', ' || ?1 || ',') > 0
             UNION SELECT 'attempt', code FROM attempt
                 WHERE instr(', ' || tools || ',', ', ' || ?1 || ',') > 0
             UNION SELECT 'revision', code FROM revision
                 WHERE instr(', ' || tools || ',', ', ' || ?1 || ',') > 0"
        ),
        _ => Vec::new(),
    })
}

/// Gives the row another code; what names it would be refused by the schema.
pub async fn rename(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
    to: &str,
) -> Result<(), StoreError> {
    match kind {
        Kind::Flight => {
            sqlx::query!("UPDATE flight SET code = ? WHERE code = ?", to, code).execute(db).await?;
        }
        Kind::Excursion => {
            sqlx::query!("DELETE FROM lane_change WHERE excursion = ?", code)
                .execute(&mut *db)
                .await?;
            sqlx::query!("UPDATE excursion SET code = ? WHERE code = ?", to, code)
                .execute(db)
                .await?;
        }
        Kind::Worksite => {
            sqlx::query!("UPDATE worksite SET code = ? WHERE code = ?", to, code)
                .execute(db)
                .await?;
        }
        Kind::Position => {
            sqlx::query!("UPDATE position SET code = ? WHERE code = ?", to, code)
                .execute(db)
                .await?;
        }
        Kind::Family => {
            sqlx::query!("UPDATE family SET code = ? WHERE code = ?", to, code).execute(db).await?;
        }
        Kind::Tool => {
            sqlx::query!("UPDATE tool SET code = ? WHERE code = ?", to, code).execute(db).await?;
        }
        _ => {
            let why = format!("the code of a {kind} is never changed");
            return Err(StoreError::Corrupt { table: "register", why });
        }
    }
    Ok(())
}
