//! Bounds on what a request may hold, in one place. Each is checked before work is done for what
//! was sent, and each refusal says the bound. `docs/operations.md` lists them.

/// Bytes of an address after its question mark.
pub const MAX_QUERY_BYTES: usize = 4_096;
/// Letters of a text that is searched for.
pub(crate) const MAX_SEARCH_LETTERS: usize = 400;
/// Letters of one word that is searched for.
pub(crate) const MAX_WORD_LETTERS: usize = 60;
/// Words of one search.
pub(crate) const MAX_SEARCH_WORDS: usize = 12;
/// Fields of one form.
pub const MAX_FORM_FIELDS: usize = 20_000;
/// Bytes of one field of a form.
pub const MAX_FIELD_BYTES: usize = 256 * 1024;
/// Entries of one list in a cell: codes, measured values, lines.
pub const MAX_LIST_ENTRIES: usize = 500;
/// Letters of the name of a saved view.
pub const MAX_VIEW_NAME: usize = 80;
/// Saved views of one person.
pub const MAX_VIEWS: usize = 50;
/// Files that come with one form.
pub const MAX_FORM_FILES: usize = 40;
/// Bytes of the head of one part of a form that may carry files.
pub const MAX_PART_HEAD_BYTES: usize = 16 * 1024;
/// Parts of such a form that could carry a file: a browser sends an empty one for each place where
/// none was chosen.
pub const MAX_FILE_PARTS: usize = 300;
/// Forms that may carry files read at the same time, whoever sent them.
pub const MAX_UPLOADS_AT_ONCE: usize = 8;
/// Photographs that wait because their form came back with something wrong, whoever sent them.
pub const MAX_WAITING_PHOTOS: usize = 400;
/// Bytes of all of them.
pub const MAX_WAITING_BYTES: u64 = 500_000_000;
/// Seconds for which a form that may carry files waits for its turn.
pub const MAX_UPLOAD_WAIT_SECONDS: u64 = 10;
/// Results in the debrief of one excursion.
pub const MAX_DEBRIEF_ROWS: usize = 200;
/// Tools in one form of a debrief.
pub const MAX_DEBRIEF_TOOLS: usize = 200;
/// Bytes of one row of a debrief that is kept as typed.
pub const MAX_DRAFT_BYTES: usize = 128 * 1024;
/// Bytes of the address that a form names to go back to.
pub const MAX_BACK_BYTES: usize = 4_096;
/// Presses on the board of one day, or of one practice of it.
pub const MAX_PRESSES: usize = 2_000;
/// Practices of one excursion at the same time.
pub const MAX_PRACTICES: usize = 20;

/// Quotes that are looked for in the notes of one excursion.
pub const MAX_QUOTES: usize = 500;
/// Quotes that are looked for of what one record says.
pub const MAX_QUOTES_OF_RECORD: usize = 20;
/// Bytes of one of them.
pub const MAX_QUOTE_BYTES: usize = 4_096;

/// Rows of one table.
pub const MAX_TABLE_ROWS: u64 = 200_000;
/// Seconds for which saving a table that was sent to a page may hold the one writer; whoever saves
/// waits so long, and less than they have patience for.
pub const MAX_TABLE_SECONDS: u64 = 10;
/// Columns of one table.
pub const MAX_TABLE_COLUMNS: usize = 200;
/// Bytes of one row of a table.
pub const MAX_TABLE_ROW_BYTES: usize = 1_000_000;
/// Rows of a table that is saved row by row, with nothing calculated on a copy before, and its bytes.
pub const MAX_UNTIMED_ROWS: u64 = 500;
pub const MAX_UNTIMED_BYTES: u64 = 256 * 1024;
/// Tables that are read at the same time, whoever sent them.
pub const MAX_TABLES_AT_ONCE: usize = 2;

/// Bytes of a form that is kept for a person whose session has ended.
pub const MAX_HELD_BYTES: usize = 64 * 1024;
/// Forms kept for one person.
pub const MAX_HELD_FORMS: i64 = 3;
/// Minutes for which such a form is kept.
pub const MAX_HELD_MINUTES: i64 = 60;

/// Days for which the key of a form is kept, so that the form counts once.
pub const MAX_FORM_KEY_DAYS: i64 = 7;
/// Days for which a practice run of a day is kept that nobody discarded.
pub const MAX_PRACTICE_DAYS: i64 = 2;
/// Hours for which a table that was sent, or a file that did not come in whole, is kept.
pub const MAX_UPLOAD_HOURS: i64 = 24;

/// Passwords that are hashed at the same time: each takes 19 MiB and a core.
pub const MAX_HASHING: usize = 2;
/// Passwords that wait for their turn to be hashed.
pub const MAX_HASHING_WAITING: usize = 50;
/// Photographs that wait for their turn to be decoded; one is decoded at a time.
pub const MAX_PICTURES_WAITING: usize = 8;

/// Why a text cannot be searched for; `None` where it can.
pub fn refuses_search(typed: &str) -> Option<String> {
    let letters = typed.chars().count();
    if letters > MAX_SEARCH_LETTERS {
        return Some(format!(
            "This search has {letters} characters; at most {MAX_SEARCH_LETTERS} are searched for. \
             Use fewer words."
        ));
    }
    let is_word = |word: &&str| word.chars().any(char::is_alphanumeric);
    let words = typed.split_whitespace().filter(is_word).count();
    if words > MAX_SEARCH_WORDS {
        return Some(format!(
            "This search has {words} words; at most {MAX_SEARCH_WORDS} are searched for. Use fewer."
        ));
    }
    let longest = typed.split_whitespace().map(|word| word.chars().count()).max().unwrap_or(0);
    (longest > MAX_WORD_LETTERS).then(|| {
        format!(
            "One word has {longest} characters; at most {MAX_WORD_LETTERS} are searched for. \
             Shorten it."
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_search_up_to_the_bounds_is_taken_and_one_beyond_is_refused_with_the_bound() {
        let word = "a".repeat(MAX_WORD_LETTERS);
        assert_eq!(refuses_search(&word), None);
        assert_eq!(refuses_search(""), None);
        let long_word = refuses_search(&format!("{word}a")).unwrap();
        assert!(long_word.contains("61 characters; at most 60"), "{long_word}");
        let many = format!("{word} ").repeat(7);
        assert!(refuses_search(&many).unwrap().contains("at most 400"));
        assert_eq!(refuses_search(&"a ".repeat(MAX_SEARCH_WORDS)), None);
        let words = refuses_search(&"a - ".repeat(MAX_SEARCH_WORDS + 1)).unwrap();
        assert!(words.contains("13 words; at most 12"), "{words}");
        // Letters are counted, not bytes.
        assert_eq!(refuses_search(&"ü".repeat(MAX_WORD_LETTERS)), None);
    }
}
