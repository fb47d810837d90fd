//! Whether the database takes a write, asked of it at most once in some seconds however many ask.

use std::time::{Duration, Instant};

use tokio::sync::Mutex;
use tokio::time::timeout;

use store::{Db, StoreError};

/// An answer is given again for so long.
const KEPT_FOR: Duration = Duration::from_secs(5);
/// A database that does not answer in this time is not ready.
const TIME_LIMIT: Duration = Duration::from_secs(3);

type Answer = Result<(), String>;

/// The last answer and when it was given.
#[derive(Debug, Default)]
pub struct Readiness(Mutex<Option<(Instant, Answer)>>);

impl Readiness {
    /// Whether the database answers, has our schema and takes a write; the reason where not.
    pub async fn ask(&self, db: &Db) -> Answer {
        self.ask_at(Instant::now(), TIME_LIMIT, async || db.prove().await).await
    }

    async fn ask_at(
        &self,
        now: Instant,
        limit: Duration,
        prove: impl AsyncFnOnce() -> Result<(), StoreError>,
    ) -> Answer {
        let mut last = self.0.lock().await;
        if let Some((at, answer)) = &*last
            && now.saturating_duration_since(*at) < KEPT_FOR
        {
            return answer.clone();
        }
        let answer = match timeout(limit, prove()).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(cause)) => {
                tracing::error!(%cause, source = ?std::error::Error::source(&cause), "not ready");
                Err(cause.to_string())
            }
            Err(_) => Err("the database did not take a write in time".to_owned()),
        };
        *last = Some((now, answer.clone()));
        answer
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};

    use super::*;

    #[tokio::test]
    async fn many_who_ask_share_one_write_and_a_later_one_asks_anew() {
        let (readiness, writes) = (Readiness::default(), AtomicUsize::new(0));
        let now = Instant::now();
        let prove = async || {
            writes.fetch_add(1, Ordering::Relaxed);
            Ok(())
        };
        for _ in 0..50 {
            readiness.ask_at(now, TIME_LIMIT, prove).await.unwrap();
        }
        assert_eq!(writes.load(Ordering::Relaxed), 1);
        readiness.ask_at(now + KEPT_FOR, TIME_LIMIT, prove).await.unwrap();
        assert_eq!(writes.load(Ordering::Relaxed), 2);
    }

    #[tokio::test]
    async fn a_database_that_does_not_answer_is_not_ready_and_says_why() {
        let readiness = Readiness::default();
        let never = async || std::future::pending::<Result<(), StoreError>>().await;
        let silent = readiness.ask_at(Instant::now(), Duration::from_millis(5), never).await;
        assert!(silent.unwrap_err().contains("in time"));
    }
}
