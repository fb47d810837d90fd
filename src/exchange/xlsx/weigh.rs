//! Looks a packed workbook over before a reader takes anything of it in: how many parts it has, how
//! much each unpacks to, and what in it would make a reader ask for memory or time without bound.

use std::io::{BufRead as _, BufReader, Read, Seek};

use super::{MAX_UNPACKED, WorkbookError, unreadable};
use crate::table::TableError;
use domain::bounds::MAX_TABLE_ROW_BYTES;

/// Parts of a workbook: sheets, styles, relations.
pub(super) const MAX_PARTS: usize = 200;
/// Begins each entry of the list of parts.
// Source: PKWARE, .ZIP File Format Specification (APPNOTE), section 4.3.12, 2022.
const ENTRY: &[u8] = b"PK\x01\x02";
/// Unpacked bytes and tags of the texts that the sheets share, which a reader holds at once.
const MAX_SHARED: u64 = 32_000_000;
const MAX_SHARED_TAGS: u64 = 2_000_000;
/// Tags of a part that is no sheet: styles, for instance, which a reader holds at once as well.
const MAX_TAGS: u64 = 200_000;
/// Bytes of a picture or another part that is no markup.
const MAX_PICTURE: u64 = 8_000_000;
/// Names where the workbook stands; a reader follows it.
const RELATIONS: &str = "_rels/.rels";
/// Bytes of the declaration with which a part begins.
const MAX_DECLARATION: usize = 1_000;
/// The attribute by which a reader makes room for the shared texts, before it has seen one.
// Source: ECMA-376 part 1, section 18.4.9 (sst), 2016.
const ROOM: &[u8] = b"uniqueCount";

pub(super) fn weigh<S: Read + Seek>(source: &mut S) -> Result<(), TableError> {
    source.rewind()?;
    if parts_named(&mut *source)? > MAX_PARTS {
        return Err(WorkbookError::TooManyParts.into());
    }
    source.rewind()?;
    let mut archive = zip::ZipArchive::new(source).map_err(|cause| unreadable(&cause))?;
    let mut told = 0_u64;
    for at in 0..archive.len() {
        let part = archive.by_index_raw(at).map_err(|cause| unreadable(&cause))?;
        told = told.saturating_add(part.size());
    }
    if told > MAX_UNPACKED {
        return Err(WorkbookError::TooLarge.into());
    }
    // What a part says of its length may be a lie, so each is unpacked and thrown away: first its
    // bytes and tags are counted, which is quick, then its markup is followed.
    let mut left = MAX_UNPACKED;
    each_part(&mut archive, |name, bounds, bytes, count| {
        count.bytes += bytes.len() as u64;
        left = left.checked_sub(bytes.len() as u64).ok_or(WorkbookError::TooLarge)?;
        if bounds.is_markup {
            count.tags += memchr::memchr_iter(b'<', bytes).count() as u64;
        }
        if count.bytes > bounds.bytes || count.tags > bounds.tags {
            let (part, most) = (name.to_owned(), bounds.in_words());
            return Err(WorkbookError::TooMuchIn { part, most }.into());
        }
        // Sheets may be long because nothing but their cells is read of them.
        if bounds.is_relations {
            let lower = bytes.to_ascii_lowercase();
            let is_sheet = memchr::memmem::find(&lower, b"worksheets").is_some();
            if is_sheet || lower.contains(&b'&') {
                return Err(Unfit::Broken.refused(name));
            }
        }
        Ok(())
    })?;
    each_part(&mut archive, |name, bounds, bytes, count| {
        if bounds.is_markup {
            count.markup.take(bytes).map_err(|found| found.refused(name))?;
        }
        Ok(())
    })
}

/// What was counted of one part.
struct Counted {
    bytes: u64,
    tags: u64,
    markup: Markup,
}

/// Unpacks every part piece by piece.
fn each_part<S: Read + Seek>(
    archive: &mut zip::ZipArchive<S>,
    mut piece: impl FnMut(&str, &Bounds, &[u8], &mut Counted) -> Result<(), TableError>,
) -> Result<(), TableError> {
    for at in 0..archive.len() {
        let part = archive.by_index(at).map_err(|cause| unreadable(&cause))?;
        let name = part.name().map_err(|cause| unreadable(&cause))?.into_owned();
        let bounds = Bounds::of(&name);
        let mut count = Counted { bytes: 0, tags: 0, markup: Markup::new() };
        let mut part = BufReader::with_capacity(64 * 1024, part);
        loop {
            let bytes = part.fill_buf().map_err(|cause| unreadable(&cause))?;
            if bytes.is_empty() {
                break;
            }
            piece(&name, &bounds, bytes, &mut count)?;
            let read = bytes.len();
            part.consume(read);
        }
    }
    Ok(())
}

/// How many parts the archive can name at most.
fn parts_named(source: impl Read) -> Result<usize, TableError> {
    let (mut reader, mut held, mut count) = (source, Vec::new(), 0);
    let mut step = vec![0; 256 * 1024];
    loop {
        let read = reader.read(&mut step)?;
        if read == 0 {
            return Ok(count);
        }
        held.extend_from_slice(&step[..read]);
        count += memchr::memmem::find_iter(&held, ENTRY).count();
        let kept = held.len().saturating_sub(ENTRY.len() - 1);
        held.drain(..kept);
    }
}

