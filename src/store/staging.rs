//! A large change that is worked out on a copy of the database and then put into the database in one
//! short transaction. Triggers on the copy note every row that is touched and how it stood before;
//! what others saved meanwhile is found by comparing, and then nothing is put in.

#![expect(
    clippy::disallowed_methods,
    reason = "the tables are told by the schema of the file, which no macro knows"
)]

use sqlx::{AssertSqlSafe, SqliteConnection};

use crate::changes::{self, Change};
use crate::transfer::{self, Table};
use crate::{StoreError, bulk};
use domain::kinds::Kind;
use domain::time::Moment;

/// The name under which the copy stands beside the database.
const ASIDE: &str = "aside";
/// So many rows are put in at once.
const ROWS_AT_ONCE: i64 = 2_000;
/// The log: its entries follow from one another, so they are chained again.
const LOG: &str = "change";
/// Moves with every commit; whoever commits moves it.
const VERSION: &str = "data_version";
/// Tables whose rows are numbered by the register.
const BY_ENTRY: &[&str] = &["register", "standing"];
/// Indexes of words, by the entry in the register, with the tables in which they keep their rows.
const WORDS: &[(&str, &str)] =
    &[("task_words", "task_words_content"), ("event_words", "event_words_content")];

/// What is noted on a copy.
#[derive(Debug, Clone)]
pub struct Staging {
    tables: Vec<Noted>,
    /// The last entry of the register, and of the log, when the copy was made.
    entry: i64,
    seq: i64,
}

/// A table whose touched rows are noted.
#[derive(Debug, Clone)]
struct Noted {
    name: String,
    columns: Vec<String>,
    keys: Vec<String>,
}

/// What became of a staged change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Put {
    /// All of it is in, with so many entries of the log; what others logged since the copy was made
    /// begins after this entry.
    In { since: i64, entries: u64 },
    /// Others changed this meanwhile. What was put in has to be undone.
    Changed(String),
    /// It was not to go on: so many of so many rows were in. They have to be undone.
    Stopped { rows: i64, of: i64 },
}

impl Staging {
    /// Begins to note, on a copy.
    pub async fn begin(copy: &mut SqliteConnection) -> Result<Self, StoreError> {
        // A row that another takes the place of is a row that is removed.
        sqlx::query("PRAGMA recursive_triggers = ON").execute(&mut *copy).await?;
        let mut tables = Vec::new();
        for table in transfer::tables(copy).await? {
            let is_words = WORDS.iter().any(|(index, _)| *index == table.name);
            if is_words || table.name == VERSION {
                continue;
            }
            tables.push(Noted::of(copy, &table).await?);
        }
        for (_, rows) in WORDS {
            let (name, keys) = ((*rows).to_owned(), vec!["id".to_owned()]);
            tables.push(Noted { name, columns: keys.clone(), keys });
        }
        for table in &tables {
            sqlx::raw_sql(AssertSqlSafe(table.notes())).execute(&mut *copy).await?;
        }
        let entry = last_entry(copy, "main").await?;
        let seq = changes::last(copy).await?;
        Ok(Self { tables, entry, seq })
    }

    /// Puts everything that was touched on the copy, which stands beside the database, into the
    /// database. `goes_on` is asked before every part, with the rows that are in and how many there
    /// are.
    pub async fn put_in(
        &self,
        db: &mut SqliteConnection,
        mut goes_on: impl FnMut(i64, i64) -> bool + Send,
    ) -> Result<Put, StoreError> {
        transfer::defer_references(db).await?;
        let is_alone = changes::last(db).await? == self.seq;
        for table in &self.tables {
            if let Some(what) = table.changed(db, self.entry).await? {
                return Ok(Put::Changed(what));
            }
            if !is_alone && let Some(what) = table.named(db, self.seq).await? {
                return Ok(Put::Changed(what));
            }
        }
        let shift = last_entry(db, "main").await? - self.entry;
        let (mut rows, mut of) = (0, 0);
        for table in &self.tables {
            of += count(db, &format!("SELECT COUNT(*) FROM {}", table.noted())).await?;
        }
        for table in &self.tables {
            let last = format!("SELECT COALESCE(MAX(rowid), 0) FROM {}", table.noted());
            let most = count(db, &last).await?;
            for after in (0..most).step_by(usize::try_from(ROWS_AT_ONCE).unwrap_or(1)) {
                if !goes_on(rows, of) {
                    return Ok(Put::Stopped { rows, of });
                }
                let part = (after, after + ROWS_AT_ONCE);
                match table.put_in(db, part, self.entry, shift).await {
                    Err(StoreError::Database(sqlx::Error::Database(cause)))
                        if cause.is_unique_violation() =>
                    {
                        return Ok(Put::Changed(table.name.replace('_', " ")));
                    }
                    put => put?,
                }
                rows = of.min(rows + ROWS_AT_ONCE.min(most - after));
            }
        }
        let entries = count(db, &format!("SELECT COUNT(*) FROM {ASIDE}.\"noted_{LOG}\"")).await?;
        Ok(Put::In { since: self.seq, entries: entries.unsigned_abs() })
    }
}

