//! The whole record as open files and back: a CSV file a table, the attachments, and a manifest
//! that says how long each is and what it hashes to.

mod cells;
mod manifest;

use async_recursion::async_recursion as boxed;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Write as _};
use std::path::Path;

use sha2::{Digest as _, Sha256};
use sqlx::{Connection as _, SqliteConnection};

use self::cells::{hex, read_back, written};
pub use self::manifest::{Attached, Manifest, TableFile};
use self::manifest::{FORMAT, FORMAT_VERSION, verified};
use crate::{App, Failure};
use domain::time::Moment;
use store::transfer::{self, Table, Value};
use store::{Contents, Db, StoreError, files, schema};

pub const MANIFEST: &str = "manifest.json";
const README: &str = "README.txt";
const FILES: &str = "files";

fn broken(words: impl Into<String>) -> Failure {
    Failure::Refused(words.into())
}

/// Refuses a folder that holds something; makes one that is not there.
fn empty_folder(folder: &Path) -> Result<(), Failure> {
    let shown = folder.display();
    match fs::read_dir(folder) {
        Ok(mut entries) => match entries.next() {
            Some(_) => Err(broken(format!(
                "{shown} holds something already. Choose a folder that is empty or not there yet."
            ))),
            None => Ok(()),
        },
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => fs::create_dir_all(folder)
            .map_err(|cause| broken(format!("{shown} cannot be made: {cause}."))),
        Err(cause) => Err(broken(format!("{shown} cannot be read: {cause}."))),
    }
}

/// Counts and hashes what is written through it.
struct Hashed<W> {
    inner: W,
    hasher: Sha256,
    bytes: u64,
}

impl<W: io::Write> io::Write for Hashed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.inner.write(bytes)?;
        self.hasher.update(&bytes[..written]);
        self.bytes += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

fn csv_failed(cause: csv::Error) -> StoreError {
    StoreError::Files(io::Error::other(cause))
}

/// Writes the whole record into an empty folder, as it stands at one moment.
pub async fn export(
    app: &App,
    folder: &Path,
    progress: &mut (impl FnMut(&str) + Send),
) -> Result<Manifest, Failure> {
    let mut db = app.db.apart().await?;
    export_of(&mut db, app.db.contents(), folder, app.clock.now(), progress).await
}

/// The same of a database of any schema that this program knows.
pub async fn export_of(
    db: &mut SqliteConnection,
    contents: &Contents,
    folder: &Path,
    now: Moment,
    progress: &mut (impl FnMut(&str) + Send),
) -> Result<Manifest, Failure> {
    empty_folder(folder)?;
    let mut db = db.begin().await.map_err(StoreError::from)?;
    let schema = schema::version(&mut db).await?;
    let mut tables = Vec::new();
    for table in transfer::tables(&mut db).await? {
        progress(&table.file);
        tables.push(export_table(&mut db, folder, table).await?);
    }
    let hashes = files::hashes(&mut db).await?;
    drop(db);
    progress(FILES);
    let files = attach(contents, folder, hashes)?;
    fs::write(folder.join(README), about()).map_err(StoreError::from)?;
    let manifest = Manifest {
        format: FORMAT.to_owned(),
        format_version: FORMAT_VERSION,
        schema,
        made_at: domain::cells::Cell::show(&now),
        tables,
        files,
        seal: String::new(),
    }
    .sealed();
    let text = serde_json::to_string_pretty(&manifest).map_err(io::Error::from);
    let text = text.map_err(StoreError::from)?;
    // The manifest comes last: an export that broke off has none.
    fs::write(folder.join(MANIFEST), text + "\n").map_err(StoreError::from)?;
    Ok(manifest)
}

async fn export_table(
    db: &mut SqliteConnection,
    folder: &Path,
    table: Table,
) -> Result<TableFile, Failure> {
    let file = format!("{}.csv", table.file);
    let made = File::create_new(folder.join(&file)).map_err(StoreError::from)?;
    let out = Hashed { inner: BufWriter::new(made), hasher: Sha256::new(), bytes: 0 };
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    let heads = table.columns.iter().map(|column| column.name.as_str());
    writer.write_record(heads).map_err(csv_failed)?;
    let mut cells: Vec<String> = Vec::new();
    let rows = transfer::rows(db, &table, &mut |row: &[Value]| {
        cells.clear();
        let columns = row.iter().zip(&table.columns);
        cells.extend(columns.map(|(value, column)| written(value, column.may_be_null)));
        writer.write_record(&cells).map_err(csv_failed)
    })
    .await?;
    let mut out = writer
        .into_inner()
        .map_err(|cause| StoreError::Files(io::Error::other(cause.to_string())))?;
    out.flush().map_err(StoreError::from)?;
    let sha256 = hex(&out.hasher.finalize());
    Ok(TableFile { file, table: table.name, rows, bytes: out.bytes, sha256 })
}

