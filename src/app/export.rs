//! The whole record as open files and back: a CSV file a table, the attachments, and a manifest
//! that says how long each is and what it hashes to.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Read as _, Write as _};
use std::path::Path;

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::{App, Failure};
use domain::time::Moment;
use store::transfer::{self, Stored, Table, Value};
use store::{Db, StoreError, files, schema};

const FORMAT: &str = "holdover export";
const FORMAT_VERSION: u32 = 1;
pub const MANIFEST: &str = "manifest.json";
const README: &str = "README.txt";
const FILES: &str = "files";

/// What stands in an export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    pub format: String,
    pub format_version: u32,
    /// The schema of the database that it was read from.
    pub schema: i64,
    pub made_at: String,
    pub tables: Vec<TableFile>,
    pub files: Vec<Attached>,
    /// SHA-256 over everything above.
    pub seal: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableFile {
    pub file: String,
    pub table: String,
    pub rows: u64,
    pub bytes: u64,
    pub sha256: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Attached {
    pub sha256: String,
    pub bytes: u64,
}

impl Manifest {
    fn sealed(mut self) -> Self {
        self.seal = self.worked_out_seal();
        self
    }

    fn worked_out_seal(&self) -> String {
        let mut hasher = Sha256::new();
        let head =
            format!("{} {} {} {}\n", self.format, self.format_version, self.schema, self.made_at);
        hasher.update(head);
        for one in &self.tables {
            let line =
                format!("{} {} {} {} {}\n", one.file, one.table, one.rows, one.bytes, one.sha256);
            hasher.update(line);
        }
        for one in &self.files {
            hasher.update(format!("{} {}\n", one.sha256, one.bytes));
        }
        hex(&hasher.finalize())
    }

    pub fn rows(&self) -> u64 {
        self.tables.iter().map(|table| table.rows).sum()
    }

    pub fn bytes(&self) -> u64 {
        let tables = self.tables.iter().map(|table| table.bytes);
        tables.chain(self.files.iter().map(|file| file.bytes)).sum()
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut hex, byte| {
        use std::fmt::Write as _;
        write!(hex, "{byte:02x}").expect("writing to a string succeeds");
        hex
    })
}

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
    empty_folder(folder)?;
    let mut apart = app.db.apart().await?;
    let mut db = sqlx::Connection::begin(&mut apart).await.map_err(StoreError::from)?;
    let schema = schema::version(&mut db).await?;
    let mut tables = Vec::new();
    for table in transfer::tables(&mut db).await? {
        progress(&table.file);
        let file = format!("{}.csv", table.file);
        let made = File::create_new(folder.join(&file)).map_err(StoreError::from)?;
        let out = Hashed { inner: BufWriter::new(made), hasher: Sha256::new(), bytes: 0 };
        let mut writer =
            csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        let heads = table.columns.iter().map(|column| column.name.as_str());
        writer.write_record(heads).map_err(csv_failed)?;
        let mut cells: Vec<String> = Vec::new();
        let rows = transfer::rows(&mut db, &table, &mut |row: &[Value]| {
            cells.clear();
            cells.extend(
                row.iter()
                    .zip(&table.columns)
                    .map(|(value, column)| written(value, column.may_be_null)),
            );
            writer.write_record(&cells).map_err(csv_failed)
        })
        .await?;
        let mut out = writer
            .into_inner()
            .map_err(|cause| StoreError::Files(io::Error::other(cause.to_string())))?;
        out.flush().map_err(StoreError::from)?;
        let sha256 = hex(&out.hasher.finalize());
        tables.push(TableFile { file, table: table.name, rows, bytes: out.bytes, sha256 });
    }
    let hashes = files::hashes(&mut db).await?;
    drop(db);
    progress(FILES);
    let files = attach(app, folder, hashes)?;
    fs::write(folder.join(README), about()).map_err(StoreError::from)?;
    let manifest = Manifest {
        format: FORMAT.to_owned(),
        format_version: FORMAT_VERSION,
        schema,
        made_at: domain::cells::Cell::show(&app.clock.now()),
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

fn attach(app: &App, folder: &Path, hashes: BTreeSet<String>) -> Result<Vec<Attached>, Failure> {
    let mut attached = Vec::new();
    if !hashes.is_empty() {
        fs::create_dir(folder.join(FILES)).map_err(StoreError::from)?;
    }
    for hash in hashes {
        let from = app.db.contents().path(&hash);
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
         Days are ISO 8601; moments are milliseconds since 1970-01-01 UTC; hashes hexadecimal.\r\n"
    )
}

/// What stands in front of text that could be taken for something else.
const GUARD: char = '\\';

fn is_guarded(first: char) -> bool {
    matches!(first, '=' | '+' | '-' | '@' | '\t' | '\r' | GUARD)
}

fn written(value: &Value, may_be_null: bool) -> String {
    match value {
        Value::Null => String::new(),
        Value::Integer(number) => number.to_string(),
        // The shortest text that is read back to the same number.
        Value::Real(number) => format!("{number:?}"),
        Value::Blob(bytes) => hex(bytes),
        Value::Text(text) if text.is_empty() && may_be_null => GUARD.to_string(),
        Value::Text(text) if text.starts_with(is_guarded) => format!("{GUARD}{text}"),
        Value::Text(text) => text.clone(),
    }
}

fn read_back(cell: &str, stored: Stored, may_be_null: bool) -> Result<Value, String> {
    if cell.is_empty() && (may_be_null || stored != Stored::Text) {
        return Ok(Value::Null);
    }
    match stored {
        Stored::Integer => {
            cell.parse().map(Value::Integer).map_err(|_| format!("“{cell}” is not a whole number"))
        }
        Stored::Real => {
            cell.parse().map(Value::Real).map_err(|_| format!("“{cell}” is not a number"))
        }
        Stored::Blob => bytes_of(cell).ok_or_else(|| format!("“{cell}” is not hexadecimal")),
        Stored::Text => Ok(Value::Text(cell.strip_prefix(GUARD).unwrap_or(cell).to_owned())),
    }
}

fn bytes_of(hex: &str) -> Option<Value> {
    if !hex.is_ascii() || !hex.len().is_multiple_of(2) {
        return None;
    }
    let pair = |at: usize| u8::from_str_radix(hex.get(at..at + 2)?, 16).ok();
    (0..hex.len()).step_by(2).map(pair).collect::<Option<Vec<u8>>>().map(Value::Blob)
}

/// Reads a manifest and holds every file against it. What is wrong is said file by file.
fn verified(folder: &Path) -> Result<Manifest, Failure> {
    let path = folder.join(MANIFEST);
    let text = fs::read_to_string(&path).map_err(|cause| {
        broken(format!(
            "{} cannot be read ({cause}). Name the folder that `holdover export` wrote; an export \
             that broke off has no manifest.",
            path.display()
        ))
    })?;
    let manifest: Manifest = serde_json::from_str(&text).map_err(|cause| {
        broken(format!("{MANIFEST} is truncated or was edited ({cause}). Export again."))
    })?;
    if manifest.format != FORMAT || manifest.format_version != FORMAT_VERSION {
        return Err(broken(format!(
            "{MANIFEST} says “{}” version {}; this program reads “{FORMAT}” version \
             {FORMAT_VERSION}.",
            manifest.format, manifest.format_version
        )));
    }
    let mut wrong = Vec::new();
    if manifest.seal != manifest.worked_out_seal() {
        wrong.push(format!("{MANIFEST} was edited after it was written"));
    }
    let tables = manifest.tables.iter().map(|one| (one.file.clone(), one.bytes, &one.sha256));
    let files = manifest
        .files
        .iter()
        .map(|one| (format!("{FILES}/{}", one.sha256), one.bytes, &one.sha256));
    for (name, bytes, sha256) in tables.chain(files) {
        match digest(&folder.join(&name)) {
            Err(cause) => wrong.push(format!("{name} cannot be read ({cause})")),
            Ok((there, _)) if there < bytes => {
                wrong.push(format!("{name} is truncated: {there} of {bytes} bytes"));
            }
            Ok((_, found)) if found != *sha256 => wrong.push(format!("{name} was edited")),
            Ok(_) => {}
        }
    }
    let known: BTreeSet<&str> = manifest.tables.iter().map(|one| one.file.as_str()).collect();
    for entry in fs::read_dir(folder).map_err(StoreError::from)? {
        let entry = entry.map_err(StoreError::from)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if Path::new(&name).extension().is_some_and(|end| end == "csv")
            && !known.contains(name.as_str())
        {
            wrong.push(format!("{name} is not in the manifest"));
        }
    }
    if wrong.is_empty() {
        return Ok(manifest);
    }
    Err(broken(format!("Nothing was restored. {}.", wrong.join("; "))))
}

/// Length and SHA-256 of a file.
fn digest(path: &Path) -> io::Result<(u64, String)> {
    let mut file = File::open(path)?;
    let (mut hasher, mut bytes, mut step) = (Sha256::new(), 0_u64, vec![0; 64 * 1024]);
    loop {
        match file.read(&mut step)? {
            0 => return Ok((bytes, hex(&hasher.finalize()))),
            read => {
                hasher.update(&step[..read]);
                bytes += read as u64;
            }
        }
    }
}

/// Reads an export into an empty data directory. Where anything is wrong, the directory stays empty.
pub async fn restore(
    folder: &Path,
    data: &Path,
    database: &str,
    progress: &mut (impl FnMut(&str) + Send),
) -> Result<Manifest, Failure> {
    empty_folder(data)?;
    let manifest = verified(folder)?;
    if manifest.schema > schema::newest() {
        return Err(broken(format!(
            "The export has schema {} and this program knows schema {}; restore it with the newer \
             program.",
            manifest.schema,
            schema::newest()
        )));
    }
    let building =
        tempfile::Builder::new().prefix("restoring-").tempdir_in(data).map_err(StoreError::from)?;
    let db = Db::open(&building.path().join(database)).await?;
    let filled = fill(&db, folder, &manifest, progress).await;
    let contents = db.contents().clone();
    db.close().await;
    filled?;
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

async fn fill(
    db: &Db,
    folder: &Path,
    manifest: &Manifest,
    progress: &mut (impl FnMut(&str) + Send),
) -> Result<(), Failure> {
    let mut tx = db.begin().await?;
    transfer::defer_references(&mut tx).await?;
    let there = transfer::tables(&mut tx).await?;
    for table in there.iter().rev().filter(|table| table.name != "change") {
        transfer::empty(&mut tx, table).await?;
    }
    for one in &manifest.tables {
        progress(&one.file);
        let table = there.iter().find(|table| table.name == one.table).ok_or_else(|| {
            broken(format!("Nothing was restored. {} is of no table of this program.", one.file))
        })?;
        let rows = fill_table(&mut tx, &folder.join(&one.file), table, &one.file).await?;
        if rows != one.rows {
            return Err(broken(format!(
                "Nothing was restored. {} holds {rows} rows and the manifest says {}.",
                one.file, one.rows
            )));
        }
    }
    tx.commit().await.map_err(StoreError::from)?;
    let dangling = schema::dangling(&mut *db.reader().await?).await?;
    match dangling.first() {
        None => Ok(()),
        Some(first) => Err(broken(format!("Nothing was restored. {first}."))),
    }
}

/// Fills one table; a column that the export lacks keeps its default.
async fn fill_table(
    db: &mut sqlx::SqliteConnection,
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
    sqlx::Connection::close(copy).await.map_err(StoreError::from)?;
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_comes_back_as_it_was() {
        for (value, stored, may_be_null) in [
            (Value::Null, Stored::Text, true),
            (Value::Text(String::new()), Stored::Text, true),
            (Value::Text(String::new()), Stored::Text, false),
            (Value::Text("=1+1".to_owned()), Stored::Text, true),
            (Value::Text("-5".to_owned()), Stored::Text, false),
            (Value::Text("\\".to_owned()), Stored::Text, true),
            (Value::Text("\\=a".to_owned()), Stored::Text, true),
            (Value::Text("a,\"b\"\r\nc".to_owned()), Stored::Text, true),
            (Value::Integer(-9_223_372_036_854_775_808), Stored::Integer, false),
            (Value::Real(0.1 + 0.2), Stored::Real, true),
            (Value::Real(-1e-300), Stored::Real, true),
            (Value::Blob(vec![0, 255, 16]), Stored::Blob, false),
        ] {
            let cell = written(&value, may_be_null);
            assert_eq!(read_back(&cell, stored, may_be_null), Ok(value), "{cell:?}");
        }
        assert!(read_back("12x", Stored::Integer, true).is_err());
        assert!(read_back("abc", Stored::Blob, true).is_err());
    }
}
