//! The fields of an attempt under their heads: what its outcome needs first, and what is seldom asked
//! for.

use super::RowView;
use crate::forms::FieldView;

/// The fields of an attempt that belong together.
pub(crate) struct Part<'a> {
    pub head: &'static str,
    /// The outcomes for which it is asked, where all of its fields share them.
    pub when: &'static str,
    pub fields: Vec<&'a FieldView>,
}

/// Fields that stand under “More”.
pub(crate) struct Fold<'a> {
    pub head: &'static str,
    pub fields: Vec<&'a FieldView>,
}

impl Fold<'_> {
    pub fn filled(&self) -> usize {
        self.fields.iter().filter(|field| !field.value.is_empty()).count()
    }

    pub fn is_wrong(&self) -> bool {
        self.fields.iter().any(|field| field.error.is_some())
    }
}

/// The fields that stand under “What stays behind”.
const STAYS_BEHIND: [&str; 8] = [
    "as_left",
    "safe_until",
    "safe_until_flight",
    "forbids",
    "temporary",
    "outside_after",
    "outside_items",
    "function_after",
];

/// Under which head a field of an attempt stands.
fn part_of(name: &str) -> usize {
    match name {
        "excursion" | "slot" | "approach" | "technique" | "side" => 0,
        "left_after" | "as_left" => 2,
        _ => 1,
    }
}

impl RowView {
    /// The fields that an outcome needs first, part by part, each under its head.
    pub fn parts(&self) -> Vec<Part<'_>> {
        let heads = ["Where and how", "What happened", "How it was left"];
        let parts = heads.into_iter().enumerate().map(|(at, head)| {
            let fields: Vec<&FieldView> =
                self.first.iter().filter(|field| part_of(&self.own(field)) == at).collect();
            let first = fields.first().map_or("", |field| field.when);
            let shared = fields.iter().all(|field| field.when == first);
            Part { head, when: if shared { first } else { "" }, fields }
        });
        parts.filter(|part| !part.fields.is_empty()).collect()
    }

    /// What is seldom asked for: about the work, and about what stays behind.
    pub fn folds(&self) -> [Fold<'_>; 2] {
        let (stays, work): (Vec<_>, Vec<_>) =
            self.more.iter().partition(|field| STAYS_BEHIND.contains(&self.own(field).as_str()));
        let about_the_work = "About the work: PET, seats, tools, values, lighting";
        let stays_behind = "What stays behind: constraint, left outside, function";
        [Fold { head: about_the_work, fields: work }, Fold { head: stays_behind, fields: stays }]
    }

    /// The name of a field within its row.
    fn own(&self, field: &FieldView) -> String {
        let name = field.name.as_str();
        name.strip_prefix(&format!("{}-", self.prefix)).unwrap_or(name).to_owned()
    }
}
