//! Techniques and their rehearsals.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept, shelf};
use domain::cells::{Line, List, Prose};
use domain::codes::{
    FamilyCode, Own, QualificationCode, RehearsalCode, TaskCode, TechniqueCode, ToolCode,
};
use domain::sides::Side;
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::time::Day;
use domain::units::Minutes;
use domain::words::{RehearsalKind, TechniqueState};

macro_rules! technique_rows {
    ($rest:literal $(+ $more:literal)* $(, $value:expr)*) => {
        sqlx::query_as!(
            Technique,
            r#"SELECT code AS "code: Own<TechniqueCode>", name AS "name: Line",
                   family AS "family: FamilyCode", task AS "task: TaskCode",
                   revision AS "revision?: i64", state AS "state: TechniqueState",
                   sides AS "sides: List<Side>", tools AS "tools: List<ToolCode>", seats,
                   optimistic AS "optimistic: Minutes", likely AS "likely: Minutes",
                   pessimistic AS "pessimistic: Minutes",
                   rehearsal_demanded AS "rehearsal_demanded: bool",
                   training_demanded AS "training_demanded: bool",
                   may_pause AS "may_pause: bool", steps AS "steps: Prose",
                   notes AS "notes: Prose"
               FROM technique "# + $rest $(+ $more)*
            $(, $value)*
        )
    };
}

kept! {
    Technique, technique_rows,
    "INSERT INTO technique (code, name, family, task, revision, state, sides, tools, seats,
         optimistic, likely, pessimistic, rehearsal_demanded, training_demanded, may_pause,
         steps, notes)
     VALUES (?1, ?2, ?3, ?4, COALESCE(?5, 1), ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16,
         ?17)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, family = excluded.family,
         task = excluded.task, revision = excluded.revision, state = excluded.state,
         sides = excluded.sides, tools = excluded.tools, seats = excluded.seats,
         optimistic = excluded.optimistic, likely = excluded.likely,
         pessimistic = excluded.pessimistic, rehearsal_demanded = excluded.rehearsal_demanded,
         training_demanded = excluded.training_demanded, may_pause = excluded.may_pause,
         steps = excluded.steps, notes = excluded.notes",
    code, name, family, task, revision, state, sides, tools, seats, optimistic, likely,
    pessimistic, rehearsal_demanded, training_demanded, may_pause, steps, notes; then rewrite_tools
}

async fn rewrite_tools(db: &mut SqliteConnection, technique: &Technique) -> Result<(), StoreError> {
    let tools = json_array(technique.tools.iter().map(ToolCode::as_str));
    sqlx::query!("DELETE FROM technique_tool WHERE technique = ?", technique.code)
        .execute(&mut *db)
        .await?;
    sqlx::query!(
        "INSERT INTO technique_tool (technique, tool) SELECT DISTINCT ?, value FROM json_each(?)",
        technique.code,
        tools
    )
    .execute(db)
    .await?;
    Ok(())
}

macro_rules! rehearsal_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Rehearsal,
            r#"SELECT code AS "code: Own<RehearsalCode>", technique AS "technique: TechniqueCode",
                   revision, side AS "side: Side", kind AS "kind: RehearsalKind",
                   day AS "day: Day", success AS "success: bool", minutes AS "minutes: Minutes",
                   notes AS "notes: Prose"
               FROM rehearsal "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Rehearsal, rehearsal_rows,
    "INSERT INTO rehearsal (code, technique, revision, side, kind, day, success, minutes,
         notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
     ON CONFLICT (code) DO UPDATE SET technique = excluded.technique, revision = excluded.revision,
         side = excluded.side, kind = excluded.kind, day = excluded.day,
         success = excluded.success, minutes = excluded.minutes, notes = excluded.notes",
    code, technique, revision, side, kind, day, success, minutes, notes
}

