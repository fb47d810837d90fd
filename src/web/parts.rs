//! Counts the parts of a form that may carry files while it comes in, before anything is made of
//! them: a part's head is bounded, and so is how many parts there are.

use std::fmt;

use axum::http::{HeaderMap, StatusCode, header};

use crate::failure::Problem;
use domain::bounds::{MAX_FILE_PARTS, MAX_FORM_FIELDS, MAX_PART_HEAD_BYTES};

/// Letters of the text between two parts.
// Source: RFC 2046, section 5.1.1 (a boundary has no more than 70 characters), 1996.
const MAX_BOUNDARY: usize = 70;

/// What is wrong with the parts of a form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unfit {
    Head,
    Fields,
    Files,
    NoForm,
}

impl Unfit {
    pub fn problem(self) -> Problem {
        let status = match self {
            Self::NoForm => StatusCode::BAD_REQUEST,
            Self::Head | Self::Fields | Self::Files => StatusCode::PAYLOAD_TOO_LARGE,
        };
        Problem::new(status, "This form could not be read", self.to_string())
    }
}

impl fmt::Display for Unfit {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Head => write!(
                out,
                "The head of one of its parts is longer than {MAX_PART_HEAD_BYTES} bytes, the most \
                 that is read. Nothing was changed. Give the file a shorter name."
            ),
            Self::Fields => write!(
                out,
                "It has more than {MAX_FORM_FIELDS} fields, the most that are read. Nothing was \
                 changed. Send it in parts."
            ),
            Self::Files => write!(
                out,
                "It has more than {MAX_FILE_PARTS} places for files, the most that are read. \
                 Nothing was changed. Send it in parts."
            ),
            Self::NoForm => write!(
                out,
                "It is unclear where its parts end, so nothing was changed. Go back to the page before \
                 and send it again."
            ),
        }
    }
}

impl std::error::Error for Unfit {}

/// The text between two parts, as the head of the request gives it. Anything that could be read in
/// two ways is refused: what counts the parts and what reads them must see the same.
fn boundary(headers: &HeaderMap) -> Option<&str> {
    let kind = headers.get(header::CONTENT_TYPE)?.to_str().ok()?;
    let (_, parameter) = kind.split_once(';')?;
    let (name, value) = parameter.trim().split_once('=')?;
    let value = value.strip_prefix('"').and_then(|it| it.strip_suffix('"')).unwrap_or(value);
    let fits = |letter: u8| letter.is_ascii_alphanumeric() || b"'()+_,-./:?".contains(&letter);
    let is_plain = (1..=MAX_BOUNDARY).contains(&value.len()) && value.bytes().all(fits);
    (name.eq_ignore_ascii_case("boundary") && is_plain).then_some(value)
}

/// Where the reading stands.
#[derive(Debug, Clone, Copy)]
enum At {
    /// So many bytes of the first delimiter were seen; nothing may stand before it.
    Start(usize),
    /// Behind a delimiter; whether the line is about to end.
    Behind(bool),
    /// In a head of which so many bytes of its end were seen.
    Head(usize),
    /// In a part of which so many bytes of the next delimiter were seen.
    Body(usize),
    /// Behind the last part.
    End,
}

const HEAD_ENDS: &[u8] = b"\r\n\r\n";
const NAMES_A_FILE: &[u8] = b"filename";

/// Reads along, in as many pieces as the form comes in.
#[derive(Debug)]
pub(crate) struct Parts {
    /// With the end of the line before it.
    delimiter: Vec<u8>,
    at: At,
    head: Vec<u8>,
    fields: usize,
    files: usize,
}

impl Parts {
    pub fn of(headers: &HeaderMap) -> Result<Self, Unfit> {
        let boundary = boundary(headers).ok_or(Unfit::NoForm)?;
        let delimiter = format!("\r\n--{boundary}").into_bytes();
        Ok(Self { delimiter, at: At::Start(0), head: Vec::new(), fields: 0, files: 0 })
    }

    /// Reads the next piece; an error where a bound is passed.
    pub fn read(&mut self, mut piece: &[u8]) -> Result<(), Unfit> {
        while let Some((&byte, rest)) = piece.split_first() {
            match self.at {
                At::End => return Ok(()),
                // Nothing begins a delimiter but the end of a line.
                At::Body(0) if byte != b'\r' => {
                    let next = piece.iter().position(|byte| *byte == b'\r');
                    piece = &piece[next.unwrap_or(piece.len())..];
                }
                _ => {
                    self.take(byte)?;
                    piece = rest;
                }
            }
        }
        Ok(())
    }

    fn take(&mut self, byte: u8) -> Result<(), Unfit> {
        self.at = match self.at {
            At::Start(seen) => {
                let own = &self.delimiter[b"\r\n".len()..];
                if own[seen] != byte {
                    return Err(Unfit::NoForm);
                }
                if seen + 1 == own.len() { At::Behind(false) } else { At::Start(seen + 1) }
            }
            At::Behind(false) if byte == b' ' || byte == b'\t' => At::Behind(false),
            At::Behind(false) if byte == b'\r' => At::Behind(true),
            At::Behind(true) if byte == b'\n' => At::Head(0),
            At::Behind(_) | At::End => At::End,
            At::Head(seen) => {
                self.head.push(byte);
                if self.head.len() > MAX_PART_HEAD_BYTES {
                    return Err(Unfit::Head);
                }
                match seen_of(HEAD_ENDS, seen, byte) {
                    seen if seen == HEAD_ENDS.len() => {
                        self.count()?;
                        At::Body(0)
                    }
                    seen => At::Head(seen),
                }
            }
            At::Body(seen) => match seen_of(&self.delimiter, seen, byte) {
                seen if seen == self.delimiter.len() => At::Behind(false),
                seen => At::Body(seen),
            },
        };
        Ok(())
    }

