//! What the vehicle may not do meanwhile: constraints follow from what attempts leave behind, end
//! with the task that ends them, and are lifted by another person than whoever wrote them.

use crate::excursions::allowed;
use crate::records::{Base, Ruled, Saved, current, remove, write};
use crate::work::Work;
use crate::{Failure, four_eyes};
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::cells::{Line, Prose};
use domain::codes::{AttemptCode, ConstraintCode, Own, TaskCode};
use domain::constraints::{Constraint, same_words};
use domain::excursions::Excursion;
use domain::roles::Action;
use domain::time::Day;
use domain::words::{LinkKind, Outcome};
use store::{Kept, attempts, constraints, tasks};

mod bounds;
mod gather;
mod read;

pub(crate) use bounds::bounds;
pub(crate) use gather::gather;
pub use read::{InForce, Read, for_excursion, for_tasks, read, read_all};

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

/// Keeps the constraints that an attempt leaves behind in step with what it says.
#[boxed]
pub(crate) async fn follow(
    work: &mut Work,
    before: Option<&Attempt>,
    attempt: &Attempt,
) -> Result<(), Failure> {
    let forbids = |attempt: &Attempt| attempt.forbids.clone();
    let own = &attempt.code.0;
    let named = constraints::left_by(work.db(), std::slice::from_ref(own)).await?;
    let was = before.and_then(forbids);
    let Some(text) = forbids(attempt) else {
        if let Some(was) = was {
            for constraint in named.into_iter().filter(|one| one.forbids(was.as_str())) {
                leave(work, constraint, own).await?;
            }
        }
        return Ok(());
    };
    let from_it = |one: &&Constraint| {
        one.forbids(text.as_str()) || was.as_ref().is_some_and(|was| one.forbids(was.as_str()))
    };
    if let Some(mut constraint) = named.iter().find(from_it).cloned() {
        let Some(before) = before else { return Ok(()) };
        if constraint.attempts.len() == 1 && constraint.lifted_by.is_none() {
            constraint.forbidden = text;
        }
        if before.safe_until != attempt.safe_until {
            constraint.safe_until = attempt.safe_until;
        }
        if before.safe_until_flight != attempt.safe_until_flight {
            constraint.safe_until_flight.clone_from(&attempt.safe_until_flight);
        }
        write(work, constraint, Base::Current).await?;
        return Ok(());
    }
    if before.is_none() && !named.is_empty() {
        // A table of constraints, imported before this attempt, words it in its own way.
        return Ok(());
    }
    let task = ending_task(work, attempt).await?;
    let excursion = Excursion::find(work.db(), attempt.excursion.as_str()).await?;
    let day = excursion.and_then(|excursion| excursion.day);
    let same = same_of(work, attempt, &text).await?;
    if let Some(mut constraint) = same {
        // What was left last says until when it is safe.
        let is_later = constraint.since.zip(day).is_none_or(|(since, day)| day >= since);
        if is_later && (attempt.safe_until.is_some() || attempt.safe_until_flight.is_some()) {
            constraint.safe_until = attempt.safe_until;
            constraint.safe_until_flight.clone_from(&attempt.safe_until_flight);
        }
        constraint.since = constraint.since.into_iter().chain(day).min();
        constraint.attempts.0.push(own.clone());
        write(work, constraint, Base::Current).await?;
        return Ok(());
    }
    let constraint = Constraint {
        code: Own(ConstraintCode::default()),
        forbidden: text,
        function: None,
        owner: None,
        attempts: [own.clone()].into_iter().collect(),
        outside_items: attempt.outside_items.clone(),
        findings: std::iter::empty().collect(),
        since: day,
        safe_until: attempt.safe_until,
        safe_until_flight: attempt.safe_until_flight.clone(),
        safe_until_words: None,
        task,
        ends_when: None,
        author: attempt.recorded_by.clone(),
        lifted_by: None,
        lifted_on: None,
        lift_reason: Prose::default(),
        lift_evidence: Prose::default(),
        checked: None,
    };
    write(work, constraint, Base::New).await?;
    Ok(())
}

/// Takes a withdrawn attempt out of what it left behind.
#[boxed]
pub(crate) async fn withdraw(work: &mut Work, attempt: &AttemptCode) -> Result<(), Failure> {
    for constraint in constraints::left_by(work.db(), std::slice::from_ref(attempt)).await? {
        leave(work, constraint, attempt).await?;
    }
    Ok(())
}

/// A constraint that nothing else leaves behind, and that nobody lifted, goes with its attempt.
async fn leave(
    work: &mut Work,
    mut constraint: Constraint,
    attempt: &AttemptCode,
) -> Result<(), Failure> {
    constraint.attempts.0.retain(|code| code != attempt);
    let rests_on_more = !constraint.attempts.is_empty()
        || !constraint.findings.is_empty()
        || constraint.lifted_by.is_some();
    if rests_on_more {
        write(work, constraint, Base::Current).await?;
        return Ok(());
    }
    let code = constraint.code.0.to_string();
    work.note(format!("{code} is withdrawn with it: {}.", constraint.forbidden));
    remove::<Constraint>(work, &code).await
}

/// A constraint of an earlier attempt at the same task that forbids the same thing.
async fn same_of(
    work: &mut Work,
    attempt: &Attempt,
    text: &Line,
) -> Result<Option<Constraint>, Failure> {
    let tried: Vec<AttemptCode> = attempts::of_task(work.db(), &attempt.task)
        .await?
        .into_iter()
        .map(|other| other.code.0)
        .filter(|code| *code != attempt.code.0)
        .collect();
    let left = constraints::left_by(work.db(), &tried).await?;
    Ok(left
        .into_iter()
        .find(|one| one.lifted_by.is_none() && same_words(one.forbidden.as_str(), text.as_str())))
}

/// The task that ends what an attempt forbids: its own, while that is not done; else the one that
/// makes it permanent or undoes it.
async fn ending_task(work: &mut Work, attempt: &Attempt) -> Result<Option<TaskCode>, Failure> {
    if attempt.outcome != Outcome::Done {
        return Ok(Some(attempt.task.clone()));
    }
    let links = tasks::links_among(work.db(), std::slice::from_ref(&attempt.task)).await?;
    Ok(links
        .into_iter()
        .filter(|link| link.other == attempt.task)
        .find(|link| matches!(link.kind, LinkKind::MakesPermanent | LinkKind::Undoes))
        .map(|link| link.task))
}
