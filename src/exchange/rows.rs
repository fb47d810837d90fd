//! The rows of a text one by one, each with the line in which it begins, in bounded memory.

use std::io::{BufRead, Chain, Read as _, Seek};

use csv_core::ReadRecordResult;

use crate::encoding::{How, Text};
use crate::table::TableError;
use crate::write::unguarded;
use crate::xlsx::LINE_END;
use domain::bounds::{MAX_TABLE_COLUMNS, MAX_TABLE_ROW_BYTES};

/// Stands behind the text while it is read: swallowed by a cell, it shows that a quote was never
/// closed.
const END: &str = "\n\u{1}end of the table\u{1}";

/// A row that runs over more lines than this has probably lost a closing quote.
const MANY_LINES: u64 = 40;

/// The rows that hold anything, in the order of the file.
pub(crate) struct Rows<S> {
    input: Chain<Text<S>, &'static [u8]>,
    reader: csv_core::Reader,
    /// The text of the row and where each of its cells ends; they grow up to their bounds.
    text: Vec<u8>,
    ends: Vec<usize>,
    /// The line that is reached, and the byte before it.
    line: u64,
    before: u8,
    has_ended: bool,
    /// Lines and rows that hold nothing.
    pub blank: u64,
    /// The first row that runs over very many lines, and over how many.
    pub long: Option<(u64, u64)>,
}

impl<S: std::io::Read + Seek> Rows<S> {
    /// Begins behind the first `skipped` bytes of the text.
    pub fn of(source: S, how: How, separator: u8, skipped: usize) -> Result<Self, TableError> {
        let mut rows = Self {
            input: Text::of(source, how)?.chain(END.as_bytes()),
            reader: csv_core::ReaderBuilder::new().delimiter(separator).build(),
            text: vec![0; 4 * 1024],
            ends: vec![0; 64],
            line: 1,
            before: 0,
            has_ended: false,
            blank: 0,
            long: None,
        };
        let mut left = skipped;
        while left > 0 {
            let there = rows.input.fill_buf()?.len().min(left);
            rows.pass(there)?;
            left -= there;
        }
        Ok(rows)
    }

    /// The next row with its cells trimmed.
    pub fn next(&mut self) -> Result<Option<(u64, Vec<String>)>, TableError> {
        while !self.has_ended {
            let ends = self.pass_line_ends()?;
            let line = self.line;
            let Some(count) = self.read_row(line)? else { break };
            let cells: Vec<&str> = cells_of(&self.text, &self.ends[..count])
                .ok_or_else(|| TableError::unreadable(line, "it is no text"))?;
            let last = cells.last().copied().unwrap_or_default();
            if last == &END[1..] && cells.len() == 1 {
                break;
            }
            self.blank += ends;
            if last.ends_with(END) {
                let before: u64 = cells.iter().rev().skip(1).map(|cell| line_ends(cell)).sum();
                return Err(TableError::OpenQuote { line: line + before });
            }
            let lines: u64 = cells.iter().map(|cell| line_ends(cell)).sum();
            if lines > MANY_LINES {
                self.long.get_or_insert((line, lines + 1));
            }
            let cells: Vec<String> = cells.into_iter().map(cell).collect();
            if filled(&cells) > 0 {
                return Ok(Some((line, cells)));
            }
            self.blank += 1;
        }
        self.has_ended = true;
        Ok(None)
    }

    /// Reads one row into the buffers; gives the number of its cells.
    fn read_row(&mut self, line: u64) -> Result<Option<usize>, TableError> {
        let (mut length, mut count) = (0, 0);
        loop {
            let input = self.input.fill_buf()?;
            let (result, read, written, ended) =
                self.reader.read_record(input, &mut self.text[length..], &mut self.ends[count..]);
            self.pass(read)?;
            length += written;
            count += ended;
            match result {
                ReadRecordResult::InputEmpty => {}
                ReadRecordResult::OutputFull if self.text.len() >= MAX_TABLE_ROW_BYTES => {
                    return Err(TableError::LongRow { line });
                }
                ReadRecordResult::OutputFull => {
                    let room = (self.text.len() * 2).min(MAX_TABLE_ROW_BYTES);
                    self.text.resize(room, 0);
                }
                ReadRecordResult::OutputEndsFull if self.ends.len() >= MAX_TABLE_COLUMNS => {
                    return Err(TableError::TooManyColumns { line });
                }
                ReadRecordResult::OutputEndsFull => {
                    let room = (self.ends.len() * 2).min(MAX_TABLE_COLUMNS);
                    self.ends.resize(room, 0);
                }
                ReadRecordResult::Record => return Ok(Some(count)),
                ReadRecordResult::End => return Ok(None),
            }
        }
    }

    /// Passes the line ends before the next row; gives how many lines they end. The reader takes
    /// `\r` for the end of a row and leaves the `\n` behind it, which ends no second line.
    fn pass_line_ends(&mut self) -> Result<u64, TableError> {
        let begun = self.line;
        loop {
            let input = self.input.fill_buf()?;
            let ends = input.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
            if ends == 0 {
                return Ok(self.line - begun);
            }
            self.pass(ends)?;
        }
    }

    /// Counts the lines in the next bytes, which are there, and leaves them behind.
    fn pass(&mut self, count: usize) -> Result<(), TableError> {
        let input = self.input.fill_buf()?;
        for &byte in &input[..count] {
            self.line += u64::from(byte == b'\r' || (byte == b'\n' && self.before != b'\r'));
            self.before = byte;
        }
        self.input.consume(count);
        Ok(())
    }
}

/// The cells of a row as the reader leaves it; nothing where they are no text.
fn cells_of<'r>(text: &'r [u8], ends: &[usize]) -> Option<Vec<&'r str>> {
    let mut from = 0;
    let cell = |end: &usize| {
        let cell = std::str::from_utf8(&text[from..*end]).ok();
        from = *end;
        cell
    };
    ends.iter().map(cell).collect()
}

/// `\r\n`, `\n` and a lone `\r` each end one line.
fn line_ends(text: &str) -> u64 {
    let mut before = 0;
    let mut count = 0;
    for byte in text.bytes() {
        count += u64::from(byte == b'\r' || (byte == b'\n' && before != b'\r'));
        before = byte;
    }
    count
}

/// How many cells hold something.
pub(crate) fn filled(cells: &[String]) -> usize {
    cells.iter().filter(|cell| !cell.is_empty()).count()
}

/// A cell without the blanks around it (non-breaking and zero-width ones too) and without the
/// mark that our own files put in front of text a spreadsheet would take for a formula. A line end
/// that stands for itself, as a workbook is read, becomes one.
fn cell(text: &str) -> String {
    let unseen = |c: char| c.is_whitespace() || matches!(c, '\u{200b}' | '\u{2060}' | '\u{feff}');
    unguarded(text.trim_matches(unseen)).replace(LINE_END, "\n")
}
