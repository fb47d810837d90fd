//! Marks the words of a text that a search was for, and cuts a long text down to where they stand. The
//! index could do it too, but it would look its words up anew for every find.

/// A letter that no text holds stands before and after each word that matches.
pub const BEFORE: char = '\u{2}';
pub const AFTER: char = '\u{3}';

/// A word that was looked for, or several that stand one after another, in small letters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sought {
    parts: Vec<String>,
    /// The last of them may be the beginning of a longer word.
    goes_on: bool,
}

/// Whether a typed word may be the beginning of a longer one. A single letter or digit may not: in a
/// large record it would begin half of what was ever written.
pub fn may_go_on(word: &str) -> bool {
    words_of(word).last().is_some_and(|last| last.text.chars().nth(1).is_some())
}

impl Sought {
    /// A word as it was typed, which may go on where [`may_go_on`].
    pub fn typed(word: &str) -> Self {
        Self { parts: parts(word), goes_on: may_go_on(word) }
    }

    /// A whole word.
    pub fn whole(word: &str) -> Self {
        Self { parts: parts(word), goes_on: false }
    }

    /// Whether it stands at the beginning of these words.
    fn begins(&self, words: &[Word<'_>]) -> bool {
        let Some((last, before)) = self.parts.split_last() else { return false };
        words.len() >= self.parts.len()
            && before.iter().zip(words).all(|(part, word)| *part == word.small)
            && words.get(before.len()).is_some_and(|word| {
                word.small == *last || (self.goes_on && word.small.starts_with(last.as_str()))
            })
    }
}

struct Word<'a> {
    text: &'a str,
    from: usize,
    small: String,
}

impl Word<'_> {
    const fn until(&self) -> usize {
        self.from + self.text.len()
    }
}

fn parts(word: &str) -> Vec<String> {
    words_of(word).into_iter().map(|word| word.small).collect()
}

/// The words of a text as the index parts them: letters and digits, all else between them.
fn words_of(text: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    let mut begun = None;
    for (at, letter) in text.char_indices() {
        match (begun, letter.is_alphanumeric()) {
            (None, true) => begun = Some(at),
            (Some(from), false) => {
                words.push(word(text, from, at));
                begun = None;
            }
            _ => {}
        }
    }
    if let Some(from) = begun {
        words.push(word(text, from, text.len()));
    }
    words
}

fn word(text: &str, from: usize, until: usize) -> Word<'_> {
    let text = &text[from..until];
    Word { text, from, small: text.to_lowercase() }
}

/// Which words of a text match.
fn matches(words: &[Word<'_>], sought: &[Sought]) -> Vec<bool> {
    let mut is_match = vec![false; words.len()];
    for at in 0..words.len() {
        for one in sought.iter().filter(|one| one.begins(&words[at..])) {
            is_match[at..at + one.parts.len()].fill(true);
        }
    }
    is_match
}

/// The whole text with what matches marked.
pub fn marked(text: &str, sought: &[Sought]) -> String {
    let words = words_of(text);
    let is_match = matches(&words, sought);
    between(text, &words, &is_match, 0..words.len())
}

/// So many words of the text around where most of what was sought stands, marked; dots where it was cut.
pub fn excerpt(text: &str, sought: &[Sought], most: usize) -> String {
    let words = words_of(text);
    let is_match = matches(&words, sought);
    if words.len() <= most {
        return between(text, &words, &is_match, 0..words.len());
    }
    let count = |from: usize| is_match[from..from + most].iter().filter(|hit| **hit).count();
    let mut best = (0, 0);
    for from in 0..=words.len() - most {
        let hits = count(from);
        if hits > best.1 {
            best = (from, hits);
        }
    }
    // Not at the very edge: a few words before the first that matches, where there are any.
    let first = is_match[best.0..].iter().position(|hit| *hit).map_or(0, |at| best.0 + at);
    let from = first.saturating_sub(most / 4).min(words.len() - most);
    let cut = between(text, &words, &is_match, from..from + most);
    let before = if from > 0 { "…" } else { "" };
    let after = if from + most < words.len() { "…" } else { "" };
    format!("{before}{}{after}", cut.trim())
}

/// The text from one word to another, with all that stands between them; to the text's ends where the range
/// reaches them.
fn between(
    text: &str,
    words: &[Word<'_>],
    is_match: &[bool],
    range: std::ops::Range<usize>,
) -> String {
    let from = if range.start == 0 { 0 } else { words[range.start].from };
    let until = if range.end == words.len() { text.len() } else { words[range.end - 1].until() };
    let mut out = String::with_capacity(until - from + 16);
    let mut at = from;
    for (word, hit) in words[range.clone()].iter().zip(&is_match[range]) {
        if *hit {
            out.push_str(&text[at..word.from]);
            out.push(BEFORE);
            out.push_str(word.text);
            out.push(AFTER);
            at = word.until();
        }
    }
    out.push_str(&text[at..until]);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        text.replace(BEFORE, "[").replace(AFTER, "]")
    }

    #[test]
    fn typed_words_match_what_begins_with_them_and_whole_ones_only_themselves() {
        let text = "Bolt 3, the bolts; a Bolted joint.";
        let typed = [Sought::typed("bolt")];
        assert_eq!(shown(&marked(text, &typed)), "[Bolt] 3, the [bolts]; a [Bolted] joint.");
        let whole = [Sought::whole("bolt")];
        assert_eq!(shown(&marked(text, &whole)), "[Bolt] 3, the bolts; a Bolted joint.");
    }

    #[test]
    fn a_code_or_a_hyphenated_word_matches_as_a_whole() {
        let text = "Cassette C-14 beside C-15, canted.";
        assert_eq!(
            shown(&marked(text, &[Sought::typed("c-14")])),
            "Cassette [C]-[14] beside C-15, canted."
        );
    }

    #[test]
    fn a_long_text_is_cut_down_to_where_the_words_stand() {
        let text = format!("{}the pin is seized {}", "one ".repeat(40), "two ".repeat(40));
        let found = excerpt(&text, &[Sought::typed("pin"), Sought::typed("seized")], 12);
        let found = shown(&found);
        assert_eq!(found, "…one one the [pin] is [seized] two two two two two two…");
        let short = excerpt("the pin", &[Sought::typed("pin")], 12);
        assert_eq!(shown(&short), "the [pin]");
        assert!(excerpt(&text, &[Sought::typed("nothing")], 12).starts_with("one one"));
    }

    #[test]
    fn letters_beyond_latin_and_nothing_at_all_do_no_harm() {
        assert_eq!(shown(&marked("болт заело", &[Sought::typed("болт")])), "[болт] заело");
        assert_eq!(marked("", &[Sought::typed("x")]), "");
        assert_eq!(marked("a b", &[Sought::typed("-")]), "a b");
        assert_eq!(excerpt("", &[], 12), "");
    }
}
