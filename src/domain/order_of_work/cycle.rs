//! Tasks that come after each other in a ring could never be begun.

use std::collections::{BTreeMap, BTreeSet};

use super::Tie;
use crate::codes::TaskCode;

/// The codes of one ring, each to come after the next and the last after the first; begins with the
/// smallest code of the ring.
pub fn cycle(ties: &[Tie]) -> Option<Vec<TaskCode>> {
    let mut needs: BTreeMap<&TaskCode, BTreeSet<&TaskCode>> = BTreeMap::new();
    let mut needed_by: BTreeMap<&TaskCode, Vec<&TaskCode>> = BTreeMap::new();
    for tie in ties.iter().filter(|tie| tie.kind.comes_after()) {
        if needs.entry(&tie.task).or_default().insert(&tie.other) {
            needed_by.entry(&tie.other).or_default().push(&tie.task);
        }
    }
    // Take away whatever needs nothing, again and again: what stays is on a ring or needs one.
    let mut free: Vec<&TaskCode> =
        needed_by.keys().copied().filter(|task| !needs.contains_key(task)).collect();
    while let Some(task) = free.pop() {
        for dependent in needed_by.get(task).into_iter().flatten() {
            if let Some(left) = needs.get_mut(dependent) {
                left.remove(task);
                if left.is_empty() {
                    needs.remove(dependent);
                    free.push(dependent);
                }
            }
        }
    }
    let mut walked: Vec<&TaskCode> = vec![needs.keys().next()?];
    loop {
        let next = *needs.get(walked.last()?)?.iter().next()?;
        if let Some(start) = walked.iter().position(|task| *task == next) {
            let mut ring: Vec<TaskCode> = walked[start..].iter().map(|t| (*t).clone()).collect();
            let smallest = ring.iter().enumerate().min_by_key(|(_, task)| *task)?.0;
            ring.rotate_left(smallest);
            return Some(ring);
        }
        walked.push(next);
    }
}

/// The ring that one more link would close; the link is refused by naming it.
pub fn cycle_with(ties: &[Tie], new: &Tie) -> Option<Vec<TaskCode>> {
    let mut all = ties.to_vec();
    all.push(new.clone());
    cycle(&all)
}
