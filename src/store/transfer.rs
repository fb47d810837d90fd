//! Whole tables out and in, row by row and column by column, for the export and its restore. What
//! belongs to open sessions and to forms under way stays behind.

#![expect(
    clippy::disallowed_methods,
    reason = "the tables are told by the schema of the file, which no macro knows"
)]

use std::path::Path;

use futures_util::TryStreamExt as _;
use sqlx::{AssertSqlSafe, Column as _, Row as _, SqliteConnection, TypeInfo as _, ValueRef as _};

use crate::{StoreError, making};
use domain::kinds::Kind;

/// Tables that are no part of the record: they end with the process, the session or the form.
const LEFT_BEHIND: &[&str] = &[
    "_sqlx_migrations",
    "session",
    "held_form",
    "taken_form",
    "one_time_link",
    "upload",
    "words_anew",
    "event_terms",
];
/// Indexes of words; their shadow tables are filled by them.
const INDEXES: &[&str] = &["task_words", "event_words"];
/// Parameters of one statement that writes several rows.
const PARAMETERS: usize = 400;

/// How a value is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stored {
    Integer,
    Real,
    Text,
    Blob,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    pub name: String,
    pub stored: Stored,
    pub may_be_null: bool,
}

/// A table with its columns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    pub name: String,
    /// The name of its file, without ending: the plural of a kind of record, or the table's.
    pub file: String,
    pub columns: Vec<Column>,
}

/// One value of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Null,
    Integer(i64),
    Real(f64),
    Text(String),
    Blob(Vec<u8>),
}

/// A new file with the schema as of this step, for the rows of an export of that schema. `Db::open`
/// brings it up to date.
pub async fn blank(file: &Path, step: i64) -> Result<SqliteConnection, StoreError> {
    making::up_to(file, step).await
}

/// Every table of the record, those that others name first.
pub async fn tables(db: &mut SqliteConnection) -> Result<Vec<Table>, StoreError> {
    let names: Vec<(String,)> =
        sqlx::query_as("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY rowid")
            .fetch_all(&mut *db)
            .await?;
    let mut all = Vec::new();
    for (name,) in names {
        let is_shadow = INDEXES
            .iter()
            .chain(LEFT_BEHIND)
            .any(|index| name.strip_prefix(index).is_some_and(|rest| rest.starts_with('_')));
        if LEFT_BEHIND.contains(&name.as_str()) || is_shadow || name.starts_with("sqlite_") {
            continue;
        }
        let columns = columns(db, &name).await?;
        all.push(Table { file: file_of(&name), columns, name });
    }
    Ok(all)
}

async fn columns(db: &mut SqliteConnection, table: &str) -> Result<Vec<Column>, StoreError> {
    if INDEXES.contains(&table) {
        let mut columns =
            vec![Column { name: "rowid".to_owned(), stored: Stored::Integer, may_be_null: false }];
        columns.extend(named(db, table).await?.into_iter().map(|(name, ..)| Column {
            name,
            stored: Stored::Text,
            may_be_null: true,
        }));
        return Ok(columns);
    }
    Ok(named(db, table)
        .await?
        .into_iter()
        .map(|(name, kind, not_null, key)| Column {
            stored: match kind.as_str() {
                "INTEGER" | "INT" => Stored::Integer,
                "REAL" => Stored::Real,
                "BLOB" => Stored::Blob,
                _ => Stored::Text,
            },
            may_be_null: not_null == 0 && key == 0,
            name,
        })
        .collect())
}

/// Name, type, NOT NULL and place in the primary key of the columns that can be written.
async fn named(
    db: &mut SqliteConnection,
    table: &str,
) -> Result<Vec<(String, String, i64, i64)>, StoreError> {
    Ok(sqlx::query_as(
        r#"SELECT name, type, "notnull", pk FROM pragma_table_xinfo(?) WHERE hidden = 0 ORDER BY cid"#,
    )
    .bind(table)
    .fetch_all(db)
    .await?)
}

