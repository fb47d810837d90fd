//! Letting an offer go, with its reason; and offering it again.

use crate::app::Failure;
use crate::app::excursions::allowed;
use crate::app::records::{Ruled, current, remove};
use crate::app::work::Work;
use crate::domain::attempts::Attempt;
use crate::domain::cells::Line;
use crate::domain::declines::Decline;
use crate::domain::roles::Action;
use crate::domain::words::Outcome;
use crate::store::Kept;

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
        if before.is_none() && !work.plants_missing {
            decline.author.get_or_insert_with(|| Line::known(work.actor.name.clone()));
            decline.written_on.get_or_insert(work.today);
        }
        Ok(())
    }
}

/// Offers it again: the reason is taken back, and the log keeps what it said.
pub async fn take_back(work: &mut Work, code: &str) -> Result<Decline, Failure> {
    allowed(work, Action::WriteExemption)?;
    let decline = current::<Decline>(work, code).await?;
    remove::<Decline>(work, code).await?;
    Ok(decline)
}
