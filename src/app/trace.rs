//! What the log says of an operation: whom and what it concerns, how long it waited for the one
//! writer and kept it, and why it was refused.

use std::time::{Duration, Instant};

use tracing::{Span, field};

use crate::{Actor, Failure};
use domain::kinds::Kind;

/// An operation that keeps the writer for longer delays every other save; the log warns of it.
const SLOW: Duration = Duration::from_secs(1);

/// The span of one operation. Dropped, it tells how the operation ended.
#[derive(Debug)]
pub(crate) struct Trace {
    span: Span,
    begun: Instant,
    waited: Duration,
    concerns: Option<(Kind, String)>,
    changes: u64,
    end: End,
}

#[derive(Debug)]
enum End {
    /// Dropped before it was finished: looked at, or broken off elsewhere.
    Open,
    Saved {
        tasks: usize,
        commit: Duration,
    },
    Refused(String),
}

impl Trace {
    /// Begins with the writer in hand, after waiting for it since `asked`.
    pub(crate) fn new(actor: &Actor, asked: Instant) -> Self {
        Self {
            span: tracing::info_span!(
                "operation",
                role = actor.role.word(),
                kind = field::Empty,
                code = field::Empty
            ),
            begun: Instant::now(),
            waited: asked.elapsed(),
            concerns: None,
            changes: 0,
            end: End::Open,
        }
    }

    /// The first record names the operation; a code that is chosen on the way is added.
    pub(crate) fn concerns(&mut self, kind: Kind, code: &str) {
        match &self.concerns {
            None => {
                self.span.record("kind", kind.word());
            }
            Some((known, empty)) if *known == kind && empty.is_empty() && !code.is_empty() => {}
            Some(_) => return,
        }
        if !code.is_empty() {
            self.span.record("code", code);
        }
        self.concerns = Some((kind, code.to_owned()));
    }

    /// One entry of the change log was written.
    pub(crate) fn changed(&mut self, kind: Kind, code: &str) {
        self.concerns(kind, code);
        self.changes += 1;
    }

    /// Entries of the change log came in at once.
    pub(crate) fn took(&mut self, entries: u64) {
        self.changes += entries;
    }

    pub(crate) fn refused(&mut self, failure: &Failure) {
        self.end = End::Refused(reason(failure));
    }

    /// Committed, with so many tasks derived again.
    pub(crate) fn saved(&mut self, tasks: usize, commit: Duration) {
        self.end = End::Saved { tasks, commit };
    }
}

impl Drop for Trace {
    fn drop(&mut self) {
        let (held, changes) = (self.begun.elapsed(), self.changes);
        let (ms, waited_ms) = (whole_ms(held), whole_ms(self.waited));
        // Entered, and not only named as the parent: a line of JSON lists the spans that are entered.
        let _within = self.span.enter();
        match &self.end {
            End::Saved { tasks, commit } => {
                let commit_ms = whole_ms(*commit);
                tracing::info!(ms, waited_ms, commit_ms, changes, tasks, "saved");
            }
            End::Refused(why) => {
                tracing::info!(ms, waited_ms, why = why.as_str(), "not saved");
            }
            End::Open => tracing::debug!(ms, waited_ms, changes, "not saved"),
        }
        if held >= SLOW {
            tracing::warn!(
                ms,
                waited_ms,
                changes,
                "slow: no other save could begin meanwhile; send fewer rows at once, or look \
                 whether the disk is busy"
            );
        }
    }
}

fn whole_ms(time: Duration) -> u64 {
    u64::try_from(time.as_millis()).unwrap_or(u64::MAX)
}

/// Every field that was refused, with what to do; or what the person was told.
fn reason(failure: &Failure) -> String {
    match failure {
        Failure::Invalid(fields) => fields
            .iter()
            .map(|error| format!("{}: {}", error.field, error.message))
            .collect::<Vec<_>>()
            .join("; "),
        Failure::Conflict(conflict) => conflict.reason(),
        other => other.to_string(),
    }
}
