//! Spreadsheets in the open workbook format: written with real dates, durations and numbers, read as
//! the text that a CSV file would hold. What a reader could be made to choke on is refused early.

use std::io::{Cursor, Read as _};

use calamine::{Data, DataRef, Reader as _, Xlsx, open_workbook_from_rs};
use domain::cells::{Cell as _, Input};
use domain::time::{Day, Moment};
use domain::units::Minutes;
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, XlsxError};

/// Bytes of a workbook as it is sent; of a longer one the rest is not read.
pub const MAX_PACKED: u64 = 32 * 1024 * 1024;
/// Bytes of a workbook once it is unpacked; what holds more is a bomb or no table of this record.
const MAX_UNPACKED: u64 = 40 * 1024 * 1024;
/// Parts of a workbook: sheets, styles, relations.
const MAX_PARTS: usize = 200;
/// Columns and cells of a sheet.
const MAX_COLUMNS: u32 = 500;
const MAX_CELLS: usize = 2_000_000;
/// The day before the first day of the calendar of spreadsheets, as they count.
// Source: ECMA-376 part 1, section 18.17.4.1 (the 1900 date system), 2016.
const MINUTES_A_DAY: f64 = 1440.0;

/// Why a workbook is refused; each says what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WorkbookError {
    #[error("This workbook cannot be read: {0}. Save it again, or save the sheet as CSV (UTF-8).")]
    Unreadable(String),
    #[error(
        "This workbook unpacks to more than {} MB. Split it into several, or save the sheet as CSV.",
        MAX_UNPACKED / 1024 / 1024
    )]
    TooLarge,
    #[error("This workbook has {0} parts; at most {MAX_PARTS} are read. Save the one sheet alone.")]
    TooManyParts(usize),
    #[error(
        "A cell stands in column {0} of the sheet; at most {MAX_COLUMNS} columns are read. Delete \
         what stands far to the right."
    )]
    TooWide(u32),
    #[error("The sheet has more than {MAX_CELLS} cells. Split it into several.")]
    TooManyCells,
    #[error("The workbook has no sheet with anything in it.")]
    Empty,
}

