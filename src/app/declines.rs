//! Letting an offer go, with its reason; and offering it again.

use crate::Failure;
use crate::excursions::allowed;
use crate::records::{Ruled, current, remove};
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::cells::Line;
use domain::declines::Decline;
use domain::roles::Action;
use domain::words::Outcome;
use store::Kept;

impl Ruled for Decline {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        decline: &mut Self,
    ) -> Result<(), Failure> {
        if decline.words.is_empty() {
            return Err(Failure::field("words", "Say why it does not suit this unit."));
        }
        if let Some(attempt) = Attempt::find(work.db(), decline.attempt.as_str()).await?
            && attempt.outcome != Outcome::Done
        {
            let message =
                format!("{} did not end done, so it is offered to nobody.", decline.attempt);
            return Err(Failure::field("attempt", message));
        }
        if before.is_none() && !work.creates_missing {
            decline.author.get_or_insert_with(|| Line::known(work.actor.name.clone()));
            decline.written_on.get_or_insert(work.today);
        }
        Ok(())
    }
}

/// Offers it again: the reason is taken back, and the log keeps what it said.
#[boxed]
pub async fn take_back(work: &mut Work, code: &str) -> Result<Decline, Failure> {
    allowed(work, Action::WriteExemption)?;
    let decline = current::<Decline>(work, code).await?;
    remove::<Decline>(work, code).await?;
    Ok(decline)
}
