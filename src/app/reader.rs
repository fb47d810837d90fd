//! One state of the record to read a page from, with what was calculated of that state before.

use std::any::Any;
use std::ops::{Deref, DerefMut};
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::calculated::{Calculated, Place};
use crate::{App, Failure};

/// A read transaction. It derefs to its connection and is rolled back when it is dropped.
#[derive(Debug)]
pub struct Reader {
    db: store::Reader,
    version: i64,
    calculated: Arc<Calculated>,
}

impl App {
    /// Begins to read. What is read from it all belongs to one moment.
    pub async fn reader(&self) -> Result<Reader, Failure> {
        let mut db = self.db.reader().await?;
        let version = store::forms::data_version(&mut db).await?;
        Ok(Reader { db, version, calculated: Arc::clone(&self.calculated) })
    }
}

impl Reader {
    /// The version of the record that is read.
    pub const fn version(&self) -> i64 {
        self.version
    }

    /// The place for a result that follows from this state of the record and that name alone.
    pub fn place<T: Any + Send + Sync>(&self, name: impl Into<String>) -> Place<T> {
        self.calculated.place(self.version, name.into())
    }
}

impl Deref for Reader {
    type Target = SqliteConnection;
    fn deref(&self) -> &SqliteConnection {
        &self.db
    }
}

impl DerefMut for Reader {
    fn deref_mut(&mut self) -> &mut SqliteConnection {
        &mut self.db
    }
}
