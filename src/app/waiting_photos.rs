//! Photographs of a form that came back with something wrong: they wait for the account that sent
//! them, so that nobody chooses them twice. They are removed by age.

use async_recursion::async_recursion as boxed;
use std::io::{self, Read};

use sha2::{Digest as _, Sha256};
use tempfile::NamedTempFile;

use crate::tokens::hex;
use crate::{Actor, App, Failure};
use domain::bounds::{MAX_WAITING_BYTES, MAX_WAITING_PHOTOS};
use store::StoreError;

/// Bytes read at once.
const STEP: usize = 64 * 1024;

/// Lets a photograph wait; gives the hash by which its sender names it. Nothing where too many wait.
#[boxed]
pub async fn keep(
    app: &App,
    actor: &Actor,
    file: NamedTempFile,
) -> Result<Option<String>, Failure> {
    let (contents, account) = (app.db.contents().clone(), actor.name.clone());
    on_the_disk(move || {
        let hash = hash_of(&mut file.reopen()?)?;
        let most = (MAX_WAITING_PHOTOS, MAX_WAITING_BYTES);
        let kept = contents.keep_waiting(file, &name_of(&account, &hash), most)?;
        Ok(kept.then_some(hash))
    })
    .await
}

/// Takes up a photograph that this account sent before, with its length; gone when dropped.
#[boxed]
pub async fn take(
    app: &App,
    actor: &Actor,
    hash: &str,
) -> Result<Option<(NamedTempFile, u64)>, Failure> {
    let (contents, name) = (app.db.contents().clone(), name_of(&actor.name, hash));
    on_the_disk(move || {
        let Some(file) = contents.take_waiting(&name)? else { return Ok(None) };
        let bytes = file.as_file().metadata()?.len();
        Ok(Some((file, bytes)))
    })
    .await
}

fn hash_of(file: &mut impl Read) -> io::Result<String> {
    let (mut hasher, mut step) = (Sha256::new(), vec![0; STEP]);
    loop {
        match file.read(&mut step)? {
            0 => return Ok(hex(&hasher.finalize())),
            read => hasher.update(&step[..read]),
        }
    }
}

/// A name that holds the account, so that nobody takes up what another sent.
fn name_of(account: &str, hash: &str) -> String {
    let mut hasher = Sha256::new();
    hasher.update(account);
    hasher.update([0]);
    hasher.update(hash);
    hex(&hasher.finalize())
}

async fn on_the_disk<T: Send + 'static>(
    work: impl FnOnce() -> io::Result<T> + Send + 'static,
) -> Result<T, Failure> {
    let done = tokio::task::spawn_blocking(work).await.map_err(io::Error::other);
    Ok(done.and_then(|done| done).map_err(StoreError::Files)?)
}
