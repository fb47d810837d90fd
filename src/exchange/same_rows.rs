//! Knows a row again that has no code, so that the same file twice adds nothing.

use std::collections::HashMap;
use std::fmt::Write;

use sha2::{Digest, Sha256};

use domain::cells::Cells;
use domain::kinds::Kind;

/// The hash of a row's cells by column name: the order of columns, empty cells and doubled blanks
/// do not count.
pub(crate) fn row_hash(kind: Kind, cells: &Cells) -> [u8; 32] {
    let mut hash = Sha256::new();
    let mut add = |text: &str| {
        // The length goes before the text, so that two cells never run together into a third.
        hash.update((text.len() as u64).to_be_bytes());
        hash.update(text.as_bytes());
    };
    add(kind.word());
    for (name, text) in cells.iter() {
        let folded = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if !folded.is_empty() {
            add(name);
            add(&folded);
        }
    }
    hash.finalize().into()
}

/// Gives each row of one file its key: the hash of its cells and its number among equal rows.
#[derive(Debug)]
pub struct RowKeys {
    kind: Kind,
    seen: HashMap<[u8; 32], u32>,
}

impl RowKeys {
    pub fn new(kind: Kind) -> Self {
        Self { kind, seen: HashMap::new() }
    }

    /// The key of the next row, as in `9f86…0a08-1`.
    pub fn next(&mut self, cells: &Cells) -> String {
        let hash = row_hash(self.kind, cells);
        let number = self.seen.entry(hash).or_default();
        *number += 1;
        format!("{}-{number}", hex(&hash))
    }
}

/// Small letters, two for each byte.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        // Writing into a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(pairs: &[(&str, &str)]) -> Cells {
        pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
    }

    #[test]
    fn blanks_empty_cells_and_the_order_of_columns_do_not_count() {
        let one = cells(&[("flight", "G-31"), ("notes", "Cable  tied\n back")]);
        let other = cells(&[("notes", " Cable tied back"), ("flight", "G-31\u{a0}"), ("day", " ")]);

        assert_eq!(row_hash(Kind::Excursion, &one), row_hash(Kind::Excursion, &other));
    }

    #[test]
    fn another_text_column_or_kind_counts() {
        let one = cells(&[("flight", "G-31")]);

        let hash = row_hash(Kind::Excursion, &one);

        assert_ne!(hash, row_hash(Kind::Excursion, &cells(&[("flight", "G-32")])));
        assert_ne!(hash, row_hash(Kind::Excursion, &cells(&[("notes", "G-31")])));
        assert_ne!(hash, row_hash(Kind::Task, &one));
        assert_ne!(
            row_hash(Kind::Task, &cells(&[("a", "bc")])),
            row_hash(Kind::Task, &cells(&[("ab", "c")]))
        );
    }

    #[test]
    fn equal_rows_are_numbered_and_a_second_reading_gives_the_same_keys() {
        let rows = [cells(&[("flight", "G-31")]), cells(&[]), cells(&[("flight", "G-31")])];
        let keys = || {
            let mut keys = RowKeys::new(Kind::Excursion);
            rows.iter().map(|row| keys.next(row)).collect::<Vec<_>>()
        };

        let first = keys();

        assert!(first[0].ends_with("-1") && first[2].ends_with("-2"));
        assert_eq!(first[0][..64], first[2][..64]);
        assert_ne!(first[0], first[1]);
        assert_eq!(first, keys());
    }

    #[test]
    fn the_hash_is_plain_sha_256() {
        // Source: FIPS 180-4 example "abc", NIST cryptographic standards examples, 2015.
        assert_eq!(
            hex(&Sha256::digest(b"abc")),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
