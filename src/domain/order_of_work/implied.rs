//! What a link means for its two tasks as they stand, and what is left to do when the first is done.

use crate::codes::TaskCode;
use crate::history::Left;
use crate::words::{LinkKind, TaskState};

/// The other end of a link, as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Other<'a> {
    pub task: &'a TaskCode,
    pub state: TaskState,
    pub left: Left,
    /// Its condition is met, as a person has recorded.
    pub triggered: bool,
}

/// What the link means, read from the task at which it starts (`from_here`) or ends.
pub fn means(kind: LinkKind, from_here: bool, this: &Other<'_>, other: &Other<'_>) -> String {
    let code = other.task;
    let done = other.state == TaskState::Done;
    match (kind, from_here) {
        (LinkKind::Needs, true) if done => {
            format!("{code} is done, so this no longer waits for it")
        }
        (LinkKind::Needs, true) => format!("this waits until {code} is done, or set earlier"),
        (LinkKind::Needs, false) if this.state == TaskState::Done => {
            format!("{code} no longer waits for this")
        }
        (LinkKind::Needs, false) => format!("{code} waits for this"),
        (LinkKind::SameVisit, _) if !other.state.is_open_item() => {
            format!("{code} has ended, so this may go on any excursion")
        }
        (LinkKind::SameVisit, _) => "both go on one excursion".to_owned(),
        (LinkKind::Continues, true) => {
            format!("this continues {code} ({} left)", other.left)
        }
        (LinkKind::Continues, false) => {
            format!("{code} continues this ({} left)", this.left)
        }
        (LinkKind::MakesPermanent, true) => {
            format!("the temporary fix of {code} stands until this is done")
        }
        (LinkKind::MakesPermanent, false) => {
            format!("this is the temporary fix; it stands until {code} is done")
        }
        (LinkKind::Undoes, true) if done => format!("{code} is done, so this can undo it"),
        (LinkKind::Undoes, true) => {
            format!("this comes after {code}; until then there is nothing to undo")
        }
        (LinkKind::Undoes, false) => format!("{code} undoes this, and comes after it"),
        (LinkKind::InsteadOf, _) if done => format!("{code} was done instead, so this is moot"),
        (LinkKind::InsteadOf, _) => {
            format!("whichever of this and {code} is done first closes the other as moot")
        }
        (LinkKind::OnlyIf, true) if this.triggered => {
            format!("the condition of this is met; {code} decided it")
        }
        (LinkKind::OnlyIf, true) => {
            format!("this stays out of the backlog until its condition is met; {code} decides")
        }
        (LinkKind::OnlyIf, false) if other.triggered => format!("the condition of {code} is met"),
        (LinkKind::OnlyIf, false) => {
            format!("the result of this decides whether the condition of {code} is met")
        }
    }
}

/// Whether a done task leaves the other end of its link to be closed by a person: the temporary
/// fix that was made permanent, the work that was gone on with. (`instead of` closes by itself.)
pub fn leaves_to_close(kind: LinkKind, first: TaskState, other: TaskState) -> bool {
    let supersedes = matches!(kind, LinkKind::MakesPermanent | LinkKind::Continues);
    supersedes && first == TaskState::Done && other.is_open_item()
}

/// Whether a done task leaves the hardware of the other end outside: it was temporary.
pub fn leaves_to_bring_in(kind: LinkKind, first: TaskState) -> bool {
    matches!(kind, LinkKind::MakesPermanent | LinkKind::Undoes) && first == TaskState::Done
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Share;

    fn stands(task: &TaskCode, state: TaskState, left: i64) -> Other<'_> {
        let left = Left { most: Share(left), unknown_after: None };
        Other { task, state, left, triggered: false }
    }

    #[test]
    fn every_kind_is_said_from_both_ends_and_names_the_other() {
        let (one, two) = (TaskCode::from("T-1"), TaskCode::from("T-2"));
        for kind in LinkKind::ALL.iter().copied() {
            let first = stands(&one, TaskState::Open, 100);
            let second = stands(&two, TaskState::Open, 40);
            let from = means(kind, true, &first, &second);
            let to = means(kind, false, &second, &first);
            assert!(!from.is_empty() && !to.is_empty());
            let alike = matches!(kind, LinkKind::SameVisit | LinkKind::InsteadOf);
            assert!(alike || (from != to && from.contains("T-2") && to.contains("T-1")), "{kind}");
        }
    }

    #[test]
    fn a_link_says_something_else_once_the_other_end_is_done() {
        let (one, two) = (TaskCode::from("T-1"), TaskCode::from("T-2"));
        let this = stands(&one, TaskState::Open, 100);
        for kind in [LinkKind::Needs, LinkKind::SameVisit, LinkKind::Undoes, LinkKind::InsteadOf] {
            let open = means(kind, true, &this, &stands(&two, TaskState::Open, 100));
            let done = means(kind, true, &this, &stands(&two, TaskState::Done, 0));
            assert_ne!(open, done, "{kind}");
        }
        let left = means(LinkKind::Continues, true, &this, &stands(&two, TaskState::PartDone, 40));
        assert!(left.contains("40 %"), "{left}");
    }

    #[test]
    fn only_what_was_superseded_is_left_to_close() {
        let (done, open, dropped) = (TaskState::Done, TaskState::Open, TaskState::Dropped);
        assert!(leaves_to_close(LinkKind::MakesPermanent, done, open));
        assert!(leaves_to_close(LinkKind::Continues, done, TaskState::PartDone));
        assert!(!leaves_to_close(LinkKind::MakesPermanent, open, open));
        assert!(!leaves_to_close(LinkKind::Continues, done, dropped));
        assert!(!leaves_to_close(LinkKind::Needs, done, open));
        assert!(leaves_to_bring_in(LinkKind::Undoes, done));
        assert!(!leaves_to_bring_in(LinkKind::Continues, done));
    }
}