fn attach(
    contents: &Contents,
    folder: &Path,
    hashes: BTreeSet<String>,
) -> Result<Vec<Attached>, Failure> {
    let mut attached = Vec::new();
    if !hashes.is_empty() {
        fs::create_dir(folder.join(FILES)).map_err(StoreError::from)?;
    }
    for hash in hashes {
        let from = contents.path(&hash);
        let bytes = fs::copy(&from, folder.join(FILES).join(&hash)).map_err(|cause| {
            broken(format!(
                "The attachment {hash} cannot be read ({cause}). Run `holdover check`, which names \
                 the record that it belongs to."
            ))
        })?;
        attached.push(Attached { sha256: hash, bytes });
    }
    Ok(attached)
}

fn about() -> String {
    format!(
        "An export of Holdover, for other programs and for `holdover restore`.\r\n\r\n\
         One CSV file a table (RFC 4180, UTF-8, first line: columns), {FILES}/ with the\r\n\
         attachments under their SHA-256, {MANIFEST} with rows, bytes and SHA-256 of each.\r\n\
         An empty cell is unknown; where a column cannot be unknown, it is an empty text.\r\n\
         A backslash stands before a first character that a spreadsheet would take for a\r\n\
         formula, before a first backslash, and alone for an empty text that is not unknown.\r\n\
         Days are ISO 8601; moments are milliseconds since 1970-01-01 UTC; hashes hexadecimal.\r\n\r\n\
         {}\r\n",
        domain::caution::CAUTION
    )
}

/// Reads an export into an empty data directory: its rows at the schema that they had, then the steps
/// to the schema of this program. Where anything is wrong, the directory stays empty.
pub async fn restore(
    folder: &Path,
    data: &Path,
    database: &str,
    progress: &mut (impl FnMut(&str) + Send),
) -> Result<Manifest, Failure> {
    empty_folder(data)?;
    let manifest = verified(folder)?;
    refuse_unknown(manifest.schema)?;
    let building =
        tempfile::Builder::new().prefix("restoring-").tempdir_in(data).map_err(StoreError::from)?;
    let file = building.path().join(database);
    let mut blank = transfer::blank(&file, manifest.schema).await?;
    let filled = fill(&mut blank, folder, &manifest, progress).await;
    let closed = blank.close().await.map_err(StoreError::from);
    filled?;
    closed?;
    File::open(&file).and_then(|file| file.sync_all()).map_err(StoreError::from)?;
    let db = Db::open(&file).await?;
    let whole = refuse_dangling(&db).await;
    let contents = db.contents().clone();
    db.close().await;
    whole?;
    for one in &manifest.files {
        progress(FILES);
        let mut draft = contents.draft().map_err(StoreError::from)?;
        let mut from =
            File::open(folder.join(FILES).join(&one.sha256)).map_err(StoreError::from)?;
        io::copy(&mut from, &mut draft).map_err(StoreError::from)?;
        contents.keep(draft).map_err(StoreError::from)?;
    }
    // The database comes last, so that a directory with one is whole.
    let moved = || -> io::Result<()> {
        if building.path().join(FILES).exists() {
            fs::rename(building.path().join(FILES), data.join(FILES))?;
        }
        let log = format!("{database}-wal");
        if building.path().join(&log).exists() {
            fs::rename(building.path().join(&log), data.join(&log))?;
        }
        fs::rename(building.path().join(database), data.join(database))
    };
    moved().map_err(StoreError::from)?;
    Ok(manifest)
}

/// Refuses an export of a schema that this program has no step of: one of a newer program.
fn refuse_unknown(schema: i64) -> Result<(), Failure> {
    if schema::knows(schema) {
        return Ok(());
    }
    let advice = if schema > schema::newest() {
        "restore it with the newer program that wrote it"
    } else {
        "restore it with the program that wrote it"
    };
    Err(broken(format!(
        "Nothing was restored: the export has schema {schema} and this program knows schemas up to \
         {}; {advice}.",
        schema::newest()
    )))
}

async fn refuse_dangling(db: &Db) -> Result<(), Failure> {
    let dangling = schema::dangling(&mut *db.reader().await?).await?;
    match dangling.first() {
        None => Ok(()),
        Some(first) => Err(broken(format!("Nothing was restored. {first}."))),
    }
}

