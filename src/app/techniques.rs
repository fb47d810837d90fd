//! Techniques and rehearsals. A revision only goes up; attempts keep the one they used.

use crate::app::Failure;
use crate::app::records::Ruled;
use crate::app::work::Work;
use crate::domain::cells::FieldError;
use crate::domain::techniques::{Rehearsal, Technique};
use crate::domain::units::Minutes;
use crate::store::reach;

impl Ruled for Technique {
    async fn prepare(
        _work: &mut Work,
        before: Option<&Self>,
        technique: &mut Self,
    ) -> Result<(), Failure> {
        let mut wrong = three_points(technique.optimistic, technique.likely, technique.pessimistic);
        wrong.extend(seat_count(technique.seats));
        let revision = technique.revision.unwrap_or(1);
        technique.revision = Some(revision);
        if let Some(last) = before.and_then(|before| before.revision)
            && revision < last
        {
            let message = format!("The revision only goes up; it is {last} now.");
            wrong.push(FieldError::new("revision", message));
        }
        if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
    }

    async fn follow(
        work: &mut Work,
        before: Option<&Self>,
        technique: &Self,
    ) -> Result<(), Failure> {
        if before.is_some() {
            for task in reach::tasks_of_technique(work.db(), &technique.code.0).await? {
                work.touch(&task);
            }
        }
        Ok(())
    }
}

impl Ruled for Rehearsal {}

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
