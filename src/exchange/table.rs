//! Reads a table as other people's tools write it: any common encoding, separator and line end,
//! with blank, short and over-long rows. A file is read as a stream, whatever its size: once to
//! look it over, then again for its rows.

use std::collections::{HashMap, VecDeque};
use std::io::{Read, Seek};
use std::sync::atomic::{AtomicBool, Ordering};

use crate::encoding::{How, guess};
use crate::rows::{Rows, filled};
use crate::separator;
use crate::xlsx::{Sheet, WorkbookError};
use domain::bounds::{MAX_TABLE_COLUMNS, MAX_TABLE_ROW_BYTES, MAX_TABLE_ROWS};
use domain::words::plain;

#[cfg(test)]
mod tests;

/// What a file holds, as far as one look over it tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Survey {
    pub heads: Vec<String>,
    /// Rows under the heads, bad ones too.
    pub rows: u64,
    /// Rows that cannot be taken, because they hold text beyond the last head.
    pub bad_rows: u64,
    /// The first of them.
    pub bad: Vec<BadRow>,
    /// What was noticed on the way, in sentences for the import report.
    pub notes: Vec<String>,
    pub shape: Shape,
}

/// How the rows of one file are found and put under their heads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shape {
    how: How,
    separator: u8,
    /// Bytes of text before the first row.
    skipped: usize,
    /// Titles and the heads themselves.
    rows_above: usize,
    /// One for each column of the file, also for those without a head.
    heads: Vec<String>,
    /// Columns without a head that hold nothing, by their index.
    unused: Vec<usize>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The line of the file in which the row begins, from 1.
    pub line: u64,
    /// Trimmed, and as many as there are heads.
    pub cells: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRow {
    pub line: u64,
    pub reason: String,
}

/// Why a file cannot be read as a table; each says what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    #[error("The file is empty. Give a table whose first row holds the heads.")]
    Empty,
    #[error("This is {what}, not a text table. Save the sheet as CSV (UTF-8) and give that file.")]
    NotText { what: &'static str },
    #[error(
        "Two columns have the head “{head}” (columns {first} and {second}). Rename or delete one \
         of them and try again."
    )]
    SameHead { head: String, first: usize, second: usize },
    #[error(
        "A double quote opens in line {line} and never closes. Close it, or double every quote \
         that belongs to the text, and try again."
    )]
    OpenQuote { line: u64 },
    #[error("Line {line} cannot be read: {why}. Correct that line and try again.")]
    Unreadable { line: u64, why: String },
    #[error(
        "The row in line {line} has more than {MAX_TABLE_COLUMNS} cells, and a table has at most \
         {MAX_TABLE_COLUMNS} columns. Leave out the columns that are not needed and try again."
    )]
    TooManyColumns { line: u64 },
    #[error(
        "The row in line {line} is longer than {} kB, the most that one row may hold. Look whether \
         a closing quote is missing there, or shorten its cells, and try again.",
        MAX_TABLE_ROW_BYTES / 1_000
    )]
    LongRow { line: u64 },
    #[error(
        "The table has more than {MAX_TABLE_ROWS} rows, the most for one import. Split it \
         into tables of at most {MAX_TABLE_ROWS} rows and send one after the other."
    )]
    TooManyRows,
    #[error("Reading the table was stopped, and nothing was changed.")]
    Stopped,
    #[error("{0}")]
    Workbook(#[from] WorkbookError),
    #[error("The file could not be read from the disk ({why}). Give it once more.")]
    Broken { why: String },
}

impl TableError {
    pub(crate) fn unreadable(line: u64, why: &str) -> Self {
        Self::Unreadable { line, why: why.to_owned() }
    }
}

impl From<std::io::Error> for TableError {
    fn from(cause: std::io::Error) -> Self {
        Self::Broken { why: cause.to_string() }
    }
}

/// Of this many bad rows each is named; the rest are counted.
pub const NAMED: usize = 1_000;
/// Of this many rows that repeat the heads each is named; the rest are counted.
const REPEATED: u64 = 20;
/// A batch of rows is full with so many bytes.
const BATCH_BYTES: usize = 1_000_000;
/// After so many rows it is looked whether the reading is to stop.
const STEP: u64 = 1_024;

/// Reads a whole file and keeps none of its rows. `stop` ends it early.
pub fn survey<S: Read + Seek>(source: &mut S, stop: &AtomicBool) -> Result<Survey, TableError> {
    let mut notes = Vec::new();
    let how = guess(source, &mut notes)?;
    let (separator, skipped) = match separator::named(source, how)? {
        Some(named) => named,
        None => (separator::detect(source, how)?, 0),
    };
    notes.push(format!("The cells are separated by {}.", separator::called(separator)));
    look(source, (how, separator, skipped), notes, stop)
}

