//! CSV as RFC 4180 has it, safe to open in a spreadsheet.

use std::borrow::Cow;
use std::io::{self, Write};

/// Writes one table, row by row.
pub struct Writer<W: Write>(csv::Writer<W>);

impl<W: Write> Writer<W> {
    /// Starts with the row of heads.
    pub fn new<I>(out: W, heads: I) -> io::Result<Self>
    where
        I: IntoIterator,
        I::Item: AsRef<str>,
    {
        let mut writer = Self::going_on(out);
        writer.row(heads)?;
        Ok(writer)
    }

    /// Goes on with a table whose heads stand there already.
    pub fn going_on(out: W) -> Self {
        Self(csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out))
    }

    /// Every row must have as many cells as there are heads.
    pub fn row<I>(&mut self, cells: I) -> io::Result<()>
    where
        I: IntoIterator,
        I::Item: AsRef<str>,
    {
        for cell in cells {
            self.0.write_field(&*guarded(cell.as_ref()))?;
        }
        self.0.write_record(None::<&[u8]>)?;
        Ok(())
    }

    pub fn finish(self) -> io::Result<W> {
        self.0.into_inner().map_err(|error| io::Error::other(error.to_string()))
    }
}

/// Whether a spreadsheet could take the text for a formula: it begins with one of `= + - @`, a
/// tab, CR or NUL and is no plain number. Text that begins with `'` before such a character needs
/// one more, so that taking one away on reading gives back exactly what was there.
// Source: OWASP ASVS 5.0.0, 1.2.10, 2025.
fn needs_guard(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r', '\0'])
        && !is_plain_number(text)
}

fn is_plain_number(text: &str) -> bool {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    [whole, part].iter().all(|run| !run.is_empty() && run.bytes().all(|b| b.is_ascii_digit()))
}

/// The text with a `'` before it where a spreadsheet could take it for a formula.
pub(crate) fn guarded(text: &str) -> Cow<'_, str> {
    if needs_guard(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// The text of a cell without the `'` that [`Writer`] put before it.
pub fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if needs_guard(rest) => rest,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::table;

    fn written(heads: &[&str], rows: &[Vec<String>]) -> Vec<u8> {
        let mut writer = Writer::new(Vec::new(), heads).unwrap();
        for row in rows {
            writer.row(row).unwrap();
        }
        writer.finish().unwrap()
    }

    fn row(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|cell| (*cell).to_owned()).collect()
    }

    // Source: RFC 4180, section 2, rules 1, 2, 5 to 7, 2005.
    #[test]
    fn quotes_only_where_the_text_demands_it_and_ends_rows_with_crlf() {
        let file = written(&["code", "notes"], &[row(&["T-1", "a, \"b\"\nc"]), row(&["T-2", ""])]);

        assert_eq!(
            String::from_utf8(file).unwrap(),
            "code,notes\r\nT-1,\"a, \"\"b\"\"\nc\"\r\nT-2,\r\n"
        );
    }

    #[test]
    fn text_that_looks_like_a_formula_is_guarded_and_numbers_are_not() {
        let cells =
            ["=1+1", "+A1", "-B2", "@sum", "\tx", "\rx", "\0x", "-5", "+3.5", "-5 N", "'=x"];

        let file = String::from_utf8(written(&["a"; 11], &[row(&cells)])).unwrap();

        let line = file.split_once("\r\n").unwrap().1;
        assert_eq!(line, "'=1+1,'+A1,'-B2,'@sum,'\tx,\"'\rx\",'\0x,-5,+3.5,'-5 N,''=x\r\n");
    }

    #[test]
    fn a_lone_empty_cell_is_not_a_blank_row() {
        let file = written(&["code"], &[row(&[""])]);

        assert_eq!(file, b"code\r\n\"\"\r\n");
    }

    proptest! {
        #[test]
        fn a_guard_comes_off_exactly(text in "'{0,3}[=+@\t\r\0.0-9a-]{0,5}") {
            let guarded = if needs_guard(&text) { format!("'{text}") } else { text.clone() };
            prop_assert!(is_plain_number(&guarded)
                || !guarded.starts_with(['=', '+', '-', '@', '\t', '\r', '\0']));
            prop_assert_eq!(unguarded(&guarded), text);
        }

        #[test]
        fn what_is_written_reads_back_the_same(
            rows in proptest::collection::vec(
                proptest::collection::vec("['=+@\\-a-z0-9,;\"\r\n\t é漢\u{a0}]{0,12}", 3), 0..12),
        ) {
            // The ends are trimmed on reading; the records that are exported hold none.
            let rows: Vec<Vec<String>> = rows
                .into_iter()
                .map(|cells| cells.iter().map(|cell| cell.trim().to_owned()).collect())
                .filter(|cells: &Vec<String>| cells.iter().any(|cell| !cell.is_empty()))
                .collect();

            let file = written(&["code", "title", "notes"], &rows);
            let table = table::read(&file).unwrap();

            prop_assert_eq!(table.bad, vec![]);
            let back: Vec<Vec<String>> = table.rows.into_iter().map(|row| row.cells).collect();
            prop_assert_eq!(back, rows);
        }
    }
}