    /// Counts the part whose head was read.
    fn count(&mut self) -> Result<(), Unfit> {
        if self.head.windows(NAMES_A_FILE.len()).any(|word| word == NAMES_A_FILE) {
            self.files += 1;
        } else {
            self.fields += 1;
        }
        self.head.clear();
        if self.files > MAX_FILE_PARTS {
            return Err(Unfit::Files);
        }
        if self.fields > MAX_FORM_FIELDS { Err(Unfit::Fields) } else { Ok(()) }
    }
}

/// How many bytes of a text were seen with this byte. Both texts hold the end of a line at their
/// start, and nothing else of them begins with its first letter but that of `HEAD_ENDS`.
fn seen_of(text: &[u8], seen: usize, byte: u8) -> usize {
    if text[seen] == byte { seen + 1 } else { usize::from(byte == b'\r') }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EDGE: &str = "edge-of-the-parts";

    fn parts() -> Parts {
        let mut headers = HeaderMap::new();
        let kind = format!("multipart/form-data; boundary={EDGE}");
        headers.insert(header::CONTENT_TYPE, kind.parse().unwrap());
        Parts::of(&headers).unwrap()
    }

    fn part(head: &str, body: &str) -> String {
        format!("--{EDGE}\r\nContent-Disposition: form-data; {head}\r\n\r\n{body}\r\n")
    }

    /// Reads in pieces of so many bytes; gives how many pieces were read, and what came of it.
    fn read(form: &str, step: usize) -> (usize, Result<(), Unfit>, Parts) {
        let mut parts = parts();
        let mut pieces = 0;
        for piece in form.as_bytes().chunks(step) {
            pieces += 1;
            if let Err(unfit) = parts.read(piece) {
                return (pieces, Err(unfit), parts);
            }
        }
        (pieces, Ok(()), parts)
    }

    #[test]
    fn fields_and_files_are_counted_however_the_form_comes_in() {
        let form = [
            part("name=\"csrf\"", "token"),
            part("name=\"a\"; filename=\"\"", ""),
            part("name=\"b\"; filename=\"x.txt\"", "one\r\n--edge\r\r\n--edge-of-the-party"),
            part("name=\"c\"", "\r\n\r\n"),
            format!("--{EDGE}--\r\nwhat follows is not read"),
        ]
        .concat();
        for step in [1, 2, 7, 64, form.len()] {
            let (_, outcome, parts) = read(&form, step);
            assert_eq!((outcome, parts.fields, parts.files), (Ok(()), 2, 2), "{step}");
            assert!(matches!(parts.at, At::End), "{step}");
        }
    }

    #[test]
    fn of_twenty_thousand_parts_for_files_no_more_are_read_than_the_bound() {
        let one = part("name=\"f00000\"; filename=\"x\"", "");
        let form: String = (0..20_000).map(|n| one.replace("00000", &format!("{n:05}"))).collect();
        let (pieces, outcome, parts) = read(&form, one.len());
        assert_eq!(outcome, Err(Unfit::Files));
        assert_eq!((pieces, parts.files), (MAX_FILE_PARTS + 1, MAX_FILE_PARTS + 1));
        assert!(Unfit::Files.to_string().contains("more than 300 places"));
    }

    #[test]
    fn a_head_is_not_read_beyond_its_bound() {
        // A head begins behind the line of its delimiter: an empty line there is no end of it.
        for start in ["\r\n\r\n", "\r\nContent-Disposition: "] {
            let form = format!("--{EDGE}{start}{}", "h".repeat(1_000_000));
            let (pieces, outcome, parts) = read(&form, 1_000);
            assert_eq!(outcome, Err(Unfit::Head));
            assert!(pieces <= MAX_PART_HEAD_BYTES / 1_000 + 1, "{pieces}");
            assert!(parts.head.len() <= MAX_PART_HEAD_BYTES + 1);
        }
    }

    #[test]
    fn fields_beyond_the_bound_and_what_stands_before_the_first_part_are_refused() {
        let form = part("name=\"a\"", "").repeat(MAX_FORM_FIELDS + 1);
        assert_eq!(read(&form, 4_096).1, Err(Unfit::Fields));
        assert_eq!(read(&format!("x{form}"), 4_096).1, Err(Unfit::NoForm));
    }

    #[test]
    fn a_boundary_that_could_be_read_in_two_ways_is_refused() {
        let found = |kind: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::CONTENT_TYPE, kind.parse().unwrap());
            boundary(&headers).map(str::to_owned)
        };
        let form = "multipart/form-data";
        assert_eq!(found(&format!("{form}; boundary=----x1")).as_deref(), Some("----x1"));
        assert_eq!(found(&format!("{form}; boundary=\"x 1\"")), None);
        assert_eq!(found(&format!("{form}; boundary=\"x\"")).as_deref(), Some("x"));
        for kind in ["", "; boundary=", "; x=1; boundary=a", "; boundary=a; x=1", "; boundary=a\"b"]
        {
            assert_eq!(found(&format!("{form}{kind}")), None, "{kind}");
        }
    }
}