/// The same for the text of a sheet of a workbook, of which nothing need be guessed.
pub fn survey_sheet<S: Read + Seek>(
    source: &mut S,
    sheet: &Sheet,
    stop: &AtomicBool,
) -> Result<Survey, TableError> {
    let others = match sheet.sheets - 1 {
        0 => String::new(),
        1 => " The workbook has 1 more sheet, which was not.".to_owned(),
        more => format!(" The workbook has {more} more sheets, which were not."),
    };
    let name = shortened(&sheet.name);
    let notes = vec![format!("The sheet “{name}” was read; line 7 is its row 7.{others}")];
    look(source, (How::OURS, b',', 0), notes, stop)
}

fn look<S: Read + Seek>(
    source: &mut S,
    (how, separator, skipped): (How, u8, usize),
    mut notes: Vec<String>,
    stop: &AtomicBool,
) -> Result<Survey, TableError> {
    let mut rows = Rows::of(source, how, separator, skipped)?;
    let Above { head, leading, mut waiting } = above(&mut rows, &mut notes)?;
    let shape = Shape {
        how,
        separator,
        skipped,
        rows_above: leading,
        heads: heads(&head)?,
        unused: Vec::new(),
    };
    let nameless = head.iter().enumerate().filter(|(_, head)| head.is_empty());
    let mut looked = Looked {
        nameless: nameless.map(|(index, _)| (index, false)).collect(),
        ..Looked::default()
    };
    loop {
        let next = match waiting.pop_front() {
            Some(row) => Some(row),
            None => rows.next()?,
        };
        let Some((line, cells)) = next else { break };
        looked.take(&shape, line, cells)?;
        if looked.rows.is_multiple_of(STEP) && stop.load(Ordering::Relaxed) {
            return Err(TableError::Stopped);
        }
    }
    Ok(looked.told(shape, notes, (rows.blank, rows.long)))
}

/// What stands above the rows, and the rows that were read to find that out.
struct Above {
    head: Vec<String>,
    leading: usize,
    waiting: VecDeque<(u64, Vec<String>)>,
}

/// The row of heads; titles above it are left out and noted.
fn above<S: Read + Seek>(rows: &mut Rows<S>, notes: &mut Vec<String>) -> Result<Above, TableError> {
    let mut first = VecDeque::new();
    let titles = separator::titles(|index| {
        if index == first.len() {
            first.extend(rows.next()?);
        }
        Ok::<_, TableError>(first.get(index).map(|(_, cells): &(u64, Vec<String>)| filled(cells)))
    })?;
    for (line, cells) in first.drain(..titles) {
        let title = cells.into_iter().find(|cell| !cell.is_empty()).unwrap_or_default();
        let title = shortened(&title);
        notes.push(format!("Line {line} was taken as a title above the heads: “{title}”."));
    }
    let (_, head) = first.pop_front().ok_or(TableError::Empty)?;
    let head = head.iter().map(|head| head.split_whitespace().collect::<Vec<_>>().join(" "));
    Ok(Above { head: head.collect(), leading: titles + 1, waiting: first })
}

/// What each column is called, also where it has no head; no two alike.
fn heads(head: &[String]) -> Result<Vec<String>, TableError> {
    let mut seen = HashMap::new();
    let mut heads = Vec::with_capacity(head.len());
    for (index, head) in head.iter().enumerate() {
        if head.is_empty() {
            heads.push(format!("column {}", index + 1));
            continue;
        }
        if let Some(first) = seen.insert(plain(head), index + 1) {
            return Err(TableError::SameHead { head: shortened(head), first, second: index + 1 });
        }
        heads.push(head.clone());
    }
    Ok(heads)
}

/// What a row of the file is.
enum Judged {
    Row(Vec<String>),
    Heads,
    /// It holds text beyond the last head.
    Bad(String),
}

impl Shape {
    fn judge(&self, mut cells: Vec<String>) -> Judged {
        let width = self.heads.len();
        if cells == self.heads {
            return Judged::Heads;
        }
        if let Some(beyond) = cells.iter().skip(width).find(|cell| !cell.is_empty()) {
            return Judged::Bad(format!(
                "The row has {} cells, the head has {width}: “{}” stands beyond the last head. Put \
                 a cell that holds a separator in double quotes, or add the missing head.",
                cells.len(),
                shortened(beyond)
            ));
        }
        cells.resize(width, String::new());
        Judged::Row(cells)
    }

    /// The cells of the columns that are used.
    fn used(&self, mut cells: Vec<String>) -> Vec<String> {
        if !self.unused.is_empty() {
            let mut index = 0;
            cells.retain(|_| {
                index += 1;
                self.unused.binary_search(&(index - 1)).is_err()
            });
        }
        cells
    }
}

/// What the rows told so far.
#[derive(Default)]
struct Looked {
    /// Columns without a head, and whether any row holds something in them.
    nameless: Vec<(usize, bool)>,
    rows: u64,
    bad_rows: u64,
    bad: Vec<BadRow>,
    short: Option<(u64, usize)>,
    repeated: Vec<u64>,
    repeated_more: u64,
}

