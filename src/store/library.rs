//! What stands beside the entries of the library: how often each was used, and what waits there.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{FamilyCode, TechniqueCode, ToolCode, WorksiteCode};
use domain::words::Outcome;

/// Rows on one page of the library.
pub const PAGE: i64 = 50;

/// How often a technique ended so.
#[derive(Debug, Clone)]
pub struct OutcomeCount {
    pub technique: TechniqueCode,
    pub outcome: Outcome,
    pub count: i64,
}

/// What became of every try of these techniques.
pub async fn tried(
    db: &mut SqliteConnection,
    techniques: &[TechniqueCode],
) -> Result<Vec<OutcomeCount>, StoreError> {
    let techniques = json_array(techniques.iter().map(TechniqueCode::as_str));
    Ok(sqlx::query_as!(
        OutcomeCount,
        r#"SELECT technique AS "technique!: TechniqueCode", outcome AS "outcome: Outcome",
               COUNT(*) AS "count!: i64"
           FROM attempt WHERE technique IN (SELECT value FROM json_each(?))
           GROUP BY technique, outcome"#,
        techniques
    )
    .fetch_all(db)
    .await?)
}

/// How many open items wait at each of these worksites.
pub async fn open_at(
    db: &mut SqliteConnection,
    sites: &[WorksiteCode],
) -> Result<Vec<(WorksiteCode, i64)>, StoreError> {
    let sites = json_array(sites.iter().map(WorksiteCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT worksite AS "worksite!: WorksiteCode", COUNT(*) AS "count!: i64"
           FROM standing WHERE is_open = 1 AND worksite IN (SELECT value FROM json_each(?))
           GROUP BY worksite"#,
        sites
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.worksite, row.count)).collect())
}

/// The units and the open items of these families, in figures.
#[derive(Debug, Clone)]
pub struct FamilySize {
    pub family: FamilyCode,
    pub units: i64,
    pub open_items: i64,
}

pub async fn sizes(
    db: &mut SqliteConnection,
    families: &[FamilyCode],
) -> Result<Vec<FamilySize>, StoreError> {
    let families = json_array(families.iter().map(FamilyCode::as_str));
    Ok(sqlx::query_as!(
        FamilySize,
        r#"SELECT code AS "family: FamilyCode",
               (SELECT COUNT(*) FROM unit WHERE unit.family = family.code) AS "units!: i64",
               (SELECT COUNT(*) FROM standing WHERE is_open = 1 AND standing.family = family.code)
                   AS "open_items!: i64"
           FROM family WHERE code IN (SELECT value FROM json_each(?))"#,
        families
    )
    .fetch_all(db)
    .await?)
}

/// How many techniques that are not withdrawn need each of these tools.
pub async fn needed_by(
    db: &mut SqliteConnection,
    tools: &[ToolCode],
) -> Result<Vec<(ToolCode, i64)>, StoreError> {
    let tools = json_array(tools.iter().map(ToolCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT tool AS "tool!: ToolCode", COUNT(*) AS "count!: i64"
           FROM technique_tool JOIN technique ON technique.code = technique_tool.technique
           WHERE tool IN (SELECT value FROM json_each(?)) AND technique.state <> 'withdrawn'
           GROUP BY tool"#,
        tools
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.tool, row.count)).collect())
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::{saved, world};
    use domain::attempts::Attempt;
    use domain::families::Unit;
    use domain::techniques::Technique;

    #[sqlx::test(migrations = "../../migrations")]
    async fn tries_are_counted_by_technique_and_outcome(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        saved::<Technique>(db, "code: K-9 | name: pry").await;
        for code in ["A-91", "A-92"] {
            let cells = format!(
                "code: {code} | task: T-1 | excursion: E-1 | technique: K-9 | outcome: not completed"
            );
            saved::<Attempt>(db, &cells).await;
        }

        let tried = tried(db, &["K-9".into(), "K-404".into()]).await.unwrap();

        assert_eq!(tried.len(), 1);
        assert_eq!((tried[0].outcome, tried[0].count), (Outcome::NotCompleted, 2));
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_family_counts_its_units_and_its_open_items_apart(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let code: FamilyCode = "F-1".into();
        let before = sizes(db, std::slice::from_ref(&code)).await.unwrap();
        saved::<Unit>(db, "code: U-91 | family: F-1").await;

        let sizes = sizes(db, &[code]).await.unwrap();

        assert_eq!((before[0].units, before[0].open_items), (1, 0));
        assert_eq!((sizes[0].units, sizes[0].open_items), (2, 0));
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_withdrawn_technique_needs_no_tool(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let count = async |db: &mut SqliteConnection| {
            let found = needed_by(db, &["L-2".into()]).await.unwrap();
            found.first().map_or(0, |(_, count)| *count)
        };
        let before = count(db).await;
        saved::<Technique>(db, "code: K-9 | name: pry | tools: L-2").await;
        let during = count(db).await;
        saved::<Technique>(db, "code: K-9 | name: pry | tools: L-2 | state: withdrawn").await;

        assert_eq!((during, count(db).await), (before + 1, before));
    }
}
