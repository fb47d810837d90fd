//! The change log: append only, each entry carrying the hash of the entry before it.

use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::ExcursionCode;
use domain::kinds::Kind;
use domain::time::Moment;

/// One entry of the log. `before` and `after` are JSON objects of the cells that changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    pub seq: i64,
    pub at: Moment,
    pub who: String,
    pub kind: Kind,
    pub code: String,
    pub action: String,
    pub before: Option<String>,
    pub after: Option<String>,
    pub why: Option<String>,
    pub previous: Vec<u8>,
    pub hash: Vec<u8>,
}

impl Change {
    /// The hash over everything the entry says and over the entry before it. Each part is
    /// preceded by its length, so that no two entries share a hash by moving a boundary.
    pub fn worked_out_hash(&self) -> Vec<u8> {
        let mut hasher = Sha256::new();
        let seq = self.seq.to_string();
        let at = self.at.0.to_string();
        let missing = "\u{0}";
        for part in [
            &*seq,
            &*at,
            &*self.who,
            self.kind.word(),
            &*self.code,
            &*self.action,
            self.before.as_deref().unwrap_or(missing),
            self.after.as_deref().unwrap_or(missing),
            self.why.as_deref().unwrap_or(missing),
        ] {
            hasher.update(part.len().to_string());
            hasher.update(":");
            hasher.update(part);
        }
        hasher.update(&self.previous);
        hasher.finalize().to_vec()
    }
}

/// What is to be logged.
#[derive(Debug, Clone)]
pub struct Entry<'a> {
    pub at: Moment,
    pub who: &'a str,
    pub kind: Kind,
    pub code: &'a str,
    pub action: &'a str,
    pub before: Option<String>,
    pub after: Option<String>,
    pub why: Option<String>,
}

pub async fn append(db: &mut SqliteConnection, entry: Entry<'_>) -> Result<i64, StoreError> {
    let (seq, previous) = next(db).await?;
    let mut change = Change {
        seq,
        at: entry.at,
        who: entry.who.to_owned(),
        kind: entry.kind,
        code: entry.code.to_owned(),
        action: entry.action.to_owned(),
        before: entry.before,
        after: entry.after,
        why: entry.why,
        previous,
        hash: Vec::new(),
    };
    change.hash = change.worked_out_hash();
    sqlx::query!(
        "INSERT INTO change (seq, at, who, kind, code, action, before, after, why, previous, hash)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        change.seq,
        change.at,
        change.who,
        change.kind,
        change.code,
        change.action,
        change.before,
        change.after,
        change.why,
        change.previous,
        change.hash
    )
    .execute(db)
    .await?;
    Ok(seq)
}

/// The number of the entry that comes next, and the hash that it carries of the one before it.
async fn next(db: &mut SqliteConnection) -> Result<(i64, Vec<u8>), StoreError> {
    let last = sqlx::query!("SELECT seq, hash FROM change ORDER BY seq DESC LIMIT 1")
        .fetch_optional(db)
        .await?;
    Ok(last.map_or((1, vec![0; 32]), |row| (row.seq + 1, row.hash)))
}

/// Numbers and hashes entries anew, so that they follow the last one there.
pub(crate) async fn chain(
    db: &mut SqliteConnection,
    entries: &mut [Change],
) -> Result<(), StoreError> {
    let (mut seq, mut previous) = next(db).await?;
    for entry in entries {
        entry.seq = seq;
        entry.previous.clone_from(&previous);
        entry.hash = entry.worked_out_hash();
        previous.clone_from(&entry.hash);
        seq += 1;
    }
    Ok(())
}

/// The records that the entries after `after` are about, each once.
pub async fn records_since(
    db: &mut SqliteConnection,
    after: i64,
) -> Result<Vec<(Kind, String)>, StoreError> {
    let found = sqlx::query!(
        r#"SELECT DISTINCT kind AS "kind: Kind", code FROM change WHERE seq > ?"#,
        after
    )
    .fetch_all(db)
    .await?;
    Ok(found.into_iter().map(|row| (row.kind, row.code)).collect())
}

