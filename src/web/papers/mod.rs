//! Papers: pages that are printed and carried away. Each is read from the record into one model,
//! from which the page, the file that opens without a network and the plain text are written.

mod brief;
mod content;
mod finding;
mod flight;
mod flown;
mod handover;
mod hands;
mod lists;
mod manifest;
mod markup;
mod plain;
mod questions;
mod screen;
mod serve;

pub(crate) use flight::ARRANGED_BEFORE;
pub(crate) use markup::{Body, stamp};
pub(crate) use serve::{document, routes, sent};

use crate::drawings::markup::Drawing;
use crate::forms::FieldView;

/// Stands at the foot of every sheet.
pub(crate) const CAUTION: &str = "Caution. A planning aid, drawn from the record alone. Flight \
    rules, certified procedures and the people licensed to decide stand above it. A blank line is \
    unknown: fill it in by hand.";

/// One paper.
#[derive(Debug, Default)]
pub(crate) struct Paper {
    /// `Handover after G-36`.
    pub heading: String,
    /// What stands above the heading: the flight and its days.
    pub above: String,
    /// The name of its file without ending.
    pub file: String,
    /// To where its page leads back.
    pub back: (String, String),
    /// What its page asks for: an owner, a period, a unit.
    pub asks: Vec<FieldView>,
    /// Where the whole stands, when its page shows a part of each list.
    pub whole: Option<String>,
    pub parts: Vec<Part>,
}

#[derive(Debug)]
pub(crate) enum Part {
    /// A leading sentence or a paragraph.
    Words(Line),
    Heading(String),
    /// A heading that begins a sheet of its own.
    OwnSheet(String),
    Table(Table),
    /// Two columns side by side.
    Pair(Vec<Part>, Vec<Part>),
    Drawing(Drawing),
    /// Counts as bars, each with its figure.
    Bars(Vec<(String, i64)>),
    Job(Box<Job>),
    Pictures(Vec<Picture>),
    /// Who signs it.
    Sign(Vec<&'static str>),
}

/// A line of text in pieces.
pub(crate) type Line = Vec<Bit>;

#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Bit {
    Text(String),
    /// A code, in the face of codes.
    Code(String),
    Bold(String),
    /// A shape with its word.
    Mark(&'static str, String),
    /// What needs somebody: a filled triangle before bold words.
    Warn(String),
    /// Unknown: a line to fill in.
    Blank,
    /// A box round a word that must not be overlooked.
    Box(String),
    /// An address and its words; on a page alone.
    Link(String, String),
}

#[derive(Debug, Default)]
pub(crate) struct Table {
    pub heads: Vec<Head>,
    pub rows: Vec<Vec<Line>>,
    /// What stands there where there are no rows.
    pub empty: &'static str,
}

#[derive(Debug, Clone, Copy)]
pub(crate) struct Head {
    pub label: &'static str,
    /// A share of the width in per cent; 0: whatever is left.
    pub width: u8,
    pub is_number: bool,
}

/// One task of the brief.
#[derive(Debug, Default)]
pub(crate) struct Job {
    pub title: Line,
    pub under: Line,
    /// Label and words, in two columns.
    pub left: Vec<(&'static str, Line)>,
    pub right: Vec<(&'static str, Line)>,
    /// The two figures in boxes: label, figure, words.
    pub boxes: Vec<(&'static str, String, String)>,
    pub wide: Vec<(&'static str, Line)>,
}

#[derive(Debug)]
pub(crate) struct Picture {
    /// Code of the file.
    pub file: String,
    pub caption: String,
    /// Of its preview.
    pub hash: String,
    pub mime: &'static str,
    pub width: i64,
    pub height: i64,
}

impl Table {
    pub fn of(heads: &[(&'static str, u8)]) -> Self {
        let head = |&(label, width): &(&'static str, u8)| Head { label, width, is_number: false };
        Self { heads: heads.iter().map(head).collect(), ..Self::default() }
    }

    #[must_use]
    pub fn or(mut self, empty: &'static str) -> Self {
        self.empty = empty;
        self
    }

    /// The columns that hold figures.
    #[must_use]
    pub fn figures(mut self, columns: &[usize]) -> Self {
        for &column in columns {
            if let Some(head) = self.heads.get_mut(column) {
                head.is_number = true;
            }
        }
        self
    }
}

/// Text whose codes stand in their own face.
pub(crate) fn text(words: &str) -> Line {
    crate::linked::linked(words)
        .into_iter()
        .map(|piece| match piece {
            crate::linked::Piece::Words(words) | crate::linked::Piece::Field(_, words) => {
                Bit::Text(words)
            }
            crate::linked::Piece::Code(_, code) => Bit::Code(code),
        })
        .collect()
}

pub(crate) fn bold(words: &str) -> Line {
    vec![Bit::Bold(words.to_owned())]
}

pub(crate) fn warn(words: &str) -> Line {
    vec![Bit::Warn(words.to_owned())]
}

pub(crate) fn blank() -> Line {
    vec![Bit::Blank]
}

/// The text, or a line to fill in.
pub(crate) fn known(words: Option<&str>) -> Line {
    words.filter(|words| !words.trim().is_empty()).map_or_else(blank, text)
}

pub(crate) fn number(count: usize, one: &str, several: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {several}") }
}
