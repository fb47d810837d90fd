//! When each session was last used. It is noted in memory and written beside the requests, so that
//! a full disk, a locked file or a busy writer never fails or delays a page.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::time::Moment;
use store::{Db, StoreError, sessions};

/// Sessions noted at most; beyond, the notes that are written are dropped.
const MAX_NOTED: usize = 10_000;

/// The uses that were noted since the start.
#[derive(Debug, Clone, Default)]
pub struct SessionUses(Arc<Mutex<Notes>>);

#[derive(Debug, Default)]
struct Notes {
    sessions: HashMap<Vec<u8>, Use>,
    is_writing: bool,
}

/// A note stays after it was written: whoever read the session before that still finds it.
#[derive(Debug, Clone, Copy)]
struct Use {
    at: Moment,
    is_written: bool,
}

impl SessionUses {
    /// The later of what is stored and what is noted.
    pub fn last(&self, token_hash: &[u8], stored: Moment) -> Moment {
        self.notes().sessions.get(token_hash).map_or(stored, |note| stored.max(note.at))
    }

    /// Notes a use and writes all notes in the background, unless that is under way.
    pub fn note(&self, db: &Db, token_hash: &[u8], now: Moment) {
        let mut notes = self.notes();
        if notes.sessions.len() >= MAX_NOTED {
            notes.sessions.retain(|_, note| !note.is_written);
        }
        if notes.sessions.len() >= MAX_NOTED {
            notes.sessions.clear();
        }
        notes.sessions.insert(token_hash.to_owned(), Use { at: now, is_written: false });
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
        let pending: Vec<(Vec<u8>, Moment)> = self
            .notes()
            .sessions
            .iter()
            .filter(|(_, note)| !note.is_written)
            .map(|(token_hash, note)| (token_hash.clone(), note.at))
            .collect();
        let mut tx = db.begin().await?;
        for (token_hash, at) in &pending {
            sessions::see(&mut tx, token_hash, *at).await?;
        }
        tx.commit().await?;
        let mut notes = self.notes();
        for (token_hash, at) in pending {
            // What was noted again in the meantime is written with the next note.
            if let Some(note) = notes.sessions.get_mut(&token_hash).filter(|note| note.at == at) {
                note.is_written = true;
            }
        }
        Ok(())
    }

    /// A panic in between leaves notes that are still notes.
    fn notes(&self) -> MutexGuard<'_, Notes> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
