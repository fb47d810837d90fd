//! The revisions of techniques.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{AttemptCode, Own, RemedyCode, RevisionCode, TechniqueCode, ToolCode};
use domain::revisions::Revision;
use domain::sides::Side;
use domain::time::Day;
use domain::units::Minutes;
use domain::words::Checked;

macro_rules! revision_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Revision,
            r#"SELECT code AS "code: Own<RevisionCode>", technique AS "technique: TechniqueCode",
                   number, changed AS "changed: Prose", changes_work AS "changes_work: bool",
                   answers AS "answers: List<AttemptCode>", author AS "author: Line",
                   made_on AS "made_on: Day", cleared_by AS "cleared_by: Line",
                   cleared_on AS "cleared_on: Day", evidence AS "evidence: Prose",
                   sides AS "sides: List<Side>", tools AS "tools: List<ToolCode>", seats,
                   optimistic AS "optimistic: Minutes", likely AS "likely: Minutes",
                   pessimistic AS "pessimistic: Minutes", steps AS "steps: Prose",
                   checked AS "checked: Checked"
               FROM revision "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Revision, revision_rows,
    "INSERT INTO revision (code, technique, number, changed, changes_work, answers, author,
         made_on, cleared_by, cleared_on, evidence, sides, tools, seats, optimistic, likely,
         pessimistic, steps, checked)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19)
     ON CONFLICT (code) DO UPDATE SET technique = excluded.technique, number = excluded.number,
         changed = excluded.changed, changes_work = excluded.changes_work,
         answers = excluded.answers, author = excluded.author, made_on = excluded.made_on,
         cleared_by = excluded.cleared_by, cleared_on = excluded.cleared_on,
         evidence = excluded.evidence, sides = excluded.sides, tools = excluded.tools,
         seats = excluded.seats, optimistic = excluded.optimistic, likely = excluded.likely,
         pessimistic = excluded.pessimistic, steps = excluded.steps, checked = excluded.checked",
    code, technique, number, changed, changes_work, answers, author, made_on, cleared_by,
    cleared_on, evidence, sides, tools, seats, optimistic, likely, pessimistic, steps, checked
}

/// The revisions of a technique, the first one first.
pub async fn of_technique(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
) -> Result<Vec<Revision>, StoreError> {
    Ok(revision_rows!("WHERE technique = ? ORDER BY number", technique).fetch_all(db).await?)
}

/// The newest revisions of techniques that change the work and that nobody cleared, the oldest first.
pub async fn to_clear(db: &mut SqliteConnection, limit: i64) -> Result<Vec<Revision>, StoreError> {
    Ok(revision_rows!(
        "WHERE changes_work AND cleared_by IS NULL
           AND (technique, number) IN (SELECT code, revision FROM technique
                                       WHERE state <> 'withdrawn')
         ORDER BY made_on IS NULL, made_on, technique LIMIT ?",
        limit
    )
    .fetch_all(db)
    .await?)
}

/// One revision of a technique, if it is kept.
pub async fn at(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
    number: i64,
) -> Result<Option<Revision>, StoreError> {
    Ok(revision_rows!("WHERE technique = ? AND number = ?", technique, number)
        .fetch_optional(db)
        .await?)
}

/// The first attempt that used this revision.
pub async fn first_use(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
    number: i64,
) -> Result<Option<AttemptCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: AttemptCode" FROM attempt
           WHERE technique = ? AND revision = ? AND outcome <> 'not reached'
           ORDER BY code LIMIT 1"#,
        technique,
        number
    )
    .fetch_optional(db)
    .await?)
}

/// The revision that each of these remedies names as what was changed.
pub async fn of_remedies(
    db: &mut SqliteConnection,
    remedies: &[String],
) -> Result<Vec<(RemedyCode, RevisionCode)>, StoreError> {
    let remedies = json_array(remedies.iter().map(String::as_str));
    let rows = sqlx::query!(
        r#"SELECT remedy.code AS "remedy!: RemedyCode", revision.code AS "revision!: RevisionCode"
           FROM json_each(?) AS asked CROSS JOIN remedy ON remedy.code = asked.value
               JOIN revision ON revision.technique = remedy.technique
                   AND revision.number = remedy.revision"#,
        remedies
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.remedy, row.revision)).collect())
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::{saved, world};
    use domain::attempts::Attempt;
    use domain::techniques::Technique;

    #[sqlx::test(migrations = "../../migrations")]
    async fn revisions_come_in_their_order_and_their_first_use_is_known(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        saved::<Technique>(db, "code: K-9 | name: pry | revision: 2").await;
        saved::<Revision>(db, "code: K-9.2 | technique: K-9 | number: 2").await;
        saved::<Revision>(db, "code: K-9.1 | technique: K-9 | number: 1 | steps: turn").await;
        for (code, outcome) in [("A-91", "not reached"), ("A-92", "done")] {
            let cells = format!(
                "code: {code} | task: T-1 | excursion: E-1 | technique: K-9 | revision: 1 | outcome: {outcome}"
            );
            saved::<Attempt>(db, &cells).await;
        }
        let technique = "K-9".into();

        let all = of_technique(db, &technique).await.unwrap();
        assert_eq!(all.iter().map(|one| one.number).collect::<Vec<_>>(), [1, 2]);
        assert_eq!(at(db, &technique, 1).await.unwrap().unwrap().steps.as_str(), "turn");
        // What was planned and never begun used nothing.
        assert_eq!(first_use(db, &technique, 1).await.unwrap(), Some("A-92".into()));
        assert_eq!(first_use(db, &technique, 2).await.unwrap(), None);
    }
}
