//! Sentences of the fit with their links: codes lead to records, unknown fields to their forms.

use crate::addresses;
use compute::fit::Part;

/// A piece of a sentence, with where it leads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Piece {
    pub words: String,
    pub address: Option<String>,
    pub is_code: bool,
}

pub(super) fn linked(parts: &[Part]) -> Vec<Piece> {
    parts
        .iter()
        .map(|part| match part {
            Part::Text(words) => Piece { words: words.clone(), address: None, is_code: false },
            Part::Code(kind, code) => Piece {
                words: code.clone(),
                address: Some(addresses::of(*kind, code)),
                is_code: true,
            },
            Part::Field { kind, code, column, words } => Piece {
                words: (*words).to_owned(),
                address: Some(addresses::field(*kind, code, column)),
                is_code: false,
            },
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::kinds::Kind;

    #[test]
    fn what_is_unknown_leads_to_its_field() {
        let parts = [
            Part::Text("The ".into()),
            Part::Field {
                kind: Kind::Excursion,
                code: "E-1".into(),
                column: "first_sunrise",
                words: "first sunrise",
            },
            Part::Code(Kind::Task, "T-1".into()),
        ];
        let pieces = linked(&parts);
        assert_eq!(pieces[0].address, None);
        assert_eq!(pieces[1].address.as_deref(), Some("/excursions/E-1/edit#f-first-sunrise"));
        assert_eq!(pieces[2].address.as_deref(), Some("/tasks/T-1"));
    }
}