/// Whether the records of a kind are the rows of that table.
pub(crate) fn is_table_of(kind: Kind, table: &str) -> bool {
    match kind {
        Kind::Constraint => table == "vehicle_constraint",
        Kind::Decline => table == "decline",
        kind => kind.word().replace(' ', "_") == table,
    }
}

fn file_of(table: &str) -> String {
    Kind::ALL
        .iter()
        .find(|kind| is_table_of(**kind, table))
        .map_or_else(|| table.replace('_', "-"), |kind| kind.plural().to_owned())
}

/// Hands every row of a table over, in the order in which it is stored.
pub async fn rows(
    db: &mut SqliteConnection,
    table: &Table,
    take: &mut (impl FnMut(&[Value]) -> Result<(), StoreError> + Send),
) -> Result<u64, StoreError> {
    let query = format!("SELECT {} FROM \"{}\"", list(table), table.name);
    let mut rows = sqlx::query(AssertSqlSafe(query)).fetch(db);
    let mut count = 0;
    let mut values = Vec::with_capacity(table.columns.len());
    while let Some(row) = rows.try_next().await? {
        values.clear();
        for column in row.columns() {
            let at = column.ordinal();
            let raw = row.try_get_raw(at)?;
            let value = if raw.is_null() {
                Value::Null
            } else {
                match raw.type_info().name() {
                    "INTEGER" | "BOOLEAN" => Value::Integer(row.try_get_unchecked(at)?),
                    "REAL" => Value::Real(row.try_get_unchecked(at)?),
                    "BLOB" => Value::Blob(row.try_get_unchecked(at)?),
                    _ => Value::Text(row.try_get_unchecked(at)?),
                }
            };
            values.push(value);
        }
        take(&values)?;
        count += 1;
    }
    Ok(count)
}

fn list(table: &Table) -> String {
    let names: Vec<String> =
        table.columns.iter().map(|column| format!("\"{}\"", column.name)).collect();
    names.join(", ")
}

/// Empties a table of what the migrations put there, for the rows of an export to take its place.
pub async fn empty(db: &mut SqliteConnection, table: &Table) -> Result<(), StoreError> {
    // A new record has no log that could be lost.
    let delete = format!("DELETE FROM \"{}\"", table.name);
    sqlx::query(AssertSqlSafe(delete)).execute(db).await?;
    Ok(())
}

/// Looks at references when the transaction ends and not before.
pub async fn defer_references(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::query("PRAGMA defer_foreign_keys = ON").execute(db).await?;
    Ok(())
}

/// How many rows are written at once.
pub fn at_once(table: &Table) -> usize {
    (PARAMETERS / table.columns.len().max(1)).max(1)
}

/// Writes rows as they were read.
pub async fn write(
    db: &mut SqliteConnection,
    table: &Table,
    rows: &[Vec<Value>],
) -> Result<(), StoreError> {
    if rows.is_empty() {
        return Ok(());
    }
    let one = format!("({})", vec!["?"; table.columns.len()].join(", "));
    let query = format!(
        "INSERT INTO \"{}\" ({}) VALUES {}",
        table.name,
        list(table),
        vec![one; rows.len()].join(", ")
    );
    let mut insert = sqlx::query(AssertSqlSafe(query));
    for value in rows.iter().flatten() {
        insert = match value {
            Value::Null => insert.bind(None::<String>),
            Value::Integer(number) => insert.bind(*number),
            Value::Real(number) => insert.bind(*number),
            Value::Text(text) => insert.bind(text.clone()),
            Value::Blob(bytes) => insert.bind(bytes.clone()),
        };
    }
    insert.execute(db).await?;
    Ok(())
}

/// Copies the database as it stands at one moment into a new file, while others write.
pub async fn copy_into(db: &mut SqliteConnection, file: &str) -> Result<(), StoreError> {
    // This connection writes nothing but the copy.
    sqlx::query("PRAGMA query_only = OFF").execute(&mut *db).await?;
    // Source: SQLite documentation, VACUUM INTO: the copy is a snapshot of one moment.
    sqlx::query("VACUUM INTO ?").bind(file).execute(db).await?;
    Ok(())
}
