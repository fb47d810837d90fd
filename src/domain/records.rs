//! What every record has in common, and the one description of its columns that pages, import
//! and export share.

use crate::cells::{Cells, FieldError, Input};
use crate::kinds::Kind;

/// One column of a record kind.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// The name in files and forms.
    pub name: &'static str,
    /// The label on pages.
    pub label: &'static str,
    /// Other heads under which tables of other teams hold the same thing, in small letters.
    pub also: &'static [&'static str],
    /// What to type, where the label does not say it.
    pub hint: &'static str,
    pub input: Input,
    pub required: bool,
    /// Written by an operation of its own; a file may carry it, an edit form does not offer it.
    pub by_operation: bool,
}

/// A kind of record as people make, edit, import and export it.
pub trait Record: Sized + Clone + PartialEq + Send + Sync {
    const KIND: Kind;
    const COLUMNS: &'static [Column];

    fn code(&self) -> &str;
    fn set_code(&mut self, code: String);

    /// Reads the cells; every field that is wrong is named at once.
    fn parse(cells: &Cells) -> Result<Self, Vec<FieldError>>;

    /// The cells that `parse` takes back to the same record.
    fn cells(&self) -> Cells;
}

/// Defines a record: the struct, its columns, how it is read and how it is shown.
///
/// `field: Type = "Label"`, then optionally `also ["other head"]`, `hint "what to type"`, `op`.
macro_rules! record {
    ($(#[$doc:meta])* $name:ident is $kind:ident {
        $($(#[$fdoc:meta])* $field:ident : $type:ty = $label:literal
            $(also [$($also:literal),*])? $(hint $hint:literal)? $(op $op:literal)?),+ $(,)?
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name { $($(#[$fdoc])* pub $field: $type),+ }

        impl crate::records::Record for $name {
            const KIND: crate::kinds::Kind = crate::kinds::Kind::$kind;
            const COLUMNS: &'static [crate::records::Column] = &[
                $(crate::records::Column {
                    name: stringify!($field),
                    label: $label,
                    also: &[$($($also),*)?],
                    hint: concat!($($hint)?),
                    input: <$type as crate::cells::Cell>::INPUT,
                    required: <$type as crate::cells::Cell>::REQUIRED,
                    by_operation: crate::records::marked(concat!($($op)?)),
                }),+
            ];

            fn code(&self) -> &str { self.code.0.as_str() }
            fn set_code(&mut self, code: String) { self.code = crate::codes::Own(code.into()); }

            fn parse(
                cells: &crate::cells::Cells,
            ) -> Result<Self, Vec<crate::cells::FieldError>> {
                let mut wrong = Vec::new();
                $(let $field = cells.take::<$type>(stringify!($field), &mut wrong);)+
                match ($($field,)+) {
                    ($(Some($field),)+) if wrong.is_empty() => Ok(Self { $($field),+ }),
                    _ => Err(wrong),
                }
            }

            fn cells(&self) -> crate::cells::Cells {
                let mut cells = crate::cells::Cells::default();
                $(cells.set(
                    stringify!($field),
                    <$type as crate::cells::Cell>::show(&self.$field),
                );)+
                cells
            }
        }
    };
}
pub(crate) use record;

/// Whether the optional mark stands behind a column.
pub const fn marked(op: &str) -> bool {
    !op.is_empty()
}
