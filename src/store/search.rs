//! The index of everything: what holds the words, best match first.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{ExcursionCode, TaskCode};
use domain::kinds::Kind;

/// So many finds are ranked; beyond, a word more tells more than an order would.
pub const RANKED: i64 = 5_000;

/// One record that holds the words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundRecord {
    pub kind: Kind,
    pub code: String,
    pub title: String,
    pub words: String,
}

/// What a find belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundIn {
    pub code: String,
    pub task: TaskCode,
    pub title: String,
    pub excursion: Option<ExcursionCode>,
}

/// Of these words, in small letters, those with which some word of the index begins.
pub async fn known(db: &mut SqliteConnection, words: &[String]) -> Result<Vec<String>, StoreError> {
    let words = json_array(words.iter().map(String::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT value || '' AS "word!: String" FROM json_each(?)
           WHERE EXISTS (SELECT 1 FROM event_terms
               WHERE term >= value AND term <= value || char(0x10FFFF))"#,
        words
    )
    .fetch_all(db)
    .await?)
}

/// Of these words, those that the index holds as they are, the commonest first.
pub async fn held<'a>(
    db: &mut SqliteConnection,
    words: impl IntoIterator<Item = &'a str>,
    most: i64,
) -> Result<Vec<String>, StoreError> {
    let words = json_array(words);
    Ok(sqlx::query_scalar!(
        r#"SELECT term || '' AS "term!: String" FROM event_terms
           WHERE term IN (SELECT value FROM json_each(?1)) ORDER BY doc DESC, term LIMIT ?2"#,
        words,
        most
    )
    .fetch_all(db)
    .await?)
}

/// One matching record by its number in the register; the lower the score, the better it matches.
#[derive(Debug, Clone, Copy)]
pub struct Scored {
    pub entry: i64,
    pub score: f64,
}

/// How many records match, counted to one more than [`RANKED`].
pub async fn count(db: &mut SqliteConnection, asked: &str) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64"
           FROM (SELECT 1 FROM event_words WHERE event_words MATCH ?1 LIMIT ?2 + 1)"#,
        asked,
        RANKED
    )
    .fetch_one(db)
    .await?)
}

/// The matching records in no order, at most [`RANKED`]: a code weighs more than a title, a title more
/// than other words. Scoring goes through whatever holds one of the words, so [`count`] comes first.
pub async fn scored(db: &mut SqliteConnection, asked: &str) -> Result<Vec<Scored>, StoreError> {
    Ok(sqlx::query_as!(
        Scored,
        r#"SELECT rowid + 0 AS "entry!: i64",
               bm25(event_words, 8.0, 0.0, 4.0, 1.0) AS "score!: f64"
           FROM event_words WHERE event_words MATCH ?1 LIMIT ?2"#,
        asked,
        RANKED
    )
    .fetch_all(db)
    .await?)
}

/// The numbers of the matching records, the newest first.
pub async fn newest(
    db: &mut SqliteConnection,
    asked: &str,
    offset: i64,
    most: i64,
) -> Result<Vec<i64>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT rowid + 0 AS "entry!: i64" FROM event_words WHERE event_words MATCH ?1
           ORDER BY rowid DESC LIMIT ?2 OFFSET ?3"#,
        asked,
        most,
        offset
    )
    .fetch_all(db)
    .await?)
}

/// These records, in the order in which they were named.
pub async fn named(
    db: &mut SqliteConnection,
    entries: &[i64],
) -> Result<Vec<FoundRecord>, StoreError> {
    let entries = entries.iter().copied().collect::<serde_json::Value>().to_string();
    Ok(sqlx::query_as!(
        FoundRecord,
        r#"SELECT w.kind || '' AS "kind!: Kind", w.code || '' AS "code!: String",
               w.title || '' AS "title!: String", w.words || '' AS "words!: String"
           FROM json_each(?) AS listed CROSS JOIN event_words AS w ON w.rowid = listed.value
           ORDER BY listed.key"#,
        entries
    )
    .fetch_all(db)
    .await?)
}

/// The task, and the excursion where there is one, of each of these attempts, deferrals, slots and
/// endings.
pub async fn belongings(
    db: &mut SqliteConnection,
    codes: &[&str],
) -> Result<Vec<FoundIn>, StoreError> {
    let codes = json_array(codes.iter().copied());
    Ok(sqlx::query_as!(
        FoundIn,
        r#"WITH named AS (SELECT value FROM json_each(?))
           SELECT event.code AS "code!: String", event.task AS "task!: TaskCode",
               task.title AS "title!: String", event.excursion AS "excursion?: ExcursionCode"
           FROM (
               SELECT code, task, excursion FROM attempt WHERE code IN named
               UNION ALL SELECT code, task, excursion FROM deferral WHERE code IN named
               UNION ALL SELECT code, task, excursion FROM slot WHERE code IN named
               UNION ALL SELECT code, task, NULL FROM closure WHERE code IN named
               UNION ALL SELECT code, task, NULL FROM parking WHERE code IN named
               UNION ALL SELECT code, task, NULL FROM reopening WHERE code IN named
               UNION ALL SELECT code, task, NULL FROM exemption WHERE code IN named
           ) AS event JOIN task ON task.code = event.task"#,
        codes
    )
    .fetch_all(db)
    .await?)
}
