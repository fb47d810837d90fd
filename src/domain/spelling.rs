//! Words that differ from a typed one by one letter, and the codes that somebody may have meant.

use std::collections::BTreeSet;

use crate::bounds::MAX_WORD_LETTERS;

/// Shorter words have too many neighbours to guess among.
pub const MIN_LETTERS: usize = 4;

/// Every word that one missing, one additional, one wrong letter or two letters in each other's
/// place make of `word`; letters are those of the basic Latin alphabet, the digits and the word's
/// own. Empty for words shorter than [`MIN_LETTERS`] or longer than [`MAX_WORD_LETTERS`]: the spellings
/// grow with the square of the letters.
// Source: Damerau, A technique for computer detection and correction of spelling errors,
// Communications of the ACM 7 (3), 1964: four out of five misspelled words have one such error.
pub fn one_letter_away(word: &str) -> BTreeSet<String> {
    if word.len() > 4 * MAX_WORD_LETTERS {
        return BTreeSet::new();
    }
    let letters: Vec<char> = word.to_lowercase().chars().collect();
    if !(MIN_LETTERS..=MAX_WORD_LETTERS).contains(&letters.len()) {
        return BTreeSet::new();
    }
    let alphabet: BTreeSet<char> =
        ('a'..='z').chain('0'..='9').chain(letters.iter().copied()).collect();
    let mut away = BTreeSet::new();
    let mut note = |before: &[char], middle: &[char], after: &[char]| {
        away.insert(before.iter().chain(middle).chain(after).collect::<String>());
    };
    for at in 0..=letters.len() {
        let (before, after) = letters.split_at(at);
        for letter in &alphabet {
            note(before, &[*letter], after);
            if !after.is_empty() {
                note(before, &[*letter], &after[1..]);
            }
        }
        if !after.is_empty() {
            note(before, &[], &after[1..]);
        }
        if let [first, second, rest @ ..] = after {
            note(before, &[*second, *first], rest);
        }
    }
    away.remove(&letters.iter().collect::<String>());
    away
}

/// The codes that somebody may have meant, the likeliest first: as typed, with the hyphen that is not
/// spoken, with the zeros that nobody says. Empty for what is no code.
pub fn codes_meant(typed: &str) -> Vec<String> {
    let typed = typed.trim().trim_end_matches([',', '.', ';', ':', '!', '?']);
    let mut meant = Vec::new();
    if typed.contains('-') && !typed.contains(char::is_whitespace) {
        meant.push(typed.to_owned());
    }
    let letters = typed.chars().take_while(char::is_ascii_alphabetic).count();
    let (prefix, rest) = typed.split_at(letters);
    let number = rest.strip_prefix(['-', ' ']).unwrap_or(rest);
    let is_number = !number.is_empty() && number.chars().all(|c| c.is_ascii_digit());
    let is_excursion = number.split_once('.').is_some_and(|(flight, number)| {
        [flight, number].iter().all(|part| part.parse::<u32>().is_ok())
    });
    // `M6` is a size of bolt; `T142` is a task.
    let is_spoken = rest.len() > number.len() || number.len() >= 3;
    if !(1..=2).contains(&letters) || !is_spoken || !(is_number || is_excursion) {
        return meant;
    }
    for width in [0, 4, 3, 2] {
        let code = format!("{prefix}-{number:0>width$}");
        if (is_number || width == 0) && !meant.contains(&code) {
            meant.push(code);
        }
    }
    meant
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_of_the_four_slips_leads_back() {
        for slip in ["casette", "casssette", "cascette", "cassetet"] {
            assert!(one_letter_away(slip).contains("cassette"), "{slip}");
        }
        assert!(!one_letter_away("caset").contains("cassette"), "two letters are too many");
    }

    #[test]
    fn letters_beyond_latin_are_moved_and_dropped() {
        assert!(one_letter_away("болтт").contains("болт"));
        assert!(one_letter_away("блот").contains("болт"));
    }

    #[test]
    fn a_short_word_and_the_word_itself_are_not_guessed() {
        assert!(one_letter_away("bot").is_empty());
        assert!(one_letter_away(&"ab".repeat(3_000)).is_empty(), "a long word is not guessed");
        assert!(one_letter_away(&"ü".repeat(61)).is_empty());
        assert!(!one_letter_away("bolt").contains("bolt"));
    }

    // Source: combinatorics, common practice: n deletions, n - 1 transpositions, 25 n
    // replacements and 26 (n + 1) - n insertions over 26 letters; here 36 letters.
    #[test]
    fn a_word_of_different_letters_has_as_many_neighbours_as_counted() {
        assert_eq!(one_letter_away("bolt").len(), 4 + 3 + 35 * 4 + (36 * 5 - 4));
    }

    #[test]
    fn a_code_is_known_as_it_is_spoken() {
        assert_eq!(codes_meant("T-0142"), ["T-0142"]);
        assert_eq!(codes_meant("t142"), ["t-142", "t-0142"]);
        assert_eq!(codes_meant("T 7,"), ["T-7", "T-0007", "T-007", "T-07"]);
        assert_eq!(codes_meant("E 36.2"), ["E-36.2"]);
        assert_eq!(codes_meant("W-KEEL4"), ["W-KEEL4"]);
    }

    #[test]
    fn what_is_no_code_stays_a_word() {
        for word in ["M6", "bolt", "340 mm", "", "half seated", "HP 42 sits", "12", "screw 100"] {
            assert!(codes_meant(word).is_empty(), "{word}");
        }
    }
}
