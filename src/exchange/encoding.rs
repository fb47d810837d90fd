//! From the bytes of a file to text, piece by piece: byte-order marks, UTF-16, UTF-8 and, where
//! nothing else fits, Windows-1252. A file of any size takes the memory of one piece.

use std::io::{self, BufRead, Read, Seek, SeekFrom};

use encoding_rs::{CoderResult, Decoder, Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

use crate::table::TableError;

/// What spreadsheets write in front of UTF-8, so that they know it again.
pub(crate) const BYTE_ORDER_MARK: &str = "\u{feff}";

/// How much of a file is looked at to guess UTF-16 without a mark, and how much is read at once.
const PIECE: usize = 64 * 1024;

/// How the bytes of one file become text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct How {
    /// Nothing where it is UTF-8, in which stray bytes are read as Windows-1252.
    encoding: Option<&'static Encoding>,
    /// Length of the byte-order mark.
    mark: u64,
}

impl How {
    /// Text that this program wrote itself.
    pub const OURS: Self = Self { encoding: None, mark: 0 };
}

/// Finds out how a file is to be read; reads it once where the start does not say. What a person
/// should know about the guess is added to `notes`.
pub(crate) fn guess<S: Read + Seek>(
    source: &mut S,
    notes: &mut Vec<String>,
) -> Result<How, TableError> {
    source.seek(SeekFrom::Start(0))?;
    let mut start = Vec::with_capacity(PIECE);
    source.by_ref().take(PIECE as u64).read_to_end(&mut start)?;
    if let Some(what) = known_format(&start) {
        return Err(TableError::NotText { what });
    }
    let (nuls, how) = match Encoding::for_bom(&start) {
        Some((encoding, length)) if encoding != UTF_8 => {
            notes.push(format!(
                "The file was read as {}, as its byte-order mark says.",
                encoding.name()
            ));
            utf_16(source, How { encoding: Some(encoding), mark: length as u64 }, notes)?
        }
        Some((_, length)) => utf_8_or_windows(source, length as u64, notes)?,
        None => match utf_16_without_mark(&start) {
            Some(encoding) => {
                notes.push(format!(
                    "The file was read as {} (it has no byte-order mark).",
                    encoding.name()
                ));
                utf_16(source, How { encoding: Some(encoding), mark: 0 }, notes)?
            }
            None => utf_8_or_windows(source, 0, notes)?,
        },
    };
    if nuls > 0 {
        notes.push(format!("{nuls} NUL characters were left out."));
    }
    Ok(how)
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

fn utf_16<S: Read + Seek>(
    source: &mut S,
    how: How,
    notes: &mut Vec<String>,
) -> Result<(u64, How), TableError> {
    let mut text = Text::of(&mut *source, how)?;
    io::copy(&mut text, &mut io::sink())?;
    if text.broken {
        notes.push("Some characters could not be read; they stand as “\u{fffd}”.".to_owned());
    }
    Ok((text.nuls, how))
}

/// In UTF-16 every comma, digit and line end has a zero as its other byte, always on one side.
fn utf_16_without_mark(sample: &[u8]) -> Option<&'static Encoding> {
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
fn utf_8_or_windows<S: Read + Seek>(
    source: &mut S,
    mark: u64,
    notes: &mut Vec<String>,
) -> Result<(u64, How), TableError> {
    let (mut good, mut bad, mut nuls, mut lines) = (0, 0, 0, 1);
    let mut first_line = None;
    let mut take = |valid: &str, invalid: &[u8]| {
        if !valid.is_ascii() {
            good += valid.chars().filter(|c| !c.is_ascii()).count();
        }
        nuls += valid.matches('\0').count() as u64;
        lines += valid.matches('\n').count();
        if !invalid.is_empty() {
            first_line.get_or_insert(lines);
            bad += invalid.len();
        }
    };
    source.seek(SeekFrom::Start(mark))?;
    let (mut raw, mut held) = (vec![0; PIECE], 0);
    loop {
        let read = read_some(source, &mut raw[held..])?;
        let whole = &raw[..held + read];
        let left = pieces(whole, read == 0, &mut take);
        if read == 0 {
            break;
        }
        let from = whole.len() - left;
        raw.copy_within(from..from + left, 0);
        held = left;
    }
    let utf_8 = How { encoding: None, mark };
    if bad == 0 {
        return Ok((nuls, utf_8));
    }
    if good <= bad {
        notes.push(
            "The file is not UTF-8; it was read as Windows-1252. Look at the accented letters."
                .to_owned(),
        );
        return Ok((nuls, How { encoding: Some(WINDOWS_1252), mark }));
    }
    notes.push(format!(
        "{bad} bytes are not UTF-8 and were read as Windows-1252; the first stands in line {}. \
         Look at the accented letters there.",
        first_line.unwrap_or(1)
    ));
    Ok((nuls, utf_8))
}

/// Goes through bytes as UTF-8, each good stretch with the bad bytes behind it. Gives how many bytes
/// at the end may begin a letter that the next piece ends; none where this is the last piece.
fn pieces(bytes: &[u8], is_last: bool, mut take: impl FnMut(&str, &[u8])) -> usize {
    let mut at = 0;
    for chunk in bytes.utf8_chunks() {
        let (valid, invalid) = (chunk.valid(), chunk.invalid());
        at += valid.len() + invalid.len();
        let may_go_on = at == bytes.len()
            && std::str::from_utf8(invalid).is_err_and(|error| error.error_len().is_none());
        if may_go_on && !is_last {
            take(valid, &[]);
            return invalid.len();
        }
        take(valid, invalid);
    }
    0
}

fn read_some(source: &mut impl Read, into: &mut [u8]) -> io::Result<usize> {
    loop {
        match source.read(into) {
            Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
            read => return read,
        }
    }
}

/// The text of a file, from its start: without byte-order marks (two files joined hold two) and
/// without NUL characters.
pub(crate) struct Text<S> {
    source: S,
    decoder: Option<Decoder>,
    raw: Vec<u8>,
    held: usize,
    out: String,
    at: usize,
    has_begun: bool,
    has_ended: bool,
    nuls: u64,
    broken: bool,
}

impl<S: Read + Seek> Text<S> {
    pub(crate) fn of(mut source: S, how: How) -> io::Result<Self> {
        source.seek(SeekFrom::Start(how.mark))?;
        Ok(Self {
            source,
            decoder: how.encoding.map(Encoding::new_decoder_without_bom_handling),
            raw: vec![0; PIECE],
            held: 0,
            out: String::new(),
            at: 0,
            has_begun: false,
            has_ended: false,
            nuls: 0,
            broken: false,
        })
    }

    fn go_on(&mut self) -> io::Result<()> {
        self.out.clear();
        self.at = 0;
        while self.out.is_empty() && !self.has_ended {
            let read = read_some(&mut self.source, &mut self.raw[self.held..])?;
            self.has_ended = read == 0;
            let bytes = &self.raw[..self.held + read];
            let out = &mut self.out;
            self.held = if let Some(decoder) = &mut self.decoder {
                self.broken |= decoded(decoder, bytes, self.has_ended, out);
                0
            } else {
                let left = pieces(bytes, self.has_ended, |valid, invalid| {
                    out.push_str(valid);
                    out.push_str(&WINDOWS_1252.decode_without_bom_handling(invalid).0);
                });
                let from = bytes.len() - left;
                self.raw.copy_within(from..from + left, 0);
                left
            };
            self.without_marks();
        }
        Ok(())
    }

    fn without_marks(&mut self) {
        if !self.has_begun {
            let from = self.out.len() - self.out.trim_start_matches(BYTE_ORDER_MARK).len();
            self.out.drain(..from);
            self.has_begun = !self.out.is_empty();
        }
        let found = self.out.matches('\0').count();
        if found > 0 {
            self.nuls += found as u64;
            self.out.retain(|c| c != '\0');
        }
    }
}

/// Adds what the bytes say to `out`; gives whether some of it could not be read.
fn decoded(decoder: &mut Decoder, bytes: &[u8], is_last: bool, out: &mut String) -> bool {
    let (mut at, mut broken) = (0, false);
    loop {
        let room = decoder.max_utf8_buffer_length(bytes.len() - at).unwrap_or(PIECE);
        out.reserve(room);
        let (result, read, bad) = decoder.decode_to_string(&bytes[at..], out, is_last);
        at += read;
        broken |= bad;
        if result == CoderResult::InputEmpty {
            return broken;
        }
    }
}

impl<S: Read + Seek> BufRead for Text<S> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.at == self.out.len() {
            self.go_on()?;
        }
        Ok(&self.out.as_bytes()[self.at..])
    }

    fn consume(&mut self, amount: usize) {
        self.at = (self.at + amount).min(self.out.len());
    }
}

impl<S: Read + Seek> Read for Text<S> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let from = self.fill_buf()?;
        let count = from.len().min(into.len());
        into[..count].copy_from_slice(&from[..count]);
        self.consume(count);
        Ok(count)
    }
}
