//! Constraints follow what attempts leave behind: what an attempt forbids stands in one that its own
//! end does not end, whatever is corrected.

use async_recursion::async_recursion as boxed;

use crate::Failure;
use crate::records::{Base, remove, write};
use crate::work::Work;
use domain::attempts::Attempt;
use domain::cells::{Line, Prose};
use domain::codes::{AttemptCode, ConstraintCode, Own, TaskCode};
use domain::constraints::{Constraint, same_words};
use domain::time::Day;
use domain::words::{LinkKind, Outcome};
use store::{attempts, constraints, tasks};

/// Keeps the constraints that an attempt leaves behind in step with what it says.
#[boxed]
pub(crate) async fn follow(
    work: &mut Work,
    before: Option<&Attempt>,
    attempt: &Attempt,
) -> Result<(), Failure> {
    let own = &attempt.code.0;
    let named = constraints::left_by(work.db(), std::slice::from_ref(own)).await?;
    let was = before.and_then(|before| before.forbids.clone());
    let worded = |text: &Option<Line>| {
        let text = text.as_ref()?;
        named.iter().find(|one| one.forbids(text.as_str()))
    };
    let (said_now, said_before) = (worded(&attempt.forbids), worded(&was));
    let Some(text) = &attempt.forbids else {
        if let Some(constraint) = said_before {
            leave(work, constraint.clone(), own).await?;
        }
        return Ok(());
    };
    if let (Some(now), Some(old)) = (said_now, said_before)
        && now.code != old.code
    {
        leave(work, old.clone(), own).await?;
    }
    // One that a person worded in its own way stands for the attempt too.
    let kept = match said_now.or(said_before).or(named.first()) {
        Some(constraint) => corrected(work, constraint.clone(), before, attempt, text).await?,
        None => false,
    };
    if !kept {
        join_or_make(work, attempt, text).await?;
    }
    Ok(constraints::stands_for(work.db(), own, text).await?)
}

/// Brings a constraint in step with a source of it that was corrected. False where it cannot stand
/// for that attempt any more: then it loses this source.
async fn corrected(
    work: &mut Work,
    mut constraint: Constraint,
    before: Option<&Attempt>,
    attempt: &Attempt,
    text: &Line,
) -> Result<bool, Failure> {
    let own = &attempt.code.0;
    let was = before.and_then(|before| before.forbids.as_ref());
    let is_lifted = constraint.lifted_by.is_some();
    let says_the_same = before.is_none()
        || constraint.forbids(text.as_str())
        || was.is_some_and(|was| same_words(was.as_str(), text.as_str()));
    let ending = ending_task(work, attempt).await?;
    let ended_before = match before {
        Some(before) => Some(ending_task(work, before).await?),
        None => None,
    };
    let ends_as_before = ended_before
        .is_none_or(|ended_before| ending == ended_before || constraint.task != ended_before);
    let ends_alike = ends_as_before && !ends_itself(attempt, constraint.task.as_ref());
    let rests_on_it_alone =
        constraint.attempts.len() == 1 && constraint.findings.is_empty() && !is_lifted;
    let stays = says_the_same && (is_lifted || ends_alike);
    if !stays {
        let other = same_of(work, attempt, text, ending.as_ref()).await?;
        let is_other = other.is_some_and(|other| other.code != constraint.code);
        if is_other || !rests_on_it_alone {
            leave(work, constraint, own).await?;
            return Ok(false);
        }
        if !ends_alike {
            constraint.task = ending;
        }
    }
    let is_worded_by_it = was.is_some_and(|was| constraint.forbids(was.as_str()));
    if rests_on_it_alone && (!says_the_same || is_worded_by_it) {
        constraint.forbidden = text.clone();
    }
    let Some(before) = before else {
        if !stays {
            write(work, constraint, Base::Current).await?;
        }
        return Ok(true);
    };
    if before.safe_until != attempt.safe_until {
        constraint.safe_until = attempt.safe_until;
    }
    if before.safe_until_flight != attempt.safe_until_flight {
        constraint.safe_until_flight.clone_from(&attempt.safe_until_flight);
    }
    if before.excursion != attempt.excursion {
        constraint.since = first_day(work, &constraint).await?.or(constraint.since);
    }
    if before.outside_items != attempt.outside_items {
        if rests_on_it_alone {
            constraint.outside_items.0.retain(|item| {
                !before.outside_items.contains(item) || attempt.outside_items.contains(item)
            });
        }
        add_items(&mut constraint, attempt);
    }
    write(work, constraint, Base::Current).await?;
    Ok(true)
}

/// Whether a constraint of an attempt that ended done names that very task as its end.
fn ends_itself(attempt: &Attempt, task: Option<&TaskCode>) -> bool {
    attempt.outcome == Outcome::Done && task == Some(&attempt.task)
}

fn add_items(constraint: &mut Constraint, attempt: &Attempt) {
    for item in attempt.outside_items.iter() {
        if !constraint.outside_items.contains(item) {
            constraint.outside_items.0.push(item.clone());
        }
    }
}

/// The first day on which one of its attempts left it behind.
async fn first_day(work: &mut Work, constraint: &Constraint) -> Result<Option<Day>, Failure> {
    let days = attempts::days(work.db(), &constraint.attempts).await?;
    Ok(days.into_iter().filter_map(|(_, day)| day).min())
}

/// Adds an attempt to the constraint that an earlier one left, or makes one.
async fn join_or_make(work: &mut Work, attempt: &Attempt, text: &Line) -> Result<(), Failure> {
    let own = attempt.code.0.clone();
    let task = ending_task(work, attempt).await?;
    let days = attempts::days(work.db(), std::slice::from_ref(&own)).await?;
    let day = days.into_iter().find_map(|(_, day)| day);
    if let Some(mut constraint) = same_of(work, attempt, text, task.as_ref()).await? {
        // What was left last says until when it is safe.
        let is_later = constraint.since.zip(day).is_none_or(|(since, day)| day >= since);
        if is_later && (attempt.safe_until.is_some() || attempt.safe_until_flight.is_some()) {
            constraint.safe_until = attempt.safe_until;
            constraint.safe_until_flight.clone_from(&attempt.safe_until_flight);
        }
        constraint.since = constraint.since.into_iter().chain(day).min();
        constraint.attempts.0.push(own);
        add_items(&mut constraint, attempt);
        write(work, constraint, Base::Current).await?;
        return Ok(());
    }
    let constraint = Constraint {
        code: Own(ConstraintCode::default()),
        forbidden: text.clone(),
        function: None,
        owner: None,
        attempts: [own].into_iter().collect(),
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

/// A constraint of another attempt at the same task that forbids the same thing and ends alike: with
/// the same task, or where none ends it with the same outside items.
async fn same_of(
    work: &mut Work,
    attempt: &Attempt,
    text: &Line,
    ending: Option<&TaskCode>,
) -> Result<Option<Constraint>, Failure> {
    let tried: Vec<AttemptCode> = attempts::of_task(work.db(), &attempt.task)
        .await?
        .into_iter()
        .map(|other| other.code.0)
        .filter(|code| *code != attempt.code.0)
        .collect();
    let left = constraints::left_by(work.db(), &tried).await?;
    Ok(left.into_iter().find(|one| {
        one.lifted_by.is_none()
            && one.task.as_ref() == ending
            && (ending.is_some() || one.outside_items == attempt.outside_items)
            && one.forbids(text.as_str())
    }))
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
