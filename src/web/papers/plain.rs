//! A paper as plain text, for a message that leaves by whatever carries text.

use super::{Bit, CAUTION, Head, Line, Paper, Part};
use crate::frame::PageFrame;
use crate::papers::markup::stamp;

/// Lines are broken before this column.
// Source: RFC 5322, section 2.1.1 (lines should be no more than 78 characters), 2008.
const WIDE: usize = 76;

pub(crate) fn plain(paper: &Paper, frame: &PageFrame) -> String {
    let mut out = String::new();
    let place = if frame.outpost.is_empty() { "Holdover" } else { frame.outpost.as_str() };
    push(&mut out, "", &format!("{place}: {}", paper.heading));
    if !paper.above.is_empty() {
        push(&mut out, "", &paper.above);
    }
    push(&mut out, "", &stamp(frame));
    parts(&mut out, &paper.parts);
    out.push('\n');
    push(&mut out, "", CAUTION);
    out
}

fn parts(out: &mut String, all: &[Part]) {
    for part in all {
        match part {
            Part::Words(words) => {
                out.push('\n');
                push(out, "", &said(words));
            }
            Part::Heading(words) | Part::OwnSheet(words) => {
                out.push('\n');
                push(out, "", &words.to_uppercase());
            }
            Part::Table(table) => {
                if table.rows.is_empty() {
                    push(out, "  ", table.empty);
                }
                for row in &table.rows {
                    push(out, "- ", &told(row, &table.heads));
                }
            }
            Part::Pair(left, right) => {
                parts(out, left);
                parts(out, right);
            }
            Part::Bars(_) | Part::Job(_) | Part::Drawing(_) | Part::Pictures(_) | Part::Sign(_) => {
            }
        }
    }
}

/// A row: what it is of, then each further cell behind the head of its column, so that a line
/// that leaves alone says what its figures are.
fn told(row: &[Line], heads: &[Head]) -> String {
    let cells = row.iter().map(|cell| said(cell)).zip(heads);
    let cells = cells.enumerate().filter(|(_, (words, _))| !words.is_empty());
    let cells = cells.map(|(at, (words, head))| match at {
        0 => words,
        _ => format!("{}: {words}", head.label),
    });
    cells.collect::<Vec<_>>().join(" | ")
}

pub(crate) fn said(line: &[Bit]) -> String {
    line.iter()
        .map(|bit| match bit {
            Bit::Text(words)
            | Bit::Code(words)
            | Bit::Bold(words)
            | Bit::Box(words)
            | Bit::Link(_, words)
            | Bit::Mark(_, words) => words.clone(),
            Bit::Warn(words) => format!("(!) {words}"),
            Bit::Blank => "______".to_owned(),
        })
        .collect::<String>()
        .trim()
        .to_owned()
}

/// One paragraph, broken at blanks; what follows the first line is set in as far as its bullet.
fn push(out: &mut String, bullet: &str, words: &str) {
    let inset = " ".repeat(bullet.chars().count());
    let mut line = bullet.to_owned();
    let mut is_bare = true;
    for word in words.split_whitespace() {
        if !is_bare && line.chars().count() + 1 + word.chars().count() > WIDE {
            out.push_str(line.trim_end());
            out.push('\n');
            line.clone_from(&inset);
            is_bare = true;
        }
        if !is_bare {
            line.push(' ');
        }
        line.push_str(word);
        is_bare = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::papers::{Table, blank, text};

    #[test]
    fn a_cell_stands_behind_the_head_of_its_column() {
        let table = Table::of(&[("Tool", 40), ("Out", 20), ("Remarks", 20), ("In", 20)]);
        let row = [text("Long crank"), text("1"), Line::new(), blank()];
        assert_eq!(told(&row, &table.heads), "Long crank | Out: 1 | In: ______");
    }

    #[test]
    fn lines_are_short_and_what_follows_a_bullet_is_set_in() {
        let mut out = String::new();
        push(&mut out, "- ", &"word ".repeat(40));
        assert!(out.lines().all(|line| line.chars().count() <= WIDE), "{out}");
        assert!(out.lines().skip(1).all(|line| line.starts_with("  word")), "{out}");
        let long = "x".repeat(100);
        let mut out = String::new();
        push(&mut out, "", &format!("a {long} b"));
        assert_eq!(out, format!("a\n{long}\nb\n"));
    }
}
