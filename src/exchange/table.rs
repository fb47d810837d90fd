//! Reads a table as other people's tools write it: any common encoding, separator and line end,
//! with blank, short and over-long rows.

use std::collections::{HashMap, VecDeque};
use std::io::Read;

use crate::encoding::decode;
use crate::separator;
use crate::write::unguarded;
use domain::words::plain;

#[cfg(test)]
mod tests;

/// A table as read: heads and cells trimmed, every row as long as the head.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    pub heads: Vec<String>,
    pub rows: Vec<Row>,
    /// Rows that cannot be taken: they hold text beyond the last head.
    pub bad: Vec<BadRow>,
    /// What was noticed on the way, in sentences for the import report.
    pub notes: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The line of the file in which the row begins, from 1.
    pub line: u64,
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
    #[error("Line {line} cannot be read: {why}. Mend that line and try again.")]
    Unreadable { line: u64, why: String },
}

/// Stands behind the text while it is read: swallowed by a cell, it shows that a quote was never
/// closed.
const END: &str = "\n\u{1}end of the table\u{1}";

/// A row that runs over more lines than this has probably lost a closing quote.
const MANY_LINES: u64 = 40;

/// Reads a whole file.
pub fn read(bytes: &[u8]) -> Result<Table, TableError> {
    let mut notes = Vec::new();
    let text = decode(bytes, &mut notes)?;
    let (separator, skipped) =
        separator::named(&text).unwrap_or_else(|| (separator::detect(&text), 0));
    notes.push(format!("The cells are parted by {}.", separator::called(separator)));
    let mut source = Source::new(&text, separator, skipped);

    let mut table = Builder::new(source.head(&mut notes)?, notes)?;
    while let Some((line, cells)) = source.next_row()? {
        table.take(line, cells);
    }
    Ok(table.finish(&source))
}

/// The rows of the text that hold anything, with the line in which each begins.
struct Source<'t> {
    text: &'t [u8],
    reader: csv::Reader<std::io::Chain<&'t [u8], &'static [u8]>>,
    record: csv::StringRecord,
    /// Where the reader began.
    base: usize,
    /// How far lines have been counted, and the line there.
    counted: (usize, u64),
    /// Rows that were read and given back.
    waiting: VecDeque<(u64, Vec<String>)>,
    blank: u64,
    long: Option<(u64, u64)>,
}

impl<'t> Source<'t> {
    fn new(text: &'t str, separator: u8, base: usize) -> Self {
        let bytes = text.as_bytes();
        Self {
            text: bytes,
            reader: separator::reader(bytes[base..].chain(END.as_bytes()), separator),
            record: csv::StringRecord::new(),
            base,
            counted: (0, 1),
            waiting: VecDeque::new(),
            blank: 0,
            long: None,
        }
    }

    /// The row of heads; titles above it are left out and noted.
    fn head(&mut self, notes: &mut Vec<String>) -> Result<Vec<String>, TableError> {
        let mut first = VecDeque::new();
        let titles = separator::titles(|index| {
            if index == first.len() {
                first.extend(self.next_row()?);
            }
            Ok(first.get(index).map(|(_, cells)| filled(cells)))
        })?;
        for (line, cells) in first.drain(..titles) {
            let title = cells.into_iter().find(|cell| !cell.is_empty()).unwrap_or_default();
            notes.push(format!("Line {line} was taken as a title above the heads: “{title}”."));
        }
        let (_, head) = first.pop_front().ok_or(TableError::Empty)?;
        self.waiting = first;
        Ok(head)
    }

    fn next_row(&mut self) -> Result<Option<(u64, Vec<String>)>, TableError> {
        if let Some(row) = self.waiting.pop_front() {
            return Ok(Some(row));
        }
        loop {
            // The reader stands behind the last row; the line ends and empty lines before the
            // next one are skipped by it unseen.
            let behind = self.base + usize::try_from(self.reader.position().byte()).unwrap_or(0);
            let line = self.line_of_next(behind.min(self.text.len()));
            match self.reader.read_record(&mut self.record) {
                Ok(true) => {}
                Ok(false) => return Ok(None),
                Err(error) => {
                    return Err(TableError::Unreadable { line, why: error.to_string() });
                }
            }
            let last = self.record.iter().next_back().unwrap_or_default();
            if last == &END[1..] && self.record.len() == 1 {
                return Ok(None);
            }
            if last.ends_with(END) {
                let before: u64 =
                    self.record.iter().rev().skip(1).map(|cell| line_ends(cell.as_bytes())).sum();
                return Err(TableError::OpenQuote { line: line + before });
            }
            let lines: u64 = self.record.iter().map(|cell| line_ends(cell.as_bytes())).sum();
            if lines > MANY_LINES {
                self.long.get_or_insert((line, lines + 1));
            }
            let cells: Vec<String> = self.record.iter().map(cell).collect();
            if filled(&cells) > 0 {
                return Ok(Some((line, cells)));
            }
            self.blank += 1;
        }
    }

