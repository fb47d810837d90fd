//! Workbooks in the open format (ECMA-376): written with real dates, durations and numbers, read as
//! the text that a CSV file would hold. A workbook is weighed before anything of it is kept, and its
//! cells are read one by one, so that one cell far away costs nothing.

mod weigh;
mod write;

#[cfg(test)]
mod tests;

use std::io::{Read, Seek, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use calamine::{Data, DataRef, Reader as _, Xlsx, open_workbook_from_rs};

use crate::table::TableError;
use crate::write::guarded;
use domain::bounds::{MAX_TABLE_COLUMNS, MAX_TABLE_ROW_BYTES, MAX_TABLE_ROWS};
use domain::units::Minutes;

pub use write::{NotWritten, write};

/// Bytes of a workbook once it is unpacked, and of its sheet as text.
const MAX_UNPACKED: u64 = 64_000_000;
/// Rows above the table: its heads and a few titles.
const ROWS_ABOVE: u32 = 100;
const MINUTES_A_DAY: f64 = 1440.0;
/// Stands for a line end inside a cell, so that each row of the sheet is one line of the text.
pub(crate) const LINE_END: char = '\u{2028}';
/// After so many cells it is looked whether the reading is to stop.
const STEP: u64 = 1_024;

/// Why a workbook is refused; each says what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WorkbookError {
    #[error("This workbook cannot be read: {0}. Save it again, or save the sheet as CSV (UTF-8).")]
    Unreadable(String),
    #[error(
        "This workbook unpacks to more than {} MB. Split it into several, or save the sheet as CSV.",
        MAX_UNPACKED / 1_000_000
    )]
    TooLarge,
    #[error(
        "This workbook has more than {} parts. Save the one sheet alone, or as CSV.",
        weigh::MAX_PARTS
    )]
    TooManyParts,
    #[error(
        "{part} holds more than {most}, the most that is read of it. Save the sheet alone, without \
         its formats, or as CSV."
    )]
    TooMuchIn { part: String, most: String },
    #[error(
        "A cell stands in column {0} of the sheet; at most {MAX_TABLE_COLUMNS} columns are read. \
         Delete what stands far to the right and try again."
    )]
    TooWide(u32),
    #[error(
        "A cell stands in row {0} of the sheet; at most {MAX_TABLE_ROWS} rows are read. Delete what \
         stands far below, or split the sheet, and try again."
    )]
    TooFarDown(u32),
    #[error("The workbook has no sheet with anything in it.")]
    Empty,
}

fn unreadable(cause: &impl std::fmt::Display) -> TableError {
    WorkbookError::Unreadable(cause.to_string().trim_end_matches('.').to_owned()).into()
}

/// Whether bytes begin as a packed workbook does.
// Source: PKWARE, .ZIP File Format Specification (APPNOTE), section 4.3.7 (local file header), 2022.
pub fn is_workbook(start: &[u8]) -> bool {
    start.starts_with(b"PK\x03\x04")
}

/// The sheet that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    pub name: String,
    /// Sheets of the workbook, this one too.
    pub sheets: usize,
}

/// Writes the first sheet that holds something as comma-separated text; row 7 of the sheet is its
/// line 7. `stop` ends it early.
pub fn unpack<S: Read + Seek>(
    source: &mut S,
    out: &mut impl Write,
    stop: &AtomicBool,
) -> Result<Sheet, TableError> {
    weigh::weigh(source)?;
    source.rewind()?;
    let mut book: Xlsx<_> = open_workbook_from_rs(source).map_err(|cause| unreadable(&cause))?;
    let names = book.sheet_names();
    for name in &names {
        measure(&mut book, name, stop)?;
        // A sheet of charts has no cells.
        let Ok(mut cells) = book.worksheet_cells_reader(name) else { continue };
        let (mut text, mut count) = (Text { out: &mut *out, line: 1, width: 0, bytes: 0 }, 0_u64);
        let mut row = Cells::default();
        while let Some(cell) = cells.next_cell().map_err(|cause| unreadable(&cause))? {
            count += 1;
            if count.is_multiple_of(STEP) && stop.load(Ordering::Relaxed) {
                return Err(TableError::Stopped);
            }
            let (at, column) = cell.get_position();
            let value = shown(&Data::from(cell.get_value().clone()));
            if value.is_empty() {
                continue;
            }
            if at != row.at && !row.texts.is_empty() {
                text.row(&row)?;
                row.texts.clear();
                row.bytes = 0;
            }
            row.at = at;
            row.put(column, value)?;
        }
        if !row.texts.is_empty() {
            text.row(&row)?;
        }
        if text.bytes > 0 {
            return Ok(Sheet { name: name.clone(), sheets: names.len() });
        }
    }
    Err(WorkbookError::Empty.into())
}