impl Noted {
    async fn of(db: &mut SqliteConnection, table: &Table) -> Result<Self, StoreError> {
        let keys: Vec<(String,)> =
            sqlx::query_as("SELECT name FROM pragma_table_xinfo(?) WHERE pk > 0 ORDER BY pk")
                .bind(&table.name)
                .fetch_all(db)
                .await?;
        Ok(Self {
            name: table.name.clone(),
            columns: table.columns.iter().map(|column| column.name.clone()).collect(),
            keys: keys.into_iter().map(|(name,)| name).collect(),
        })
    }

    /// Where the touched rows are noted, seen from the database.
    fn noted(&self) -> String {
        format!("{ASIDE}.\"noted_{}\"", self.name)
    }

    /// The notes of this table and the triggers that write them: the key of every row that is
    /// touched, once, and all of it where it was there before.
    fn notes(&self) -> String {
        let Self { name, columns, keys } = self;
        let notes = format!("noted_{name}");
        let is_new = |row: &str| {
            format!(
                "NOT EXISTS (SELECT 1 FROM \"{notes}\" AS noted WHERE {})",
                same(keys, "noted", row)
            )
        };
        let (all, key) = (list("", columns), list("", keys));
        let (old, old_is_new, new_is_new) = (list("OLD.", columns), is_new("OLD"), is_new("NEW"));
        let new_key = list("NEW.", keys);
        let is_moved = same(keys, "OLD", "NEW");
        format!(
            "CREATE TABLE \"{notes}\" ({all}, was_there, UNIQUE ({key}));
             CREATE TRIGGER \"{notes}_new\" AFTER INSERT ON \"{name}\" WHEN {new_is_new} BEGIN
                 INSERT INTO \"{notes}\" ({key}, was_there) VALUES ({new_key}, 0); END;
             CREATE TRIGGER \"{notes}_changed\" AFTER UPDATE ON \"{name}\" WHEN {old_is_new} BEGIN
                 INSERT INTO \"{notes}\" ({all}, was_there) VALUES ({old}, 1); END;
             CREATE TRIGGER \"{notes}_moved\" AFTER UPDATE ON \"{name}\"
                 WHEN NOT ({is_moved}) AND {new_is_new} BEGIN
                 INSERT INTO \"{notes}\" ({key}, was_there) VALUES ({new_key}, 0); END;
             CREATE TRIGGER \"{notes}_gone\" AFTER DELETE ON \"{name}\" WHEN {old_is_new} BEGIN
                 INSERT INTO \"{notes}\" ({all}, was_there) VALUES ({old}, 1); END;"
        )
    }

    fn is_words(&self) -> bool {
        WORDS.iter().any(|(_, rows)| *rows == self.name)
    }

    fn is_by_entry(&self) -> bool {
        BY_ENTRY.contains(&self.name.as_str())
    }

    /// A touched row that stands otherwise in the database than it did when the copy was made.
    async fn changed(
        &self,
        db: &mut SqliteConnection,
        entry: i64,
    ) -> Result<Option<String>, StoreError> {
        let Self { name, columns, keys } = self;
        if self.is_words() || name == LOG {
            return Ok(None);
        }
        // New rows that are numbered get their numbers when they are put in.
        let numbered =
            if self.is_by_entry() { format!("AND noted.entry <= {entry}") } else { String::new() };
        let differs: Vec<String> = columns
            .iter()
            .filter(|column| !keys.contains(column))
            .map(|column| format!("there.\"{column}\" IS NOT noted.\"{column}\""))
            .collect();
        let differs = [vec!["FALSE".to_owned()], differs].concat().join(" OR ");
        let first = &keys[0];
        let query = format!(
            "SELECT noted.\"{first}\" || '' FROM {notes} AS noted
             LEFT JOIN main.\"{name}\" AS there ON {same}
             WHERE CASE WHEN noted.was_there THEN there.\"{first}\" IS NULL OR {differs}
                 ELSE there.\"{first}\" IS NOT NULL END {numbered} LIMIT 1",
            notes = self.noted(),
            same = same(keys, "there", "noted"),
        );
        let found: Option<(String,)> =
            sqlx::query_as(AssertSqlSafe(query)).fetch_optional(&mut *db).await?;
        if found.is_none() && name == "register" {
            return self.made(db, entry).await;
        }
        Ok(found.map(|(key,)| format!("{} {key}", name.replace('_', " "))))
    }

