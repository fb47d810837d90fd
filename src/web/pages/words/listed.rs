//! The terms, by chapter.

mod failures;
mod outside;
mod record;
mod slots;
mod times;
mod work;

use super::{Chapter, Term};

const fn term(
    id: &'static str,
    name: &'static str,
    mark: &'static str,
    says: &'static str,
) -> Term {
    Term { id, name, mark, says }
}

/// The whole list.
pub(crate) const CHAPTERS: &[Chapter] = &[
    Chapter { heading: "Work", terms: work::WORK },
    Chapter { heading: "Attempts and how they end", terms: work::ATTEMPTS },
    Chapter { heading: "Approaches, failures and remedies", terms: failures::FAILURES },
    Chapter { heading: "Slots", terms: slots::SLOTS },
    Chapter { heading: "Checks and verdicts", terms: slots::CHECKS },
    Chapter { heading: "Times and chances", terms: times::TIMES },
    Chapter { heading: "The day", terms: times::DAY },
    Chapter { heading: "Outside and tools", terms: outside::OUTSIDE },
    Chapter { heading: "Papers", terms: outside::PAPERS },
    Chapter { heading: "The record", terms: record::RECORD },
];