/// Entries after `after`, oldest first.
pub async fn since(
    db: &mut SqliteConnection,
    after: i64,
    most: i64,
) -> Result<Vec<Change>, StoreError> {
    Ok(sqlx::query_as!(
        Change,
        r#"SELECT seq, at AS "at: Moment", who, kind AS "kind: Kind", code, action, before, after,
               why, previous, hash
           FROM change WHERE seq > ? ORDER BY seq LIMIT ?"#,
        after,
        most
    )
    .fetch_all(db)
    .await?)
}

/// One entry.
pub async fn entry(db: &mut SqliteConnection, seq: i64) -> Result<Option<Change>, StoreError> {
    Ok(since(db, seq - 1, 1).await?.pop().filter(|change| change.seq == seq))
}

/// Entries before `before`, newest first; those of one record where it is named.
pub async fn newest(
    db: &mut SqliteConnection,
    before: i64,
    record: Option<(Kind, &str)>,
    most: i64,
) -> Result<Vec<Change>, StoreError> {
    let Some((kind, code)) = record else {
        return Ok(sqlx::query_as!(
            Change,
            r#"SELECT seq, at AS "at: Moment", who, kind AS "kind: Kind", code, action, before,
                   after, why, previous, hash
               FROM change WHERE seq < ? ORDER BY seq DESC LIMIT ?"#,
            before,
            most
        )
        .fetch_all(db)
        .await?);
    };
    Ok(sqlx::query_as!(
        Change,
        r#"SELECT seq, at AS "at: Moment", who, kind AS "kind: Kind", code, action, before, after,
               why, previous, hash
           FROM change WHERE kind = ? AND code = ? AND seq < ? ORDER BY seq DESC LIMIT ?"#,
        kind,
        code,
        before,
        most
    )
    .fetch_all(db)
    .await?)
}

/// What was edited or renamed in records of one kind, newest first, among so many newest entries.
pub async fn edits(
    db: &mut SqliteConnection,
    kind: Kind,
    among: i64,
) -> Result<Vec<Change>, StoreError> {
    Ok(sqlx::query_as!(
        Change,
        r#"SELECT seq, at AS "at: Moment", who, kind AS "kind: Kind", code, action, before, after,
               why, previous, hash
           FROM change WHERE seq > (SELECT COALESCE(MAX(seq), 0) FROM change) - ?
               AND kind = ? AND action <> 'made' AND before IS NOT NULL
           ORDER BY seq DESC"#,
        among,
        kind
    )
    .fetch_all(db)
    .await?)
}

/// The entries on some records of one kind, the oldest first.
pub async fn of_records(
    db: &mut SqliteConnection,
    kind: Kind,
    codes: &[String],
) -> Result<Vec<Change>, StoreError> {
    let codes = json_array(codes.iter().map(String::as_str));
    Ok(sqlx::query_as!(
        Change,
        r#"SELECT seq AS "seq!: i64", at AS "at!: Moment", who AS "who!: String",
               kind AS "kind!: Kind", change.code AS "code!: String", action AS "action!: String",
               before, after, why, previous AS "previous!: Vec<u8>", hash AS "hash!: Vec<u8>"
           FROM json_each(?) AS asked
               CROSS JOIN change ON change.kind = ? AND change.code = asked.value
           ORDER BY seq"#,
        codes,
        kind
    )
    .fetch_all(db)
    .await?)
}

/// The number of the newest entry; 0 where there is none.
pub async fn last(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT COALESCE(MAX(seq), 0) AS "last!: i64" FROM change"#)
        .fetch_one(db)
        .await?)
}

/// When an excursion was last marked as flown; `None` where it came so from a file.
pub async fn flown_at(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Option<Moment>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT max(at) AS "at: Moment" FROM change
           WHERE kind = ? AND code = ? AND before ->> 'state' <> 'flown' AND after ->> 'state' = 'flown'"#,
        Kind::Excursion,
        excursion
    )
    .fetch_one(db)
    .await?)
}

/// The number of a record's newest entry; 0 where there is none.
pub async fn last_of(db: &mut SqliteConnection, kind: Kind, code: &str) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COALESCE(MAX(seq), 0) AS "last!: i64" FROM change WHERE kind = ? AND code = ?"#,
        kind,
        code
    )
    .fetch_one(db)
    .await?)
}