    /// A record that is new on the copy and that others made meanwhile.
    async fn made(
        &self,
        db: &mut SqliteConnection,
        entry: i64,
    ) -> Result<Option<String>, StoreError> {
        let query = format!(
            "SELECT there.kind || ' ' || there.code FROM {} AS noted
             CROSS JOIN {ASIDE}.register AS staged ON staged.entry = noted.entry
             JOIN main.register AS there ON there.kind = staged.kind AND there.code = staged.code
             WHERE noted.entry > {entry} LIMIT 1",
            self.noted()
        );
        Ok(sqlx::query_scalar(AssertSqlSafe(query)).fetch_optional(db).await?)
    }

    /// A record that a touched row names and that others changed since.
    async fn named(
        &self,
        db: &mut SqliteConnection,
        since: i64,
    ) -> Result<Option<String>, StoreError> {
        let Self { name, keys, .. } = self;
        let references: Vec<(String, String)> =
            sqlx::query_as("SELECT \"table\", \"from\" FROM pragma_foreign_key_list(?)")
                .bind(name)
                .fetch_all(&mut *db)
                .await?;
        for (table, column) in references {
            let Some(kind) = Kind::ALL.iter().find(|kind| transfer::is_table_of(**kind, &table))
            else {
                continue;
            };
            let query = format!(
                "WITH theirs AS MATERIALIZED
                     (SELECT DISTINCT code FROM main.change WHERE seq > {since} AND kind = ?)
                 SELECT theirs.code FROM {notes} AS noted
                 CROSS JOIN {ASIDE}.\"{name}\" AS staged ON {same}
                 JOIN theirs ON theirs.code = staged.\"{column}\" LIMIT 1",
                notes = self.noted(),
                same = same(keys, "staged", "noted"),
            );
            let found: Option<(String,)> = sqlx::query_as(AssertSqlSafe(query))
                .bind(kind.word())
                .fetch_optional(&mut *db)
                .await?;
            if let Some((code,)) = found {
                return Ok(Some(format!("{} {code}", kind.word())));
            }
        }
        Ok(None)
    }

