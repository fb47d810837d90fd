//! How typed words are asked for in the full-text index.

use domain::excerpt::may_go_on;
use domain::kinds::Kind;

/// What is asked of the index for words as a person types them: every word must occur, each may go on
/// where [`may_go_on`]. `None` where nothing was typed that could be searched.
pub fn asked(typed: &str) -> Option<String> {
    let words: Vec<String> = typed
        .split_whitespace()
        .filter(|word| word.chars().any(char::is_alphanumeric))
        .map(as_typed)
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

fn as_typed(word: &str) -> String {
    let goes_on = if may_go_on(word) { "*" } else { "" };
    format!("\"{}\"{goes_on}", word.replace('"', " "))
}

/// A word that is looked for: as it was typed, or the words that stand in for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SearchWord {
    /// It may go on.
    Typed(String),
    /// One of these, whole.
    OneOf(Vec<String>),
}

/// What is asked of the index of everything: every word in the code, the title or the words of a
/// record, of these kinds where any are named. `None` without words.
pub fn everywhere(wanted: &[SearchWord], kinds: &[Kind]) -> Option<String> {
    let quoted = |word: &str| format!("\"{}\"", word.replace('"', " "));
    let one_of = |words: Vec<String>| words.join(" OR ");
    let words: Vec<String> = wanted
        .iter()
        .map(|wanted| match wanted {
            SearchWord::Typed(word) => as_typed(word),
            SearchWord::OneOf(words) => {
                format!("({})", one_of(words.iter().map(|word| quoted(word)).collect()))
            }
        })
        .collect();
    if words.is_empty() {
        return None;
    }
    let held = format!("{{code title words}} : ({})", words.join(" AND "));
    Some(if kinds.is_empty() {
        held
    } else {
        let kinds = kinds.iter().map(|kind| quoted(kind.word())).collect();
        format!("({held}) AND (kind : ({}))", one_of(kinds))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_is_asked_by_words_and_kinds() {
        let typed = SearchWord::Typed("pry".into());
        let either = SearchWord::OneOf(vec!["bolt".into(), "bold".into()]);
        let kinds = [Kind::Attempt, Kind::OutsideItem];
        assert_eq!(
            everywhere(&[typed, either], &kinds).as_deref(),
            Some(
                r#"({code title words} : ("pry"* AND ("bolt" OR "bold"))) AND (kind : ("attempt" OR "outside item"))"#
            )
        );
        assert_eq!(everywhere(&[], &kinds), None);
    }

    #[test]
    fn what_is_typed_becomes_words_that_must_all_occur() {
        assert_eq!(asked("  stuck  bo ").as_deref(), Some(r#""stuck"* "bo"*"#));
        assert_eq!(asked("T-0142").as_deref(), Some(r#""T-0142"*"#));
        assert_eq!(asked("NOT (ab* \"bc").as_deref(), Some(r#""NOT"* "(ab*"* " bc"*"#));
        // A letter alone is a word of its own, also at the end of a code.
        assert_eq!(asked("e T-1 ü").as_deref(), Some(r#""e" "T-1" "ü""#));
        assert_eq!(asked(" - \" * "), None);
    }
}
