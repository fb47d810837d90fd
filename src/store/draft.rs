//! A database that is built in a folder of its own and gets its place once it is whole, with its
//! files: the demo. Whatever cuts that off leaves nothing that a later start would take for whole.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use crate::contents::Contents;
use crate::making::{beside, length, put_in_place};
use crate::{StoreError, schema};

/// A database under way. Nobody else builds one in the same place meanwhile.
#[derive(Debug)]
pub struct Draft {
    folder: PathBuf,
    file: PathBuf,
    _lock: File,
}

impl Draft {
    /// Begins one that is to stand there, in the place of what stands there now. What an earlier try
    /// left is removed.
    pub async fn begin(file: &Path) -> Result<Self, StoreError> {
        let place = file.to_owned();
        tokio::task::spawn_blocking(move || {
            let lock = schema::lock(&place)?;
            if length(&beside(&place, "-wal"))? > 0 {
                return Err(StoreError::Unusable(format!(
                    "{} is in use; stop the service that has it open, or choose another data \
                     directory.",
                    place.display()
                )));
            }
            let folder = place.with_extension("making");
            if folder.exists() {
                fs::remove_dir_all(&folder)?;
            }
            Ok(Self { folder, file: place, _lock: lock })
        })
        .await
        .map_err(|cause| StoreError::Unusable(cause.to_string()))?
    }

    /// The folder in which it is built, under the name that it will have.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Gives the whole database its place: its files first, since a file that no row names does no
    /// harm. Nobody has it open any more.
    pub fn put_in_place(self) -> Result<(), StoreError> {
        let name = self.file.file_name().unwrap_or_default();
        let built = self.folder.join(name);
        Contents::beside(&self.file).take_over(&Contents::beside(&built))?;
        put_in_place(&built, &self.file)?;
        fs::remove_dir_all(&self.folder)?;
        Ok(())
    }
}
