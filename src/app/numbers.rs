//! The numbers of new codes. A table that is worked out on a copy has numbers kept for it, so that
//! what others make meanwhile takes none of them.

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};

use crate::{App, Failure};
use domain::kinds::Kind;
use store::register;

/// Numbers that are kept for one table, until the last of its owners lets go.
#[derive(Debug)]
pub(crate) struct Range {
    kind: Kind,
    next: AtomicI64,
    last: i64,
}

impl Range {
    /// The next of them for a record of that kind; nothing where none is left.
    pub fn next(&self, kind: Kind) -> Option<i64> {
        if kind != self.kind {
            return None;
        }
        let number = self.next.fetch_add(1, Ordering::Relaxed);
        (number <= self.last).then_some(number)
    }
}

/// Every range that is kept.
#[derive(Debug, Default)]
pub(crate) struct Ranges(Mutex<Vec<Weak<Range>>>);

impl Ranges {
    /// The number after which those of a kind are free.
    pub fn taken_up_to(&self, kind: Kind, highest: i64) -> i64 {
        let mut ranges = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        ranges.retain(|range| range.strong_count() > 0);
        let last = |range: Arc<Range>| (range.kind == kind).then_some(range.last);
        ranges.iter().filter_map(Weak::upgrade).filter_map(last).fold(highest, i64::max)
    }

    fn keep(&self, range: &Arc<Range>) {
        let mut ranges = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        ranges.push(Arc::downgrade(range));
    }
}

/// Keeps so many numbers for records of a kind. The writer is held for that, so that nobody takes
/// one in between.
pub(crate) async fn keep(app: &App, kind: Kind, many: u64) -> Result<Arc<Range>, Failure> {
    let mut tx = app.db.begin().await?;
    let highest = register::highest_number(&mut tx, kind, kind.prefix()).await?;
    let before = app.numbers.taken_up_to(kind, highest);
    let last = before.saturating_add(i64::try_from(many).unwrap_or(i64::MAX));
    let range = Arc::new(Range { kind, next: AtomicI64::new(before + 1), last });
    app.numbers.keep(&range);
    Ok(range)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_passed_over_until_it_is_let_go() {
        let ranges = Ranges::default();
        let kind = Kind::Task;
        let range = Arc::new(Range { kind, next: AtomicI64::new(8), last: 9 });
        ranges.keep(&range);
        assert_eq!(ranges.taken_up_to(kind, 7), 9);
        assert_eq!(ranges.taken_up_to(kind, 12), 12);
        assert_eq!(ranges.taken_up_to(Kind::Attempt, 7), 7);
        assert_eq!(range.next(Kind::Attempt), None);
        assert_eq!(
            [range.next(kind), range.next(kind), range.next(kind)],
            [Some(8), Some(9), None]
        );
        drop(range);
        assert_eq!(ranges.taken_up_to(kind, 7), 7);
    }
}
