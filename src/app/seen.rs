//! When each session was last used. It is noted in memory and written beside the requests, so that
//! a full disk, a locked file or a busy writer never fails or delays a page.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::domain::time::Moment;
use crate::store::{Db, StoreError, sessions};

/// Sessions noted at most; beyond, the oldest notes are dropped (they are written again on use).
const MAX_NOTED: usize = 10_000;

/// The notes that are not written yet.
#[derive(Debug, Clone, Default)]
pub struct Seen(Arc<Mutex<Notes>>);

#[derive(Debug, Default)]
struct Notes {
    at: HashMap<Vec<u8>, Moment>,
    is_writing: bool,
}

impl Seen {
    /// The later of what is stored and what is noted.
    pub fn last(&self, token_hash: &[u8], stored: Moment) -> Moment {
        self.notes().at.get(token_hash).map_or(stored, |noted| stored.max(*noted))
    }

    /// Notes a use and writes all notes in the background, unless that is under way.
    pub fn note(&self, db: &Db, token_hash: &[u8], now: Moment) {
        let mut notes = self.notes();
        if notes.at.len() >= MAX_NOTED {
            notes.at.clear();
        }
        notes.at.insert(token_hash.to_owned(), now);
        if std::mem::replace(&mut notes.is_writing, true) {
            return;
        }
        drop(notes);
        let (seen, db) = (self.clone(), db.clone());
        tokio::spawn(async move {
            if let Err(cause) = seen.write(&db).await {
                tracing::warn!(%cause, "the use of sessions could not be written; it is kept in memory");
            }
            seen.notes().is_writing = false;
        });
    }

    async fn write(&self, db: &Db) -> Result<(), StoreError> {
        let noted = self.notes().at.clone();
        let mut tx = db.begin().await?;
        for (token_hash, at) in &noted {
            sessions::see(&mut tx, token_hash, *at).await?;
        }
        tx.commit().await?;
        // What was noted again in the meantime is written with the next note.
        self.notes().at.retain(|token_hash, at| noted.get(token_hash) != Some(at));
        Ok(())
    }

    /// A panic in between leaves notes that are still notes.
    fn notes(&self) -> MutexGuard<'_, Notes> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
