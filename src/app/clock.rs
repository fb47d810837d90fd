//! The only place that asks what time it is.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use domain::time::Moment;

/// The time as the service sees it: the machine's, or one that a test or a demo holds fixed.
#[derive(Debug, Clone)]
pub enum Clock {
    System,
    /// The machine's, moved by so many milliseconds: a demo that plays on another day.
    Shifted(i64),
    /// Unix milliseconds; shared, so that a test can move it.
    Fixed(Arc<AtomicI64>),
}

impl Clock {
    pub fn fixed(at: Moment) -> Self {
        Self::Fixed(Arc::new(AtomicI64::new(at.0)))
    }

    /// A clock that runs on from this moment.
    pub fn starting_at(at: Moment) -> Self {
        Self::Shifted(at.0 - machine().0)
    }

    pub fn now(&self) -> Moment {
        match self {
            Self::System => machine(),
            Self::Shifted(by) => Moment(machine().0 + by),
            Self::Fixed(at) => Moment(at.load(Ordering::Relaxed)),
        }
    }

    /// Moves a fixed clock; the system's clock stays as it is.
    pub fn advance_minutes(&self, minutes: i64) {
        if let Self::Fixed(at) = self {
            at.fetch_add(minutes * 60_000, Ordering::Relaxed);
        }
    }
}

fn machine() -> Moment {
    #[expect(clippy::disallowed_methods, reason = "this is the clock")]
    let now = time::OffsetDateTime::now_utc();
    Moment(now.unix_timestamp() * 1_000 + i64::from(now.millisecond()))
}