/// Fills a new database with the rows of an export of its schema.
async fn fill(
    db: &mut SqliteConnection,
    folder: &Path,
    manifest: &Manifest,
    progress: &mut (impl FnMut(&str) + Send),
) -> Result<(), Failure> {
    let mut tx = db.begin().await.map_err(StoreError::from)?;
    transfer::defer_references(&mut tx).await?;
    let there = transfer::tables(&mut tx).await?;
    for table in there.iter().rev().filter(|table| table.name != "change") {
        transfer::empty(&mut tx, table).await?;
    }
    for one in &manifest.tables {
        progress(&one.file);
        let table = there.iter().find(|table| table.name == one.table).ok_or_else(|| {
            broken(format!(
                "Nothing was restored. {} is of no table of schema {}.",
                one.file, manifest.schema
            ))
        })?;
        let rows = fill_table(&mut tx, &folder.join(&one.file), table, &one.file).await?;
        if rows != one.rows {
            return Err(broken(format!(
                "Nothing was restored. {} holds {rows} rows and the manifest says {}.",
                one.file, one.rows
            )));
        }
    }
    Ok(tx.commit().await.map_err(StoreError::from)?)
}

/// Fills one table; a column that the export lacks keeps its default.
async fn fill_table(
    db: &mut SqliteConnection,
    path: &Path,
    table: &Table,
    name: &str,
) -> Result<u64, Failure> {
    let wrong = |line: u64, why: String| {
        broken(format!("Nothing was restored. {name}, row {line}: {why}."))
    };
    let file = BufReader::new(File::open(path).map_err(StoreError::from)?);
    let mut reader = csv::Reader::from_reader(file);
    let heads = reader.headers().map_err(|cause| wrong(1, cause.to_string()))?.clone();
    let mut columns = Vec::new();
    for head in &heads {
        let column = table.columns.iter().find(|column| column.name == head);
        columns
            .push(column.cloned().ok_or_else(|| wrong(1, format!("there is no column “{head}”")))?);
    }
    let table = Table { columns, ..table.clone() };
    let most = transfer::at_once(&table);
    let (mut count, mut batch) = (0, Vec::with_capacity(most));
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).map_err(|cause| wrong(count + 2, cause.to_string()))? {
        count += 1;
        let row = record
            .iter()
            .zip(&table.columns)
            .map(|(cell, column)| read_back(cell, column.stored, column.may_be_null))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|why| wrong(count + 1, why))?;
        batch.push(row);
        if batch.len() == most {
            transfer::write(db, &table, &batch).await?;
            batch.clear();
        }
    }
    transfer::write(db, &table, &batch).await?;
    Ok(count)
}

/// What a backup wrote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    pub bytes: u64,
    pub files: u64,
    pub at: Moment,
}

/// Copies the database as it stands at one moment, while the service runs, and the attachments that
/// it names into a folder beside the copy.
#[boxed]
pub async fn backup(app: &App, file: &Path, attachments: &Path) -> Result<Backup, Failure> {
    let shown = file.display();
    for there in [file, attachments] {
        if there.exists() {
            return Err(broken(format!(
                "{} is there already. Choose another name, or remove it first.",
                there.display()
            )));
        }
    }
    let name = file.to_str().ok_or_else(|| broken(format!("{shown} is not a name in UTF-8.")))?;
    let mut apart = app.db.apart().await?;
    let copied = transfer::copy_into(&mut apart, name).await;
    let at = app.clock.now();
    if let Err(cause) = copied {
        // A copy that broke off is none.
        let _ = fs::remove_file(file);
        return Err(cause.into());
    }
    let options = sqlx::sqlite::SqliteConnectOptions::new().filename(file).read_only(true);
    let mut copy = sqlx::ConnectOptions::connect(&options).await.map_err(StoreError::from)?;
    let hashes = files::hashes(&mut copy).await?;
    copy.close().await.map_err(StoreError::from)?;
    if !hashes.is_empty() {
        fs::create_dir_all(attachments).map_err(StoreError::from)?;
    }
    for hash in &hashes {
        fs::copy(app.db.contents().path(hash), attachments.join(hash)).map_err(StoreError::from)?;
    }
    let written = File::open(file).and_then(|file| {
        file.sync_all()?;
        file.metadata()
    });
    let bytes = written.map_err(StoreError::from)?.len();
    Ok(Backup { bytes, files: hashes.len() as u64, at })
}