impl Looked {
    fn take(&mut self, shape: &Shape, line: u64, cells: Vec<String>) -> Result<(), TableError> {
        let is_short = cells.len() < shape.heads.len();
        match shape.judge(cells) {
            Judged::Heads if self.repeated.len() as u64 >= REPEATED => self.repeated_more += 1,
            Judged::Heads => self.repeated.push(line),
            Judged::Bad(reason) => {
                self.rows += 1;
                self.bad_rows += 1;
                if self.bad.len() < NAMED {
                    self.bad.push(BadRow { line, reason });
                }
            }
            Judged::Row(cells) => {
                self.rows += 1;
                if is_short {
                    let (_, count) = self.short.get_or_insert((line, 0));
                    *count += 1;
                }
                for (index, used) in &mut self.nameless {
                    *used |= !cells[*index].is_empty();
                }
            }
        }
        if self.rows > MAX_TABLE_ROWS { Err(TableError::TooManyRows) } else { Ok(()) }
    }

    fn told(
        self,
        mut shape: Shape,
        mut notes: Vec<String>,
        (blank, long): (u64, Option<(u64, u64)>),
    ) -> Survey {
        shape.unused =
            self.nameless.iter().filter(|(_, used)| !used).map(|(index, _)| *index).collect();
        for (index, _) in self.nameless.iter().filter(|(_, used)| *used) {
            notes.push(format!("Column {0} has no head; it is called “column {0}”.", index + 1));
        }
        match blank {
            0 => {}
            1 => notes.push("1 blank row was skipped.".to_owned()),
            many => notes.push(format!("{many} blank rows were skipped.")),
        }
        if let Some((line, count)) = self.short {
            notes.push(format!(
                "Rows shorter than the head: {count}, the first in line {line}; what they lack \
                 counts as empty."
            ));
        }
        for line in self.repeated {
            notes.push(format!("Line {line} repeats the heads and was skipped."));
        }
        if self.repeated_more > 0 {
            notes.push(format!("{} more lines repeat the heads.", self.repeated_more));
        }
        if let Some((line, lines)) = long {
            notes.push(format!(
                "The row in line {line} runs over {lines} lines; look whether a closing quote is \
                 missing there."
            ));
        }
        if self.rows == 0 {
            notes.push("There are no rows under the heads.".to_owned());
        }
        let (rows, bad_rows, bad) = (self.rows, self.bad_rows, self.bad);
        Survey { heads: shape.used(shape.heads.clone()), rows, bad_rows, bad, notes, shape }
    }
}

/// The good rows of a file that was looked over, one by one.
pub struct Reading<S> {
    rows: Rows<S>,
    shape: Shape,
}

impl<S: Read + Seek> Reading<S> {
    pub fn begin(source: S, shape: &Shape) -> Result<Self, TableError> {
        let mut rows = Rows::of(source, shape.how, shape.separator, shape.skipped)?;
        for _ in 0..shape.rows_above {
            rows.next()?;
        }
        Ok(Self { rows, shape: shape.clone() })
    }

    /// Up to `most` rows, fewer where they are large; none at the end.
    pub fn batch(&mut self, most: usize) -> Result<Vec<Row>, TableError> {
        let (mut batch, mut bytes) = (Vec::new(), 0);
        while batch.len() < most && bytes < BATCH_BYTES {
            let Some((line, cells)) = self.rows.next()? else { break };
            if let Judged::Row(cells) = self.shape.judge(cells) {
                let cells = self.shape.used(cells);
                bytes += cells.iter().map(String::len).sum::<usize>();
                batch.push(Row { line, cells });
            }
        }
        Ok(batch)
    }
}

/// Enough of a text to find it again.
fn shortened(text: &str) -> String {
    const MAX_LETTERS: usize = 40;
    if text.chars().count() <= MAX_LETTERS {
        return text.to_owned();
    }
    text.chars().take(MAX_LETTERS - 1).chain(['…']).collect()
}

/// A table read whole, for tests.
#[cfg(test)]
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Table {
    pub heads: Vec<String>,
    pub rows: Vec<Row>,
    pub bad: Vec<BadRow>,
    pub notes: Vec<String>,
}

#[cfg(test)]
pub(crate) fn read(bytes: &[u8]) -> Result<Table, TableError> {
    let mut source = std::io::Cursor::new(bytes);
    let Survey { heads, rows: count, bad_rows, bad, notes, shape } =
        survey(&mut source, &AtomicBool::new(false))?;
    let mut reading = Reading::begin(source, &shape)?;
    let mut rows = Vec::new();
    loop {
        match reading.batch(usize::MAX)? {
            batch if batch.is_empty() => break,
            batch => rows.extend(batch),
        }
    }
    assert_eq!(count, rows.len() as u64 + bad_rows, "both readings find the same rows");
    Ok(Table { heads, rows, bad, notes })
}
