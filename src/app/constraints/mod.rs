//! What the vehicle may not do meanwhile: constraints follow from what attempts leave behind, end
//! with the task that ends them, and are lifted by another person than whoever wrote them.

use crate::excursions::allowed;
use crate::records::{Base, Ruled, Saved, current, write};
use crate::work::Work;
use crate::{Failure, four_eyes};
use async_recursion::async_recursion as boxed;
use domain::cells::{Line, Prose};
use domain::constraints::Constraint;
use domain::roles::Action;
use domain::time::Day;
use store::{attempts, constraints};

mod bounds;
mod follow;
mod gather;
mod read;

pub(crate) use bounds::bounds;
pub(crate) use follow::{follow, withdraw};
pub(crate) use gather::gather;
pub use read::{InForce, Read, for_excursion, for_tasks, read, read_all};

/// The clock of another machine may be so far ahead.
const SKEW_DAYS: i64 = 1;

impl Ruled for Constraint {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        constraint: &mut Self,
    ) -> Result<(), Failure> {
        if before.is_none() {
            constraint.author.get_or_insert_with(|| Line::known(work.actor.name.clone()));
            if constraint.since.is_none() {
                let days = attempts::days(work.db(), &constraint.attempts).await?;
                constraint.since = days.into_iter().filter_map(|(_, day)| day).min();
            }
            if constraint.since.is_none() && !work.creates_missing {
                constraint.since = Some(work.today);
            }
        }
        let is_new = before.is_none_or(|before| before.since != constraint.since);
        if let Some(since) = constraint.since
            && is_new
            && since.since(work.today) > SKEW_DAYS
        {
            let message = format!(
                "{since} is still to come, and a constraint holds from the day on which it is \
                 entered. Enter it when it begins; until then keep it in the notes of its excursion."
            );
            return Err(Failure::field("since", &message));
        }
        if let (Some(since), Some(until)) = (constraint.since, constraint.safe_until)
            && until < since
        {
            let message = "It is safe until a day before it begins; check both days.";
            return Err(Failure::field("safe_until", message));
        }
        let there = constraints::left_by(work.db(), &constraint.attempts).await?;
        if let Some(same) = there.iter().find(|other| {
            other.code != constraint.code && other.forbids(constraint.forbidden.as_str())
        }) {
            let code = &same.code.0;
            let message = format!("{code} says the same of one of these attempts. Edit {code}.");
            return Err(Failure::field("attempts", message));
        }
        four_eyes::hold(work, before, constraint).await
    }
}

/// Lifts a constraint: whoever wrote or edited it cannot.
#[boxed]
pub async fn lift(
    work: &mut Work,
    code: &str,
    reason: Prose,
    evidence: Prose,
    on: Option<Day>,
) -> Result<Saved<Constraint>, Failure> {
    allowed(work, Action::LiftConstraint)?;
    let mut constraint = current::<Constraint>(work, code).await?;
    if let Some(by) = &constraint.lifted_by {
        return Err(Failure::Refused(format!("{code} was lifted by {by} already.")));
    }
    constraint.lift_reason = reason;
    constraint.lift_evidence = evidence;
    constraint.lifted_on = Some(on.unwrap_or(work.today));
    constraint.lifted_by = Some(Line::known(work.actor.name.clone()));
    write(work, constraint, Base::Current).await
}

/// Takes the lifting of a constraint back: it is in force again.
#[boxed]
pub async fn put_back(
    work: &mut Work,
    code: &str,
    why: &str,
) -> Result<Saved<Constraint>, Failure> {
    allowed(work, Action::LiftConstraint)?;
    let mut constraint = current::<Constraint>(work, code).await?;
    if constraint.lifted_by.is_none() {
        return Err(Failure::Refused(format!("{code} is not lifted.")));
    }
    if why.trim().is_empty() {
        return Err(Failure::field("why", "Say why the vehicle may not do it after all."));
    }
    work.because(why.trim());
    (constraint.lifted_by, constraint.lifted_on, constraint.checked) = (None, None, None);
    (constraint.lift_reason, constraint.lift_evidence) = (Prose::default(), Prose::default());
    write(work, constraint, Base::Current).await
}