struct Bounds {
    bytes: u64,
    tags: u64,
    is_markup: bool,
    is_relations: bool,
}

impl Bounds {
    /// Sheets are read cell by cell; everything else is held at once.
    fn of(name: &str) -> Self {
        let name = name.to_ascii_lowercase().replace('\\', "/");
        let file = name.rsplit('/').next().unwrap_or_default();
        let is_markup = !is_picture(file);
        let (bytes, tags) = if !is_markup {
            (MAX_PICTURE, 0)
        } else if file == "sharedstrings.xml" {
            (MAX_SHARED, MAX_SHARED_TAGS)
        } else if name.contains("/worksheets/") && !name.contains("/_rels/") && file != "styles.xml"
        {
            (MAX_UNPACKED, u64::MAX)
        } else {
            (MAX_UNPACKED, MAX_TAGS)
        };
        let is_relations = name.trim_start_matches('/') == RELATIONS;
        Self { bytes, tags, is_markup, is_relations }
    }

    fn in_words(&self) -> String {
        let bytes = format!("{} MB", self.bytes / 1_000_000);
        if self.is_markup { format!("{bytes} or {} tags", self.tags) } else { bytes }
    }
}

fn is_picture(file: &str) -> bool {
    [".png", ".jpeg", ".jpg", ".gif", ".emf", ".wmf", ".bin", ".vml"]
        .iter()
        .any(|end| file.ends_with(end))
}

/// What makes a part unfit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Unfit {
    Long,
    Declared,
    Broken,
    Room,
}

impl Unfit {
    fn refused(self, part: &str) -> TableError {
        let why = match self {
            Self::Long => "one piece of it is longer than a row may be",
            Self::Declared => {
                "it holds a document type, a comment or a section that no workbook needs"
            }
            Self::Broken => "its markup is broken",
            Self::Room => "it says that it shares more texts than are read",
        };
        unreadable(&format!("{part}: {why}"))
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Text,
    /// Behind `<`.
    Opened,
    Tag,
    Quoted(u8),
    /// Between `<?` and `?>`, and whether the byte before was `?`.
    Declaration(bool),
}

/// Follows the markup of a part byte by byte, as a reader would take it in piece by piece.
struct Markup {
    place: Place,
    piece: usize,
    tag: Vec<u8>,
}

impl Markup {
    fn new() -> Self {
        Self { place: Place::Text, piece: 0, tag: Vec::new() }
    }

    fn take(&mut self, bytes: &[u8]) -> Result<(), Unfit> {
        let mut rest = bytes;
        while let Some(&byte) = rest.first() {
            if self.place == Place::Text {
                // Text is passed in one step up to the next tag.
                let until = memchr::memchr(b'<', rest).unwrap_or(rest.len());
                self.longer(until)?;
                rest = &rest[until..];
                if !rest.is_empty() {
                    self.piece = 0;
                    self.place = Place::Opened;
                    rest = &rest[1..];
                }
                continue;
            }
            rest = &rest[1..];
            self.longer(1)?;
            self.step(byte)?;
        }
        Ok(())
    }

    fn longer(&mut self, by: usize) -> Result<(), Unfit> {
        self.piece += by;
        if self.piece > MAX_TABLE_ROW_BYTES { Err(Unfit::Long) } else { Ok(()) }
    }

    fn step(&mut self, byte: u8) -> Result<(), Unfit> {
        self.place = match (self.place, byte) {
            (Place::Opened, b'!') => return Err(Unfit::Declared),
            (Place::Opened, b'?') => Place::Declaration(false),
            (Place::Declaration(true), b'>') => self.ended(),
            (Place::Declaration(_), _) if self.piece > MAX_DECLARATION => {
                return Err(Unfit::Declared);
            }
            (Place::Declaration(_), _) => Place::Declaration(byte == b'?'),
            (Place::Opened | Place::Tag, b'<') => return Err(Unfit::Broken),
            (Place::Opened | Place::Tag, b'>') => {
                self.asks_for_room()?;
                self.ended()
            }
            (Place::Opened | Place::Tag, b'"' | b'\'') => {
                self.tag.push(byte);
                Place::Quoted(byte)
            }
            (Place::Opened | Place::Tag, _) => {
                self.tag.push(byte);
                Place::Tag
            }
            (Place::Quoted(quote), _) => {
                self.tag.push(byte);
                if byte == quote { Place::Tag } else { Place::Quoted(quote) }
            }
            (Place::Text, _) => Place::Text,
        };
        Ok(())
    }

    fn ended(&mut self) -> Place {
        self.piece = 0;
        self.tag.clear();
        Place::Text
    }

    fn asks_for_room(&self) -> Result<(), Unfit> {
        for at in memchr::memmem::find_iter(&self.tag, ROOM) {
            let behind = self.tag[at + ROOM.len()..].iter();
            let digits: Vec<u8> = behind
                .copied()
                .skip_while(|byte| byte.is_ascii_whitespace() || b"=\"'".contains(byte))
                .take_while(u8::is_ascii_digit)
                .collect();
            let count = std::str::from_utf8(&digits).unwrap_or_default().trim_start_matches('0');
            let fits = count.is_empty() || count.parse::<u64>().is_ok_and(|n| n <= MAX_SHARED_TAGS);
            if !fits {
                return Err(Unfit::Room);
            }
        }
        Ok(())
    }
}
