//! Sentences with links, the one way in which a page has them: codes lead to their records, unknown
//! fields to their forms. A template draws the pieces with `p::sentence`.

use crate::addresses;
use compute::fit::Part;
use domain::kinds::Kind;

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Piece {
    Words(String),
    /// An address and the code that leads there.
    Code(String, String),
    /// The words for a field that is empty, with where it is filled in.
    Field(String, String),
}

impl Piece {
    /// Without where it leads.
    pub(crate) fn words(&self) -> &str {
        match self {
            Self::Words(words) | Self::Code(_, words) | Self::Field(_, words) => words,
        }
    }
}

/// A sentence of the fit with its codes and fields as links.
pub(crate) fn of_parts(parts: &[Part]) -> Vec<Piece> {
    let piece = |part: &Part| match part {
        Part::Text(words) => Piece::Words(words.clone()),
        Part::Code(kind, code) => Piece::Code(addresses::of(*kind, code), code.clone()),
        Part::Field { kind, code, column, words } => {
            Piece::Field(addresses::field(*kind, code, column), (*words).to_owned())
        }
    };
    parts.iter().map(piece).collect()
}

/// Splits a sentence at what looks like a code of ours. Only the shape is known here; whether such a
/// record exists is not asked.
pub(crate) fn linked(words: &str) -> Vec<Piece> {
    let mut parts: Vec<Piece> = Vec::new();
    let mut text = String::new();
    for word in words.split_inclusive(char::is_whitespace) {
        let inner = word.trim_start_matches(['(', '“']);
        let bare = inner
            .trim_end()
            .trim_end_matches("’s")
            .trim_end_matches([',', '.', ';', ':', ')', '”', '?', '!']);
        let Some(kind) = kind_of(bare) else {
            text.push_str(word);
            continue;
        };
        text.push_str(&word[..word.len() - inner.len()]);
        if !text.is_empty() {
            parts.push(Piece::Words(std::mem::take(&mut text)));
        }
        parts.push(Piece::Code(addresses::of(kind, bare), bare.to_owned()));
        text.push_str(&inner[bare.len()..]);
    }
    if !text.is_empty() {
        parts.push(Piece::Words(text));
    }
    parts
}

/// A sentence with its full stop.
pub(crate) fn ended(words: &str) -> String {
    let words = words.trim();
    if words.is_empty() || words.ends_with(['.', '!', '?']) {
        words.to_owned()
    } else {
        format!("{words}.")
    }
}

/// The first sentence of a text. A stop between digits ends none.
pub(crate) fn first_sentence(text: &str) -> String {
    let text = text.trim();
    let ends = text.char_indices().find(|(at, letter)| {
        let rest = &text[at + letter.len_utf8()..];
        *letter == '\n' || (*letter == '.' && rest.starts_with(char::is_whitespace))
    });
    match ends {
        Some((at, letter)) => ended(&text[..at + letter.len_utf8()]),
        None => ended(text),
    }
}

/// What kind of record a word names. Positions, units and crew are left out: `C-14` and `V-4`
/// stand on hardware, and a strap may well be called `S-3`.
fn kind_of(word: &str) -> Option<Kind> {
    let (prefix, rest) = word.split_once('-')?;
    let digits = rest.bytes().all(|b| b.is_ascii_digit());
    let kind = match prefix {
        "E" => Kind::Excursion,
        "G" => Kind::Flight,
        "T" => Kind::Task,
        "A" => Kind::Attempt,
        "D" => Kind::Deferral,
        "S" => Kind::Slot,
        "N" => Kind::Finding,
        "R" => Kind::Remedy,
        "L" => Kind::Tool,
        "O" => Kind::OutsideItem,
        "CN" => Kind::Constraint,
        "Q" => Kind::Route,
        "K" => Kind::Technique,
        "W" => Kind::Worksite,
        "F" => Kind::Family,
        _ => return None,
    };
    let fits = match kind {
        Kind::Excursion => {
            rest.split('.').all(|part| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit()))
        }
        Kind::Flight | Kind::OutsideItem | Kind::Route => digits && rest.len() >= 2,
        Kind::Technique | Kind::Worksite | Kind::Family => {
            rest.len() >= 2
                && rest.starts_with(|first: char| first.is_ascii_uppercase())
                && rest.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
        }
        _ => digits && rest.len() >= 3,
    };
    fits.then_some(kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(words: &str) -> Vec<String> {
        let parts = linked(words);
        let whole: String = parts
            .iter()
            .map(|part| match part {
                Piece::Code(_, text) | Piece::Words(text) | Piece::Field(_, text) => text.as_str(),
            })
            .collect();
        assert_eq!(whole, words);
        parts
            .into_iter()
            .filter_map(|part| match part {
                Piece::Code(address, _) => Some(address),
                Piece::Words(_) | Piece::Field(..) => None,
            })
            .collect()
    }

    #[test]
    fn a_sentence_is_not_cut_at_a_decimal_point() {
        let text = "It turned 0.5 turns. Then it stuck.";
        assert_eq!(first_sentence(text), "It turned 0.5 turns.");
        assert_eq!(first_sentence("One line\nand another"), "One line.");
        assert_eq!(first_sentence("No stop"), "No stop.");
        assert_eq!(ended(" "), "");
    }

    #[test]
    fn codes_in_a_sentence_become_links() {
        let words = "clip sheared at E-36.2, as T-0142 was; a T-bar held";
        assert_eq!(codes(words), ["/excursions/E-36.2", "/tasks/T-0142"]);
        let words = "Bringing O-07 in takes the route Q-13 away: S-0165 (T-0151) would have no way to W-BOOM. K-SWAP2’s tool?";
        let expected = [
            "/outside/O-07",
            "/routes/Q-13",
            "/slots/S-0165",
            "/tasks/T-0151",
            "/worksites/W-BOOM",
            "/techniques/K-SWAP2",
        ];
        assert_eq!(codes(words), expected);
    }

    #[test]
    fn names_of_hardware_and_half_codes_stay_words() {
        for words in ["strap S-3 and valve V-4 beside C-14", "T- and W-", "E-36..2", "K-lever"] {
            assert_eq!(codes(words), Vec::<String>::new(), "{words}");
        }
    }

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
        let field = "/excursions/E-1/edit#f-first-sunrise".to_owned();
        let expected = [
            Piece::Words("The ".into()),
            Piece::Field(field, "first sunrise".into()),
            Piece::Code("/tasks/T-1".into(), "T-1".into()),
        ];
        assert_eq!(of_parts(&parts), expected);
    }
}
