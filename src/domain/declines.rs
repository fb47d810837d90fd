//! Offers that were let go: what worked on a sister and does not suit a unit.

use crate::cells::{Line, Prose};
use crate::codes::{AttemptCode, DeclineCode, Own, TaskCode};
use crate::records::record;
use crate::time::Day;

record! {
    /// A person's reason why what was `done` on a sister is not offered to this task any more.
    Decline is Decline {
        code: Own<DeclineCode> = "Code",
        attempt: AttemptCode = "Done by the attempt",
        task: TaskCode = "Does not suit the task",
        words: Prose = "Why it does not suit",
        author: Option<Line> = "Author",
        written_on: Option<Day> = "Written on" also ["date"],
    }
}
