//! Which character parts the cells of a file, and which row holds the heads.

use std::convert::Infallible;
use std::io::{Read, Seek};

use crate::encoding::{How, Text};
use crate::rows::{Rows, filled};
use crate::table::TableError;

/// The separators that are tried, in the order in which a tie is decided.
const TRIED: [u8; 3] = [b',', b';', b'\t'];

/// How many rows are held against the head.
const SAMPLE_ROWS: usize = 60;

/// How many lines above the heads may hold titles.
const MAX_TITLES: usize = 5;

/// Bytes of the longest first line that names a separator.
const MAX_NAMING: u64 = 8;

/// A first line that names the separator, as spreadsheets write it (`sep=;`), and its length.
pub(crate) fn named<S: Read + Seek>(
    source: &mut S,
    how: How,
) -> Result<Option<(u8, usize)>, TableError> {
    let mut start = Vec::new();
    Text::of(source, how)?.take(MAX_NAMING).read_to_end(&mut start)?;
    let start = String::from_utf8_lossy(&start);
    let line = start.split_inclusive('\n').next().unwrap_or_default();
    let named = line.strip_prefix("sep=").or_else(|| line.strip_prefix("SEP="));
    let named = named.map(|named| named.trim_end_matches(['\r', '\n']));
    let separator = TRIED.into_iter().find(|tried| named.is_some_and(|n| n.as_bytes() == [*tried]));
    Ok(separator.map(|separator| (separator, line.len())))
}

/// The separator that gives the most heads, weighed by how many of the first rows have as many
/// cells as there are heads. Separators inside quotes do not count.
pub(crate) fn detect<S: Read + Seek>(source: &mut S, how: How) -> Result<u8, TableError> {
    let mut best = (0, TRIED[0]);
    for separator in TRIED {
        let score = score(Rows::of(&mut *source, how, separator, 0)?);
        if score > best.0 {
            best = (score, separator);
        }
    }
    Ok(best.1)
}

/// What people say for it.
pub(crate) const fn called(separator: u8) -> &'static str {
    match separator {
        b';' => "semicolons",
        b'\t' => "tabs",
        _ => "commas",
    }
}

/// How many of the first rows are titles above the heads: one cell filled in each, and then comes
/// a row with several. `filled` counts the filled cells of the row at that index, if there is one.
pub(crate) fn titles<E>(
    mut filled: impl FnMut(usize) -> Result<Option<usize>, E>,
) -> Result<usize, E> {
    for index in 0..=MAX_TITLES {
        match filled(index)? {
            Some(1) => {}
            Some(_) => return Ok(index),
            None => break,
        }
    }
    Ok(0)
}

/// A row that cannot be read ends the sample; the reading proper says what is wrong with it.
fn score<S: Read + Seek>(mut rows: Rows<S>) -> usize {
    let rows: Vec<(usize, usize)> = std::iter::from_fn(|| rows.next().ok().flatten())
        .take(SAMPLE_ROWS)
        .map(|(_, cells)| (cells.len(), filled(&cells)))
        .collect();
    let filled = |index: usize| Ok::<_, Infallible>(rows.get(index).map(|(_, filled)| *filled));
    let Ok(titles) = titles(filled);
    let Some(((head, _), rows)) = rows[titles..].split_first() else { return 0 };
    let alike = rows.iter().filter(|(cells, _)| cells == head).count();
    // In thousandths; a tenth stays with the heads alone, for files without rows or all ragged.
    let agreement = if rows.is_empty() { 1_000 } else { 100 + 900 * alike / rows.len() };
    // A separator that does not part the first row has to be far better to make it a title.
    (head - 1) * agreement / if titles == 0 { 1 } else { 10 }
}
