//! Personal addresses of the calendar and of the changes: made, replaced, revoked by their person.

use crate::tokens::Token;
use crate::work::{FormKey, Work};
use crate::{Actor, App, Failure};
use async_recursion::async_recursion as boxed;
use domain::kinds::Kind;
use store::feeds;

/// Makes a person's address anew; the secret in it is shown this once.
#[boxed]
pub async fn make(app: &App, actor: &Actor, key: Option<&FormKey>) -> Result<Token, Failure> {
    let token = Token::fresh()?;
    let mut work = Work::begin(app, actor, key).await?;
    let (name, now) = (actor.name.clone(), work.now);
    feeds::put(work.db(), &name, &token.hash(), now).await?;
    work.log(Kind::Person, &name, "calendar address made", None, None).await?;
    work.finish("/account/feeds").await?;
    Ok(token)
}

/// Revokes a person's address.
#[boxed]
pub async fn revoke(app: &App, actor: &Actor, key: Option<&FormKey>) -> Result<(), Failure> {
    let mut work = Work::begin(app, actor, key).await?;
    let name = actor.name.clone();
    if !feeds::remove(work.db(), &name).await? {
        return Err(Failure::Refused("You have no address that could be revoked.".to_owned()));
    }
    work.log(Kind::Person, &name, "calendar address revoked", None, None).await?;
    work.finish("/account/feeds").await?;
    Ok(())
}

/// Whose address this is, if anybody's. Asking is noted beside it.
#[boxed]
pub async fn person_of(app: &App, secret: &str) -> Result<Option<String>, Failure> {
    let Some(token) = Token::read(secret) else { return Ok(None) };
    let hash = token.hash();
    let person = feeds::person_of(&mut *app.db.reader().await?, &hash).await?;
    if person.is_some() {
        let mut tx = app.db.begin().await?;
        feeds::note_use(&mut tx, &hash, app.clock.now()).await?;
        tx.commit().await?;
    }
    Ok(person)
}
