//! Tables that people sent in and look at before they are taken: a row in the database, the file
//! beside it. Both are removed by age.

use async_recursion::async_recursion as boxed;
use std::path::PathBuf;

use tempfile::NamedTempFile;

use super::may_look;
use crate::{Actor, App, Failure};
use domain::kinds::Kind;
use store::{StoreError, imports};

/// A table that was sent in.
#[derive(Debug, Clone)]
pub struct Upload {
    pub kind: Kind,
    /// What its file was called.
    pub name: String,
    pub path: PathBuf,
}

/// Keeps a table until its person has looked at it; gives the name it goes by. Each person keeps
/// their last three.
#[boxed]
pub async fn keep(
    app: &App,
    actor: &Actor,
    (kind, name): (Kind, &str),
    file: NamedTempFile,
) -> Result<String, Failure> {
    may_look(actor, kind)?;
    let code = crate::tokens::Token::fresh()?.show();
    let contents = app.db.contents().clone();
    contents.keep_table(file, &code).map_err(StoreError::from)?;
    let mut tx = app.db.begin().await?;
    let older =
        imports::keep_upload(&mut tx, &code, &actor.name, (kind, name), app.clock.now()).await?;
    tx.commit().await?;
    for code in older {
        contents.forget_table(&code).map_err(StoreError::from)?;
    }
    Ok(code)
}

/// A table that this person sent in.
#[boxed]
pub async fn kept(app: &App, actor: &Actor, code: &str) -> Result<Upload, Failure> {
    let mut db = app.db.reader().await?;
    let found = imports::upload(&mut db, code, &actor.name).await?;
    let upload =
        found.map(|(kind, name)| Upload { kind, name, path: app.db.contents().table(code) });
    upload.filter(|upload| upload.path.is_file()).ok_or_else(|| {
        Failure::Refused("This table is no longer kept; send the file again.".to_owned())
    })
}

/// Says what the rows of a table are that is kept already, so that nobody sends it again.
#[boxed]
pub async fn say_kind(app: &App, actor: &Actor, code: &str, kind: Kind) -> Result<(), Failure> {
    may_look(actor, kind)?;
    let mut tx = app.db.begin().await?;
    imports::say_kind(&mut tx, code, &actor.name, kind).await?;
    tx.commit().await?;
    Ok(())
}