    /// The line of the first character from `start` on that ends no line.
    fn line_of_next(&mut self, start: usize) -> u64 {
        // The reader takes `\r` for the end of a row and leaves the `\n` behind it.
        let start = start
            + usize::from(
                self.text[..start].ends_with(b"\r") && self.text[start..].starts_with(b"\n"),
            );
        let ends = self.text[start..].iter().take_while(|b| matches!(b, b'\r' | b'\n')).count();
        let next = start + ends;
        if next < self.text.len() {
            self.blank += line_ends(&self.text[start..next]);
        }
        let (from, line) = self.counted;
        let line = line + line_ends(&self.text[from..next]);
        self.counted = (next, line);
        line
    }
}

/// `\r\n`, `\n` and a lone `\r` each end one line.
fn line_ends(text: &[u8]) -> u64 {
    let mut before = 0;
    let mut count = 0;
    for &byte in text {
        count += u64::from(byte == b'\r' || (byte == b'\n' && before != b'\r'));
        before = byte;
    }
    count
}

fn filled(cells: &[String]) -> usize {
    cells.iter().filter(|cell| !cell.is_empty()).count()
}

/// A cell without the blanks around it (non-breaking and zero-width ones too) and without the
/// mark that our own files put in front of text a spreadsheet would take for a formula.
fn cell(text: &str) -> String {
    let unseen = |c: char| c.is_whitespace() || matches!(c, '\u{200b}' | '\u{2060}' | '\u{feff}');
    unguarded(text.trim_matches(unseen)).to_owned()
}

/// Puts the rows together under their heads.
struct Builder {
    table: Table,
    /// Columns without a head, and whether any row holds something in them.
    nameless: Vec<(usize, bool)>,
    short: Option<(u64, usize)>,
    repeated: Vec<u64>,
}

impl Builder {
    fn new(head: Vec<String>, notes: Vec<String>) -> Result<Self, TableError> {
        let mut heads: Vec<String> = Vec::with_capacity(head.len());
        let mut nameless = Vec::new();
        let mut seen = HashMap::new();
        for (index, head) in head.into_iter().enumerate() {
            let head = head.split_whitespace().collect::<Vec<_>>().join(" ");
            if head.is_empty() {
                nameless.push((index, false));
                heads.push(format!("column {}", index + 1));
                continue;
            }
            if let Some(first) = seen.insert(plain(&head), index + 1) {
                return Err(TableError::SameHead { head, first, second: index + 1 });
            }
            heads.push(head);
        }
        let table = Table { heads, notes, ..Table::default() };
        Ok(Self { table, nameless, short: None, repeated: Vec::new() })
    }

    fn take(&mut self, line: u64, mut cells: Vec<String>) {
        let width = self.table.heads.len();
        if cells == self.table.heads {
            self.repeated.push(line);
            return;
        }
        if let Some(beyond) = cells.iter().skip(width).find(|cell| !cell.is_empty()) {
            let reason = format!(
                "The row has {} cells, the head has {width}: “{}” stands beyond the last head. Put \
                 a cell that holds a separator in double quotes, or add the missing head.",
                cells.len(),
                shortened(beyond)
            );
            self.table.bad.push(BadRow { line, reason });
            return;
        }
        if cells.len() < width {
            let (_, count) = self.short.get_or_insert((line, 0));
            *count += 1;
        }
        cells.resize(width, String::new());
        for (index, used) in &mut self.nameless {
            *used |= !cells[*index].is_empty();
        }
        self.table.rows.push(Row { line, cells });
    }

    fn finish(mut self, source: &Source<'_>) -> Table {
        let unused: Vec<usize> =
            self.nameless.iter().filter(|(_, used)| !used).map(|(index, _)| *index).collect();
        if !unused.is_empty() {
            let keep = |cells: &mut Vec<String>| {
                let mut index = 0;
                cells.retain(|_| {
                    index += 1;
                    unused.binary_search(&(index - 1)).is_err()
                });
            };
            keep(&mut self.table.heads);
            self.table.rows.iter_mut().for_each(|row| keep(&mut row.cells));
        }
        let notes = &mut self.table.notes;
        for (index, _) in self.nameless.iter().filter(|(_, used)| *used) {
            notes.push(format!("Column {0} has no head; it is called “column {0}”.", index + 1));
        }
        match source.blank {
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
        if let Some((line, lines)) = source.long {
            notes.push(format!(
                "The row in line {line} runs over {lines} lines; look whether a closing quote is \
                 missing there."
            ));
        }
        if self.table.rows.is_empty() && self.table.bad.is_empty() {
            notes.push("There are no rows under the heads.".to_owned());
        }
        self.table
    }
}

/// Enough of a text to find it again.
fn shortened(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    text.chars().take(MOST - 1).chain(['…']).collect()
}
