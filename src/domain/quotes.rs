//! Words of a text that became records of their own: a record keeps them between quotation marks,
//! and the text finds them again by that.

use crate::bounds::{MAX_QUOTE_BYTES, MAX_QUOTES, MAX_QUOTES_OF_RECORD};

/// A stretch of the text, with the numbers of the records that quote it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch<'a> {
    pub text: &'a str,
    pub quoted_by: Vec<usize>,
}

/// The words as a record keeps them.
pub fn quoted(words: &str) -> String {
    format!("“{}”", words.trim())
}

/// A text in which each run of blanks and line ends is one blank, so that words are found however
/// they were folded. Looking for words takes as long as the text is.
struct Folded {
    text: String,
    /// Where each byte of it stands in the text as it is.
    places: Vec<usize>,
}

impl Folded {
    fn of(text: &str) -> Self {
        let mut folded = Self { text: String::with_capacity(text.len()), places: Vec::new() };
        let mut was_blank = false;
        for (at, letter) in text.char_indices() {
            let is_blank = letter.is_whitespace();
            if is_blank && was_blank {
                continue;
            }
            was_blank = is_blank;
            folded.text.push(if is_blank { ' ' } else { letter });
            let bytes = if is_blank { 1 } else { letter.len_utf8() };
            folded.places.extend(at..at + bytes);
        }
        folded
    }

    fn find(&self, words: &str) -> Option<(usize, usize)> {
        let wanted = words.split_whitespace().collect::<Vec<_>>().join(" ");
        if wanted.is_empty() {
            return None;
        }
        let start = self.text.find(&wanted)?;
        let last = start + wanted.len() - 1;
        Some((self.places[start], self.places[last] + 1))
    }
}

/// Where the words stand in the text, however blanks and line ends were folded in between.
pub fn find(text: &str, words: &str) -> Option<(usize, usize)> {
    Folded::of(text).find(words)
}

/// What a record may quote: all it says, or what stands between its quotation marks. Marks within
/// marks belong to the words, so the outermost pairs count.
fn sought(record: &str) -> Vec<&str> {
    let mut open: Vec<usize> = Vec::new();
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (at, letter) in record.char_indices() {
        match letter {
            '“' => open.push(at + letter.len_utf8()),
            '”' => {
                let Some(from) = open.pop() else { continue };
                while pairs.last().is_some_and(|(inner, _)| *inner > from) {
                    pairs.pop();
                }
                pairs.push((from, at));
            }
            _ => {}
        }
    }
    let between = pairs.into_iter().map(|(from, to)| &record[from..to]);
    std::iter::once(record)
        .chain(between)
        .filter(|quote| quote.len() <= MAX_QUOTE_BYTES)
        .take(MAX_QUOTES_OF_RECORD)
        .collect()
}

/// Cuts the text where quotes begin and end; `records` are what the records say. Of very many
/// quotes the first are looked for.
pub fn marked<'a>(text: &'a str, records: &[&str]) -> Vec<Stretch<'a>> {
    let folded = Folded::of(text);
    let sought = records
        .iter()
        .enumerate()
        .flat_map(|(n, record)| sought(record).into_iter().map(move |quote| (n, quote)));
    let quotes: Vec<(usize, usize, usize)> = sought
        .take(MAX_QUOTES)
        .filter_map(|(n, quote)| folded.find(quote).map(|(from, to)| (from, to, n)))
        .collect();
    let mut cuts: Vec<usize> = quotes.iter().flat_map(|&(from, to, _)| [from, to]).collect();
    cuts.extend([0, text.len()]);
    cuts.sort_unstable();
    cuts.dedup();
    cuts.windows(2)
        .map(|cut| {
            let around = quotes.iter().filter(|&&(from, to, _)| from <= cut[0] && cut[1] <= to);
            let mut quoted_by: Vec<usize> = around.map(|&(_, _, n)| n).collect();
            quoted_by.dedup();
            Stretch { text: &text[cut[0]..cut[1]], quoted_by }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTES: &str = "Latch 4 stuck at “half”.\nPump swapped; hose left loose.";

    fn stretches(records: &[&str]) -> Vec<(String, Vec<usize>)> {
        let cut = marked(NOTES, records);
        assert_eq!(cut.iter().map(|s| s.text).collect::<String>(), NOTES, "nothing is lost");
        cut.into_iter().map(|s| (s.text.to_owned(), s.quoted_by)).collect()
    }

    #[test]
    fn words_are_found_by_the_quote_that_a_record_keeps() {
        let said = format!("{} Seen on the second try.", quoted("hose left loose."));
        let cut = stretches(&[&said]);
        assert_eq!(cut[1], ("hose left loose.".to_owned(), vec![0]));
        assert_eq!(cut.len(), 2);
    }

    #[test]
    fn blanks_line_ends_and_quotation_marks_in_the_words_do_no_harm() {
        let one = quoted("stuck at “half”.  Pump swapped;");
        let cut = stretches(&[&one, "Pump swapped;"]);
        assert_eq!(cut[1], ("stuck at “half”.\n".to_owned(), vec![0]));
        assert_eq!(cut[2], ("Pump swapped;".to_owned(), vec![0, 1]));
    }

    #[test]
    fn a_mark_without_its_other_half_does_no_harm() {
        let cut = stretches(&["“ as they said: “Pump swapped;” and “hose left loose.”"]);
        assert_eq!(cut[1].0, "Pump swapped;");
        assert_eq!(cut[3].0, "hose left loose.");
    }

    #[test]
    fn of_twenty_thousand_marks_few_quotes_are_looked_for_and_each_once() {
        let half = 10_000;
        for record in [
            format!("{}{}", "“".repeat(half), "”".repeat(half)),
            "“”".repeat(half),
            format!("{}a{}", "“a".repeat(half / 2), "”".repeat(half)),
            "”“".repeat(half),
        ] {
            let quotes = sought(&record);
            assert!(quotes.len() <= MAX_QUOTES_OF_RECORD, "{}", quotes.len());
            let letters: usize = quotes.iter().map(|quote| quote.len()).sum();
            assert!(letters <= MAX_QUOTES_OF_RECORD * MAX_QUOTE_BYTES, "{letters}");
            assert_eq!(marked(&record, &[record.as_str(); 300]).len(), 1);
        }
        // Words that nearly stand there many times are passed over as fast as the text is read.
        assert_eq!(find(&"a ".repeat(10_000), &format!("{}b", "a ".repeat(2_000))), None);
    }

    #[test]
    fn words_that_are_not_there_mark_nothing() {
        assert_eq!(find(NOTES, "hose left tight"), None);
        assert_eq!(find(NOTES, "  "), None);
        assert_eq!(find(NOTES, "stuckat"), None);
        assert_eq!(stretches(&["“never said”", ""]).len(), 1);
    }
}
