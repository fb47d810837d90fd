//! Photographs and files: which record each belongs to and what it is. Their bytes are `contents`.

use sqlx::SqliteConnection;

use crate::{StoreError, kept};
use domain::cells::Line;
use domain::codes::{
    AttemptCode, ExcursionCode, FileCode, FindingCode, OutsideCode, Own, TaskCode,
};
use domain::files::{File, Media};
use domain::kinds::Kind;

macro_rules! file_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            File,
            r#"SELECT code AS "code: Own<FileCode>", attempt AS "attempt: AttemptCode",
                   finding AS "finding: FindingCode", outside_item AS "outside_item: OutsideCode",
                   caption AS "caption: Line", on_paper AS "on_paper: bool", name AS "name: Line",
                   media AS "media: Media", bytes, width, height, hash AS "hash: Line",
                   preview AS "preview: Line"
               FROM file "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    File, file_rows,
    "INSERT INTO file (code, attempt, finding, outside_item, caption, on_paper, name, media,
         bytes, width, height, hash, preview)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)
     ON CONFLICT (code) DO UPDATE SET attempt = excluded.attempt, finding = excluded.finding,
         outside_item = excluded.outside_item, caption = excluded.caption,
         on_paper = excluded.on_paper, name = excluded.name, media = excluded.media,
         bytes = excluded.bytes, width = excluded.width, height = excluded.height,
         hash = excluded.hash, preview = excluded.preview",
    code, attempt, finding, outside_item, caption, on_paper, name, media, bytes, width, height,
    hash, preview
}

/// The files of the attempts at a task, in the order of their codes.
pub async fn of_task(db: &mut SqliteConnection, task: &TaskCode) -> Result<Vec<File>, StoreError> {
    Ok(file_rows!("WHERE attempt IN (SELECT code FROM attempt WHERE task = ?) ORDER BY code", task)
        .fetch_all(db)
        .await?)
}

/// The files of the attempts on an excursion, in the order of their codes.
pub async fn of_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<File>, StoreError> {
    Ok(file_rows!(
        "WHERE attempt IN (SELECT code FROM attempt WHERE excursion = ?) ORDER BY code",
        excursion
    )
    .fetch_all(db)
    .await?)
}

/// The files of one record; a kind that has none has none.
pub async fn of_record(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
) -> Result<Vec<File>, StoreError> {
    let rows = match kind {
        Kind::Attempt => file_rows!("WHERE attempt = ? ORDER BY code", code).fetch_all(db).await,
        Kind::Finding => file_rows!("WHERE finding = ? ORDER BY code", code).fetch_all(db).await,
        Kind::OutsideItem => {
            file_rows!("WHERE outside_item = ? ORDER BY code", code).fetch_all(db).await
        }
        _ => Ok(Vec::new()),
    };
    Ok(rows?)
}

/// The files of the attempts that a finding explains.
pub async fn of_attempts_of(
    db: &mut SqliteConnection,
    finding: &FindingCode,
) -> Result<Vec<File>, StoreError> {
    Ok(file_rows!(
        "WHERE attempt IN (SELECT attempt FROM finding_attempt WHERE finding = ?) ORDER BY code",
        finding
    )
    .fetch_all(db)
    .await?)
}

/// A content that a row names.
#[derive(Debug, Clone)]
pub struct Named {
    pub code: String,
    pub hash: String,
    pub what: String,
    /// Its length; a preview has none on record.
    pub bytes: Option<i64>,
}

/// Every content that a row names, up to `most` after a code: the file and its preview.
pub async fn named(
    db: &mut SqliteConnection,
    after: &str,
    most: i64,
) -> Result<Vec<Named>, StoreError> {
    Ok(sqlx::query_as!(
        Named,
        r#"SELECT code AS "code!: String", hash AS "hash!: String", what AS "what!: String",
               bytes AS "bytes: i64"
           FROM (SELECT code, hash, 'content' AS what, bytes FROM
                   (SELECT code, hash, bytes FROM file WHERE code > ?1 ORDER BY code LIMIT ?2)
               UNION ALL SELECT code, preview, 'preview', NULL FROM
                   (SELECT code, preview, hash FROM file WHERE code > ?1 ORDER BY code LIMIT ?2)
                   WHERE preview IS NOT NULL AND preview <> hash)
           ORDER BY code, what"#,
        after,
        most
    )
    .fetch_all(db)
    .await?)
}

/// The hashes of all contents that a row names.
pub async fn hashes(
    db: &mut SqliteConnection,
) -> Result<std::collections::BTreeSet<String>, StoreError> {
    let all = sqlx::query_scalar!(
        r#"SELECT hash AS "hash!: String" FROM file
           UNION SELECT preview FROM file WHERE preview IS NOT NULL"#
    )
    .fetch_all(db)
    .await?;
    Ok(all.into_iter().collect())
}
