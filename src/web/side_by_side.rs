//! Two texts side by side: line against line, and in a line that changed word against word.

use similar::{ChangeTag, DiffOp, TextDiff};

/// How a row differs; a word and a shape say it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Differs {
    Same,
    Changed,
    TakenOut,
    Added,
}

impl Differs {
    pub const fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Changed => "changed",
            Self::TakenOut => "taken out",
            Self::Added => "added",
        }
    }

    pub const fn mark(self) -> &'static str {
        match self {
            Self::Same => "",
            Self::Changed => "k-part",
            Self::TakenOut => "k-drop",
            Self::Added => "k-set",
        }
    }
}

/// A stretch of a line; `differs` where the other side does not have it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    pub words: String,
    pub differs: bool,
}

/// One line of each side; `None` where a side has none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LinePair {
    pub differs: Differs,
    pub left: Option<Vec<Stretch>>,
    pub right: Option<Vec<Stretch>>,
}

/// The rows of two texts. Lines that were replaced stand against each other in their order.
pub fn rows(left: &str, right: &str) -> Vec<LinePair> {
    let (left, right) = (lines(left), lines(right));
    let diff = TextDiff::from_slices(&left, &right);
    let mut rows = Vec::new();
    for op in diff.ops() {
        match *op {
            DiffOp::Equal { old_index, len, .. } => {
                rows.extend(left[old_index..old_index + len].iter().map(|line| LinePair {
                    differs: Differs::Same,
                    left: Some(plain(line)),
                    right: Some(plain(line)),
                }));
            }
            DiffOp::Delete { old_index, old_len, .. } => {
                rows.extend(left[old_index..old_index + old_len].iter().map(|l| taken_out(l)));
            }
            DiffOp::Insert { new_index, new_len, .. } => {
                rows.extend(right[new_index..new_index + new_len].iter().map(|line| added(line)));
            }
            DiffOp::Replace { old_index, old_len, new_index, new_len } => {
                let old = &left[old_index..old_index + old_len];
                let new = &right[new_index..new_index + new_len];
                rows.extend(old.iter().zip(new).map(|(old, new)| changed(old, new)));
                rows.extend(old.iter().skip(new_len).map(|line| taken_out(line)));
                rows.extend(new.iter().skip(old_len).map(|line| added(line)));
            }
        }
    }
    rows
}

fn lines(text: &str) -> Vec<&str> {
    text.lines().map(str::trim).filter(|line| !line.is_empty()).collect()
}

fn plain(line: &str) -> Vec<Stretch> {
    vec![Stretch { words: line.to_owned(), differs: false }]
}

fn taken_out(line: &str) -> LinePair {
    let all = vec![Stretch { words: line.to_owned(), differs: true }];
    LinePair { differs: Differs::TakenOut, left: Some(all), right: None }
}

fn added(line: &str) -> LinePair {
    let all = vec![Stretch { words: line.to_owned(), differs: true }];
    LinePair { differs: Differs::Added, left: None, right: Some(all) }
}

fn changed(old: &str, new: &str) -> LinePair {
    let diff = TextDiff::from_words(old, new);
    let (mut left, mut right): (Vec<Stretch>, Vec<Stretch>) = (Vec::new(), Vec::new());
    for change in diff.iter_all_changes() {
        let words = change.value();
        match change.tag() {
            // A blank between two words that differ belongs to them.
            ChangeTag::Equal if words.trim().is_empty() => {
                for line in [&mut left, &mut right] {
                    let differs = line.last().is_some_and(|last| last.differs);
                    put(line, words, differs);
                }
            }
            ChangeTag::Equal => {
                put(&mut left, words, false);
                put(&mut right, words, false);
            }
            ChangeTag::Delete => put(&mut left, words, true),
            ChangeTag::Insert => put(&mut right, words, true),
        }
    }
    LinePair { differs: Differs::Changed, left: Some(left), right: Some(right) }
}

/// Words of one sort that follow each other are one stretch; the blank behind the last of them is not
/// part of what differs.
fn put(line: &mut Vec<Stretch>, words: &str, differs: bool) {
    if let Some(last) = line.last_mut().filter(|last| last.differs && !differs) {
        let kept = last.words.trim_end().len();
        let blank = last.words.split_off(kept);
        line.push(Stretch { words: format!("{blank}{words}"), differs });
        return;
    }
    match line.last_mut().filter(|last| last.differs == differs) {
        Some(last) => last.words.push_str(words),
        None => line.push(Stretch { words: words.to_owned(), differs }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(line: Option<&Vec<Stretch>>) -> String {
        let bits = line.into_iter().flatten();
        bits.map(|b| if b.differs { format!("[{}]", b.words) } else { b.words.clone() }).collect()
    }

    #[test]
    fn a_word_that_changed_is_found_in_its_line_and_new_lines_stand_alone() {
        let old = "Close the grip.\nPull straight, no rocking.\nBag it.";
        let new = "Close the grip.\nPull straight, no rocking past 5 mm.\nBag it.\nReport.";
        let all = rows(old, new);
        let kinds: Vec<Differs> = all.iter().map(|row| row.differs).collect();
        assert_eq!(kinds, [Differs::Same, Differs::Changed, Differs::Same, Differs::Added]);
        assert_eq!(shown(all[1].left.as_ref()), "Pull straight, no [rocking.]");
        assert_eq!(shown(all[1].right.as_ref()), "Pull straight, no [rocking past 5 mm.]");
        assert_eq!(
            (all[3].left.as_ref(), shown(all[3].right.as_ref())),
            (None, "[Report.]".into())
        );

        let two = rows("Pull towards nadir until it is out.", "Pull straight along the rails.");
        assert_eq!(shown(two[0].left.as_ref()), "Pull [towards nadir until it is out.]");
        assert_eq!(shown(two[0].right.as_ref()), "Pull [straight along the rails.]");
    }

    #[test]
    fn nothing_is_lost_on_either_side_whatever_the_two_say() {
        for (old, new) in
            [("", "a"), ("a\nb", ""), ("a\nb\nc", "x\ny"), ("a b c\nd", "d\na c"), ("", "")]
        {
            let rows = rows(old, new);
            let side = |pick: fn(&LinePair) -> Option<&Vec<Stretch>>| -> Vec<String> {
                let lines = rows.iter().filter_map(pick);
                lines.map(|l| l.iter().map(|bit| bit.words.as_str()).collect()).collect()
            };
            assert_eq!(side(|row| row.left.as_ref()), lines(old));
            assert_eq!(side(|row| row.right.as_ref()), lines(new));
        }
    }
}
