//! Techniques, rehearsals and qualifications. A revision only goes up; attempts keep the one they used,
//! and what it said then is kept beside the technique.

use crate::records::Ruled;
use crate::work::Work;
use crate::{Failure, revisions as kept_revisions, touched};
use domain::cells::FieldError;
use domain::codes::TechniqueCode;
use domain::revisions::{self, number};
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::units::Minutes;
use domain::words::TechniqueState;
use store::{Kept as _, reach, revisions as revision_rows};

impl Ruled for Technique {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        technique: &mut Self,
    ) -> Result<(), Failure> {
        let mut wrong = three_points(technique.optimistic, technique.likely, technique.pessimistic);
        wrong.extend(seat_count(technique.seats));
        let revision = technique.revision.unwrap_or(1);
        technique.revision = Some(revision);
        wrong.extend(revisions::wrong_number(technique.revision));
        if let Some(last) = before.map(number)
            && revision < last
        {
            let message = format!("The revision only goes up; it is {last} now.");
            wrong.push(FieldError::new("revision", message));
        }
        if let Some(before) = before {
            wrong.extend(stays(work, before, technique).await?);
        }
        wrong.extend(cleared_by_another(work, before, technique).await?);
        if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
    }

    async fn follow(
        work: &mut Work,
        before: Option<&Self>,
        technique: &Self,
    ) -> Result<(), Failure> {
        kept_revisions::keep(work, before, technique).await
    }

    async fn reach(work: &mut Work, technique: &Self) -> Result<(), Failure> {
        let tasks = reach::tasks_of_technique(work.db(), &technique.code.0).await?;
        touched::all(work, tasks);
        Ok(())
    }
}

impl Ruled for Rehearsal {
    async fn prepare(
        work: &mut Work,
        _before: Option<&Self>,
        run: &mut Self,
    ) -> Result<(), Failure> {
        known_revision(work, &run.technique, run.revision).await
    }
}

impl Ruled for Qualification {
    async fn prepare(
        work: &mut Work,
        _before: Option<&Self>,
        training: &mut Self,
    ) -> Result<(), Failure> {
        known_revision(work, &training.technique, training.revision).await
    }
}

/// Nobody has practised a revision that is still to be written.
async fn known_revision(
    work: &mut Work,
    technique: &TechniqueCode,
    revision: Option<i64>,
) -> Result<(), Failure> {
    let newest = Technique::find(work.db(), technique.as_str()).await?;
    match (revision, newest.and_then(|technique| technique.revision)) {
        (Some(revision), Some(newest)) if !(0..=newest).contains(&revision) => {
            let message =
                format!("{technique} is in revision {newest}; write that or an older one.");
            Err(Failure::field("revision", message))
        }
        _ => Ok(()),
    }
}

/// Only the clearance of its revision, by another person than its author, makes a technique cleared.
/// A table of history says how it stood.
async fn cleared_by_another(
    work: &mut Work,
    before: Option<&Technique>,
    after: &Technique,
) -> Result<Option<FieldError>, Failure> {
    let stays =
        before.is_some_and(|before| before.state == after.state && number(before) == number(after));
    if after.state != TechniqueState::Cleared || stays || work.is_history || work.creates_missing {
        return Ok(None);
    }
    let kept = revision_rows::at(work.db(), &after.code.0, number(after)).await?;
    if kept.is_some_and(|revision| revision.cleared_by.is_some()) {
        return Ok(None);
    }
    let message = format!(
        "Another person clears revision {}, on the page of the revision. Choose drafted or rehearsed \
         until then.",
        number(after)
    );
    Ok(Some(FieldError::new("state", message)))
}

/// What a revision said that flew, or that is cleared, is not said otherwise.
async fn stays(
    work: &mut Work,
    before: &Technique,
    after: &Technique,
) -> Result<Option<FieldError>, Failure> {
    if number(before) != number(after) || revisions::work_differs(before, after).is_none() {
        return Ok(None);
    }
    let (technique, number) = (&before.code.0, number(before));
    let flown_by = revision_rows::first_use(work.db(), technique, number).await?;
    let kept = revision_rows::at(work.db(), technique, number).await?;
    let is_cleared = kept.is_some_and(|revision| revision.cleared_by.is_some());
    Ok(revisions::stays(before, after, flown_by.as_ref(), is_cleared))
}

/// Optimistic, likely and pessimistic minutes stand in this order and come together.
pub(crate) fn three_points(
    optimistic: Option<Minutes>,
    likely: Option<Minutes>,
    pessimistic: Option<Minutes>,
) -> Vec<FieldError> {
    let mut wrong = Vec::new();
    if optimistic.zip(likely).is_some_and(|(a, m)| a > m) {
        wrong.push(FieldError::new("optimistic", "The optimistic minutes exceed the likely ones."));
    }
    if likely.zip(pessimistic).is_some_and(|(m, b)| m > b) {
        wrong.push(FieldError::new(
            "pessimistic",
            "The pessimistic minutes are below the likely ones.",
        ));
    }
    if likely.is_none() && optimistic.zip(pessimistic).is_some_and(|(a, b)| a > b) {
        wrong.push(FieldError::new(
            "pessimistic",
            "The pessimistic minutes are below the optimistic ones.",
        ));
    }
    wrong
}

pub(crate) fn seat_count(seats: Option<i64>) -> Option<FieldError> {
    let fits = seats.is_none_or(|seats| (1..=2).contains(&seats));
    (!fits).then(|| FieldError::new("seats", "Work takes one seat or two; write 1 or 2."))
}
