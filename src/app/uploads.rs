//! Forms that may carry files are read a few at a time, so that their memory and their files on the
//! disk are bounded, however many come at once.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::timeout;

use crate::Failure;
use domain::bounds::{MAX_UPLOAD_WAIT_SECONDS, MAX_UPLOADS_AT_ONCE};

/// Seconds after which a form that found no place is worth sending again.
const SECONDS_TO_RETRY: i64 = 30;

#[derive(Debug, Clone)]
pub struct Uploads(Arc<Semaphore>);

impl Default for Uploads {
    fn default() -> Self {
        Self(Arc::new(Semaphore::new(MAX_UPLOADS_AT_ONCE)))
    }
}

impl Uploads {
    /// A place to read a form in, kept until it is dropped; refused where none comes free soon.
    pub async fn place(&self) -> Result<OwnedSemaphorePermit, Failure> {
        self.within(Duration::from_secs(MAX_UPLOAD_WAIT_SECONDS)).await
    }

    async fn within(&self, wait: Duration) -> Result<OwnedSemaphorePermit, Failure> {
        let place = timeout(wait, Arc::clone(&self.0).acquire_owned()).await;
        place.ok().and_then(Result::ok).ok_or_else(|| {
            let words = format!(
                "{MAX_UPLOADS_AT_ONCE} forms with files are being read, and none was through after \
                 {MAX_UPLOAD_WAIT_SECONDS} seconds. Nothing of this one was read. Send it again in \
                 half a minute."
            );
            Failure::Busy(words, SECONDS_TO_RETRY)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_form_waits_for_a_place_and_is_refused_where_none_comes_free() {
        let uploads = Uploads::default();
        let mut all = Vec::new();
        for _ in 0..MAX_UPLOADS_AT_ONCE {
            all.push(uploads.place().await.unwrap());
        }
        let Err(Failure::Busy(words, _)) = uploads.within(Duration::ZERO).await else {
            panic!("one more than may be read was read")
        };
        assert!(words.contains("8 forms with files"), "{words}");
        let next = tokio::spawn({
            let uploads = uploads.clone();
            async move { uploads.place().await.is_ok() }
        });
        tokio::task::yield_now().await;
        all.pop();
        assert!(next.await.unwrap(), "it waited for its turn");
    }
}
