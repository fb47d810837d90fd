//! Writes a list as a workbook of one sheet.

use domain::cells::{Cell as _, Input};
use domain::time::{Day, Moment};
use domain::units::Minutes;
use rust_xlsxwriter::{Format, Workbook, Worksheet, XlsxError};

use super::MINUTES_A_DAY;

/// The serial number of 1970-01-01, and the day from which on serials have no gap: the calendar of
/// spreadsheets has a 29 February 1900.
// Source: ECMA-376 part 1, section 18.17.4.1 (the 1900 date system), 2016.
const SERIAL_OF_1970: f64 = 25_569.0;
const FIRST_SERIAL: f64 = 61.0;
const MILLIS_A_DAY: f64 = 86_400_000.0;
/// Whole numbers up to here are written exactly.
const MAX_EXACT: f64 = 9_007_199_254_740_992.0;

/// Why a list cannot be a workbook.
#[derive(Debug, thiserror::Error)]
pub enum NotWritten {
    /// It has more rows, or a longer text, than a workbook can hold.
    #[error("more than a workbook can hold")]
    TooMuch,
    #[error("{0}")]
    Failed(XlsxError),
}

impl From<XlsxError> for NotWritten {
    fn from(cause: XlsxError) -> Self {
        match cause {
            XlsxError::MaxStringLengthExceeded | XlsxError::RowColumnLimitError => Self::TooMuch,
            cause => Self::Failed(cause),
        }
    }
}

struct Formats {
    day: Format,
    moment: Format,
    clock: Format,
}

/// Writes one sheet, row by row to a passing file. A cell that does not read as what its column
/// holds is a text, and no cell is a formula.
pub fn write<I>(name: &str, columns: &[(&str, Input)], rows: I) -> Result<Vec<u8>, NotWritten>
where
    I: IntoIterator<Item = Vec<String>>,
{
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let formats = Formats {
        day: Format::new().set_num_format("yyyy-mm-dd"),
        moment: Format::new().set_num_format("yyyy-mm-dd hh:mm:ss.000"),
        clock: Format::new().set_num_format("[h]:mm"),
    };
    let sheet = book.add_worksheet_with_constant_memory()?;
    sheet.set_name(name)?;
    sheet.set_freeze_panes(1, 0)?;
    for (at, (_, input)) in (0_u16..).zip(columns) {
        sheet.set_column_width(at, width(*input))?;
    }
    for (at, (head, _)) in (0_u16..).zip(columns) {
        sheet.write_string_with_format(0, at, *head, &bold)?;
    }
    for (row, cells) in (1_u32..).zip(rows) {
        for ((at, (_, input)), cell) in (0_u16..).zip(columns).zip(&cells) {
            if !cell.is_empty() && !as_value(sheet, (row, at), *input, cell, &formats)? {
                // A string stays a string, whatever it begins with.
                sheet.write_string(row, at, cell)?;
            }
        }
    }
    Ok(book.save_to_buffer()?)
}

/// In letters.
fn width(input: Input) -> f64 {
    match input {
        Input::Number | Input::Duration | Input::YesNo => 9.0,
        Input::Day => 12.0,
        Input::Moment => 23.0,
        Input::Prose | Input::Several(_) => 40.0,
        _ => 18.0,
    }
}

/// Whether the cell could be written as what its column holds.
fn as_value(
    sheet: &mut Worksheet,
    (row, at): (u32, u16),
    input: Input,
    cell: &str,
    formats: &Formats,
) -> Result<bool, XlsxError> {
    let (value, format) = match input {
        Input::Number => (number(cell), None),
        Input::Day => {
            (Day::read(cell).ok().and_then(|day| serial(Moment::of_day(day))), Some(&formats.day))
        }
        Input::Moment => (Moment::read(cell).ok().and_then(serial), Some(&formats.moment)),
        Input::Duration => (minutes(cell).map(|m| m / MINUTES_A_DAY), Some(&formats.clock)),
        _ => (None, None),
    };
    match (value, format) {
        (None, _) => return Ok(false),
        (Some(value), None) => sheet.write_number(row, at, value)?,
        (Some(value), Some(format)) => sheet.write_number_with_format(row, at, value, format)?,
    };
    Ok(true)
}

fn number(cell: &str) -> Option<f64> {
    let number = cell.parse::<f64>().ok()?;
    (number.abs() <= MAX_EXACT).then_some(number)
}

fn serial(at: Moment) -> Option<f64> {
    let serial = exact(at.0)? / MILLIS_A_DAY + SERIAL_OF_1970;
    (serial >= FIRST_SERIAL).then_some(serial)
}

/// A spreadsheet shows no duration below zero.
fn minutes(cell: &str) -> Option<f64> {
    let Minutes(whole) = Minutes::read(cell).ok()?;
    i32::try_from(whole).ok().filter(|whole| *whole >= 0).map(f64::from)
}

#[expect(clippy::cast_precision_loss, reason = "the bound before it keeps every digit")]
fn exact(number: i64) -> Option<f64> {
    (number.unsigned_abs() <= 1 << 53).then_some(number as f64)
}
