//! One cell of a record: how a value is typed, read, shown and offered on a form. The same
//! reading serves pages, files and the command line.

use std::borrow::Cow;
use std::collections::BTreeMap;

use crate::bounds::MAX_LIST_ENTRIES;
use crate::kinds::Kind;

#[cfg(test)]
mod tests;

/// How a value is offered on a form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Input {
    Line,
    Prose,
    Number,
    Day,
    Moment,
    Duration,
    YesNo,
    Choice(&'static [&'static str]),
    /// A code of a record of that kind.
    Code(Kind),
    /// Several of the inner sort, separated by commas (prose lists: by semicolons).
    Several(&'static Input),
}

impl Input {
    /// The kind of record whose codes stand here, alone or several.
    pub const fn names(self) -> Option<Kind> {
        match self {
            Self::Code(kind) | Self::Several(&Self::Code(kind)) => Some(kind),
            _ => None,
        }
    }
}

/// A value that stands in one cell of a file and in one field of a form.
pub trait Cell: Sized {
    const INPUT: Input;
    /// Whether a cell must hold something; `blank` answers for those that need not.
    const REQUIRED: bool = true;

    /// Reads what a person typed; the text is trimmed and not empty. The error says what to do.
    fn read(text: &str) -> Result<Self, String>;

    /// The text that `read` takes back to the same value.
    fn show(&self) -> String;

    /// What an empty cell means; `None` where a value is required.
    fn blank() -> Option<Self> {
        None
    }
}

impl<T: Cell> Cell for Option<T> {
    const INPUT: Input = T::INPUT;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        T::read(text).map(Some)
    }
    fn show(&self) -> String {
        self.as_ref().map(Cell::show).unwrap_or_default()
    }
    fn blank() -> Option<Self> {
        Some(None)
    }
}

/// Several values in one cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct List<T>(pub Vec<T>);

impl<T> Default for List<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T> std::ops::Deref for List<T> {
    type Target = [T];
    fn deref(&self) -> &[T] {
        &self.0
    }
}

impl<T> FromIterator<T> for List<T> {
    fn from_iter<I: IntoIterator<Item = T>>(values: I) -> Self {
        Self(values.into_iter().collect())
    }
}

impl<T: Cell> Cell for List<T> {
    const INPUT: Input = Input::Several(&T::INPUT);
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        text.split(separators(&T::INPUT))
            .map(str::trim)
            .filter(|part| !part.is_empty())
            .map(T::read)
            .collect::<Result<Vec<_>, _>>()
            .map(Self)
    }
    fn show(&self) -> String {
        let joint = if matches!(T::INPUT, Input::Prose) { "; " } else { ", " };
        self.0.iter().map(Cell::show).collect::<Vec<_>>().join(joint)
    }
    fn blank() -> Option<Self> {
        Some(Self::default())
    }
}

/// Lets a value of several parts stand in one TEXT column, written as its cell is.
macro_rules! stored_as_text {
    ($type:ty $(, $param:ident: $bound:path)?) => {
        impl<$($param: $bound)?> sqlx::Type<sqlx::Sqlite> for $type {
            fn type_info() -> sqlx::sqlite::SqliteTypeInfo {
                <String as sqlx::Type<sqlx::Sqlite>>::type_info()
            }
        }
        impl<'q $(, $param: $bound)?> sqlx::Encode<'q, sqlx::Sqlite> for $type {
            fn encode_by_ref(
                &self,
                out: &mut sqlx::sqlite::SqliteArgumentsBuffer,
            ) -> Result<sqlx::encode::IsNull, sqlx::error::BoxDynError> {
                let text = crate::cells::Cell::show(self);
                <String as sqlx::Encode<'q, sqlx::Sqlite>>::encode(text, out)
            }
        }
        impl<'r $(, $param: $bound)?> sqlx::Decode<'r, sqlx::Sqlite> for $type {
            fn decode(value: sqlx::sqlite::SqliteValueRef<'r>) -> Result<Self, sqlx::error::BoxDynError> {
                let text = <String as sqlx::Decode<'r, sqlx::Sqlite>>::decode(value)?;
                if text.is_empty() {
                    return crate::cells::Cell::blank().ok_or_else(|| "an empty cell".into());
                }
                <Self as crate::cells::Cell>::read(&text).map_err(Into::into)
            }
        }
    };
}
pub(crate) use stored_as_text;

stored_as_text!(List<T>, T: Cell);

/// Why a list is refused before its entries are read.
fn too_many<T: Cell>(text: &str) -> Option<String> {
    let Input::Several(inner) = T::INPUT else { return None };
    let parts = text.split(separators(inner)).filter(|part| !part.trim().is_empty());
    let entries = parts.count();
    (entries > MAX_LIST_ENTRIES).then(|| {
        format!("This list has {entries} entries; at most {MAX_LIST_ENTRIES} are kept. Shorten it.")
    })
}

const fn separators(inner: &Input) -> &'static [char] {
    if matches!(inner, Input::Prose) { &[';', '\n'] } else { &[',', ';', '\n'] }
}

impl Cell for bool {
    const INPUT: Input = Input::YesNo;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        match text.trim().to_lowercase().as_str() {
            "yes" | "y" | "true" | "1" | "on" | "x" => Ok(true),
            "no" | "n" | "false" | "0" | "off" => Ok(false),
            _ => Err(format!("“{text}” is neither yes nor no.")),
        }
    }
    fn show(&self) -> String {
        if *self { "yes" } else { "no" }.to_owned()
    }
    fn blank() -> Option<Self> {
        Some(false)
    }
}

/// The largest whole number in a cell, either side of nought: sums of what is typed stay far below
/// what the type holds.
pub(crate) const MAX_WHOLE: i64 = 1_000_000_000;

