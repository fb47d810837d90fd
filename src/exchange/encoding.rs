//! From the bytes of a file to text: byte-order marks, UTF-16, UTF-8 and, where nothing else
//! fits, Windows-1252.

use std::borrow::Cow;

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

use crate::table::TableError;

/// What spreadsheets write in front of UTF-8, so that they know it again.
pub const BYTE_ORDER_MARK: &str = "\u{feff}";

/// How much of a file is looked at to guess UTF-16 without a mark.
const SAMPLE: usize = 64 * 1024;

/// Turns the bytes of a file into text without byte-order mark or NUL characters. What a person
/// should know about the guess is added to `notes`.
pub(crate) fn decode<'a>(
    bytes: &'a [u8],
    notes: &mut Vec<String>,
) -> Result<Cow<'a, str>, TableError> {
    if let Some(what) = known_format(bytes) {
        return Err(TableError::NotText { what });
    }
    let text = if let Some((encoding, length)) = Encoding::for_bom(bytes) {
        marked(encoding, &bytes[length..], notes)
    } else if let Some(encoding) = utf_16_without_mark(bytes) {
        notes
            .push(format!("The file was read as {} (it has no byte-order mark).", encoding.name()));
        utf_16(encoding, bytes, notes)
    } else {
        utf_8_or_windows(bytes, notes)
    };
    Ok(without(text, notes))
}

/// Files that people take for a table and that hold none a CSV reader could see.
fn known_format(bytes: &[u8]) -> Option<&'static str> {
    let starts: [(&[u8], &str); 5] = [
        (b"PK\x03\x04", "a spreadsheet or zip file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet file"),
        (b"%PDF-", "a PDF file"),
        (b"SQLite format 3\0", "a database file"),
        (b"\x1f\x8b\x08", "a compressed file"),
    ];
    starts.into_iter().find(|(start, _)| bytes.starts_with(start)).map(|(_, what)| what)
}

fn marked<'a>(
    encoding: &'static Encoding,
    bytes: &'a [u8],
    notes: &mut Vec<String>,
) -> Cow<'a, str> {
    if encoding == UTF_8 {
        return utf_8_or_windows(bytes, notes);
    }
    notes.push(format!("The file was read as {}, as its byte-order mark says.", encoding.name()));
    utf_16(encoding, bytes, notes)
}

fn utf_16<'a>(
    encoding: &'static Encoding,
    bytes: &'a [u8],
    notes: &mut Vec<String>,
) -> Cow<'a, str> {
    let (text, broken) = encoding.decode_without_bom_handling(bytes);
    if broken {
        notes.push("Some characters could not be read; they stand as “\u{fffd}”.".to_owned());
    }
    text
}

/// In UTF-16 every comma, digit and line end has a zero as its other byte, always on one side.
fn utf_16_without_mark(bytes: &[u8]) -> Option<&'static Encoding> {
    let sample = &bytes[..bytes.len().min(SAMPLE)];
    let pairs = sample.as_chunks::<2>().0;
    let first = pairs.iter().filter(|[high, low]| *high == 0 && *low != 0).count();
    let second = pairs.iter().filter(|[low, high]| *high == 0 && *low != 0).count();
    let (zeros, others, encoding) =
        if second > first { (second, first, UTF_16LE) } else { (first, second, UTF_16BE) };
    if zeros * 20 < pairs.len() || others * 10 > zeros || zeros == 0 {
        return None;
    }
    // Stray NUL characters in ordinary text can stand on one side too. Text in Latin letters is
    // nearly all zeros on that side; in other letters it is no text at all when read as bytes.
    let latin = zeros * 4 >= pairs.len();
    let broken = std::str::from_utf8(sample).is_err_and(|error| error.error_len().is_some());
    let control = |byte: &&u8| matches!(byte, 1..=8 | 11 | 12 | 14..=31);
    let controls = sample.iter().filter(control).count();
    (latin || broken || controls * 20 >= sample.len()).then_some(encoding)
}

/// Text that is not UTF-8 as a whole is Windows-1252; where most accented letters are good UTF-8
/// and a few bytes are not, only those bytes are (tables pasted together from two sources).
fn utf_8_or_windows<'a>(bytes: &'a [u8], notes: &mut Vec<String>) -> Cow<'a, str> {
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Cow::Borrowed(text);
    }
    let wide = |text: &str| text.chars().filter(|c| !c.is_ascii()).count();
    let (good, bad) = bytes.utf8_chunks().fold((0, 0), |(good, bad), chunk| {
        (good + wide(chunk.valid()), bad + chunk.invalid().len())
    });
    if good <= bad {
        notes.push(
            "The file is not UTF-8; it was read as Windows-1252. Look at the accented letters."
                .to_owned(),
        );
        return WINDOWS_1252.decode_without_bom_handling(bytes).0;
    }
    let mut text = String::with_capacity(bytes.len() + bad);
    let mut first_line = None;
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        if !chunk.invalid().is_empty() {
            first_line.get_or_insert_with(|| 1 + text.matches('\n').count());
            text.push_str(&WINDOWS_1252.decode_without_bom_handling(chunk.invalid()).0);
        }
    }
    notes.push(format!(
        "{bad} bytes are not UTF-8 and were read as Windows-1252; the first stands in line {}. \
         Look at the accented letters there.",
        first_line.unwrap_or(1)
    ));
    Cow::Owned(text)
}

/// Drops marks at the start (two files joined hold two) and NUL characters anywhere.
fn without<'a>(text: Cow<'a, str>, notes: &mut Vec<String>) -> Cow<'a, str> {
    let text = match text {
        Cow::Borrowed(text) => Cow::Borrowed(text.trim_start_matches(BYTE_ORDER_MARK)),
        Cow::Owned(text) if text.starts_with(BYTE_ORDER_MARK) => {
            Cow::Owned(text.trim_start_matches(BYTE_ORDER_MARK).to_owned())
        }
        owned @ Cow::Owned(_) => owned,
    };
    if !text.contains('\0') {
        return text;
    }
    notes.push(format!("{} NUL characters were left out.", text.matches('\0').count()));
    Cow::Owned(text.replace('\0', ""))
}
