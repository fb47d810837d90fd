//! Which character parts the cells of a file, and which row holds the heads.

/// The separators that are tried, in the order in which a tie is decided.
const TRIED: [u8; 3] = [b',', b';', b'\t'];

/// How many rows are held against the head.
const SAMPLE_ROWS: usize = 60;

/// How many lines above the heads may hold titles.
const MOST_TITLES: usize = 5;

/// A first line that names the separator, as spreadsheets write it (`sep=;`), and its length.
pub(crate) fn named(text: &str) -> Option<(u8, usize)> {
    let line = text.split_inclusive('\n').next()?;
    let named = line.strip_prefix("sep=").or_else(|| line.strip_prefix("SEP="))?;
    let named = named.trim_end_matches(['\r', '\n']);
    let separator = TRIED.into_iter().find(|tried| named.as_bytes() == [*tried])?;
    Some((separator, line.len()))
}

/// The separator that gives the most heads, weighed by how many of the first rows have as many
/// cells as there are heads. Separators inside quotes do not count.
pub(crate) fn detect(text: &str) -> u8 {
    let mut best = (0, TRIED[0]);
    for separator in TRIED {
        let score = score(text, separator);
        if score > best.0 {
            best = (score, separator);
        }
    }
    best.1
}

/// What people say for it.
pub(crate) const fn called(separator: u8) -> &'static str {
    match separator {
        b';' => "semicolons",
        b'\t' => "tabs",
        _ => "commas",
    }
}

/// A reader over text already decoded. The head is a row like any other to it: heads and blanks
/// are looked at by us.
pub(crate) fn reader<R: std::io::Read>(source: R, separator: u8) -> csv::Reader<R> {
    csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .from_reader(source)
}

/// How many of the first rows are titles above the heads: one cell filled in each, and then comes
/// a row with several. `filled` counts the filled cells of the row at that index, if there is one.
pub(crate) fn titles<E>(
    mut filled: impl FnMut(usize) -> Result<Option<usize>, E>,
) -> Result<usize, E> {
    for index in 0..=MOST_TITLES {
        match filled(index)? {
            Some(1) => {}
            Some(_) => return Ok(index),
            None => break,
        }
    }
    Ok(0)
}

fn score(text: &str, separator: u8) -> usize {
    let filled = |row: &csv::ByteRecord| row.iter().filter(|c| !c.trim_ascii().is_empty()).count();
    let rows: Vec<csv::ByteRecord> = reader(text.as_bytes(), separator)
        .byte_records()
        .map_while(Result::ok)
        .filter(|row| filled(row) > 0)
        .take(SAMPLE_ROWS)
        .collect();
    let Ok(titles) = titles(|index| Ok::<_, std::convert::Infallible>(rows.get(index).map(filled)));
    let Some((head, rows)) = rows[titles..].split_first() else { return 0 };
    let alike = rows.iter().filter(|row| row.len() == head.len()).count();
    // In thousandths; a tenth stays with the heads alone, for files without rows or all ragged.
    let agreement = if rows.is_empty() { 1_000 } else { 100 + 900 * alike / rows.len() };
    // A separator that does not part the first row has to be far better to make it a title.
    (head.len() - 1) * agreement / if titles == 0 { 1 } else { 10 }
}