/// Looks over the places and the lengths of the cells of a sheet, before any text is made of them: a
/// shared text may stand in every one of them.
fn measure<S: Read + Seek>(
    book: &mut Xlsx<S>,
    name: &str,
    stop: &AtomicBool,
) -> Result<(), TableError> {
    let Ok(mut cells) = book.worksheet_cells_reader(name) else { return Ok(()) };
    let (mut count, mut bytes, mut row, mut row_bytes) = (0_u64, 0_u64, 0, 0_usize);
    while let Some(cell) = cells.next_cell().map_err(|cause| unreadable(&cause))? {
        count += 1;
        if count.is_multiple_of(STEP) && stop.load(Ordering::Relaxed) {
            return Err(TableError::Stopped);
        }
        let length = match cell.get_value() {
            DataRef::Empty => continue,
            DataRef::SharedString(text) => text.len(),
            DataRef::String(text) => text.len(),
            _ => 1,
        };
        let (at, column) = cell.get_position();
        if length == 0 {
            continue;
        }
        in_bounds(at, column)?;
        if at != row {
            (row, row_bytes) = (at, 0);
        }
        row_bytes += length;
        bytes += length as u64;
        if row_bytes > MAX_TABLE_ROW_BYTES {
            return Err(TableError::LongRow { line: u64::from(at) + 1 });
        }
        if bytes > MAX_UNPACKED {
            return Err(WorkbookError::TooLarge.into());
        }
    }
    Ok(())
}

fn in_bounds(row: u32, column: u32) -> Result<(), WorkbookError> {
    if u64::from(column) >= MAX_TABLE_COLUMNS as u64 {
        return Err(WorkbookError::TooWide(column.saturating_add(1)));
    }
    if u64::from(row) >= MAX_TABLE_ROWS + u64::from(ROWS_ABOVE) {
        return Err(WorkbookError::TooFarDown(row.saturating_add(1)));
    }
    Ok(())
}

/// One row of a sheet, counted from 0.
#[derive(Default)]
struct Cells {
    at: u32,
    texts: Vec<String>,
    bytes: usize,
}

impl Cells {
    fn put(&mut self, column: u32, value: String) -> Result<(), TableError> {
        let at = usize::try_from(column).unwrap_or(usize::MAX);
        self.bytes += value.len();
        if self.bytes > MAX_TABLE_ROW_BYTES {
            return Err(TableError::LongRow { line: u64::from(self.at) + 1 });
        }
        if self.texts.len() <= at {
            self.texts.resize(at + 1, String::new());
        }
        self.texts[at] = value;
        Ok(())
    }
}

struct Text<W> {
    out: W,
    /// The line that is written next, from 1.
    line: u64,
    /// Cells of the widest row so far; a sheet does not say where an empty row ends.
    width: usize,
    bytes: u64,
}

impl<W: Write> Text<W> {
    fn row(&mut self, row: &Cells) -> Result<(), TableError> {
        let line = u64::from(row.at) + 1;
        if line < self.line {
            return Err(unreadable(&"its rows are out of order"));
        }
        let mut text = String::with_capacity(row.bytes + 3 * row.texts.len());
        text.extend(std::iter::repeat_n('\n', usize::try_from(line - self.line).unwrap_or(0)));
        for (at, cell) in row.texts.iter().enumerate() {
            text.push_str(if at == 0 { "\"" } else { ",\"" });
            text.push_str(&guarded(cell).replace('"', "\"\""));
            text.push('"');
        }
        self.width = self.width.max(row.texts.len());
        text.extend(std::iter::repeat_n(',', self.width - row.texts.len()));
        text.push('\n');
        self.line = line + 1;
        self.bytes += text.len() as u64;
        if self.bytes > MAX_UNPACKED {
            return Err(WorkbookError::TooLarge.into());
        }
        self.out.write_all(text.as_bytes()).map_err(TableError::from)
    }
}

/// A cell as its text: a date as ISO 8601, a duration as h:mm, a whole number without a point. A
/// formula is what it came to when the workbook was saved, an error its name.
fn shown(value: &Data) -> String {
    match value {
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => {
            let text = text.trim();
            if text.contains(['\r', '\n']) {
                text.replace("\r\n", "\n").replace(['\r', '\n'], LINE_END.encode_utf8(&mut [0; 4]))
            } else {
                text.to_owned()
            }
        }
        Data::Int(number) => number.to_string(),
        // The shortest text that reads back to the same number; 3.0 is “3”.
        Data::Float(number) => number.to_string(),
        Data::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        // 6:30 typed into a cell is a time of day for a spreadsheet; without a day it is a duration.
        Data::DateTime(at) if at.is_duration() || (0.0..1.0).contains(&at.as_f64()) => {
            duration(at.as_f64())
        }
        Data::DateTime(at) => {
            let (year, month, day, hour, minute, second, milli) = at.to_ymd_hms_milli();
            let on = format!("{year:04}-{month:02}-{day:02}");
            match (hour, minute, second, milli) {
                (0, 0, 0, 0) => on,
                (_, _, 0, 0) => format!("{on} {hour:02}:{minute:02}"),
                _ => format!("{on} {hour:02}:{minute:02}:{second:02}.{milli:03}"),
            }
        }
        Data::Error(error) => error.to_string(),
        Data::Empty => String::new(),
    }
}

fn duration(days: f64) -> String {
    let minutes = (days * MINUTES_A_DAY).round();
    let minutes = if minutes.is_finite() && minutes.abs() < 1e9 { minutes } else { 0.0 };
    Minutes(format!("{minutes:.0}").parse().unwrap_or(0)).clock()
}
