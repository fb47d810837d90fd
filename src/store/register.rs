//! The register: one row per record of any kind, with its version, who made it and when.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::StoreError;
use crate::kept::json_array;
use domain::kinds::Kind;
use domain::new_codes;
use domain::time::Moment;

/// What is known of a record beside its columns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Registered {
    /// The order of entry among all records.
    pub entry: i64,
    pub version: i64,
    pub made_by: String,
    pub made_at: Moment,
    pub changed_by: String,
    pub changed_at: Moment,
}

pub async fn find(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
) -> Result<Option<Registered>, StoreError> {
    Ok(sqlx::query_as!(
        Registered,
        r#"SELECT entry, version, made_by, made_at AS "made_at: Moment", changed_by,
               changed_at AS "changed_at: Moment"
           FROM register WHERE kind = ? AND code = ?"#,
        kind,
        code
    )
    .fetch_optional(db)
    .await?)
}

/// The versions of some records of one kind, by their codes; those that do not exist are left out.
pub async fn versions<'a>(
    db: &mut SqliteConnection,
    kind: Kind,
    codes: impl IntoIterator<Item = &'a str>,
) -> Result<BTreeMap<String, i64>, StoreError> {
    let codes = json_array(codes);
    let rows = sqlx::query!(
        r#"SELECT code AS "code!: String", version FROM register
           WHERE kind = ? AND code IN (SELECT value FROM json_each(?))"#,
        kind,
        codes
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.code, row.version)).collect())
}

/// Enters a new record or moves the version of a known one; gives the version now.
pub async fn enter(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
    who: &str,
    at: Moment,
) -> Result<i64, StoreError> {
    let version = sqlx::query_scalar!(
        "INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
         VALUES (?1, ?2, ?3, ?4, ?3, ?4)
         ON CONFLICT (kind, code) DO UPDATE SET version = version + 1, changed_by = ?3,
             changed_at = ?4
         RETURNING version",
        kind,
        code,
        who,
        at
    )
    .fetch_one(&mut *db)
    .await?;
    if version == 1 && kind != Kind::View {
        keep_looks(db, kind, code).await?;
    }
    Ok(version)
}

/// Keeps what a code could be taken for.
async fn keep_looks(db: &mut SqliteConnection, kind: Kind, code: &str) -> Result<(), StoreError> {
    let [shape, case] = new_codes::looks(code);
    sqlx::query!(
        "INSERT OR IGNORE INTO code_look (kind, look, code) VALUES (?1, ?2, ?4), (?1, ?3, ?4)",
        kind,
        shape,
        case,
        code
    )
    .execute(db)
    .await?;
    Ok(())
}

async fn forget_looks(db: &mut SqliteConnection, kind: Kind, code: &str) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM code_look WHERE kind = ? AND code = ?", kind, code)
        .execute(db)
        .await?;
    Ok(())
}

/// The code of that kind for which this one could be taken, `but` one aside.
pub async fn alike(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
    but: Option<&str>,
) -> Result<Option<String>, StoreError> {
    let [shape, case] = new_codes::looks(code);
    Ok(sqlx::query_scalar!(
        "SELECT code FROM code_look WHERE kind = ?1 AND look IN (?2, ?3) AND code <> ?4
             AND (?5 IS NULL OR code <> ?5) LIMIT 1",
        kind,
        shape,
        case,
        code,
        but
    )
    .fetch_optional(db)
    .await?)
}

/// Codes of one kind that could be taken for one another: each pair once, up to `most`.
pub async fn look_alikes(
    db: &mut SqliteConnection,
    most: i64,
) -> Result<Vec<(Kind, String, String)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT DISTINCT one.kind AS "kind!: Kind", one.code AS "one!: String",
               other.code AS "other!: String"
           FROM code_look AS one JOIN code_look AS other
               ON other.kind = one.kind AND other.look = one.look AND other.code > one.code
           ORDER BY one.kind, one.code, other.code LIMIT ?"#,
        most
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.kind, row.one, row.other)).collect())
}

/// Codes whose looks an older program did not keep as this one would: those with letters beyond
/// ASCII, up to `most` after an entry of the register.
pub async fn beyond_ascii(
    db: &mut SqliteConnection,
    after: i64,
    most: i64,
) -> Result<Vec<(i64, Kind, String)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT entry, kind AS "kind: Kind", code FROM register
           WHERE entry > ? AND kind <> 'view' AND code GLOB '*[^ -~]*' ORDER BY entry LIMIT ?"#,
        after,
        most
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.entry, row.kind, row.code)).collect())
}

/// Enters a record under another code. Its order of entry stays, and its versions begin anew, as
/// the change log counts them by code.
pub async fn rename(
    db: &mut SqliteConnection,
    kind: Kind,
    (code, to): (&str, &str),
    who: &str,
    at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE register SET code = ?1, version = 1, changed_by = ?2, changed_at = ?3
         WHERE kind = ?4 AND code = ?5",
        to,
        who,
        at,
        kind,
        code
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!("UPDATE imported_row SET code = ?1 WHERE kind = ?2 AND code = ?3", to, kind, code)
        .execute(&mut *db)
        .await?;
    forget_looks(&mut *db, kind, code).await?;
    keep_looks(db, kind, to).await
}

