//! Causes, findings and exemptions.

use sqlx::SqliteConnection;

use crate::domain::cells::{Line, List, Prose};
use crate::domain::codes::{
    AttemptCode, CauseCode, ExemptionCode, FindingCode, Own, TaskCode, TechniqueCode,
};
use crate::domain::findings::{Cause, Exemption, Finding};
use crate::domain::sides::Side;
use crate::domain::time::Day;
use crate::domain::words::Scope;
use crate::store::{StoreError, json_array, kept};

macro_rules! cause_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Cause,
            r#"SELECT code AS "code: Own<CauseCode>", words AS "words: Line",
                   cause_group AS "cause_group: Line", scope AS "scope: Scope"
               FROM cause "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Cause, cause_rows,
    "INSERT INTO cause (code, words, cause_group, scope)
     VALUES (?1, ?2, ?3, ?4)
     ON CONFLICT (code) DO UPDATE SET words = excluded.words, cause_group = excluded.cause_group,
         scope = excluded.scope",
    code, words, cause_group, scope
}

macro_rules! finding_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Finding,
            r#"SELECT code AS "code: Own<FindingCode>", attempts AS "attempts: List<AttemptCode>",
                   cause AS "cause: CauseCode", contributing AS "contributing: List<CauseCode>",
                   words AS "words: Prose", evidence AS "evidence: Prose",
                   recommended_technique AS "recommended_technique: TechniqueCode",
                   recommended_side AS "recommended_side: Side", author AS "author: Line",
                   written_on AS "written_on: Day", reviewed_by AS "reviewed_by: Line",
                   reviewed_on AS "reviewed_on: Day"
               FROM finding "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Finding, finding_rows,
    "INSERT INTO finding (code, attempts, cause, contributing, words, evidence,
         recommended_technique, recommended_side, author, written_on, reviewed_by, reviewed_on)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
     ON CONFLICT (code) DO UPDATE SET attempts = excluded.attempts, cause = excluded.cause,
         contributing = excluded.contributing, words = excluded.words,
         evidence = excluded.evidence, recommended_technique = excluded.recommended_technique,
         recommended_side = excluded.recommended_side, author = excluded.author,
         written_on = excluded.written_on, reviewed_by = excluded.reviewed_by,
         reviewed_on = excluded.reviewed_on",
    code, attempts, cause, contributing, words, evidence, recommended_technique,
    recommended_side, author, written_on, reviewed_by, reviewed_on; then rewrite_links
}

async fn rewrite_links(db: &mut SqliteConnection, finding: &Finding) -> Result<(), StoreError> {
    let attempts = json_array(finding.attempts.iter().map(AttemptCode::as_str));
    let causes = json_array(finding.contributing.iter().map(CauseCode::as_str));
    sqlx::query!("DELETE FROM finding_attempt WHERE finding = ?", finding.code)
        .execute(&mut *db)
        .await?;
    sqlx::query!("DELETE FROM finding_cause WHERE finding = ?", finding.code)
        .execute(&mut *db)
        .await?;
    sqlx::query!(
        "INSERT INTO finding_attempt (finding, attempt) SELECT DISTINCT ?, value FROM json_each(?)",
        finding.code,
        attempts
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!(
        "INSERT INTO finding_cause (finding, cause) SELECT DISTINCT ?, value FROM json_each(?)",
        finding.code,
        causes
    )
    .execute(db)
    .await?;
    Ok(())
}

macro_rules! exemption_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Exemption,
            r#"SELECT code AS "code: Own<ExemptionCode>", task AS "task: TaskCode",
                   attempts AS "attempts: List<AttemptCode>", words AS "words: Prose",
                   author AS "author: Line", written_on AS "written_on: Day",
                   reviewed_by AS "reviewed_by: Line", reviewed_on AS "reviewed_on: Day"
               FROM exemption "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Exemption, exemption_rows,
    "INSERT INTO exemption (code, task, attempts, words, author, written_on, reviewed_by,
         reviewed_on)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, attempts = excluded.attempts,
         words = excluded.words, author = excluded.author, written_on = excluded.written_on,
         reviewed_by = excluded.reviewed_by, reviewed_on = excluded.reviewed_on",
    code, task, attempts, words, author, written_on, reviewed_by, reviewed_on
}
