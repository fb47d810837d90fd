//! How typed words are asked for in the full-text index.

/// What is asked of the index for words as a person types them: every word must occur, each may go
/// on. `None` where nothing was typed that could be searched.
pub fn asked(typed: &str) -> Option<String> {
    let words: Vec<String> = typed
        .split_whitespace()
        .filter(|word| word.chars().any(char::is_alphanumeric))
        .map(|word| format!("\"{}\"*", word.replace('"', " ")))
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_becomes_words_that_must_all_occur() {
        assert_eq!(asked("  stuck  bo ").as_deref(), Some(r#""stuck"* "bo"*"#));
        assert_eq!(asked("T-0142").as_deref(), Some(r#""T-0142"*"#));
        assert_eq!(asked("NOT (a* \"b").as_deref(), Some(r#""NOT"* "(a*"* " b"*"#));
        assert_eq!(asked(" - \" * "), None);
    }
}