/// Takes an attempt, a deferral, a parking or a file out of the record, with its words in the index.
pub async fn remove(db: &mut SqliteConnection, kind: Kind, code: &str) -> Result<(), StoreError> {
    match kind {
        Kind::Attempt => {
            sqlx::query!("DELETE FROM attempt WHERE code = ?", code).execute(&mut *db).await?;
        }
        Kind::Deferral => {
            sqlx::query!("DELETE FROM deferral WHERE code = ?", code).execute(&mut *db).await?;
        }
        Kind::Parking => {
            sqlx::query!("DELETE FROM parking WHERE code = ?", code).execute(&mut *db).await?;
        }
        Kind::Decline => {
            sqlx::query!("DELETE FROM decline WHERE code = ?", code).execute(&mut *db).await?;
        }
        Kind::Constraint => {
            sqlx::query!("DELETE FROM constraint_attempt WHERE vehicle_constraint = ?", code)
                .execute(&mut *db)
                .await?;
            sqlx::query!("DELETE FROM vehicle_constraint WHERE code = ?", code)
                .execute(&mut *db)
                .await?;
        }
        Kind::File => {
            sqlx::query!("DELETE FROM file WHERE code = ?", code).execute(&mut *db).await?;
        }
        _ => {
            let why = format!("a {kind} is never taken back");
            return Err(StoreError::Corrupt { table: "register", why });
        }
    }
    sqlx::query!(
        "DELETE FROM event_words
         WHERE rowid = (SELECT entry FROM register WHERE kind = ? AND code = ?)",
        kind,
        code
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!("DELETE FROM register WHERE kind = ? AND code = ?", kind, code)
        .execute(&mut *db)
        .await?;
    sqlx::query!("INSERT OR IGNORE INTO withdrawn_code (kind, code) VALUES (?, ?)", kind, code)
        .execute(&mut *db)
        .await?;
    forget_looks(db, kind, code).await
}

/// Strikes out a saved view that its person dropped; it leaves no words behind.
pub async fn strike_out_view(db: &mut SqliteConnection, code: &str) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM register WHERE kind = 'view' AND code = ?", code).execute(db).await?;
    Ok(())
}

/// Every record that goes by this code, whatever its kind and case.
pub async fn by_code(
    db: &mut SqliteConnection,
    code: &str,
) -> Result<Vec<(Kind, String)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT kind AS "kind: Kind", code FROM register WHERE code = ? COLLATE NOCASE LIMIT 10"#,
        code
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.kind, row.code)).collect())
}

/// The highest number that follows this prefix among the codes of a kind, those that were taken
/// back included: people may still speak of them. Numbers have up to nine digits; among codes of one
/// length the last is the highest.
pub async fn highest_number(
    db: &mut SqliteConnection,
    kind: Kind,
    prefix: &str,
) -> Result<i64, StoreError> {
    let from = prefix.to_owned();
    let until = format!("{prefix}\u{10ffff}");
    let start = i64::try_from(prefix.len()).unwrap_or(0) + 1;
    let stored = sqlx::query_scalar!(
        r#"SELECT COALESCE(MAX((SELECT CAST(substr(code, ?4) AS INTEGER) FROM register
               WHERE kind = ?1 AND length(code) = ?4 - 1 + digits.value AND code >= ?2
                   AND code < ?3 AND substr(code, ?4) NOT GLOB '*[^0-9]*'
               ORDER BY code DESC LIMIT 1)), 0) AS "highest!: i64"
           FROM json_each('[1,2,3,4,5,6,7,8,9]') AS digits"#,
        kind,
        from,
        until,
        start
    )
    .fetch_one(&mut *db)
    .await?;
    let withdrawn = sqlx::query_scalar!(
        r#"SELECT COALESCE(MAX(CAST(substr(code, ?4) AS INTEGER)), 0) AS "highest!: i64"
           FROM withdrawn_code WHERE kind = ?1 AND code >= ?2 AND code < ?3
               AND substr(code, ?4) NOT GLOB '*[^0-9]*' AND length(code) < ?4 + 9"#,
        kind,
        from,
        until,
        start
    )
    .fetch_one(db)
    .await?;
    Ok(stored.max(withdrawn))
}

/// Codes of a kind that begin with `prefix`, for a field that offers them.
pub async fn codes(
    db: &mut SqliteConnection,
    kind: Kind,
    prefix: &str,
    most: i64,
) -> Result<Vec<String>, StoreError> {
    let until = format!("{prefix}\u{10ffff}");
    Ok(sqlx::query_scalar!(
        "SELECT code FROM register WHERE kind = ? AND code >= ? AND code < ? ORDER BY code LIMIT ?",
        kind,
        prefix,
        until,
        most
    )
    .fetch_all(db)
    .await?)
}

/// The record of a kind whose name is exactly this, whatever its case.
pub async fn named(
    db: &mut SqliteConnection,
    kind: Kind,
    name: &str,
) -> Result<Option<String>, StoreError> {
    macro_rules! of {
        ($query:literal) => {
            sqlx::query_scalar!($query, name).fetch_optional(db).await?
        };
    }
    Ok(match kind {
        Kind::Worksite => of!(
            r#"SELECT code AS "code!" FROM worksite WHERE name = ? COLLATE NOCASE ORDER BY code LIMIT 1"#
        ),
        Kind::Family => of!(
            r#"SELECT code AS "code!" FROM family WHERE name = ? COLLATE NOCASE ORDER BY code LIMIT 1"#
        ),
        Kind::Tool => of!(
            r#"SELECT code AS "code!" FROM tool WHERE name = ? COLLATE NOCASE ORDER BY code LIMIT 1"#
        ),
        Kind::Technique => of!(
            r#"SELECT code AS "code!" FROM technique WHERE name = ? COLLATE NOCASE ORDER BY code LIMIT 1"#
        ),
        _ => None,
    })
}
