//! Words of a text that became records of their own: a record keeps them between quotation marks,
//! and the text finds them again by that.

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

/// Where the words stand in the text, however blanks and line ends were folded in between.
pub fn find(text: &str, words: &str) -> Option<(usize, usize)> {
    let wanted: Vec<&str> = words.split_whitespace().collect();
    let first = wanted.first()?;
    text.match_indices(first).find_map(|(start, _)| {
        let mut at = start;
        for (n, word) in wanted.iter().enumerate() {
            let rest = &text[at..];
            let trimmed = if n == 0 { rest } else { rest.trim_start() };
            if n > 0 && trimmed.len() == rest.len() {
                return None;
            }
            at = text.len() - trimmed.strip_prefix(word)?.len();
        }
        Some((start, at))
    })
}

/// What a record quotes of the text: all it says, or what stands between its quotation marks.
fn quotes_of(text: &str, record: &str) -> Vec<(usize, usize)> {
    if let Some(whole) = find(text, record) {
        return vec![whole];
    }
    let mut found = Vec::new();
    let mut rest = record;
    while let Some((_, after)) = rest.split_once('“') {
        // The text may hold quotation marks itself, so the longest stretch that it has counts.
        let mut ends: Vec<usize> = after.match_indices('”').map(|(at, _)| at).collect();
        ends.reverse();
        let hit = ends.iter().find_map(|&end| Some((find(text, &after[..end])?, end)));
        rest = match hit {
            Some((place, end)) => {
                found.push(place);
                &after[end..]
            }
            None => after,
        };
    }
    found
}

/// Cuts the text where quotes begin and end; `records` are what the records say.
pub fn marked<'a>(text: &'a str, records: &[&str]) -> Vec<Stretch<'a>> {
    let quotes: Vec<(usize, usize, usize)> = records
        .iter()
        .enumerate()
        .flat_map(|(n, record)| {
            quotes_of(text, record).into_iter().map(move |(from, to)| (from, to, n))
        })
        .collect();
    let mut cuts: Vec<usize> = quotes.iter().flat_map(|&(from, to, _)| [from, to]).collect();
    cuts.extend([0, text.len()]);
    cuts.sort_unstable();
    cuts.dedup();
    cuts.windows(2)
        .map(|cut| Stretch {
            text: &text[cut[0]..cut[1]],
            quoted_by: quotes
                .iter()
                .filter(|&&(from, to, _)| from <= cut[0] && cut[1] <= to)
                .map(|&(_, _, n)| n)
                .collect(),
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
    fn words_that_are_not_there_mark_nothing() {
        assert_eq!(find(NOTES, "hose left tight"), None);
        assert_eq!(find(NOTES, "  "), None);
        assert_eq!(find(NOTES, "stuckat"), None);
        assert_eq!(stretches(&["“never said”", ""]).len(), 1);
    }
}
