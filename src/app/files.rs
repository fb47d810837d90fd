//! Photographs and files: looked at, drawn anew, kept by their hash, and only then named by a
//! record.

use async_recursion::async_recursion as boxed;
use std::io::BufReader;
use std::sync::Arc;

use serde_json::Value;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::excursions::allowed;
use crate::records::{Base, Ruled, Saved, current, remove, save};
use crate::work::Work;
use crate::{App, Failure};
use domain::bounds::MAX_PICTURES_WAITING;
use domain::cells::{Cells, Line};
use domain::files::{File, Media, shown_name};
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::Action;
use exchange::evidence::{self, Unfit};
use store::contents::{Content, Contents, Ready};
use store::{StoreError, changes, register};

/// Seconds after which a file that found no place is worth sending again.
const SECONDS_TO_RETRY: i64 = 30;

/// Pictures are decoded one at a time, because a large one takes much memory; a bounded number
/// waits, and those beyond are refused at once.
#[derive(Debug, Clone)]
pub(crate) struct Decoding {
    turn: Arc<Semaphore>,
    places: Arc<Semaphore>,
}

impl Default for Decoding {
    fn default() -> Self {
        let places = MAX_PICTURES_WAITING + 1;
        Self { turn: Arc::new(Semaphore::new(1)), places: Arc::new(Semaphore::new(places)) }
    }
}

impl Decoding {
    /// The turn to decode, and the place that was waited in.
    async fn turn(&self) -> Result<(OwnedSemaphorePermit, OwnedSemaphorePermit), Failure> {
        let place = Arc::clone(&self.places).try_acquire_owned().map_err(|_| {
            let words = format!(
                "{MAX_PICTURES_WAITING} files are waiting to be looked at, and no more can wait. \
                 Nothing of this one was kept. Send it again in half a minute."
            );
            Failure::Busy(words, SECONDS_TO_RETRY)
        })?;
        let turn = Arc::clone(&self.turn).acquire_owned().await.map_err(std::io::Error::other);
        Ok((turn.map_err(StoreError::from)?, place))
    }
}

impl Ruled for File {
    async fn prepare(
        work: &mut Work,
        _before: Option<&Self>,
        file: &mut Self,
    ) -> Result<(), Failure> {
        if file.belongs_to().is_none() {
            let field = [
                ("attempt", file.attempt.is_none()),
                ("finding", file.finding.is_none()),
                ("outside_item", file.outside_item.is_none()),
            ];
            let named = field.iter().rev().find(|(_, is_empty)| !is_empty);
            return Err(Failure::field(
                named.map_or("attempt", |(name, _)| name),
                "A file belongs to one record: name one attempt, one finding or one outside item.",
            ));
        }
        for hash in [Some(&file.hash), file.preview.as_ref()].into_iter().flatten() {
            let there = tokio::fs::try_exists(work.contents.path(hash.as_str())).await;
            if !there.map_err(StoreError::from)? {
                return Err(Failure::Refused(
                    "The content of this file is no longer kept; send the file again.".to_owned(),
                ));
            }
        }
        Ok(())
    }
}

/// A file that was looked at; it is gone when dropped before a record names it.
#[derive(Debug)]
pub struct Looked {
    name: Line,
    media: Media,
    whole: Ready,
    picture: Option<Picture>,
}

#[derive(Debug)]
struct Picture {
    width: u32,
    height: u32,
    /// Nothing where it is small enough to be its own.
    preview: Option<Ready>,
}

/// Looks at a file that came in: its type by its content, its name beside that; pictures are drawn
/// anew. What is wrong with it is said of the field `file`.
#[boxed]
pub async fn look_at(app: &App, sent: std::fs::File, name: &str) -> Result<Looked, Failure> {
    let turn = app.decoding.turn().await?;
    let (contents, name) = (app.db.contents().clone(), shown_name(name));
    let looked = tokio::task::spawn_blocking(move || {
        let looked = look(&contents, sent, name);
        drop(turn);
        looked
    });
    match looked.await {
        Ok(Ok(looked)) => Ok(looked),
        Ok(Err(Unfit::Refused(why))) => Err(Failure::field("file", why)),
        Ok(Err(Unfit::Io(cause))) => Err(StoreError::Files(cause).into()),
        Err(cause) => Err(StoreError::Files(std::io::Error::other(cause)).into()),
    }
}