/// Whether bytes begin as a packed workbook does.
// Source: PKWARE, .ZIP File Format Specification (APPNOTE), section 4.3.7 (local file header), 2022.
pub fn is_workbook(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// The first sheet that holds something, as CSV.
pub fn as_csv(bytes: &[u8]) -> Result<Vec<u8>, WorkbookError> {
    weighed(bytes)?;
    let unreadable = |cause: &dyn std::fmt::Display| WorkbookError::Unreadable(cause.to_string());
    let mut book: Xlsx<_> =
        open_workbook_from_rs(Cursor::new(bytes)).map_err(|cause| unreadable(&cause))?;
    for name in book.sheet_names() {
        let mut cells = match book.worksheet_cells_reader(&name) {
            Ok(cells) => cells,
            // A chart sheet has no cells.
            Err(_) => continue,
        };
        let mut rows: Vec<(u32, Vec<String>)> = Vec::new();
        let mut count = 0;
        while let Some(cell) = cells.next_cell().map_err(|cause| unreadable(&cause))? {
            let (row, column) = cell.get_position();
            let text = shown(cell.get_value());
            if text.is_empty() {
                continue;
            }
            count += 1;
            if column >= MAX_COLUMNS {
                return Err(WorkbookError::TooWide(column + 1));
            }
            if count > MAX_CELLS {
                return Err(WorkbookError::TooManyCells);
            }
            if rows.last().is_none_or(|(last, _)| *last != row) {
                rows.push((row, Vec::new()));
            }
            if let Some((_, cells)) = rows.last_mut() {
                let at = usize::try_from(column).unwrap_or(0);
                if cells.len() <= at {
                    cells.resize(at + 1, String::new());
                }
                cells[at] = text;
            }
        }
        if !rows.is_empty() {
            return written(&rows);
        }
    }
    Err(WorkbookError::Empty)
}

/// Unpacks every part and throws it away, so that nothing is read that would fill the memory.
fn weighed(bytes: &[u8]) -> Result<(), WorkbookError> {
    let unreadable = |cause: &dyn std::fmt::Display| WorkbookError::Unreadable(cause.to_string());
    let mut archive =
        zip::ZipArchive::new(Cursor::new(bytes)).map_err(|cause| unreadable(&cause))?;
    if archive.len() > MAX_PARTS {
        return Err(WorkbookError::TooManyParts(archive.len()));
    }
    let mut left = MAX_UNPACKED;
    let mut step = vec![0; 64 * 1024];
    for at in 0..archive.len() {
        let mut part = archive.by_index(at).map_err(|cause| unreadable(&cause))?;
        if part.size() > left {
            return Err(WorkbookError::TooLarge);
        }
        let mut head = Vec::new();
        loop {
            let read = part.read(&mut step).map_err(|cause| unreadable(&cause))?;
            if read == 0 {
                break;
            }
            if head.len() < 4096 {
                head.extend_from_slice(&step[..read.min(4096)]);
            }
            left = left.checked_sub(read as u64).ok_or(WorkbookError::TooLarge)?;
        }
        // No program that writes workbooks declares a document type; entities grow from it.
        if head.windows(9).any(|window| window.eq_ignore_ascii_case(b"<!doctype")) {
            let why = "it declares a document type, which no workbook needs";
            return Err(WorkbookError::Unreadable(why.to_owned()));
        }
    }
    Ok(())
}

fn written(rows: &[(u32, Vec<String>)]) -> Result<Vec<u8>, WorkbookError> {
    let widest = rows.iter().map(|(_, cells)| cells.len()).max().unwrap_or(0);
    let mut writer = csv::Writer::from_writer(Vec::new());
    for (_, cells) in rows {
        let blanks = std::iter::repeat_n("", widest - cells.len());
        let record = cells.iter().map(String::as_str).chain(blanks);
        writer
            .write_record(record)
            .map_err(|cause| WorkbookError::Unreadable(cause.to_string()))?;
    }
    writer.into_inner().map_err(|cause| WorkbookError::Unreadable(cause.to_string()))
}

/// A cell as its text: a date as ISO 8601, a duration as h:mm, a whole number without a point. A
/// formula is what it came to when the workbook was saved.
fn shown(value: &DataRef<'_>) -> String {
    match Data::from(value.clone()) {
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => {
            text.trim().to_owned()
        }
        Data::Int(number) => number.to_string(),
        Data::Float(number) => number_text(number),
        Data::Bool(yes) => if yes { "yes" } else { "no" }.to_owned(),
        Data::DateTime(at) if at.is_duration() => duration(at.as_f64()),
        Data::DateTime(at) => {
            let (year, month, day, hour, minute, ..) = at.to_ymd_hms_milli();
            if (hour, minute) == (0, 0) {
                format!("{year:04}-{month:02}-{day:02}")
            } else {
                format!("{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}")
            }
        }
        Data::Error(_) | Data::Empty => String::new(),
    }
}

fn number_text(number: f64) -> String {
    // Rust writes the shortest text that reads back to the same number; 3.0 is “3”.
    format!("{number}")
}

fn duration(days: f64) -> String {
    let minutes = (days * MINUTES_A_DAY).round();
    let minutes = if minutes.is_finite() && minutes.abs() < 1e9 { minutes } else { 0.0 };
    let whole = format!("{minutes:.0}").parse::<i64>().unwrap_or(0);
    Minutes(whole).clock()
}

/// Writes one sheet. A cell that does not read as what its column holds stands as text.
pub fn write<I>(name: &str, columns: &[(&str, Input)], rows: I) -> Result<Vec<u8>, XlsxError>
where
    I: IntoIterator<Item = Vec<String>>,
{
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let day = Format::new().set_num_format("yyyy-mm-dd");
    let moment = Format::new().set_num_format("yyyy-mm-dd hh:mm");
    let clock = Format::new().set_num_format("[h]:mm");
    let sheet = book.add_worksheet();
    sheet.set_name(name)?;
    sheet.set_freeze_panes(1, 0)?;
    for (at, (head, _)) in (0_u16..).zip(columns) {
        sheet.write_string_with_format(0, at, *head, &bold)?;
    }
    for (row, cells) in (1_u32..).zip(rows) {
        for ((at, (_, input)), cell) in (0_u16..).zip(columns).zip(&cells) {
            if cell.is_empty() {
                continue;
            }
            let is_written = match input {
                Input::Number => match cell.parse::<f64>() {
                    Ok(number) if number.is_finite() => {
                        sheet.write_number(row, at, number)?;
                        true
                    }
                    _ => false,
                },
                Input::Day => match Day::read(cell) {
                    Ok(on) => {
                        let on = ExcelDateTime::parse_from_str(&on.to_string())?;
                        sheet.write_datetime_with_format(row, at, &on, &day)?;
                        true
                    }
                    Err(_) => false,
                },
                Input::Moment => match Moment::read(cell) {
                    Ok(when) => {
                        let when = ExcelDateTime::parse_from_str(&when.to_the_minute())?;
                        sheet.write_datetime_with_format(row, at, &when, &moment)?;
                        true
                    }
                    Err(_) => false,
                },
                Input::Duration => match minutes(cell) {
                    Some(minutes) => {
                        sheet.write_number_with_format(row, at, minutes / MINUTES_A_DAY, &clock)?;
                        true
                    }
                    None => false,
                },
                _ => false,
            };
            if !is_written {
                // A string stays a string, whatever it begins with.
                sheet.write_string(row, at, cell)?;
            }
        }
    }
    book.save_to_buffer()
}

fn minutes(cell: &str) -> Option<f64> {
    let Minutes(whole) = Minutes::read(cell).ok()?;
    i32::try_from(whole).ok().map(f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns() -> [(&'static str, Input); 5] {
        [
            ("code", Input::Line),
            ("day", Input::Day),
            ("minutes", Input::Duration),
            ("mass", Input::Number),
            ("at", Input::Moment),
        ]
    }

    fn row(cells: [&str; 5]) -> Vec<String> {
        cells.map(str::to_owned).to_vec()
    }

    #[test]
    fn what_is_written_reads_back_as_the_same_cells() {
        let rows = [
            row(["=1+1", "2031-03-18", "6:30", "1.25", "2031-03-05 08:12"]),
            row(["T-2", "2028-02-29", "26:05", "-3", ""]),
            row(["@x", "", "", "", ""]),
        ];
        let bytes = write("tasks", &columns(), rows.clone()).unwrap();
        assert!(is_workbook(&bytes));
        let csv = as_csv(&bytes).unwrap();
        let mut reader = csv::Reader::from_reader(&*csv);
        assert_eq!(reader.headers().unwrap(), &["code", "day", "minutes", "mass", "at"][..]);
        let back: Vec<Vec<String>> = reader
            .records()
            .map(|record| record.unwrap().iter().map(str::to_owned).collect())
            .collect();
        assert_eq!(back, rows);
    }

    #[test]
    fn dates_are_dates_durations_durations_and_no_cell_a_formula() {
        let rows = [row(["=HYPERLINK(\"x\")", "2031-03-18", "6:30", "1.25", ""])];
        let bytes = write("tasks", &columns(), rows).unwrap();
        let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(&*bytes)).unwrap();
        let range = book.worksheet_range("tasks").unwrap();
        let at = |column: u32| range.get_value((1, column)).unwrap().clone();
        assert_eq!(at(0), Data::String("=HYPERLINK(\"x\")".to_owned()));
        let Data::DateTime(day) = at(1) else { panic!("{:?}", at(1)) };
        // Source: ECMA-376 part 1, section 18.17.4.1: serial 1 is 1 January 1900, with the day that
        // 1900 did not have; 2031-03-18 is serial 47925.
        assert!((day.as_f64() - 47_925.0).abs() < 1e-9 && day.is_datetime(), "{day:?}");
        let Data::DateTime(length) = at(2) else { panic!("{:?}", at(2)) };
        assert!(length.is_duration() && (length.as_f64() * 24.0 - 6.5).abs() < 1e-9, "{length:?}");
        assert_eq!(at(3), Data::Float(1.25));
        assert!(book.worksheet_formula("tasks").unwrap().is_empty());
    }

    fn packed(sheet: &str) -> Vec<u8> {
        use std::io::Write as _;
        let base = write("tasks", &columns(), [row(["a", "", "", "", ""])]).unwrap();
        let mut from = zip::ZipArchive::new(Cursor::new(base)).unwrap();
        let mut to = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let options = zip::write::SimpleFileOptions::default()
            .compression_method(zip::CompressionMethod::Deflated);
        for at in 0..from.len() {
            let mut part = from.by_index(at).unwrap();
            let name = part.name().to_owned();
            let mut bytes = Vec::new();
            part.read_to_end(&mut bytes).unwrap();
            to.start_file(&name, options).unwrap();
            let own = if name == "xl/worksheets/sheet1.xml" { sheet.as_bytes() } else { &bytes };
            to.write_all(own).unwrap();
        }
        to.finish().unwrap().into_inner()
    }

    const HEAD: &str = "<?xml version=\"1.0\"?><worksheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\"><sheetData>";

    fn refused(bytes: &[u8]) -> WorkbookError {
        let begun = std::time::Instant::now();
        let refused = as_csv(bytes).unwrap_err();
        assert!(begun.elapsed().as_secs_f64() < 1.0, "{:?}", begun.elapsed());
        refused
    }

    #[test]
    fn a_cell_far_away_costs_nothing_and_one_far_to_the_right_is_refused() {
        let far = format!(
            "{HEAD}<row r=\"1\"><c r=\"A1\"><v>1</v></c></row><row r=\"1048576\"><c r=\"B1048576\">\
             <v>2</v></c></row></sheetData></worksheet>"
        );
        let csv = as_csv(&packed(&far)).unwrap();
        assert!(csv.len() < 20, "{} bytes", csv.len());
        let wide =
            format!("{HEAD}<row r=\"1\"><c r=\"XFD1\"><v>1</v></c></row></sheetData></worksheet>");
        assert_eq!(refused(&packed(&wide)), WorkbookError::TooWide(16_384));
    }

    #[test]
    fn bombs_are_refused() {
        let blanks = " ".repeat(60 * 1024 * 1024);
        let swollen = format!("{HEAD}</sheetData>{blanks}</worksheet>");
        let bytes = packed(&swollen);
        assert!(bytes.len() < 200_000, "{}", bytes.len());
        assert_eq!(refused(&bytes), WorkbookError::TooLarge);
        let entities = format!(
            "<?xml version=\"1.0\"?><!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;\">]>{}",
            &HEAD["<?xml version=\"1.0\"?>".len()..]
        );
        let entities = format!(
            "{entities}<row r=\"1\"><c r=\"A1\" t=\"str\"><v>&b;</v></c></row></sheetData></worksheet>"
        );
        assert!(matches!(refused(&packed(&entities)), WorkbookError::Unreadable(_)));
        assert!(matches!(refused(b"PK\x03\x04 and no more"), WorkbookError::Unreadable(_)));
    }
}
