//! Withdraws an attempt that should not have been recorded. The log keeps what it said; whatever
//! names it is taken out first; a slot that loses its only result waits for one again.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use crate::excursions::allowed;
use crate::records::{current, remove};
use crate::slots::result::wait_again;
use crate::work::Work;
use crate::{constraints, swaps};
use domain::attempts::Attempt;
use domain::codes::{AttemptCode, ExcursionCode, SlotCode};
use domain::kinds::Kind;
use domain::roles::Action;
use domain::words::DeferralPhase;
use store::{attempts, endings, excursions};

/// What withdrawing an attempt means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WithdrawalEffects {
    /// The records that name it: it cannot be withdrawn before they do no more.
    pub named_by: Vec<(Kind, String)>,
    /// The slot that then has no result.
    pub slot: Option<SlotCode>,
    /// The excursion whose closed debrief is opened again, because that slot waits for its result.
    pub reopens: Option<ExcursionCode>,
}

/// Looks at what would follow.
#[boxed]
pub async fn look(
    db: &mut SqliteConnection,
    attempt: &Attempt,
) -> Result<WithdrawalEffects, Failure> {
    let named_by = attempts::named_by(db, &attempt.code.0).await?;
    let slot = match &attempt.slot {
        Some(slot) if !has_other_result(db, attempt, slot).await? => Some(slot.clone()),
        Some(_) | None => None,
    };
    let is_closed = excursions::closed_at(db, &attempt.excursion).await?.is_some();
    let reopens = (is_closed && slot.is_some()).then(|| attempt.excursion.clone());
    Ok(WithdrawalEffects { named_by, slot, reopens })
}

async fn has_other_result(
    db: &mut SqliteConnection,
    attempt: &Attempt,
    slot: &SlotCode,
) -> Result<bool, Failure> {
    let tried = attempts::of_slot(db, slot).await?;
    if tried.iter().any(|other| other.code != attempt.code) {
        return Ok(true);
    }
    let deferred = endings::deferrals_of_excursion(db, &attempt.excursion).await?;
    Ok(deferred.iter().any(|deferral| {
        deferral.slot.as_ref() == Some(slot) && deferral.phase != DeferralPhase::BeforeLaunch
    }))
}

/// Withdraws an attempt, with the reason. An excursion that was closed with it is opened again
/// where a set slot would otherwise have no result.
#[boxed]
pub async fn withdraw(
    work: &mut Work,
    code: &str,
    why: &str,
) -> Result<WithdrawalEffects, Failure> {
    allowed(work, Action::RecordAttempt)?;
    let attempt = current::<Attempt>(work, code).await?;
    if why.trim().is_empty() {
        return Err(Failure::field("why", "Enter the reason: the log keeps it."));
    }
    let follows = look(work.db(), &attempt).await?;
    let reason = why.trim().to_owned();
    work.because(&reason);
    take_out(work, &attempt.code.0).await?;
    if let Some(excursion) = &follows.reopens {
        excursions::set_closed(work.db(), excursion, None).await?;
        work.because(format!("{code} was withdrawn: {reason}"));
        work.log(Kind::Excursion, excursion.as_str(), "reopened", None, None).await?;
        for slot in crate::slots::of_excursion(work, excursion).await? {
            work.touch(&slot.task);
        }
        for other in attempts::of_excursion(work.db(), excursion).await? {
            work.touch(&other.task);
        }
    }
    if let Some(slot) = &follows.slot {
        wait_again(work, slot).await?;
    }
    Ok(follows)
}

/// Takes an attempt out of the record unless another record names it.
#[boxed]
pub(crate) async fn take_out(work: &mut Work, attempt: &AttemptCode) -> Result<(), Failure> {
    let named_by = attempts::named_by(work.db(), attempt).await?;
    if !named_by.is_empty() {
        let codes: Vec<String> =
            named_by.iter().map(|(kind, code)| format!("{kind} {code}")).collect();
        return Err(Failure::Refused(format!(
            "{attempt} is named by {}. Remove it there first, then withdraw it.",
            codes.join(", ")
        )));
    }
    swaps::put_back(work, attempt).await?;
    constraints::withdraw(work, attempt).await?;
    remove::<Attempt>(work, attempt.as_str()).await
}
