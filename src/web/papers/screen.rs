//! What of a long paper its page shows at first. The file and the plain text are whole, and so is the
//! page where all of it is asked for.

use super::{Paper, Part};

/// Rows of its tables: some six sheets.
pub(super) const MAX_ROWS: usize = 180;

/// Keeps the first rows of the tables, and what stands before and between them. Says how many rows
/// there are in all where some went.
pub(super) fn first_rows(paper: &mut Paper, most: usize) -> Option<usize> {
    let all = rows(&paper.parts);
    if all <= most {
        return None;
    }
    let mut left = most;
    keep(&mut paper.parts, &mut left);
    Some(all)
}

fn rows(parts: &[Part]) -> usize {
    parts
        .iter()
        .map(|part| match part {
            Part::Table(table) => table.rows.len(),
            Part::Pair(left, right) => rows(left) + rows(right),
            _ => 0,
        })
        .sum()
}

/// Nothing stands after the last row that is kept.
fn keep(parts: &mut Vec<Part>, left: &mut usize) {
    for at in 0..parts.len() {
        match &mut parts[at] {
            Part::Table(table) => {
                table.rows.truncate(*left);
                *left -= table.rows.len();
            }
            Part::Pair(first, second) => {
                keep(first, left);
                keep(second, left);
            }
            _ => {}
        }
        if *left == 0 {
            parts.truncate(at + 1);
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::papers::{Table, text};

    fn table(rows: usize) -> Part {
        let mut table = Table::of(&[("Task", 0)]);
        table.rows = (0..rows).map(|at| vec![text(&at.to_string())]).collect();
        Part::Table(table)
    }

    fn paper() -> Paper {
        let heading = |words: &str| Part::Heading(words.to_owned());
        let pair = Part::Pair(vec![table(2)], vec![heading("right"), table(3)]);
        let parts = vec![heading("first"), table(4), pair, heading("last"), table(5)];
        Paper { parts, ..Paper::default() }
    }

    #[test]
    fn a_short_paper_stays_as_it_is() {
        let mut whole = paper();
        assert_eq!(first_rows(&mut whole, 14), None);
        assert_eq!((whole.parts.len(), rows(&whole.parts)), (5, 14));
    }

    #[test]
    fn the_first_rows_stay_and_nothing_stands_after_them() {
        for (most, parts) in [(13, 5), (9, 3), (7, 3), (4, 2), (1, 2)] {
            let mut cut = paper();
            assert_eq!(first_rows(&mut cut, most), Some(14));
            assert_eq!((cut.parts.len(), rows(&cut.parts)), (parts, most), "{most}");
        }
    }
}