impl Cell for i64 {
    const INPUT: Input = Input::Number;
    fn read(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let sign = text.strip_prefix(['-', '+']).unwrap_or(text);
        if sign.is_empty() || !sign.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(format!("“{text}” is not a whole number."));
        }
        match text.parse::<i64>() {
            Ok(number) if (-MAX_WHOLE..=MAX_WHOLE).contains(&number) => Ok(number),
            _ => Err(format!("“{text}” is beyond 1,000,000,000; check the figure.")),
        }
    }
    fn show(&self) -> String {
        self.to_string()
    }
}

impl Cell for f64 {
    const INPUT: Input = Input::Number;
    fn read(text: &str) -> Result<Self, String> {
        if let Some((whole, rest)) = text.split_once(',')
            && rest.trim_end().len() == 3
            && whole.trim_start().trim_start_matches(['-', '+']) != "0"
        {
            return Err(format!(
                "“{text}” could be thousands or a decimal comma; write it without the comma or \
                 with a decimal point."
            ));
        }
        match text.trim().replace(',', ".").parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(value),
            _ => Err(format!("“{text}” is not a number.")),
        }
    }
    fn show(&self) -> String {
        self.to_string()
    }
}

/// Text without the control characters that no page can show and no file should hold.
fn printable(text: &str) -> Cow<'_, str> {
    let unseen = |c: char| c.is_control() && !c.is_whitespace();
    if text.contains(unseen) { text.replace(unseen, "").into() } else { text.into() }
}

/// One line of text, at most 300 characters, doubled blanks and line breaks folded.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Line(String);

impl Line {
    pub const MAX_LETTERS: usize = 300;

    /// Text that the service writes itself or that was read before, such as the name of a person:
    /// it is kept as it is. What a person typed is read by `Cell::read`.
    pub fn known(text: impl Into<String>) -> Self {
        let text = text.into();
        debug_assert!(text.chars().count() <= Self::MAX_LETTERS, "longer than a line: {text}");
        Self(text)
    }

    /// Text that is put together of parts of any length; what is too much is left out at its end.
    pub fn shortened(text: &str) -> Self {
        Self(text.chars().take(Self::MAX_LETTERS).collect())
    }

    pub fn into_string(self) -> String {
        self.0
    }
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Display for Line {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl Cell for Line {
    const INPUT: Input = Input::Line;
    fn read(text: &str) -> Result<Self, String> {
        let folded = printable(text).split_whitespace().collect::<Vec<_>>().join(" ");
        let long = folded.chars().count();
        if long > Self::MAX_LETTERS {
            return Err(format!(
                "This line has {long} characters; at most {} are kept. Shorten it, or use the notes.",
                Self::MAX_LETTERS
            ));
        }
        Ok(Self(folded))
    }
    fn show(&self) -> String {
        self.0.clone()
    }
}

/// Text of any shape, at most 20,000 characters; line ends are kept as `\n`.
#[derive(Debug, Clone, PartialEq, Eq, Default, sqlx::Type)]
#[sqlx(transparent)]
pub struct Prose(String);

impl Prose {
    pub const MAX_LETTERS: usize = 20_000;

    /// Text that the service writes itself or that was read before: it is kept as it is. What a
    /// person typed is read by `Cell::read`.
    pub fn known(text: impl Into<String>) -> Self {
        let text = text.into();
        debug_assert!(text.chars().count() <= Self::MAX_LETTERS, "longer than a text may be");
        Self(text)
    }

    pub fn into_string(self) -> String {
        self.0
    }
    pub fn as_str(&self) -> &str {
        &self.0
    }
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl std::fmt::Display for Prose {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl Cell for Prose {
    const INPUT: Input = Input::Prose;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        let kept = printable(text).replace("\r\n", "\n").replace('\r', "\n");
        let kept = kept.trim();
        let long = kept.chars().count();
        if long > Self::MAX_LETTERS {
            return Err(format!(
                "This text has {long} characters; at most {} are kept. Shorten it.",
                Self::MAX_LETTERS
            ));
        }
        Ok(Self(kept.to_owned()))
    }
    fn show(&self) -> String {
        self.0.clone()
    }
    fn blank() -> Option<Self> {
        Some(Self::default())
    }
}

/// What is wrong with one field, in a sentence that says what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldError {
    pub field: String,
    pub message: String,
}

impl FieldError {
    pub fn new(field: impl Into<String>, message: impl Into<String>) -> Self {
        Self { field: field.into(), message: message.into() }
    }
}

/// The cells of one record by column name, as typed or as shown.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Cells(BTreeMap<String, String>);

impl Cells {
    pub fn get(&self, name: &str) -> &str {
        self.0.get(name).map_or("", String::as_str)
    }
    pub fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }
    pub fn set(&mut self, name: impl Into<String>, text: impl Into<String>) {
        self.0.insert(name.into(), text.into());
    }
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(name, text)| (name.as_str(), text.as_str()))
    }

    /// Reads one cell; what is wrong with it is added to `wrong`.
    pub fn take<T: Cell>(&self, name: &str, wrong: &mut Vec<FieldError>) -> Option<T> {
        let text = self.get(name).trim();
        if text.is_empty() {
            let blank = T::blank();
            if blank.is_none() {
                wrong.push(FieldError::new(name, "Fill this in; it cannot stay empty."));
            }
            return blank;
        }
        match too_many::<T>(text).map_or_else(|| T::read(text), Err) {
            Ok(value) => Some(value),
            Err(message) => {
                wrong.push(FieldError::new(name, message));
                None
            }
        }
    }
}

impl FromIterator<(String, String)> for Cells {
    fn from_iter<I: IntoIterator<Item = (String, String)>>(pairs: I) -> Self {
        Self(pairs.into_iter().collect())
    }
}