fn look(contents: &Contents, mut sent: std::fs::File, name: Line) -> Result<Looked, Unfit> {
    let media = evidence::judge(&mut sent)?;
    media.agrees_with(name.as_str()).map_err(Unfit::Refused)?;
    let mut whole = contents.draft()?;
    if !media.is_picture() {
        std::io::copy(&mut sent, &mut whole)?;
        return Ok(Looked { name, media, whole: whole.ready()?, picture: None });
    }
    let mut preview = contents.draft()?;
    let picture = BufReader::new(&sent);
    let redrawn = evidence::redraw(picture, media, &mut whole, &mut preview)?;
    let preview = if redrawn.is_own_preview { None } else { Some(preview.ready()?) };
    let picture = Picture { width: redrawn.width, height: redrawn.height, preview };
    Ok(Looked { name, media: redrawn.media, whole: whole.ready()?, picture: Some(picture) })
}

/// Gives a content its name for as long as the operation that writes its row; where that fails, it
/// is taken away again.
async fn place(work: &mut Work, ready: Ready) -> Result<Content, StoreError> {
    let (contents, content) = (work.contents.clone(), ready.content.clone());
    if !contents.has(&content.hash) {
        work.placed.note(&content.hash);
    }
    let placed = tokio::task::spawn_blocking(move || contents.place(ready)).await;
    placed.map_err(std::io::Error::other)??;
    Ok(content)
}

/// Lets a record name a file that was looked at. `typed` says which record, the caption, and
/// whether it is picked for print.
#[boxed]
pub async fn add(work: &mut Work, looked: Looked, typed: &Cells) -> Result<Saved<File>, Failure> {
    let mut cells = Cells::default();
    for column in File::COLUMNS.iter().filter(|column| !column.by_operation) {
        cells.set(column.name, typed.get(column.name));
    }
    let whole = place(work, looked.whole).await?;
    cells.set("name", looked.name.as_str());
    cells.set("media", looked.media.word());
    cells.set("bytes", whole.bytes.to_string());
    if let Some(picture) = looked.picture {
        cells.set("width", picture.width.to_string());
        cells.set("height", picture.height.to_string());
        let preview = match picture.preview {
            Some(small) => place(work, small).await?.hash,
            None => whole.hash.clone(),
        };
        cells.set("preview", preview);
    }
    cells.set("hash", whole.hash);
    save(work, File::parse(&cells).map_err(Failure::Invalid)?, Base::New).await
}

/// Takes a file away from its record; gives what it was, and the entry of the log from which it
/// can be put back. Its content stays, so that it can be.
#[boxed]
pub async fn remove_from_record(
    work: &mut Work,
    code: &str,
    why: &str,
) -> Result<(File, i64), Failure> {
    allowed(work, Action::KeepFiles)?;
    let file = current::<File>(work, code).await?;
    work.because(why);
    remove::<File>(work, code).await?;
    Ok((file, changes::last(work.db()).await?))
}

/// Puts a file back that was taken away by this entry of the log; under a new code where its own
/// was given to another since.
#[boxed]
pub async fn put_back(work: &mut Work, entry: i64) -> Result<Saved<File>, Failure> {
    let nothing = || Failure::Refused("No removed file is recorded there.".to_owned());
    let taken = changes::entry(work.db(), entry).await?.ok_or_else(nothing)?;
    if taken.kind != Kind::File || taken.action != "taken back" {
        return Err(nothing());
    }
    let said: Value = taken
        .before
        .as_deref()
        .and_then(|said| serde_json::from_str(said).ok())
        .ok_or_else(nothing)?;
    let mut cells: Cells = said
        .as_object()
        .into_iter()
        .flatten()
        .filter_map(|(name, text)| Some((name.clone(), text.as_str()?.to_owned())))
        .collect();
    if register::find(work.db(), Kind::File, cells.get("code")).await?.is_some() {
        cells.set("code", "");
    }
    work.because(format!("put back, as entry {entry} of the log has it"));
    save(work, File::parse(&cells).map_err(Failure::Invalid)?, Base::New).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_bounded_number_of_files_waits_and_those_beyond_are_refused_at_once() {
        let decoding = Decoding::default();
        let first = decoding.turn().await.unwrap();
        let waiting: Vec<_> = (0..MAX_PICTURES_WAITING)
            .map(|_| {
                let decoding = decoding.clone();
                tokio::spawn(async move { decoding.turn().await.is_ok() })
            })
            .collect();
        tokio::task::yield_now().await;
        let Err(Failure::Busy(words, seconds)) = decoding.turn().await else {
            panic!("one more than can wait was taken")
        };
        assert!(words.contains("8 files are waiting") && words.contains("Nothing"), "{words}");
        assert_eq!(seconds, SECONDS_TO_RETRY);
        drop(first);
        for one in waiting {
            assert!(one.await.unwrap());
        }
        assert!(decoding.turn().await.is_ok(), "the places are free again");
    }
}