macro_rules! qualification_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Qualification,
            r#"SELECT code AS "code: Own<QualificationCode>", crew AS "crew: Line",
                   technique AS "technique: TechniqueCode", revision, side AS "side: Side",
                   day AS "day: Day", place AS "place: Line", notes AS "notes: Prose"
               FROM qualification "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Qualification, qualification_rows,
    "INSERT INTO qualification (code, crew, technique, revision, side, day, place, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
     ON CONFLICT (code) DO UPDATE SET crew = excluded.crew, technique = excluded.technique,
         revision = excluded.revision, side = excluded.side, day = excluded.day,
         place = excluded.place, notes = excluded.notes",
    code, crew, technique, revision, side, day, place, notes
}

/// Who is trained in these techniques.
pub async fn qualifications_for_these(
    db: &mut SqliteConnection,
    techniques: &[TechniqueCode],
) -> Result<Vec<Qualification>, StoreError> {
    let techniques = json_array(techniques.iter().map(TechniqueCode::as_str));
    Ok(qualification_rows!(
        "WHERE technique IN (SELECT value FROM json_each(?)) ORDER BY crew, code",
        techniques
    )
    .fetch_all(db)
    .await?)
}

/// Who is trained in a technique, crew code by crew code, the latest first.
pub async fn qualifications_of(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
) -> Result<Vec<Qualification>, StoreError> {
    Ok(qualification_rows!("WHERE technique = ? ORDER BY crew, day DESC, code DESC", technique)
        .fetch_all(db)
        .await?)
}

/// The techniques for a task: those of its family and those drafted for it alone.
pub async fn for_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
    family: Option<&FamilyCode>,
) -> Result<Vec<Technique>, StoreError> {
    Ok(technique_rows!("WHERE family = ? OR task = ? ORDER BY code", family, task)
        .fetch_all(db)
        .await?)
}

/// The techniques of these families, and those drafted for one of these tasks alone.
pub async fn for_tasks(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
    families: &[FamilyCode],
) -> Result<Vec<Technique>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let families = json_array(families.iter().map(FamilyCode::as_str));
    Ok(technique_rows!(
        "WHERE family IN (SELECT value FROM json_each(?))
             OR task IN (SELECT value FROM json_each(?)) ORDER BY code",
        families,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The rehearsals of these techniques.
pub async fn rehearsals_of_these(
    db: &mut SqliteConnection,
    techniques: &[TechniqueCode],
) -> Result<Vec<Rehearsal>, StoreError> {
    let techniques = json_array(techniques.iter().map(TechniqueCode::as_str));
    Ok(rehearsal_rows!(
        "WHERE technique IN (SELECT value FROM json_each(?)) ORDER BY code",
        techniques
    )
    .fetch_all(db)
    .await?)
}

/// The rehearsals of a technique, the latest first.
pub async fn rehearsals_of(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
) -> Result<Vec<Rehearsal>, StoreError> {
    Ok(rehearsal_rows!("WHERE technique = ? ORDER BY day DESC, code DESC", technique)
        .fetch_all(db)
        .await?)
}

shelf! { Technique, technique_rows, "technique", "code || ' ' || name" }

/// The techniques that use a tool.
pub async fn that_use(
    db: &mut SqliteConnection,
    tool: &ToolCode,
) -> Result<Vec<Technique>, StoreError> {
    Ok(technique_rows!(
        "WHERE code IN (SELECT technique FROM technique_tool WHERE tool = ?) ORDER BY code",
        tool
    )
    .fetch_all(db)
    .await?)
}

/// The techniques of a family.
pub async fn of_family(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<Technique>, StoreError> {
    Ok(technique_rows!("WHERE family = ? ORDER BY code", family).fetch_all(db).await?)
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::Kept;
    use crate::tests::{saved, world};

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_technique_without_a_revision_is_the_first(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;

        saved::<Technique>(db, "code: K-9 | name: pry | revision:").await;

        let found = Technique::find(db, "K-9").await.unwrap().unwrap();
        assert_eq!(found.revision, Some(1));
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn its_tools_are_rewritten(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        saved::<Technique>(db, "code: K-9 | name: pry | tools: L-1, L-2, L-1").await;

        saved::<Technique>(db, "code: K-9 | name: pry | tools: L-2").await;

        let tools = sqlx::query_scalar!("SELECT tool FROM technique_tool WHERE technique = 'K-9'")
            .fetch_all(&mut **db)
            .await
            .unwrap();
        assert_eq!(tools, ["L-2"]);
    }
}