    /// Puts the rows that were touched after the first and up to the second of `part` into the
    /// database, and removes those that are gone on the copy.
    async fn put_in(
        &self,
        db: &mut SqliteConnection,
        (after, to): (i64, i64),
        entry: i64,
        shift: i64,
    ) -> Result<(), StoreError> {
        let Self { name, columns, keys } = self;
        let part = format!("noted.rowid > {after} AND noted.rowid <= {to}");
        if name == LOG {
            return self.chain(db, &part).await;
        }
        if let Some((index, _)) = WORDS.iter().find(|(_, rows)| *rows == name) {
            return self.put_words(db, index, &part, entry, shift).await;
        }
        let notes = self.noted();
        let same = same(keys, "staged", "noted");
        let gone = format!(
            "DELETE FROM main.\"{name}\" WHERE ({}) IN (SELECT {} FROM {notes} AS noted
                 WHERE {part} AND noted.was_there
                 AND NOT EXISTS (SELECT 1 FROM {ASIDE}.\"{name}\" AS staged WHERE {same}))",
            list("", keys),
            list("noted.", keys)
        );
        sqlx::query(AssertSqlSafe(gone)).execute(&mut *db).await?;
        let values: Vec<String> = columns
            .iter()
            .map(|column| match column.as_str() {
                "entry" if self.is_by_entry() => shifted("staged.entry", entry, shift),
                _ => format!("staged.\"{column}\""),
            })
            .collect();
        let others: Vec<String> = columns
            .iter()
            .filter(|column| !keys.contains(column))
            .map(|column| format!("\"{column}\" = excluded.\"{column}\""))
            .collect();
        let then = if others.is_empty() {
            "NOTHING".to_owned()
        } else {
            format!("UPDATE SET {}", others.join(", "))
        };
        let there = format!(
            "INSERT INTO main.\"{name}\" ({}) SELECT {} FROM {notes} AS noted
                 CROSS JOIN {ASIDE}.\"{name}\" AS staged ON {same}
                 WHERE {part} ORDER BY noted.rowid
             ON CONFLICT ({}) DO {then}",
            list("", columns),
            values.join(", "),
            list("", keys)
        );
        sqlx::query(AssertSqlSafe(there)).execute(db).await?;
        Ok(())
    }

    /// Puts words in under the numbers that their records have in the database.
    async fn put_words(
        &self,
        db: &mut SqliteConnection,
        index: &str,
        part: &str,
        entry: i64,
        shift: i64,
    ) -> Result<(), StoreError> {
        let notes = self.noted();
        let number = shifted("noted.id", entry, shift);
        let gone = format!(
            "DELETE FROM main.\"{index}\" WHERE rowid IN
                 (SELECT {number} FROM {notes} AS noted WHERE {part})"
        );
        sqlx::query(AssertSqlSafe(gone)).execute(&mut *db).await?;
        let columns: Vec<(String,)> =
            sqlx::query_as("SELECT name FROM pragma_table_xinfo(?) WHERE hidden = 0 ORDER BY cid")
                .bind(index)
                .fetch_all(&mut *db)
                .await?;
        let columns: Vec<String> = columns.into_iter().map(|(name,)| name).collect();
        let there = format!(
            "INSERT INTO main.\"{index}\" (rowid, {}) SELECT {number}, {}
             FROM {notes} AS noted CROSS JOIN {ASIDE}.\"{index}\" AS staged ON staged.rowid = noted.id
             WHERE {part} ORDER BY noted.rowid",
            list("", &columns),
            list("staged.", &columns)
        );
        sqlx::query(AssertSqlSafe(there)).execute(db).await?;
        Ok(())
    }

    /// Appends the entries of the log to the log as it stands now.
    async fn chain(&self, db: &mut SqliteConnection, part: &str) -> Result<(), StoreError> {
        let query = format!(
            "SELECT staged.seq, staged.at, staged.who, staged.kind, staged.code, staged.action,
                 staged.before, staged.after, staged.why
             FROM {} AS noted CROSS JOIN {ASIDE}.\"{LOG}\" AS staged ON staged.seq = noted.seq
             WHERE {part} ORDER BY staged.seq",
            self.noted()
        );
        let entries: Vec<Entry> = sqlx::query_as(AssertSqlSafe(query)).fetch_all(&mut *db).await?;
        let mut entries: Vec<Change> = entries.into_iter().map(entry_of).collect();
        changes::chain(db, &mut entries).await?;
        bulk::append(db, &entries).await
    }
}

type Text = Option<String>;
type Entry = (i64, Moment, String, Kind, String, String, Text, Text, Text);

fn entry_of((seq, at, who, kind, code, action, before, after, why): Entry) -> Change {
    let (previous, hash) = (Vec::new(), Vec::new());
    Change { seq, at, who, kind, code, action, before, after, why, previous, hash }
}

/// The number of a row in the database: those that were new on the copy follow the last there.
fn shifted(number: &str, entry: i64, shift: i64) -> String {
    format!("{number} + CASE WHEN {number} > {entry} THEN {shift} ELSE 0 END")
}

fn list(before: &str, columns: &[String]) -> String {
    let names: Vec<String> = columns.iter().map(|name| format!("{before}\"{name}\"")).collect();
    names.join(", ")
}

fn same(keys: &[String], one: &str, other: &str) -> String {
    let each: Vec<String> =
        keys.iter().map(|key| format!("{one}.\"{key}\" = {other}.\"{key}\"")).collect();
    each.join(" AND ")
}

async fn last_entry(db: &mut SqliteConnection, schema: &str) -> Result<i64, StoreError> {
    let query = format!("SELECT seq FROM {schema}.sqlite_sequence WHERE name = 'register'");
    let last: Option<(i64,)> = sqlx::query_as(AssertSqlSafe(query)).fetch_optional(db).await?;
    Ok(last.map_or(0, |(seq,)| seq))
}

async fn count(db: &mut SqliteConnection, query: &str) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar(AssertSqlSafe(query.to_owned())).fetch_one(db).await?)
}
