//! The people who use the service, and which names and passwords they may take.

use crate::time::Moment;
use crate::words::{Role, Theme};

/// A person as the service knows them; the password's hash stays in the store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    pub name: String,
    pub role: Role,
    /// False once switched off: no sign-in, and every session ended.
    pub active: bool,
    pub theme: Theme,
    /// The last change this person has looked at.
    pub seen_change: i64,
    pub made_at: Moment,
}

/// Who acts in the change log when the service itself does.
pub const SERVICE: &str = "holdover";
/// The longest name of a person, in characters.
pub(crate) const MAX_NAME_LETTERS: usize = 64;
/// The shortest password, in characters.
// Source: OWASP ASVS 5.0.0, 6.2.1 (8 is the floor, 15 strongly recommended), 2025.
pub(crate) const MIN_PASSWORD_LETTERS: usize = 15;
/// The longest password, in characters; longer ones only cost time.
// Source: OWASP ASVS 5.0.0, 6.2.9 (at least 64 must be taken), 2025.
pub(crate) const MAX_PASSWORD_LETTERS: usize = 256;

/// What must be left of a password without the words that anyone here would guess.
const OWN_CHARACTERS: usize = 8;
/// Different characters that a password has at least.
const DIFFERENT_CHARACTERS: usize = 5;
/// Words of the trade and of passwords, refused as the main matter of one.
const CONTEXT: [&str; 17] = [
    "holdover",
    "password",
    "passwort",
    "spacewalk",
    "excursion",
    "backlog",
    "flight",
    "worksite",
    "viewer",
    "engineer",
    "lead",
    "administrator",
    "admin",
    "secret",
    "welcome",
    "letmein",
    "changeme",
];
/// Rows along which fingers run.
const RUNS: [&str; 7] = [
    "01234567890123456789",
    "abcdefghijklmnopqrstuvwxyz",
    "qwertyuiop",
    "qwertzuiop",
    "asdfghjkl",
    "zxcvbnm",
    "1qaz2wsx3edc4rfv5tgb",
];

/// A name as it is kept: blanks folded. The error says what to do.
pub fn name(typed: &str) -> Result<String, String> {
    let folded = typed.split_whitespace().collect::<Vec<_>>().join(" ");
    if folded.is_empty() {
        return Err("Fill in a name; it cannot stay empty.".to_owned());
    }
    if folded.chars().count() > MAX_NAME_LETTERS {
        return Err(format!("This name is longer than {MAX_NAME_LETTERS} characters; shorten it."));
    }
    if folded.eq_ignore_ascii_case(SERVICE) {
        return Err(format!(
            "{SERVICE} is the service itself in the change log; choose another name."
        ));
    }
    if folded.chars().any(|c| c.is_control() || "/\\?#%".contains(c)) {
        return Err(
            "A name has no slash, question mark, hash or percent sign; leave them out.".to_owned()
        );
    }
    Ok(folded)
}

/// Whether a new password may be taken by that person. Any character counts, none is demanded.
pub fn password(typed: &str, person: &str, outpost: &str) -> Result<(), String> {
    let length = typed.chars().count();
    if length < MIN_PASSWORD_LETTERS {
        return Err(format!(
            "A password has at least {MIN_PASSWORD_LETTERS} characters; this one has {length}. \
             Several words in a row are easy to keep in mind."
        ));
    }
    if length > MAX_PASSWORD_LETTERS {
        return Err(format!(
            "A password has at most {MAX_PASSWORD_LETTERS} characters; shorten it."
        ));
    }
    let mut left = typed.to_lowercase();
    let mut different: Vec<char> = left.chars().collect();
    different.sort_unstable();
    different.dedup();
    let (person, outpost) = (person.to_lowercase(), outpost.to_lowercase());
    for word in [person.as_str(), outpost.as_str()].into_iter().chain(CONTEXT) {
        if !word.is_empty() {
            left = left.replace(word, "");
        }
    }
    for run in RUNS {
        left = without_run(&left, run);
    }
    let own = left.chars().filter(|c| c.is_alphanumeric()).count();
    if own < OWN_CHARACTERS || different.len() < DIFFERENT_CHARACTERS {
        return Err(
            "Most of this password can be guessed: a name or word of this place, a row of \
                    keys, or one thing repeated. Choose other words."
                .to_owned(),
        );
    }
    Ok(())
}

/// The text without stretches of four or more characters that follow the row, either way.
fn without_run(text: &str, row: &str) -> String {
    let row: Vec<char> = row.chars().collect();
    let back: Vec<char> = row.iter().rev().copied().collect();
    let text: Vec<char> = text.chars().collect();
    let mut kept = String::new();
    let mut at = 0;
    while at < text.len() {
        let run = [&row, &back].into_iter().map(|row| along(&text[at..], row)).max().unwrap_or(0);
        if run >= 4 {
            at += run;
        } else {
            kept.push(text[at]);
            at += 1;
        }
    }
    kept
}

/// How many characters at the start of `text` stand in `row` in the same order.
fn along(text: &[char], row: &[char]) -> usize {
    (0..row.len())
        .map(|from| text.iter().zip(&row[from..]).take_while(|(a, b)| a == b).count())
        .max()
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(typed: &str) -> bool {
        password(typed, "marit", "Skerry").is_err()
    }

    #[test]
    fn fifteen_characters_of_any_kind_are_enough_and_fourteen_are_not() {
        assert!(!refused("gull tar herring"));
        assert!(!refused("ржавый маяк на скале"));
        assert!(refused("gull tar herri"));
        assert!(!refused(&"wet rope under a cold lamp; ".repeat(9)));
        assert!(refused(&"wet rope under a cold lamp; ".repeat(10)));
    }

    #[test]
    fn words_of_this_place_do_not_make_a_password() {
        for typed in [
            "HoldoverHoldover",
            "marit marit marit 1",
            "skerry-password-1",
            "engineer engineer",
            "passwordpassword",
        ] {
            assert!(refused(typed), "{typed}");
        }
        assert!(!refused("holdover keeps my rusty lamp"));
    }

    #[test]
    fn rows_of_keys_and_one_thing_repeated_do_not_make_a_password() {
        for typed in [
            "123456789012345",
            "qwertyuiopasdfghjkl",
            "aaaaaaaaaaaaaaaa",
            "zyxwvutsrqponmlkj",
            "abababababababab",
        ] {
            assert!(refused(typed), "{typed}");
        }
    }

    #[test]
    fn a_name_is_folded_and_kept_out_of_addresses_that_it_would_break() {
        assert_eq!(name("  flight   lead ").unwrap(), "flight lead");
        for typed in ["", "   ", "a/b", "a?b", "a\u{7}b"] {
            assert!(name(typed).is_err(), "{typed:?}");
        }
        assert!(name(&"å".repeat(64)).is_ok());
        assert!(name(&"å".repeat(65)).is_err());
    }
}
